"""A load that comes on some days, found by its runs."""

import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
import data_homes
import switching_homes as homes

from reconcile.clock import local_seconds
from reconcile.interval.long_runs import long_runs

SEED, SINCE, WATTS = 6, 250, 7200.0


@pytest.fixture(scope="module")
def usual():
    return homes.home(SEED, data_homes.DAYS)


def charged(made, since, rng, *, hour=19, gain=1.0, gain_since=0):
    """Add a car to readings, every second day or so from about some hour on, for its days' miles."""
    local = local_seconds(made.starts, homes.ZONE)
    first, kwh, added = int(local[0]), made.kwh.copy(), np.zeros(int(data_homes.DAYS))
    for day in range(since, data_homes.DAYS - 1):
        if rng.random() < 0.5:
            added[day] = rng.gamma(5.0, 3.0)
            begin = first // 86400 * 86400 + day * 86400 + hour * 3600 + int(rng.normal(0.0, 1800.0))
            overlap = np.minimum(local + made.lengths, begin + added[day] * 3.6e6 / WATTS) - np.maximum(local, begin)
            kwh += WATTS / 3.6e6 * np.maximum(overlap, 0.0)
    kwh *= np.where((local - first) // 86400 >= gain_since, gain, 1.0)
    return replace(made, kwh=kwh), added


@pytest.mark.parametrize(("minutes", "hour"), [(5, 19), (15, 19), (60, 23)])
def test_a_car_of_some_days_is_found_with_its_power_its_day_and_its_energy(usual, minutes, hour):
    made = homes.metered(usual, minutes)
    with_it, added = charged(made, SINCE, np.random.default_rng(SEED), hour=hour)
    found = long_runs(with_it, homes.ZONE, homes.as_house(usual, with_it))
    assert found is not None
    load, left = found
    assert abs((load.day - usual.first).days - SINCE) <= 5
    assert abs(load.watts / WATTS - 1.0) < 0.06
    assert 2.3 <= load.days_a_week <= 4.5
    mean = added[SINCE:].mean()
    sd = load.standard_uncertainty * load.kwh_a_day / load.watts
    assert abs(load.kwh_a_day - mean) <= min(3.0 * sd, 0.15 * mean)
    assert abs(left.kwh.sum() / made.kwh.sum() - 1.0) < 0.02


def test_a_load_that_runs_on_every_day_since_is_found_too(usual):
    made = homes.metered(usual, 15)
    local = local_seconds(made.starts, homes.ZONE)
    on = (local // 86400 - local[0] // 86400 >= SINCE) & np.isin(local % 86400 // 3600, (1, 2, 3))
    with_it = replace(made, kwh=np.where(on, WATTS, 300.0) / 3.6e6 * made.lengths)
    load, _ = long_runs(with_it, homes.ZONE, homes.as_house(usual, with_it))
    assert load.days_a_week == 7.0


def test_no_runs_are_new_where_nothing_came(usual):
    made = homes.metered(usual, 15)
    assert long_runs(made, homes.ZONE, homes.as_house(usual, made)) is None


def test_a_car_that_was_there_makes_no_new_runs_as_a_meter_turns_fast(usual):
    made, _ = charged(homes.metered(usual, 15), 0, np.random.default_rng(SEED), gain=1.5, gain_since=SINCE)
    assert long_runs(made, homes.ZONE, homes.as_house(usual, made)) is None


def test_a_heater_of_one_winter_is_a_seasons(usual):
    """It runs every cold evening, and on no mild one."""
    made = homes.metered(usual, 15)
    local = local_seconds(made.starts, homes.ZONE)
    months = np.array(
        [date.fromordinal(719163 + int(day)).month for day in range(local[0] // 86400, local[-1] // 86400 + 1)]
    )
    winter = np.isin(months, (11, 12, 1, 2))[local // 86400 - local[0] // 86400]
    late = (local // 86400 - local[0] // 86400) >= SINCE
    on = winter & late & (local % 86400 >= 6 * 3600) & (local % 86400 < 9 * 3600)
    made = replace(made, kwh=made.kwh + np.where(on, 5.0 * made.lengths / 3600.0, 0.0))
    assert long_runs(made, homes.ZONE, homes.as_house(usual, made)) is None
