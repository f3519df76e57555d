"""Appliances apart: the shift of each cluster of step sizes, and whether the clusters agree on one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reconcile.interval.alignment import BIN, BINS, LOW, peak

Floats = NDArray[np.float64]

VALLEY = 0.6
"""Two peaks are two clusters where the density between them falls below this part of the lower one (our own
judgement)."""

LEAST_STEPS = 8.0
"""Steps on either side of a date below which a cluster tells nothing (our own judgement)."""

CLUSTER_REACH = 20
"""Shift of one cluster apart from the others that is looked for [bins]."""

VAGUE = 0.04
"""A cluster whose shift is known less well than this is left out (our own judgement)."""

CLUSTER_SD = 0.03
"""Standard deviation between the shifts of clusters taken beforehand, as strong as one cluster's own word: appliances
are replaced, move to another setting, or follow the season (our own judgement). With one cluster nothing can confirm
its shift; several that agree make this small."""


CUT_OFF = 0.15
"""Distance of a cluster's peak from the least size heard, in the logarithm of size, from which it is whole (our own
judgement)."""


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


def cluster_shifts(before: Floats, after: Floats, shift_bins: int, least_kw: float) -> tuple[Cluster, ...]:
    """Find the shift of each cluster about a common one.

    Parameters
    ----------
    before, after : ndarray, shape (k, BINS)
        Smoothed histograms of both sides; the first row as they are, the others resampled.
    shift_bins : int
        Common shift of the sizes after [bins].
    least_kw : float
        Smallest size heard [kW].

    Returns
    -------
    tuple of Cluster
        Those that tell anything.
    """
    moved = np.roll(after, -shift_bins, axis=1)
    pooled = before[0] / max(before[0].sum(), 1e-9) + moved[0] / max(moved[0].sum(), 1e-9)
    found = []
    for band in bands(pooled):
        steps = float(before[0, band].sum()), float(moved[0, band].sum())
        # the least size heard does not move with the others: a cluster cut off by it tells nothing
        cut_off = math.log(least_kw) - LOW + BIN * abs(shift_bins) + CUT_OFF
        if min(steps) < LEAST_STEPS or BIN * (band.start + int(pooled[band].argmax())) < cut_off:
            continue
        shifts = _local(before, moved, band)
        sd = float(np.std(shifts[1:]))
        if sd <= VAGUE:
            weight = before[0, band]
            middle = float(np.average(np.arange(band.start, band.stop), weights=weight)) + 0.5
            size = math.exp(LOW + BIN * middle)
            found.append(Cluster(size, shift_bins * BIN + float(shifts[0]), sd, *steps))
    return tuple(found)


def _local(before: Floats, moved: Floats, band: slice) -> Floats:
    """Shift of one band in every row: the cosine between the roots of the two densities is greatest."""
    reach = CLUSTER_REACH
    p = np.sqrt(before[:, band])
    wide = np.sqrt(np.pad(moved, ((0, 0), (reach, reach)))[:, band.start : band.stop + 2 * reach])
    windows = np.lib.stride_tricks.sliding_window_view(wide, band.stop - band.start, axis=1)
    together = np.einsum("kb,ksb->ks", p, windows)
    alone = np.sqrt(np.einsum("ksb,ksb->ks", windows, windows))
    return peak(together / np.maximum(alone, 1e-12))


def agreed(clusters: tuple[Cluster, ...], *, cluster_sd: float = CLUSTER_SD) -> tuple[float, float]:
    """Weigh the clusters' shifts into one, with what they disagree about in its uncertainty.

    A random-effects mean: the variance between clusters is taken from their own scatter and from
    :data:`CLUSTER_SD`, as strong as one more cluster.

    Parameters
    ----------
    clusters : tuple of Cluster
        At least one.
    cluster_sd : float
        Standard deviation between clusters taken beforehand.

    Returns
    -------
    shift, standard_uncertainty : float
        In the logarithm of size.

    Examples
    --------
    >>> alike = tuple(Cluster(kw, 0.1, 0.01, 50, 50) for kw in (1.0, 1.5, 2.2))
    >>> shift, sd = agreed(alike)
    >>> round(shift, 3), round(sd, 3)
    (0.1, 0.012)
    >>> one_replaced = (alike[0], Cluster(1.5, 0.0, 0.01, 50, 50))
    >>> shift, sd = agreed(one_replaced)
    >>> round(shift, 3), sd > 0.025
    (0.05, True)
    """
    shift = np.array([cluster.shift for cluster in clusters])
    own = np.array([cluster.standard_uncertainty**2 for cluster in clusters])
    first = 1.0 / (own + cluster_sd**2)
    counted = float(first.sum() / first.max())
    between = cluster_sd**2
    mean = 0.0
    for _ in range(10):
        weight = 1.0 / (own + between)
        mean = float(np.sum(weight * shift) / weight.sum())
        beyond = float(np.sum(first / first.max() * np.maximum((shift - mean) ** 2 - own, 0.0)))
        between = (cluster_sd**2 + beyond) / counted
    return mean, math.sqrt(1.0 / float(np.sum(1.0 / (own + between))))
