"""A load of kilowatts that stood day and night between two days."""

import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

import reconcile

sys.path.insert(0, str(Path(__file__).parents[1]))
import data_homes
import switching_homes as homes

from reconcile.clock import local_seconds
from reconcile.interval.large_load import large_load

SEED, SINCE, UNTIL, WATTS = 6, 220, 241, 2000.0


@pytest.fixture(scope="module")
def usual():
    return homes.home(SEED, data_homes.DAYS)


def drawn(made, watts, since, until):
    """Add a load to the readings of some days."""
    day = local_seconds(made.starts, homes.ZONE) // 86400
    on = (day - day[0] >= since) & (day - day[0] < until)
    return replace(made, kwh=made.kwh + np.where(on, watts, 0.0) * made.lengths / 3.6e6)


def test_it_is_found_with_its_days_and_its_power(usual):
    made = drawn(homes.metered(usual, 60), WATTS, SINCE, UNTIL)
    load, left = large_load(homes.as_house(usual, made), homes.ZONE)
    assert abs(load.watts / WATTS - 1.0) < 0.05
    assert (load.day, load.until) == tuple(usual.first + timedelta(days=day) for day in (SINCE, UNTIL))
    assert left.interval.kwh.sum() < made.kwh.sum()


def test_heating_that_comes_and_goes_in_steps_of_its_size_is_none(usual):
    made = homes.metered(usual, 60)
    for since, until, watts in ((0, 40, 2500.0), (100, 160, 2600.0), (120, 150, 1800.0), (SINCE, UNTIL, WATTS)):
        made = drawn(made, watts, since, until)
    house = homes.as_house(usual, made)
    load, left = large_load(house, homes.ZONE)
    assert load is None
    assert left is house


def test_no_meter_that_counts_too_much_stands_for_it(usual):
    minutes = np.arange(len(usual.base)) // 1440
    on = (minutes >= SINCE) & (minutes < UNTIL)
    house = data_homes.billed(replace(usual, base=usual.base + np.where(on, WATTS, 0.0)), minutes=60)
    answer = reconcile.reconcile(house)
    assert answer.verdict.meter_fast_probability < 0.05
    assert answer.causes[0].code == "timed-load"
