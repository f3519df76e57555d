"""From chances, facts and site readings to one verdict: the rule that decides, its sentence, its reasons, its steps."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from reconcile.costs import Costs
from reconcile.decide import BLIND_PERCENT, FEWEST, FEWEST_BARE, OFF_LEVEL, Case, Rule, decide, hidden_percent
from reconcile.exchange_news import exchange_news
from reconcile.facts import Finding
from reconcile.house import Event, House
from reconcile.interval.found import ABOVE_PLATE, FOREIGN
from reconcile.interval.planned_run import RunPlan
from reconcile.kinds import Decision, Flag, Hazard
from reconcile.load_shares import sums_as_printed, too_large
from reconcile.plan.next_steps import next_steps
from reconcile.plan.situation import Situation
from reconcile.plan.step_made import weathered
from reconcile.plan.suspects import Suspects
from reconcile.plan.worth import Sizes, State
from reconcile.result import Cause, LoadShare, Measure, Over, Period, Step, Verdict
from reconcile.result_parts import HiddenError
from reconcile.rounding import step_of, to_step
from reconcile.say import Voice
from reconcile.sums import side, summed
from reconcile.texts import tell
from reconcile.texts.cause_words import NAMES
from reconcile.texts.danger_signs import dangers, meaning
from reconcile.texts.decisions import MISSING, MORE_PARTS, ONE_PART, REASONS, headline
from reconcile.texts.findings import finding_text
from reconcile.texts.labels import SIGNS, spoken
from reconcile.texts.meter_words import meter_line

DATES_TOLD = 2
CAUSES_TOLD = 4
LARGE_TOLD = 2
MOST_DOUBT = 2.0
"""Most per cent to which the sums of bills and list are compared in words: both stand on the page."""
MOST_QUOTED = 60
OF_ONE_BILL, MOST_OF_ONE = ("single-period", "swap"), 2
"""Causes that hold one bill, or two, and no more."""

TYPED = frozenset(("units-typed", "kwh-typed"))
"""What a finding asks of the household where its figures were most likely typed so."""

_APART = {
    "meter-step": "a meter that turned fast",
    "constant-load": "a new load",
    "habit-step": "a change of the household's own use",
}


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
    money_sentence: str = ""
    shares: tuple[LoadShare, ...] = ()
    """What each load likely used, as the table of loads has it."""
    dearest: str = ""
    """Why the bill people ask about is dearer than the year before, where all bills are as usual."""
    planned: RunPlan | None = None
    pricier: bool = False
    """Whether that is the price of a kWh."""

    @property
    def costs(self) -> Costs:
        """What wrong acts cost here."""
        return self.case.costs


def verdict_of(given: Inputs) -> Verdict:
    """Decide, and say it.

    Parameters
    ----------
    given : Inputs

    Returns
    -------
    Verdict
    """
    rule = decide(given.case)
    over = summed(given.rows, Flag.OVER)
    odds = given.case.odds
    steps = _stop(given) if rule.decision is Decision.URGENT else next_steps(_situation(given, rule))
    figures = {
        **_figures(given, over),
        "asks": any(step.asks not in (None, "which-rate") for step in steps),
        "priced": any(step.asks == "which-rate" for step in steps),
    }
    return Verdict(
        decision=rule.decision,
        rule=rule.name,
        headline=headline(rule.name, figures, given.voice),
        reasons=tuple(dict.fromkeys(_reasons(given, rule))),
        next_steps=steps,
        meter_line=_meter_line(given),
        field_test_warranted=rule.decision is Decision.FIELD_TEST,
        cannot_tell=given.case.cannot_tell,
        blind=rule.name == "explained" and _blind(given),
        meter_fast_probability=None if odds is None else min(max(odds.fast, 0.0), 1.0),
        meter_slow_probability=None if odds is None else min(max(odds.slow, 0.0), 1.0),
        meters_disagree_probability=None if odds is None else min(max(odds.exchange, 0.0), 1.0),
        over=over,
        under=summed(given.rows, Flag.UNDER),
        smallest_visible_meter_error_percent=given.visible_percent,
        smallest_visible_constant_watts=given.visible_watts,
        could_hide=given.could_hide,
    )


def _situation(given: Inputs, rule: Rule) -> Situation:
    return Situation(
        house=given.house,
        voice=given.voice,
        rule=rule,
        case=given.case,
        findings=given.findings,
        leading=_leading(given.causes, given.costs.look_at, _out(given.rows)),
        weights=given.weights,
        sizes=given.sizes,
        suspects=given.suspects,
        measures=given.measures,
        visible_percent=given.visible_percent,
        planned=given.planned,
        pricier=given.pricier,
        named=given.told,
        last_bill=max(given.rows, key=lambda row: row.end, default=None),
    )


def _signs(given: Inputs) -> tuple[str, ...]:
    return tuple(dict.fromkeys((*given.house.dangers, *given.site.dangers)))


def _stop(given: Inputs) -> tuple[Step, ...]:
    return tuple(Step(text, Hazard.PAPER, code="stop") for text in dangers(_signs(given)))


def _level(given: Inputs) -> dict[str, str]:
    """How far all the bills stand from the list, as the table of loads has it, to its uncertainty; and on which side.

    Where what began or ended within the bills turns the sign, what is left without it is told, and said to be so.
    """
    odds = given.case.odds
    if odds is None or not given.case.listed:
        return {"key": "", "percent": "", "side": "", "more": ""}
    known = [row for row in given.rows if row.billed_kwh is not None]
    listed = sums_as_printed(given.shares)[0]
    plain = 100.0 * (sum(row.billed_kwh or 0.0 for row in known) / listed - 1.0) if listed > 0 else 0.0
    apart = plain * odds.level_percent < 0 and abs(odds.level_score) > OFF_LEVEL
    size = odds.level_percent if apart else plain
    doubt = abs(odds.level_percent / odds.level_score) if odds.level_score else 1.0
    same = to_step(size, step_of(doubt)) == 0
    return {
        "key": "level-same" if same else "level-apart" if apart else "level",
        "percent": given.voice.percent(abs(size), doubt=None if same else min(doubt, MOST_DOUBT)),
        "side": "above" if size > 0 else "below",
        "more": "more" if abs(odds.level_score) > OFF_LEVEL else "no more",
    }


def _shape(given: Inputs) -> str:
    """Say that parts of the list look too large and something is missing from it, where both likely act."""
    missing = next((c for c in given.causes if c.code == "unlisted"), None)
    if missing is None or missing.probability < given.costs.likely or not missing.size or not given.case.listed:
        return ""
    large, voice = too_large(given.shares)[:LARGE_TOLD], given.voice
    loads = [f"{load} by about {voice.figure(kwh)} kWh" for load, kwh in large]
    return tell(voice, REASONS, "shape", {"loads": " and ".join(loads)}) if large else ""


def _leading(causes: Sequence[Cause], at: float, out: int = 1) -> Cause | None:
    """The likeliest cause; where more bills stand out than one holds, the likeliest that lasts, if any is as likely."""
    known = [c for c in causes if c.code != "none" and c.probability >= at]
    lasting = [c for c in known if c.code not in OF_ONE_BILL] if out > MOST_OF_ONE else []
    return max(lasting or known, key=lambda c: c.probability, default=None)


def _out(rows: Sequence[Period]) -> int:
    return sum(row.flag in (Flag.OVER, Flag.UNDER) for row in rows)


def _figures(given: Inputs, over: Over) -> dict[str, Any]:
    case, voice = given.case, given.voice
    leading = _leading(given.causes, given.costs.likely, _out(given.rows))
    slow = next((c for c in given.causes if c.code == "meter-low"), None)
    settling = next((f for f in given.findings if f.settles), None)
    settling = settling or next((f for f in given.findings if f.asks), None)
    opened = next((f for f in given.findings if f.asks), None)
    odds = case.odds
    return {
        "over": side(given.rows, Flag.OVER, over),
        "under": side(given.rows, Flag.UNDER, summed(given.rows, Flag.UNDER)),
        "leading": leading.text if leading is not None else "",
        "above_plate": next((f.figures for f in given.findings if f.code == ABOVE_PLATE), None),
        "slow": "" if slow is None or slow is leading else slow.text,
        "away": _away(given),
        "shape": _shape(given) if leading is not None and leading.code == "unlisted" else "",
        "rivals": _rivals(given.causes, voice, listed=case.listed),
        "exchange": _exchange(given),
        "settling": finding_text(settling, voice) if settling is not None else "",
        "missing": next((finding_text(f, voice) for f in given.findings if "missing-bill" in f.asks), ""),
        "typed": settling is not None and bool(TYPED & set(settling.household)),
        "open": opened is not None,
        "open_text": finding_text(opened, voice) if opened is not None else "",
        "wanted": _wanted(given)[0],
        "run": case.site.run,
        "run_percent": given.site.percent,
        "run_by": given.site.load,
        "once": given.house.field_test is not None and given.house.field_test.once,
        "run_expanded": given.site.expanded,
        "wrong": 0.0 if odds is None else odds.wrong,
        "level": _level(given),
        "signs": [spoken(sign, SIGNS) for sign in _signs(given)],
        "dearest": given.dearest,
        "below_list": odds is not None and case.listed and odds.level_score < -OFF_LEVEL,
        "listed": case.listed,
        "known": [
            "its days", *(["its weather"] if weathered(given.house) else []), *(["its loads"] if case.listed else []),
        ],
        "told": given.told.day if given.told is not None and case.told else None,
        "what": _named_event(given.told),
        "named": given.told.day if given.told is not None and not case.told and _named_event(given.told) else None,
        "rise": _rise(given),
        "rose": odds is not None and odds.alike >= given.costs.likely,
        "cannot_tell": case.cannot_tell,
        "hidden_percent": _hidden(given),
        "blind": _blind(given),
        "none": next((c.text for c in given.causes if c.code == "none"), ""),
        "clear": _clear(given, opened),
    }  # fmt: skip


def _away(given: Inputs) -> bool:
    """Whether the diary says of every low bill that nobody was at home."""
    low = [row for row in given.rows if row.flag is Flag.UNDER]
    gone = [event for event in given.house.events if event.kind == "away"]
    return bool(low) and all(
        any(event.day < row.end and (event.until or event.day) > row.start for event in gone) for row in low
    )


def _named_event(event: Event | None) -> str:
    """What the diary's line names, quoted as it was written."""
    if event is None:
        return ""
    named = ": ".join(text for text in (" ".join((part or "").split()) for part in (event.load, event.note)) if text)
    return f": “{named[:MOST_QUOTED]}”" if named else ""


def _rise(given: Inputs) -> str:
    """The likeliest rise in a sentence, where one is worth a look."""
    found = [c for c in given.causes if c.code != "none" and c.probability >= given.costs.look_at and (c.kwh or 0) > 0]
    return max(found, key=lambda c: c.probability).text if found else ""


def _hidden(given: Inputs) -> float | None:
    return hidden_percent(given.house, given.case, given.visible_percent)


def _blind(given: Inputs) -> bool:
    """Whether the bills would look alike with a rise that nobody would overlook."""
    return (_hidden(given) or 0.0) >= BLIND_PERCENT


def _clear(given: Inputs, opened: Finding | None) -> bool:
    """Whether nothing at all speaks against an all-clear."""
    case, odds = given.case, given.case.odds
    if odds is None or case.high or case.low or odds.none < given.costs.likely or opened is not None or case.settled:
        return False
    if case.site.run not in ("", "inside") or case.site.counts_with_main_off or _blind(given):
        return False
    return not (case.listed and odds.level_score < -OFF_LEVEL)


def _rivals(causes: Sequence[Cause], voice: Voice, *, listed: bool) -> list[str]:
    unsaid = () if listed else ("unlisted",)
    best = sorted((c for c in causes if c.code not in unsaid), key=lambda c: -c.probability)[:2]
    # a load that came for a time, as far as the bills can tell, and is still there at the last of them
    here: dict[str, str] = {"none": "no more than days, weather and habits"} | {
        c.code: "a load for a season" for c in best if c.code == "timed-load" and c.until is None
    }
    return [f"{here.get(c.code, NAMES.get(c.code, c.code))} ({voice.chance_percent(c.probability)})" for c in best]


def supposed_registration(causes: Sequence[Cause], costs: Costs) -> float | None:
    """Return the registration [%] that the bills suggest, where a fast meter is more likely than not; else None.

    Parameters
    ----------
    causes : sequence of Cause
    costs : Costs

    Returns
    -------
    float or None
    """
    leading = _leading(causes, costs.likely)
    if leading is None or leading.code not in ("meter-step", "meter-always") or not leading.size:
        return None
    return 100.0 + abs(leading.size)


def _exchange(given: Inputs) -> dict[str, Any] | None:
    """Figures of the news that two meters disagree, where either reading of it stands and none has settled it."""
    odds = given.case.odds
    if odds is None or given.case.site.run == "inside":
        return None
    return exchange_news(given.causes, odds.exchange, odds.fast, given.costs)


def _reasons(given: Inputs, rule: Rule) -> list[str]:
    case, voice = given.case, given.voice
    if rule.decision is Decision.URGENT:
        return [text for sign in _signs(given) if (text := meaning(sign))]
    said = [_too_little(given)] if rule.name == "too-few" else []
    said += given.site.sentences if rule.name == "main-off-counts" else []
    said += _stands_out(given)
    said += [finding_text(f, voice) for f in given.findings if f.settles or f.case == FOREIGN]
    likely = [c for c in given.causes if c.code != "none" and c.probability >= given.costs.look_at][:CAUSES_TOLD]
    # both readings of one news: the answer names the less likely one too
    news = () if _exchange(given) is None else ("meter-step", "old-meter-slow")
    said += [cause.text for cause in (*likely, *(c for c in given.causes if c.code in news))]
    if not any(cause.probability >= given.costs.likely for cause in likely):
        said += [c.text for c in given.causes if c.code == "none" and c.probability >= given.costs.look_at]
    said += given.site.sentences
    level = _level(given)
    if level["key"] and rule.decision in (Decision.INVENTORY, Decision.EXPLAINED):
        said.append(tell(voice, REASONS, level["key"], level))
    said += [shape] if (shape := _shape(given)) else []
    rivals = [c.code for c in given.causes if c.code in _APART and c.probability >= given.costs.open_at]
    if not case.site.read and len(rivals) >= 2:
        said.append(tell(voice, REASONS, "apart", {"names": " or ".join(_APART[code] for code in rivals)}))
    if given.told is not None and case.told:
        said.append(tell(voice, REASONS, "told", {"day": given.told.day}))
    if given.money_sentence:
        said.append(given.money_sentence)
    said.append(_meter_line(given))
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


def _wanted(given: Inputs) -> list[str]:
    house, voice = given.house, given.voice
    wanted = [tell(voice, MISSING, "bills", {"count": len(house.bills)})] if len(house.bills) < 12 else []
    wanted += [] if house.loads else [tell(voice, MISSING, "loads", {})]
    wanted += [] if weathered(house) else [tell(voice, MISSING, "weather", {})]
    return wanted or [MISSING["nothing"]]


def _meter_line(given: Inputs) -> str:
    odds = given.case.odds
    return meter_line(
        {
            "fast": None if odds is None else odds.fast,
            "percent": given.could_hide.percent,
            "by": given.could_hide.by,
            "watts": given.visible_watts,
            "run": given.case.site.run,
            "by_load": (given.site.load or {}).get("load", ""),
            "danger": given.case.danger,
            "once": given.house.field_test is not None and given.house.field_test.once,
        },
        given.voice,
    )
