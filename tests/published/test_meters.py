"""Meters, averages, creep, safety and leakage figures against their public sources.

"Read" means that the figure itself was read in the text named, "from memory" that it was not.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from reconcile.house import House, Meter
from reconcile.house.site import Display, FieldTest, Instruments, Leg, MainOff, Quiet, Registered, Run
from reconcile.meter.forms import (
    averages,
    creep_watts,
    form_2s_watts,
    network_overstatement,
)
from reconcile.meter.instruments import limit, typical
from reconcile.meter.judge import judge_test
from reconcile.meter.main_off import monthly
from reconcile.meter.registered import best, timed_watts, wait_seconds
from reconcile.meter.site_readings import observations

TURNS = (582.0, 600.0, 609.0, 597.0)
"""Seconds of one turn, Kh 7.2: exercise of LBNL, standby.lbl.gov/measure/in-home/electrometer/ (read)."""


def test_turns_table():
    """The times are read there; the four powers are worked out from them."""
    watts = [timed_watts(7.2, 1, t) for t in TURNS]
    assert [round(w, 3) for w in watts] == [44.536, 43.200, 42.562, 43.417]
    assert round(sum(watts) / 4, 3) == 43.429


def test_turns_table_through_a_reading():
    read = Registered(turns=1.0, seconds=597.0, seconds_repeats=TURNS)
    shown = best(read, Meter(type="disk", disk_wh=7.2), Instruments(), Display())
    assert shown is not None
    assert round(shown.watts, 3) == 43.429
    # s / sqrt(4) of the four powers is 0.41 W; the watch adds a hundredth.
    assert shown.standard_uncertainty == pytest.approx(0.41, rel=0, abs=0.01)


def test_worked_example_one_turn_in_ten_minutes():
    """LBNL, the same page (read): Kh 7.2, one turn in 600 s is 43.2 W."""
    assert round(timed_watts(7.2, 1, 600), 1) == 43.2


def test_ten_turns_in_thirty_seconds():
    """Worked out: 10/30 x 3.6 x 7.2 = 8.64 kW."""
    assert timed_watts(7.2, 10, 30) == pytest.approx(8640.0, rel=1e-12, abs=0)


def test_pulses_a_kilowatt_hour():
    """1600 imp/kWh is 0.625 Wh a pulse; at 100 W one in 22.5 s (read: en.wikipedia.org/wiki/Accuracy_class)."""
    assert wait_seconds(1000.0 / 1600.0, 100.0) == 22.5


def test_averages():
    """ANSI C12.1 methods as adopted in 4 NCAC 11 R08-11 (read); check values worked out."""
    found = averages({"full": 101.0, "light": 98.0, "power-factor": 100.5, "representative": 101.0})
    assert round(found["M1"], 4) == 100.4
    assert round(found["M2"], 4) == 99.5
    assert found["M3"] == 101.0
    assert round(found["M4"], 4) == 100.0714


def test_averages_of_a_judged_test():
    """The same points as runs of a field test on a meter whose test amps are 30 A."""
    runs = tuple(
        Run(
            label,
            Registered(meter_kw=watts * percent / 1e5, kw_repeats=()),
            tuple(Leg(120.0, amps / factor, factor) for _ in range(2)),
            line_volts=240.0,
        )
        for label, watts, percent, amps, factor in (
            ("full", 7200.0, 101.0, 30.0, 1.0),
            ("light", 720.0, 98.0, 3.0, 1.0),
            ("lagging", 3600.0, 100.5, 15.0, 0.5),
        )
    )
    house = House(
        "averages",
        (),
        service="split-phase",
        meters=(Meter(form="2S", test_amps=30.0),),
        field_test=FieldTest(display=Display(step_kw=1e-4), runs=runs),
    )
    result = judge_test(house)
    assert [run.load for run in result.runs] == ["full", "light", "power-factor"]
    told = result.to_dict()["average_registration_percent"]
    assert {name: round(value, 3) for name, value in told.items()} == {
        "M1": 100.4,
        "M2": 99.5,
        "M3": 101.0,
        "M4": 100.071,
    }
    assert not any(average.indicative for average in result.averages)


def test_creep_of_pennsylvania():
    """One turn in five minutes with Kh 7.2 is 86.4 W, 63.1 kWh in 730 h (rule read: 52 Pa. Code 57.20)."""
    assert creep_watts(7.2) == 86.4
    assert round(monthly(86.4, None)[0], 1) == 63.1
    assert creep_watts(7.2, 600.0) == 43.2


def test_wisconsin_creep_correction():
    """86.4 W for a quarter of a year's 8766 h is 189.3 kWh (share read: PSC 113.0924; worked out)."""
    assert round(creep_watts(7.2) * 0.25 * 8766.0 / 1000.0, 1) == 189.3


@pytest.mark.parametrize(("watt_hours", "watts", "minutes"), [(7.2, 43.2, 10.0), (7.2, 10.0, 43.2), (1.0, 10.0, 6.0)])
def test_wait_times(watt_hours, watts, minutes):
    """Worked out from 3600 Kh / P."""
    assert wait_seconds(watt_hours, watts) / 60.0 == pytest.approx(minutes, rel=1e-9, abs=0)


def test_no_pulse_in_a_quarter_of_an_hour():
    """Zero pulses of 1 Wh in 15 minutes prove P < 4 W (worked out); a multiplier of 40 makes it 160 W."""
    for multiplier, bound in ((1.0, 4.0), (40.0, 160.0)):
        shown = best(
            Registered(pulses=0.0, seconds=900.0),
            Meter(pulse_wh=1.0, multiplier=multiplier),
            Instruments(),
            Display(),
        )
        assert shown is not None
        assert shown.nothing
        assert shown.at_most_watts == pytest.approx(bound, rel=1e-12, abs=0)


def test_network_factor():
    """Two legs' V x I overstate a load between them by 2 / sqrt(3) (geometry)."""
    assert network_overstatement() == pytest.approx(2.0 / math.sqrt(3.0), rel=1e-15, abs=0)
    volts = 208.0 / math.sqrt(3.0)
    run = Run("water heater", Registered(meter_kw=3.38), (Leg(volts, 16.25), Leg(volts, 16.25)))
    result = judge_test(House("flat", (), service="network", field_test=FieldTest(runs=(run,))))
    assert result.runs[0].measured_w == pytest.approx(208.0 * 16.25, rel=1e-9, abs=0)


def test_form_2s_with_unequal_legs():
    """118 V x 25 A and 122 V x 5 A: true 3560 W, registered 3600 W, nothing broken (arithmetic)."""
    assert form_2s_watts((118.0, 122.0), (25.0, 5.0)) == 3600.0
    run = Run("one leg", Registered(meter_kw=3.6), (Leg(118.0, 25.0), Leg(122.0, 5.0)))
    house = House(
        "h", (), service="split-phase", meters=(Meter(form="2S"),), field_test=FieldTest(Instruments(), runs=(run,))
    )
    judged = judge_test(house).runs[0]
    assert judged.measured_w == pytest.approx(3560.0, rel=1e-12, abs=0)
    assert judged.expected_w == pytest.approx(3600.0, rel=1e-12, abs=0)
    assert judged.registration_percent == pytest.approx(100.0, rel=0, abs=1e-9)
    assert any("nothing broken" in note for note in judged.notes)


def test_common_practice_two_legs_against_a_display():
    """Common practice, no published source: legs 119.7 V x 21.76 A and 119.5 V x 23.62 A, display 5380 W at 237 V.

    A heating element takes its amps at power factor 1; where nobody says so, the readings agree and are held back.
    """
    run = Run(
        "water heater", Registered(meter_kw=5.38), (Leg(119.7, 21.76, 1.0), Leg(119.5, 23.62, 1.0)), meter_volts=237.0
    )
    house = House("h", (), service="split-phase", meters=(Meter(form="2S"),), field_test=FieldTest(runs=(run,)))
    result = judge_test(house)
    judged = result.runs[0]
    assert [round(w, 2) for w in judged.leg_watts] == [2604.67, 2822.59]
    assert round(judged.measured_w or 0.0, 2) == 5427.26
    assert judged.zone == "cannot-tell"
    assert judged.low_percent < 100.0 < judged.high_percent  # type: ignore[operator]
    told = " ".join(judged.notes)
    assert "5,377.5 W" in told
    assert abs(5377.5 - 5380.0) < 3.0
    assert "explain 0.9 %" in told
    assert "consistent" in told
    assert result.verdict == "cannot-tell"
    assert "agree with a right meter" in result.headline
    assert any("would detect an error" in step for step in result.next_steps)
    unsaid = replace(run, legs=tuple(replace(leg, power_factor=None) for leg in run.legs))
    result = judge_test(replace(house, field_test=FieldTest(runs=(unsaid,))))
    assert result.verdict == "cannot-tell"
    assert "agree with a right meter" in result.headline
    assert "rest on something that was not read" in result.headline


def test_main_off_reads_zero_on_a_sound_meter():
    """NC R08-12, Utah R746-310-3 and Wisconsin PSC 113.0924 allow no registration at no load (read)."""
    house = House(
        "h",
        (),
        meters=(Meter(pulse_wh=1.0),),
        field_test=FieldTest(main_off=(MainOff(Registered(pulses=0.0, seconds=900.0), True, True),)),
    )
    result = judge_test(house)
    assert result.main_off[0].zone == "inside"
    assert observations(house)[0].at_most
    assert observations(house)[0].value == pytest.approx(4.0, rel=1e-12, abs=0)


def test_grounded_element():
    """120 V across a whole 12.8 ohm element: 1125 W, 27.0 kWh a day, 821 kWh in 730 h (worked out by Ohm's law)."""
    watts = 120.0**2 / 12.8
    assert round(monthly(watts, None)[0]) == 821


def test_portable_standard():
    """Fla. Admin. Code 25-6.055(1), read at flrules.elaws.us/fac/25-6.055: within 0.10 % at power factor 1."""
    assert limit(typical()["utility's portable standard"].instrument, 1000.0) == pytest.approx(1.0, rel=1e-12, abs=0)


@pytest.mark.parametrize("accuracy", [0.2, 0.5])
def test_c12_20_class(accuracy):
    """ANSI C12.20 classes, read second-hand at en.wikipedia.org/wiki/ANSI_C12.20."""
    instrument = typical()[f"revenue-grade reference (class {accuracy:g})"].instrument
    assert instrument.percent_of_reading == accuracy


def test_quiet_reading_by_a_display_is_good_to_half_a_step():
    house = House("h", (), field_test=FieldTest(quiet=(Quiet(Registered(meter_kw=0.31)),)))
    seen = observations(house)[0]
    assert seen.value == pytest.approx(310.0, rel=1e-12, abs=0)
    assert seen.standard_uncertainty == pytest.approx(5.0 / math.sqrt(3.0), rel=1e-9, abs=0)
