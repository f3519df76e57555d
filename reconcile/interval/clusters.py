"""Appliances by the size of their steps: the clusters on either side of a date, and which are one appliance."""

from __future__ import annotations

import math
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reconcile.interval.alignment import BINS, size_axis
from reconcile.records import dataclass

Floats = NDArray[np.float64]

VALLEY = 0.6
"""Two peaks are two clusters where the density between them falls below this part of the lower one (our own
judgement)."""

NEAR = 14
"""Bins about a peak that are its cluster's own."""

WIDE, STANDING = 28, (0.25, 0.5)
"""Bins aside of a peak, and the part of it by which the density has fallen there for an appliance never and for one
always (our own judgement: the steps of one appliance lie within a tenth of each other)."""

LEAST_STEPS, SURE_STEPS, LEAST_SURE = 3.0, 8.0, 0.02
"""Steps below which a cluster tells nothing, by how many more it is taken for an appliance, and the least chance that
is worth the time (our own judgement)."""

SHARPNESS_STEPS, SHARPEST = 4.0, 16.0
"""Steps that sharpen a cluster's middle by one power of its density, and the most such powers (tried on one real
home)."""

DOUBT_OF_MIDDLE = 0.6
"""Standard uncertainty of a cluster's middle, as a part of the width of the sharpened one (one real home: middles of
the two sides of a date on which nothing happened lie apart by so much)."""

SURROUNDINGS = 60
"""Bins within which the least density is what an appliance stands on (tried on one real home and simulated ones: 40
splits refrigerators, 90 hears hills)."""

NO_STEP = 1e-9
"""Density below which there is no step, only what rounding left of the sums."""

CUT_OFF = 0.08
"""Distance of a cluster's peak from the least size heard, in the logarithm of size, from which it is whole (our own
judgement)."""

SMALL_KW = 0.4
"""Appliances below this are motors for the most part [kW] (our own judgement)."""


@dataclass(frozen=True, slots=True)
class Cluster:
    """Appliances of about one size: their steps on both sides of a date.

    ``shift`` and ``standard_uncertainty`` are in the logarithm of size; ``kw`` is the size before the date [kW].
    """

    kw: float
    shift: float
    standard_uncertainty: float
    steps_before: float
    steps_after: float


@dataclass(frozen=True, slots=True, eq=False)
class Side:
    """Clusters of the steps of one side of a date, in order of size; arrays of shape (k,)."""

    middle: Floats
    doubt: Floats
    """Both: logarithm of the size and its standard uncertainty."""
    steps: Floats
    """Above the density between it and its neighbors."""
    sure: Floats
    """Chance that it is an appliance at all."""


def bands(density: Floats) -> list[slice]:
    """Cut a smoothed density into clusters at its valleys.

    Returns
    -------
    list of slice
        Bins of each cluster, in order of size.

    Examples
    --------
    >>> at = np.arange(BINS)
    >>> two = np.exp(-0.5 * ((at - 200) / 8) ** 2) + np.exp(-0.5 * ((at - 300) / 8) ** 2)
    >>> [(b.start < 200 < b.stop, b.start < 300 < b.stop) for b in bands(two)]
    [(True, False), (False, True)]
    """
    return _bands(density.tobytes())


@lru_cache(maxsize=32)
def _bands(held: bytes) -> list[slice]:
    """Cut a density once: each date is looked at from both of its sides, and for several shifts."""
    density = np.frombuffer(held)
    rises = np.concatenate([density[:1] > 0.0, density[1:] > density[:-1], [False]])
    tops = np.flatnonzero(rises[:-1] & ~rises[1:] & (density > NO_STEP))
    if not len(tops):
        return []
    heights, lows = density[tops].tolist(), np.minimum.reduceat(density, tops).tolist()
    edges, last, lowest = [0], 0, lows[0]
    for at in range(1, len(tops)):
        if lowest < VALLEY * min(heights[last], heights[at]):
            edges.append(int(tops[last]) + int(density[tops[last] : tops[at]].argmin()))
            last, lowest = at, math.inf
        elif heights[at] > heights[last]:
            last, lowest = at, math.inf
        lowest = min(lowest, lows[at])
    edges.append(BINS)
    return [slice(a, b) for a, b in pairwise(edges)]


def standing(density: Floats) -> Floats:
    """Take off what sizes stand on, so that only those of appliances are left.

    Runs that filled no whole sample, and several appliances at once, leave a broad hill of sizes beside the peaks; a
    meter moves both, but whatever else happens in a house moves the hill as well.

    Returns
    -------
    ndarray, shape (BINS,)
        Nowhere negative.

    Examples
    --------
    >>> at = np.arange(BINS)
    >>> hill, peak = (np.exp(-0.5 * ((at - 300) / sd) ** 2) for sd in (200.0, 6.0))
    >>> left = standing(hill + peak)
    >>> bool(left[300] > 0.9), bool(left[200] < 0.1)
    (True, True)
    """
    return _standing(density.tobytes())


@lru_cache(maxsize=32)
def _standing(held: bytes) -> Floats:
    """As :func:`_bands`."""
    density, half = np.frombuffer(held), SURROUNDINGS // 2
    ends = [np.full(half, density[at]) for at in (0, -1)]
    least = _running(np.concatenate([ends[0], density, ends[1]]), 2 * half + 1, np.minimum)
    nothing = np.zeros(half)
    left: Floats = density - _running(np.concatenate([nothing, least, nothing]), 2 * half + 1, np.maximum)
    return left


def _running(values: Floats, width: int, further: np.ufunc) -> Floats:
    """Least or greatest of each so many neighbors: every pass makes one of two stretches that lie side by side."""
    done = 1
    while done < width:
        more = min(done, width - done)
        values, done = further(values[:-more], values[more:]), done + more
    return values


def clusters_of(density: Floats, least_kw: float) -> Side:
    """Find the clusters of one side of a date.

    Parameters
    ----------
    density : ndarray, shape (BINS,)
        Smoothed histogram of the logarithm of sizes; each step counts one.
    least_kw : float
        Smallest size heard [kW].
    """
    axis, found = np.log(size_axis()), []
    lowest = math.log(least_kw) + CUT_OFF
    for band in bands(density):
        top = band.start + int(density[band].argmax())
        near = slice(max(top - NEAR, band.start), min(top + NEAR + 1, band.stop))
        heights = density[near]
        count = float(heights.sum())
        # the least size heard does not move with the others: a cluster cut off by it tells nothing
        if axis[top] < lowest or count < LEAST_STEPS:
            continue
        highest = float(density[top])
        aside = max(float(density[max(top - WIDE, band.start)]), float(density[min(top + WIDE, band.stop - 1)]))
        stands = 1.0 - aside / highest
        # a broad hill is no appliance: the limits of what is heard made it, and they do not move with the sizes
        clear = min(max((stands - STANDING[0]) / (STANDING[1] - STANDING[0]), 0.0), 1.0)
        steps = count * stands
        weight = (heights / highest) ** min(max(steps / SHARPNESS_STEPS, 1.0), SHARPEST)
        weight /= weight.sum()
        middle = float(weight @ axis[near])
        doubt = DOUBT_OF_MIDDLE * math.sqrt(float(weight @ (axis[near] - middle) ** 2))
        sure = clear * (1.0 - math.exp(-max(steps - 2.0, 0.0) / SURE_STEPS))
        if sure < LEAST_SURE:
            continue
        found.append((middle, doubt, steps, sure))
    table = np.array(found).reshape(-1, 4)
    return Side(*table.T)


ALIKE_RATES = 8.0
"""Times as often as before, or as seldom, that an appliance runs by people and seasons: what stands where it would be
but runs more often still is another one, which hides it (our own judgement)."""

REACH = 0.1
"""Farthest apart, besides the shift, that clusters of one appliance stand, as logarithms of size (our choice)."""


def matched(before: Side, after: Side, shift: float, longer: float = 1.0) -> tuple[Cluster, ...]:
    """Pair the clusters of both sides as a shift says, each with one, the nearest first that may be one appliance.

    Parameters
    ----------
    longer : float
        Days of the side after for each one before.
    """
    moved = after.middle - before.middle[:, None]
    times = after.steps / before.steps[:, None] / longer
    # what is blurred on one side is known by the other
    usable = (before.sure[:, None] + after.sure > 1.0) & (np.abs(np.log(times)) <= math.log(ALIKE_RATES))
    left = np.where(usable, np.abs(moved - shift), np.inf)
    found = {}
    while left.size and left.min() <= REACH:
        b, a = np.unravel_index(int(left.argmin()), left.shape)
        left[b], left[:, a] = np.inf, np.inf
        sd = math.hypot(before.doubt[b], after.doubt[a])
        steps = float(before.steps[b]), float(after.steps[a])
        found[b] = Cluster(math.exp(before.middle[b]), float(moved[b, a]), sd, *steps)
    return tuple(found[b] for b in sorted(found))
