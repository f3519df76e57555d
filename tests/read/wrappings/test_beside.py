"""What lies beside a house's workbook: read where it is named as a file of a house, and never silently left."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from reconcile.errors import InputError
from reconcile.read import read_house

from ..conftest import HOUSE

BILLS: list[list[object]] = [
    ["start", "end", "kwh", "amount"],
    ["2025-01-07", "2025-02-06", 912, 131.20],
    ["2025-02-06", "2025-03-07", 801, 115.95],
    ["2025-03-07", "2025-04-08", 733, 106.61],
]
KEYS: list[list[object]] = [["house.timezone", "America/Chicago"], ["house.temperature_unit", "C"]]
FORM: list[list[object]] = [
    ["kind", "date", "evening time", "kWh at start", "morning time", "kWh at end"],
    ["quiet", "2025-04-09", "22:40", 48213.4, "06:55", 48214.2],
]


def book(path: Path, **sheets: list[list[object]]) -> Path:
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in (sheets or {"bills": BILLS, "house": KEYS}).items():
        sheet = made.create_sheet(name.replace("_", " "))
        for row in rows:
            sheet.append(row)
    made.save(path)
    return path


@pytest.fixture(params=["the folder", "the workbook"])
def named(request: pytest.FixtureRequest) -> Callable[[Path], Path]:
    """Either the folder or the workbook in it is named."""
    return (lambda path: path.parent) if request.param == "the folder" else (lambda path: path)


def test_interval_data_and_readings_beside_a_workbook_are_read(tmp_path: Path, named: Callable[[Path], Path]) -> None:
    path = book(tmp_path / "house.xlsx")
    (tmp_path / "interval.csv").write_text(HOUSE["interval.csv"])
    book(tmp_path / "field-test.xlsx", field_test=FORM)
    house = read_house(named(path))
    assert house.interval is not None
    assert house.field_test is not None
    assert house.field_test.quiet[0].registered.seconds == 29_700
    assert any("interval.csv and field-test.xlsx were read too" in notice for notice in house.notices)


def test_rubbish_in_a_file_beside_a_workbook_is_a_fault(tmp_path: Path, named: Callable[[Path], Path]) -> None:
    path = book(tmp_path / "house.xlsx")
    (tmp_path / "interval.csv").write_text("junk")
    with pytest.raises(InputError, match=r"interval\.csv"):
        read_house(named(path))


def test_loads_and_weather_beside_a_workbook_are_read(tmp_path: Path, named: Callable[[Path], Path]) -> None:
    path = book(tmp_path / "my bills.xlsx", bills=BILLS, loads=[["load", "watts", "run_hours"]])
    (tmp_path / "loads.csv").write_text(HOUSE["loads.csv"])
    (tmp_path / "weather.csv").write_text(HOUSE["weather.csv"])
    (tmp_path / "house.toml").write_text('[house]\ntemperature_unit = "C"\noccupants = 3\n')
    house = read_house(named(path))
    assert len(house.loads) == 4
    assert house.weather is not None
    assert house.occupants == 3


def test_a_table_that_both_hold_is_the_workbooks_and_told(tmp_path: Path, named: Callable[[Path], Path]) -> None:
    path = book(tmp_path / "house.xlsx", bills=BILLS, loads=[["load", "watts", "run_hours"], ["Lamp", 60, 5]])
    (tmp_path / "loads.csv").write_text(HOUSE["loads.csv"])
    house = read_house(named(path))
    assert [load.name for load in house.loads] == ["Lamp"]
    assert any("loads.csv was not read" in notice for notice in house.notices)


def test_files_beside_two_workbooks_are_nobodys(tmp_path: Path) -> None:
    path = book(tmp_path / "number 8.xlsx")
    book(tmp_path / "number 9.xlsx")
    (tmp_path / "interval.csv").write_text(HOUSE["interval.csv"])
    house = read_house(path)
    assert house.interval is None
    assert any("interval.csv" in notice and "number 9.xlsx" in notice for notice in house.notices)
    with pytest.raises(InputError, match=r"number 8\.xlsx, number 9\.xlsx"):
        read_house(tmp_path)


def test_one_workbook_a_table_is_a_house(tmp_path: Path) -> None:
    book(tmp_path / "bills.xlsx", Sheet1=BILLS)
    book(tmp_path / "loads.xlsx", Sheet1=[["load", "watts", "run_hours"], ["Lamp", 60, 5]])
    house = read_house(tmp_path)
    assert (len(house.bills), len(house.loads)) == (3, 1)


def test_a_workbook_of_loads_beside_bills_in_text_is_read(make_house: Callable[..., Path]) -> None:
    folder = make_house({"loads.csv": None, "events.csv": None})
    book(folder / "loads.xlsx", anything=[["load", "watts", "run_hours"], ["Lamp", 60, 5]])
    assert [load.name for load in read_house(folder).loads] == ["Lamp"]


def test_a_foreign_workbook_beside_bills_in_text_is_told(make_house: Callable[..., Path]) -> None:
    folder = make_house()
    book(folder / "garden.xlsx", plan=[["tomatoes", 3]])
    assert any("garden.xlsx is not a file of a house" in notice for notice in read_house(folder).notices)


def test_the_answer_beside_a_workbook_is_not_a_house(tmp_path: Path) -> None:
    book(tmp_path / "house.xlsx")
    book(tmp_path / "reconciliation.xlsx", answer=[["x", 1]])
    assert len(read_house(tmp_path).bills) == 3


def test_a_list_beside_a_sheet_of_counts_of_nothing_is_the_list(tmp_path: Path, named: Callable[[Path], Path]) -> None:
    empty: list[list[object]] = [["load", "count"], ["Refrigerator", 0], ["Freezer", 0]]
    path = book(tmp_path / "house.xlsx", bills=BILLS, house=KEYS, loads=empty)
    (tmp_path / "loads.csv").write_text(HOUSE["loads.csv"])
    house = read_house(named(path))
    assert [load.name for load in house.loads] == ["Refrigerator", "Lamps", "Space heater", "Heat pump"]
    assert any("loads.csv was read too" in notice for notice in house.notices)
