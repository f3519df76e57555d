"""How doubtful a list is does not go by how evenly its household lives, and what people do otherwise is no cause."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
from weigh_houses import house as with_list

from reconcile.house import House
from reconcile.paper import examine
from reconcile.read import read_house
from reconcile.weigh.model import build
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


def wandering(seed: int, sd: float = 0.09, keeps: float = 0.5) -> House:
    """A list that is right; its people use so much more or less of what they switch, half of it the next month too."""
    rng, home = np.random.default_rng(seed), with_list()
    ways = [rng.normal(0.0, sd)]
    for _ in home.bills[1:]:
        ways.append(keeps * ways[-1] + rng.normal(0.0, sd * (1.0 - keeps**2) ** 0.5))
    model = build(home, examine(home))
    kwh = model.mean + model.parts[:, model.clocks].sum(axis=1) * ways
    bills = (replace(bill, kwh=round(float(used), 1)) for bill, used in zip(home.bills, kwh, strict=True))
    return replace(home, bills=tuple(bills))


def test_people_whose_ways_wander_are_told_no_cause() -> None:
    """With each month drawn anew 9 of these 20 were in order by less than .3, 19 of 110 of other seeds; now 3 and 4."""
    none = [weigh_house(house, examine(house)).none for house in map(wandering, range(20))]
    assert sum(chance < 0.3 for chance in none) < 6
