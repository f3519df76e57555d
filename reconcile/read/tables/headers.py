"""From the cells of a file to a table: where its header stands, what each column is, which rows are no data."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from reconcile.read.tables.cells import Grid, Relaid, Row, Table, plain_name, shown
from reconcile.read.tables.columns import DAYS, ENERGY, TABLES, Columns, joined
from reconcile.read.tables.examples import leave_examples
from reconcile.read.tables.gate import Gate
from reconcile.read.tables.laid_across import month_of, tells_bills, upright
from reconcile.read.tables.listed_lines import days_of_months, listed, split_spans
from reconcile.read.tables.named_columns import blank, counts, leave_no_bills, leave_other_services, name_columns
from reconcile.read.tables.pasted_text import WANTED, is_laid_out, read_pasted
from reconcile.read.tables.station_files import plain_weather
from reconcile.read.tables.sum_rows import SUMMARY
from reconcile.read.values import dates
from reconcile.read.values.month_names import lone_year
from reconcile.read.values.numbers import figure

HEADER_WITHIN = 60
"""Rows in which the header is looked for (a guard, common practice)."""
MOST_ROWS_OF_BILLS = 200
"""Rows up to which a file of another name is looked at for bills: more is rather interval data (common practice)."""
LEAST_NAMES = 2
"""Names that make a row the header where another stands above it."""

_YEAR_ALONE = re.compile(r"(?:year:? )?(?:19|20)\d\d:?", re.IGNORECASE)


_RULE = re.compile(r"[-:=_*\s]+")
"""Cells of a line drawn between rows."""


def find_table(grid: Grid, spec: Columns, gate: Gate) -> Table | None:
    """Find the table in a grid; None, with a fault, where there is none.

    Parameters
    ----------
    spec : Columns
        What its columns may be called.
    gate : Gate
        Told of names that are not known, of values without a name and of merged cells.
    """
    if not grid.rows:
        gate.fault_in(grid, "there is nothing in it", "Fill it or take it away.")
        return None
    _fill_merged(grid)
    made = relaid(grid, spec, gate)
    if made is not None:
        for row, problem, read in made.problems:
            gate.fault_in(grid, problem, WANTED, row=row, read=read)
        if made.asked or made.problems:
            return None
        grid = made.grid
    lines = listed(grid, spec) if not any(_named(values, spec) for _, values in grid.rows[:HEADER_WITHIN]) else None
    grid = grid if lines is None else lines
    at = header_index(grid, spec)
    header_row, cells = grid.rows[at]
    above = grid.rows[at - 1][1] if at else ()
    names = ["" if value is None else shown(value) for value in cells]
    texts = frozenset(column.name for column in spec if column.kind == "text")
    table = Table(grid.file, grid.sheet, names, {}, header_row=header_row, texts=texts)
    if made is not None:
        table.read_as, table.left = [*made.told], [*made.left]
    table.of_lines = lines is not None
    if table.of_lines and spec.table == "loads":
        table.read_as.append("each line is a load")
    table.above = tuple(shown(value) for _, values in grid.rows[:at] for value in values if value is not None)
    name_columns(table, spec, above, gate, grid.rows[at + 1 :])
    _rows(table, spec, grid.rows[at + 1 :])
    leave_examples(table, spec, gate)
    if spec.table == "bills":
        leave_other_services(table, gate)
        leave_no_bills(table)
    if spec.table == "events" and table.has("note") and not table.has("kind"):
        table.header["kind"] = table.header.pop("note")  # one's own words tell the kind too
    if spec.table == "events" and table.has("date"):
        split_spans(table)
        days_of_months(table)
    _merged(grid, table, gate)
    _strays(table, spec, gate)
    if at:
        table.left.append(f"what stands above row {header_row}")
    return table


def relaid(grid: Grid, spec: Columns, gate: Gate) -> Relaid | None:
    """Return a plain table made of a station's file, of lines copied off bills or of one laid across; else None."""
    if spec.table == "weather":
        return plain_weather(grid, spec)
    pasted = _pasted(grid, spec) if spec.table == "bills" else None
    if spec.table != "bills" or (pasted is not None and not pasted.problems):
        return pasted
    return upright(grid, spec, gate) or pasted


def _pasted(grid: Grid, spec: Columns) -> Relaid | None:
    named = [_named(values, spec) for _, values in grid.rows[:HEADER_WITHIN]]
    headed = any(len(found) >= LEAST_NAMES for found in named) or _even(grid, bool(named and named[0]))
    if any(tells_bills(found) for found in named) and not is_laid_out(grid, spec):
        return None
    pasted = read_pasted(grid, spec)
    return None if pasted is None or (headed and pasted.problems) else pasted


def _even(grid: Grid, named: bool) -> bool:
    """Whether a grid is a table under a first row of words, of which one names a column."""
    first = [str(value).strip() for value in grid.rows[0][1] if value is not None] if grid.rows else []
    alike = sum(len(values) == len(first) for _, values in grid.rows)
    words = len(first) > 1 and not any(re.search(r"\d", text) for text in first)
    return named and words and alike > 0.7 * len(grid.rows)


def header_index(grid: Grid, spec: Columns) -> int:
    """Return the index of the row that names most columns; the first where none names two."""
    best, most = 0, 0
    for index, (_, values) in enumerate(grid.rows[:HEADER_WITHIN]):
        named = score(values, spec)
        if named > most:
            best, most = index, named
    if most >= LEAST_NAMES:
        return best + _second_row(grid, spec, best)
    return best if most and len(grid.rows[best][1]) == 1 else 0


def _second_row(grid: Grid, spec: Columns, at: int) -> bool:
    """Whether a header goes on in the row below it: under names over several columns stand those of each."""
    if at + 1 >= len(grid.rows):
        return False
    over, names = (["" if value is None else str(value).strip() for value in grid.rows[n][1]] for n in (at, at + 1))
    wide = "" in over or len(set(over)) < len(over)
    words = [name for name in names if name]
    named = score(grid.rows[at + 1][1], spec)
    plain = all(len(word) <= 30 and not re.search(r"\d", word) for word in words)
    return wide and plain and len(words) > over.count("") and len(words) >= LEAST_NAMES and named > over.count("")


def is_of_bills(grid: Grid) -> bool:
    """Whether a grid is by its columns a table of bills: it tells days and energy, in not too many rows."""
    spec = TABLES["bills"]
    if not grid.rows or len(grid.rows) > MOST_ROWS_OF_BILLS:
        return False
    made = relaid(grid, spec, Gate())
    if made is not None and made.of_text:
        of_a_month = month_of(grid.sheet) is not None  # a sheet may be one bill then
        return not made.problems and len(made.grid.rows) > (1 if of_a_month else LEAST_NAMES)
    if made is not None and made.asked:
        return False
    grid = grid if made is None else made.grid
    named = names_of(grid, spec)
    if tells_bills(named) or named.isdisjoint(ENERGY):
        return tells_bills(named)
    table = find_table(grid, spec, Gate())  # the days may be told by what stands under another name
    return table is not None and any(table.has(name) for name in ENERGY) and any(table.has(name) for name in DAYS)


def names_of(grid: Grid, spec: Columns) -> set[str]:
    """Return the columns of a kind of table that the header of a grid names."""
    return _named(grid.rows[header_index(grid, spec)][1], spec) if grid.rows else set()


def score(values: Sequence[Any], spec: Columns) -> int:
    """Return how many columns of a table a row of cells names."""
    return len(_named(values, spec))


def _named(values: Sequence[Any], spec: Columns) -> set[str]:
    return {
        match.column
        for value in values
        if isinstance(value, str) and len(value) <= 80 and (match := spec.match(value)) is not None
    }


def _rows(table: Table, spec: Columns, body: Sequence[tuple[int, Sequence[Any]]]) -> None:
    """Take the rows that hold data; totals, repeated headers and lines of text are told and left."""
    telling = [
        table.header[plain_name(column.name)]
        for column in spec
        if column.kind not in ("text", "flag", "word") and table.has(column.name)
    ]
    texts = [
        table.header[plain_name(column.name)] for column in spec if column.needed and table.has(column.name)
    ] or telling
    at = table.header.get("end", -1)
    ends = [shown(values[at]) for _, values in body if 0 <= at < len(values) and not blank(values, at)]
    told, repeated = tuple({*telling, *texts}), [joined(name) for name in table.names if name]
    years = bool(ends) and all(re.search(r"(?:19|20)\d\d|[/.-]\d\d$", end) for end in ends)
    for number, values in body:
        if table.of_lines and spec.table == "events":
            table.rows.append(Row(table, number, tuple(values)))  # a line without a day may still tell of a danger
            continue
        kept = len(table.rows)
        written = [str(value).strip() for value in values if isinstance(value, str) and value.strip()]
        words = [text for text in written if text.upper() != text.lower()]
        label = next((text for text in words if len(text) <= 40 and SUMMARY.fullmatch(text)), None)
        if label is not None and not _is_load(spec, values, table, label):
            table.left.append(f"row {number} ({label.rstrip(':')})")
        elif words and score(values, spec) >= LEAST_NAMES and [joined(v) for v in written] == repeated:
            table.left.append(f"row {number}, which repeats the header")
        elif written and all(blank(values, index) for index in told):
            table.left.append(f"row {number}, which holds only text")
        elif _filled(values) == 1 and len(telling) > 1 and _YEAR_ALONE.fullmatch(_first(values)) and years:
            table.left.append(f"row {number} ({_first(values)})")  # a year over its bills, whose days have their own
        elif not table.rows and written and len(written) == _filled(values) and all(map(_is_unit, written)):
            table.left.append(f"row {number}, which holds the units")
        elif spec.table == "bills" and not table.rows and words and not re.search(r"\d", _all(values)):
            table.left.append(f"row {number}, which holds only text")
        elif written and all(_RULE.fullmatch(text) for text in written) and len(written) == _filled(values):
            continue
        elif (
            len(written) == 1
            and _only_text(values, telling, written[0], short=spec.table == "bills")
            and not _names_one(spec, table, values)
        ):
            table.left.append(f"row {number} ({written[0][:40]})")
        else:
            table.rows.append(Row(table, number, tuple(values)))
        if len(table.rows) == kept:
            table.aside.append(Row(table, number, tuple(values)))


_UNITS = ("kwh", "$", "usd", "eur", "gbp", "date", "days", "d", "f", "c", "dollars", "\u20ac", "\u00a3")


def _is_unit(text: str) -> bool:
    return text.strip("()[] ").casefold() in _UNITS


def _first(values: Sequence[Any]) -> str:
    return next((shown(value) for value in values if value is not None and str(value).strip()), "")


def _all(values: Sequence[Any]) -> str:
    return " ".join(shown(value) for value in values if value is not None)


def _filled(values: Sequence[Any]) -> int:
    return sum(value is not None and str(value).strip() != "" for value in values)


def _only_text(values: Sequence[Any], telling: list[int], text: str, *, short: bool) -> bool:
    """Whether a row is but a line of words, such as a footnote; ``short`` where a word or two are no row either."""
    if _filled(values) != 1 or len(telling) < 2 or not re.search(r"[^\W\d_]", text) or lone_year(text) is not None:
        return False
    if len(text.split()) > 2:
        return True
    return short and not (dates.is_like_a_day(text) or month_of(text) or re.search(r"\d.*[-/.].*\d", text))


def _names_one(spec: Columns, table: Table, values: Sequence[Any]) -> bool:
    """Whether what stands there is the name that a row must have: a load may be known by it alone."""
    needed = [column.name for column in spec if column.needed and column.kind == "text" and table.has(column.name)]
    return any(not blank(values, table.header[plain_name(name)]) for name in needed)


def _is_load(spec: Columns, values: Sequence[Any], table: Table, label: str) -> bool:
    """Whether a word such as ``Max`` is but a value of a column of text or words, not the label of a sum."""
    if any(column.kind == "text" and column.needed for column in spec) and not re.search("total|sum", label, re.I):
        return True
    first = next((index for index in range(len(values)) if not blank(values, index)), 0)
    at = next((i for i, value in enumerate(values) if isinstance(value, str) and value.strip() == label), first)
    dates = [
        table.header[plain_name(column.name)]
        for column in spec
        if column.kind in ("day", "month", "period") and table.has(column.name)
    ]
    return at != first and any(not blank(values, index) for index in dates if index != at)


def _fill_merged(grid: Grid) -> None:
    """Write words of cells that are merged downward into each of their rows; figures may be of all of them together."""
    left = []
    for top, bottom, name in grid.merged:
        first, _, last = name.partition(":")
        column = _column_number(first)
        value = next((row[column] for number, row in grid.rows if number == top and column < len(row)), None)
        if column != _column_number(last) or not isinstance(value, str) or figure(value) is not None:
            left.append((top, bottom, name))
            continue
        for at, (number, row) in enumerate(grid.rows):
            if top < number <= bottom:
                cells = [*row, *[None] * (column + 1 - len(row))]
                cells[column] = value
                grid.rows[at] = (number, cells)
    grid.merged[:] = left


def _merged(grid: Grid, table: Table, gate: Gate) -> None:
    last = table.rows[-1].number if table.rows else table.header_row
    for top, bottom, name in grid.merged[:5]:
        first, *_ = name.partition(":")
        if (
            table.has("year")
            and _column_number(first) == table.header["year"]
            and name.count(first.rstrip("0123456789")) == 2
        ):
            continue  # one year beside its months
        if bottom > table.header_row and top <= last:
            gate.fault_in(grid, f"the cells {name} are merged", "Unmerge them and write a value in each.", row=top)


def _column_number(cell: str) -> int:
    """Return the number of a cell's column, from 0."""
    number = 0
    for letter in cell.rstrip("0123456789"):
        number = 26 * number + ord(letter.upper()) - ord("A") + 1
    return number - 1


def _strays(table: Table, spec: Columns, gate: Gate) -> None:
    body = [(row.number, row.values) for row in table.rows]
    strays = table.strays(lambda index: counts(body, index))
    if _are_notes(strays, table, spec):
        at = strays[0][1]
        table.names += [""] * (at + 1 - len(table.names))
        table.names[at], table.header["note"] = "note", at
        table.read_as.append(f"column number {at + 1}, which has no name, is taken as your notes")
        return
    last = len(table.names) - 1
    if strays and table.header.get("note") == last and all(index > last for _, index, _ in strays):
        texts = {row.number: [shown(v) for v in row.values[last:] if v is not None] for row in table.rows}
        table.fill("note", {number: ", ".join(filter(None, texts[number])) for number, _, _ in strays})
        return  # commas of a note that stands last without quotes
    table.tell_strays(strays, f"row {table.header_row}", gate)


def _are_notes(strays: Sequence[tuple[int, int, Any]], table: Table, spec: Columns) -> bool:
    """Whether what stands without a heading is one column of words: notes in the margin, where none are named."""
    offered = any(column.name == "note" for column in spec) and not table.has("note")
    words = all(isinstance(value, str) and value.strip()[:1].isalpha() for _, _, value in strays)
    return offered and words and len({index for _, index, _ in strays}) == 1
