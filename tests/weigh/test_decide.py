"""The order of decision, one rule at a time, on chances given by hand."""

from dataclasses import fields, replace
from datetime import timedelta
from decimal import Decimal

import numpy as np
import pytest
from weigh_houses import house

import reconcile
from reconcile.decide import LEVEL_AT, Chances, chances, decide
from reconcile.facts import Finding
from reconcile.house import Event
from reconcile.meter.observation import Observation
from reconcile.paper import examine
from reconcile.weigh.weighing import weigh_house

HOME = house()
WEIGHING = weigh_house(HOME, examine(HOME))
NOTHING = Chances(**{f.name: 0.0 for f in fields(Chances)})
RATIO = Observation("registration", 1.0, 0.01)


def said(odds, *, findings=(), observations=(), over=False, paid=Decimal(100)):
    return decide(HOME, WEIGHING, odds, findings, observations, over=over, paid=paid)


@pytest.mark.parametrize(
    ("odds", "decision"),
    [
        ({}, "explained"),
        ({"meter": 0.9}, "explained"),  # from bills alone a meter fast all along is a list too short
        ({"changed_meter": 0.999, "meter": 0.999}, "field-test"),
        ({"checkable": 0.51}, "outside-check"),
        ({"slow": 0.51}, "outside-check"),
        ({"alike": 0.6, "lasting": 0.2}, "outside-check"),
        ({"alike": 0.6, "lasting": 0.05}, "explained"),
        ({"falls": 0.6, "slow": 0.2}, "outside-check"),
        ({"falls": 0.6, "slow": 0.05}, "explained"),
        ({"swap": 0.3, "single": 0.3}, "paperwork"),
        ({"swap": 0.05, "single": 0.6}, "explained"),
        ({"swap": 0.3, "single": 0.1}, "explained"),
        ({"level_score": LEVEL_AT + 0.1}, "inventory"),
        ({"level_score": LEVEL_AT - 0.1}, "explained"),
        ({"level_score": -9.0}, "inventory"),
        ({"weather": 0.8}, "inventory"),
        ({"weather": 0.6}, "explained"),
    ],
)
def test_bills_alone(odds, decision):
    assert said(replace(NOTHING, **odds)) == decision


@pytest.mark.parametrize(
    ("odds", "decision"),
    [
        ({"meter": 0.7}, "field-test"),
        ({"meter": 0.5}, "explained"),
        ({"checkable": 0.9, "still_there": 0.1}, "explained"),
        ({"still_there": 0.6}, "outside-check"),
        ({"alike": 0.9, "lasting": 0.9}, "explained"),
    ],
)
def test_checks_entered(odds, decision):
    assert said(replace(NOTHING, **odds), observations=(RATIO,)) == decision


def test_a_late_high_bill_asks_for_a_look_only_where_it_is_over():
    late = replace(NOTHING, last_single=True)
    assert said(late, over=True) == "outside-check"
    assert said(late, over=False) == "explained"


def test_counting_with_the_main_off_asks_for_a_look():
    counts = Observation("main-off", 60.0, 5.0)
    still = Observation("main-off", 3.0, 2.0, at_most=True)
    assert said(NOTHING, observations=(counts,)) == "outside-check"
    assert said(NOTHING, observations=(still,)) == "explained"


def test_paper_that_settles_and_money_worth_asking_about():
    def finding(code, amount, settles):
        return Finding(code, (3,), None, amount, "text", "do", settles)

    assert said(NOTHING, findings=(finding("estimated-read", None, True),)) == "paperwork"
    assert said(NOTHING, findings=(finding("gap", None, False),)) == "explained"
    assert said(NOTHING, findings=(finding("other-charge", Decimal(30), False),)) == "paperwork"
    assert said(NOTHING, findings=(finding("other-charge", Decimal(5), False),)) == "explained"
    # a load that lasts is not settled by an estimate
    assert said(replace(NOTHING, checkable=0.8), findings=(finding("estimated-read", None, True),)) == "outside-check"


def test_a_rise_the_diary_tells_of_is_explained():
    factor = np.where(np.arange(18) >= 9, 1.25, 1.0)
    home = house(factor=factor)
    assert reconcile.reconcile(home).verdict.decision in ("outside-check", "field-test")
    odds = chances(weigh_house(home, examine(home)))
    assert odds.alike > 0.5
    kinds = ("new-load", "occupants", "thermostat")
    day = home.bills[9].start + timedelta(days=3)
    told = replace(home, events=tuple(Event(day, kind) for kind in kinds))
    assert reconcile.reconcile(told).verdict.decision in ("explained", "inventory")


def test_two_lines_of_the_diary_about_the_same_days_say_no_more_than_one():
    home = house()
    day = home.bills[9].start
    once = weigh_house(replace(home, events=(Event(day, "new-load"),)), examine(home))
    twice = weigh_house(replace(home, events=(Event(day, "new-load"), Event(day, "new-load"))), examine(home))
    np.testing.assert_allclose(once.found.log_prior, twice.found.log_prior, rtol=1e-12, atol=0)


def test_huge_bills_are_still_weighed():
    home = house()
    bills = tuple(replace(bill, kwh=bill.kwh * 1e5) for bill in home.bills)
    answer = reconcile.reconcile(replace(home, bills=bills))
    assert answer.verdict.headline
