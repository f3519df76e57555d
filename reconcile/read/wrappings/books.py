"""Workbooks of every kind as sheets of Python values: .xlsx, OpenDocument (ISO/IEC 26300) and the old binary Excel."""

from __future__ import annotations

import html
import io
import re
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import field
from typing import Any

from reconcile.read.tables.cells import Unworked
from reconcile.records import dataclass

LARGEST_UNPACKED = 60_000_000
"""Bytes the workbook of a house may unpack to. This and the limits below are guards (common practice), set by what was
measured: a workbook at all of them is read in less than 10 s and 500 MB, and two years of quarter-hours fit in."""
MOST_PARTS = 1000
MOST_CELLS = 250_000
"""Cells with a value, of all sheets of a house."""
MOST_ELEMENTS = 1_250_000
"""Elements of one part: a cell brings its value, formula and text along."""
MOST_REPEATED = 5_000_000
"""Cells an OpenDocument may stand for, repeated ones counted out (a year of minutes takes 2.6 million)."""
LARGEST_OPEN = 400_000_000
"""Bytes an OpenDocument may unpack to."""
DEEPEST = 100
"""Elements within elements."""

_BINARY = b"\xd0\xcf\x11\xe0"
_OPEN = b"application/vnd.oasis.opendocument.spreadsheet"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"
_DOCTYPE = re.compile(rb"\0?".join(re.escape(bytes((letter,))) for letter in b"<!DOCTYPE"), re.IGNORECASE)
_FORMULA = re.compile(rb'<(?:\w+:)?c\b[^<>]*\br="([A-Z]+[0-9]+)"[^<>]*>\s*<(?:\w+:)?f\b[^<>]*>([^<]*)')
_MERGED = re.compile(rb'<(?:\w+:)?mergeCell\b[^<>]*\bref="([^"]*)"')


class BookError(ValueError):
    """A workbook that cannot be read: the problem, what to do, and the sheet."""

    def __init__(
        self,
        problem: str = "this is not a workbook that can be opened",
        remedy: str = "Open it in a spreadsheet program and save it anew as .xlsx, without a password.",
        sheet: str | None = None,
    ) -> None:
        super().__init__(problem)
        self.problem, self.remedy, self.sheet = problem, remedy, sheet


@dataclass(frozen=True, slots=True)
class Sheet:
    """Cells of a sheet as Python values, None where there is nothing."""

    title: str
    rows: list[tuple[int, list[Any]]]
    """Number from 1 and values of each row that holds anything."""
    merged: list[tuple[int, int, str]] = field(default_factory=list)
    """First and last row of merged cells, and their name."""
    outside: list[tuple[int, int, Any]] = field(default_factory=list)
    """Row, column and value of what stands beyond the rows and columns that are read."""


def is_other_book(data: bytes) -> bool:
    """Whether the bytes are those of a workbook that is not .xlsx."""
    return data.startswith(_BINARY) or (data.startswith(b"PK\x03\x04") and _OPEN in data[:200])


def check_house_book(data: bytes) -> None:
    """Hold a packed workbook against the limits of a house's, before any library builds it in memory.

    Raises
    ------
    BookError
        Where it would fill the memory, or holds a document type: not every parser refuses the entities of one.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = archive.infolist()
            if len(parts) > MOST_PARTS or sum(part.file_size for part in parts) > LARGEST_UNPACKED:
                raise BookError(
                    f"this workbook unpacks to more than {LARGEST_UNPACKED // 1_000_000} MB or {MOST_PARTS} parts",
                    "Take out what is not a table of the house.",
                )
            for part in parts:
                content = archive.read(part)
                if content.count(b"<") > 2 * MOST_ELEMENTS:
                    raise _too_many_cells()
                if part.filename.casefold().endswith((".xml", ".rels")) and _DOCTYPE.search(content):
                    raise BookError
    except BookError:
        raise
    except Exception as error:  # zipfile and zlib let whatever a torn archive causes through
        raise BookError from error


def _too_many_cells(sheet: str | None = None) -> BookError:
    return BookError(
        f"there are more than {MOST_CELLS} cells",
        "Delete the rows and columns beyond the table; write long interval data as interval.csv in a folder.",
        sheet,
    )


def sheets_of(data: bytes, most_rows: int, most_columns: int, most_cells: int | None = None) -> list[Sheet]:
    """Return the sheets of a workbook.

    Parameters
    ----------
    most_rows, most_columns : int
        Rows and columns beyond which the rest is left out.
    most_cells : int or None
        Cells with a value that all sheets of an .xlsx may hold.

    Raises
    ------
    BookError
        Where it cannot be opened, has a password, or stands for more than any house's table.
    """
    try:
        if data.startswith(_BINARY):
            return [_sheet(name, rows, most_rows, most_columns) for name, rows in _old(data)]
        if is_other_book(data):
            return [_sheet(name, rows, most_rows, most_columns) for name, rows in _open(data, most_rows)]
        return list(_xlsx(data, most_rows, most_columns, most_cells))
    except BookError:
        raise
    except Exception as error:  # torn files make the libraries raise whatever a broken part causes
        raise BookError from error


def _sheet(title: str, rows: Iterator[list[Any]], most_rows: int, most_columns: int) -> Sheet:
    """Keep of the rows of a sheet what holds anything."""
    sheet = Sheet(title, [])
    for number, values in enumerate(rows, start=1):
        kept = [None if isinstance(value, str) and not value.strip() else value for value in values]
        far = 0 if number > most_rows else most_columns
        sheet.outside.extend((number, at, v) for at, v in enumerate(kept[far:], start=far + 1) if v is not None)
        del kept[far:]
        while kept and kept[-1] is None:
            del kept[-1]
        if kept:
            sheet.rows.append((number, kept))
    return sheet


def _xlsx(data: bytes, most_rows: int, most_columns: int, most_cells: int | None) -> Iterator[Sheet]:
    import openpyxl
    from openpyxl.utils import range_boundaries

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # about styles and extensions it drops; no cell depends on them
        book: Any = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
        for own in book.worksheets:
            own.reset_dimensions()  # what a file says of its own size is not to be trusted
            with book._archive.open(own._worksheet_path) as part:
                content = part.read()
            made = _sheet(own.title, map(list, own.iter_rows(values_only=True)), most_rows, most_columns)
            _add_unworked(made, content, most_rows, most_columns)
            for ref in _MERGED.findall(content):
                bounds: Any = range_boundaries(ref.decode())
                made.merged.append((bounds[1], bounds[3], ref.decode()))
            if most_cells is not None:
                most_cells -= len(made.outside) + sum(v is not None for _, values in made.rows for v in values)
                if most_cells < 0:
                    raise _too_many_cells(own.title)
            yield made


def _add_unworked(sheet: Sheet, content: bytes, most_rows: int, most_columns: int) -> None:
    """Put each formula that no program has worked out in its place, where it would else be taken for an empty cell."""
    from openpyxl.utils import coordinate_to_tuple

    rows = dict(sheet.rows)
    for place, formula in _FORMULA.findall(content):
        row, column = coordinate_to_tuple(place.decode())
        values = rows.get(row, [])
        if row > most_rows or column > most_columns or (column <= len(values) and values[column - 1] is not None):
            continue
        values += [None] * (column - len(values))
        values[column - 1] = Unworked("=" + html.unescape(formula.decode("utf-8", "replace")))
        rows[row] = values
    sheet.rows[:] = sorted(rows.items())


def _open(data: bytes, most_rows: int) -> Iterator[tuple[str, Iterator[list[Any]]]]:
    from python_calamine import CalamineWorkbook

    _count_repeated(data)
    book = CalamineWorkbook.from_filelike(io.BytesIO(data))
    for name in book.sheet_names:
        rows = book.get_sheet_by_name(name).to_python(skip_empty_area=False, nrows=most_rows + 1)
        yield name, ([_plain(value) for value in row] for row in rows)


def _old(data: bytes) -> Iterator[tuple[str, Iterator[list[Any]]]]:
    import xlrd

    with xlrd.open_workbook(file_contents=data, logfile=io.StringIO()) as book:
        for sheet in book.sheets():
            yield sheet.name, ([_typed(cell, book.datemode) for cell in row] for row in sheet.get_rows())


def _typed(cell: Any, datemode: Any) -> Any:
    """Return the value of a cell whose type is kept beside it: a date is a number of days."""
    import xlrd

    if cell.ctype == xlrd.XL_CELL_DATE:
        moment = xlrd.xldate_as_datetime(cell.value, datemode)
        return moment.time() if cell.value < 1 else moment
    if cell.ctype == xlrd.XL_CELL_BOOLEAN:
        return bool(cell.value)
    return None if cell.ctype == xlrd.XL_CELL_ERROR else _plain(cell.value)


def _plain(value: Any) -> Any:
    """Return a value as openpyxl would give it: a whole number as int."""
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    return value


def _count_repeated(data: bytes) -> None:
    """Count what an OpenDocument stands for: a cell and a row may be repeated by a number."""
    from defusedxml.ElementTree import iterparse

    cells = across = depth = 0
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        if sum(part.file_size for part in archive.infolist()) > LARGEST_OPEN:
            raise BookError
        for event, element in iterparse(archive.open("content.xml"), events=("start", "end"), forbid_dtd=True):
            depth += 1 if event == "start" else -1
            if depth > DEEPEST:
                raise BookError
            if event == "start":
                continue
            if element.tag in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
                filled = len(element) or element.get(f"{_OFFICE}value-type")
                across += _times(element, "number-columns-repeated") if filled else 0
            elif element.tag == f"{_TABLE}table-row":
                cells += across * _times(element, "number-rows-repeated")
                across = 0
                element.clear()
            if cells > MOST_REPEATED:
                raise BookError


def _times(element: Any, name: str) -> int:
    text = element.get(f"{_TABLE}{name}", "1")
    return int(text) if text.isdigit() and len(text) < 8 else 1
