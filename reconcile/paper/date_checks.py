"""What the dates prove: gaps, overlaps, printed days, and periods off the account's own cycle."""

from __future__ import annotations

import math
from statistics import median

from reconcile import ledger_words as words
from reconcile.facts import Finding
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
INCLUSIVE = 'If the printed first and last day both count, write dates = "inclusive" under [bills].'
READING = 'Write dates = "reading" under [bills]: the opening day is not counted.'


def examine_dates(ledger: Ledger) -> tuple[list[Finding], dict[int, str]]:
    """Compare every bill's dates with its neighbours', its printed days and the account's own cycle."""
    between, aside = _between(ledger)
    return [*between, *_printed_days(ledger), *_cycle(ledger)], aside


def _between(ledger: Ledger) -> tuple[list[Finding], dict[int, str]]:
    bills, live = ledger.bills, ledger.live
    lags = [(bills[live[k + 1]].start - bills[live[k]].closes).days for k in range(len(live) - 1)]
    if len(lags) > 1 and set(lags) in ({1}, {-1}):
        return [_every_bill_a_day_off(ledger, lags[0])], {}
    findings: list[Finding] = []
    aside: dict[int, str] = {}
    for k, lag in enumerate(lags):
        if lag > 0:
            findings.append(_gap(ledger, k, lag))
        elif lag < 0:
            findings.append(_overlap(ledger, k, -lag))
            if -lag > TRIFLING_OVERLAP_DAYS:
                i = _odd_one(ledger, lags, k)
                aside[i] = "Its dates overlap another bill's, so its days cannot be trusted."
    return findings, aside


def _every_bill_a_day_off(ledger: Ledger, lag: int) -> Finding:
    if lag > 0:
        text = "Every bill starts one day after the one before it ends: both printed days probably count."
        return Finding("gap", ledger.live[1:], None, None, text, INCLUSIVE)
    text = "Every bill shares a day with the one before it: both printed days probably do not count."
    return Finding("overlap", ledger.live[1:], None, None, text, READING)


def _gap(ledger: Ledger, k: int, lag: int) -> Finding:
    a, b = ledger.live[k], ledger.live[k + 1]
    energy = _between_registers(ledger, a, b)
    text = (
        f"{words.days(lag)} {'lies' if lag == 1 else 'lie'} between the bill to {words.day(ledger.bills[a].end)} and "
        f"the next, from {words.day(ledger.bills[b].start)}"
    )
    if energy is not None and energy >= 0:
        text += f"; by the readings {words.kwh(energy)} passed in them"
    else:
        energy = None
    return Finding("gap", (a, b), energy, None, f"{text}.", "Find the missing bill, or correct the dates.")


def _overlap(ledger: Ledger, k: int, shared: int) -> Finding:
    a, b = ledger.live[k], ledger.live[k + 1]
    twice = _between_registers(ledger, a, b)
    text = f"{words.capital(words.span(ledger.bills[b]))} starts {words.days(shared)} before the last one ends"
    if twice is not None and twice < 0:
        twice = -twice
        text += f"; by the readings {words.kwh(twice)} are on both"
    else:
        twice = None
    return Finding(
        "overlap",
        (a, b),
        twice,
        None,
        f"{text}.",
        "Correct the dates, or ask whether these days were billed twice.",
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
        return [
            Finding(
                "days-mismatch",
                tuple(off),
                None,
                None,
                f"Every bill prints one day {'more' if more else 'fewer'} than its dates give.",
                INCLUSIVE if more else READING,
            )
        ]
    return [
        Finding(
            "days-mismatch",
            (i,),
            None,
            None,
            f"{words.capital(words.span(bills[i]))} prints {words.days(bills[i].printed_days or 0)}; its dates give "
            f"{bills[i].days}.",
            "Check the dates against the bill. " + INCLUSIVE if extra == 1 else "Check the dates against the bill.",
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
    said = f"{name} bills have {low:.0f} to {high:.0f}" if name != "own" else f"the other bills have about {middle:.0f}"
    findings = []
    for i in live:
        count = bills[i].days
        part_of_one = bills[i].bill_type in ("first", "final")
        if low <= count <= high or (count < low and part_of_one):
            continue
        energy = (count - middle) * ledger.per_day[i]
        kwh = None if math.isnan(energy) else energy
        size = f", about {words.kwh(round(abs(energy)))} at its own use a day" if kwh is not None else ""
        more = count > middle
        findings.append(
            Finding(
                "long-period" if more else "short-period",
                (i,),
                kwh,
                None,
                f"{words.capital(words.span(bills[i]))} has {words.days(count)}; {said}. That is "
                f"{abs(count - middle):.0f} {'more' if more else 'fewer'} than usual{size}.",
                "Compare use per day, not per bill.",
            )
        )
    return findings
