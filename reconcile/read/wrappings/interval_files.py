"""Files of interval data in whatever wrapping they were downloaded: text, gzip, zip, workbook, parquet or XML."""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Iterator

from reconcile.read.layouts.loose_tables import rows_of_json, tables_of_page, with_tabs
from reconcile.read.layouts.raw_tables import MOST_COLUMNS, RawTable, cells_of, open_text
from reconcile.read.layouts.table_sections import sections_of, with_days_in_rows
from reconcile.read.tables.gate import Gate
from reconcile.read.wrappings.books import BookError, is_other_book, sheets_of
from reconcile.read.wrappings.plain_bytes import (
    MOST_RATIO,
    PACKED,
    SMALL_PACKED,
    as_utf8,
    gunzip,
    read_bytes,
    too_large,
)
from reconcile.read.wrappings.sources import ENDINGS, IntervalFile
from reconcile.records import dataclass

_PAGE = re.compile(rb"<(?:!doctype html|html|table)[\s>]", re.IGNORECASE)

LARGEST = 400_000_000
"""Bytes of a file of interval data, unpacked: ten years of minutes are 130 million (a guard, common practice)."""
MOST_MEMBERS = 400
MOST_ROWS, MOST_SHEET_ROWS = 12_000_000, 1_100_000
"""Rows: twenty years of minutes; what a sheet can hold."""


@dataclass(frozen=True, slots=True)
class Feed:
    """A file that is XML."""

    file: str
    data: bytes


def open_files(files: list[IntervalFile], gate: Gate) -> Iterator[RawTable | Feed]:
    """Open every file and give its tables, one after another."""
    for one in files:
        if one.grid is not None:
            yield cells_of(one.grid.file, one.grid.sheet, one.grid.rows)
        elif one.path is not None:
            data = read_bytes(one.path, one.name, gate, LARGEST)
            if data is not None:
                yield from _opened(data, one.name, gate, packed=0)


def _opened(data: bytes, file: str, gate: Gate, packed: int) -> Iterator[RawTable | Feed]:
    kind = data[:8]
    if kind.startswith((b"PK\x03\x04", PACKED)) and packed >= 2:
        gate.fault("archives stand within archives in it", "Unpack it.", file=file)
    elif is_other_book(data):
        yield from _book(data, file, gate)
    elif kind.startswith(b"PK\x03\x04"):
        yield from _zip(data, file, gate, packed)
    elif kind.startswith(PACKED):
        inner = gunzip(data, file, gate, LARGEST)
        if inner is not None:
            yield from _opened(inner, file, gate, packed + 1)
    elif kind.startswith(b"PAR1"):
        text = _parquet(data, file, gate)
        if text is not None:
            yield from _text(text, file, gate)
    elif kind.startswith(b"%PDF"):
        gate.fault("this is a PDF, which is not read", "Save the table as .csv or .xlsx.", file=file)
    else:
        yield from _text(data, file, gate)


def _text(data: bytes, file: str, gate: Gate) -> Iterator[RawTable | Feed]:
    plain = as_utf8(data)
    if plain is None:
        gate.fault("this is not a text file, or a torn one", "Save the table as CSV.", file=file)
        return
    begin = plain[:400].lstrip()
    if begin.startswith(b"<"):
        pages = tables_of_page(plain.decode("utf-8", "replace")) if _PAGE.search(plain[:4000]) else []
        yield from (cells_of(file, None, list(enumerate(rows, start=1))) for rows in pages)
        if not pages:
            yield Feed(file, plain)
    elif begin.startswith((b"{", b"[")):
        rows = rows_of_json(plain.decode("utf-8", "replace"))
        if rows is None:
            gate.fault("no list of readings is in this JSON", "Write one row an interval, as CSV.", file=file)
        else:
            yield cells_of(file, None, list(enumerate(rows, start=1)))
    elif not begin:
        gate.fault("there is nothing in it", "Fill it or take it away.", file=file)
    else:
        if b'="' in plain[:4000]:  # cells that a spreadsheet was told to keep as text
            plain = re.sub(rb'(?m)(^|[,;\t|])="([^"\n]*)"', rb'\1"\2"', plain)
        table = open_text(with_tabs(plain), file, gate)
        if table is not None:
            yield from sections_of(with_days_in_rows(table))


def _zip(data: bytes, file: str, gate: Gate, packed: int) -> Iterator[RawTable | Feed]:
    try:
        archive = zipfile.ZipFile(io.BytesIO(data))
        parts = [part for part in archive.infolist() if not part.is_dir()]
    except (zipfile.BadZipFile, ValueError, NotImplementedError, EOFError, OverflowError):
        gate.fault("this archive is broken or incomplete", "Download it anew.", file=file)
        return
    size = sum(part.file_size for part in parts)
    if size > LARGEST or size > max(SMALL_PACKED, MOST_RATIO * len(data)) or len(parts) > MOST_MEMBERS:
        too_large(file, gate, LARGEST)
        return
    if any(part.filename == "xl/workbook.xml" for part in parts):
        yield from _book(data, file, gate)
        return
    found = [
        part
        for part in sorted(parts, key=lambda part: part.filename)
        if not part.filename.startswith(("__MACOSX", ".")) and part.filename.casefold().endswith(ENDINGS)
    ]
    if not found:
        gate.fault("no interval data are in this archive", "Put a CSV or XML file in it.", file=file)
    for part in found:
        name = f"{file}/{part.filename}"
        try:
            with archive.open(part) as stream:
                inner = stream.read(part.file_size + 1)
        except (zipfile.BadZipFile, zlib.error, RuntimeError, NotImplementedError, EOFError, OSError, ValueError):
            gate.fault("this part of the archive cannot be unpacked", "Unpack it without a password.", file=name)
            continue
        if len(inner) > part.file_size:
            too_large(file, gate, LARGEST)
            return
        yield from _opened(inner, name, gate, packed + 1)


def _book(data: bytes, file: str, gate: Gate) -> Iterator[RawTable]:
    """Sheets that hold anything, as tables; a fault where none does."""
    try:
        sheets = [sheet for sheet in sheets_of(data, MOST_SHEET_ROWS, MOST_COLUMNS) if sheet.rows]
    except BookError as error:
        gate.fault(error.problem, error.remedy, file=file)
        return
    if not sheets:
        gate.fault("there is nothing in it", "Fill it or take it away.", file=file)
    yield from (with_days_in_rows(cells_of(file, sheet.title, sheet.rows)) for sheet in sheets)


def _parquet(data: bytes, file: str, gate: Gate) -> bytes | None:
    try:
        import pyarrow as pa
        import pyarrow.csv
        import pyarrow.parquet
    except ImportError:
        gate.fault(
            "parquet is read only where pyarrow is installed", "Install reconcile[fast], or save it as CSV.", file=file
        )
        return None
    try:
        whole = pa.parquet.ParquetFile(io.BytesIO(data))
        if whole.metadata.num_rows > MOST_ROWS or whole.metadata.num_columns > MOST_COLUMNS:
            too_large(file, gate, LARGEST)
            return None
        table = whole.read()
        stream = io.BytesIO()
        pa.csv.write_csv(table, stream)
    except (pa.ArrowException, OSError, ValueError, TypeError):
        gate.fault("this parquet file cannot be read", "Save it anew, one row an interval, or as CSV.", file=file)
        return None
    return stream.getvalue()
