"""Which columns of a table say when a reading was taken."""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from reconcile.read.layouts.cell_kinds import SAME_KIND, TIMES, Kind, LayoutError, kind_of
from reconcile.read.layouts.clock_column import ClockColumn, numbered
from reconcile.read.layouts.interval_names import is_hour, is_time, spaced, stamp_of
from reconcile.read.values.clock_cells import read_clock
from reconcile.read.values.stamp_offsets import OFFSET, SUMMER, is_summer, offset_seconds
from reconcile.records import dataclass

MOST_HOURS = 2
"""Columns of hours that a row may have: where an interval begins and where it ends."""
FEWEST_COUNTED = 20
"""Rows one after another in which a column without a telling name must count on (our choice)."""

_MIDNIGHT = re.compile(r"(?<!\d)(?:0?0:00(?::00)?|12:00(?::00)? ?am)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class TimeColumns:
    """Where the time of a row stands."""

    date: int
    """Column of dates, or of dates and times."""
    clock: int | None = None
    """Column of clock times or hours beside it."""
    end_date: int | None = None
    end_clock: int | None = None
    """Both: the same for the end of the interval, where both ends stand."""
    counts: Literal["epoch", "serial"] | None = None
    """``epoch`` where the column counts seconds since 1970 (or parts of them), ``serial`` where it counts days as a
    spreadsheet does."""
    stamps: Literal["start", "end"] | None = None
    """``start`` or ``end`` where the file says it."""
    offset: int | None = None
    """Column of the distance from UTC."""
    summer: int | None = None
    """Column that tells summer time."""

    @property
    def columns(self) -> tuple[int, ...]:
        """All of them."""
        every = (self.date, self.clock, self.end_date, self.end_clock)
        return tuple(at for at in every if at is not None)


def find_times(
    names: Sequence[str], columns: Sequence[Kind], rows: Sequence[Sequence[str]], date_at: int
) -> TimeColumns:
    """Find the columns of times.

    Parameters
    ----------
    columns : sequence of str
        Kind of each.
    rows : sequence of sequence of str
        A sample of the readings.
    date_at : int
        A column that holds dates.

    Raises
    ------
    LayoutError
        Where there are several and nothing tells which to take.
    """
    found = _dated(names, columns, rows, date_at)
    taken = found.columns
    offset = _named(OFFSET, names, taken)
    if offset is not None and not all(offset_seconds(cell) is not None for cell in _cells(rows, offset)):
        offset = None
    summer = _named(SUMMER, names, taken)
    if summer is not None and not all(is_summer(cell) is not None for cell in _cells(rows, summer)):
        summer = None
    return replace(found, offset=offset, summer=summer)


def _dated(names: Sequence[str], columns: Sequence[Kind], rows: Sequence[Sequence[str]], date_at: int) -> TimeColumns:
    clocks = [at for at, kind in enumerate(columns) if kind == "clock"]
    stamped = [at for at, kind in enumerate(columns) if kind == "datetime"]
    days = [at for at, kind in enumerate(columns) if kind == "date"]
    cells = [cell for at in stamped for cell in _cells(rows, at) if kind_of(cell) in TIMES]
    if stamped and all(map(_MIDNIGHT.search, cells)):  # a workbook writes the midnight of a day, and parts of it
        parts = any(columns[at] == "number" and _hours(name, "number", rows, at) for at, name in enumerate(names))
        days, stamped = (sorted([*days, *stamped]), []) if clocks or parts else (days, stamped)
    counts: Literal["epoch", "serial"] | None = None
    if columns[date_at] in ("epoch", "serial") or (not stamped and not days):
        counts = "serial" if columns[date_at] == "serial" else "epoch"
        counted = [at for at, kind in enumerate(columns) if kind == counts and (is_time(names[at]) or at == date_at)]
        if counts == "epoch" or not all(_whole(cell) for cell in _cells(rows, date_at)):
            start, end = _two(names, counted or [date_at], rows)
            return TimeColumns(start, end_date=end, counts=counts, stamps=_said(names, start, end))
        days, stamped = [date_at], []
    if stamped and not (days and clocks and days[0] < stamped[0]):
        start, end = _two(names, stamped, rows)
        if len(stamped) > 2:
            named = [at for at in stamped if stamp_of(names[at])]
            if len(named) not in (1, 2):
                raise LayoutError(
                    "there is more than one column of times",
                    "Keep one, with date and time in one cell, as 2025-03-07 14:00.",
                )
            start, end = _two(names, named, rows)
        return TimeColumns(start, end_date=end, stamps=_said(names, start, end))
    hours = [
        at
        for at in range(len(names))
        if columns[at] in ("number", "text") and at not in days and _hours(names[at], columns[at], rows, at)
    ]
    of_a_day = sum(map(is_hour, names)) > MOST_HOURS  # the columns of a day, some of which may look like clock times
    clocks = clocks or ([] if of_a_day or len(hours) > MOST_HOURS else hours)
    if not clocks and days:
        counting = (at for at in range(len(names)) if columns[at] == "number" and _counts_on(rows, days[0], at))
        clocks = [at for at in (next(counting, None),) if at is not None]
    if len(days) > 1 and not any(stamp_of(names[at]) for at in days) and any(names[at] for at in days):
        days.sort(key=lambda at: -len(set(_cells(rows, at))))  # a bill's date stands still, a reading's does not
    first, last = _two(names, days, rows)
    if not clocks:
        return TimeColumns(first, end_date=last, counts=counts, stamps=_said(names, first, last))
    opening, closing = _two(names, clocks, rows)
    if last is not None and closing is None:  # two dates and one clock: the second date is something else
        last = None
    stamps = _said(names, opening, closing) or ("end" if _ending(rows, opening) else None)
    return TimeColumns(first, opening, last, closing, counts=counts, stamps=stamps)


def _cells(rows: Sequence[Sequence[str]], at: int) -> list[str]:
    return [cells[at].strip() for cells in rows if at < len(cells) and cells[at].strip()]


def _whole(cell: str) -> bool:
    return re.fullmatch(r"\d+(?:[.,]0*)?", cell) is not None


def _named(pattern: re.Pattern[str], names: Sequence[str], taken: Sequence[int]) -> int | None:
    return next((at for at, name in enumerate(names) if at not in taken and pattern.search(spaced(name))), None)


def _said(names: Sequence[str], start: int, end: int | None) -> Literal["start", "end"] | None:
    return "start" if end is not None else stamp_of(names[start])


def _two(names: Sequence[str], places: Sequence[int], rows: Sequence[Sequence[str]]) -> tuple[int, int | None]:
    """Return the columns of the beginning and of the end of the intervals, by their names, else the first."""
    named = {stamp_of(names[at]): at for at in reversed(places)}
    if "start" in named and "end" in named:
        return named["start"], named["end"]
    if len(places) == 2 and not any(names[at] for at in places):
        return places[0], places[1]
    if len(places) > 1 and "end" in named:
        others = [at for at in places if at != named["end"]]
        return others[0], named["end"]
    if len(places) > 1 and "start" in named:
        return named["start"], next((at for at in places if at > named["start"]), None) if len(places) == 2 else None
    return places[0], None


def _hours(name: str, kind: Kind, rows: Sequence[Sequence[str]], at: int) -> bool:
    named = is_hour(name) or is_time(name)
    if not named and (
        kind == "number" or not any(row[at][:1] in ("h", "H") for row in rows if at < len(row))
    ):  # as HE01
        return False
    cells = _cells(rows, at)
    column = ClockColumn()
    column.add(np.array([cell.encode() for cell in cells] or [b""], dtype=np.bytes_))
    read = column.read()
    if not cells or np.count_nonzero(~read.bad) < SAME_KIND * len(cells):
        return False
    lettered = read.ending and not all(cell.isdigit() for cell in cells)
    return lettered or (named and len(set(cells)) > 1)


def _counts_on(rows: Sequence[Sequence[str]], day: int, at: int) -> bool:
    """Whether a column counts from 0 or 1 within every day, whatever its name."""
    if sum(row[at].isdigit() for row in rows[:3] if at < len(row)) == 0:  # most columns of a row a day
        return False
    pairs = [
        (before[day] == after[day], before[at], after[at])
        for before, after in itertools.pairwise(rows)
        if max(day, at) < min(len(before), len(after)) and before[at].isdigit() and after[at].isdigit()
    ]
    within = [int(b) - int(a) == 1 for same, a, b in pairs if same]
    anew = [int(b) for same, _, b in pairs if not same]
    counts = len(within) >= FEWEST_COUNTED and sum(within) >= 0.95 * len(within)
    return counts and all(number in (0, 1) for number in anew[:-1])


def _ending(rows: Sequence[Sequence[str]], at: int) -> bool:
    """Whether a column of hours counts them from 1, or says that they end."""
    cells = _cells(rows, at)
    if numbered(cells) is not None:
        return False
    clocks = [read_clock(cell) for cell in cells]
    hours = [clock.hour for clock in clocks if clock is not None and clock.hour is not None]
    return any(clock is not None and clock.ending for clock in clocks) or bool(hours and 0 not in hours and 24 in hours)
