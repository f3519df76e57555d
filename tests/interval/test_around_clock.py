"""Whether what the nights show runs by day as well."""

from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from reconcile.house import House, Interval
from reconcile.interval.around_clock import by_day
from reconcile.interval.base_load import base_load

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
    seen = by_day(house, ZoneInfo("UTC"), base)
    assert (seen.clock_hours is None) is all_day
    assert abs(seen.watts - 400.0 * all_day) < 2.0 * seen.standard_uncertainty
