"""Clocks of twelve hours without AM and PM: the order of the rows tells morning from afternoon, or nothing does."""

from __future__ import annotations

import itertools

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]

HALF, HOUR = 43_200, 3_600
TWICE = 0.8
"""Share of the clock times of a day that stand twice in it where the clock runs round twice (our choice)."""
FEWEST = 24
"""Readings below which nothing is made of it."""


def runs_round_twice(days: Ints, seconds: NDArray[np.int32]) -> bool:
    """Whether a clock shows the hours 1 to 12 alone, and most of them twice a day.

    Parameters
    ----------
    days : ndarray of int64
    seconds : ndarray of int32
        Second of the day, as written [s].
    """
    if len(seconds) < FEWEST or int(seconds.min()) < HOUR or not HALF <= int(seconds.max()) < HALF + HOUR:
        return False
    counts = np.unique(days * (2 * HALF) + seconds, return_counts=True)[1]
    return float(np.mean(counts == 2)) >= TWICE


def second_of_day(days: Ints, seconds: NDArray[np.int32]) -> NDArray[np.int32] | None:
    """Return the second of the day, hours from the second twelve on counted on; None where the order leaves it open.

    Within a day the clock begins at twelve, or where the data begin, and the next twelve is noon.

    Parameters
    ----------
    days : ndarray of int64
        In the order of the file, oldest first or newest first.
    seconds : ndarray of int32
        Second of the day, as written [s].

    Examples
    --------
    >>> hours = np.array([12, *range(1, 12)] * 2, dtype=np.int32) * 3600
    >>> (second_of_day(np.zeros(24, dtype=np.int64), hours) // 3600).tolist() == list(range(24))
    True
    """
    if np.count_nonzero(np.diff(days) < 0) > np.count_nonzero(np.diff(days) > 0) or _falls(seconds):
        turned = second_of_day(days[::-1], seconds[::-1])
        return None if turned is None else turned[::-1]
    out = seconds % HALF
    edges = [0, *(np.flatnonzero(np.diff(days)) + 1).tolist(), len(days)]
    for at, (low, high) in enumerate(itertools.pairwise(edges)):
        here = out[low:high]
        twelve = np.flatnonzero((here < HOUR) & np.concatenate([[True], here[:-1] >= HOUR]))
        if len(twelve) == 2 and twelve[0] == 0:
            noon = int(twelve[1])
        elif len(twelve) == 1 and (twelve[0] > 0 or (at == 0 and len(edges) > 2)):
            noon = int(twelve[0])
        elif len(twelve) == 1 and at == len(edges) - 2:
            noon = high - low  # the data end before noon
        else:
            return None
        here[noon:] += HALF
    return out


def _falls(seconds: NDArray[np.int32]) -> bool:
    """Whether times within one day mostly go back."""
    steps = np.diff(seconds % HALF)
    return bool(np.count_nonzero(steps < 0) > np.count_nonzero(steps > 0))
