"""Workbooks that are not .xlsx: OpenDocument (ISO/IEC 26300) and the old binary Excel, opened by libraries."""

from __future__ import annotations

import io
import zipfile
from typing import Any

from reconcile.records import dataclass

MOST_CELLS = 5_000_000
"""Cells a workbook may stand for, repeated ones counted out (a guard: a year of minutes takes 2.6 million)."""
LARGEST_UNPACKED = 400_000_000
DEEPEST = 100
"""Elements within elements (a guard)."""

_BINARY = b"\xd0\xcf\x11\xe0"
_OPEN = b"application/vnd.oasis.opendocument.spreadsheet"
_OFFICE = "{urn:oasis:names:tc:opendocument:xmlns:office:1.0}"
_TABLE = "{urn:oasis:names:tc:opendocument:xmlns:table:1.0}"


@dataclass(frozen=True, slots=True)
class Sheet:
    """Cells of a sheet as Python values, None where there is nothing; ``rows`` begin at row 1, column 1."""

    title: str
    rows: list[list[Any]]


def is_other_book(data: bytes) -> bool:
    """Whether the bytes are those of a workbook that is not .xlsx."""
    return data.startswith(_BINARY) or (data.startswith(b"PK\x03\x04") and _OPEN in data[:200])


def sheets_of(data: bytes, most_rows: int, most_columns: int) -> list[Sheet]:
    """Return the sheets of a workbook.

    Parameters
    ----------
    most_rows, most_columns : int
        Rows and columns beyond which the rest is left out.

    Raises
    ------
    ValueError
        Where it cannot be opened, has a password, or stands for more than any house's table.
    """
    try:
        return (_old if data.startswith(_BINARY) else _open)(data, most_rows, most_columns)
    except Exception as error:  # torn files make the libraries raise whatever a broken part causes
        raise ValueError("it cannot be opened") from error


def _open(data: bytes, most_rows: int, most_columns: int) -> list[Sheet]:
    from python_calamine import CalamineWorkbook

    _counted(data)
    book = CalamineWorkbook.from_filelike(io.BytesIO(data))
    made = []
    for name in book.sheet_names:
        rows = book.get_sheet_by_name(name).to_python(skip_empty_area=False, nrows=most_rows)
        made.append(Sheet(name, [[_plain(value) for value in row[:most_columns]] for row in rows]))
    return made


def _old(data: bytes, most_rows: int, most_columns: int) -> list[Sheet]:
    import xlrd

    with xlrd.open_workbook(file_contents=data, logfile=io.StringIO()) as book:
        made = []
        for sheet in book.sheets():
            rows = [
                [_typed(cell, book.datemode) for cell in sheet.row(n)[:most_columns]]
                for n in range(min(sheet.nrows, most_rows))
            ]
            made.append(Sheet(sheet.name, rows))
    return made


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
    """Return a value as openpyxl would give it: a whole number as int, nothing as None."""
    if isinstance(value, str):
        return value or None
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    return value


def _counted(data: bytes) -> None:
    """Count what an OpenDocument stands for: a cell and a row may be repeated by a number."""
    from defusedxml.ElementTree import iterparse

    cells = across = depth = 0
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        if sum(part.file_size for part in archive.infolist()) > LARGEST_UNPACKED:
            raise ValueError("it unpacks to too much")
        for event, element in iterparse(archive.open("content.xml"), events=("start", "end"), forbid_dtd=True):
            depth += 1 if event == "start" else -1
            if depth > DEEPEST:
                raise ValueError("its parts stand too deep in one another")
            if event == "start":
                continue
            if element.tag in (f"{_TABLE}table-cell", f"{_TABLE}covered-table-cell"):
                filled = len(element) or element.get(f"{_OFFICE}value-type")
                across += _times(element, "number-columns-repeated") if filled else 0
            elif element.tag == f"{_TABLE}table-row":
                cells += across * _times(element, "number-rows-repeated")
                across = 0
                element.clear()
            if cells > MOST_CELLS:
                raise ValueError("it stands for too many cells")


def _times(element: Any, name: str) -> int:
    text = element.get(f"{_TABLE}{name}", "1")
    return int(text) if text.isdigit() and len(text) < 8 else 1
