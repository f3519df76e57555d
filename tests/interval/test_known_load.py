"""Registration from a listed load of known watts."""

from dataclasses import replace
from functools import cache

import pytest
import switching_homes as homes

from reconcile.house import Load
from reconcile.interval.known_load import known_load
from reconcile.interval.switching import switching, thinned

HEATER = Load("Water heater", watts=4500.0, watts_within_percent=5.0, run_hours=1.5)


@cache
def home(seed):
    made = homes.home(seed, 150)
    heater = homes.Appliance("water heater", 4500.0, 3.5, (10, 45))
    import numpy as np

    rng = np.random.default_rng(seed)
    watts = homes._runs(rng, heater, 4500.0, rng.poisson(3.5, 150), len(made.seconds))
    return replace(made, watts={**made.watts, "water heater": watts}, resistive=made.resistive | {"water heater"})


def found(made, loads, minutes=15, gain=0.0):
    seen = switching(thinned(homes.metered(made, minutes, gain=gain)), homes.ZONE)
    return known_load(loads, seen, seen.first, seen.last + 1)


@pytest.mark.parametrize("minutes", [1, 5, 15])
@pytest.mark.parametrize("gain", [0.0, 0.2])
def test_a_meter_fast_since_ever_shows_in_a_water_heater(minutes, gain):
    right = 0
    for seed in range(6):
        one = found(home(seed), (HEATER,), minutes, gain)
        if one is not None:
            assert abs(one.registration - 1.0 - gain) <= 3.5 * one.standard_uncertainty
            right += 1
    assert right >= 5


def test_watts_that_are_not_known_say_nothing():
    assert found(home(0), (replace(HEATER, watts_within_percent=None),)) is None
    assert found(home(0), (replace(HEATER, watts_within_percent=20.0),)) is None
    assert found(home(0), ()) is None


def test_two_registrations_that_fit_alike_say_nothing():
    made = home(0)
    other = replace(
        made, watts={"water heater": made.watts["water heater"], "twin": 1.2 * made.watts["water heater"][::-1]}
    )
    assert found(other, (HEATER,)) is None
