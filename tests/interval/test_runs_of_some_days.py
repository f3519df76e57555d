"""What tells a load that began to come on some days from a season's, a thermostat's, a meter's, and one that was there.

Hourly readings of an invented home that draws 300 W and nothing else, so that each rule stands by itself.
"""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from numpy.testing import assert_allclose

from reconcile.clock import local_instants, local_seconds
from reconcile.house import House, Interval, Weather
from reconcile.interval.long_runs import READ_SHARE, WANDER_DAYS, WANDER_SHARE, WINDOW_DAYS, long_runs
from reconcile.interval.runs_cut import Slots, runs_of, slots_of

ZONE = ZoneInfo("America/Chicago")
FIRST, DAYS = date(2024, 3, 1), 400
MEAN_C = 13.0 - 14.0 * np.cos(2.0 * np.pi * (np.arange(DAYS) + 40) / 365.25)  # mild, hot, mild, cold, mild
RNG = np.random.default_rng(1)
HALF_OF_DAYS = RNG.random(DAYS) < 0.5


def runs(days, hour=19, hours=2, kw=7.2):
    """Mark the power of runs from one hour of some days on, shape (DAYS, 24) [kW]."""
    made = np.zeros((DAYS + 1, 24))
    at = hour + np.arange(hours)
    made[np.flatnonzero(days)[:, None] + at // 24, at % 24] = kw
    return made[:DAYS]


def looked_at(*powers, weather=True, days=DAYS, step=3600):
    begin, end = local_instants([FIRST, FIRST + timedelta(days=days)], ZONE)
    starts = np.arange(begin, end, step)
    local = local_seconds(starts.astype("datetime64[s]"), ZONE) - local_seconds(
        starts[:1].astype("datetime64[s]"), ZONE
    )
    kw = 0.3 + sum(powers)[local // 86400, local % 86400 // 3600]
    interval = Interval(starts.astype("datetime64[s]"), kw * step / 3600.0, step)
    house = House("Flat", (), timezone=ZONE.key, weather=Weather(FIRST, MEAN_C) if weather else None)
    found = long_runs(interval, ZONE, house)
    return (None, None, interval) if found is None else (*found, interval)


def between(begin, end=DAYS):
    return (np.arange(DAYS) >= begin) & (np.arange(DAYS) < end)


CAR = HALF_OF_DAYS & between(150)
DAILY = between(0)


@pytest.mark.parametrize(
    ("hour", "hours", "step"), [(19, 2, 3600), (7, 3, 3600), (23, 2, 3600), (1, 4, 3600), (19, 2, 1800), (19, 2, 300)]
)
def test_its_hour_its_energy_and_its_days_are_told_and_taken_away(hour, hours, step):
    load, left, interval = looked_at(runs(CAR, hour, hours), step=step)
    share = CAR[150:].mean()
    assert abs(load.start_hour - hour) < 0.6
    assert abs((load.day - FIRST).days - 150) <= 3
    assert load.low <= load.day <= load.high
    assert (load.high - load.low).days <= 14
    assert load.until is None
    assert_allclose(load.watts, 7200.0, rtol=0.01)
    assert_allclose(load.days_a_week, 7.0 * share, rtol=0.05)
    assert_allclose(load.kwh_a_day, 7.2 * hours * share, rtol=0.1)
    assert_allclose(left.kwh * 3600.0 / step, 0.3, rtol=0, atol=0.01)
    assert interval.kwh.max() * 3600.0 / step > 7.0


def test_one_that_went_again_is_told_until_its_last_day():
    other = runs(HALF_OF_DAYS & between(280, 320), kw=5.0)  # of nearly its power and in its hours, when it has gone
    load, left, interval = looked_at(runs(HALF_OF_DAYS & between(120, 260)), other)
    day = local_seconds(interval.starts, ZONE) // 86400
    assert abs((load.until - FIRST).days - 260) <= 3
    assert_allclose(left.kwh[day >= day[0] + 265], interval.kwh[day >= day[0] + 265])


def test_its_windows_tell_how_much_it_takes():
    load, _, _ = looked_at(runs(CAR))
    since = load.begins >= load.begins[0] + 150
    weights = since / since.sum() - ~since / (~since).sum()
    apart, sd = float(weights @ load.value), float(weights @ load.covariance @ weights) ** 0.5
    assert_allclose(apart, load.watts, rtol=0.1)
    assert load.value[since].min() > load.value[~since].max()
    # its days' miles of each window, how it wanders, and how well its runs are read
    assert 0.06 * apart < sd < 0.08 * apart
    together = READ_SHARE**2 + WANDER_SHARE**2 * np.exp(-WINDOW_DAYS / WANDER_DAYS)
    assert_allclose(load.covariance[-2, -3] - load.covariance[0, -2], together * apart**2, rtol=0.1)
    both = float(load.covariance.mean()) ** 0.5
    assert np.linalg.eigvalsh(load.covariance).min() > -1e-9 * both**2
    assert both > apart  # the level of all says nothing


MILD_OR = {"cold": MEAN_C < 5.0, "hot": MEAN_C > 22.0}


@pytest.mark.parametrize("season", MILD_OR)
def test_what_runs_on_no_mild_day_is_a_seasons(season):
    assert looked_at(runs(between(100) & MILD_OR[season]))[0] is None
    assert looked_at(runs(between(100) & MILD_OR[season]), weather=False)[0] is None


def test_what_runs_the_more_the_colder_it_is_follows_the_weather():
    hours = np.clip((24.0 - MEAN_C) / 4.0, 1.0, 6.0).astype(int)
    assert looked_at(sum(runs(CAR & (hours == n), 19, n) for n in range(1, 7)))[0] is None


def test_what_comes_at_any_hour_or_many_times_a_day_is_a_thermostats():
    hour = RNG.integers(0, 22, DAYS)
    assert looked_at(sum(runs(CAR & (hour == n), n) for n in range(24)))[0] is None
    assert looked_at(sum(runs(CAR, n, 2) for n in (13, 16, 19, 22)))[0] is None


def test_what_came_half_as_often_before_is_not_new():
    assert looked_at(runs(CAR | (between(0, 150) & (RNG.random(DAYS) < 0.2))))[0] is None
    assert looked_at(runs(CAR | (between(0, 150) & (RNG.random(DAYS) < 0.03))))[0] is not None


def test_what_stays_away_for_a_month_is_no_habit():
    assert looked_at(runs(CAR & ~between(220, 275)))[0] is None


@pytest.mark.parametrize(
    ("old", "found"),
    [
        (runs(HALF_OF_DAYS & between(0, 150), kw=3.6), False),  # the same runs, twice as large: a meter's error
        (runs(HALF_OF_DAYS, 17, 2, kw=3.6), True),  # they run on
        (runs(HALF_OF_DAYS & between(0, 150), 8, 2, kw=3.6), True),  # of other hours
        (runs(HALF_OF_DAYS & between(0, 150), 17, 6, kw=3.6), True),  # much longer
        (runs((RNG.random(DAYS) < 0.05) & between(0, 150), kw=3.6), True),  # far fewer
    ],
)
def test_runs_that_went_as_larger_ones_came_may_be_the_same(old, found):
    assert (looked_at(old, runs(CAR))[0] is not None) is found


def test_a_meter_that_counts_twice_makes_no_load_of_the_evenings():
    """Their sizes differ too widely for the old runs to be seen to have gone; the nights tell."""
    evenings = np.zeros((DAYS, 24))
    usual = np.array([0.9, 1.8, 1.8, 1.3, 0.9])
    evenings[:, 17:22] = usual * np.random.default_rng(2).lognormal(0.0, 0.5, (DAYS, 5))
    meter = np.where(between(150), 1.0, 0.0)[:, None]
    assert looked_at(evenings, evenings * meter)[0] is not None
    assert looked_at(evenings, (evenings + 0.3) * meter)[0] is None


def test_without_weather_it_needs_most_of_a_year():
    year = HALF_OF_DAYS & between(40)
    assert looked_at(runs(year), weather=False)[0] is not None
    assert looked_at(runs(CAR), weather=False, days=300)[0] is None
    assert looked_at(runs(CAR), days=300)[0] is not None


def test_few_days_tell_nothing():
    assert looked_at(runs(HALF_OF_DAYS & between(60)), days=50)[0] is None
    assert looked_at(runs(HALF_OF_DAYS & between(60)), days=130)[0] is not None
    assert looked_at(runs(HALF_OF_DAYS & between(115)), days=130)[0] is None


def readings(step, count=400, **more):
    starts = np.datetime64("2024-03-01T06:00:00", "s") + step * np.arange(count)
    return Interval(starts, np.full(count, 0.1), step, **more)


@pytest.mark.parametrize(("step", "slot"), [(300, 900), (900, 900), (1800, 1800), (3600, 3600)])
def test_readings_are_brought_into_slots_of_an_hour_at_the_most(step, slot):
    slots = slots_of(readings(step), ZONE)
    assert (slots.seconds, slots.per_hour) == (slot, 3600 // slot)


@pytest.mark.parametrize(
    "interval",
    [
        *map(readings, (420, 2400, 7200)),
        readings(900, net=True),
        readings(900, seconds=np.full(400, 900)),
        readings(900, count=0),
    ],
)
def test_readings_that_fit_no_slots_are_left(interval):
    assert slots_of(interval, ZONE) is None


def test_a_run_holds_a_part_of_the_slots_on_either_side():
    excess = np.zeros(40)
    excess[9:16] = [1.0, 4.0, 4.0, 4.0, 4.0, 4.0, 2.0]
    excess[30:33] = 4.0  # three quarters of an hour are none
    day = np.zeros(40, dtype=np.int64)
    found = runs_of(Slots(excess, day, day, np.array([0]), 4, 900))
    assert (found.first.tolist(), found.length.tolist()) == ([10], [5])
    assert_allclose(found.kw, 4.0)
    assert_allclose(found.kwh, (1.0 + 20.0 + 2.0) / 4.0)
    assert not len(runs_of(Slots(excess, day - 1, day, np.array([0]), 4, 900)).first)  # a day that is not known
    assert not len(runs_of(Slots(0.0 * excess, day, day, np.array([0]), 4, 900)).first)
