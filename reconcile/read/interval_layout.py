"""The layout of a table of interval data: where its header is, which columns hold times and which values."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from reconcile.read.clock_cells import read_clock
from reconcile.read.interval_names import (
    Flow,
    Unit,
    flow_of,
    is_hour,
    is_quality,
    is_time,
    not_energy,
    phase_of,
    spaced,
    stamp_of,
    unit_of,
)
from reconcile.read.number_cells import BLANKS, Marks, as_float
from reconcile.read.raw_tables import NumberedRow, RawTable
from reconcile.read.time_cells import DATE_CELL

Kind = Literal["datetime", "date", "epoch", "clock", "number", "blank", "text"]

EPOCH_SECONDS = (631_152_000, 4_102_444_800)
"""1990 to 2100 as seconds since 1970 [s]."""
SAME_KIND = 0.8
"""Share of the cells of a column that must be of a kind for the column to be of it (our choice)."""
WIDE_COUNTS = (23, 24, 25, 46, 47, 48, 49, 50, 92, 95, 96, 97, 100, 288)
"""Columns of values in a table with a row a day."""
FEWEST_WIDE = 20
SAMPLE = 60
"""Rows from which the kind of a column is told; the whole column is read all the same."""
MOST_HEADER_WORDS = 12

_EVERY_MARK = (Marks(), Marks(",", "."), Marks(".", ","))
_EPOCH = re.compile(r"\d{10}(?:\d{3})?(?:\.0+)?", re.ASCII)
_NUMBER_OF = re.compile(r"(\d{1,3})\D*$", re.ASCII)


@dataclass(frozen=True, slots=True)
class TimeColumns:
    """Where the time of a row stands.

    Attributes
    ----------
    date : int
        Column of dates, or of dates and times.
    clock : int or None
        Column of clock times or hours beside it.
    end_date, end_clock : int or None
        The same for the end of the interval, where both ends stand.
    epoch : bool
        Whether the column counts seconds or milliseconds since 1970.
    stamps : str or None
        ``start`` or ``end`` where the file says it.
    """

    date: int
    clock: int | None = None
    end_date: int | None = None
    end_clock: int | None = None
    epoch: bool = False
    stamps: Literal["start", "end"] | None = None

    @property
    def columns(self) -> tuple[int, ...]:
        """All of them."""
        every = (self.date, self.clock, self.end_date, self.end_clock)
        return tuple(at for at in every if at is not None)


@dataclass(frozen=True, slots=True)
class Values:
    """A column of values and what its name says of it."""

    column: int
    name: str
    unit: Unit | None
    flow: Flow | None
    phase: str | None


@dataclass(slots=True)
class Layout:
    """A table's layout.

    Attributes
    ----------
    after : int
        Row after which the readings begin.
    header : int or None
        Row of the names.
    names : list of str
    times : TimeColumns
    values : list of Values
        Columns that may hold energy or power, in the order of the file.
    wide : list of int
        Columns of a table with a row a day, in the order of the hours; empty where a row is an interval.
    total : int or None
        Column with the sum of each such row.
    quality, channel, unit : int or None
        Columns of text that say how good a reading is, which register it is of, and its unit.
    groups : list of int
        Columns of text with few words, any of which may name the register.
    preamble_unit : Unit or None
        The one unit that the lines above the table speak of.
    """

    after: int
    header: int | None
    names: list[str]
    times: TimeColumns
    values: list[Values] = field(default_factory=list)
    wide: list[int] = field(default_factory=list)
    total: int | None = None
    quality: int | None = None
    unit: int | None = None
    groups: list[int] = field(default_factory=list)
    preamble_unit: Unit | None = None


class LayoutError(ValueError):
    """A table that cannot be read as it stands: the problem, the one question, and the row."""

    def __init__(self, problem: str, remedy: str, row: int | None = None) -> None:
        super().__init__(problem)
        self.problem, self.remedy, self.row = problem, remedy, row


@lru_cache(maxsize=8192)
def kind_of(cell: str) -> Kind:
    """Return what a cell looks like.

    Examples
    --------
    >>> [kind_of(cell) for cell in ("1/7/2025", "1/7/2025 1 AM", "13:00", "0,5", "n/a", "total", "1735689600")]
    ['date', 'datetime', 'clock', 'number', 'blank', 'text', 'epoch']
    """
    cell = cell.strip()
    if cell.casefold() in BLANKS:
        return "blank"
    if len(cell) > 60:
        return "text"
    if _EPOCH.fullmatch(cell) and _epoch_like(cell):
        return "epoch"
    found = DATE_CELL.fullmatch(cell)
    if found and not re.fullmatch(r"\d{1,7}[.]\d+", cell):
        return "datetime" if any(found[name] for name in ("H", "H2", "H3", "H4")) else "date"
    if any(as_float(cell, marks) is not None for marks in _EVERY_MARK):
        return "number"
    if re.search(r"\d:\d\d|\d ?[ap]\.?m", cell, re.IGNORECASE) and read_clock(cell):
        return "clock"
    return "text"


def _epoch_like(cell: str) -> bool:
    value = float(cell)
    return EPOCH_SECONDS[0] <= (value / 1000 if value > 1e12 else value) <= EPOCH_SECONDS[1]


_TIMES: tuple[Kind, ...] = ("datetime", "date", "epoch")


def find_layout(table: RawTable) -> Layout:
    """Find a table's header and what its columns hold.

    Parameters
    ----------
    table : RawTable

    Returns
    -------
    Layout

    Raises
    ------
    LayoutError
        With the question to ask.
    """
    widest = max((len(cells) for _, cells in table.head), default=0)
    blank: list[Kind] = ["blank"] * widest
    kinds = [(number, [*map(kind_of, cells), *blank[len(cells) :]]) for number, cells in table.head]
    first, date_at = _first_row(kinds)
    body = table.head[first:]
    shown = [cells for _, cells in (*body[:SAMPLE], *(row for row in table.tail if row[0] > body[-1][0]))]
    usual = Counter(len(cells) for cells in shown).most_common(1)[0][0]
    width = max(usual, len(table.head[first - 1][1]) if first else 0)
    names, header = _names(table.head[:first], width)
    columns = [_column_kind(shown, at) for at in range(width)]
    layout = Layout(body[0][0] - 1, header, names, _times(names, columns, shown, date_at))
    taken = set(layout.times.columns)
    layout.preamble_unit = _preamble_unit(table.head[:first], header)
    for at in range(width):
        if at in taken:
            continue
        if columns[at] == "text" and unit_of(names[at]) is None:
            _text_column(layout, at, shown)
        elif columns[at] in ("number", "epoch", "blank", "text") and (names[at] or columns[at] != "blank"):
            name = names[at] or f"number {at + 1}"
            layout.values.append(Values(at, name, unit_of(name), flow_of(name), phase_of(name)))
    _wide(layout)
    if not layout.wide:
        full = [value for value in layout.values if columns[value.column] != "blank"]
        layout.values = full or layout.values
        plain = [value for value in layout.values if not not_energy(value.name)]
        layout.values = plain or layout.values
        if not layout.values:
            raise LayoutError("there is no column of values", "Add a column kwh.", header)
    return layout


def _first_row(kinds: Sequence[tuple[int, list[Kind]]]) -> tuple[int, int]:
    """Return the index of the first reading and its column of dates."""
    places = Counter(next((at for at, kind in enumerate(row) if kind in _TIMES), -1) for _, row in kinds)
    places.pop(-1, None)
    for date_at, _ in places.most_common(3):
        for i, (_, row) in enumerate(kinds):
            if _is_reading(row, date_at) and (i + 1 == len(kinds) or kinds[i + 1][1][date_at] in _TIMES):
                return i, date_at
        for i, (_, row) in enumerate(kinds):  # every other row is broken: its faults come out one by one
            if _is_reading(row, date_at):
                return i, date_at
        for i, (_, row) in enumerate(kinds):  # no number in any row: the faults come out cell by cell
            if i > 0 and len(row) > 1 and date_at < len(row) and row[date_at] in _TIMES:
                return i, date_at
    row_of_dates = next((number for number, row in kinds if sum(kind in _TIMES for kind in row) > 3), None)
    if row_of_dates is not None:
        raise LayoutError(
            "its days stand side by side, one a column",
            "Turn the table so that each day or interval is a row.",
            row_of_dates,
        )
    raise LayoutError(
        "no column of times is in it",
        "Write time,kwh in the first row, and one interval a row below.",
        kinds[0][0] if kinds else None,
    )


def _is_reading(row: Sequence[Kind], date_at: int) -> bool:
    others = [kind for at, kind in enumerate(row) if at != date_at]
    return date_at < len(row) and row[date_at] in _TIMES and bool(others) and ("number" in others or "blank" in others)


def _names(above: Sequence[NumberedRow], width: int) -> tuple[list[str], int | None]:
    """Return the names of the columns and their row: the last row of words above the readings."""
    if not above:
        return [""] * width, None
    number, cells = above[-1]
    words = [cell for cell in cells if cell.strip()]
    if len(words) < 2 or any(kind_of(cell) in ("datetime", "date") for cell in words[:1]):
        return [""] * width, None
    names = [*cells, *[""] * width][:width]
    if len(above) > 1 and all(unit_of(word) or kind_of(word) in ("clock", "number") for word in words):
        upper = [*above[-2][1], *[""] * width][:width]  # a row of units under the names
        if sum(bool(cell) for cell in upper) >= 2:
            names = [f"{up} {low}".strip() for up, low in zip(upper, names, strict=True)]
    return [name.strip() for name in names], number


def _column_kind(rows: Sequence[Sequence[str]], at: int) -> Kind:
    counts = Counter(kind_of(cells[at]) if at < len(cells) else "blank" for cells in rows)
    blanks = counts.pop("blank", 0)
    if not counts:
        return "blank"
    full = len(rows) - blanks
    if counts["datetime"] and counts["datetime"] + counts["date"] >= SAME_KIND * full:
        return "datetime"
    kind, count = counts.most_common(1)[0]
    if counts["number"] and counts["number"] + counts["epoch"] >= 0.5 * full:
        return "number"
    return kind if count >= SAME_KIND * full else "text"


def _times(names: Sequence[str], columns: Sequence[Kind], rows: Sequence[Sequence[str]], date_at: int) -> TimeColumns:
    stamped = [at for at, kind in enumerate(columns) if kind == "datetime"]
    days = [at for at, kind in enumerate(columns) if kind == "date"]
    clocks = [at for at, kind in enumerate(columns) if kind == "clock"]
    if columns[date_at] == "epoch" or (not stamped and not days):
        epochs = [at for at, kind in enumerate(columns) if kind == "epoch" and (is_time(names[at]) or at == date_at)]
        start, end = _two(names, epochs or [date_at], rows)
        return TimeColumns(start, end_date=end, epoch=True, stamps=_said(names, start, end))
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
    hours = [at for at in range(len(names)) if columns[at] in ("number", "text") and _hours(names[at], rows, at)]
    clocks = clocks or hours
    first, last = _two(names, days, rows)
    if not clocks:
        return TimeColumns(first, end_date=last, stamps=_said(names, first, last))
    opening, closing = _two(names, clocks, rows)
    if last is not None and closing is None:  # two dates and one clock: the second date is something else
        last = None
    stamps = _said(names, opening, closing) or ("end" if _ending(names[opening], rows, opening) else None)
    return TimeColumns(first, opening, last, closing, stamps=stamps)


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


def _hours(name: str, rows: Sequence[Sequence[str]], at: int) -> bool:
    cells = [cells[at] for cells in rows if at < len(cells) and cells[at].strip()]
    clocks = [read_clock(cell) for cell in cells]
    able = [clock for clock in clocks if clock is not None]
    if not able or len(able) < SAME_KIND * len(cells):
        return False
    lettered = any(clock.ending for clock in able)
    return lettered or ((is_hour(name) or is_time(name)) and len({clock[:2] for clock in able}) > 1)


def _ending(name: str, rows: Sequence[Sequence[str]], at: int) -> bool:
    """Whether a column of hours counts them from 1, or says that they end."""
    clocks = [read_clock(cells[at]) for cells in rows if at < len(cells)]
    hours = [clock.hour for clock in clocks if clock is not None and clock.hour is not None]
    return any(clock is not None and clock.ending for clock in clocks) or bool(hours and 0 not in hours and 24 in hours)


def _text_column(layout: Layout, at: int, rows: Sequence[Sequence[str]]) -> None:
    words = {cells[at].strip() for cells in rows if at < len(cells) and cells[at].strip()}
    if words and all(unit_of(word) for word in words):
        layout.unit = at
        if len(words) > 1:
            layout.groups.append(at)
    elif is_quality(layout.names[at]):
        layout.quality = at
    elif 1 <= len(words) <= MOST_HEADER_WORDS:
        layout.groups.append(at)


def _preamble_unit(above: Sequence[NumberedRow], header: int | None) -> Unit | None:
    cells = [cell for number, row in above if number != header for cell in row]
    told = {unit for cell in cells if (unit := unit_of(cell)) is not None and len(cell) <= 60}
    return next(iter(told)) if len(told) == 1 else None


def _wide(layout: Layout) -> None:
    """Recognise a table with a row a day and a column an interval."""
    if layout.times.clock is not None or layout.times.epoch or len(layout.values) < FEWEST_WIDE:
        return
    totals = [v for v in layout.values if re.search(r"total|sum(?:me)?\b|daily", spaced(v.name), re.IGNORECASE)]
    columns = [v for v in layout.values if v not in totals and place_of(v.name) is not None]
    if len(columns) not in WIDE_COUNTS:
        unnamed = [v for v in layout.values if v.name.startswith("number ")]
        columns = unnamed if len(unnamed) in WIDE_COUNTS and len(unnamed) == len(layout.values) else columns
    if len(columns) not in WIDE_COUNTS:
        raise LayoutError(
            f"its rows are days with {len(columns)} columns of values, which do not divide a day",
            "Keep one column for each hour or quarter of an hour (24, 48 or 96), or write one row an interval.",
            layout.header,
        )
    layout.wide = [v.column for v in columns]
    layout.total = totals[0].column if len(totals) == 1 else None


def place_of(name: str) -> int | None:
    """Return the number or the minute that a column of hours names; None where it names none."""
    stripped = re.sub(r"\bk?wh?\b|[()\[\]]", " ", spaced(name), flags=re.IGNORECASE).strip()
    clock = read_clock(stripped)
    if clock is not None:
        return clock.second // 60 if clock.second is not None else clock.hour
    found = re.search(r"\d{1,2}:\d{2}(?: ?[ap]m)?", stripped, re.IGNORECASE)
    if found and (clock := read_clock(found[0])) is not None and clock.second is not None:
        return clock.second // 60
    number = _NUMBER_OF.search(stripped)
    return int(number[1]) if number else None
