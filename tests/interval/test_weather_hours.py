"""What the weather adds to the nights: cooling that runs through the hot ones alone."""

from dataclasses import replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from reconcile.clock import day_numbers
from reconcile.house import Bill, House, Interval, Weather
from reconcile.interval.clock_load import clock_load
from reconcile.interval.weather_hours import days_of, weather_curve


@pytest.mark.parametrize("seed", range(4))
def test_nights_of_a_few_hot_weeks_teach_their_own_slope(seed):
    rng = np.random.default_rng(seed)
    day = np.arange(560)
    spell = np.convolve(rng.normal(0, 1.6, 600), np.exp(-np.arange(12) / 3.0), mode="full")[: len(day)]
    mean_c = 14.0 - 11.0 * np.cos(2 * np.pi * (day - 18) / 365.25) + spell
    cooled = 280.0 * np.maximum(mean_c - 24.5, 0.0)
    watts = 170.0 + rng.normal(0, 8, len(day)) + cooled * rng.normal(1.0, 0.1, len(day))
    part = weather_curve(watts[:, None], mean_c, np.ones(len(day), dtype=bool)).part(mean_c)[:, 0]
    hot = mean_c > 26.5
    assert 10 <= hot.sum() <= 120
    assert abs(part[hot].mean() / cooled[hot].mean() - 1.0) < 0.2
    assert np.abs(part[mean_c < 20.0]).max() < 15.0


def cooled(seed, worn_from=None, more=1.0):
    """A year by the hour in which it is cooled from late morning to evening; its bills print their mean temperatures.

    From a day on the air conditioner takes so much more. Return it with the temperatures of its days.
    """
    rng, first, days, hour = np.random.default_rng(seed), date(2023, 6, 10), 364, np.arange(24)
    spell = np.convolve(rng.normal(0, 1.6, days + 40), np.exp(-np.arange(12) / 3.0), "full")[20 : 20 + days]
    mean_c = 20.0 + 7.0 * np.cos(2 * np.pi * (np.arange(days) - 215) / 365.25) + spell
    warm = np.clip(mean_c[:, None] + 5.0 * np.cos(2 * np.pi * (hour - 15) / 24) - 23.0, 0, None)
    warm[days if worn_from is None else worn_from :] *= 1.0 + more
    evening = 300.0 * np.exp(-(((hour - 20) / 2.5) ** 2)) * rng.gamma(8, 1 / 8, (days, 1))
    kwh = (250.0 + evening + 110.0 * warm + rng.gamma(1.0, 60.0, (days, 24))) / 1000.0
    starts = np.datetime64("2023-06-10T06:00:00") + np.arange(24 * days) * np.timedelta64(1, "h")
    edges = range(0, days, 28)
    bills = (
        Bill(
            first + timedelta(days=at),
            first + timedelta(days=at + 28),
            kwh=float(kwh[at : at + 28].sum()),
            mean_temperature_c=round(float(mean_c[at : at + 28].mean())),
        )
        for at in edges
    )
    data = Interval(starts.astype("datetime64[s]"), kwh.ravel(), 3600)
    return House("Cooled", tuple(bills), timezone="Etc/GMT+6", interval=data), mean_c


def test_cooling_is_no_timer_where_only_the_means_of_bills_are_known():
    house, _ = cooled(7)
    assert clock_load(house.interval, ZoneInfo(house.timezone), house) is None


@pytest.mark.parametrize(("seed", "since", "more"), [(7, 270, 1.0), (11, 290, 1.0), (11, 290, 2.0)])
def test_an_air_conditioner_that_takes_more_since_spring_is_no_timer(seed, since, more):
    """It was told as a load of some hundred watts from late morning to evening."""
    house, mean_c = cooled(seed, since, more)
    house = replace(house, weather=Weather(house.bills[0].start, mean_c))
    assert clock_load(house.interval, ZoneInfo(house.timezone), house) is None


def test_the_mean_of_a_bill_is_the_temperature_of_none_of_its_days():
    house, mean_c = cooled(7)
    first, last = day_numbers([house.bills[0].start, house.bills[-1].closes - timedelta(days=1)]).tolist()
    assert days_of(house, first, last) is None
    half = replace(house, weather=Weather(house.bills[0].start, mean_c[:182]))
    assert days_of(half, first, last).known.tolist() == [True] * 182 + [False] * 182
