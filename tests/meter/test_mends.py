"""Each error undone gives back the reading as it was; two different errors are named before one in two forms."""

from __future__ import annotations

import pytest

from reconcile.house import House, Meter
from reconcile.house.site import FieldTest, Leg, Registered, Run
from reconcile.meter import judge_test
from reconcile.meter.judged import Guess
from reconcile.meter.load_run import Weighed, weigh_run
from reconcile.meter.mend_counts import counts
from reconcile.meter.mends import Case, mends
from reconcile.meter.misreadings import Ranked, merged

HOUSE = House("a", (), service="split-phase", meters=(Meter(pulse_wh=1.0, form="2S"),))


@pytest.mark.parametrize(
    ("written", "code", "field", "right"),
    [
        (Registered(pulses=260, seconds=1003.0), "clock", "seconds", 603.0),
        (Registered(pulses=260, seconds=10.03), "clock", "seconds", 603.0),
        (Registered(pulses=260, seconds=10.0), "minutes", "seconds", 600.0),
        (Registered(pulses=260, seconds=1.5), "hours", "seconds", 5400.0),
        (Registered(pulses=6000, seconds=600.0), "decimal", "pulses", 600.0),
        (Registered(pulses=600, seconds=260.0), "swapped", "pulses", 260.0),
        (Registered(meter_kw=-1.5), "export", "meter_kw", 1.5),
        (Registered(meter_kw=1500.0), "thousand", "meter_kw", 1.5),
        (Registered(seconds=600, register_start=12.5, register_end=12.0), "swapped", "register_end", 12.5),
        (Registered(seconds=600, register_start=11.4, register_end=12.0), "digits", "register_end", 12.9),
        (Registered(seconds=600, register_start=11.0, register_end=12.4), "digits", "register_start", 11.3),
        (Registered(seconds=600, register_start=11.0, register_end=26.0), "decimal", "register_end", 12.5),
    ],
)
def test_what_was_read_off_the_meter_is_as_it_was(written, code, field, right):
    undone = [mended for c, f, _, _, mended in counts(written) if (c, f) == (code, field)]
    assert any(getattr(mended, field) == pytest.approx(right, rel=1e-9, abs=0) for mended in undone)


def test_a_time_that_can_be_no_minutes_and_seconds_is_not_taken_so():
    codes = [code for code, *_ in counts(Registered(pulses=260, seconds=1075.0))]
    assert "clock" not in codes
    assert "digits" not in [c for c, *_ in counts(Registered(seconds=60, register_start=11.4, register_end=12.3))]


def undone(run: Run, code: str, service: str = "split-phase", **more: float) -> list[Run]:
    house = House("a", (), service=service, meters=(Meter(pulse_wh=1.0),))  # type: ignore[arg-type]
    case = Case(run, house, house.meters[0], FieldTest(runs=(run,)), **more)
    return [mend.run for mend in mends(case) if mend.code == code]


def plug(before: float, after: float, **more) -> Run:
    shown = Registered(pulses=265.0, seconds=600.0)
    return Run("heater", shown, reference_watts=1440.0, background_w_before=before, background_w_after=after, **more)


def test_what_else_was_on_is_undone():
    assert [run.background_w_after for run in undone(plug(150.0, 0.0), "background-missed")] == [150.0]
    assert [run.background_w_before for run in undone(plug(1590.0, 150.0), "load-on", load_w=1440.0)] == [150.0]
    slipped = [(run.background_w_before, run.background_w_after) for run in undone(plug(150.0, 15.2), "decimal")]
    assert (150.0, pytest.approx(152.0)) in slipped
    both = undone(plug(1590.0, 1592.0), "load-on", load_w=1440.0)
    assert [(run.background_w_before, run.background_w_after) for run in both] == [(150.0, 152.0)]
    assert [run.background_w_before for run in undone(plug(-150.0, 150.0), "sign")] == [150.0]
    switched = undone(plug(150.0, 150.0), "background-switched", percent=120.0, load_w=1440.0)
    assert [run.background_w_after for run in switched] == pytest.approx([438.0])
    assert undone(plug(150.0, 150.0), "background-switched", percent=101.0, load_w=1440.0) == []


def test_a_load_that_cycled_is_one_that_reads_slow_and_was_read_once():
    assert [r.reference_watts for r in undone(plug(150.0, 150.0), "cycled", percent=80.0)] == pytest.approx([1152.0])
    for percent in (97.0, 110.0, 10.0):
        assert undone(plug(150.0, 150.0), "cycled", percent=percent) == []
    assert undone(plug(150.0, 150.0, watts_repeats=(1439.0, 1441.0)), "cycled", percent=80.0) == []
    assert undone(plug(150.0, 150.0, reference_kwh=0.24), "cycled", percent=80.0) == []


def legs(*amps: float, service: str = "split-phase", **more) -> Run:
    connection = more.pop("connection", "line-to-line")
    each = tuple(Leg(120.0, a, 1.0) for a in amps)
    return Run("load", Registered(meter_kw=4.4), each, connection=connection, **more)


def test_legs_missed_and_added_are_undone():
    assert [run.legs[1].amps for run in undone(legs(18.4, 0.0), "leg-missed")] == [18.4]
    assert [run.legs[1].amps for run in undone(legs(18.4, 0.7), "leg-missed")] == [18.4]
    assert undone(legs(18.4, 9.0), "leg-missed") == []
    assert undone(legs(18.4, 0.0, connection="line-to-neutral"), "leg-missed") == []
    assert [len(run.legs) for run in undone(legs(18.4), "leg-missed")] == [2]
    assert [len(run.legs) for run in undone(legs(18.4, 18.4, 0.6), "leg-added")] == [2]
    assert [run.legs[0].amps for run in undone(legs(-18.4, 18.4), "sign")] == [18.4]


def named(field: str, code: str, score: float) -> Ranked:
    return Ranked(Guess(code, "run", field, None, 200.0, 100.0), score, True)


def test_two_things_to_look_at_are_named_before_one_in_two_forms():
    close = [named("pulses", "double", 1.0), named("pulses", "misread", 1.2), named("seconds", "half", 1.5)]
    assert [g.field for g in merged([[*close, named("amps", "half", 3.0)]])][:2] == ["pulses", "amps"]
    assert [g.field for g in merged([[*close, named("amps", "half", 9.0)]])][:2] == ["pulses", "seconds"]


def test_scattered_watts_count_as_they_scatter():
    run = plug(150.0, 150.0, watts_repeats=(1430.0, 1440.0, 1450.0))
    weighed = weigh_run(run, HOUSE, FieldTest(runs=(run,)))
    assert isinstance(weighed, Weighed)
    line = weighed.budget.component("readings not together")
    assert line.standard_uncertainty == pytest.approx(10.0 / 1440.0 / 3.0**0.5, rel=1e-9, abs=0)
    assert line.degrees_of_freedom == 2


def test_volts_read_without_the_load_are_taken_lower():
    run = legs(18.4, 18.4, volts_were_loaded=False)
    weighed = weigh_run(run, HOUSE, FieldTest(runs=(run,)))
    assert isinstance(weighed, Weighed)
    assert weighed.measured_w == pytest.approx(2.0 * 0.985 * 120.0 * 18.4, rel=1e-9, abs=0)


@pytest.mark.parametrize(
    ("before", "after", "code"), [(None, None, "background-missing"), (90.0, None, "background-once")]
)
def test_a_background_that_was_not_read_is_assumed_and_said(before, after, code):
    run = legs(18.4, 18.4, clamps="load", background_w_before=before, background_w_after=after, meter_volts=240.0)
    judged = judge_test(HOUSE, FieldTest(runs=(run,)))
    assert code in [assumed.code for assumed in judged.assumed if assumed.holds_back]
    assert judged.doubtful
    assert any(guess.field.startswith("background") for guess in judged.guesses[:2])


def test_one_digit_of_the_seconds_is_named_and_watts_read_three_times_alike_are_not():
    shown = Registered(pulses=265.0, seconds=660.0)
    run = Run("heater", shown, reference_watts=1440.0, watts_repeats=(1439.0, 1440.0, 1441.0))
    read = [r.registered.seconds for r in undone(run, "misread", percent=90.9, load_w=1590.0)]
    assert 600.0 in read
    assert all(r.reference_watts == 1440.0 for r in undone(run, "misread", percent=90.9, load_w=1590.0))
