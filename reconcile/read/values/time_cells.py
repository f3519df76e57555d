"""Columns of dates and times, read by their shapes: one reading of a shape serves every cell that has it.

A cell's shape is its text with every digit made alike. A file has a handful of shapes, whatever its length, so the
grammar of :mod:`reconcile.read.values.time_grammar` is asked once a shape, and the digits are then taken column-wise.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reconcile.array_types import Bytes, Flags, Ints, Places
from reconcile.clock import DAY_SECONDS
from reconcile.read.values.dated_clocks import dated_clocks
from reconcile.read.values.time_grammar import DATE_KIND, NO_OFFSET, SETTLED, Shape, letters_of, shape_of
from reconcile.records import dataclass

FARTHEST = 14 * 3600
"""Largest distance of a clock from UTC [s]."""
MOST_SHAPES = 4000
"""Shapes after which the rest of a column is no column of times (a guard; a plain column has under twenty)."""
LONG, FEW_RUNS = 200, 8
"""Cells of a column from which runs of the same date are looked for, and how long they are at the least on the
average (our choice)."""
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

    def behind_first(self) -> Times:
        """Return all but the first."""
        offsets = None if self.offsets is None else self.offsets[1:]
        return replace(self, dates=self.dates[1:], seconds=self.seconds[1:], offsets=offsets)

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
    heads = _runs(block.view(np.uint64))
    if heads is not None:  # a column of dates without a clock
        return _repeated(read_times(cells[heads], known), np.diff(np.append(heads, n)))
    known = Shapes(letters_of(None)) if known is None else known
    parts = dated_clocks(block)
    if parts is not None:
        apart = _put_together(parts, known)
        if apart is not None:
            return apart
    _read_blocks(block, known, times)
    return times


def _put_together(parts: tuple[NDArray[np.uint8], int, Places, Places], known: Shapes) -> Times | None:
    """Read cells by those that stand for their days and for their clock times; None where these are not all plain."""
    stand, count, day, clock = parts
    times = Times(np.zeros(len(stand), np.int32), np.zeros(len(stand), np.int32))
    _read_blocks(stand, known, times)
    # a day may have blanks in it
    whole = bool((times.dates[:count] == times.dates[count : 2 * count]).all())
    if not whole or times.bad.any() or times.offsets is not None or times.until or not times.clock:
        return None
    return Times(times.dates[:count][day], times.seconds[2 * count :][clock], None, clock=True)


def _runs(words: NDArray[np.uint64]) -> Places | None:
    """Return the places at which a cell is not the one above it; None where those are many."""
    if len(words) < LONG or np.count_nonzero(words[1:LONG] != words[: LONG - 1]) * FEW_RUNS > LONG:
        return None
    heads = np.flatnonzero(np.concatenate([[True], ~_equal(words[1:], words[:-1])]))
    return heads if len(heads) * FEW_RUNS < len(words) else None


def _repeated(times: Times, counts: Places) -> Times:
    offsets = None if times.offsets is None else np.repeat(times.offsets, counts)
    return Times(np.repeat(times.dates, counts), np.repeat(times.seconds, counts), offsets, times.clock, times.until)


class Shapes(dict[bytes, Shape | None]):
    """Shapes that were asked for, with the letters of clocks as :func:`letters_of` gives them for the house's zone."""

    def __init__(self, letters: Mapping[str, int]) -> None:
        super().__init__()
        self.letters = letters


def _read_blocks(block: NDArray[np.uint8], known: Shapes, times: Times) -> None:
    for low in range(0, len(block), _BLOCK):
        _read_block(block, low, min(low + _BLOCK, len(block)), known, times)
        if len(known) > MOST_SHAPES:
            break


def _read_block(every: NDArray[np.uint8], low: int, high: int, known: Shapes, times: Times) -> None:
    block = every[low:high]
    words = block.view(np.uint64)
    todo = np.arange(len(block))
    while len(todo):
        template = _ALIKE[block[todo[0]]]
        same = _ofshape_of(words if len(todo) == len(block) else words[todo], template)
        here, todo = todo[same], todo[~same]
        key = template.tobytes()
        if key not in known:
            known[key] = shape_of(bytes(block[here[0]]), known.letters)
            if len(known) > MOST_SHAPES:
                return
        shape = known[key]
        if shape is not None:
            whole = len(here) == len(block)
            _take(block if whole else block[here], shape, slice(low, high) if whole else here + low, times)


def _ofshape_of(words: NDArray[np.uint64], template: NDArray[np.uint8]) -> Flags:
    """Return the rows that have a shape, eight letters at a time.

    A digit differs from the digit 0 by its value: its upper four bits are clear, and stay so when 6 is added.
    """
    digits = template == ord("0")
    of = template.view(np.uint64)
    upper = np.where(digits, 0xF0, 0xFF).astype(np.uint8).view(np.uint64)
    six = np.where(digits, 0x06, 0).astype(np.uint8).view(np.uint64)
    over = np.where(digits, 0xF0, 0).astype(np.uint8).view(np.uint64)
    off = np.zeros(len(words), dtype=np.uint64)
    for at in range(words.shape[1]):
        differs = words[:, at] ^ of[at]
        off |= differs & upper[at]
        if six[at]:
            differs += six[at]
            differs &= over[at]
            off |= differs
    same: Flags = off == 0
    return same


def _equal(words: NDArray[np.uint64], to: NDArray[np.uint64]) -> Flags:
    same: Flags = words[:, 0] == to[..., 0]
    for at in range(1, words.shape[1]):
        same &= words[:, at] == to[..., at]
    return same


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


def _heads(block: NDArray[np.uint8], places: Sequence[tuple[int, int] | int | None]) -> Places:
    """Return the rows in which some of the numbers are not those of the row above."""
    mask = np.zeros(block.shape[1], dtype=np.uint8)
    for place in places:
        if isinstance(place, tuple):
            mask[place[0] : place[1]] = 255
    of = mask.view(np.uint64)
    words = block.view(np.uint64)
    changed = np.zeros(len(block), dtype=bool)
    changed[0] = True
    for at in np.flatnonzero(of).tolist():
        masked = words[:, at] & of[at]
        changed[1:] |= masked[1:] != masked[:-1]
    return np.flatnonzero(changed)


def _by_runs(
    block: NDArray[np.uint8],
    places: Sequence[tuple[int, int] | int | None],
    read: Callable[[NDArray[np.uint8]], NDArray[np.int32]],
) -> NDArray[np.int32]:
    """Read numbers that mostly stand in runs: a day's date, a season's distance from UTC."""
    heads = _heads(block, places) if len(block) >= LONG else ()
    if not len(heads) or len(heads) * 4 >= len(block):
        return read(block)
    return np.repeat(read(block[heads]), np.diff(np.append(heads, len(block))))


def _take(block: NDArray[np.uint8], shape: Shape, to: slice | Ints, times: Times) -> None:
    dates = _by_runs(block, (shape.year, shape.first, shape.second), lambda cells: _dates(cells, shape))
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
        size = _by_runs(block, shape.offset, lambda cells: _distance(cells, shape))
        ok = (size <= DAY_SECONDS) if ok is None else ok & (size <= DAY_SECONDS)
        times.offsets[to] = shape.sign * size
    times.until |= shape.until
    times.dates[to] = dates if ok is None or ok.all() else np.where(ok, dates, 0)
