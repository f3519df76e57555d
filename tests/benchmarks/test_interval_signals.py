"""A small run of the bench of interval signals."""

import numpy as np
import pytest
from interval_signals import across, looked_at, simulated


def signals(kind, minutes, count):
    for house, day, gain, watts in simulated(kind, minutes, count):
        yield looked_at(house), day, gain, watts


def test_a_meter_step_is_named_and_dated_in_minutes():
    named = near = 0
    for result, day, _, _ in signals("meter 20", 1, 5):
        change = result.gain.change
        named += change.found
        near += abs(change.day - result.gain.begins[0] - day) <= 3
    assert named == 5
    assert near >= 4


@pytest.mark.parametrize("kind", ["as it is", "appliance replaced", "volts low, middle", "new heater", "solar"])
def test_nothing_else_is_named_a_meter(kind):
    for minutes in (1, 15):
        for result, _, _, _ in signals(kind, minutes, 4):
            assert result.gain is None or not result.gain.change.found


@pytest.mark.parametrize("minutes", [15, 60])
def test_a_load_of_400_watts_is_named_and_measured(minutes):
    errors, named = [], 0
    for result, day, _, watts in signals("load 400", minutes, 5):
        named += result.onset is not None
        base = next(one for one in result.evidence if one.kind == "base-load")
        shift, sd = across(base, day)
        errors.append((shift - 0.024 * watts) / sd)
    assert named >= 4
    assert np.max(np.abs(errors)) < 4.0
