"""The main job on small houses whose end is known, and on houses with hardly anything to go by."""

import json
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from weigh_houses import expected, house

import reconcile
from reconcile.house import DANGERS, Bill, Event, House, Load, Meter
from reconcile.house.site import FieldTest, Instrument, Instruments, Quiet, Registered, Run
from reconcile.kinds import Flag, Hazard
from reconcile.plan.first import FIRST_LOOKS
from reconcile.report.views.letter_view import letter


def fast_from(period: int, error: float, months: int = 18) -> np.ndarray:
    return np.where(np.arange(months) >= period, 1.0 + error, 1.0)


def with_leak(home: House, period: int, watts: float) -> House:
    more = [replace(b, kwh=b.kwh + (watts * 0.024 * b.days if i >= period else 0.0)) for i, b in enumerate(home.bills)]
    return replace(home, bills=tuple(more))


def chance(answer, code: str) -> float:
    return next((cause.probability for cause in answer.causes if cause.code == code), 0.0)


def test_expected_kwh_is_what_a_plain_loop_over_days_gives():
    home = house()
    answer = reconcile.reconcile(home)
    ours = [row.expected_kwh for row in answer.rows]
    wanted = expected(home) + 3.0 * np.array([bill.days for bill in home.bills])
    np.testing.assert_allclose(ours, wanted, rtol=1e-12, atol=0)


def test_a_house_in_order_is_explained():
    answer = reconcile.reconcile(house())
    assert answer.verdict.decision == "explained"
    assert not answer.verdict.field_test_warranted
    assert chance(answer, "none") > 0.7
    assert {row.flag for row in answer.rows} == {"within"}


def test_one_high_month_is_flagged_and_no_other():
    factor = np.ones(18)
    factor[9] = 1.5
    answer = reconcile.reconcile(house(factor=factor))
    assert [row.flag for row in answer.rows].count("over") == 1
    assert answer.rows[9].flag == "over"
    true_excess = answer.rows[9].billed_kwh / 3.0
    assert answer.rows[9].excess_kwh == pytest.approx(true_excess, rel=0.2)
    assert not answer.verdict.field_test_warranted


def test_a_fast_meter_calls_for_checks_and_the_checks_for_a_test():
    home = house(factor=fast_from(9, 0.4))
    first = reconcile.reconcile(home)
    assert first.verdict.decision in ("outside-check", "field-test")
    assert [row.flag for row in first.rows[9:]] == ["over"] * 9
    assert {row.flag for row in first.rows[:9]} == {"within"}
    run = Run(
        "heater",
        Registered(pulses=546, seconds=900),
        reference_watts=1500.0,
        background_w_before=84.0,
        background_w_after=84.0,
    )
    runs = (run, replace(run, label="heater again"))
    second = reconcile.reconcile(replace(home, meters=(Meter(pulse_wh=1.0),), field_test=FieldTest(runs=runs)))
    assert second.verdict.decision == "field-test"
    assert second.verdict.field_test_warranted
    assert chance(second, "meter-step") > 0.9


def test_a_leak_is_a_load_and_never_a_test():
    home = with_leak(house(), 9, 500.0)
    first = reconcile.reconcile(home)
    assert first.verdict.decision == "outside-check"
    names = ("refrigerator",)
    quiet = Quiet(Registered(pulses=620, seconds=3600), on=names)
    run = Run(
        "heater",
        Registered(pulses=375, seconds=900),
        reference_watts=1500.0,
        background_w_before=0.0,
        background_w_after=0.0,
    )
    second = reconcile.reconcile(
        replace(home, meters=(Meter(pulse_wh=1.0),), field_test=FieldTest(quiet=(quiet,), runs=(run,)))
    )
    assert second.verdict.decision == "outside-check"
    assert chance(second, "constant-load") > 0.9
    found = next(cause for cause in second.causes if cause.code == "constant-load")
    assert found.size == pytest.approx(500.0, rel=0.25)
    assert abs((found.since - home.bills[9].start).days) <= 45


def test_a_true_reference_run_clears_the_meter():
    home = house(factor=fast_from(9, 0.2))
    run = Run(
        "heater",
        Registered(pulses=375, seconds=900),
        reference_watts=1500.0,
        background_w_before=0.0,
        background_w_after=0.0,
    )
    said = reconcile.reconcile(replace(home, meters=(Meter(pulse_wh=1.0),), field_test=FieldTest(runs=(run,))))
    assert chance(said, "meter-step") < chance(reconcile.reconcile(home), "meter-step")
    assert not said.verdict.field_test_warranted


def run_by_four_fifths(home: House) -> House:
    """Three runs with a heater by a meter that counts four fifths, one count worth 1 Wh."""
    runs = tuple(
        Run(
            "heater",
            Registered(
                pulses=pulses,
                seconds=seconds,
                counted="pulse-to-pulse",
                register_start=9000.0,
                register_end=9000.0 + pulses / 1000.0,
            ),
            connection="line-to-neutral",
            reference_watts=watts,
            background_w_before=before,
            background_w_after=before + 2.0,
        )
        for pulses, seconds, watts, before in ((320, 895.4, 1502, 84), (341, 951.9, 1497, 91), (300, 840.6, 1506, 79))
    )
    plug_in = Instrument(percent_of_reading=1.0, resolution=1.0)
    test = FieldTest(instruments=Instruments(watts=plug_in), runs=runs)
    return replace(home, meters=(Meter(pulse_wh=1.0, step_kwh=0.001),), field_test=test)


def test_a_meter_slow_since_before_the_first_bill_is_told_without_a_date_and_without_another_cause():
    answer = reconcile.reconcile(run_by_four_fifths(house(factor=np.full(18, 0.8))))
    assert answer.verdict.field_test_warranted
    slow = next(cause for cause in answer.causes if cause.code == "meter-low")
    assert slow.since is slow.since_low is slow.since_high is None
    assert slow.size_low < -20.0 < slow.size_high
    assert "do not tell since when" in slow.text
    assert all(cause.probability < 0.2 for cause in answer.causes if cause.code != "meter-low")
    said = " ".join(letter(answer)["points"])
    assert "do not tell since when" in said
    assert "Since" not in said
    assert said.count("give or take") == 1  # the size is told by the test alone
    rows = list(answer.rows)
    rows[3] = replace(rows[3], flag=Flag.OVER, excess_kwh=90.0)
    high = letter(replace(answer, rows=tuple(rows)))
    assert len(high["bills"]) == len(rows) + 1  # every bill may be of it: all are in the table and in its sum
    assert f"The {len(rows)} bills of this meter" in " ".join(high["points"])


def test_a_meter_slow_since_a_day_keeps_its_day():
    home = house(factor=fast_from(9, -0.2))
    answer = reconcile.reconcile(run_by_four_fifths(home))
    slow = next(cause for cause in answer.causes if cause.code == "meter-low")
    assert slow.since is not None
    assert abs((slow.since - home.bills[9].start).days) <= 31
    assert "Since" in " ".join(letter(answer)["points"])


@pytest.mark.parametrize("sign", DANGERS)
def test_danger_goes_before_everything(sign):
    home = replace(house(factor=fast_from(9, 0.5)), dangers=(sign,))
    verdict = reconcile.reconcile(home).verdict
    assert verdict.decision == "urgent"
    assert not verdict.field_test_warranted
    assert "emergency" in " ".join(step.text for step in verdict.next_steps)


def test_steps_stand_in_order_of_hazard_and_covers_come_last():
    for factor in (None, fast_from(9, 0.4), fast_from(9, 1.5)):
        steps = reconcile.reconcile(house(factor=factor)).verdict.next_steps
        hazards = [step.hazard for step in steps if step.code not in FIRST_LOOKS]
        assert hazards == sorted(hazards)
        assert all(step.hazard <= Hazard.LOOK for step in steps if step.code in FIRST_LOOKS)
        for step in steps:
            if "panel by a qualified person" in step.text:
                assert step is steps[-1]
                assert step.cautions
            if step.hazard >= 2 and step.hazard != 4:
                assert step.cautions


def test_a_diary_line_moves_the_prior_of_an_onset_and_never_the_data():
    home = with_leak(house(), 9, 130.0)
    plain = reconcile.reconcile(home)
    told = reconcile.reconcile(replace(home, events=(Event(home.bills[9].start, "new-load"),)))
    assert chance(told, "constant-load") + chance(told, "habit-step") > chance(plain, "constant-load") + chance(
        plain, "habit-step"
    )
    assert [row.billed_kwh for row in told.rows] == [row.billed_kwh for row in plain.rows]


@pytest.mark.parametrize(("seed", "rise"), [(1, 0.12), (3, 0.2)])
def test_a_diary_line_marks_no_bill_and_clears_none(seed, rise):
    home = house(seed=seed, factor=fast_from(9, rise))
    told = replace(home, events=(Event(home.bills[9].start, "new-load", note="bought an electric car"),))
    limits = [
        [(row.usual_low_kwh, row.usual_high_kwh, row.flag) for row in reconcile.reconcile(one).rows]
        for one in (home, told)
    ]
    assert limits[0] == limits[1]


def test_an_exchange_raises_the_chance_of_a_step_there():
    home = house(factor=fast_from(9, 0.12))
    numbered = replace(home, bills=tuple(replace(b, meter="A1" if i < 9 else "B2") for i, b in enumerate(home.bills)))
    assert chance(reconcile.reconcile(numbered), "meter-step") > chance(reconcile.reconcile(home), "meter-step")


def test_a_step_up_to_the_list_at_an_exchange_says_the_old_meter_was_slow():
    factor = np.where(np.arange(18) < 9, 0.6, 1.0)
    home = house(factor=factor)
    home = replace(home, bills=tuple(replace(b, meter="A1" if i < 9 else "B2") for i, b in enumerate(home.bills)))
    said = reconcile.reconcile(home)
    assert chance(said, "old-meter-slow") > chance(said, "meter-step")


def test_an_estimate_and_its_catch_up_are_settled_on_paper():
    home = house()
    bills = list(home.bills)
    bills[7] = replace(bills[7], kwh=bills[7].kwh - 200.0, read_type="estimated")
    bills[8] = replace(bills[8], kwh=bills[8].kwh + 200.0)
    verdict = reconcile.reconcile(replace(home, bills=tuple(bills))).verdict
    assert verdict.decision == "paperwork"
    assert not verdict.field_test_warranted


BARE = [
    Bill(date(2024, 1, 1) + timedelta(days=30 * i), date(2024, 1, 31) + timedelta(days=30 * i), 400.0 + 7 * (i % 3))
    for i in range(12)
]


@pytest.mark.parametrize(
    ("home", "decision"),
    [
        (replace(house(), bills=house().bills[:1]), "not-enough-data"),
        (replace(house(), bills=house().bills[:3]), "explained"),
        (House("bills only", tuple(BARE)), "explained"),
        (House("three bills only", tuple(BARE[:3])), "not-enough-data"),
        (replace(house(), weather=None), "explained"),
        (house(60), "explained"),
        (
            replace(
                house(),
                loads=tuple(replace(x, watts_within_percent=0.0, hours_within_percent=0.0) for x in house().loads),
            ),
            "explained",
        ),
        (House("zero", tuple(replace(b, kwh=0.0) for b in BARE)), "explained"),
        (replace(house(), bills=tuple(replace(b, kwh=0.0) for b in house().bills)), "inventory"),
        (
            replace(
                house(),
                bills=tuple(
                    replace(a, end=b.end, kwh=a.kwh + b.kwh)
                    for a, b in zip(house().bills[::2], house().bills[1::2], strict=True)
                ),
            ),
            "explained",
        ),
        (replace(house(), loads=(Load("nothing", watts=0.0, run_hours=0.0),)), "inventory"),
    ],
    ids=[
        "one bill",
        "three bills",
        "bills only",
        "three bills only",
        "no weather",
        "60 bills",
        "all loads exact",
        "zero kWh",
        "zero kWh against a list",
        "bimonthly",
        "a list of nothing",
    ],
)
def test_hardly_anything_to_go_by_is_answered_in_words(home, decision):
    answer = reconcile.reconcile(home)
    assert answer.verdict.decision == decision
    assert answer.verdict.headline.endswith(".")
    assert not answer.verdict.field_test_warranted
    json.dumps(answer.to_dict(), allow_nan=False)
    assert len(answer.summary()) == len(home.bills)


def test_no_bill_at_all_is_refused():
    with pytest.raises(reconcile.InputError, match="there are no bills"):
        reconcile.reconcile(House("empty", ()))


def test_loads_are_pulled_towards_the_bills_and_their_limits_shrink():
    home = house(factor=np.full(18, 1.15))
    answer = reconcile.reconcile(home)
    before = sum(load.expected_kwh for load in answer.loads)
    after = sum(load.reconciled_kwh for load in answer.loads)
    billed = sum(bill.kwh for bill in home.bills)
    assert abs(after - billed) < 0.5 * abs(before - billed)
    for load in answer.loads:
        assert load.low_kwh <= load.reconciled_kwh <= load.high_kwh
    assert 0.0 <= sum(load.share_of_doubt for load in answer.loads) <= 1.0 + 1e-9


def test_bills_without_kwh_or_readings_are_refused_as_files_would_be():
    with pytest.raises(reconcile.InputError, match="Write the billed kWh, or both readings"):
        reconcile.reconcile(replace(house(), bills=tuple(replace(b, kwh=None) for b in house().bills)))


def test_a_rise_of_heating_may_have_begun_on_any_day_until_it_is_cold():
    """Bills of the warm months do not tell: its last day is the end of the first bill that holds a good part of it."""
    home = house(24)
    heat = expected(home) - expected(replace(home, weather=replace(home.weather, mean_c=home.weather.mean_c + 60.0)))
    since = next(i for i, bill in enumerate(home.bills) if bill.start.month == 6)
    kwh = [bill.kwh + (0.8 * heat[i] if i >= since else 0.0) for i, bill in enumerate(home.bills)]
    bills = tuple(replace(bill, kwh=float(round(value))) for bill, value in zip(home.bills, kwh, strict=True))
    cause = next(c for c in reconcile.reconcile(replace(home, bills=bills)).causes if c.code == "heating-rise")
    assert cause.probability > 0.9
    cold = next(bill for i, bill in enumerate(home.bills) if i >= since and heat[i] > 0.1 * heat.max())
    assert cause.since_low <= home.bills[since].start
    assert cold.closes <= cause.since_high <= cold.closes + timedelta(days=31)


def test_heating_that_the_list_lacks_is_not_said_to_run_all_the_time():
    home = house(24)
    pump = home.loads[-1]
    short = replace(pump, hours_per_degree_day=pump.hours_per_degree_day / 6.0)
    answer = reconcile.reconcile(replace(home, loads=(*home.loads[:-1], short)))
    missing = next(cause for cause in answer.causes if cause.code == "unlisted")
    assert missing.probability > 0.5
    assert missing.seasonal
    assert missing.text.endswith("heating or cooling that the list lacks.")
    assert "month after month" not in answer.verdict.headline


@pytest.mark.parametrize(("times", "told"), [(1.0, "should have used"), (1.5, "usually uses")])
def test_bills_far_above_a_vague_list_are_usual_and_not_what_should_have_been_used(times, told):
    home = house(factor=np.full(18, times))
    vague = tuple(replace(load, watts_within_percent=90.0, hours_within_percent=90.0) for load in home.loads)
    band = replace(home.band, unlisted_within_percent=150.0)
    answer = reconcile.reconcile(replace(home, loads=vague, band=band))
    assert f"Every bill is what this house {told}" in answer.verdict.headline


def test_where_the_meter_is_nearly_sure_to_be_wrong_the_run_that_decides_is_not_behind_readings_that_cannot():
    answer = reconcile.reconcile(house(24, factor=np.where(np.arange(24) >= 10, 1.8, 1.0)))
    assert answer.verdict.meter_fast_probability > 0.95
    needed = [step.code for step in answer.verdict.next_steps if not step.optional]
    assert "known-load" in needed
    assert not {"quiet", "own-readings"} & set(needed)


def test_the_letter_about_a_meter_found_slow_says_what_to_look_into():
    answer = reconcile.reconcile(house(factor=np.where(np.arange(18) >= 9, 0.5, 1.0)))
    assert "meter-test" in answer.verdict.requests
    said = letter(answer)
    assert any("less than they would have been before" in point for point in said["points"])
    assert said["opening"]
