"""OpenDocument spreadsheets of interval data."""

from __future__ import annotations

import io
import zipfile
from datetime import datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from reconcile.house import House, Interval
from reconcile.read.gate import Gate
from reconcile.read.interval_files import IntervalFile
from reconcile.read.interval_table import read_interval
from reconcile.read.settings import IntervalSettings

HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?><office:document-content '
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>'
)
TAIL = "</office:spreadsheet></office:body></office:document-content>"


def packed(content: str) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet", zipfile.ZIP_STORED)
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
