"""What the dates show: gaps, overlaps, printed days, and periods off the account's own cycle."""

from __future__ import annotations

import math
from collections.abc import Mapping, Set
from datetime import date
from statistics import median

from reconcile.facts import Aside, Finding
from reconcile.paper.ledger import Ledger

CYCLES = (
    ("monthly", 26, 35),
    ("two-monthly", 52, 70),
    ("quarterly", 78, 105),
)
"""Days of a usual bill. Monthly: 26 to 35 days, 52 Pa. Code 56.2; the others are twice and three times that (our
choice)."""
OWN_CYCLE_WITHIN = 0.2
"""Where the middle bill is none of these, a bill within this share of it is usual (our choice)."""
TRIFLING_OVERLAP_DAYS = 3
"""An overlap up to this is a matter of how dates are written and sets no bill aside (our choice)."""
INCLUSIVE, READING = "dates-inclusive", "dates-reading"


def examine_dates(ledger: Ledger, out: Mapping[int, Aside]) -> tuple[list[Finding], dict[int, Aside]]:
    """Compare every bill's dates with its neighbours', its printed days and the account's own cycle.

    Days of bills that contradict each other were billed: they are no gap, though those bills do not count.
    """
    contradicted = {
        (ledger.bills[i].start, ledger.bills[i].closes) for i, why in out.items() if why == Aside.CONTRADICTED
    }
    between, aside = _between(ledger, contradicted)
    return [*between, *_printed_days(ledger), *_cycle(ledger)], aside


def _between(ledger: Ledger, contradicted: Set[tuple[date, date]]) -> tuple[list[Finding], dict[int, Aside]]:
    bills, live = ledger.bills, ledger.live
    lags = [(bills[live[k + 1]].start - bills[live[k]].closes).days for k in range(len(live) - 1)]
    if len(lags) > 1 and set(lags) in ({1}, {-1}):
        return [_every_bill_a_day_off(ledger, lags[0])], {}
    findings: list[Finding] = []
    aside: dict[int, Aside] = {}
    for k, lag in enumerate(lags):
        if lag > 0:
            hole = (bills[live[k]].closes, bills[live[k + 1]].start)
            if sum((b - a).days for a, b in contradicted if hole[0] <= a and b <= hole[1]) < lag:
                findings.append(_gap(ledger, k, lag))
        elif lag < 0:
            findings.append(_overlap(ledger, k, -lag))
            if -lag > TRIFLING_OVERLAP_DAYS:
                aside[_odd_one(ledger, lags, k)] = Aside.OVERLAPPING
    return findings, aside


def _every_bill_a_day_off(ledger: Ledger, lag: int) -> Finding:
    if lag > 0:
        return Finding("gap", ledger.live[1:], case="every-bill", household=(INCLUSIVE,))
    return Finding("overlap", ledger.live[1:], case="every-bill", household=(READING,))


def _gap(ledger: Ledger, k: int, lag: int) -> Finding:
    a, b = ledger.live[k], ledger.live[k + 1]
    between = _between_registers(ledger, a, b)
    kwh = between if between is not None and between >= 0 else None
    figures = {"days": lag, "closes": ledger.bills[a].end, "opens": ledger.bills[b].start, "kwh": kwh}
    return Finding("gap", (a, b), kwh, figures=figures, asks=("missing-bill",), household=("dates-typed",))


def _overlap(ledger: Ledger, k: int, shared: int) -> Finding:
    a, b = ledger.live[k], ledger.live[k + 1]
    between = _between_registers(ledger, a, b)
    kwh = -between if between is not None and between < 0 else None
    figures = {"bill": ledger.dates(b), "days": shared, "kwh": kwh}
    aside = shared > TRIFLING_OVERLAP_DAYS
    return Finding(
        "overlap", (a, b), kwh, settles=aside, figures=figures, asks=("days-billed-twice",), household=("dates-typed",)
    )


def _between_registers(ledger: Ledger, a: int, b: int) -> float | None:
    closing, opening = ledger.bills[a].reading_end, ledger.bills[b].reading_start
    if closing is None or opening is None or any(x.period == b for x in ledger.exchanges):
        return None
    return (opening - closing) * ledger.multipliers[b]


def _odd_one(ledger: Ledger, lags: list[int], k: int) -> int:
    """Of two overlapping bills: the one that joins no other, or is of less usual length, or else the later."""
    a, b = ledger.live[k], ledger.live[k + 1]
    alone_a = k > 0 and lags[k - 1] != 0
    alone_b = k + 1 < len(lags) and lags[k + 1] != 0
    if alone_a != alone_b:
        return a if alone_a else b
    middle = median(ledger.days[i] for i in ledger.live)
    return a if abs(ledger.days[a] - middle) > abs(ledger.days[b] - middle) else b


def _printed_days(ledger: Ledger) -> list[Finding]:
    bills = ledger.bills
    off = {
        i: bills[i].printed_days - bills[i].days  # type: ignore[operator]
        for i in ledger.live
        if bills[i].printed_days is not None and bills[i].printed_days != bills[i].days
    }
    printed = sum(bills[i].printed_days is not None for i in ledger.live)
    if len(off) > 1 and len(off) == printed and len(set(off.values())) == 1 and abs(next(iter(off.values()))) == 1:
        more = next(iter(off.values())) > 0
        household = (INCLUSIVE,) if more else (READING,)
        return [Finding("days-mismatch", tuple(off), case="every-bill", figures={"more": more}, household=household)]
    return [
        Finding(
            "days-mismatch",
            (i,),
            figures={"bill": ledger.dates(i), "printed": bills[i].printed_days, "days": bills[i].days},
            asks=("confirm-dates",),
            household=("dates-typed", INCLUSIVE) if extra == 1 else ("dates-typed",),
        )
        for i, extra in off.items()
    ]


def cycle_of(days: list[int]) -> tuple[str, float, float]:
    """Name the account's cycle by its middle bill, with the fewest and most days of a usual one."""
    middle = median(days)
    for name, low, high in CYCLES:
        if low <= middle <= high:
            return name, low, high
    return "own", middle * (1 - OWN_CYCLE_WITHIN), middle * (1 + OWN_CYCLE_WITHIN)


def _cycle(ledger: Ledger) -> list[Finding]:
    bills, live = ledger.bills, ledger.live
    usual = [bills[i].days for i in live if bills[i].bill_type not in ("first", "final")]
    if len(usual) < 2:
        return []
    name, low, high = cycle_of(usual)
    middle = median(usual)
    findings = []
    for i in live:
        count = bills[i].days
        part_of_one = bills[i].bill_type in ("first", "final")
        if low <= count <= high or (count < low and part_of_one):
            continue
        energy = (count - middle) * ledger.per_day[i]
        kwh = None if math.isnan(energy) else energy
        figures = {
            "bill": ledger.dates(i),
            "days": count,
            "middle": middle,
            "cycle": name,
            "fewest": low,
            "most": high,
            "kwh": kwh,
        }
        code = "long-period" if count > middle else "short-period"
        findings.append(Finding(code, (i,), kwh, figures=figures, household=("compare-per-day",)))
    return findings
