"""Estimated readings and the bills that true them up."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

from reconcile.facts import Aside, Finding
from reconcile.paper.ledger import Ledger
from reconcile.paper.usual_split import usual_split

ABOUT_RIGHT = 0.05
"""Part of an estimate up to which its error is none: use differs that much from week to week."""

TOLD_SDS = 1.5
"""An error is told where it is more than so many times what the split of both bills may be off (our choice: the sign is
then right in about fourteen of fifteen)."""


def closes_on_estimate(ledger: Ledger, k: int) -> bool:
    """Whether the k-th live bill closes on an estimate, by its own word or the next one's."""
    live, bills = ledger.live, ledger.bills
    if bills[live[k]].read_type == "estimated":
        return True
    return k in ledger.joins and bills[live[k + 1]].read_type_start == "estimated"


def examine_estimates(ledger: Ledger) -> tuple[list[Finding], set[int], dict[int, Aside]]:
    """Find runs of estimates and their catch-ups; return findings, loose edges and bills to set aside."""
    findings: list[Finding] = []
    loose: set[int] = set()
    aside: dict[int, Aside] = {}
    live, bills = ledger.live, ledger.bills
    for k, i in enumerate(live):
        if bills[i].read_type_start == "estimated" and k - 1 not in ledger.joins:
            findings.append(_opens_on_estimate(ledger, i))
            aside[i] = Aside.OPENS_ESTIMATED
    read = _read_at_both_ends(ledger)
    k = 0
    while k < len(live):
        if not closes_on_estimate(ledger, k):
            k += 1
            continue
        first = k
        while k in ledger.joins and closes_on_estimate(ledger, k + 1):
            k += 1
        run = live[first : k + 1]
        loose.update(run[:-1])
        if k in ledger.joins:
            loose.add(run[-1])
            findings += _trued_up(ledger, run, live[k + 1], read)
        else:
            findings.append(_still_estimated(ledger, run))
            for i in run:
                aside[i] = Aside.STILL_ESTIMATED
        k += 1
    return findings, loose, aside


def _opens_on_estimate(ledger: Ledger, i: int) -> Finding:
    return Finding(
        "catch-up",
        (i,),
        settles=True,
        case="opens",
        figures={"bill": ledger.dates(i)},
        household=("earlier-bills",),
    )


def _still_estimated(ledger: Ledger, run: tuple[int, ...]) -> Finding:
    """Tell of estimates that no next bill trues up."""
    read_since = any(ledger.bills[i].read_type != "estimated" for i in ledger.live if i > run[-1])
    return Finding(
        "estimated-read",
        run,
        settles=True,
        figures={**_run(ledger, run), "read_since": read_since},
        asks=("missing-bill",) if read_since else ("actual-reading",),
        household=() if read_since else ("read-yourself", *_in_a_row(run)),
    )


def _run(ledger: Ledger, run: tuple[int, ...]) -> dict[str, Any]:
    total = sum(ledger.kwh[i] for i in run)
    return {**ledger.which(run), "closes": ledger.bills[run[-1]].end, "kwh": None if math.isnan(total) else total}


def _in_a_row(run: tuple[int, ...]) -> tuple[str, ...]:
    return ("estimates-in-a-row",) if len(run) > 1 else ()


def _read_at_both_ends(ledger: Ledger) -> tuple[int, ...]:
    """Bills whose readings are both actual."""
    closes = [closes_on_estimate(ledger, k) for k in range(len(ledger.live))]
    opens = [False, *closes][: len(closes)]
    ends = zip(ledger.live, opens, closes, strict=True)
    return tuple(i for i, a, b in ends if not (a or b or ledger.bills[i].read_type_start == "estimated"))


def _trued_up(ledger: Ledger, run: tuple[int, ...], i: int, read: tuple[int, ...]) -> list[Finding]:
    """Tell of estimates and of the bill that trues them up: how far off they were, by what is usual of each bill.

    Where what is usual of each is not known so well, nothing is said of how far.
    """
    bills = ledger.bills
    estimated, caught = sum(ledger.kwh[j] for j in run), ledger.kwh[i]
    total_days = sum(bills[j].days for j in (*run, i))
    figures, caught_up = _run(ledger, run), {"bill": ledger.dates(i), "estimates": len(run)}
    if total_days <= 0 or math.isnan(estimated + caught):
        return [
            Finding("estimated-read", run, settles=True, case="trued-up", figures={**figures, "error": None}),
            Finding("catch-up", (i,), settles=True, figures={**caught_up, "kwh": None}),
        ]
    even = (estimated + caught) / total_days
    split = usual_split(ledger, run, i, read)
    moved = caught - (1.0 - split.share) * (estimated + caught)
    doubt, none = split.doubt * abs(estimated + caught), ABOUT_RIGHT * abs(estimated)
    right = abs(moved) <= none and doubt <= 2.0 * none
    sure = right or abs(moved) > max(TOLD_SDS * doubt, none)
    error, wrong = -moved if sure else None, not right
    late = sure and moved > 0 and _prices_changed(ledger, bills[run[0]].start, bills[i].closes)
    return [
        Finding(
            "estimated-read",
            run,
            error,
            settles=wrong,
            case="trued-up",
            figures={**figures, "error": error, "doubt": doubt, "by": split.by, "about_right": right},
            household=_in_a_row(run),
        ),
        Finding(
            "catch-up",
            (i,),
            moved if sure else None,
            settles=wrong,
            figures={
                **caught_up,
                "days": total_days,
                "kwh": estimated + caught,
                "per_day": even,
                "own_per_day": caught / bills[i].days,
                "estimate_per_day": estimated / (total_days - bills[i].days),
            },
            asks=("prices-of-own-days",) if late else (),
            household=("judge-together",) if wrong else (),
        ),
    ]


def _prices_changed(ledger: Ledger, start: date, end: date) -> bool:
    tariffs = ledger.house.tariffs
    days = [t.valid_from for t in tariffs[1:]] + [day for t in tariffs for c in t.charges for day, _ in c.values[1:]]
    return any(start < day < end for day in days)
