"""From chances, facts and site readings to one verdict: the rule that decides, its sentence, its reasons, its steps."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from reconcile.costs import Costs
from reconcile.decide.hidden import BLIND_PERCENT, hidden_percent, season_hides
from reconcile.decide.rules import OFF_LEVEL, Rule, decide
from reconcile.decide.told import Looked, looked
from reconcile.facts import OTHERS, Finding, settling_of
from reconcile.house import Event, House
from reconcile.interval.found import ABOVE_PLATE, FOREIGN, OWN_POWER, STEP_SIZES
from reconcile.kinds import Decision, Flag, Hazard
from reconcile.meter.branches import circuit_found
from reconcile.plan.doubted import doubted
from reconcile.plan.first import of_a_season, one_digit, read_since
from reconcile.plan.next_steps import next_steps
from reconcile.plan.situation import Situation
from reconcile.plan.step_made import weathered
from reconcile.result import Cause, Over, Period, Step, Verdict
from reconcile.say import LINE, Voice, quoted
from reconcile.texts import tell
from reconcile.texts.cause_words import size_told
from reconcile.texts.charge_findings import MISMATCHES
from reconcile.texts.danger_signs import dangers
from reconcile.texts.decisions import headline
from reconcile.texts.findings import finding_text
from reconcile.texts.labels import SIGNS, spoken
from reconcile.texts.meter_words import own_power_news
from reconcile.texts.reason_words import MISSING, REASONS
from reconcile.verdict.carried import accounted
from reconcile.verdict.cases import MONEY_FINDINGS, WORTH_ASKING, usual_bill
from reconcile.verdict.exchange_news import may_be_doubled
from reconcile.verdict.large_use import beyond_people
from reconcile.verdict.reasons import (
    Inputs,
    bills_out,
    exchange_told,
    leading_of,
    level_told,
    meter_line_of,
    reasons,
    shape_told,
    signs_of,
)
from reconcile.verdict.rivals import of_weather, rises, rising, rivals, rose
from reconcile.verdict.sums import side, summed
from reconcile.weigh.absent import noted_absences

NOBODY = ("away", "outage")
"""Kinds of a diary line by which next to nothing is used."""
SEVERAL = 3
"""Bills that the tariff as typed does not give from which they are told in one sentence."""

TYPED = frozenset(("units-typed", "kwh-typed", "kwh-are-readings", "kwh-are-a-sum", "kwh-are-a-day"))
"""What a finding asks of the household where its figures were most likely typed so."""


def verdict_of(given: Inputs) -> Verdict:
    """Decide, and say it."""
    rule = decide(given.case)
    over = summed(given.rows, Flag.OVER)
    odds = given.case.odds
    steps = _stop(given) if rule.decision is Decision.URGENT else next_steps(_situation(given, rule))
    figures = {
        **_figures(given, over),
        "another": steps[:1] != () and steps[0].code == "meter-follows",
        "fell": any(step.code == "ended" for step in steps),
        "asks": any(step.asks not in (None, "which-rate") for step in steps),
        "old_slow": any(step.code == "old-slow" for step in steps),
        "rising": rising(given) if rule.name == "rivals" else (),
        "of_weather": of_weather(given.causes) if rule.name == "equipment" else "",
        "priced": any(step.asks == "which-rate" for step in steps),
        "wiring": leaking_circuit(given.house),
    }
    return Verdict(
        decision=rule.decision,
        rule=rule.name,
        headline=headline(rule.name, figures, given.voice),
        reasons=tuple(dict.fromkeys(reasons(given, rule))),
        next_steps=steps,
        meter_line=meter_line_of(given),
        field_test_warranted=rule.decision is Decision.FIELD_TEST,
        cannot_tell=given.case.cannot_tell,
        blind=rule.name == "explained" and _blind(given),
        meter_fast_probability=None if odds is None else min(max(odds.fast, 0.0), 1.0),
        meter_slow_probability=None if odds is None else min(max(odds.slow, 0.0), 1.0),
        meters_disagree_probability=None if odds is None else min(max(odds.exchange, 0.0), 1.0),
        meter_open=_whose(given),
        over=over,
        under=summed(given.rows, Flag.UNDER),
        smallest_visible_meter_error_percent=given.visible_percent,
        smallest_visible_constant_watts=given.visible_watts,
        could_hide=given.could_hide,
        weather_could_hide=given.weather_hides,
    )


def leaking_circuit(house: House) -> dict[str, Any]:
    """Return the circuit whose wiring was found to draw with everything unplugged; empty where none was."""
    found = None if house.field_test is None else circuit_found(house.field_test.branches)
    leaks = found is not None and found.unplugged
    return {"circuit": found.circuit, "fell_watts": found.fell_watts} if leaks and found is not None else {}


def _situation(given: Inputs, rule: Rule) -> Situation:
    return Situation(
        house=given.house,
        voice=given.voice,
        rule=rule,
        case=given.case,
        findings=given.findings,
        leading=leading_of(given.causes, given.costs.look_at, bills_out(given.rows)),
        weights=given.weights,
        sizes=given.sizes,
        suspects=given.suspects,
        measures=given.measures,
        visible_percent=given.visible_percent,
        planned=given.planned,
        pricier=given.pricier,
        named=given.told,
        last_bill=max(given.rows, key=lambda row: row.end, default=None),
        odd=tuple(_flagged(given, Flag.OVER) or _flagged(given, Flag.UNDER)),
        doubted=tuple(given.rows[i] for i in doubted(given.rows, given.causes, rule.name)),
        away=_away(given),
        pair=_pair(given),
        proved=_proved(given),
        exchanged_in=_exchanged_in(given),
        looked=_since(given),
        whose=_whose(given),
        may_be_doubled=may_be_doubled(given.causes, given.costs),
    )


def _stop(given: Inputs) -> tuple[Step, ...]:
    return tuple(Step(text, Hazard.PAPER, code="stop") for text in dangers(signs_of(given)))


TIMES_MORE = 3.0
"""A fact of so many times the energy of the bills that stand out is told before them (our choice)."""


def _figures(given: Inputs, over: Over) -> dict[str, Any]:
    case, voice = given.case, given.voice
    leading = leading_of(given.causes, given.costs.likely, bills_out(given.rows))
    slow = next((c for c in given.causes if c.code == "meter-low"), None)
    settling = settling_of(given.findings)
    settling = settling or next((f for f in given.findings if f.asks), None)
    settling = settling or next((f for f in given.findings if f.code in MONEY_FINDINGS and f.amount), None)
    opened = next((f for f in given.findings if f.asks), None)
    odds, fits_list, level = case.odds, _fits_list(given), level_told(given)
    off = level["key"]
    likely = [cause for cause in given.causes if cause.probability >= given.costs.likely]
    why = accounted(leading, likely, given.findings, given.rows)
    return {
        "over": side(given.rows, Flag.OVER, over),
        "under": side(given.rows, Flag.UNDER, summed(given.rows, Flag.UNDER)),
        "leading": " ".join(cause.text for cause in why["told"]),
        "why": {**why, "told": len(why["told"]), "bills": over.bills},
        "above_plate": next((f.figures for f in given.findings if f.code == ABOVE_PLATE), None),
        "own_power": "".join(own_power_news(voice, f.figures) for f in given.findings if f.code == OWN_POWER),
        "foreign": any(f.case == FOREIGN for f in given.findings),
        "resized": next((f.figures for f in given.findings if f.code == STEP_SIZES), None),
        "short_list": leading is not None and leading.code == "unlisted",
        "slow": None if slow is None or slow is leading else _slow(slow, voice),
        "emptied": case.emptied,
        "away": ("outage" if _away(given, ("outage",)) else "away") if _away(given) else "",
        "shape": shape_told(given) if leading is not None and leading.code == "unlisted" else "",
        "rivals": rivals(rises(given.causes) if rose(given) else given.causes, voice, listed=case.listed),
        "exchange": exchange_told(given),
        "settling": _told(given, settling) if settling is not None else "",
        "settling_more": settling is not None and _is_of_more(settling, given.rows),
        "settling_asks": settling is not None and bool(settling.asks),
        "missing": next((finding_text(f, voice) for f in given.findings if "missing-bill" in f.asks), ""),
        "typed": settling is not None and bool(TYPED & set(settling.household)),
        "open": opened is not None,
        "open_text": _told(given, opened) if opened is not None else "",
        "wanted": _wanted(given)[0],
        "run": case.site.run,
        "again": case.site.again,
        "run_percent": given.site.percent,
        "run_by": given.site.load,
        "once": given.house.field_test is not None and given.house.field_test.once,
        "by_constant": case.site.by_constant,
        "run_expanded": given.site.expanded,
        "wrong": 0.0 if odds is None else odds.wrong,
        "fast": 0.0 if odds is None else odds.fast,
        "either": odds is not None and odds.exchange > odds.fast,
        "level": level,
        "off_list": "" if fits_list or off in ("", "level-same") else tell(voice, REASONS, off, level),
        "seasonal": leading is not None and leading.code == "unlisted" and leading.seasonal,
        "signs": [spoken(sign, SIGNS) for sign in signs_of(given)],
        "dearest": given.dearest,
        "pricier": given.pricier,
        "below_list": odds is not None and case.listed and odds.level_score < -OFF_LEVEL,
        "listed": case.listed,
        "known": [
            "its days", *(["its weather"] if weathered(given.house) else []), *(["its loads"] if fits_list else []),
            *(["the days away in your diary"] if noted_absences(given.house) else []),
        ],
        "told": given.told.day if given.told is not None and case.told else None,
        "what": _named_event(given.told),
        "named": given.told.day if given.told is not None and not case.told and _named_event(given.told) else None,
        "rise": _rise(given),
        "open_rise": leading is not None and leading.code not in ("swap", "unlisted") and (leading.kwh or 0.0) > 0.0,
        "proved": "" if (proved := _proved(given)) is None else _told(given, proved),
        "pair": _pair(given) is not None,
        "of_another": _of_another(given, proved),
        "whose": _whose(given),
        "looked": _looked(given),
        "tied": given.case.tied,
        "exchanged_in": _exchanged_in(given),
        "colder": _colder(given, leading),
        "read_since": _read_since(given),
        "instead": _instead(given),
        "names": given.told is not None and given.told.kind == "new-load",
        "rose": odds is not None and odds.alike >= given.costs.likely,
        "cannot_tell": case.cannot_tell,
        "hidden_percent": _hidden(given),
        "season_hides": {
            one.follows: one.more_percent for one in season_hides(given.case, given.weather_hides)
        },
        "blind": _blind(given),
        "none": next((c.text for c in given.causes if c.code == "none"), ""),
        "large": _beyond_people(given, leading),
        "calm": odds.none if odds is not None and odds.none >= given.costs.likely else None,
        "clear": _clear(given, opened),
        "fits_list": fits_list,
        "over_since": bool(given.rows) and given.rows[-1].flag is not Flag.UNDER,
    }  # fmt: skip


FORETOLD = 0.2
"""Part by which all bills together may stand off the list that is said to foretell them (our choice: people come with
bills a quarter higher)."""


def _slow(cause: Cause, voice: Voice) -> dict[str, Any]:
    limits = (cause.size_low, cause.size_high)
    return {"chance": cause.probability, "size": size_told(cause.size or 0.0, cause.unit, limits, voice)}


def _fits_list(given: Inputs) -> bool:
    """Whether the bills are what the list says, and not only what they usually are."""
    rows = [row for row in given.rows if row.billed_kwh is not None and row.expected_kwh is not None]
    billed, expected = sum(row.billed_kwh or 0.0 for row in rows), sum(row.expected_kwh or 0.0 for row in rows)
    short = any(c.code == "unlisted" and c.probability >= given.costs.look_at for c in given.causes)
    return given.case.listed and not short and abs(billed - expected) <= FORETOLD * expected


def _colder(given: Inputs, leading: Cause | None) -> bool:
    """Whether no temperatures are known, and what is high is one bill, or a passing rise, of the cold or hot months."""
    if weathered(given.house) or given.case.tied:
        return False
    if of_a_season(_flagged(given, Flag.OVER), given.house):
        return True
    if leading is None or leading.code not in ("single-period", "timed-load") or (leading.kwh or 0.0) <= 0.0:
        return False
    most = max(zip(leading.pattern_kwh, given.rows, strict=True), key=lambda one: one[0])[1]
    return of_a_season([most], given.house)


def _beyond_people(given: Inputs, leading: Cause | None) -> float | None:
    """What is used more a day where it is more than people use, and neither the weather nor the diary may say why."""
    said = given.told is not None or given.suspects.timer is not None or _colder(given, leading)
    return None if said else beyond_people(given.rows, leading)


def _pair(given: Inputs) -> tuple[Period, Period] | None:
    """Two neighboring bills between which use likely moved, where that is more likely than not."""
    cause = leading_of(given.causes, given.costs.likely)
    if cause is None or cause.code != "swap":
        return None
    moved = [row for row, kwh in zip(given.rows, cause.pattern_kwh, strict=True) if abs(kwh) >= 1.0]
    return (moved[0], moved[1]) if len(moved) == 2 and moved[0].end == moved[1].start else None


def _flagged(given: Inputs, flag: Flag) -> list[Period]:
    return [row for row in given.rows if row.flag is flag]


def _proved(given: Inputs) -> Finding | None:
    """What the records show of more money than all bills marked high are over: it leads."""
    others = next((f for f in given.findings if f.key in OTHERS), None)
    if others is not None:  # whose bills they are comes before what the other ones show
        return others
    over = summed(given.rows, Flag.OVER)
    least = max(WORTH_ASKING * usual_bill(given.house), abs(over.amount or Decimal(0)))
    found = [f for f in given.findings if f.asks and f.amount is not None and abs(f.amount) > least]
    return max(found, key=lambda f: abs(f.amount or Decimal(0)), default=None)


def _of_another(given: Inputs, proved: Finding | None) -> dict[str, Any] | None:
    """The bills that may be of another home's meter, in money: nothing else is told beside them."""
    if proved is None or proved.key not in OTHERS:
        return None
    amounts = [given.house.bills[i].amount for i in proved.periods]
    known = [amount for amount in amounts if amount is not None]
    return {"bills": len(amounts), "amount": sum(known, start=Decimal(0)) if len(known) == len(amounts) else None}


def _is_of_more(finding: Finding, rows: Sequence[Period]) -> bool:
    """Whether a fact of the records is of far more energy than what the bills outside their range are off by."""
    out = sum(abs(row.excess_kwh or 0.0) for row in rows if row.flag in (Flag.OVER, Flag.UNDER))
    return abs(finding.kwh or 0.0) > TIMES_MORE * out


def _told(given: Inputs, finding: Finding) -> str:
    """A finding in a sentence; bills that ask for more than the tariff gives, where they are several, all in one."""
    alike = [f for f in given.findings if f.code == "amount-mismatch" and f.amount and f.periods]
    if finding not in alike or len(alike) < SEVERAL or len({f.amount > 0 for f in alike if f.amount}) > 1:
        return finding_text(finding, given.voice)
    rows = sorted((given.rows[f.periods[0]] for f in alike), key=lambda row: row.start)
    total = sum((f.amount or Decimal(0) for f in alike), start=Decimal(0))
    figures = {
        "count": len(alike),
        "first": rows[0].start,
        "last": rows[-1].end,
        "amount": abs(total),
        "more": total > 0,
    }
    return given.voice.fill(MISMATCHES, {**figures, "way": "more" if total > 0 else "less"})


def _whose(given: Inputs) -> tuple[str, ...]:
    """What the records leave open of the meter the bills are of: its multiplier, or its home."""
    if not given.case.whose:
        return ()
    opening = [finding for finding in given.findings if _opens(finding)]
    if any(finding.settles for finding in opening):  # told by itself, and the bills it is about are not weighed
        return ()
    codes = {"multiplier" if finding.code == "multiplier" else "home" for finding in opening}
    return tuple(sorted(codes or {"multiplier"}))


def _opens(finding: Finding) -> bool:
    return finding.key in ("multiplier/perhaps", *OTHERS) or finding.code == "meter-work"


def _since(given: Inputs) -> Looked | None:
    """What the diary tells since the likeliest cause began."""
    found = looked(given.house, given.rows, leading_of(given.causes, given.costs.look_at, bills_out(given.rows)))
    return None if found is None or found.event is given.told else found


def _looked(given: Inputs) -> dict[str, Any] | None:
    found = _since(given)
    if found is None:
        return None
    event = found.event
    return {"code": found.code, "noted": quoted(event.note or event.load or "", LINE), "day": event.day}


def _exchanged_in(given: Inputs) -> bool:
    """Whether the meter was exchanged within the one bill that is high, and its two readings then are not known."""
    high = _flagged(given, Flag.OVER)
    days = {(row.start, row.end) for row in high}
    exchanges = [f for f in given.findings if f.code == "meter-exchange" and "exchange-readings" in f.asks]
    return len(high) == 1 and any(f.figures.get("bill") in days for f in exchanges)


def _instead(given: Inputs) -> dict[str, float | None] | None:
    """A last bill's closing reading, and the one of another digit with which it would be as usual."""
    last = max(given.rows, key=lambda row: row.end, default=None)
    high = last is not None and last.flag is Flag.OVER and sum(row.flag is Flag.OVER for row in given.rows) == 1
    bill = max(given.house.bills, key=lambda one: one.closes)
    open_yet = high and not given.case.tied and read_since(given.house) is None
    other = one_digit(bill, last) if last is not None and open_yet else None
    return None if other is None else {"instead": other, "reading": bill.reading_end}


def _read_since(given: Inputs) -> dict[str, Any] | None:
    """The household's own reading after a last bill that is high, with its use a day since."""
    last = max(given.rows, key=lambda row: row.end, default=None)
    own = read_since(given.house) if last is not None and last.flag is Flag.OVER else None
    bill = max(given.house.bills, key=lambda one: one.closes)
    if own is None or last is None or bill.reading_end is None:
        return None
    moved = 0.0 if bill.reading_start is None else bill.reading_end - bill.reading_start
    times = (last.billed_kwh or 0.0) / moved if moved > 0.0 else 1.0
    a_day = times * (own.value - bill.reading_end) / (own.day - bill.closes).days
    return {"day": own.day, "reading": own.value, "a_day": a_day, "billed": (last.billed_kwh or 0.0) / last.days}


def _away(given: Inputs, kinds: Sequence[str] = NOBODY) -> bool:
    """Whether the diary says of every low bill that nobody was at home, or the power was off."""
    low = _flagged(given, Flag.UNDER)
    cause = None if low else leading_of(given.causes, given.costs.likely)
    if cause is not None and cause.code == "single-period" and (cause.kwh or 0.0) < 0.0:
        low = [row for row, kwh in zip(given.rows, cause.pattern_kwh, strict=True) if kwh < -1.0]
    gone = [event for event in given.house.events if event.kind in kinds]
    return bool(low) and all(
        any(event.day < row.end and (event.until or event.day) > row.start for event in gone) for row in low
    )


def _named_event(event: Event | None) -> str:
    """What the diary's line names, quoted as it was written."""
    if event is None:
        return ""
    named = ": ".join(text for text in (" ".join((part or "").split()) for part in (event.load, event.note)) if text)
    return f": “{quoted(named)}”" if named else ""


def _rise(given: Inputs) -> str:
    """The likeliest rise in a sentence, where one is worth a look; what the list always lacked is no rise."""
    no_rise = ("none", "unlisted")
    at = given.costs.look_at
    found = [c for c in given.causes if c.code not in no_rise and c.probability >= at and (c.kwh or 0) > 0]
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
    if _rise(given):
        return False  # it is told beside the answer, and asked about
    if case.site.run not in ("", "inside") or case.site.counts_with_main_off or _blind(given):
        return False
    return not (case.listed and odds.level_score < -OFF_LEVEL)


def supposed_registration(causes: Sequence[Cause], costs: Costs) -> float | None:
    """Return the registration [%] that the bills suggest, where a fast meter is more likely than not; else None."""
    leading = leading_of(causes, costs.likely)
    if leading is None or leading.code not in ("meter-step", "meter-always") or not leading.size:
        return None
    return 100.0 + abs(leading.size)


def _wanted(given: Inputs) -> list[str]:
    house, voice = given.house, given.voice
    wanted = [tell(voice, MISSING, "bills", {"count": len(house.bills)})] if len(house.bills) < 12 else []
    wanted += [] if house.loads else [tell(voice, MISSING, "loads", {})]
    wanted += [] if weathered(house) else [tell(voice, MISSING, "weather", {})]
    return wanted or [MISSING["nothing"]]
