"""Signals as evidence: windows, values and covariances that a weighing can use."""

from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from itertools import pairwise

import data_homes
import numpy as np
import pytest
import switching_homes as homes

import reconcile
from reconcile.facts import Facts
from reconcile.house import Bill, Load
from reconcile.interval import examine

DAYS = 240


@cache
def home(seed=2):
    return homes.home(seed, DAYS)


def examined(made, minutes=15, **asked):
    house = homes.as_house(made, homes.metered(made, minutes, **asked))
    edges = [made.first + timedelta(days=30 * i) for i in range(9)]
    bills = tuple(Bill(a, b, 1.0) for a, b in pairwise(edges))
    return examine(replace(house, bills=bills), Facts(np.full(8, np.nan)))


def step(evidence, since):
    """Size of a step at a day and its standard uncertainty, from the rows alone."""
    first = evidence.begins[0]
    begins = np.array([(day - first).days for day in evidence.begins])
    ends = np.array([(day - first).days for day in evidence.ends])
    acts = np.clip((ends - np.maximum(begins, since)) / (ends - begins), 0.0, 1.0)
    precision = np.linalg.inv(evidence.covariance)
    variance = 1.0 / (acts @ precision @ acts)
    return float(acts @ precision @ evidence.value * variance), float(np.sqrt(variance))


@pytest.mark.parametrize("watts", [0.0, 100.0, 200.0, 400.0])
@pytest.mark.parametrize("minutes", [15, 60])
def test_a_constant_load_moves_the_base_load_and_not_the_gain(watts, minutes):
    result = examined(homes.with_load(home(), watts, 130), minutes)
    kinds = {one.kind: one for one in result.evidence}
    shift, sd = step(kinds["base-load"], 130)
    assert abs(shift - 0.024 * watts) <= 2.5 * sd
    assert sd <= 0.024 * 60
    if "gain" in kinds:
        moved, unsure = step(kinds["gain"], 130)
        assert abs(moved) <= 2.0 * unsure
    if watts >= 200.0:
        assert abs((kinds["base-load"].onset - home().first).days - 130) <= 3
        assert abs(result.base.steps[-1].watts - watts) <= 40.0


def test_a_meter_multiplies_what_the_list_holds_round_the_clock_too():
    """A list that holds more than the nights do left nothing to multiply: a fast meter looked like a load."""
    made = home()
    house = replace(homes.as_house(made, homes.metered(made)), loads=(Load("all that is on", 900.0, follows="always"),))
    bill = Bill(made.first, made.first + timedelta(days=30), 1.0)
    result = examine(replace(house, bills=(bill,)), Facts(np.full(1, np.nan)))
    (base,) = (one for one in result.evidence if one.kind == "base-load")
    # all but what the weather adds
    assert 0.8 <= base.base_kwh_per_day / (0.024 * float(np.median(result.base.watts))) <= 1.0


def test_windows_are_in_order_and_covariances_proper():
    for evidence in examined(home()).evidence:
        assert all(a < b for a, b in zip(evidence.begins, evidence.ends, strict=True))
        assert all(a >= b for a, b in zip(evidence.begins[1:], evidence.ends, strict=False))
        assert np.linalg.eigvalsh(evidence.covariance).min() > 0
        assert len(evidence.value) == len(evidence.begins) == len(evidence.covariance)


def test_a_level_alone_is_no_evidence():
    for evidence in examined(home()).evidence:
        always = np.ones(len(evidence.value))
        precision = np.linalg.inv(evidence.covariance)
        scale = 1.0 if evidence.kind == "gain" else evidence.base_kwh_per_day
        sd = 1.0 / np.sqrt(always @ precision @ always)
        assert sd >= 0.9 * scale


def test_a_house_that_sends_energy_back_gives_no_gain():
    drawn, back = homes.solar(home(), 4.0, 120, 1)
    interval = homes.metered(drawn, 15)
    sent = back[: len(interval.kwh) * 15].reshape(-1, 15).mean(axis=1) / 4000.0
    house = homes.as_house(home(), replace(interval, received_kwh=sent))
    bill = Bill(home().first, home().first + timedelta(days=30), 1.0)
    result = examine(replace(house, bills=(bill,), generation=True), Facts(np.full(1, np.nan)))
    assert result.gain is None


def test_a_listed_load_of_its_size_fits_a_step():
    from reconcile.house import Load

    made = homes.with_load(home(), 300.0, 130)
    house = homes.as_house(made, homes.metered(made, 15))
    bill = Bill(made.first, made.first + timedelta(days=30), 1.0)
    loads = (Load("Sump heater", watts=310.0), Load("Lamp", watts=60.0))
    result = examine(replace(house, bills=(bill,), loads=loads), Facts(np.full(1, np.nan)))
    assert result.base.steps[-1].fits == ("Sump heater",)


def test_a_load_that_begins_behind_a_hot_week_is_dated():
    made = homes.home(33, data_homes.DAYS, first=date(2024, 8, 1))
    since = date(2025, 8, 9)
    day = (since - made.first).days
    house = data_homes.billed(homes.with_load(made, 280.0, day), minutes=60, loads=data_homes.listed(made, 33))
    cause = next(one for one in reconcile.reconcile(house).causes if one.code == "constant-load")
    assert cause.probability > 0.9
    assert abs((cause.since - since).days) <= 3
