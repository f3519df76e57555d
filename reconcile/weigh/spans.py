"""Bills in a row that stand apart from the others: what came and went, an empty house, estimates on end."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

WINDOW_LENGTHS = (2, 3, 4, 6, 8)
"""Lengths of a timed load, in billing periods; those of more than :data:`LATE_WINDOW` begin at every other one."""

ABSENCE_LENGTHS = (2, 3)
"""Bills in a row through which a house may stand empty; one alone is an event of its own."""

ESTIMATES = (2, 3)
"""Estimates on end that nobody marked; one alone is use moved between two bills."""

LATE_WINDOW = 4
"""Longest time for which a load that has not gone yet may still be one for a season."""

MOST_ONSETS = 100
"""Onsets tried of one kind at the most: of many bills, every so many."""


@lru_cache(maxsize=32)
def windows(n: int) -> tuple[Floats, Ints]:
    """Loads that come and go, in windows of some periods; the shorter ones may still be there at the end."""
    every = max(n // MOST_ONSETS, 1)
    spans = [
        (begin, begin + length * every)
        for length in WINDOW_LENGTHS
        if length <= n - 2
        for begin in range(0, n - length * every + (length <= LATE_WINDOW), every * (1 if length <= LATE_WINDOW else 2))
    ]
    return _marked(n, spans)


@lru_cache(maxsize=32)
def absences(n: int) -> tuple[Floats, Ints]:
    """Bills in a row through which a house may have stood empty."""
    every = max(n // MOST_ONSETS, 1)
    spans = [(k, k + length) for length in ABSENCE_LENGTHS if length <= n // 3 for k in range(0, n - length + 1, every)]
    return _marked(n, spans)


def estimates(days: Floats, meets: Sequence[bool]) -> tuple[Floats, Ints]:
    """Estimates on end that nobody marked, and the bill after them that makes them good: less, and then all of it."""
    n = len(days)
    spans = [(k, k + count) for count in ESTIMATES for k in range(n - count) if all(meets[k : k + count])]
    spans = spans if n <= MOST_ONSETS else []
    out = np.zeros((len(spans), n))
    for row, (begin, last) in enumerate(spans):
        out[row, begin:last] = -1.0
        out[row, last] = days[begin:last].sum() / days[last]
    return out, np.array([begin for begin, _ in spans], dtype=np.int64)


def _marked(n: int, spans: Sequence[tuple[int, int]]) -> tuple[Floats, Ints]:
    """Mark the bills of each span, and say where it begins."""
    out = np.zeros((len(spans), n))
    for row, (begin, end) in enumerate(spans):
        out[row, begin:end] = 1.0
    return out, np.array([begin for begin, _ in spans], dtype=np.int64)
