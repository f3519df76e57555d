"""What is said of one run beside its result: said where it is so, and not where it is not."""

from __future__ import annotations

import pytest

from reconcile.house import House, Meter
from reconcile.house.site import FieldTest, Registered, Run
from reconcile.meter import judge_test

LOAD = 1460.0


def remarked(shown: Registered, multiplier: float = 1.0, **more: float) -> set[str]:
    run = Run("heater", shown, reference_watts=LOAD, background_w_before=0.0, background_w_after=0.0, **more)
    meter = Meter(pulse_wh=1.0, multiplier=multiplier)
    house = House("a", (), service="split-phase", meters=(meter,), field_test=FieldTest(runs=(run,)))
    return {remark.code for remark in judge_test(house).runs[0].remarks}


@pytest.mark.parametrize(("kwh", "cycled"), [(0.2433, False), (0.2200, True)])
def test_kwh_and_watts_that_disagree_tell_of_a_thermostat(kwh, cycled):
    assert ("thermostat-cycled" in remarked(Registered(pulses=243.0, seconds=599.0), reference_kwh=kwh)) == cycled


@pytest.mark.parametrize(("kw", "differ"), [(1.46, False), (1.80, True)])
def test_a_display_that_denies_the_count_is_told(kw, differ):
    assert ("ways-differ" in remarked(Registered(pulses=243.0, seconds=599.0, meter_kw=kw))) == differ


@pytest.mark.parametrize(("pulses", "seconds", "outweighs"), [(243.0, 599.0, False), (4.0, 10.0, True)])
def test_a_count_of_a_few_outweighs_all_else(pulses, seconds, outweighs):
    assert ("step-outweighs" in remarked(Registered(pulses=pulses, seconds=seconds))) == outweighs


@pytest.mark.parametrize("multiplier", [1.0, 2.0])
def test_a_multiplier_is_told(multiplier):
    assert ("multiplied" in remarked(Registered(pulses=243.0, seconds=599.0), multiplier)) == (multiplier != 1.0)
