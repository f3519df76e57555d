"""Interval data against bills."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from interval_houses import EDGES, ZONE, made
from numpy.testing import assert_allclose

from reconcile import reconcile
from reconcile.clock import local_instants
from reconcile.facts import Facts
from reconcile.house import Meter
from reconcile.interval import edges_told, examine, findings
from reconcile.interval.base_load import BaseLoad
from reconcile.interval.examined import _while_lived_in
from reconcile.say import Voice
from reconcile.texts.findings import finding_do, finding_text


def said(finding):
    return finding_text(finding, Voice())


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
    assert finding.case == "bill"
    assert "No time of reading" in said(finding)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.lists(st.floats(8, 17), min_size=9, max_size=9))
def test_a_new_hour_every_time_contradicts_no_bill(seed, hours):
    house, facts = made(seed=seed, hours=hours)
    result = examine(house, facts)
    assert all(tie.within for tie in result.tie_out)
    assert findings(result, house) == ()


@pytest.mark.parametrize(("at", "wrong_by"), [(0, 0.08), (0, -0.08), (4, 0.04), (4, -0.04), (7, 0.08), (7, -0.08)])
def test_a_wrong_bill_among_varying_hours_is_told_by_the_hours_of_the_others(at, wrong_by):
    house, facts = made(hours=[9, 15, 8.5, 16, 11, 14, 10, 16.5, 12])
    wrong = facts.billed_kwh.copy()
    wrong[at] = round(wrong[at] * (1 + wrong_by))
    result = examine(house, Facts(wrong))
    (finding,) = findings(result, house)
    assert finding.periods == (at,)
    assert result.reading_hour is None
    low, high = finding.figures["hours"]
    assert 3 <= high - low <= 15
    text = said(finding)
    assert ("No time of reading within a day" in text) == (finding.figures["why"] == "no-hour")
    assert ("another hour each time, as from" in text) == (finding.figures["why"] != "no-hour")


@pytest.mark.parametrize(("at", "wrong_by"), [(0, 0.04), (0, -0.04), (7, 0.04), (7, -0.04)])
def test_a_first_or_last_bill_off_by_a_days_use_is_told_with_both_reasons(at, wrong_by):
    """Nothing holds the reading at an end in place: the bill may be wrong, or read a day early or late."""
    for hours in ([10] * 9, [9, 15, 8.5, 16, 11, 14, 10, 16.5, 12]):
        house, facts = made(hours=hours)
        billed = facts.billed_kwh.copy()
        billed[at] = round(billed[at] * (1 + wrong_by))
        result = examine(house, Facts(billed))
        (finding,) = findings(result, house)
        assert (finding.case, finding.periods, finding.settles, finding.asks) == ("end", (at,), False, ())
        assert ("the bill before it holds" in said(finding)) == (at == 0)
        assert ("kWh less and nothing" in said(finding)) == (wrong_by > 0)
        assert result.tie_out[at].why == ("opened-off" if at == 0 else "closed-off")


def test_a_misread_register_between_hours_that_vary_is_one_finding():
    house, facts = made(hours=[9, 15, 8.5, 16, 11, 14, 10, 16.5, 12])
    billed = facts.billed_kwh.copy()
    billed[2] += 150
    billed[3] -= 150
    (finding,) = findings(examine(house, Facts(billed)), house)
    assert (finding.case, finding.periods) == ("moved", (2, 3))


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
    assert f"{swapped:.0f} kWh" in said(finding)
    assert "digits" in said(finding)


def test_one_ratio_throughout_is_one_finding():
    house, facts = made()
    result = examine(house, Facts(facts.billed_kwh * 10.0))
    (finding,) = findings(result, house)
    assert finding.periods == tuple(range(8))
    assert finding.settles
    assert finding.case == "ratio"
    assert finding.figures["points_to"] == "multiplier"
    assert "10.00 times" in said(finding)


def test_an_estimate_is_named():
    house, facts = made()
    wrong = facts.billed_kwh.copy()
    wrong[2] += 120.0
    bills = tuple(replace(b, read_type="estimated") if i == 2 else b for i, b in enumerate(house.bills))
    house = replace(house, bills=bills)
    (finding,) = findings(examine(house, Facts(wrong)), house)
    assert "estimate" in said(finding)


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


@pytest.mark.parametrize("hours", [-23, -16, -7.5, -1, 4, 9, 14.25, 23])
def test_one_time_of_reading_is_learnt_for_the_account(hours):
    house, facts = made(hour=hours)
    result = examine(house, facts)
    low, high = result.reading_hours
    assert low - 1 <= hours <= high + 1
    assert [tie.within for tie in result.tie_out] == [True] * 8
    assert findings(result, house) == ()


def test_a_bill_wrong_by_three_percent_is_found_at_any_time_of_reading():
    for hours in (-16, 7.5):
        house, facts = made(hour=hours)
        wrong = facts.billed_kwh.copy()
        wrong[5] = round(wrong[5] * 1.03)
        (finding,) = findings(examine(house, Facts(wrong)), house)
        assert finding.periods == (5,)


def test_inclusive_dates_are_recognised():
    house, facts = made(hour=6)
    bills = tuple(replace(bill, end=bill.end - timedelta(days=1)) for bill in house.bills)
    result = examine(replace(house, bills=bills), facts)
    assert result.inclusive_dates
    assert all(tie.within for tie in result.tie_out)
    assert not examine(house, facts).inclusive_dates


def split(house, facts, share):
    """The fourth bill in two rows at a rate change."""
    bill = house.bills[3]
    first = float(round(facts.billed_kwh[3] * share))
    middle = bill.start + timedelta(days=11)
    rows = replace(bill, end=middle, kwh=first), replace(bill, start=middle, kwh=bill.kwh - first)
    bills = (*house.bills[:3], *rows, *house.bills[4:])
    return replace(house, bills=bills), Facts(np.array([b.kwh for b in bills]))


@pytest.mark.parametrize("share", [11 / 30, 0.45])
def test_rows_of_one_bill_tie_as_one(share):
    house, facts = split(*made(hour=5), share)
    result = examine(house, facts)
    assert findings(result, house) == ()
    assert result.tie_out[3].tied_with == (3, 4)
    assert result.tie_out[3].why == "split"


def test_what_moved_between_bills_is_refuted_by_data_that_add_up_to_each():
    house, facts = split(*made(hour=5), 0.45)
    sure, loose = edges_told(examine(house, facts).tie_out)
    assert loose == {3}
    assert sure == {0, 1, 2, 4, 5, 6, 7}


def test_data_that_add_up_to_each_at_other_hours_refute_it_too():
    house, facts = made(hours=[9, 15, 8.5, 16, 11, 14, 10, 16.5, 12])
    tied = examine(house, facts).tie_out
    assert {tie.why for tie in tied} & {"any-hour", "other-hour"}
    assert edges_told(tied) == (frozenset(range(7)), frozenset())


@pytest.mark.parametrize("factor", [0.5, 2.0])
def test_one_bill_in_two_rows_and_guests_in_one_are_no_use_moved_between_bills(factor):
    """The days of the row, or of the bill, held another use than those beside it, and the data add up to both."""
    house, _ = made()
    starts = local_instants(EDGES[3:5], ZONE).astype("datetime64[s]")
    data = house.interval
    days = (data.starts >= starts[0]) & (data.starts < starts[0] + np.timedelta64(11, "D"))
    kwh = np.round(np.where(days, factor * data.kwh, data.kwh), 3)
    added = float((kwh - data.kwh)[data.starts < starts[1]].sum())
    bills = tuple(replace(b, kwh=float(round(b.kwh + added * (i == 3)))) for i, b in enumerate(house.bills))
    house = replace(house, bills=bills, interval=replace(data, kwh=kwh))
    for each in (house, split(house, Facts(np.array([b.kwh for b in bills])), 11 / 30)[0]):
        answer = reconcile(each)
        assert all(tie.within for tie in answer.interval.tie_out)
        assert "swap" not in {cause.code for cause in answer.causes if cause.probability > 0.02}


def test_a_split_bill_that_is_wrong_is_still_found():
    house, facts = made(hour=5)
    billed = facts.billed_kwh.copy()
    billed[3] *= 1.1
    house, facts = split(
        replace(house, bills=tuple(replace(b, kwh=float(round(k))) for b, k in zip(house.bills, billed, strict=True))),
        Facts(np.round(billed)),
        11 / 30,
    )
    found = findings(examine(house, facts), house)
    assert {i for finding in found for i in finding.periods} == {3, 4}


def test_data_that_end_at_the_last_midnight_do_not_contradict_a_later_reading():
    house, facts = made(hour=9)
    end = local_instants([EDGES[-1]], ZONE)[0]
    keep = house.interval.starts.astype(np.int64) < end
    part = replace(house.interval, starts=house.interval.starts[keep], kwh=house.interval.kwh[keep])
    result = examine(replace(house, interval=part), facts)
    assert [tie.within for tie in result.tie_out] == [True] * 8


def test_one_reading_at_another_hour_contradicts_nothing():
    house, facts = made(hours=[8, 8, 8, 8, 21, 8, 8, 8, 8])
    result = examine(house, facts)
    assert findings(result, house) == ()
    assert [tie.why for tie in result.tie_out].count("other-hour") in (0, 2)


def test_energy_moved_far_between_two_bills_is_one_finding():
    house, facts = made()
    billed = facts.billed_kwh.copy()
    billed[2] += 150
    billed[3] -= 150
    (finding,) = findings(examine(house, Facts(billed)), house)
    assert (finding.case, finding.periods) == ("moved", (2, 3))
    assert finding.figures["moved"] == pytest.approx(150, abs=3)
    assert "150 kWh of the later" in said(finding)


@pytest.mark.parametrize("late", [{3: 35}, {3: -14}, {0: 33}, {8: 36}, {0: -15, 4: 38}])
def test_a_reader_a_day_early_or_late_contradicts_no_bill(late):
    """At an hour of its own every time too; at either end, where no other bill makes it good, it may be told."""
    for usual in ([10] * 9, [9, 15, 8.5, 16, 11, 14, 10, 15.5, 12]):
        house, facts = made(hours=[late.get(i, hour) for i, hour in enumerate(usual)])
        result = examine(house, facts)
        told = findings(result, house)
        assert [finding.case for finding in told] in ([], ["end"] * len({0, 8} & set(late)))
        assert not any(finding.settles or finding.asks for finding in told)
        assert all(tie.within for tie in result.tie_out)


@pytest.mark.parametrize(("days", "told"), [(0.5, False), (1.0, False), (-1.0, False), (1.6, True), (-1.6, True)])
def test_energy_given_back_is_a_reading_a_day_off_only_up_to_a_day(days, told):
    """Where all other readings are of one hour; it was taken for a reading up to two days and more off."""
    house, facts = made(hour=8)
    at = local_instants([EDGES[3]], ZONE)[0] + 8 * 3600
    between = np.sort([at, at + days * 86400])
    seconds = house.interval.starts.astype(np.int64)
    held = house.interval.kwh[(seconds >= between[0]) & (seconds < between[1])].sum()
    moved = np.round(held * np.sign(days)) * ((np.arange(8) == 2).astype(float) - (np.arange(8) == 3))
    found = findings(examine(house, Facts(facts.billed_kwh + moved)), house)
    assert [(finding.case, finding.periods) for finding in found] == ([("moved", (2, 3))] if told else [])


def test_many_readings_a_day_off_and_an_estimate_are_no_other_meter():
    house, facts = made(hours=[-15, 15, 8, 37, 11, -12, 10, 16, 33])
    billed = facts.billed_kwh + 100.0 * (np.arange(8) == 4) - 100.0 * (np.arange(8) == 5)
    bills = [replace(bill, read_type="estimated") if i == 4 else bill for i, bill in enumerate(house.bills)]
    house = replace(house, bills=tuple(bills))
    result = examine(house, Facts(billed, loose_edges=frozenset({4})))
    assert not result.foreign
    assert {finding.case for finding in findings(result, house) if finding.settles} == {"estimate"}


def test_data_that_add_up_over_the_year_are_this_meters_though_some_bills_are_not():
    """Three of eight bills wrong by what the next ones make good, as guesses that nobody marked."""
    house, facts = made(hours=[9, 15, 8.5, 16, 11, 14, 10, 15.5, 12])
    billed = facts.billed_kwh + 150.0 * np.array([0, 1, -1, 0, 0.6, -0.6, 0, 0])
    result = examine(house, Facts(billed))
    assert not result.foreign
    assert {finding.case for finding in findings(result, house)} == {"moved"}


@pytest.mark.parametrize("own", [True, False])
def test_bills_that_add_up_in_twos_at_one_hour_speak_for_the_meter(own):
    """Every other bill a guess that nobody marked: two in three bills do not add up, and every two of them do."""
    house, facts = made(hour=9)
    guessed = np.array([90.0, -90.0, -140.0, 140.0, 0.0, 110.0, -110.0, 0.0])
    if not own:
        guessed = guessed * np.array([1.0, -1.0] * 4)
    result = examine(house, Facts(facts.billed_kwh + guessed))
    assert result.foreign is not own
    assert {tie.why for tie in result.tie_out if tie.within is False} == {"moved" if own else "foreign"}


@pytest.mark.parametrize("at", [0, 7])
def test_a_bill_whose_first_or_last_hours_the_data_lack_may_have_used_more_in_them_than_ever_seen(at):
    """Data that begin at the midnight after a reading at ten: an honest first bill was sent to be asked about."""
    house, facts = made(hour=10 if at == 0 else 0)
    seconds = house.interval.starts.astype(np.int64)
    edge = local_instants([EDGES[0] + timedelta(days=1) if at == 0 else EDGES[-1] - timedelta(days=1)], ZONE)[0]
    kept = seconds >= edge if at == 0 else seconds < edge
    known = replace(house.interval, starts=house.interval.starts[kept], kwh=house.interval.kwh[kept])
    more = 0.9 * facts.billed_kwh[at] / 30.0 * (np.arange(8) == at)
    result = examine(replace(house, interval=known), Facts(np.round(facts.billed_kwh + more)))
    assert findings(result, house) == ()
    gross = examine(replace(house, interval=known), Facts(facts.billed_kwh + 200.0 * (np.arange(8) == at)))
    assert findings(gross, house)


def test_an_estimate_between_two_bills_is_told_and_asks_nothing():
    house, facts = made()
    billed = facts.billed_kwh.copy()
    billed[2] += 150
    billed[3] -= 150
    bills = [replace(bill, read_type="estimated") if i == 2 else bill for i, bill in enumerate(house.bills)]
    house = replace(house, bills=tuple(bills))
    known = Facts(billed, loose_edges=frozenset({2}))
    (finding,) = findings(examine(house, known), house)
    assert (finding.case, finding.periods) == ("estimate", (2, 3))
    assert finding.asks == ()
    assert finding_do(finding, Voice()) == ""


@pytest.mark.parametrize(("ratio", "points_to"), [(1.2, "other-scope"), (2.0, "multiplier"), (1000.0, "unit")])
def test_one_ratio_settles_and_says_what_it_points_to(ratio, points_to):
    house, facts = made(hour=7)
    (finding,) = findings(examine(house, Facts(np.round(facts.billed_kwh * ratio))), house)
    assert (finding.case, finding.settles) == ("ratio", True)
    assert finding.figures["points_to"] == points_to
    assert finding.figures["ratio"] == pytest.approx(ratio, rel=0.005)
    assert said(finding)
    assert finding_do(finding, Voice())


def test_power_read_as_energy_is_recognised():
    house, facts = made(step=900)
    scaled = replace(house, interval=replace(house.interval, kwh=house.interval.kwh * 4))
    (finding,) = findings(examine(scaled, facts), scaled)
    assert finding.figures["points_to"] == "power"


def test_a_ratio_beside_one_odd_bill_names_it_too():
    house, facts = made(hour=7)
    billed = np.round(facts.billed_kwh * 1.2)
    billed[6] += 90
    found = findings(examine(house, Facts(billed)), house)
    assert [f.case for f in found] == ["ratio", "bill"]
    assert found[1].periods == (6,)


def test_the_recorded_part_of_a_bill_can_already_exceed_it():
    house, facts = made()
    keep = np.ones(len(house.interval.kwh), dtype=bool)
    keep[24 * 34 : 24 * 40] = False
    part = replace(
        house, interval=replace(house.interval, starts=house.interval.starts[keep], kwh=house.interval.kwh[keep])
    )
    billed = facts.billed_kwh.copy()
    assert examine(part, Facts(billed)).tie_out[1].within is None
    billed[1] *= 0.6
    (finding,) = findings(examine(part, Facts(billed)), part)
    assert (finding.case, finding.periods) == ("part", (1,))


def test_bills_of_a_house_that_sends_back_may_be_the_difference():
    house, facts = made(hour=4)
    rng = np.random.default_rng(8)
    back = np.round(rng.gamma(0.3, 1.0, len(house.interval.kwh)), 3)
    both = replace(house, generation=True, interval=replace(house.interval, received_kwh=back))
    edges = local_instants(EDGES, ZONE) + 4 * 3600
    sent = np.array(
        [
            back[(both.interval.starts.astype(np.int64) >= a) & (both.interval.starts.astype(np.int64) < b)].sum()
            for a, b in pairwise(edges)
        ]
    )
    for billed in (facts.billed_kwh, np.round(facts.billed_kwh - sent)):
        assert findings(examine(both, Facts(billed)), both) == ()


@pytest.mark.parametrize(("seed", "panels_kw"), [(1, 6.0), (2, 8.0), (6, 8.0)])
def test_a_net_register_read_while_the_sun_shines_contradicts_no_bill_and_one_that_is_wrong_is_found(seed, panels_kw):
    """Delivered less sent: at noon the register lies outside both ends of the day."""
    house, facts = made(seed=seed, hours=[12, 9, 16, 13, 8, 14, 11, 17, 10], panels_kw=panels_kw)
    assert findings(examine(house, facts), house) == ()
    wrong = facts.billed_kwh.copy()
    wrong[4] += 0.1 * house.interval.kwh.clip(min=0.0).sum() / 8.6
    found = findings(examine(house, Facts(wrong)), house)
    assert [one.periods for one in found] == [(4,)]


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10_000), st.integers(-96, 96), st.integers(3, 8), st.booleans())
def test_honest_accounts_are_never_reported(seed, quarters, count, inclusive):
    house, facts = made(seed=seed, hour=quarters / 4)
    bills = house.bills[:count]
    if inclusive:
        bills = tuple(replace(bill, end=bill.end - timedelta(days=1)) for bill in bills)
    house = replace(house, bills=bills)
    assert findings(examine(house, Facts(facts.billed_kwh[:count])), house) == ()


def test_a_bill_that_the_data_do_not_cover_says_why():
    house, facts = made()
    data = house.interval
    assert data is not None
    begins = local_instants([bill.start for bill in house.bills], ZONE)
    instants = data.starts.astype("datetime64[s]").astype(np.int64)
    kept = (instants >= begins[1] + 5 * 86_400) & (instants < begins[7])
    kept &= (instants < begins[4]) | (instants >= begins[4] + 12 * 86_400)
    part = replace(house, interval=replace(data, starts=data.starts[kept], kwh=data.kwh[kept]))
    told = examine(part, facts).tie_out
    assert [tie.why for tie in told] == ["outside", "partly", "", "", "gaps", "", "", "outside"]
    assert [tie.within for tie in told] == [None, None, True, True, None, True, True, None]


def test_one_ratio_since_a_bill_is_one_finding_with_its_date():
    """A wrong constant since a date: six bills 1.25 times their own hours, the bills before right."""
    for since, until, between in ((4, 8, False), (0, 3, False), (4, 8, True)):
        house, facts = made()
        kwh = facts.billed_kwh.copy()
        kwh[since:until] = np.round(1.25 * kwh[since:until])
        if between:
            kwh[since] = np.round(kwh[since] / 1.25 * 1.1)
        result = examine(house, replace(facts, billed_kwh=kwh))
        assert result.ratio.value == pytest.approx(1.25, abs=0.003)
        assert [tie.within for tie in result.tie_out] == [not since <= i < until for i in range(8)]
        (finding,) = findings(result, house)
        assert finding.key == "interval-mismatch/ratio"
        assert finding.periods == tuple(range(since, until))
        first, last = house.bills[since], house.bills[until - 1]
        word = "Since" if until == len(house.bills) else "From"
        assert said(finding).startswith(word)
        assert finding.figures["dates"] == (first.start, last.end)


def test_the_hours_of_another_meter_blame_no_bill_and_say_nothing_of_this_house():
    house, facts = made()
    rng = np.random.default_rng(8)
    months = np.repeat(rng.uniform(0.85, 1.15, 40), 24 * 15)[: len(house.interval.kwh)]
    house = replace(house, interval=replace(house.interval, kwh=house.interval.kwh * months))
    result = examine(house, facts)
    (finding,) = findings(result, house)
    assert finding.key == "interval-mismatch/foreign"
    assert not finding.settles
    assert not result.evidence
    assert result.base is None


@pytest.mark.parametrize("hours", [0, 9, None])
def test_both_registers_are_held_to_what_was_drawn(hours):
    """Bills that give what was drawn and what was sent, read at one hour or at another every time."""
    house, _ = made()
    rng = np.random.default_rng(3)
    begin = house.interval.starts.astype(np.int64)
    sent = np.round(rng.uniform(0.0, 2.5, len(begin)), 3)
    late = 3600 * (rng.integers(5, 17, len(EDGES)) if hours is None else np.full(len(EDGES), hours))
    edges = np.clip(local_instants(EDGES, ZONE) + late, begin[0], begin[-1] + 3600)
    held = [(begin >= a) & (begin < b) for a, b in pairwise(edges)]
    bills = tuple(
        replace(
            bill,
            kwh=None,
            delivered_kwh=float(round(house.interval.kwh[inside].sum())),
            received_kwh=float(round(sent[inside].sum())),
        )
        for bill, inside in zip(house.bills, held, strict=True)
    )
    house = replace(house, bills=bills, interval=replace(house.interval, received_kwh=sent), generation=True)
    left = np.array([bill.delivered_kwh - bill.received_kwh for bill in bills])
    result = examine(house, Facts(left))
    assert all(tie.within for tie in result.tie_out)
    assert result.tie_out[1].billed_kwh == bills[1].delivered_kwh
    assert not findings(result, house)


def test_steps_of_the_nights_with_which_people_went_and_came_back_ask_nothing_of_the_hours_by_day():
    spans = ((date(2025, 3, 22), date(2025, 6, 29)),)
    steps = tuple(SimpleNamespace(day=day) for day in (date(2025, 1, 5), date(2025, 3, 20), date(2025, 7, 1)))
    nothing = np.zeros(0)
    base = BaseLoad(nothing, nothing, nothing, 0.0, None, steps, nothing, nothing, nothing, np.zeros((0, 0)))
    kept = _while_lived_in(base, SimpleNamespace(empty=spans))
    assert [step.day for step in kept.steps] == [date(2025, 1, 5)]
    assert _while_lived_in(base, None) is base
