"""Bills whose kWh contradict the money of prices that the account's other bills follow to the cent."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest

import reconcile
from reconcile.house import Bill, House
from reconcile.house.tariff import Charge, Tariff
from reconcile.paper import examine

USE = (905, 812, 745, 661, 712, 968, 1240, 1173, 871, 644, 668, 797, 933)
DAYS = [date(2024, 1, 8) + timedelta(31 * k) for k in range(len(USE) + 1)]
HOUSE = House(
    "Quay",
    tuple(
        Bill(a, b, kwh=float(kwh), amount=Decimal("11.40") + round(Decimal(kwh) * Decimal("0.1432"), 2))
        for (a, b), kwh in zip(pairwise(DAYS), USE, strict=True)
    ),
)


def typed(at: int, kwh: float, **changes: object) -> House:
    bills = list(HOUSE.bills)
    bills[at] = replace(bills[at], kwh=kwh, **changes)
    return replace(HOUSE, bills=tuple(bills))


@pytest.mark.parametrize(
    ("at", "kwh", "tariff"),
    [(6, 1420.0, False), (3, 616.0, False), (9, 944.0, False), (6, 0.0, False), (4, 0.0, False), (4, 0.0, True)],
)
def test_kwh_that_the_amount_does_not_pay_for_are_told_with_those_it_does(at: int, kwh: float, tariff: bool) -> None:
    house = typed(at, kwh)
    if tariff:
        charges = (Charge("Customer", "per_bill", Decimal("11.40")), Charge("Energy", "per_kwh", Decimal("0.1432")))
        house = replace(house, tariffs=(Tariff(date(2020, 1, 1), charges),))
    result = reconcile.reconcile(house)
    (finding,) = result.findings
    assert (finding.key, finding.periods, finding.figures["paid_kwh"]) == ("unit-price/kwh", (at,), USE[at])
    assert f"pays for {USE[at]:,} kWh" in result.verdict.headline
    assert result.rows[at].flag == "not-judged"
    assert result.verdict.next_steps[0].code == "kwh-and-amount-typed"


def test_a_credit_kwh_borne_out_by_readings_and_an_empty_month_are_no_slip() -> None:
    credit = typed(6, 1240.0, amount=HOUSE.bills[6].amount - Decimal("25.00"))
    read = typed(6, 1420.0, reading_start=51_000.0, reading_end=52_420.0)
    empty = typed(6, 0.0, amount=Decimal("11.40"))
    for house in (HOUSE, credit, read, empty):
        assert "unit-price/kwh" not in {f.key for f in examine(house).findings}


def test_a_bill_that_another_one_contradicts_or_overlaps_is_open_and_no_all_clear() -> None:
    bill = HOUSE.bills[5]
    other = replace(bill, kwh=1099.0, amount=Decimal("168.78"))
    twice = replace(HOUSE, bills=(*HOUSE.bills[:6], other, *HOUSE.bills[6:]))
    shared = typed(6, 1240.0, start=DAYS[6] - timedelta(5))
    for house in (twice, shared):
        verdict = reconcile.reconcile(house).verdict
        assert verdict.decision == "paperwork"
        assert "Every bill" not in verdict.headline
