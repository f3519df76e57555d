"""How doubtful a list is does not go by how evenly its household lives."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

from reconcile.house import House
from reconcile.paper import examine
from reconcile.read import read_house
from reconcile.weigh.weighing import weigh_house

SAMPLES = Path(__file__).parents[2] / "sample_bills"


def exchanged(part: float) -> House:
    """A sample whose bills are a part of themselves until an exchange, and a quarter more from it on."""
    house = read_house(SAMPLES / "all_well")
    day = date(2025, 2, 1)
    bills = (
        replace(
            bill,
            kwh=(part if bill.start < day else 1.25 * part) * (bill.kwh or 0.0),
            meter="A1" if bill.start < day else "B2",
            reading_start=None,
            reading_end=None,
            amount=None,
        )
        for bill in house.bills
    )
    return replace(house, bills=tuple(bills))


def test_a_list_is_as_doubtful_as_stated_however_evenly_a_household_lives() -> None:
    """A list a quarter too high is no proof that the meter taken down was slow: .98 of it, where the bills fit well."""
    house = exchanged(0.8)
    weighing = weigh_house(house, examine(house))
    assert weighing.chance("meter-exchange", "old-meter-slow") > 0.95
    assert weighing.chance("old-meter-slow") < 0.92


def test_a_list_that_fits_the_bills_before_an_exchange_still_speaks_for_a_fast_new_meter() -> None:
    house = exchanged(1.0)
    weighing = weigh_house(house, examine(house))
    assert weighing.chance("meter-exchange") > 0.8
