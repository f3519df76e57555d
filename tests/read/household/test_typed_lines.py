"""Whole lines typed as loads are read as meant: how many, how long, how often, what part of the time."""

from __future__ import annotations

from pathlib import Path

import pytest

from reconcile import read_house
from reconcile.loads.energy import load_energy

BILLS = "start,end,kwh\n" + "".join(f"2023-{m:02d}-01,2023-{m + 1:02d}-01,400\n" for m in range(1, 12))
A_DAY_WH = {
    "lights: 20 bulbs at 9W, 5 hours": 900,
    "garage lights - 8 tubes 32W 3 hours": 768,
    "lights: 20 bulbs 180W total 5 hours": 900,
    "two 60W bulbs 4 hours": 480,
    "three box fans 70W each 9 h": 1890,
    "iron 1200 W 1 hr every other week": 1200 / 14,
    "carpet cleaner 1200W, 2 hrs twice a year": 2400 * 2 / 365.25,
    "pressure washer 1800 W 2 hours every 3 months": 3600 * 4 / 365.25,
    "toaster 900w 5min x 2": 150,
    "toaster oven 1400 W 15 min three times a day": 1050,
    "waffle iron 1000W, quarter of an hour a day": 250,
    "coffee maker 900W 20 min every morning": 300,
    "TV,120W,4 hrs": 480,
    "fridge 150 W runs a third of the time": 1200,
    "dehumidifier 500W 50% duty 24h": 6000,
    "dehumidifier set to 50% 500W 10 h": 5000,
    "space heater 1500W 50% 6 h": 4500,
    "sump pump 800W 5%": 960,
    "pond pump 80W 1/3 of the time": 640,
    "EV charger 32A 240V 3 nights a week 4 hours": 32 * 240 * 0.99 * 12 / 7,  # its usual power factor
    "phone chargers negligible": 0,
    "dryer 5000 W 50 min x 3 per week": 5000 * 2.5 / 7,
}


@pytest.mark.parametrize("line", A_DAY_WH)
def test_a_typed_line_is_read_as_meant(line: str, tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text(BILLS)
    (tmp_path / "loads.txt").write_text(f"- router 10 W 24 h\n- {line}\n")
    house = read_house(tmp_path)
    kwh = load_energy(house.bills, house).kwh.sum(axis=0)
    days = sum(bill.days for bill in house.bills)
    assert dict(zip((load.name for load in house.loads), kwh, strict=True))[line] == pytest.approx(
        A_DAY_WH[line] * days / 1000.0, rel=2e-3
    )


@pytest.mark.parametrize(
    ("column", "often", "part"),
    [
        ("months used", "12", 1.0),
        ("months used", "3", 0.25),
        ("Weeks per year", "13", 13 * 7 / 365.25),
        ("Days per year", "60", 60 / 365.25),
        ("Months per year", "6", 0.5),
        ("months used", "May-Sep", None),
    ],
)
def test_a_count_of_months_weeks_or_days_is_no_month(
    tmp_path: Path, column: str, often: str, part: float | None
) -> None:
    (tmp_path / "bills.csv").write_text(BILLS)
    (tmp_path / "loads.csv").write_text(f"load,watts,hours per day,{column}\nkiln,5500,2,{often}\n")
    (load,) = read_house(tmp_path).loads
    assert load.months == (frozenset(range(5, 10)) if part is None else None)
    assert load.run_hours == pytest.approx(2 * (part or 1), rel=1e-4)
