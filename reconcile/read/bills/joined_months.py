"""A bill of several months under the name of one, where its note says so: ``May + June on one bill``."""

from __future__ import annotations

import re

from reconcile.read.tables.cells import Row, Table
from reconcile.read.tables.columns import ENERGY
from reconcile.read.tables.laid_across import month_of
from reconcile.read.values.month_names import SHORT_NAMES, month_number

_TWO = re.compile(r"([^\W\d_]{3,})\.?\s*(?:\+|&|/|-|\N{EN DASH}|\band\b|\bto\b|\bund\b|\bet\b|\by\b)\s*([^\W\d_]{3,})")
MOST_MONTHS = 3
"""Months of one bill at the most (our choice: a quarter)."""


def join_months(table: Table) -> None:
    """Give a bill the months that its note names, where its own is one of them and no other bill is of the rest."""
    if not (table.has("month") and table.has("note")):
        return
    rows = {row.number: month_of(row.value("month")) for row in table.rows}
    billed = {rows[row.number] for row in table.rows if not _empty(row)} - {None}
    for row in list(table.rows):
        own = rows[row.number]
        span = None if own is None or _empty(row) else _span(str(row.value("note") or "")[:200], own[0])
        if own is None or span is None:
            continue
        first, last = span
        month, year = own
        of_others = [
            (m % 12 + 1, None if year is None else year + _turned(m, month, last)) for m in _between(first, last)
        ]
        if any(other != own and other in billed for other in of_others):
            continue
        table.rows[:] = [other for other in table.rows if other is row or rows[other.number] not in of_others]
        year_of_last = None if year is None else year + (1 if last < month else 0)
        text = f"{SHORT_NAMES[first - 1]} - {SHORT_NAMES[last - 1]}{'' if year is None else f' {year_of_last}'}"
        at = next(n for n, other in enumerate(table.rows) if other.number == row.number)
        table.rows[at] = row.with_value("month", text)
        table.read_as.append(f"row {row.number} is {text}, by its note")


def _empty(row: Row) -> bool:
    return all(row.blank(column) for column in ENERGY)


def _span(note: str, month: int) -> tuple[int, int] | None:
    """Return the first and the last month that a note names, where the month of the bill is one of the two."""
    found = _TWO.search(note)
    ends = [month_number(word) for word in found.groups()] if found is not None else []
    if len(ends) != 2 or None in ends or month not in ends:
        return None
    first, last = (end for end in ends if end is not None)
    return (first, last) if 0 < (last - first) % 12 < MOST_MONTHS else None


def _between(first: int, last: int) -> list[int]:
    """Return the months from one to another, counted from 0."""
    return [(first - 1 + step) % 12 for step in range((last - first) % 12 + 1)]


def _turned(index: int, month: int, last: int) -> int:
    """Years by which a month, counted from 0, lies beside the one that the bill names."""
    if month == last:
        return -1 if index + 1 > last else 0
    return 1 if index + 1 < month else 0
