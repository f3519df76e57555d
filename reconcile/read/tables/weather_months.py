"""Temperatures laid out by months: a block of numbered days under each month, or months across above numbered days."""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Sequence
from pathlib import PurePath
from typing import Any

from reconcile.read.tables.cells import Grid, plain_name, shown
from reconcile.read.tables.columns import Columns
from reconcile.read.tables.laid_across import month_of, months_of, title_year
from reconcile.read.values.numbers import figure

FEWEST_DAYS = 5
"""Numbered days below each other that are no chance (our choice)."""

Rows = list[tuple[int, Sequence[Any]]]


def by_months(grid: Grid, spec: Columns) -> tuple[Rows, str] | None:
    """Return the rows of a table whose days are numbered within their months with whole dates, and what is to be told.

    None where it is none such, or the year is not written.

    Examples
    --------
    >>> from reconcile.read.tables.columns import WEATHER
    >>> rows = [["2024", "Jan", "Feb", "Mar"], *([str(day), "30", "34", "45"] for day in range(1, 32))]
    >>> made, told = by_months(Grid("weather.csv", rows=list(enumerate(rows, 1))), WEATHER)
    >>> len(made), made[:2], told
    (92, [(1, ['date', 'mean']), (2, ['2024-01-01', '30'])], 'the months stand in the columns, their days below')
    """
    turned = _turned(grid)
    return _across(grid) or (_across(turned) if turned is not None else None) or _blocks(grid, spec)


def _turned(grid: Grid) -> Grid | None:
    """Turn a table about whose days stand in the columns, a month a row."""
    at = next((n for n, (_, row) in enumerate(grid.rows[:20]) if len(row) > 28 and _day(row[1:2]) == 1), None)
    if at is None or [_day([value]) for value in grid.rows[at][1][1:29]] != list(range(1, 29)):
        return None
    body = [[*values, *[None] * (32 - len(values))][:32] for _, values in grid.rows[at:]]
    return Grid(grid.file, grid.sheet, [*grid.rows[:at], *((grid.rows[at][0], row) for row in zip(*body, strict=True))])


def _across(grid: Grid) -> tuple[Rows, str] | None:
    at = next((n for n, (_, values) in enumerate(grid.rows[:20]) if months_of(values)), None)
    if at is None:
        return None
    months = months_of(grid.rows[at][1])
    names = [(0, [grid.sheet, PurePath(grid.file).stem])]
    lent = title_year(grid.rows[:at]) or title_year([grid.rows[at]]) or title_year(names)
    made: dict[str, tuple[int, Any]] = {}
    for number, values in grid.rows[at + 1 :]:
        day = _day(values[: min(months)])
        for index, (month, own) in months.items():
            year = own or lent
            if year is None or day is None:
                break
            if index < len(values) and day <= monthrange(year, month)[1] and shown(values[index] or "").strip():
                made[f"{year:04d}-{month:02d}-{day:02d}"] = (number, values[index])
    if len(made) < FEWEST_DAYS:
        return None
    body: Rows = [(number, [stamp, value]) for stamp, (number, value) in sorted(made.items())]
    return [(grid.rows[at][0], ["date", "mean"]), *body], "the months stand in the columns, their days below"


def _blocks(grid: Grid, spec: Columns) -> tuple[Rows, str] | None:
    head: list[str] | None = None
    made: Rows = []
    under: tuple[int, int] | None = None
    for number, values in grid.rows:
        texts = ["" if value is None else shown(value).strip() for value in values]
        filled = [text for text in texts if text]
        month = month_of(filled[0]) if len(filled) == 1 else None
        if month is not None:
            if month[1] is None:
                return None
            under = (month[1], month[0])
        elif under is not None and (day := _day(values[:1])) is not None and head is not None:
            if day <= monthrange(*under)[1]:
                made.append((number, [f"{under[0]:04d}-{under[1]:02d}-{day:02d}", *values[1:]]))
        elif head is None and len(filled) > 1 and plain_name(filled[0]) in ("day", "date", "tag", "d"):
            head = texts if any(spec.match(text) for text in filled[1:]) else None
            at = number
    if head is None or len(made) < FEWEST_DAYS:
        return None
    return [(at, ["date", *head[1:]]), *made], "the days are numbered under the name of their month"


def _day(labels: Sequence[Any]) -> int | None:
    """Return the day of a month that the first filled cell of a row's labels is."""
    first = next((value for value in labels if value is not None and str(value).strip()), None)
    number = figure(first if isinstance(first, int | float) else str(first or ""))
    return int(number) if number is not None and number == int(number) and 1 <= number <= 31 else None
