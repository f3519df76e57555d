"""Runs that are set aside: one misread of three, one disturbed of three; and what single and quiet readings may say."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from reconcile.answer import reconcile
from reconcile.house import House, Load, Meter
from reconcile.house.site import Display, FieldTest, Instrument, Instruments, Leg, Quiet, Registered, Run
from reconcile.meter import judge_test, observations
from reconcile.read import read_house
from reconcile.report.pages.html import render
from reconcile.report.screens.terminal import terminal_text

SAMPLES = Path(__file__).parents[2] / "sample_bills"

INSTRUMENTS = Instruments(watts=Instrument(percent_of_reading=0.5, digits=2, resolution=0.1))
LOADS = (
    Load("Refrigerator", watts=150.0, share_on=0.4, follows="always"),
    Load("Router", watts=12.0, follows="always"),
    Load("Space heater", watts=1500.0, run_hours=2.0),
)


def heater(
    pulses: float, seconds: float = 300.0, before: float = 150.0, after: float = 150.0, label: str = "heater"
) -> Run:
    """A run whose kWh were read too, which bear the Wh a flash out."""
    return Run(
        label, shown(pulses, seconds), connection="line-to-neutral",
        reference_watts=1460.0, background_w_before=before, background_w_after=after,
    )  # fmt: skip


def shown(pulses: float, seconds: float, wh: float = 1.0) -> Registered:
    kwh = pulses * wh / 1000.0
    return Registered(
        pulses=pulses, seconds=seconds, counted="pulse-to-pulse", register_start=1000.0, register_end=1000.0 + kwh
    )


def flashes_alone(run: Run) -> Run:
    return replace(run, registered=replace(run.registered, register_start=None, register_end=None))


def house(*runs: Run, quiet: tuple[Quiet, ...] = (), instruments: Instruments = INSTRUMENTS) -> House:
    base = House("aside", (), LOADS, service="split-phase", meters=(Meter(pulse_wh=1.0, step_kwh=0.001),))
    return replace(base, field_test=FieldTest(instruments, Display(), runs, quiet=quiet))


def of(percent: float, seconds: float = 300.0, background: float = 150.0) -> float:
    """Flashes of 1 Wh that a meter gives of the heater and what else is on."""
    return round((1472.0 * percent / 100.0 + background) * seconds / 3600.0)


@pytest.mark.parametrize("place", range(3))
def test_one_mistyped_run_of_three_is_named_and_left_out(place):
    runs = [heater(of(122.0)), heater(of(122.0, 302.0), 302.0), heater(of(122.0), 300.2)]
    # five minutes and one second, run together
    runs[place] = replace(runs[place], registered=shown(of(122.0, 301.0), 501.0))
    judged = judge_test(house(*runs))
    assert judged.verdict == "cannot-tell"
    assert judged.registration is not None
    assert judged.registration.runs == 2
    assert judged.registration.percent == pytest.approx(122.0, abs=1.5)
    assert f"heater, run {place + 1}" in judged.headline
    assert "seconds" in judged.headline
    assert "501" in judged.headline
    assert "301" in " ".join(judged.reasons)
    assert "seconds" in judged.next_steps[0]
    assert f"heater, run {place + 1}" in judged.next_steps[0]
    assert not any("utility" in step for step in judged.next_steps)
    assert [run.repeats for run in judged.runs if "run" not in run.label] == [2]
    assert not any(o.kind == "registration" for o in observations(house(*runs), judged))


def test_a_run_disturbed_by_something_else_is_left_out_whatever_it_says():
    runs = (heater(of(122.0)), heater(of(122.0)), heater(of(150.0), before=840.0, after=215.0))
    judged = judge_test(house(*runs))
    assert judged.verdict == "outside"
    assert judged.registration is not None
    assert judged.registration.runs == 2
    told = next(run for run in judged.runs if run.label.endswith("run 3"))
    assert told.zone == "cannot-tell"
    assert any("left out" in note for note in told.notes)


def test_one_quiet_run_may_clear_a_meter_and_condemns_none():
    moved = [heater(of(100.0, background=250.0), before=150.0, after=350.0, label=name) for name in "ab"]
    judged = judge_test(house(heater(of(100.0)), *moved))
    assert not judged.doubtful
    assert judged.registration is not None
    assert judged.registration.runs == 1
    # a disturbed run that cannot be what the quiet one says holds the test back, and so does a quiet one that accuses
    assert judge_test(house(heater(of(100.0)), moved[0], replace(moved[1], reference_watts=1000.0))).doubtful
    fast = [heater(of(108.0, background=250.0), before=150.0, after=350.0, label=name) for name in "ab"]
    assert judge_test(house(heater(of(108.0)), *fast)).verdict == "cannot-tell"


def test_a_meter_half_too_fast_is_heard_though_one_run_could_be_explained():
    runs = (heater(of(150.0), label="a"), heater(of(150.0), label="b"), heater(of(150.4), label="c"))
    assert judge_test(house(*runs)).verdict == "outside"
    assert judge_test(house(runs[0])).verdict == "cannot-tell"


def test_three_alike_are_no_decimal_point_made_three_times():
    # 65 W written for what else was on would be 650: the same error six times over
    runs = [heater(of(142.0, 300.0, 65.0), before=65.0, after=65.0, label=name) for name in "abc"]
    assert judge_test(house(*runs)).verdict == "outside"
    assert judge_test(house(runs[0])).verdict == "cannot-tell"


def test_a_sound_meter_with_one_constant_wrong_is_not_convicted_by_repeats():
    runs = [flashes_alone(heater(of(100.0) / 2.0, label=name)) for name in "abc"]
    judged = judge_test(house(*runs))
    assert judged.verdict == "cannot-tell"
    assert "pulse_wh" in [guess.field for guess in judged.guesses[:2]]


def test_a_result_of_one_run_asks_for_two_more_first():
    judged = judge_test(house(heater(of(122.0))))
    assert judged.verdict == "outside"
    assert "twice more" in judged.next_steps[0]
    assert "Refrigerator" in judged.next_steps[0]
    off = judge_test(house(replace(heater(of(122.0)), note="refrigerator off")))
    assert "Refrigerator" not in off.next_steps[0]
    assert "twice more" not in " ".join(judge_test(house(*[heater(of(122.0))] * 3)).next_steps)


def test_a_thin_reading_is_no_agreement():
    thin = replace(heater(of(105.0)), background_w_after=None)
    wide = Instruments(watts=Instrument(percent_of_reading=8.0))
    judged = judge_test(house(replace(thin, background_w_after=150.0), instruments=wide))
    assert judged.verdict == "cannot-tell"
    assert "agree with a right meter" not in judged.headline
    assert "cannot tell" in judged.headline
    assert "agree with a right meter" not in judge_test(house(thin, instruments=wide)).headline


def test_a_quiet_reading_is_set_against_what_was_left_on():
    quiet = Quiet(Registered(pulses=22.0, seconds=900.0), on=("refrigerator", "Router"))
    judged = judge_test(house(quiet=(quiet,)))
    assert judged.quiet[0].listed_watts == pytest.approx(72.0)
    assert judged.quiet[0].cycling == ("Refrigerator",)
    said = " ".join(judged.reasons)
    assert "88 W" in said
    assert "72 W" in said
    assert "122 %" in said
    assert "nothing to judge" not in judged.headline
    assert "plug-in" in judged.next_steps[0]
    unknown = judge_test(house(quiet=(replace(quiet, on=("Refrigerator", "heirloom clock")),)))
    assert unknown.quiet[0].listed_watts is None


def test_a_background_that_is_the_quiet_readings_names_what_may_have_started():
    quiet = Quiet(Registered(pulses=38.0, seconds=900.0), on=("Refrigerator", "Router"))  # 152 W
    runs = [heater(of(100.0))] * 3
    notes = " ".join(judge_test(house(*runs, quiet=(quiet,))).runs[0].notes)
    assert "as in the quiet reading with Refrigerator left on" in notes
    noted = [replace(run, note="refrigerator off") for run in runs]
    assert "quiet reading" not in " ".join(judge_test(house(*noted, quiet=(quiet,))).runs[0].notes)
    low = Quiet(Registered(pulses=20.0, seconds=900.0), on=("Refrigerator", "Router"))
    assert "quiet reading" not in " ".join(judge_test(house(*runs, quiet=(low,))).runs[0].notes)


@pytest.mark.parametrize(
    ("label", "told"), [("hair dryer", True), ("Clothes dryer", True), ("oil-filled heater", False)]
)
def test_a_load_that_switches_itself_is_remarked_on(label, told):
    notes = " ".join(judge_test(house(*[heater(of(100.0), label=label)] * 3)).runs[0].notes)
    assert ("no good reference" in notes) is told


@pytest.mark.parametrize(
    ("note", "told"), [("used the hair dryer", True), ("hair dryer unplugged", False), ("", False)]
)
def test_a_note_that_names_such_a_load_is_heard(note, told):
    notes = " ".join(judge_test(house(*[replace(heater(of(100.0), label="heater"), note=note)] * 3)).runs[0].notes)
    assert ("no good reference" in notes) is told


def test_one_run_far_off_is_said_to_be_one_run_and_to_be_made_twice_more():
    """A single run "did not hold together", and the step counted its flashes once more."""
    alone = set()
    for percent in (137.0, 145.0, 160.0, 172.0):
        once = judge_test(house(replace(heater(of(percent)), outlet_volts_off=121.6, outlet_volts_on=119.8)))
        assert "by one run alone" in once.headline
        assert "hold together" not in once.headline
        if [doubt.code for doubt in once.doubts] == ["unusual-once"]:
            alone.add(once.next_steps[0])
    assert alone == {"Repeat the run twice more, every figure read anew."}


def test_an_underrated_instrument_stands_before_the_answer_of_the_bills_too():
    made = read_house(SAMPLES / "fast_meter_checked")
    legs = (Leg(119.9, 18.9, 1.0), Leg(119.5, 18.7, 1.0))
    run = Run("baseboard heater", Registered(meter_kw=5.52), legs, connection="line-to-line", clamps="main")
    low = Instruments(amps=Instrument(2.0, category="CAT II 300 V"), volts=Instrument(1.0, category="CAT IV 600 V"))
    result = reconcile(replace(made, field_test=FieldTest(low, Display(0.01), (run,))))
    told = terminal_text(result)
    danger = told.index("below CAT III")
    assert danger < told.index(result.verdict.headline[:30])
    page = render(result)
    assert page.index("below CAT III") < page.index('<p class="answer">')


@pytest.mark.parametrize("ohms", [0.15, 0.3, 0.4, 0.5, 0.6])
def test_a_right_meter_on_a_long_branch_circuit_is_not_accused(ohms):
    amps = 1460.0 / 120.0
    pulses = (1460.0 + amps * amps * ohms + 150.0) * 300.0 / 3600.0
    runs = [heater(round(pulses), 3600.0 * round(pulses) / (pulses * 12.0), label=name) for name in "abc"]
    judged = judge_test(house(*runs))
    assert judged.verdict != "outside"
    if judged.registration.low_percent > 102.0:
        assert any(doubt.code == "assumed-wires" for doubt in judged.doubts)
        assert "outlet_volts_on" in judged.next_steps[0]
    read = [replace(run, outlet_volts_off=121.0, outlet_volts_on=121.0 - amps * ohms) for run in runs]
    assert judge_test(house(*read)).verdict != "outside"


@pytest.mark.parametrize("percent", [110.0, 120.0])
def test_no_branch_circuit_hides_a_meter_that_is_clearly_fast(percent):
    runs = [heater(of(percent), label=name) for name in "abc"]
    assert judge_test(house(*runs)).verdict == "outside"


def test_watts_that_stand_on_nameplates_are_asked_for_anew_before_anything_is_sent():
    """A heater of 1,500 W that draws 1,380 made a right meter look 8 % slow, in three runs that agree."""
    runs = [
        replace(heater(of(92.0), label=name), reference_watts=1500.0, outlet_volts_off=121.6, outlet_volts_on=119.8)
        for name in "abc"
    ]
    judged = judge_test(house(*runs))
    assert judged.verdict == "outside"
    assert "1,500 W in every run" in judged.next_steps[0]
    read = [replace(run, reference_watts=watts) for run, watts in zip(runs, (1459.0, 1462.0, 1460.0), strict=True)]
    assert not any("nameplate" in step for step in judge_test(house(*read)).next_steps)
    far = [replace(run, registered=heater(of(150.0)).registered) for run in runs]
    assert not any("nameplate" in step for step in judge_test(house(*far)).next_steps)


def test_one_time_in_every_run_is_asked_about_where_it_ends_with_a_pulse():
    def timed(seconds):
        return replace(
            heater(of(100.0)), registered=shown(140.0, seconds), outlet_volts_off=121.6, outlet_volts_on=119.8
        )

    alike = judge_test(house(*(replace(timed(270.0), label=name) for name in "abc")))
    assert any("270 seconds in all 3 runs" in step for step in alike.next_steps)
    apart = judge_test(house(*(replace(timed(t), label=str(t)) for t in (269.8, 270.0, 270.3))))
    assert apart.verdict == alike.verdict == "outside"
    assert not any("Time the count again" in step for step in apart.next_steps)
