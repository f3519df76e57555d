"""A small run of the bench of homes by the hour, and what it must keep."""

from dataclasses import replace

import hourly_homes
import pytest
from hourly_answers import as_it_runs, line

import reconcile
from reconcile.house import Interval
from reconcile.interval.clock_load import clock_load


@pytest.mark.parametrize("kind", ["plain", "hot summer", "pool", "standard time"])
def test_hours_accuse_nobody_in_a_home_in_order(kind):
    hours = line(kind, 2).split("; ")[1]
    assert hours == "hours: wrong .5 0, .9 0, meter 0"


@pytest.mark.parametrize(("kind", "seed"), [("clock night", 1), ("clock night", 7), ("clock day", 4), ("photocell", 3)])
def test_a_load_on_a_timer_is_found_as_it_runs(kind, seed):
    home = hourly_homes.home(kind, seed)
    assert as_it_runs(home.put, clock_load(home.house.interval, hourly_homes.ZONE, home.house))


@pytest.mark.parametrize(("kind", "most"), [("clock night", 15), ("photocell", 16)])
def test_most_loads_on_a_timer_by_night_are_found(kind, most):
    homes = [hourly_homes.home(kind, seed) for seed in range(100, 120)]
    found = [as_it_runs(one.put, clock_load(one.house.interval, hourly_homes.ZONE, one.house)) for one in homes]
    assert sum(found) >= most


@pytest.mark.parametrize(("kind", "seed"), [("clock day", 2), ("clock evening", 1)])
def test_what_is_found_by_day_is_named_and_no_habit(kind, seed):
    answer = reconcile.reconcile(hourly_homes.home(kind, seed).house)
    assert answer.causes[0].code == "timed-load"
    assert answer.causes[0].probability > 0.8


@pytest.mark.parametrize("kind", ["constant 400", "constant 600", "cold spell", "absence", "guests", "setback"])
def test_no_timer_where_none_runs(kind):
    for seed in range(3):
        home = hourly_homes.home(kind, seed)
        assert clock_load(home.house.interval, hourly_homes.ZONE, home.house) is None


@pytest.mark.parametrize(("kind", "seed"), [("constant 400", 321), ("absence", 321), ("absence", 322)])
def test_hours_of_a_season_are_no_timer_where_nobody_knows_the_weather(kind, seed):
    house = replace(hourly_homes.home(kind, seed).house, weather=None)
    assert clock_load(house.interval, hourly_homes.ZONE, house) is None


@pytest.mark.parametrize(("seed", "end"), [(46433, 542), (46055, 523), (52208, 575)])
def test_an_air_conditioner_is_no_timer_where_nobody_knows_the_weather(seed, end):
    home = hourly_homes.home("hot summer", seed)
    hours = slice(24 * (end - hourly_homes.BEGINS - 400), 24 * (end - hourly_homes.BEGINS))
    part = Interval(home.house.interval.starts[hours], home.house.interval.kwh[hours], 3600)
    house = replace(home.house, interval=part, weather=None, loads=())
    assert clock_load(part, hourly_homes.ZONE, house) is None


def test_what_ran_by_the_clock_a_season_ago_is_no_new_load():
    """A pool pump of two summers, on no list."""
    home = hourly_homes.home("pool", 2)
    house = replace(home.house, loads=tuple(load for load in home.house.loads if load.name != "Pool pump"))
    found = clock_load(house.interval, hourly_homes.ZONE, house)
    assert found is None or found.day.year == 2023


def test_a_load_round_the_clock_is_named_so():
    said = line("constant 400", 2)
    assert "hours: named 2, wrong .5 0, .9 0, meter 0" in said
