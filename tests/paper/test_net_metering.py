"""How months below zero kWh are billed: plans as utilities have them, of invented houses and prices."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import numpy as np
import pytest

from reconcile.answer import reconcile
from reconcile.house import Bill, House, Load
from reconcile.house.tariff import Charge, Tariff
from reconcile.money.stake import cost_of
from reconcile.paper import examine
from reconcile.say import Voice
from reconcile.texts.findings import finding_do, finding_text

D = Decimal
FIXED, PRICE, TAX = 12.40, 0.187, 1.05
NET = (322, 241, 96, -58, -140, -163, -121, -67, 12, 147, 268, 341, 335, 229, 88, -71, -133, -158)
"""Net kWh of eighteen months from January on."""
TARIFF = Tariff(
    date(2020, 1, 1),
    (
        Charge("Service", "per_bill", D("12.40")),
        Charge("Energy", "per_kwh", D("0.187")),
        Charge("Tax", "percent", D(5), kind="tax"),
    ),
)
US = Voice()


def asked(charged):
    """The amount of a bill that charges so many kWh."""
    energy = round(charged * PRICE + 1e-9, 2)
    return round(FIXED + energy + round((FIXED + energy) * (TAX - 1.0) + 1e-9, 2), 2)


def home(amounts, kwh=NET, *, tariff=True):
    days = [date(2022 + k // 12, k % 12 + 1, 4) for k in range(len(kwh) + 1)]
    bills = [
        Bill(a, b, kwh=float(use), amount=D(str(money)))
        for a, b, use, money in zip(days, days[1:], kwh, amounts, strict=False)
    ]
    return House("Sunny Lane", tuple(bills), generation=True, tariffs=(TARIFF,) if tariff else ())


def carried(kwh, clears=None, before=0.0):
    out, kept = [], before
    for k, net in enumerate(kwh):
        if clears is not None and k % 12 == clears:
            kept = 0.0
        out.append(max(net - kept, 0.0))
        kept = max(kept - net, 0.0)
    return out


def the_net(house):
    facts = examine(house)
    found = [f for f in facts.findings if f.code == "net-metering"]
    assert not {"amount-mismatch", "unit-price", "other-charge", "price-change"} & {f.code for f in facts.findings}
    assert len(found) == 1
    return facts, found[0]


WAYS = {
    "month": [max(k, 0.0) for k in NET],
    "carried": carried(NET),
    "cleared": carried(NET, clears=9),
    "before": carried(NET, before=760.0),
}


@pytest.mark.parametrize(
    ("way", "case"), [("month", "month"), ("carried", "carried"), ("cleared", "carried"), ("before", "carried")]
)
def test_kwh_carried_over_are_told_in_a_line_and_not_sent_to_the_desk(way, case):
    facts, found = the_net(home([asked(q) for q in WAYS[way]]))
    assert found.case == case
    assert not found.asks
    assert facts.paid_kwh == pytest.approx(WAYS[way])
    assert facts.billed_kwh == pytest.approx(NET)
    told = finding_text(found, US)
    assert ("October" in told) == (way == "cleared")
    assert ("760 kWh" in told) == (way == "before")


@pytest.mark.parametrize("way", ["month", "carried", "cleared"])
def test_without_a_tariff_the_amounts_tell_it_too(way):
    facts, found = the_net(home([asked(q) for q in WAYS[way]], tariff=False))
    assert found.case == {"month": "month", "carried": "carried", "cleared": "carried"}[way]
    assert facts.own_prices[0].per_kwh == pytest.approx(PRICE * TAX, rel=1e-3)


def test_another_price_for_what_is_sent_out_is_read_from_the_amounts():
    facts, found = the_net(home([asked(k if k > 0 else 0.4 * k) for k in NET]))
    assert found.case == "price"
    assert found.figures["credit"] == pytest.approx(0.4 * PRICE * TAX, rel=0.01)
    assert all(r.difference is not None and abs(r.difference) <= D("0.01") for r in facts.recomputed)


def test_a_year_settled_at_once_is_known_by_its_other_bills():
    amounts = [asked(0.0)] * len(NET)
    amounts[3] = asked(95.0)  # what the year to April came to, its first months are before these bills
    amounts[15] = asked(float(sum(NET[4:16])))
    _, found = the_net(home(amounts))
    assert found.case == "year"
    _, unsettled = the_net(home([asked(0.0)] * 7, NET[:7]))
    assert unsettled.case == "year"


def test_a_credit_in_money_goes_to_the_next_bills():
    amounts, kept = [], 0.0
    for k in NET:
        left = round(asked(k) + kept, 2)
        amounts.append(max(left, 0.0))
        kept = min(left, 0.0)
    _, found = the_net(home(amounts))
    assert found.case == "money"


def test_a_credit_at_full_price_is_the_tariff_itself():
    assert not [f for f in examine(home([asked(k) for k in NET])).findings if f.code == "net-metering"]


def test_what_becomes_of_a_credit_is_open_where_no_later_bill_shows_it():
    facts = examine(home([asked(max(k, 0.0)) for k in NET[:8]], NET[:8]))
    (found,) = [f for f in facts.findings if f.code == "net-metering"]
    assert found.case == "floor"
    assert "terms of your plan" in finding_do(found, US)


def test_a_way_that_is_not_known_is_asked_of_the_household_alone():
    amounts = [asked(k if k > 0 else 0.0) for k in NET]
    amounts[8:11] = [asked(0.0), asked(60.0), asked(101.0)]  # some of it comes back, in no way known
    facts, found = the_net(home(amounts))
    assert (found.case, found.asks) == ("unclear", ())
    assert not any(f.asks for f in facts.findings)


def test_a_bill_that_asks_too_much_stays_with_the_desk():
    amounts = [asked(q) for q in WAYS["carried"]]
    amounts[11] = round(amounts[11] + 31.0, 2)
    facts = examine(home(amounts))
    assert {f.code for f in facts.findings if f.asks} == {"amount-mismatch"}
    assert [f.periods for f in facts.findings if f.code == "amount-mismatch"] == [(11,)]
    assert [f.case for f in facts.findings if f.code == "net-metering"] == ["carried"]


def test_a_house_without_panels_keeps_its_own_finding():
    house = replace(home([asked(q) for q in WAYS["month"]]), generation=False)
    assert "net-metering" not in {f.code for f in examine(house).findings}


def test_the_answer_sends_nobody_to_the_desk_and_money_is_that_of_what_is_charged():
    house = home([asked(q) for q in WAYS["carried"]])
    result = reconcile(house)
    assert result.verdict.decision == "explained"
    assert not any(step.asks for step in result.verdict.next_steps)
    facts = examine(house)
    assert cost_of(house, facts, 11, 10.0) == pytest.approx(D("1.96"), abs=D("0.01"))
    assert result.money.bridge is not None
    assert abs(float(result.money.bridge.parts["price"])) < 0.05
    assert np.isfinite(facts.paid_kwh).all()


def test_bills_less_what_panels_made_are_not_held_against_the_list():
    loads = (Load("Refrigerator", watts=150.0, follows="always"), Load("Oven", watts=2400.0, run_hours=1.0))
    result = reconcile(replace(home([asked(q) for q in WAYS["carried"]]), loads=loads))
    assert "list of loads" not in str(result.to_dict()["verdict"])


def test_months_below_zero_are_told_in_one_line():
    house = home([asked(q) for q in WAYS["carried"]])
    plain = home([asked(k) for k in NET])  # paid out as the tariff has it: no other line tells of them
    below = tuple(i for i, k in enumerate(NET) if k < 0)
    for one, code in ((house, "net-metering"), (plain, "negative-use")):
        (found,) = examine(one).findings
        assert (found.code, found.periods) == (code, below)
        assert "delivered_kwh" in finding_do(found, US)
    bills = tuple(replace(b, delivered_kwh=300.0, received_kwh=300.0 - b.kwh) for b in house.bills)
    assert all("delivered_kwh" not in finding_do(f, US) for f in examine(replace(house, bills=bills)).findings)
