"""The starter: its examples are never read, its checks are there, and what it says to type works."""

import csv
import os
import shlex
import subprocess
import sys
from datetime import date, timedelta
from pathlib import Path

import openpyxl
import pytest

import reconcile
from reconcile.errors import InputError
from reconcile.loads.handbook import handbook
from reconcile.read.tables.columns import TABLES
from reconcile.report.starter import write_starter
from reconcile.report.workbooks.starter_rows import COLUMNS
from reconcile.started import typed
from reconcile.texts.starter_words import GROUPS, KEYS


def faults(place):
    with pytest.raises(InputError) as caught:
        reconcile.read_house(place)
    return [str(fault) for fault in caught.value.faults]


@pytest.fixture
def book(tmp_path):
    (path,) = write_starter(tmp_path / "new")
    return path


@pytest.fixture
def folder(tmp_path):
    write_starter(tmp_path / "small", folder=True)
    return tmp_path / "small"


def own_bills(sheet, at, n=6):
    day = date(2024, 1, 5)
    for k in range(n):
        after = day + timedelta(days=30 + k % 3)
        for column, value in enumerate((day, after, 600 + 10 * k, 95.5 + k), start=1):
            sheet.cell(at + k, column, value)
        day = after


def filled(path, change=lambda book: None, at=5):
    workbook = openpyxl.load_workbook(path)
    own_bills(workbook["bills"], at)
    change(workbook)
    workbook.save(path)
    return path


def test_a_line_of_the_diary_is_read_and_its_examples_are_not(book, folder):
    def diary(workbook):
        sheet = workbook["events"]
        names = [cell.value for cell in sheet[1]]
        for name, value in (("date", date(2024, 3, 14)), ("kind", "new-load"), ("load", "hot tub")):
            sheet.cell(4, names.index(name) + 1, value)

    events = reconcile.read_house(filled(book, diary)).events
    assert [(event.day, event.kind, event.load) for event in events] == [(date(2024, 3, 14), "new-load", "hot tub")]
    page = folder / "events.csv"
    assert page.read_text().startswith("date,until,kind,load,note\n")
    page.write_text(page.read_text() + "2024-03-14,,guests,,\n")
    (folder / "bills.csv").write_text("start,end,kwh\n2024-01-05,2024-02-04,600\n2024-02-04,2024-03-05,610\n")
    assert [event.kind for event in reconcile.read_house(folder).events] == ["guests"]


def test_the_untouched_starter_is_not_weighed(book, folder):
    for place in (book, book.parent, folder):
        (told,) = faults(place)
        assert "only the starter's examples" in told
        assert "your own bills" in told


@pytest.mark.parametrize("at", [2, 4, 5, 40])
def test_examples_beside_ones_own_bills_do_not_count(book, at):
    """Written over, between or far below the examples."""
    if at < 5:
        workbook = openpyxl.load_workbook(book)
        for row in (2, 3, 4):
            workbook["bills"].cell(row, 11).value = None
            for column in range(1, 6):
                workbook["bills"].cell(row, column).value = None
        workbook.save(book)
    house = reconcile.read_house(filled(book, at=at))
    assert [bill.kwh for bill in house.bills] == [600 + 10 * k for k in range(6)]
    assert house.loads == ()
    assert house.weather is None
    assert house.readings == ()


def test_a_filled_in_folder_reads_as_the_workbook_does(book, folder):
    with (folder / "bills.csv").open("a") as file:
        for row in openpyxl.load_workbook(filled(book))["bills"].iter_rows(min_row=5, max_col=4, values_only=True):
            csv.writer(file).writerow([str(row[0])[:10], str(row[1])[:10], *row[2:]])
    ours, theirs = reconcile.read_house(folder), reconcile.read_house(book)
    assert [(b.start, b.end, b.kwh) for b in ours.bills] == [(b.start, b.end, b.kwh) for b in theirs.bills]
    assert ours.loads == () == theirs.loads


def test_loads_count_from_one_on_and_need_no_watts(book):
    def change(workbook):
        for row in workbook["loads"].iter_rows(min_row=2):
            if row[0].value in ("refrigerator", "television") and row[1].value == 0:
                row[1].value = 2

    loads = reconcile.read_house(filled(book, change)).loads
    assert [(load.name, load.count) for load in loads] == [("refrigerator", 2), ("television", 2)]
    assert all(load.watts and load.watts_within_percent for load in loads)


def test_watts_beside_a_count_of_0_are_asked_about(book):
    def change(workbook):
        for row in workbook["loads"].iter_rows(min_row=2):
            if row[0].value == "freezer":
                row[3].value = 130

    (told,) = faults(filled(book, change))
    assert "none is counted" in told
    assert "how many" in told


def test_an_example_whose_figures_were_changed_is_asked_about(book):
    (told,) = faults(filled(book, lambda workbook: workbook["bills"].cell(2, 3, 655)))
    assert "row 2" in told
    assert "clear its note" in told


def test_an_example_whose_mark_is_gone_is_refused_by_name(book):
    def change(workbook):
        for row in (2, 3, 4):
            workbook["bills"].cell(row, 11).value = None

    told = faults(filled(book, change))
    assert len(told) == 3
    assert "starter's example of 812 kWh" in told[0]


def test_an_example_saved_by_a_spreadsheet_in_another_form_is_still_one(folder):
    text = (folder / "bills.csv").read_text()
    text = text.replace("2025-01-07", "1/7/2025").replace("2025-02-06", "2/6/2025").replace("131.40", "131.4")
    (folder / "bills.csv").write_text(text + "2024-01-05,2024-02-04,650,90\n")
    assert len(reconcile.read_house(folder).bills) == 1


def test_the_handbook_is_offered_by_its_own_names():
    named = [name for names in GROUPS.values() for name in names]
    assert len(named) == len(set(named))
    assert set(named) <= {kind.load for kind in handbook()}
    assert len(named) > 0.9 * len(handbook())


def test_every_column_and_key_of_the_starter_is_declared(book):
    assert all(set(names) <= set(TABLES[table].names) for table, names in COLUMNS.items())
    values = {"choice": 0}

    def change(workbook):
        sheet = workbook["house"]
        own = {
            "house.timezone": "America/Denver", "house.floor_area": "1500 ft^2", "house.occupants": 3,
            "house.bedrooms": 2, "meter.number": "77", "meter.digits": 5, "meter.multiplier": 1,
            "tariff[1].valid_from": date(2020, 1, 1), "tariff[1].fixed_per_bill": 9.5, "tariff[1].energy": 0.14,
            "tariff[1].tax_percent": 4,
        }  # fmt: skip
        for row in sheet.iter_rows(min_row=2):
            key = next(key for key in KEYS if key.name == row[0].value)
            row[1].value = key.choices[0] if key.choices else own.get(key.name, "Ours")
            values["choice"] += bool(key.choices)

    house = reconcile.read_house(filled(book, change))
    assert house.name == "Ours"
    assert house.floor_area_m2
    assert house.tariffs
    assert house.meters[0].digits == 5
    assert len(house.dangers) == 8
    assert house.generation
    assert values["choice"] > 10


@pytest.mark.parametrize("n", range(2, 14))
def test_every_word_of_a_list_may_be_chosen(book, n):
    def change(workbook):
        for row in workbook["house"].iter_rows(min_row=2):
            key = next(key for key in KEYS if key.name == row[0].value)
            if len(key.choices) >= n:
                row[1].value = key.choices[n - 1]

    reconcile.read_house(filled(book, change))


def test_cells_have_lists_checks_and_notes(book):
    workbook = openpyxl.load_workbook(book)
    assert workbook.sheetnames == ["read me", "house", "bills", "loads", "events", "weather", "readings"]
    for table, names in COLUMNS.items():
        sheet = workbook[table]
        checks = {str(check.sqref).split(":")[0]: check for check in sheet.data_validations.dataValidation}
        for at, name in enumerate(names, start=1):
            head = sheet.cell(1, at)
            assert head.comment is not None
            assert len(head.comment.text) > 5
            check = checks.get(f"{head.column_letter}2")
            if TABLES[table][name].words:
                assert check.type == "list"
                assert set(TABLES[table][name].codes) == set(check.formula1.strip('"').split(","))
            elif TABLES[table][name].kind in ("day", "number", "money"):
                assert check is not None
                assert check.prompt
    grey = workbook["bills"]["A2"].font.color.rgb
    assert grey == workbook["loads"]["A3"].font.color.rgb != "FF000000"


def test_what_is_told_to_type_starts_the_program(tmp_path, monkeypatch):
    run = subprocess.run(
        [sys.executable, "-m", "reconcile", "begin", "my house"],
        cwd=tmp_path,
        env={**os.environ, "PYTHONPATH": str(Path(reconcile.__file__).parents[1])},
        capture_output=True,
        text=True,
        check=True,
    )
    told = shlex.split(run.stdout.splitlines()[-3])
    assert told[1:4] == ["-m", "reconcile", "check"]
    again = subprocess.run(
        told, cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(Path(reconcile.__file__).parents[1])},
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert again.returncode == 2
    assert "only the starter's examples" in again.stderr
    monkeypatch.setattr(sys, "argv", [str(tmp_path / "bin" / "reconcile"), "begin"])
    assert typed("check", "my house") == f"{tmp_path / 'bin' / 'reconcile'} check 'my house'"
    monkeypatch.setattr(sys, "argv", ["pytest"])
    assert typed("check", "x") == "reconcile check x"


@pytest.mark.recalculates
def test_a_starter_filled_and_saved_by_another_spreadsheet_program_keeps_its_checks_and_is_read(tmp_path, office):
    (path,) = write_starter(tmp_path / "new")
    book = openpyxl.load_workbook(path)
    at = book["bills"].max_row
    for n in range(4):
        row = (date(2025, 1 + n, 9), date(2025, 2 + n, 9), 500 + 10 * n, 90.5)
        for column, value in enumerate(row, start=1):
            book["bills"].cell(at + 1 + n, column, value)
    book["loads"]["B8"] = 2
    book.save(path)
    out = tmp_path / "saved"
    office("xlsx", out, path)
    saved = openpyxl.load_workbook(out / path.name)

    def checks(workbook):
        return {
            (sheet.title, str(check.sqref).split(":")[0], check.type): "".join(str(check.formula1).split())
            for sheet in workbook
            for check in sheet.data_validations.dataValidation
            if check.type == "list"
        }

    kept, were = checks(saved), checks(openpyxl.load_workbook(path))
    assert were
    assert {key: set(words.strip('"').split(",")) for key, words in kept.items()} == {
        key: set(words.strip('"').split(",")) for key, words in were.items()
    }
    for sheet in openpyxl.load_workbook(path):
        assert len(saved[sheet.title].data_validations.dataValidation) >= len(sheet.data_validations.dataValidation)
    for kind in ("ods", "xls"):
        office(kind, out, path)
        (tmp_path / kind).mkdir()
        (out / path.with_suffix(f".{kind}").name).rename(tmp_path / kind / f"house.{kind}")
    for saved_as in (out / path.name, tmp_path / "ods", tmp_path / "xls"):
        house = reconcile.read_house(saved_as)
        assert [bill.kwh for bill in house.bills] == [500.0, 510.0, 520.0, 530.0]
        assert [load.count for load in house.loads] == [2]
