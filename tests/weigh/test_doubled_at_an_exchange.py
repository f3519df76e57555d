"""Two meters that may lie apart by a factor of two: another multiplier does that too, and it costs a look."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
import weigh_houses

from reconcile import reconcile
from reconcile.costs import Costs
from reconcile.house import Event
from reconcile.result import Cause
from reconcile.verdict.exchange_news import may_be_doubled


@pytest.mark.parametrize(
    ("code", "low", "high", "doubled"),
    [("meter-step", 22.0, 160.0, True), ("meter-step", 5.0, 60.0, False), ("old-meter-slow", 18.0, 60.0, True)],
)
def test_limits_that_hold_two(code: str, low: float, high: float, doubled: bool) -> None:
    cause = Cause(code, 0.4, date(2024, 3, 1), 40.0, "%", size_low=low, size_high=high)
    assert may_be_doubled([cause], Costs()) is doubled
    assert not may_be_doubled([replace(cause, probability=0.0)], Costs())


@pytest.mark.parametrize(("factor", "asked"), [(1.0, False), (1.7, True)])
def test_the_multiplier_is_asked_for_at_such_an_exchange(factor: float, asked: bool) -> None:
    house = weigh_houses.house(10, factor=np.where(np.arange(10) < 5, 1.0, factor))
    exchange = Event(house.bills[5].start + timedelta(days=1), "meter-exchange")
    steps = reconcile(replace(house, events=(exchange,), loads=(), weather=None)).to_dict()["verdict"]["steps"]
    assert any(step["asks"] == "multiplier" for step in steps) is asked


def test_whose_bills_they_are_is_looked_at_where_some_are_unlike_the_others_for_a_time() -> None:
    k = np.arange(18)
    house = weigh_houses.house(18, factor=np.where((k >= 5) & (k < 8), 1.5, 1.0))
    codes = [step["code"] for step in reconcile(replace(house, loads=())).to_dict()["verdict"]["steps"]]
    assert codes[:2] == ["began", "compare"]
