"""Appliances by the size of their steps: the clusters on either side of a date, and how likely each shift of all is."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reconcile.interval.alignment import BIN, BINS, size_axis

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

CUT_OFF = 0.08
"""Distance of a cluster's peak from the least size heard, in the logarithm of size, from which it is whole (our own
judgement)."""

SMALL_KW = 0.4
CLUSTER_SD, SMALL_SD = 0.008, 0.015
"""Standard deviation of one cluster's own moves from season to season, in the logarithm of size: the hour at which it
runs, its settings (one real home at one voltage); of small ones, motors for the most part, more: a compressor draws as
the room is warm (our own judgement; there 0.010 to 0.014)."""

HEATS, HEATS_SMALL = 0.7, 0.1
"""Chance that a cluster is of heating elements, which follow the square of the volts, and that a small one is (our own
judgement)."""

GONE, GONE_STEPS = 0.004, 6.0
"""Chance that an appliance changes at a date just when another of about its size comes, and steps by which a small
cluster may be missed on one side (our own judgement: an appliance lasts some thirteen years, and the chance is of one
month)."""

CLUMPED = 3.0
"""Steps of an appliance that come together: how many times fewer they are when the chance of a pause is asked (our own
judgement)."""

SEASONAL = 0.001
"""The same for each day on which it was not seen just before or after the date: an appliance of a season comes and goes
without being replaced, but a meter's change leaves no gap (our own judgement: a third of appliances, half a year)."""

COUNTS_SD = 1.0
"""How far the steps of one appliance on both sides differ, in the logarithm (our own judgement)."""

VOLTS_STEP, VOLTS_REACH = 0.045, 20
"""Lasting change of the supply's volts up to which all are about as likely, by what it does to the power of heating
elements, in its logarithm, twice that of the volts; and the most [bins]. A transformer's tap is 2.5 %, and a supply has
5 % either way about its nominal volts (ANSI C84.1, range A, from memory); the rest is our own judgement."""

SPAN = 3.0
"""Range of sizes over which clusters fall by chance, in their logarithm: 0.4 to 9 kW."""

ABOUT_ITS_SIZE = 1.0
"""Least density in which others fall about an appliance's size, for each unit of its logarithm: one that is replaced is
replaced by one of about its size (our own judgement)."""

REACH = 60
GRID: Floats = BIN * np.arange(-REACH, REACH + 1, dtype=np.float64)
"""Shifts looked at, in the logarithm of size: 26 % down to 35 % up."""


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
    """Clusters of the steps of one side of a date, in order of size; arrays of shape (k,).

    Attributes
    ----------
    middle, doubt : ndarray
        Logarithm of the size and its standard uncertainty.
    steps : ndarray
        Above the density between it and its neighbors.
    sure : ndarray
        Chance that it is an appliance at all.
    gap : ndarray
        Between its steps and the date [d].
    pause : ndarray
        Chance of such a gap for an appliance that is still used as often.
    """

    middle: Floats
    doubt: Floats
    steps: Floats
    sure: Floats
    gap: Floats
    pause: Floats

    @property
    def wander(self) -> Floats:
        """Standard deviation of each cluster's own moves from season to season."""
        return np.where(self.middle < math.log(SMALL_KW), SMALL_SD, CLUSTER_SD)


@dataclass(frozen=True, slots=True, eq=False)
class Support:
    """Log-likelihoods: of each shift of all sizes, on :data:`GRID`, and of each change of the volts."""

    moved: Floats
    by_volts: Floats

    def less(self, constant: float) -> Support:
        """Take a constant off both."""
        return Support(self.moved - constant, self.by_volts - constant)


def bands(density: Floats) -> list[slice]:
    """Cut a smoothed density into clusters at its valleys.

    Parameters
    ----------
    density : ndarray, shape (BINS,)

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
    rises = np.diff(density, prepend=0.0, append=0.0)
    tops = np.flatnonzero((rises[:-1] > 0) & (rises[1:] <= 0)).tolist()
    if not tops:
        return []
    edges = [0]
    last = tops[0]
    for top in tops[1:]:
        low = last + int(density[last : top + 1].argmin())
        if density[low] < VALLEY * min(density[last], density[top]):
            edges.append(low)
            last = top
        elif density[top] > density[last]:
            last = top
    edges.append(BINS)
    return [slice(a, b) for a, b in pairwise(edges)]


def clusters_of(
    density: Floats, least_kw: float, days: float = math.inf, gap: Callable[[slice], float] = lambda _: 0.0
) -> Side:
    """Find the clusters of one side of a date.

    Parameters
    ----------
    density : ndarray, shape (BINS,)
        Smoothed histogram of the logarithm of sizes; each step counts one.
    least_kw : float
        Smallest size heard [kW].
    days : float
        Counted [d].
    gap : callable
        Days between the date and the steps in some bins [d].

    Returns
    -------
    Side
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
        apart = gap(near)
        missed = count / days * apart / CLUMPED
        pause = math.exp(-missed) * (1.0 + missed + 0.5 * missed**2)
        found.append((middle, doubt, steps, sure, apart, pause))
    table = np.array(found).reshape(-1, 6)
    return Side(*table.T)


def support(before: Side, after: Side, replaced: float = GONE) -> Support:
    """Log-likelihood of every shift of all sizes, and of every change of the volts, less a constant.

    Each cluster of one side either stands on the other side too, moved by the shift, or is missing there, and what
    stands where it should be got there by chance. How often an appliance runs says little, since that follows the
    season; where its steps stand says all. The volts move heating elements and leave others where they were.

    Parameters
    ----------
    before, after : Side
    replaced : float
        Chance that an appliance changes at the date just when another of about its size comes.

    Returns
    -------
    Support
    """
    if not len(before.middle) or not len(after.middle):
        return Support(np.zeros(len(GRID)), np.zeros(2 * VOLTS_REACH + 1))
    doubt = np.sqrt(before.doubt[:, None] ** 2 + after.doubt**2 + before.wander[:, None] * after.wander)
    apart = (after.middle - before.middle[:, None])[..., None] - GRID
    ratio = np.log(np.maximum(after.steps, 1e-3) / np.maximum(before.steps, 1e-3)[:, None]) / COUNTS_SD
    alike = np.exp(-0.5 * ratio**2) * math.hypot(1.0, 1.5 / COUNTS_SD) / (math.sqrt(2.0 * math.pi) * doubt)
    alike *= before.pause[:, None] * after.pause
    density = alike[..., None] * np.exp(-0.5 * (apart / doubt[..., None]) ** 2)
    moved, by_volts = np.zeros(len(GRID)), np.zeros(2 * VOLTS_REACH + 1)
    for own, other, axis in ((before, after, 0), (after, before, 1)):
        gone = np.minimum(replaced + SEASONAL * own.gap, 0.5)
        gone = (gone + (1.0 - gone) * np.exp(-own.steps / GONE_STEPS))[:, None]
        by_chance = max(float(other.sure.sum()) / SPAN, ABOUT_ITS_SIZE)
        there = np.tensordot(other.sure, np.moveaxis(density, 1 - axis, 0), axes=1) / by_chance
        moved += 0.5 * own.sure @ np.log(gone + (1.0 - gone) * there)
        heats = np.where(own.middle < math.log(SMALL_KW), HEATS_SMALL, HEATS)[:, None]
        some = heats * there[:, REACH - VOLTS_REACH : REACH + VOLTS_REACH + 1] + (1.0 - heats) * there[:, [REACH]]
        by_volts += 0.5 * own.sure @ np.log(gone + (1.0 - gone) * some)
    return Support(moved, by_volts)


def widened(found: Support, sd: float, volts_share: float = 0.0) -> Floats:
    """Log-likelihood of a shift that is the meter's only to within some common error.

    Parameters
    ----------
    found : Support
    sd : float
        Standard deviation of the common error.
    volts_share : float
        Chance that the supply's volts changed for good.

    Returns
    -------
    ndarray, shape (2 REACH + 1,)
    """
    highest = max(float(found.moved.max()), float(found.by_volts.max()))
    likelihood = (1.0 - volts_share) * (_common(sd) @ np.exp(found.moved - highest))
    # a meter that errs and volts that change at once are not thought of
    likelihood[REACH] += volts_share * float(_volts_chance() @ np.exp(found.by_volts - highest))
    told: Floats = np.log(likelihood) + highest
    return told


@lru_cache(maxsize=8)
def _common(sd: float) -> Floats:
    apart = (np.arange(len(GRID))[:, None] - np.arange(len(GRID))) * BIN
    usual = np.exp(-0.5 * (apart / sd) ** 2)
    matrix: Floats = usual / usual.sum(axis=1, keepdims=True)
    return matrix


@lru_cache(maxsize=1)
def _volts_chance() -> Floats:
    usual = np.exp(-0.5 * (BIN * np.arange(-VOLTS_REACH, VOLTS_REACH + 1) / VOLTS_STEP) ** 4)
    chance: Floats = usual / usual.sum()
    return chance


def matched(before: Side, after: Side, shift: float, reach: float = 0.1) -> tuple[Cluster, ...]:
    """Pair the clusters of both sides as a shift says, the nearest that may be one appliance.

    Parameters
    ----------
    before, after : Side
    shift : float
    reach : float
        Farthest apart, besides the shift.

    Returns
    -------
    tuple of Cluster
    """
    found = []
    for b in np.flatnonzero(before.sure > 0.5).tolist():
        moved = after.middle - before.middle[b]
        left = np.abs(moved - shift) + np.where(after.sure > 0.5, 0.0, np.inf)
        if not len(left) or left.min() > reach:
            continue
        a = int(left.argmin())
        sd = math.hypot(before.doubt[b], after.doubt[a])
        found.append(
            Cluster(
                math.exp(before.middle[b]), float(moved[a]), sd, float(before.steps[b]), float(after.steps[a])
            )
        )  # fmt: skip
    return tuple(found)
