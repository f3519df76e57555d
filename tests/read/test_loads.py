"""The load inventory: every column, and units only where they are written."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from reconcile.house import House, Load
from reconcile.read import read_house
from reconcile.read.bounds import motor_efficiency

MakeHouse = Callable[..., Path]


def read(make_house: MakeHouse, header: str, *lines: str, unit: str = "C") -> House:
    return read_house(
        make_house(
            {
                "loads.csv": "\n".join([header, *lines]) + "\n",
                "house.toml": f"[house]\ntemperature_unit = '{unit}'\n",
                "weather.csv": None,
                "events.csv": None,
            }
        )
    )


def one(make_house: MakeHouse, header: str, line: str, unit: str = "C") -> Load:
    (load,) = read(make_house, header, line, unit=unit).loads
    return load


@pytest.mark.parametrize(
    ("written", "watts"),
    [
        ("1500", 1500.0),
        ("1.5 kW", 1500.0),
        ("1.5 KW", 1500.0),
        ("1500 Watts", 1500.0),
        ("0.5 kWh/h", 500.0),
        ("1.5e3", 1500.0),
    ],
)
def test_watts_as_they_are_written(written: str, watts: float, make_house: MakeHouse) -> None:
    load = one(make_house, "load,watts,run_hours", f"Kiln,{written},4")
    assert load.watts == pytest.approx(watts, rel=1e-12)
    assert not load.apparent


@pytest.mark.parametrize("written", ["12 A * 120 V", "12 amps x 120 volts", "12A×120V", "1440 VA", "1.44 kVA"])
def test_amps_times_volts_are_a_nameplate_maximum_times_the_power_factor(written: str, make_house: MakeHouse) -> None:
    house = read(make_house, "load,watts,run_hours,power_factor", f"Thing,{written},4,0.8", f"Freezer,{written},4,")
    given, usual = house.loads
    assert given.apparent
    assert usual.apparent
    assert given.watts == pytest.approx(1440 * 0.8, rel=1e-12)
    # common practice: the power factor of a freezer in the handbook of loads
    assert (usual.power_factor, usual.watts) == (0.75, pytest.approx(1440 * 0.75, rel=1e-12))
    assert [notice for notice in house.notices if notice.startswith("Freezer: ")]
    assert not [notice for notice in house.notices if notice.startswith("Thing: ")]


def test_a_motor_by_its_shaft_draws_more(make_house: MakeHouse) -> None:
    # one mechanical horsepower is 550 ft lbf/s = 745.69987 W (its definition)
    house = read(make_house, "load,watts,run_hours,efficiency", "Pump,0.75 hp,4,0.8", "Saw,0.75 hp,4,", "Fan,100,4,0.5")
    pump, saw, fan = house.loads
    assert pump.watts == pytest.approx(0.75 * 745.69987 / 0.8, rel=1e-9)
    assert saw.watts == pytest.approx(0.75 * 745.69987 / motor_efficiency(559.3), rel=1e-9)
    assert fan.watts == 200.0
    assert [n for n in house.notices if n.startswith("Saw: ")]
    assert not [n for n in house.notices if n.startswith("Pump: ")]


@pytest.mark.parametrize(
    ("written", "hours"),
    [("3", 3.0), ("3 h/week", 3 / 7), ("40 min/day", 2 / 3), ("0", 0.0), ("24", 24.0), ("3 hours per day", 3.0)],
)
def test_run_hours(written: str, hours: float, make_house: MakeHouse) -> None:
    assert one(make_house, "load,watts,run_hours", f"Kiln,60,{written}").run_hours == pytest.approx(hours, rel=1e-12)


@pytest.mark.parametrize(
    ("written", "months"),
    [
        ("5-9", {5, 6, 7, 8, 9}),
        ('"11,12,1,2"', {11, 12, 1, 2}),
        ("11-2", {11, 12, 1, 2}),
        ("7", {7}),
        ('"1-2, 12"', {1, 2, 12}),
        ("1-12", set(range(1, 13))),
    ],
)
def test_months(written: str, months: set[int], make_house: MakeHouse) -> None:
    assert one(make_house, "load,watts,run_hours,months", f"Kiln,60,1,{written}").months == frozenset(months)


def test_every_month_where_none_is_written(make_house: MakeHouse) -> None:
    assert one(make_house, "load,watts,run_hours,months", "Kiln,60,1,").months is None


def test_degree_days_in_the_house_s_own_unit(make_house: MakeHouse) -> None:
    header = "load,watts,follows,hours_per_degree_day,balance_temperature"
    in_c = one(make_house, header, "Heat pump,3000,heating,0.9,18")
    in_f = one(make_house, header, "Heat pump,3000,heating,0.5,64.4", unit="F")
    # one degree F is 1/1.8 K, so hours a F day are 1.8 times as many a K day; 64.4 degF is 18 degC
    assert (in_c.hours_per_degree_day, in_c.balance_c) == (0.9, 18.0)
    assert in_f.hours_per_degree_day == pytest.approx(0.9, rel=1e-12)
    assert in_f.balance_c == pytest.approx(18.0, rel=1e-12)


def test_a_line_with_everything(make_house: MakeHouse) -> None:
    header = (
        "Load,COUNT,Watts,run hours,Share On,standby_watts,follows,months,from,until,"
        "watts_within_percent,hours_within_percent,source,note"
    )
    load = one(make_house, header, 'Pool pump,2,750,8,0.5,3,clock,5-9,2024-05-01,2025-10-01,5,20,measured,"old, loud"')
    assert load == Load(
        name="Pool pump",
        count=2,
        watts=750.0,
        run_hours=8.0,
        share_on=0.5,
        standby_watts=3.0,
        months=frozenset(range(5, 10)),
        arrives=date(2024, 5, 1),
        leaves=date(2025, 10, 1),
        watts_within_percent=5.0,
        hours_within_percent=20.0,
        source="measured",
        note="old, loud",
        row=2,
    )


def test_labels_and_cycles(make_house: MakeHouse) -> None:
    header = "load,kwh_per_year,kwh_per_cycle,cycles_per_week,source"
    fridge, washer = read(make_house, header, "Fridge,394,,,label", "Washer,,0.8,4,label").loads
    assert fridge.kwh_per_year == 394.0
    assert (washer.kwh_per_cycle, washer.cycles_per_week) == (0.8, 4.0)


def test_plain_numbers_need_no_unit_registry(make_house: MakeHouse) -> None:
    folder = make_house({"interval.csv": None, "house.toml": "[house]\nfloor_area = 150\n"})
    code = (
        "import sys; from reconcile.read import read_house; read_house(sys.argv[1]);"
        "print([m for m in ('pint', 'pandas', 'openpyxl', 'scipy', 'matplotlib', 'jinja2') if m in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code, str(folder)], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
