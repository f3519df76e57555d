"""Heating and cooling for the same weather, and guests beside them."""

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
import switching_homes as homes

import reconcile
from reconcile.clock import as_day
from reconcile.house import Bill, Interval
from reconcile.interval.by_degree import by_degree
from reconcile.interval.daily import daily_use
from reconcile.interval.evidence_rows import times_apart

DAYS, FIRST = 365, date(2023, 7, 1)
GUESTS = slice(190, 208)


def gas_house(seed, watts_more, when=GUESTS, a_kelvin=14.0):
    """Hourly data of a house whose heating is a fan of some kWh a day; more in the evenings of some days of winter."""
    rng = np.random.default_rng(seed)
    mean_c = 11.0 + 12.0 * np.cos(2 * np.pi * np.arange(DAYS) / 365.0) + rng.normal(0, 3, DAYS)
    watts = np.full((DAYS, 24), 170.0)
    watts[:, 7:23] += rng.gamma(3.0, 220.0, (DAYS, 16))
    watts += a_kelvin * np.maximum(16.0 - mean_c, 0.0)[:, None]
    watts[when, 8:22] += watts_more(mean_c[when])[:, None] * 24.0 / 14.0
    made = replace(homes.home(0, 1), first=FIRST, mean_c=mean_c)
    starts = np.datetime64(f"{FIRST}T06:00:00") + np.arange(24 * DAYS) * np.timedelta64(1, "h")
    data = Interval(starts.astype("datetime64[s]"), watts.ravel() / 1000.0, 3600)
    totals = watts.sum(axis=1) / 1000.0
    edges = range(0, DAYS + 1, 30)
    days = [FIRST + timedelta(days=edge) for edge in edges]
    sums = [round(float(totals[a:b].sum())) for a, b in pairwise(edges)]
    bills = tuple(Bill(a, b, kwh) for (a, b), kwh in zip(pairwise(days), sums, strict=True))
    return replace(homes.as_house(made, data), timezone="Etc/GMT+6", bills=bills)


@pytest.mark.parametrize("seed", range(4))
def test_guests_of_some_weeks_are_no_heating(seed):
    house = gas_house(seed, lambda mean_c: np.full(len(mean_c), 430.0))
    heating = next(side for side in by_degree(house, ZoneInfo(house.timezone)) if side.side == "heating")
    assert heating.spell is None
    assert heating.guests is not None
    begin, end = (FIRST + timedelta(days=day) for day in (GUESTS.start, GUESTS.stop))
    assert abs(as_day(heating.guests.begin) - begin) <= timedelta(days=3)
    assert abs(as_day(heating.guests.end) - end) <= timedelta(days=3)


@pytest.mark.parametrize("seed", range(4))
def test_heat_that_follows_the_cold_is_no_guests(seed):
    house = gas_house(seed, lambda mean_c: 120.0 * np.maximum(16.0 - mean_c, 0.0))
    heating = next(side for side in by_degree(house, ZoneInfo(house.timezone)) if side.side == "heating")
    assert heating.guests is None
    assert heating.spell is not None


@pytest.mark.parametrize(("seed", "share"), [(0, 0.6), (2, 0.45)])
def test_half_more_heat_is_told_with_its_day_where_the_days_follow_the_cold(seed, share):
    """Only a change of 80 % was; the half more stood as a load round the clock, or as one of a season."""
    since = slice(180, DAYS)
    house = gas_house(seed, lambda mean_c: share * 60.0 * np.maximum(16.0 - mean_c, 0.0), since, 60.0)
    heating = next(side for side in by_degree(house, ZoneInfo(house.timezone)) if side.side == "heating")
    assert heating.spell is not None
    assert as_day(heating.spell.begin) == FIRST + timedelta(days=180)
    assert abs(heating.spell.size - share) <= 0.12
    assert heating.spell.lead >= 10.0


def test_a_meter_that_counts_half_more_is_no_heating():
    house = gas_house(0, lambda mean_c: 0.0 * mean_c, a_kelvin=60.0)
    kwh = house.interval.kwh.copy()
    kwh[24 * 180 :] *= 1.5
    house = replace(house, interval=replace(house.interval, kwh=kwh))
    assert all(side.spell is None for side in by_degree(house, ZoneInfo(house.timezone)))


def test_guests_stand_among_the_busy_days_and_what_is_usual_is_that_much_more():
    house = gas_house(0, lambda mean_c: np.full(len(mean_c), 430.0))
    heating = next(side for side in by_degree(house, ZoneInfo(house.timezone)) if side.side == "heating")
    daily = daily_use(house).with_guests([heating.guests])
    (visit,) = daily.guests
    assert visit in daily.busy
    (one,) = times_apart(daily)
    assert one.onset == visit[0]
    assert one.spell.more.min() < -0.2
    assert one.spell.more.max() <= 0.1


def test_guests_and_new_electric_heat_are_told_with_their_days():
    guests = reconcile.reconcile(gas_house(0, lambda mean_c: np.full(len(mean_c), 430.0)))
    assert any("guests" in notice and "Jan 7" in notice for notice in guests.notices)
    assert guests.verdict.decision.value == "explained"
    pump = gas_house(0, lambda mean_c: 120.0 * np.maximum(16.0 - mean_c, 0.0), slice(GUESTS.start, None))
    assert any(
        "heat pump" in notice and "since January 7, 2024" in notice for notice in reconcile.reconcile(pump).notices
    )


def twice_since(house, day, days):
    """The first days of the same data, with a meter that counts twice from one of them on."""
    data = house.interval
    starts, kwh = data.starts[: 24 * days], data.kwh[: 24 * days] * np.where(np.arange(24 * days) < 24 * day, 1.0, 2.0)
    return replace(house, interval=Interval(starts, kwh, 3600))


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("day", [115, 125])
def test_a_meter_that_counts_twice_before_the_first_winter_is_no_heating(seed, day):
    house = twice_since(gas_house(seed, np.zeros_like, a_kelvin=40.0), day, 200)
    heating = next(side for side in by_degree(house, ZoneInfo(house.timezone)) if side.side == "heating")
    assert heating.spell is None
