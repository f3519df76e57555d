"""Hours of exactly nothing in a house where something always runs."""

import sys
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

import reconcile
from reconcile.clock import as_day, local_seconds
from reconcile.house import Event

sys.path.insert(0, str(Path(__file__).parents[1]))
import data_homes
import switching_homes as homes

from reconcile.interval.standing_still import standing_still

SEED, SINCE = 6, 250


@pytest.fixture(scope="module")
def usual():
    return data_homes.billed(homes.home(SEED), minutes=60)


def stopped(house, hours, every):
    """The same whose data hold so many hours of nothing every so many days from a day on."""
    since = local_seconds(house.interval.starts, homes.ZONE) // 3600
    since = since - since[0] - 24 * SINCE
    on = (since >= 0) & (since % (24 * every) < hours)
    return replace(house, interval=replace(house.interval, kwh=np.where(on, 0.0, house.interval.kwh)))


def test_a_meter_that_stands_still_at_times_is_said_with_its_hours_and_its_day(usual):
    house = stopped(usual, 20, 4)
    finding = standing_still(house)
    assert finding.key == "stopped-register/hours"
    first = local_seconds(house.interval.starts, homes.ZONE)[0] // 86400 + SINCE
    assert abs((finding.figures["since"] - as_day(int(first))).days) <= 1
    assert finding.figures["longest"] == 20.0
    answer = reconcile.reconcile(house)
    assert any("may stand still at times" in reason for reason in answer.verdict.reasons)
    assert answer.verdict.decision != "explained"


@pytest.mark.parametrize("hours", [2, 0])
def test_a_house_in_order_or_a_short_gap_is_none(usual, hours):
    assert standing_still(stopped(usual, hours, 4)) is None


def test_a_diary_that_tells_of_it_and_a_register_of_whole_steps_are_none(usual):
    house = stopped(usual, 20, 4)
    day = as_day(int(local_seconds(house.interval.starts, homes.ZONE)[0] // 86400))
    gone = Event(day + timedelta(days=SINCE - 2), "outage", until=day + timedelta(days=2000))
    assert standing_still(replace(house, events=(gone,))) is None
    coarse = replace(house.interval, kwh=np.round(house.interval.kwh))
    assert standing_still(replace(house, interval=coarse)) is None
