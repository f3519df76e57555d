"""The load inventory: every column, and units only where they are written."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from reconcile.errors import InputError
from reconcile.house import House, Load
from reconcile.loads.handbook import find
from reconcile.loads.limits import HOUSEHOLD_HOURS_PERCENT
from reconcile.read import read_house
from reconcile.read.tables.bounds import motor_efficiency

MakeHouse = Callable[..., Path]


def read(make_house: MakeHouse, header: str, *lines: str, unit: str = "C", toml: str | None = None) -> House:
    return read_house(
        make_house(
            {
                "loads.csv": "\n".join([header, *lines]) + "\n",
                "house.toml": f"[house]\ntemperature_unit = '{unit}'\n" if toml is None else toml,
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


def test_strip_heat_may_be_held_back_to_deep_cold(make_house: MakeHouse) -> None:
    header = "load,watts,follows,balance_temperature"
    assert one(make_house, header, "Strip heat,5000,heating,-18").balance_c == -18.0


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


def test_a_name_is_enough_where_the_handbook_knows_it(make_house: MakeHouse) -> None:
    house = read(make_house, "Appliance,Qty", "Garage fridge,1", "TV,2", "Dishwasher,1")
    fridge, tv, washer = house.loads
    kinds = [find(name)[0] for name in ("Garage fridge", "TV", "Dishwasher")]
    assert [load.watts for load in house.loads] == [kind.watts for kind in kinds]
    assert [load.source for load in house.loads] == ["guessed"] * 3
    assert (fridge.follows, fridge.share_on) == ("always", kinds[0].share_on)
    assert (tv.count, tv.run_hours, tv.watts_within_percent) == (2, kinds[1].run_hours, kinds[1].watts_within_percent)
    assert washer.hours_within_percent == HOUSEHOLD_HOURS_PERCENT
    (told,) = [notice for notice in house.notices if "handbook" in notice]
    assert all(f"{kind.watts:g} W ({kind.watts_low:g} to {kind.watts_high:g}" in told for kind in kinds)


def test_an_unknown_name_alone_is_refused_with_the_nearest_known(make_house: MakeHouse) -> None:
    with pytest.raises(InputError) as caught:
        read(make_house, "load", "Frige", "Quernstone")
    near, far = caught.value.faults
    assert "Did you mean refrigerator?" in near.remedy
    assert "the handbook does not know its name" in far.problem


def test_hours_left_blank_are_the_handbook_s(make_house: MakeHouse) -> None:
    load = one(make_house, "load,watts,run_hours", "Water heater,4500,")
    kind = find("Water heater")[0]
    assert (load.watts, load.run_hours, load.source) == (4500.0, kind.run_hours, "nameplate")


@pytest.mark.parametrize(("settings", "hours"), [("", 2.6), ("occupants = 1", 1.73), ("bedrooms = 5", 3.47)])
def test_hot_water_goes_by_the_household(settings: str, hours: float, make_house: MakeHouse) -> None:
    house = read(make_house, "load", "Water heater", toml=f"[house]\n{settings}\n")
    assert house.loads[0].run_hours == pytest.approx(hours, abs=0.006)
    (told,) = [notice for notice in house.notices if "handbook" in notice]
    assert ("by the size of the household" in told) == bool(settings)


@pytest.mark.parametrize("watts", ["5e-1", "0.5", "50e-2", "5.0E-01", "500e-3 W"])
def test_an_exponent_is_no_range(watts: str, make_house: MakeHouse) -> None:
    load = one(make_house, "load,watts,run_hours", f"Kiln,{watts},2")
    assert load.watts == pytest.approx(0.5, rel=1e-12)


@pytest.mark.parametrize(
    ("watts", "hours", "expected"),
    [
        ("1000-1500 W", "2", (1250.0, 20.0, 2.0, None)),
        ("1-1.5 kW", "4-6 h", (1250.0, 20.0, 5.0, 20.0)),
        ("1000 to 1500", "30-50 min/day", (1250.0, 20.0, 2 / 3, 25.0)),
    ],
)
def test_ranges_mean_limits(watts: str, hours: str, expected: tuple[float | None, ...], make_house: MakeHouse) -> None:
    load = one(make_house, "load,watts,run_hours", f"Kiln,{watts},{hours}")
    found = (load.watts, load.watts_within_percent, load.run_hours, load.hours_within_percent)
    assert [value is None for value in found] == [value is None for value in expected]
    known = [(a, b) for a, b in zip(found, expected, strict=True) if b is not None]
    assert [a for a, _ in known] == pytest.approx([b for _, b in known], rel=1e-9)


@pytest.mark.parametrize(
    ("name", "size", "watts", "within"),
    [
        ("Window AC", '"12,000 BTU/h"', 1200.0, 25.0),
        ("Central air", "3 tons SEER 14", 36_000 / 14, None),
        ("Room air conditioner", "8000 btu EER 9.5", 8000 / 9.5, None),
        ("Space heater", "5118 BTU/h", 1500.0, None),
    ],
)
def test_the_size_of_a_cooler_is_no_power(
    name: str, size: str, watts: float, within: float | None, make_house: MakeHouse
) -> None:
    house = read(make_house, "load,watts,run_hours", f"{name},{size},")
    (load,) = house.loads
    assert load.watts == pytest.approx(watts, rel=1e-3)
    if within is not None:
        assert load.watts_within_percent == within
        assert [notice for notice in house.notices if "an EER of 10" in notice]


def test_btu_of_a_gas_furnace_are_refused(make_house: MakeHouse) -> None:
    with pytest.raises(InputError, match="tell the heat"):
        read(make_house, "load,watts,run_hours", '"Gas water heater","40,000 BTU/h",3')


def test_a_load_may_be_named_in_many_words_and_say_no_more(make_house: MakeHouse) -> None:
    house = read(
        make_house, "load,count,watts", "Old chest freezer in the garage,,", "TV,,", "The big fridge upstairs,2,"
    )
    assert [load.name for load in house.loads] == ["Old chest freezer in the garage", "TV", "The big fridge upstairs"]


def test_hours_beside_always_are_those_in_which_it_draws(make_house):
    """An auditor's 8 h a day of a compressor were dropped, and the refrigerator drew for 24 hours."""
    text = "load,count,watts,hours/day,follows\nRefrigerator,2,150,8,always\n"
    house = read_house(make_house({"loads.csv": text, "events.csv": None}))
    assert house.loads[0].share_on == pytest.approx(8 / 24)
    assert any("drawing for 8 of 24 hours" in notice for notice in house.notices)
    text = "load,count,watts,hours/day,share_on,follows\nRefrigerator,2,150,8,0.4,always\n"
    with pytest.raises(InputError, match="say another thing"):
        read_house(make_house({"loads.csv": text, "events.csv": None}))


@pytest.mark.parametrize("watts", ["5.4", "3"])
def test_kilowatts_typed_as_watts_are_asked_and_both_answers_work(make_house, watts):
    def read(value):
        text = f"load,count,watts,run_hours\nClothes dryer,1,{value},0.6\n"
        return read_house(make_house({"loads.csv": text, "events.csv": None})).loads[0].watts

    with pytest.raises(InputError, match=f"Write {watts} kW if kilowatts were meant"):
        read(watts)
    assert read(f"{watts} kW") == pytest.approx(1000 * float(watts))
    assert read(f"{watts} W") == pytest.approx(float(watts))


HAND_TYPED = {
    "counts in the name": (
        "load\n2 x fridge\n3 ceiling fans\nfreezer (x2)\n4 burner gas stove\n2 slice toaster\n",
        [
            ("2 x fridge", 2),
            ("3 ceiling fans", 3),
            ("freezer (x2)", 2),
            ("4 burner gas stove", 1),
            ("2 slice toaster", 1),
        ],
        "count",
    ),
    "a count in words": ("Appliance,Qty,Power\nFridge,two,150 W\n", [("Fridge", 2)], "count"),
    "kilowatts by the header": ("load,kW,hours\ndryer,5.4,0.7\n", [("dryer", 5400.0)], "watts"),
    "watts each": ("Item,How many,Watts each,Hours per day\nLED bulb,12,9,5\n", [("LED bulb", 9.0)], "watts"),
    "a size in the name": ("load\nCentral AC 3 ton\n", [("Central AC 3 ton", 3600.0)], "watts"),
    "a yearly label": ("load,kWh per year\nFridge,450 kWh/yr\n", [("Fridge", 450.0)], "kwh_per_year"),
    "kWh a month": ("Appliance,kWh/month\nFridge,38\n", [("Fridge", 456.0)], "kwh_per_year"),
    "hours in words": ("load,watts,hours\nserver,90,24/7\n", [("server", 24.0)], "run_hours"),
    "French": ("Appareil;Puissance (W);Heures par jour\nTélé;110;4\n", [("Télé", 110.0)], "watts"),
}


@pytest.mark.parametrize("name", list(HAND_TYPED))
def test_loads_as_people_write_them(make_house, name):
    text, wanted, field = HAND_TYPED[name]
    loads = read_house(make_house({"loads.csv": text, "events.csv": None})).loads
    assert [(load.name, getattr(load, field)) for load in loads] == wanted


def test_all_day_of_a_refrigerator_is_its_cycle_and_of_a_server_all_hours(make_house):
    text = "load,watts,hours\nfridge,150,all day\nserver,90,always\n"
    fridge, server = read_house(make_house({"loads.csv": text, "events.csv": None})).loads
    assert (fridge.follows, fridge.share_on) == ("always", 0.4)
    assert (server.run_hours, server.share_on) == (24.0, 1.0)


@pytest.mark.parametrize("head", ["Watt draw when running", "Power consumption typical", "Hours of running"])
def test_an_unknown_column_of_watts_or_hours_is_asked_not_replaced_by_the_handbook(make_house, head):
    text = f"load,{head}\nTV,90\n"
    with pytest.raises(InputError, match=r"head it (watts|run_hours)"):
        read_house(make_house({"loads.csv": text, "events.csv": None}))


@pytest.mark.parametrize(
    ("written", "months"),
    [
        ("May-Sep", "5-9"),
        ("Nov-Mar", "11-3"),
        ("November to March", "11-3"),
        ('"Nov,Dec,Jan"', "11-1"),
        ("Nov Dec Jan", "11-1"),
        ("winter", "11-3"),
        ("summer only", "5-9"),
        ("May\N{EN DASH}Sept", "5-9"),
        ("June thru August", "6-8"),
        ("all year", "1-12"),
        ("all year except July", "8-6"),
        ("not in winter", "4-10"),
    ],
)
def test_months_by_name_and_season(written: str, months: str, make_house: MakeHouse) -> None:
    plain, named = (
        read(make_house, "load,watts,run_hours,months", f"Kiln,60,1,{text}").loads[0].months
        for text in (months, written)
    )
    assert plain == named
    south = read(make_house, "load,watts,run_hours,months", f"Kiln,60,1,{written}", toml=SOUTH).loads[0].months
    assert (south != plain) == any(word in written for word in ("winter", "summer"))


SOUTH = "[house]\ntimezone = 'Australia/Sydney'\n"


@pytest.mark.parametrize("written", ["May 15 - Sep 15", "sometimes", "0-3", "more in winter"])
def test_months_that_are_none_are_asked(written: str, make_house: MakeHouse) -> None:
    with pytest.raises(InputError, match="Write months as May-Sep, as 5-9 or as 11,12,1,2"):
        read(make_house, "load,watts,run_hours,months", f"Kiln,60,1,{written}")


WINTER, SUMMER = frozenset((11, 12, 1, 2, 3)), frozenset(range(5, 10))


@pytest.mark.parametrize(
    ("name", "note", "months"),
    [
        ("space heater", "winter", WINTER),
        ("pump of the pool", "summer only", SUMMER),
        ("space heater winter", "", WINTER),
        ("pool pump (summer)", "", SUMMER),
        ("fish pond filter - May-Sep", "", SUMMER),
        ("kiln", "old. Used only in winter", WINTER),
        ("kiln", "loud, Nov to March", WINTER),
        ("kiln", "not in summer", frozenset((10, 11, 12, 1, 2, 3, 4))),
        ("space heater", "all year", frozenset(range(1, 13))),
        ("kiln", "bought last winter", None),
        ("kiln", "more in winter", None),
        ("kiln (5)", "", None),
        ("pump of the water fall", "", None),
        ("kiln of May", "", None),
    ],
)
def test_a_season_in_a_note_or_a_name_is_when_it_runs(
    name: str, note: str, months: frozenset[int] | None, make_house: MakeHouse
) -> None:
    house = read(make_house, "load,watts,hours,note", f'{name},500,2,"{note}"')
    assert house.loads[0].months == months
    assert bool([notice for notice in house.notices if f"{name} runs in" in notice]) == (months is not None)


@pytest.mark.parametrize("header", ["load,watts,months", "load,watts,note"])
def test_a_season_does_not_cut_what_the_weather_runs(header: str, make_house: MakeHouse) -> None:
    house = read(make_house, header, "Baseboard heaters,12000,winter")
    assert house.loads[0].months is None
    assert any("Baseboard heaters runs as the weather asks" in notice for notice in house.notices)
    assert read(make_house, header, "Baseboard heaters,12000,Nov-Mar").loads[0].months == WINTER


def test_a_portable_heater_is_winter_s_where_nothing_is_said_and_it_is_told(make_house: MakeHouse) -> None:
    house = read(make_house, "load", "space heater")
    assert house.loads[0].months == WINTER
    assert [notice for notice in house.notices if "in Nov-Mar" in notice]
    assert read(make_house, "load", "space heater", toml=SOUTH).loads[0].months == SUMMER
    house = read(make_house, "load,hours", "space heater,6", "kettle,1")
    assert house.loads[0].months is None  # the page on formats: no months are all months
    (told,) = [notice for notice in house.notices if "all months" in notice]
    assert "space heater (usually Nov-Mar)" in told
    assert "kettle" not in told


SIZES: dict[str, float] = {
    "LED 9W": 9.0,
    "9 W LED bulbs": 9.0,
    "9W (60W equivalent)": 9.0,
    "60 watt": 60.0,
    "2x60W": 120.0,
    "two 60W": 120.0,
    "60W x 2": 120.0,
    "~200": 200.0,
    "about 200 W": 200.0,
    "200?": 200.0,
    "440 est?": 440.0,
    "100-150 W": 125.0,
    "~100-150 W": 125.0,
    "120V 5A": 600.0,
    "5A/120V": 600.0,
    "5 amps at 120 volts": 600.0,
    "0.5 kW": 500.0,
    "max 1500W": 1500.0,
    "1500W when on": 1500.0,
    "1/2 hp": 0.5 * 745.69987 / motor_efficiency(372.8),
    "half hp": 0.5 * 745.69987 / motor_efficiency(372.8),
    "1 1/2 HP": 1.5 * 745.69987 / motor_efficiency(1118.5),
    "1.5hp": 1.5 * 745.69987 / motor_efficiency(1118.5),
    "\N{VULGAR FRACTION ONE HALF} hp": 0.5 * 745.69987 / motor_efficiency(372.8),
}


@pytest.mark.parametrize("written", list(SIZES))
def test_sizes_as_people_write_them(written: str, make_house: MakeHouse) -> None:
    house = read(make_house, "load,watts,hours,power_factor", f'Contraption,"{written}",2,1')
    (load,) = house.loads
    assert load.watts == pytest.approx(SIZES[written], rel=1e-3)
    assert (load.source == "guessed") == (written[0] in "~a" or "?" in written)


@pytest.mark.parametrize(("size", "watts"), [("half ton", 600.0), ("12,000 BTU", 1200.0), ("3 ton", 3600.0)])
def test_sizes_of_coolers(size: str, watts: float, make_house: MakeHouse) -> None:
    assert one(make_house, "load,watts", f'window AC,"{size}"').watts == pytest.approx(watts)


@pytest.mark.parametrize(
    ("count", "size", "watts"),
    [("2", "2x60W", 60.0), ("4", "100W total", 25.0), ("4", "25W each", 25.0), ("3", "LED 9W", 9.0)],
)
def test_a_size_of_several_is_told_for_one(count: str, size: str, watts: float, make_house: MakeHouse) -> None:
    load = one(make_house, "load,count,watts,hours", f"Lamps,{count},{size},2")
    assert (load.count, load.watts) == (int(count), pytest.approx(watts))


@pytest.mark.parametrize("watts", ["?", "unknown", "don't know", "varies"])
def test_a_size_that_nobody_knows_is_the_handbook_s(watts: str, make_house: MakeHouse) -> None:
    house = read(make_house, "load,watts,hours", f"fridge,{watts},{watts}")
    assert (house.loads[0].watts, house.loads[0].follows) == (find("fridge")[0].watts, "always")


@pytest.mark.parametrize(
    ("written", "remedy"),
    [
        ("5A", "amps alone do not tell the watts.*Write the volts beside them, as 12 A"),
        ("750/1500W", "Write"),
        ("High 1500W Low 750W", "Write"),
        ("60W equivalent", "the light of a bulb of so many watts, not what it draws"),
        ("5 watts standby", "holds a word that is no unit: standby"),
        ("3x60W", "it tells of 3, and 2 are counted"),
        ("LED", "Write a plain number"),
        ("9 Wpt", "Write a plain number"),
    ],
)
def test_a_size_that_cannot_be_read_is_refused_in_plain_words(written: str, remedy: str, make_house: MakeHouse) -> None:
    with pytest.raises(InputError, match=remedy) as caught:
        read(make_house, "load,count,watts,hours", f"Lamp,2,{written},2")
    assert not [word for word in ("registry", "pint", "dimension", "undefined", "ampere,") if word in str(caught.value)]


@pytest.mark.parametrize(
    ("written", "hours"),
    [
        ("6pm-10pm", 4.0),
        ("10 pm to 6 am", 8.0),
        ("8 hours a day", 8.0),
        ("8h daily", 8.0),
        ("~8", 8.0),
        ("8?", 8.0),
        ("half hour", 0.5),
        ("1/2 hr", 0.5),
        ("1:30", 1.5),
        ("2x a week 70 min", 1 / 3),
        ("7 h a week", 1.0),
        ("2 hrs/night", 2.0),
    ],
)
def test_hours_as_people_write_them(written: str, hours: float, make_house: MakeHouse) -> None:
    assert one(make_house, "load,watts,hours", f"Kiln,60,{written}").run_hours == pytest.approx(hours)


@pytest.mark.parametrize(("name", "count"), [("4 fans", 4), ("fans (4)", 4), ("fridge (2)", 1), ("two lamps", 1)])
def test_the_number_of_things_in_a_name(name: str, count: int, make_house: MakeHouse) -> None:
    assert one(make_house, "load,watts,hours", f"{name},60,1").count == count


def test_one_fault_on_many_rows_is_told_once_with_its_rows(make_house: MakeHouse) -> None:
    lines = [f"Kiln {n},5{'A' if n % 2 else ' amps'},2" for n in range(18)]
    with pytest.raises(InputError) as caught:
        read(make_house, "load,watts,hours", *lines)
    (fault,) = caught.value.faults
    assert "rows 2 to 19" in str(fault)


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("old fridge in basement 1.2 kWh/day", {"kwh_per_year": 438.3}),
        ("Fridge 600 kWh per year", {"kwh_per_year": 600.0}),
        ("chest freezer (label: 280 kWh/yr)", {"kwh_per_year": 280.0}),
        ("kiln 8 kW, 2 firings a month, 9 hours each", {"watts": 8000.0, "run_hours": 2.0 * 9.0 * 12.0 / 365.25}),
        ("laptop 65W, 6h, weekdays only", {"watts": 65.0, "run_hours": 6.0 * 5.0 / 7.0}),
        ("attic fan 300 W, 10am-6pm", {"watts": 300.0, "run_hours": 8.0}),
        ("garage fridge .75 kwh/day", {"kwh_per_year": 0.75 * 365.25}),
        ("K\u00fchlschrank 200 kWh/Jahr", {"kwh_per_year": 200.0}),
        ("heat tape 5 W/ft 60 ft", {"watts": 300.0}),
        ("TV 100 W 5h/day, standby 2 W", {"watts": 100.0, "run_hours": 5.0, "standby_watts": 2.0}),
        ("electric car, 40 miles a day", {"kwh_per_year": 40.0 * 0.30 * 365.25}),
        ("kiln 6kW twice a month 8 hours", {"watts": 6000.0, "run_hours": 2.0 * 8.0 * 12.0 / 365.25}),
        ("oxygen concentrator 24/7 350W", {"watts": 350.0, "run_hours": 24.0}),
        ("towel warmer 100W always", {"watts": 100.0, "run_hours": 24.0}),
        ("TV 5H", {"run_hours": 5.0}),
        ("5 ceiling fans 60 W 8 h summer", {"count": 5, "watts": 60.0, "run_hours": 8.0}),
        ("coffee maker 900 W, 20 minutes daily", {"run_hours": 1.0 / 3.0}),
        ("vacuum 1200 W 2 hours weekly", {"run_hours": 2.0 / 7.0}),
        ("TVs: 3", {"count": 3}),
        ("ceiling fans 4", {"count": 4}),
        ("EV charger level 2, 7 kW", {"count": 1, "watts": 7000.0}),
        ("Kühlschrank", {"watts": 160.0}),
        ("Kuhlschrank im Keller", {"watts": 160.0}),
        ("lavadora 500 W", {"watts": 500.0}),
    ],
)
def test_a_line_tells_its_figures_or_they_are_not_made_up(
    line: str, told: dict[str, float], make_house: MakeHouse
) -> None:
    load = next(one for one in read(make_house, "load", f'"{line}"', "router").loads if one.name == line)
    for name, value in told.items():
        assert getattr(load, name) == pytest.approx(value, rel=1e-3)


def test_minutes_a_day_and_months_under_their_own_headers(tmp_path: Path) -> None:
    (tmp_path / "bills.csv").write_text("start,end,kwh\n2024-01-01,2024-02-01,744\n2024-02-01,2024-03-01,696\n")
    rows = ["Item,Qty,Power (kW),Use (min/day),Which months", "AC window,2,0.95,300,Jun-Aug", "Well pump,1,1.1,30,"]
    (tmp_path / "loads.csv").write_text("\n".join(rows) + "\n")
    window, well = read_house(tmp_path).loads
    assert (window.run_hours, window.months, well.run_hours) == (5.0, frozenset({6, 7, 8}), 0.5)


@pytest.mark.parametrize(
    ("header", "row", "expected"),
    [
        ("thing;kWh/day", "hot tub;6,5", {"kwh_per_year": 2372.5}),
        ("thing;kWh per month", "hot tub;195,2", {"kwh_per_year": 2342.4}),
        ("thing;watts;hours per week", "sauna;4000;3,5", {"run_hours": 0.5}),
        ("thing,kWh per month", 'hot tub,"1,195"', {"kwh_per_year": 14340.0}),
        ("thing,Watts,Minutes per use,Uses per week", "Microwave,1500,4,14", {"run_hours": 8.0 / 60.0}),
        ("thing,Watts,How long", "kettle,1500,10 min twice a day", {"run_hours": 20.0 / 60.0}),
        ("thing,Watts,How long", "fan,40,8 h nights", {"run_hours": 8.0}),
        ("thing,EnergyGuide", "Fridge,650 kWh/yr", {"kwh_per_year": 650.0}),
        ("thing,Watts,Duty %", "Fridge,150,33", {"share_on": 0.33}),
        ("thing,Watts,How long", "fridge,150,24/7 (cycles)", {"watts": 150.0, "run_hours": None}),
    ],
)
def test_what_stands_in_columns_of_other_measures_keeps_its_size(
    header: str, row: str, expected: dict[str, float], make_house: MakeHouse
) -> None:
    load = read(make_house, header, row).loads[0]
    assert {name: getattr(load, name) for name in expected} == pytest.approx(expected)


def test_a_charger_is_not_the_standby_of_the_house_and_two_words_may_be_exchanged() -> None:
    assert [find(name)[0].load for name in ("Phone chargers x4", "EV charger", "AC window", "fridge, old")] == [
        "small chargers",
        "electric car",
        "room air conditioner",
        "refrigerator",
    ]
