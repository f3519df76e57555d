"""What is said of one run that the bills bear out, and of runs that cannot tell: answer, steps and judge alike."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
from interval_houses import made
from speech import broken
from weigh_houses import house

from reconcile.answer import reconcile
from reconcile.house import House, Meter
from reconcile.house.site import FieldTest, Registered, Run
from reconcile.meter import judge_test
from reconcile.plan import plan_test
from reconcile.report.pages.field_record import judge_text
from reconcile.report.views.asking_view import phone_lines
from reconcile.report.views.first_view import decision_name
from reconcile.result import Reconciliation


def run_of(pulses: float) -> Run:
    shown = Registered(pulses=pulses, seconds=600.0)
    return Run("heater", shown, reference_watts=1500.0, background_w_before=100.0, background_w_after=100.0)


def with_runs(home: House, *runs: Run) -> House:
    return replace(home, field_test=FieldTest(runs=runs), meters=(Meter(pulse_wh=1.0),))


@cache
def borne_out() -> Reconciliation:
    """A run that reads half as much again, and bills that say the same."""
    home = house(factor=np.where(np.arange(18) < 10, 1.0, 1.5))
    return reconcile(with_runs(home, run_of(392.0)))


def test_one_run_is_made_again_before_a_test_is_asked_for_also_where_the_bills_bear_it_out() -> None:
    result = borne_out()
    assert result.verdict.rule == "run-open"
    codes = [step.code for step in result.verdict.next_steps]
    assert codes.index("run-again") < codes.index("meter-test")
    assert sum("twice more" in step.text for step in result.verdict.next_steps) == 1
    assert "known-load" not in codes
    assert "twice more" in result.verdict.headline
    assert "A meter test is warranted" not in result.verdict.headline
    assert decision_name(result) == "A meter test, if more runs agree"
    assert any(line.startswith("Only where the runs agree") for line in phone_lines(result))
    assert not broken(result)


def test_the_judge_of_runs_that_cannot_tell_leaves_the_request_for_a_test_to_the_answer_of_the_bills() -> None:
    made = with_runs(house(), *(run_of(276.0),) * 3)
    judged, result = judge_test(made), reconcile(made)
    assert judged.registration is not None
    assert (judged.registration.zone, judged.registration.sense) == ("cannot-tell", "fast")
    assert "Ask the utility in writing" not in judge_text(judged)
    assert "meter-test" not in result.verdict.requests


def test_plan_and_judge_call_the_interval_data_of_a_house_as_its_answer_does() -> None:
    home = made(step=900)[0]
    result = reconcile(with_runs(home, run_of(276.0)))
    assert result.voice.of_readings("hourly readings") == "quarter-hourly readings"
    assert plan_test(result).voice == result.voice
    judged = result.field_test
    assert judged is not None
    assert judged.voice == result.voice
