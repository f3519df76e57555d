"""Findings of the tie-out: bills that their own interval data contradict."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise

from reconcile.facts import Finding
from reconcile.house import Bill, House
from reconcile.interval.found import ABOVE_PLATE, FOREIGN, OTHER_METER, RATIO, IntervalResult, Ratio, TieOut
from reconcile.interval.known_load import PLATE_WITHIN_PERCENT, KnownLoad
from reconcile.interval.reads import PRINTED_KWH
from reconcile.interval.sizes_moved import sizes_moved
from reconcile.interval.standing_still import standing_still

CODE = "interval-mismatch"
ENDS_OFF = ("opened-off", "closed-off")
BY_HOURS = ("any-hour", "other-hour")
"""Bills that add up by readings at other hours of their days."""


def findings(result: IntervalResult, house: House) -> tuple[Finding, ...]:
    """Bills that the interval data contradict.

    Parameters
    ----------
    result : IntervalResult
        From :func:`reconcile.interval.examine`.
    house : House
        The same house.

    Returns
    -------
    tuple of Finding
        ``interval-mismatch``, in one of the cases ``foreign`` (hardly a bill adds up), ``ratio`` (every bill by one
        ratio, or some one after another), ``bill`` (one bill), ``part``
        (the recorded part of one already exceeds it), ``moved`` (energy moved between two bills) and ``estimate``
        (likewise, over an estimated reading) and ``end`` (a first or last bill that a reading a day off explains as
        well as an error, which settles nothing); what :func:`sizes_moved` finds; and ``above-plate``, a listed load
        that switches more than its plate leaves room for, which settles nothing. ``meter-number/hours`` where the data
        add up to all bills but several one after another: those are of another meter.
    """
    if result.foreign:
        return (_foreign(result),)
    found = [] if result.ratio is None else [_ratio(result, result.ratio, house)]
    told = {tie.period for tie in result.tie_out if tie.why == RATIO}
    if of_other := [tie for tie in result.tie_out if tie.why == OTHER_METER]:
        found.append(_of_other(of_other, result, house))
        told.update(tie.period for tie in of_other)
    for tie in result.tie_out:
        if tie.why in ENDS_OFF:
            found.append(_end(tie, house, result))
        if tie.within is not False or tie.period in told:
            continue
        if tie.why in ("moved", "estimate"):
            rows = _divided(tie, result.tie_out)
            told.update(row.period for row in rows)
            estimated = any(_estimated(house, a.period, b.period) for a, b in pairwise(rows))
            found += [_estimate(rows, house)] if estimated else _misread(rows, house)
        else:
            found.append(_bill(tie, house, result))
    moved = None if result.gain is None else sizes_moved(result.gain.change, house)
    found += [] if moved is None else [moved]
    still = standing_still(house)
    found += [] if still is None else [still]
    plated = result.plated_load
    return (*found, *([] if plated is None or not plated.above_plate else [_above_plate(plated)]))


def _divided(first: TieOut, rows: Sequence[TieOut]) -> list[TieOut]:
    """Bills from one on, in a row, between which energy moved: those of it that do not add up by themselves."""
    end, out = max(first.tied_with, default=first.period), []
    for row in rows:
        if first.period <= row.period <= end and row.within is False and row.why in ("moved", "estimate"):
            out.append(row)
            end = max(end, *row.tied_with)
    return out


def _estimated(house: House, a: int, b: int) -> bool:
    """Whether the reading between two bills is told to be an estimate, on the one or the other."""
    return "estimated" in (house.bills[a].read_type, house.bills[b].read_type_start)


def _above_plate(one: KnownLoad) -> Finding:
    return Finding(
        code=ABOVE_PLATE,
        periods=(),
        figures={
            "load": one.name,
            "listed": one.listed_watts,
            "seen": one.seen_watts,
            "percent": 100.0 * (one.registration - 1.0),
            "room": PLATE_WITHIN_PERCENT,
        },
        household=("read-the-plate",),
    )


def _foreign(result: IntervalResult) -> Finding:
    asked = [tie for tie in result.tie_out if tie.within is not None]
    beside = [100.0 * (tie.interval_kwh / tie.billed_kwh - 1.0) for tie in asked if tie.billed_kwh > 0.0]
    figures = {"bills": len(asked), "least": min(beside, default=0.0), "most": max(beside, default=0.0)}
    return Finding(CODE, (), case=FOREIGN, figures=figures, household=("interval-file",))


def _of_other(rows: Sequence[TieOut], result: IntervalResult, house: House) -> Finding:
    own = [tie.period for tie in result.tie_out if tie.within and tie.why != OTHER_METER]
    first, last = rows[0].period, rows[-1].period
    return Finding(
        code="meter-number",
        case="hours",
        periods=tuple(row.period for row in rows),
        kwh=_over(rows),
        settles=True,
        figures={
            "dates": (house.bills[first].start, house.bills[last].end),
            "count": len(rows),
            "agree": sum(row.within is True for row in rows),
            "own": len(own),
            "where": "before" if max(own) < first else "after" if min(own) > last else "beside",
            "billed": sum(row.billed_kwh for row in rows),
            "interval": sum(row.interval_kwh for row in rows),
        },
        asks=("which-meter-hours",),
        household=("compare-number",),
    )


def _ratio(result: IntervalResult, ratio: Ratio, house: House) -> Finding:
    rows = [tie for tie in result.tie_out if tie.period in ratio.periods]
    return Finding(
        code=CODE,
        case=RATIO,
        periods=ratio.periods,
        kwh=_over(rows),
        amount=None,
        settles=True,
        figures={
            "ratio": ratio.value,
            "bills": len(rows),
            "points_to": ratio.points_to,
            "dates": (house.bills[rows[0].period].start, house.bills[rows[-1].period].end) if ratio.in_a_row else None,
            "last": rows[-1].period == result.tie_out[-1].period,
            "step_minutes": result.step_minutes,
            "billed": sum(row.billed_kwh for row in rows),
            "interval": sum(row.interval_kwh for row in rows),
        },
        asks=("interval-ratio",),
        household=("interval-file",),
    )


def _bill(tie: TieOut, house: House, result: IntervalResult) -> Finding:
    bill = house.bills[tie.period]
    return Finding(
        code=CODE,
        case="part" if tie.why == "part" else "bill",
        periods=(tie.period,),
        kwh=tie.billed_kwh - tie.interval_kwh,
        amount=None,
        settles=True,
        figures={
            "dates": (bill.start, bill.end),
            "billed": tie.billed_kwh,
            "interval": tie.interval_kwh,
            "hour": result.reading_hour,
            "hours": tie.read_between,
            "why": tie.why,
            "digits_swapped": _digits_swapped(tie),
            "estimated": bill.read_type == "estimated",
        },
        asks=("interval-bill",),
        household=("interval-typed",),
    )


def _end(tie: TieOut, house: House, result: IntervalResult) -> Finding:
    bill = house.bills[tie.period]
    figures = {
        "dates": (bill.start, bill.end),
        "billed": tie.billed_kwh,
        "interval": tie.interval_kwh,
        "hour": result.reading_hour,
        "opens": tie.why == "opened-off",
    }
    return Finding(CODE, (tie.period,), kwh=tie.billed_kwh - tie.interval_kwh, case="end", figures=figures)


def _misread(rows: Sequence[TieOut], house: House) -> list[Finding]:
    """One finding for each reading between bills that the hours contradict; what one of two bills has too much, the
    other lacks.
    """
    out, over = [], 0.0
    for row, after in pairwise(rows):
        bill = house.bills[row.period]
        over += row.billed_kwh - row.interval_kwh
        out.append(
            Finding(
                CODE,
                (row.period, after.period),
                kwh=0.0,
                case="moved",
                settles=True,
                figures={
                    "dates": (bill.start, house.bills[after.period].end),
                    "edge": bill.end,
                    "moved": abs(over),
                    **_by_hours(row, bill, over),
                    "first_high": over > 0.0,
                },
                asks=("interval-moved",),
            )
        )
    return out


def _estimate(rows: Sequence[TieOut], house: House) -> Finding:
    first, last = house.bills[rows[0].period], house.bills[rows[-1].period]
    return Finding(
        CODE,
        tuple(row.period for row in rows),
        kwh=_over(rows),
        case="estimate",
        settles=True,
        figures={
            "dates": (first.start, last.end),
            "edge": first.end,
            "moved": abs(max((row.billed_kwh - row.interval_kwh for row in rows), key=abs)),
            "first_high": rows[0].billed_kwh > rows[0].interval_kwh,
        },
    )


def _by_hours(row: TieOut, bill: Bill, over: float) -> dict[str, float | None]:
    """Give the closing reading as printed and as the hours have it, where the bill charges what its readings give."""
    opens, closes = bill.reading_start, bill.reading_end
    if opens is None or closes is None or abs(closes - opens - row.billed_kwh) > 2.0 * PRINTED_KWH:
        return {"written": None, "fits": None}
    return {"written": closes, "fits": closes - over}


def _over(rows: Iterable[TieOut]) -> float:
    return float(sum(row.billed_kwh - row.interval_kwh for row in rows))


def _digits_swapped(tie: TieOut) -> bool:
    digits = f"{abs(tie.billed_kwh):.0f}"
    other = (digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :] for i in range(len(digits) - 1))
    return any(abs(float(text) - abs(tie.interval_kwh)) <= 2.0 * PRINTED_KWH for text in other)


def edges_told(rows: Sequence[TieOut]) -> tuple[frozenset[int], frozenset[int]]:
    """Say what the tie-out tells of the readings between bills.

    Parameters
    ----------
    rows : sequence of TieOut

    Returns
    -------
    sure : frozenset of int
        Each i where the data add up to bill i and to the next, at the hour of all or another of those days: no more
        moved than a day or two hold.
    split : frozenset of int
        Each i where they add up to the two together, one bill split by days: what each row holds was not used in it.
    """
    pairs = [(a, b) for a, b in pairwise(sorted(rows, key=lambda row: row.period)) if a.within and b.within]
    pairs = [(a, b) for a, b in pairs if {a.why, b.why} <= {"", "split", *BY_HOURS}]
    split = frozenset(a.period for a, b in pairs if b.period in a.tied_with and {a.why, b.why}.isdisjoint(BY_HOURS))
    return frozenset(a.period for a, _ in pairs) - split, split
