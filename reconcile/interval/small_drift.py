"""How far the power of a house's small motors moves by itself, as its own months tell."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reconcile.interval.alignment import BIN, BINS, LOW, size_axis
from reconcile.interval.clusters import SMALL_KW, standing
from reconcile.interval.resized import DRIFT, alike
from reconcile.interval.size_change import WINDOW_DAYS

Floats = NDArray[np.float64]

LEAST_MONTHS, LEAST_STEPS = 6, 15.0
"""Fewest months, and fewest steps that stand out in each half of one (our own judgement)."""

REACH = 30
"""Farthest that a month is looked for from the mean of all [bins]."""

SEASONS = 3.0
"""Times as far as from month to month that small motors may move from one side of a date to the other: months on one
side lie in fewer seasons (our own judgement: a swing through the year moves the two sides of its steepest days four
times as far apart as months on one side of them, others not at all)."""

DOUBT_MONTHS = 1.0
"""Months that the usual drift counts for beside the home's own (our own judgement)."""

ROUNDED = math.sqrt(2.0 / 12.0)
"""Standard deviation of the difference of two levels, each rounded to whole steps of the register, in such steps."""

STEP = 0.0025
"""To which it is rounded."""


def small_rounded(counted: Floats, lowest: int, resolution_kw: float) -> float:
    """Standard deviation of what rounding makes of a meter's step for small sizes, in the logarithm.

    What whole steps of the register do to a size is the same month after month, where the levels it is told from are,
    and another as soon as the meter counts more or less.

    Parameters
    ----------
    counted, lowest
        As in :func:`small_drift`.
    resolution_kw : float
        Step in which the data write power [kW].
    """
    small = slice(lowest, _first_large())
    steps = counted[-1, small]
    middle = float(steps @ np.log(size_axis()[small])) / max(float(steps.sum()), 1e-9)
    return round(ROUNDED * resolution_kw / math.exp(middle) / STEP) * STEP


def _first_large() -> int:
    """First bin of what is no longer small."""
    return int((math.log(SMALL_KW) - LOW) / BIN)


def small_drift(counted: Floats, lowest: int) -> float:
    """Standard deviation of how far all small sizes move together, in the logarithm; the usual one where they do not
    tell that they keep stiller.

    The noise of a month's sizes is what its odd and even days lie apart. One step at any date, as a meter's, is no
    drift.

    Parameters
    ----------
    counted : ndarray, shape (days + 1, BINS)
        Smoothed histograms of each day, counted up.
    lowest : int
        First bin that is heard.
    """
    months = (len(counted) - 1) // WINDOW_DAYS
    days = np.diff(counted[: months * WINDOW_DAYS + 1, : _first_large()], axis=0)
    by_half = days.reshape(months, WINDOW_DAYS // 2, 2, -1).sum(axis=1)
    halves = np.zeros((2 * months, BINS))
    for row, half in zip(halves, by_half.reshape(2 * months, -1), strict=True):
        row[lowest : len(half)] = standing(half)[lowest:]
    tell = halves.sum(axis=1).reshape(-1, 2).min(axis=1) >= LEAST_STEPS
    if tell.sum() < LEAST_MONTHS:
        return DRIFT
    halves = halves[np.repeat(tell, 2)]
    steps, shifts = halves.sum(axis=1, keepdims=True), np.arange(-REACH, REACH + 1)
    at = BIN * shifts[alike(halves.sum(axis=0) / steps.sum() * steps, halves, shifts, lowest).argmax(axis=1)]
    odd, even = at.reshape(-1, 2).T
    month = (odd + even) / 2.0
    free = len(month) - 2
    left = min(len(month) * float(month.var()), *(_within(month[:k], month[k:]) for k in range(1, len(month))))
    moved = max(left - free * float(((odd - even) ** 2).mean()) / 4.0, 0.0)
    sd = math.sqrt((DOUBT_MONTHS * DRIFT**2 + SEASONS**2 * moved) / (DOUBT_MONTHS + free))
    return min(round(sd / STEP) * STEP, DRIFT)


def _within(*sides: Floats) -> float:
    """Sum of the squares of how far months lie from the mean of their side."""
    return sum(len(side) * float(side.var()) for side in sides)
