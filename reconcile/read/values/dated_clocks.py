"""Cells of a day, a blank and a clock time that differ in length, as ``1/7/2025 2:15 PM``: each part read once.

Such a column has a shape for every length of day and of hour, and none of them stands alone for long; but it names few
days, each many times in succession, and the same clock times every day.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reconcile.array_types import Flags, Places

Words = NDArray[np.uint64]

LOOKED_AT, LEAST_A_DAY = 200, 8
"""Cells from which it is told whether all are of one length, and how many of a day stand together at the least on the
average (our choice)."""
MOST_A_DAY = 1500
"""Cells within which clock times begin anew: minutes of a day, and some."""
_WORD = 8
_LAST_LETTER = np.uint64(56)
_KEEP_FIRST = np.array([(1 << 8 * kept) - 1 for kept in range(_WORD + 1)], dtype=np.uint64)


def dated_clocks(block: NDArray[np.uint8]) -> tuple[NDArray[np.uint8], int, Places, Places] | None:
    """Find the days and the clock times of a column of cells.

    Parameters
    ----------
    block : ndarray of uint8, shape (n, w)
        Letters of each cell, padded with nulls to whole words of eight.

    Returns
    -------
    stand : ndarray of uint8, shape (2 d + c, w)
        A cell for each run of one day, what stands before the first blank of it, and a cell for each clock time.
    count : int
        Number of runs, d.
    day, clock : ndarray
        The run and the clock time of each cell. None where the column is of another kind, or all
        of its cells are of one length, which are read faster by their shapes.
    """
    # from all over the column: hours of minutes on end are of one length
    lengths = np.count_nonzero(block[:: max(len(block) // LOOKED_AT, 1)], axis=1)
    if len(block) < LOOKED_AT or bool((lengths == lengths[0]).all()):
        return None
    blank = np.argmax(block == ord(" "), axis=1)
    if not blank.all():
        return None
    words = block.view(np.uint64).T
    dates = [_cut(word, blank - _WORD * at) for at, word in enumerate(words[: int(blank.max()) // _WORD + 1])]
    heads = np.concatenate([[True], _differ([word[1:] for word in dates], [word[:-1] for word in dates])])
    days = np.flatnonzero(heads)
    behind = _behind(block, blank + 1)
    if len(days) * LEAST_A_DAY > len(block) or not behind:
        return None
    clocks, clock = _distinct(behind)
    before = np.zeros((len(days), len(words)), dtype=np.uint64)
    before[:, : len(dates)] = np.stack([word[days] for word in dates], axis=1)
    stand = np.concatenate([block[days], before.view(np.uint8), block[clocks]])
    return stand, len(days), np.cumsum(heads) - 1, clock


def _cut(word: Words, kept: Places) -> Words:
    """Return words of eight letters with only the first so many letters of each."""
    return np.asarray(word & _KEEP_FIRST.take(kept, mode="clip"))


def _differ(some: Sequence[Words], others: Sequence[Words]) -> Flags:
    """Return which rows of some words are not those of others."""
    differ: Flags = some[0] != others[0]
    for one, other in zip(some[1:], others[1:], strict=True):
        differ |= one != other
    return differ


def _behind(block: NDArray[np.uint8], begins: Places) -> list[Words]:
    """Return what stands in each row from a place on, as words of eight letters."""
    width = block.shape[1]
    letters = np.append(block.reshape(-1), np.zeros(width, dtype=np.uint8))
    every = np.lib.stride_tricks.as_strided(letters[:_WORD].view(np.uint64), (len(letters) - _WORD + 1,), (1,))
    at, left = begins + width * np.arange(len(block)), width - begins
    found, more = [_cut(every[at], left)], _WORD
    while (full := np.flatnonzero(found[-1] >> _LAST_LETTER)).size:  # behind all others nothing stands
        further = np.zeros(len(block), dtype=np.uint64)
        further[full] = _cut(every[np.minimum(at[full] + more, len(every) - 1)], np.maximum(left[full] - more, 0))
        found.append(further)
        more += _WORD
    return [word for word in found if word.any()]


def _distinct(words: Sequence[Words]) -> tuple[Places, Places]:
    """Return the row of the first of each distinct cell, and the place of every cell among them."""
    count = len(words[0])
    again = ~_differ([word[1:MOST_A_DAY] for word in words], [word[:1] for word in words])
    period = int(np.argmax(again)) + 1
    if again.any() and not _differ([word[period:] for word in words], [word[:-period] for word in words]).any():
        return np.arange(period), np.arange(count) % period  # as clock times do every day
    keys = words[0] if len(words) == 1 else np.stack(words, axis=1).view(f"S{_WORD * len(words)}")[:, 0]
    _, first, place = np.unique(keys, return_index=True, return_inverse=True)
    return first, place
