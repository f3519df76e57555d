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
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, TypedDict, TypeVar, Unpack, overload

from reconcile.errors import UnitError
from reconcile.read.tables.cells import CONTROL, Cell, Unworked, in_unit, nearest, or_list, plain_name, shown
from reconcile.read.tables.collector import Collector
from reconcile.read.values import dates, month_names, numbers
from reconcile.units import celsius

if TYPE_CHECKING:
    from reconcile.read.tables.columns import Column

T = TypeVar("T", bound=str)

LONGEST_TEXT = 2000
"""Characters a text cell may hold; longer ones are a file gone wrong (common practice)."""
LARGEST_MONEY = Decimal(10) ** 10
"""Largest amount or price, in any currency (a guard, common practice)."""
LEAST = 1e-9
"""What is nearer to zero than this is zero: what a spreadsheet leaves where it should be (common practice)."""

WITHOUT_BILLS = "Until there are bills, the command estimate says what to expect."
"""What to do in place of weighing bills, where there are none."""

FORMULA_ERRORS = ("#REF!", "#DIV/0!", "#VALUE!", "#NAME?", "#N/A", "#NUM!", "#NULL!", "#SPILL!", "#CALC!")

_QUOTED = re.compile(r"""^(["']).*?\1 """)
"""The quantity at the head of a UnitError: a fault shows what was read by itself."""
_DEGREES = re.compile(r"(.*\d)\s*[°º]?\s*([CcFf])\.?")
_COMMA = re.compile(r"[+-]?[\d.,' ]*\d,\d[\d.,' ]*", re.ASCII)
_YES = ("true", "yes", "y", "1", "x")
_NO = ("false", "no", "n", "0")
YES_OR_NO = (*_YES, *_NO)
"""How true and false may be written."""
_SAME_UNIT = {
    "kWh": ("kwh", "kwhs", "kw h", "kw-h", "units", "unit"),
    "day": ("d", "day", "days"),
    "W": ("w", "watt", "watts"),
    "kW": ("kw",),
    "degree": ("\N{DEGREE SIGN}", "deg"),
}
"""Spellings of a column's own unit behind a number; others go through the registry of units."""


_HUNDREDTHS = ("p", "pence", "¢", "cent", "cents", "ct", "öre", "øre")
"""Behind an amount: hundredths of the currency."""


class Limits(TypedDict, total=False):
    """What a number must keep to: ``low`` and ``high`` are allowed themselves, ``above`` is not."""

    low: float
    high: float
    above: float
    whole: bool
    unit: str
    needed: bool


class Gate(Collector):
    """Collects every fault and notice of one reading, and reads cells."""

    def _usable(self, cell: Cell, needed: bool) -> bool:
        value = cell.value
        if value is None and not needed:
            return False
        if value is not None and not isinstance(value, str):
            return True
        if value is None or not value.strip():
            if needed:
                self.wrong(replace(cell, value=None), "nothing is written here", "Write a value; it is needed.")
            return False
        if "#" in value and value.strip().upper() in FORMULA_ERRORS:
            self.wrong(cell, "a formula gave an error instead of a value", "Mend the formula or type the value.")
            return False
        if isinstance(value, Unworked):
            remedy = "Open and save the workbook in a program that calculates, or type the value."
            self.wrong(cell, "this formula has no stored value", remedy)
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
        value, habits = cell.value, cell.habits
        if type(value) is str and (habits is None or (habits.decimal == "." and habits.unit in (None, unit))):
            digits = value.strip()
            if numbers.plain(digits):  # as nearly all are
                value = float(digits)
        if type(value) is float and (habits is None or habits.unit is None) and math.isfinite(value):
            return 0.0 if abs(value) < LEAST else value
        plain_unit = "hours a day" if unit == "hour/day" else unit
        wanted = f"Write a plain number{f' (in {plain_unit}) or one with its unit' if unit else ''}."
        if isinstance(value, bool) or not isinstance(value, int | float | str | Decimal):
            what = "a date" if isinstance(value, date) else "not a number"
            self.wrong(cell, f"this is {what} where a number is wanted", wanted)
            return None
        if isinstance(value, str):
            value = self._from_text(cell, value, unit, wanted)
        elif habits is not None and habits.unit not in (None, unit) and unit is not None:
            value = self._with_unit(cell, f"{value!r} {habits.unit}", unit, wanted)
        if value is None:
            return None
        try:
            number = float(value)
        except OverflowError:
            number = math.inf
        if not math.isfinite(number):
            self.wrong(cell, "this is not a finite number", wanted)
            return None
        return 0.0 if abs(number) < LEAST else number

    def _from_text(self, cell: Cell, value: str, unit: str | None, wanted: str) -> float | str | None:
        if len(value) > numbers.LONGEST or not re.search(r"\d", value):
            self.wrong(cell, "this is text where a number is wanted", wanted)
            return None
        text = numbers.tidy(value)
        if cell.habits is None and _COMMA.fullmatch(text):
            self.wrong(
                cell,
                "a comma in a number can be read two ways",
                "Write 1234.5, with a point for decimals and nothing between thousands.",
            )
            return None
        decimal = "." if cell.habits is None else cell.habits.decimal
        found = numbers.written(text, decimal)
        if found is None and numbers.written(text, "," if decimal == "." else ".") is not None:
            self.wrong(
                cell,
                "this number has its decimal sign the other way round than the others of the table",
                f"Write it as 1234{decimal}5.",
            )
            return None
        if found is not None and found.money is None:
            own = cell.habits.unit if cell.habits is not None and not found.tail else None
            if not found.tail and (own is None or unit is None or own == unit):
                return found.digits
            if found.tail.casefold() in _SAME_UNIT.get(unit or "", ()):
                return found.digits
            if found.mark is not None and unit == "kWh":
                return found.digits
            text = f"{found.digits} {own or found.tail}"
        elif found is not None:
            self.wrong(cell, "this is money where another number is wanted", wanted)
            return None
        if unit is None:
            self.wrong(cell, "this is text where a number is wanted", wanted)
            return None
        return self._with_unit(cell, text, unit, wanted)

    def _with_unit(self, cell: Cell, text: str, unit: str, wanted: str) -> float | None:
        from reconcile.read.values import quantities

        try:
            return quantities.parse(text, unit)
        except UnitError as error:
            problem = _QUOTED.sub("this ", str(error))
            if unit == "W" and "which cannot become" in problem and quantities.from_amps(text):
                problem, wanted = "amps alone do not tell the watts", "Write the volts beside them, as 12 A * 120 V."
            elif unit == "W" and "more than one number" in problem:
                wanted = "Write one number of watts, or a range as 750-1500 W."
            self.wrong(cell, problem, wanted)
            return None

    def temperature(self, cell: Cell, unit: str) -> tuple[float | None, str]:
        """Read a temperature [degC] and the unit it is in: what stands behind it, its header's, else ``unit``."""
        value = cell.value
        if isinstance(value, str) and (found := _DEGREES.fullmatch(value.strip())):
            cell, unit = replace(cell, value=found[1]), found[2].upper()
        elif cell.habits is not None and cell.habits.unit in ("degC", "degF"):
            unit = cell.habits.unit[-1]
        if cell.habits is not None and cell.habits.unit is not None:
            cell = replace(cell, habits=in_unit(cell.habits, None))
        value = self.number(cell, unit="degree")
        return None if value is None else celsius(value, unit), unit

    def money(self, cell: Cell, *, low: Decimal | None = None, needed: bool = False) -> Decimal | None:
        """Read an amount or a price as Decimal, exactly as typed; a workbook's float by its shortest text."""
        if not self._usable(cell, needed):
            return None
        found = None
        if isinstance(cell.value, str) and cell.habits is not None:
            found = numbers.written(cell.value, cell.habits.decimal)
            if found is not None and found.money is not None:
                self.currencies.setdefault(found.money, cell)
        if found is not None and found.tail.casefold() in (*_HUNDREDTHS, ""):
            amount = Decimal(found.digits) / (100 if found.tail else 1)
        else:
            number = self._float(cell, None)
            if number is None:
                return None
            if isinstance(cell.value, str):
                amount = Decimal(numbers.tidy(cell.value))
            else:
                amount = Decimal(repr(round(number, 9))) if isinstance(cell.value, float) else Decimal(cell.value)
        if abs(amount) < LEAST:
            amount = Decimal(0)
        if not amount.is_finite() or abs(amount) > LARGEST_MONEY:
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
        settled = cell.habits.order if cell.habits is not None else None
        try:
            day, order = dates.parse(cell.value, self.date_format, settled)
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
    def choice(
        self, cell: Cell, options: Sequence[T], *, default: T, needed: bool = ..., words: Column | None = ...
    ) -> T: ...

    @overload
    def choice(
        self,
        cell: Cell,
        options: Sequence[T],
        *,
        default: None = None,
        needed: bool = ...,
        words: Column | None = ...,
    ) -> T | None: ...

    def choice(
        self,
        cell: Cell,
        options: Sequence[T],
        *,
        default: T | None = None,
        needed: bool = False,
        words: Column | None = None,
    ) -> T | None:
        """Read one of a few words, without regard to case, spaces, underscores or hyphens.

        ``words`` is the column whose other words for the same thing count too.
        """
        if not self._usable(cell, needed):
            return default
        if isinstance(cell.value, str):
            word = plain_name(shown(cell.value))
            for option in options:
                if plain_name(option) == word:
                    return option
        if words is not None:
            code = words.code(shown(cell.value))
            if code is not None:
                return next(option for option in options if option == code)
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

    def months(self, cell: Cell, southern: bool | None = None) -> frozenset[int] | None:
        """Read months: ``5-9``, ``May-Sep``, ``11,12,1,2``; None where blank. See :func:`month_names.months`."""
        if not self._usable(cell, needed=False):
            return None
        try:
            return month_names.months(cell.value, southern)
        except ValueError as error:
            self.wrong(cell, str(error), "Write months as May-Sep, as 5-9 or as 11,12,1,2.")
            return None
