"""The day on which the sizes of a house's own steps all moved, with its limits."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reconcile.interval.alignment import BINS, moved_by
from reconcile.interval.size_change import DATE_LOSSES
from reconcile.records import dataclass

Floats = NDArray[np.float64]

BACKGROUND = 0.1
"""Part of steps that belong to no cluster (our own judgement)."""

DATING_DAYS = 150
"""Stretch on either side in which a date is looked for to the day [d]: longer ones are of another season (tried on
years of one real home and of simulated homes)."""

DATING, DATING_KERNEL = 2, 0.01
"""Bins taken as one, and the smoothing in the logarithm of size, where a date is told to the day and samples of one
level lie close together: what blurs a shift of 5 % blurs its day (chosen on simulated homes at 5 min: within 3 days 89
of 97, with bins of 2 % and twice the smoothing 84; at 15 min no better)."""

REPEATED = 3.0
"""Steps that tell one thing: on and off of one run, several runs a day (our own judgement)."""

LEAST_SIDE_DAYS, APART_DAYS = 14, 21
"""Shortest stretch on either side of a date, and how far dates lie apart that are looked at one by one [d] (our own
judgement)."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Day of a change, its 95 % limits, and the days about it for ``Change.about``, counted from the first."""

    day: int
    low: int
    high: int
    about: tuple[int, ...]


def date_limits(
    sizes: Floats, cut: int, shift_bins: int, moved: Sequence[tuple[int, int]] = (), *, again: bool = True
) -> Limits:
    """Day that halves the likelihood of a shift, with its limits, and again about that day if it lies far off.

    Every day is given its own shape of the sizes, from both of its sides brought together: with the shape of one day,
    the steps between that day and the true one would speak for it.

    Parameters
    ----------
    sizes : ndarray, shape (days + 1, b)
        Histograms of each day, counted up, some bins taken as one.
    cut : int
        First guess of the day, counted from the first.
    shift_bins : int
        How far the sizes moved [bins].
    moved : sequence of (int, int)
        Days and shifts [bins] of other changes, which are undone first.
    again : bool
        Whether it may be looked at once more.
    """
    as_one = BINS // sizes.shape[1]
    begin, end = max(cut - DATING_DAYS, 0), min(cut + DATING_DAYS, len(sizes) - 1)
    edge = min(LEAST_SIDE_DAYS, (end - begin) // 3)
    days = np.arange(begin + edge, end - edge + 1)
    counted = sizes[begin : end + 1]
    for date, bins in moved:
        at = min(max(date - begin, 0), end - begin)
        later = counted[at:] - counted[at]
        counted = np.concatenate([counted[:at], counted[at] + moved_by(later, -round(bins / as_one))])
    until = counted[days - begin] - counted[0]
    together = until + moved_by(counted[-1] - counted[0] - until, -round(shift_bins / as_one))
    shape = together / np.maximum(together.sum(axis=1, keepdims=True), 1e-12)  # there may be no step at all
    density = np.log(((1.0 - BACKGROUND) * shape + BACKGROUND / together.shape[1]).astype(np.float32))
    support = np.einsum("ij,ij->i", together, density) / REPEATED
    best = int(support.argmax())
    if abs(int(days[best]) - cut) > APART_DAYS and again:
        return date_limits(sizes, int(days[best]), shift_bins, moved, again=False)
    chance = np.exp(support - support[best])
    total = np.cumsum(chance) / chance.sum()
    low, middle, high = (int(days[np.searchsorted(total, part)]) for part in (0.025, 0.5, 0.975))
    likely = [days[support >= support[best] - loss] for loss in DATE_LOSSES]
    about = [*(int(some[0]) - 1 for some in reversed(likely)), *(int(some[-1]) + 1 for some in likely)]
    return Limits(middle, low, high, tuple(about))
