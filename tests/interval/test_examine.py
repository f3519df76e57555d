"""Interval data against bills."""

from dataclasses import replace
from datetime import UTC, datetime

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from interval_houses import ZONE, made
from numpy.testing import assert_allclose

from reconcile.facts import Facts
from reconcile.house import Meter
from reconcile.interval import examine, findings


def test_no_interval_data_no_result():
    house, facts = made()
    assert examine(replace(house, interval=None), facts) is None


@pytest.mark.parametrize("step", [900, 1800, 3600])
def test_ties_out_at_midnight_within_the_register_steps(step):
    house, facts = made(step=step)
    result = examine(house, facts)
    assert result.reading_hour == 0
    assert [tie.within for tie in result.tie_out] == [True] * 8
    for tie in result.tie_out:
        assert abs(tie.billed_kwh - tie.interval_kwh) <= 1.0
    assert findings(result, house) == ()
    assert_allclose(result.kwh, house.interval.kwh.sum(), rtol=1e-12)
    assert result.start.isoformat() == "2025-01-02T00:00:00-05:00"
    assert result.step_minutes == step / 60


def test_the_sums_stand_on_local_midnights_through_both_clock_changes():
    house, facts = made()
    result = examine(house, facts)
    stamps = [datetime.fromtimestamp(int(s), UTC).astimezone(ZONE).date() for s in house.interval.starts.astype(int)]
    for tie, bill in zip(result.tie_out, house.bills, strict=True):
        inside = np.array([bill.start <= day < bill.end for day in stamps])
        assert_allclose(tie.interval_kwh, house.interval.kwh[inside].sum(), rtol=1e-10)


def test_another_hour_of_reading_is_found():
    house, facts = made(hour=9)
    result = examine(house, facts)
    assert all(tie.within for tie in result.tie_out)
    assert result.reading_hour is not None


def test_hours_that_wander_are_allowed_for_and_a_gross_error_still_shows():
    house, facts = made(hours=[3, 17, 8, 22, 1, 14, 19, 6, 11])
    result = examine(house, facts)
    assert all(tie.within for tie in result.tie_out)
    wrong = facts.billed_kwh.copy()
    wrong[4] += 90.0
    result = examine(house, Facts(wrong))
    assert [tie.within for tie in result.tie_out] == [True] * 4 + [False] + [True] * 3
    (finding,) = findings(result, house)
    assert "any hour of reading" in finding.text


def test_a_mis_keyed_bill_is_told_with_its_period_and_by_how_much():
    house, facts = made()
    wrong = facts.billed_kwh.copy()
    text = f"{wrong[3]:.0f}"
    swapped = float(text[1] + text[0] + text[2:])
    wrong[3] = swapped
    result = examine(house, Facts(wrong))
    (finding,) = findings(result, house)
    assert finding.code == "interval-mismatch"
    assert finding.periods == (3,)
    assert finding.settles
    assert_allclose(finding.kwh, swapped - facts.billed_kwh[3], rtol=0, atol=1.0)
    assert f"{swapped:.0f} kWh" in finding.text
    assert "digits" in finding.text
    assert "midnight" in finding.text


def test_one_ratio_throughout_is_one_finding():
    house, facts = made()
    result = examine(house, Facts(facts.billed_kwh * 10.0))
    (finding,) = findings(result, house)
    assert finding.periods == tuple(range(8))
    assert not finding.settles
    assert "10 times" in finding.text


def test_an_estimate_is_named():
    house, facts = made()
    wrong = facts.billed_kwh.copy()
    wrong[2] += 120.0
    bills = tuple(replace(b, read_type="estimated") if i == 2 else b for i, b in enumerate(house.bills))
    house = replace(house, bills=bills)
    (finding,) = findings(examine(house, Facts(wrong)), house)
    assert "estimate" in finding.text


def test_few_gaps_leave_room_for_what_is_missing_and_many_stop_the_judging():
    house, facts = made()
    few, many = np.ones(len(house.interval.kwh), dtype=bool), np.ones(len(house.interval.kwh), dtype=bool)
    few[24 * 40 : 24 * 40 + 6] = False
    many[24 * 40 : 24 * 44] = False
    for keep, expected, missing in ((few, True, 6), (many, None, 96)):
        part = replace(house.interval, starts=house.interval.starts[keep], kwh=house.interval.kwh[keep])
        tie = examine(replace(house, interval=part), facts).tie_out[1]
        assert tie.within is expected
        assert tie.missing_intervals == missing


def test_a_period_outside_the_data_is_not_judged():
    house, facts = made()
    part = replace(house.interval, starts=house.interval.starts[24 * 70 :], kwh=house.interval.kwh[24 * 70 :])
    within = [tie.within for tie in examine(replace(house, interval=part), facts).tie_out]
    assert within == [None, None, None] + [True] * 5


def test_a_bill_without_kwh_is_not_judged():
    house, facts = made()
    billed = facts.billed_kwh.copy()
    billed[0] = np.nan
    assert examine(house, Facts(billed)).tie_out[0].within is None


def test_multiplier_widens_the_register_step():
    house, facts = made(rounding=40.0)
    one = replace(house, meters=(Meter(step_kwh=1.0, multiplier=40.0),))
    assert examine(one, facts).reading_hour == 0
    assert all(tie.within for tie in examine(one, facts).tie_out)
    assert examine(replace(house, meters=(Meter(),)), facts).reading_hour is None


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.sampled_from([900, 1800, 3600]), st.floats(0.05, 20.0))
def test_a_factor_on_both_changes_no_judgement(seed, step, factor):
    house, facts = made(seed=seed, step=step)
    scaled = replace(
        house,
        interval=replace(house.interval, kwh=house.interval.kwh * factor),
        meters=(Meter(step_kwh=factor),),
    )
    result = examine(scaled, Facts(facts.billed_kwh * factor))
    assert [tie.within for tie in result.tie_out] == [True] * 8


def test_the_answer_is_json():
    import json

    house, facts = made()
    said = json.loads(json.dumps(examine(house, facts).to_dict()))
    assert said["tie_out"][0]["within"] is True
    assert said["readings"] == len(house.interval.kwh)


def test_a_bill_without_interval_data_is_still_json():
    import json

    house, facts = made()
    part = replace(house.interval, starts=house.interval.starts[24 * 70 :], kwh=house.interval.kwh[24 * 70 :])
    none_at_all = replace(house.interval, kwh=np.zeros(len(house.interval.kwh)))
    for interval in (part, none_at_all):
        result = examine(replace(house, interval=interval), facts)
        assert result.tie_out[0].difference_percent is None
        json.dumps(result.to_dict(), allow_nan=False)
        findings(result, house)


def test_a_negative_bill_of_a_house_that_makes_its_own_is_told():
    house, facts = made()
    billed = facts.billed_kwh.copy()
    billed[3] = -billed[3]
    house = replace(house, generation=True)
    (finding,) = findings(examine(house, Facts(billed)), house)
    assert finding.periods == (3,)
