"""Dates and months as people write them, read in one way or not at all."""

from __future__ import annotations

import re
from datetime import date, datetime, time
from typing import Any

FIRST_YEAR, LAST_YEAR = 1950, 2100
"""Years a date may carry (common practice: older than any bill kept, and a guard against typing slips)."""

LONGEST_DATE = 60

_ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]00:00(?::00(?:\.0+)?)?)?", re.ASCII)
_SPLIT = re.compile(r"(\d{1,4})([/.\-])(\d{1,2})\2(\d{1,4})", re.ASCII)
_TOKENS = {"YYYY": "%Y", "YY": "%y", "MMM": "%b", "MM": "%m", "M": "%m", "DD": "%d", "D": "%d"}
_SPAN = re.compile(r"\s*(\d{1,2})\s*(?:[-\N{EN DASH}]\s*(\d{1,2})\s*)?", re.ASCII)


class DateError(ValueError):
    """A text that is no date, or could be two; ``problem`` and ``remedy`` are for a fault."""

    def __init__(self, problem: str, remedy: str = "Write the date as 2025-03-07.") -> None:
        super().__init__(problem)
        self.problem = problem
        self.remedy = remedy


def pattern(date_format: str) -> str:
    """Return a ``strptime`` pattern for ``DD/MM/YYYY`` or the like; a pattern with ``%`` passes as it is.

    Raises
    ------
    ValueError
        Where it does not name day, month and year once each.

    Examples
    --------
    >>> pattern("DD/MM/YYYY")
    '%d/%m/%Y'
    """
    made = (
        date_format
        if "%" in date_format
        else re.sub("YYYY|YY|MMM|MM|M|DD|D", lambda m: _TOKENS[m[0]], date_format.strip().upper())
    )
    codes = re.findall(r"%(.)", made)
    kinds = sorted({"Y": "y", "y": "y", "m": "m", "b": "m", "B": "m", "d": "d"}.get(code, "?") for code in codes)
    if kinds != ["d", "m", "y"]:
        raise ValueError("a date format names day, month and year once each")
    return made


def parse(value: Any, date_format: str | None = None) -> tuple[date, str | None]:
    """Read a date; the second value is the order of day and month that was inferred, if any was.

    Raises
    ------
    DateError
        Where it is no date, no such day, or could be two days.

    Examples
    --------
    >>> parse("2025-03-07")
    (datetime.date(2025, 3, 7), None)
    >>> parse("25/03/2025")
    (datetime.date(2025, 3, 25), 'day first')
    """
    if isinstance(value, datetime):
        if value.time() != time():
            raise DateError("this has a time of day beside the date")
        return _within(value.date()), None
    if isinstance(value, date):
        return _within(value), None
    if not isinstance(value, str):
        raise DateError("this is not a date")
    text = value.strip()
    if len(text) > LONGEST_DATE:
        raise DateError("this is not a date")
    iso = _ISO.fullmatch(text)
    if iso:
        return _made(int(iso[1]), int(iso[2]), int(iso[3])), None
    if date_format is not None:
        try:
            return _within(datetime.strptime(text, pattern(date_format)).date()), None
        except DateError:
            raise
        except ValueError:
            raise DateError(f"this is not a date in the form {date_format}", "Write it so, or as 2025-03-07.") from None
    return _inferred(text)


def _inferred(text: str) -> tuple[date, str | None]:
    split = _SPLIT.fullmatch(text)
    if not split:
        raise DateError("this is not a date")
    if len(split[1]) == 4:
        return _made(int(split[1]), int(split[3]), int(split[4])), None
    first, second, year = int(split[1]), int(split[3]), int(split[4])
    if len(split[4]) != 4:
        raise DateError("a date with two digits for the year can be read more than one way")
    if first > 12 >= second:
        return _made(year, second, first), "day first"
    if second > 12 >= first:
        return _made(year, first, second), "month first"
    if first > 12:
        raise DateError("there is no such day")
    if first == second:
        return _made(year, first, second), None
    raise DateError(
        "this can be read as two different days",
        'Write the date as 2025-03-07, or set date_format = "DD/MM/YYYY" (or "MM/DD/YYYY") under [bills].',
    )


def _made(year: int, month: int, day: int) -> date:
    try:
        made = date(year, month, day)
    except ValueError:
        raise DateError("there is no such day", "Check day and month; write the date as 2025-03-07.") from None
    return _within(made)


def _within(day: date) -> date:
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise DateError(f"the year {day.year} cannot be right", "Write the year with four digits.")
    return day


def months(value: Any) -> frozenset[int]:
    """Read months of the year, over the new year too.

    Raises
    ------
    ValueError
        With the problem as its text.

    Examples
    --------
    >>> sorted(months("11-2"))
    [1, 2, 11, 12]
    """
    if isinstance(value, date):
        raise ValueError("the workbook has turned this into a date; format the cell as text")
    if isinstance(value, list):
        value = ",".join(str(item) for item in value)
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    found: set[int] = set()
    for part in str(value)[:100].split(","):
        span = _SPAN.fullmatch(part)
        if not span:
            raise ValueError("these are not months")
        first, last = int(span[1]), int(span[2] or span[1])
        if not (1 <= first <= 12 and 1 <= last <= 12):
            raise ValueError("months go from 1 to 12")
        found.update((first - 1 + step) % 12 + 1 for step in range((last - first) % 12 + 1))
    return frozenset(found)
