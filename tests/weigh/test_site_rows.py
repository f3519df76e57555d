"""Readings taken on site as rows of the model: what they say of the loads, against the plain conditional mean."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from weigh_houses import house

import reconcile
from reconcile import meter
from reconcile.costs import COSTS
from reconcile.house import Load, Meter
from reconcile.house.site import FieldTest, Quiet, Registered, Run
from reconcile.money.stake import mean_of
from reconcile.paper import examine
from reconcile.report.views.first_view import figures_beside
from reconcile.weigh.weighing import weigh_house


def with_quiet(pulses: float, **more):
    quiet = Quiet(Registered(pulses=pulses, seconds=3600), **more)
    return replace(house(), meters=(Meter(pulse_wh=1.0),), field_test=FieldTest(quiet=(quiet,)))


def rest_of(answer):
    return answer.loads[-1].reconciled_kwh


def test_more_use_in_a_quiet_night_than_is_listed_raises_what_is_not_on_the_list():
    assert rest_of(reconcile.reconcile(with_quiet(200))) > rest_of(reconcile.reconcile(house()))


def test_each_load_once_the_site_is_read_is_the_plain_conditional_mean_moved_to_the_bills():
    home = with_quiet(200)
    weighing = weigh_house(home, examine(home), meter.observations(home))
    model, rows, posterior = weighing.model, weighing.factors, weighing.posterior
    # what the causes are expected to add to each row: each by its chance, at its own ridge estimate
    columns, precision = weighing.candidates.columns, weighing.data.half.T @ weighing.data.half
    size = [
        (c @ precision @ weighing.data.residual + shift) / (1.0 + c @ precision @ c)
        for c, shift in zip(columns.T, weighing.candidates.shift, strict=True)
    ]
    answer = reconcile.reconcile(home)
    assert not any(c.code == "unlisted" for c in answer.causes)
    added = columns @ (posterior.acts * size)
    added[: len(home.bills)] = sum(c.probability * np.array(c.pattern_kwh) for c in answer.causes if c.code != "none")
    # covariance of each load's total with every row, as stated, and of the rows among themselves, written out
    own = weighing.wider * model.factors[:, : len(home.loads) + 1].sum(axis=0)
    cross = own[:, None] * rows[:, : len(own)].T
    mean = model.parts.sum(axis=0) + cross @ np.linalg.solve(np.linalg.inv(precision), weighing.data.residual - added)
    said = np.array([load.reconciled_kwh for load in answer.loads])
    # what is left to the bills goes to each load by its variance
    left = (said - mean) / (own**2 + (0.1 * model.parts.sum(axis=0)) ** 2)
    np.testing.assert_allclose(left, left[0], rtol=1e-6, atol=0)
    assert len(rows) == len(home.bills) + 1


@pytest.mark.parametrize("day", [date(2000, 1, 1), None])
def test_a_reading_before_the_onset_says_nothing_of_a_step(day):
    home = with_quiet(300, day=day)
    weighing = weigh_house(home, examine(home), meter.observations(home))
    began = weighing.kinds("meter-step", "constant-load")
    touched = weighing.candidates.columns[-1, began & ~weighing.found.idle]
    assert (weighing.candidates.columns[-1, weighing.found.idle] == 0).all()
    assert (touched == 0).all() if day else (touched != 0).all()


NEVER_OFF = (
    Load("Fridge", watts=150.0, run_hours=10.0),
    Load("Router", watts=12.0, run_hours=24.0),
    Load("Standby of everything", watts=60.0, run_hours=24.0),
    Load("Lights", watts=280.0, run_hours=5.0),
)


@pytest.mark.parametrize("on", [(), ("Fridge", "Router", "Standby of everything")])
def test_what_nobody_switches_off_at_night_is_no_hidden_load(on):
    """A cell "left on" that was left empty said that the list's own refrigerator was off, and made a load of it."""
    home = house()
    quiet = Quiet(Registered(pulses=165, seconds=3600), on=on)
    test = FieldTest(quiet=(quiet,))
    home = replace(home, loads=NEVER_OFF, meters=(Meter(pulse_wh=1.0),), field_test=test)
    weighing = weigh_house(home, examine(home), meter.observations(home))
    unlisted_watts = 3.0 * 0.5 / 0.024
    base = 150.0 * 10.0 / 24.0 + 12.0 + 60.0 + unlisted_watts
    assert weighing.data.residual[-1] == pytest.approx((165.0 - base) * 0.024, abs=0.01)


def overnight(home, kwh):
    """The same house with a register read in whole kWh before and after a night of eight hours."""
    quiet = Quiet(Registered(seconds=8 * 3600.0, register_start=5000.0, register_end=5000.0 + kwh))
    return replace(home, field_test=FieldTest(quiet=(quiet,)))


@pytest.mark.parametrize("kwh", [1, 3, 4])
def test_one_night_read_in_whole_kwh_does_not_turn_a_meter_into_a_load(kwh):
    home = house(factor=1.0 + 0.25 * (np.arange(18) >= 9))
    bills = tuple(replace(bill, meter="old" if i < 9 else "new") for i, bill in enumerate(home.bills))
    home = replace(home, bills=bills, meters=(Meter(number="old"), Meter(number="new")))
    chances = []
    for one in (home, overnight(home, kwh)):
        weighing = weigh_house(one, examine(one), meter.observations(one))
        chances.append(
            (weighing.chance("meter-step", "meter-exchange"), weighing.chance("constant-load", "cold-load", "drift"))
        )
    (meter_before, load_before), (meter_after, load_after) = chances
    assert meter_before > load_before
    assert meter_after > load_after
    # a night may not have been quiet: no reading of it says more than so much
    assert load_after / meter_after < 12.0 * load_before / meter_before


@pytest.mark.parametrize("kwh", [1, 3, 4])
def test_one_night_read_in_whole_kwh_accuses_nothing_where_the_bills_are_in_order(kwh):
    assert reconcile.reconcile(overnight(house(), kwh)).verdict.decision == "explained"


def unlisted_load(watts, night_watts, *, nights=2):
    """Bills with a load that the list lacks, from the first day on, and nights in which the house draws so much."""
    home = house()
    bills = tuple(replace(bill, kwh=bill.kwh + watts * 0.024 * bill.days) for bill in home.bills)
    quiet = tuple(
        Quiet(Registered(pulses=float(night_watts), seconds=3600), on=("refrigerator",)) for _ in range(nights)
    )
    return replace(home, bills=bills, meters=(Meter(pulse_wh=1.0),), field_test=FieldTest(quiet=quiet))


def test_a_load_that_was_always_there_and_draws_at_night_is_looked_for():
    home = unlisted_load(450, 130 + 450)
    bare = replace(home, field_test=None)
    before, after = (weigh_house(one, examine(one), meter.observations(one)) for one in (bare, home))
    assert before.unlisted_at_night() == 0.0
    assert after.chance("unlisted") > 0.9 > after.chance("list-short") + 0.8
    assert after.unlisted_at_night() > 0.8
    answer = reconcile.reconcile(home)
    assert (answer.verdict.decision, answer.verdict.rule) == ("outside-check", "lasting")


def test_a_still_night_leaves_a_load_of_the_day():
    home = unlisted_load(450, 130)
    weighing = weigh_house(home, examine(home), meter.observations(home))
    assert weighing.unlisted_at_night() < 0.1
    assert weighing.chance("unlisted", "list-short") > 0.5
    assert reconcile.reconcile(home).verdict.rule != "lasting"


def shown_by_a_run(home, percent, repeats=3):
    """The same house after runs of a heater beside a plug-in meter, at so much registration."""
    pulses = round(300 * percent / 100.0) + 50
    shown = Registered(
        pulses=pulses, seconds=600.2, counted="pulse-to-pulse", register_start=80.0, register_end=80.0 + pulses / 1000.0
    )
    watts = 1800.0 * 599.6 / 600.2
    run = Run("heater", shown, reference_watts=watts, background_w_before=300.0, background_w_after=300.0)
    run = replace(
        run, connection="line-to-neutral", outlet_volts_off=121.4, outlet_volts_on=119.2, day=home.bills[-1].closes
    )
    runs = tuple(replace(run, registered=replace(shown, seconds=600.2 + 0.1 * i)) for i in range(repeats))
    return replace(home, meters=(Meter(pulse_wh=1.0, step_kwh=0.001),), field_test=FieldTest(runs=runs))


@settings(max_examples=12)
@given(
    st.one_of(st.floats(72.0, 95.0), st.floats(105.0, 140.0)),
    st.integers(1, 4),
    st.sampled_from(["right", "step", "always"]),
)
def test_the_chance_that_the_meter_is_wrong_is_at_least_what_a_run_outside_its_limits_says(percent, repeats, truth):
    bills = {"right": 1.0, "step": np.where(np.arange(18) >= 10, percent / 100.0, 1.0), "always": percent / 100.0}
    answer = reconcile.reconcile(shown_by_a_run(house(factor=np.ones(18) * bills[truth]), percent, repeats))
    run, verdict = answer.field_test.registration, answer.verdict
    assume(run.zone == "outside")
    fast = percent > 100.0
    told = verdict.meter_fast_probability if fast else verdict.meter_slow_probability
    assert told >= (run.chance_fast if fast else run.chance_slow) - 1e-9 >= 0.97
    assert verdict.field_test_warranted
    assert next(c.probability for c in answer.causes if c.code == "none") <= 1.0 - told + 1e-9


def test_a_run_that_shows_a_small_error_is_believed_beside_bills_that_cannot_see_it():
    answer = reconcile.reconcile(shown_by_a_run(house(), 105.7))
    assert answer.field_test.verdict == "outside"
    assert answer.verdict.meter_fast_probability > 0.95
    assert "Very likely" in answer.verdict.meter_line


def test_a_night_that_bears_a_load_out_hides_no_larger_error_of_the_meter():
    """Of a house with a leak the answer knew 10 %, and beside a reading of that very leak no less than 61 %."""
    home = house()
    later = home.bills[9].start
    bills = tuple(replace(b, kwh=b.kwh + 10.0 * b.days) if b.start >= later else b for b in home.bills)
    before = reconcile.reconcile(replace(home, bills=bills))
    assert before.causes[0].code == "constant-load"
    night = with_quiet(560.0).field_test
    after = reconcile.reconcile(replace(home, bills=bills, meters=(Meter(pulse_wh=1.0),), field_test=night))
    assert after.causes[0].code == "constant-load"
    seen = before.verdict.smallest_visible_meter_error_percent
    assert after.verdict.smallest_visible_meter_error_percent < 1.5 * seen
    assert "before the first bill would not" in after.verdict.meter_line


def test_a_meter_found_slow_is_told_as_slow_beside_the_answer():
    answer = reconcile.reconcile(shown_by_a_run(house(factor=np.where(np.arange(18) >= 10, 0.7, 1.0)), 70.0))
    assert ("over 99 %", "chance that the meter is slow") in figures_beside(answer)
    assert answer.verdict.meter_line.startswith("Is the meter fast? No: that it is slow is very likely (over 99 %).")


def growing(seed=0):
    """Registration that grows by a quarter over the last ten of eighteen bills, and what is billed too much by it."""
    factor = 1.0 + 0.25 * np.clip((np.arange(18) - 7.5) / 10.0, 0.0, 1.0)
    home = house(factor=factor, seed=seed)
    bills = tuple(replace(bill, amount=Decimal(round(bill.kwh * 15.0)) / 100) for bill in home.bills)
    home = replace(home, bills=bills)
    return home, sum(bill.kwh * (1.0 - 1.0 / f) for bill, f in zip(home.bills, factor, strict=True))


@pytest.mark.parametrize("seed", range(4))
def test_a_run_tells_of_today_and_the_bills_since_when(seed):
    """A meter that drifted was said to be as fast since before the first bill: three times the energy."""
    home, too_much = growing(seed)
    answer = reconcile.reconcile(shown_by_a_run(home, 124.5))
    causes = {cause.code: cause for cause in answer.causes}
    fast = causes["meter-step"]
    assert fast.grew_until is not None
    assert "by and by" in fast.text
    assert fast.probability > 0.75
    assert fast.kwh == pytest.approx(too_much, rel=0.3)
    stake = mean_of([s for s in answer.money.stakes if s.code in ("meter-step", "meter-always")])
    assert stake.kwh == pytest.approx(too_much, rel=0.4)
    assert all(causes[code].probability < 0.9 for code in ("constant-load", "habit-step") if code in causes)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("began", [0, 9])
def test_a_meter_that_turned_fast_at_once_is_not_said_to_drift(began, seed):
    factor = 1.0 + 0.25 * (np.arange(18) >= began)
    answer = reconcile.reconcile(shown_by_a_run(house(factor=factor, seed=seed), 125.0))
    causes = {cause.code: cause for cause in answer.causes}
    fast = causes["meter-step" if began else "meter-always"]
    assert fast.probability > 0.9
    assert fast.grew_until is None


@pytest.mark.parametrize("seed", range(4))
def test_bills_that_rise_by_and_by_may_be_of_a_meter_that_drifts(seed):
    """They were told as a load at over 99 %, and the run was put away."""
    home, _ = growing(seed)
    weighing = weigh_house(home, examine(home))
    assert weighing.chance("meter-drift") > COSTS.open_at
    assert weighing.chance("constant-load", "cold-load", "drift") < 0.95


@pytest.mark.parametrize("seed", range(4))
def test_bills_that_fall_by_and_by_send_no_meter_to_a_test_before_a_run(seed):
    """An old meter that slowed was told as a load that is gone, and nothing needed to be done."""
    factor = 1.0 - 0.3 * np.clip((np.arange(24) - 7.5) / 16.0, 0.0, 1.0)
    answer = reconcile.reconcile(house(24, factor=factor, seed=seed))
    slow = next(cause for cause in answer.causes if cause.code == "meter-low")
    assert slow.probability > COSTS.slow_open_at
    assert slow.size_low <= -30.0 <= slow.size_high
    assert "by and by" in slow.text
    assert answer.verdict.decision == "outside-check"


def exchanged(home, since):
    bills = tuple(replace(bill, meter="AB"[i >= since]) for i, bill in enumerate(home.bills))
    return replace(home, bills=bills)


@pytest.mark.parametrize("seed", range(3))
def test_one_run_far_off_counts_where_the_bills_say_the_same(seed):
    since = 9
    step = np.where(np.arange(18) >= since, 1.5, 1.0)
    home = shown_by_a_run(house(seed=seed, factor=step), 150.0, repeats=1)
    home = replace(exchanged(home, since), meters=(Meter(number="A", pulse_wh=1.0), Meter(number="B", pulse_wh=1.0)))
    answer = reconcile.reconcile(home)
    assert answer.field_test.registration.zone == "cannot-tell"
    assert answer.verdict.field_test_warranted
    fast = next(cause for cause in answer.causes if cause.code == "meter-step")
    assert fast.probability > 0.9
    assert fast.size_low < 50.0 < fast.size_high


@pytest.mark.parametrize("percent", [50.0, 150.0, 200.0])
@pytest.mark.parametrize("seed", range(3))
def test_one_run_far_off_counts_for_little_where_the_bills_say_otherwise(percent, seed):
    answer = reconcile.reconcile(shown_by_a_run(house(seed=seed), percent, repeats=1))
    verdict = answer.verdict
    assert not verdict.field_test_warranted
    assert max(verdict.meter_fast_probability, verdict.meter_slow_probability) < 0.2
    assert any("twice more" in step.text for step in verdict.next_steps)


def test_a_run_outside_its_limits_is_told_however_few_the_bills():
    answer = reconcile.reconcile(shown_by_a_run(house(months=2), 120.0))
    assert answer.verdict.rule == "run-outside"
