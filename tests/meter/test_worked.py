"""Figures of a field test worked out by hand, each by its own arithmetic."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from reconcile.house import House, Meter
from reconcile.house.site import Display, FieldTest, Instruments, Leg, Registered, Run
from reconcile.meter import judge_test
from reconcile.meter.load_run import Weighed, weigh_run
from reconcile.meter.plug_in import background
from reconcile.meter.reference_load import candidates, plug_in_reference
from reconcile.meter.registered import readings
from reconcile.meter.resolve import clamp_run, register_run


def test_the_neutral_carries_what_two_legs_a_third_of_a_turn_apart_leave():
    """20 A and 10 A at 120 degrees: 20^2 + 10^2 - 20 x 10 = 300, and its root is 17.3 A."""
    legs = (Leg(120.0, 20.0, 1.0), Leg(120.0, 10.0, 1.0))
    run = Run("r", Registered(meter_kw=3.6), legs, connection="line-to-neutral")
    house = House("h", (), service="network", meters=(Meter(pulse_wh=1.0),), field_test=FieldTest(runs=(run,)))
    notes = " ".join(judge_test(house).runs[0].notes)
    assert "17.3 A" in notes


def test_a_run_of_hours_planned_off_the_register_is_of_a_sound_meter():
    """1.5 kW for four hours are 6.0 kWh; with 200 W of the house besides the register goes on by 6.8 kWh."""
    planned = register_run(Meter(step_kwh=0.1), 1500.0, 4.0 * 3600.0)
    assert planned.reference_kwh == pytest.approx(6.0)
    assert planned.registered.register_end == pytest.approx(6.8)
    # a step of 0.1 kWh at either end of four hours is 25 W: before and after lie half of that from 200 W
    assert (planned.background_w_before, planned.background_w_after) == pytest.approx((187.5, 212.5))


def test_a_heater_to_borrow_is_what_an_outlet_carries():
    """12.5 A at 120 V are 1,500 W; 10 A at 230 V are 2,300 W, of which the usual heater is 2,000 W."""
    for service, watts in (("split-phase", 1500.0), ("two-wire", 2000.0)):
        house = House("h", (), service=service)  # type: ignore[arg-type]
        assert plug_in_reference(house, candidates(house)).watts == watts


def test_two_readings_of_the_background_halve_the_square_of_their_step():
    """Each is good to half a step of 20 W, 10 W; the mean of two to 10 / root 2 W, rectangular."""
    run = Run("r", Registered(), background_w_before=150.0, background_w_after=150.0, reference_watts=1450.0)
    inputs, mean = background(run, step_kw=0.02)
    reading = next(q for q in inputs if q.name == "background reading")
    assert reading.limit == pytest.approx(10.0 / math.sqrt(2.0))
    assert mean({q.name: q.value for q in inputs}) == pytest.approx(150.0)


def test_a_run_by_hand_to_its_registration():
    """250 flashes of 1 Wh in 600 s are 1,500 W; less 150 W they are 1,350 W.

    At the plug 1,338 W, and 0.08 ohm of wire at 1,338 / 120 = 11.15 A uses 9.95 W: 1,350 / 1,347.95 = 100.15 %.
    """
    run = Run(
        "r", Registered(pulses=250.0, seconds=600.0, counted="pulse-to-pulse"), connection="line-to-neutral",
        reference_watts=1338.0, background_w_before=150.0, background_w_after=150.0,
    )  # fmt: skip
    house = House("h", (), service="split-phase", meters=(Meter(pulse_wh=1.0),))
    weighed = weigh_run(run, house, FieldTest(Instruments(), Display(), (run,)))
    assert isinstance(weighed, Weighed)
    assert weighed.meter_w == pytest.approx(1350.0)
    assert weighed.expected_w == pytest.approx(1347.95, abs=0.02)
    assert weighed.percent == pytest.approx(100.152, abs=0.002)


def test_ten_minutes_written_in_minutes_are_named():
    """1,600 W for ten minutes are 267 flashes of 1 Wh; with 10 for the 600 seconds the meter looks absurd."""
    run = Run(
        "r", Registered(pulses=267.0, seconds=10.0), connection="line-to-neutral", reference_watts=1440.0,
        background_w_before=150.0, background_w_after=150.0,
    )  # fmt: skip
    house = House("h", (), service="split-phase", meters=(Meter(pulse_wh=1.0),), field_test=FieldTest(runs=(run,)))
    judged = judge_test(house)
    assert judged.verdict == "cannot-tell"
    first = judged.guesses[0]
    assert (first.field, first.code) == ("seconds", "minutes")
    assert (first.written, first.meant) == (10.0, 600.0)


@pytest.mark.parametrize(
    "meter",
    [Meter(display="kW now"), Meter(type="disk", disk_wh=7.2), Meter(pulse_wh=1.0)],
    ids=["kW", "disk", "pulses"],
)
def test_a_planned_run_is_one_of_a_sound_meter_whatever_its_multiplier(meter):
    doubled = replace(meter, multiplier=2.0)
    run = clamp_run(House("planned", (), service="split-phase", meters=(doubled,)), 4000.0, 36_000.0)
    shown = readings(run.registered, doubled, Instruments(), Display())
    assert [one.watts for one in shown] == pytest.approx([4000.0], rel=1e-6)
