"""Days in running text, and those without their year, as ``12/11``, ``Dec 11`` or ``Dec 11 - Jan 10``."""

from __future__ import annotations

import re
from typing import Any

from reconcile.read.values.dates import Order
from reconcile.read.values.month_names import month_number

MONTH = r"[^\W\d_]{3,10}\.?"
YEAR = r"'?(?:\d{4}|\d\d)(?!\d)"
NTH = r"(?:st|nd|rd|th|er|\.)?"
DATE = (
    rf"(?:\d{{4}}-\d\d?-\d\d?|\d{{1,2}}[/.]\d{{1,2}}[/.]{YEAR}|\d{{1,2}}-\d{{1,2}}-{YEAR}"
    rf"|{MONTH} ?\d{{1,2}}{NTH},? {YEAR}|\d{{1,2}}{NTH}[ -](?:de )?{MONTH}[ ,-]{{1,2}}(?:de )?{YEAR})"
)
"""A day with its year in running text."""
BARE_DATE = rf"(?:{MONTH} ?\d{{1,2}}(?:st|nd|rd|th)?(?!\d)|\d{{1,2}}{NTH} ?{MONTH}|\d{{1,2}}/\d{{1,2}}(?![/\d]))"
"""A day without one."""
_FIGURES = re.compile(r"(\d{1,2})\s*[/.\-]\s*(\d{1,2})\.?", re.ASCII)
_NAMED = re.compile(
    rf"(?:(?P<first>\d{{1,2}}){NTH}\s*[ /.\-]\s*)?(?P<month>{MONTH})(?:\s*[ /.\-]\s*(?P<last>\d{{1,2}}){NTH})?"
)
_SPAN = re.compile(r"\s+(?:to|until|through|thru|au|bis|al)\s+|\s+[-\N{EN DASH}]\s+|\s*\N{EN DASH}\s*")

Pair = tuple[int, int]
"""Month and day."""


def is_of_figures(text: str) -> bool:
    """Whether day and month are both figures, so that their order may be either."""
    return _FIGURES.fullmatch(text) is not None


def month_and_day(text: str, order: Order) -> Pair | None:
    """Return the month and the day of a text that holds no more.

    >>> month_and_day("9/12", "dmy"), month_and_day("Dec 9", "dmy"), month_and_day("9/32", "mdy")
    ((12, 9), (12, 9), None)
    """
    figures = _FIGURES.fullmatch(text)
    if figures:
        first, second = int(figures[1]), int(figures[2])
        month, day = (first, second) if order == "mdy" else (second, first)
    else:
        named = _NAMED.fullmatch(text)
        if named is None or (named["first"] is None) == (named["last"] is None):
            return None
        month, day = month_number(named["month"].rstrip(".")) or 0, int(named["first"] or named["last"])
    return (month, day) if 1 <= month <= 12 and 1 <= day <= 31 else None


def without_year(value: Any) -> tuple[str, ...]:
    """Return the one or two days without a year that a cell holds; none where it holds anything else.

    >>> without_year("12/11 - 1/10"), without_year("Dec 11, 2024")
    (('12/11', '1/10'), ())
    """
    if not isinstance(value, str) or len(value) > 40:
        return ()
    parts = [part.strip() for part in _SPAN.split(value.strip())]
    if len(parts) > 2 or not all(month_and_day(part, "mdy") or month_and_day(part, "dmy") for part in parts):
        return ()
    return tuple(parts)
