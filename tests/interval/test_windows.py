"""What came and went with a season beside what came and stayed."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
import switching_homes as homes

from reconcile import paper
from reconcile.house import Bill, House, Interval
from reconcile.interval.base_load import base_load
from reconcile.interval.examined import examine
from reconcile.interval.windows import drift, passing, wandering

FIRST, DAYS, BEGAN = date(2023, 5, 9), 549, 355
SUMMERS = ((0, 145), (358, 511))


def test_what_lies_between_two_seasons_is_the_usual():
    edges = [0, *(day for span in SUMMERS for day in span if day), DAYS]
    out = passing(np.array([184.0, -6.0, 278.0, 93.0]), edges, lambda begin, end: True, None)
    assert out.tolist() == [[0.0, 0.0, 185.0], [0.0, 0.0, 0.0], [185.0, 0.0, 0.0], [0.0, 0.0, 0.0]]


def test_a_level_that_keeps_still_is_taken_to_wander_less_than_usual_and_one_that_does_not_by_what_it_shows():
    middle = np.arange(15) * 28.0
    rng = np.random.default_rng(1)
    noise = 5.0**2 * np.eye(15)
    for own, low, high in ((0.0, 0.0, 11.0), (40.0, 34.0, 46.0)):
        covariance = noise + drift(middle, own, 60.0)
        levels = rng.multivariate_normal(np.zeros(15), covariance, 99)
        told = [wandering(level, middle, 20.0, 60.0, noise) for level in levels]
        assert low <= float(np.median(told)) <= high


def winter_house(watts, kelvin_watts):
    """Neither list nor weather: nights that follow the cold from October to the end of the data, or a load since."""
    rng = np.random.default_rng(4)
    days = np.arange(400)
    cold = np.maximum(12.0 - (12.0 - 12.0 * np.cos(2 * np.pi * (days - 390) / 365.0) + rng.normal(0, 3, 400)), 0.0)
    power = 200.0 + rng.normal(0, 8, (400, 24))
    power[:, 7:23] += rng.gamma(3.0, 150.0, (400, 16))
    power[270:] += watts + kelvin_watts * cold[270:, None]
    starts = np.datetime64(f"{FIRST}T06:00:00") + np.arange(24 * 400) * np.timedelta64(1, "h")
    data = Interval(starts.astype("datetime64[s]"), power.ravel() / 1000.0, 3600)
    made = replace(homes.home(0, 1), first=FIRST)
    return replace(homes.as_house(made, data), timezone="Etc/GMT+6", weather=None, loads=())


@pytest.mark.parametrize(("watts", "kelvin_watts", "passed"), [(300.0, 0.0, False), (0.0, 30.0, True)])
def test_a_winter_that_the_data_cut_off_is_told_from_a_load_by_its_uneven_nights(watts, kelvin_watts, passed):
    house = winter_house(watts, kelvin_watts)
    rises = [step for step in base_load(house).steps if step.watts > 50.0]
    assert rises
    assert {step.passed for step in rises} == {passed}


def test_what_stands_higher_for_a_part_of_a_season_is_of_it():
    edges = [0, 240, 280, 320, 400]
    levels = np.array([100.0, 400.0, 900.0, 600.0])
    out = passing(
        levels, edges, lambda begin, end: False, lambda begin, end, height: height if end - begin > 130 else 0.0
    )
    assert out[:, 2].tolist() == [0.0, 300.0, 800.0, 500.0]


def test_a_season_that_the_data_cut_off_is_the_one_whose_heating_stood_out_a_year_later():
    """A house heated in winters alone, the first of them cut off: what its nights fell by in March was a meter's."""
    levels, edges = np.array([900.0, 100.0]), [0, 18, 640]

    def cut_off(spells):
        return passing(levels, edges, lambda begin, end: False, None, spells)[:, 2].tolist()

    assert cut_off([(262.0, 385.0)]) == [800.0, 0.0]
    assert cut_off([(100.0, 200.0)]) == cut_off([]) == [0.0, 0.0]


def test_an_absence_between_no_seasons_passes():
    out = passing(np.array([200.0, 20.0, 200.0]), [0, 100, 130, 300], lambda begin, end: True, None)
    assert out[1, 1] == -180.0


def damp_house(seed, watts):
    """A gas house whose dehumidifier runs round the clock from May to September, and a load that began and stayed."""
    rng = np.random.default_rng(seed)
    days = np.arange(DAYS)
    mean_c = 11.0 + 12.0 * np.cos(2 * np.pi * (days - 70) / 365.0) + rng.normal(0, 3, DAYS)
    power = 170.0 + rng.normal(0, 5, (DAYS, 24))
    power[:, 7:23] += rng.gamma(3.0, 220.0, (DAYS, 16))
    for begin, end in SUMMERS:
        power[begin:end] += 190.0
    power[BEGAN:] += watts
    made = replace(homes.home(0, 1), first=FIRST, mean_c=mean_c)
    starts = np.datetime64(f"{FIRST}T06:00:00") + np.arange(24 * DAYS) * np.timedelta64(1, "h")
    data = Interval(starts.astype("datetime64[s]"), power.ravel() / 1000.0, 3600)
    return replace(homes.as_house(made, data), timezone="Etc/GMT+6")


def step_of(base, day):
    """Size of a step at a day and its standard uncertainty [W]."""
    share = np.clip((base.ends - np.maximum(base.begins, day)) / (base.ends - base.begins), 0.0, 1.0)
    precision = np.linalg.inv(base.covariance)
    variance = 1.0 / (share @ precision @ share)
    return float(share @ precision @ base.value * variance), float(np.sqrt(variance))


@pytest.mark.parametrize("seed", range(3))
def test_a_load_that_outlasts_the_season_in_which_it_began_is_heard_and_a_season_is_not(seed):
    house = damp_house(seed, 120.0)
    base = base_load(house)
    began = int(base.days[0]) + BEGAN
    size, doubt = step_of(base, began)
    assert size > 2.5 * doubt
    assert abs(size - 120.0) < 2.5 * doubt
    assert base.onset is not None
    assert abs(base.onset.watts - 120.0) < 30.0
    none = base_load(damp_house(seed, 0.0))
    size, doubt = step_of(none, began)
    assert abs(size) < 1.5 * doubt
    assert none.onset is None


def test_a_load_that_began_before_the_house_stood_empty_did_not_end_with_that():
    rng = np.random.default_rng(4)
    power = 250.0 + rng.normal(0, 5, (400, 24))
    power[:, 7:23] += rng.gamma(3.0, 220.0, (400, 16))
    power[300:327] = 120.0 + rng.normal(0, 5, (27, 24))
    power[200:] += 180.0
    starts = np.datetime64(f"{FIRST}T00:00:00") + np.arange(24 * 400) * np.timedelta64(1, "h")
    bill = Bill(FIRST, FIRST + timedelta(days=400), kwh=float(round(power.sum() / 1000.0)))
    house = House("", (bill,), timezone="UTC", interval=Interval(starts, power.ravel() / 1000.0, 3600))
    seen = examine(house, paper.examine(house))
    assert seen.daily.empty
    assert seen.onset is not None
    assert abs(seen.onset.watts - 180.0) < 20.0
    size, doubt = step_of(seen.base, int(seen.base.days[0]) + 200)
    assert size > 2.5 * doubt
    assert abs(size - 180.0) < 2.0 * doubt


def heated_house(times, days=500, since=200):
    """A house whose electric heat takes so many times as much for each degree from a day on."""
    rng = np.random.default_rng(2)
    mean_c = 11.0 - 12.0 * np.cos(2 * np.pi * (np.arange(days) - 10) / 365.0) + rng.normal(0, 3, days)
    heat = 60.0 * np.maximum(16.0 - mean_c, 0.0) * np.where(np.arange(days) >= since, times, 1.0)
    power = 200.0 + heat[:, None] + rng.normal(0, 10, (days, 24))
    power[:, 7:23] += rng.gamma(3.0, 220.0, (days, 16))
    made = replace(homes.home(0, 1), first=FIRST, mean_c=mean_c)
    starts = np.datetime64(f"{FIRST}T06:00:00") + np.arange(24 * days) * np.timedelta64(1, "h")
    data = Interval(starts.astype("datetime64[s]"), power.ravel() / 1000.0, 3600)
    return replace(homes.as_house(made, data), timezone="Etc/GMT+6")


def test_how_much_the_weather_adds_at_all_is_in_doubt_and_a_change_of_it_is_seen():
    same, risen = base_load(heated_house(1.0)), base_load(heated_house(1.5))
    heating = same.weather[:, 0]
    assert heating.max() > 300.0
    # a fifth more in every window is nothing that they tell
    assert 0.2**2 * heating @ np.linalg.inv(same.covariance) @ heating < 0.2
    # a half more from a day on is seen in part: the curve of all nights lies between, and weeks differ by themselves
    for base, least, most in ((risen, 0.2, 0.5), (same, -0.05, 0.05)):
        more = base.weather[:, 0] * (base.begins >= int(base.days[0]) + 200)
        precision = np.linalg.inv(base.covariance)
        assert least <= float(more @ precision @ base.value) / float(more @ precision @ more) <= most


def test_the_weather_adds_no_more_to_a_night_than_was_there():
    house = heated_house(1.0)
    kwh = house.interval.kwh.copy()
    kwh[24 * 180 : 24 * 280] = 0.03
    base = base_load(replace(house, interval=replace(house.interval, kwh=kwh)))
    empty = (base.begins >= base.days[0] + 180) & (base.ends <= base.days[0] + 280)
    assert empty.any()
    assert base.weather[empty].sum(axis=1).max() <= 31.0


def test_mild_hours_tell_the_base_load_where_thermostats_fill_the_nights():
    rng = np.random.default_rng(3)
    days = 430
    mean_c = 11.0 - 12.0 * np.cos(2 * np.pi * (np.arange(days) - 10) / 365.0) + rng.normal(0, 2.5, days)
    outside = mean_c[:, None] + 6.0 * np.cos(2 * np.pi * (np.arange(24) - 15) / 24.0)
    heat = 180.0 * np.maximum(16.0 - outside, 0.0) * rng.lognormal(0.0, 0.15, (days, 1))
    power = 250.0 + rng.normal(0, 8, (days, 24)) + heat + 400.0 * rng.binomial(1, 0.5, (days, 24))
    made = replace(homes.home(0, 1), first=FIRST, mean_c=mean_c)
    starts = np.datetime64(f"{FIRST}T06:00:00") + np.arange(24 * days) * np.timedelta64(1, "h")
    house = homes.as_house(made, Interval(starts.astype("datetime64[s]"), power.ravel() / 1000.0, 3600))
    house = replace(house, timezone="Etc/GMT+6", loads=())
    base = next(one for one in examine(house, paper.examine(house)).evidence if one.kind == "base-load")
    assert base.base_kwh_per_day == pytest.approx(6.0, rel=0.1)
    mild = base.weather_kwh_per_day.sum(axis=1) < 1.5
    assert mild.sum() >= 4
    inner = base.covariance[np.ix_(mild, mild)]
    apart = np.diag(inner)[:, None] + np.diag(inner) - 2.0 * inner
    assert np.sqrt(apart.max()) < 1.5
