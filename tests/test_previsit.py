"""An estimate before the visit: its numbers, its bands, its money, its sheet, and how the readings come back."""

import re
from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest

from reconcile import cli
from reconcile.house import House, Load, Weather
from reconcile.loads.unknown_climate import CLIMATE_KINDS, typical_weather
from reconcile.previsit import estimate
from reconcile.read import read_house
from reconcile.report.pages.previsit_sheet import Typed, estimate_text, sheet_html
from reconcile.texts.estimate_words import QUESTIONS

TODAY = date(2026, 11, 25)
NAMES = "load\nFridge\nLights\nTV\nClothes dryer\nElectric water heater\nCentral air conditioner\nFurnace fan\n"
SETTINGS = """[house]
name = "Larkmoor"
[[tariff]]
valid_from = 2024-01-01
fixed_per_bill = 12.5
energy = 0.148
tax_percent = 5
"""


@pytest.fixture
def folder(tmp_path):
    (tmp_path / "home").mkdir()
    (tmp_path / "home" / "loads.csv").write_text(NAMES)
    (tmp_path / "home" / "house.toml").write_text(SETTINGS)
    return tmp_path / "home"


@pytest.fixture
def house(folder):
    return read_house(folder, bills_needed=False)


def year_of_weather(mean_c=10.0, swing=12.0, days=760):
    first = date(2024, 1, 1)
    at = np.arange(days)
    return Weather(first, mean_c - swing * np.cos(2 * np.pi * (at - 15) / 365.25), 0)


def test_a_load_of_known_watts_gives_its_own_energy():
    plain = House("one", (), loads=(Load("pump", watts=1000.0, run_hours=2.0, source="measured"),))
    plain = replace(plain, band=replace(plain.band, unlisted_kwh_per_day=0.0, unlisted_within_percent=1.0))
    made = estimate(plain, TODAY)
    assert made.year.expected_kwh == pytest.approx(2.0 * 365, rel=1e-9)
    assert [m.start.month for m in made.months] == list(range(1, 13))
    assert sum(m.expected_kwh for m in made.months) == pytest.approx(made.year.expected_kwh)
    january = made.months[0]
    assert january.expected_kwh == pytest.approx(62.0)
    assert january.low_kwh < 62.0 < january.high_kwh


def test_the_year_is_surer_than_its_months(house):
    made = estimate(house, TODAY)
    assert made.year.low_kwh > sum(m.low_kwh for m in made.months)
    assert made.year.high_kwh < sum(m.high_kwh for m in made.months)


def test_weather_narrows_what_is_expected(house):
    house = replace(house, loads=(*house.loads, Load("Baseboard", watts=6000.0, follows="heating")))
    blind = estimate(house, TODAY)
    cold = next(kind for kind in CLIMATE_KINDS if kind.name == "cold")
    known = estimate(replace(house, weather=typical_weather(cold, date(2024, 1, 1), 760, southern=False)), TODAY)
    assert known.weathered
    assert not blind.weathered
    assert "weather" in blind.ask
    assert "weather" not in known.ask
    assert known.months[0].expected_kwh > 2 * known.months[5].expected_kwh
    width = [(made.year.high_kwh - made.year.low_kwh) / made.year.expected_kwh for made in (blind, known)]
    assert width[1] < width[0]


def test_half_a_year_of_weather_is_not_taken_for_a_year(house):
    assert not estimate(replace(house, weather=year_of_weather(days=200)), TODAY).weathered


def test_a_colder_place_heats_more(house):
    loads = (*house.loads[:5], Load("heat pump", watts=3000.0, follows="heating", hours_per_degree_day=0.5))
    mild, cold = (
        estimate(replace(house, loads=loads, weather=year_of_weather(mean_c)), TODAY).year.expected_kwh
        for mean_c in (14.0, 4.0)
    )
    assert cold > 1.2 * mild


def test_bills_follow_the_tariff_to_the_cent(house):
    made = estimate(house, TODAY)
    january = made.months[0]
    by_hand = (Decimal("12.50") + Decimal(repr(round(january.expected_kwh, 1))) * Decimal("0.148")) * Decimal("1.05")
    assert abs(january.amount - by_hand) <= Decimal("0.01")
    assert made.year.amount == sum(month.amount for month in made.months)
    assert made.year.low_amount < made.year.amount < made.year.high_amount
    assert january.low_amount < january.amount < january.high_amount


def test_what_is_not_known_to_a_dollar_is_not_told_to_a_dollar(house):
    made = estimate(house, TODAY)
    told = estimate_text(made)
    money = re.search(r"about \$([\d,]+) a year, \$([\d,]+) to \$([\d,]+)", told)
    assert money is not None
    assert all(figure.endswith("00") for figure in money.groups())
    assert "of the doubt" not in told
    assert not re.search(r"\d\.\d % of the uncertainty", told)


def test_a_tariff_by_the_hour_is_said_not_to_be_worked_out(tmp_path, folder):
    (folder / "house.toml").write_text(
        '[[tariff]]\nvalid_from = 2024-01-01\n[[tariff.charge]]\nname = "energy"\n'
        'windows = [{name = "peak", hours = "16-21", price = 0.4}, {name = "rest", price = 0.2}]\n'
    )
    made = estimate(read_house(folder, bills_needed=False), TODAY)
    assert made.no_price is not None
    assert made.year.amount is None
    assert "cannot be worked out" in estimate_text(made)


def test_what_is_least_known_is_measured_first(house):
    made = estimate(house, TODAY)
    assert made.measure[0].load.name == "Central air conditioner"
    shares = [part.share_of_doubt for part in made.measure]
    assert shares == sorted(shares, reverse=True)
    assert sum(part.share_of_doubt for part in made.parts) == pytest.approx(1.0)


def test_measuring_narrows_the_band(house):
    worst = estimate(house, TODAY).measure[0].load.name
    measured = tuple(
        replace(load, source="measured", watts_within_percent=None, hours_within_percent=None)
        if load.name == worst
        else load
        for load in house.loads
    )
    with_weather = replace(house, weather=year_of_weather())
    before, after = (estimate(replace(with_weather, loads=loads), TODAY) for loads in (house.loads, measured))
    assert after.year.high_kwh - after.year.low_kwh < before.year.high_kwh - before.year.low_kwh


def test_what_is_known_is_not_asked(house):
    known = replace(house, occupants=3.0, floor_area_m2=120.0, heating_fuel="gas", water_heating_fuel="electric")
    assert not {"occupants", "floor-area", "heating", "hot-water", "tariff"} & set(estimate(known, TODAY).ask)
    bare = House("bare", (), loads=(Load("pump", watts=100.0, run_hours=1.0),))
    assert {"occupants", "floor-area", "heating", "hot-water", "tariff"} <= set(estimate(bare, TODAY).ask)
    assert set(estimate(bare, TODAY).ask) <= set(QUESTIONS)


def test_the_command_needs_no_bills_and_check_points_to_it(folder, tmp_path, capsys):
    assert cli.run(["check", str(folder)]) == 2
    assert "estimate" in capsys.readouterr().err
    assert (
        cli.run(["estimate", str(folder), "--out", str(tmp_path / "out"), "--auditor", "Ida <b>", "--license", "7"])
        == 0
    )
    told = capsys.readouterr().out
    assert "are expected" in told
    assert re.search(r"January +\d", told)
    page = (tmp_path / "out" / "previsit.html").read_text()
    assert "Ida &lt;b&gt;" in page
    assert cli.run(["estimate", str(folder), "--out", str(tmp_path / "out")]) == 2
    (folder / "loads.csv").unlink()
    assert cli.run(["estimate", str(folder)]) == 2
    assert "lists no loads" in capsys.readouterr().err


def test_the_starter_with_loads_counted_can_be_estimated(tmp_path):
    import openpyxl

    from reconcile.report.starter import write_starter

    (path,) = write_starter(tmp_path / "new")
    book = openpyxl.load_workbook(path)
    for row in book["loads"].iter_rows(min_row=7, max_row=12):
        row[1].value = 1
    book.save(path)
    assert len(read_house(path, bills_needed=False).loads) == 6
    assert estimate(read_house(path.parent, bills_needed=False), TODAY).year.expected_kwh > 100


def test_measured_values_come_back_by_the_normal_reader(folder):
    (folder / "loads.csv").write_text(
        "load,watts,run_hours,source\nFridge,,,\nElectric water heater,4380,2.1,measured\nTV,,,\n"
    )
    house = read_house(folder, bills_needed=False)
    heater = house.loads[1]
    assert (heater.watts, heater.run_hours, heater.source) == (4380.0, 2.1, "measured")
    part = next(part for part in estimate(house, TODAY).parts if part.load == heater)
    assert part.within_percent < 12.0


@pytest.mark.browser
@pytest.mark.parametrize("count", [3, 40])
def test_the_sheet_prints_on_one_sheet(browser, house, count):
    loads = tuple(
        replace(house.loads[n % len(house.loads)], name=f"Load number {n} in the house") for n in range(count)
    )
    page = sheet_html(estimate(replace(house, loads=loads), TODAY), Typed("Ida Vern", "HA-100"))
    assert len(browser.printed(page).pages) <= 2
