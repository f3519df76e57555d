"""Workbooks made to fill the memory are refused, whichever parser is there; what only other readers multiply is not."""

from __future__ import annotations

import io
import resource
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from reconcile import InputError, read_house
from reconcile.read.wrappings import books

SHEET = "xl/worksheets/sheet1.xml"
DOCTYPE = '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]>'


def parts_of_a_house() -> dict[str, bytes]:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "bills"
    for row in (["start", "end", "kwh"], ["2025-01-07", "2025-02-06", 912], ["2025-02-06", "2025-03-07", 801]):
        sheet.append(row)
    stream = io.BytesIO()
    book.save(stream)
    with zipfile.ZipFile(stream) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


PARTS = parts_of_a_house()


def packed(**changes: bytes) -> bytes:
    """The workbook with some parts changed (a double underscore in a name stands for a slash, one for a point)."""
    named = {name.replace("__", "/").replace("_", "."): content for name, content in changes.items()}
    return zipped({**PARTS, **named})


def zipped(parts: dict[str, bytes]) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return stream.getvalue()


def sheet(rows: bytes = b"", behind: bytes = b"") -> bytes:
    return PARTS[SHEET].replace(b"</sheetData>", rows + b"</sheetData>" + behind)


BOMBS: dict[str, tuple[Callable[[], bytes], str | None, str]] = {
    "ten million empty cells": (
        lambda: packed(xl__worksheets__sheet1_xml=sheet(b'<row r="4">' + b"<c/>" * 10_000_000 + b"</row>")),
        None,
        "more than 250000 cells",
    ),
    "millions of formats": (
        lambda: packed(xl__styles_xml=b"<styleSheet>" + b"<xf/>" * 10_000_000 + b"</styleSheet>"),
        None,
        "more than 250000 cells",
    ),
    "parts": (lambda: zipped({**PARTS, **{f"x{n}": b"" for n in range(1001)}}), None, "unpacks to more"),
    **{
        f"a document type in {part} ({encoding})": (
            lambda part=part, encoding=encoding: zipped(
                {**PARTS, part: (DOCTYPE + PARTS[part].decode().partition("?>")[2]).encode(encoding)}
            ),
            None,
            "not a workbook that can be opened",
        )
        for part in ("xl/workbook.xml", SHEET, "[Content_Types].xml")
        for encoding in ("utf-8", "utf-16")
    },
}


@pytest.mark.parametrize("name", BOMBS)
def test_a_workbook_made_to_fill_the_memory_is_refused(name: str, tmp_path: Path) -> None:
    make, sheet_name, text = BOMBS[name]
    path = tmp_path / "house.xlsx"
    path.write_bytes(make())
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with pytest.raises(InputError) as caught:
        read_house(path)
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 150_000
    (fault,) = caught.value.faults
    assert text in fault.problem
    assert (fault.file, fault.sheet) == ("house.xlsx", sheet_name)


HARMLESS = {
    "one merged range below the table": sheet(behind=b'<mergeCells><mergeCell ref="A7:XFD1048576"/></mergeCells>'),
    "one link over a sheet": sheet(behind=b'<hyperlinks><hyperlink ref="B2:XFD1048576" location="A1"/></hyperlinks>'),
    "a long formula shared by many": sheet(
        b'<row r="4"><c r="J4"><f t="shared" ref="J4:J900" si="0">' + b"A1+" * 2000 + b"A1</f><v></v></c></row>"
    ),
    "empty cells with a format": sheet(b'<row r="4">' + b'<c s="0"/>' * 16_000 + b"</row>"),
}


@pytest.mark.parametrize("name", HARMLESS)
def test_what_other_readers_would_multiply_is_passed_over(name: str, tmp_path: Path) -> None:
    (tmp_path / "house.xlsx").write_bytes(packed(xl__worksheets__sheet1_xml=HARMLESS[name]))
    assert [bill.kwh for bill in read_house(tmp_path / "house.xlsx").bills] == [912.0, 801.0]


def test_the_cells_of_all_sheets_are_counted() -> None:
    data = packed(xl__worksheets__sheet1_xml=sheet(b'<row r="4">' + b"<c><v>1</v></c>" * 300 + b"</row>"))
    assert len(books.sheets_of(data, 100, 200, 309)) == 1
    with pytest.raises(books.BookError, match="cells"):
        books.sheets_of(data, 100, 200, 308)


def test_a_formula_without_a_value_is_told_with_what_it_says(tmp_path: Path) -> None:
    rows = b'<row r="4"><c r="A4"><v>45723</v></c><c r="B4"><v>45755</v></c><c r="C4"><f>A1&amp;B1</f></c></row>'
    (tmp_path / "house.xlsx").write_bytes(packed(xl__worksheets__sheet1_xml=sheet(rows)))
    with pytest.raises(InputError) as caught:
        read_house(tmp_path / "house.xlsx")
    assert [(f.row, f.column, f.read) for f in caught.value.faults if "no stored value" in f.problem] == [
        (4, "kwh", "=A1&B1")
    ]


def test_the_largest_workbook_that_passes_is_read_within_the_memory(tmp_path: Path) -> None:
    rows = b"".join(
        b'<row r="%d"><c r="A%d"><v>1</v></c><c r="B%d"><v>2</v></c></row>' % (n, n, n)
        for n in range(4, books.MOST_CELLS // 2 - 4)
    )
    path = tmp_path / "house.xlsx"
    path.write_bytes(packed(xl__worksheets__sheet1_xml=sheet(rows)))
    # Of the process itself: the system's own count begins with that of the process it was forked from.
    code = (
        "import re, resource, sys\nfrom pathlib import Path\nfrom reconcile.read import read_house\n"
        "try: read_house(sys.argv[1])\nexcept ValueError as error: assert error.faults\n"
        "status = Path('/proc/self/status')\n"
        "own = re.search(r'VmHWM:\\s*(\\d+)', status.read_text()) if status.exists() else None\n"
        "print(int(own[1] if own else resource.getrusage(resource.RUSAGE_SELF).ru_maxrss) // 1000)"
    )
    done = subprocess.run([sys.executable, "-c", code, path], capture_output=True, text=True, check=True, timeout=60)
    assert int(done.stdout) < 500
