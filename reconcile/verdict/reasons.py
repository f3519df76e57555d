"""What an answer rests on: everything that a verdict is made from, and its reasons in sentences."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from reconcile.costs import Costs
from reconcile.decide.rules import FEWEST, FEWEST_BARE, OFF_LEVEL, Case, Rule
from reconcile.facts import Finding
from reconcile.grounds.load_shares import sums_as_printed, too_large
from reconcile.house import Event, House
from reconcile.interval.found import FOREIGN, STEP_SIZES
from reconcile.interval.planned_run import RunPlan
from reconcile.kinds import OWN_METER, Decision, Flag
from reconcile.plan.situation import LASTING_FALLS
from reconcile.plan.suspects import Suspects
from reconcile.plan.worth import Sizes, State
from reconcile.records import dataclass
from reconcile.result import Cause, LoadShare, Measure, Period
from reconcile.result_parts import HiddenError, HiddenWeather
from reconcile.rounding import step_of, to_step
from reconcile.say import Voice, listed
from reconcile.texts import tell
from reconcile.texts.danger_signs import meaning
from reconcile.texts.findings import finding_text
from reconcile.texts.meter_words import meter_line
from reconcile.texts.reason_words import MORE_PARTS, ONE_PART, REASONS
from reconcile.verdict.exchange_news import exchange_news

DATES_TOLD = 2
CAUSES_TOLD = 4
LARGE_TOLD = 2
MOST_DOUBT = 2.0
"""Most per cent to which the sums of bills and list are compared in words: both stand on the page."""
OF_ONE_BILL, MOST_OF_ONE = ("single-period", "swap"), 2
"""Causes that hold one bill, or two, and no more."""


@dataclass(frozen=True, slots=True)
class SiteReadings:
    """Site readings in figures, for the sentences: the test's own registration and what was read, in words."""

    percent: float | None = None
    expanded: float | None = None
    load: Mapping[str, Any] | None = None
    """Name and watts of the listed load that told them, where it was no run."""
    sentences: tuple[str, ...] = ()
    dangers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Inputs:
    """Everything a verdict is made from."""

    house: House
    voice: Voice
    case: Case
    rows: tuple[Period, ...]
    findings: tuple[Finding, ...]
    causes: tuple[Cause, ...]
    site: SiteReadings
    measures: tuple[Measure, ...]
    weights: Mapping[State, float]
    sizes: Sizes
    suspects: Suspects
    told: Event | None
    visible_percent: float | None
    visible_watts: float | None
    could_hide: HiddenError
    weather_hides: tuple[HiddenWeather, ...] = ()
    """What heating and cooling may have taken more, unseen."""
    money_sentence: str = ""
    shares: tuple[LoadShare, ...] = ()
    """What each load likely used, as the table of loads has it."""
    dearest: str = ""
    """Why the bill people ask about is dearer than the year before, where all bills are as usual."""
    planned: RunPlan | None = None
    pricier: bool = False
    """Whether that is a price that rose, of a kWh or of what each bill asks beside it."""

    @property
    def costs(self) -> Costs:
        """What wrong acts cost here."""
        return self.case.costs


_APART = {
    "meter-step": "a meter that turned fast",
    "constant-load": "a new load",
    "habit-step": "a change of the household's own use",
}


def reasons(given: Inputs, rule: Rule) -> list[str]:
    """What the decision rests on, each in a sentence."""
    case, voice = given.case, given.voice
    if rule.decision is Decision.URGENT:
        return [text for sign in signs_of(given) if (text := meaning(sign))]
    said = [_too_little(given)] if rule.name == "too-few" else []
    said += given.site.sentences if rule.name == "main-off-counts" else []
    said += _stands_out(given)
    said += [finding_text(f, voice) for f in given.findings if f.settles or f.case == FOREIGN]
    likely = [c for c in given.causes if c.code != "none" and c.probability >= given.costs.look_at][:CAUSES_TOLD]
    # both readings of one news: the answer names the less likely one too
    news = () if exchange_told(given) is None else ("meter-step", "old-meter-slow")
    said += [cause.text for cause in (*likely, *(c for c in given.causes if c.code in news))]
    if not any(cause.probability >= given.costs.likely for cause in likely):
        said += [c.text for c in given.causes if c.code == "none" and c.probability >= given.costs.look_at]
    said += given.site.sentences
    if case.site.run == "cannot-tell" and not case.site.read and not case.site.by_list:
        read, doubt = given.site.percent or 0.0, given.site.expanded or 0.0
        figures = {"percent": voice.percent(read, doubt=doubt), "doubt": voice.percent(doubt)}
        said.append(tell(voice, REASONS, "run-open", figures))
    level = level_told(given)
    if level["key"] and rule.decision in (Decision.INVENTORY, Decision.EXPLAINED):
        said.append(tell(voice, REASONS, level["key"], level))
    said += [shape] if (shape := shape_told(given)) else []
    rivals = [c.code for c in given.causes if c.code in _APART and c.probability >= given.costs.open_at]
    if not case.site.read and len(rivals) >= 2:
        said.append(tell(voice, REASONS, "apart", {"names": listed([_APART[code] for code in rivals], "or")}))
    if given.told is not None and case.told:
        said.append(tell(voice, REASONS, "told", {"day": given.told.day}))
    if given.money_sentence:
        said.append(given.money_sentence)
    said.append(meter_line_of(given))
    return said


def _stands_out(given: Inputs) -> list[str]:
    judged = [row for row in given.rows if row.flag is not Flag.NOT_JUDGED]
    voice, said = given.voice, []
    if not judged:
        return []
    for flag in (Flag.OVER, Flag.UNDER):
        which = [row for row in judged if row.flag is flag]
        if not which:
            continue
        one = len(which) == 1
        dates = [voice.span(row.start, row.end) for row in which]
        between = voice.span(which[0].start, which[-1].end)
        figures = {
            "count": len(which),
            "judged": len(judged),
            "are": "is" if one else "are",
            "their": "its" if one else "their",
            "which": "; ".join(dates) if len(dates) <= DATES_TOLD else f"within {between}",
        }  # fmt: skip
        said.append(tell(voice, REASONS, flag.value, figures))
    if not said:
        return [tell(voice, REASONS, "one-within" if len(judged) == 1 else "all-within", {"count": len(judged)})]
    likely = {i for i, cause in enumerate(given.causes) if cause.probability >= given.costs.likely}
    part = sum(row.part_of in likely and row.flag is Flag.WITHIN for row in judged)
    if part:
        said.append(tell(voice, REASONS, "part", {"count": part, **(ONE_PART if part == 1 else MORE_PARTS)}))
    return said


def _too_little(given: Inputs) -> str:
    count = sum(row.flag is not Flag.NOT_JUDGED for row in given.rows)
    figures = {
        "can": "1 bill" if count == 1 else f"{count} bills",
        "listed": "with" if given.case.listed else "without",
        "wanted": FEWEST if given.case.listed else FEWEST_BARE,
    }
    return tell(given.voice, REASONS, "too-little", figures)


def _resized(given: Inputs) -> Mapping[str, Any] | None:
    """Figures of the house's own appliances that switch more, where the meter may be it."""
    odds = given.case.odds
    if odds is None or not given.case.resized or odds.fast < given.costs.open_at:
        return None
    return next((finding.figures for finding in given.findings if finding.code == STEP_SIZES), None)


def meter_line_of(given: Inputs) -> str:
    """The answer to the question people come with: is the meter fast?"""
    odds, leading = given.case.odds, leading_of(given.causes, given.costs.likely)
    return meter_line(
        {
            "fell": leading is not None and leading.code in LASTING_FALLS and (leading.kwh or 0.0) < 0.0,
            "emptied": given.case.emptied,
            "fast": None if odds is None else odds.fast,
            "slow": 0.0 if odds is None else odds.slow,
            "percent": given.could_hide.percent,
            "by": given.could_hide.by,
            "watts": given.visible_watts,
            "seasons": {one.follows: one.more_percent for one in given.weather_hides},
            "run": given.case.site.run,
            "by_load": (given.site.load or {}).get("load", ""),
            "danger": given.case.danger,
            "once": given.house.field_test is not None and given.house.field_test.once,
            "whose": given.case.whose,
            "resized": _resized(given),
            "size": next((abs(c.size) for c in given.causes if c.code in OWN_METER and c.unit == "%" and c.size), None),
            "hours": given.house.interval is not None,
        },
        given.voice,
    )


def level_told(given: Inputs) -> dict[str, str]:
    """How far all the bills stand from the list, as the table of loads has it, to its uncertainty; and on which side.

    Where what began or ended within the bills turns the sign, what is left without it is told, and said to be so. Bills
    from which own generation is taken off are no use to hold against a list: nothing is said of them.
    """
    odds = given.case.odds
    if odds is None or not given.case.listed:
        return {"key": "", "percent": "", "side": "", "more": ""}
    known = [row for row in given.rows if row.billed_kwh is not None]
    listed = sums_as_printed(given.shares)[0]
    plain = 100.0 * (sum(row.billed_kwh or 0.0 for row in known) / listed - 1.0) if listed > 0 else 0.0
    apart = plain * odds.level_percent < 0 and abs(odds.level_score) > OFF_LEVEL
    nets = given.house.generation
    size = odds.level_percent if apart or nets else plain
    doubt = abs(odds.level_percent / odds.level_score) if odds.level_score else 1.0
    same = to_step(size, step_of(doubt)) == 0
    return {
        "key": "" if nets else "level-same" if same else "level-apart" if apart else "level",
        "percent": given.voice.percent(abs(size), doubt=None if same else min(doubt, MOST_DOUBT)),
        "side": "above" if size > 0 else "below",
        "more": "more" if abs(odds.level_score) > OFF_LEVEL else "no more",
    }


def shape_told(given: Inputs) -> str:
    """Say that parts of the list look too large and something is missing from it, where both likely act."""
    missing = next((c for c in given.causes if c.code == "unlisted"), None)
    if missing is None or missing.probability < given.costs.likely or not missing.size or not given.case.listed:
        return ""
    large, voice = too_large(given.shares)[:LARGE_TOLD], given.voice
    loads = [f"{load} by about {voice.figure(kwh)} kWh" for load, kwh in large]
    return tell(voice, REASONS, "shape", {"loads": " and ".join(loads)}) if large else ""


def exchange_told(given: Inputs) -> dict[str, Any] | None:
    """Figures of the news that two meters disagree, where either reading of it stands and none has settled it."""
    odds = given.case.odds
    if odds is None or given.case.site.run == "inside":
        return None
    return exchange_news(given.causes, odds.exchange, odds.fast, given.costs)


def signs_of(given: Inputs) -> tuple[str, ...]:
    """Signs of danger, of the house and of the field test, each once."""
    return tuple(dict.fromkeys((*given.house.dangers, *given.site.dangers)))


def leading_of(causes: Sequence[Cause], at: float, out: int = 1) -> Cause | None:
    """The likeliest cause; where more bills stand out than one holds, the likeliest that may, if any is as likely."""
    known = [c for c in causes if c.code != "none" and c.probability >= at]
    if out > MOST_OF_ONE:
        may = [c for c in known if c.code not in OF_ONE_BILL or sum(abs(kwh) >= 1.0 for kwh in c.pattern_kwh) >= out]
        # what was there all along makes no bill stand out among the others
        known = [c for c in may if c.since or c.until] or may or known
    return max(known, key=lambda c: c.probability, default=None)


def bills_out(rows: Sequence[Period]) -> int:
    """How many bills lie outside their range."""
    return sum(row.flag in (Flag.OVER, Flag.UNDER) for row in rows)
