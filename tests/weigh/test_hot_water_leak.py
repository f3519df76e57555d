"""Hot water that runs off day and night takes more in winter, as the mains are colder: no meter that turned fast."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
import weigh_houses

from reconcile import reconcile
from reconcile.interval.found import Evidence
from reconcile.loads.reference import warms_water
from reconcile.paper import examine
from reconcile.weigh.weighing import weigh_house

WARM, MAINS = 52.0, 8.0
"""Hot water [degC], and how far the mains swing about the year's mean with the air's swing of 12 K [K]."""


@pytest.fixture(scope="module")
def leaking():
    """A house that burns gas for its heat, and whose tank loses 800 W of hot water from the eighth bill on."""
    house = weigh_houses.house(18, seed=3)
    loads = tuple(load for load in house.loads if load.name != "heat pump")
    heat = weigh_houses.expected(house) - weigh_houses.expected(replace(house, loads=loads))
    air = np.array([house.weather.between(bill.start, bill.closes).mean() for bill in house.bills])
    warming = 1.0 - (air - air.mean()) / 12.0 * MAINS / (WARM - 11.0)
    leak = 800.0 * 0.024 * warming * (np.arange(18) >= 7)
    bills = tuple(
        replace(bill, kwh=float(round(bill.kwh - warm + lost * bill.days)))
        for bill, warm, lost in zip(house.bills, heat, leak, strict=True)
    )
    return replace(house, loads=loads, bills=bills)


def test_hot_water_that_runs_off_is_no_fast_meter_and_is_looked_for(leaking):
    result = reconcile(leaking)
    load = next(cause for cause in result.causes if cause.code == "constant-load")
    assert load.probability > 0.6 > 0.3 > result.verdict.meter_fast_probability
    assert load.size_low < 800.0 < load.size_high
    step = next(step for step in result.verdict.next_steps if step.code == "hot-water-look")
    assert not step.cautions
    assert "relief valve" in step.text


def test_only_electricity_that_warms_water_can_lose_it(leaking):
    without = replace(leaking, loads=tuple(load for load in leaking.loads if load.name != "water heater"))
    assert warms_water(leaking)
    assert not warms_water(without)
    assert warms_water(replace(without, water_heating_fuel="electric"))


def test_the_nights_of_hot_water_that_runs_off_rise_and_fall_with_the_cold_of_the_mains(leaking):
    """From ten days before the end of a bill, as windows of the base load show: no meter turned fast as well."""
    bills = list(leaking.bills)
    since = bills[7].start - timedelta(days=10)
    bills[6] = replace(bills[6], kwh=bills[6].kwh + 10 * 17.0)
    begins, ends = (tuple(getattr(bill, at) for bill in bills) for at in ("start", "closes"))
    late = np.array([begin.timetuple().tm_yday for begin in begins]) - 15.0
    leak = 19.2 * (1.0 + MAINS / (WARM - 11.0) * np.cos(2.0 * np.pi * late / 365.25))
    leak[:6], leak[6] = 0.0, leak[6] * 10.0 / bills[6].days
    heard = Evidence("base-load", begins, ends, leak, 0.5**2 * np.eye(18) + 25.0, 5.0, since, since, since)
    house = replace(leaking, bills=tuple(bills))
    weighing = weigh_house(house, examine(house), evidence=(heard,))
    mine = weighing.kinds("hot-water-leak") & (weighing.found.start == since.toordinal())
    assert weighing.posterior.acts[mine].sum() > 0.9
    assert weighing.chance("meter-step", "meter-low", "meter-drift") < 0.1
