"""Where two figures of a bill's energy differ, its money says whether it was typed or billed so."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

import reconcile
from reconcile.house import Bill, House
from reconcile.money.recompute import use_of
from reconcile.money.tariff_lines import price_bill, total
from reconcile.report.views.asking_view import coming_back
from reconcile.report.views.letter_view import letter
from reconcile.texts.findings import finding_text

SAMPLES = Path(__file__).parents[2] / "sample_bills"


@pytest.fixture(scope="module")
def hourly() -> House:
    return reconcile.read_house(SAMPLES / "hourly_data")


def with_kwh(house: House, i: int, kwh: float, *, readings: bool = True, tariff: bool = True) -> House:
    bills = list(house.bills)
    bills[i] = replace(bills[i], kwh=kwh)
    if not readings:
        bills = [replace(bill, reading_start=None, reading_end=None) for bill in bills]
    return replace(house, bills=tuple(bills), tariffs=house.tariffs if tariff else ())


def test_a_bill_whose_amount_follows_the_wrong_kwh_was_not_mistyped() -> None:
    result = reconcile.reconcile(reconcile.read_house(SAMPLES / "mistyped_bill"))
    codes = [step.code for step in result.verdict.next_steps]
    assert "interval-bill" in codes
    assert "interval-typed" not in codes
    assert "not mistyped here" in result.verdict.headline


@pytest.mark.parametrize("readings", [True, False])
@pytest.mark.parametrize("tariff", [True, False])
def test_kwh_that_the_amount_does_not_pay_for_were_mistyped_and_nothing_is_asked(
    hourly: House, readings: bool, tariff: bool
) -> None:
    result = reconcile.reconcile(with_kwh(hourly, 4, 958.0, readings=readings, tariff=tariff))
    assert result.verdict.requests == ()
    assert [s.code for s in result.verdict.next_steps if not s.optional] == ["kwh-mistyped"]
    assert result.verdict.over.bills == 0
    assert "mistyped here" in result.verdict.headline
    assert "corrected bill" not in " ".join(coming_back(result))
    assert result.money is not None
    assert not result.money.stakes


def test_without_an_amount_both_ways_stay_open(hourly: House) -> None:
    house = with_kwh(hourly, 4, 958.0, readings=False)
    house = replace(house, bills=tuple(replace(bill, amount=None) for bill in house.bills))
    result = reconcile.reconcile(house)
    codes = {step.code for step in result.verdict.next_steps}
    assert {"interval-bill", "interval-typed"} <= codes


def test_the_readings_alone_show_a_mistyped_bill() -> None:
    house = reconcile.read_house(SAMPLES / "all_well")
    result = reconcile.reconcile(with_kwh(house, 3, 2.0 * (house.bills[3].kwh or 0.0)))
    (finding,) = (f for f in result.findings if f.settles)
    assert finding.code == "reading-mismatch"
    assert finding.asks == ()
    assert "mistyped here" in finding_text(finding, result.voice)
    assert not {"unit-price", "amount-mismatch"} & {f.code for f in result.findings}


def typed(kwh: dict[int, float], *, amounts: bool = True) -> House:
    use = (641, 702, 688, 559, 671, 655, 738, 634, 612, 697, 668, 713, 690, 744)
    day, bills = date(2024, 2, 5), []
    for i, one in enumerate(use):
        end = day + timedelta(30 + i % 2)
        money = Decimal(f"{11.0 + 0.16 * one:.2f}") if amounts else None
        bills.append(Bill(day, end, kwh=kwh.get(i, float(one)), amount=money))
        day = end
    return House("x", tuple(bills))


@pytest.mark.parametrize("at", [0, 9, 13])
@pytest.mark.parametrize("times", [10.0, 0.1])
def test_a_digit_too_many_that_the_amount_contradicts_is_looked_up_and_asked_of_nobody(at: int, times: float) -> None:
    house = typed({})
    result = reconcile.reconcile(typed({at: house.bills[at].kwh * times}))
    (found,) = result.findings
    assert found.key == "unit-mismatch"
    assert result.verdict.next_steps[0].code == "units-typed"
    assert result.verdict.requests == ()
    assert "printed bill" in result.verdict.headline
    assert "billing desk" not in result.verdict.headline


@pytest.mark.parametrize("times", [10.0, 100.0])
def test_one_bill_of_ten_times_is_compared_with_the_printed_bill_first(times: float) -> None:
    house = typed({}, amounts=False)
    result = reconcile.reconcile(typed({9: house.bills[9].kwh * times}, amounts=False))
    assert [f.key for f in result.findings] == ["multiplier/as-if"]
    assert result.verdict.next_steps[0].code == "kwh-typed"
    assert result.verdict.requests == ()
    assert letter(result)["requests"] == []
    assert "printed bill" in result.verdict.headline


def test_one_bill_of_ten_times_that_is_paid_as_ten_times_is_settled_with_the_desk(hourly: House) -> None:
    bill = hourly.bills[4]
    times = (bill.kwh or 0.0) * 10.0
    priced = price_bill(hourly.tariffs, use_of(hourly, bill, times))
    bills = [replace(b, reading_start=None, reading_end=None) for b in hourly.bills]
    bills[4] = replace(bills[4], kwh=times, amount=total(priced))
    result = reconcile.reconcile(replace(hourly, bills=tuple(bills), interval=None))
    assert [f.key for f in result.findings if f.settles] == ["multiplier/as-if"]
    assert "multiplier" in result.verdict.requests
    assert "billing desk" in result.verdict.headline
    assert "typed" not in result.verdict.headline
