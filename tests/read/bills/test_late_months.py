"""Months that are the bill's and not the use's: only the weather can tell, and it is told."""

from __future__ import annotations

from datetime import date, timedelta
from math import cos, pi
from pathlib import Path

import pytest

from reconcile.read import read_house

FIRST = date(2023, 12, 1)
MONTHS = [date(2024 + n // 12, n % 12 + 1, 1) for n in range(15)]


def mean_c(day: date) -> float:
    return 8.0 - 11.0 * cos(2.0 * pi * (day.timetuple().tm_yday - 20) / 365.25) + 3.0 * cos(day.toordinal() * 0.9)


def write(folder: Path, head: str, late: int, a_degree: float = 1.4) -> Path:
    weather = [f"{day},{mean_c(day):.1f}" for n in range(520) for day in [FIRST + timedelta(days=n)]]
    rows = []
    for labelled, month in zip(MONTHS, [date(2023, 12, 1), *MONTHS] if late else MONTHS, strict=False):
        days = [month + timedelta(days=n) for n in range(31) if (month + timedelta(days=n)).month == month.month]
        rows.append(f"{labelled:%b-%y},{sum(9.0 + a_degree * max(16.0 - mean_c(day), 0.0) for day in days):.0f}")
    (folder / "bills.csv").write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    (folder / "weather.csv").write_text("\n".join(["date,mean", *weather]) + "\n", encoding="utf-8")
    (folder / "house.toml").write_text('[house]\ntemperature_unit = "C"\n', encoding="utf-8")
    return folder


def test_bills_of_the_month_before_are_told_by_the_weather(tmp_path: Path) -> None:
    house = read_house(write(tmp_path, "Month,kWh", late=1))
    assert house.bills[0].start == date(2023, 12, 1)
    assert any("its kWh are of the month before" in notice for notice in house.notices)


@pytest.mark.parametrize(
    ("head", "late", "a_degree"), [("Month,kWh", 0, 1.4), ("Usage month,kWh", 1, 1.4), ("Month,kWh", 1, 0.0)]
)
def test_months_stay_where_they_fit_or_are_headed_so_or_nothing_tells(
    tmp_path: Path, head: str, late: int, a_degree: float
) -> None:
    assert read_house(write(tmp_path, head, late, a_degree)).bills[0].start == date(2024, 1, 1)
