"""The user's own rule, odd input, and bills that are missing; the published rules are in tests/published."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest

from reconcile.house import Bill, House
from reconcile.money.refund import (
    MeterError,
    Overcharge,
    Rule,
    _ramp_share,
    months_before,
    refund,
    refunds,
    rules,
)
from reconcile.paper import examine
from reconcile.say import Voice
from reconcile.texts.money import refund_text, refunds_text

US = Voice()


def house_of(*kwh, start=date(2024, 1, 1)):
    bills = [
        Bill(start + timedelta(30 * k), start + timedelta(30 * k + 30), kwh=float(value), amount=Decimal(value) / 10)
        for k, value in enumerate(kwh)
    ]
    house = House("x", tuple(bills))
    return house, examine(house)


OWN = Rule("own", "my town", tolerance_percent=1.0, fast_share=1.0, fast_months=2)


def test_a_users_own_rule():
    house, facts = house_of(900, 900, 900, 900)
    found = date(2024, 4, 30)
    owed = refund(house, facts, OWN, MeterError(105.0, found, date(2020, 1, 1)))
    assert owed.start == date(2024, 2, 29)
    np.testing.assert_allclose(owed.kwh, 900 * 61 / 30 * (5 / 105), rtol=1e-12, atol=0)
    assert "the user's own rule" in refund_text(owed, US)
    assert refund(house, facts, OWN, MeterError(101.0, found, date(2020, 1, 1))).kwh == 0


def test_days_without_a_bill_are_told():
    house, facts = house_of(900, 900)
    owed = refund(house, facts, OWN, MeterError(105.0, date(2024, 3, 20), date(2020, 1, 1)))
    assert owed.uncovered_days == 19
    assert "For 19 days of that no bill is here." in refund_text(owed, US)
    none = refund(house, facts, OWN, MeterError(105.0, date(2025, 3, 20), date(2020, 1, 1)))
    assert (none.kwh, none.amount) == (0.0, None)


def test_a_cancelled_bill_is_not_counted():
    house, _ = house_of(900, 900)
    double = House("x", (*house.bills, Bill(date(2024, 1, 31), date(2024, 3, 1), kwh=5000.0, bill_type="cancelled")))
    found = date(2024, 3, 1)
    one, two = (refund(h, examine(h), OWN, MeterError(105.0, found, date(2020, 1, 1))).kwh for h in (house, double))
    assert one == two


@pytest.mark.parametrize("registration", [0.0, -5.0])
def test_no_registration_below_zero(registration):
    house, facts = house_of(900)
    with pytest.raises(ValueError, match="above zero"):
        refund(house, facts, OWN, MeterError(registration, date(2024, 1, 31), date(2020, 1, 1)))


def test_days_in_order():
    house, facts = house_of(900)
    with pytest.raises(ValueError, match="before the day"):
        refund(house, facts, OWN, MeterError(105.0, date(2024, 1, 31), date(2024, 1, 31)))


@pytest.mark.parametrize(
    ("day", "months", "before"),
    [
        (date(2025, 1, 15), 12, date(2024, 1, 15)),
        (date(2024, 3, 31), 1, date(2024, 2, 29)),
        (date(2025, 1, 1), 3, date(2024, 10, 1)),
    ],
)
def test_calendar_months(day, months, before):
    assert months_before(day, months) == before


def test_every_answer_says_to_check_the_local_rule():
    house, facts = house_of(900, 900)
    for rule in (*rules().values(), OWN):
        for registration in (90.0, 100.0, 110.0):
            text = refund(house, facts, rule, MeterError(registration, date(2024, 3, 1), date(2023, 1, 1)))
            text = refund_text(text, US)
            assert "Check your local rule" in text
            assert "not legal advice" in text


def test_an_overcharge_that_the_records_show():
    house, facts = house_of(900, 900, 900)
    owed = refund(house, facts, OWN, Overcharge({1: 100.0, 2: 50.0}))
    assert (owed.kwh, owed.amount) == (150.0, Decimal("15.00"))
    assert (owed.start, owed.end) == (date(2024, 1, 31), date(2024, 3, 31))
    assert "150 kWh, $15.00, would be owed to the customer" in refund_text(owed, US)
    with pytest.raises(ValueError, match="at least one bill"):
        refund(house, facts, OWN, Overcharge({}))


def test_published_rules_beside_one_another():
    house, facts = house_of(*[900] * 20)
    all_of_them = refunds(house, facts, MeterError(110.0, found=date(2025, 8, 1)))
    assert [abs(r.kwh) for r in all_of_them] == sorted(abs(r.kwh) for r in all_of_them)
    assert {r.rule.code for r in all_of_them} == set(rules())
    text = refunds_text(all_of_them, US)
    assert "to the customer" in text
    assert "Check your local rule" in text
    assert refunds_text(refunds(house, facts, MeterError(101.0, found=date(2025, 8, 1))), US) == ""
    with pytest.raises(KeyError):
        refund(house, facts, "nowhere", MeterError(110.0, found=date(2025, 8, 1)))


def test_a_meter_found_wrong_brings_the_rules_beside_the_money():
    from reconcile.money import account

    house, facts = house_of(*[900] * 20)
    money = account(house, facts).refunding(facts, 106.0)
    told = money.to_dict(US)
    assert len(told["refunds"]) == len(rules())
    assert all(one["kwh"] > 0 and one["amount"] > 0 and one["source"] for one in told["refunds"])
    assert "a meter that registers 106" in told["notes"][-1]
    assert account(house, facts).to_dict(US)["refunds"] == []


@pytest.mark.parametrize(("error", "first", "last"), [(0.5, 0, 100), (0.5, 40, 70), (-0.3, 10, 90), (0.02, 0, 10)])
def test_an_error_that_grows_evenly_is_shared_out_as_a_sum_over_days_has_it(error: float, first: int, last: int):
    """Against the plain sum of e / (1 + e) over a thousand moments a day."""
    begin = date(2024, 3, 1)
    days = [begin + timedelta(days=n) for n in (0, 100, first, last)]
    moments = np.linspace(first, last, 1000 * (last - first) + 1)
    grown = error * (moments[:-1] + moments[1:]) / 2.0 / 100.0
    share = _ramp_share(error, days[0], days[1], days[2], days[3])
    np.testing.assert_allclose(share, np.mean(grown / (1.0 + grown)), rtol=1e-6, atol=0)
