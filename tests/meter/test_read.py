"""Field tests as people write them: both forms read alike, and every slip is a sentence that says where and what."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest

from reconcile.house import Bill, House, Meter
from reconcile.house.site import Leg
from reconcile.meter import judge_test
from reconcile.read.on_site.field_checks import counted_by

from .written import GOOD, HOUSE, broken, grid, read, toml


def test_good_as_toml():
    test, gate = read(toml(GOOD))
    assert gate.faults == []
    assert test.runs[0].legs[1] == Leg(119.5, 23.62, 1.0)
    assert test.quiet[0].on == ("Refrigerator",)
    assert test.main_off[0].all_disconnects_off is True
    assert test.instruments.amps is not None
    assert test.instruments.amps.min_amps == 0.5


def test_toml_and_sheet_give_the_same_test():
    from_toml, _ = read(toml(GOOD))
    from_sheet, gate = read(grid(GOOD))
    assert gate.faults == []
    assert from_sheet == from_toml


def test_repeats_are_a_list_or_parted_by_semicolons():
    made = broken("quiet", 0, "seconds", value=[582.0, 600.0, 609.0, 597.0])
    made["quiet"][0]["pulses"] = 1
    for source in (toml(made), grid(made)):
        test, gate = read(source)
        assert gate.faults == []
        assert test.quiet[0].registered.seconds_repeats == (582.0, 600.0, 609.0, 597.0)


RUN, PLUG = ("run", 0), ("run", 1)
BROKEN = {
    # name: (path, value, column in TOML, column in the sheet, words of the problem)
    "volts and amps exchanged": (
        (*RUN, "legs", 0),
        {"volts": 21.76, "amps": 119.7},
        "legs[1].volts",
        "volts_1",
        "exchanged",
    ),
    "line volts in a leg": ((*RUN, "legs", 1, "volts"), 239.0, "legs[2].volts", "volts_2", "volts between the legs"),
    "leg volts for the meter's": ((*RUN, "meter_volts"), 118.5, "meter_volts", "meter_volts", "leg's volts to neutral"),
    "W for kW": ((*RUN, "meter_kw"), 5380.0, "meter_kw", "meter_kw", "more kW than the service carries"),
    "kW for W": ((*PLUG, "reference_watts"), 1.45, "reference_watts", "reference_watts", "is it kW"),
    "background in kW": (
        (*PLUG, "background_w_before"),
        0.15,
        "background_w_before",
        "background_w_before",
        "is it kW",
    ),
    "amps over the service": ((*RUN, "legs", 0, "amps"), 2176.0, "legs[1].amps", "amps_1", "more than the service"),
    "a run of 0 s": ((*PLUG, "seconds"), 0.0, "seconds", "seconds", "above 0"),
    "negative seconds": ((*PLUG, "seconds"), -600.0, "seconds", "seconds", "above 0"),
    "power factor over 1": (
        (*RUN, "legs", 0, "power_factor"),
        1.2,
        "legs[1].power_factor",
        "power_factor_1",
        "above 1",
    ),
    "power factor in percent": (
        (*RUN, "legs", 0, "power_factor"),
        98.0,
        "legs[1].power_factor",
        "power_factor_1",
        "above 1",
    ),
    "another service": ((*RUN, "service"), "two-wire", "service", "service", "house has one"),
    "unknown service": ((*RUN, "service"), "one phase", "service", "service", "not known"),
    "a leg missing": ((*RUN, "legs"), [{"volts": 119.7, "amps": 21.76}], "legs[1].amps", "amps_1", "has 2 legs"),
    "a leg too many": (
        (*RUN, "legs"),
        [{"volts": 119.7, "amps": 21.7}, {"volts": 119.7, "amps": 21.7}, {"volts": 119.7, "amps": 21.7}],
        "legs[3].amps",
        "amps_3",
        "has 2 legs",
    ),
    "a leg without amps": ((*RUN, "legs", 1, "amps"), None, "legs[2].amps", "amps_2", "nothing is written"),
    "two power factors": (
        (*RUN, "legs", 0, "leg_power_factor"),
        0.9,
        "legs[1].leg_power_factor",
        "leg_power_factor_1",
        "side by side",
    ),
    "text for a number": ((*RUN, "meter_kw"), "five", "meter_kw", "meter_kw", "where a number is wanted"),
    "a comma for the point": ((*RUN, "legs", 0, "volts"), "119,7", "legs[1].volts", "volts_1", "comma|decimal sign"),
    "no reading of the meter": ((*RUN, "meter_kw"), None, "meter_kw", "meter_kw", "reading is missing"),
    "no load": ((*RUN, "legs"), None, "label", "label", "no load was measured"),
    "pulses without seconds": (("quiet", 0, "seconds"), None, "seconds", "seconds", "without seconds"),
    "pulses for another time": (("quiet", 0, "pulses"), 50_000, "pulses", "pulses", "more than the service carries"),
    "half a pulse": (("quiet", 0, "pulses"), 50.5, "pulses", "pulses", "whole"),
    "negative pulses": (("main_off", 0, "pulses"), -1, "pulses", "pulses", "below 0"),
    "one register reading": (
        ("quiet", 0, "register_start"),
        412.0,
        "register_end",
        "register_end",
        "one register reading",
    ),
    "unknown key": ((*RUN, "metre_kw"), 5.38, "metre_kw", "metre_kw", "not known"),
    "unknown word": ((*RUN, "connection"), "delta", "connection", "connection", "not known"),
    "unknown load point": ((*RUN, "load"), "heavy", "load", "load", "not known"),
    "neither yes nor no": (
        ("main_off", 0, "all_disconnects_off"),
        "perhaps",
        "all_disconnects_off",
        "all_disconnects_off",
        "neither",
    ),
    "a water heater on a plug": (
        (*PLUG, "reference_watts"),
        4500.0,
        "reference_watts",
        "reference_watts",
        "plug-in meter",
    ),
    "Wh for kWh": ((*PLUG, "reference_kwh"), 241.0, "reference_kwh", "reference_kwh", "is it Wh"),
    "negative background": ((*PLUG, "background_w_after"), -5.0, "background_w_after", "background_w_after", "below 0"),
}


@pytest.mark.parametrize("name", list(BROKEN))
def test_broken_toml(name):
    path, value, column, _, words = BROKEN[name]
    _, gate = read(toml(broken(*path, value=value)))
    assert len(gate.faults) == 1, [str(f) for f in gate.faults]
    fault = gate.faults[0]
    assert re.search(words, fault.problem)
    assert fault.file == "field_test.toml"
    kind = path[0]
    assert fault.column == f"{kind}[{path[1] + 1}].{column}"
    assert fault.row is not None
    assert fault.remedy.endswith((".", "?"))


@pytest.mark.parametrize("form", [toml, grid])
@pytest.mark.parametrize(
    ("written", "other"), [("outlet_volts_off", "outlet_volts_on"), ("outlet_volts_on", "outlet_volts_off")]
)
def test_one_reading_of_a_receptacles_volts_is_told_and_refuses_nothing(form, written, other):
    _, gate = read(form(broken(*PLUG, written, value=120.5)))
    assert not gate.faults
    assert any(other in notice and "tell nothing alone" in notice for notice in gate.notices)


@pytest.mark.parametrize("name", list(BROKEN))
def test_broken_sheet(name):
    path, value, _, column, words = BROKEN[name]
    made = broken(*path, value=value)
    _, gate = read(grid(made))
    assert len(gate.faults) == 1, [str(f) for f in gate.faults]
    fault = gate.faults[0]
    assert re.search(words, fault.problem)
    assert (fault.file, fault.sheet, fault.column) == ("house.xlsx", "field test", column)
    above = len(grid({**made, "run": [], "quiet": [], "main_off": []}).rows)
    order = {"run": 0, "quiet": len(made["run"]), "main_off": len(made["run"]) + len(made["quiet"])}
    expected = above if words == "not known" and column == "metre_kw" else above + 1 + order[path[0]] + path[1]
    assert fault.row == expected


BROKEN_ABOVE = {
    "percent over 50": (("instrument", "volts", "percent_of_reading"), 70.0, "above 50"),
    "digits without a digit": (("instrument", "watts", "resolution"), None, "size of one"),
    "range without range": (("instrument", "amps", "percent_of_range"), 1.0, "needs the range"),
    "no category": (("instrument", "volts", "category"), "good", "no measurement category"),
    "unknown quantity": (("instrument", "ohms"), {"digits": 2}, "not known"),
    "display step of 0": (("display", "step_kw"), 0.0, "above 0"),
    "slow hand": (("instrument", "time", "seconds"), 900.0, "above 60"),
}


@pytest.mark.parametrize("name", list(BROKEN_ABOVE))
@pytest.mark.parametrize("form", [toml, grid])
def test_broken_instruments(name, form):
    path, value, words = BROKEN_ABOVE[name]
    _, gate = read(form(broken(*path, value=value)))
    assert len(gate.faults) == 1, [str(f) for f in gate.faults]
    assert words in gate.faults[0].problem
    assert ".".join(str(step) for step in path[:-1]) in (gate.faults[0].column or "")


def test_legs_exchanged_between_repeats():
    made = broken("run", 0, "load", value="full")
    again = {**made["run"][0], "legs": list(reversed(made["run"][0]["legs"]))}
    made["run"].insert(1, again)
    _, gate = read(toml(made))
    assert [f.column for f in gate.faults] == ["run[2].legs[1].amps"]
    assert "other way round" in gate.faults[0].problem


def test_two_services_among_the_runs():
    made = broken("run", 1, "service", value="network")
    _, gate = read(toml(made), replace(HOUSE, service="unknown"))
    assert any("more than one service" in f.problem for f in gate.faults)


def test_a_register_that_went_backwards():
    made = broken("quiet", 0, "register_start", value=412.0)
    made["quiet"][0]["register_end"] = 411.0
    _, gate = read(toml(made))
    assert [f.column for f in gate.faults] == ["quiet[1].register_end"]
    _, gate = read(toml(made), replace(HOUSE, meters=(Meter(pulse_wh=1.0, digits=5),)))
    assert any("more than the service carries" in f.problem for f in gate.faults)


def test_flashes_a_kwh_written_for_watt_hours_a_flash_are_told_how_to_write():
    run = {
        "label": "heater", "pulses": 137, "seconds": 300, "connection": "line-to-neutral", "reference_watts": 1500,
        "background_w_before": 150, "background_w_after": 150,
    }  # fmt: skip
    for written, wh in ((1000, "1 Wh"), (800, "1.25 Wh")):
        _, gate = read(toml({"display": {"count_wh": written}, "run": [run]}), replace(HOUSE, meters=(Meter(),)))
        assert any(f"then {wh}" in str(f) and f"{written} imp/kWh" in str(f) for f in gate.faults), gate.faults


def test_a_count_whose_size_is_not_known():
    _, gate = read(toml(GOOD), replace(HOUSE, meters=(Meter(form="2S"),)))
    assert {f.column for f in gate.faults} == {"run[2].pulses", "quiet[1].pulses", "main_off[1].pulses"}
    assert all("pulse_wh" in f.remedy for f in gate.faults)


def test_all_faults_at_once():
    made = broken("run", 0, "meter_kw", value=5380.0)
    made["run"][1]["seconds"] = 0.0
    made["quiet"][0]["pulses"] = -1
    _, gate = read(toml(made))
    assert len(gate.faults) == 3


def test_a_sheet_without_its_header():
    made = grid(GOOD)
    made.rows = [row for row in made.rows if row[1][0] != "kind"]
    _, gate = read(made)
    assert any("column names is missing" in f.problem for f in gate.faults)


def test_a_value_in_a_column_of_another_kind():
    made = broken("main_off", 0, "reference_watts", value=100.0)
    _, gate = read(grid(made))
    assert "has no such value" in gate.faults[0].problem


def test_rows_not_filled_in_count_for_nothing():
    made = grid(GOOD)
    made.rows.append((99, ["run", "space heater"]))
    test, gate = read(made)
    assert gate.faults == []
    assert len(test.runs) == len(GOOD["run"])
    assert any("Row 99" in notice for notice in gate.notices)


def test_what_is_read_can_be_judged():
    test, _ = read(toml(GOOD))
    result = judge_test(House("h", (), service="split-phase", meters=HOUSE.meters), test)
    assert [run.kind for run in result.runs] == ["clamps", "plug-in"]


def test_what_one_flash_is_worth_may_stand_on_the_sheet():
    """The plan asked to write it down, and the sheet had no cell for it: every reading was then refused."""
    made = {"display": {"count_wh": 1.0}, "quiet": [{"pulses": 200, "seconds": 3600}]}
    bare = replace(HOUSE, meters=(Meter(),))
    test, gate = read(toml(made), bare)
    assert not gate.faults
    assert counted_by(bare, test.display).meters[0].pulse_wh == 1.0
    assert counted_by(replace(bare, meters=(Meter(pulse_wh=2.0),)), test.display).meters[0].pulse_wh == 2.0
    _, without = read(toml({"quiet": made["quiet"]}), bare)
    assert "above the runs" in without.faults[0].remedy


@pytest.mark.parametrize(("year", "refused"), [(2026, False), (2052, True)])
def test_a_reading_many_years_after_the_last_bill_is_asked_about(year, refused):
    made = {"quiet": [{"date": f"{year}-06-01", "meter_kw": 0.3}]}
    billed = replace(HOUSE, bills=(Bill(date(2025, 1, 1), date(2025, 2, 1), 500.0),))
    _, gate = read(toml(made), billed)
    assert [f.remedy for f in gate.faults] == ["Check the year."] * refused
