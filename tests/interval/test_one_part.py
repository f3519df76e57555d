"""Hours of the day that all rose by one part, told from a load that came and from more of what people do."""

import numpy as np
import pytest

from reconcile.interval.hour_blocks import Hours
from reconcile.interval.one_part import in_proportion, rose_by_one_part

DAYS, AT = 120, 60
USUAL = np.interp(np.arange(24), [0, 5, 7, 9, 16, 18, 22], [150, 140, 600, 300, 350, 1200, 500])
SINCE = (np.arange(DAYS) >= AT)[:, None]
EVENING = np.isin(np.arange(24), range(16, 23))


def hours(times=1.0, more=0.0):
    noise = np.random.default_rng(4).lognormal(0.0, 0.3, (DAYS, 24))
    raw = USUAL * noise * np.where(SINCE, times, 1.0) + np.where(SINCE, more, 0.0)
    nothing = np.zeros_like(raw)
    return Hours(0, raw, raw, nothing, nothing, np.array([], dtype=np.int64))


@pytest.mark.parametrize("times", [1.4, 2.0])
def test_a_meter_that_counts_more_raises_all_hours_by_its_part(times):
    assert abs(rose_by_one_part(hours(times), AT) - (times - 1.0)) < 0.1


@pytest.mark.parametrize(
    "made", [hours(), hours(0.5), hours(more=300.0), hours(np.where(EVENING, 2.0, 1.0)), hours(more=900.0 * EVENING)]
)
def test_nothing_else_does(made):
    assert rose_by_one_part(made, AT) is None


def test_hours_beside_a_new_load_keep_still():
    assert in_proportion(hours(2.0), AT, ~EVENING) > 100.0
    assert in_proportion(hours(more=900.0 * EVENING), AT, ~EVENING) < 5.0


def test_hours_that_a_season_raised_by_a_fifth_are_no_meter():
    """A new car was told as habits where autumn raised the other hours with it."""
    assert in_proportion(hours(1.2), AT, ~EVENING) > 10.0
    assert in_proportion(hours(1.2), AT, ~EVENING, least=0.3) == 0.0
    assert in_proportion(hours(1.4), AT, ~EVENING, least=0.3) > 10.0
