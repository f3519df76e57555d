"""A cause whose name says a sign has it: a meter that is called slow bills less, one that is called fast bills more."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from reconcile.answer import reconcile
from reconcile.house import House
from reconcile.read import read_house

SAMPLES = Path(__file__).parents[2] / "sample_bills"
SIGN = {"meter-step": 1, "meter-always": 1, "meter-low": -1}


def changed(name: str, bills: float, since: date) -> House:
    """A sample whose bills are a factor larger from a day on."""
    house = read_house(SAMPLES / name)
    return replace(
        house,
        bills=tuple(
            replace(bill, kwh=bills * bill.kwh, reading_start=None, reading_end=None, amount=None)
            if bill.kwh and bill.start >= since
            else bill
            for bill in house.bills
        ),
    )


@pytest.mark.parametrize(
    "house",
    [
        changed("all_well", 0.4, date(2000, 1, 1)),
        changed("all_well", 1.25, date(2025, 2, 1)),
        changed("cold_winter", 0.75, date(2025, 2, 1)),
    ],
    ids=["all small", "a rise", "a fall"],
)
def test_a_meter_that_is_called_slow_bills_less_and_one_called_fast_more(house: House) -> None:
    for cause in reconcile(house).causes:
        if cause.code in SIGN and cause.probability >= 0.03 and cause.kwh is not None:
            assert np.sign(cause.kwh) == SIGN[cause.code], (cause.code, cause.probability, cause.kwh)


def test_bills_far_below_the_list_speak_for_no_fast_meter() -> None:
    verdict = reconcile(changed("all_well", 0.4, date(2000, 1, 1))).verdict
    assert verdict.rule == "below-list"
    assert verdict.meter_fast_probability is not None
    assert verdict.meter_fast_probability < 0.01
