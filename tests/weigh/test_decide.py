"""The table of decisions, rule by rule, on cases given by hand: each rule holds alone, and yields to those above it."""

from dataclasses import fields, replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest

from reconcile import reconcile
from reconcile.costs import COSTS, Costs
from reconcile.decide.rules import RULES, Case, Site, decide, no_chances
from reconcile.facts import Finding
from reconcile.house import Bill, Event, House
from reconcile.kinds import Decision, Flag
from reconcile.result import Cause, Period
from reconcile.verdict.cases import Told, apart, case_of, facts_settle, money_owed

CALM = Case(
    danger=False,
    judged=18,
    listed=True,
    odds=no_chances(),
    site=Site(),
    settled=False,
    settles_all=False,
    owed=False,
    high=0,
    apart=0,
    low=0,
    low_open=False,
    told=False,
)
QUIET = Site(read=True)


@pytest.mark.parametrize(
    ("chances", "decision"),
    [
        ({"slow": 0.46, "falls": 0.47, "none": 0.43, "leading": 0.46}, Decision.OUTSIDE_CHECK),
        ({"slow": 0.3, "falls": 0.31, "none": 0.65, "leading": 0.3}, Decision.EXPLAINED),
        ({"slow": 0.15, "falls": 0.16, "none": 0.05, "leading": 0.45}, Decision.EXPLAINED),
    ],
)
def test_a_slow_meter_is_looked_at_where_it_is_the_likeliest_of_all(chances, decision):
    assert decide(replace(CALM, odds=no_chances(**chances))).decision == decision


def test_a_home_that_seems_empty_leaves_a_slow_meter_open_until_somebody_says_so():
    gone = no_chances(falls=0.99, slow=0.01, none=0.0, leading=0.99)
    assert decide(replace(CALM, odds=gone)).decision is Decision.EXPLAINED
    assert decide(replace(CALM, odds=gone, emptied=True)).name == "falls"
    assert decide(replace(CALM, odds=gone, emptied=True, site=Site("inside", read=True))).name == "explained"


@pytest.mark.parametrize("part", [0.2, 0.33])
def test_a_meter_that_counts_a_part_is_not_told_as_a_home_that_was_left(part):
    usual = [467, 562, 514, 481, 641, 668, 812, 760, 700, 590, 480, 520, 560, 470, 500, 530]
    first, month = date(2022, 6, 4), timedelta(days=30)
    bills = tuple(
        Bill(first + i * month, first + (i + 1) * month, float(round(kwh * (part if i >= 8 else 1.0))))
        for i, kwh in enumerate(usual)
    )
    said = reconcile(House("less", bills)).verdict
    assert said.decision is Decision.OUTSIDE_CHECK
    assert said.meter_slow_probability > 0.1
    steps = [step.code for step in said.next_steps]
    assert "known-load" in steps
    left = Event(first + 8 * month, "occupants", note="nobody lives there since")
    assert reconcile(House("less", bills, events=(left,))).verdict.decision is Decision.EXPLAINED


def test_no_meter_is_tested_for_what_the_sizes_of_own_appliances_do_not_bear_out():
    """A child, or months away, moves nights and days together as a meter does: a known load is run first."""
    sure = no_chances(fast=0.999, changed=0.999, none=0.0, leading=0.999)
    rules = [decide(replace(CALM, high=8, odds=replace(sure, borne_out=told))).name for told in (-5.0, 3.0, 6.0)]
    assert rules == ["lasting", "lasting", "bills-alone"]


def test_no_meter_is_tested_on_bills_alone_while_the_diary_tells_of_what_came():
    sure = no_chances(fast=0.999, changed=0.999, none=0.0, leading=0.999)
    case = replace(CALM, high=8, odds=sure)
    assert decide(case).decision is Decision.FIELD_TEST
    assert decide(replace(case, told=True)).decision is Decision.OUTSIDE_CHECK


CASES = {
    "danger": (CALM, {"danger": True}, {}),
    "main-off-counts": (CALM, {"site": Site(counts_with_main_off=True, read=True)}, {}),
    "run-outside": (CALM, {"site": Site("fast", read=True)}, {}),
    "few-and-settled": (CALM, {"judged": 2, "settled": True}, {}),
    "too-few": (CALM, {"judged": 2}, {}),
    "records-account": (CALM, {"settled": True, "settles_all": True, "high": 1}, {"high": 0.7}),
    "bills-alone": (CALM, {"high": 8}, {"fast": 0.999, "changed": 0.999, "none": 0.0, "leading": 0.999}),
    "run-open": (CALM, {"site": Site("cannot-tell", read=True)}, {"fast": 0.61, "none": 0.2, "leading": 0.61}),
    "meter-slow": (CALM, {}, {"slow": 0.51, "changed": 0.51, "none": 0.4, "leading": 0.51}),
    "generation": (CALM, {}, {"generation": 0.7, "none": 0.2, "leading": 0.7}),
    "lasting": (CALM, {}, {"steady": 0.51, "none": 0.4, "leading": 0.51}),
    "rivals": (CALM, {}, {"alike": 0.6, "fast": 0.15, "steady": 0.1, "none": 0.4, "leading": 0.3}),
    "falls": (CALM, {}, {"falls": 0.6, "slow": 0.2, "none": 0.3, "leading": 0.4}),
    "meter-open": (CALM, {"site": QUIET}, {"fast": 0.06, "none": 0.9}),
    "old-meter": (CALM, {"site": Site("inside", read=True)}, {"exchange": 0.9, "none": 0.1, "leading": 0.9}),
    "settled": (CALM, {"settled": True}, {}),
    "moved": (CALM, {"apart": 1}, {"swap": 0.3, "high": 0.3, "none": 0.4, "leading": 0.3}),
    "above-list": (CALM, {}, {"level": 0.8, "always": 0.1, "level_percent": 40.0, "level_size": 0.4, "none": 0.2}),
    "equipment": (CALM, {}, {"weather": 0.8, "none": 0.1, "leading": 0.8}),
    "below-list": (CALM, {}, {"far_below": 0.6, "level_percent": -60.0}),
    "meter-always": (
        CALM,
        {},
        {"always": 0.3, "fast": 0.3, "level": 0.5, "level_percent": -5.0, "level_size": 0.4, "none": 0.4},
    ),
    "late-bill": (CALM, {"high": 1}, {"high": 0.7, "late": 0.6, "steady": 0.15, "none": 0.1, "leading": 0.7}),
    "odd-bill": (CALM, {"high": 1, "apart": 1}, {"high": 0.7, "none": 0.2, "leading": 0.7}),
    "owed": (CALM, {"owed": True}, {}),
    "resized": (CALM, {"resized": True}, {"fast": 0.12, "none": 0.7}),
    "meter-maybe": (CALM, {}, {"fast": 0.3, "none": 0.6}),
    "above-plate": (CALM, {"above_plate": True}, {}),
    "explained": (CALM, {}, {}),
}


def case(base, changes, odds):
    return replace(base, **changes, odds=no_chances(**odds))


@pytest.mark.parametrize("name", CASES)
def test_each_rule_decides_its_own_case(name):
    assert decide(case(*CASES[name])).name == name


def test_where_no_bill_stands_out_and_nothing_at_all_is_likeliest_nobody_is_sent_to_the_desk():
    assert decide(case(CALM, {}, {"swap": 0.36, "high": 0.19, "none": 0.38, "leading": 0.36})).name == "explained"
    assert decide(case(CALM, {}, {"swap": 0.4, "high": 0.6, "none": 0.0, "leading": 0.6})).name == "moved"


def test_two_meters_that_may_well_disagree_get_no_all_clear():
    """Of either reading of one news neither need be likely alone: hourly data of a meter exchanged."""
    assert decide(replace(CALM, odds=no_chances(fast=0.15, exchange=0.3, none=0.5))).name == "meter-maybe"
    assert decide(replace(CALM, odds=no_chances(fast=0.05, exchange=0.1, none=0.8))).name == "explained"


def test_every_rule_has_its_case_and_its_reason():
    assert [rule.name for rule in RULES] == list(CASES)
    assert all(rule.why and isinstance(rule.decision, Decision) for rule in RULES)


@pytest.mark.parametrize("name", [name for name in CASES if name != "danger"])
def test_danger_goes_before_everything(name):
    base, changes, odds = CASES[name]
    assert decide(case(base, changes | {"danger": True}, odds)).decision is Decision.URGENT


@pytest.mark.parametrize("name", [name for name in CASES if name != "danger"])
def test_a_known_load_outside_its_limits_is_a_test_whatever_the_bills_say(name):
    base, changes, odds = CASES[name]
    for run in ("fast", "slow"):
        assert decide(case(base, changes | {"site": Site(run, read=True)}, odds)).decision is Decision.FIELD_TEST


def test_readings_short_of_a_known_load_clear_no_meter():
    for site in (QUIET, Site("cannot-tell", read=True)):
        assert decide(case(CALM, {"site": site}, {"fast": COSTS.open_at, "none": 0.9})).name == "meter-open"
    assert decide(case(CALM, {"site": Site("inside", read=True)}, {"fast": 0.06, "none": 0.9})).name == "explained"
    assert decide(case(CALM, {"site": QUIET}, {"fast": 0.04, "none": 0.9})).name == "explained"


def test_a_run_inside_closes_the_question_for_that_load_but_not_for_a_load():
    inside = {"site": Site("inside", read=True)}
    assert decide(case(CALM, inside, {"fast": 0.9, "changed": 0.9, "none": 0.1, "leading": 0.9})).name != "lasting"
    assert decide(case(CALM, inside, {"steady": 0.9, "none": 0.1, "leading": 0.9})).name == "lasting"


def test_a_quiet_reading_alone_sends_no_meter_to_a_test():
    odds = {"fast": 0.95, "changed": 0.95, "none": 0.05, "leading": 0.95}
    assert decide(case(CALM, {"site": QUIET}, odds)).decision is Decision.OUTSIDE_CHECK


def test_the_two_readings_of_an_exchange_are_added():
    odds = {"fast": 0.3, "changed": 0.3, "exchange": 0.58, "alike": 0.58, "none": 0.4, "leading": 0.3}
    assert decide(case(CALM, {}, odds)).name == "lasting"


def test_the_diary_calms_a_load_it_tells_of_and_an_odd_bill():
    assert (
        decide(case(CALM, {"told": True, "high": 4}, {"steady": 0.9, "none": 0.1, "leading": 0.9})).name == "explained"
    )
    assert decide(case(CALM, {"told": True, "high": 1}, {"high": 0.9, "none": 0.1, "leading": 0.9})).name == "explained"


def test_a_low_bill_that_its_readings_bear_out_asks_nothing():
    assert decide(case(CALM, {"low": 1}, {"none": 0.2, "leading": 0.7})).name == "explained"
    assert decide(case(CALM, {"low": 1, "low_open": True}, {"none": 0.2, "leading": 0.7})).name == "odd-bill"
    borne_out = {"low": 1, "low_open": True, "tied": True}  # the hourly readings add up to it
    assert decide(case(CALM, borne_out, {"none": 0.2, "leading": 0.7})).name == "explained"


def test_what_cannot_be_told():
    assert case(CALM, {"high": 1}, {"leading": 0.4}).cannot_tell
    assert case(CALM, {}, {"none": 0.4, "leading": 0.3}).cannot_tell
    assert not case(CALM, {"high": 1}, {"leading": 0.6}).cannot_tell
    assert not case(CALM, {}, {"none": 0.8}).cannot_tell
    assert not case(CALM, {"high": 1, "settled": True, "settles_all": True}, {"leading": 0.2}).cannot_tell


def finding(code, *periods, settles=True, amount=None):
    return Finding(code, periods, None, amount, settles=settles)


def test_facts_account_for_what_they_cover():
    assert facts_settle((), frozenset({3}), 12) == (False, False)
    assert facts_settle((finding("catch-up", 3),), frozenset({3}), 12) == (True, True)
    assert facts_settle((finding("catch-up", 3),), frozenset({3, 4}), 12) == (True, False)
    assert facts_settle((finding("catch-up", 3),), frozenset(), 12) == (True, False)
    assert facts_settle((finding("gap", 3, settles=False),), frozenset({3}), 12) == (False, False)
    assert facts_settle((finding("multiplier", *range(12)),), frozenset(), 12) == (True, True)
    ratio = replace(finding("interval-mismatch", *range(12)), case="ratio", kwh=-160.0)
    assert facts_settle((ratio,), frozenset({3, 4}), 12, 3290.0) == (True, False)
    assert facts_settle((replace(ratio, kwh=3000.0),), frozenset({3, 4}), 12, 3290.0) == (True, True)


def test_money_is_asked_about_from_a_tenth_of_a_bill():
    assert money_owed((finding("other-charge", 3, amount=11),), 100)
    assert not money_owed((finding("other-charge", 3, amount=9),), 100)
    assert not money_owed((finding("gap", 3, amount=50),), 100)


def test_another_cost_moves_its_threshold_and_the_decision():
    odds = {"alike": 0.6, "fast": 0.15, "steady": 0.1, "none": 0.4, "leading": 0.3}
    assert decide(case(CALM, {}, odds)).name == "rivals"
    assert decide(case(CALM, {"costs": Costs(wasted_look=200.0)}, odds)).name == "explained"
    open_run = {"site": Site("cannot-tell", read=True)}
    fast = {"fast": 0.7, "changed": 0.7, "none": 0.2, "leading": 0.7}
    assert decide(case(CALM, open_run, fast)).name == "run-open"
    assert decide(case(CALM, open_run | {"costs": Costs(needless_test=2400.0)}, fast)).name == "lasting"


@pytest.mark.parametrize("wrong", [{"call": 0.0}, {"fast_left": float("inf")}, {"hazard": (1.0,)}, {"minute": -1.0}])
def test_a_cost_is_a_number_above_nothing(wrong):
    with pytest.raises(ValueError, match="costs: "):
        Costs(**wrong)


def test_a_run_that_is_held_back_leaves_the_meter_open_however_little_the_bills_say():
    held = {"site": Site(read=True, held="fast")}
    assert decide(case(CALM, held, {"fast": 0.01, "none": 0.9})).name == "meter-open"


def test_a_bill_over_its_range_that_is_likely_nothing_is_not_worth_a_call():
    over = {"high": 1, "apart": 1}
    assert decide(case(CALM, over, {"none": 0.7, "high": 0.05, "swap": 0.02, "leading": 0.1})).name == "explained"
    assert decide(case(CALM, over, {"none": 0.7, "high": 0.06, "swap": 0.05, "leading": 0.1})).name == "odd-bill"


def test_thresholds_follow_from_the_costs():
    assert pytest.approx(0.2, abs=1e-12) == COSTS.look_at
    assert pytest.approx(0.6, abs=1e-12) == COSTS.test_at
    assert pytest.approx(0.1, abs=1e-12) == COSTS.desk_at
    assert 0.99 < COSTS.test_from_bills_at < 1.0
    assert COSTS.open_at >= COSTS.known_load_run / COSTS.fast_left


@pytest.mark.parametrize(("listed", "fewest"), [(True, 3), (False, 6)])
def test_the_fewest_bills_that_predict_one_another(listed, fewest):
    assert decide(case(CALM, {"listed": listed, "judged": fewest}, {})).name == "explained"
    assert decide(case(CALM, {"listed": listed, "judged": fewest - 1}, {})).name == "too-few"
    assert decide(replace(CALM, odds=None)).name == "too-few"


def test_a_high_bill_and_a_low_one_stand_out_together():
    assert case(CALM, {"high": 1, "low": 1}, {}).stands_out
    assert not case(CALM, {}, {"none": 0.5}).stands_out
    assert case(CALM, {}, {"none": 0.49}).stands_out
    assert not case(CALM, {"high": 1}, {"leading": 0.5}).cannot_tell
    assert not replace(CALM, odds=None, high=1).stands_out


def test_what_is_left_open_adds_up_the_ways_a_meter_may_be_wrong():
    site = {"site": QUIET}
    assert decide(case(CALM, site, {"fast": 0.02, "slow": 0.03, "none": 0.9})).name == "meter-open"
    assert decide(case(CALM, site, {"fast": 0.02, "exchange": 0.05, "none": 0.9})).name == "meter-open"
    assert decide(case(CALM, site, {"fast": 0.045, "exchange": 0.045, "none": 0.9})).name == "explained"


def test_checks_read_narrow_what_asks_for_more_of_them():
    likely = {"none": 0.4, "leading": 0.55}
    assert decide(case(CALM, {"site": QUIET}, {"timed": 0.6} | likely)).name == "explained"
    assert decide(case(CALM, {"site": QUIET}, {"fast": 0.3, "steady": 0.25} | likely)).name == "lasting"
    assert decide(case(CALM, {"site": QUIET}, {"exchange": 0.5, "fast": 0.0} | likely)).name == "lasting"
    assert decide(case(CALM, {}, {"steady": 0.2, "changed": 0.2, "timed": 0.1} | likely)).name == "lasting"
    assert decide(case(CALM, {}, {"steady": 0.2, "changed": 0.2, "timed": 0.05} | likely)).name == "explained"


def test_bills_that_belong_to_a_lasting_cause_send_nobody_to_the_billing_desk():
    odds = {"alike": 0.9, "none": 0.1, "leading": 0.9}
    assert decide(case(CALM, {"high": 2}, odds)).name == "explained"
    assert decide(case(CALM, {"high": 2, "apart": 1}, odds | {"high": 0.3})).name == "odd-bill"


def test_a_run_that_leaves_next_to_nothing_of_a_wrong_meter_clears_it():
    odds = {"exchange": 0.9, "none": 0.1, "leading": 0.9}
    site = {"site": Site("cannot-tell", read=True)}
    assert decide(case(CALM, site, odds)).name == "old-meter"
    assert decide(case(CALM, site, odds | {"fast": COSTS.open_at})).name == "lasting"
    assert decide(case(CALM, {"site": QUIET}, odds)).name == "lasting"


def test_the_level_is_worth_measuring_by_its_size_and_by_whom_it_may_cost():
    def told(part, **odds):
        return decide(case(CALM, {}, {"none": 0.2, "level_percent": 100.0 * part, "level_size": part} | odds)).name

    assert [told(part, level=0.8, always=0.1) for part in (0.05, 0.4)] == ["explained", "above-list"]
    # a short list and a fast meter: the meter costs more
    assert told(0.2, level=0.3) == "explained"
    assert told(0.2, level=0.3, always=0.3) == "above-list"
    # what the bills show and what the cause would add: the smaller counts
    assert told(0.4, level=0.8, always=0.1, level_size=0.05) == "explained"
    assert told(0.4, level=0.8, always=0.1, level_percent=5.0) == "explained"
    many = no_chances(level=0.3, always=0.3, none=0.7, level_percent=20.0, level_size=0.2)
    assert decide(replace(CALM, listed=False, odds=many)).name == "explained"


def test_a_run_held_back_is_heard_where_the_bills_say_the_same():
    site = {"site": Site(read=True, held="fast")}
    odds = {"fast": COSTS.test_at, "changed": COSTS.test_at, "none": 0.4, "leading": COSTS.test_at}
    assert decide(case(CALM, site, odds)).name == "run-open"
    assert decide(case(CALM, site, odds | {"fast": 0.55})).decision is Decision.OUTSIDE_CHECK
    other = odds | {"fast": 0.0, "slow": COSTS.test_at}
    assert decide(case(CALM, site, other)).decision is Decision.OUTSIDE_CHECK
    assert decide(case(CALM, {"site": Site(read=True, held="slow")}, other)).name == "run-open"
    # another error than the bills tell of is borne out by none of them
    apart = {"site": Site(read=True, held="fast", borne_out=False)}
    assert decide(case(CALM, apart, odds)).decision is Decision.OUTSIDE_CHECK
    # nothing is cleared by it
    assert not case(CALM, site, {"none": 1.0}).cleared


def row(month, flag=Flag.WITHIN, usual=500.0):
    nothing = dict.fromkeys(field.name for field in fields(Period))
    return Period(**nothing | {"start": date(2025, month, 1), "flag": flag, "usual_kwh": usual})


def rise(code, chance, acting):
    return Cause(code, chance, None, 20.0, "%", pattern_kwh=tuple(150.0 * on for on in acting))


def test_lasting_causes_that_share_a_chance_hold_a_bill_together():
    """Which of them it is the bills cannot tell; that one of them made the bill high is likely all the same."""
    rows = [row(month, Flag.OVER if month > 3 else Flag.WITHIN) for month in range(1, 7)]
    acting = [0, 0, 0, 1, 1, 1]
    torn = [rise("constant-load", 0.45, acting), rise("habit-step", 0.4, acting)]
    assert apart(rows, torn, 0.5) == 0
    assert apart(rows, torn[:1], 0.5) == 3
    assert apart([*rows[:2], row(3, Flag.OVER), *rows[3:]], torn, 0.5) == 0  # it may begin within the bill before
    assert apart([row(1, Flag.OVER), *rows[1:]], torn, 0.5) == 1


def test_who_pays_more_for_a_kwh_is_told_to_look_at_the_rate_and_not_that_nothing_is_to_be_done():
    starts = [date(2024, 1, 5) + timedelta(days=30 * n) for n in range(19)]
    kwh = [900.0 + 30.0 * (n % 3) for n in range(18)]
    cents = [14 if n < 10 else 20 for n in range(18)]
    bills = tuple(
        Bill(start, end, used, amount=Decimal(round(used * price)) / 100)
        for (start, end), used, price in zip(pairwise(starts), kwh, cents, strict=True)
    )
    verdict = reconcile(House("Mill Lane", bills)).verdict
    codes = [step.code for step in verdict.next_steps if not step.optional]
    assert "higher prices" in verdict.headline
    assert "keep-reading" not in codes
    if verdict.decision is Decision.EXPLAINED and not verdict.blind:
        assert "which-rate" in codes


def test_heating_that_likely_takes_more_is_looked_at_without_a_list_too_unless_the_diary_tells_of_it():
    odds = {"weather": 0.83, "alike": 0.9, "none": 0.1, "leading": 0.83}
    assert decide(case(CALM, {"listed": False}, odds)).name == "equipment"
    assert decide(case(CALM, {"listed": False, "told": True}, odds)).name == "explained"


def test_a_run_that_likely_lies_outside_the_limits_leaves_the_meter_open_however_little_the_bills_say_of_it():
    run = Site("cannot-tell", read=True)
    little = {"fast": 0.002, "none": 0.95}
    assert decide(case(CALM, {"site": run}, little)).name == "explained"
    leaning = {"site": replace(run, leans=True)}
    assert decide(case(CALM, leaning, little)).name == "meter-open"
    assert not replace(CALM, site=leaning["site"], odds=no_chances(**little)).cleared


@pytest.mark.parametrize(("size", "chance", "whose"), [(97.0, 0.99, True), (40.0, 0.99, False), (97.0, 0.3, False)])
def test_a_meter_error_larger_than_any_meters_asks_whose_bills_they_are(size, chance, whose):
    cause = Cause("meter-step", chance, date(2025, 3, 1), size, "%", pattern_kwh=(0.0,))
    told = Told((), (cause,), diary=False, danger=False, costs=COSTS)
    assert case_of(House("x", ()), (), told, no_chances(), Site()).whose is whose


def test_an_estimate_trued_up_accounts_for_no_rise_that_lasts():
    rows = tuple(
        replace(row(month, Flag.OVER if month == 4 else Flag.WITHIN), excess_kwh=90.0) for month in range(1, 9)
    )
    facts, odds = (finding("estimated-read", 2), finding("catch-up", 3)), no_chances(steady=0.6, none=0.3, leading=0.6)
    for causes, decided in (((), "records-account"), ((rise("constant-load", 0.6, [0, 0, *[1] * 6]),), "lasting")):
        told = Told(rows, causes, diary=False, danger=False, costs=COSTS)
        bills = tuple(Bill(date(2025, month, 1), date(2025, month + 1, 1), 500.0) for month in range(1, 9))
        assert decide(case_of(House("x", bills), facts, told, odds, Site())).name == decided


def test_an_estimate_made_good_is_no_all_clear_where_a_rise_could_hide():
    used = [900.0, 860.0, 770.0, 640.0, 530.0, 500.0, 530.0, 610.0, 600.0, 640.0, 760.0, 880.0]
    used[4:6] = used[4] - 200.0, used[5] + 200.0
    starts = [date(2024, 1, 5) + timedelta(days=30 * n) for n in range(13)]
    bills = tuple(
        Bill(start, end, kwh, read_type="estimated" if at == 4 else "actual")
        for at, ((start, end), kwh) in enumerate(zip(pairwise(starts), used, strict=True))
    )
    verdict = reconcile(House("x", bills)).verdict
    assert verdict.rule == "settled"
    assert "could hide in them" in verdict.headline
