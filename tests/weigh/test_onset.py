"""Steps that begin inside a bill: their day, their size, and nothing invented to make up for them."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from weigh_houses import house

import reconcile
from reconcile.house import House, Meter
from reconcile.paper import examine
from reconcile.weigh import constants
from reconcile.weigh.gaussian import fit
from reconcile.weigh.model import lay_out
from reconcile.weigh.onset import day_within
from reconcile.weigh.ways import Ways

STEP_BILL = 9


def stepped(percent: float, begun: float, seed: int) -> House:
    """Return bills of a listed house whose meter errs from a part of the tenth bill on, and no exchange is told."""
    factor = np.ones(18)
    factor[STEP_BILL] += percent / 100.0 * (1.0 - begun)
    factor[STEP_BILL + 1 :] += percent / 100.0
    return house(seed=seed, factor=factor)


def found(home: House) -> np.ndarray:
    facts = examine(home)
    layout = lay_out(home, facts)
    judged = np.ones(len(home.bills), dtype=bool)
    model = layout.under(Ways.of(*constants.WAYS[1][1:]))
    return day_within(model, fit(facts.billed_kwh - model.mean, model.covariance, constants.FREEDOM), facts, judged)


@pytest.mark.parametrize(("percent", "begun"), [(-50, 0.6), (-50, 0.3), (100, 0.5), (100, 0.7)])
def test_a_step_inside_a_bill_keeps_its_size_and_needs_nothing_beside_it(percent, begun):
    home = stepped(percent, begun, seed=3)
    causes = {cause.code: cause for cause in reconcile.reconcile(home).causes}
    meter = causes["meter-step" if percent > 0 else "meter-low"]
    assert meter.probability > 0.5
    assert meter.size_low < percent < meter.size_high
    assert abs(meter.size - percent) < 5.0
    assert all(c.probability < 0.3 for code, c in causes.items() if code not in (meter.code, "none"))


@pytest.mark.parametrize("begun", [0.3, 0.5, 0.7])
def test_the_day_is_told_within_a_few(begun):
    home = stepped(-50, begun, seed=5)
    bill = home.bills[STEP_BILL]
    (day,) = found(home)
    assert abs(day - bill.start.toordinal() - begun * bill.days) < 5.0


@pytest.mark.parametrize("percent", [0, -50])
def test_where_readings_tell_it_as_well_no_day_is_sought(percent):
    assert not found(stepped(percent, 0.0, seed=4)).size


def test_the_bill_of_an_exchange_keeps_the_days_of_the_exchange():
    home = stepped(100, 0.5, seed=3)
    bill = home.bills[STEP_BILL]
    days = bill.start.toordinal(), bill.closes.toordinal()
    assert days[0] < found(home)[0] < days[1]
    bills = tuple(replace(b, meter="old" if i < STEP_BILL else "new") for i, b in enumerate(home.bills))
    exchanged = found(replace(home, bills=bills, meters=(Meter(number="old"), Meter(number="new"))))
    assert not ((days[0] < exchanged) & (exchanged < days[1])).any()


@pytest.mark.parametrize("begun", [0.15, 0.35, 0.55, 0.85])
def test_the_limits_of_a_day_reach_as_far_as_the_bills_leave_it_open(begun):
    home = stepped(-50, begun, seed=6)
    bill = home.bills[STEP_BILL]
    truth = bill.start + timedelta(days=round(begun * bill.days))
    (meter,) = (cause for cause in reconcile.reconcile(home).causes if cause.code == "meter-low")
    assert meter.since_low <= truth <= meter.since_high
    assert timedelta(2) <= meter.since_high - meter.since_low <= timedelta(30)


@pytest.mark.parametrize(("begun", "seed"), [(0.15, 3), (0.5, 4), (0.8, 5)])
def test_a_load_of_kilowatts_inside_a_bill_keeps_its_size_and_needs_nothing_beside_it(begun, seed):
    """Habits or a bill by itself made up for the days between its own day and the nearest that was tried."""
    home = house(seed=seed)
    share = np.clip(np.arange(len(home.bills)) - STEP_BILL + 1.0 - begun, 0.0, 1.0)
    bills = tuple(replace(b, kwh=b.kwh + 0.024 * 2250.0 * b.days * on) for b, on in zip(home.bills, share, strict=True))
    causes = {cause.code: cause for cause in reconcile.reconcile(replace(home, bills=bills)).causes}
    load = causes["constant-load"]
    assert load.probability > 0.8
    assert load.size_low < 2250.0 < load.size_high
    assert all(c.probability < 0.3 for code, c in causes.items() if code not in ("constant-load", "none"))
