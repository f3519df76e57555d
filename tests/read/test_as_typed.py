"""Tables, lists, diaries and weather as people type them are read as they were meant, or asked about once."""

from __future__ import annotations

from pathlib import Path

import pytest
from as_typed import BILLS, DIARY, FIGURES, LOADS, WEATHER, Typed

from reconcile.errors import InputError
from reconcile.house import House
from reconcile.read import read_house

BESIDE = "start,end,kwh\n2024-01-15,2024-02-14,812\n2024-02-14,2024-03-15,744\n2024-03-15,2024-04-15,690\n"


def read(typed: Typed, folder: Path) -> House:
    (folder / typed.file).write_text(typed.text, encoding="utf-8")
    if not typed.file.startswith("bills"):
        (folder / "bills.csv").write_text(BESIDE)
    return read_house(folder)


def asked(typed: Typed, folder: Path) -> bool:
    """Whether one question is all that comes of it, and it is the one wanted."""
    if not isinstance(typed.read, str):
        return False
    with pytest.raises(InputError) as caught:
        read(typed, folder)
    (fault,) = caught.value.faults
    assert typed.read in str(fault)
    return True


@pytest.mark.parametrize("name", list(BILLS))
def test_bills_as_they_are_typed(name: str, tmp_path: Path) -> None:
    if not asked(BILLS[name], tmp_path):
        bills = read(BILLS[name], tmp_path).bills
        assert [(bill.start, bill.closes, bill.kwh) for bill in bills] == BILLS[name].read


@pytest.mark.parametrize("name", list(LOADS))
def test_loads_as_they_are_typed(name: str, tmp_path: Path) -> None:
    assert [(load.name, load.count) for load in read(LOADS[name], tmp_path).loads] == LOADS[name].read


@pytest.mark.parametrize("name", list(FIGURES))
def test_figures_of_loads_as_they_are_typed(name: str, tmp_path: Path) -> None:
    loads = read(FIGURES[name], tmp_path).loads
    assert [(load.name, load.count, load.watts, load.run_hours) for load in loads] == FIGURES[name].read


@pytest.mark.parametrize(("head", "times"), [("kWh/month", 12.0), ("kWh per day", 365.0), ("daily kWh", 365.0)])
def test_energy_a_month_or_a_day_is_a_year_s(head: str, times: float, tmp_path: Path) -> None:
    (load,) = read(Typed("loads.csv", f"Appliance,{head}\nFridge,38\n", []), tmp_path).loads
    assert load.kwh_per_year == pytest.approx(38.0 * times)


def test_a_line_tells_size_hours_and_months(tmp_path: Path) -> None:
    fridge, tvs, heater = read(LOADS["phone notes"], tmp_path).loads
    assert (fridge.watts, tvs.watts, tvs.run_hours) == (150.0, 100.0, 5.0)
    assert (heater.watts, heater.months) == (1500.0, frozenset((11, 12, 1, 2, 3)))


@pytest.mark.parametrize("name", list(DIARY))
def test_a_diary_as_it_is_typed(name: str, tmp_path: Path) -> None:
    assert [(event.day, event.kind) for event in read(DIARY[name], tmp_path).events] == DIARY[name].read


@pytest.mark.parametrize("name", list(WEATHER))
def test_weather_as_it_is_typed(name: str, tmp_path: Path) -> None:
    weather = read(WEATHER[name], tmp_path).weather
    assert weather is not None
    assert [(len(weather.mean_c),)] == WEATHER[name].read


@pytest.mark.parametrize("name", ["loads", "events"])
def test_a_text_that_is_no_list_is_never_passed_over(name: str, tmp_path: Path) -> None:
    typed = Typed(f"{name}.txt", "some thoughts of mine\nwithout a list\n", "is missing")
    with pytest.raises(InputError, match="is missing"):
        read(typed, tmp_path)
