"""Sizes of steps as smoothed histograms of their logarithm: what multiplies all sizes moves them aside."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BIN = 0.005
LOW, HIGH = float(np.log(0.05)), float(np.log(20.2))
BINS = int((HIGH - LOW) / BIN)
"""Histogram of the logarithm of sizes: bins of half a percent, from 0.05 to 20 kW."""

SIZE = 1440
"""Bins of the transform that smooths them: room for what the smoothing spreads, and a product of small primes."""

AT_ONCE = 48
"""Histograms smoothed at once: more would want so much memory that getting it takes longer than the work (our
choice)."""

ROUGH, ROUGH_REACH, ROUGH_KERNEL = 4, 50, 0.08
"""Bins taken as one, the farthest shift looked at in these, and the smoothing where sizes are compared as a whole: a
factor of 2.7 either way (years of one real home at 15 and 60 min and of simulated ones)."""

KERNEL = 0.02
"""Standard deviation of the smoothing of a density, in the logarithm of size (tried on one real home)."""


def histograms(place: Ints, log_kw: Floats, places: int, kernel: float = KERNEL) -> Floats:
    """Count the sizes of each place (a day, a week) into smoothed histograms.

    Parameters
    ----------
    place : ndarray of int64, shape (n,)
    log_kw : ndarray, shape (n,)
        [ln kW]
    kernel : float
        Standard deviation of the smoothing, in the logarithm of size.

    Returns
    -------
    ndarray, shape (places, BINS)
        Each size counts one.
    """
    column = np.clip(((log_kw - LOW) / BIN).astype(np.int64), 0, BINS - 1)
    smooth = np.zeros((places, BINS))
    for begin in range(0, places, AT_ONCE):
        rows = min(AT_ONCE, places - begin)
        inside = (place >= begin) & (place < begin + rows)
        counts = np.bincount((place[inside] - begin) * BINS + column[inside], minlength=rows * BINS)
        waves = np.fft.rfft(counts.reshape(rows, BINS), SIZE)
        waves *= _kernel(kernel)
        np.maximum(np.fft.irfft(waves, SIZE)[:, :BINS], 0.0, out=smooth[begin : begin + rows])
    return smooth


def beside(counted: Floats, cut: Ints, length: int) -> tuple[Floats, Floats]:
    """What was counted up, day by day, in so many days before and after some dates."""
    return (
        counted[cut] - counted[np.maximum(cut - length, 0)],
        counted[np.minimum(cut + length, len(counted) - 1)] - counted[cut],
    )


def counted_up(rows: Floats) -> Floats:
    """Add to each row those before it, in place: a tenth of the time of a sum across rows."""
    for before, row in pairwise(rows):
        row += before
    return rows


def folded(sizes: Floats, bins: int) -> Floats:
    """Take some bins as one."""
    folded: Floats = np.add.reduce([sizes[:, at::bins] for at in range(bins)])
    return folded


def moved_by(sizes: Floats, bins: int) -> Floats:
    """Histograms, along the last axis, moved by some bins."""
    moved = np.roll(sizes, bins, axis=-1)
    moved[..., slice(0, bins) if bins >= 0 else slice(bins, None)] = 0.0
    return moved


@lru_cache(maxsize=8)
def _kernel(sd: float) -> NDArray[np.complex128]:
    at = np.minimum(np.arange(SIZE), SIZE - np.arange(SIZE)) * BIN
    weights = np.exp(-0.5 * (at / sd) ** 2)
    return np.fft.rfft(weights / weights.sum())


def moved_at_all(before: Floats, after: Floats, lowest: int) -> float:
    """How far all sizes together moved, roughly: the shift at which the two sides are most alike as a whole.

    Parameters
    ----------
    before, after : ndarray, shape (BINS,)
        Smoothed histograms of the logarithm of size.
    lowest : int
        First bin that is compared.

    Returns
    -------
    float
        In the logarithm of size.

    References
    ----------
    A. Bhattacharyya, On a measure of divergence between two statistical populations, Bull. Calcutta Math. Soc. 35,
    1943 (from memory).

    Examples
    --------
    >>> kw = np.random.default_rng(1).lognormal(0.0, 0.5, 200)
    >>> one, twice = (histograms(np.zeros(200, np.int64), np.log(k * kw), 1)[0] for k in (1.0, 2.0))
    >>> round(moved_at_all(one, twice, 0), 1)
    0.7
    """
    whole = BINS // ROUGH
    sides = [np.add.reduceat(side, np.arange(0, whole * ROUGH, ROUGH))[:whole] for side in (before, after)]
    smooth = np.exp(-0.5 * (ROUGH * BIN * np.arange(-ROUGH_REACH, ROUGH_REACH + 1) / ROUGH_KERNEL) ** 2)
    was, now = (np.sqrt(np.convolve(side, smooth, "same")[lowest // ROUGH :]) for side in sides)
    reach = max(min(ROUGH_REACH, len(was) - 1), 0)
    alike = np.correlate(np.pad(now, reach), was, "valid")
    return float(int(np.argmax(alike)) - reach) * ROUGH * BIN


def size_axis() -> Floats:
    """Sizes at the middles of the histograms' bins [kW]."""
    sizes: Floats = np.exp(LOW + BIN * (np.arange(BINS) + 0.5))
    return sizes
