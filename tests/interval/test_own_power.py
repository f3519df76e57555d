"""Panels seen in a register that counts only what is drawn."""

from dataclasses import replace
from datetime import timedelta
from zoneinfo import ZoneInfo

import data_homes
import numpy as np
import pytest
import switching_homes as homes

import reconcile
from reconcile.interval.own_power import panels_seen

SINCE = 200


def account(seed, kw, since=SINCE, gain=0.0):
    """Bills and hourly data of the drawn register of a home with panels."""
    made = homes.home(seed, data_homes.DAYS)
    drawn, _ = homes.solar(made, kw, since, seed)
    return data_homes.billed(drawn, gain=gain, since=since, minutes=60, loads=data_homes.listed(made, seed)), made.first


def seen(house):
    return panels_seen(house.interval, ZoneInfo(house.timezone))


@pytest.fixture(scope="module")
def with_panels():
    return account(4_101, 4.0)


def test_new_panels_are_dated_and_those_from_before_the_data_are_not(with_panels):
    house, first = with_panels
    panels = seen(house)
    assert abs((panels.since - first).days - SINCE) <= 3
    assert seen(account(4_101, 4.0, since=0)[0]).since is None


@pytest.mark.parametrize("gain", [0.0, -0.3])
def test_a_house_without_panels_shows_none_whatever_its_meter(gain):
    assert all(seen(account(seed, 1e-9, gain=gain)[0]) is None for seed in (4_102, 4_103, 4_104))


def test_a_house_that_stands_empty_and_off_has_no_panels(with_panels):
    house, _ = account(4_102, 1e-9)
    off = np.arange(len(house.interval.kwh)) >= len(house.interval.kwh) - 24 * 60
    assert seen(replace(house, interval=replace(house.interval, kwh=np.where(off, 0.0, house.interval.kwh)))) is None


def test_bills_of_what_was_drawn_behind_new_panels_accuse_no_meter_and_one_question_is_asked(with_panels):
    house, first = with_panels
    answer = reconcile.reconcile(house)
    assert sum(cause.probability for cause in answer.causes if cause.code == "meter-low") < 0.05
    panels = next(finding for finding in answer.findings if finding.code == "own-power")
    behind = [i for i, bill in enumerate(house.bills) if bill.closes > first + timedelta(days=SINCE + 3)]
    assert [i for i, row in enumerate(answer.rows) if row.flag == "not-judged"] == behind == list(panels.periods)
    assert "Are there any?" in answer.verdict.headline
    assert any("Are there solar panels at this home?" in step.text for step in answer.verdict.next_steps)


def test_a_house_that_tells_of_its_panels_is_not_asked_about_them(with_panels):
    answer = reconcile.reconcile(replace(with_panels[0], generation=True))
    assert "Are there" not in answer.verdict.headline
    assert any("delivered_kwh and received_kwh" in step.text for step in answer.verdict.next_steps)


def test_both_registers_of_a_house_made_by_hand_are_heard():
    made = homes.home(800, data_homes.DAYS)
    drawn, back = homes.solar(made, 5.0, 284, 800)
    house = data_homes.billed(drawn, minutes=60, loads=data_homes.listed(made, 800))
    sent = back.reshape(-1, 60).mean(axis=1)[-len(house.interval.kwh) :] / 1000.0
    answer = reconcile.reconcile(replace(house, interval=replace(house.interval, received_kwh=sent)))
    assert answer.house.generation
    assert answer.verdict.decision == "explained"
    assert sum(cause.probability for cause in answer.causes if cause.code == "meter-low") < 0.05
