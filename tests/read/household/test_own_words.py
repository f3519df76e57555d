"""What a household says itself of its loads goes before the handbook; lines are invented."""

from __future__ import annotations

from pathlib import Path

import pytest

from reconcile.read import read_house

BILLS = "start,end,kwh\n2024-01-01,2024-02-01,600\n"


Told = tuple[float | None, float | None, float | None, float | None]
"""Watts, hours a day, kWh a year, kWh of a cycle."""


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("sump 30 W always on", (30.0, 24.0, None, None)),
        ("2 chest freezers 60 W around the clock each", (60.0, 24.0, None, None)),
        ("hot tub 4000 W always on", (4000.0, None, None, None)),  # of a thermostat: the handbook's share of the time
        ("EV charger 7.2 kW 10 hrs/wk", (7200.0, 10.0 / 7.0, None, None)),
        ("sander 900 W about 2 1/2 hours a day", (900.0, 2.5, None, None)),
        ("yard lamp 100 W dusk to dawn", (100.0, 12.0, None, None)),
        ("washer 0.5 kWh per load, 4 loads a week", (None, None, None, 0.5)),
        ("mini split 1.5 ton SEER 18 6 h/day", (1000.0, 6.0, None, None)),
        ("kiln 6 kW 1 h 30 min a week", (6000.0, 1.5 / 7.0, None, None)),
        ("Pool pump, 1.1 kW, 8 h/day", (1100.0, 8.0, None, None)),
    ],
)
def test_words_of_a_line_are_kept(tmp_path: Path, line: str, told: Told) -> None:
    (tmp_path / "bills.csv").write_text(BILLS)
    (tmp_path / "loads.txt").write_text(line + "\n")
    (load,) = read_house(tmp_path).loads
    assert (load.watts, load.run_hours, load.kwh_per_year, load.kwh_per_cycle) == pytest.approx(told)


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ("Load,Watts,Usage\nHeat lamp,250,10 hrs/night\nPC,200,5 h/day\n", (250.0, 10.0, None, None)),
        ("Thing,Value,Unit,Hours per day\nCompressor,1.5,kW,0.5\nStereo,80,W,3\n", (1500.0, 0.5, None, None)),
        ("Thing,Power,When\nPond pump,60 W,5 hrs/day\nLamp,9 W,4 h/day\n", (60.0, 5.0, None, None)),
        ("Ger\u00e4t;kWh/Tag\nhot tub;6,5\noven;0,9\n", (None, None, 6.5 * 365.0, None)),
    ],
)
def test_columns_by_what_stands_in_them(tmp_path: Path, table: str, told: Told) -> None:
    (tmp_path / "bills.csv").write_text(BILLS)
    (tmp_path / "loads.csv").write_text(table, encoding="utf-8")
    load = read_house(tmp_path).loads[0]
    assert (load.watts, load.run_hours, load.kwh_per_year, load.kwh_per_cycle) == pytest.approx(told)


@pytest.mark.parametrize(
    "line",
    [
        "fridge 500 kWh/yr, TV 100 W 5 h/day, modem 10 W 24/7\n",
        "fridge: 500 kWh/yr; TV: 100 W, 5 h/day; modem: 10 W, 24/7\n",
    ],
)
def test_several_loads_in_one_line(tmp_path: Path, line: str) -> None:
    (tmp_path / "bills.csv").write_text(BILLS)
    (tmp_path / "loads.txt").write_text(line)
    found = [(load.kwh_per_year, load.watts, load.run_hours) for load in read_house(tmp_path).loads]
    assert found == [(500.0, None, None), (None, 100.0, 5.0), (None, 10.0, None)]
