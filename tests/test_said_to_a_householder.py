"""What a tired householder reads: no sentence against another, and nothing asked that the steps do not ask first."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from reconcile.answer import reconcile
from reconcile.house import Bill, House, Load
from reconcile.house.tariff import Charge, Tariff
from reconcile.plan.step_made import _began
from reconcile.read import read_house
from reconcile.report.pages.letter import letter_text
from reconcile.report.screens.terminal import terminal_text
from reconcile.report.views.asking_view import phone_lines
from reconcile.report.views.first_view import decision_name, sentences
from reconcile.report.views.money_view import money_view
from reconcile.say import Voice
from reconcile.texts.decisions import HEADLINES
from reconcile.texts.headline_parts import DESK, FELL
from reconcile.texts.labels import DECISIONS
from reconcile.texts.meter_words import meter_line
from reconcile.texts.money import bridge_sentence
from reconcile.texts.step_words import CHECKS

BILLS = Path(__file__).parents[1] / "sample_bills"
US = Voice()
TARIFF = Tariff(
    date(2020, 1, 1),
    (Charge("Energy", "per_kwh", Decimal("0.15")), Charge("Service", "per_bill", Decimal(9))),
)


def steady(bump, *, at=8, seed=0, count=16):
    """A house without seasons, one bill of which is more or less than the others."""
    kwh = np.round(420.0 * (1.0 + np.random.default_rng(seed).normal(0.0, 0.03, count)))
    kwh[at] = round(kwh[at] * (1.0 + bump))
    days = [date(2023, 1, 9) + timedelta(30 * k) for k in range(count + 1)]
    return House("Mill Row", tuple(Bill(a, b, kwh=float(k)) for a, b, k in zip(days, days[1:], kwh, strict=False)))


def test_a_bill_that_stands_out_where_nothing_lasting_is_likely_asks_for_guests_first():
    result = reconcile(steady(0.18))
    none = next(c.probability for c in result.causes if c.code == "none")
    assert none > 0.5
    assert result.verdict.over.bills == 1
    assert "nothing that lasts" in result.verdict.headline
    assert "the likeliest are" not in result.verdict.headline
    first = result.verdict.next_steps[0]
    assert first.code == "diary"
    assert "guests" in first.text


def moved(**figures):
    side = {"bills": 0, "kwh": 0.0, "amount": None}
    low = {**side, "bills": 1, "kwh": 290.0, "span": (date(2021, 8, 2), date(2021, 9, 2))}
    given = {"over": side, "under": low, "settling": "", "leading": "One bill is low.", "asks": True, "open": False}
    return HEADLINES["moved"](US, {**given, "cannot_tell": False, "pair": False, "open_rise": False, **figures})


def test_a_low_bill_is_thought_back_to_before_the_desk_is_asked():
    assert FELL in moved()
    assert DESK not in moved()
    high = {"bills": 1, "kwh": 90.0, "amount": None, "span": (date(2021, 3, 2), date(2021, 4, 2))}
    assert DESK in moved(over=high)
    assert DESK in moved(open=True)  # what the records ask about is settled at the desk


@pytest.mark.parametrize(("hours", "says"), [(True, "hourly readings"), (False, "")])
def test_an_error_that_the_bills_could_not_show_is_not_said_to_be_shown_by_them(hours, says):
    figures = {"fast": 0.99, "slow": 0.0, "percent": 17.0, "watts": 100.0, "run": "", "size": 9.0, "hours": hours}
    said = meter_line(figures, US)
    assert "These bills can show" not in said
    assert says in said
    assert "These bills can show" in meter_line({**figures, "size": 30.0}, US)


def test_a_cent_of_rounding_is_no_difference_from_what_was_billed():
    house = steady(0.0)
    bills = [
        replace(b, amount=Decimal(str(round(9 + 0.15 * b.kwh + 0.01 * (k % 2), 2)))) for k, b in enumerate(house.bills)
    ]
    view = money_view(reconcile(replace(house, bills=tuple(bills), tariffs=(TARIFF,))))
    assert view["apart"] == []
    assert "but for the rounding of cents" in view["told"]
    bills[3] = replace(bills[3], amount=bills[3].amount + 2)
    view = money_view(reconcile(replace(house, bills=tuple(bills), tariffs=(TARIFF,))))
    assert [row["difference"] for row in view["apart"]] == ["+$2.01"]


def heated(extra_watts, *, estimated=False):
    """A home on a heat pump, without temperatures, whose bills of two months hold a load that ended."""
    days = [date(2022, 12, 16) + timedelta(30 * k) for k in range(21)]
    kwh = [1000, 760, 520, 420, 330, 340, 330, 330, 350, 460, 480, 620, 760, 700, 480, 400, 340, 335, 310, 320]
    more = round(extra_watts * 24 * 30 / 1000)
    kwh = [k + (more if at in (3, 4) else 0) for at, k in enumerate(kwh)]
    bills = [Bill(a, b, kwh=float(k)) for a, b, k in zip(days, days[1:], kwh, strict=False)]
    if estimated:
        bills[6] = replace(bills[6], kwh=bills[6].kwh + 70.0, read_type="estimated")
        bills[7] = replace(bills[7], kwh=bills[7].kwh - 70.0)
    loads = (
        Load("Heat pump", watts=2800.0, follows="heating"),
        Load("Refrigerator", watts=150.0, run_hours=9.0),
        Load("Lights", watts=300.0, run_hours=5.0),
        Load("Clothes dryer", watts=4800.0, run_hours=0.8),
    )
    return House("Sleeper Yard", tuple(bills), loads=loads, heating_fuel="electric")


def test_a_load_that_is_over_is_asked_about_by_its_two_days_and_nothing_is_left_off():
    result = reconcile(heated(400.0, estimated=True))
    (cause,) = [c for c in result.causes if c.code == "timed-load"]
    assert cause.probability > 0.5
    assert cause.until is not None
    steps = {step.code: step for step in result.verdict.next_steps}
    assert "what ran from about" in steps["began"].text
    assert "leave off" not in str(steps["began"].would_show)
    codes = [step.code for step in result.verdict.next_steps]
    assert codes.index("began") < codes.index("judge-together")


def test_a_cold_month_of_a_heated_home_may_be_all_of_it_where_no_temperatures_are_known():
    assert "no temperatures were given" in reconcile(heated(400.0)).verdict.headline


def test_a_rise_that_the_checks_are_for_is_told_before_a_single_low_bill():
    side = {"bills": 0, "kwh": 0.0, "amount": None}
    low = "Likely (about 82 %), one bill alone is low."
    figures = {"over": side, "under": side, "leading": low, "exchange": None, "rising": ["more heating (about 47 %)"]}
    said = HEADLINES["rivals"](US, figures)
    assert said.index("risen and stayed up") < said.index("more heating") < said.index(low)
    assert HEADLINES["rivals"](US, {**figures, "rising": []}).startswith(low)


def test_no_amount_is_told_twice_where_one_part_makes_all_of_a_change():
    same = steady(0.0, count=14)
    dear = replace(TARIFF, charges=(Charge("Energy", "per_kwh", Decimal(15)), TARIFF.charges[1]))
    bills = [replace(bill, amount=Decimal(str(round(9 + 15 * bill.kwh, 2)))) for bill in same.bills]
    result = reconcile(replace(same, bills=tuple(bills), tariffs=(dear,)))
    told = bridge_sentence(result.money.bridge, US)
    amount = US.about_money(abs(result.money.bridge.total))
    assert told.count(amount) == 1
    assert "all of it for use" in told


def test_while_a_multiplier_is_open_nothing_is_said_of_a_meter_nor_what_a_test_would_give():
    kwh = [510, 470, 430, 390, 380, 400, 450, 460, 400, 390, 440, 500]
    kwh += [2 * k for k in kwh[:10]]
    days = [date(2023, 1, 9) + timedelta(30 * k) for k in range(len(kwh) + 1)]
    bills = [
        Bill(a, b, kwh=float(k), amount=Decimal(str(round(9 + 0.15 * k, 2))))
        for a, b, k in zip(days, days[1:], kwh, strict=False)
    ]
    result = reconcile(House("Mill Row", tuple(bills), tariffs=(TARIFF,)))
    assert result.verdict.meter_open == ("multiplier",)
    told = " ".join((*result.verdict.reasons, *(cause.text for cause in result.causes)))
    assert "the bills count" in told
    assert "the meter registers" not in told
    assert result.money.supposed == ()


def test_a_setting_is_set_back_and_not_left_off():
    outcomes = str(CHECKS["set-otherwise"].outcomes)
    assert "set it back" in outcomes
    assert "leave off" not in outcomes
    assert _began({"cause": "cooling-rise", "timer": None, "noted": ""}) == "set-otherwise"
    assert _began({"cause": "constant-load", "timer": None, "noted": ""}) == "began"


def test_a_high_bill_is_thought_back_to_before_its_reading_is_checked():
    side = {"bills": 0, "kwh": 0.0, "amount": None}
    high = {"bills": 1, "kwh": 30.0, "amount": None, "span": (date(2024, 7, 19), date(2024, 8, 18))}
    figures = {"over": high, "under": side, "leading": "", "calm": 0.8}
    assert "If nobody remembers guests" in HEADLINES["odd-bill"](US, figures)
    assert "If nobody remembers guests" not in HEADLINES["odd-bill"](US, {**figures, "calm": None})
    assert "exchanged within it" in HEADLINES["odd-bill"](US, {**figures, "exchanged_in": True})


def test_a_bill_that_is_likely_odd_within_its_range_is_asked_about():
    for seed in range(8):
        result = reconcile(steady(-0.4, seed=seed, at=6))
        (cause, *_) = [c for c in result.causes if c.code != "none"]
        if result.verdict.rule == "explained" and cause.code == "single-period" and cause.probability >= 0.5:
            first = result.verdict.next_steps[0]
            assert first.code == "diary"
            assert "nobody at home" in first.text
            assert "Jul 8" in first.text
            return
    raise AssertionError("no such house among the eight")


def test_the_call_names_the_bill_that_it_is_about_where_none_is_high():
    house = steady(0.0)
    bills = [replace(bill, amount=Decimal(str(round(9 + 0.15 * bill.kwh, 2)))) for bill in house.bills]
    bills[5] = replace(bills[5], amount=bills[5].amount + 30)
    result = reconcile(replace(house, bills=tuple(bills), tariffs=(TARIFF,)))
    assert result.verdict.over.bills == 0
    assert any("my electric bill of Jun 8 – Jul 8, 2023" in line.replace("\xa0", " ") for line in phone_lines(result))


@pytest.mark.parametrize("bump", [-0.4, 0.18])
def test_no_mouth_is_calmer_than_a_step_that_may_end_at_the_billing_desk(bump):
    """The step sent to the billing desk where nothing fits; the phone said that there was no call to make."""
    result = reconcile(steady(bump, at=6 if bump < 0 else 8))
    step = result.verdict.next_steps[0]
    assert step.code == "diary"
    calm = replace(
        result.verdict, decision="explained", rule="explained", cannot_tell=False, blind=False, next_steps=(step,)
    )
    told = replace(result, verdict=calm)
    (said,) = phone_lines(told)
    assert "ask the billing desk" in said
    assert decision_name(told) != DECISIONS["explained"]
    assert "ask the desk to check the readings" in " ".join(letter_text(told).split())


def test_where_the_utility_is_asked_something_the_bills_are_not_said_to_be_all_there_is():
    calm = reconcile(steady(0.0))
    step = replace(calm.verdict.next_steps[0], asks="volts-then")
    asked = replace(calm.verdict, rule="explained", cannot_tell=False, blind=False, next_steps=(step,))
    assert decision_name(replace(calm, causes=(), verdict=asked)) == DECISIONS["find-out"]


def test_no_sentence_is_printed_twice_but_the_answer_at_the_end():
    """What the meter may be, and why a bill is dearer, stood twice each."""
    full = " ".join(terminal_text(reconcile(read_house(BILLS / "fast_meter"))).split())
    full = full[: full.index("In short")]
    twice = [s for s in set(sentences(full)) if len(s.split()) > 9 and full.count(s) > 1]
    assert not twice
