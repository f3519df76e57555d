"""Bills whose weather nobody knows: what a kelvin uses is learnt from the others, and a summer is no cause."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest

from reconcile import reconcile
from reconcile.house import Bill, House
from reconcile.loads.energy import load_energy
from reconcile.weigh.unknown_weather import an_odd_month

MONTHS = [date(2023 + (9 + k) // 12, (9 + k) % 12 + 1, 9) for k in range(21)]
ONE_SUMMER = [443, 508, 493, 508, 495, 506, 428, 440, 735, 790, 690, 463, 439, 459, 520, 468, 404, 463, 475, 450]
"""A house that is cooled from June to August: one summer in twenty bills."""


def bills_of(kwh: list[int], months: list[date] = MONTHS) -> House:
    spans = zip(months, months[1:], kwh, strict=False)
    return House(name="one summer", bills=tuple(Bill(start, end, kwh=float(used)) for start, end, used in spans))


def kelvin(kwh: list[int]) -> np.ndarray:
    house = bills_of(kwh)
    days = np.array([bill.days for bill in house.bills], dtype=float)
    middle = np.array([bill.start.toordinal() for bill in house.bills]) + days / 2.0
    return an_odd_month(load_energy(house.bills, house), days, middle, np.array(kwh, dtype=float))


def test_a_kelvin_uses_more_in_the_months_in_which_the_house_is_cooled() -> None:
    cold, warm = kelvin(ONE_SUMMER).T
    july, march = 9, 5
    assert warm[july] > 5.0 * max(warm[march], 1.0)
    assert warm[july] > 3.0 * cold[march]
    even = kelvin([470 + 10 * (k % 3) for k in range(20)])
    assert even.max() < 0.3 * warm[july]


def test_no_bill_says_what_a_kelvin_uses_in_itself() -> None:
    july = 9
    other = [*ONE_SUMMER[:july], 1400, *ONE_SUMMER[july + 1 :]]
    assert kelvin(other)[july] == pytest.approx(kelvin(ONE_SUMMER)[july])
    assert kelvin(other)[july - 1, 1] > 1.2 * kelvin(ONE_SUMMER)[july - 1, 1]


def test_the_only_summer_of_the_bills_is_no_load() -> None:
    said = reconcile(bills_of(ONE_SUMMER))
    assert said.verdict.decision == "explained"
    assert not any(row.flag == "over" for row in said.rows)
    assert not any(cause.probability >= 0.5 for cause in said.causes if cause.code != "none")


def test_a_load_that_stays_is_still_seen_beside_it() -> None:
    house = bills_of(ONE_SUMMER)
    more = tuple(
        replace(bill, kwh=bill.kwh + 9.6 * bill.days) if at >= 12 else bill for at, bill in enumerate(house.bills)
    )
    said = reconcile(replace(house, bills=more))
    assert said.verdict.decision == "outside-check"
    onset = house.bills[12].start
    begun = max(said.causes, key=lambda cause: cause.probability if cause.code != "none" else 0.0).since
    assert begun is not None
    assert abs(begun - onset) < timedelta(days=40)
