from __future__ import annotations

import io
import re
import zipfile
from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest

from reconcile.answer import reconcile
from reconcile.house import House, Load, Weather
from reconcile.read import read_house
from reconcile.report.workbooks.answer_workbook import workbook_bytes
from reconcile.result import Reconciliation

Make = Callable[..., Reconciliation]

LOADS = (
    Load("Refrigerator", watts=150.0, share_on=0.4, follows="always", source="measured"),
    Load("Lights", count=8, watts=9.0, run_hours=4.5, standby_watts=0.4),
    Load("Dishwasher", kwh_per_cycle=0.9, cycles_per_week=4.0, standby_watts=1.2),
    Load("Pool pump", watts=900.0, run_hours=6.0, months=frozenset({5, 6, 7, 8})),
    Load("Freezer by its label", kwh_per_year=310.0),
    Load("Dehumidifier by its label", kwh_per_year=400.0, months=frozenset({6, 7, 8, 9})),
    Load("Heat pump", watts=2400.0, follows="heating", share_on=0.9, standby_watts=20.0),
    Load("Space heater, given hours", watts=1500.0, follows="heating", hours_per_degree_day=2.5, balance_c=17.0),
    Load("Air conditioner", watts=2100.0, follows="cooling", run_hours=5.0, arrives=date(2024, 6, 20)),
    Load("Heater by its label", kwh_per_year=900.0, follows="heating"),
    Load("Old television", watts=120.0, run_hours=3.0, leaves=date(2024, 9, 1)),
)


@pytest.fixture
def every_kind(make: Make) -> House:
    """A house with a load of every kind, through a cold year: some days reach the cap of 24 h."""
    bills = make(12, 1).house.bills
    first = bills[0].start - timedelta(days=3)
    days = np.arange((bills[-1].end - first).days + 3)
    mean_c = 9.0 - 22.0 * np.cos(2 * np.pi * (days + 5) / 365.0) + 3.0 * np.sin(days * 1.7)
    return House(name="Every kind", bills=bills, loads=LOADS, weather=Weather(first, mean_c))


def opened(content: bytes, *, values: bool) -> Any:
    return openpyxl.load_workbook(io.BytesIO(content), data_only=values)


def formulas(content: bytes) -> dict[tuple[str, str], str]:
    return {
        (sheet.title, cell.coordinate): cell.value
        for sheet in opened(content, values=False)
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    }


def test_every_expected_kwh_is_a_formula_with_its_value(every_kind: House) -> None:
    result = reconcile(every_kind)
    content = workbook_bytes(result)
    live, stored = opened(content, values=False)["expected"], opened(content, values=True)["expected"]
    for j, kwh in enumerate(result.load_kwh):
        assert live.cell(j + 3, 1).value == result.loads[j].load
        for i, value in enumerate(kwh):
            assert "loads!" in live.cell(j + 3, i + 2).value
            assert stored.cell(j + 3, i + 2).value == pytest.approx(value, abs=1e-9)
    totals = [stored.cell(3 + len(result.load_kwh), i + 2).value for i in range(len(result.rows))]
    assert totals == pytest.approx([row.expected_kwh for row in result.rows], abs=1e-6)


def recalculated(content: bytes, folder: Path, office: Callable[..., None]) -> Any:
    """Let LibreOffice work out every formula from nothing: the stored values are taken away first."""
    bare = folder / "bare.xlsx"
    with zipfile.ZipFile(io.BytesIO(content)) as full, zipfile.ZipFile(bare, "w") as stripped:
        for name in full.namelist():
            part = full.read(name)
            if name.startswith("xl/worksheets/"):
                part = re.sub(rb"(</f>)<v>[^<]*</v>", rb"\1", part)
            stripped.writestr(name, part)
    office("xlsx:Calc MS Excel 2007 XML", folder / "done", bare)
    return openpyxl.load_workbook(folder / "done" / "bare.xlsx", data_only=True)


@pytest.mark.recalculates
def test_libreoffice_recalculates_to_the_same_figures(
    every_kind: House, tmp_path: Path, office: Callable[..., None]
) -> None:
    content = workbook_bytes(reconcile(every_kind))
    stored, anew = opened(content, values=True), recalculated(content, tmp_path, office)
    checked = 0
    for sheet, place in formulas(content):
        before, after = stored[sheet][place].value, anew[sheet][place].value
        assert isinstance(after, int | float), (sheet, place, after)
        assert after == pytest.approx(before, abs=0.01), (sheet, place)
        checked += 1
    assert checked > 12 * len(LOADS)


@pytest.mark.recalculates
def test_a_number_changed_on_the_inventory_changes_the_expected_kwh(
    every_kind: House, tmp_path: Path, office: Callable[..., None]
) -> None:
    result = reconcile(every_kind)
    book = opened(workbook_bytes(result), values=False)
    heads = {cell.value: cell.column for cell in book["loads"][1]}
    changes = {"watts": 2.0, "count": 3.0}
    for row in range(2, len(LOADS) + 2):
        for name, factor in changes.items():
            cell = book["loads"].cell(row, heads[name])
            if cell.value is not None:
                cell.value *= factor
    page = io.BytesIO()
    book.save(page)
    anew = recalculated(page.getvalue(), tmp_path, office)
    changed = replace(
        every_kind,
        loads=tuple(
            replace(load, count=3 * load.count, watts=None if load.watts is None else 2 * load.watts)
            for load in every_kind.loads
        ),
    )
    from reconcile.loads.energy import load_energy

    wanted = load_energy(changed.bills, changed).kwh
    for j in range(len(LOADS)):
        for i in range(len(result.rows)):
            assert anew["expected"].cell(j + 3, i + 2).value == pytest.approx(wanted[i, j], abs=0.01), LOADS[j].name


def test_without_weather_the_formulas_still_give_the_model(every_kind: House) -> None:
    content = workbook_bytes(reconcile(replace(every_kind, weather=None)))
    found = formulas(content)
    assert "weather!" in found["expected", "B9"]
    assert found["expected", "B9"].count("weather!") == 1  # days only: no temperatures, no hours from them


def test_texts_from_files_are_never_formulas(hostile_answer: Reconciliation, plain_house: House) -> None:
    hostile, plain = workbook_bytes(hostile_answer), workbook_bytes(reconcile(plain_house))
    assert formulas(hostile) == formulas(plain)
    cells = [
        cell
        for sheet in opened(hostile, values=False)
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None
    ]
    texts = {cell.value: cell.data_type for cell in cells if isinstance(cell.value, str) and cell.data_type != "f"}
    for words in ("=1+1", "+cmd|' /C calc'!A0", "@SUM(A1)", '=HYPERLINK("http://bad.example/","here")'):
        assert texts[words] == "s"
    links = [cell.hyperlink for cell in cells if cell.hyperlink]
    assert all(link.target is None and link.location == "'words'!A1" for link in links)


def test_the_same_answer_gives_the_same_bytes(make: Make) -> None:
    assert workbook_bytes(make()) == workbook_bytes(make())


@pytest.mark.parametrize(("periods", "loads"), [(1, 0), (1, 1), (60, 30)])
def test_few_and_many(make: Make, periods: int, loads: int) -> None:
    book = opened(workbook_bytes(make(periods, loads)), values=True)
    assert book.sheetnames == [
        "answer", "bills", "loads", "weather", "expected", "causes", "records", "money", "words",
    ]  # fmt: skip
    assert book["bills"].max_row == periods + 1
    assert book["answer"]["B3"].value == make().verdict.headline
    said = [cell.value for cell in book["answer"]["A"]]
    assert said.index("In figures") < said.index("What to say") < said.index("Why")


def test_a_reader_that_does_not_recalculate_sees_dates_and_numbers(every_kind: House) -> None:
    result = reconcile(every_kind)
    sheet = opened(workbook_bytes(result), values=True)["bills"]
    assert sheet["A2"].value.date() == result.rows[0].start
    assert sheet["D2"].value == pytest.approx(result.rows[0].billed_kwh)
    assert sheet["K2"].value == pytest.approx(result.rows[0].excess_kwh)


def answers(book: Any) -> dict[str, Any]:
    return {row[0].value: row[1].value for row in book["answer"].iter_rows(max_col=2) if row[0].value}


@pytest.mark.recalculates
def test_what_the_workbook_claims_of_its_formulas_holds_when_a_load_is_changed(
    every_kind: House, tmp_path: Path, office: Callable[..., None]
) -> None:
    """LIVE: expected, load list only of the bills, and the sums follow; ranges, usual, causes and chances stand."""
    content = workbook_bytes(reconcile(every_kind))
    book = opened(content, values=False)
    heads = {cell.value: cell.column for cell in book["loads"][1]}
    book["loads"].cell(2, heads["watts"]).value *= 3.0
    page = io.BytesIO()
    book.save(page)
    before, after = opened(content, values=True), recalculated(page.getvalue(), tmp_path, office)
    columns = {cell.value: cell.column for cell in before["bills"][1]}
    for row in range(2, len(every_kind.bills) + 2):
        was, now = (b["bills"].cell(row, columns["load list only, kWh"]).value for b in (before, after))
        grown = after["expected"].cell(3, row).value - before["expected"].cell(3, row).value
        assert now - was == pytest.approx(grown, abs=0.01)
        assert grown > 10.0
        for name in ("usual kWh", "usual, low", "usual, high", "load list only, low", "billed kWh"):
            kept = before["bills"].cell(row, columns[name]).value
            assert after["bills"].cell(row, columns[name]).value == pytest.approx(kept, rel=1e-12)
    then, since = answers(before), answers(after)
    listed = [before["bills"].cell(r, columns["load list only, kWh"]).value for r in range(2, 14)]
    assert then["From the load list only, kWh"] == pytest.approx(sum(listed), abs=0.01)
    assert since["From the load list only, kWh"] > then["From the load list only, kWh"] + 100.0
    assert since["Billed, kWh"] == pytest.approx(then["Billed, kWh"], abs=0.01)
    kept, first = ([c.value for c in book["causes"][2]][:3] for book in (before, after))
    assert first[:2] == kept[:2]
    assert first[2] == pytest.approx(kept[2], rel=1e-12)


@pytest.mark.recalculates
def test_the_bridge_and_the_field_test_are_live_too(tmp_path: Path, office: Callable[..., None]) -> None:
    house = read_house(Path(__file__).parents[2] / "sample_bills" / "fast_meter_checked")
    content = workbook_bytes(reconcile(house))
    book = opened(content, values=False)
    after = next(row for row in book["money"].iter_rows() if row[0].value == "After")
    assert after[5].data_type == "f"
    part = book["money"].cell(after[5].row - 1, 6)
    part.value += 7.0
    run = next(row for row in book["field test"].iter_rows(min_row=2) if row[4].value is not None)
    assert run[4].data_type == "f"
    run[3].value *= 2.0
    page = io.BytesIO()
    book.save(page)
    anew, stored = recalculated(page.getvalue(), tmp_path, office), opened(content, values=True)
    assert anew["money"].cell(after[5].row, 6).value == pytest.approx(
        stored["money"].cell(after[5].row, 6).value + 7.0, abs=0.001
    )
    assert anew["field test"].cell(run[4].row, 5).value == pytest.approx(
        2.0 * stored["field test"].cell(run[4].row, 5).value, abs=0.01
    )


def test_the_first_sheet_answers_as_the_page_does_and_the_last_explains_the_words() -> None:
    from reconcile.report.views.view import view
    from reconcile.texts.glossary_words import GLOSSARY

    result = reconcile(read_house(Path(__file__).parents[2] / "sample_bills" / "fast_meter"))
    book = opened(workbook_bytes(result), values=True)
    assert book.sheetnames[0] == "answer"
    told, words = answers(book), view(result)
    assert told["The answer"] == words["headline"]
    assert told["In figures"] == " ".join(words["figures"][0])
    assert book["words"].max_row == len(GLOSSARY) + 1


def test_the_page_says_no_more_of_the_workbook_than_is_in_it() -> None:
    """Bills, loads with the bills, causes: each figure that the page prints is a cell, as far as printed."""
    result = reconcile(read_house(Path(__file__).parents[2] / "sample_bills" / "fast_meter"))
    book = opened(workbook_bytes(result), values=True)
    cells = [c.value for sheet in book for row in sheet.iter_rows() for c in row if isinstance(c.value, int | float)]
    wanted = [x for row in result.rows for x in (row.billed_kwh, row.usual_low_kwh, row.usual_high_kwh, row.low_kwh)]
    wanted += [x for load in result.loads for x in (load.expected_kwh, load.reconciled_kwh, load.low_kwh)]
    wanted += [cause.probability for cause in result.causes]
    for figure in wanted:
        assert figure is None or any(abs(figure - value) < 0.006 for value in cells), figure


def test_no_formula_has_a_function_that_the_library_would_write_with_a_prefix(make, monkeypatch):
    result = make(12, 8)
    plain = workbook_bytes(result)
    monkeypatch.setattr("reconcile.report.workbooks.sheet_writer._plain_sheet", lambda: None)
    assert plain == workbook_bytes(result)
