"""Days without a year, as ``12/11`` or ``Dec 11 - Jan 10``: the year from what stands beside, above or before them."""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Sequence
from dataclasses import field
from datetime import date, timedelta
from itertools import accumulate, pairwise
from pathlib import PurePath

from reconcile.read.bills.bill_edges import LONGEST_USUAL_DAYS
from reconcile.read.tables.cells import Row, Table, plain_name
from reconcile.read.tables.columns import BILLS, tokens
from reconcile.read.tables.gate import Gate
from reconcile.read.tables.laid_across import month_of
from reconcile.read.values import dates
from reconcile.read.values.bare_days import Pair, is_of_figures, month_and_day, without_year
from reconcile.read.values.month_names import lone_year
from reconcile.records import dataclass

COLUMNS = ("start", "end", "bill_date", "period")
BESIDE_DAYS = 120
"""A bill is dated so many days after its last reading at the most (our choice)."""
FEWEST_MONTHS = 3
"""Rows that show of themselves whether ``Dec 14`` is a month (our choice)."""

_YEARS = re.compile(r"(?<!\d)((?:19|20)\d\d)(?:\s*[/\-\N{EN DASH}]\s*(\d\d)(?!\d))?(?!\d)")


@dataclass(slots=True)
class _Line:
    """A row with the days that lack a year, by column, first and last of a period."""

    row: Row
    days: dict[str, tuple[str, ...]] = field(default_factory=dict)
    heading: int | None = None

    def texts(self) -> list[str]:
        return [text for name in ("start", "period", "end", "bill_date") for text in self.days.get(name, ())]


def days_not_months(table: Table, gate: Gate) -> bool:
    """Take a column of ``Dec 14`` and the like for days where they would be no months of bills in order.

    False where a question had to be asked.

    Parameters
    ----------
    table : Table
        Its column of months may become one of days.
    gate : Gate
        What is asked goes there.
    """
    rows = [row for row in table.rows if table.has("month") and not row.blank("month")]
    cells = [row["month"] for row in rows if lone_year(row.value("month")) is None]
    if not cells or any(table.has(name) for name in COLUMNS):
        return True
    if not all(isinstance(cell.value, str) and without_year(cell.value) and month_of(cell.value) for cell in cells):
        return True
    months = [month for cell in cells if (month := month_of(cell.value)) is not None]
    counts = [12 * (year or 0) + month for month, year in months]
    steps = [after - before for before, after in pairwise(counts)]
    in_order = all(0 <= step <= 12 for step in steps) or all(-12 <= step <= 0 for step in steps)
    beside = {year for year in _carried(rows) if year is not None}
    named = {year for text in (*table.above, table.sheet or "") if (year := lone_year(text)) is not None}
    told = beside or named or {year for year in map(lone_year, (cell.value for cell in cells)) if year}
    fits = {year for _, year in months} <= (told or {*_titled(table)})
    short = gate.bare_days and len(cells) < FEWEST_MONTHS
    if (fits and not short) or (in_order and not told and not _titled(table) and not short):
        return True
    if in_order and not told and len(cells) >= FEWEST_MONTHS:
        gate.wrong(
            cells[0],
            f"this may be a day of {_joined(_titled(table))}, or a month of {months[0][1]}",
            f"Write the days as {_titled(table)[0]}-12-09, or the months as December {months[0][1]}.",
        )
        return False
    gate.bare_days = True
    at = table.header.pop("month")
    column = "end" if {"read", "reading", "meter"} & {*tokens(table.names[at])} else "bill_date"
    table.read_as = [line for line in table.read_as if line != f"month is the column {table.names[at]}"]
    table.read_as.append(f"{cells[0].read} and the like are days, not months of {months[0][1]}")
    table.header[plain_name(column)] = at
    return True


def _carried(rows: Sequence[Row]) -> list[int | None]:
    """Return the year beside each row, which stands for the rows below it too; None where none does, or not so."""
    years: list[int | None] = []
    for row in rows:
        own = lone_year(row.value("year"))
        years.append(own if own is not None or not years or not row.blank("year") else years[-1])
    return years


def give_years(table: Table, gate: Gate) -> bool:
    """Write the years into days that have none; False where they cannot be told, with one question.

    Parameters
    ----------
    table : Table
        Its rows are changed in place.
    gate : Gate
        Its date format goes first.
    """
    bare = [name for name in COLUMNS if table.has(name) and _without_year(table, name)]
    if not bare:
        return True
    headed = under_headings(table, bare)
    lines = [
        _Line(row, {name: parts for name in bare if (parts := without_year(row.value(name)))}, headed.get(row.number))
        for row in table.rows
    ]
    order = _order(lines, gate)
    if order is None:
        first = next(line for line in lines if line.texts())
        gate.wrong(
            first.row[next(iter(first.days))],
            "day and month may each stand first here, and both would make a series of bills",
            gate.ask("date_format", ("DD/MM/YYYY", "MM/DD/YYYY"), table),
        )
        return False
    told = _told(lines, table, gate, order)
    if told is None:
        first = next(line for line in lines if line.texts())
        at = first.row[next(iter(first.days))]
        gate.wrong(
            at,
            f"the year of this day is not written, and {_joined(_titled(table))} above it or in the name does not fit"
            if _titled(table)
            else "the year of this day is not written, nor anywhere in the table",
            "Add a column year, with the year of each bill's last day; or put the year of the first bill and of the "
            "last above the table, as 2024/2025.",
        )
        return False
    gate.bills_order = gate.bills_order or order
    for line, years in told[0]:
        _write(table, line, years, order)
    table.read_as.append(told[1])
    return True


def under_headings(table: Table, columns: Sequence[str]) -> dict[int, int]:
    """Take out the rows that hold but a year, and return the year over each row below them, by row numbers.

    The first of several such headings may stand over the header.

    Parameters
    ----------
    columns : sequence of str
        Columns in which the year may stand.
    """
    over = lone_year(table.above[-1]) if table.above else None
    kept, headed, any_found = [], {}, False
    for row in table.rows:
        year = next((y for name in columns if (y := lone_year(row.value(name))) is not None), None)
        if year is not None and all(row.blank(column.name) for column in BILLS if column.name not in columns):
            over, any_found = year, True
            table.left.append(f"row {row.number} ({year}), the year of the rows below it")
            continue
        kept.append(row)
        if over is not None:
            headed[row.number] = over
    table.rows[:] = kept
    return headed if any_found else {}


def _without_year(table: Table, name: str) -> bool:
    cells = [row[name] for row in table.rows if not row.blank(name)]
    days = [cell for cell in cells if lone_year(cell.value) is None]
    return bool(days) and all(isinstance(cell.value, str) and without_year(cell.value) for cell in days)


def _order(lines: Sequence[_Line], gate: Gate) -> dates.Order | None:
    """Return which of day and month stands first; None where both can be."""
    texts = [text for line in lines for text in line.texts()]
    fits: list[dates.Order] = [
        order for order in ("mdy", "dmy") if all(month_and_day(text, order) is not None for text in texts)
    ]
    if len(fits) == 2 and not any(is_of_figures(text) for text in texts):
        return "mdy"
    if len(fits) == 2 and gate.date_format:
        return "dmy" if gate.date_format.strip("%").casefold().startswith("d") else "mdy"
    if len(fits) == 2:
        # bills come one after another: the order in which they do is the right one where the other does not
        fits = [order for order in fits if _turns(_lasts(lines, order)) <= 1 + len(lines) // 12] or fits
    if len(fits) == 2:
        fits = [order for order in fits if all(_short(line, order) for line in lines)] or fits
    if len(fits) == 2 and gate.bills_order in fits:
        return gate.bills_order
    return fits[0] if len(fits) == 1 else None


def _short(line: _Line, order: dates.Order) -> bool:
    """Whether the two days of a bill, in some years, are no further apart than bills are long."""
    days = [month_and_day(text, order) for text in line.texts()]
    return not days or _apart(days[0], days[-1]) <= LONGEST_USUAL_DAYS


def _apart(first: Pair | None, second: Pair | None) -> int:
    """Return how many days after one day of a year, at the most 365, the other one comes (0 where one is none)."""
    if first is None or second is None:
        return 0
    return int(date(2001, *_kept(second)).toordinal() - date(2001, *_kept(first)).toordinal()) % 365


def _kept(day: Pair) -> Pair:
    """A day that every year has."""
    return day[0], min(day[1], monthrange(2001, day[0])[1])


def _sequence(lines: Sequence[_Line], order: dates.Order) -> list[Pair]:
    return [day for line in lines for text in line.texts() if (day := month_and_day(text, order)) is not None]


def _lasts(lines: Sequence[_Line], order: dates.Order) -> list[Pair]:
    """Return each line's last day."""
    return [day for line in lines if line.texts() and (day := month_and_day(line.texts()[-1], order)) is not None]


def _turns(days: Sequence[Pair]) -> int:
    """Count how often the year turns along days that go forward, or back where that is fewer."""
    return min(sum(b < a for a, b in pairwise(days)), sum(b > a for a, b in pairwise(days)))


def _told(
    lines: Sequence[_Line], table: Table, gate: Gate, order: dates.Order
) -> tuple[list[tuple[_Line, list[int]]], str] | None:
    """Return the years of each line's days, and where they are from; None where nothing tells them."""
    with_days = [line for line in lines if line.texts()]
    ends = _carried([line.row for line in with_days])
    if None not in ends:
        return _spread(with_days, ends, order, "the column year is the one of each bill's last day")
    beside = [_beside(line, gate, order) for line in with_days]
    if all(year is not None for year in beside):
        return _spread(with_days, beside, order, "the years are those of the dates beside")
    if any(line.heading is not None for line in with_days):
        return _by_headings(with_days, order)
    titled = _titled(table)
    if not titled:
        return None
    ends_only = _lasts(with_days, order)
    falling = sum(b > a for a, b in pairwise(ends_only)) < sum(b < a for a, b in pairwise(ends_only))
    ordered = [*reversed(with_days)] if falling else with_days
    told = f"the years are told by {_joined(titled)} in the title or the name"
    whole = _counted(_sequence(ordered, order), titled)
    if whole is not None:
        left = iter(whole)
        return [(line, [next(left) for _ in line.texts()]) for line in ordered], told
    firsts = [day for line in ordered if (day := month_and_day(line.texts()[0], order))]
    for which, days in (("last", ends_only[:: -1 if falling else 1]), ("first", firsts)):
        years = _counted(days, titled)
        if years is not None and _joins(ordered, order):
            return _spread(ordered, years, order, f"{told}, as those of the bills' {which} days", which == "first")
    return None


def _joins(lines: Sequence[_Line], order: dates.Order) -> bool:
    """Whether bills of two days begin where the one before them ends, so that no other order of them is likelier."""
    spans = [[month_and_day(text, order) for text in line.texts()] for line in lines]
    return all(len(span) > 1 for span in spans) and all(
        _apart(before[-1], after[0]) in (0, 1, 2) for before, after in pairwise(spans)
    )


def _joined(titled: Sequence[int]) -> str:
    return " and ".join(map(str, sorted({titled[0], titled[-1]})))


def _counted(days: Sequence[Pair], titled: Sequence[int]) -> Sequence[int] | None:
    """Return the year of each of some days in order, where they turn into all the years of the title and no more."""
    turns = [0, *accumulate(int(b < a) for a, b in pairwise(days))]
    return [titled[0] + turn for turn in turns] if turns[-1] + 1 == len(titled) else None


def _titled(table: Table) -> list[int]:
    """Return the run of years that stand above the table, or else in its file's or sheet's name."""
    for texts in (table.above, (table.sheet or "",), (PurePath(table.file).stem,)):
        found: set[int] = set()
        for text in texts:
            for match in _YEARS.finditer(text):
                found.add(int(match[1]))
                if match[2] is not None and int(match[1]) % 100 + 1 == int(match[2]):
                    found.add(int(match[1]) + 1)
        if found and max(found) - min(found) < 30:
            return list(range(min(found), max(found) + 1))
    return []


def _beside(line: _Line, gate: Gate, order: dates.Order) -> int | None:
    """Return the year of a line's last day by a whole date in its row that follows soon after."""
    last = month_and_day(line.texts()[-1], order)
    for name in ("end", "bill_date", "start"):
        cell = line.row[name]
        if name in line.days or cell.blank:
            continue
        try:
            whole = dates.parse(cell.value, gate.date_format, order)[0]
        except dates.DateError:
            continue
        for year in (whole.year, whole.year - 1):
            day = _date(year, last)
            if day is not None and timedelta(0) <= whole - day <= timedelta(days=BESIDE_DAYS):
                return year
    return None


def _date(year: int, pair: Pair | None) -> date | None:
    try:
        return None if pair is None else date(year, *pair)
    except ValueError:
        return None


def _spread(
    lines: Sequence[_Line], known: Sequence[int | None], order: dates.Order, told: str, forward: bool = False
) -> tuple[list[tuple[_Line, list[int]]], str] | None:
    """Count back from the year of each line's last day, or ``forward`` from its first."""
    made = []
    for line, year in zip(lines, known, strict=True):
        if year is None:
            return None
        years: list[int] = []
        before: Pair | None = None
        for text in line.texts() if forward else reversed(line.texts()):
            day = month_and_day(text, order)
            assert day is not None
            if before is not None:
                year += day < before if forward else -(day > before)
            years.append(year)
            before = day
        made.append((line, years if forward else years[::-1]))
    return made, told


def _by_headings(lines: Sequence[_Line], order: dates.Order) -> tuple[list[tuple[_Line, list[int]]], str] | None:
    return _spread(lines, [line.heading for line in lines], order, "the years stand above the rows")


def _write(table: Table, line: _Line, years: Sequence[int], order: dates.Order) -> None:
    at = next(n for n, row in enumerate(table.rows) if row.number == line.row.number)
    cells = [*line.row.values]
    left = list(years)
    for name in ("start", "period", "end", "bill_date"):
        texts = line.days.get(name, ())
        whole = []
        for text in texts:
            pair = month_and_day(text, order)
            year = left.pop(0)
            whole.append(f"{year:04d}-{pair[0]:02d}-{pair[1]:02d}" if pair is not None else text)
        if whole:
            cells[table.header[plain_name(name)]] = " - ".join(whole)
    table.rows[at] = Row(table, line.row.number, tuple(cells))
