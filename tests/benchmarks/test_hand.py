"""The hand methods do what somebody would do by hand."""

from __future__ import annotations

from dataclasses import replace

import hand
import numpy as np
import pytest
from acceptance import Answer, accepted
from checks import with_checks
from reliability import frequencies, weighted_limits
from scipy.stats import binomtest
from scipy.stats import t as student
from simulate import simulate
from tables import limits


def test_plain_multiplication_comes_near_a_plain_house():
    ratios = []
    for seed in range(40):
        house = simulate("healthy", "plain", seed).house
        days = np.array([bill.days for bill in house.bills])
        listed = sum(hand.listed_kwh(house, load) for load in house.loads) + house.band.unlisted_kwh_per_day * days
        ratios.append(sum(bill.kwh for bill in house.bills) / listed.sum())
    assert np.median(ratios) == pytest.approx(1, abs=0.08)


def test_the_line_leaves_each_month_out():
    """Dividing a residual by the spread without it is the same as refitting without it and predicting it."""
    house = simulate("healthy", "plain", 4).house
    n = len(house.bills)
    days = np.array([bill.days for bill in house.bills], dtype=float)
    daily = np.array([bill.kwh for bill in house.bills]) / days
    columns = [np.ones(n)]
    columns += [dd for sign in (1, -1) if (dd := hand.degree_days(house, sign, hand.BASE_C) / days).std() > 0.05]
    design = np.column_stack(columns)
    p = design.shape[1]
    limit = student.ppf(1 - hand.FAMILY / (2 * n), n - p - 1)
    worst = 0.0
    for i in range(n):
        keep = np.arange(n) != i
        fit, rest, *_ = np.linalg.lstsq(design[keep], daily[keep], rcond=None)
        spread = np.sqrt(rest[0] / (n - 1 - p))
        leverage = design[i] @ np.linalg.inv(design[keep].T @ design[keep]) @ design[i]
        worst = max(worst, abs(daily[i] - design[i] @ fit) / (spread * np.sqrt(1 + leverage)))
    assert (hand.regression(house).decision == "explained") == (worst <= limit)


@pytest.mark.parametrize(("method", "months"), [("inventory + 25 %", (8, 9)), ("degree-day line", (8,))])
def test_months_two_and_a_half_times_too_high_are_flagged(method, months):
    house = simulate("healthy", "plain", 6).house
    assert hand.METHODS[method](house).decision == "explained"
    bills = list(house.bills)
    for i in months:
        bills[i] = replace(bills[i], kwh=2.5 * bills[i].kwh)
    assert hand.METHODS[method](replace(house, bills=tuple(bills))).decision in ("outside-check", "paperwork")


def test_checks_by_hand_tell_a_fast_meter_from_a_load():
    asked = Answer("outside-check")
    for seed in range(5):
        for kind, end in (("meter-50", "field-test"), ("constant", "outside-check"), ("healthy", "inventory")):
            assert hand.after_checks(asked, with_checks(simulate(kind, "plain", seed))).decision == end


def test_a_miss_is_forgiven_only_where_the_program_said_it_could_not_see():
    blind = Answer("explained", visible_percent=15.0)
    seeing = Answer("explained", visible_percent=8.0)
    assert accepted("meter-10-exchange", blind, blind, size_percent=10, size_watts=0)
    assert not accepted("meter-10-exchange", seeing, seeing, size_percent=10, size_watts=0)
    assert not accepted("meter-20-exchange", replace(blind, visible_percent=30.0), blind, size_percent=20, size_watts=0)


def test_limits_are_the_exact_binomial_and_weights_of_one_change_nothing():
    assert limits(3, 40) == pytest.approx(tuple(binomtest(3, 40).proportion_ci(0.95, "exact")), rel=1e-12)
    right = np.array([1.0] * 37 + [0.0] * 3)
    share, low, high, n = weighted_limits(right, np.full(40, 0.2))
    assert (share, n) == (pytest.approx(37 / 40), pytest.approx(40))
    assert (low, high) == pytest.approx(limits(37, 40), rel=1e-6)


def test_frequencies_are_chances():
    from kinds import KINDS

    chance = frequencies(list(KINDS))
    assert sum(chance.values()) == pytest.approx(1, rel=1e-12)
    assert min(chance.values()) > 0
    assert chance["healthy"] > chance["constant"] > chance["constant-exchange"]
