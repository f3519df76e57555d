"""Readings of one register that give the kWh of every bill by one factor: no multiplier changed."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
import weigh_houses

from reconcile import reconcile
from reconcile.house import Event, House
from reconcile.paper.examine import examine


def read(house: House, times: float = 1.0, since: int = 0) -> House:
    """The same with its readings; from bill ``since`` on the kWh are so many times what they show."""
    bills, at = [], 41_200.0
    for i, bill in enumerate(house.bills):
        shown = round(bill.kwh / (times if i >= since else 1.0))
        bills.append(replace(bill, reading_start=at, reading_end=at + shown))
        at += shown
    return replace(house, bills=tuple(bills))


@pytest.fixture(scope="module")
def doubled() -> House:
    """A house whose bills are twice what they were from the ninth on."""
    return weigh_houses.house(18, factor=np.where(np.arange(18) < 8, 1.0, 2.05))


def test_one_register_that_runs_on_tells_of_one_factor(doubled):
    assert examine(read(doubled)).one_factor
    assert not examine(doubled).one_factor


def test_a_slip_is_no_other_factor_and_a_changed_multiplier_is(doubled):
    whole = read(doubled)
    slip = replace(whole.bills[4], kwh=whole.bills[4].kwh + 90.0)
    assert examine(replace(whole, bills=(*whole.bills[:4], slip, *whole.bills[5:]))).one_factor
    assert not examine(read(doubled, times=2.0, since=8)).one_factor


def test_an_exchange_or_a_register_that_begins_anew_tells_of_none(doubled):
    whole = read(doubled)
    day = whole.bills[8].start + timedelta(days=3)
    assert not examine(replace(whole, events=(Event(day, "meter-exchange"),))).one_factor
    anew = tuple(
        bill
        if i < 8
        else replace(bill, reading_start=bill.reading_start - 40_000, reading_end=bill.reading_end - 40_000)
        for i, bill in enumerate(whole.bills)
    )
    assert not examine(replace(whole, bills=anew)).one_factor


def test_no_multiplier_is_suspected_nor_asked_for_where_the_readings_exclude_it(doubled):
    verdict = reconcile(read(doubled)).to_dict()["verdict"]
    assert verdict["meter_open"] == []
    assert "multiplier" not in verdict["headline"]
    assert verdict["requests"] == []
