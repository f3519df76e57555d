"""A sheet of the answer's workbook, written cell by cell: each kind of value has its format, text is only ever text."""

from __future__ import annotations

import math
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from typing import TYPE_CHECKING, Any

from reconcile.say import clean

if TYPE_CHECKING:
    from collections.abc import Sequence

_LINE_POINTS = 15.0
"""Height of a line of the standard font [pt]; a row ends at 409."""
_LONGEST_TEXT = 32_000
"""Letters in a cell; the format ends at 32767."""


class Sheet:
    """One sheet, written cell by cell: each kind of value knows its format, and text is only ever text."""

    def __init__(self, book: Any, name: str) -> None:
        self._sheet = book.add_worksheet(name, _plain_sheet())
        self._sheet.set_landscape()
        self._sheet.fit_to_pages(1, 0)
        key = "_reconcile_formats"
        if not hasattr(book, key):
            setattr(
                book,
                key,
                {
                    "head": book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"}),
                    "title": book.add_format({"bold": True, "font_size": 14}),
                    "bold": book.add_format({"bold": True, "valign": "top"}),
                    "wrap": book.add_format({"text_wrap": True, "valign": "top", "align": "left", "indent": 1}),
                    "text": book.add_format({"valign": "top", "align": "left", "indent": 1}),
                    "number": book.add_format({"num_format": "#,##0.00", "valign": "top"}),
                    "whole": book.add_format({"num_format": "#,##0", "valign": "top"}),
                    "total": book.add_format({"num_format": "#,##0", "align": "left", "indent": 1}),
                    "plain": book.add_format({"num_format": "General", "valign": "top"}),
                    "chance": book.add_format({"num_format": "0 %", "valign": "top"}),
                    "day": book.add_format({"num_format": "mmm d, yyyy", "align": "left", "valign": "top"}),
                    "sum": book.add_format({"num_format": "#,##0.00", "bold": True, "top": 1}),
                },
            )
        self._formats = getattr(book, key)

    def put(self, row: int, column: int, value: Any, form: str | None = None) -> None:
        """Write a value; None leaves the cell empty."""
        if value is None or value == "":
            return
        if isinstance(value, bool):
            self._sheet.write_string(row, column, "yes" if value else "no", self._formats[form or "text"])
        elif isinstance(value, date):
            self._sheet.write_datetime(
                row, column, datetime(value.year, value.month, value.day), self._formats[form or "day"]
            )
        elif isinstance(value, int | float | Decimal):
            number = float(value)
            if number - number == 0.0:  # an infinity or not-a-number has no cell
                self._sheet.write_number(
                    row, column, number, self._formats[form or ("whole" if isinstance(value, int) else "number")]
                )
        else:
            self._sheet.write_string(row, column, _text(str(value)), self._formats[form or "text"])

    def formula(self, row: int, column: int, formula: str, value: float | None, form: str = "number") -> None:
        """Write a formula with the value it has now."""
        self._sheet.write_formula(row, column, formula, self._formats[form], "" if value is None else value)

    def link(self, row: int, column: int, sheet: str, text: str) -> None:
        """Write a link to another sheet of the workbook."""
        self._sheet.write_url(row, column, f"internal:'{sheet}'!A1", string=text)

    def heads(self, row: int, names: Sequence[str], widths: Sequence[float] = ()) -> None:
        """Write a header row and keep it in sight."""
        for column, name in enumerate(names):
            self.put(row, column, name, "head")
        for column, width in enumerate(widths):
            self._sheet.set_column(column, column, width)
        lines = max(_lines(name, width) for name, width in zip(names, widths, strict=True))
        self._sheet.set_row(row, _LINE_POINTS * lines)
        self._sheet.freeze_panes(row + 1, 1)

    def story(self, row: int, texts: dict[int, tuple[str, float]]) -> None:
        """Write wrapped texts, column: (text, width), in a row tall enough: not every reader fits it itself."""
        for column, (text, _) in texts.items():
            self.put(row, column, text, "wrap")
        self._sheet.set_row(row, _LINE_POINTS * min(max(_lines(*item) for item in texts.values()), 27))

    def wide(self, first: int, last: int, width: float) -> None:
        """Set the width of columns [letters]."""
        self._sheet.set_column(first, last, width)


@cache
def _plain_sheet() -> type:
    """Return a worksheet that takes formulas as they are written: none of ours has a function that needs a prefix."""
    from xlsxwriter.worksheet import Worksheet

    class PlainSheet(Worksheet):  # type: ignore[misc]
        def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
            return formula.removeprefix("=")  # the library would look for thirty newer functions in every one

    return PlainSheet


def _lines(text: str, width: float) -> int:
    return sum(max(1, math.ceil(1.05 * len(line) / width)) for line in text.split("\n"))


def _text(text: str) -> str:
    return "\n".join(str(clean(line)) for line in text.split("\n"))[:_LONGEST_TEXT]
