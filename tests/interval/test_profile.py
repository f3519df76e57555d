"""The usual day of a house, by hour, quarter of the year and kind of day."""

from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from numpy.testing import assert_allclose

from reconcile.clock import local_instants, local_seconds
from reconcile.house import Interval
from reconcile.interval.profile import day_profiles

ZONE = ZoneInfo("America/Chicago")


def made(minutes, first=date(2024, 1, 1), last=date(2025, 1, 1)):
    """A house that draws 100 W, a kilowatt more at seven on weekends, and another in July evenings."""
    begin, end = local_instants([first, last], ZONE)
    seconds = np.arange(begin, end, 60 * minutes)
    local = local_seconds(seconds.astype("datetime64[s]"), ZONE)
    days = (local // 86400).astype("datetime64[D]")
    hour = local % 86400 // 3600
    weekend = (days.astype(np.int64) + 3) % 7 >= 5
    july = days.astype("datetime64[M]") == np.datetime64("2024-07")
    kw = 0.1 + 1.0 * (weekend & (hour == 7)) + 1.0 * (july & (hour == 20))
    return Interval(seconds.astype("datetime64[s]"), kw * minutes / 60.0, 60 * minutes)


@pytest.mark.parametrize("minutes", [15, 60])
def test_each_kind_of_day_has_its_own_hours(minutes):
    profiles = {(one.months, one.weekend): one for one in day_profiles(made(minutes), ZONE)}
    assert len(profiles) == 8
    assert sum(one.days for one in profiles.values()) == 366
    for (months, weekend), one in profiles.items():
        assert_allclose(one.watts[7], 1100.0 if weekend else 100.0, rtol=1e-9, atol=0)
        july = 1000.0 * (8 if weekend else 23) / one.days if 7 in months else 0.0
        assert_allclose(one.watts[20], 100.0 + july, rtol=1e-9, atol=0)
        assert_allclose(np.delete(one.watts, [7, 20]), 100.0, rtol=1e-9, atol=0)


def test_too_few_days_and_long_intervals_tell_none():
    assert day_profiles(made(60, last=date(2024, 1, 5)), ZONE) == ()
    assert day_profiles(made(1440), ZONE) == ()
