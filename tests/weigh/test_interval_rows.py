"""Signals of interval data beside the bills: what they say of causes, and what they do not."""

from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from types import SimpleNamespace

import data_homes
import numpy as np
import pytest
import switching_homes as homes
from weigh_houses import house

import reconcile
from reconcile.clock import day_numbers, local_seconds
from reconcile.grounds.data_run import from_data
from reconcile.house import Event
from reconcile.house.site import FieldTest, IntervalRun
from reconcile.interval.base_load import base_load
from reconcile.interval.found import Evidence
from reconcile.paper import examine
from reconcile.report.views.interval_view import run_told, signals
from reconcile.report.views.letter_view import letter
from reconcile.weigh.causes import name_causes
from reconcile.weigh.constants import MOST_NIGHTS_PART, NIGHTS_PART
from reconcile.weigh.interval_rows import (
    GROWTH_DAYS,
    MOST_SEEN,
    OFF_WHILE_LEFT,
    TAKEN_FOR,
    as_scattered,
    dated_onsets,
    evidence_rows,
    grown,
)
from reconcile.weigh.patterns import _shares
from reconcile.weigh.weighing import weigh_house

SINCE = 250
METER = ("meter-step", "meter-always", "meter-low", "old-meter-slow")


@cache
def home(seed):
    return homes.home(seed, data_homes.DAYS)


def told(made, seed, minutes=15, **meter):
    """Chances and onsets of the causes of a home with its list."""
    loads = data_homes.listed(home(seed), seed)
    answer = reconcile.reconcile(data_homes.billed(made, minutes=minutes, loads=loads, **meter))
    return {cause.code: cause for cause in answer.causes}, answer.verdict.decision


def chance(causes, *codes):
    return sum(causes[code].probability for code in codes if code in causes)


def off_days(cause, seed):
    return abs((cause.since - home(seed).first).days - SINCE)


@pytest.mark.parametrize("seed", [1, 4, 8])
def test_a_load_round_the_clock_is_named_and_dated(seed):
    made = homes.with_load(home(seed), 200.0, SINCE)
    causes, _ = told(made, seed)
    assert causes["constant-load"].probability >= 0.9
    assert off_days(causes["constant-load"], seed) <= 3
    assert 160.0 <= causes["constant-load"].size <= 240.0


@pytest.mark.parametrize(("seed", "minutes"), [(1, 15), (8, 60)])
def test_an_element_that_goes_on_and_off_day_and_night_is_a_load_and_no_habit(seed, minutes):
    causes, _ = told(homes.with_runs(home(seed), 400.0, SINCE, seed), seed, minutes=minutes)
    assert causes["constant-load"].probability >= 0.9
    assert off_days(causes["constant-load"], seed) <= 7
    assert causes["constant-load"].size_low <= 400.0 <= causes["constant-load"].size_high
    assert chance(causes, "habit-step", *METER) < 0.2


@pytest.mark.parametrize(("seed", "watts", "since", "days"), [(20, 600.0, 150, 180), (23, 300.0, 200, 120)])
def test_a_load_that_grew_and_stayed_is_told_with_what_it_draws_now(seed, watts, since, days):
    causes, _ = told(homes.with_growth(home(seed), watts, since, days), seed, minutes=30)
    cause = causes["constant-load"]
    assert cause.probability >= 0.9
    assert cause.size_low <= watts <= cause.size_high
    assert abs(cause.size - watts) <= 0.16 * watts
    assert (cause.size_high - cause.size_low) / 2.0 <= 0.25 * watts
    assert abs((cause.since - home(seed).first).days - since) <= 30
    assert abs((cause.grew_until - home(seed).first).days - since - days) <= 45
    assert "grew until about" in cause.text


@pytest.mark.parametrize("watts", [0.0, 250.0])
def test_what_never_grew_is_not_told_as_grown(watts):
    causes, _ = told(homes.with_load(home(20), watts, SINCE), 20, minutes=60)
    assert all(cause.grew_until is None for cause in causes.values())


def test_what_grows_yet_is_not_told_to_have_stayed():
    causes, _ = told(homes.with_growth(home(23), 400.0, 300, data_homes.DAYS - 300), 23)
    assert causes["constant-load"].probability >= 0.9
    assert causes["constant-load"].grew_until is None


def base_windows(course, sd=0.2):
    """Windows of thirty days whose level is not known."""
    first = date(2024, 1, 1)
    begins = tuple(first + timedelta(days=30 * at) for at in range(len(course)))
    covariance = np.eye(len(course)) * sd**2 + 25.0
    return Evidence(
        "base-load", begins, tuple(day + timedelta(days=30) for day in begins), np.array(course), covariance
    )


def test_growth_is_tried_where_the_windows_show_it():
    flat, step, ramp = np.zeros(16), np.repeat([0.0, 4.0], 8), 4.0 * np.clip((np.arange(16) - 5) / 6, 0.0, 1.0)
    assert len(grown([base_windows(flat)])) == len(grown([base_windows(step)])) == len(grown([])) == 0
    days = grown([base_windows(ramp)]) - date(2024, 1, 1).toordinal()
    assert np.abs(days - [165.0, 345.0]).max(axis=1).min() <= 15.0
    assert (days[:, 1] - days[:, 0] >= GROWTH_DAYS).all()
    assert len(grown([base_windows(-ramp)])) == 0


def test_a_load_behind_a_meter_that_turned_fast_is_sized_by_what_it_draws():
    """As the data showed it, the meter's error in it, it left the meter less than half of its own in the bills."""
    causes, _ = told(homes.with_load(home(5), 500.0, SINCE + 40), 5, gain=0.25, since=SINCE - 100)
    for code, true in (("constant-load", 500.0), ("meter-step", 25.0)):
        assert causes[code].size_low < true < causes[code].size_high
        assert abs(causes[code].size - true) < 0.1 * true


# homes whose own appliances show the step well; in others few are seen switching at a quarter of an hour
@pytest.mark.parametrize(("seed", "gain"), [(0, 0.2), (3, 0.2), (5, 0.2), (7, 0.2), (10, 0.2), (10, 0.1), (11, 0.2)])
def test_a_meter_that_turned_fast_is_named_and_dated(seed, gain):
    causes, _ = told(home(seed), seed, gain=gain, since=SINCE)
    assert causes["meter-step"].probability >= (0.9 if gain > 0.1 else 0.8)
    assert off_days(causes["meter-step"], seed) <= 3
    without, _ = told(home(seed), seed, minutes=None, gain=gain, since=SINCE)
    assert chance(without, *METER) <= 0.5


@pytest.mark.parametrize("seed", [3, 4])
@pytest.mark.parametrize(
    "changed",
    [
        lambda made: made,
        lambda made: homes.replaced(made, max(made.resistive, key=lambda n: made.watts[n].sum()), 1.2, SINCE),
        lambda made: homes.low_volts(made, 0.03, SINCE - 60, SINCE + 40),
        lambda made: homes.new_heater(made, 1500.0, SINCE, 5),
        lambda made: homes.with_load(made, 200.0, SINCE),
    ],
    ids=["as it is", "replaced", "volts", "heater", "load"],
)
def test_what_is_no_meter_accuses_none(seed, changed):
    causes, decision = told(changed(home(seed)), seed)
    assert chance(causes, *METER) <= 0.2
    assert decision != "field-test"


def test_a_house_with_panels_accuses_no_meter():
    drawn, back = homes.solar(home(4), 4.0, 120, 1)
    made = data_homes.billed(drawn)
    sent = back[: len(back) // 15 * 15].reshape(-1, 15).mean(axis=1)[-len(made.interval.kwh) :] / 4000.0
    made = replace(made, generation=True, interval=replace(made.interval, received_kwh=sent))
    causes = {cause.code: cause for cause in reconcile.reconcile(made).causes}
    assert chance(causes, *METER) <= 0.2


def registered(kind, value, sd, day, base=0.0):
    """One window before a day and one from it on; the level is not known."""
    begins = (day - timedelta(days=60), day)
    return Evidence(
        kind, begins, (day, day + timedelta(days=60)), np.array([0.0, value]), np.eye(2) * sd**2 + 1.0, base, day
    )


@pytest.mark.parametrize(
    ("kind", "base", "meter", "load"),
    [("gain", 0.0, 1.0, False), ("registration", 0.0, 1.0, False), ("base-load", 5.0, 5.0, True)],
)
def test_each_row_moves_by_what_acts_in_its_window(kind, base, meter, load):
    home = house()
    day = home.bills[9].start + timedelta(days=10)
    weighing = weigh_house(home, examine(home), evidence=(registered(kind, 0.0, 0.1, day, base),))
    found, rows = weighing.found, weighing.heard.site.effect
    at_day = found.start == day.toordinal()
    steps, loads = (np.flatnonzero(at_day & weighing.kinds(name)) for name in ("meter-step", "constant-load"))
    if kind == "gain":  # how far an error reaches whose sizes are not looked for, another test says
        steps = steps[found.size_mean[steps] <= MOST_SEEN]
    assert steps.size
    np.testing.assert_allclose(rows[:, steps], np.array([[0.0], [meter]]) * np.ones(len(steps)), rtol=0, atol=1e-12)
    wanted = weighing.shape.per_day if load else 0.0
    np.testing.assert_allclose(rows[:, loads], np.array([[0.0], [wanted]]) * np.ones(len(loads)), rtol=0, atol=1e-12)
    earlier = np.flatnonzero(weighing.kinds("meter-step") & (found.start == home.bills[8].start.toordinal()))
    earlier = earlier[found.size_mean[earlier] <= MOST_SEEN]
    before = (day - home.bills[8].start).days / 60.0
    if kind == "gain":  # sizes of one or the other, no mean of both
        before = round(before)
    np.testing.assert_allclose(rows[0, earlier], meter * before, rtol=1e-12, atol=0)
    assert not rows[:, weighing.kinds("heating-rise", "timed-load", "single-high")].any()
    people = weighing.kinds("habit-step", "habit-fall", "house-left")
    assert not rows[:, people & (found.nights == 0.0)].any()
    # a third of the nights goes with whoever comes or leaves, or none of them
    begun = np.flatnonzero(people & (found.nights == NIGHTS_PART) & (found.start == home.bills[8].start.toordinal()))
    assert bool(begun.size) is load
    np.testing.assert_allclose(rows[0, begun], meter * before / 3.0, rtol=1e-12, atol=0)
    # or most of it, with people who came: a child was told as a fast meter
    most = np.flatnonzero(weighing.kinds("habit-step") & (found.nights == MOST_NIGHTS_PART))
    assert bool(most.size) is load
    assert rows[0, most].max(initial=0.0) == (pytest.approx(MOST_NIGHTS_PART * meter) if load else 0.0)
    assert not weighing.kinds("habit-fall", "house-left")[found.nights == MOST_NIGHTS_PART].any()


@pytest.mark.parametrize(("fell", "slow"), [(0.3, True), (0.0, False)])
def test_a_dead_element_takes_half_of_all_and_of_the_nights_what_hangs_on_its_leg(fell, slow):
    """The nights fell by a tenth, all else by half: no meter that is slow as a whole, nor people and nights alike."""
    home = house(factor=np.where(np.arange(18) >= 9, 0.6, 1.0))
    day = home.bills[9].start
    edges = [home.bills[0].start, day, home.bills[-1].end]
    falls = ((day, 3.0 - 2.0 * fell),) if fell else ()
    seen = Evidence(
        "base-load",
        tuple(edges[:2]),
        tuple(edges[1:]),
        np.array([0.0, -fell]),
        0.01 * np.eye(2) + 1.0,
        3.0,
        falls=falls,
    )
    causes = name_causes(weigh_house(home, examine(home), evidence=(seen,)), 0.02)
    low = next((cause for cause in causes if cause.code == "meter-low"), None)
    assert ((0.0 if low is None else low.probability) > 0.5) == slow
    if low is not None and slow:
        assert low.since == day
        assert -50.0 < low.size < -30.0


@pytest.mark.parametrize(
    ("kind", "usual", "values"),
    [("base-load", 4.0, (0.0, 0.0, 2.0, 2.0, 2.0, 2.0)), ("heating", 0.0, (-1 / 3, -1 / 3, 0.0, 0.0, 0.0, 0.0))],
)
def test_a_meter_multiplies_what_was_there_before_it(kind, usual, values):
    """Most windows are after a rise of one half: what is usual in all of them is not what was multiplied."""
    home = house()
    begins = tuple(home.bills[4].start + timedelta(days=30 * i) for i in range(6))
    ends = tuple(day + timedelta(days=30) for day in begins)
    signal = Evidence(kind, begins, ends, np.array(values), 0.04 * np.eye(6) + 1.0, usual, begins[2])
    weighing = weigh_house(home, examine(home), evidence=(signal,))
    found = weighing.found
    steps = np.flatnonzero(weighing.kinds("meter-step") & (found.start == home.bills[6].start.toordinal()))
    assert steps.size
    more = evidence_rows(found, weighing.shape, (signal,), weighing.model).effect[:, steps]
    since = np.array([begin >= home.bills[6].start for begin in begins])
    # one half more of it is the rise that was seen
    np.testing.assert_allclose(0.5 * more[since], values[-1] - values[0], rtol=0.03, atol=0)


@pytest.mark.parametrize(("column", "heats"), [(0, True), (1, False)])
def test_what_the_weather_adds_to_the_nights_moves_with_a_meter_and_with_the_heating(column, heats):
    home = house()
    day, part = home.bills[9].start, np.zeros((2, 2))
    part[:, column] = 3.0, 8.0
    heard = replace(registered("base-load", 0.0, 0.1, day, 5.0), weather_kwh_per_day=part)
    weighing = weigh_house(home, examine(home), evidence=(heard,))
    found, rows = weighing.found, weighing.heard.site.effect
    edges = np.array([[day.toordinal() + days] for days in (-60, 0, 60)])
    since = np.clip((edges[1:] - np.maximum(edges[:-1], found.start)) / 60.0, 0.0, 1.0)
    steps = weighing.kinds("meter-step") & np.isnan(found.full)
    np.testing.assert_allclose(rows[:, steps], (5.0 + part.sum(axis=1)[:, None]) * since[:, steps], rtol=1e-12, atol=0)
    rises = weighing.kinds("heating-rise") & np.isnan(found.full)
    assert rises.any()
    wanted = part[:, :1] * since[:, rises] if heats else np.zeros((2, rises.sum()))
    np.testing.assert_allclose(rows[:, rises], wanted, rtol=1e-12, atol=0)
    people = weighing.kinds("habit-step") & (found.nights == 0.0)
    assert not rows[:, people | weighing.kinds("timed-load", "single-high")].any()


def test_no_step_of_the_appliances_speaks_against_a_meter():
    factor = np.where(np.arange(18) >= 9, 1.2, 1.0)
    home = house(factor=factor)
    day = home.bills[9].start
    plain = weigh_house(home, examine(home)).chance("meter-step")
    still = weigh_house(home, examine(home), evidence=(registered("gain", 0.0, 0.02, day),)).chance("meter-step")
    moved = weigh_house(home, examine(home), evidence=(registered("gain", 0.18, 0.02, day),)).chance("meter-step")
    assert still < 0.01 * plain
    assert moved > 0.95


def test_onsets_from_the_data_share_the_chance_of_the_nearest():
    start, dated = np.array([0.0, 30.0, 33.0, 60.0]), np.array([33.0])
    one = np.zeros(4, dtype=int)
    shared = _shares(one, start, np.isin(start, dated))
    np.testing.assert_allclose(shared, [1 / 3, 0.1 / 3, 0.9 / 3, 1 / 3], rtol=1e-12, atol=0)
    assert _shares(one, start, np.zeros(4, dtype=bool)).tolist() == [0.25] * 4
    # another kind's onset shares nothing with them
    np.testing.assert_allclose(
        _shares(np.array([0, 0, 1, 1]), start, np.isin(start, dated)), [0.5, 0.5, 0.9, 0.1], rtol=1e-12, atol=0
    )
    day = date(2024, 5, 1)
    wide = replace(registered("gain", 0.1, 0.1, day), low=day - timedelta(days=8), high=day + timedelta(days=8))
    assert [d - day.toordinal() for d in dated_onsets([wide])] == [-8, -4, 0, 4, 8]
    assert dated_onsets([replace(wide, onset=None)]).size == 0


@pytest.mark.parametrize(
    ("value", "zone"), [(1.1, "outside"), (1.0, "inside"), (1.02, "cannot-tell"), (0.9, "outside")]
)
def test_a_run_in_the_data_is_judged_as_one_at_the_meter(value, zone):
    run = SimpleNamespace(registration=value, low=value - 0.01, high=value + 0.01, standard_uncertainty=0.005)
    assert from_data(SimpleNamespace(run=run), house()).zone == zone
    assert from_data(SimpleNamespace(run=None, known_loads=()), house()) is None
    assert from_data(None, house()) is None


@pytest.mark.parametrize(("registration", "decision"), [(1.2, "field-test"), (1.0, "explained")])
def test_a_run_planned_in_the_data_decides(registration, decision):
    """Four nights of three hours with a heater on a plug-in meter, typed in and read in the data."""
    made = data_homes.billed(home(4), loads=data_homes.listed(home(4), 4))
    local, kwh, runs = local_seconds(made.interval.starts, homes.ZONE), made.interval.kwh.copy(), []
    for night in range(4):
        day = home(4).first + timedelta(days=430 + night)
        for turn in range(3):
            hour = 1.0 + 1.5 * turn
            begins = int(day_numbers([day])[0]) * 86400 + hour * 3600
            part = np.clip(np.minimum(local + 900, begins + 1800) - np.maximum(local, begins), 0, None) / 3600
            kwh += part * 1.5 * registration
            runs.append(IntervalRun(day, hour, 0.5, 0.75))
    test = FieldTest(interval_runs=tuple(runs))
    made = replace(made, interval=replace(made.interval, kwh=np.round(kwh, 3)), field_test=test)
    answer = reconcile.reconcile(made)
    assert answer.interval.run.low <= registration <= answer.interval.run.high
    assert answer.verdict.decision == decision
    # told to everybody: by the verb that judges, on the page, and in the letter where the meter is asked about
    said = run_told(made)
    assert "6 hours on 4 nights" in said
    assert "took 9.00 kWh" in said
    assert ("outside its limits" in said) == (decision == "field-test")
    open_yet = "cannot tell whether it is inside its limits" in said
    assert open_yet == (registration == 1.0)
    assert any(reason.startswith("The run with the plug-in meter") for reason in answer.verdict.reasons) == open_yet
    assert said in signals(answer.interval, answer.voice, made)
    assert (said in letter(answer)["points"]) == (decision == "field-test")


@pytest.mark.parametrize(
    ("value", "wrong", "zone"), [(1.2, 0.9, "outside"), (1.08, 0.9, "cannot-tell"), (1.2, 0.3, None)]
)
def test_a_listed_load_seen_in_the_data_accuses_a_meter_and_never_clears_it(value, wrong, zone):
    load = SimpleNamespace(name="Water heater", registration=value, standard_uncertainty=0.028 * value)
    judged = from_data(SimpleNamespace(run=None, known_loads=(load,)), house(), wrong)
    assert (None if judged is None else judged.zone) == zone
    right = SimpleNamespace(name="Water heater", registration=1.0, standard_uncertainty=0.001)
    assert from_data(SimpleNamespace(run=None, known_loads=(right,)), house(), 0.1) is None
    assert from_data(SimpleNamespace(run=None, known_loads=(right,)), house()).zone == "cannot-tell"


@pytest.mark.parametrize(("gain", "decision"), [(0.2, "field-test"), (0.0, "explained")])
def test_a_meter_fast_since_before_the_first_bill_shows_by_a_listed_water_heater(gain, decision):
    seed = next(seed for seed in range(3, 30) if "water heater" in home(seed).watts)
    made = home(seed)
    scale = 4500.0 / made.watts["water heater"].max()
    made = replace(made, watts={**made.watts, "water heater": scale * made.watts["water heater"]})
    known = {"watts": 4500.0, "watts_within_percent": 5.0, "source": "nameplate"}
    loads = data_homes.listed(made, seed)
    loads = tuple(replace(load, **known) if load.name == "water heater" else load for load in loads)
    answer = reconcile.reconcile(data_homes.billed(made, loads=loads, gain=gain))
    wrong = chance({cause.code: cause for cause in answer.causes}, *METER)
    assert answer.verdict.decision == decision
    assert wrong >= 0.9 if gain else wrong <= 0.2


def test_a_run_that_the_data_would_read_is_offered_with_its_hours():
    doubted = data_homes.billed(home(0), minutes=60, gain=0.2, since=SINCE, loads=data_homes.listed(home(0), 0))
    step = next(s for s in reconcile.reconcile(doubted).verdict.next_steps if s.code == "planned-run")
    assert "quiet nights" in step.text
    assert "for 3 hours" in step.text
    assert "stays awake" in step.text
    in_order = reconcile.reconcile(data_homes.billed(home(4), loads=data_homes.listed(home(4), 4)))
    assert not any("nights" in step.text for step in in_order.verdict.next_steps)  # nobody is kept awake for nothing
    hourly = data_homes.billed(homes.with_load(home(3), 300.0, SINCE), minutes=60, loads=data_homes.listed(home(3), 3))
    for made in (hourly, replace(hourly, generation=True)):
        codes = [step.code for step in reconcile.reconcile(made).verdict.next_steps]
        assert "planned-run" not in codes or "known-load" in codes


def test_what_came_is_not_known_to_keep_still():
    """A leak of hot water follows the mains: by less and less of a large load no meter turned slow."""
    last = []
    for watts in (0.0, 700.0):
        base = base_load(data_homes.billed(homes.with_load(home(2), watts, SINCE), minutes=60))
        of_two = base.covariance[-2:, -2:]
        last.append(float(np.sqrt(of_two[0, 0] + of_two[1, 1] - 2.0 * of_two[0, 1])))
    assert last[1] > last[0] + 15.0


@pytest.mark.parametrize("seed", [0, 4])
def test_days_away_over_two_bills_are_part_of_what_is_usual_for_them(seed):
    made = home(seed)
    day = np.arange(len(made.base)) // 1440
    empty = (day >= 141) & (day < 160)  # a bill ends on day 150
    kept = ("refrigerator", *(one.name for one in data_homes.ALL if one.follows in ("cold", "hot")))
    watts = {name: power if name in kept else np.where(empty, 0.0, power) for name, power in made.watts.items()}
    house = data_homes.billed(replace(made, watts=watts), loads=data_homes.listed(made, seed))
    answer = reconcile.reconcile(house)
    spans = [[(day - made.first).days for day in span] for span in answer.interval.daily.empty]
    found = {day for first, last in spans for day in range(first, last + 1)}
    assert len(found & set(range(141, 160))) >= 13
    assert len(found - set(range(141, 160))) <= 3
    assert {row.flag for row in answer.rows[4:6]} == {"within"}
    causes = {cause.code: cause for cause in answer.causes}
    assert chance(causes, "swap", "single-period", "cooling-rise", "heating-rise", *METER) <= 0.3
    assert answer.verdict.decision == "explained"
    assert any("looks empty" in notice for notice in answer.notices)


def test_sizes_that_moved_at_once_are_nothing_that_a_drifting_meter_did():
    made = house()
    weighing = weigh_house(made, examine(made))
    edges = [made.bills[0].start + timedelta(days=60 * i) for i in range(9)]
    windows = (tuple(edges[:-1]), tuple(edges[1:]), np.zeros(8), np.eye(8), 0.0)
    creeps = ~np.isnan(weighing.found.full)
    assert creeps.any()
    for onset, moves in ((None, True), (edges[4], False)):
        rows = evidence_rows(weighing.found, weighing.shape, (Evidence("gain", *windows, onset),), weighing.model)
        assert rows.effect[:, creeps].any() == moves


def test_rows_that_tell_nothing_narrow_no_limits():
    """What the bills scatter is learnt from them alone: that of rows beside them is known."""
    home = house(factor=np.where(np.arange(18) >= 9, 1.3, 1.0))
    begins = tuple(home.bills[0].start + timedelta(days=20 * k) for k in range(25))
    ends = tuple(day + timedelta(days=20) for day in begins)
    mute = Evidence("base-load", begins, ends, np.zeros(25), 1e8 * np.eye(25), 5.0)
    alone, beside = (name_causes(weigh_house(home, examine(home), evidence=rows), 0.02) for rows in ((), (mute,)))
    for before, after in zip(alone[:2], beside[:2], strict=True):
        assert after.code == before.code
        assert (after.size_low, after.size_high) == pytest.approx((before.size_low, before.size_high), rel=0.01)


def test_a_load_of_known_watts_says_that_a_meter_was_always_fast_though_the_list_is_long():
    home = house(factor=np.full(18, 0.97))
    seen = Evidence("registration", (home.bills[0].start,), (home.bills[-1].end,), np.array([0.18]), np.array([[9e-4]]))
    causes = name_causes(weigh_house(home, examine(home), evidence=(seen,)), 0.02)
    assert sum(c.probability for c in causes if c.code == "meter-always") > 0.5
    without = name_causes(weigh_house(home, examine(home)), 0.02)
    assert not [c for c in without if c.code == "meter-always" and c.probability > 0.0]


def test_a_signal_that_scatters_beyond_what_is_known_of_it_says_so_much_the_less():
    """Nights of a real home go up and down by the month: each step was as sure a sign as that of a steady home."""
    made = house()
    days = [made.bills[0].start + timedelta(days=30 * k) for k in range(18)]
    windows = tuple(days), tuple(day + timedelta(days=30) for day in days)
    fell = np.where(np.arange(18) >= 9, -0.5, 0.0)
    restless = fell + 0.5 * np.tile([1.0, -1.0, 0.2, -0.2, 0.9, -0.9], 3)
    chances = []
    for value in (fell, restless):
        seen = Evidence("base-load", *windows, value, 0.01 * np.eye(18) + 4.0, 5.0, days[9])
        chances.append(weigh_house(made, examine(made), evidence=(seen,)).chance("meter-low", "load-gone"))
    assert chances[0] > 0.9
    assert chances[1] < 0.3


@pytest.mark.parametrize(("part", "doubted"), [(1.0, False), (1.3, False), (3.0, True)])
def test_the_variance_of_a_signal_grows_by_the_square_of_how_far_it_scatters(part, doubted):
    made = house()
    days = [made.bills[0].start + timedelta(days=30 * k) for k in range(18)]
    windows = tuple(days), tuple(day + timedelta(days=30) for day in days)
    rng = np.random.default_rng(4)
    covariance = 0.04 * (0.5 * np.eye(18) + 0.5)
    left = rng.standard_normal(18)
    left *= part * np.sqrt(18.0 / (left @ np.linalg.solve(covariance, left)))
    signals = tuple(Evidence(kind, *windows, left, covariance, 5.0) for kind in ("night-runs", "base-load"))
    weighing = weigh_house(made, examine(made))
    rows = evidence_rows(weighing.found, weighing.shape, signals, weighing.model)
    wider = as_scattered(rows, np.concatenate([np.zeros(18), left, np.zeros(18)]), signals)
    np.testing.assert_allclose(wider.noise[:18, :18], covariance * (part**2 if doubted else 1.0), rtol=1e-12, atol=0.0)
    np.testing.assert_array_equal(wider.noise[18:, 18:], rows.noise[18:, 18:])


@pytest.mark.parametrize(("value", "borne_out"), [(0.0, False), (0.22, True)])
def test_sizes_bear_a_meter_out_where_they_moved_with_it(value, borne_out):
    made = house(factor=np.where(np.arange(18) >= 9, 1.25, 1.0))
    seen = registered("gain", value, 0.05, made.bills[9].start)
    weighing = weigh_house(made, examine(made), evidence=(seen,))
    told = weighing.sizes_bear_out("meter-step", "meter-exchange")
    assert (told > 4.0) == borne_out
    assert borne_out or told < 0.0
    assert weigh_house(made, examine(made)).sizes_bear_out("meter-step") == np.inf


def sizes_seen_at_an_exchange():
    made = house()
    day = made.bills[9].start
    made = replace(made, events=(Event(day, "meter-exchange"),))
    return weigh_house(made, examine(made), evidence=(registered("gain", 0.0, 0.1, day),))


def test_sizes_that_stay_say_of_a_meter_that_counts_twice_what_they_say_of_a_lesser_error():
    """They are looked for no farther than a third away: a doubled meter was told as a load round the clock."""
    weighing = sizes_seen_at_an_exchange()
    found, rows = weighing.found, weighing.heard.site.effect
    new = np.flatnonzero(weighing.kinds("meter-exchange"))
    far = found.size_mean[new] > 0.5
    assert far.any()
    assert not far.all()
    np.testing.assert_allclose(rows[1, new[far]] * found.size_mean[new[far]], TAKEN_FOR, rtol=1e-12, atol=0.0)
    np.testing.assert_array_equal(rows[1, new[~far]], 1.0)


def test_two_meters_that_disagree_move_the_sizes_alike_whichever_is_wrong():
    weighing = sizes_seen_at_an_exchange()
    found, rows = weighing.found, weighing.heard.site.effect
    old = np.flatnonzero(weighing.kinds("old-meter-slow"))[0]
    apart = (rows[1, old] - rows[0, old]) * found.size_mean[old]
    # an old meter that counted three quarters: the new one, which is right, counts a third more
    assert apart == pytest.approx(found.size_mean[old] / (1.0 - found.size_mean[old]))


def test_a_load_that_ended_is_looked_for_on_the_day_on_which_the_nights_fell():
    """Within a bill only a meter was: its day fitted the nights, and the load's did not."""
    made = house()
    day = made.bills[9].start + timedelta(days=12)
    signal = replace(registered("base-load", -1.5, 0.1, day, 5.0), onset=None, fell=(day,))
    weighing = weigh_house(made, examine(made), evidence=(signal,))
    gone = weighing.kinds("load-gone") & (weighing.found.start == day.toordinal())
    assert gone.any()


def test_no_meter_is_told_by_what_a_load_of_kilowatts_used():
    """An error multiplies it: one of 98 % was told where the load drew 2 kW, as if that were the load."""
    made = house()
    day = made.bills[9].start
    until = day + timedelta(days=20)
    signal = Evidence("between", (day,), (until,), np.array([48.0]), np.array([[2.0]]), 0.0, day, until=until)
    weighing = weigh_house(made, examine(made))
    rows = evidence_rows(weighing.found, weighing.shape, (signal,), weighing.model)
    assert not rows.effect[0, weighing.kinds("meter-always", "meter-step", "meter-low")].any()


def test_a_fast_meter_is_told_since_the_day_on_which_the_sizes_of_steps_moved_where_it_may_have_begun_then():
    made = house(factor=np.where(np.arange(18) >= 9, 1.3, 1.0))
    begin = made.bills[9].start
    near, far = begin + timedelta(days=8), made.bills[4].start
    edges = (made.bills[0].start, begin, made.bills[-1].end)
    moved = Evidence("gain", edges[:2], edges[1:], np.array([0.0, 0.3]), 1e-3 * np.eye(2) + 1.0, 0.0, near)
    weighing = weigh_house(made, examine(made), evidence=(moved,))
    since = [
        next(cause.since for cause in name_causes(weighing, 0.02, moved=day) if cause.code == "meter-step")
        for day in (None, begin, far)
    ]
    assert since == [near, begin, near]


def test_nights_of_a_time_with_nobody_at_home_say_little_and_all_the_same():
    """Of a home left for three months they were a load that left, and a fast meter since the day it was back."""
    made = house()
    days = [made.bills[0].start + timedelta(days=30 * k) for k in range(12)]
    windows = tuple(days), tuple(day + timedelta(days=30) for day in days)
    nights = Evidence("base-load", *windows, np.zeros(12), np.eye(12), 5.0)
    gone = Evidence("away", (), (), np.zeros(0), np.zeros((0, 0)), onset=days[4], until=days[7] - timedelta(days=15))
    weighing = weigh_house(made, examine(made))
    rows = [evidence_rows(weighing.found, weighing.shape, told, weighing.model) for told in ((nights,), (nights, gone))]
    inside = np.array([0.0] * 4 + [1.0, 1.0, 0.5] + [0.0] * 5)
    more = (OFF_WHILE_LEFT * 5.0) ** 2 * np.outer(inside, inside)
    np.testing.assert_allclose(rows[1].noise - rows[0].noise, more, rtol=0.0, atol=1e-12)
