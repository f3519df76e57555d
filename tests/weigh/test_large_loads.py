"""A load of kilowatts between two days: named with its size and its days, and never looked for in a house in order."""

from dataclasses import replace
from datetime import date, timedelta
from types import SimpleNamespace

import data_homes
import numpy as np
import pytest
import switching_homes as homes
from numpy.testing import assert_allclose
from weigh_houses import house

import reconcile
from reconcile.house import House
from reconcile.paper import examine
from reconcile.verdict.large_use import beyond_people
from reconcile.weigh.large_loads import large_between
from reconcile.weigh.model import lay_out


def laid(watts: float, begin: float, end: float, seed: int = 3) -> tuple[House, date, date]:
    """Return bills of a listed house with a load from one day to another, each counted in bills, and those days."""
    home = house(seed=seed)
    starts = np.array(
        [bill.start.toordinal() for bill in home.bills] + [home.bills[-1].closes.toordinal()], dtype=float
    )
    first, last = (round(float(np.interp(at, np.arange(len(starts)), starts))) for at in (begin, end))
    on = np.maximum(np.minimum(starts[1:], last) - np.maximum(starts[:-1], first), 0.0)
    bills = tuple(
        replace(bill, kwh=round(bill.kwh + 0.024 * watts * days)) for bill, days in zip(home.bills, on, strict=True)
    )
    return replace(home, bills=bills), date.fromordinal(first), date.fromordinal(last)


@pytest.mark.parametrize(
    ("watts", "begin", "end"), [(3000.0, 6.4, 8.6), (4500.0, 4.0, 7.0), (2000.0, 9.0, 11.0), (2500.0, 13.3, 15.7)]
)
def test_a_load_of_kilowatts_between_two_days_is_named_with_its_size_and_its_days(watts, begin, end):
    home, first, last = laid(watts, begin, end)
    causes = {cause.code: cause for cause in reconcile.reconcile(home).causes}
    load = causes["timed-load"]
    assert load.probability > 0.9
    assert load.size_low < watts < load.size_high
    assert abs((load.since - first).days) <= 10
    assert abs((load.until - last).days) <= 10
    assert all(cause.probability < 0.3 for code, cause in causes.items() if code not in ("timed-load", "none"))


def between(over, usual=10.0, judged=None):
    """Where one is looked for, of bills of 30 days that stand so much over what is expected of them [kWh/d]."""
    n = len(over)
    judged = np.ones(n, dtype=bool) if judged is None else judged
    model = SimpleNamespace(days=np.full(n, 30.0), mean=np.full(n, 30.0 * usual), starts=30.0 * np.arange(n))
    return large_between(model, 30.0 * np.array(over, dtype=float)[judged], judged)


def test_whole_bills_between_tell_how_many_days_of_the_first_and_the_last_it_ran():
    found = between([0, 0, 0, 10, 40, 40, 20, 0, 0, 0])
    longest = np.argmax(found.mask.sum(axis=1))
    assert_allclose(found.mask[longest], [0, 0, 0, 8 / 30, 1, 1, 0.5, 0, 0, 0], rtol=1e-7, atol=0.0)
    assert found.start[longest] == 3 * 30 + 22
    assert_allclose(found.share, 1.0 / (10 * 7 * 100))
    assert len(np.unique(found.mask, axis=0)) == len(found.mask)


def test_a_day_or_two_of_a_bill_are_none_and_all_but_these_are_all():
    found = between([0, 0, 0, 38.7, 40, 40, 1, 0, 0, 0])
    assert (found.mask[found.mask[:, 3:6].all(axis=1), 3] == 1.0).all()
    assert (found.mask[:, 6] == 0.0).all()


def test_of_two_bills_alone_the_fuller_one_may_be_full_or_not():
    found = between([0, 0, 0, 0, 24, 16.8, 0, 0, 0, 0])
    assert_allclose(found.mask[:, 4], np.array([30, 26, 21, 16, 12]) / 30)
    assert_allclose(found.mask[:, 5], np.array([21, 18, 15, 12, 8]) / 30)
    assert_allclose(found.start, 5 * 30 - 30 * found.mask[:, 4], rtol=1e-7, atol=0.0)


@pytest.mark.parametrize(
    ("over", "usual", "places"),
    [
        ([0, 0, 0, 13, 13, 13, 0, 0, 0, 0], 10.0, True),
        ([0, 0, 0, 11, 11, 11, 0, 0, 0, 0], 10.0, False),  # less than anything of half a kilowatt
        ([0, 0, 0, 25, 25, 25, 0, 0, 0, 0], 50.0, False),  # a large house's
        ([0, 0, 0, 35, 35, 35, 0, 0, 0, 0], 50.0, True),
        ([20] * 10, 10.0, False),  # all of them: the list lacks something
        ([-30] * 7 + [-10] * 3, 50.0, True),  # the usual use is what the bills say, not the list
        ([0, 0, 0, 0, 40, 0, 0, 0, 0, 0], 10.0, False),  # one bill is a matter of other causes
    ],
)
def test_one_is_looked_for_only_where_bills_stand_far_over_the_others(over, usual, places):
    assert bool(between(over, usual).start.size) is places


def test_a_bill_that_is_not_judged_breaks_a_run_and_none_is_longer_than_a_few_bills():
    judged = np.arange(20) != 4
    found = between([0, 0, 0, 20, 20, 20, 20] + [0] * 13, judged=judged)
    assert found.start.size
    assert not (found.mask[:, 4] > 0.0).any()
    assert np.count_nonzero(between([0, 0] + [20] * 9 + [0] * 12).mask, axis=1).max() == 8


@pytest.mark.parametrize("seed", range(4))
def test_none_is_looked_for_where_bills_move_as_bills_do(seed):
    home = laid(0.0, 0.0, 1.0, seed)[0]
    facts, n = examine(home), len(home.bills)
    layout = lay_out(home, facts)
    assert not large_between(layout.model, facts.billed_kwh - layout.model.mean, np.ones(n, dtype=bool)).start.size


@pytest.mark.parametrize(("seed", "minutes"), [(1, 60), (4, 15)])
def test_the_hours_give_its_days_and_what_it_drew(seed, minutes):
    made = homes.home(seed, data_homes.DAYS)
    at = np.arange(len(made.seconds)) // homes.DAY
    made = replace(made, extra=np.where((at >= 128) & (at < 199), 2490.0, 0.0))
    home = data_homes.billed(made, minutes=minutes, loads=data_homes.listed(made, seed))
    answer = reconcile.reconcile(home)
    causes = {cause.code: cause for cause in answer.causes}
    load = causes["timed-load"]
    assert load.probability > 0.9
    assert load.size_low < 2490.0 < load.size_high
    assert load.size_high - load.size_low < 500.0
    days = [(day - made.first - timedelta(days=since)).days for day, since in ((load.since, 128), (load.until, 199))]
    assert max(np.abs(days)) <= 1
    assert all(cause.probability < 0.3 for code, cause in causes.items() if code not in ("timed-load", "none"))
    assert (answer.periods["flag"] == "over").sum() >= 2


def test_what_no_people_use_is_told_as_what_may_be_a_danger_and_never_as_guests():
    told = reconcile.reconcile(laid(4500.0, 4.0, 7.0)[0])
    assert "sticks" in told.verdict.headline
    assert "hot" in told.verdict.headline
    assert "nothing that lasts" not in told.verdict.headline
    began = next(step for step in told.verdict.next_steps if step.code == "began")
    assert "person" not in began.text
    assert "pump" not in began.text
    small = reconcile.reconcile(laid(350.0, 4.0, 7.0)[0])
    assert "sticks" not in small.verdict.headline


def test_guests_may_be_said_of_what_people_use_alone():
    high = [row for row in reconcile.reconcile(laid(4500.0, 4.0, 6.0)[0]).rows if row.flag == "over"]
    assert len(high) == 2
    assert beyond_people(high, None) == pytest.approx(108.0, rel=0.1)
    assert beyond_people([replace(one, excess_kwh=15.0 * (one.end - one.start).days) for one in high], None) is None
