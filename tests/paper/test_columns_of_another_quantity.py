"""A column of kWh that holds another quantity: registers, a sum that runs on, an average a day."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from itertools import accumulate, pairwise

import pytest

import reconcile
from reconcile.house import Bill, House

USE = (905, 812, 745, 661, 712, 968, 1240, 1173, 871, 644, 668, 797, 933)
DAYS = [date(2024, 1, 8) + timedelta(30 * k + k // 2) for k in range(len(USE) + 1)]
BILLS = tuple(
    Bill(a, b, kwh=float(kwh), amount=Decimal("11.40") + round(Decimal(kwh) * Decimal("0.1432"), 2))
    for (a, b), kwh in zip(pairwise(DAYS), USE, strict=True)
)
SO_FAR = [*accumulate(USE)]


@pytest.mark.parametrize(
    ("column", "asked"),
    [
        ([41_207.0 + so_far for so_far in SO_FAR], "kwh-are-readings"),
        ([float(so_far) for so_far in SO_FAR], "kwh-are-a-sum"),
        ([float(so_far - (SO_FAR[7] if k > 7 else 0)) for k, so_far in enumerate(SO_FAR)], "kwh-are-a-sum"),
        ([round(bill.kwh / bill.days, 1) for bill in BILLS], "kwh-are-a-day"),
        ([float(bill.amount) for bill in BILLS], "units-typed"),
        ([bill.kwh * 10.0 for bill in BILLS], "units-typed"),
        ([bill.kwh / 100.0 for bill in BILLS], "units-typed"),
    ],
    ids=["registers", "sum", "sum of each year", "a day", "exchanged", "tenfold", "hundredth"],
)
def test_the_remedy_is_that_of_what_the_column_holds(column: list[float], asked: str) -> None:
    swapped = column == [float(bill.amount) for bill in BILLS]
    bills = tuple(
        Bill(b.start, b.end, kwh=kwh, amount=Decimal(b.kwh) if swapped else b.amount)
        for b, kwh in zip(BILLS, column, strict=True)
    )
    result = reconcile.reconcile(House("Quay", bills))
    assert [f.household for f in result.findings if f.code == "unit-mismatch"] == [(asked,)]
    assert result.verdict.next_steps[0].code == asked
    assert all(row.flag == "not-judged" for row in result.rows)
