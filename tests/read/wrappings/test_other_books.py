"""Workbooks that are no .xlsx: OpenDocument, the old binary kind, and what is only called so."""

from __future__ import annotations

import base64
import io
import zipfile
import zlib
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from reconcile import InputError, read_house
from reconcile.house import House, Interval
from reconcile.read.household.settings import IntervalSettings
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.interval_table import read_interval
from reconcile.read.wrappings.interval_files import IntervalFile

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?><office:document-content '
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>'
)
MANIFEST = '<manifest:manifest xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"/>'
TAIL = "</office:spreadsheet></office:body></office:document-content>"


def packed(content: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet", zipfile.ZIP_STORED)
        archive.writestr("META-INF/manifest.xml", MANIFEST)
        archive.writestr("content.xml", content)
    return stream.getvalue()


def text(words: str) -> str:
    return f'<table:table-cell office:value-type="string"><text:p>{words}</text:p></table:table-cell>'


def book(apart: bool) -> str:
    """A sheet of notes, and one of readings with blank rows and columns repeated to the end."""
    rows = []
    for n in range(72):
        at = datetime(2025, 1, 5) + timedelta(hours=n)
        when = f'<table:table-cell office:value-type="date" office:date-value="{at:%Y-%m-%dT%H:%M:%S}"/>'
        if apart:
            when = (
                f'<table:table-cell office:value-type="date" office:date-value="{at:%Y-%m-%d}"/>'
                f'<table:table-cell office:value-type="time" office:time-value="PT{at:%H}H{at:%M}M00S"/>'
            )
        value = f'<table:table-cell office:value-type="float" office:value="{0.25 + n % 5}"/>'
        rows.append(
            f'<table:table-row>{when}{value}<table:table-cell table:number-columns-repeated="1000"/></table:table-row>'
        )
    names = "".join(text(name) for name in (["Date", "Time", "kWh"] if apart else ["Start", "kWh"]))
    return (
        f'{HEAD}<table:table table:name="Notes"><table:table-row>{text("My meter")}</table:table-row></table:table>'
        f'<table:table table:name="Data"><table:table-row>{names}</table:table-row>{"".join(rows)}'
        '<table:table-row table:number-rows-repeated="1048000"><table:table-cell table:number-columns-repeated="1024"/>'
        f"</table:table-row></table:table>{TAIL}"
    )


def read(path: Path, data: bytes) -> tuple[Interval | None, Gate]:
    path = path / "interval.ods"
    path.write_bytes(data)
    gate = Gate()
    return read_interval([IntervalFile("interval.ods", path)], gate, House("A", ()), IntervalSettings())[0], gate


@pytest.mark.parametrize("apart", [False, True])
def test_an_open_document_is_read_as_a_workbook_is(tmp_path: Path, apart: bool) -> None:
    got, gate = read(tmp_path, packed(book(apart)))
    assert not gate.faults
    assert got is not None
    assert got.step_seconds == 3600
    assert np.allclose(got.kwh, 0.25 + np.arange(72) % 5, rtol=0, atol=1e-9)


@pytest.mark.parametrize("content", ["<x", '<!DOCTYPE a [<!ENTITY b "c">]>' + HEAD + TAIL, HEAD + TAIL])
def test_what_is_no_such_document_is_said(tmp_path: Path, content: str) -> None:
    got, gate = read(tmp_path, packed(content))
    assert got is None
    assert gate.faults
    assert all(fault.remedy for fault in gate.faults)


MANY = 'table:number-columns-repeated="16384"'
FIVE = f'<table:table-cell office:value-type="float" office:value="5" {MANY}><text:p>5</text:p></table:table-cell>'


@pytest.mark.parametrize("cell", [FIVE, FIVE.replace("<text:p>5</text:p>", "")])
def test_a_short_file_that_stands_for_a_million_rows_is_refused(tmp_path: Path, cell: str) -> None:
    row = f'<table:table-row table:number-rows-repeated="1048576">{cell}</table:table-row>'
    got, gate = read(tmp_path, packed(f'{HEAD}<table:table table:name="A">{row}</table:table>{TAIL}'))
    assert got is None
    assert [fault.problem for fault in gate.faults] == ["this is not a workbook that can be opened"]


ROWS = [
    ("start", "end", "kwh", "meter"),
    ("2025-01-07", "2025-02-06", "612", "20418"),
    ("2025-02-06", "2025-03-07", "540", "20418"),
    ("2025-03-07", "2025-04-08", "498", "20418"),
]


def page(rows: list[tuple[str, ...]]) -> str:
    lines = "".join(f"<tr>{''.join(f'<td>{cell}</td>' for cell in row)}</tr>" for row in rows)
    return f"<html><body><table><tr><td>Account</td></tr></table><table>{lines}</table></body></html>"


@pytest.mark.parametrize("name", ["bills.xls", "Usage History.xls"])
@pytest.mark.parametrize("text", [page(ROWS), "\n".join("\t".join(row) for row in ROWS)], ids=["a page", "tabs"])
def test_a_page_or_a_text_that_is_called_a_workbook_is_read(tmp_path: Path, text: str, name: str) -> None:
    (tmp_path / name).write_text(text)
    for path in (tmp_path, tmp_path / name):
        house = read_house(path)
        assert [bill.kwh for bill in house.bills] == [612.0, 540.0, 498.0]
        assert {bill.meter for bill in house.bills} == {"20418"}


def test_bills_in_an_open_document_are_read_with_their_types(tmp_path: Path) -> None:
    made = [f"<table:table-row>{''.join(text(name) for name in ROWS[0])}</table:table-row>"]
    for start, end, kwh, meter in ROWS[1:]:
        dates = "".join(
            f'<table:table-cell office:value-type="date" office:date-value="{day}"/>' for day in (start, end)
        )
        numbers = "".join(
            f'<table:table-cell office:value-type="float" office:value="{value}"/>' for value in (kwh, meter)
        )
        made.append(f"<table:table-row>{dates}{numbers}</table:table-row>")
    content = f'{HEAD}<table:table table:name="bills">{"".join(made)}</table:table>{TAIL}'
    (tmp_path / "house.ods").write_bytes(packed(content))
    house = read_house(tmp_path)
    assert [(bill.kwh, bill.meter, bill.days) for bill in house.bills] == [
        (612.0, "20418", 30),
        (540.0, "20418", 29),
        (498.0, "20418", 32),
    ]


@pytest.mark.parametrize("data", [b"\xd0\xcf\x11\xe0" + bytes(600), b"<html>nothing</html>", b"one line"])
def test_what_is_called_a_workbook_and_is_none_is_said(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "bills.xls").write_bytes(data)
    with pytest.raises(InputError, match="not a workbook that can be opened"):
        read_house(tmp_path / "bills.xls")


OLD = """
c-rk)O-NKx6#nj;H_i__e~p0#g9urfE}~5voeI;HVr{GlYNi=ToZiGZ5w*!Qp-m9AGTI2XXk)eMhYE@|8G%uYAPAgV3PDg1qVqcE
%zHYTfdeHN?;Gy9_ndpbbI-i{``+8>@XYxA`T|y<9WE42AF9f1ijvP(LZEun<f5H>DVYv76ntJ9$SOCU)V%TV81i@*py8hWf+X;n
(lMMtPu55`tRwbI3<<?Cw2@S}MV0{SB&vwWlOi{XyeloAirg!ft0LQ|?Tk8#>3C1`9%~jK)*7WQ0QUP(I3LBb3$=K~v-sjQRch<T
zFdDIv%xB2dNn3M1KO1~(mB?HxD7vWgwWdE-P+MHgD4I51b&zez;}C9KW}jC>uXma`_JWe&mZhw8pM_M8=4Lb!8{?0WE3@s>RjVS
vOkj<oJR{4VW+`-BA0goX(L5);M^%%?}^jdvqqjsMmC@J^BymILTK5ZP$O%lnq&$=DTigngea)_JKx@QCwt?^#WE!4K<TvD%E7_J
C1wygAT<)7MAR&dog#<D>lP{3i;Pkm%A0y?twQIBw7D#`P1MhB!Tb2OvhsE+kIo)^6dU~#-$CWcuEK@r<cIh;8tL>(5ubk}Xi+Wd
<{0B~+|HG?vwRX+_uDSx)k0S6rgbC+vB2w!5Efa|`01!cO|za=Npq3rTGVvXbj!06eaZ7P#KacC@RUY!Zi+o!_i<k@$Ji6Iv{hK8
J#tQ1#%pHfyv*vmVzXSUuw268_7Qv))~uhS?NrQa*CKepj%j~gf*%eXIB?*=fddB)HWHNFPhs5$OSf{q?|ZE8It!GF&S#SU7Kf0f
U!Gnn55S;2hw~N9pUrS9+m~7+$NpZ(=%e0q7(i0u7^ryu()*e!|37OchW_3Xs<i)NC2{`a{(k{SALU#
"""
"""Three bills in the old binary kind, packed, as a library for writing it made them."""


def test_bills_in_the_old_binary_kind_are_read_with_their_types(tmp_path: Path) -> None:
    (tmp_path / "bills.xls").write_bytes(zlib.decompress(base64.b85decode("".join(OLD.split()))))
    house = read_house(tmp_path)
    assert [(bill.kwh, str(bill.amount), bill.days) for bill in house.bills] == [
        (612.0, "98.4", 30),
        (540.0, "87.25", 29),
        (498.5, "81", 32),
    ]
