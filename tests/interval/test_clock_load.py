"""A load on a timer, found in the hours in which it runs."""

import sys
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose

sys.path.insert(0, str(Path(__file__).parents[1]))
import data_homes
import switching_homes as homes

import reconcile
from reconcile.clock import local_instants, local_seconds, standard_time
from reconcile.decide.timer import as_timer
from reconcile.facts import Facts
from reconcile.house import Interval, Load
from reconcile.interval import examine
from reconcile.interval.clock_load import ClockLoad, clock_load
from reconcile.interval.clock_signs import at_a_clock_change, of_one_season
from reconcile.interval.clock_size import told_size
from reconcile.interval.clock_taken import without
from reconcile.interval.hour_blocks import Hours
from reconcile.say import Voice
from reconcile.texts.interval_signals import running_text

SEED, SINCE, CLOCK = 6, 250, (22.5, 4.0)


def data(made, minutes=15):
    return homes.metered(made, minutes)


@pytest.fixture(scope="module")
def usual():
    return homes.home(SEED, data_homes.DAYS)


@pytest.mark.parametrize("minutes", [5, 15, 30, 60])
@pytest.mark.parametrize("clock", [(22.5, 4.0), (9.0, 8.0)])
def test_a_timer_is_found_with_its_hours_watts_and_date(usual, minutes, clock):
    seen = clock_load(data(homes.with_timed(usual, 1000.0, clock, SINCE), minutes), homes.ZONE)
    assert seen is not None
    assert abs((seen.day - usual.first).days - SINCE) <= 3
    assert seen.low <= seen.day <= seen.high
    assert seen.until is None
    near = max(minutes / 60.0, 0.25)
    assert abs(seen.start_hour - clock[0]) <= near
    assert abs(seen.hours - clock[1]) <= 2 * near
    assert abs(seen.watts - 1000.0) <= 4.0 * seen.standard_uncertainty


def test_its_windows_say_of_its_size_what_its_step_does(usual):
    made = data(homes.with_timed(usual, 1000.0, (9.0, 8.0), SINCE), 60)
    local = local_seconds(made.starts, homes.ZONE)
    noon = np.cos(2.0 * np.pi * (local / 86400.0 - 200.0) / 365.25) * ((local % 86400) // 3600 == 12)
    seen = clock_load(
        replace(made, kwh=made.kwh + np.maximum(noon, 0.0)), homes.ZONE
    )  # a kilowatt of the summer's noons
    first = (seen.day - date(1970, 1, 1)).days
    acts = np.clip((seen.ends - np.maximum(seen.begins, first)) / (seen.ends - seen.begins), 0.0, 1.0)
    pull = np.linalg.solve(seen.covariance, acts)
    assert_allclose(pull @ seen.value / (pull @ acts), seen.watts, rtol=0.01)
    assert (pull @ acts) ** -0.5 <= 1.01 * seen.standard_uncertainty
    # that the step is known well says nothing of what half a year does: a heat pump's winter was told as a slow meter
    months = seen.covariance[0, 0] + np.diag(seen.covariance) - 2.0 * seen.covariance[0]
    assert months[5] ** 0.5 > 200.0


def by_standard_time(made, watts, clock, since):
    """Add a load on a timer that nobody sets to summer time."""
    whole = metered = homes.metered(made, 15)
    local = local_seconds(metered.starts, standard_time(homes.ZONE, (made.first - date(1970, 1, 1)).days))
    day = local // 86400 - (made.first - date(1970, 1, 1)).days
    on = (day >= since) & ((local / 3600.0 - clock[0]) % 24.0 < clock[1])
    return replace(whole, kwh=whole.kwh + np.where(on, watts * whole.lengths / 3.6e6, 0.0))


@pytest.mark.parametrize("since", [130, 250, 310])
def test_a_timer_that_nobody_sets_to_summer_time_keeps_its_hours(usual, since):
    seen = clock_load(by_standard_time(usual, 1500.0, (1.0, 4.0), since), homes.ZONE)
    assert seen is not None
    assert abs((seen.day - usual.first).days - since) <= 3
    assert seen.by_standard_time
    assert abs(seen.start_hour - 1.0) <= 0.25
    assert abs(seen.hours - 4.0) <= 0.5
    assert abs(seen.watts - 1500.0) <= 3.0 * seen.standard_uncertainty
    taken = without(seen, by_standard_time(usual, 1500.0, (1.0, 4.0), since), homes.ZONE)
    assert abs(taken.kwh.sum() / homes.metered(usual, 15).kwh.sum() - 1.0) < 0.03


def test_one_that_goes_by_the_clock_is_not_said_to_go_by_standard_time(usual):
    for since in (130, 310):
        seen = clock_load(data(homes.with_timed(usual, 1500.0, (1.0, 4.0), since)), homes.ZONE)
        assert seen is not None
        assert not seen.by_standard_time


def test_a_bath_every_morning_after_the_run_is_no_part_of_it(usual):
    """A heater of 4 kW on most mornings, an hour after a timer's end, moved the end to it."""
    made = data(homes.with_timed(usual, 1500.0, (2.0, 4.0), SINCE))
    local = local_seconds(made.starts, homes.ZONE)
    day = local // 86400 - (usual.first - date(1970, 1, 1)).days
    bath = (day >= SINCE) & (day % 4 != 0) & (local % 86400 // 900 == 28)
    seen = clock_load(replace(made, kwh=made.kwh + np.where(bath, 1.0, 0.0)), homes.ZONE)
    assert seen is not None
    assert (seen.start_hour, seen.hours) == (2.0, 4.0)


def charged(made, clock, since, kwh):
    """Add a car to readings: so many kWh in each night, unevenly over the same hours."""
    local = local_seconds(made.starts, homes.ZONE)
    into = local - round(clock[0] * 3600)
    night = np.clip(into // 86400 - (local[0] // 86400) - since, -1, len(kwh) - 1)
    on = (night >= 0) & (into % 86400 < clock[1] * 3600)
    uneven = np.random.default_rng(SEED).gamma(3.0, 1.0 / 3.0, len(local))
    return replace(made, kwh=made.kwh + np.where(on, kwh[night] * uneven * made.lengths / 3600.0 / clock[1], 0.0))


@pytest.fixture(scope="module")
def nights():
    return np.random.default_rng(SEED).gamma(4.0, 2.5, data_homes.DAYS)


@pytest.mark.parametrize("minutes", [15, 60])
def test_a_car_is_found_by_its_hours_though_its_nights_differ(usual, nights, minutes):
    made = charged(data(usual, minutes), (0.0, 4.0), SINCE, nights)
    seen = clock_load(made, homes.ZONE)
    assert seen is not None
    assert seen.varies
    assert abs((seen.day - usual.first).days - SINCE) <= 2
    assert (seen.start_hour, seen.hours) == (0.0, 4.0)
    assert abs(seen.watts - 2500.0) <= 3.0 * seen.standard_uncertainty
    left = without(seen, made, homes.ZONE)
    assert abs(left.kwh.sum() / data(usual, minutes).kwh.sum() - 1.0) < 0.02


def test_a_car_of_a_few_nights_is_not_told_by_its_hours(usual, nights):
    some = np.where(np.arange(len(nights)) % 3 == 0, nights, 0.0)
    assert clock_load(charged(data(usual), (0.0, 4.0), SINCE, some), homes.ZONE) is None


def test_one_that_was_there_on_some_days_before_is_a_habit(usual, nights):
    now_and_then = np.where(np.arange(len(nights)) % 5 == 0, 2.0 * nights, 0.0)
    made = charged(data(usual), (0.0, 4.0), 0, now_and_then)
    assert clock_load(charged(made, (0.0, 4.0), SINCE, nights), homes.ZONE) is None


def test_a_pump_that_stops_begins_no_load_in_the_hours_after_it(usual):
    """The hours beside fell, and those of the evening stood out against them."""
    made = data(homes.with_timed(usual, 900.0, (9.0, 6.0), 60, SINCE))
    seen = clock_load(made, homes.ZONE)
    assert seen is None or seen.start_hour == 9.0


def test_one_that_ends_is_found_with_its_end(usual):
    seen = clock_load(data(homes.with_timed(usual, 1200.0, CLOCK, SINCE, SINCE + 90)), homes.ZONE)
    assert seen is not None
    assert seen.until is not None
    assert abs((seen.until - usual.first).days - SINCE - 90) <= 3
    assert seen.to_dict()["until"] == seen.until.isoformat()


def test_nothing_is_found_where_nothing_runs_by_the_clock(usual):
    assert clock_load(data(usual), homes.ZONE) is None
    assert clock_load(data(homes.with_load(usual, 400.0, SINCE)), homes.ZONE) is None
    assert clock_load(homes.metered(usual, 15, gain=0.2, since=SINCE), homes.ZONE) is None


def test_an_absence_is_no_timer(usual):
    empty = (np.arange(len(usual.base)) >= 200 * 1440) & (np.arange(len(usual.base)) < 221 * 1440)
    watts = {name: np.where(empty, 0.0, one) for name, one in usual.watts.items() if name != "refrigerator"}
    away = replace(
        usual, watts={**usual.watts, **watts}, base=np.where(empty, np.minimum(usual.base, 150.0), usual.base)
    )
    assert clock_load(data(away), homes.ZONE) is None


def test_days_and_coarse_data_hold_none(usual):
    made = homes.with_timed(usual, 1000.0, CLOCK, SINCE)
    assert clock_load(homes.metered(made, 1440), homes.ZONE) is None
    assert (
        clock_load(
            homes.metered(replace(made, mean_c=made.mean_c[:20]), 15).__class__(
                data(made).starts[:96], data(made).kwh[:96], 900
            ),
            homes.ZONE,
        )
        is None
    )


def test_its_energy_is_no_base_load(usual):
    with_it = data(homes.with_timed(usual, 1000.0, CLOCK, SINCE))
    seen = clock_load(with_it, homes.ZONE)
    assert seen is not None
    left = without(seen, with_it, homes.ZONE).kwh.sum()
    assert abs(left - data(usual).kwh.sum()) <= 0.1 * (data_homes.DAYS - SINCE) * 4.0


@pytest.mark.parametrize("varies", [False, True])
@pytest.mark.parametrize("beside", [0.0, 0.5])
def test_what_a_timer_took_is_taken_out_only_while_it_was_there(varies, beside):
    """Something else that comes to its hours when it has gone stays, as does what the hours beside take."""
    first = date(2024, 4, 1)
    begin, end = local_instants([first, first + timedelta(days=120)], homes.ZONE)
    starts = np.arange(begin, end, 900).astype("datetime64[s]")
    local = local_seconds(starts, homes.ZONE)
    day, hour = local // 86400 - local[0] // 86400, local % 86400 / 3600.0
    its = (hour >= 10.0) & (hour < 12.0)
    usual_kwh = (0.3 + beside * (hour < 10.0) + 1.0 * (its & (day >= 90))) / 4.0
    made = Interval(starts, usual_kwh + 0.25 * (its & (day >= 40) & (day < 80)), 900)
    came, went = (first + timedelta(days=at) for at in (40, 80))
    nothing = np.zeros(0)
    days = nothing.astype(np.int64)
    load = ClockLoad(
        came, came, came, went, 10.0, 2.0, 1000.0, 1.0, 0.0, 0.0, days, days, nothing, nothing, varies=varies
    )
    assert_allclose(without(load, made, homes.ZONE).kwh, usual_kwh)


def test_a_pump_of_the_summer_hides_nothing_in_winter(usual):
    summers = homes.with_timed(homes.with_timed(usual, 1400.0, (10.0, 7.0), 60, 180), 1400.0, (10.0, 7.0), 300)
    taken = []
    for made in (summers, homes.with_load(summers, 700.0, 170)):
        with_it = data(made, 60)
        seen = clock_load(with_it, homes.ZONE)
        assert seen is not None
        assert seen.until is None
        ((rested, again),) = seen.rests
        assert abs((rested - usual.first).days - 180) <= 7  # people cook at noon, too
        assert abs((again - usual.first).days - 300) <= 7
        assert "every day (but not from" in running_text(Voice(), as_timer(seen))
        day = np.arange(len(with_it.kwh)) // 24
        winter = (day > 195) & (day < 285)
        taken.append(float((with_it.kwh - without(seen, with_it, homes.ZONE).kwh)[winter].sum()))
    assert max(taken) < 5.0  # kWh, of the 880 that the pump would have taken


def test_the_answer_names_it_where_bills_alone_cannot(usual):
    made = homes.with_timed(usual, 1000.0, CLOCK, SINCE)
    house = data_homes.billed(made, loads=data_homes.listed(usual, SEED))
    answers = [reconcile.reconcile(one) for one in (house, replace(house, interval=None))]
    chances = [{cause.code: cause.probability for cause in answer.causes} for answer in answers]
    assert chances[0]["timed-load"] > 0.9
    assert max(chance for code, chance in chances[0].items() if code not in ("timed-load", "none")) < 0.5
    assert chances[1].get("timed-load", 0.0) < 0.3
    since = next(cause.since for cause in answers[0].causes if cause.code == "timed-load")
    assert abs((since - usual.first - timedelta(days=SINCE)).days) <= 3
    said = answers[0].to_dict()["interval"]["clock_load"]
    assert abs(said["start_hour"] - CLOCK[0]) <= 0.25


def test_a_signal_of_the_data_alone(usual):
    house = data_homes.billed(homes.with_timed(usual, 1000.0, CLOCK, SINCE))
    kwh = np.array([bill.kwh for bill in house.bills], dtype=float)
    result = examine(house, Facts(billed_kwh=kwh))
    assert result is not None
    rows = [one for one in result.evidence if one.kind == "clock"]
    assert len(rows) == 1
    assert np.linalg.eigvalsh(rows[0].covariance).min() > 0.0
    assert result.onset is None


def test_what_was_spread_between_readings_tells_of_no_appliance(usual):
    house = data_homes.billed(homes.with_timed(usual, 1000.0, CLOCK, SINCE))
    assert house.interval is not None
    spread = np.arange(len(house.interval.kwh)) % 3 > 0
    house = replace(house, interval=replace(house.interval, estimated=spread))
    result = examine(house, Facts(billed_kwh=np.array([bill.kwh for bill in house.bills], dtype=float)))
    assert result is not None
    assert result.clock_load is None
    assert result.gain is None


def test_a_habit_by_the_sun_is_no_timer_when_the_clock_changes(usual):
    """The same hours of the sun all year stand at other hours of the clock from the day of its change on."""
    minute = np.arange(len(usual.base)) % 1440  # from the first midnight on, whatever the clock does
    by_sun = replace(usual, base=usual.base + 1200.0 * ((minute >= 360) & (minute < 480)))
    seen = clock_load(data(by_sun), homes.ZONE)
    changes = {
        day
        for year in (2024, 2025)
        for day in (date(year, 3, 10), date(year, 11, 3), date(year, 3, 9), date(year, 11, 2))
    }
    assert seen is None or all(abs((seen.day - change).days) > 1 for change in changes)


@pytest.mark.parametrize(("ends", "with_it"), [((11, 4), True), ((12, 1), False)])
def test_what_comes_and_goes_with_summer_time_is_no_timer(ends, with_it):
    """Mornings of people who keep winter time stood an hour off from one change of the clock to the next."""
    days = [(date(*day) - date(1970, 1, 1)).days for day in ((2024, 3, 12), (2024, *ends))]
    assert at_a_clock_change(days[0] - 4, days[0] + 4, days, homes.ZONE) is with_it


def test_a_load_round_the_clock_is_no_timer_where_evenings_take_less_since(usual):
    minute = np.arange(len(usual.base))
    evening = (minute % 1440 >= 16.5 * 60) | (minute % 1440 < 120)
    often = np.where(minute >= SINCE * 1440, 0.3, 0.8)
    busy = np.repeat(np.random.default_rng(3).random(len(minute) // 180 + 1), 180)[: len(minute)] < often
    made = homes.with_load(replace(usual, base=usual.base + 700.0 * (evening & busy)), 400.0, SINCE)
    assert clock_load(data(made), homes.ZONE) is None


@pytest.mark.parametrize(("watts", "hours"), [(600.0, 13.0), (1400.0, 18.0)])
def test_a_long_timer_is_found_all_the_same(usual, watts, hours):
    seen = clock_load(data(homes.with_timed(usual, watts, (22.0, hours), SINCE)), homes.ZONE)
    assert seen is not None
    assert abs(seen.hours - hours) <= 1.0


@pytest.mark.parametrize("draw", [0, 1])
def test_a_load_round_the_clock_is_no_timer_of_a_night_where_days_take_less_since(usual, draw):
    wall = local_seconds(usual.seconds, homes.ZONE) // 60 % 1440
    since = np.arange(len(wall)) >= SINCE * 1440
    busy = np.repeat(np.random.default_rng(draw).random(len(wall) // 60 + 1), 60)[: len(wall)]
    up = (wall >= 390) & (wall < 1350) & (busy < np.where(since, 0.2, 0.8))
    late = ((wall >= 1380) | (wall < 60)) & (busy < np.where(since, 0.8, 0.1))
    made = homes.with_load(replace(usual, base=usual.base + 1500.0 * up + 600.0 * late), 350.0, SINCE)
    assert clock_load(data(made), homes.ZONE) is None


@pytest.mark.parametrize(("watts", "heard"), [(400.0, False), (2000.0, True)])
def test_what_bills_could_not_show_is_told_and_is_no_cause(usual, watts, heard):
    """An hour a day of some hundred watts, the lights of dark mornings, headed the answer of a house in order."""
    house = data_homes.billed(homes.with_timed(usual, watts, (3.0, 1.0), SINCE), minutes=60)
    seen = examine(house, Facts(np.array([bill.kwh for bill in house.bills])))
    assert seen.clock_load is not None
    assert any(one.kind == "clock" for one in seen.evidence) == heard


@pytest.mark.parametrize(("since", "season"), [(260, True), (60, False)])
def test_what_never_ran_on_a_mild_day_may_be_the_heating(usual, since, season):
    """A heat pump on its strips filled the same hours of every cold day, and was told as a timer."""
    heat_pump = Load("Heat pump", watts=3000.0, follows="heating")
    house = replace(homes.as_house(usual, data(usual)), loads=(heat_pump,))
    first = (usual.first - date(1970, 1, 1)).days
    days = first + np.arange(len(usual.mean_c))
    assert of_one_season(house, days, np.arange(since, since + 60), 1500.0) is season
    assert not of_one_season(house, days, np.arange(since, since + 60), 5000.0)


def test_a_listed_timer_that_runs_longer_for_a_season_is_no_new_load(usual):
    made = data(homes.with_timed(usual, 1200.0, CLOCK, SINCE, SINCE + 90))
    pump = Load("Pool pump", watts=1300.0, run_hours=4.0)
    said = [examine(replace(homes.as_house(usual, made), loads=loads), Facts(np.zeros(0))) for loads in ((), (pump,))]
    assert said[0].clock_load is not None
    assert said[1].clock_load is None


def test_a_timer_of_every_day_is_none_that_comes_on_some():
    """What stood out of six nights in seven was told as runs of other hours, with the evening's use among them."""
    home = homes.home(1, data_homes.DAYS)
    made = data(homes.with_timed(home, 1500.0, (1.0, 8.0), SINCE), 60)
    seen = examine(homes.as_house(home, made), Facts(np.zeros(0))).clock_load
    assert (seen.days_a_week, seen.start_hour, seen.hours) == (None, 1.0, 8.0)


def test_a_size_is_in_doubt_by_what_the_same_hours_did_at_other_dates():
    rng = np.random.default_rng(SEED)
    watts = 500.0 + 20.0 * rng.standard_normal((364, 24))
    watts[182:, :4] += 1500.0
    still, moved = watts.copy(), watts.copy()
    moved[:, :4] += 300.0 * rng.choice([-1.0, 1.0], 13)[np.arange(364) // 28, None]
    doubts = []
    for each in (still, moved):
        hours = Hours(0, each, each, np.zeros_like(each), np.zeros_like(each), np.zeros(0, dtype=np.int64))
        on = np.arange(182, 364)
        size, doubt = told_size(hours, 182, np.arange(4), (on, 1500.0), [182], 100.0)
        assert abs(size - 1500.0) <= 2.0 * doubt
        doubts.append(doubt)
    assert doubts[0] < 25.0 < 150.0 < doubts[1]
    moved[120:245] = np.nan  # a gap about its beginning
    hours = Hours(0, moved, moved, np.zeros_like(moved), np.zeros_like(moved), np.zeros(0, dtype=np.int64))
    assert told_size(hours, 182, np.arange(4), (on, 1500.0), [182], 100.0) is None
