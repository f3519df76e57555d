"""Budget billing: payments that do not follow the kWh are a plan's instalments, and no price."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from itertools import pairwise

import pytest

from reconcile import read_house, reconcile
from reconcile.house import Bill, House
from reconcile.paper import examine
from reconcile.paper.instalments import as_instalments
from reconcile.report.views.letter_view import letter
from reconcile.say import Voice
from reconcile.texts.findings import finding_text

D = Decimal
US = Voice()
KWH = (884, 742, 751, 622, 561, 717, 698, 671, 634, 699, 793, 866, 931, 848, 722, 679, 641, 668)
DAYS = (
    *(date(2024, month, 9 + month % 3) for month in range(1, 13)),
    *(date(2025, month, 9 + month % 2) for month in range(1, 8)),
)


def plan(paid, kwh=KWH, **more):
    """A house of these payments, typed as amounts."""
    spans = list(pairwise(DAYS))[: len(paid)]
    bills = [
        Bill(start, end, kwh=float(k), amount=D(str(a)), **more)
        for (start, end), k, a in zip(spans, kwh, paid, strict=False)
    ]
    return House("x", tuple(bills))


TWO = (112, *[112] * 11, *[143] * 6)


def test_equal_payments_for_unequal_use_are_a_plans_instalments():
    answer = reconcile(plan(TWO))
    found = next(f for f in answer.findings if f.code == "budget-billing")
    assert found.periods == tuple(range(18))
    said = finding_text(found, US)
    assert "budget billing" in said
    assert "from $112.00 to $143.00 with the bill of Jan 10 – Feb 9, 2025" in said
    assert not [f for f in answer.findings if f.code in ("price-change", "unit-price", "unit-mismatch")]
    assert "price" not in answer.verdict.headline.replace("no price", "")
    assert "$112.00 to $143.00" in answer.verdict.headline
    assert answer.verdict.next_steps[0].code in ("plan-charges", "plan-balance")
    assert "plan-balance" in {step.code for step in answer.verdict.next_steps}
    assert "is settled" in " ".join(letter(answer)["requests"])
    assert answer.money is None or answer.money.bridge is None


@pytest.mark.parametrize(
    "paid",
    [(112,) * 18, (*(112,) * 11, 180.4, *(143,) * 6), (*(112,) * 15, *(143,) * 3), (*(112,) * 17, 143)],
    ids=["one", "settled-between", "a-short-second", "the-last-bill-alone"],
)
def test_no_instalment_is_taken_for_a_charge(paid):
    house = as_instalments(plan(paid))
    assert all(bill.amount is None for bill in house.bills)
    assert [bill.budget_amount for bill in house.bills] == [D(str(a)) for a in paid]


def test_bills_before_a_plan_keep_their_charges():
    own = [round(0.15 * k + 12, 2) for k in KWH[:10]]
    house = as_instalments(plan((*own, *(118,) * 8)))
    assert [bill.amount for bill in house.bills[:10]] == [D(str(a)) for a in own]
    assert all(bill.amount is None for bill in house.bills[10:])


def test_what_is_no_plan_stays_an_amount():
    follows = plan([round(0.15 * k + 12, 2) for k in KWH])
    steady = plan((112,) * 18, kwh=(700, 702, 701, 699) * 5)
    least = plan((28,) * 18, kwh=(26, 47, 31, 40, 29, 44) * 3)
    away = plan((30, 30, 30, 30, *(round(0.15 * k + 12, 2) for k in KWH[4:])), kwh=(40, 90, 61, 75, *KWH[4:]))
    for house in (follows, steady, least, away):
        assert as_instalments(house) is house


def test_a_balance_due_that_stands_still_is_a_plans_instalment():
    house = plan([round(0.15 * k + 12, 2) for k in KWH])
    due = (*[D(112)] * 12, *[D(143)] * 6)
    house = replace(house, bills=tuple(replace(b, amount_due=a) for b, a in zip(house.bills, due, strict=True)))
    house = as_instalments(house)
    assert [bill.budget_amount for bill in house.bills] == list(due)
    (found,) = [f for f in examine(house).findings if f.code in ("budget-billing", "other-charge")]
    assert found.code == "budget-billing"
    charges, paid = sum(b.amount for b in house.bills), sum(due)
    assert US.money(charges) in finding_text(found, US)
    assert US.money(paid) in finding_text(found, US)


HEADS = ("Budget amount", "Budget billing", "Levelized amount", "Installment", "Average payment plan")


@pytest.mark.parametrize("head", HEADS)
def test_a_column_of_the_plan_is_known_by_its_name(tmp_path, head):
    rows = [
        f"{a:%m/%d/%y},{b:%m/%d/%y},{k},{0.15 * k + 12:.2f},{p}"
        for (a, b), k, p in zip(pairwise(DAYS), KWH, TWO, strict=True)
    ]
    (tmp_path / "bills.csv").write_text("\n".join([f"Start,End,kWh,Current charges,{head}", *rows]) + "\n")
    house = read_house(tmp_path)
    assert [bill.budget_amount for bill in house.bills] == [D(a) for a in TWO]
    answer = reconcile(house)
    assert "from $112.00 to $143.00" in answer.verdict.headline


def test_a_plan_that_goes_on_as_it_was_asks_nothing():
    house = plan([round(0.15 * k + 12, 2) for k in KWH])
    house = replace(house, bills=tuple(replace(b, budget_amount=D(120)) for b in house.bills))
    assert not [f for f in examine(house).findings if f.code == "budget-billing"]


@pytest.mark.parametrize("others", [(75,), (75, 74)])
def test_a_minimum_bill_with_hardly_a_bill_above_it_is_no_plan(others):
    use = (62, 61, 64, 69, 71, 67, *others, 70, 66, 63, 66, 65, 58, 70)
    house = plan([f"{max(16.86, 0.23213 * kwh):.2f}" for kwh in use], use)
    assert as_instalments(house) == house
