"""Readings beside own generation: which of a bill's kWh they are of."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import accumulate, pairwise

import pytest

from reconcile import Bill, House
from reconcile.paper.examine import examine

DRAWN = (345, 258, 338, 310, 290, 280, 300, 350, 390, 360, 300, 310)
SENT = (354, 310, 203, 280, 390, 450, 480, 430, 300, 250, 0, 0)


def _house(first: int, *, of: tuple[int, ...]) -> House:
    days = [date(2024, 1, 9) + timedelta(30 * k) for k in range(len(DRAWN) + 1)]
    shown = [value % 100_000 for value in accumulate(of, initial=first)]
    bills = tuple(
        Bill(a, b, kwh=float(d - s), delivered_kwh=float(d), received_kwh=float(s), reading_start=x, reading_end=y)
        for (a, b), d, s, (x, y) in zip(pairwise(days), DRAWN, SENT, pairwise(shown), strict=True)
    )
    return House("Sun Lane", bills, generation=True)


@pytest.mark.parametrize("first", [72_383, 98_700], ids=["within", "past its last number"])
def test_readings_of_the_delivered_register_are_no_dispute_over_net_kwh(first: int) -> None:
    assert not [f for f in examine(_house(first, of=DRAWN)).findings if f.code.startswith("reading")]


def test_readings_of_a_net_register_are_compared_as_they_are() -> None:
    net = tuple(d - s for d, s in zip(DRAWN, SENT, strict=True))
    assert not [f for f in examine(_house(50_000, of=net)).findings if f.code.startswith("reading")]


def test_one_wrong_bill_is_still_seen() -> None:
    house = _house(72_383, of=DRAWN)
    wrong = replace(house.bills[4], kwh=(house.bills[4].kwh or 0.0) + 60.0)
    found = examine(replace(house, bills=(*house.bills[:4], wrong, *house.bills[5:]))).findings
    assert [f.periods for f in found if f.code.startswith("reading")] == [(4,)]
