"""Temperatures where they are thin: a normal year from part of one, a printed mean, a climate, and no straight line."""

import math
from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import pytest
from weigh_houses import house

import reconcile
from reconcile.house import Bill, House, Load, Weather
from reconcile.house.outdoors import DAY_SD_C, normal_year_degree_days, outdoors
from reconcile.loads.energy import load_energy


def year(first: date, days: int, seed: int = 0) -> Weather:
    """Daily means of a site with 10 K of swing about 10 degC, coldest in late January."""
    rng = np.random.default_rng(seed)
    day = np.array([(first + timedelta(days=i)).timetuple().tm_yday for i in range(days)])
    return Weather(first, 10.0 - 10.0 * np.cos(2 * np.pi * (day - 20) / 365.25) + 3.0 * rng.standard_normal(days))


@pytest.mark.parametrize(
    ("first", "days"),
    [(date(2022, 11, 1), 515), (date(2022, 4, 15), 535), (date(2022, 10, 1), 212), (date(2022, 1, 1), 365)],
    ids=["two winters", "two summers", "October to April", "a year"],
)
def test_a_yearly_label_of_heating_holds_for_a_normal_year(first, days):
    wanted = float(np.maximum(16.0 - year(date(2001, 1, 1), 40 * 365, seed=9).mean_c, 0.0).sum()) / 40.0
    for seed in range(5):
        weather = year(first, days, seed)
        home = House("a", (), weather=weather)
        assert normal_year_degree_days(home, 16.0) == pytest.approx(wanted, rel=0.05)


def test_a_heater_without_any_weather_is_not_counted_for_nothing():
    home = replace(house(), weather=None)
    energy = load_energy(home.bills, home)
    heat = [load.follows for load in home.loads].index("heating")
    assert energy.kwh[:, heat].sum() > 500.0
    apart = np.sqrt((energy.climate[:, heat].sum(axis=0) ** 2).sum()) / energy.kwh[:, heat].sum()
    assert apart > 0.4


def test_a_printed_mean_stands_for_its_days():
    bills = tuple(
        Bill(date(2023, m, 1), date(2023, m + 1, 1), 500.0, mean_temperature_c=float(t))
        for m, t in ((1, -5), (2, 0), (3, 6))
    )
    home = House("a", bills)
    sky = outdoors(home, bills, date(2023, 1, 1), date(2023, 4, 1))
    assert sky is not None
    assert not sky.missing.any()
    np.testing.assert_allclose(sky.mean_c[:31].mean(), -5.0, rtol=0, atol=1e-9)
    np.testing.assert_allclose(sky.mean_c[59:].mean(), 6.0, rtol=0, atol=1e-9)


def test_a_printed_mean_is_not_taken_for_every_day_of_the_bill():
    """Of a month at the balance temperature nearly all heating was lost: such bills were told as high."""
    home = house()
    assert home.weather is not None
    rng = np.random.default_rng(7)
    days = home.weather.mean_c + 4.0 * rng.standard_normal(len(home.weather.mean_c))
    known = replace(home, weather=replace(home.weather, mean_c=days))
    means = [float(known.weather.between(bill.start, bill.closes).mean()) for bill in home.bills]
    bills = tuple(replace(bill, mean_temperature_c=mean) for bill, mean in zip(home.bills, means, strict=True))
    by_day, by_mean = (load_energy(one.bills, one) for one in (known, replace(home, bills=bills, weather=None)))
    heat = [load.follows for load in home.loads].index("heating")
    most = by_day.kwh[:, heat].max()
    np.testing.assert_allclose(by_mean.kwh[:, heat], by_day.kwh[:, heat], rtol=0, atol=0.06 * most)
    assert by_mean.kwh[:, heat].sum() == pytest.approx(by_day.kwh[:, heat].sum(), rel=0.03)


def test_a_long_gap_follows_the_year_and_is_no_straight_line():
    weather = year(date(2022, 1, 1), 730)
    gone = weather.mean_c.copy()
    gone[300:420] = np.nan
    home = House("a", (), weather=replace(weather, mean_c=gone))
    sky = outdoors(home, (), date(2022, 1, 1), date(2024, 1, 1))
    assert sky is not None
    assert abs(sky.mean_c[300:420].mean() - weather.mean_c[300:420].mean()) < 1.5
    assert (sky.doubt_c[300:420] > 2.0).all()
    assert sky.missing.sum() == 120


def test_a_period_without_its_days_of_weather_is_not_judged():
    home = house()
    assert home.weather is not None
    gone = home.weather.mean_c.copy()
    begin = (home.bills[6].start - home.weather.first).days
    gone[begin : begin + 20] = np.nan
    said = reconcile.reconcile(replace(home, weather=replace(home.weather, mean_c=gone)))
    assert said.rows[6].flag == "not-judged"
    assert [row.flag for row in said.rows if row is not said.rows[6]] == ["within"] * 17


def test_a_label_on_heating_is_told_for_a_year_whatever_the_record():
    load = Load("Heater", kwh_per_year=4000.0, follows="heating", source="label")
    first = date(2022, 10, 1)
    bills = tuple(Bill(first + timedelta(days=30 * i), first + timedelta(days=30 * (i + 1)), 400.0) for i in range(7))
    home = House("a", bills, (load,), weather=year(first, 212))
    share = load_energy(bills, home).kwh.sum() / 4000.0
    assert 0.80 < share < 0.95  # most of the year's cold, not all of it


SHARES = (0.8, 0.6, 0.4, 0.25, 0.2, 0.1, 0.05)


def known_at_random(home: House, share: float) -> House:
    assert home.weather is not None
    there = np.random.default_rng(0).random(len(home.weather.mean_c)) < share
    return replace(home, weather=replace(home.weather, mean_c=np.where(there, home.weather.mean_c, np.nan)))


@pytest.mark.parametrize("share", SHARES)
def test_some_days_of_weather_judge_no_worse_than_none(share):
    home = house()
    said = reconcile.reconcile(known_at_random(home, share))
    judged = sum(row.flag != "not-judged" for row in said.rows)
    assert judged == len(home.bills) or share < 0.5
    assert judged >= len(home.bills) / 2
    assert said.verdict.decision == "explained"
    text = " ".join(said.notices)
    known = sum(np.isfinite(said.house.weather.between(bill.start, bill.closes)).sum() for bill in home.bills)
    assert f"{known} of the {sum(bill.days for bill in home.bills)} days" in text.replace(",", "")
    assert "No temperatures were given" not in text
    for row in said.rows:
        assert (row.flag == "not-judged") == (row.why_not_judged is not None)
        assert row.why_not_judged is None or "days have no temperature" in row.why_not_judged


@pytest.mark.parametrize("seed", range(4))
def test_the_doubt_of_a_month_with_holes_is_what_it_is(seed):
    """A month's mean from six days in ten is known within 1 K, and misses by as much as is said."""
    rng = np.random.default_rng(seed)
    days = 600
    off = np.zeros(days)
    for i in range(1, days):
        off[i] = 0.7 * off[i - 1] + rng.normal(0.0, 4.0 * np.sqrt(1.0 - 0.7**2))
    true = 10.0 - 10.0 * np.cos(2 * np.pi * np.arange(days) / 365.25) + off
    gone = np.where(rng.random(days) < 0.6, true, np.nan)
    first = date(2022, 1, 1)
    bills = tuple(Bill(first + timedelta(days=30 * i), first + timedelta(days=30 * i + 30), 500.0) for i in range(20))
    home = House("a", bills, weather=Weather(first, gone))
    doubt = load_energy(bills, home).doubt_c
    sky = outdoors(home, bills, first, first + timedelta(days=days))
    assert sky is not None
    missed = (sky.mean_c - true).reshape(20, 30).mean(axis=1)
    assert (doubt < 1.0).all()
    assert 0.6 < np.sqrt(np.mean((missed / doubt) ** 2)) < 1.5


@pytest.mark.parametrize("last", [False, True], ids=["on the first day", "on the last day"])
def test_one_temperature_a_month_stands_for_its_month(last):
    import pandas as pd

    bills = pd.DataFrame(
        {"start": ["2024-01-05", "2024-02-04"], "end": ["2024-02-04", "2024-03-05"], "kwh": [500, 480]}
    )
    days = pd.date_range("2024-01-01", periods=4, freq="ME" if last else "MS")
    home = House.from_frames(bills, weather=pd.Series([1.0, 3.0, 7.0, 11.0], index=days), temperature_unit="C")
    assert home.weather is not None
    assert home.weather.first == date(2024, 1, 1)
    np.testing.assert_allclose(home.weather.between(date(2024, 1, 30), date(2024, 2, 3)), [1, 1, 3, 3], rtol=0, atol=0)
    assert len(home.weather.mean_c) == 31 + 29 + 31 + 30
    assert any("one temperature a month" in notice for notice in home.notices)


def test_one_temperature_a_week_is_enough_to_judge():
    home = house()
    assert home.weather is not None
    week = np.arange(len(home.weather.mean_c)) % 7 == 0
    thin = replace(home, weather=replace(home.weather, mean_c=np.where(week, home.weather.mean_c, np.nan)))
    assert [row.flag for row in reconcile.reconcile(thin).rows[1:-1]] == ["within"] * (len(home.bills) - 2)


def months_of(use, *, printed: bool = False) -> House:
    """A house of 18 bills whose kWh come from the days of a site; with these days, or the mean of each bill alone."""
    first = date(2023, 1, 1)
    starts = [date(2023 + m // 12, m % 12 + 1, 1) for m in range(19)]
    length = (starts[-1] - first).days
    more = math.sqrt(DAY_SD_C**2 - 3.0**2) * np.random.default_rng(4).standard_normal(length)
    days = Weather(first, year(first, length, seed=3).mean_c + more)
    bills = []
    for start, end in pairwise(starts):
        mine = days.mean_c[(start - first).days : (end - first).days]
        mean = float(mine.mean()) if printed else None
        bills.append(Bill(start, end, kwh=round(float(use(mine).sum()), 1), mean_temperature_c=mean))
    return House("a", tuple(bills), weather=None if printed else days)


def test_a_balance_far_from_the_usual_is_learnt_where_nothing_is_listed():
    house = months_of(lambda warm: 10.0 + 1.5 * np.maximum(warm - 15.0, 0.0))
    for row in reconcile.reconcile(house).rows:
        assert row.usual_kwh == pytest.approx(row.billed_kwh, rel=0.06)


def test_to_tell_the_climate_leaves_no_more_in_doubt_than_to_say_nothing():
    def use(warm):
        return 10.0 + 0.8 * np.maximum(16.0 - warm, 0.0)

    bare = replace(months_of(use), weather=None)
    told = replace(bare, coldest_month_c=0.0, warmest_month_c=20.0)
    nothing, climate = (reconcile.reconcile(h) for h in (bare, told))
    width = [sum(row.usual_high_kwh - row.usual_low_kwh for row in a.rows) for a in (nothing, climate)]
    assert width[1] < 1.02 * width[0]
    off = [sum(abs(row.usual_kwh - row.billed_kwh) for row in a.rows) for a in (nothing, climate)]
    assert off[1] < 1.02 * off[0]
