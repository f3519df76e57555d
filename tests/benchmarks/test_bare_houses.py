"""Houses with bills alone: what is invented, and a small run. Bounds are binomial, passed but once in 500."""

from dataclasses import replace

import bare_houses
import numpy as np
import pytest
from scipy.stats import binom

from reconcile import reconcile
from reconcile.house import Meter

HOUSES = 12


@pytest.fixture(scope="module")
def homes():
    return {story: [bare_houses.house(story, 500 + k) for k in range(HOUSES)] for story in bare_houses.STORIES}


def test_a_house_is_what_its_seed_says_and_has_bills_alone(homes):
    one = homes["load"][3]
    assert one.bills == bare_houses.house("load", 503).bills
    assert one.bills != homes["load"][4].bills
    assert all(not home.loads and home.weather is None for of in homes.values() for home in of)
    assert all(12 <= len(home.bills) <= 24 for of in homes.values() for home in of)


def test_stories_differ_from_their_onset_on_by_what_they_say(homes):
    for calm, fast, load in zip(*(homes[story] for story in bare_houses.STORIES), strict=True):
        kwh = np.array([[bill.kwh for bill in home.bills] for home in (calm, fast, load)])
        days = np.array([bill.days for bill in calm.bills])
        risen = np.array([bill.meter == "new" for bill in fast.bills])
        np.testing.assert_allclose(kwh[1], kwh[0] * np.where(risen, bare_houses.FAST, 1.0), rtol=0, atol=1.01)
        more = np.where(risen, 0.024 * bare_houses.WATTS * days, 0.0)
        np.testing.assert_allclose(kwh[2], kwh[0] + more, rtol=0, atol=1.01)


def test_few_houses_in_order_are_accused_and_most_faults_found(homes):
    assert bare_houses.sent(homes["in order"]) <= binom.isf(0.002, HOUSES, 0.06)
    assert bare_houses.sent(homes["fast"]) >= binom.ppf(0.002, HOUSES, 0.90)
    assert bare_houses.sent(homes["load"]) >= binom.ppf(0.002, HOUSES, 0.75)


def test_a_wrong_answer_costs_more_than_a_right_one():
    right = bare_houses.cost(0.0, 1.0, 1.0)
    assert right == 0.0
    assert min(bare_houses.cost(0.1, 1.0, 1.0), bare_houses.cost(0.0, 0.9, 1.0), bare_houses.cost(0.0, 1.0, 0.9)) > 0.0


def test_what_is_said_to_be_visible_is_seen_where_the_bills_alone_say_how_far_they_scatter() -> None:
    seen = []
    for seed in range(200, 216):
        home = bare_houses.house("in order", seed)
        home = replace(home, bills=tuple(replace(bill, meter=None) for bill in home.bills[:12]), meters=(Meter(),))
        claim = reconcile(home).verdict.smallest_visible_meter_error_percent
        if claim is not None:
            times = [1.0 + (claim / 100.0 if i >= 6 else 0.0) for i in range(12)]
            bills = tuple(replace(b, kwh=round((b.kwh or 0.0) * t)) for b, t in zip(home.bills, times, strict=True))
            seen.append(reconcile(replace(home, bills=bills)).verdict.decision in bare_houses.LOOKS)
    assert len(seen) >= 12, seen
    assert sum(seen) >= 0.85 * len(seen), seen
