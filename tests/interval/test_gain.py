"""The meter's gain from the house's own appliances."""

import math
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
import switching_homes as homes
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from reconcile.interval.alignment import BIN, BINS, histograms, moved_at_all
from reconcile.interval.clusters import Side, clusters_of, matched
from reconcile.interval.gain import gain_signal
from reconcile.interval.resized import DRIFT, GONE, GRID, REACH, Sides, against, lowest_bin, overlap, support, widened
from reconcile.interval.size_change import LEAST_SD, SAID_AT
from reconcile.interval.small_drift import small_drift, small_rounded
from reconcile.interval.switching import Switching, switching

DAYS = 240


@cache
def home(seed=0):
    return homes.home(seed, DAYS)


def largest(made):
    return max(made.watts, key=lambda name: made.watts[name].max())


def signal(made, minutes=1, **asked):
    return gain_signal(switching(homes.metered(made, minutes, **asked), homes.ZONE))


def contrast(found, day):
    """Shift across a day and its standard uncertainty, as the rows and their covariance say it."""
    begins, ends = found.begins - found.begins[0], found.ends - found.begins[0]
    acts = np.clip((ends - np.maximum(begins, day)) / (ends - begins), 0.0, 1.0)
    precision = np.linalg.inv(found.covariance)
    variance = 1.0 / (acts @ precision @ acts)
    return float(acts @ precision @ found.value * variance), float(np.sqrt(variance))


def test_steps_are_those_that_were_made():
    kw = np.full(2000, 0.2)
    for at in range(100, 1900, 100):
        kw[at : at + 40] += 1.5
    made = replace(home(), watts={}, base=1000.0 * np.resize(kw, DAYS * homes.DAY))
    seen = switching(homes.metered(made, 1), homes.ZONE)
    assert_allclose(np.exp(seen.log_kw), 1.5, rtol=0.05, atol=0)
    assert abs(int(seen.sign.sum())) <= 1


def test_the_steps_of_a_car_s_charger_are_heard_on_a_meter_that_counts_half_more():
    kw = np.full(4000, 0.2)
    for at in range(100, 3900, 200):
        kw[at : at + 80] += 7.2
    made = replace(home(), watts={}, base=1000.0 * np.resize(kw, DAYS * homes.DAY))
    seen = switching(homes.metered(made, 5, gain=0.5, since=120), homes.ZONE)
    after = np.exp(seen.log_kw[seen.day > seen.first + 121])
    assert len(after) > 50
    assert_allclose(after, 10.8, rtol=0.05, atol=0)


@pytest.mark.parametrize("shift", [-0.15, 0.0, 0.0953])
def test_a_shift_of_all_sizes_is_measured(shift):
    rng = np.random.default_rng(3)
    sizes = np.log(rng.choice([1.0, 1.5, 2.3, 4.5], 800)) + rng.normal(0, 0.01, 800)
    side = np.repeat([0, 1], 400)
    rows = histograms(side, sizes + shift * side, 2)
    assert rows.shape == (2, BINS)
    assert_allclose(rows.sum(axis=1), 400, rtol=1e-6, atol=0)
    curve = support(Sides(rows[0], rows[1], 0.4)).moved
    assert_allclose(GRID[int(curve.argmax())] if curve.max() > 0.0 else 0.0, shift, rtol=0, atol=1.01 * BIN)


@pytest.mark.parametrize("gain", [0.1, 0.2, -0.12])
def test_a_fast_meter_moves_every_cluster_on_its_day(gain):
    found = signal(home(), 1, gain=gain, since=130)
    change = found.change
    assert change.found
    assert abs(change.day - found.begins[0] - 130) <= 3
    assert change.low <= change.day <= change.high
    shift, sd = contrast(found, 130)
    assert abs(shift - np.log1p(gain)) <= 2 * sd
    assert abs(shift) >= 4.5 * sd


def test_a_steady_meter_is_strong_evidence_against():
    found = signal(home(), 1)
    assert not found.change.found
    shift, sd = contrast(found, 130)
    assert abs(shift) <= 2 * sd
    # a step of .15, four of these away, is as unlikely as all appliances replaced by others in a month
    assert sd <= 0.038


@pytest.mark.parametrize(
    ("name", "changed"),
    [
        ("replaced", lambda made: homes.replaced(made, largest(made), 1.2, 130)),
        ("a load", lambda made: homes.with_load(made, 400.0, 130)),
        ("a new heater", lambda made: homes.new_heater(made, 1800.0, 130, 5)),
        ("volts low for a season", lambda made: homes.low_volts(made, 0.03, 100, 190)),
    ],
)
@pytest.mark.parametrize("minutes", [1, 15])
def test_what_is_no_meter_says_little_for_one(name, changed, minutes):
    """Nothing for one, but where no data tell them apart: the one appliance that is seen at a quarter of an hour was
    replaced; or the volts fell, and none are in the data. There the rows say no more than such chances allow, and the
    answer weighs them against the chance of a meter (``test_what_is_no_meter_accuses_none``).
    """
    found = signal(changed(home()), minutes)
    alike = (name, minutes) in (("replaced", 15), ("volts low for a season", 1))
    for day in range(20, 220, 10):
        shift, sd = contrast(found, day)
        assert 0.5 * (shift / sd) ** 2 <= (9.5 if alike else SAID_AT), (name, day)


def test_volts_are_taken_out_where_the_data_carry_them():
    low = homes.low_volts(home(), 0.03, 120, DAYS)
    with_volts, without = signal(low, 1, volts=True), signal(low, 1)
    moved = {cluster.kw: cluster.shift for cluster in without.change.clusters}
    assert min(moved.values()) < -0.04  # heating elements by twice the volts
    for told in (with_volts, without):  # motors are brought to too much, and no meter does the one or the other
        assert not told.change.said
        assert abs(contrast(told, 120)[0]) <= 0.01


def side(*kw, steps=100.0, spread=0.01):
    """Smoothed histogram of the steps of some appliances."""
    rng = np.random.default_rng(1)
    sizes = np.concatenate([np.log(one) + rng.normal(0.0, spread, int(steps)) for one in kw])
    return histograms(np.zeros(len(sizes), np.int64), sizes, 1)[0]


def above_none(before, after, shift, replaced=GONE, **more):
    """Log-likelihood of a shift above that of none."""
    curve = support(Sides(before, after, 0.4, **more), replaced).moved
    return float(curve[REACH + round(shift / BIN)] - curve[REACH])


def test_one_appliance_confirms_less_than_several():
    one, three = (1.5,), (1.1, 1.5, 4.5)
    moved = [above_none(side(*kw), side(*(1.1 * np.array(kw))), 0.095) for kw in (one, three)]
    assert 4.0 < moved[0] < 11.0  # it may have been replaced by another of nearly its size
    assert moved[1] > 1.5 * moved[0]


def test_more_steps_of_one_appliance_do_not_refute_its_replacement():
    few, many = (above_none(side(1.5, steps=n), side(1.65, steps=n), 0.095) for n in (100, 1000))
    assert many < few + 3.0


def test_one_of_several_that_moved_was_replaced():
    assert above_none(side(1.1, 1.5, 4.5), side(1.1, 1.65, 4.5), 0.095) < -4.0
    assert above_none(side(1.1, 1.5, 4.5), side(1.1, 1.5), 0.095) < -8.0  # one has gone
    assert above_none(side(1.1, 1.5), side(1.1, 1.5, 4.5), 0.095) < -8.0  # one has come


def test_two_of_several_that_moved_together_were_replaced():
    """One meter would have moved the third too; two replaced and one that was just then are about as seldom."""
    three = above_none(side(1.1, 1.5, 4.5), side(1.21, 1.65, 4.95), 0.095)
    assert above_none(side(1.1, 1.5, 4.5), side(1.21, 1.65, 4.5), 0.095) < min(8.0, three - 6.0)


def test_a_frequent_appliance_far_away_is_not_where_a_rare_one_went():
    """All are 18 % larger; seen from one side, one rare one seems to be the frequent one, 17 % smaller."""
    rare, frequent = (1.0,), (0.7,)
    before = side(*rare, steps=20.0) + side(*frequent, steps=400.0)
    after = side(*(1.18 * kw for kw in rare), steps=20.0) + side(*(1.18 * kw for kw in frequent), steps=400.0)
    curve = support(Sides(before, after, 0.06)).moved
    assert abs(GRID[int(curve.argmax())] - math.log(1.18)) <= 2 * BIN
    assert curve[np.abs(GRID - math.log(0.826)) <= 3 * BIN].max() < curve.max() - 12.0


def test_what_runs_far_more_often_is_not_where_a_rare_one_stayed():
    """A compressor that moved stands just where two things at once stood before: these did not stay."""
    frequent, rare = (0.34, 0.45, 0.55), side(0.408, 0.54, 0.66, steps=60.0)
    before, after = side(*frequent, steps=2000.0), side(*(1.2 * kw for kw in frequent), steps=6000.0)
    alone, beside = (above_none(one, after, math.log(1.2), longer=3.0) for one in (before, before + rare))
    assert beside > alone - 6.0


def test_what_its_season_brought_is_not_where_one_that_moved_a_little_went():
    """A heater that came for the winter, a quarter larger, runs four times as often as the iron: seen from the iron it
    is no better met than the iron itself, 5 % larger.
    """
    before, after = side(1.25, steps=60.0, spread=0.02), side(1.3125, steps=60.0, spread=0.02)
    winter = side(1.6, steps=240.0, spread=0.02)
    assert above_none(before, after + winter, 0.049) > 1.0


def test_small_motors_that_keep_still_for_months_drift_less():
    rng = np.random.default_rng(5)
    day = np.repeat(np.arange(336), 4)

    def learnt(course):
        counted = histograms(day, math.log(0.14) + course + rng.normal(0.0, 0.03, len(day)), 337).cumsum(axis=0)
        return small_drift(np.vstack([np.zeros(BINS), counted]), lowest_bin(0.06))

    still, stepped = (learnt(gain * (day >= 200)) for gain in (0.0, 0.08))
    assert still < 0.015
    assert stepped < 0.02  # a meter's step is no drift, but for the month in which it lies
    assert learnt(0.04 * np.sin(day / 58.0)) == DRIFT


@pytest.mark.parametrize("gain", [1.0, 1.2])
def test_compressors_drift_with_the_season_and_heaters_tell_the_meter(gain):
    motors, heaters = np.array([0.12, 0.18, 0.31]), np.array([1.7, 4.5])
    before, after = (
        side(*(drift * g * motors), steps=1000.0) + side(*(g * heaters)) for drift, g in ((1.0, 1.0), (1.06, gain))
    )
    curve = widened(support(Sides(before, after, 0.06)), 0.006)
    assert abs(GRID[int(curve.argmax())] - math.log(gain)) <= 2 * BIN
    if gain == 1.0:
        assert above_none(before, after, math.log(1.06)) < -3.0


def test_none_is_refuted_by_the_step_that_fits_best():
    """No shift is known no better than a step of any size lets it, however little one of 15 % fits."""
    before, after = side(1.1, 2.3, 4.6), side(1.3 * 1.1, 1.3 * 2.3, 4.6)
    assert against(Sides(before, before, 0.4), 0.15) > 15.0
    assert against(Sides(before, after, 0.4), 0.15) == 0.0


def test_sizes_that_nothing_blurs_say_more_of_a_step_and_as_much_more_of_none():
    """Levels of minutes are alike to 6 %, where quarters of an hour need wider limits: their sizes are blurred."""
    before, after = side(1.4, steps=20.0), side(1.05 * 1.4, steps=20.0)
    blurred, sharp = ([Sides(before, one, 0.4, sharp=how) for one in (after, before)] for how in (False, True))
    at = REACH + round(math.log(1.05) / BIN)
    assert support(sharp[0]).moved[at] > 1.2 * support(blurred[0]).moved[at] > 0.0
    assert against(sharp[1], 0.15) > 1.05 * against(blurred[1], 0.15) > 0.0
    seen = [switching(homes.metered(homes.home(3, 60), minutes), homes.ZONE) for minutes in (5, 15)]
    assert [one is not None and one.sharp for one in seen] == [True, False]


def test_no_shift_is_known_no_better_than_a_step_is_refuted():
    rng = np.random.default_rng(4)
    day = np.repeat(np.arange(240), 4)
    log_kw = np.log(rng.choice([0.7, 1.1], len(day))) + rng.normal(0, 0.01, len(day))
    seen = Switching(day, log_kw, np.ones(len(day), dtype=np.int64), 0.004, 0.4, True, 0, 239)
    told = gain_signal(seen, [120]).at_dates[0]
    assert told.shift == 0.0
    assert 0.015 < told.standard_uncertainty < 0.05


def test_thousands_of_steps_of_a_changing_shape_say_little():
    """A refrigerator in the heat: its sizes lie a little lower and wider than in winter."""
    rng = np.random.default_rng(5)
    winter, summer = (
        histograms(np.zeros(5000, np.int64), np.log(0.12) + x, 1)[0]
        for x in (rng.normal(0.0, 0.25, 5000), rng.normal(-0.06, 0.3, 5000))
    )
    other = side(1.5, 4.5)
    curve = support(Sides(winter + other, summer + other, 0.06)).moved
    assert curve.max() < 1.0


def test_the_overlap_of_two_sides_hears_the_smaller_one():
    few, many = side(1.5, steps=20.0), side(1.5, steps=2000.0)
    assert_allclose(overlap(few, many), 20.0, rtol=0.05, atol=0)
    assert overlap(few, side(3.0)) < 1e-6


@pytest.mark.parametrize("steps", [100.0, 300.0, 3000.0])
def test_one_appliance_is_worth_no_more_than_its_replacement(steps):
    """However sharp: a meter cause needs two appliances that agree, or a word of the diary."""
    kept = (0.15, 1.1)
    alone = above_none(side(2.5, steps=steps), side(2.75, steps=steps), 0.095)
    beside = above_none(side(2.5, *kept, steps=steps), side(2.75, *kept, steps=steps), 0.095)
    assert alone < 10.0
    assert beside < 1.0
    assert above_none(side(2.5, steps=steps), side(2.75, steps=steps), 0.095, 0.1 * GONE) > alone + 1.0


def test_how_often_an_appliance_runs_says_little():
    often = above_none(side(1.1, 2.3), side(1.21, 2.53), 0.095)
    seldom = above_none(side(1.1, 2.3), side(1.21, 2.53, steps=40.0), 0.095)
    assert abs(often - seldom) < 3.0


@settings(max_examples=25, deadline=None)
@given(st.lists(st.floats(0.8, 6.0), min_size=1, max_size=6), st.integers(-30, 30))
def test_the_likeliest_shift_is_the_one_that_was_made(kw, bins):
    apart = np.diff(np.sort(np.log(kw)))
    if np.any(apart < 0.25):
        return
    found = support(Sides(side(*kw), side(*(np.array(kw) * np.exp(bins * BIN))), 0.4))
    if abs(bins) > 4:
        assert abs(GRID[int(found.moved.argmax())] - bins * BIN) <= BIN
    else:
        assert abs(GRID[int(found.moved.argmax())]) <= 5 * BIN  # so little is none
    wide = widened(found, 0.02)
    assert wide.max() <= found.moved.max() + 1e-9


def test_sizes_cut_off_by_the_limit_of_hearing_do_not_hold_the_others():
    """Small steps are heard from one size on, whatever the meter."""
    rng = np.random.default_rng(3)
    small = np.log(rng.uniform(0.05, 0.2, 4000))

    def heard(shift):
        sizes = np.concatenate([small, np.log(np.repeat([1.1, 2.3], 60))]) + shift
        sizes = sizes[sizes > np.log(0.1)]
        return histograms(np.zeros(len(sizes), np.int64), sizes, 1)[0]

    curve = support(Sides(heard(0.0), heard(0.095), 0.1)).moved
    assert abs(GRID[int(curve.argmax())] - 0.095) <= 1.01 * BIN


def test_one_appliance_is_not_found_far_away_where_another_runs_more_often():
    """A refrigerator's thousands, seen from a kettle, made a meter that turned fast look slow."""
    before, after = (side(1.0 * gain, steps=100.0) + side(0.6 * gain, steps=2000.0) for gain in (1.0, 1.1))
    curve = support(Sides(before, after, 0.1)).moved
    assert abs(GRID[int(curve.argmax())] - math.log(1.1)) <= 1.01 * BIN


def test_clusters_have_their_sizes_and_pairs():
    rng = np.random.default_rng(2)
    sizes = np.log(np.repeat([0.8, 2.0], [200, 100])) + rng.normal(0, 0.01, 300)
    before = clusters_of(histograms(np.zeros(300, np.int64), sizes, 1)[0], 0.4)
    assert_allclose(np.exp(before.middle), [0.8, 2.0], rtol=0.01, atol=0)
    assert_allclose(before.steps, [200, 100], rtol=0.1, atol=0)
    pairs = matched(before, clusters_of(histograms(np.zeros(300, np.int64), sizes + 0.1, 1)[0], 0.4), 0.1)
    assert_allclose([pair.shift for pair in pairs], 0.1, rtol=0, atol=0.01)
    assert not len(clusters_of(np.zeros(BINS), 0.4).middle)
    assert_allclose(support(Sides(side(0.8, 2.0), np.zeros(BINS), 0.4)).moved, 0.0, rtol=0, atol=1e-9)


def test_an_appliance_blurred_on_one_side_is_matched_by_the_other():
    """A season's sizes of a heater blur it; alone such a hill is no appliance."""
    blurred, sharp = (
        Side(np.log([size]), np.full(1, 0.016), np.full(1, 25.0), np.array([sure]))
        for size, sure in ((1.06, 0.3), (1.17, 1.0))
    )
    assert [round(one.kw, 2) for one in matched(blurred, sharp, 0.1)] == [1.06]
    assert matched(blurred, replace(blurred, middle=sharp.middle), 0.1) == ()


def test_a_cluster_is_partner_once_and_of_one_that_runs_about_as_often():
    def of(kw, *steps):
        return Side(np.log(kw), np.full(len(kw), 0.01), np.array(steps, dtype=float), np.ones(len(kw)))

    two, one = of([0.46, 0.51], 100.0, 100.0), of([0.5], 300.0)
    assert [round(pair.kw, 2) for pair in matched(two, one, 0.0, 3.0)] == [0.51]
    assert matched(two, of([0.5], 11_000.0), 0.0, 3.0) == ()


def test_coarse_registers_are_heard_as_coarse():
    coarse = switching(homes.metered(home(), 60, resolution_kwh=0.1), homes.ZONE)
    assert_allclose(coarse.resolution_kw, 0.1, rtol=1e-6, atol=0)
    assert np.exp(coarse.log_kw).min() >= 0.8 - 1e-9


def test_no_gain_is_told_from_too_little():
    made = homes.home(1, 20)
    assert gain_signal(switching(homes.metered(made, 15), homes.ZONE)) is None
    daily = homes.metered(home(), 1440)
    assert switching(daily, homes.ZONE) is None
    assert switching(replace(homes.metered(home(), 15), net=True), homes.ZONE) is None


@settings(max_examples=10, deadline=None)
@given(st.floats(0.5, 3.0), st.integers(0, 3))
def test_the_unit_of_power_does_not_matter_to_a_shift(factor, seed):
    rng = np.random.default_rng(seed)
    sizes = np.log(rng.choice([1.0, 1.3], 300)) + rng.normal(0, 0.01, 300)
    place = np.repeat([0, 1], 150)
    rows = histograms(place, np.where(place, sizes + 0.1, sizes) + np.log(factor), 2)
    found = GRID[int(support(Sides(rows[0], rows[1], 0.2)).moved.argmax())]
    assert_allclose(found, 0.1, rtol=0, atol=1.5 * BIN)


def test_the_answer_is_json():
    import json

    said = json.loads(json.dumps(signal(home(), 15).to_dict(), allow_nan=False))
    assert said["steps_seen"] > 100
    assert {"date", "percent", "standard_uncertainty_percent", "clusters"} <= set(said["change"])


def test_drift_from_window_to_window_does_not_add_up_to_a_step():
    """Sizes that wander with the season: stretches of one boundary overlap those of the next."""
    rng = np.random.default_rng(4)
    day = np.sort(rng.integers(0, 390, 2500))
    wander = 0.06 * np.sin(2 * np.pi * day / 390.0)
    log_kw = np.log(rng.choice([1.1, 2.4], len(day))) + wander + rng.normal(0, 0.02, len(day))
    seen = Switching(day, log_kw, np.ones(len(day), dtype=np.int64), 0.004, 0.4, True, 0, 389)
    found = gain_signal(seen)
    told = [contrast(found, cut) for cut in range(14, 376)]
    assert max(0.5 * (shift / sd) ** 2 for shift, sd in told) <= max(found.change.likelier, 2.0) + 0.5


def test_a_second_weak_change_does_not_blur_the_first():
    rng = np.random.default_rng(5)
    day = np.sort(rng.integers(0, 390, 2500))
    moved = np.where(day >= 260, 0.1, 0.0) - np.where((day >= 120) & (day < 150), 0.035, 0.0)
    log_kw = np.log(rng.choice([1.1, 2.4, 4.4], len(day))) + moved + rng.normal(0, 0.02, len(day))
    found = gain_signal(Switching(day, log_kw, np.ones(len(day), dtype=np.int64), 0.004, 0.4, True, 0, 389))
    assert abs(found.change.day - 260) <= 1
    shift, sd = contrast(found, 260)
    assert 0.5 * (shift / sd) ** 2 >= 0.9 * min(found.change.likelier, 0.5 * (0.1 / LEAST_SD) ** 2)


def test_what_stops_long_before_a_date_did_not_move_on_it():
    """An appliance of a season ends as another begins."""
    on_it, season = (
        above_none(side(1.5), side(1.65), 0.095, gap=lambda low, high, days=days: np.full(len(low), days))
        for days in (0.0, 60.0)
    )
    assert season < on_it - 1.5


def test_a_refrigerator_is_heard_beside_a_kettle():
    rng = np.random.default_rng(6)
    minute = np.arange(60 * homes.DAY)
    fridge = 100.0 * ((minute % 70) < 25)
    kettle = 1500.0 * ((minute % homes.DAY >= 480) & (minute % homes.DAY < 490))
    made = replace(home(), watts={}, base=200.0 + fridge + kettle + rng.normal(0, 2, len(minute)))
    seen = switching(homes.metered(made, 1, resolution_kwh=0.0001), homes.ZONE)
    found = clusters_of(histograms(np.zeros(len(seen.day), np.int64), seen.log_kw, 1)[0], seen.least_kw)
    assert_allclose(np.exp(found.middle), [0.1, 1.5], rtol=0.02, atol=0)
    assert found.sure.min() > 0.9


def test_a_broad_hill_of_small_steps_is_no_appliance():
    """What the limits of hearing cut out of a family's many small steps stays where it is when all sizes move."""
    rng = np.random.default_rng(7)
    hill, sharp = (np.log(0.2) + rng.normal(0, sd, 4000) for sd in (0.4, 0.05))
    kept = [clusters_of(histograms(np.zeros(4000, np.int64), x, 1)[0], 0.06) for x in (hill, sharp)]
    assert kept[0].steps.max() < 20.0
    assert kept[1].steps.max() > 1000.0


def test_volts_move_the_heaters_and_leave_the_refrigerator():
    heaters, all_of_them = (
        widened(support(Sides(side(0.1, 0.17, 1.5, 4.5), side(*after), 0.06, volts=False)), 0.011, 0.02)
        for after in ((0.1, 0.17, 1.41, 4.23), (0.094, 0.16, 1.41, 4.23))
    )
    at = REACH + round(np.log(0.94) / BIN)
    assert heaters[at] - heaters[REACH] < 5.0  # nobody is told
    assert all_of_them[at] - all_of_them[REACH] > heaters[at] - heaters[REACH] + 3.0


@pytest.mark.parametrize("shift", [-0.12, 0.15])
def test_what_comes_back_was_no_meter(shift):
    """Heaters on loan for a season: no onset explains half of it."""
    found = season(shift)
    assert found.change.likelier > SAID_AT
    told = [contrast(found, cut) for cut in range(14, 376)]
    assert max(0.5 * (moved / sd) ** 2 for moved, sd in told) <= 2.0


def test_what_the_volts_of_a_season_do_is_not_said():
    assert not season(-0.05).change.said
    assert not season(-0.065).change.found


def season(shift):
    """Two heaters of another size for a quarter of a year, without volts in the data."""
    rng = np.random.default_rng(8)
    day = np.sort(rng.integers(0, 390, 3000))
    moved = np.where((day >= 150) & (day < 240), shift, 0.0)
    log_kw = np.log(rng.choice([1.1, 4.4], len(day))) + moved + rng.normal(0, 0.01, len(day))
    return gain_signal(Switching(day, log_kw, np.ones(len(day), dtype=np.int64), 0.004, 0.06, False, 0, 389))


def test_whole_steps_of_a_register_leave_no_comb():
    """Sizes of a few register steps would stand at the same places whatever the meter's gain."""
    coarse = switching(homes.metered(home(), 5, resolution_kwh=0.001), homes.ZONE)
    small = np.exp(coarse.log_kw[coarse.log_kw < np.log(0.2)])
    part = (small / (coarse.resolution_kw / 2.0)) % 1.0
    assert_allclose(np.histogram(part, 4, (0.0, 1.0))[0] / len(part), 0.25, rtol=0, atol=0.1)


def test_a_change_a_day_from_a_given_date_counts_once():
    """A meter exchanged in the middle of a day: the steps move a day before or after the date that is written."""
    made = home()
    seen = switching(homes.metered(made, 5, gain=0.1, since=130), homes.ZONE)
    for day in (129, 130, 131, 134):
        found = gain_signal(seen, [seen.first + day])
        assert found.change.day == seen.first + day
        shift, sd = contrast(found, day)
        assert abs(shift - np.log(1.1)) <= 2.0 * sd, day


@pytest.mark.parametrize("shift", [-0.16, 0.095, 0.18])
def test_a_hill_of_other_sizes_does_not_hide_where_one_appliance_went(shift):
    """Runs that filled no whole sample: above the appliance more of them are met where it went than where they were."""
    right = 0
    for seed in range(20):
        rng = np.random.default_rng(seed)
        before, after = (
            histograms(np.zeros(300, np.int64), np.concatenate([hill, heater]) + at, 1)[0]
            for at, hill, heater in (
                (at, np.log(1.45) + rng.normal(0.0, 0.3, 200), np.log(1.07) + rng.normal(0.0, 0.03, 100))
                for at in (0.0, shift)
            )
        )
        curve = support(Sides(before, after, 0.06)).moved
        right += abs(GRID[int(curve.argmax())] - shift) <= 4 * BIN
    assert right >= 17


def test_a_change_told_as_well_at_a_given_date_is_that_dates():
    """A heater used little for six weeks after an exchange: the day is open, but the exchange is known."""
    rng = np.random.default_rng(11)
    day = np.sort(rng.integers(0, 390, 700))
    day = day[(day < 200) | (day >= 245) | (rng.random(len(day)) < 0.1)]
    seldom = (day >= 200) & (day < 245)
    log_kw = np.log(4.4) + np.where(day >= 200, 0.1, 0.0) + rng.normal(0, 0.012, len(day))
    log_kw[seldom] -= 0.06
    seen = Switching(day, log_kw, np.ones(len(day), dtype=np.int64), 0.004, 0.4, True, 0, 389)
    assert gain_signal(seen).change.low > 200
    assert gain_signal(seen, [200]).change.day == 200


def test_other_appliances_do_not_fill_the_gap_of_one_of_a_season():
    """One ends weeks before another begins, among others of any size."""

    def likelier(last, seed):
        rng = np.random.default_rng(seed)
        day = np.sort(rng.integers(0, 390, 2500))
        one = rng.random(len(day)) < 0.2
        its = np.log(1.5) + 0.1 * (day >= 200) + rng.normal(0, 0.012, len(day))
        log_kw = np.where(one, its, rng.uniform(np.log(0.5), np.log(5.0), len(day)))
        kept = ~one | (day < last) | (day >= 200)
        seen = Switching(day[kept], log_kw[kept], np.ones(kept.sum(), dtype=np.int64), 0.004, 0.3, True, 0, 389)
        return gain_signal(seen, [200]).at_dates[0].likelier

    assert np.mean([likelier(200, seed) - likelier(150, seed) for seed in (1, 2, 3)]) > 1.0


def test_sizes_as_a_whole_speak_against_a_meter_of_half_or_twice_as_much():
    """Half-hours, in which hardly an appliance stands out: sizes that stay refute one, and doubled ones do not."""
    same, twice = signal(home(2), 30), signal(home(1), 30, gain=1.0, since=130)
    assert max(contrast(same, cut)[1] for cut in range(30, 220, 20)) < 0.45
    assert contrast(twice, 130)[1] > 0.6


@pytest.mark.parametrize("bins_left", [1, 7, 60, 400])
def test_sizes_as_a_whole_are_compared_where_only_the_largest_are_heard(bins_left):
    side = np.zeros(BINS)
    side[-1] = 50.0
    assert moved_at_all(side, side, BINS - bins_left) == 0.0


def one_appliance(seed, since=180, days=360):
    """Steps of one appliance of uneven size, once a day or so, and as many of any; the meter turns fast."""
    rng = np.random.default_rng(seed)
    count, others = rng.poisson([1.2 * days, days])
    day = rng.integers(0, days, count)
    own = np.log(1.07) + rng.normal(0.0, 0.06, count) + math.log(1.1) * (day >= since)
    day = np.concatenate([day, rng.integers(0, days, others)])
    log_kw = np.concatenate([own, rng.uniform(math.log(0.3), math.log(3.0), others)])
    order = np.argsort(day, kind="stable")
    ones = np.ones(len(day), dtype=np.int64)
    return Switching(
        20000 + day[order], log_kw[order], ones, 0.004, 0.06, True, 20000, 20000 + days - 1, np.zeros(days)
    )


def test_a_change_that_one_uneven_appliance_tells_is_dated_and_its_limits_hold():
    changes = [gain_signal(one_appliance(seed)).change for seed in range(16, 24)]
    off = np.array([change.day - 20180 for change in changes])
    assert np.mean(np.abs(off) <= 7) >= 0.85, off
    assert sum(change.low <= 20180 <= change.high for change in changes) >= 7


@pytest.mark.parametrize("gain", [1.0, -0.5])
def test_a_meter_of_twice_or_half_as_much_is_found(gain):
    """Appliances are looked for about where the sizes as a whole went, as far as that is."""
    found = signal(home(2), 15, gain=gain, since=130)
    assert found.change.found
    assert abs(found.change.shift - math.log1p(gain)) <= 0.03
    assert abs(found.change.day - found.begins[0] - 130) <= 3
    shift, sd = contrast(found, 130)
    assert abs(shift - math.log1p(gain)) <= 2.0 * sd


def test_two_appliances_seldom_used_tell_a_tenth_together_and_one_alone_does_not():
    def likelier(both, seed):
        rng = np.random.default_rng(seed)
        day = np.sort(rng.integers(0, 240, 80))
        one = rng.random(len(day)) < 0.5
        moved = 0.095 * ((one | both) & (day >= 120))
        log_kw = np.log(np.where(one, 1.5, 2.9)) + moved + rng.normal(0, 0.03, len(day))
        seen = Switching(day, log_kw, np.ones(len(day), dtype=np.int64), 0.004, 0.3, True, 0, 239)
        return gain_signal(seen, [120]).at_dates[0].likelier

    assert min(likelier(True, seed) for seed in range(6)) > 10.0
    assert max(likelier(False, seed) for seed in range(6)) < 3.0


def test_rounding_moves_small_sizes_with_a_meter_s_step_and_not_without():
    """A refrigerator in steps of 12 W: +5 % shows as +2 %; of sizes that all kept still nothing else is said."""
    before, after = side(0.15, 1.5, steps=300.0), side(0.15 * 1.02, 1.5 * 1.05, steps=300.0)

    def told(*sides, rounded):
        return support(Sides(*sides, 0.06, drift=0.0075, rounded=rounded)).moved

    at = REACH + round(math.log(1.05) / BIN)
    assert told(before, after, rounded=0.03)[at] > told(before, after, rounded=0.0)[at] + 2.0
    assert max(told(before, before, rounded=0.03).max(), told(before, before, rounded=0.0).max()) <= 0.0
    counted = np.cumsum([np.zeros(BINS), side(0.15)], axis=0)
    assert_allclose(small_rounded(counted, lowest_bin(0.06), 0.012), 0.0325, rtol=0, atol=0.0025)
