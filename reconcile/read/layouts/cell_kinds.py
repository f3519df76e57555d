"""What a cell of interval data looks like, and what a column of such cells is."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from functools import lru_cache
from typing import Literal

from reconcile.read.values.clock_cells import read_clock
from reconcile.read.values.number_cells import BLANKS, Marks, as_float
from reconcile.read.values.time_grammar import find_date

Kind = Literal["datetime", "date", "epoch", "serial", "clock", "number", "blank", "text"]
TIMES: tuple[Kind, ...] = ("datetime", "date", "epoch", "serial")

EPOCH_SECONDS = (631_152_000, 4_102_444_800)
"""1990 to 2100 as seconds since 1970 [s]."""
SERIAL_DAYS = (32_874, 73_050)
"""1990 to 2099 as a spreadsheet counts days [d]."""
SAME_KIND = 0.8
"""Share of the cells of a column that must be of a kind for the column to be of it (our choice)."""

FEWEST_ALIKE = 3
"""Cells alike from which figures count no time: it does not stand still, and a meter's number does (our choice)."""

_EVERY_MARK = (Marks(), Marks(",", "."), Marks(".", ","))
_EPOCH = re.compile(r"\d{10}(?:\d{3}){0,3}(?:\.\d{1,9})?", re.ASCII)


class LayoutError(ValueError):
    """A table that cannot be read as it stands: the problem, the one question, and the row."""

    def __init__(self, problem: str, remedy: str, row: int | None = None) -> None:
        super().__init__(problem)
        self.problem, self.remedy, self.row = problem, remedy, row


class NoReadingsError(LayoutError):
    """A table that holds no readings of electricity: passed over where another one beside it does."""


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
    found = find_date(cell.encode())
    if found and not re.fullmatch(r"\d{1,7}[.]\d+", cell):
        return "datetime" if found.text("H", "H2", "H3", "H4", "H5") else "date"
    if any(as_float(cell, marks) is not None for marks in _EVERY_MARK):
        return "number"
    if re.search(r"\d:\d\d|\d ?[ap]\.? ?m|\d(?: ?Uhr| ?uur|시|时|時)", cell, re.IGNORECASE) and read_clock(cell):
        return "clock"
    return "text"


def _epoch_like(cell: str) -> bool:
    return EPOCH_SECONDS[0] <= epoch_seconds(float(cell)) <= EPOCH_SECONDS[1]


def epoch_seconds(value: float) -> float:
    """Return seconds since 1970 from seconds, or thousandths, millionths or billionths of them [s]."""
    return value / next((size for size in (1e9, 1e6, 1e3) if value > size * 1e9), 1.0)


def column_kind(cells: Sequence[str]) -> Kind:
    """Return what most of a column's cells are.

    Examples
    --------
    >>> column_kind(["0.5", "n/a"])
    'number'
    """
    counts = Counter(map(kind_of, cells))
    blanks = counts.pop("blank", 0)
    if not counts:
        return "blank"
    full = len(cells) - blanks
    if counts["datetime"] and counts["datetime"] + counts["date"] >= SAME_KIND * full:
        return "datetime"
    kind, count = counts.most_common(1)[0]
    if kind == "epoch" and full >= FEWEST_ALIKE and len(set(cells)) == 1:
        return "text"
    if counts["number"] and counts["number"] + counts["epoch"] >= 0.5 * full:
        return "number"
    return kind if count >= SAME_KIND * full else "text"
