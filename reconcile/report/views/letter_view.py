"""What the letter to the billing desk says: the facts, one table, and what the steps ask, no more and no less."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from reconcile.facts import OTHERS
from reconcile.interval.found import STEP_SIZES
from reconcile.kinds import OWN_METER, Decision, Flag
from reconcile.plan.doubted import doubted
from reconcile.report.views.call_view import call_of
from reconcile.report.views.field_readings import constant_words, readings
from reconcile.report.views.first_view import falls_lead, since_line, since_open
from reconcile.rounding import to_step
from reconcile.say import clean
from reconcile.texts import letter_words as words
from reconcile.texts.field.field_test import branch_found, registration_words
from reconcile.texts.findings import finding_text
from reconcile.texts.money import bridge_sentence, price_rises
from reconcile.texts.requests import request, which_bills
from reconcile.verdict.sums import excess_step, summed

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from reconcile.money.refund import Refund
    from reconcile.result import Reconciliation

ABOUT_METER = frozenset(
    ("meter-test", "old-meter-test", "check-meter", "ahead-of-main", "which-meter", "exchange-readings")
)
"""Requests that are about a meter: the letter then says when it was exchanged."""
TRUED_UP = frozenset(("estimated-read", "catch-up", "interval-mismatch/estimate"))
CHECK_READING = frozenset(("check-reading", "check-low-reading"))
MOST_READINGS = 8
"""Readings on site that the letter itself gives; the record, which is enclosed, gives all."""


def letter(result: Reconciliation, rule: str | None = None) -> dict[str, Any]:
    """Return what the letter says, as plain words for every rendering.

    Parameters
    ----------
    rule : str, optional
        Code of the published rule by which a refund is worked out, where a test on site found the meter outside its
        limits (:func:`reconcile.money.refund.rules`).

    Returns
    -------
    dict
        Keys ``danger, subject, points, named, bills, readings, usual, requests, nothing``; ``requests`` is empty where
        there is nothing to ask.
    """
    verdict, voice = result.verdict, result.voice
    requests = asked(result)
    about_meter = bool(ABOUT_METER & set(verdict.requests))
    wrong = any(key != "which-rate" for key in verdict.requests)
    told = [f for f in result.findings if f.asks or (wrong and f.settles)]
    if any(f.asks for f in told):  # an estimate that the next bill has put right is no question beside an open one
        asked_of = {i for f in told if f.asks for i in f.periods}
        told = [f for f in told if f.asks or not {f.code, f.key} & TRUED_UP or asked_of & set(f.periods)]
    # why a meter is asked about: the desk must know which, and since when
    told += [f for f in result.findings if f.code == "meter-exchange" and about_meter and f not in told]
    rises = price_rises(result.findings) if "which-rate" in verdict.requests else ()
    told += [rise for rise in rises if rise not in told]
    # a price is asked about whatever was used
    # the bills of this home are not the question, nor what single ones are over where less is counted than was used
    wrong &= not any(f.key in OTHERS for f in result.findings) and not falls_lead(result)
    touched = touched_by_meter(result) if requests else ()
    # beside a meter that was found wrong, the bills before it are not the question
    over = [i for i, row in enumerate(result.rows) if row.flag is Flag.OVER and wrong and (not touched or i in touched)]
    points = [clean(finding_text(f, voice)) for f in told]
    stands = standing_out(result)
    points += [_stands(result, i) for i in stands if i not in over]
    if touched:
        points.append(_touched(result, touched, over))
    elif over and requests:
        points.append(_run(result, over))
    if since := since_line(result, whole=not _site(result)):
        sizes = any(f.code == STEP_SIZES for f in told)  # which tell another figure, and maybe another day
        points.append(f"{since} {words.TOGETHER_SHOWN}" if sizes else since)
    points += _by_listed_load(result) + (_by_run_in_data(result) if requests else [])
    if requests and not points and result.money is not None and result.money.bridge is not None:
        points.append(bridge_sentence(result.money.bridge, voice))
    if requests and (site := _site(result) or _ahead(result)):
        points += [site, _readings(result)]
        points += _refund(result, rule)
    marked = set(over) | set(stands) | set(touched)
    # the bill of an exchange stands in the table only where no other does: its date is told
    told = [f for f in told if f.code != "meter-exchange" or (f.asks and not marked)]
    named = sorted(marked | {i for f in told for i in f.periods}) if requests else []
    bills = [_bill(result, i) for i in named]
    return {
        "danger": [step.text for step in verdict.next_steps] if verdict.decision is Decision.URGENT else [],
        "subject": _subject(result, named),
        "opening": words.OPENING if points or bills else "",
        "points": points,
        "named": named,
        "bills": [*bills, *_together(result, named, whole=bool(touched))],
        "readings": any(_has_readings(result, i) for i in named),
        "usual": bool(set(over) & set(named)),
        "requests": requests,
        "record": words.RECORD if requests and (_site(result) or _ahead(result)) else "",
        "nothing": _nothing(result),
    }


def asked(result: Reconciliation) -> list[str]:
    """Lines of the letter that ask, one for each request of the steps."""
    figures = {key: f.figures for f in reversed(result.findings) for key in f.asks}
    spans = [result.voice.span(result.rows[i].start, result.rows[i].end) for i in standing_out(result)]
    figures |= {key: {"which": which_bills(spans)} for key in CHECK_READING}
    return [result.voice.fill(request(key).letter, figures.get(key, {})) for key in result.verdict.requests]


def standing_out(result: Reconciliation) -> tuple[int, ...]:
    """Bills whose readings are asked about."""
    verdict = result.verdict
    return doubted(result.rows, result.causes, verdict.rule) if CHECK_READING & set(verdict.requests) else ()


def _stands(result: Reconciliation, i: int) -> str:
    row = result.rows[i]
    figures = {
        "span": (row.start, row.end),
        "billed": row.billed_kwh,
        "off": (abs(row.excess_kwh or 0.0), excess_step(result.rows)),
        "more": (row.excess_kwh or 0.0) > 0,
        "listed": bool(result.house.loads),
    }
    return words.point("stands", figures, result.voice)


def _run(result: Reconciliation, over: list[int]) -> str:
    rows = [result.rows[i] for i in over]
    return words.point(
        "over",
        {
            "bills": len(rows),
            "span": (rows[0].start, rows[-1].end),
            "billed": sum(row.billed_kwh or 0.0 for row in rows),
            "over": (summed(result.rows, Flag.OVER).kwh, excess_step(result.rows)),
            "usual": (rows[0].usual_low_kwh, rows[0].usual_high_kwh),
            "listed": bool(result.house.loads),
        },
        result.voice,
    )


def touched_by_meter(result: Reconciliation) -> tuple[int, ...]:
    """Bills that a meter found outside its limits on site has counted: all of them stand in the letter, high or not.

    Where nothing tells since when, it may have counted every one.
    """
    if result.verdict.rule != "run-outside":
        return ()
    if since_open(result):
        return tuple(i for i, row in enumerate(result.rows) if row.billed_kwh is not None)
    stakes = () if result.money is None else result.money.stakes
    found = [one for one in stakes if one.code in OWN_METER]
    return max(found, key=lambda one: abs(one.kwh)).periods if found else ()


def _touched(result: Reconciliation, touched: Sequence[int], over: Sequence[int]) -> str:
    rows, step = [result.rows[i] for i in touched], excess_step(result.rows)
    high = [result.rows[i] for i in over if i in touched]
    figures = {
        "bills": len(rows),
        "span": (rows[0].start, rows[-1].end),
        "billed": sum(row.billed_kwh or 0.0 for row in rows),
        "high": len(high),
        "over": (summed(high, Flag.OVER, step).kwh, step),
        "listed": bool(result.house.loads),
    }
    return words.point("touched", figures, result.voice)


def _nothing(result: Reconciliation) -> str:
    """Why the utility is asked nothing; a circuit that was found is the household's own."""
    test, voice = result.field_test, result.voice
    if test is not None and test.circuit is not None and not test.dangers:
        return voice.fill(words.CIRCUIT, {"found": branch_found(test)[0]})
    return words.nothing(call_of(result))


def _site(result: Reconciliation) -> str:
    test = result.field_test
    if test is None or test.registration is None or test.doubtful:
        return ""
    found = test.registration
    percent, doubt = registration_words(result.voice, found)
    tolerance = test.tolerance_percent
    written = result.house.field_test
    people = () if written is None else written.records
    return words.point(
        "site",
        {
            "percent": percent,
            "expanded": doubt,
            "low": 100.0 - tolerance,
            "high": 100.0 + tolerance,
            "meter": clean(test.meter_number or ""),
            "runs": found.runs,
            "legs": any(run.kind == "clamps" for run in test.runs),
            "days": _days([run.day for run in test.runs]),
            "by": clean(next((one.person for one in people if one.person), "")),
        },
        result.voice,
    )


def _ahead(result: Reconciliation) -> str:
    """Say what the meter counted with the main off, where that is asked about."""
    test = result.field_test
    if test is None or "ahead-of-main" not in result.verdict.requests:
        return ""
    counted = next(reading for reading in test.main_off if reading.zone == "outside")
    return words.point("ahead", {"watts": counted.watts, "days": _days([counted.day])}, result.voice)


def _by_listed_load(result: Reconciliation) -> list[str]:
    """Say how a listed load shows in the data, where the test rests on it and on no run."""
    known = () if result.interval is None else result.interval.known_loads
    if result.verdict.rule != "run-outside" or _site(result) or not known:
        return []
    load = known[-1]
    figures = {
        "load": load.name,
        "listed": load.listed_watts,
        "seen": load.seen_watts,
        "percent": 100.0 * load.registration,
    }
    return [words.point("listed", figures, result.voice)]


def _by_run_in_data(result: Reconciliation) -> list[str]:
    """Say what a run read in the data shows, where the meter is what is asked about."""
    run = None if result.interval is None else result.interval.run
    if run is None or not ABOUT_METER & set(result.verdict.requests):
        return []
    from reconcile.report.views.interval_view import run_figures

    return [words.point("run-in-data", run_figures(run, result.house, result.voice), result.voice)]


def _days(days: Sequence[date | None]) -> tuple[date, ...]:
    return tuple(sorted({day for day in days if day is not None}))


def _readings(result: Reconciliation) -> str:
    """The runs and what counted with the main off, as they were written down; the rest is left to the record."""
    test = result.house.field_test
    written = () if test is None else readings(replace(test, quiet=()))
    told = [f"{one.what}: {'; '.join(part for part in (one.meter, one.load) if part)}" for one in written]
    figures = {"told": tuple(map(clean, told[:MOST_READINGS])), "constant": constant_words(result.house)}
    return words.point("readings", figures, result.voice)


def chosen_refund(result: Reconciliation, rule: str | None) -> Refund | None:
    """Return what the rule gives for the meter as tested, or None where no test found it outside its limits."""
    made = () if result.money is None else result.money.refunds
    return next((one for one in made if one.rule.code == rule), None)


def _refund(result: Reconciliation, rule: str | None) -> list[str]:
    """Say what the rule gives, where it is owed to the customer."""
    owed = chosen_refund(result, rule)
    if owed is None or owed.within_tolerance or owed.kwh <= 0:
        return []
    figures = {
        "place": owed.rule.place,
        "source": owed.rule.source.split(" (")[0],
        "start": owed.start,
        "end": owed.end,
        "kwh": owed.kwh,
        "amount": owed.amount,
        "how": "since-the-exchange" if _at_exchange(result) else "since-the-first-bill",
        "share": owed.rule.fast_share,
        "months": owed.rule.fast_months,
        "since_known": owed.since_known,
    }
    return [words.point("refund", figures, result.voice)]


def _at_exchange(result: Reconciliation) -> bool:
    return any(finding.code == "meter-exchange" for finding in result.findings)


def _subject(result: Reconciliation, named: Sequence[int]) -> str:
    rows = [result.rows[i] for i in named] or list(result.rows)
    span = result.voice.span(rows[0].start, rows[-1].end) if rows else ""
    asked_about = [result.house.bills[i] for i in named] or list(result.house.bills)
    meters = list(dict.fromkeys(clean(bill.meter) for bill in asked_about if bill.meter))
    return f"Electric {'bill' if len(rows) == 1 else 'bills'} of {span}" + (
        f", meter {', '.join(meters)}" if meters else ""
    )


def _has_readings(result: Reconciliation, i: int) -> bool:
    bill = result.house.bills[i]
    return bill.reading_start is not None or bill.reading_end is not None


def _bill(result: Reconciliation, i: int) -> dict[str, str]:
    bill, row, voice = result.house.bills[i], result.rows[i], result.voice
    marked = row.flag is Flag.OVER and row.excess_kwh is not None
    over = to_step(row.excess_kwh or 0.0, excess_step(result.rows))
    usual = voice.exact((row.billed_kwh or 0.0) - over) if marked else ""
    return {
        "dates": voice.span(bill.start, bill.end),
        "days": str(bill.days),
        "opens": _reading(bill.reading_start),
        "closes": _reading(bill.reading_end),
        "read": bill.read_type,
        "kwh": voice.exact(row.billed_kwh),
        "usual": usual,
        "range": voice.between(row.usual_low_kwh, row.usual_high_kwh) if marked else "",
        "over": voice.number(over) if marked else "",
        "amount": voice.money(bill.amount),
    }


def _together(result: Reconciliation, named: Sequence[int], *, whole: bool) -> list[dict[str, str]]:
    """The last row: what is over in all, where all bills of the table are or belong together; it adds up as printed."""
    over = [i for i in named if result.rows[i].flag is Flag.OVER]
    if len(named) < 2 or (len(over) < len(named) and not whole):
        return []
    voice, rows = result.voice, [result.rows[i] for i in named]
    paid = [result.house.bills[i].amount for i in named]
    billed = sum(round(row.billed_kwh or 0.0, 2) for row in rows)
    more = summed([result.rows[i] for i in over], Flag.OVER, excess_step(result.rows)).kwh
    known = [amount for amount in paid if amount is not None]
    return [
        {
            **dict.fromkeys(words.HEADS, ""),
            "dates": words.TOGETHER,
            "kwh": voice.exact(billed),
            "usual": voice.exact(billed - more) if len(over) == len(named) else "",
            "over": voice.number(more) if over else "",
            "amount": voice.money(sum(known)) if len(known) == len(paid) else "–",
            "read": "",
        }
    ]


def _reading(value: float | None) -> str:
    return "–" if value is None else f"{value:.10g}"
