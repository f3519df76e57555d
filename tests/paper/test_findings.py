"""What each finding says, how large it is, and what it means for the weighing."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from reconcile.answer import reconcile
from reconcile.house import Bill, ChargeLine, Event, House, Meter, RegisterReading
from reconcile.house.registers import Misread, misreads_of
from reconcile.house.tariff import Charge, Tariff
from reconcile.money import Suspicion, account, cost_of
from reconcile.money.stake import Stake, at_stake, of_cause
from reconcile.paper import examine
from reconcile.say import Voice
from reconcile.texts.findings import finding_do, finding_text
from reconcile.texts.money import stake_text
from reconcile.texts.step_words import CHECKS

D = Decimal
US = Voice()
FIVE_DIALS = Meter(digits=5)


def year(kwh=900.0, count=8, days=30, start=date(2024, 1, 1), **bill):
    bills = [
        Bill(start + timedelta(days * k), start + timedelta(days * (k + 1)), kwh=kwh, **bill) for k in range(count)
    ]
    return House("x", tuple(bills))


def with_readings(values, *, kwh=False, meters=(FIVE_DIALS,), start=date(2024, 1, 1), **house):
    bills = [
        Bill(
            start + timedelta(30 * k),
            start + timedelta(30 * (k + 1)),
            kwh=float(b - a) if kwh else None,
            reading_start=float(a),
            reading_end=float(b),
        )
        for k, (a, b) in enumerate(pairwise(values))
    ]
    return House("x", tuple(bills), meters=meters, **house)


def edit(house, i, **changes):
    bills = list(house.bills)
    bills[i] = replace(bills[i], **changes)
    return replace(house, bills=tuple(bills))


def only(house):
    (finding,) = examine(house).findings
    return finding


# Readings ------------------------------------------------------------------------------------------------------------


def test_energy_comes_from_readings_and_multiplier_where_no_kwh_is_given():
    house = with_readings([100, 125, 151, 180], meters=(Meter(multiplier=40.0),))
    assert examine(house).billed_kwh.tolist() == [1000.0, 1040.0, 1160.0]
    assert np.isnan(examine(edit(house, 1, reading_end=None)).billed_kwh[1])


def test_a_bills_own_kwh_stand_whatever_the_readings_say():
    house = edit(with_readings([1000, 1900, 2800, 3700], kwh=True), 1, kwh=1250.0)
    facts = examine(house)
    assert facts.billed_kwh[1] == 1250.0
    finding = only(house)
    assert (finding.code, finding.periods, finding.kwh, finding.settles) == ("reading-mismatch", (1,), 350.0, True)
    assert "1900 to 2800" in finding_text(finding, US)
    assert "350 kWh more charged than read" in finding_text(finding, US)


@pytest.mark.parametrize("off", [1.0, -1.0, 0.4])
def test_a_register_step_is_no_mismatch(off):
    house = edit(with_readings([1000, 1900, 2800], kwh=True), 1, kwh=900.0 + off)
    assert examine(house).findings == ()


def test_a_step_counts_as_often_as_the_multiplier():
    meters = (Meter(multiplier=40.0),)
    house = edit(with_readings([100, 125, 151], meters=meters), 1, kwh=1079.0)
    assert examine(house).findings == ()
    assert only(edit(house, 1, kwh=1082.0)).code == "reading-mismatch"


def test_a_reversed_subtraction_is_a_mismatch_not_a_slip():
    """The register passed zero and the bill subtracted the wrong way round."""
    house = edit(with_readings([97_900, 98_800, 99_700, 600, 1500], kwh=True), 2, kwh=99_100.0)
    finding = only(house)
    assert finding.code == "reading-mismatch"
    assert finding.kwh == 99_100 - 900
    assert "passed zero" in finding_text(finding, US)


def test_a_register_cannot_run_backwards():
    """45210 typed for 42510, and the next reading is 43400: the slip is found and both readings are shown."""
    house = with_readings([40_700, 41_600, 45_210, 43_400, 44_300, 45_200])
    facts = examine(house)
    (finding,) = facts.findings
    assert (finding.code, finding.periods) == ("reading-slip", (1, 2))
    assert "42510 instead of 45210 (two digits exchanged)" in finding_text(finding, US)
    assert "one of the two readings is wrong" in finding_text(finding, US)
    assert facts.loose_edges == {1}
    assert facts.billed_kwh[1] + facts.billed_kwh[2] == 43_400 - 41_600


def test_where_either_reading_could_be_wrong_both_edges_are_loose():
    house = with_readings([40_000, 41_000, 40_900, 42_800, 43_700])
    facts = examine(house)
    assert [f.code for f in facts.findings] == ["reading-slip"]
    assert facts.loose_edges <= {0, 1}
    assert facts.loose_edges


def test_a_whole_register_billed_after_a_slip_is_set_aside_but_not_changed():
    house = with_readings([40_700, 41_600, 45_210, 43_400, 44_300, 45_200], kwh=True)
    house = edit(house, 2, kwh=98_190.0)  # 100,000 + 43,400 - 45,210
    facts = examine(house)
    assert [f.code for f in facts.findings] == ["reading-slip"]
    assert facts.billed_kwh[2] == 98_190.0
    assert 2 in facts.set_aside


def test_generation_may_turn_a_register_back():
    house = with_readings([1000, 1900, 1800, 2000], generation=True)
    facts = examine(house)
    assert [f.code for f in facts.findings] == ["negative-use"]
    assert facts.billed_kwh.tolist() == [900.0, -100.0, 200.0]


def test_an_over_estimate_is_no_slip():
    house = edit(with_readings([1000, 1900, 3900, 3800, 4700]), 1, read_type="estimated")
    assert [f.code for f in examine(house).findings] == ["estimated-read", "catch-up"]


def test_a_customers_reading_counts_as_true():
    house = edit(with_readings([1000, 1900, 2800, 3700]), 1, read_type="customer")
    assert examine(house).findings == ()
    assert examine(house).loose_edges == frozenset()


def test_a_high_and_low_pair_is_left_to_the_weighing_unless_clear():
    values = np.cumsum([40_000, 900, 880, 930, 1100, 700, 910, 890, 905])
    assert examine(with_readings(values)).findings == ()


def test_slips_name_what_they_are():
    assert misreads_of(42_510, 5)[45_210.0] == Misread.EXCHANGED
    assert misreads_of(42_510, 5)[42_570.0] == Misread.DIGIT
    assert 42_510.0 not in misreads_of(42_510, 5)
    assert misreads_of(120.5, 4)[210.5] == Misread.EXCHANGED


# Estimates -----------------------------------------------------------------------------------------------------------


def test_estimate_and_catch_up_are_merged_from_actual_to_actual():
    house = edit(edit(year(), 3, kwh=400.0, read_type="estimated"), 4, kwh=1400.0)
    estimated, caught = examine(house).findings
    assert (estimated.code, estimated.periods) == ("estimated-read", (3,))
    assert (caught.code, caught.periods, caught.kwh) == ("catch-up", (4,), 500.0)
    assert "the 60 days took 1,800 kWh, 30.0 kWh a day" in finding_text(caught, US)
    rates = [caught.figures[name] for name in ("own_per_day", "estimate_per_day")]
    np.testing.assert_allclose(rates, [1400.0 / 30.0, 400.0 / 30.0], rtol=1e-12, atol=0)
    assert examine(house).loose_edges == {3}


def test_an_estimate_is_said_to_be_too_high_and_given_back_and_asks_nothing():
    """310 kWh too high, given back by the next bill, five actual readings since: no reading is asked for."""
    house = edit(edit(year(), 2, read_type="estimated", kwh=1210.0), 3, kwh=590.0)
    estimated, caught = examine(house).findings
    np.testing.assert_allclose(estimated.kwh, 310.0, rtol=1e-12, atol=0)
    said = finding_text(estimated, US)
    assert "Spread evenly over the days, the estimate was about 310 kWh (give or take 100) too high" in said
    assert "the next bill charged that much less" in said
    assert estimated.asks == caught.asks == ()
    assert "actual reading" not in finding_do(estimated, US)


def test_an_estimate_before_the_cold_is_split_by_the_season_and_not_the_wrong_way_round_by_days():
    """600 kWh used in autumn, 810 estimated; the winter's bill after it took 1,500: evenly, the estimate looks low."""
    months = [1500.0, 1400.0, 1200.0, 800.0, 500.0, 400.0, 400.0, 400.0, 450.0, 600.0, 1000.0, 1500.0]
    house = year(count=24)
    bills = tuple(replace(bill, kwh=months[i % 12] * (1.0 + 0.02 * (-1) ** i)) for i, bill in enumerate(house.bills))
    house = edit(edit(replace(house, bills=bills), 21, read_type="estimated", kwh=810.0), 22, kwh=790.0)
    estimated, caught = examine(house).findings
    assert 150.0 < estimated.kwh < 270.0
    assert caught.kwh == -estimated.kwh
    assert "Split as in bills of the same season" in finding_text(estimated, US)


def test_how_far_off_an_estimate_was_is_not_told_where_nothing_says_what_is_usual():
    """Four quarters of an all-electric house, of which the days alone tell nothing."""
    house = year(kwh=900.0, count=5, days=90)
    for i, kwh in enumerate((800.0, 3200.0, 2900.0, 1800.0, 700.0)):
        house = edit(house, i, kwh=kwh, read_type="estimated" if i == 2 else "actual")
    estimated, caught = examine(house).findings
    assert (estimated.kwh, caught.kwh, estimated.settles) == (None, None, True)
    assert "How far off it was, these bills do not tell." in finding_text(estimated, US)


def test_an_actual_reading_is_asked_for_only_where_none_follows():
    last = only(edit(year(), 7, read_type="estimated"))
    assert last.asks == ("actual-reading",)
    torn = edit(year(), 2, read_type="estimated")
    torn = replace(torn, bills=(*torn.bills[:3], *torn.bills[4:]))
    asked = {f.code: f.asks for f in examine(torn).findings}
    assert asked["estimated-read"] == ("missing-bill",)


def test_prices_of_their_own_days_are_asked_for_only_where_prices_changed_meanwhile():
    house = edit(edit(year(), 2, read_type="estimated", kwh=700.0), 3, kwh=1100.0)
    new = replace(FLAT, valid_from=house.bills[3].start, charges=(replace(FLAT.charges[0], price=D("0.18")),))
    asks = [
        {f.code: f.asks for f in examine(replace(house, tariffs=t)).findings}["catch-up"]
        for t in ((FLAT,), (FLAT, new))
    ]
    assert asks == [(), ("prices-of-own-days",)]


def test_readings_of_an_exchange_are_asked_for_only_where_they_are_not_here():
    house = with_readings([1000, 1900, 2800], start=date(2024, 1, 1))
    day = house.bills[1].start
    told = replace(house, events=(Event(day, "meter-exchange"),))
    assert {f.code: f.asks for f in examine(told).findings}["meter-exchange"] == ("exchange-readings",)
    rows = (RegisterReading(day, 1900.0, event="removed"), RegisterReading(day, 5.0, event="installed"))
    known = replace(told, readings=rows)
    assert {f.code: f.asks for f in examine(known).findings}["meter-exchange"] == ()


def test_several_estimates_in_a_row_are_one_finding():
    house = year()
    for i in (2, 3, 4):
        house = edit(house, i, read_type="estimated")
    estimated, caught = examine(house).findings
    assert estimated.periods == (2, 3, 4)
    assert "check your local rule" in finding_do(estimated, US)
    assert caught.periods == (5,)
    assert "the 120 days took 3,600 kWh" in finding_text(caught, US)
    assert examine(house).loose_edges == {2, 3, 4}


def test_the_next_bill_may_say_that_it_opened_on_an_estimate():
    house = edit(year(), 4, read_type_start="estimated")
    assert [f.code for f in examine(house).findings] == ["estimated-read", "catch-up"]
    assert examine(house).loose_edges == {3}


def test_estimates_at_the_ends_are_set_aside():
    facts = examine(edit(year(), 7, read_type="estimated"))
    assert [f.code for f in facts.findings] == ["estimated-read"]
    assert set(facts.set_aside) == {7}
    facts = examine(edit(year(), 0, read_type_start="estimated"))
    assert [f.code for f in facts.findings] == ["catch-up"]
    assert set(facts.set_aside) == {0}


# Dates ---------------------------------------------------------------------------------------------------------------


def test_a_gap_and_its_energy():
    house = with_readings([1000, 1900, 2800, 3700])
    house = replace(house, bills=(house.bills[0], house.bills[2]))
    finding = only(house)
    assert (finding.code, finding.kwh, finding.settles) == ("gap", 900.0, False)
    assert "30 days lie between" in finding_text(finding, US)


def test_one_day_is_a_gap():
    house = year()
    finding = only(edit(house, 4, start=house.bills[4].start + timedelta(1)))
    assert (finding.code, finding.periods) == ("gap", (3, 4))
    assert finding_text(finding, US).startswith("1 day lies between")


def test_every_bill_a_day_apart_is_one_hint():
    bills = tuple(replace(b, start=b.start + timedelta(k > 0)) for k, b in enumerate(year().bills))
    finding = only(House("x", bills))
    assert finding.code == "gap"
    assert 'dates = "inclusive"' in finding_do(finding, US)
    inclusive = tuple(replace(b, start=b.start + timedelta(1), inclusive=True, printed_days=30) for b in year().bills)
    assert examine(House("x", inclusive)).findings == ()


def test_every_bill_printing_a_day_more_is_one_hint():
    house = year(printed_days=31)
    finding = only(house)
    assert (finding.code, len(finding.periods)) == ("days-mismatch", 8)
    assert 'dates = "inclusive"' in finding_do(finding, US)


def test_an_overlap_by_readings_tells_what_was_billed_twice():
    house = with_readings([1000, 1900, 2800, 3700, 4600])
    later = house.bills[2]
    house = edit(house, 2, start=later.start - timedelta(5), reading_start=later.reading_start - 150.0)
    facts = examine(house)
    (finding,) = facts.findings
    assert (finding.code, finding.kwh) == ("overlap", 150.0)
    assert set(facts.set_aside) == {2}


@pytest.mark.parametrize(
    ("cycle", "days", "long"), [("monthly", 30, 44), ("two-monthly", 61, 75), ("quarterly", 91, 120), ("own", 45, 60)]
)
def test_long_periods_go_by_the_accounts_own_cycle(cycle, days, long):
    house = year(days=days)
    last = house.bills[-1]
    house = edit(house, 7, end=last.start + timedelta(long))
    finding = only(house)
    assert finding.code == "long-period"
    assert (f"{cycle} bills have" in finding_text(finding, US)) == (cycle != "own")
    assert not finding.settles


def test_first_and_final_bills_may_be_short():
    house = edit(year(), 0, start=date(2024, 1, 20), bill_type="first")
    last = house.bills[-1]
    house = edit(house, 7, end=last.start + timedelta(9), bill_type="final")
    assert examine(house).findings == ()
    assert only(edit(house, 7, bill_type="regular")).code == "short-period"


# Rebills -------------------------------------------------------------------------------------------------------------


def test_a_corrected_bill_over_several_replaces_them_all():
    house = year()
    a, c = house.bills[2], house.bills[4]
    right = Bill(a.start, c.end, kwh=2400.0, amount=D("240.00"), bill_type="corrected")
    house = replace(house, bills=(*house.bills[:2], right, *house.bills[2:]))
    facts = examine(house)
    (finding,) = [f for f in facts.findings if f.code == "rebill"]
    assert finding.kwh == 2400 - 3 * 900
    assert set(facts.set_aside) == {3, 4, 5}


def test_a_corrected_bill_a_few_days_off_replaces_only_its_own():
    house = year()
    own = house.bills[3]
    right = replace(own, start=own.start - timedelta(2), end=own.end + timedelta(2), kwh=850.0, bill_type="corrected")
    house = replace(house, bills=(*house.bills[:3], right, *house.bills[3:]))
    facts = examine(house)
    assert set(facts.set_aside) == {4}
    assert sorted(f.code for f in facts.findings) == ["overlap", "overlap", "rebill"]


def test_a_cancelled_bill_without_another_is_told():
    facts = examine(edit(year(), 3, bill_type="cancelled"))
    assert "rebill" in [f.code for f in facts.findings]
    assert set(facts.set_aside) == {3}


def test_the_same_days_with_other_kwh_are_told_apart_from_a_copy():
    house = year()
    other = replace(house.bills[3], kwh=700.0)
    before, after = house.bills[:3], house.bills[4:]
    told = set()
    for pair in ((house.bills[3], other), (other, house.bills[3])):
        twice = replace(house, bills=(*before, *pair, *after))
        finding = only(twice)
        assert (finding.code, finding.case, finding.kwh) == ("duplicate", "differ", 200.0)
        assert set(examine(twice).set_aside) == {3, 4}
        told.add(finding_text(finding, US))
    (text,) = told
    assert "with 700 kWh and with 900 kWh" in text
    assert "neither is used" in text
    three = replace(house, bills=(*before, house.bills[3], other, replace(other, kwh=800.0), *after))
    assert "3 times, with 700 kWh to 900 kWh" in finding_text(only(three), US)
    assert "none of them is used" in finding_text(only(three), US)


def test_of_copies_the_one_that_says_more_stands_in_any_order():
    house = year(amount=Decimal(90))
    own = house.bills[3]
    for poorer in (replace(own, amount=None), replace(own, kwh=None), replace(own, amount=own.amount + 1)):
        for pair in ((own, poorer), (poorer, own)):
            twice = replace(house, bills=(*house.bills[:3], *pair, *house.bills[4:]))
            facts = examine(twice)
            (left,) = facts.set_aside
            assert (twice.bills[left].kwh, twice.bills[left].amount) == (poorer.kwh, poorer.amount)
            assert "is there twice." in finding_text(only(twice), US)


# Exchange and multiplier ---------------------------------------------------------------------------------------------


def test_one_exchange_told_by_four_sources_is_one():
    house = year()
    day = house.bills[3].start + timedelta(11)
    house = replace(
        house,
        bills=tuple(replace(b, meter="A1" if i <= 3 else "B2") for i, b in enumerate(house.bills)),
        events=(Event(house.bills[3].start + timedelta(10), "meter-exchange"),),
        meters=(Meter(number="A1", ends=day), Meter(number="B2", begins=day)),
        readings=(
            RegisterReading(day, 51_200.0, "A1", event="removed"),
            RegisterReading(day, 3.0, "B2", event="installed"),
        ),
    )
    facts = examine(house)
    (exchange,) = facts.exchanges
    assert (exchange.day, exchange.period, exchange.old, exchange.new) == (day, 3, "A1", "B2")
    assert [f.code for f in facts.findings] == ["meter-exchange"]


def test_energy_across_an_exchange_follows_both_meters():
    house = with_readings([1000, 1900, 2800, 3700])
    day = house.bills[1].start + timedelta(10)
    house = edit(edit(house, 1, reading_end=607.0), 2, reading_start=607.0, reading_end=1507.0)
    house = replace(
        house,
        readings=(
            RegisterReading(day, 2200.0, "old", event="removed"),
            RegisterReading(day, 7.0, "new", event="installed"),
        ),
    )
    facts = examine(house)
    assert facts.billed_kwh.tolist() == [900.0, 900.0, 900.0]
    assert [f.code for f in facts.findings] == ["meter-exchange"]
    wrong = examine(edit(house, 1, kwh=1200.0))
    assert [(f.code, f.kwh) for f in wrong.findings if f.code == "reading-mismatch"] == [("reading-mismatch", 300.0)]


def test_a_new_meters_wrong_multiplier_shows_against_the_bills_before():
    house = with_readings([10_000, 10_900, 11_790, 12_700, 13_600, 14_500], kwh=True)
    first = house.bills[3]
    house = replace(
        house,
        bills=tuple(
            replace(
                b, meter="B", kwh=9000.0, reading_start=90.0 * (i - 3), reading_end=90.0 * (i - 2), multiplier=100.0
            )
            if i >= 3
            else replace(b, meter="A")
            for i, b in enumerate(house.bills)
        ),
    )
    house = replace(house, bills=(replace(house.bills[0], start=date(2023, 12, 2)), *house.bills[1:]))
    more = replace(
        house.bills[0], start=date(2023, 11, 2), end=date(2023, 12, 2), reading_start=9100.0, reading_end=10_000.0
    )
    facts = examine(replace(house, bills=(more, *house.bills)))
    found = [f for f in facts.findings if f.code == "multiplier"]
    assert len(found) == 1
    assert found[0].periods == (4, 5)
    assert "about 10 times" in finding_text(found[0], US)
    assert first.start == facts.exchanges[0].day


def test_a_multiplier_that_every_bill_uses_is_to_be_settled_first():
    house = with_readings([100, 125, 150, 175], meters=(Meter(),))
    house = replace(house, bills=tuple(replace(b, kwh=1000.0) for b in house.bills))
    facts = examine(house)
    (finding,) = facts.findings
    assert finding.code == "multiplier"
    assert finding.settles
    assert not facts.set_aside
    assert "Every bill charges 40 times" in finding_text(finding, US)


def test_a_holiday_house_is_no_wrong_multiplier():
    house = year(kwh=60.0)
    for i, kwh in ((5, 2300.0), (6, 2400.0)):
        house = edit(house, i, kwh=kwh)
    assert examine(house).findings == ()


def test_a_hint_of_a_multiplier_says_as_if():
    finding = only(edit(year(), 4, kwh=36_500.0))
    assert finding.code == "multiplier"
    assert "as if" in finding_text(finding, US)


def test_meter_numbers_are_compared_as_people_write_them():
    house = year(meter="00 771-204")
    assert examine(replace(house, meters=(Meter(number="771204"),))).findings == ()
    other = only(replace(house, meters=(Meter(number="771240"),)))
    assert (other.code, other.settles, len(other.periods)) == ("meter-number", True, 8)


@pytest.mark.parametrize("note", ["utility worked on meters in the basement", "new lock on the meter room"])
def test_work_at_the_meters_before_a_lasting_step_asks_whether_the_meter_is_this_homes(note):
    house = year(kwh=380.0, count=12)
    for i in range(7, 12):
        house = edit(house, i, kwh=1150.0)
    house = replace(house, events=(Event(house.bills[7].start - timedelta(2), "other", note=note),))
    finding = only(house)
    assert (finding.code, finding.periods, finding.settles) == ("meter-work", tuple(range(7, 12)), False)
    result = reconcile(house)
    first = result.verdict.next_steps[0]
    assert first.code == "meter-follows"
    assert "touch neither meter nor panel" in first.text
    assert "which-home" in result.verdict.requests
    early = Event(house.bills[2].start, "other", note=note)
    assert examine(replace(house, events=(early,))).findings == ()
    other = Event(house.events[0].day, "other", note="a new parking meter outside")
    assert examine(replace(house, events=(other,))).findings == ()


def test_a_matching_number_is_not_said_to_prove_the_home():
    agree = CHECKS["compare"].outcomes[0]
    assert "not yet that it counts this home alone" in agree[1]


# Money ---------------------------------------------------------------------------------------------------------------

FLAT = Tariff(date(2000, 1, 1), (Charge("Energy", "per_kwh", D("0.15")), Charge("Tax", "percent", D(4), kind="tax")))


def test_findings_carry_money():
    house = replace(with_readings([1000, 1900, 2800, 3700], kwh=True), tariffs=(FLAT,))
    finding = only(edit(house, 1, kwh=1250.0))
    assert finding.amount == D("54.60")  # 350 x .15 = 52.50, and 4 %
    house = replace(house, tariffs=())
    finding = only(edit(house, 1, kwh=1250.0, amount=D("250.00")))
    assert finding.amount == D("70.00")


def test_money_that_is_not_this_periods_use():
    house = year(amount=D("140.40"))
    finding = only(edit(house, 5, amount_due=D("178.40")))
    assert (finding.code, finding.amount, finding.settles) == ("other-charge", D("38.00"), False)
    assert "$38.00 more, which is not" in finding_text(finding, US)
    credit = only(edit(house, 5, amount_due=D("100.40")))
    assert credit.amount == D("-40.00")


def test_a_budget_plan_is_no_mismatch_until_it_is_settled():
    house = year(count=12, amount=D("140.40"))
    for i in range(12):
        house = edit(house, i, budget_amount=D("130.00"), amount_due=D("130.00"))
    assert examine(house).findings == ()
    settled = only(edit(house, 11, budget_amount=None, amount_due=D("140.40") + 11 * D("10.40")))
    assert settled.code == "budget-settlement"
    assert "$114.40 behind" in finding_text(settled, US)
    other = only(edit(house, 11, amount_due=D("150.00")))
    assert other.code == "budget-settlement"
    assert "or is another charge" in finding_text(other, US)


def test_printed_lines_that_do_not_add_up():
    house = year(amount=D("140.40"))
    start = house.bills[2].start
    lines = (
        ChargeLine(start, "Energy", D("135.00"), quantity=D(900), rate=D("0.15")),
        ChargeLine(start, "Tax", D("5.40")),
    )
    assert examine(replace(house, charges=lines)).findings == ()
    off = only(replace(house, charges=(lines[0], replace(lines[1], amount=D("5.90")))))
    assert (off.code, off.amount) == ("amount-mismatch", D("-0.50"))
    wrong = only(replace(house, charges=(replace(lines[0], rate=D("0.14")), lines[1])))
    assert "900 x 0.14 is $126.00" in finding_text(wrong, US)


@pytest.mark.parametrize(("cents", "asks"), [(2, ()), (-2, ()), (50, ("line-by-line",))])
def test_a_bill_a_cent_or_two_off_is_told_and_asks_nobody(cents, asks):
    house = edit(replace(year(amount=D("140.40")), tariffs=(FLAT,)), 2, amount=D("140.40") + D(cents) / 100)
    finding = only(house)
    assert (finding.code, finding.amount) == ("amount-mismatch", D(cents) / 100)
    assert finding.asks == asks
    assert bool(finding.household) == bool(asks)


def test_amount_mismatch_shows_their_line_beside_ours():
    house = replace(year(amount=D("140.40")), tariffs=(FLAT,))
    start = house.bills[2].start
    lines = (ChargeLine(start, "Energy", D("139.50")), ChargeLine(start, "Tax", D("5.40")))
    house = edit(replace(house, charges=lines), 2, amount=D("144.90"))
    finding = only(house)
    assert finding.code == "amount-mismatch"
    assert "Energy $139.50 beside ours $135.00" in finding_text(finding, US)
    assert "the tariff as typed" in finding_text(finding, US)
    row = account(house, examine(house)).to_dict(US)["recomputed"][2]
    assert (row["billed"], row["ours"], row["difference"]) == (144.9, 140.4, 4.5)
    assert [(line["name"], line["ours"], line["billed"]) for line in row["lines"]] == [
        ("Energy", 135.0, 139.5),
        ("Tax", 5.4, 5.4),
    ]


def test_a_tariff_typed_wrong_is_one_finding():
    house = replace(year(amount=D("155.00")), tariffs=(FLAT,))
    finding = only(house)
    assert len(finding.periods) == 8
    assert "typed differently" in finding_text(finding, US)


def test_monthly_values_are_told_of_once():
    values = tuple((date(2024, m, 1), D(m) / 1000) for m in range(1, 9))
    house = replace(year(), tariffs=(Tariff(date(2000, 1, 1), (Charge("Fuel", "per_kwh", values=values),)),))
    finding = only(house)
    assert finding.code == "price-change"
    assert "changes 7 times" in finding_text(finding, US)


def test_disputed_energy_and_money_with_limits():
    house = replace(year(), tariffs=(FLAT,))
    pattern = np.array([0, 0, 0, 0, 0, 90, 90, 90], dtype=float)
    found = of_cause(house, examine(house), Suspicion("meter-step", 0.7, pattern, 0.5, 2.0))
    assert found.periods == (5, 6, 7)
    assert (found.kwh, found.kwh_limits) == (270.0, (135.0, 540.0))
    assert (found.amount, found.amount_limits) == (D("42.12"), (D("21.06"), D("84.24")))
    bare = year()
    assert of_cause(bare, examine(bare), Suspicion("meter-step", 0.7, pattern)).amount is None


def test_use_moved_between_two_bills_is_billed_short_by_nothing():
    house = replace(year(), tariffs=(FLAT,))
    moved = np.array([0.0, -300.3, 100.1, 200.2, 0.0, 0.0, 0.0, 0.0])
    assert -1e-9 < moved.sum() < 0.0  # by rounding
    found = of_cause(house, examine(house), Suspicion("swap", 0.9, moved))
    assert (found.kwh, found.kwh_limits, found.billed_short) == (0.0, (0.0, 0.0), False)


def test_cost_of_needs_a_price():
    bare = year()
    assert cost_of(bare, examine(bare), 0, 10.0) is None
    assert cost_of(bare, examine(bare), 0, float("nan")) is None


# Nothing breaks it ---------------------------------------------------------------------------------------------------

maybe = st.none() | st.integers(0, 100_000).map(float)
sums = st.none() | st.integers(-50_000, 90_000).map(lambda n: D(n) / 100)


@st.composite
def any_bill(draw):
    start = date(2024, 1, 1) + timedelta(draw(st.integers(0, 400)))
    return Bill(
        start,
        start + timedelta(draw(st.integers(1, 100))),
        kwh=draw(st.none() | st.integers(-500, 50_000).map(float)),
        amount=draw(sums),
        amount_due=draw(sums),
        budget_amount=draw(sums),
        bill_type=draw(st.sampled_from(("regular", "first", "final", "corrected", "cancelled"))),
        read_type=draw(st.sampled_from(("actual", "estimated", "customer"))),
        read_type_start=draw(st.sampled_from((None, "estimated", "actual"))),
        reading_start=draw(maybe),
        reading_end=draw(maybe),
        multiplier=draw(st.sampled_from((None, 1.0, 40.0))),
        meter=draw(st.sampled_from((None, "A", "B"))),
        printed_days=draw(st.sampled_from((None, 30, 31))),
        rate_code=draw(st.sampled_from((None, "R", "T"))),
        inclusive=draw(st.booleans()),
    )


@settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.data())
def test_anything_that_reads_as_bills_can_be_examined(data):
    bills = sorted(data.draw(st.lists(any_bill(), min_size=0, max_size=9)), key=lambda b: b.start)
    days = st.dates(date(2024, 1, 1), date(2025, 6, 1))
    readings = data.draw(
        st.lists(
            st.builds(
                RegisterReading,
                days,
                st.integers(0, 99_999).map(float),
                st.sampled_from((None, "A", "B")),
                event=st.sampled_from((None, "removed", "installed", "exchange")),
            ),
            max_size=4,
        )
    )
    house = House(
        "x",
        tuple(bills),
        generation=data.draw(st.booleans()),
        tariffs=data.draw(st.sampled_from(((), (FLAT,), (FLAT, replace(FLAT, valid_from=date(2024, 7, 9)))))),
        readings=tuple(readings),
        events=tuple(Event(d, "meter-exchange") for d in data.draw(st.lists(days, max_size=2))),
    )
    facts = examine(house)
    assert len(facts.billed_kwh) == len(bills)
    for bill, kwh in zip(bills, facts.billed_kwh, strict=True):
        assert bill.kwh is None or kwh == bill.kwh
    for finding in facts.findings:
        assert finding.periods
        assert all(0 <= i < len(bills) for i in finding.periods)
        assert finding_text(finding, US).endswith(".")
        assert "None" not in finding_do(finding, US)
        assert "nan" not in finding_text(finding, US)
        assert "None" not in finding_text(finding, US)
    assert all(0 <= i < len(bills) - 1 for i in facts.loose_edges)
    assert all(0 <= i < len(bills) for i in facts.set_aside)
    money = account(house, facts)
    if money is not None and money.bridge is not None:
        assert sum(money.bridge.parts.values()) == money.bridge.total


# Dated readings of the household's own, printed lines for an amount --------------------------------------------------


@pytest.mark.parametrize(
    ("day", "value", "code", "kwh"),
    [
        (date(2024, 3, 1), 2650.0, "reading-mismatch", 150.0),  # the closing day of the second bill, read as 2800
        (date(2024, 3, 1), 2801.0, None, None),  # a register step is no contradiction
        (date(2024, 3, 11), 2900.0, None, None),
        (date(2024, 3, 11), 3750.0, "reading-mismatch", -50.0),  # already above what the bill closes with
        (date(2024, 3, 11), 2700.0, "reading-mismatch", -100.0),  # still below what it opened with
        (date(2024, 4, 20), 3600.0, "reading-mismatch", 100.0),  # after the last bill and still below it
        (date(2024, 4, 20), 3900.0, None, None),
    ],
)
def test_a_reading_of_ones_own_may_contradict_the_bill(day, value, code, kwh):
    house = with_readings([1000, 1900, 2800, 3700])
    house = replace(house, readings=(RegisterReading(day, value, type="customer"),))
    found = examine(house).findings
    assert [(f.code, f.kwh) for f in found] == ([] if code is None else [(code, kwh)])
    if found:
        assert "Your own reading" in finding_text(found[0], US)
        assert found[0].settles


def test_a_reading_of_ones_own_against_an_estimate():
    house = edit(with_readings([1000, 1900, 2800, 3700]), 2, read_type="estimated")
    house = replace(house, readings=(RegisterReading(house.bills[2].end, 3400.0, type="customer"),))
    facts = examine(house)
    assert sorted(f.code for f in facts.findings) == ["estimated-read", "reading-mismatch"]
    assert any("the estimated closing reading" in finding_text(f, US) for f in facts.findings)


def test_dated_values_against_the_kwh_charged():
    house = year(count=2)
    start, end = house.bills[0].start, house.bills[0].end
    rows = tuple(
        RegisterReading(d, v, register=name)
        for name, a, b in (("peak", 100.0, 400.0), ("rest", 2000.0, 2650.0))
        for d, v in ((start, a), (end, b))
    )
    finding = only(replace(house, readings=rows))
    assert (finding.code, finding.periods, finding.kwh) == ("reading-mismatch", (0,), -50.0)


def test_what_a_register_sent_out_is_taken_off():
    bill = Bill(date(2024, 1, 1), date(2024, 1, 31))
    rows = tuple(
        RegisterReading(d, v, register=name)
        for name, a, b in (("delivered", 100.0, 800.0), ("received", 20.0, 270.0), ("kW", 3.0, 9.0))
        for d, v in ((bill.start, a), (bill.end, b))
    )
    assert examine(House("x", (bill,), generation=True, readings=rows)).billed_kwh.tolist() == [450.0]


def test_two_companies_lines_make_the_amount():
    house = year(count=3)
    lines = tuple(
        line
        for b in house.bills
        for line in (
            ChargeLine(b.start, "Energy", D("72.00"), "North", "supply", D(900), D("0.08")),
            ChargeLine(b.start, "Wires", D("31.00"), "Valley", "delivery"),
            ChargeLine(b.start, "Late fee", D("5.00"), "Valley"),
        )
    )
    house = replace(house, charges=lines)
    facts = examine(house)
    assert {f.code for f in facts.findings} == {"other-charge"}
    assert cost_of(house, facts, 0, 90.0) == D("7.20")  # the wires are fixed, the fee is no electricity
    assert account(house, facts).bridge.from_amount == D("103.00")


def test_a_bill_wholly_at_the_new_prices_is_told():
    new = replace(
        FLAT, valid_from=date(2024, 1, 11), charges=(replace(FLAT.charges[0], price=D("0.18")), FLAT.charges[1])
    )
    house = replace(year(amount=None), tariffs=(FLAT, new))
    for i in range(8):
        house = edit(house, i, amount=D("168.48"))  # 900 x .18, and 4 %
    found = {f.code: f for f in examine(house).findings}
    assert set(found) == {"price-change", "proration", "amount-mismatch"}
    assert "what all its days at the new prices cost" in finding_text(found["amount-mismatch"], US)


def test_causes_are_put_beside_the_findings_in_dispute():
    house = replace(year(amount=D("140.40")), tariffs=(FLAT,))
    facts = examine(house)
    pattern = np.array([0, 0, 0, 0, 0, 90, 90, 90], dtype=float)
    money = account(house, facts).disputing(
        facts, [Suspicion("meter-step", 0.7, pattern, 0.5, 2.0), Suspicion("none", 0.2, ())]
    )
    assert set(money.to_dict(US)["disputed"]) == {"meter-step"}
    assert money.to_dict(US)["disputed"]["meter-step"]["amount"] == 42.12


def test_what_is_at_stake_stands_in_order_of_its_money_and_chance():
    fact = Stake("multiplier", None, (1,), 100.0, D("20.00"))
    likely = Stake("meter-step", 0.8, (2,), 500.0, D("60.00"))
    far = Stake("constant-load", 0.1, (3,), 900.0, D("110.00"))
    unpriced = Stake("gap", None, (4,), 50.0, None)
    assert at_stake([far, unpriced, fact, likely]) == (likely, fact, far, unpriced)
    assert (fact.to_dict()["rests_on"], likely.to_dict()["rests_on"]) == ("finding", "cause")


def test_a_stake_is_never_told_as_money_to_be_had_back():
    house = replace(year(amount=D("140.40")), tariffs=(FLAT,))
    stake = of_cause(house, examine(house), Suspicion("unlisted", 0.73, np.full(8, 80.0), 0.5, 1.5))
    said = stake_text(stake, "Loads missing from the list", US)
    assert said == (
        "Loads missing from the list, more likely than not (about 73 %): if so, about 600 kWh ($100) more on these "
        "bills because of it."
    )
    fact = Stake("multiplier", None, (1,), 100.0, D("20.00"))
    assert stake_text(fact, "Multiplier", US) == (
        "Multiplier: 100 kWh ($20.00) more charged than the records account for."
    )


@pytest.mark.parametrize(("kept", "asked"), [(6, False), (4, True)])
def test_a_look_today_settles_a_reading_only_where_no_later_one_is_known(kept, asked):
    house = with_readings([40_700, 41_600, 45_210, 43_400, 44_300, 45_200][:kept])
    finding = only(house)
    assert finding.code == "reading-slip"
    assert ("read-to-settle" in finding.household) is asked
