"""A cause of a single bill says which bills it may be about, each with its chance, and one size in billed kWh."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

from reconcile.answer import reconcile
from reconcile.house import House
from reconcile.read import read_house

SAMPLES = Path(__file__).parents[2] / "sample_bills"


def typed(house: House, at: int, kwh: float) -> House:
    """The same with so much more on one bill."""
    bills = list(house.bills)
    bills[at] = replace(bills[at], kwh=(bills[at].kwh or 0.0) + kwh, reading_start=None, reading_end=None, amount=None)
    return replace(house, bills=tuple(bills))


def exchanged(house: House, day: date) -> House:
    """The same with a new meter, a quarter faster, from a day on."""
    return replace(
        house,
        bills=tuple(
            replace(
                bill,
                kwh=(1.25 if bill.start >= day else 1.0) * (bill.kwh or 0.0),
                meter="B2" if bill.start >= day else "A1",
                reading_start=None,
                reading_end=None,
                amount=None,
            )
            for bill in house.bills
        ),
    )


def test_a_bill_that_others_may_be_instead_is_told_with_them() -> None:
    """Nothing but bills: where winters differ a high March may as well be the February of the next year."""
    house = replace(read_house(SAMPLES / "cold_winter"), loads=(), tariffs=(), weather=None)
    house = replace(house, bills=tuple(replace(bill, amount=None) for bill in house.bills))
    at, other = 6, 16
    odd = next(c for c in reconcile(typed(house, at, 2000.0)).causes if c.code == "single-period")
    assert [one.period for one in odd.one_of] == [at, other]
    assert odd.one_of[0].since == odd.since == house.bills[at].start
    assert odd.one_of[0].kwh == pytest.approx(odd.kwh, rel=1e-6)
    assert all(0.0 < one.probability <= odd.probability for one in odd.one_of)
    assert "or the one that begins" in odd.text


def test_two_bills_that_both_stand_apart_are_told_as_two() -> None:
    house = typed(typed(read_house(SAMPLES / "all_well"), 3, 600.0), 10, 600.0)
    odd = next(c for c in reconcile(house).causes if c.code == "single-period")
    assert {one.period for one in odd.one_of} == {3, 10}
    assert sum(one.probability for one in odd.one_of) > 1.5
    assert odd.text.count("and the one that begins") == 1


def test_one_bill_that_stands_apart_is_told_alone() -> None:
    odd = next(
        c for c in reconcile(typed(read_house(SAMPLES / "all_well"), 3, 600.0)).causes if c.code == "single-period"
    )
    assert odd.one_of == ()
    assert "one bill alone is high" in odd.text


def test_a_mistyped_bill_before_a_fast_meter_has_one_size() -> None:
    house = typed(exchanged(read_house(SAMPLES / "all_well"), date(2025, 4, 1)), 3, 500.0)
    odd = next(cause for cause in reconcile(house).causes if cause.code == "single-period")
    assert odd.size is not None
    assert odd.size_low is not None
    assert odd.size_high is not None
    assert odd.size == pytest.approx(odd.kwh, rel=1e-6)
    assert odd.size_low < 500.0 < odd.size_high


def test_a_lasting_cause_says_between_which_days_it_began() -> None:
    house = read_house(SAMPLES / "new_load_in_may")
    cause = max(reconcile(house).causes, key=lambda one: one.probability if one.code != "none" else 0.0)
    assert cause.since_low is not None
    assert cause.since_high is not None
    assert cause.since is not None
    assert cause.since_low <= cause.since <= cause.since_high
