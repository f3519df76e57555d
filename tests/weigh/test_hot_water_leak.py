"""Hot water that runs off day and night takes more in winter, as the mains are colder: no meter that turned fast."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import weigh_houses

from reconcile import reconcile
from reconcile.loads.reference import warms_water

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
