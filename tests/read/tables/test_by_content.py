"""A sheet or file that is plainly a table of a house is read under whatever name, and told where everybody looks."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path

import openpyxl
import pytest

import reconcile
from reconcile.errors import InputError
from reconcile.read import read_house
from reconcile.report.screens.screen import READ_AS, short

Rows = list[list[object]]

BILLS: Rows = [["From", "To", "kWh"], ["2025-01-07", "2025-02-06", 912], ["2025-02-06", "2025-03-07", 801],
               ["2025-03-07", "2025-04-08", 733]]  # fmt: skip
APPLIANCES: Rows = [["Appliance", "Qty", "Watts", "Hours/day"], ["Fridge", 1, "150", ""], ["LED", 9, "LED 9W", 4],
                    ["Water heater", 1, "4.5 kW", ""]]  # fmt: skip
NAMES: Rows = [["Item", "How many"], ["Fridge", 1], ["TV", 2], ["Dishwasher", ""]]
WEATHER: Rows = [["Day", "High", "Low"], *([f"2025-01-{day:02d}", 5 + day % 3, -day % 4] for day in range(1, 32))]
DIARY: Rows = [["When", "What", "Remarks"], ["2025-02-10", "vacation", "two weeks"], ["2025-03-01", "guests", ""]]
READINGS: Rows = [["Date", "Meter reading"], ["2025-01-20", 41300], ["2025-02-20", 42110], ["2025-03-20", 42900]]
FOUND: dict[str, tuple[Rows, str]] = {
    "Appliances": (APPLIANCES, "loads"),
    "What we have": (NAMES, "loads"),
    "Temps": (WEATHER, "weather"),
    "What happened": (DIARY, "events"),
    "My own look at the dial": (READINGS, "readings"),
}
OTHERS: dict[str, Rows] = {
    "Budget": [["Item", "Price"], ["Rent", 1400], ["Car", 310], ["Food", 600]],
    "Payments": [["Date", "Type", "Amount"], ["2025-01-20", "Visa", 131.2], ["2025-02-20", "Visa", 115]],
    "Furniture": [["Item", "Quantity", "Watts"], ["Sofa", 1, ""], ["Table", 2, ""], ["Rug", 1, ""]],
    "Shopping": [["date", "mean"], ["2025-01-20", 3], ["2025-02-20", 4]],
}


def book(path: Path, **sheets: Rows) -> Path:
    made = openpyxl.Workbook()
    made.remove(made.active)
    for name, rows in sheets.items():
        sheet = made.create_sheet(name.replace("_", " "))
        for row in rows:
            sheet.append(row)
    made.save(path)
    return path


def csv(path: Path, rows: Rows) -> None:
    path.write_text("\n".join(",".join(map(str, row)) for row in rows) + "\n")


def held(house: reconcile.House) -> set[str]:
    parts = {"loads": house.loads, "weather": house.weather, "events": house.events, "readings": house.readings}
    return {name for name, part in parts.items() if part}


@pytest.mark.parametrize("name", list(FOUND))
def test_a_sheet_of_another_name_is_read_and_told(name: str, tmp_path: Path) -> None:
    rows, kind = FOUND[name]
    house = read_house(book(tmp_path / "our bills.xlsx", **{"Electric": BILLS, name: rows}))
    assert (len(house.bills), held(house)) == (3, {kind})
    (told,) = [n for n in house.notices if n.startswith("our bills.xlsx is read as: ")]
    assert "bills in the sheet Electric" in told
    assert f"{kind} in the sheet {name}" in told


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
@pytest.mark.parametrize("beside", ["bills.csv", "our bills.xlsx", "electric.csv"])
@pytest.mark.parametrize("name", list(FOUND))
def test_a_file_of_another_name_is_read_and_told(name: str, beside: str, ending: str, tmp_path: Path) -> None:
    rows, kind = FOUND[name]
    if beside.endswith(".csv"):
        csv(tmp_path / beside, BILLS)
    else:
        book(tmp_path / beside, Electric=BILLS)
    if ending == ".csv":
        csv(tmp_path / f"{name}.csv", rows)
    else:
        book(tmp_path / f"{name}.xlsx", Sheet1=rows)
    house = read_house(tmp_path)
    assert (len(house.bills), held(house)) == (3, {kind})
    assert [n for n in house.notices if READ_AS in n and f"{kind} in {name}{ending}" in n]


@pytest.mark.parametrize("name", list(OTHERS))
def test_another_list_is_not_read_and_is_told(name: str, tmp_path: Path) -> None:
    house = read_house(book(tmp_path / "our bills.xlsx", **{"Electric": BILLS, name: OTHERS[name]}))
    assert held(house) == set()
    assert f"our bills.xlsx, the sheet {name} is not read." in house.notices
    csv(tmp_path / f"{name}.csv", OTHERS[name])
    house = read_house(tmp_path)
    assert held(house) == set()
    assert [n for n in house.notices if n == f"{name}.csv is not a file of a house and was not read."]


def test_two_lists_are_asked_about(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="Appliances and More may each be the loads of this house"):
        read_house(book(tmp_path / "our bills.xlsx", Electric=BILLS, Appliances=APPLIANCES, More=NAMES))
    csv(tmp_path / "bills.csv", BILLS)
    csv(tmp_path / "a.csv", APPLIANCES)
    csv(tmp_path / "b.csv", NAMES)
    (tmp_path / "our bills.xlsx").unlink()
    with pytest.raises(InputError, match=r"a.csv and b.csv may each be the loads of this house"):
        read_house(tmp_path)


def test_what_was_not_read_stands_on_the_first_screen(tmp_path: Path) -> None:
    house = read_house(
        book(tmp_path / "our bills.xlsx", Electric=BILLS, Budget=OTHERS["Budget"], Appliances=APPLIANCES)
    )
    said = " ".join(str(block) for block in short(reconcile.reconcile(house), lambda block: 1))
    assert "the sheet Budget is not read" in said
    assert "loads in the sheet Appliances" in said


@pytest.mark.parametrize("name", ["readings.csv", "my meter.csv", "readings of each week.csv"])
def test_readings_alone_are_bills_from_one_to_the_next(tmp_path: Path, name: str) -> None:
    weekly = "week" in name
    start = date(2025, 1, 7)
    days = [start + timedelta(days=7 * n if weekly else 30 * n) for n in range(30 if weekly else 7)]
    heads = ["when", "meter says"] if name == "my meter.csv" else ["date", "reading"]
    rows: Rows = [[day, 41000 + 9 * (day - start).days] for day in days]
    csv(tmp_path / ("readings.csv" if weekly else name), [heads, *rows])
    periods = reconcile.reconcile(read_house(tmp_path)).to_dict()["periods"]
    assert {period["billed_kwh"] for period in periods} == ({9.0 * 28} if weekly else {270.0})
    assert len(periods) == (7 if weekly else 6)


def test_what_was_looked_at_and_is_no_table_of_bills_is_named_with_its_columns(tmp_path: Path) -> None:
    csv(tmp_path / "mine.csv", [["wann", "how much"], ["2025-01-07", 4], ["2025-02-07", 5]])
    with pytest.raises(InputError) as caught:
        read_house(tmp_path)
    assert "The file mine.csv was looked at: of its columns (wann, how much) none is known to tell its kWh" in str(
        caught.value
    )
    (tmp_path / "x").mkdir()
    made = book(tmp_path / "x" / "b.xlsx", Y2024=[["Bill", "b"], ["c", 4]])
    with pytest.raises(InputError, match=r"sheet Y2024 was looked at: of its columns .Bill, b."):
        read_house(made)


def test_two_meters_read_side_by_side_are_asked_about(tmp_path: Path) -> None:
    rows: Rows = [[f"2025-0{n}-07", meter, 1000 * n] for n in range(1, 6) for meter in ("A1", "B2")]
    csv(tmp_path / "readings.csv", [["date", "meter", "value"], *rows])
    with pytest.raises(InputError, match="the meters A1 and B2 are read on the same days"):
        read_house(tmp_path)
