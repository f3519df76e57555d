"""Tables of bills that are laid out otherwise than a bill a row, set upright before a header is looked for.

Months across the columns, years across the columns, or the whole table turned about. Each value keeps its row for the
faults; what is not said (a year, whether the numbers are kWh or money) is asked once and never taken for granted.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Sequence
from dataclasses import field
from datetime import date
from pathlib import PurePath
from typing import Any

from reconcile.read.tables.cells import Cell, Grid, Relaid, shown
from reconcile.read.tables.columns import DAYS, ENERGY, Columns
from reconcile.read.tables.gate import Gate
from reconcile.read.values import dates
from reconcile.read.values.month_names import lone_year, month_number
from reconcile.read.values.numbers import figure
from reconcile.records import dataclass

WITHIN = 60
"""Rows in which such a layout is looked for."""
FEWEST_LINES = 2
FEWEST_MONTHS = 3
"""So many months beside or below each other are no chance."""

Values = Sequence[Any]
_YEAR = re.compile(r"(?<!\d)((?:19|20)\d\d)(?!\d)")
_MONTH = re.compile(r"([^\W\d_]{3,11})\.?(?:[ \-/.,']*(\d{4}|\d{2}))?")
_SUM = re.compile(
    r"(?:grand |sub|yearly |annual |year )?(?:totals?|sums?|averages?|avg|mean|min|max|ytd)\b.*", re.IGNORECASE
)
_LINE = re.compile(r"(?P<when>[^:=]{4,30}?)\s*(?:[:=]|\s[-\N{EN DASH}]\s|,)\s*(?P<rest>.*\d\s*kwh\b.*)", re.IGNORECASE)
_KWH, _MONEY = (
    re.compile(r"kwh|kilowatt", re.IGNORECASE),
    re.compile(r"[$€£₹]|\b(?:usd|eur|gbp|chf|cost|costs)\b", re.IGNORECASE),
)
_BARE = frozenset(("year", "years", "month", "months", "", "date", "jahr", "monat", "año", "mes", "année", "mois"))


@dataclass(slots=True)
class _Found:
    """Values by month: what stands where, in which row it was written."""

    values: dict[tuple[int, int], dict[str, tuple[int, Any]]] = field(default_factory=dict)

    def add(self, month: tuple[int, int], column: str, row: int, value: Any) -> bool:
        """Note one value; whether nothing else was there."""
        if _blank(value):
            return True
        return self.values.setdefault(month, {}).setdefault(column, (row, value)) == (row, value)


def upright(grid: Grid, spec: Columns, gate: Gate) -> Relaid | None:
    """Set a table upright; None where it stands so already, or is none of these.

    Parameters
    ----------
    spec : Columns
        Of the bills.
    gate : Gate
        Told what has to be asked.
    """
    rows = grid.rows[:WITHIN]
    for at, (_, values) in enumerate(rows):
        years = _years_of(values)
        if years and (column := _months_below(grid, at, min(years))) is not None:
            return _years_across(grid, spec, gate, at, years, column)
    if _stands(grid, spec):
        return None
    for at, (_, values) in enumerate(rows):
        months = months_of(values)
        if months and _advance([month for month, _ in months.values()]):
            return _months_across(grid, spec, gate, at, months)
    return _turned(grid, spec) or _listed(grid, spec)


def month_of(value: Any) -> tuple[int, int | None] | None:
    """Return the month that is all a cell says, and its year where that is written.

    >>> month_of("Jan 2024"), month_of("Feb."), month_of("Oct '24"), month_of("Marginal")
    ((1, 2024), (2, None), (10, 2024), None)
    """
    if isinstance(value, date):
        return (value.month, value.year) if value.day == 1 else None
    match = _MONTH.fullmatch(value.strip()) if isinstance(value, str) and len(value) < 30 else None
    month = month_number(match[1]) if match else None
    if match is None or month is None:
        return None
    year = match[2]
    return month, None if year is None else int(year) + (2000 if len(year) == 2 else 0)


def months_of(values: Values) -> dict[int, tuple[int, int | None]]:
    """Return the months that stand beside each other in a row, by column; nothing where they are too few."""
    months = {index: month for index, value in enumerate(values) if (month := month_of(value)) is not None}
    if len(months) >= FEWEST_MONTHS and len(set(months.values())) == len(months):
        return months
    texts = ["" if _blank(value) else shown(value) for value in values]
    for first in range(min(3, len(texts))):
        if texts[first : first + 12] == [str(n) for n in range(1, 13)]:
            return {first + n: (n + 1, None) for n in range(12)}
    return {}


def _advance(months: Sequence[int]) -> bool:
    """Whether months follow each other as those of one table do, forward or back, over the new year too."""
    steps = {(after - before) % 12 for before, after in itertools.pairwise(months)}
    return len(steps) == 1 and steps != {0}


def _years_of(values: Values) -> dict[int, int]:
    """Return the years that stand beside each other in a row and nothing but words beside them, by column."""
    years = {index: year for index, value in enumerate(values) if (year := _year_in(value)) is not None}
    others = [value for index, value in enumerate(values) if index not in years and not _blank(value)]
    return years if all(isinstance(value, str) and not re.search(r"\d", value) for value in others) else {}


def _of_one_year(months: Sequence[int]) -> bool:
    """Whether months go through one calendar year, forward or back."""
    order = list(months)
    return order in (sorted(set(order)), sorted(set(order), reverse=True))


def _year_in(value: Any) -> int | None:
    """The one year in a cell that holds no more figures than that."""
    if (year := lone_year(value)) is not None:
        return year
    found = _YEAR.findall(value) if isinstance(value, str) and len(value) < 40 else []
    return int(found[0]) if len(found) == 1 and not re.search(r"\d", _YEAR.sub("", value)) else None


def _blank(value: Any) -> bool:
    return Cell(value, "", "").blank or (isinstance(value, str) and value.strip() in ("-", "--", "–", "n/a"))


def _words(value: Any) -> str:
    """What a label says beside its year."""
    if _blank(value) or not isinstance(value, str):
        return ""
    return _YEAR.sub(" ", value).strip(" :-,()")


def _column(words: str, spec: Columns) -> str | None:
    """The column that the words of a label mean; empty where they mean nothing, None where they are not known."""
    if words.casefold().strip(".:") in _BARE:
        return ""
    match = spec.match(words) or spec.match(words.strip("()"))
    if match is not None and match.column not in ("month", "period", "year"):
        return match.column
    return None


def _of_values(values: Values) -> str:
    """What the numbers are by their own signs: kWh, money, or not told."""
    texts = [value for value in values if isinstance(value, str) and not _blank(value)]
    if texts and all(_KWH.search(text) for text in texts):
        return "kwh"
    return "amount" if texts and all(_MONEY.search(text) for text in texts) else ""


def _of_title(rows: Sequence[tuple[int, Values]]) -> str:
    text = " ".join(value for _, values in rows for value in values if isinstance(value, str))
    energy, money = bool(_KWH.search(text)), bool(_MONEY.search(text))
    return "" if energy == money else "kwh" if energy else "amount"


def _months_across(
    grid: Grid, spec: Columns, gate: Gate, at: int, months: dict[int, tuple[int, int | None]]
) -> Relaid | None:
    header_row, header = grid.rows[at]
    labels = range(min(months))
    made = Relaid(Grid(grid.file, grid.sheet), ["the months stand in the columns"])
    found = _Found()
    own = [header[index] for index in labels if index < len(header)]
    year = next((y for value in own if (y := _year_in(value)) is not None), None) or title_year(grid.rows[:at])
    if year is None and (year := title_year([(0, [grid.sheet, PurePath(grid.file).stem])])) is not None:
        made.told.append(f"the year is {year}, as in the name")
    what = next((c for value in own if (c := _column(_words(value), spec))), "")
    what = what or _of_title([(header_row, own)]) or _of_title(grid.rows[:at])
    wraps = not _of_one_year([month for month, _ in months.values()])
    for index, value in enumerate(header):
        if index not in months and index not in labels and not _blank(value):
            made.left.append(f"the column {shown(value)}")
    for row, values in grid.rows[at + 1 :]:
        again = months_of(values)
        if again:
            months, year = again, next((y for v in values[: min(again)] if (y := _year_in(v)) is not None), year)
            continue
        own = [values[index] for index in labels if index < len(values) and not _blank(values[index])]
        cells = {index: values[index] for index in months if index < len(values) and not _blank(values[index])}
        own_year = next((y for value in own if (y := _year_in(value)) is not None), None)
        words = " ".join(word for value in own if (word := _words(value)))
        if not cells:
            year = own_year or year
            continue
        if _SUM.fullmatch(words):
            made.left.append(f"row {row} ({words})")
            continue
        column = _column(words, spec)
        if column is None:
            made.left.append(f"row {row} ({words[:40]})")
            continue
        column = column or _of_values(list(cells.values())) or what
        if not column:
            return _ask_what(grid, gate, header_row, len(labels) > 0)
        for index, value in cells.items():
            month, month_year = months[index]
            when = month_year or own_year or year
            if when is None or (month_year is None and wraps):
                return _ask_year(grid, gate, header_row)
            if not found.add((when, month), column, row, value):
                return _ask_once(grid, gate, row, column, when)
    return _laid(made, found, header_row)


def _years_across(grid: Grid, spec: Columns, gate: Gate, at: int, years: dict[int, int], column: int) -> Relaid | None:
    header_row, header = grid.rows[at]
    made = Relaid(Grid(grid.file, grid.sheet), ["the years stand in the columns"])
    found = _Found()
    body = grid.rows[at + 1 :]
    second: list[Any] = []
    if body and not _is_month(body[0][1], column):
        header_row, second = body[0][0], list(body[0][1])
        body = body[1:]
    title = _of_title(grid.rows[: at + 1])
    where: dict[int, tuple[int, str]] = {}
    year: int | None = None
    for index in range(column + 1, max(len(header), len(second))):
        year = years.get(index, year)
        under = second[index] if index < len(second) else None
        top = header[index] if index < len(header) else None
        if year is None or (index not in years and _blank(under)):
            if not _blank(top):
                made.left.append(f"the column {shown(top)}")
            continue
        words = _words(under) or _words(top)
        what = _column(words, spec)
        if what is None:
            made.left.append(f"the column {shown(top if index in years else under)}")
            continue
        beneath = [values[index] for _, values in body if index < len(values)]
        what = what or _of_values(beneath) or title
        if not what:
            return _ask_what(grid, gate, grid.rows[at][0], label=True)
        where[index] = (year, what)
    below = [month for _, values in body if column < len(values) and (month := month_alone(values[column]))]
    if not _of_one_year(below):
        return _ask_year(grid, gate, header_row)
    for row, values in body:
        label = values[column] if column < len(values) else None
        if _blank(label):
            continue
        month = month_alone(label)
        if month is None:
            made.left.append(f"row {row} ({shown(label)[:40]})")
            continue
        for index, (when, what) in where.items():
            if index < len(values) and not found.add((when, month), what, row, values[index]):
                return _ask_once(grid, gate, row, what, when)
    return _laid(made, found, header_row)


def month_alone(value: Any) -> int | None:
    """Return a month without a year, by its name or its number."""
    named = month_of(value)
    if named is not None:
        return named[0] if named[1] is None else None
    text = shown(value)
    return int(text) if text.isdigit() and 1 <= int(text) <= 12 else None


def _is_month(values: Values, column: int) -> bool:
    return column < len(values) and not _blank(values[column]) and month_alone(values[column]) is not None


def _months_below(grid: Grid, at: int, before: int) -> int | None:
    """Return the column left of the years under which months stand."""
    for column in range(before):
        if _is_month(grid.rows[at][1], column):
            return None
        below = [
            values[column] for _, values in grid.rows[at + 1 :] if column < len(values) and not _blank(values[column])
        ]
        if sum(month_alone(value) is not None for value in below) >= FEWEST_MONTHS:
            return column
    return None


def title_year(rows: Sequence[tuple[int, Values]]) -> int | None:
    """Return the one year that some rows name; None where they name none or several."""
    found = {
        int(year) for _, values in rows for value in values for year in _YEAR.findall(shown(value) if value else "")
    }
    return found.pop() if len(found) == 1 else None


def _laid(made: Relaid, found: _Found, header_row: int) -> Relaid | None:
    columns = sorted({column for values in found.values.values() for column in values})
    if not columns:
        return None
    made.grid.rows.append((header_row, ["month", *columns]))
    for (year, month), values in sorted(found.values.items()):
        row = min(row for row, _ in values.values())
        made.grid.rows.append(
            (row, [f"{year:04d}-{month:02d}", *(values[c][1] if c in values else None for c in columns)])
        )
    return made


def _turned(grid: Grid, spec: Columns) -> Relaid | None:
    """Turn a table whose columns are its rows: the names stand one below the other."""
    for column in range(2):
        at = [
            (n, match.column)
            for n, (_, values) in enumerate(grid.rows)
            if column < len(values) and isinstance(values[column], str) and (match := spec.match(values[column]))
        ]
        figures = sum(column < len(values) and _is_figure(values[column]) for _, values in grid.rows)
        if not tells_bills({name for _, name in at}) or figures > len(at):  # a word in a column of kWh is no name
            continue
        block = [values for _, values in grid.rows[at[0][0] : at[-1][0] + 1]]
        made = Relaid(Grid(grid.file, grid.sheet), ["the table is turned about: its columns count as rows"])
        for index in range(column, max(map(len, block))):
            cells = [values[index] if index < len(values) else None for values in block]
            if not all(_blank(value) for value in cells):
                made.grid.rows.append((index + 1, cells))
        return made if len(made.grid.rows) > 1 else None
    return None


def _is_figure(value: Any) -> bool:
    return isinstance(value, int | float) or (isinstance(value, str) and figure(value) is not None)


def _listed(grid: Grid, spec: Columns) -> Relaid | None:
    """Part lines of a list without a header, ``Jan 2024: 812 kWh, $131.40``, into when and how much."""
    found: list[tuple[int, str, str]] = []
    for row, values in grid.rows:
        text = ", ".join(shown(value) for value in values if not _blank(value))
        match = _LINE.fullmatch(text)
        if match is not None:
            found.append((row, match["when"].strip(), match["rest"].strip()))
        elif found or re.search(r"\d", _YEAR.sub("", text)):
            return None
    headed = any(sum(isinstance(v, str) and spec.match(v) is not None for v in values) > 1 for _, values in grid.rows)
    months = [month_of(when) for _, when, _ in found]
    whole = all(month is not None and month[1] is not None for month in months)
    dated = all(month is None and dates.is_like_a_day(when) for month, (_, when, _) in zip(months, found, strict=True))
    if headed or len(found) < FEWEST_LINES or not (whole or dated):
        return None
    made = Relaid(Grid(grid.file, grid.sheet), ["each line tells when and how much"])
    made.grid.rows.append((0, ["month" if whole else "bill_date", "kwh"]))
    made.grid.rows += [(row, [when, rest]) for row, when, rest in found]
    return made


def tells_bills(names: set[str]) -> bool:
    """Whether columns tell a bill's days and its energy."""
    return not names.isdisjoint(ENERGY) and not names.isdisjoint(DAYS)


def _stands(grid: Grid, spec: Columns) -> bool:
    """Whether some row already names what is needed."""
    for _, values in grid.rows[:WITHIN]:
        if tells_bills({match.column for value in values if isinstance(value, str) and (match := spec.match(value))}):
            return True
    return False


def _ask_what(grid: Grid, gate: Gate, header_row: int, label: bool) -> Relaid:
    place = f"in the first cell of row {header_row}" if label else f"in a row of its own above row {header_row}"
    gate.fault_in(
        grid, "it is not said whether these numbers are kWh or money", f"Write kWh or cost {place}.", row=header_row
    )
    return Relaid(grid, asked=True)


def _ask_year(grid: Grid, gate: Gate, header_row: int) -> Relaid:
    gate.fault_in(
        grid, "the year of these months is not written", "Write it beside each month, as Jan 2025.", row=header_row
    )
    return Relaid(grid, asked=True)


def _ask_once(grid: Grid, gate: Gate, row: int, column: str, year: int) -> Relaid:
    gate.fault_in(
        grid,
        f"a second {column} of the same month of {year} stands here",
        "Keep one of the two, or write what the other is in front of it.",
        row=row,
    )
    return Relaid(grid, asked=True)
