"""Rows of bills made whole before they are read: what stands once for several rows, or twice in one cell."""

from __future__ import annotations

import re
from datetime import date
from itertools import pairwise
from pathlib import PurePath
from typing import Any

from reconcile.read.bills.bill_edges import with_habits
from reconcile.read.bills.heading_units import hundredths, of_a_bill, of_several
from reconcile.read.bills.how_read import how_read, kind_of_bill
from reconcile.read.bills.joined_months import join_months
from reconcile.read.bills.marks import read_marks
from reconcile.read.bills.part_rows import fold_parts
from reconcile.read.bills.summed_parts import add_charges, add_dials, add_parts, add_products
from reconcile.read.bills.yearless_days import days_not_months, give_years, under_headings
from reconcile.read.tables.cells import Cell, Row, Table, plain_name, shown
from reconcile.read.tables.columns import BILLS, DAYS, SIGNS, joined, tokens
from reconcile.read.tables.gate import Gate
from reconcile.read.tables.laid_across import month_alone, month_of
from reconcile.read.values import dates, numbers
from reconcile.read.values.month_names import lone_year

SPANS = ("quarter", "quartal", "trimestre", "trimester", "kwartaal", "kvartal", "week", "woche")
"""Headers of a period where nothing else tells the days."""

_OF_A_READING = frozenset(("read", "reading", "meter", "day", "of", "the", "month", "date"))
_ENERGY = re.compile(r"[\d.,'’ ]*\d\s*kwh", re.IGNORECASE)
_BETWEEN = re.compile(r"^[\s(,;/|@=:+&-]+|(?:\bfor\b|\bat\b|\bcost\b|[\s),;/|@=:+&(-])+$", re.IGNORECASE)
_YEAR = re.compile(r"(?<!\d)((?:19|20)\d\d)(?!\d)")


def make_whole(table: Table, gate: Gate) -> bool:
    """Tell columns by what stands in them, part what stands in one cell, and give months and days their years.

    False where a question had to be asked.
    """
    read_marks(table)
    _words_for_figures(table)
    _spans(table)
    _by_content(table)
    _pairs(table)
    of_a_bill(table)
    fold_parts(table)
    add_parts(table)
    add_dials(table)
    add_products(table)
    hundredths(table)
    of_several(table)
    _currency(table, gate)
    add_charges(table)
    sure = days_not_months(table, gate)
    _years(table)
    _days_of_months(table)
    join_months(table)
    _without_figures(table)
    _without_total(table)
    return sure and give_years(table, gate)


_WORDS = re.compile(r"[^\W\d_]{2,}[^\d]*")
FEW_WORDS = 0.25
"""Part of the cells that may hold words in place of a figure: where more do, it is rather the column that is wrong (our
choice)."""


def _words_for_figures(table: Table) -> None:
    """Leave words where the kWh or the money should stand, ``lost the bill``, beside rows that hold figures."""
    for column in ("kwh", "amount"):
        said = [row for row in table.rows if _WORDS.fullmatch(str(row.value(column) or "").strip())]
        if said and len(said) <= FEW_WORDS * sum(not row.blank(column) for row in table.rows):
            table.rows[:] = [row.with_value(column, None) if row in said else row for row in table.rows]
            table.left += [f"row {row.number}, {column}: {shown(row.value(column))[:40]}" for row in said]


def _spans(table: Table) -> None:
    """Take a column of quarters for the periods where no other column tells them."""
    if any(table.has(name) for name in DAYS):
        return
    for index, name in enumerate(table.names):
        if joined(name) in SPANS:
            return table.take(index, "period")


def _currency(table: Table, gate: Gate) -> None:
    """Take the currency from the sign over the charges: ``Amount (Rs)``."""
    for column in ("amount", "amount_due"):
        index = table.header.get(plain_name(column))
        signs = [sign for sign in (() if index is None else tokens(table.names[index])) if sign in SIGNS]
        cell = next((row[column] for row in table.rows if not row.blank(column)), None)
        for sign in signs:
            if cell is not None and numbers.CURRENCIES.get(sign) is not None:
                gate.currencies.setdefault(sign, cell)


def _by_content(table: Table) -> None:
    """Tell a column ``Reading`` of register values from one of words by what stands in it."""
    for column, other in (("reading_end", "read_type"), ("read_type", "reading_end")):
        cells = [row[column] for row in table.rows if not row.blank(column)] if table.has(column) else []
        if not cells or table.has(other):
            continue
        words = (BILLS["read_type"].code(str(cell.value)) is not None for cell in cells)
        figures = (numbers.figure(cell.value) is not None for cell in cells)
        if all(words) if column == "reading_end" else not any(words) and all(figures):
            table.rename(column, other)
    how_read(table)
    kind_of_bill(table)
    _dial(table)
    index = table.header.get("amountdue")
    if index is not None and not table.has("amount") and table.names[index].strip() != "amount_due":
        table.header["amount"] = table.header.pop("amountdue")
        told = f"amount_due is the column {table.names[index]}"
        table.read_as = [line for line in table.read_as if line != told]
        table.read_as.append(
            f"{table.names[index]} is this period's charges (if it holds arrears or other services, "
            "add a column amount)"
        )


def _dial(table: Table) -> None:
    """Tell a column ``Meter`` of what it showed by its figures, which rise."""
    shown_there = [numbers.figure(row.value("meter"), ".") for row in table.rows] if table.has("meter") else []
    rising = all(a is not None and b is not None and a < b for a, b in pairwise(shown_there))
    if len(shown_there) > 2 and rising and not table.has("reading_end"):
        table.header["readingend"] = table.header.pop("meter")
        table.read_as.append(f"reading_end is the column {table.names[table.header['readingend']]}: its figures rise")


def _pairs(table: Table) -> None:
    """Part ``812 kWh ($131.40)`` into its energy and its money, where every cell of a column is so."""
    for column, other in (("kwh", "amount"), ("amount", "kwh")):
        if not table.has(column) or table.has(other):
            continue
        parted = {row.number: pair for row in table.rows if (pair := _pair(row.value(column))) is not None}
        filled = [row for row in table.rows if not row.blank(column)]
        if not filled or len(parted) < len(filled):
            continue
        name = table.names[table.header.pop(plain_name(column))]
        table.add_column("kwh", {number: energy for number, (energy, _) in parted.items()})
        table.add_column("amount", {number: money for number, (_, money) in parted.items()})
        table.read_as = [line for line in table.read_as if not line.endswith(f"is the column {name}")]
        table.read_as.append(f"the column {name} holds both the kWh and the charges")
        return


def _pair(value: Any) -> tuple[str, str] | None:
    text = numbers.tidy(value) if isinstance(value, str) else ""
    energy = _ENERGY.search(text)
    if energy is None or len(text) > numbers.LONGEST:
        return None
    rest = (text[: energy.start()] + " " + text[energy.end() :]).strip()
    for _ in range(2):
        rest = _BETWEEN.sub("", rest).strip()
    found = [numbers.written(rest, sign) for sign in (".", ",")]
    if not any(one is not None and one.money is not None and not one.tail for one in found):
        return None
    return energy[0].strip(), rest


def _years(table: Table) -> None:
    """Give months without a year the one of the line above them, of the month before, or of the title."""
    if not table.has("month"):
        return
    headed = under_headings(table, ("month",))
    own = table.rows
    filled = [row for row in own if not row.blank("year")]
    beside = {} if headed or filled else _years_beside(table)
    if beside:
        table.years.update(beside)
    elif headed:
        table.years.update(headed)
    elif filled and filled[0] is own[0] and len(filled) < len(own):
        _carried(table, own)
    elif not filled:
        _continued(table, own)


def _years_beside(table: Table) -> dict[int, int]:
    """Return the year of each row that another column tells with more words, as ``Q1 2024``, by row numbers.

    A bill of December that is due in January is of the year before.
    """
    for index, name in enumerate(table.names):
        if name and name in table.unread:
            cells = [str(row.values[index]) if index < len(row.values) else "" for row in table.rows]
            years = [_YEAR.findall(cell) for cell in cells]
            if all(len(own) == 1 and re.search(r"[^\W\d_]", cell) for own, cell in zip(years, cells, strict=True)):
                table.read_as.append(f"the years are those in the column {name}")
                found = zip(table.rows, cells, years, strict=True)
                return {row.number: int(own[0]) - _is_later(row, cell) for row, cell, own in found}
    return {}


def _is_later(row: Row, day: str) -> bool:
    """Whether the month of a row comes later in the year than a day beside it."""
    month = month_of(row.value("month"))
    try:
        return month is not None and month[0] > dates.parse(day)[0].month
    except dates.DateError:
        return False


def _carried(table: Table, rows: list[Row]) -> None:
    """Carry the year that stands in its first row down the column ``year``."""
    year: int | None = None
    for row in rows:
        if not row.blank("year"):
            year = lone_year(row.value("year"))
        elif year is not None:
            table.years[row.number] = year
    table.read_as.append("a year stands for the rows below it too")


def _continued(table: Table, rows: list[Row]) -> None:
    """Count the years on where months without one follow each other, forward or back."""
    months = [month_of(row.value("month")) for row in rows]
    if not months or any(month is None for month in months) or all(month[1] is not None for month in months if month):
        return
    known = [month for month in months if month is not None]
    steps = {(after[0] - before[0]) % 12 for before, after in pairwise(known)}
    year = known[0][1]
    told = "the years count on from the first month"
    if year is None:
        over = [name for name in table.names if lone_year(name) is not None]
        titled = {int(found) for text in (*table.above, *over) for found in _YEAR.findall(text)}
        wraps = len(known) > 12 or any(after[0] <= before[0] for before, after in pairwise(known))
        if not titled:
            names = (table.sheet or "", PurePath(table.file).stem)
            titled = {int(found) for text in names for found in _YEAR.findall(text)}
        if len(titled) != 1 or wraps or any(month[1] is not None for month in known):
            return
        year, told = titled.pop(), "the year is the one above the table or in its name"
    elif steps not in ({1}, {2}, {3}, {11}, {10}, {9}):
        return
    forward = not steps or min(steps) <= 3
    lent: dict[int, int] = {}
    last = known[0][0]
    for row, (month, written) in zip(rows[1:], known[1:], strict=True):
        year += 1 if forward and month <= last else -1 if not forward and month >= last else 0
        if written is not None and written != year:
            return
        lent[row.number], last = year, month
    if known[0][1] is None:
        lent[rows[0].number] = year if len(rows) == 1 else next(iter(lent.values()))
    table.years.update(lent)
    table.read_as.append(told)


def _days_of_months(table: Table) -> None:
    """Read a month and the day of its reading, in a column of its own, as one day."""
    if not table.has("month") or any(table.has(name) for name in ("start", "end", "period", "days", "bill_date")):
        return
    named = set(table.header.values())
    for at, name in enumerate(table.names):
        if at in named or "day" not in tokens(name) or not _OF_A_READING.issuperset(tokens(name)):
            continue
        ends: dict[int, str] = {}
        for row in table.rows:
            alone = month_alone(row.value("month"))
            month = month_of(row.value("month")) or (None if alone is None else (alone, None))
            day = numbers.figure(row.values[at] if at < len(row.values) else None)
            own = lone_year(row.value("year")) or table.years.get(row.number)
            year = own if month is None else month[1] or own
            if month is None or year is None or day is None or day != int(day) or not 1 <= day <= 31:
                return
            ends[row.number] = f"{year:04d}-{month[0]:02d}-{int(day):02d}"
        titles = table.names[table.header.pop("month")], name
        table.header.pop("year", None)
        table.years.clear()
        table.add_column("end", ends)
        table.now_read(name)
        table.read_as = [line for line in table.read_as if not line.startswith(("month is", "year is"))]
        table.read_as.append(f"end is the day in {titles[1]} of the month in {titles[0]}")
        return


def _without_figures(table: Table) -> None:
    """Leave months that are not filled in yet, at the end of the table or at its beginning."""
    opens = ("month", "period", "year", *(("start",) if table.has("end") else ()))

    def empty(row: Row) -> bool:
        heading = lone_year(row.value("start")) is not None  # the year of the rows below it
        return not heading and all(row.blank(column.name) for column in BILLS if column.name not in opens)

    rows = table.rows
    first = next((n for n, row in enumerate(rows) if not empty(row)), None)
    if first is None:
        return
    last = next(n for n in range(len(rows) - 1, -1, -1) if not empty(rows[n]))
    gone = [*rows[:first], *rows[last + 1 :]]
    if gone:
        table.left.append(f"{len(gone)} row{'s' if len(gone) > 1 else ''} without figures, from row {gone[0].number}")
        table.rows[:] = rows[first : last + 1]


def _without_total(table: Table) -> None:
    """Leave a last row without a day whose energy is the sum of all the others, or their mean."""
    if len(table.rows) < 3 or not table.has("kwh"):
        return
    *others, last = table.rows
    if any(not last[name].blank for name in (*DAYS, "days")):
        return
    values = [numbers.figure(row.value("kwh"), ".") for row in table.rows]
    if any(value is None for value in values):
        return
    *each, total = (float(value) for value in values if value is not None)
    for what, wanted in (("sum", sum(each)), ("mean", sum(each) / len(others))):
        if abs(total - wanted) <= 0.51:
            table.left.append(f"row {last.number}, the {what} of the others")
            table.rows.pop()
            return


def open_by_readings(table: Table, gate: Gate) -> None:
    """Let a reading that no bill stands beside open the next bill; a table of readings alone is bills by their ends.

    Called when the habits of the table are settled.
    """
    if not table.has("reading_end") or table.has("period") or table.has("month"):
        return
    alone = not any(table.has(name) for name in ("kwh", "delivered_kwh", "reading_start", "days", "start"))
    name = "end" if table.has("end") else "bill_date"
    dated = [(day, row) for row in table.rows if (day := with_habits(row[name], gate)) is not None]
    if len(dated) < 2 or len(dated) < len(table.rows):
        return
    dated.sort(key=lambda pair: pair[0])
    openings = _exchanged(table, dated) if alone else {}
    (opened, first), (_, second) = dated[:2]
    others = ("kwh", "delivered_kwh", "reading_start", "days", "start", "amount")
    if first["reading_end"].blank or not all(first[name].blank for name in others):
        return
    if not alone and not (second["start"].blank and second["reading_start"].blank and second["days"].blank):
        return
    if name == "bill_date":  # the first row is no bill, so its day is the reading's
        table.header["end"] = table.header.pop("billdate")
        table.read_as = [line for line in table.read_as if not line.startswith("bill_date is")]
    after = [row for _, row in dated[1:]]
    starts = {after[0].number: opened}
    readings = {after[0].number: first["reading_end"].value}
    if alone:
        for before, row in zip(dated[1:], after[1:], strict=False):
            opens = openings.get(before[1].number, before[1])
            starts[row.number], readings[row.number] = before[0], opens["reading_end"].value
    else:  # each bill opens with the reading that closed the one before
        for closed, row in pairwise(after):
            if all(row.blank(one) for one in ("start", "reading_start")) and not closed["reading_end"].blank:
                readings[row.number] = closed["reading_end"].value
    kept = {row.number for row in after}
    table.rows[:] = [row for row in table.rows if row.number in kept]
    for column, values in (("start", starts), ("reading_start", readings)):
        table.fill(column, {number: value for number, value in values.items() if value is not None})
    if alone:
        table.read_as.append("each bill goes from one reading to the next")
    table.read_as.append(f"the reading of {opened} ({shown(first['reading_end'].value)}) opens the first bill")


def open_by_day(table: Table, gate: Gate) -> None:
    """Let a day with nothing beside it open the first bill, where the bills are told by their ends alone."""
    ends = "end" if table.has("end") else "bill_date"
    dated = [(day, row) for row in table.rows if (day := with_habits(row[ends], gate)) is not None]
    if len(dated) < 2 or len(dated) < len(table.rows) or any(table.has(name) for name in ("period", "month", "days")):
        return
    dated.sort(key=lambda pair: pair[0])
    (opened, first), (_, second) = dated[:2]
    bare = all(_opens(first[column.name]) for column in BILLS if column.name != ends)
    if not bare or not second["start"].blank or not second["reading_start"].blank:
        return
    table.rows[:] = [row for row in table.rows if row.number != first.number]
    table.fill("start", {second.number: opened})
    table.read_as.append(f"{opened} opens the first bill")


_OPENS = re.compile(r"start(?:s|ed)?|open(?:s|ed|ing)?|begin(?:s|ning)?|began|first|moved?|in|none|n|a")


def _opens(cell: Cell) -> bool:
    """Whether nothing stands in a cell, or words that the records begin there."""
    words = re.findall(r"\w+", cell.value.casefold()) if isinstance(cell.value, str) else None
    return cell.blank or (words is not None and all(_OPENS.fullmatch(word) for word in words))


def _exchanged(table: Table, dated: list[tuple[date, Row]]) -> dict[int, Row]:
    """Take two readings of one day, the second far lower, for an old meter's last and a new one's first.

    The second is taken out of ``dated``; what is given back is the row that opens the bill after the first.
    """
    openings: dict[int, Row] = {}
    for before, after in pairwise(list(dated)):
        last, first = (numbers.figure(row.value("reading_end"), ".") for row in (before[1], after[1]))
        if before[0] == after[0] and last is not None and first is not None and first < 0.5 * last:
            openings[before[1].number] = after[1]
            dated.remove(after)
    if openings and not table.has("meter"):
        served, names = 1, {}
        for _, row in dated:
            names[row.number] = f"meter {served}"
            served += row.number in openings
        index = max([len(table.names), *(len(row.values) for row in table.rows)])
        table.add_column("meter", names)
        for n, (day, row) in enumerate(dated):
            dated[n] = (day, next(other for other in table.rows if other.number == row.number))
        openings = {at: next(o for o in table.rows if o.number == row.number) for at, row in openings.items()}
        assert table.header["meter"] == index
    if openings:
        table.read_as.append("two readings of one day are the last of a meter and the first of the next")
    return openings


def suggested(table: Table) -> list[str]:
    """Propose a header for a table that has none, by what its first row looks like."""
    names: list[str] = []
    for value in table.names:
        if dates.orders_of(value) or with_habits(Cell(value, "", ""), Gate()) is not None:
            names.append("start" if "start" not in names else "end" if "end" not in names else "bill_date")
        elif lone_year(value) is not None and "year" not in names:
            names.append("year")
        elif month_of(value) is not None and "month" not in names:
            names.append("month")
        elif numbers.figure(value) is not None:
            names.append("kwh" if "kwh" not in names else "amount" if "amount" not in names else "other")
        else:
            names.append("note")
    if "start" in names and "end" not in names:
        names[names.index("start")] = "end"
    return names
