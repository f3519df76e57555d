"""How the energy from one actual reading to another fell on the bills between them, by what is usual of each.

Days alone are a poor measure where a house is heated or cooled: an estimate in autumn and the bill of winter that trues
it up would each be taken for half. Each way of splitting is tried on all neighbors of which both were read, and the one
that misses least is taken, with what it misses as the doubt.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reconcile.house.outdoors import outdoors
from reconcile.paper.ledger import SAME_SEASON_DAYS, Ledger, season_apart
from reconcile.records import dataclass

HEATED_BELOW_C, COOLED_ABOVE_C = 15.0, 22.0
"""Daily means at which houses begin to be heated and cooled [degC] (our own judgement)."""

FEWEST = 4
"""Bills read at both ends by which the weather's part can be told (our choice: two sizes, and some to spare)."""

BEFOREHAND_SHARE, BEFOREHAND_PAIRS = 0.1, 2.0
"""What a split is taken to miss before any pair was tried, as a part of both bills, and how many pairs that counts for
(our own judgement: one of two neighbors often takes half as much again as the other)."""

Rates = dict[int, float]
Floats = NDArray[np.float64]
Way = Callable[[Ledger, Sequence[int], Sequence[int], Floats | None], Rates]


@dataclass(frozen=True, slots=True)
class Split:
    """Part of the energy that fell on the first bills, how far it may be off, and by what it was split."""

    share: float
    doubt: float
    """One standard deviation."""
    by: str


def usual_split(ledger: Ledger, first: Sequence[int], last: int, read: Sequence[int]) -> Split:
    """Split what some bills took together into that of the first ones and that of the last.

    Parameters
    ----------
    first, last : sequence of int, int
        Bills from one actual reading to another.
    read : sequence of int
        Bills that are read at both ends, in order.
    """
    known = [i for i in read if ledger.per_day[i] > 0.0 and ledger.days[i] > 0]
    pairs = [(a, b) for a, b in pairwise(known) if ledger.bills[a].closes == ledger.bills[b].start]
    degrees = _degrees(ledger)
    found = []
    for by, way in WAYS.items():
        share = _share(ledger, way(ledger, (*first, last), known, degrees), first, last)
        if share is None:
            continue
        missed = []
        for a, b in pairs:
            told = _share(ledger, way(ledger, (a, b), [i for i in known if i not in (a, b)], degrees), (a,), b)
            if told is not None:
                missed.append(told - ledger.kwh[a] / (ledger.kwh[a] + ledger.kwh[b]))
        weight = BEFOREHAND_PAIRS + len(missed)
        doubt = math.sqrt((BEFOREHAND_PAIRS * BEFOREHAND_SHARE**2 + sum(e * e for e in missed)) / weight)
        found.append(Split(share, doubt, by))
    return min(found, key=lambda one: one.doubt)


def _share(ledger: Ledger, rates: Rates, first: Sequence[int], last: int) -> float | None:
    if not {*first, last} <= rates.keys():
        return None
    kwh = [rates[i] * ledger.days[i] for i in first]
    whole = sum(kwh) + rates[last] * ledger.days[last]
    return sum(kwh) / whole if whole > 0.0 else None


def _by_days(ledger: Ledger, wanted: Sequence[int], known: Sequence[int], degrees: Floats | None) -> Rates:
    return dict.fromkeys(wanted, 1.0)


def _by_year(ledger: Ledger, wanted: Sequence[int], known: Sequence[int], degrees: Floats | None) -> Rates:
    """Daily use of the bill nearest in the year to each [kWh/d], where one is near."""
    near = {i: min(known, key=lambda k: season_apart(ledger, i, k)) for i in wanted if known}
    return {i: ledger.per_day[k] for i, k in near.items() if season_apart(ledger, i, k) <= SAME_SEASON_DAYS / 2}


def _by_weather(ledger: Ledger, wanted: Sequence[int], known: Sequence[int], degrees: Floats | None) -> Rates:
    """Daily use by what the other bills take a degree-day [kWh/d]."""
    if degrees is None or len(known) < FEWEST:
        return {}
    rate = np.array([ledger.per_day[i] for i in known])
    design = np.column_stack([np.ones(len(known)), degrees[list(known)]])
    # no cold and no warmth makes a house take less
    for columns in ([0, 1, 2], [0, 1], [0, 2])[len(known) == FEWEST :]:
        used = [c for c in columns if design[:, c].any()]
        size = np.linalg.lstsq(design[:, used], rate, rcond=None)[0]
        if (size >= 0.0).all():
            return {i: float(np.concatenate([[1.0], degrees[i]])[used] @ size) for i in wanted}
    return {}


def _degrees(ledger: Ledger) -> Floats | None:
    """Degree-days of heating and cooling a day of every bill [K], shape (n, 2); None where no weather is known."""
    bills = ledger.bills
    first, last = min(bill.start for bill in bills), max(bill.closes for bill in bills)
    air = outdoors(ledger.house, bills, first, last)
    if air is None:
        return None
    depth = np.stack(
        [np.maximum(HEATED_BELOW_C - air.days_c, 0.0), np.maximum(air.days_c - COOLED_ABOVE_C, 0.0)], axis=1
    )
    spans = [((bill.start - first).days, (bill.closes - first).days) for bill in bills]
    return np.array([depth[a:b].mean(axis=0) if b > a else np.zeros(2) for a, b in spans])


WAYS: dict[str, Way] = {"days": _by_days, "year": _by_year, "weather": _by_weather}
"""In this order where two miss alike."""
