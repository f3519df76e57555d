"""Workbooks: sheets, typed cells, and what only a workbook can have wrong."""

from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from datetime import date, datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from reconcile.errors import Fault
from reconcile.read import read_house
from reconcile.read.wrappings import books

FaultsOf = Callable[[Path], tuple[Fault, ...]]
Change = Callable[[openpyxl.Workbook], Any]

SHEETS: dict[str, list[list[Any]]] = {
    "house": [
        ["key", "value"],
        ["house.name", "Alder Court"],
        ["house.temperature_unit", "C"],
        ["meter.digits", 5],
        ["danger.shock", False],
        ["tariff.valid_from", date(2024, 1, 1)],
        ["tariff.fixed_per_bill", 9.5],
        ["tariff.energy", 0.1432],
    ],
    "bills": [
        ["start", "end", "kwh", "amount"],
        [datetime(2025, 1, 7), datetime(2025, 2, 6), 912, 131.2],
        [datetime(2025, 2, 6), "2025-03-07", 801.0, 115.95],
    ],
    "loads": [["load", "watts", "run_hours", "months"], ["Lamps", 60, "3 h/week", None], ["Kiln", "1.5 kW", 1, "11-2"]],
    "Weather": [["date", "mean"], [datetime(2025, 1, 7), -3], [datetime(2025, 1, 9), 0.5]],
    "interval": [
        ["time", "kWh"],
        [datetime(2025, 1, 7, 0), 0.5],
        [datetime(2025, 1, 7, 1), None],
        ["2025-01-07 02:00", 1],
    ],
    "events": [["date", "kind"], [datetime(2025, 1, 20), "away"]],
    "notes": [["anything", "at", "all"], [1, 2, 3]],
    "Sheet1": [],
}


def save(path: Path, change: Change | None = None) -> Path:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, rows in SHEETS.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    if change is not None:
        change(book)
    book.save(path)
    return path


def edited(path: Path, part: str, change: Callable[[bytes], bytes]) -> Path:
    """Change one part inside a saved workbook."""
    with zipfile.ZipFile(path) as old:
        parts = {name: old.read(name) for name in old.namelist()}
    parts[part] = change(parts[part])
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as new:
        for name, data in parts.items():
            new.writestr(name, data)
    return path


def test_a_workbook_is_a_house(tmp_path: Path) -> None:
    house = read_house(save(tmp_path / "house.xlsx"))
    assert [(bill.start, bill.end, bill.kwh, str(bill.amount)) for bill in house.bills] == [
        (date(2025, 1, 7), date(2025, 2, 6), 912.0, "131.2"),
        (date(2025, 2, 6), date(2025, 3, 7), 801.0, "115.95"),
    ]
    assert house.loads[0].run_hours == pytest.approx(3 / 7, rel=1e-12)
    assert house.loads[1].months == frozenset((11, 12, 1, 2))
    assert house.meters[0].digits == 5
    assert house.weather is not None
    assert house.weather.missing_days == 1
    assert house.interval is not None
    assert [(action.code, action.count) for action in house.interval.actions] == [("blank", 1)]
    assert [str(charge.price) for charge in house.tariffs[0].charges] == ["9.5", "0.1432"]
    assert house.events[0].kind == "away"


def test_the_same_house_as_a_folder(tmp_path: Path) -> None:
    folder = tmp_path / "house"
    folder.mkdir()
    (folder / "house.toml").write_text(
        "[house]\nname = 'Alder Court'\ntemperature_unit = 'C'\n[meter]\ndigits = 5\n[danger]\nshock = false\n"
        "[[tariff]]\nvalid_from = 2024-01-01\nfixed_per_bill = 9.50\nenergy = 0.1432\n"
    )
    for name, rows in SHEETS.items():
        if name in ("house", "notes", "Sheet1"):
            continue
        lines = [",".join("" if cell is None else str(cell) for cell in row) for row in rows]
        (folder / f"{name.lower()}.csv").write_text("\n".join(lines) + "\n")
    assert read_house(folder) == read_house(save(tmp_path / "house.xlsx"))


def test_lists_of_tables_are_numbered_or_written_as_toml(tmp_path: Path) -> None:
    def change(book: openpyxl.Workbook) -> None:
        del book["house"]
        sheet = book.create_sheet("House")
        for row in [
            ["meter[1].number", 4711],
            ["meter[1].until", datetime(2025, 2, 6)],
            ["meter[2].number", "B 2"],
            ["meter[2].from", "2025-02-06"],
            ["tariff[1].valid_from", "2025-01-01"],
            ["tariff[1].charge[1].name", "Energy"],
            ["tariff[1].charge[1].blocks", "[{up_to_per_bill = 500, price = 0.10}, {price = 0.15}]"],
        ]:
            sheet.append(row)

    house = read_house(save(tmp_path / "Elm.xlsx", change))
    assert house.name == "Elm"
    assert [meter.number for meter in house.meters] == ["4711", "B 2"]
    assert [str(block.price) for block in house.tariffs[0].charges[0].blocks] == ["0.1", "0.15"]


def put(sheet: str, cell: str, value: Any) -> Change:
    def change(book: openpyxl.Workbook) -> None:
        book[sheet][cell] = value

    return change


BROKEN: dict[str, tuple[Change, str | None, int | None, str | None, str]] = {
    "no bills": (lambda book: book.remove(book["bills"]), None, None, None, "there are no bills"),
    "unknown sheet": (lambda book: setattr(book["house"], "title", "hous"), "hous", None, None, "Did you mean house"),
    "two sheets alike": (
        lambda book: book.create_sheet("BILLS ").append(["start"]),
        "BILLS ",
        None,
        None,
        "two sheets bills",
    ),
    "merged cells": (lambda book: book["bills"].merge_cells("A2:A3"), "bills", 2, None, "merged"),
    "formula error": (put("bills", "C3", "#DIV/0!"), "bills", 3, "kwh", "a formula gave an error"),
    "formula without a value": (put("bills", "C3", "=400+401"), "bills", 3, "kwh", "no stored value"),
    "date in a number": (put("bills", "C3", datetime(2025, 1, 9)), "bills", 3, "kwh", "a date where a number"),
    "true in a number": (put("bills", "C3", True), "bills", 3, "kwh", "not a number"),
    "number in a date": (put("bills", "B3", 5), "bills", 3, "end", "not a date"),
    "months turned into a date": (put("loads", "D3", datetime(2025, 5, 9)), "loads", 3, "months", "into a date"),
    "a value far away": (put("loads", "XFD9", 1), "loads", 9, "XFD", "far outside"),
    "stray value": (put("loads", "F3", 1), "loads", 3, "number 6", "without a name"),
    "text in interval data": (put("interval", "B3", "low"), "interval", 3, "kWh", "text where a number"),
    "unknown key": (put("house", "A4", "meter.digit"), "house", 4, "meter.digit", "Did you mean digits"),
    "no key": (put("house", "A4", "5 digits"), "house", 4, "key", "not the name of a key"),
    "key twice": (put("house", "A4", "house.name"), "house", 4, "key", "stands twice"),
    "three columns": (put("house", "C4", "x"), "house", 4, "meter.digits", "two columns"),
    "key that is a table": (put("house", "A4", "tariff"), "house", 6, "key", "beside the others"),
    "list from 2": (put("house", "A4", "meter[2].digits"), "house", None, "meter", "numbered 1, 2, 3"),
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_broken_workbook_is_refused_with_its_place_and_remedy(name: str, tmp_path: Path, faults_of: FaultsOf) -> None:
    change, sheet, row, column, text = BROKEN[name]
    faults = faults_of(save(tmp_path / "house.xlsx", change))
    found = [fault for fault in faults if (fault.sheet, fault.row, fault.column) == (sheet, row, column)]
    assert any(text in str(fault) for fault in found), "\n".join(map(str, faults))
    assert all(fault.file == "house.xlsx" and fault.remedy.endswith(".") for fault in faults)


def test_a_formula_gives_its_stored_value(tmp_path: Path) -> None:
    path = save(tmp_path / "house.xlsx", put("bills", "C3", "=400+401"))
    with zipfile.ZipFile(path) as book:
        (sheet,) = [name for name in book.namelist() if b"400+401" in book.read(name)]
    edited(path, sheet, lambda xml: re.sub(rb"<f>400\+401</f><v(?: ?/>|></v>)", b"<f>400+401</f><v>801</v>", xml))
    assert read_house(path).bills[1].kwh == 801.0


@pytest.mark.parametrize(
    "data", [b"", b"PK\x03\x04 torn", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\0" * 600, "zip without a workbook"]
)
def test_what_is_no_workbook_is_refused(data: bytes | str, tmp_path: Path, faults_of: FaultsOf) -> None:
    path = tmp_path / "house.xlsx"
    if isinstance(data, str):
        with zipfile.ZipFile(path, "w") as made:
            made.writestr("hello.txt", data)
    else:
        path.write_bytes(data)
    (fault,) = faults_of(path)
    assert "not a workbook that can be opened" in fault.problem


def test_a_file_made_to_fill_the_memory_is_refused_unopened(tmp_path: Path, faults_of: FaultsOf) -> None:
    path = tmp_path / "house.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        made.writestr("xl/worksheets/sheet1.xml", b"0" * (books.LARGEST_UNPACKED + 1))
    assert path.stat().st_size < 1_000_000
    (fault,) = faults_of(path)
    assert "unpacks to more" in fault.problem


@pytest.mark.parametrize("encoding", ["ascii", "utf-16"])
@pytest.mark.parametrize("part", ["xl/workbook.xml", "xl/worksheets/sheet2.xml", "[Content_Types].xml"])
def test_entities_in_a_part_are_refused(part: str, encoding: str, tmp_path: Path, faults_of: FaultsOf) -> None:
    # whichever XML parser openpyxl finds beside it: not all of them refuse entities themselves
    laughs = '<!DOCTYPE x [<!ENTITY a "ha"><!ENTITY b "&a;&a;">]>'
    path = save(tmp_path / "house.xlsx")
    edited(path, part, lambda xml: laughs.encode(encoding) + xml)
    (fault,) = faults_of(path)
    assert "not a workbook that can be opened" in fault.problem


def test_a_workbook_in_memory_is_left_as_it_is(tmp_path: Path) -> None:
    path = save(tmp_path / "house.xlsx")
    path.chmod(0o400)
    before = io.BytesIO(path.read_bytes()).getvalue()
    read_house(path)
    assert path.read_bytes() == before
