"""Each sample house ends as its story says."""

import hashlib
import json
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

import reconcile

SAMPLES = Path(__file__).parents[1] / "sample_bills"
HOUSES = sorted(path.parent.name for path in SAMPLES.glob("*/bills.csv"))

DECISIONS = {
    "all_well": "explained",
    "cold_winter": "explained",
    "danger_sign": "urgent",
    "estimated_read": "paperwork",
    "fast_meter": "outside-check",
    "fast_meter_checked": "field-test",
    "hourly_data": "explained",
    "mistyped_bill": "paperwork",
    "new_load_in_may": "outside-check",
}


@pytest.fixture(scope="module")
def weighed():
    """Every sample house, read and weighed once."""
    return {name: reconcile.reconcile(reconcile.read_house(SAMPLES / name)) for name in HOUSES}


def likeliest(result):
    return max((cause for cause in result.causes if cause.code != "none"), key=lambda cause: cause.probability)


def digest(folder):
    return {path.name: hashlib.sha256(path.read_bytes()).hexdigest() for path in folder.iterdir() if path.is_file()}


@pytest.mark.parametrize("name", DECISIONS)
def test_the_story_ends_as_told(weighed, name):
    assert weighed[name].verdict.decision == DECISIONS[name]
    assert weighed[name].verdict.field_test_warranted == (DECISIONS[name] == "field-test")


@pytest.mark.parametrize("name", HOUSES)
def test_the_story_is_told_in_the_settings(name):
    assert (SAMPLES / name / "house.toml").read_text(encoding="utf-8").startswith("# ")


@pytest.mark.parametrize("name", HOUSES)
def test_answers_are_json_and_say_the_same_twice(weighed, name):
    once = json.dumps(weighed[name].to_dict(), allow_nan=False, sort_keys=True)
    before = digest(SAMPLES / name)
    again = reconcile.reconcile(reconcile.read_house(SAMPLES / name))
    assert json.dumps(again.to_dict(), allow_nan=False, sort_keys=True) == once
    assert digest(SAMPLES / name) == before


@pytest.mark.parametrize("name", HOUSES)
def test_no_part_of_a_sample_is_left_unread(weighed, name):
    assert not [notice for notice in weighed[name].notices if "not read yet" in notice]


@pytest.mark.parametrize("name", ["all_well", "cold_winter", "danger_sign", "hourly_data"])
def test_honest_houses_raise_no_flag(weighed, name):
    result = weighed[name]
    if result.house.dangers:  # nothing is weighed before the danger is over
        assert {row.flag for row in result.rows} == {"not-judged"}
        result = reconcile.reconcile(replace(result.house, dangers=()))
    assert {row.flag for row in result.rows} == {"within"}
    assert not result.findings


def test_the_cold_winter_stands_high_and_is_explained(weighed):
    rows = weighed["cold_winter"].rows
    january, coldest = rows[4], rows[16]
    assert coldest.billed_kwh / coldest.days > 1.4 * january.billed_kwh / january.days
    assert coldest.usual_low_kwh < coldest.billed_kwh < coldest.usual_high_kwh


def test_the_estimate_and_its_catch_up_are_found(weighed):
    result = weighed["estimated_read"]
    assert {(f.code, f.periods[-1]) for f in result.findings} >= {("estimated-read", 8), ("catch-up", 9)}


def test_the_fast_meter_is_likeliest_and_dated_by_the_exchange(weighed):
    result = weighed["fast_meter"]
    assert [f.code for f in result.findings] == ["meter-exchange"]
    cause = likeliest(result)
    assert cause.code == "meter-step"
    assert cause.since == date(2025, 3, 9)
    assert cause.size_low <= 24.0 <= cause.size_high
    assert [row.flag for row in result.rows[:10]] == ["within"] * 10
    assert sum(row.flag == "over" for row in result.rows[10:]) >= 5
    assert {row.part_of for row in result.rows[10:]} == {result.causes.index(cause)}


def test_the_checks_leave_the_meter(weighed):
    before, after = likeliest(weighed["fast_meter"]), likeliest(weighed["fast_meter_checked"])
    assert after.code == "meter-step"
    assert after.probability > before.probability


def test_steps_without_covers_come_first(weighed):
    for result in weighed.values():
        hazards = [step.hazard for step in result.verdict.next_steps if not step.optional]
        assert hazards == sorted(hazards)


def test_the_load_that_came_in_may(weighed):
    result = weighed["new_load_in_may"]
    cause = likeliest(result)
    assert cause.code == "constant-load"
    assert date(2025, 4, 18) <= cause.since <= date(2025, 6, 18)
    assert [row.flag for row in result.rows[:9]] == ["within"] * 9
    assert {row.flag for row in result.rows[10:]} == {"over"}


def test_hourly_data_tie_out_within_the_register_step(weighed):
    ties = weighed["hourly_data"].interval.tie_out
    assert all(tie.within for tie in ties)
    assert max(abs(tie.billed_kwh - tie.interval_kwh) for tie in ties) <= 1.01  # a step, and 0.001 kWh a reading


def test_the_mis_keyed_bill_does_not_tie_out(weighed):
    result = weighed["mistyped_bill"]
    assert [tie.period for tie in result.interval.tie_out if not tie.within] == [4]
    (finding,) = [finding for finding in result.findings if finding.code == "interval-mismatch"]
    assert finding.periods == (4,)
    assert finding.kwh == pytest.approx(360, abs=1)
    assert result.rows[4].flag == "over"


def test_bills_alone_are_weighed_and_what_to_add_is_said(weighed):
    result = weighed["bills_only"]
    assert not result.verdict.field_test_warranted
    said = " ".join(result.notices)
    assert "temperatures" in said
    assert "loads" in said


def test_the_workbook_is_the_same_house():
    folder, book = reconcile.read_house(SAMPLES / "all_well"), reconcile.read_house(SAMPLES / "all_well.xlsx")
    assert book == folder
    assert reconcile.reconcile(book).to_dict() == reconcile.reconcile(folder).to_dict()


def test_whoever_complains_of_high_bills_is_not_told_first_that_they_are_low():
    """A list a third too long: the bills before the new meter stand under it, and what is told first is the rise."""
    house = reconcile.read_house(SAMPLES / "fast_meter")
    long = tuple(replace(load, watts=1.3 * load.watts) if load.watts else load for load in house.loads)
    headline = reconcile.reconcile(replace(house, loads=long)).verdict.headline
    assert "under what this house" in headline
    assert headline.index("meter") < headline.index("under what this house")
