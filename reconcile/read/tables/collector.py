"""One collector of everything that is wrong with a house's files, each remedy in the words of the form that is used."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Literal, Protocol, Self

from reconcile.errors import Fault, InputError
from reconcile.read.tables.cells import Cell, Section, Table, nearest, or_list, plain_name, shown
from reconcile.read.values import numbers

if TYPE_CHECKING:
    from reconcile.read.tables.columns import Columns
    from reconcile.read.values.dates import Order


import re

MOST_ALIKE = 20
"""Faults of one kind in one column that are listed before the rest are only counted (common practice)."""
FEWEST_TOGETHER = 3
"""Rows with the same fault from which it is told once, with the rows (our choice)."""


LIKE_ANOTHER = 0.8
"""Likeness of two names from which one is taken for a slip of the other, since it would move the answer: one letter in
five (our own judgement)."""


class Place(Protocol):
    """What stands in a file: a table, a sheet, a cell."""

    @property
    def file(self) -> str:
        """Its file."""

    @property
    def sheet(self) -> str | None:
        """Its sheet, where the file is a workbook."""


class Collector:
    """Collects every fault and notice of one reading."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []
        self.notices: list[str] = []
        self.date_format: str | None = None
        """``[bills] date_format``, as ``DD/MM/YYYY``; set by the settings before any table is read."""
        self.settings_in: Literal["file", "sheet", "arguments"] = "file"
        """Where the settings stand, for questions."""
        self.bills_needed = True
        """Whether a house without bills is a fault."""
        self.number_format: numbers.Decimal | None = None
        """The decimal sign by ``[bills] number_format``."""
        self.currencies: dict[str, Cell] = {}
        """Signs of money met in tables, small, each with its first cell."""
        self.bills_order: Order | None = None
        """Order of day and month that the bills show, for tables that do not show their own."""
        self.bare_days = False
        """Whether ``Dec 14`` was plainly a day in a table of bills, for tables too short to show it."""
        self.said_on_site: list[tuple[str, str]] = []
        """Notes beside readings on site, each with its place."""
        self.signs_on_site: set[str] = set()
        """Signs of danger told with readings on site, under their own names."""
        self._alike: Counter[tuple[str, str | None, str | None, str]] = Counter()
        self._orders: dict[tuple[str, str | None], str] = {}

    def fault(
        self,
        problem: str,
        remedy: str,
        *,
        file: str,
        sheet: str | None = None,
        row: int | str | None = None,
        column: str | None = None,
        read: str | None = None,
    ) -> None:
        """Record a fault: ``problem`` is a clause without a full stop, ``remedy`` a sentence."""
        remedy = where_written(remedy, self.settings_in)
        key = (file, sheet, column, problem)
        self._alike[key] += 1
        if self._alike[key] <= MOST_ALIKE:
            self.faults.append(Fault(file, problem, remedy, sheet, row, column, read))

    @property
    def recorded(self) -> int:
        """How many faults were recorded, those that are only counted too."""
        return self._alike.total()

    def aside(self) -> Self:
        """Return a gate of the same habits, whose faults do not count yet."""
        made = type(self)()
        made.date_format, made.number_format = self.date_format, self.number_format
        return made

    def take(self, other: Collector) -> None:
        """Take the faults of a gate that stood aside."""
        for fault in other.faults:
            self.fault_in(fault, fault.problem, fault.remedy, row=fault.row, column=fault.column, read=fault.read)
        for key, count in other._alike.items():
            self._alike[key] += max(count - MOST_ALIKE, 0)

    def fault_in(
        self,
        place: Place,
        problem: str,
        remedy: str,
        *,
        row: int | str | None = None,
        column: str | None = None,
        read: str | None = None,
    ) -> None:
        """Record a fault of a table, or of whatever else stands in a file."""
        self.fault(problem, remedy, file=place.file, sheet=place.sheet, row=row, column=column, read=read)

    def wrong(self, cell: Cell, problem: str, remedy: str) -> None:
        """Record a fault of one cell."""
        self.fault_in(cell, problem, remedy, row=cell.row, column=cell.column, read=cell.read)

    def notice(self, text: str) -> None:
        """Record a plain sentence about what was taken for granted, once."""
        if text not in self.notices:
            self.notices.append(text)

    def raise_if_any(self) -> None:
        """Raise InputError with all faults, where there is one; the same fault of several rows is told once."""
        if not self.faults:
            return
        alike: dict[tuple[str | None, ...], list[Fault]] = {}
        for n, fault in enumerate(self.faults):
            own = str(n) if fault.row is None else None
            alike.setdefault((fault.file, fault.sheet, fault.column, fault.problem, fault.remedy, own), []).append(
                fault
            )
        told: list[Fault] = []
        for group in alike.values():
            first = group[0]
            if len(group) < FEWEST_TOGETHER:
                told += group
                continue
            rows = tuple(dict.fromkeys(fault.row for fault in group[1:] if fault.row not in (None, first.row)))
            over = self._alike[first.file, first.sheet, first.column, first.problem] - MOST_ALIKE
            more = max(over, 0) if len(group) >= MOST_ALIKE else 0
            told.append(replace(first, also_in=rows, more=more))
        raise InputError(told)

    def columns(self, table: Table, known: Sequence[str], needed: Sequence[str] = ()) -> bool:
        """Check the header: unknown and missing columns are faults; True where every needed one is there."""
        plain = {plain_name(k) for k in known}
        for name in table.names:
            if name and plain_name(name) not in plain:
                self._unknown("column", name, known, table.file, table.sheet, table.header_row, name)
        missing = [name for name in needed if not table.has(name)]
        for name in missing:
            self.fault_in(table, f"the column {name} is missing", f"Add a column headed {name}.", row=table.header_row)
        return not missing

    def readable(self, table: Table, spec: Columns) -> bool:
        """Check that no column is missing that the declared table needs, and that its rows are not too many.

        A column that is not known may be the one that is meant.
        """
        missing = [column.name for column in spec if column.needed and not table.has(column.name)]
        for name in missing:
            guess = f" Is it {or_list(table.unread[:6])}? Then head that {name}." if table.unread else ""
            self.fault_in(
                table, f"the column {name} is missing", f"Add a column headed {name}.{guess}", row=table.header_row
            )
        too_many = not missing and len(table.rows) > spec.most_rows
        if too_many:
            self.fault_in(table, f"there are more than {spec.most_rows} {spec.row_is}s", spec.if_more)
        return not missing and not too_many

    def listed_load(self, cell: Cell, name: str, loads: Sequence[str]) -> str | None:
        """Return a load's name as the list has it; None where it is not there, with a fault where it nearly is."""
        found = {plain_name(load): load for load in loads}.get(plain_name(name))
        if found is not None:
            return found
        if any("loads" in (fault.sheet, fault.file.partition(".")[0]) for fault in self.faults):
            return None  # the list itself is not whole yet
        near = nearest(name, loads, LIKE_ANOTHER)
        if near is not None:
            remedy = f"Did you mean {near}? Write it as it stands there."
            self.wrong(replace(cell, value=name), "this name is not in the list of loads", remedy)
        return None

    def keys(self, section: Section, known: Sequence[str]) -> None:
        """Check that a section has no unknown key."""
        for key in section:
            if key not in known:
                cell = section[key]
                self._unknown("key", key, known, cell.file, cell.sheet, cell.row, cell.column)

    def _unknown(
        self,
        what: str,
        name: str,
        known: Sequence[str],
        file: str,
        sheet: str | None,
        row: int | None,
        column: str,
    ) -> None:
        near = nearest(name, known)
        guess = f"Did you mean {near}?" if near else f"Known here: {', '.join(known)}."
        self.fault(
            f"the {what} {shown(name)} is not known",
            f"{guess} Rename it or take it out.",
            file=file,
            sheet=sheet,
            row=row,
            column=shown(column),
        )

    def ask(self, key: str, answers: Sequence[str], table: Table) -> str:
        """Return where to write the answer to a question, for a remedy."""
        either = or_list([f'{key} = "{answer}"' for answer in answers])
        if self.settings_in == "sheet":
            cells = or_list([f'"{answer}"' for answer in answers])
            return (
                f"Write bills.{key} in the first column of the sheet house (add the sheet if there is none) "
                f"and {cells} in the second."
            )
        if self.settings_in == "arguments":
            return f"Give {either} beside the frame."
        return (
            f"In house.toml (a new file beside {table.file} if there is none) write a line [bills] "
            f"and under it {either}."
        )


_KEY = re.compile(
    r'(?P<set>[Ss]et |[Ww]rite )?(?P<key>[a-z_]+)(?: = (?P<value>"[^"]*"|true|[\d.]+))?'
    r'(?: \(or (?P<or>"[^"]*")\))? under \[(?P<table>[a-z]+)\](?: \(or (?P<or2>"[^"]*")\))?(?: in house\.toml)?'
)

_TABLE = re.compile(r"Write (?:it|each) as (?P<open>\[{1,2})(?P<path>[a-z_]+)\]{1,2}\.")

_SERIES = {
    "unit": "unit: Interval.from_series(..., unit='Wh')",
    "channel": "give the one column that is the house's",
    "stamps": "give the times at which intervals begin",
    "timezone": "localize the index",
}
"""What of a series of pandas stands in place of a key of ``[interval]``."""


def where_written(remedy: str, settings_in: Literal["file", "sheet", "arguments"]) -> str:
    """Return a remedy that names a key of the settings file in the words of a workbook, or of Python.

    Parameters
    ----------
    remedy : str
        As it is said of the file.
    settings_in : {'file', 'sheet', 'arguments'}

    Examples
    --------
    >>> where_written('Set temperature_unit = "F" under [house].', "sheet")
    'On the sheet house, in the row house.temperature_unit, write F.'
    >>> where_written('Set temperature_unit = "F" under [house] (or "C").', "arguments")
    'Give temperature_unit="F" (or "C").'
    >>> where_written("A larger service is told by service_amps under [house].", "sheet")
    'A larger service is told by house.service_amps on the sheet house.'
    >>> where_written("Write each as [[meter]].", "arguments"), where_written("Write it as [band].", "arguments")
    ('Give a list of dicts: meter=[{...}].', 'Give a dict: band={...}.')
    """
    if settings_in == "arguments":
        remedy = _TABLE.sub(_given, remedy)
    if settings_in == "file" or " under [" not in remedy:
        return remedy
    return _KEY.sub(lambda found: _said(found, settings_in), remedy)


def _given(found: re.Match[str]) -> str:
    several = found["open"] == "[["
    return f"Give {'a list of dicts' if several else 'a dict'}: {found['path']}={'[{...}]' if several else '{...}'}."


def _said(found: re.Match[str], settings_in: str) -> str:
    key, table, value, verb = found["key"], found["table"], found["value"], found["set"] or ""
    other = found["or"] or found["or2"]
    capital = verb[:1].isupper()
    if settings_in == "arguments" and table == "interval":
        return _SERIES[key]
    if settings_in == "arguments":
        given = key if table in ("house", "bills") else f"{table}={{'{key}': ...}}"
        if value is not None and table in ("house", "bills"):
            given = f"{key}={'True' if value == 'true' else value}"
        verb = ("Give " if capital else "give ") if verb else ""
        return f"{verb}{given}" + (f" (or {other})" if other else "")
    if not verb:
        return f"{table}.{key} on the sheet house"
    place = f"{'On' if capital else 'on'} the sheet house, in the row {table}.{key}, write "
    plain = value.strip('"') if value is not None else "its value"
    return place + plain + (f" (or {other.strip(chr(34))})" if other else "")
