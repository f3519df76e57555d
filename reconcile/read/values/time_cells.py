"""Columns of dates and times, read by their shapes: one reading of a shape serves every cell that has it.

A cell's shape is its text with every digit made alike. A file has a handful of shapes, whatever its length, so the
grammar of :mod:`reconcile.read.values.time_grammar` is asked once a shape, and the digits are then taken column-wise.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reconcile.array_types import Bytes, Flags, Ints
from reconcile.clock import DAY_SECONDS
from reconcile.read.values.time_grammar import DATE_KIND, NO_OFFSET, SETTLED, Shape, letters_of, shape_of
from reconcile.records import dataclass

FARTHEST = 14 * 3600
"""Largest distance of a clock from UTC [s]."""
MOST_SHAPES = 4000
"""Shapes after which the rest of a column is no column of times (a guard; a plain column has under twenty)."""
_WORD = 8
_BLOCK = 32_768
"""Rows taken at once, so that they stay in the processor's cache."""
_ALIKE = np.arange(256, dtype=np.uint8)
_ALIKE[ord("0") : ord("9") + 1] = ord("0")


@dataclass(slots=True)
class Times:
    """Cells of one or several chunks as numbers."""

    dates: NDArray[np.int32]
    """Kind, year, first and second number as one number; 0 where the cell is no time."""
    seconds: NDArray[np.int32]
    """Second of the day, 0 where no clock is written."""
    offsets: NDArray[np.int32] | None = None
    """Distance from UTC [s], or NO_OFFSET; None where no cell has one."""
    clock: bool = False
    """Whether any cell has a clock time."""
    until: bool = False
    """Whether the cells are spans, of which the beginning is taken."""

    @property
    def distances(self) -> NDArray[np.int32]:
        """Distance from UTC of every cell, or NO_OFFSET [s]."""
        return np.full(len(self.dates), NO_OFFSET, np.int32) if self.offsets is None else self.offsets

    @property
    def bad(self) -> Flags:
        """Cells that are no date."""
        none: Flags = self.dates == 0
        return none


def joined(parts: Sequence[Times]) -> Times:
    """Return the cells of several chunks as one column."""
    if len(parts) == 1:
        return parts[0]
    return Times(
        np.concatenate([part.dates for part in parts]),
        np.concatenate([part.seconds for part in parts]),
        None if all(part.offsets is None for part in parts) else np.concatenate([part.distances for part in parts]),
        any(part.clock for part in parts),
        any(part.until for part in parts),
    )


def read_times(cells: Bytes, known: Shapes | None = None) -> Times:
    """Read a column of dates, with or without a clock time and a distance from UTC.

    Parameters
    ----------
    cells : ndarray of bytes
        UTF-8 text, padded with nulls.
    known : Shapes or None
        Shapes that other pieces or columns of the same table had.

    Examples
    --------
    >>> got = read_times(np.array([b"3/7/2025 2:15 PM", b"2025-03-07T14:15:00-05:00", b"soon"]))
    >>> got.seconds.tolist(), got.bad.tolist()
    ([51300, 51300, 0], [False, False, True])
    """
    n = len(cells)
    times = Times(np.zeros(n, np.int32), np.zeros(n, np.int32))
    if n == 0 or cells.dtype.itemsize == 0:
        return times
    width = -(-cells.dtype.itemsize // _WORD) * _WORD
    block = np.ascontiguousarray(cells, dtype=f"S{width}").view(np.uint8).reshape(n, width)
    known = Shapes(letters_of(None)) if known is None else known
    for low in range(0, n, _BLOCK):
        _read_block(block, low, min(low + _BLOCK, n), known, times)
        if len(known) > MOST_SHAPES:
            break
    return times


class Shapes(dict[bytes, Shape | None]):
    """Shapes that were asked for, with the letters of clocks as :func:`letters_of` gives them for the house's zone."""

    def __init__(self, letters: Mapping[str, int]) -> None:
        super().__init__()
        self.letters = letters


def _read_block(every: NDArray[np.uint8], low: int, high: int, known: Shapes, times: Times) -> None:
    block = every[low:high]
    words = _ALIKE[block].view(np.uint64).T  # eight letters compare at once
    todo = np.arange(len(block))
    while len(todo):
        template = words[:, todo[0]]
        same = np.logical_and.reduce([word[todo] == letters for word, letters in zip(words, template, strict=True)])
        here, todo = todo[same], todo[~same]
        key = template.tobytes()
        if key not in known:
            known[key] = shape_of(bytes(block[here[0]]), known.letters)
            if len(known) > MOST_SHAPES:
                return
        shape = known[key]
        if shape is not None:
            _take(block[here], shape, here + low, times)


def _number(block: NDArray[np.uint8], place: tuple[int, int] | int | None) -> Any:
    if place is None or isinstance(place, int):
        return place or 0
    value = block[:, place[0]].astype(np.int32) - 48
    for at in range(place[0] + 1, place[1]):
        value *= 10
        value += block[:, at] - np.int32(48)
    return value


def _dates(block: NDArray[np.uint8], shape: Shape) -> NDArray[np.int32]:
    year = _number(block, shape.year)
    if shape.year[1] - shape.year[0] == 2 and shape.kind == SETTLED:
        year = year + 2000
    dates: NDArray[np.int32] = np.int32(shape.kind * DATE_KIND) + 10_000 * year + 100 * _number(block, shape.first)
    dates += _number(block, shape.second)
    return dates


def _distance(block: NDArray[np.uint8], shape: Shape) -> NDArray[np.int32]:
    size: NDArray[np.int32] = np.asarray(3600 * _number(block, shape.offset[0]) + 60 * _number(block, shape.offset[1]))
    return np.broadcast_to(size, len(block))


def _take(block: NDArray[np.uint8], shape: Shape, to: Ints, times: Times) -> None:
    dates = _dates(block, shape)
    ok: Flags | None = None
    if shape.clock[0] is not None:
        hour, minute, second = (_number(block, place) for place in shape.clock)
        ok = (np.asarray(minute) <= 59) & (np.asarray(second) <= 59)
        if shape.half is not None:
            ok = ok & (hour >= 1) & (hour <= 12)
            hour = hour % 12 + shape.half
        seconds = np.asarray(3600 * hour + 60 * minute + second)
        ok = ok & (seconds <= DAY_SECONDS)
        times.seconds[to] = seconds
        times.clock = True
    if times.offsets is None and (shape.fixed != NO_OFFSET or shape.sign):
        times.offsets = times.distances
    if times.offsets is None:
        pass
    elif shape.fixed != NO_OFFSET:
        times.offsets[to] = shape.fixed
    elif shape.sign:
        size = _distance(block, shape)
        ok = (size <= DAY_SECONDS) if ok is None else ok & (size <= DAY_SECONDS)
        times.offsets[to] = shape.sign * size
    times.until |= shape.until
    times.dates[to] = dates if ok is None or ok.all() else np.where(ok, dates, 0)
