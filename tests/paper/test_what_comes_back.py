"""What the money says of a correction fits what the records show: typed, moved between bills, trued up late."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from speech import page_text

import reconcile
from reconcile.house import Bill, House
from reconcile.house.tariff import Charge, Tariff
from reconcile.report.views.asking_view import coming_back
from reconcile.report.views.first_view import figures_beside

KWH = (727, 661, 591, 604, 678, 600, 623, 619, 701, 965, 980, 888, 635, 691)


def house_of(kwh=KWH) -> House:
    bills, register = [], 40210.0
    for k, used in enumerate(kwh):
        start = date(2024, 9, 5) + timedelta(30 * k)
        amount = Decimal("10.50") + Decimal("0.16") * Decimal(str(used))
        bills.append(
            Bill(
                start,
                start + timedelta(30),
                kwh=float(used),
                amount=amount,
                reading_start=register,
                reading_end=register + used,
            )
        )
        register += used
    return House("Ferry Steps", tuple(bills))


def said(house: House) -> str:
    return " ".join(coming_back(reconcile.reconcile(house)))


def test_a_bill_most_likely_mistyped_is_no_ground_for_a_corrected_bill() -> None:
    house = house_of()
    bills = [replace(b, reading_start=None, reading_end=None) for b in house.bills]
    bills[6] = replace(bills[6], kwh=6230.0)
    text = said(replace(house, bills=tuple(bills)))
    assert "corrected bill" not in text
    assert "printed bill" in text


def test_an_estimate_too_low_was_followed_by_a_bill_that_charged_more() -> None:
    kwh = list(KWH)
    kwh[4], kwh[5] = 300, 978
    house = house_of(kwh)
    bills = list(house.bills)
    bills[4] = replace(bills[4], read_type="estimated")
    text = said(replace(house, bills=tuple(bills)))
    assert "charged too little, the next bill charged more" in text


def test_an_estimate_too_high_was_followed_by_a_bill_that_charged_less() -> None:
    kwh = list(KWH)
    kwh[4], kwh[5] = 978, 300
    house = house_of(kwh)
    bills = list(house.bills)
    bills[4] = replace(bills[4], read_type="estimated")
    assert "charged too much, the next bill charged less" in said(replace(house, bills=tuple(bills)))


def test_a_misread_reading_between_two_bills_charges_nothing_twice() -> None:
    kwh = list(KWH)
    kwh[9], kwh[10] = KWH[9] + 900, KWH[10] - 900
    text = said(house_of(kwh))
    assert "corrected bill" not in text
    assert "the other charged less" in text


@pytest.mark.parametrize(("billed", "charged"), [(423, "charged too little"), (823, "charged too much")])
def test_a_bill_that_asks_less_than_its_readings_give_is_no_refund(billed: int, charged: str) -> None:
    house = house_of()
    bills = list(house.bills)
    amount = Decimal("10.50") + Decimal("0.16") * billed
    bills[6] = replace(bills[6], kwh=float(billed), amount=amount)
    assert charged in said(replace(house, bills=tuple(bills)))


def test_money_beyond_the_tariff_comes_back_where_no_line_accounts_for_it() -> None:
    house = reconcile.read_house(Path(__file__).parents[2] / "sample_bills" / "all_well")
    bills = list(house.bills)
    bills[6] = replace(bills[6], amount=2 * (bills[6].amount or Decimal(0)))
    text = said(replace(house, bills=tuple(bills)))
    assert "no line of the printed bill" in text
    assert "Nothing is found wrong yet" not in text


def twice(asked: str, kwh: float | None = None) -> reconcile.Reconciliation:
    """A year of one tariff, and a bill that asks another sum."""
    house = house_of()
    prices = Tariff(
        date(2020, 1, 1),
        (
            Charge("Service", "per_bill", Decimal("10.50"), kind="fixed"),
            Charge("Energy", "per_kwh", Decimal("0.16"), kind="energy"),
        ),
    )
    bills = [b if kwh is None else replace(b, reading_start=None, reading_end=None) for b in house.bills]
    bills[12] = replace(bills[12], amount=Decimal(asked), kwh=kwh or bills[12].kwh)
    return reconcile.reconcile(replace(house, bills=tuple(bills), tariffs=(prices,)))


def test_a_bill_asked_for_twice_is_no_rise_of_prices() -> None:
    result = twice("224.20")  # 635 kWh cost $112.10
    text = page_text(result)
    assert "exactly twice what the tariff as typed gives ($112.10)" in result.verdict.headline
    assert "higher prices" not in text
    assert "which-rate" not in result.verdict.requests
    assert figures_beside(result)[0] == ("$112", "more than the tariff as typed gives")


@pytest.mark.parametrize(("first", "said"), [(4, "10 bills from Jan 3, 2025"), (11, "3 bills from Aug 1, 2025")])
def test_bills_beyond_the_tariff_since_one_are_told_in_one_sum_and_asked_about(first: int, said: str) -> None:
    house = house_of()
    prices = Tariff(
        date(2020, 1, 1),
        (
            Charge("Service", "per_bill", Decimal("10.50"), kind="fixed"),
            Charge("Energy", "per_kwh", Decimal("0.16"), kind="energy"),
        ),
    )
    bills = tuple(replace(b, amount=(b.amount or 0) + 20) if i >= first else b for i, b in enumerate(house.bills))
    result = reconcile.reconcile(replace(house, bills=bills, tariffs=(prices,)))
    more = 20 * (14 - first)
    assert f"{said} to Oct 30, 2025 ask together ${more}.00 more" in result.verdict.headline
    assert len([f for f in result.findings if f.code == "amount-mismatch"]) == 1
    assert figures_beside(result)[0] == (f"${more}", "more than the tariff as typed gives")
    assert "line-by-line" in result.verdict.requests
    assert "A meter that a test finds fast" not in page_text(result)


def test_a_missing_bill_brings_nothing_back() -> None:
    house = house_of()
    text = said(replace(house, bills=(*house.bills[:6], *house.bills[7:])))
    assert "a bill is missing" in text
    assert "beyond its tariff" not in text


def test_of_two_figures_that_contradict_none_is_said_to_be_charged_too_little() -> None:
    result = twice("112.26", kwh=318.0)  # what 636 kWh cost
    assert {f.code for f in result.findings if f.settles} == {"unit-price"}
    text = page_text(result)
    assert "charged than the records" not in text
    assert "for less, or for more" in text
    assert "No bill alone is high" not in text
