"""A judged example of every verdict, all four services, and what a person is told besides."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from reconcile.house import Bill, House, Meter
from reconcile.house.site import (
    Display,
    FieldTest,
    Instrument,
    Instruments,
    Leg,
    MainOff,
    Quiet,
    Registered,
    Run,
)
from reconcile.meter import judge_test, observations
from reconcile.meter.load_run import Weighed, weigh_run

GOOD = Instruments(
    volts=Instrument(0.2, digits=1, resolution=0.01, category="CAT IV 600 V"),
    amps=Instrument(0.3, digits=1, resolution=0.01, category="CAT III 600 V", min_amps=0.5),
    watts=Instrument(0.5, digits=2, resolution=0.1),
)


def plug(meter_watts: float, seconds: float = 600.0, watts: float = 1450.0, label: str = "heater", **more) -> Run:
    pulses = round((meter_watts + 150.0) * seconds / 3600.0)
    exact = 3600.0 * pulses / (meter_watts + 150.0)
    return Run(
        label,
        Registered(
            pulses=float(pulses),
            seconds=exact,
            counted="pulse-to-pulse",
            register_start=1000.0,
            register_end=1000.0 + pulses / 1000.0,
        ),
        connection="line-to-neutral",
        reference_watts=watts,
        background_w_before=150.0,
        background_w_after=150.0,
        **{"outlet_volts_off": 121.0, "outlet_volts_on": 120.5, **more},
    )


def made(*runs: Run, instruments: Instruments = GOOD, house: House | None = None, **more) -> House:
    base = house or House("h", (), service="split-phase", meters=(Meter(form="2S", pulse_wh=1.0, step_kwh=0.001),))
    return replace(base, field_test=FieldTest(instruments, Display(0.01), runs, **more))


def bills() -> tuple[Bill, ...]:
    return (Bill(date(2025, 1, 1), date(2025, 2, 1), 1000.0, Decimal("150.00")),)


def test_inside():
    result = judge_test(made(plug(1450.0)))
    assert result.verdict == "inside"
    assert "inside" in result.headline
    assert result.runs[0].chance_outside < 0.025


def test_outside():
    result = judge_test(made(plug(1450.0 * 1.2)))
    assert result.verdict == "outside"
    assert "fast" in result.headline
    assert "warranted" in result.headline
    assert any("present" in step for step in result.next_steps)


def test_outside_and_slow():
    assert "slow" in judge_test(made(*[plug(1450.0 * 0.85)] * 3)).headline
    read_on = plug(1450.0 * 0.85, watts_repeats=(1449.0, 1450.0, 1451.0))
    assert "slow" in judge_test(made(read_on)).headline


def test_a_load_that_may_have_cycled_condemns_nobody():
    once = judge_test(made(plug(1450.0 * 0.85)))
    assert once.verdict == "cannot-tell"
    assert once.guesses[0].code == "cycled"
    assert "thermostat" in once.text()


def test_cannot_tell_says_what_would():
    plain = replace(GOOD, watts=Instrument(2.0, digits=5, resolution=0.1))
    result = judge_test(made(plug(1450.0), instruments=plain))
    assert result.verdict == "cannot-tell"
    assert "plug-in meter's limits" in result.next_steps[0]
    assert "0.5 %" in result.next_steps[1]
    assert any("utility" in step for step in result.next_steps)


def test_not_judged():
    assert judge_test(House("h", ())).verdict == "not-judged"
    assert judge_test(made()).next_steps


def test_danger_comes_before_everything():
    result = judge_test(replace(made(plug(1450.0)), dangers=("buzzing",)))
    assert result.verdict == "urgent"
    assert result.cautions[0].startswith("Stop here")
    assert not any("plug-in" in step for step in result.next_steps)


def test_legs_far_apart_under_load_are_a_danger():
    run = Run("legs", Registered(meter_kw=4.8), (Leg(108.0, 20.0), Leg(132.0, 20.0)))
    result = judge_test(made(run))
    assert result.verdict == "urgent"
    assert any("neutral" in caution for caution in result.cautions)
    assert result.dangers == ("loose-neutral",)


def counting(**more) -> MainOff:
    return MainOff(Registered(pulses=40.0, seconds=900.0), True, True, **more)


def test_counts_with_main_off_is_a_fork_with_money():
    house = replace(made(main_off=(counting(),)), bills=bills())
    result = judge_test(house)
    assert result.verdict == "counts-with-main-off"
    told = result.main_off[0]
    assert told.watts == pytest.approx(160.0, rel=1e-9, abs=0)
    assert told.kwh_a_month == pytest.approx(116.8, rel=1e-9, abs=0)
    assert told.cost_a_month == pytest.approx(17.52, rel=1e-9, abs=0)
    assert list(told.cases) == ["ahead-of-main", "shared-or-wrong-meter", "underground-leak", "creep"]
    assert "118 W" not in result.headline
    assert "160 W" in result.headline


def test_counting_with_wires_underground_is_a_danger():
    result = judge_test(made(main_off=(counting(service_underground=True),)))
    assert result.verdict == "urgent"
    assert any("leak" in caution for caution in result.cautions)
    assert result.dangers == ("buried-line",)


@pytest.mark.parametrize(
    ("reading", "zone", "bound"),
    [
        (MainOff(Registered(pulses=0.0, seconds=900.0), True, True), "inside", 4.0),
        (MainOff(Registered(pulses=0.0, seconds=60.0), True, True), "cannot-tell", 60.0),
        (MainOff(Registered(pulses=1.0, seconds=900.0), True, True), "inside", 8.0),
        (MainOff(Registered(pulses=2.0, seconds=900.0), True, True), "cannot-tell", 12.0),
        (MainOff(Registered(pulses=2.0, seconds=7200.0), True, True), "inside", 1.5),
        (MainOff(Registered(meter_kw=0.3), True, True), "outside", 310.0),
        (MainOff(Registered(meter_kw=0.0), True, True), "inside", 10.0),
        (MainOff(Registered(meter_kw=0.01), True, True), "cannot-tell", 20.0),
        (MainOff(Registered(meter_kw=0.16), True, True), "outside", 170.0),
        (MainOff(Registered(pulses=40.0, seconds=900.0), False, True), "cannot-tell", 164.0),
    ],
)
def test_main_off_zones(reading, zone, bound):
    told = judge_test(made(main_off=(reading,))).main_off[0]
    assert told.zone == zone
    assert told.at_most_watts == pytest.approx(bound, rel=1e-9, abs=0)
    assert told.notes


def test_a_disk_may_coast_a_turn():
    house = replace(made(), meters=(Meter(type="disk", disk_wh=7.2),))
    for turns, seconds, zone in ((0.8, 600.0, "cannot-tell"), (0.0, 600.0, "inside"), (3.0, 600.0, "outside")):
        reading = MainOff(Registered(turns=turns, seconds=seconds), True, True)
        result = judge_test(replace(house, field_test=FieldTest(main_off=(reading,))))
        assert result.main_off[0].zone == zone, turns


def test_a_display_of_demand_is_no_reading_of_now():
    house = replace(made(), meters=(Meter(display="kW demand", pulse_wh=1.0),))
    test = FieldTest(
        main_off=(MainOff(Registered(meter_kw=0.0), True, True),),
        runs=(Run("r", Registered(meter_kw=5.0), (Leg(120.0, 20.0), Leg(120.0, 20.0))),),
    )
    result = judge_test(replace(house, field_test=test))
    assert result.main_off[0].zone == "cannot-tell"
    assert "demand" in result.runs[0].notes[0]
    assert observations(replace(house, field_test=test)) == ()


def test_own_generation_must_be_off():
    reading = MainOff(Registered(pulses=0.0, seconds=900.0), True, None)
    house = replace(made(main_off=(reading,)), generation=True)
    told = judge_test(house).main_off[0]
    assert told.zone == "cannot-tell"
    assert any("generation" in note for note in told.notes)


@pytest.mark.parametrize(
    ("service", "form", "legs", "watts"),
    [
        ("split-phase", "2S", (Leg(119.5, 22.0), Leg(119.5, 22.0)), 119.5 * 44.0),
        ("network", "12S", (Leg(120.1, 16.25), Leg(120.1, 16.25)), 120.1 * 32.5 * 3.0**0.5 / 2.0),
        ("two-wire", "1S", (Leg(229.0, 12.0),), 229.0 * 12.0),
        ("three-phase", "16S", (Leg(231.0, 10.0), Leg(230.0, 11.0), Leg(229.5, 12.0)), 2310.0 + 2530.0 + 2754.0),
    ],
)
def test_every_service(service, form, legs, watts):
    def result_of(percent: float):
        read = tuple(replace(leg, power_factor=1.0) for leg in legs)
        run = Run("load", Registered(meter_kw=watts * percent / 1e5), read, connection="line-to-line")
        house = House("h", (), service=service, meters=(Meter(form=form),))
        return judge_test(replace(house, field_test=FieldTest(GOOD, Display(0.001), (run,))))

    right, fast = result_of(100.0), result_of(110.0)
    assert right.runs[0].measured_w == pytest.approx(watts, rel=1e-9, abs=0)
    assert right.runs[0].registration_percent == pytest.approx(100.0, rel=0, abs=0.02)
    assert fast.runs[0].zone == "outside"
    assert right.runs[0].zone != "outside"


def test_a_load_between_two_of_three_legs():
    legs = (Leg(230.0, 10.0), Leg(230.0, 10.0), Leg(230.0, 0.0))
    run = Run("heater", Registered(meter_kw=4.0), legs)
    house = House("h", (), service="three-phase", meters=(Meter(form="16S"),), field_test=FieldTest(GOOD, runs=(run,)))
    assert judge_test(house).runs[0].measured_w == pytest.approx(400.0 * 10.0, rel=0.005, abs=0)


def test_a_leg_power_factor_already_holds_the_angle():
    legs = tuple(Leg(120.0, 16.0, leg_power_factor=0.866) for _ in range(2))
    run = Run("r", Registered(meter_kw=3.3), legs)
    house = House("h", (), service="network", field_test=FieldTest(GOOD, runs=(run,)))
    assert judge_test(house).runs[0].measured_w == pytest.approx(2 * 120.0 * 16.0 * 0.866, rel=1e-9, abs=0)


def test_without_a_service_legs_are_not_summed():
    run = Run("r", Registered(meter_kw=3.3), (Leg(120.0, 14.0), Leg(120.0, 14.0)))
    result = judge_test(replace(made(run), service="unknown"))
    assert result.runs[0].registration_percent is None
    assert "service is not known" in result.runs[0].notes[0]
    assert result.verdict == "cannot-tell"


def unloaded(volts_were_loaded: bool, volts: float = 126.0) -> Run:
    return Run(
        "r",
        Registered(meter_kw=5.38),
        (Leg(volts, 21.76), Leg(volts, 23.62)),
        meter_volts=237.0,
        volts_were_loaded=volts_were_loaded,
    )


@pytest.mark.parametrize("run", [unloaded(False), unloaded(True)], ids=["said so", "found by itself"])
def test_unloaded_volts_are_set_aside(run):
    judged = judge_test(made(run)).runs[0]
    assert judged.measured_w == pytest.approx(118.5 * 45.38, rel=1e-9, abs=0)
    assert any("set aside" in note for note in judged.notes)
    assert any("on trust" in note for note in judged.notes)


def test_loaded_volts_that_fit_are_kept():
    judged = judge_test(made(unloaded(True, 118.6))).runs[0]
    assert judged.measured_w == pytest.approx(118.6 * 45.38, rel=1e-9, abs=0)


def test_unloaded_volts_without_any_loaded_ones_widen_the_doubt():
    run = replace(unloaded(False), meter_volts=None)
    judged = judge_test(made(run)).runs[0]
    known = judge_test(made(unloaded(False))).runs[0]
    assert judged.expanded_percent > 1.2 * known.expanded_percent
    assert any("1.5 %" in note for note in judged.notes)


def test_half_the_line_volts_stand_for_legs_not_read():
    run = Run("r", Registered(meter_kw=5.38), (Leg(None, 21.76), Leg(None, 23.62)), line_volts=237.0)
    assert judge_test(made(run)).runs[0].measured_w == pytest.approx(5377.53, rel=0, abs=0.005)


def test_legs_that_do_not_fit_the_line_are_reported():
    run = Run("r", Registered(meter_kw=5.0), (Leg(122.5, 21.0), Leg(119.0, 21.0)), line_volts=240.0)
    notes = " ".join(judge_test(made(run)).runs[0].notes)
    assert "differ by 3.5 V" in notes


def test_neutral_current_and_motor_share():
    run = Run("r", Registered(meter_kw=4.0), (Leg(119.5, 25.0, 0.8), Leg(119.5, 18.0, 0.8)))
    notes = " ".join(judge_test(made(run)).runs[0].notes)
    assert "runs in the neutral" in notes
    assert "VA for" in notes


def test_below_the_clamps_range_there_is_no_verdict():
    run = Run("r", Registered(meter_kw=0.08), (Leg(120.0, 0.3), Leg(120.0, 0.3)))
    result = judge_test(made(run))
    assert result.runs[0].zone == "cannot-tell"
    assert any("below the 0.5 A" in note for note in result.runs[0].notes)
    clamp = next(c for c in result.runs[0].budget if c.name == "clamp")
    assert abs(clamp.contribution) == pytest.approx(10.0 / 3.0**0.5, rel=0.15, abs=0)


def test_volts_lost_between_meter_and_clamp_are_in_the_budget():
    run = Run("r", Registered(meter_kw=4.8), (Leg(120.0, 20.0), Leg(120.0, 20.0)))
    wires = next(c for c in judge_test(made(run)).runs[0].budget if c.name == "wires")
    assert abs(wires.contribution) == pytest.approx(100.0 * 800.0 * 0.006 / 3.0**0.5 / 4800.0, rel=1e-6, abs=0)


def test_a_thermostat_that_cycled_is_named():
    run = replace(plug(1450.0), reference_kwh=0.12, reference_watts=1450.0)
    assert any("cycled" in note for note in judge_test(made(run)).runs[0].notes)


def test_a_background_that_moved_is_named():
    run = replace(plug(1450.0), background_w_after=400.0)
    result = judge_test(made(run))
    assert any("something switched" in note for note in result.runs[0].notes)
    assert result.runs[0].expanded_percent > judge_test(made(plug(1450.0))).runs[0].expanded_percent


def test_without_background_a_plug_in_run_is_not_judged():
    run = replace(plug(1450.0), background_w_before=None, background_w_after=None)
    assert "background_w_before" in judge_test(made(run)).runs[0].notes[0]


def test_wires_to_the_receptacle_count_for_the_meter():
    lost = 12.0**2 * 0.08
    near = judge_test(made(plug(1440.0, outlet_volts_off=None, outlet_volts_on=None, watts=1440.0))).runs[0]
    assert near.expected_w - near.measured_w == pytest.approx(lost, rel=1e-6, abs=0)
    known = judge_test(made(plug(1440.0, outlet_volts_off=121.0, outlet_volts_on=120.8, watts=1440.0))).runs[0]
    assert known.expanded_percent < near.expanded_percent


def test_energy_timed_together_does_not_depend_on_the_watch():
    run = Run(
        "r",
        Registered(pulses=270.0, seconds=600.0, counted="pulse-to-pulse"),
        reference_kwh=0.245,
        background_w_before=140.0,
        background_w_after=140.0,
    )
    slow = made(run, instruments=replace(GOOD, time_seconds=30.0))
    fast = made(run, instruments=replace(GOOD, time_seconds=0.1))
    slow_doubt, fast_doubt = (judge_test(h).runs[0].standard_percent for h in (slow, fast))
    # Only the background, watts times the same seconds, still feels the watch.
    assert slow_doubt < 1.2 * fast_doubt


def test_the_multiplier_counts():
    house = House("h", (), service="split-phase", meters=(Meter(form="4S", pulse_wh=1.0, multiplier=40.0),))
    reading = Quiet(Registered(pulses=5.0, seconds=600.0))
    assert observations(replace(house, field_test=FieldTest(quiet=(reading,))))[0].value == pytest.approx(
        1200.0, rel=1e-9, abs=0
    )


def test_register_past_its_end():
    house = House("h", (), meters=(Meter(digits=5, step_kwh=0.1),))
    reading = Quiet(Registered(register_start=99_999.5, register_end=1.5, seconds=36_000.0))
    seen = observations(replace(house, field_test=FieldTest(quiet=(reading,))))[0]
    assert seen.value == pytest.approx(200.0, rel=1e-6, abs=0)
    assert seen.standard_uncertainty == pytest.approx(0.1 / 6.0**0.5 / 2.0 * 200.0, rel=0.01, abs=0)


def test_repeats_of_one_label_are_judged_together():
    runs = tuple(plug(1450.0 * f) for f in (1.004, 0.998, 1.001, 0.999, 1.002))
    result = judge_test(made(*runs))
    assert len(result.runs) == 1
    assert result.runs[0].repeats == 5
    assert result.registration.runs == 5
    assert not result.registration.scatter


def test_scattered_repeats_widen_the_limits():
    tight = judge_test(made(*(plug(1450.0 * f) for f in (1.0, 1.001, 0.999, 1.0))))
    loose = judge_test(made(*(plug(1450.0 * f) for f in (1.0, 1.04, 0.96, 1.0))))
    assert loose.runs[0].expanded_percent > 2.0 * tight.runs[0].expanded_percent
    assert any(c.name == "scatter of repeats" and c.degrees_of_freedom == 3 for c in loose.runs[0].budget)


def test_load_points_by_the_test_amps():
    house = House("h", (), service="split-phase", meters=(Meter(form="2S", pulse_wh=1.0, test_amps=30.0),))
    run = replace(plug(1450.0), load="full")
    judged = judge_test(made(run, house=house)).runs[0]
    assert judged.indicative
    assert any("not its full load" in note for note in judged.notes)


def test_shared_instruments_do_not_average_away():
    plain = replace(GOOD, watts=Instrument(2.0, resolution=0.1))
    house = made(*(plug(1450.0, label=f"run {n}") for n in range(9)), instruments=plain)
    seen = [o for o in observations(house) if o.kind == "registration"]
    assert len(seen) == 1
    assert seen[0].standard_uncertainty > 0.9 * 0.02 / 3.0**0.5
    alone = weigh_run(house.field_test.runs[0], house, house.field_test)  # type: ignore[union-attr]
    assert isinstance(alone, Weighed)
    assert seen[0].standard_uncertainty < alone.budget.standard_uncertainty / 100.0


def test_dictionary_is_plain_json_with_the_promised_keys():
    house = replace(made(plug(1450.0), main_off=(counting(),), quiet=(Quiet(Registered(meter_kw=0.3)),)), bills=bills())
    told = judge_test(house).to_dict()
    json.dumps(told, allow_nan=False)
    assert set(told) >= {"runs", "main_off", "average_registration_percent", "verdict"}
    assert set(told["runs"][0]) >= {
        "label",
        "measured_w",
        "meter_w",
        "registration_percent",
        "expanded_percent",
        "zone",
        "notes",
    }
    assert set(told["main_off"][0]) >= {"watts", "at_most_watts", "zone"}
    assert told["runs"][0]["budget"][0]["distribution"]


def test_anything_with_a_house_will_do():
    class Result:
        house = made(plug(1450.0))

    assert judge_test(Result()).verdict == "inside"


def test_summary_is_a_frame():
    frame = judge_test(made(plug(1450.0))).summary()
    assert list(frame["zone"]) == ["inside"]


def test_categories_are_asked_for():
    run = Run("r", Registered(meter_kw=5.38), (Leg(119.7, 21.76), Leg(119.5, 23.62)))
    without = judge_test(made(run, instruments=Instruments()))
    assert any("measurement category" in step for step in without.next_steps)
    low = replace(GOOD, volts=replace(GOOD.volts, category="CAT II 600 V"))
    told = judge_test(made(run, instruments=low))
    assert told.cautions[0].startswith(
        "DANGER: The instrument for volts is below CAT III: it must not be used in a panel"
    )
    shown = told.text()
    assert shown.index("must not be used in a panel") < shown.index(told.headline[:30])
    assert "must not be used in a panel" not in " ".join(told.next_steps)
    assert "more readings behind a cover" not in shown


def test_a_clamp_below_cat_iv_on_the_service_wires_is_told_first():
    legs = (Leg(119.7, 21.76, 1.0), Leg(119.5, 23.62, 1.0))
    only_iii = replace(
        GOOD, amps=replace(GOOD.amps, category="CAT III 600 V"), volts=replace(GOOD.volts, category="CAT IV 600 V")
    )
    at_main = judge_test(made(Run("r", Registered(meter_kw=5.38), legs, clamps="main"), instruments=only_iii))
    at_load = judge_test(made(Run("r", Registered(meter_kw=5.38), legs, clamps="load"), instruments=only_iii))
    assert "not for the main lugs" in at_main.cautions[0]
    assert at_load.cautions == ()


def test_what_else_is_on_stands_at_another_angle_on_a_network():
    legs = (Leg(120.1, 16.25), Leg(120.1, 16.25))
    run = Run("r", Registered(meter_kw=3.4), legs, background_w_before=400.0)
    house = House("h", (), service="network", meters=(Meter(form="12S"),), field_test=FieldTest(GOOD, runs=(run,)))
    judged = judge_test(house).runs[0]
    assert judged.expected_w - judged.measured_w == pytest.approx(0.5 * 400.0 * (1.0 - 3.0**0.5 / 2.0), rel=1e-6, abs=0)


@pytest.mark.parametrize(
    ("on", "joint"), [(119.0, ""), (116.0, ""), (114.0, "caution"), (110.0, "caution"), (98.0, "danger")]
)
def test_an_outlet_whose_volts_fall_too_far_is_told_of_before_any_result(on, joint):
    """23 V lost at 12.5 A burn 290 W in one joint, and the answer said that the volts were not read."""
    result = judge_test(made(plug(1450.0, outlet_volts_off=121.0, outlet_volts_on=on)))
    first = " ".join(result.cautions[:1])
    assert (result.verdict == "urgent", result.dangers == ("poor-joint",)) == (joint == "danger",) * 2
    assert first.startswith({"": "", "caution": "CAUTION: The outlet's volts fell", "danger": "Stop here"}[joint])
    assert ("licensed electrician" in " ".join(result.cautions)) is bool(joint)
    assert "not read" not in result.text()


def test_an_outlet_is_told_of_where_the_run_itself_cannot_be_judged():
    bare = replace(plug(1450.0, outlet_volts_off=121.0, outlet_volts_on=112.0), reference_watts=None)
    assert "112 V" in judge_test(made(bare)).cautions[0]
    slip = replace(plug(1450.0 * 1.05), outlet_volts_off=121.0, outlet_volts_on=12.0)
    assert judge_test(made(slip)).dangers == ()
    assert "were read as 121 and 12 V" in judge_test(made(slip)).text().replace("\n ", "")


def test_no_volts_at_the_meter_hide_no_loose_neutral():
    run = Run("r", Registered(meter_kw=3.0), (Leg(112.0, 12.0), Leg(130.0, 12.0)), meter_volts=0.0)
    assert judge_test(made(run)).dangers == judge_test(made(replace(run, meter_volts=None))).dangers != ()


watts = st.none() | st.floats(0.0, 1e5)
counts = st.none() | st.floats(0.0, 1e6)
shown = st.builds(
    Registered,
    meter_kw=st.none() | st.floats(-5.0, 1e3),
    seconds=st.none() | st.floats(0.0, 1e6),
    pulses=counts,
    turns=counts,
    register_start=counts,
    register_end=counts,
)
volts = st.none() | st.floats(0.0, 700.0)
factor = st.none() | st.floats(0.0, 1.0)
legs = st.builds(Leg, volts=volts, amps=st.floats(0.0, 3000.0), power_factor=factor, leg_power_factor=factor)
tests = st.builds(
    FieldTest,
    runs=st.lists(
        st.builds(
            Run,
            label=st.sampled_from(["", "a", "b"]),
            registered=shown,
            legs=st.lists(legs, max_size=3).map(tuple),
            service=st.sampled_from([None, "split-phase", "network", "two-wire", "three-phase", "unknown"]),
            meter_volts=volts,
            line_volts=volts,
            volts_were_loaded=st.booleans(),
            background_w_before=watts,
            background_w_after=watts,
            reference_watts=watts,
            reference_kwh=st.none() | st.floats(0.0, 10.0),
            outlet_volts_off=volts,
            outlet_volts_on=volts,
            clamps=st.sampled_from([None, "main", "load"]),
        ),
        max_size=3,
    ).map(tuple),
    quiet=st.lists(st.builds(Quiet, registered=shown), max_size=2).map(tuple),
    main_off=st.lists(st.builds(MainOff, registered=shown), max_size=2).map(tuple),
)


@settings(deadline=None, max_examples=80, phases=(Phase.explicit, Phase.generate))
@given(tests, st.sampled_from([None, "2S", "12S", "16S", "??"]), st.booleans())
def test_any_readings_have_an_answer_in_words(test, form, generation):
    meter = Meter(form=form, pulse_wh=1.0, disk_wh=7.2, test_amps=30.0)
    house = House("h", (), service="split-phase", meters=(meter,), generation=generation, field_test=test)
    result = judge_test(house)
    assert result.headline
    json.dumps(result.to_dict(), allow_nan=False)
    for seen in observations(house):
        assert seen.text or seen.slip
        assert seen.standard_uncertainty >= 0.0
    assert result.text()


def steps_of(result) -> str:
    return " ".join(result.next_steps)


def test_readings_that_fit_a_right_meter_send_nobody_to_the_utility():
    """Neither a register too coarse to tell, nor a run that cannot be judged, is a reason for a test."""
    shown = Registered(seconds=21_600.0, register_start=50_123.0, register_end=50_133.0)
    coarse = Run("heater", shown, reference_kwh=8.88, background_w_before=200.0, background_w_after=200.0)
    result = judge_test(made(coarse, instruments=Instruments()))
    assert result.verdict == "cannot-tell"
    assert result.registration.low_percent < 100.0 < result.registration.high_percent
    assert "Ask the utility" not in steps_of(result)
    assert "for 5 minutes" not in steps_of(result)  # this meter was read off its register
    assert "hours" in steps_of(result)
    unread = Run("heater", Registered(pulses=280.0, seconds=600.0), reference_watts=1480.0)
    assert "Ask the utility" not in steps_of(judge_test(made(unread)))
    off = judge_test(made(*[plug(1505.0)] * 3, instruments=Instruments()))
    assert off.registration.low_percent > 100.0
    assert off.verdict == "cannot-tell"
    # a better run first, and the bills beside it: their answer says whether to ask
    assert "Ask the utility" not in steps_of(off)
    assert "weigh it together with the bills" in steps_of(off)


def test_what_was_written_is_not_said_to_be_missing_and_a_run_left_out_is_not_judged():
    bare = {"outlet_volts_off": None, "outlet_volts_on": None}
    result = judge_test(made(plug(1450.0, **bare), plug(1452.0, **bare), plug(1860.0, **bare)))
    told = " ".join(result.reasons)
    assert result.registration.runs == 2
    assert "What else was on after the run was not written down" not in told
    odd = next(line for line in result.reasons if "run 3 (plug" in line)
    assert odd.endswith("left out.")


def test_a_slow_meter_is_told_with_the_bill_that_may_follow():
    slow, fast = (judge_test(made(*[plug(1450.0 * by)] * 3)) for by in (0.8, 1.2))
    assert slow.verdict == fast.verdict == "outside"
    assert "A slow meter can mean a bill for the past" in steps_of(slow)
    assert "A slow meter" not in steps_of(fast)


def test_one_run_behind_a_cover_is_not_to_be_made_again_there():
    legs = (Leg(119.1, 20.1), Leg(118.9, 20.3))
    house = House("h", (), service="split-phase")
    one = Run(
        "water heater", Registered(meter_kw=5.6), connection="line-to-line", legs=legs, clamps="main", meter_volts=238.0
    )
    result = judge_test(made(one, house=house))
    assert "make it twice more" not in result.headline
    assert "plug-in meter" in result.headline
