"""What a column tells of a bill's days, by what stands in it and whatever its name is."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from typing import Any, Literal

from reconcile.read.tables.cells import Cell
from reconcile.read.tables.laid_across import month_of
from reconcile.read.values import dates, numbers
from reconcile.read.values.bare_days import without_year
from reconcile.read.values.month_names import lone_year

_DAY = re.compile(r"\d[/.-]\d|[^\W\d_]{3}")
_TWO_DAYS = re.compile(r"(?=.*\d[/.-]\d|.*[^\W\d_]{3}).{7,40}", re.DOTALL)


def days_told(values: Sequence[Any]) -> Literal["day", "period", "month"] | None:
    """Return what the cells of a column are, where all that hold a figure or a month are of one kind; else None.

    >>> days_told(["1/9 - 2/8", "2/8 - 3/10"]), days_told(["Feb 8, 2024", "total"]), days_told(["812", "744"])
    ('period', 'day', None)
    """
    cells = [value for value in values if not Cell(value, "", "").blank]
    told = [cell for cell in cells if not isinstance(cell, str) or re.search(r"\d", cell) or month_of(cell)]
    told = [cell for cell in told if lone_year(cell) is None]  # the year of the rows below it
    if not told or 2 * len(told) < len(cells):
        return None
    if all(map(_is_period, told)):
        return "period"
    if all(isinstance(cell, str) and month_of(cell) is not None for cell in told):
        return "month"
    return "day" if all(map(_is_day, told)) else None


def _is_day(value: Any) -> bool:
    if not isinstance(value, str):
        return isinstance(value, date)
    if numbers.plain(value) or not _DAY.search(value):
        return False
    return bool(without_year(value)) or dates.is_like_a_day(value)


def _is_period(value: Any) -> bool:
    """Whether a cell holds two days, or the months from one to another."""
    if not isinstance(value, str) or not _TWO_DAYS.fullmatch(value) or month_of(value) is not None:
        return False
    ends = dates.period_ends(value)
    if ends is not None:
        return all(re.search(r"[/.-]|[^\W\d_]{3}|^(?:19|20)\d{6}$", end) for end in ends[:2])
    try:
        dates.month_span(value)
    except dates.DateError:
        return False
    return re.search(r"[^\W\d_]{3}.*[^\W\d_]{3}", value) is not None
