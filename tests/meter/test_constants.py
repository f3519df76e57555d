"""The Wh a flash written wrong condemns no right meter; the register or the bills tell it from a real error."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from weigh_houses import house as billed

from reconcile.answer import reconcile
from reconcile.house import House, Meter
from reconcile.house.site import FieldTest, Registered, Run
from reconcile.meter import judge_test, observations
from reconcile.meter.resolve import register_hours

LOAD, REST = 1460.0, 150.0


def counted(registers: float, written: float = 1.0, true: float = 1.0, seconds: float = 600.0) -> Run:
    """Flashes counted, the house's own use worked out from them too."""
    pulses = round((LOAD * 1.004 + REST) * registers * seconds / 3600.0 / true)
    exact = pulses * 3600.0 * true / (LOAD * 1.004 + REST) / registers
    own = round(REST * registers * written / true)
    return Run(
        "heater", Registered(pulses=float(pulses), seconds=round(exact, 1)), connection="line-to-neutral",
        reference_watts=LOAD, background_w_before=own, background_w_after=own,
        outlet_volts_off=121.0, outlet_volts_on=119.7,
    )  # fmt: skip


def by_register(registers: float, hours: float = 5.0) -> Run:
    """The load on for hours, the kWh of both meters read to the last whole one of the meter's."""
    kwh = (LOAD * 1.004 + REST) * registers * hours / 1000.0
    own = round(REST * registers)
    return Run(
        "heater by kWh",
        Registered(seconds=3600.0 * hours, register_start=41_200.0, register_end=41_200.0 + np.floor(kwh + 0.5)),
        connection="line-to-neutral", reference_kwh=LOAD * hours / 1000.0,
        background_w_before=own, background_w_after=own, outlet_volts_off=121.0, outlet_volts_on=119.7,
    )  # fmt: skip


def made(*runs: Run, wh: float = 1.0) -> House:
    return House("c", (), service="split-phase", meters=(Meter(pulse_wh=wh),), field_test=FieldTest(runs=runs))


@pytest.mark.parametrize(
    ("written", "true"),
    [(1.0, 0.5), (1.25, 1.0), (1.0, 1.25), (1.0, 0.625), (1.2, 1.0), (7.2, 1.0), (1.0, 3.6), (1.5, 1.0)],
)
def test_a_constant_written_wrong_condemns_no_right_meter(written, true):
    judged = judge_test(made(*[counted(1.0, written, true)] * 3, wh=written))
    assert judged.verdict == "cannot-tell"
    assert not any("utility" in step for step in judged.next_steps)


@pytest.mark.parametrize("registers", [0.5, 0.8, 1.25, 1.7, 2.0])
def test_three_runs_far_off_ask_for_the_register_which_then_convicts(registers):
    runs = (counted(registers),) * 3
    judged = judge_test(made(*runs))
    assert (judged.verdict, judged.by_constant) == ("cannot-tell", True)
    assert "kWh" in judged.headline
    assert "somebody awake" in judged.next_steps[0]
    hours = register_hours(Meter(), LOAD * registers, 100.0 * registers)
    assert f"{hours:.0f} hours" in judged.next_steps[0]
    sure = judge_test(made(*runs, by_register(registers, hours + 1.0)))
    assert sure.verdict == "outside"


def test_a_register_of_ten_kwh_sends_nobody_to_sit_beside_a_heater_for_days():
    judged = judge_test(replace(made(*[counted(1.5)] * 3), meters=(Meter(pulse_wh=1.0, step_kwh=10.0),)))
    assert "ask the utility" in judged.next_steps[0]
    assert "hours" not in judged.next_steps[0]


def test_a_register_that_denies_the_count_names_the_constant_and_not_the_run_that_was_right():
    judged = judge_test(made(*[counted(1.0, 1.0, 0.625)] * 3, by_register(1.0)))
    assert judged.verdict == "cannot-tell"
    assert [doubt.code for doubt in judged.doubts] == ["constant-refuted"]
    assert "misread" not in judged.headline
    meant = judged.doubts[0].figures["meant"]
    assert meant == pytest.approx(0.625, rel=0.1)
    assert not [
        o for o in observations(made(*[counted(1.0, 1.0, 0.625)] * 3, by_register(1.0))) if o.kind == "registration"
    ]


def test_one_count_that_differs_from_the_displays_of_others_is_one_run_misread():
    shown = replace(by_register(1.0), registered=Registered(meter_kw=1.616), label="heater by kW", reference_watts=LOAD)
    slip = replace(counted(1.0), registered=replace(counted(1.0).registered, seconds=300.0))
    judged = judge_test(made(slip, replace(shown, reference_kwh=None), replace(shown, reference_kwh=None)))
    assert judged.verdict == "cannot-tell"
    assert "constant-refuted" not in [doubt.code for doubt in judged.doubts]


def test_a_display_of_one_decimal_condemns_no_right_meter():
    """1.69 kW is shown as 1.6: what was written has one decimal, and is known no better."""
    read = Run(
        "heater", Registered(meter_kw=1.6), connection="line-to-neutral", reference_watts=1535.0,
        background_w_before=150.0, background_w_after=150.0, outlet_volts_off=121.0, outlet_volts_on=119.7,
    )  # fmt: skip
    home = House(
        "c", (), service="split-phase", meters=(Meter(display="kW now"),), field_test=FieldTest(runs=(read,) * 3)
    )
    assert judge_test(home).verdict == "cannot-tell"


def test_bills_that_say_the_same_bear_such_runs_out_and_the_register_comes_before_the_test():
    fast = billed(factor=np.where(np.arange(18) < 10, 1.0, 1.5))
    result = reconcile(replace(fast, field_test=FieldTest(runs=(counted(1.5),) * 3), meters=(Meter(pulse_wh=1.0),)))
    assert result.verdict.rule == "run-open"
    codes = [step.code for step in result.verdict.next_steps]
    assert codes.index("register-run") < codes.index("meter-test")
    assert "before you ask for a test" in result.verdict.headline


def test_bills_in_order_beside_such_runs_send_nobody_to_the_utility():
    result = reconcile(replace(billed(), field_test=FieldTest(runs=(counted(1.7),) * 3), meters=(Meter(pulse_wh=1.0),)))
    codes = [step.code for step in result.verdict.next_steps]
    assert "meter-test" not in codes
    assert "one flash" in result.verdict.headline or any(
        "Wh a flash" in step.text for step in result.verdict.next_steps
    )


@pytest.mark.parametrize("registers", [0.8, 1.0, 1.25])
def test_whole_kwh_written_of_a_register_with_decimals_condemn_no_meter(registers):
    """An hour and a half moves 2.4 kWh: whole ones written down hide most of one."""
    run = by_register(registers, 1.5)
    home = replace(made(run), meters=(Meter(step_kwh=0.01),))
    assert judge_test(home).verdict == "cannot-tell"


def test_one_reference_is_checked_by_another_before_anything_is_sent():
    told = [step.code for step in judge_test(made(*[counted(1.06)] * 3)).steps]
    assert told.index("another-plug-in") < told.index("letter")
    far = [step.code for step in judge_test(made(*[counted(1.4)] * 3, by_register(1.4, 7.0))).steps]
    assert "another-plug-in" not in far
