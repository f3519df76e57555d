"""Bills on end that stand so high that a single large load may have run round the clock between two of their days.

An element or a contactor that sticks adds several times what a small house uses, from some day in a bill to some day in
another. Such loads are weighed only where bills stand out so far: the days are those that the bills themselves tell,
as what the whole bills between hold a day says how many days of the first and of the last it ran.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reconcile.distributions import middle
from reconcile.records import dataclass
from reconcile.weigh.model import Model

Floats = NDArray[np.float64]

FAR_OVER, LEAST_KWH_A_DAY = 0.6, 12.0
"""A bill stands out from this part of the usual use of a day over what is expected of it, and from so much [kWh/d]:
half a kilowatt round the clock (our choice: twice the usual size of a load that comes and goes)."""

LONGEST = 8
"""Bills in which one is looked for at the most: a load of kilowatts is found by then (our choice: as for a heater or a
hot tub, :data:`reconcile.weigh.spans.WINDOW_LENGTHS`)."""

LEAST_PART = 0.05
"""Part of a bill below which a load was not there, and short of all of it below which it was there throughout (our
choice: a day or two of a month)."""

PARTS = 10
"""Parts of a bill, each as likely as the others to hold its first day, or its last (our choice: a place that is tried
stands for the three days about it, as in :mod:`reconcile.weigh.onset`)."""

OF_BOTH = (1.0, 0.85, 0.7, 0.55, 0.4)
"""Parts of the fuller of two bills tried where no whole bill between tells what a load uses a day (our choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Between:
    """Where a large load may have run: the part of each period (m, n), its first day (m,) and the chance of each place
    among all where one might stand (m,).
    """

    mask: Floats
    start: Floats
    share: Floats


def nowhere(n: int) -> Between:
    """None, in n periods."""
    return Between(np.zeros((0, n)), np.zeros(0), np.zeros(0))


def large_between(model: Model, residual: Floats, judged: NDArray[np.bool_]) -> Between:
    """Find every run of bills that stand far over what is expected of them, and the days that they tell.

    Parameters
    ----------
    residual : ndarray, shape (judged,)
    judged : ndarray of bool, shape (n,)
        Periods heard; what stands between two of them that are not breaks a run.
    """
    n = len(judged)
    a_day = residual / model.days[judged]
    level = middle(a_day)
    over = np.full(n, np.nan)
    over[judged] = a_day - level
    usual = middle(model.mean[judged] / model.days[judged]) + level
    least = max(FAR_OVER * usual, LEAST_KWH_A_DAY)
    with np.errstate(invalid="ignore"):
        high, some = over >= least, over >= LEAST_PART * least
    found: dict[bytes, tuple[Floats, float, float]] = {}
    for first in range(n):
        for last in range(first + 1, min(first + LONGEST, n)):
            inner = slice(first + 1, last)
            if not (some[first] and some[last] and high[inner].all() and high[first : last + 1].any()):
                continue
            ends, days = over[[first, last]], model.days[[first, last]]
            if last - first > 1:
                whole = [float(np.average(over[inner], weights=model.days[inner]))]
            else:
                whole = [float(ends.max()) / part for part in OF_BOTH]
            for rate in whole:
                part = np.round(np.minimum(ends / rate, 1.0) * days) / days
                part[part > 1.0 - LEAST_PART] = 1.0
                if part.min() < LEAST_PART:
                    continue
                mask = np.zeros(n)
                mask[first : last + 1] = 1.0
                mask[[first, last]] = part
                begin = model.starts[first] + (1.0 - part[0]) * days[0]
                found[mask.tobytes()] = mask, float(begin), 1.0 / (n * (LONGEST - 1) * PARTS**2)
    if not found:
        return nowhere(n)
    masks, starts, shares = zip(*found.values(), strict=True)
    return Between(np.stack(masks), np.array(starts), np.array(shares))
