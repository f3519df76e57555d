"""Interval data of a home whose bills are another meter's for a time."""

from dataclasses import replace

import numpy as np
import pytest
from interval_houses import made

from reconcile import reconcile
from reconcile.facts import Facts
from reconcile.interval import examine, findings
from reconcile.report.pages.letter import letter_text
from reconcile.say import Voice
from reconcile.texts.findings import finding_text


def swapped(first, last, **kwargs):
    """Bills of another home from one to before another, every one its own part more or less than this home's."""
    house, facts = made(**kwargs)
    other = 1.0 + np.random.default_rng(11).uniform(-0.7, 0.2, 8).clip(None, -0.1)
    kwh = facts.billed_kwh.copy()
    kwh[first:last] = np.round(kwh * other)[first:last]
    bills = tuple(replace(bill, kwh=float(k)) for bill, k in zip(house.bills, kwh, strict=True))
    return replace(house, bills=bills), Facts(kwh)


@pytest.mark.parametrize(("first", "last"), [(3, 8), (5, 8), (0, 5), (2, 6)])
def test_data_that_add_up_to_all_other_bills_are_of_this_home_and_some_bills_are_not(first, last):
    house, facts = swapped(first, last, hour=9)
    result = examine(house, facts)
    assert not result.foreign
    assert [tie.within for tie in result.tie_out] == [not first <= i < last for i in range(8)]
    (finding,) = findings(result, house)
    assert (finding.key, finding.periods, finding.settles) == ("meter-number/hours", tuple(range(first, last)), True)
    text = finding_text(finding, Voice())
    assert f"each of the {8 - (last - first)} " in text
    assert f"none of the {last - first} " in text
    answer = reconcile(house)
    assert all(answer.rows[i].flag == "not-judged" for i in finding.periods)
    assert "hourly readings" in letter_text(answer)


def test_a_register_that_goes_on_elsewhere_and_the_data_are_one_finding():
    house, facts = swapped(3, 8)
    own = np.concatenate([[21_000.0], 21_000.0 + np.cumsum(facts.billed_kwh)])
    moved = np.where(np.arange(8) < 3, 0.0, 40_000.0)
    bills = tuple(
        replace(bill, reading_start=own[i] + moved[i], reading_end=own[i + 1] + moved[i])
        for i, bill in enumerate(house.bills)
    )
    answer = reconcile(replace(house, bills=bills))
    (finding,) = answer.findings
    assert finding.key == "meter-number/jump"
    assert "add up to each of the 3 bills before" in answer.verdict.headline
    assert "another home" in answer.verdict.headline


def test_three_bills_that_a_coarse_register_lets_add_up_tell_no_meter():
    """By chance three bills of a register in steps of 50 kWh fit any other home's data."""
    house, facts = swapped(3, 8, rounding=50.0)
    assert not any(f.key == "meter-number/hours" for f in findings(examine(house, facts), house))


def test_how_far_bills_and_the_data_of_another_meter_differ_is_said_with_its_side():
    house, facts = made()
    rng = np.random.default_rng(8)
    months = np.repeat(rng.uniform(0.5, 1.5, 40), 24 * 15)[: len(house.interval.kwh)]
    result = examine(replace(house, interval=replace(house.interval, kwh=house.interval.kwh * months)), facts)
    (finding,) = findings(result, house)
    text = finding_text(finding, Voice())
    assert "% less to" in text
    assert "−" not in text
    headline = reconcile(
        replace(house, interval=replace(house.interval, kwh=house.interval.kwh * months))
    ).verdict.headline
    assert "do not fit these bills and seem to be of another meter" in headline
