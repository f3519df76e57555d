"""A house left empty for months is no stopped register, whatever its list says; one that stands still to the end is."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from reconcile.house import Bill, House, Load
from reconcile.paper import examine

FRIDGE = Load("Refrigerator", watts=120.0, follows="always", share_on=0.5)


def holiday(empty: set[int], end: date) -> House:
    """Bills of a month each from May 2022, nothing in the months named."""
    bills, day = [], date(2022, 5, 5)
    while day < end:
        following = day + timedelta(days=30 + len(bills) % 2)
        kwh = 0.0 if day.month in empty else 330.0 + 20.0 * (-1) ** len(bills)
        bills.append(Bill(start=day, end=following, kwh=kwh))
        day = following
    return House("Quay Cottage", tuple(bills), loads=(FRIDGE, Load("Lamps", watts=300.0, run_hours=6.0)))


def found(house: House) -> list[str]:
    return [finding.code for finding in examine(house).findings if finding.code == "stopped-register"]


@pytest.mark.parametrize(
    ("empty", "end"),
    [
        ({11, 12, 1, 2, 3}, date(2023, 9, 1)),
        ({11, 12, 1, 2, 3}, date(2024, 9, 1)),
        ({11, 12, 1, 2, 3}, date(2024, 2, 1)),
        ({1, 2}, date(2024, 9, 1)),
        ({1, 2}, date(2024, 2, 1)),
    ],
)
def test_a_season_of_nothing_is_no_stopped_register(empty: set[int], end: date) -> None:
    assert found(holiday(empty, end)) == []


@pytest.mark.parametrize("empty", [{11, 12, 1, 2, 3}, {1, 2}])
def test_a_register_that_stands_still_to_the_end_is_told(empty: set[int]) -> None:
    assert found(holiday(empty, date(2023, 2, 20))) == ["stopped-register"]


def test_two_bills_of_nothing_once_are_told() -> None:
    assert found(holiday({1, 2}, date(2023, 9, 1))) == ["stopped-register"]


def test_standstills_half_a_year_apart_are_no_season() -> None:
    assert found(holiday({7, 8, 1, 2}, date(2023, 2, 20))) == ["stopped-register"] * 2


def test_a_yearly_label_tells_what_is_always_on() -> None:
    """Four bills of use alone are too few to tell a standstill; with a refrigerator on the list they tell it."""
    house = holiday({9, 10, 11}, date(2022, 12, 1))
    label = (Load("Refrigerator", kwh_per_year=500.0, follows="always"),)
    assert found(replace(house, loads=label)) == ["stopped-register"]
    assert found(replace(house, loads=())) == []


def test_without_a_list_a_house_that_began_empty_may_be_empty_again() -> None:
    house = holiday({5, 6, 3}, date(2023, 4, 1))
    assert found(replace(house, loads=())) == []
    assert found(replace(holiday({3}, date(2023, 4, 1)), loads=())) == ["stopped-register"]
