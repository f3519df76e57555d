"""Plans: closed covers first, whether the test can answer, and never a panel for an unqualified person."""

from __future__ import annotations

import inspect
import json
import re
from dataclasses import dataclass, replace
from pathlib import Path

import data_homes
import pytest
import switching_homes as homes

import reconcile
from reconcile.house import DANGERS, House, Load, Meter
from reconcile.house.site import FieldTest, Instrument, Instruments, Leg, MainOff, Registered, Run
from reconcile.meter.reference_load import candidates, plug_in_reference
from reconcile.plan import plan_test
from reconcile.report.pages.field_sheet import plan_text
from reconcile.say import Voice
from reconcile.texts import safety, tell
from reconcile.texts.field.field_plan_words import LINES, step_words
from reconcile.texts.safety import Reader

SAMPLES = Path(__file__).parents[2] / "sample_bills"
SERVICES = ("split-phase", "network", "two-wire", "three-phase", "unknown")
LOADS = (
    Load("Water heater", watts=4500.0),
    Load("Portable heater", watts=1500.0),
    Load("Heat pump", watts=3500.0, follows="heating"),
    Load("Refrigerator", watts=150.0, follows="always"),
)
OPENING = re.compile(
    r"\b(open|remove|take off|unscrew|pull|break|cut|lift)\b[^.]*\b(cover|panel|meter|socket|seal|box|ring)\b", re.I
)
GOOD = Instruments(watts=Instrument(0.5, digits=2, resolution=0.1))


def home(**more) -> House:
    meter = more.pop("meter", Meter(form="2S", pulse_wh=1.0))
    return House("home", (), loads=LOADS, **{"service": "split-phase", "meters": (meter,), **more})


@pytest.mark.parametrize("service", SERVICES)
@pytest.mark.parametrize("meter", [Meter(), Meter(type="disk"), Meter(display="kW demand", multiplier=40.0)])
@pytest.mark.parametrize("generation", [False, True])
def test_nobody_unqualified_is_told_to_open_anything(service, meter, generation):
    plan = plan_test(home(service=service, meter=meter, generation=generation), suspected_percent=20.0)
    for step in plan.steps:
        told = step_words(step, plan.voice)
        said = " ".join((*told.do, *told.expect, *told.proves))
        if step.who == "anyone":
            assert not OPENING.search(said), OPENING.search(said)
            assert "clamp" not in said.casefold()
            assert "leg" not in re.findall(r"[a-z]+", said.casefold())
        if OPENING.search(said):
            assert step.who in ("the utility", "a qualified person")


def test_no_option_of_the_plan_allows_more():
    known = {"house_or_result", "instruments", "suspected_percent", "expanded_percent"}
    assert set(inspect.signature(plan_test).parameters) == known


@pytest.mark.parametrize("service", SERVICES)
def test_steps_rise_in_hazard_and_cautions_stand_first(service):
    plan = plan_test(home(service=service))
    hazards = [step.hazard for step in plan.steps]
    assert hazards == sorted(hazards)
    for step in plan.steps:
        assert step.cautions or step.who == "the utility"
    codes = [step.code for step in plan.steps]
    assert codes.index("plug-in") < codes.index("branches") < codes.index("main-off")
    qualified = [step for step in plan.steps if step.who == "a qualified person"]
    assert len(qualified) == (0 if service == "unknown" else 1)
    assert all(step is plan.steps[-1] for step in qualified)


def test_cautions_of_the_main_breaker_name_what_may_go_wrong():
    plan = plan_test(home())
    step = next(step for step in plan.steps if step.code == "main-off")
    said = " ".join(safety.said(step.cautions)).casefold()
    for word in ("medical", "sump", "freezer", "computer", "rusted", "off last", "second disconnect", "solar"):
        assert word in said, word


def test_cautions_of_the_qualified_person_name_what_protects():
    said = " ".join(safety.said(plan_test(home()).steps[-1].cautions)).casefold()
    for word in ("gloves", "eye", "arc", "cat iv", "seals", "stay live", "live source", "1.07 m", "metal"):
        assert word in said, word
    assert plan_test(home()).warnings == ()
    low = Instruments(amps=Instrument(2.0, category="CAT II 300 V"))
    assert "must not be used in a panel" in plan_test(home(), low).warnings[0]


@pytest.mark.parametrize("danger", DANGERS)
def test_a_danger_leaves_no_steps(danger):
    plan = plan_test(replace(home(), dangers=(danger,)))
    assert plan.urgent
    assert plan.steps == ()
    assert plan.resolutions == ()
    assert "Call" in plan.cautions[-1]


FOUND = (
    FieldTest(runs=(Run("legs", Registered(meter_kw=4.8), (Leg(108.0, 20.0), Leg(132.0, 20.0))),)),
    FieldTest(main_off=(MainOff(Registered(pulses=60.0, seconds=900.0), True, None, service_underground=True),)),
)


@pytest.mark.parametrize("test", FOUND)
def test_a_danger_that_the_field_test_found_leaves_no_steps(test):
    plan = plan_test(replace(home(), field_test=test))
    assert plan.urgent
    assert plan.steps == ()
    assert "emergency line" in plan.text()
    assert "breaker" not in plan.text()


def words(lines):
    return sum(len(line.split()) for line in lines)


def caution_words(plan, readers):
    """Words of the cautions that the pages print, and of the steps."""
    cautions = steps = 0
    for reader in readers:
        for codes, step in plan.page(reader):
            if step is not None and step.code == "utility":  # the sheets leave it out
                continue
            cautions += words(safety.said(codes))
            steps += 0 if step is None else words(step_words(step, plan.voice).do)
    return cautions, steps


@pytest.mark.parametrize("service", SERVICES)
@pytest.mark.parametrize("meter", [Meter(pulse_wh=1.0), Meter(type="disk", disk_wh=7.2, number="A-77")])
@pytest.mark.parametrize("generation", [False, True])
def test_cautions_take_fewer_words_than_steps(service, meter, generation):
    plan = plan_test(home(service=service, meter=meter, generation=generation))
    for reader in Reader if plan.has_panel_work else (Reader.HOUSEHOLDER,):
        cautions, steps = caution_words(plan, (reader,))
        assert cautions <= 0.8 * steps, reader


def test_a_caution_stands_once_on_a_page_and_before_every_step_it_belongs_to():
    plan = plan_test(home())
    for reader in Reader:
        seen = []
        for codes, step in plan.page(reader):
            seen += codes
            if step is not None:
                assert set(step.cautions) <= set(seen)
        assert len(seen) == len(set(seen))


def test_panel_work_is_on_the_electricians_page_only():
    plan = plan_test(home())
    assert [step.code for _, step in plan.page(Reader.QUALIFIED) if step] == ["legs"]
    assert "legs" not in [step.code for _, step in plan.page(Reader.HOUSEHOLDER) if step]
    assert "clamp" not in plan.text().casefold().replace("readings behind a cover", "")


def test_a_large_error_can_be_told_without_opening_anything():
    plan = plan_test(home(), suspected_percent=20.0)
    assert plan.resolutions[0].test == "plug-in"
    assert plan.resolutions[0].resolves
    assert plan.headline.startswith("Nothing has to be opened")


def test_a_small_error_is_the_utilitys():
    plan = plan_test(home(), suspected_percent=2.5)
    assert [r.resolves for r in plan.resolutions] == [False, False, True]
    assert "utility" in plan.headline


def test_better_instruments_tell_more():
    plain, good = (plan_test(home(), i).resolutions[0] for i in (None, GOOD))
    assert good.expanded_percent < 0.75 * plain.expanded_percent
    assert good.test_uncertainty_ratio > plain.test_uncertainty_ratio
    assert good.smallest_error_percent > 2.0 + good.expanded_percent
    assert good.test_uncertainty_ratio == pytest.approx(2.0 / good.expanded_percent, rel=1e-12, abs=0)


def test_own_instruments_are_used_where_none_are_given():
    assert (
        plan_test(replace(home(), field_test=FieldTest(GOOD))).resolutions[0].expanded_percent
        == plan_test(home(), GOOD).resolutions[0].expanded_percent
    )


def test_a_coarser_meter_wants_a_longer_run():
    pulses = plan_test(home(), GOOD).resolutions[0]
    disk = plan_test(home(meter=Meter(type="disk", disk_wh=7.2)), GOOD).resolutions[0]
    coarse = plan_test(home(meter=Meter(pulse_wh=1000.0)), GOOD).resolutions[0]
    assert pulses.seconds is not None
    assert disk.seconds is not None
    assert pulses.seconds <= disk.seconds
    assert coarse.expanded_percent >= pulses.expanded_percent - 1e-9


@dataclass
class Cause:
    code: str
    probability: float
    size: float | None


@dataclass
class Result:
    house: House
    causes: tuple[Cause, ...]


def test_the_size_comes_from_the_likeliest_meter_cause():
    result = Result(
        home(), (Cause("none", 0.1, None), Cause("meter-step", 0.7, 22.0), Cause("constant-load", 0.2, 480.0))
    )
    plan = plan_test(result)
    assert plan.suspected_percent == 22.0
    assert plan.suspected_watts == 480.0
    night = next(step for step in plan.steps if step.code == "quiet")
    told = step_words(night, plan.voice).expect[0]
    assert all(figure in told for figure in ("150 W", "183 W", "630 W")), told  # right, fast, a load more
    assert plan.headline.startswith("The bills point first to the meter about 22 % fast (about 70 %)")
    assert "480 W" in plan.headline
    run = next(step for step in plan.steps if step.code == "plug-in")
    assert any("one 22 % fast about" in line for line in step_words(run, plan.voice).expect)
    assert plan_test(result, suspected_percent=3.0).suspected_percent == 3.0
    unlikely = Result(home(), (Cause("meter-step", 0.02, 22.0),))
    assert plan_test(unlikely).suspected_percent is None


@pytest.mark.parametrize("wrong", [0.0, float("nan"), float("inf")])
def test_a_suspicion_must_be_a_size(wrong):
    with pytest.raises(ValueError, match="suspected"):
        plan_test(home(), suspected_percent=wrong)


def test_the_best_reference_is_steady_and_resistive():
    found = candidates(home())
    assert found[0].name == "Portable heater"
    assert found[0].plug_in
    assert "Refrigerator" not in [c.name for c in found]
    assert plug_in_reference(home(), ()).listed is False
    assert "Heat pump" not in [c.name for c in found]


@pytest.mark.parametrize("name", ["Clothes dryer", "Oven", "Well pump", "Hot tub"])
def test_a_load_that_switches_itself_is_not_sent_to_the_legs(name):
    house = House("home", (), (Load(name, watts=5000.0),), service="split-phase", meters=(Meter(pulse_wh=1.0),))
    plan = plan_test(house)
    assert plan.panel_load is None
    told = " ".join(step_words(plan.steps[-1], plan.voice).do)
    assert name.casefold() not in told.casefold().replace("a clothes dryer, an oven or a pump is not", "")
    assert "leave these readings out" in told
    assert "highest setting" not in told


def test_a_water_heater_stays_on_while_hot_water_runs():
    plan = plan_test(home())
    told = " ".join(step_words(plan.steps[-1], plan.voice).do)
    assert "only while hot water runs" in told
    assert "scalds" in told
    assert told.index("screw the cover now") < told.index("main off")


def test_a_hair_dryer_is_no_plug_in_reference():
    house = House("home", (), (Load("Hair dryer", watts=1500.0), Load("Electric kettle", watts=1500.0)))
    assert plug_in_reference(house, candidates(house)).name == "a portable heater"


def test_the_electricians_plan_names_the_page_that_comes_first_and_an_underrated_instrument_before_all():
    low = Instruments(amps=Instrument(2.0, category="CAT II 300 V"))
    told = plan_text(plan_test(home(), low), reader=Reader.QUALIFIED)
    cautions = told[: told.index("1. Last")]
    assert "covers-on page comes first" in " ".join(cautions.split())
    assert cautions.index("DANGER: The instrument for amps is below CAT III") < cautions.index("Heat, buzzing")


def test_what_to_count_is_found_before_it_is_counted():
    told = " ".join(step_words(plan_test(home()).steps[0], plan_test(home()).voice).do)
    for word in ("infrared", "telephone's camera", "blocks", "Kt", "Kh", "multiplier"):
        assert word in told, word


def test_waits_are_long_enough_for_the_count():
    for meter, minutes in ((Meter(pulse_wh=1.0), 10), (Meter(type="disk", disk_wh=7.2), 44)):
        plan = plan_test(home(meter=meter))
        step = next(step for step in plan.steps if step.code == "main-off")
        assert any(f"{minutes} minutes" in line for line in step_words(step, plan.voice).do)


def test_network_plans_warn_of_the_factor():
    plan = plan_test(home(service="network", meter=Meter(form="12S", pulse_wh=1.0)))
    assert any("1.155" in line for line in step_words(plan.steps[-1], plan.voice).expect)


def test_plan_as_data():
    plan = plan_test(home(), suspected_percent=20.0)
    told = plan.to_dict()
    json.dumps(told, allow_nan=False)
    assert told["steps"][0]["who"] == "anyone"
    assert len(plan.summary()) == len(plan.resolutions)


def test_sample_houses_that_end_in_a_test_have_a_plan():
    planned = 0
    for folder in sorted(path.parent for path in SAMPLES.glob("*/bills.csv")):
        house = reconcile.read_house(folder)
        result = reconcile.reconcile(house)
        if result.verdict.decision != "field-test":
            continue
        plan = plan_test(result)
        planned += 1
        assert not plan.urgent
        assert plan.suspected_percent is not None
        assert any(r.resolves for r in plan.resolutions)
        assert plan.text()
    assert planned >= 1


def test_a_wanted_uncertainty_is_reached_by_the_shortest_test_that_does():
    best = plan_test(home()).resolutions[0]
    wanted = plan_test(home(), expanded_percent=1.3 * best.expanded_percent).resolutions[0]
    assert wanted.expanded_percent <= 1.3 * best.expanded_percent
    assert wanted.repeats * wanted.seconds <= best.repeats * best.seconds
    beyond = plan_test(home(), expanded_percent=0.01).resolutions[0]
    assert beyond.expanded_percent > 0.01
    assert "less sure than wanted" in plan_test(home(), expanded_percent=0.01).text()
    with pytest.raises(ValueError, match="above zero"):
        plan_test(home(), expanded_percent=0.0)


def test_a_meter_that_shows_only_kwh_is_read_off_its_register_over_hours():
    plan = plan_test(home(meter=Meter(display="kWh", step_kwh=0.1)))
    told = {r.test: r for r in plan.resolutions}["register"]
    assert told.seconds >= 7200.0
    assert told.way == "register"
    assert any(line.key == "plug-register" for step in plan.steps for line in step.do)
    finer = {r.test: r for r in plan_test(home(meter=Meter(display="kWh", step_kwh=0.01))).resolutions}["register"]
    assert finer.expanded_percent < told.expanded_percent
    for known in (Meter(pulse_wh=1.0), Meter(type="disk", disk_wh=7.2), Meter(display="kW now")):
        assert "register" not in {r.test for r in plan_test(home(meter=known)).resolutions}


def test_a_load_on_a_timer_is_looked_for_while_it_runs():
    made = homes.with_timed(homes.home(21, data_homes.DAYS), 1000.0, (22.0, 4.0), 260)
    plan = plan_test(reconcile.reconcile(data_homes.billed(made, loads=data_homes.listed(made, 21))))
    search = next(step for step in plan.steps if step.code == "branches")
    assert search.do[0].key == "branch-when"
    assert "Do this between 22:00 and 2:00" in " ".join(plan_text(plan, reader=Reader.HOUSEHOLDER).split())


def test_a_fast_meter_is_said_to_add_its_percentage_at_night():
    """A meter 61 % fast was said to show only 61 % of what runs at night: it shows 161 %."""
    for percent, side in (
        (61.0, "fast adds only 61 %"),
        (-30.0, "slow leaves out only 30 %"),
        (None, "its percentage"),
    ):
        told = tell(Voice(), LINES, "quiet-sought", {"known": None, "sought": None, "off": percent})
        assert side in told
        assert "shows only" not in told


def test_where_a_slow_meter_alone_is_suspected_nobody_is_sent_to_the_breakers():
    """No breaker shows a meter that counts too little, and no load is sought."""
    slow, load = Cause("meter-step", 0.98, -49.0), Cause("constant-load", 0.3, 400.0)
    alone = {step.code for step in plan_test(Result(home(), (slow,))).steps}
    assert {"branches", "main-off"}.isdisjoint(alone)
    assert {"whose-meter", "plug-in", "utility"} <= alone
    for causes in ((slow, load), (Cause("meter-step", 0.98, 49.0),), ()):
        assert {"branches", "main-off"} <= {step.code for step in plan_test(Result(home(), causes)).steps}
    night = next(step for step in plan_test(Result(home(), (slow,))).steps if step.code == "quiet")
    assert "fast meter" not in " ".join(step_words(night, Voice()).proves)
