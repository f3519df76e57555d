"""The base load's floor and its steps."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from numpy.testing import assert_allclose

from reconcile.clock import local_instants, local_seconds
from reconcile.house import Bill, House, Interval, Load, Weather
from reconcile.interval.base_load import base_load as looked_at
from reconcile.interval.steps import floors, partition
from reconcile.interval.weather_hours import weather_curve


def base_load(house):
    found = looked_at(house)
    return (None, None) if found is None else (found.floor_watts, found.onset)


ZONE = ZoneInfo("America/New_York")
FIRST, DAYS = date(2024, 6, 1), 400


def sum_of_squares(values, changes):
    edges = [0, *changes, len(values)]
    return sum(float(((values[a:b] - values[a:b].mean()) ** 2).sum()) for a, b in pairwise(edges))


@pytest.mark.parametrize("seed", range(6))
def test_partition_is_as_good_as_an_exhaustive_dynamic_programme(seed):
    rng = np.random.default_rng(seed)
    levels = rng.normal(0, 3, size=4)
    values = np.repeat(levels, [30, 45, 20, 55]) + rng.normal(0, 1, size=150)
    changes = partition(values, np.ones(150), penalty=12.0, least=2)
    ruptures = pytest.importorskip("ruptures")
    oracle = ruptures.Dynp(model="l2", min_size=2, jump=1).fit(values)
    for count in range(1, 6):
        theirs = oracle.predict(n_bkps=count)[:-1]
        ours = sum_of_squares(values, changes) + 12.0 * len(changes)
        assert ours <= sum_of_squares(values, theirs) + 12.0 * count + 1e-9
    if changes:
        assert changes == oracle.predict(n_bkps=len(changes))[:-1]


def test_partition_agrees_with_the_pruned_search():
    rng = np.random.default_rng(7)
    values = np.concatenate([rng.normal(m, 1.0, 60) for m in (0.0, 2.0, 1.0, 5.0)])
    ruptures = pytest.importorskip("ruptures")
    theirs = ruptures.KernelCPD(kernel="linear", min_size=1).fit(values).predict(pen=15.0)[:-1]
    assert partition(values, np.ones(240), penalty=15.0) == theirs


def test_a_value_of_no_weight_moves_no_level():
    values = np.array([1.0] * 20 + [500.0] + [1.0] * 20)
    weights = np.where(values > 100, 1e-9, 1.0)
    assert partition(values, np.ones(41), penalty=3.0) != []
    assert partition(values, weights, penalty=3.0) == []


def made_house(step_watts=0.0, step_day=date(2025, 2, 20), seed=1, *, loads=(), season_watts=0.0, ac=0.0):
    """Hourly data of an invented house with a base load of 150 W."""
    rng = np.random.default_rng(seed)
    last = FIRST + timedelta(days=DAYS)
    begin, end = local_instants([FIRST, last], ZONE)
    seconds = np.arange(begin, end, 3600)
    moments = [datetime.fromtimestamp(int(s), UTC).astimezone(ZONE) for s in seconds]
    day = np.array([(m.date() - FIRST).days for m in moments])
    hour = np.array([m.hour for m in moments])
    month = np.array([m.month for m in moments])
    of_year = np.array([(FIRST + timedelta(days=d)).timetuple().tm_yday for d in range(DAYS)])
    mean_c = 11.0 - 13.0 * np.cos(2 * np.pi * (of_year - 20) / 365.25) + rng.normal(0, 2.5, DAYS)
    watts = 150.0 + rng.gamma(2.0, 15.0, len(seconds)) + 500.0 * ((hour >= 7) & (hour < 23)) * rng.random(len(seconds))
    watts += ac * np.maximum(mean_c[day] - 21.0, 0.0)
    watts += season_watts * ((month >= 5) & (month <= 9))
    watts += step_watts * (day >= (step_day - FIRST).days)
    bill = Bill(FIRST, last, 1000.0)
    interval = Interval(seconds.astype("datetime64[s]"), watts / 1000.0, 3600)
    return House("Invented", (bill,), loads, timezone=ZONE.key, interval=interval, weather=Weather(FIRST, mean_c))


@pytest.mark.parametrize("seed", range(5))
def test_a_lasting_rise_is_dated(seed):
    floor, onset = base_load(made_house(120.0, seed=seed, ac=90.0))
    assert onset is not None
    assert onset.low <= date(2025, 2, 20) <= onset.high
    assert_allclose(onset.watts, 120.0, rtol=0, atol=15.0)
    assert_allclose(floor, 150.0 + 120.0, rtol=0, atol=40.0)


def test_steady_houses_seldom_show_a_rise():
    found = [base_load(made_house(seed=100 + seed, ac=90.0))[1] for seed in range(30)]
    assert sum(onset is not None for onset in found) <= 2


def test_a_fall_is_not_an_onset():
    _, onset = base_load(made_house(-80.0))
    assert onset is None


def test_a_rise_that_ends_again_is_not_an_onset():
    house = made_house()
    kwh = house.interval.kwh.copy()
    kwh[24 * 250 : 24 * 290] += 0.2
    _, onset = base_load(replace(house, interval=replace(house.interval, kwh=kwh)))
    assert onset is None


def test_a_listed_season_is_not_an_onset():
    fan = Load("Dehumidifier", watts=250.0, run_hours=24.0, share_on=0.6, months=frozenset({5, 6, 7, 8, 9}))
    _, unlisted = base_load(made_house(season_watts=170.0))
    _, listed = base_load(made_house(season_watts=170.0, loads=(fan,)))
    assert listed is None
    assert unlisted is None or unlisted.day.year == 2025  # without the list only a year before can tell


def test_a_listed_season_that_the_nights_do_not_show_is_taken_out_of_none():
    fan = Load("Dehumidifier", watts=541.0, run_hours=22.6, months=frozenset({5, 6, 7, 8, 9}))
    base = looked_at(made_house(loads=(fan,)))
    assert base.steps == ()
    assert np.ptp(base.value) < 60.0


def test_weather_is_not_taken_for_a_step():
    rng = np.random.default_rng(3)
    mean_c = 10 + 14 * np.sin(np.arange(300) / 50) + rng.normal(0, 2, 300)
    heat = 12.0 * np.maximum(14.0 - mean_c, 0.0) + 60.0 * np.maximum(2.0 - mean_c, 0.0)  # strip heat below 2 degC
    watts = 200.0 + heat + 300.0 * (np.arange(300) >= 180) + rng.normal(0, 8, 300)
    part = weather_curve(watts[:, None], mean_c, np.ones(300, dtype=bool)).part(mean_c)[:, 0]
    assert_allclose(part, heat, rtol=0.0, atol=20.0)


def test_a_house_without_heat_has_no_weather():
    rng = np.random.default_rng(4)
    mean_c = 10 + 14 * np.sin(np.arange(300) / 50) + rng.normal(0, 2, 300)
    watts = 200.0 + 300.0 * (np.arange(300) >= 180) + rng.normal(0, 8, 300)
    part = weather_curve(watts[:, None], mean_c, np.ones(300, dtype=bool)).part(mean_c)[:, 0]
    assert part.max() <= 30.0
    assert not weather_curve(watts[:20, None], mean_c[:20], np.ones(20, dtype=bool)).slopes.any()


def test_nights_without_all_their_hours_are_left_out():
    house = made_house()
    keep = np.ones(len(house.interval.kwh), dtype=bool)
    keep[24 * 10 : 24 * 10 + 4] = False
    holed = replace(house.interval, starts=house.interval.starts[keep], kwh=house.interval.kwh[keep])
    (whole, _), _ = floors(house.interval, ZONE)
    (days, _), _ = floors(holed, ZONE)
    assert set(whole) - set(days) == {whole[10]}


def test_a_rise_is_dated_by_the_nights_where_every_day_lacks_some_hours():
    house = made_house(120.0)
    kept = local_seconds(house.interval.starts, ZoneInfo(house.timezone)) % 86400 // 3600 < 21
    part = replace(house.interval, starts=house.interval.starts[kept], kwh=house.interval.kwh[kept])
    _, onset = base_load(replace(house, interval=part))
    assert abs((onset.day - date(2025, 2, 20)).days) <= 3


def test_daily_data_have_no_night():
    house = made_house()
    daily = Interval(house.interval.starts[::24], house.interval.kwh[::24], 86400)
    assert base_load(replace(house, interval=daily)) == (None, None)
    assert base_load(replace(house, interval=None)) == (None, None)


@pytest.mark.parametrize("zone", ["America/New_York", "Asia/Kathmandu", "Australia/Lord_Howe", "Europe/Dublin", "UTC"])
def test_local_seconds_follow_the_zone_through_its_changes(zone):
    place = ZoneInfo(zone)
    instants = np.arange(1_704_000_000, 1_704_000_000 + 400 * 86400, 1800)
    expected = [
        int(datetime.fromtimestamp(int(t), UTC).astimezone(place).replace(tzinfo=UTC).timestamp()) for t in instants
    ]
    assert local_seconds(instants, place).tolist() == expected


def put_in(begin, end, watts=500.0, *, weather=True, loads=()):
    """What the base load of a house says of so many watts from one day to another."""
    house = made_house(loads=loads)
    day = (house.interval.starts.astype(np.int64) - house.interval.starts.astype(np.int64)[0]) // 86400
    kwh = house.interval.kwh + watts / 1000.0 * ((day >= begin) & (day < end))
    house = replace(house, interval=replace(house.interval, kwh=kwh), weather=house.weather if weather else None)
    base = looked_at(house)
    middle = (base.begins + base.ends) / 2.0 - base.days[0]
    inside = ((middle > begin) & (middle < end)).astype(float)
    precision = np.linalg.inv(base.covariance)
    return base, float(inside @ precision @ inside) ** -0.5


@pytest.mark.parametrize(
    ("begin", "end", "weather"),
    [(180, 265, True), (180, 265, False), (60, 150, False), (150, 205, True)],  # a winter; unknown; weeks
)
def test_what_comes_and_goes_with_a_season_is_no_level(begin, end, weather):
    base, doubt = put_in(begin, end, weather=weather)
    rise = max(base.steps, key=lambda step: step.watts)
    assert rise.passed
    assert doubt > 250.0


@pytest.mark.parametrize(("begin", "end", "weather"), [(180, 999, True), (180, 999, False), (75, 175, True)])
def test_what_lasts_or_goes_against_the_seasons_is_one(begin, end, weather):
    base, doubt = put_in(begin, end, weather=weather)
    rise = max(base.steps, key=lambda step: step.watts)
    assert not rise.passed
    assert doubt < 120.0


@pytest.mark.parametrize(("hole", "end"), [((140, 225), 999), ((180, 225), 305), ((265, 305), 265)])
def test_a_rise_beside_a_hole_of_weeks_is_found(hole, end):
    """No night tells what stood just before it, or just after."""
    house, begin = made_house(), 225 if end > 265 else 200
    day = (house.interval.starts - house.interval.starts[0]).astype("timedelta64[D]").astype(int)
    kwh = house.interval.kwh + 0.5 * ((day >= begin) & (day < end))
    told = (day < hole[0]) | (day >= hole[1])
    part = replace(house.interval, starts=house.interval.starts[told], kwh=kwh[told])
    steps = looked_at(replace(house, interval=part)).steps
    assert_allclose(max(step.watts for step in steps), 500.0, rtol=0, atol=100.0)  # winter and a hole


AIR = Load("Air conditioner", watts=3000.0, follows="cooling")


def test_a_season_that_the_end_of_the_data_cuts_off_is_no_level_where_nobody_knows_the_weather():
    """With an air conditioner on the list the last ten weeks may be a summer's; with the weather known they are not."""
    assert put_in(330, 999, weather=False, loads=(AIR,))[1] > 250.0
    assert put_in(330, 999, weather=True, loads=(AIR,))[1] < 120.0
    assert put_in(150, 999, weather=False, loads=(AIR,))[1] < 120.0


DAMP = Load("Dehumidifier", watts=450.0, run_hours=8.0, months=frozenset({5, 6, 7, 8, 9}))


@pytest.mark.parametrize("begin", [315, 330, 345])
def test_a_listed_season_that_begins_weeks_early_or_late_is_no_level(begin):
    """Months are no days: with a dehumidifier of May that came on the 12th, it was said, the meter turned fast."""
    assert put_in(begin, 999, 180.0, loads=(DAMP,))[1] > 100.0
    assert put_in(begin, 999, 180.0)[1] < 50.0


@pytest.mark.parametrize(("begin", "end"), [(240, 999), (105, 999)])
def test_a_listed_season_hides_nothing_that_begins_months_before_it_or_as_it_ends(begin, end):
    assert put_in(begin, end, 180.0, loads=(DAMP,))[1] < 50.0


def test_a_season_that_came_back_a_year_later_is_no_new_level():
    """A dehumidifier of two summers, on no list, with the second cut off by the end of the data."""
    house = made_house()
    day = (house.interval.starts.astype(np.int64) - house.interval.starts.astype(np.int64)[0]) // 86400
    doubts = []
    for runs in (day >= 370, (day >= 370) | ((day >= 15) & (day < 120))):
        kwh = house.interval.kwh + 0.22 * runs
        base = looked_at(replace(house, interval=replace(house.interval, kwh=kwh), weather=None))
        again = ((base.begins + base.ends) / 2.0 - base.days[0] > 370).astype(float)
        doubts.append(float(again @ np.linalg.inv(base.covariance) @ again) ** -0.5)
    assert doubts[0] < 100.0
    assert doubts[1] > 150.0
