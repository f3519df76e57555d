"""Columns of dates and times, read by their shapes: one reading of a shape serves every cell that has it.

A cell's shape is its text with every digit made alike. A file has a handful of shapes, whatever its length, so the
grammar is written once in :data:`DATE_CELL`, is asked once a shape, and the digits are then taken column-wise.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from reconcile.read.dates import FIRST_YEAR, LAST_YEAR

DAY = 86_400
NO_OFFSET = np.iinfo(np.int32).min
"""Stands for a time that carries no distance from UTC."""
FARTHEST = 14 * 3600
"""Largest distance of a clock from UTC [s]."""
MOST_SHAPES = 4000
"""Shapes after which the rest of a column is no column of times (a guard; a plain column has under twenty)."""
_WORD = 8
_BLOCK = 32_768
"""Rows taken at once, so that they stay in the processor's cache."""

SETTLED, UNSETTLED, SHORT_YEAR = 1, 2, 3
"""Kinds of a date: year, month and day are known; day and month may change places; the year has two digits."""
_KIND = 100_000_000

Ints = NDArray[np.int64]
Bytes = NDArray[np.bytes_]

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
ZONES = {
    "utc": 0,
    "gmt": 0,
    "z": 0,
    "wet": 0,
    "west": 1,
    "cet": 1,
    "cest": 2,
    "eet": 2,
    "eest": 3,
    "bst": 1,
    "ast": -4,
    "adt": -3,
    "est": -5,
    "edt": -4,
    "cst": -6,
    "cdt": -5,
    "mst": -7,
    "mdt": -6,
    "pst": -8,
    "pdt": -7,
    "akst": -9,
    "akdt": -8,
    "hst": -10,
}
"""Letters of clocks in North America and Europe, in hours from UTC (common practice)."""

_MONTH = "(?P<name>jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec)[a-z]{0,6}"
_DATE = "|".join(
    (
        r"(?P<y1>\d{4})[-/.](?P<m1>\d{1,2})[-/.](?P<d1>\d{1,2})",
        r"(?P<a>\d{1,2})(?P<sep>[-/.])(?P<b>\d{1,2})(?P=sep)(?P<y2>\d{4}|\d{2})",
        rf"(?P<d3>\d{{1,2}})[-/ .]{{0,2}}{_MONTH}[-/ .,]{{0,2}}(?P<y3>\d{{4}}|\d{{2}})",
        rf"{_MONTH.replace('name', 'name2')}[- .]{{1,2}}(?P<d4>\d{{1,2}})(?:st|nd|rd|th)?[-, ]{{1,2}}(?P<y4>\d{{4}})",
        r"(?P<y5>\d{4})(?P<m5>\d{2})(?P<d5>\d{2})(?=$|[T _-]|\d{4}(?:\d{2})?(?:\D|$))",
    )
)
_CLOCK = (
    r"(?P<H>\d{1,2}):(?P<M>\d{2})(?::(?P<S>\d{2})(?:[.,]\d{1,9})?)?"
    r"|(?P<H3>\d{1,2})(?= ?[ap]\.?m)|(?P<H2>\d{2})(?P<M2>\d{2})(?P<S2>\d{2})?|(?P<H4>\d{1,2})h(?P<M4>\d{2})"
)
_OFFSET = r"(?P<sign>[+-])(?P<oh>\d{2}):?(?P<om>\d{2})?|(?P<zone>" + "|".join(sorted(ZONES, key=len)[::-1]) + ")"
DATE_CELL = re.compile(
    rf"\s*(?:(?:mon|tue|wed|thu|fri|sat|sun)[a-z]{{0,6}}\.?,?\s+)?(?:{_DATE})"
    rf"(?:[T ,_-]*(?:{_CLOCK})(?:\s?(?P<pm>[ap])\.?m\.?)?\s?(?:{_OFFSET})?(?: ?UTC|\[[A-Za-z_/]+\])?)?"
    r"(?P<until>\s(?:-|–|to)\s.*)?\s*",
    re.IGNORECASE | re.ASCII,
)
_ALIKE = np.arange(256, dtype=np.uint8)
_ALIKE[ord("0") : ord("9") + 1] = ord("0")


class _Shape(NamedTuple):
    """Where the digits of a shape stand: (first, after) of each number, None where it has none."""

    kind: int
    year: tuple[int, int]
    first: tuple[int, int] | int
    """The month, or the first of two numbers that may be day and month; a number where a name says it."""
    second: tuple[int, int]
    clock: tuple[tuple[int, int] | None, ...]
    """Hour, minute, second."""
    half: int | None
    """0 in the morning, 12 in the afternoon."""
    sign: int
    """Of the distance from UTC; 0 where it is ``fixed``."""
    offset: tuple[tuple[int, int] | None, ...]
    fixed: int
    until: bool


@dataclass(slots=True)
class Times:
    """Cells of one or several chunks as numbers.

    Attributes
    ----------
    dates : ndarray of int32
        Kind, year, first and second number as one number; 0 where the cell is no time.
    seconds : ndarray of int32
        Second of the day, 0 where no clock is written.
    offsets : ndarray of int32 or None
        Distance from UTC [s], or NO_OFFSET; None where no cell has one.
    clock : bool
        Whether any cell has a clock time.
    until : bool
        Whether the cells are spans, of which the beginning is taken.
    """

    dates: NDArray[np.int32]
    seconds: NDArray[np.int32]
    offsets: NDArray[np.int32] | None = None
    clock: bool = False
    until: bool = False

    @property
    def distances(self) -> NDArray[np.int32]:
        """Distance from UTC of every cell, or NO_OFFSET [s]."""
        return np.full(len(self.dates), NO_OFFSET, np.int32) if self.offsets is None else self.offsets

    @property
    def bad(self) -> NDArray[np.bool_]:
        """Cells that are no date."""
        none: NDArray[np.bool_] = self.dates == 0
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


def read_times(cells: Bytes) -> Times:
    """Read a column of dates, with or without a clock time and a distance from UTC.

    Parameters
    ----------
    cells : ndarray of bytes
        UTF-8 text, padded with nulls.

    Returns
    -------
    Times

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
    letters = np.ascontiguousarray(cells, dtype=f"S{width}").view(np.uint8).reshape(n, width)
    known: dict[bytes, _Shape | None] = {}
    for low in range(0, n, _BLOCK):
        _read_block(letters, low, min(low + _BLOCK, n), known, times)
        if len(known) > MOST_SHAPES:
            break
    return times


def _read_block(
    letters: NDArray[np.uint8], low: int, high: int, known: dict[bytes, _Shape | None], times: Times
) -> None:
    block = letters[low:high]
    words = block.view(np.uint64)
    todo = np.arange(len(block))
    while len(todo):
        template = _ALIKE[block[todo[0]]]
        same = _of_shape(words if len(todo) == len(block) else words[todo], template)
        here, todo = todo[same], todo[~same]
        key = template.tobytes()
        if key not in known:
            known[key] = _shape(bytes(block[here[0]]))
            if len(known) > MOST_SHAPES:
                return
        shape = known[key]
        if shape is not None:
            whole = len(here) == len(block)
            _take(block if whole else block[here], shape, slice(low, high) if whole else here + low, times)


def _of_shape(words: NDArray[np.uint64], template: NDArray[np.uint8]) -> NDArray[np.bool_]:
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
    same: NDArray[np.bool_] = off == 0
    return same


def _equal(words: NDArray[np.uint64], to: NDArray[np.uint64]) -> NDArray[np.bool_]:
    same: NDArray[np.bool_] = words[:, 0] == to[..., 0]
    for at in range(1, words.shape[1]):
        same &= words[:, at] == to[..., at]
    return same


def _shape(cell: bytes) -> _Shape | None:
    text = cell.rstrip(b"\0").decode("utf-8", "replace")
    if not text.isascii():
        text = cell.rstrip(b"\0").decode("latin-1")  # one letter a byte, so that places stay
    found = DATE_CELL.fullmatch(text)
    if not found:
        return None

    def span(*names: str) -> tuple[int, int] | None:
        return next((found.span(name) for name in names if found[name] is not None), None)

    year = span("y1", "y2", "y3", "y4", "y5")
    second = span("d1", "b", "d3", "d4", "d5")
    name = found["name"] or found["name2"]
    first: tuple[int, int] | int | None = MONTHS.index(name.casefold()) + 1 if name else span("m1", "a", "m5")
    assert year is not None
    assert second is not None
    assert first is not None
    kind = SETTLED
    if year[1] - year[0] == 2:
        kind = SETTLED if name else SHORT_YEAR
    elif found["a"] is not None:
        kind = UNSETTLED
    fixed = round(3600 * ZONES[found["zone"].casefold()]) if found["zone"] else NO_OFFSET
    sign = {None: 0, "+": 1, "-": -1}[found["sign"]]
    half = None if found["pm"] is None else 12 * (found["pm"].casefold() == "p")
    clock = (span("H", "H2", "H3", "H4"), span("M", "M2", "M4"), span("S", "S2"))
    offset = (span("oh"), span("om"))
    return _Shape(kind, year, first, second, clock, half, sign, offset, fixed, found["until"] is not None)


def _number(block: NDArray[np.uint8], place: tuple[int, int] | int | None) -> Any:
    if place is None or isinstance(place, int):
        return place or 0
    value = block[:, place[0]].astype(np.int32) - 48
    for at in range(place[0] + 1, place[1]):
        value *= 10
        value += block[:, at] - np.int32(48)
    return value


def _dates(block: NDArray[np.uint8], shape: _Shape) -> NDArray[np.int32]:
    year = _number(block, shape.year)
    if shape.year[1] - shape.year[0] == 2 and shape.kind == SETTLED:
        year = year + 2000
    dates: NDArray[np.int32] = np.int32(shape.kind * _KIND) + 10_000 * year + 100 * _number(block, shape.first)
    dates += _number(block, shape.second)
    return dates


def _heads(block: NDArray[np.uint8], shape: _Shape) -> NDArray[np.intp]:
    """Return the rows whose date is not the one of the row above."""
    mask = np.zeros(block.shape[1], dtype=np.uint8)
    for place in (shape.year, shape.first, shape.second):
        if not isinstance(place, int):
            mask[place[0] : place[1]] = 255
    words = block.view(np.uint64) & mask.view(np.uint64)
    return np.flatnonzero(np.concatenate([[True], ~_equal(words[1:], words[:-1])]))


def _take(block: NDArray[np.uint8], shape: _Shape, to: slice | Ints, times: Times) -> None:
    heads = _heads(block, shape)
    if len(heads) * 4 < len(block):
        dates = np.repeat(_dates(block[heads], shape), np.diff(np.append(heads, len(block))))
    else:
        dates = _dates(block, shape)
    ok: NDArray[np.bool_] | None = None
    if shape.clock[0] is not None:
        hour, minute, second = (_number(block, place) for place in shape.clock)
        ok = (np.asarray(minute) <= 59) & (np.asarray(second) <= 59)
        if shape.half is not None:
            ok = ok & (hour >= 1) & (hour <= 12)
            hour = hour % 12 + shape.half
        seconds = np.asarray(3600 * hour + 60 * minute + second)
        ok = ok & (seconds <= DAY)
        times.seconds[to] = seconds
        times.clock = True
    if times.offsets is None and (shape.fixed != NO_OFFSET or shape.sign):
        times.offsets = times.distances
    if times.offsets is None:
        pass
    elif shape.fixed != NO_OFFSET:
        times.offsets[to] = shape.fixed
    elif shape.sign:
        size = np.asarray(3600 * _number(block, shape.offset[0]) + 60 * _number(block, shape.offset[1]))
        ok = (size <= FARTHEST) if ok is None else ok & (size <= FARTHEST)
        times.offsets[to] = shape.sign * size
    times.until |= shape.until
    times.dates[to] = dates if ok is None or ok.all() else np.where(ok, dates, 0)


@dataclass(frozen=True, slots=True)
class Calendar:
    """How the dates of a file are to be read.

    Attributes
    ----------
    order : str
        ``dmy``, ``mdy``, ``ymd``; ``""`` where every date is settled by itself.
    clash : tuple of int
        Dates (as :attr:`Times.dates`) that speak for each order where they contradict each other.
    open : int or None
        A date that could be two days, where nothing in the file settles it.
    evenly : bool
        Whether the order was settled by the days following one another.
    """

    order: str = ""
    clash: tuple[int, ...] = ()
    open: int | None = None
    evenly: bool = False


def settle(dates: NDArray[np.int32], wanted: str | None) -> Calendar:
    """Find the order of day and month from all dates of a file.

    Parameters
    ----------
    dates : ndarray of int32
        As :attr:`Times.dates`; 0 passes.
    wanted : str or None
        The order the household gave, as ``dmy``.

    Returns
    -------
    Calendar
    """
    keys = [key for key in _distinct(dates).tolist() if key >= UNSETTLED * _KIND]
    if not keys or wanted:
        return Calendar(wanted or "")
    orders = ("dmy", "mdy", "ymd") if keys[-1] >= SHORT_YEAR * _KIND else ("dmy", "mdy")
    days = {order: [_day(key, order) for key in keys] for order in orders}
    able = [order for order in orders if None not in days[order]]
    if not able:
        firsts = [next((k for k, day in zip(keys, days[order], strict=True) if day is None), 0) for order in orders[:2]]
        return Calendar("mdy", clash=tuple(firsts))
    if len(able) == 1:
        return Calendar(able[0])
    if all(days[able[0]] == days[order] for order in able):
        return Calendar(able[0])
    spread = {order: _span(days[order]) for order in able}
    best = min(able, key=lambda order: spread[order])
    if all(spread[best] * 2 <= spread[order] for order in able if order != best):
        return Calendar(best, evenly=True)
    return Calendar("mdy", open=next(k for i, k in enumerate(keys) if len({days[order][i] for order in able}) > 1))


def _span(days: Sequence[int | None]) -> int:
    known = [day for day in days if day is not None]
    return max(known) - min(known) + 1


def _distinct(dates: NDArray[np.int32]) -> NDArray[np.int32]:
    """Return the dates that occur, which mostly stand in runs."""
    if len(dates) == 0:
        return dates
    heads = dates[np.concatenate([[True], dates[1:] != dates[:-1]])]
    return np.unique(heads)


def _day(key: int, order: str) -> int | None:
    kind, rest = divmod(key, _KIND)
    year, rest = divmod(rest, 10_000)
    first, second = divmod(rest, 100)
    if kind == SHORT_YEAR and order == "ymd":
        year, first, second = first, second, year  # what was taken for the year is the day
    elif kind != SETTLED and order == "dmy":
        first, second = second, first
    if kind == SHORT_YEAR:
        year += 2000
    try:
        made = date(year, first, second)
    except ValueError:
        return None
    return (made - date(1970, 1, 1)).days if FIRST_YEAR <= year <= LAST_YEAR else None


def day_numbers(dates: NDArray[np.int32], order: str) -> tuple[NDArray[np.int32], NDArray[np.bool_]]:
    """Return days since 1970-01-01, and which cells are no day of the calendar.

    Parameters
    ----------
    dates : ndarray of int32
        As :attr:`Times.dates`.
    order : str
        From :func:`settle`.

    Returns
    -------
    days : ndarray of int32
        [d], 0 where there is none.
    bad : ndarray of bool
    """
    heads = np.flatnonzero(np.concatenate([[True], dates[1:] != dates[:-1]])) if len(dates) else np.empty(0, int)
    keys = dates[heads]
    distinct, place = np.unique(keys, return_inverse=True)
    made = [_day(key, order) if key else None for key in distinct.tolist()]
    numbers = np.array([0 if day is None else day for day in made], dtype=np.int32)
    wrong = np.array([day is None for day in made], dtype=bool)
    lengths = np.diff(np.append(heads, len(dates)))
    return np.repeat(numbers[place], lengths), np.repeat(wrong[place], lengths)
