"""A meter that counts with the main off: one voice in the steps, on the phone and in the letter."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

import reconcile
from reconcile.house import Bill, House
from reconcile.house.site import FieldTest, Leg, MainOff, Quiet, Registered, Run
from reconcile.meter.judge import judge_test
from reconcile.report.pages.field_record import judge_text
from reconcile.report.views.asking_view import phone_lines
from reconcile.report.views.letter_view import letter

SWITCHING = {"known-load", "main-off", "breakers", "quiet", "planned-run", "began"}
OFF = MainOff(Registered(pulses=150.0, seconds=900.0), True, True, False, day=date(2025, 11, 21))


def house(*main_off: MainOff, quiet: tuple[Quiet, ...] = (), bills: int = 14) -> House:
    starts = [date(2024, 9, 5) + timedelta(days=30 * n) for n in range(bills)]
    made = tuple(Bill(start, start + timedelta(days=30), 900.0 + 40.0 * (n % 3)) for n, start in enumerate(starts))
    meter = reconcile.house.Meter(pulse_wh=1.0, step_kwh=0.01)
    return House("Cedar Rise", made, meters=(meter,), field_test=FieldTest(main_off=main_off, quiet=quiet))


@pytest.mark.parametrize("bills", [4, 14])
def test_the_utility_is_called_and_nobody_switches_anything(bills):
    result = reconcile.reconcile(house(OFF, bills=bills))
    verdict = result.verdict
    assert verdict.rule == "main-off-counts"
    codes = [step.code for step in verdict.next_steps]
    assert codes[0] == "ahead-of-main"
    assert not SWITCHING & set(codes)
    assert verdict.reasons[0].startswith("With the main breaker off: 600 W")
    said = " ".join(phone_lines(result))
    assert "Do not call" not in said
    assert "ahead of my main breaker" in said
    made = letter(result)
    assert any("the meter counted about 600 W" in point for point in made["points"])
    assert any("creeps" in one for one in made["requests"])


def test_wires_that_may_be_underground_come_first():
    verdict = reconcile.reconcile(house(replace(OFF, service_underground=None))).verdict
    assert [step.code for step in verdict.next_steps][:2] == ["underground", "ahead-of-main"]


def test_more_counted_off_than_on_is_remarked():
    on = Quiet(Registered(pulses=44.0, seconds=900.0), ("refrigerator",), day=date(2025, 11, 21))
    told = judge_test(house(OFF, quiet=(on,))).main_off[0]
    assert any("than in a quiet reading with it on (180 W)" in note for note in told.notes)
    assert any("596 to 604 W" in note for note in told.notes)
    higher = replace(on, registered=Registered(pulses=200.0, seconds=900.0))
    assert not any("quiet reading" in note for note in judge_test(house(OFF, quiet=(higher,))).main_off[0].notes)


def test_beside_a_sign_of_danger_no_figure_says_that_nothing_is_broken():
    run = Run("range", Registered(meter_kw=3.6), (Leg(115.0, 25.0), Leg(125.0, 5.0)))
    meter = reconcile.house.Meter(form="2S")
    made = House("h", (), service="split-phase", meters=(meter,), field_test=FieldTest(runs=(run,)))
    text = judge_text(judge_test(made))
    assert "Stop here" in text
    assert "nothing broken" not in text
    assert "registration" not in text.casefold()


def test_one_run_is_made_twice_more_before_anything_is_sent():
    """What the judge of the test says is what the steps say."""
    shown = Registered(pulses=320.0, seconds=600.0, register_start=40.0, register_end=40.32)
    run = Run("heater", shown, reference_watts=1500.0, background_w_before=100.0, background_w_after=100.0)
    base = house(bills=14)

    def codes(*runs):
        made = replace(base, field_test=FieldTest(runs=runs))
        return [step.code for step in reconcile.reconcile(made).verdict.next_steps]

    once = codes(run)
    assert once.index("run-again") < once.index("meter-test")
    assert "run-again" not in codes(run, run, run)
