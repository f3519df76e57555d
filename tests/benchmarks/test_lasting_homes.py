"""The second simulator: habits are forgotten as fast as it says, and what befalls a home is what it says."""

from __future__ import annotations

import numpy as np
import pytest
from lasting_homes import CHANGES, home_of, lasting

from reconcile import reconcile


@pytest.mark.parametrize(("memory", "shared"), [(0.0, 0.0), (45.0, 0.51), (400.0, 0.93)])
def test_habits_are_forgotten_in_so_many_days(memory: float, shared: float) -> None:
    habit = lasting(np.random.default_rng(3), 30.4 * np.arange(4000), memory)
    assert float(habit.var()) == pytest.approx(1.0, abs=0.25)
    assert float(np.corrcoef(habit[1:], habit[:-1])[0, 1]) == pytest.approx(shared, abs=0.05)


@pytest.mark.parametrize("change", CHANGES)
def test_bills_change_by_what_befell_the_home_and_by_nothing_else(change: str) -> None:
    calm, home = home_of(11).house, home_of(11, change)
    since = 0 if change.startswith("always") else home.onset
    before, after = (np.array([bill.kwh for bill in house.bills], dtype=float) for house in (calm, home.house))
    days = np.array([bill.days for bill in calm.bills], dtype=float)
    _, size = CHANGES[change]
    added = size / 100.0 * before if change.endswith("%") else 0.024 * size * days
    np.testing.assert_allclose(after - before, np.where(np.arange(len(days)) >= since, added, 0.0), rtol=0, atol=1.0)


def test_a_home_in_order_is_not_disturbed_and_its_list_is_kept_by_name() -> None:
    assert reconcile(home_of(2).house).verdict.decision == "explained"
    names = home_of(2, hand="names").house
    assert [load.name for load in names.loads] == [load.name for load in home_of(2).house.loads]
