"""The day on which all sizes moved is told the closer the sharper each appliance stands."""

import numpy as np

from reconcile.interval.alignment import BIN, counted_up, folded, histograms
from reconcile.interval.change_day import DATING, DATING_KERNEL, date_limits

DAYS, DAY, STEPS = 300, 160, 150


def dated(seed):
    """Days by which +5 % is missed, first and last day from it; three appliances, a step in two days."""
    rng = np.random.default_rng([31, seed])
    day = np.sort(rng.integers(0, DAYS, STEPS))
    log_kw = rng.choice(np.log([0.9, 1.3, 2.2]), STEPS) + rng.normal(0.0, 0.005, STEPS) + 0.05 * (day >= DAY)
    sizes = counted_up(folded(histograms(day + 1, log_kw, DAYS + 1, DATING_KERNEL), DATING))
    limits = date_limits(sizes, DAY + 10, round(0.05 / BIN))
    return abs(limits.day - DAY), limits.low - DAY, limits.high - DAY


def test_a_small_shift_of_sharp_appliances_is_dated_to_some_days():
    missed, low, high = np.array([dated(seed) for seed in range(20)]).T
    assert missed.mean() <= 1.5
    assert (high - low).mean() <= 14.0
    assert np.mean((low <= 0) & (high >= 0)) >= 0.9


def test_where_no_step_is_seen_a_day_is_told_all_the_same():
    limits = date_limits(np.zeros((DAYS + 1, 600)), DAY, 10)
    assert limits.low <= limits.day <= limits.high
