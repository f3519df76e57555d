"""Interval data under whatever name it was downloaded, beside files that are none."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

import openpyxl
import pytest

from reconcile.errors import InputError
from reconcile.read import read_house

BILLS = "start,end,kwh\n2024-01-01,2024-02-01,744\n2024-02-01,2024-03-01,696\n2024-03-01,2024-04-01,743\n"
FIRST = datetime(2024, 1, 1)
HOURS = [FIRST + timedelta(hours=n) for n in range(24 * 60)]


def table(header: str, values: Sequence[float]) -> str:
    return header + "\n" + "\n".join(f"{HOURS[n]:%Y-%m-%d %H:%M},{value}" for n, value in enumerate(values))


USE = table("start,usage (kWh)", [1.0] * len(HOURS))
WEATHER = [f"2024-{1 + n // 28:02d}-{1 + n % 28:02d},{n % 7},{n % 7 + 8}" for n in range(84)]
NONE = {
    "solar.csv": USE,
    "pv production.csv": USE,
    "gas.csv": USE,
    "outdoors.csv": table("time,temperature (C)", [4.0 + n % 5 for n in range(len(HOURS))]),
    "prices.csv": table("time,price ($/kWh)", [0.1 + 0.01 * (n % 3) for n in range(len(HOURS))]),
    "sent out.csv": table("start,received kWh", [0.2] * len(HOURS)),
    "few.csv": "\n".join(USE.splitlines()[:40]),
}


@pytest.mark.parametrize("name", ["download.csv", "My usage 2024.csv", "green.tsv"])
def test_hours_of_any_name_are_read_and_told(name: str, tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text(BILLS)
    (tmp_path / name).write_text(USE.replace(",", "\t") if name.endswith("tsv") else USE)
    house = read_house(tmp_path)
    assert house.interval is not None
    assert house.interval.kwh.sum() == pytest.approx(len(HOURS))
    assert any(name in notice and "interval data" in notice for notice in house.notices)


@pytest.mark.parametrize("name", NONE)
def test_what_is_no_use_of_this_house_is_left_and_told(name: str, tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text(BILLS)
    (tmp_path / "weather.csv").write_text("\n".join(["date,tmin,tmax", *WEATHER]) + "\n")
    (tmp_path / name).write_text(NONE[name])
    house = read_house(tmp_path)
    assert house.interval is None
    assert f"{name} is not a file of a house and was not read." in house.notices


def test_hours_beside_a_workbook_of_bills_are_read(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for row in csv.reader(BILLS.splitlines()):
        book.active.append(row)
    book.save(tmp_path / "our bills.xlsx")
    (tmp_path / "from the utility.csv").write_text(USE)
    house = read_house(tmp_path)
    assert house.interval is not None
    assert len(house.bills) == 3


def test_a_file_that_is_called_interval_comes_first(tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text(BILLS)
    (tmp_path / "interval.csv").write_text(USE)
    (tmp_path / "older.csv").write_text(USE.replace(",1.0", ",3.0"))
    house = read_house(tmp_path)
    assert house.interval is not None
    assert house.interval.kwh.sum() == pytest.approx(len(HOURS))


def test_several_files_of_one_house_follow_one_another(tmp_path: Path) -> None:
    lines = USE.splitlines()
    (tmp_path / "bills.csv").write_text(BILLS)
    (tmp_path / "jan.csv").write_text("\n".join(lines[:721]))
    (tmp_path / "feb.csv").write_text("\n".join([lines[0], *lines[721:]]))
    house = read_house(tmp_path)
    assert house.interval is not None
    assert house.interval.kwh.sum() == pytest.approx(len(HOURS))


def test_a_day_whose_lowest_temperature_is_above_the_highest_is_left_out_and_told(tmp_path: Path) -> None:
    rows = [*WEATHER[:40], "2024-02-13,9.1,9.0", *WEATHER[41:]]
    (tmp_path / "bills.csv").write_text(BILLS)
    (tmp_path / "weather.csv").write_text("\n".join(["date,tmin,tmax", *rows]) + "\n")
    house = read_house(tmp_path)
    assert house.weather is not None
    assert any("above the highest on 1 day, the first in row 42" in notice for notice in house.notices)


def test_many_such_days_are_faults(tmp_path: Path) -> None:
    turned = [f"{day},{high},{low}" for day, low, high in (row.split(",") for row in WEATHER)]
    (tmp_path / "bills.csv").write_text(BILLS)
    (tmp_path / "weather.csv").write_text("\n".join(["date,tmin,tmax", *turned]) + "\n")
    with pytest.raises(InputError, match="above the highest"):
        read_house(tmp_path)
