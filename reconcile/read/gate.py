"""The gate every file of a user passes: one collector of everything that is wrong, and the readers of cells.

A reader is a function ``read_x(table_or_section, gate) -> typed objects``. It takes :class:`Cell` values out
of a :class:`Row` (tables) or a :class:`Section` (TOML keys) by their name and asks the gate to read them; the
gate records a :class:`~reconcile.errors.Fault` and returns ``None`` (or the default) where it cannot, so a
reader goes on to the next cell and all faults come out together. Readers say what they took for granted
through :meth:`Gate.notice`.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import TypedDict, TypeVar, Unpack, overload

from reconcile.errors import Fault, InputError, UnitError
from reconcile.read import dates
from reconcile.read.cells import CONTROL, Cell, Row, Section, Table, nearest, or_list, plain_name, shown

__all__ = ["Cell", "Gate", "Limits", "Row", "Section", "Table", "nearest", "or_list", "plain_name", "shown"]

T = TypeVar("T", bound=str)

MOST_ALIKE = 20
"""Faults of one kind in one column that are listed before the rest are only counted (common practice)."""
LONGEST_TEXT = 2000
"""Characters a text cell may hold; longer ones are a file gone wrong (common practice)."""
LONGEST_NUMBER = 200
"""Characters of a number, with its unit; longer ones are a sentence."""
LARGEST_MONEY = Decimal(10) ** 12

FORMULA_ERRORS = ("#REF!", "#DIV/0!", "#VALUE!", "#NAME?", "#N/A", "#NUM!", "#NULL!", "#SPILL!", "#CALC!")

_QUOTED = re.compile(r"""^(["']).*?\1 """)
"""The quantity at the head of a UnitError: a fault shows what was read by itself."""
_PLAIN = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,4})?", re.ASCII)
_COMMA = re.compile(r"[+-]?[\d.,' ]*\d,\d[\d.,' ]*", re.ASCII)
_YES = ("true", "yes", "y", "1")
_NO = ("false", "no", "n", "0")


class Limits(TypedDict, total=False):
    """What a number must keep to: ``low`` and ``high`` are allowed themselves, ``above`` is not."""

    low: float
    high: float
    above: float
    whole: bool
    unit: str
    needed: bool


class Gate:
    """Collects every fault and notice of one reading, and reads cells."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []
        self.notices: list[str] = []
        self.date_format: str | None = None
        """``[bills] date_format``, as ``DD/MM/YYYY``; set by the settings before any table is read."""
        self._alike: Counter[tuple[str, str | None, str | None, str]] = Counter()
        self._orders: dict[tuple[str, str | None], str] = {}

    def fault(
        self,
        problem: str,
        remedy: str,
        *,
        file: str,
        sheet: str | None = None,
        row: int | None = None,
        column: str | None = None,
        read: str | None = None,
    ) -> None:
        """Record a fault: ``problem`` is a clause without a full stop, ``remedy`` a sentence."""
        key = (file, sheet, column, problem)
        self._alike[key] += 1
        if self._alike[key] <= MOST_ALIKE:
            self.faults.append(Fault(file, problem, remedy, sheet, row, column, read))

    def wrong(self, cell: Cell, problem: str, remedy: str) -> None:
        """Record a fault of one cell."""
        self.fault(
            problem,
            remedy,
            file=cell.file,
            sheet=cell.sheet,
            row=cell.row,
            column=cell.column,
            read=cell.read,
        )

    def notice(self, text: str) -> None:
        """Record a plain sentence about what was taken for granted, once."""
        if text not in self.notices:
            self.notices.append(text)

    def raise_if_any(self) -> None:
        """Raise InputError with all faults, where there is one."""
        if not self.faults:
            return
        more = [
            Fault(file, f"{problem}: {count - MOST_ALIKE} more like it", "Mend those too.", sheet, None, column)
            for (file, sheet, column, problem), count in self._alike.items()
            if count > MOST_ALIKE
        ]
        raise InputError([*self.faults, *more])

    def columns(self, table: Table, known: Sequence[str], needed: Sequence[str] = ()) -> bool:
        """Check the header: unknown and missing columns are faults; True where every needed one is there."""
        plain = {plain_name(k) for k in known}
        for name in table.names:
            if name and plain_name(name) not in plain:
                self._unknown("column", name, known, table.file, table.sheet, table.header_row, name)
        missing = [name for name in needed if not table.has(name)]
        for name in missing:
            self.fault(
                f"the column {name} is missing",
                f"Add a column headed {name}.",
                file=table.file,
                sheet=table.sheet,
                row=table.header_row,
            )
        return not missing

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

    def _usable(self, cell: Cell, needed: bool) -> bool:
        if cell.blank:
            if needed:
                self.wrong(replace(cell, value=None), "nothing is written here", "Write a value; it is needed.")
            return False
        if isinstance(cell.value, str) and cell.value.strip().upper() in FORMULA_ERRORS:
            self.wrong(cell, "a formula gave an error instead of a value", "Mend the formula or type the value.")
            return False
        return True

    def number(
        self,
        cell: Cell,
        *,
        low: float | None = None,
        high: float | None = None,
        above: float | None = None,
        whole: bool = False,
        unit: str | None = None,
        needed: bool = False,
    ) -> float | None:
        """Read a finite number, in ``unit`` (pint's name) where a unit is written; see :class:`Limits`."""
        if not self._usable(cell, needed):
            return None
        value = self._float(cell, unit)
        if value is None:
            return None
        in_unit = f" {unit}" if unit else ""
        if low is not None and value < low:
            self.wrong(cell, f"this cannot be below {low:g}{in_unit}", "Check the figure and its sign.")
        elif above is not None and value <= above:
            self.wrong(cell, f"this must be above {above:g}{in_unit}", "Check the figure, or leave it empty.")
        elif high is not None and value > high:
            self.wrong(cell, f"this cannot be above {high:g}{in_unit}", "Check the figure and its unit.")
        elif whole and not value.is_integer():
            self.wrong(cell, "this must be a whole number", "Write a whole number.")
        else:
            return value
        return None

    def number_or(self, cell: Cell, default: float, **limits: Unpack[Limits]) -> float:
        """Read a number as :meth:`number` does; ``default`` where nothing (or nothing right) is written."""
        value = self.number(cell, **limits)
        return default if value is None else value

    def _float(self, cell: Cell, unit: str | None) -> float | None:
        value = cell.value
        plain_unit = "hours a day" if unit == "hour/day" else unit
        wanted = f"Write a plain number{f' (in {plain_unit}) or one with its unit' if unit else ''}."
        if isinstance(value, bool) or not isinstance(value, int | float | str | Decimal):
            what = "a date" if isinstance(value, date) else "not a number"
            self.wrong(cell, f"this is {what} where a number is wanted", wanted)
            return None
        if isinstance(value, str):
            text = value.strip().replace("\N{MINUS SIGN}", "-")
            if len(text) > LONGEST_NUMBER:
                self.wrong(cell, "this is text where a number is wanted", wanted)
                return None
            if _PLAIN.fullmatch(text):
                value = text
            elif _COMMA.fullmatch(text):
                self.wrong(
                    cell,
                    "a comma in a number can be read two ways",
                    "Write 1234.5, with a point for decimals and nothing between thousands.",
                )
                return None
            elif unit is None:
                self.wrong(cell, "this is text where a number is wanted", wanted)
                return None
            else:
                from reconcile.read import quantities

                try:
                    value = quantities.parse(text, unit)
                except UnitError as error:
                    if unit == "W" and "is in ampere," in str(error):
                        wanted = "Write the volts beside the amps, as 12 A * 120 V."
                    self.wrong(cell, _QUOTED.sub("this ", str(error)), wanted)
                    return None
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            self.wrong(cell, "this is not a finite number", wanted)
            return None
        return number

    def money(
        self,
        cell: Cell,
        *,
        low: Decimal | None = None,
        needed: bool = False,
    ) -> Decimal | None:
        """Read an amount or a price as Decimal, exactly as typed; a workbook's float by its shortest text."""
        if not self._usable(cell, needed):
            return None
        number = self._float(cell, None)
        if number is None:
            return None
        if isinstance(cell.value, str):
            amount = Decimal(cell.value.strip().replace("\N{MINUS SIGN}", "-"))
        else:
            amount = Decimal(repr(round(number, 9))) if isinstance(cell.value, float) else Decimal(cell.value)
        if abs(amount) > LARGEST_MONEY:
            self.wrong(cell, "no bill is that large", "Check the amount.")
            return None
        if low is not None and amount < low:
            self.wrong(cell, f"this cannot be below {low}", "Check the amount and its sign.")
            return None
        return amount

    def day(self, cell: Cell, *, needed: bool = False) -> date | None:
        """Read a date: ISO, by ``date_format``, or in any form that can be read in one way only."""
        if not self._usable(cell, needed):
            return None
        try:
            day, order = dates.parse(cell.value, self.date_format)
        except dates.DateError as error:
            self.wrong(cell, error.problem, error.remedy)
            return None
        if order is not None:
            first = self._orders.setdefault((cell.file, cell.sheet), order)
            if first != order:
                self.wrong(
                    cell,
                    "other dates of this file have day and month the other way round",
                    "Write dates as 2025-03-07, or set date_format under [bills].",
                )
                return None
        return day

    @overload
    def choice(self, cell: Cell, options: Sequence[T], *, default: T, needed: bool = ...) -> T: ...

    @overload
    def choice(self, cell: Cell, options: Sequence[T], *, default: None = None, needed: bool = ...) -> T | None: ...

    def choice(self, cell: Cell, options: Sequence[T], *, default: T | None = None, needed: bool = False) -> T | None:
        """Read one of a few words, without regard to case, spaces, underscores or hyphens."""
        if not self._usable(cell, needed):
            return default
        plain = {plain_name(option): option for option in options}
        found = plain.get(plain_name(shown(cell.value)))
        if found is not None and isinstance(cell.value, str):
            return found
        near = nearest(shown(cell.value), options)
        guess = f"Did you mean {near}? " if near else ""
        self.wrong(cell, "this word is not known here", f"{guess}Write {or_list(options)}.")
        return default

    def flag(self, cell: Cell, *, default: bool = False) -> bool:
        """Read true or false (yes or no)."""
        if not self._usable(cell, needed=False):
            return default
        word = shown(cell.value).casefold()
        if word in _YES:
            return True
        if word not in _NO:
            self.wrong(cell, "this is neither true nor false", "Write true or false.")
            return default
        return False

    def text(self, cell: Cell, *, needed: bool = False) -> str | None:
        """Read text, stripped; a number typed in a workbook (a meter's number) becomes its plain text."""
        if not self._usable(cell, needed):
            return None
        value = cell.value
        if isinstance(value, list | dict):
            self.wrong(cell, "this is a list or a table where text is wanted", "Write one text in quotes.")
            return None
        text = value.strip() if isinstance(value, str) else shown(value)
        if len(text) > LONGEST_TEXT:
            self.wrong(cell, f"this text is longer than {LONGEST_TEXT} characters", "Shorten it.")
            return None
        if CONTROL.search(text):
            self.wrong(cell, "this text has characters that cannot be printed", "Type it anew.")
            return None
        return text

    def months(self, cell: Cell) -> frozenset[int] | None:
        """Read months: ``5-9``, ``11,12,1,2``, ``11-2`` (over the new year); None where blank."""
        if not self._usable(cell, needed=False):
            return None
        try:
            return dates.months(cell.value)
        except ValueError as error:
            self.wrong(cell, str(error), "Write months as 5-9 or 11,12,1,2.")
            return None
