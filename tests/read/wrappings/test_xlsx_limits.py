"""Workbooks made to fill the memory are refused in under a second, with their place, whichever parser is there."""

from __future__ import annotations

import io
import resource
import subprocess
import sys
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from reconcile.errors import Fault
from reconcile.read.tables.gate import Gate
from reconcile.read.wrappings import xlsx_limits

SHEET = "xl/worksheets/sheet1.xml"
DOCTYPE = b'<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]>'


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


def sheet(behind_the_data: bytes = b"", rows: bytes | None = None) -> bytes:
    content = PARTS[SHEET].replace(b"</sheetData>", b"</sheetData>" + behind_the_data)
    return content if rows is None else content.replace(b"</sheetData>", rows + b"</sheetData>")


def faults(data: bytes) -> list[Fault]:
    gate = Gate()
    assert xlsx_limits.check_bytes(data, "house.xlsx", gate) is not bool(gate.faults)
    return gate.faults


BOMBS: dict[str, tuple[Callable[[], bytes], str | None, int | None, str]] = {
    "one merged range": (
        lambda: packed(xl__worksheets__sheet1_xml=sheet(b'<mergeCells><mergeCell ref="A7:XFD1048576"/></mergeCells>')),
        "bills",
        7,
        "A7:XFD1048576 are merged",
    ),
    "many merged ranges": (
        lambda: packed(
            xl__worksheets__sheet1_xml=sheet(
                b"<mergeCells>"
                + b"".join(b'<mergeCell ref="A%d:Z%d"/>' % (n, n) for n in range(9, 900))
                + b"</mergeCells>"
            )
        ),
        "bills",
        393,
        "are merged",
    ),
    "a merged range that is none": (
        lambda: packed(xl__worksheets__sheet1_xml=sheet(b'<mergeCells><mergeCell ref="A1:"/></mergeCells>')),
        "bills",
        1,
        "are merged",
    ),
    "one link over a sheet": (
        lambda: packed(
            xl__worksheets__sheet1_xml=sheet(b'<hyperlinks><hyperlink ref="B2:XFD1048576" location="A1"/></hyperlinks>')
        ),
        "bills",
        2,
        "are one link",
    ),
    "empty cells in rows": (
        lambda: packed(
            xl__worksheets__sheet1_xml=sheet(
                rows=b"".join(b'<row r="%d">' % n + b"<c/>" * 16_000 + b"</row>" for n in range(4, 40))
            )
        ),
        "bills",
        19,
        "more than 250000 cells",
    ),
    "ten million empty cells": (
        lambda: packed(xl__worksheets__sheet1_xml=sheet(rows=b'<row r="4">' + b"<c/>" * 10_000_000 + b"</row>")),
        None,
        None,
        "more than 250000 cells",
    ),
    "cells with a prefix": (
        lambda: packed(
            xl__worksheets__sheet1_xml=sheet(rows=b'<row r="4">' + b'<x:c xmlns:x="u"/>' * 260_000 + b"</row>")
        ),
        "bills",
        4,
        "more than 250000 cells",
    ),
    "cells in UTF-16": (
        lambda: packed(
            xl__worksheets__sheet1_xml=(
                b"\xff\xfe" + sheet(rows=b'<row r="4">' + b"<c/>" * 2_000_000 + b"</row>").decode().encode("utf-16-le")
            )
        ),
        "bills",
        4,
        "more than 250000 cells",
    ),
    "formats": (
        lambda: packed(
            xl__styles_xml=PARTS["xl/styles.xml"].replace(b"</styleSheet>", b"<x/>" * 60_000 + b"</styleSheet>")
        ),
        None,
        None,
        "more than 50000 formats",
    ),
    "millions of formats": (
        lambda: packed(xl__styles_xml=b"<styleSheet>" + b"<xf/>" * 10_000_000 + b"</styleSheet>"),
        None,
        None,
        "more than 50000 formats",
    ),
    "names": (
        lambda: packed(
            xl__workbook_xml=PARTS["xl/workbook.xml"].replace(
                b"</workbook>",
                b"<definedNames>" + b'<definedName name="a">A1</definedName>' * 3000 + b"</definedNames></workbook>",
            )
        ),
        None,
        None,
        "more than 2000 names",
    ),
    "a long formula shared by many": (
        lambda: packed(
            xl__worksheets__sheet1_xml=sheet(
                rows=b'<row r="4"><c r="A4"><f t="shared" ref="A4:A9000" si="0">'
                + b"A1+" * 2000
                + b"A1</f></c></row>"
                + b"".join(b'<row r="%d"><c r="A%d"><f t="shared" si="0"/></c></row>' % (n, n) for n in range(5, 9000))
            )
        ),
        "bills",
        338,
        "formulas are too many",
    ),
    "texts": (
        lambda: packed(xl__sharedStrings_xml=b"<sst>" + b"<si><t/></si>" * 4_000_000 + b"</sst>"),
        None,
        None,
        "more than 250000 cells",
    ),
    "parts": (lambda: zipped({**PARTS, **{f"x{n}": b"" for n in range(1001)}}), None, None, "unpacks to more"),
    "a deep tree": (
        lambda: packed(docProps__core_xml=b"<a>" * 5000 + b"</a>" * 5000),
        None,
        None,
        "not a workbook that can be opened",
    ),
    **{
        f"a document type in {part}": (
            lambda part=part: zipped({**PARTS, part: DOCTYPE + PARTS[part].partition(b"?>")[2]}),
            None,
            None,
            "not a workbook that can be opened",
        )
        for part in PARTS
        if b"?>" in PARTS[part][:80]
    },
    "a document type in a part of another name": (
        lambda: zipped({**PARTS, "xl/picture.bin": DOCTYPE + b"<x>&b;</x>"}),
        None,
        None,
        "not a workbook that can be opened",
    ),
    "a document type in UTF-16": (
        lambda: zipped({**PARTS, "xl/a.bin": (DOCTYPE + b"<x>&b;</x>").decode().encode("utf-16")}),
        None,
        None,
        "not a workbook that can be opened",
    ),
    "a document type in UTF-7": (
        lambda: zipped({**PARTS, "xl/a.xml": b'<?xml version="1.0" encoding="UTF-7"?>+ADwAIQ-DOCTYPE x>+ADw-x/>'}),
        None,
        None,
        "not a workbook that can be opened",
    ),
    "a document type in EBCDIC": (
        lambda: zipped({**PARTS, "xl/a.bin": '<?xml version="1.0"?><!DOCTYPE x><x/>'.encode("cp037")}),
        None,
        None,
        "not a workbook that can be opened",
    ),
}


@pytest.mark.parametrize("name", BOMBS)
def test_a_workbook_made_to_fill_the_memory_is_refused_at_once(name: str) -> None:
    make, sheet_name, row, text = BOMBS[name]
    data = make()
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    begun = time.process_time()
    (fault,) = faults(data)
    assert time.process_time() - begun < 1.0
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 150_000
    assert text in fault.problem
    assert (fault.file, fault.sheet, fault.row) == ("house.xlsx", sheet_name, row)


def test_a_plain_workbook_and_one_with_all_that_people_use_pass() -> None:
    assert not faults(packed())
    import xlsxwriter

    stream = io.BytesIO()
    with xlsxwriter.Workbook(stream, {"in_memory": True}) as book:
        page = book.add_worksheet("bills")
        page.merge_range("A1:D1", "Our bills", book.add_format({"bold": True}))
        page.write_row(1, 0, ["start", "end", "kwh"])
        page.write_comment("A2", "the first day")
        page.write_url("A9", "internal:bills!A1")
        page.write_rich_string("B9", "a ", book.add_format({"italic": True}), "b", " c")
        page.data_validation("C3:C99", {"validate": "decimal", "criteria": ">", "value": 0})
        page.conditional_format("C3:C99", {"type": "3_color_scale"})
        page.add_table("F2:G9")
        page.set_column("A:XFD", 12)
        chart = book.add_chart({"type": "column"})
        chart.add_series({"values": "=bills!$C$3:$C$20"})
        page.insert_chart("J2", chart)
        book.define_name("kwh", "=bills!$C$3:$C$20")
    assert not faults(stream.getvalue())


def test_no_workbook_at_all() -> None:
    assert "not a workbook" in faults(b"")[0].problem


def test_the_largest_workbook_that_passes_is_read_within_the_memory(tmp_path: Path) -> None:
    rows = b"".join(
        b'<row r="%d"><c r="A%d"><v>1</v></c><c r="B%d"><v>2</v></c></row>' % (n, n, n)
        for n in range(4, xlsx_limits.MOST_CELLS // 2 - 4)
    )
    path = tmp_path / "house.xlsx"
    path.write_bytes(packed(xl__worksheets__sheet1_xml=sheet(rows=rows)))
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
