"""How far the hours of a timer rose, and how far the same hours of the home move by themselves.

The noise of days is the least of what is not known of such a rise: from one month to the next evenings grow longer,
people change their ways, heating comes and goes. How far that moves these hours the home tells by the rest of its
record, read in the same way at every date on which no timer began or ended.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reconcile.interval.hour_blocks import (
    EVERY_DAYS,
    FLAT_SHARE,
    LEAST_NOISE_WATTS,
    LEAST_WATTS,
    SPANS_DAYS,
    Hours,
    Rise,
)
from reconcile.interval.moves import APART, as_moved, root_mean_square

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BESIDE_HOURS = 2
"""Hours on either side, one hour away, that are compared [h]: the hour between may hold a part of the run."""

WHOLE_SHARE = 0.8
"""Part of the step below which the first and the last slot hold only a part of the run (our own judgement)."""

STEP_SDS = 4.0
"""A step is larger than so many of its standard uncertainties (our own judgement: the hours found it already)."""

MOVED_BY_SEASON = 0.1
"""How far the season moves the hours of a run in the weeks about its step beforehand, as a part of what they held, one
standard deviation (our judgement: lights and heating of the evenings come as a heater of the winter does)."""

ALONG_SD = 0.5
"""How far the hours of a run may go along with all others by more, or by less, than these do, one standard deviation
(our judgement: at night hardly by any of what comes to the day, of an evening by more)."""


def slots_of(begin: int, length: int, per_hour: int) -> tuple[Ints, Ints]:
    """Slots of a run, and those of the hours beside it, one hour away."""
    slots = 24 * per_hour
    before = np.arange(begin - (1 + BESIDE_HOURS) * per_hour, begin - per_hour)
    after = np.arange(begin + length + per_hour, begin + length + (1 + BESIDE_HOURS) * per_hour)
    return np.arange(begin, begin + length) % slots, np.concatenate([before, after]) % slots


def size_of(hours: Hours, at: int, inside: Ints, beside: Ints) -> tuple[float, float] | None:
    """How far the hours of a run rose, and the standard uncertainty of that [W]; None where those beside rose as well.

    Of either side the hour next to it counts or those beyond, whichever rose less: people get up.
    """
    rises = _rises(hours, at)
    if not rises:
        return None
    slots, per_hour, rise = len(rises[0].watts), hours.per_hour, rises[0]
    whole = np.setdiff1d(inside, _partly(rise, inside))
    own, sd, others, unsure = _split(rises, inside, whole)
    watts, sd = own - others, math.hypot(sd, unsure)
    before = inside[0] - 1 - np.arange(per_hour), beside[: len(beside) // 2]
    after = inside[-1] + 1 + np.arange(per_hour), beside[len(beside) // 2 :]
    least = rise.watts - np.sqrt(rise.variance)
    sides = [min(float(np.mean(least[part % slots])) for part in side) for side in (before, after)]
    if watts < max(LEAST_WATTS, STEP_SDS * sd) or max(sides) > (1.0 - FLAT_SHARE) * watts:
        return None
    return watts, sd


def told_size(
    hours: Hours, at: int, inside: Ints, taken: tuple[Ints, float], cuts: Sequence[int], usual: float
) -> tuple[float, float] | None:
    """Size of a run that was found, and its standard uncertainty, as the rest of the home's record has them [W]; None
    with too few whole days about its beginning.

    How far its hours go along with all others, and how far they rise and fall beyond that by themselves, is read at
    other dates, the run taken out.

    Parameters
    ----------
    at : int
        Day of the run's beginning.
    taken : ndarray of int64, and float
        Days on which it runs, and what is taken out of them [W].
    cuts : sequence of int
        Days on which it begins or ends: dates near them tell nothing.
    usual : float
        What its hours held before [W].
    """
    if not (rises := _rises(hours, at)):
        return None
    whole = np.setdiff1d(inside, _partly(rises[0], inside))
    rise, sd, others, unsure = _split(rises, inside, whole)
    fine = hours.fine.copy()
    fine[np.ix_(taken[0], inside)] -= taken[1]
    still = Hours(hours.first, hours.raw, fine, hours.heat, hours.cool, hours.changes, hours.blind)
    dates = [
        other
        for other in range(SPANS_DAYS[0], len(fine) - SPANS_DAYS[0] + 1, EVERY_DAYS)
        if all(abs(other - cut) >= SPANS_DAYS[0] for cut in cuts)
    ]
    read = [_split(rises, inside, whole) for other in dates if (rises := _rises(still, other))]
    mine, _, beside, _ = np.array(read).reshape(-1, 4).T
    along, loose = _along(mine, beside, unsure)
    own = math.hypot(sd, along * unsure)
    doubt = as_moved(own, math.hypot(own, MOVED_BY_SEASON * usual), mine - along * beside)
    return rise - along * others, math.hypot(doubt, loose * others)


def _along(mine: Floats, others: Floats, unsure: float) -> tuple[float, float]:
    """How far the hours of a run go along with all others, as other dates have it, and how well it is known."""
    noise = root_mean_square(mine - others) ** 2 + unsure**2 + LEAST_NOISE_WATTS**2
    told = APART / noise
    known = ALONG_SD**-2.0 + told * float(others @ others)
    return (ALONG_SD**-2.0 + told * float(mine @ others)) / known, known**-0.5


def _rises(hours: Hours, at: int) -> list[Rise]:
    return [rise for span in SPANS_DAYS if (rise := hours.rise(at, span)) is not None]


def _partly(rise: Rise, inside: Ints) -> Ints:
    """Of the first and the last slot those that hold a part of the run."""
    edges = inside[[0, -1]]
    return edges[rise.watts[edges] < WHOLE_SHARE * np.median(rise.watts[inside])] if len(inside) > 2 else edges[:0]


def _split(rises: Sequence[Rise], inside: Ints, whole: Ints) -> tuple[float, float, float, float]:
    """Rise of the slots of a run and of all others, each with its standard uncertainty, by the steadier of the spans
    [W].
    """
    block = np.isin(np.arange(len(rises[0].watts)), inside)
    read = [rise.without(np.setdiff1d(inside, whole)).split(block) for rise in rises]
    return min(read, key=lambda one: math.hypot(one[1], one[3]))
