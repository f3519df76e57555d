"""Whether what the nights show runs by day as well."""

from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from reconcile.house import House, Interval, Weather
from reconcile.interval.around_clock import by_day
from reconcile.interval.base_load import BaseLoad, base_load
from reconcile.interval.evidence_rows import evidence_of

DAYS, SINCE = 300, 150


@pytest.mark.parametrize(("runs", "all_day"), [(np.arange(24), True), (np.r_[20:24, 0:6], False)])
def test_what_people_do_less_since_hides_no_load_by_day(runs, all_day):
    rng = np.random.default_rng(1)
    power = 250.0 + rng.normal(0, 8, (DAYS, 24))
    often = np.where(np.arange(DAYS) < SINCE, 0.6, 0.3)[:, None]
    power[:, 7:22] += 1200.0 * (rng.random((DAYS, 15)) < often)
    power[SINCE:, runs] += 400.0
    starts = np.datetime64("2024-03-01T00:00:00") + np.arange(24 * DAYS) * np.timedelta64(1, "h")
    house = House("", (), timezone="UTC", interval=Interval(starts, power.ravel() / 1000.0, 3600))
    base = base_load(house)
    assert base.onset.day == date(2024, 7, 29)
    seen = by_day(house, ZoneInfo("UTC"), base).rise
    assert (seen.clock_hours is None) is all_day
    assert abs(seen.watts - 400.0 * all_day) < 2.0 * seen.standard_uncertainty


def ended(by_day_after: float, night_after: float = 250.0, by_day: float = 900.0) -> tuple[House, BaseLoad]:
    """A house whose nights fell from 600 W on one day, and its hours by day."""
    rng = np.random.default_rng(2)
    before = np.arange(DAYS) < SINCE
    power = np.where(before, 600.0, night_after)[:, None] + rng.normal(0, 12, (DAYS, 24))
    power[:, 7:22] += np.where(before, by_day - 600.0, by_day_after - night_after)[:, None]
    power[:, 7:22] += rng.normal(0, 60, (DAYS, 15))
    starts = np.datetime64("2024-03-01T00:00:00") + np.arange(24 * DAYS) * np.timedelta64(1, "h")
    house = House("", (), timezone="UTC", interval=Interval(starts, power.ravel() / 1000.0, 3600))
    return house, base_load(house)


@pytest.mark.parametrize("after", [900.0, 450.0])
def test_hours_by_day_are_asked_whether_they_fell_with_the_nights(after: float) -> None:
    """Where the heat of the nights ended it was taken for a slow meter, though by day as much was used as before."""
    house, base = ended(after)
    steps = by_day(house, ZoneInfo("UTC"), base)
    (fell,) = steps.falls
    assert steps.rise is None
    assert fell.day == (date(2024, 7, 29) - date(1970, 1, 1)).days
    assert abs(fell.watts - (after - 900.0)) < 60.0
    assert fell.left == pytest.approx(after / 900.0, abs=0.05)
    assert not fell.went


@pytest.mark.parametrize(("after", "times"), [(450.0, 4.0), (900.0, 1.0)])  # they fell with the nights, they stayed
def test_hours_by_day_say_no_more_than_their_own_months_leave_them(after: float, times: float) -> None:
    """Hours that rise and fall by some 400 W in other months told a meter and a load with nine tenths."""
    house, _ = ended(after)
    house = replace(house, weather=Weather(date(2024, 3, 1), 15.0 + np.arange(DAYS) % 5))
    day, hour = np.divmod(np.arange(24 * DAYS), 24)
    moved = 0.4 * (np.isin(day // 30, (1, 8)) & (hour // 8 == 1))
    doubts = []
    for kwh in (house.interval.kwh, house.interval.kwh + moved):
        home = replace(house, interval=Interval(house.interval.starts, kwh, 3600))
        doubts.append(by_day(home, ZoneInfo("UTC"), base_load(home)).falls[0].standard_uncertainty)
    assert doubts[1] == pytest.approx(times * doubts[0], rel=0.2)


@pytest.mark.parametrize(
    ("night", "day", "before", "leg", "heard"),
    [
        (300.0, 450.0, 900.0, True, True),
        (100.0, 450.0, 900.0, False, True),  # nearly all of the base load on one leg
        (300.0, 310.0, 2000.0, False, False),  # next to nothing but what never rests: nobody is there
    ],
)
def test_what_the_nights_lost_is_no_leg_where_people_went(
    night: float, day: float, before: float, leg: bool, heard: bool
) -> None:
    """A summer house that was left in autumn was sent to a meter test."""
    house, base = ended(day, night, before)
    steps = by_day(house, ZoneInfo("UTC"), base)
    signals = {one.kind: one for one in evidence_of(None, base, steps=steps)}
    assert bool(signals["base-load"].falls) is leg
    assert ("by-day" in signals) is heard
    more = signals["base-load"].covariance - 0.024**2 * base.covariance
    assert (more[-1, -1] > 0.9 * (0.024 * (600.0 - night)) ** 2) is not heard
    assert more[0, 0] == 0.0
