"""Days without their year, as ``12/11``, ``Dec 11`` or ``Dec 11 - Jan 10``."""

from __future__ import annotations

import re
from typing import Any

from reconcile.read.values.dates import Order
from reconcile.read.values.month_names import month_number

_FIGURES = re.compile(r"(\d{1,2})\s*[/.\-]\s*(\d{1,2})\.?", re.ASCII)
_DAY_NAMED = re.compile(r"(\d{1,2})(?:st|nd|rd|th|\.)?\s*[ /.\-]\s*([^\W\d_]{3,})\.?")
_NAMED_DAY = re.compile(r"([^\W\d_]{3,})\.?\s*[ /.\-]\s*(\d{1,2})(?:st|nd|rd|th)?")
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
        named = _DAY_NAMED.fullmatch(text)
        other = None if named else _NAMED_DAY.fullmatch(text)
        if named is None and other is None:
            return None
        word, number = (named[2], named[1]) if named else (other[1], other[2])  # type: ignore[index]
        month, day = month_number(word) or 0, int(number)
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
