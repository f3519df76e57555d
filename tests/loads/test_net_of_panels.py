"""Bills that give only what is left of use and generation, with nothing listed: no list is said to be short."""

from __future__ import annotations

import math
from datetime import date, timedelta

import numpy as np
import pytest

import reconcile
from reconcile.house import Bill, House, Weather
from reconcile.loads.own_generation import as_used
from reconcile.paper import examine


def net_billed(seed, use=15.0, part=1.0):
    """A healthy house whose panels make about what it uses, cold winters and a sun that is never twice the same."""
    rng = np.random.default_rng(seed)
    day, bills, days = date(2024, 3, 5), [], []
    for _ in range(20):
        length = int(rng.integers(28, 35))
        net = 0.0
        for _ in range(length):
            turn = 2 * math.pi * (day.timetuple().tm_yday - 172) / 365
            warmth = 52 + 20 * math.cos(turn - 0.4) + rng.normal(0, 5)
            made = part * use * (1 + 0.5 * math.cos(turn)) * rng.uniform(0.4, 1.5)
            net += use * rng.uniform(0.8, 1.2) + 0.15 * max(60 - warmth, 0) + 0.3 * max(warmth - 70, 0) - made
            days.append((day, (warmth - 32) / 1.8))
            day += timedelta(1)
        bills.append(Bill(day - timedelta(length), day, kwh=float(round(net))))
    return House("net", tuple(bills), generation=True, weather=Weather(days[0][0], np.array([t for _, t in days])))


@pytest.mark.parametrize("seed", range(6))
def test_a_healthy_net_bill_is_not_short_of_a_list_that_is_not_there(seed):
    answer = reconcile.reconcile(net_billed(seed))
    assert "list" not in answer.verdict.headline
    assert not {c.code for c in answer.causes} & {"unlisted", "list-short"}
    assert answer.verdict.requests == ()


def test_the_use_behind_a_net_near_zero_is_told_by_its_winters():
    house = net_billed(3)
    facts = examine(house)
    used = as_used(house, facts, lambda: 0.1 * sum(b.days for b in house.bills))
    assert used.billed_kwh.sum() > facts.billed_kwh.sum() + 0.25 * 15.0 * sum(b.days for b in house.bills)
