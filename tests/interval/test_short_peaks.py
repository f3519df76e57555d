"""The largest short peaks: as large whoever is at home, and moved by a meter's error."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from reconcile.house import Bill, House, Interval
from reconcile.interval.short_peaks import above_long, short_peaks

DAYS, SINCE = 280, 140
LATER = np.repeat(np.arange(DAYS) >= SINCE, 24)


def hours(people=(1.0, 1.0), heavy=2000.0, seed=3):
    """A kilowatt or two for an hour, as often as people there are; before and since a day [W]."""
    rng = np.random.default_rng(seed)
    often = 0.04 * np.where(LATER, people[1], people[0])
    runs = rng.random((2, 24 * DAYS)) < often
    runs[:, np.arange(24 * DAYS) % 24 < 7] = False
    power = 250.0 + rng.normal(0.0, 25.0, 24 * DAYS)
    return power + runs[0] * heavy * rng.normal(1.0, 0.04, 24 * DAYS) + runs[1] * 700.0


def moved(watts):
    """How far the peaks rose, and the standard uncertainty of that; None where none are told since then."""
    starts = np.datetime64("2023-01-01T00:00:00") + np.arange(24 * DAYS) * np.timedelta64(1, "h")
    bill = Bill(date(2023, 1, 1), date(2023, 1, 1) + timedelta(days=DAYS), kwh=float(round(watts.sum() / 1000.0)))
    house = House("H", (bill,), timezone="UTC", interval=Interval(starts, watts / 1000.0, 3600))
    peaks = short_peaks(house, ZoneInfo("UTC"), None)
    if peaks is None or peaks.ends[-1] <= peaks.begins[0] + SINCE:
        return None
    since = peaks.begins >= peaks.begins[0] + SINCE - 1
    weight = np.where(since, 1.0 / since.sum(), -1.0 / (~since).sum())
    return float(weight @ peaks.value), float(np.sqrt(weight @ peaks.covariance @ weight))


@pytest.mark.parametrize(
    ("watts", "low", "high"),
    [
        (hours((1.0, 2.0)), -0.05, 0.1),
        (hours((2.0, 1.0)), -0.2, 0.05),
        (hours() + 500.0 * LATER, -0.05, 0.05),
        (hours() * np.where(LATER, 0.5, 1.0), -0.75, -0.4),
        (hours() * np.where(LATER, 1.6, 1.0), 0.4, 0.9),
    ],
    ids=["more people", "fewer", "load", "slow", "fast"],
)
def test_the_size_of_the_largest_peaks_follows_the_meter_and_hardly_the_people(watts, low, high):
    part, sd = moved(watts)
    assert low <= part <= high
    # what stays where it was refutes a half by three standard uncertainties; a change hardly tells of a meter
    assert (sd < 0.17) if abs(part) < 0.2 else (abs(part) / sd <= 3.5)


def test_a_house_that_nobody_lives_in_or_where_nothing_large_runs_shows_none():
    assert moved(hours(heavy=300.0) * 0.5) is None
    assert moved(hours((1.0, 0.0))) is None


def test_what_runs_for_hours_is_no_peak_and_what_is_missing_stays_so():
    day = np.full((2, 24), 300.0)
    day[0, 8:13], day[0, 19], day[1, 3] = 3000.0, 2300.0, np.nan
    above = above_long(day)
    assert np.flatnonzero(above[0]).tolist() == [19]
    assert np.isnan(above[1, 3])
    assert above[0, 19] == pytest.approx(2000.0)
