"""Cells, rows, tables and sections of keys: what a file holds, each with its place, not yet judged."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import field, replace
from datetime import datetime
from functools import lru_cache
from typing import Any, Protocol, TypeAlias

from reconcile.read.values import dates, numbers
from reconcile.records import dataclass

Gate: TypeAlias = Any
"""The gate of :mod:`reconcile.read.tables.gate`, which stands on these cells: called here, never imported."""

NOTHING = frozenset(
    (
        *("-", "--", "\N{EN DASH}", "\N{EM DASH}", "n/a", "#n/a n/a", "n.a."),
        *("?", "??", "unknown", "tbd", "lost", "missing"),
    )
)
"""What people write into a cell that has nothing to say."""

CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ufffe\uffff]")


class Unworked(str):
    """A workbook's formula that no program has worked out yet; a text may begin with the same sign."""

    __slots__ = ()


@lru_cache(maxsize=4096)
def plain_name(name: str) -> str:
    """Return a name as it is matched: without case, spaces, underscores or hyphens.

    >>> plain_name("Read Type_start")
    'readtypestart'
    """
    return re.sub(r"[\s_\-]+", "", name).casefold()


def nearest(name: str, known: Sequence[str], cutoff: float = 0.6) -> str | None:
    """Return the known name most like ``name``, or None where none is alike.

    >>> nearest("kwhs", ["kwh", "start"])
    'kwh'
    """
    plain = {plain_name(k): k for k in known}
    close = difflib.get_close_matches(plain_name(name)[:60], list(plain), n=1, cutoff=cutoff)
    return plain[close[0]] if close else None


def or_list(names: Sequence[str]) -> str:
    """Return names as a list in English.

    >>> or_list(["a", "b", "c"])
    'a, b or c'
    """
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"


@dataclass(frozen=True, slots=True)
class Habits:
    """How the numbers and dates of one table are written, settled over all of it.

    ``order`` is None where no date needs it; ``unit`` is the one a column's header names.
    """

    order: dates.Order | None = None
    decimal: numbers.Decimal = "."
    unit: str | None = None


@lru_cache(maxsize=256)
def in_unit(habits: Habits, unit: str | None) -> Habits:
    """Return the habits of a column whose header names a unit."""
    return replace(habits, unit=unit)


@dataclass(slots=True)
class Cell:
    """One value and where it stands; ``value`` is None where the cell or its whole column is absent.

    ``value`` is text (CSV), or typed as the workbook or TOML gave it: str, int, float, bool, date, datetime,
    time, and from TOML also list and dict. Nobody changes one; it is not frozen because one is made at every look into
    a table, and freezing would double what that takes.
    """

    value: Any
    file: str
    column: str
    row: int | None = None
    sheet: str | None = None
    habits: Habits | None = None
    """How the table writes numbers and dates; None for a key of the settings, which has the plain form only."""

    @property
    def blank(self) -> bool:
        """Whether nothing stands there."""
        return self.value is None or (isinstance(self.value, str) and not self.value.strip())

    @property
    def read(self) -> str | None:
        """What stood there, as text short enough for a fault."""
        return None if self.value is None else shown(self.value)


def shown(value: Any) -> str:
    """Return a value as text short enough for a fault.

    >>> shown(12.0), shown("x" * 99)[-5:]
    ('12', 'xx...')
    """
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        text = str(int(value))
    elif isinstance(value, int) and not isinstance(value, bool) and value.bit_length() > 200:
        text = f"an integer of {value.bit_length()} bits"
    elif isinstance(value, datetime) and value.time() == datetime.min.time():
        text = value.date().isoformat()
    else:
        text = str(value)
    text = CONTROL.sub("\N{REPLACEMENT CHARACTER}", text.strip())
    return text if len(text) <= 60 else text[:57] + "..."


class Cells(Protocol):
    """A row of a sheet or a table of keys: a name gives its cell."""

    def __getitem__(self, key: str, /) -> Cell: ...


@dataclass(frozen=True, slots=True)
class Row:
    """One row of a table; ``row["kwh"]`` is its :class:`Cell`, blank where there is no such column."""

    table: Table
    number: int
    """Line of the text file or row of the sheet, from 1, the header included."""
    values: tuple[Any, ...]

    def value(self, column: str) -> Any:
        """Return what stands in a column: None where there is none, or where it has nothing to say."""
        index = self.table.header.get(plain_name(column))
        return None if index is None else self._said(index, column)

    def _said(self, index: int, column: str) -> Any:
        value = self.values[index] if index < len(self.values) else None
        if not isinstance(value, str) or value[:1].isdigit() or column in self.table.texts:
            return value
        return None if value.strip().casefold() in NOTHING else value

    def blank(self, column: str) -> bool:
        """Whether nothing stands in a column."""
        index = self.table.header.get(plain_name(column))
        value = None if index is None else self._said(index, column)
        return value is None or (isinstance(value, str) and not value.strip())

    def __getitem__(self, column: str) -> Cell:
        table, plain = self.table, plain_name(column)
        habits, index = table.habits, table.header.get(plain)
        if column in table.units:
            habits = in_unit(habits, table.units[column])
        if index is None:
            return Cell(None, table.file, column, self.number, table.sheet, habits)
        written = table.names[index] if index < len(table.names) else column
        name = column if written == column or plain_name(written) == plain else written
        return Cell(self._said(index, column), table.file, name, self.number, table.sheet, habits)

    def with_value(self, column: str, value: Any) -> Row:
        """Return the row with another value in a column that its table has."""
        index = self.table.header[plain_name(column)]
        values = [*self.values, *[None] * (index + 1 - len(self.values))]
        values[index] = value
        return Row(self.table, self.number, tuple(values))


@dataclass(slots=True)
class Relaid:
    """A grid that was no plain table, set upright, and what is to be told of it."""

    grid: Grid
    told: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    asked: bool = False
    """Whether a question was asked, and nothing can be read."""
    of_text: bool = False
    """Whether it was lines of text, copied as they stood."""
    problems: list[tuple[int, str, str | None]] = field(default_factory=list)
    """What is wrong with such lines, each with its line and what stands there."""


@dataclass(slots=True)
class Table:
    """A header and rows, from a CSV file or a sheet."""

    file: str
    sheet: str | None
    names: list[str]
    """Column names as written."""
    header: dict[str, int]
    """Matched form of the column's own name (:func:`plain_name`) to its index."""
    rows: list[Row] = field(default_factory=list)
    """Without blank rows."""
    header_row: int = 1
    """Line or row of the header, from 1."""
    units: dict[str, str] = field(default_factory=dict)
    """Units that headers name, by column."""
    habits: Habits = Habits()
    """How its numbers and dates are written."""
    texts: frozenset[str] = frozenset()
    """Columns of free text, in which a dash is a dash."""
    read_as: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    """Both: what was understood in another than the plain form, and what was left unread: for notices."""
    aside: list[Row] = field(default_factory=list)
    """Rows of text, of sums and of headings that are no data: what they tell of a danger is heard all the same."""
    examples: list[Row] = field(default_factory=list)
    """Rows of the starter that are marked as examples; they are not among ``rows``."""
    years: dict[int, int] = field(default_factory=dict)
    """Year of rows whose month has none, by their number: of a line above them, or of the months before."""
    above: tuple[str, ...] = ()
    """Texts that stand above the header."""
    of_lines: bool = False
    """Whether it was plain lines without a header."""

    def has(self, column: str) -> bool:
        """Whether the table has that column."""
        return plain_name(column) in self.header

    def add_column(self, column: str, values: Mapping[int, Any]) -> None:
        """Give the table a column more, its values by the numbers of their rows."""
        index = max([len(self.names), *(len(row.values) for row in self.rows)])
        self.names.extend([""] * (index - len(self.names)) + [column])
        self.header[plain_name(column)] = index
        self.rows[:] = [
            Row(self, row.number, (*row.values, *[None] * (index - len(row.values)), values.get(row.number)))
            for row in self.rows
        ]

    def fill(self, column: str, values: Mapping[int, Any]) -> None:
        """Put values into a column by the numbers of their rows; a column that is not there is added."""
        if not self.has(column):
            self.add_column(column, values)
            return
        self.rows[:] = [
            row.with_value(column, values[row.number]) if row.number in values else row for row in self.rows
        ]

    @property
    def unread(self) -> list[str]:
        """Names of the columns that were not understood."""
        return [line.removeprefix("the column ") for line in self.left if line.startswith("the column ")]

    def now_read(self, *names: str) -> None:
        """Take columns off those that are told as not read."""
        self.left = [line for line in self.left if line not in {f"the column {name}" for name in names}]

    def take(self, index: int, column: str) -> None:
        """Take a column that was not understood for a known one."""
        self.header[plain_name(column)] = index
        self.now_read(self.names[index])
        self.read_as.append(f"{column} is the column {self.names[index]}")

    def rename(self, column: str, other: str) -> None:
        """Take a known column for another one than its name says."""
        self.header[plain_name(other)] = self.header.pop(plain_name(column))
        self.read_as = [line.replace(f"{column} is", f"{other} is", 1) for line in self.read_as]

    def strays(self, harmless: Callable[[int], bool] = lambda index: False) -> list[tuple[int, int, Any]]:
        """Return what stands in columns without a name: its row, its column, and the value."""
        nameless = [index for index, name in enumerate(self.names) if not name and not harmless(index)]
        return [
            (row.number, index, row.values[index])
            for row in self.rows
            for index in (*nameless, *range(len(self.names), len(row.values)))
            if index < len(row.values) and not Cell(row.values[index], "", "").blank
        ]

    def tell_strays(self, found: Sequence[tuple[int, int, Any]], header: str, gate: Gate) -> None:
        """Record a fault for each."""
        for number, index, value in found:
            gate.fault_in(
                self,
                "a value stands in a column without a name",
                f"Name the column in {header}, or put text that holds commas in quotes.",
                row=number,
                column=f"number {index + 1}",
                read=shown(value),
            )

    @property
    def place(self) -> str:
        """Where it stands, for a notice."""
        return self.file if self.sheet is None else f"{self.file}, sheet {self.sheet}"


@dataclass(slots=True)
class Grid:
    """The cells of a CSV file or a sheet as they stand, before a header is looked for.

    ``rows`` holds (line or row number from 1, values); wholly empty rows are left out.
    """

    file: str
    sheet: str | None = None
    rows: list[tuple[int, Sequence[Any]]] = field(default_factory=list)
    merged: list[tuple[int, int, str]] = field(default_factory=list)
    """First and last row of merged cells, and their name."""
    text: str = ""
    """The text it was cut from, where that is short: lines that are no table are read as they stood."""

    def table(self, gate: Gate) -> Table | None:
        """Return the grid as a table under its first row; None (and a fault) where it is empty."""
        if not self.rows:
            gate.fault_in(self, "there is nothing in it", "Fill it or take it away.")
            return None
        header_row, cells = self.rows[0]
        names = ["" if value is None else shown(value) for value in cells]
        table = Table(self.file, self.sheet, names, {}, header_row=header_row)
        for index, name in enumerate(names):
            if name and table.header.setdefault(plain_name(name), index) != index:
                gate.fault_in(self, f"the column {name} stands twice", "Keep one of the two.", row=header_row)
        table.rows = [Row(table, number, tuple(values)) for number, values in self.rows[1:]]
        table.tell_strays(table.strays(), "the first row", gate)
        return table


@dataclass(frozen=True, slots=True)
class Section:
    """A table of TOML keys and where it stands; ``section["digits"]`` is its :class:`Cell`.

    The column of a fault is the whole path, from 1: ``meter.digits``, ``tariff[2].charge[1].per_kwh``.
    """

    values: Mapping[str, Any]
    file: str
    path: str = ""
    sheet: str | None = None
    rows: Mapping[str, int] = field(default_factory=dict)
    """Path to its line of the file or row of the sheet, where known."""

    def __getitem__(self, key: str) -> Cell:
        path = self._path(key)
        return Cell(self.values.get(key), self.file, path, self._row(path), self.sheet)

    def __contains__(self, key: object) -> bool:
        return key in self.values

    def __iter__(self) -> Iterator[str]:
        return iter(self.values)

    def _path(self, key: str) -> str:
        return f"{self.path}.{key}" if self.path else key

    def _row(self, path: str) -> int | None:
        while self.rows and path and path not in self.rows:
            path = path[: max(path.rfind("."), path.rfind("["), 0)]
        return self.rows.get(path)

    @property
    def cell(self) -> Cell:
        """The section itself as a cell, for faults about the whole of it."""
        return Cell(None, self.file, self.path, self._row(self.path), self.sheet)

    def section(self, key: str, gate: Gate) -> Section:
        """Return the sub-table ``[key]``, empty where absent."""
        value = self.values.get(key, {})
        if not isinstance(value, Mapping):
            gate.wrong(self[key], "this is a table of keys, not one value", f"Write it as [{self._path(key)}].")
            value = {}
        return replace(self, values=value, path=self._path(key))

    def sections(self, key: str, gate: Gate) -> list[Section]:
        """Return the tables ``[[key]]``; a single ``[key]`` counts as a list of one."""
        value = self.values.get(key, [])
        if isinstance(value, Mapping):
            return [replace(self, values=value, path=self._path(key))]
        if not isinstance(value, list) or not all(isinstance(item, Mapping) for item in value):
            gate.wrong(self[key], "this is a list of tables", f"Write each as [[{self._path(key)}]].")
            return []
        return [replace(self, values=item, path=f"{self._path(key)}[{n}]") for n, item in enumerate(value, start=1)]
