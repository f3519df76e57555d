"""How far two collections of step sizes stand apart on a logarithmic scale, and how well that is known.

Sizes are kept as histograms of their logarithm; the shift of one against another is the one at which the square roots
of the two smoothed densities agree best (Bhattacharyya's coefficient; A. Bhattacharyya, Bulletin of the Calcutta
Mathematical Society 35, 1943, from memory).
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BIN = 0.005
LOW, HIGH = float(np.log(0.05)), float(np.log(12.0))
BINS = int((HIGH - LOW) / BIN)
"""Histogram of the logarithm of sizes: bins of half a percent, from 0.05 to 12 kW."""

SIZE = 1280
"""Bins of the transform that smooths them: room for what the smoothing spreads, and a product of small primes."""

KERNEL = 0.02
"""Standard deviation of the smoothing of a density, in the logarithm of size (tried on one real home)."""

REACH = 50
"""Largest shift looked at, in bins: a quarter on the logarithmic scale, 28 % up and 22 % down."""


def histograms(place: Ints, log_kw: Floats, places: int, kernel: float = KERNEL) -> Floats:
    """Count the sizes of each place (a day, a week) into smoothed histograms.

    Parameters
    ----------
    place : ndarray of int64, shape (n,)
    log_kw : ndarray, shape (n,)
        [ln kW]
    places : int
    kernel : float
        Standard deviation of the smoothing, in the logarithm of size.

    Returns
    -------
    ndarray, shape (places, BINS)
        Each size counts one.
    """
    column = np.clip(((log_kw - LOW) / BIN).astype(np.int64), 0, BINS - 1)
    counts = np.bincount(place * BINS + column, minlength=places * BINS).reshape(places, BINS)
    smooth = np.fft.irfft(np.fft.rfft(counts, SIZE) * _kernel(kernel), SIZE)[:, :BINS]
    return np.maximum(smooth, 0.0)


@lru_cache(maxsize=8)
def _kernel(sd: float) -> NDArray[np.complex128]:
    at = np.minimum(np.arange(SIZE), SIZE - np.arange(SIZE)) * BIN
    weights = np.exp(-0.5 * (at / sd) ** 2)
    return np.fft.rfft(weights / weights.sum())


def likeness(before: Floats, after: Floats, reach: int = REACH, centre: int = 0) -> Floats:
    """Bhattacharyya's coefficient of pairs of densities at every shift of the second.

    Parameters
    ----------
    before, after : ndarray, shape (k, BINS)
        Smoothed histograms, not negative.
    reach : int
        Largest shift either side of the centre [bins].
    centre : int
        [bins]

    Returns
    -------
    ndarray, shape (k, 2 reach + 1)
        At shifts ``centre`` - reach to ``centre`` + reach.
    """
    p = np.sqrt(before / np.maximum(before.sum(axis=1, keepdims=True), 1e-300))
    q = np.sqrt(after / np.maximum(after.sum(axis=1, keepdims=True), 1e-300))
    margin = reach + abs(centre)
    wide = np.pad(q, ((0, 0), (margin, margin)))
    windows = np.lib.stride_tricks.sliding_window_view(wide, BINS, axis=1)
    first = margin + centre - reach
    shifted = windows[:, first : first + 2 * reach + 1]
    found: Floats = np.einsum("kb,ksb->ks", p, shifted)
    return found


def peak(curve: Floats, centre: int = 0) -> Floats:
    """Shift at which each curve of :func:`likeness` is highest, between the bins.

    Parameters
    ----------
    curve : ndarray, shape (k, 2 reach + 1)
    centre : int
        [bins]

    Returns
    -------
    ndarray, shape (k,)
        Logarithm of the ratio of sizes.

    Examples
    --------
    >>> peak(np.array([[0.0, 0.5, 1.0, 0.5, 0.0]])).tolist()
    [0.0]
    """
    top = np.clip(curve.argmax(axis=1), 1, curve.shape[1] - 2)
    rows = np.arange(len(curve))
    left, middle, right = curve[rows, top - 1], curve[rows, top], curve[rows, top + 1]
    bend = left - 2.0 * middle + right
    part = np.where(bend < 0, (left - right) / np.where(bend < 0, 2.0 * bend, 1.0), 0.0)
    found: Floats = (top - curve.shape[1] // 2 + centre + np.clip(part, -1.0, 1.0)) * BIN
    return found


def size_axis() -> Floats:
    """Sizes at the middles of the histograms' bins [kW]."""
    sizes: Floats = np.exp(LOW + BIN * (np.arange(BINS) + 0.5))
    return sizes
