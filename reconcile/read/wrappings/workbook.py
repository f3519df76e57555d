"""The sheets of a workbook as cells; openpyxl is imported only here, and only when a workbook is read."""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Any

from reconcile.read.layouts.loose_tables import tables_of_page
from reconcile.read.tables.by_content import KINDS, by_content, is_of_more_than_readings, twice
from reconcile.read.tables.cells import Grid, Unworked, nearest, plain_name, shown
from reconcile.read.tables.columns import Columns
from reconcile.read.tables.gate import Gate
from reconcile.read.tables.headers import is_of_bills
from reconcile.read.tables.sum_rows import is_of_sums
from reconcile.read.values.numbers import half_width
from reconcile.read.wrappings.files import MOST_ROWS, parse_csv, read_bytes
from reconcile.read.wrappings.interval_files import as_utf8
from reconcile.read.wrappings.other_books import Sheet, is_other_book, sheets_of
from reconcile.read.wrappings.sources import TABLES, Sources
from reconcile.read.wrappings.xlsx_limits import check_bytes

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
    if data is None or not (not data.startswith(b"PK") or is_other_book(data) or check_bytes(data, file, gate)):
        return {}
    sheets = _open(data, file, gate, values=False)
    known: dict[str, Any] = {}
    strange = []
    for sheet in sheets:
        name = _known(sheet)
        if name == "":
            strange.append(sheet)
        elif name is not None and name in known:
            gate.fault(f"there are two sheets {name}", "Keep one of the two.", file=file, sheet=sheet.title)
        elif name is not None:
            known[name] = sheet
    grids_of = [(sheet, partial(_as_it_is, _grid(sheet, None, file, Gate()))) for sheet in strange]
    found = by_content(grids_of, [name for name in KINDS if name not in known]) if sources is not None else {}
    for name, pairs in found.items():
        if len(pairs) > 1 and name != "bills":
            twice(name, [f"the sheets {pairs[0][0].title}", pairs[1][0].title], file, gate)
    taken = [sheet for pairs in found.values() for sheet, _ in pairs]
    left = [sheet for sheet in strange if sheet not in taken]
    left = [sheet for sheet in left if not _misspelled(sheet, file, gate, [*known, *found])]
    if any(_has_formula(sheet) for sheet in (*known.values(), *taken)):
        stored = {sheet.title: sheet for sheet in _open(data, file, gate, values=True)}
    else:
        stored = {}
    if found or left:
        parts = [f"{name} in the sheet {' and '.join(one.title for one, _ in of)}" for name, of in found.items()]
        if parts:
            gate.notice(f"{file} is read as: {'; '.join(parts)}.")
        for sheet in left:
            gate.notice(f"{file}, the sheet {shown(sheet.title)} is not read.")
    made = {name: [_grid(sheet, stored.get(sheet.title), file, gate) for sheet, _ in of] for name, of in found.items()}
    if sources is not None:
        sources.other = [grid for sheet in left if len((grid := _grid(sheet, None, file, Gate())).rows) > 1]
        sources.more_bills = made.get("bills", [])[1:]
    by_name = {name: _grid(sheet, stored.get(sheet.title), file, gate) for name, sheet in known.items()}
    return by_name | {name: of[0] for name, of in made.items()}


def lone_grid(path: Path, name: str, gate: Gate) -> Grid | None:
    """Read one table from a workbook that holds nothing else: the sheet of its name, else the first with anything."""
    data = _checked(path, gate)
    if data is None:
        return None
    stored = _open(data, path.name, gate, values=True)
    sheets = [sheet for sheet in stored if plain_name(sheet.title) == plain_name(name)]
    sheets += [sheet for sheet in stored if sheet._cells]
    if not sheets:
        gate.fault("there is nothing in it", "Fill it or take it away.", file=path.name)
        return None
    return _grid(sheets[0], None, path.name, gate)


def _checked(path: Path, gate: Gate) -> bytes | None:
    """Return the bytes of a workbook; None, with a fault, where it passes a limit or cannot be read."""
    data = read_bytes(path, path.name, gate)
    if data is None or not data.startswith(b"PK") or is_other_book(data):
        return data
    return data if check_bytes(data, path.name, gate) else None


def _broken(file: str, gate: Gate) -> None:
    gate.fault(
        "this is not a workbook that can be opened",
        "Open it in a spreadsheet program and save it anew as .xlsx, without a password.",
        file=file,
    )


def _open(data: bytes, file: str, gate: Gate, *, values: bool) -> Sequence[Any]:
    import openpyxl

    other = _other_sheets(data, file, gate)
    if other is not None:
        if not other:
            _broken(file, gate)
        return _as_xlsx(other)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # about styles and extensions it drops; no cell depends on them
            return list(openpyxl.load_workbook(io.BytesIO(data), data_only=values).worksheets)
    except Exception:  # openpyxl lets whatever a broken part causes through: KeyError, TypeError, ParseError
        _broken(file, gate)
        return []


def _other_sheets(data: bytes, file: str, gate: Gate) -> list[Sheet] | None:
    """Return the sheets of what is no .xlsx; None where it is. Web pages and texts are often saved under its name."""
    if is_other_book(data):
        try:
            return sheets_of(data, MOST_ROWS + 1, MOST_COLUMNS + 1)
        except ValueError:
            return []
    text = as_utf8(data) if not data.startswith((b"PK", b"%PDF")) else None
    if text is None or b"\x00" in text:
        return None
    if text.lstrip().startswith(b"<"):
        tables = tables_of_page(text.decode("utf-8", "replace"))
        return [Sheet(f"table {n}", [list(row) for row in table]) for n, table in enumerate(tables, start=1)]
    grid = parse_csv(text.decode("utf-8", "replace"), file, gate)
    rows: list[list[Any]] = [[] for _ in range(grid.rows[-1][0])] if len(grid.rows) > 1 else []
    for number, values in grid.rows if rows else ():
        rows[number - 1] = list(values)
    return [Sheet("table", rows)] if rows else []


def _as_xlsx(sheets: Sequence[Sheet]) -> Sequence[Any]:
    """Return other sheets as openpyxl's, with what their formulas gave when they were saved."""
    import openpyxl

    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for sheet in sheets:
        made = book.create_sheet()
        made.title = re.sub(r"[\\*?:/\[\]]", " ", sheet.title)[:31]
        for row, values in enumerate(sheet.rows, start=1):
            for column, value in enumerate(values, start=1):
                if value is not None:
                    made.cell(row, column).value = value
    return list(book.worksheets)


def holds_bills(path: Path) -> bool:
    """Whether a workbook has a sheet of bills, by its name or by its columns."""
    gate = Gate()
    data = _checked(path, gate)
    if data is None:
        return False
    sheets = _open(data, path.name, gate, values=True)
    grids = [_grid(sheet, None, path.name, Gate()) for sheet in sheets]
    of_bills = any(is_of_bills(grid) and is_of_more_than_readings(grid) for grid in grids)
    return of_bills or any(_known(sheet) == "bills" for sheet in sheets)


def _known(sheet: Any) -> str | None:
    """Return the table a sheet is by its name; empty where it is none, None where it is not to be read."""
    plain = {plain_name(name): name for name in SHEETS}
    title = plain_name(sheet.title)
    if title in plain:
        return plain[title]
    empty = sheet.max_row == 1 and sheet.max_column == 1 and sheet["A1"].value is None
    if not empty and title not in map(plain_name, FREE_SHEETS):
        return ""
    return None


def _as_it_is(grid: Grid, spec: Columns) -> Grid:
    return grid


def _misspelled(sheet: Any, file: str, gate: Gate, taken: Sequence[str]) -> bool:
    """Whether the name of a sheet is nearly one that is known, which is a fault."""
    near = nearest(sheet.title, SHEETS)
    if near is None or near in taken:
        return False
    gate.fault(
        "this sheet is not known",
        f"Did you mean {near}? Rename it or take it out.",
        file=file,
        sheet=shown(sheet.title),
    )
    return True


def _has_formula(sheet: Any) -> bool:
    return any(cell.data_type == "f" for cell in sheet._cells.values())


def _grid(sheet: Any, stored: Any, file: str, gate: Gate) -> Grid:
    grid = Grid(file, sheet.title)
    for merged in list(sheet.merged_cells.ranges)[:5]:
        if plain_name(sheet.title) not in ("house", "interval", "fieldtest"):
            grid.merged.append((merged.min_row, merged.max_row, str(merged)))
            continue
        gate.fault(
            f"the cells {merged} are merged",
            "Unmerge them and write a value in each.",
            file=file,
            sheet=sheet.title,
            row=merged.min_row,
        )
    rows: dict[int, dict[int, Any]] = {}
    sums = {row for (row, _), cell in sheet._cells.items() if is_of_sums([cell.value])}
    for (row, column), cell in sheet._cells.items():  # only cells that exist: max_row may be a million
        value = cell.value
        if value is None or (isinstance(value, str) and not value.strip()):
            continue
        if column > MOST_COLUMNS or row > MOST_ROWS:
            gate.fault(
                "a value stands far outside the table",
                "Delete it.",
                file=file,
                sheet=sheet.title,
                row=row,
                column=cell.column_letter,
                read=shown(value),
            )
            continue
        if cell.data_type == "f":
            value = None if stored is None else stored.cell(row, column).value
            if value is None and row in sums:
                continue  # sums below a table are left out in any case
            if value is None:  # the gate refuses it where the cell is needed
                value = Unworked(cell.value if isinstance(cell.value, str) else "an array formula")
        rows.setdefault(row, {})[column] = half_width(value) if type(value) is str else value
    for row in sorted(rows):
        cells = rows[row]
        grid.rows.append((row, [cells.get(column) for column in range(1, max(cells) + 1)]))
    return grid
