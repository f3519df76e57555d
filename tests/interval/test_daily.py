"""Daily totals against weather and weekday, and days away."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
import switching_homes as homes
from numpy.testing import assert_allclose

from reconcile.clock import as_day
from reconcile.house import Interval
from reconcile.interval.daily import Lift, daily_use


def house_of(kwh_by_day, mean_c, first=date(2024, 3, 5)):
    """Hourly data that hold so much energy on each day, level through the day."""
    made = replace(homes.home(0, 1), first=first, mean_c=mean_c)
    starts = np.datetime64("2024-03-05T06:00:00") + np.arange(24 * len(kwh_by_day)) * np.timedelta64(1, "h")
    data = Interval(starts.astype("datetime64[s]"), np.repeat(kwh_by_day / 24.0, 24), 3600)
    return replace(homes.as_house(made, data), timezone="Etc/GMT+6")


def season(days):
    return 11.0 - 14.0 * np.cos(2 * np.pi * np.arange(days) / 365.0)


def test_slopes_are_those_of_a_regression_by_statsmodels():
    regression = pytest.importorskip("statsmodels.api")
    rng = np.random.default_rng(4)
    mean_c = season(365) + rng.normal(0, 3, 365)
    kwh = 12.0 + 1.1 * np.maximum(16.0 - mean_c, 0) + 1.9 * np.maximum(mean_c - 20.0, 0) + rng.normal(0, 1.5, 365)
    used = daily_use(house_of(kwh, mean_c))
    assert (used.balance_heating_c, used.balance_cooling_c) == (16.0, 20.0)
    weekend = (used.days + 3) % 7 >= 5
    design = np.column_stack(
        [np.ones(365), weekend, np.maximum(16.0 - used.mean_c, 0), np.maximum(used.mean_c - 20.0, 0)]
    )
    theirs = regression.RLM(used.kwh, design, M=regression.robust.norms.HuberT(1.5)).fit().params
    assert_allclose([used.heating_kwh_per_degree, used.cooling_kwh_per_degree], theirs[2:], rtol=0.02, atol=0)
    assert_allclose(used.standard_error_kwh, 1.5, rtol=0.15, atol=0)


def test_days_away_are_named():
    rng = np.random.default_rng(5)
    kwh = 20.0 + rng.normal(0, 2, 200)
    kwh[90:97] = 5.0
    used = daily_use(house_of(kwh, np.full(200, 14.0)))
    first = as_day(int(used.days[0]))
    assert used.away == ((first + timedelta(days=90), first + timedelta(days=96)),)


def test_few_days_and_no_weather():
    assert daily_use(house_of(np.full(20, 10.0), np.full(20, 10.0))) is None
    used = daily_use(replace(house_of(np.full(60, 10.0), np.full(60, 10.0)), weather=None))
    assert used.heating_kwh_per_degree == 0.0


def test_what_began_and_runs_on_is_no_stretch_of_guests():
    rng = np.random.default_rng(6)
    kwh = 12.0 + rng.normal(0, 0.5, 300) + 8.0 * (np.arange(300) >= 220)
    house = house_of(kwh, np.full(300, 14.0))
    alone = daily_use(house)
    begins = float(alone.days[220])
    told = daily_use(house, [Lift(begins, np.inf, 8.0)])
    assert alone.busy
    assert told.busy == ()
    assert_allclose(told.lift_kwh, np.where(told.days >= begins, 8.0, 0.0), rtol=0, atol=0)
    assert_allclose(told.expected_kwh[250:], 20.0, rtol=0.02, atol=0)


def test_days_away_are_named_though_the_house_is_cooled_and_heated_on():
    rng = np.random.default_rng(7)
    mean_c = season(560) + rng.normal(0, 2.5, 560)
    weather = 1.1 * np.maximum(16.0 - mean_c, 0) + 1.9 * np.maximum(mean_c - 20.0, 0)
    people = 16.0 + rng.normal(0, 2.0, 560)
    kwh = 4.0 + weather + people
    kwh[150:170] -= people[150:170] + 0.3 * weather[150:170]
    kwh[330:340] -= people[330:340]
    used = daily_use(house_of(kwh, mean_c), floor_watts=(160.0, 160.0))
    first = as_day(int(used.days[0]))
    assert used.empty == tuple(
        (first + timedelta(days=a), first + timedelta(days=b)) for a, b in ((150, 169), (330, 339))
    )


def test_a_season_of_less_is_no_absence():
    rng = np.random.default_rng(8)
    kwh = 20.0 + rng.normal(0, 1.0, 300)
    kwh[200:] -= 14.0
    assert daily_use(house_of(kwh, np.full(300, 14.0)), floor_watts=(100.0, 100.0)).away == ()


def test_days_alike_are_days_away_though_the_list_holds_what_never_rests():
    rng = np.random.default_rng(9)
    kwh = 6.0 + rng.normal(0, 1.2, 400)
    kwh[150:159] = 2.8 + rng.normal(0, 0.03, 9)
    house = house_of(kwh, season(400))
    first = as_day(int(daily_use(house).days[0]))
    assert daily_use(house).empty == ()
    assert daily_use(house, floor_watts=(0.0, 110.0)).empty == (
        (first + timedelta(days=150), first + timedelta(days=158)),
    )


def test_low_days_unlike_each_other_and_alike_days_of_usual_use_are_no_absence():
    rng = np.random.default_rng(10)
    kwh = 6.0 + rng.normal(0, 1.2, 400)
    kwh[150:159] = np.tile([2.6, 3.4, 4.1], 3)
    kwh[250:259] = 5.6
    assert daily_use(house_of(kwh, season(400)), floor_watts=(0.0, 110.0)).empty == ()


def test_days_before_a_rise_that_stays_are_no_absence():
    """The middle of all days lies between the two levels; the last low weeks before the rise were told as empty."""
    rng = np.random.default_rng(11)
    kwh = np.concatenate([np.full(60, 9.0), np.full(20, 6.5), np.full(320, 20.0)]) + rng.normal(0, 0.8, 400)
    kwh[250:258] = 5.0 + rng.normal(0, 0.2, 8)
    used = daily_use(replace(house_of(kwh, np.full(400, 14.0)), weather=None), floor_watts=(60.0, 60.0))
    first = as_day(int(used.days[0]))
    assert used.empty == ((first + timedelta(days=250), first + timedelta(days=257)),)


def test_low_days_that_come_and_go_by_and_by_are_no_absence():
    rng = np.random.default_rng(12)
    kwh = 20.0 - 17.0 * np.maximum(1.0 - np.abs(np.arange(400) - 150) / 20.0, 0.0) + rng.normal(0, 1.5, 400)
    kwh[300:312] = 4.0 + rng.normal(0, 0.5, 12)
    used = daily_use(replace(house_of(kwh, np.full(400, 14.0)), weather=None))
    first = as_day(int(used.days[0]))
    assert used.empty == ((first + timedelta(days=300), first + timedelta(days=311)),)


def test_evenings_as_ever_are_no_absence_though_a_car_is_not_charged_for_weeks():
    rng = np.random.default_rng(13)
    kwh = 5.0 + rng.normal(0, 0.3, 300)
    house = house_of(kwh, np.full(300, 14.0))
    hours = house.interval.kwh.reshape(300, 24).copy()
    hours[:, 18:23] += 0.4 + rng.normal(0, 0.05, (300, 5))  # lights and a meal
    hours[:, 1:3] += 7.0 + rng.normal(0, 0.5, (300, 2))  # the car
    hours[100:112, 1:3] -= 6.8
    hours[200:212] = 0.15
    used = daily_use(replace(house, interval=replace(house.interval, kwh=hours.reshape(-1)), weather=None))
    first = as_day(int(used.days[0]))
    assert used.empty == ((first + timedelta(days=200), first + timedelta(days=211)),)
