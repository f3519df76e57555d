"""The sheets of a house's workbook as cells, by their names or by what they hold."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path

from reconcile.read.layouts.loose_tables import tables_of_page
from reconcile.read.tables.by_content import KINDS, by_content, is_of_more_than_readings, twice
from reconcile.read.tables.cells import Grid, Unworked, nearest, plain_name, shown
from reconcile.read.tables.columns import Columns, tokens
from reconcile.read.tables.gate import Gate
from reconcile.read.tables.headers import is_of_bills
from reconcile.read.tables.named_columns import OTHERS
from reconcile.read.tables.sum_rows import is_of_sums
from reconcile.read.values.numbers import half_width
from reconcile.read.wrappings.books import MOST_CELLS, BookError, Sheet, check_house_book, is_other_book, sheets_of
from reconcile.read.wrappings.files import MOST_ROWS, parse_csv
from reconcile.read.wrappings.plain_bytes import as_utf8, read_bytes
from reconcile.read.wrappings.sources import TABLES, Sources

SHEETS = ("house", *TABLES, "interval", "field test")
FREE_SHEETS = ("notes", "read me", "results")
"""Sheets for the householder's own text, and what a workbook works out itself: they are not read."""

MOST_COLUMNS = 200


def grids(path: Path, gate: Gate, sources: Sources | None = None) -> dict[str, Grid]:
    """Read the sheets of :data:`SHEETS` that a workbook has into cells, by name.

    Where ``sources`` is given, a table whose name no sheet has is found by its columns; further bills go there.
    """
    file = path.name
    data = read_bytes(path, file, gate)
    if data is None:
        return {}
    sheets = _sheets(data, file, gate)
    known: dict[str, Sheet] = {}
    strange = []
    for sheet in sheets:
        name = _known(sheet)
        if name == "":
            strange.append(sheet)
        elif name is not None and name in known:
            gate.fault(f"there are two sheets {name}", "Keep one of the two.", file=file, sheet=sheet.title)
        elif name is not None:
            known[name] = sheet
    grids_of = [(sheet, partial(_as_it_is, _grid(sheet, file, Gate()))) for sheet in strange]
    found = by_content(grids_of, [name for name in KINDS if name not in known]) if sources is not None else {}
    for name, pairs in found.items():
        if len(pairs) > 1 and name != "bills":
            twice(name, [f"the sheets {pairs[0][0].title}", pairs[1][0].title], file, gate)
    taken = [sheet for pairs in found.values() for sheet, _ in pairs]
    left = [sheet for sheet in strange if sheet not in taken]
    left = [sheet for sheet in left if not _misspelled(sheet, file, gate, [*known, *found])]
    if found or left:
        parts = [f"{name} in the sheet {' and '.join(one.title for one, _ in of)}" for name, of in found.items()]
        if parts:
            gate.notice(f"{file} is read as: {'; '.join(parts)}.")
        for sheet in left:
            gate.notice(f"{file}, the sheet {shown(sheet.title)} is not read.")
    made = {name: [_grid(sheet, file, gate) for sheet, _ in of] for name, of in found.items()}
    if sources is not None:
        sources.other = [grid for sheet in left if len((grid := _grid(sheet, file, Gate())).rows) > 1]
        sources.more_bills = made.get("bills", [])[1:]
    by_name = {name: _grid(sheet, file, gate) for name, sheet in known.items()}
    return by_name | {name: of[0] for name, of in made.items()}


def lone_grid(path: Path, name: str, gate: Gate) -> Grid | None:
    """Read one table from a workbook that holds nothing else: the sheet of its name, else the first with anything."""
    data = read_bytes(path, path.name, gate)
    if data is None:
        return None
    every = _sheets(data, path.name, gate)
    sheets = [sheet for sheet in every if plain_name(sheet.title) == plain_name(name)]
    sheets += [sheet for sheet in every if sheet.rows]
    if not sheets:
        gate.fault("there is nothing in it", "Fill it or take it away.", file=path.name)
        return None
    return _grid(sheets[0], path.name, gate)


def _sheets(data: bytes, file: str, gate: Gate) -> list[Sheet]:
    """Return the sheets of a workbook, or of what is only called one; none, with a fault, where it cannot be read."""
    try:
        if data.startswith(b"PK") and not is_other_book(data):
            check_house_book(data)
        elif not is_other_book(data) and not data.startswith(b"%PDF"):
            return _of_text(data, file, gate)
        return sheets_of(data, MOST_ROWS, MOST_COLUMNS, MOST_CELLS)
    except BookError as error:
        gate.fault(error.problem, error.remedy, file=file, sheet=error.sheet)
        return []


def _of_text(data: bytes, file: str, gate: Gate) -> list[Sheet]:
    """Return the tables of a web page or a text: both are often saved under a workbook's name."""
    text = as_utf8(data)
    if text is not None and text.lstrip().startswith(b"<"):
        pages = tables_of_page(text.decode("utf-8", "replace"))
        sheets = [Sheet(f"table {n}", list(enumerate(rows, start=1))) for n, rows in enumerate(pages, start=1)]
    else:
        grid = Grid(file) if text is None else parse_csv(text.decode("utf-8", "replace"), file, gate)
        sheets = [Sheet("table", [(n, list(values)) for n, values in grid.rows])] if len(grid.rows) > 1 else []
    if not sheets:
        raise BookError
    return sheets


def holds_bills(path: Path) -> bool:
    """Whether a workbook has a sheet of bills, by its name or by its columns."""
    gate = Gate()
    data = read_bytes(path, path.name, gate)
    sheets = [] if data is None else _sheets(data, path.name, gate)
    grids = [_grid(sheet, path.name, Gate()) for sheet in sheets]
    of_bills = any(is_of_bills(grid) and is_of_more_than_readings(grid) for grid in grids)
    return of_bills or any(_known(sheet) == "bills" for sheet in sheets)


def _known(sheet: Sheet) -> str | None:
    """Return the table a sheet is by its name; empty where it is none, None where it is not to be read."""
    plain = {plain_name(name): name for name in SHEETS}
    title = plain_name(sheet.title)
    if title in plain:
        return plain[title]
    return "" if sheet.rows and title not in map(plain_name, FREE_SHEETS) else None


def _as_it_is(grid: Grid, spec: Columns) -> Grid:
    return grid


def _misspelled(sheet: Sheet, file: str, gate: Gate, taken: Sequence[str]) -> bool:
    """Whether the name of a sheet is nearly one that is known, which is a fault."""
    near = None if {*tokens(sheet.title)} & OTHERS else nearest(sheet.title, SHEETS)  # Water is no weather
    if near is None or near in taken:
        return False
    gate.fault(
        "this sheet is not known",
        f"Did you mean {near}? Rename it or take it out.",
        file=file,
        sheet=shown(sheet.title),
    )
    return True


def _grid(sheet: Sheet, file: str, gate: Gate) -> Grid:
    grid = Grid(file, sheet.title)
    of_keys = plain_name(sheet.title) in ("house", "interval", "fieldtest")
    for top, bottom, name in sheet.merged[:5]:
        if of_keys:
            gate.fault_in(grid, f"the cells {name} are merged", "Unmerge them and write a value in each.", row=top)
        else:
            grid.merged.append((top, bottom, name))
    for row, column, value in sheet.outside:
        from openpyxl.utils import get_column_letter  # few workbooks have any

        letters = get_column_letter(column)
        gate.fault_in(
            grid, "a value stands far outside the table", "Delete it.", row=row, column=letters, read=shown(value)
        )
    for number, values in sheet.rows:
        sums = is_of_sums(values)  # left out in any case, worked out or not
        cells = [None if sums and isinstance(value, Unworked) else value for value in values]
        grid.rows.append((number, [half_width(value) if type(value) is str else value for value in cells]))
    return grid
