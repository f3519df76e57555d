"""Numbers and days as pandas gives them, in a House made or changed by hand: taken for what they are."""

from __future__ import annotations

from dataclasses import fields, replace
from decimal import Decimal
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from reconcile import read_house, reconcile
from reconcile.house import Bill, Load, Meter

HOUSE = read_house(Path(__file__).parents[3] / "sample_bills" / "all_well")


@pytest.mark.parametrize("kwh", [np.float64(846.0), np.int64(846), np.float32(846.0)])
def test_a_number_of_numpy_is_a_number(kwh: object) -> None:
    bill = replace(HOUSE.bills[0], kwh=kwh)
    assert type(bill.kwh) in (float, int)
    house = replace(HOUSE, bills=(bill, *HOUSE.bills[1:]))
    assert (
        reconcile(house).to_dict()
        == reconcile(replace(HOUSE, bills=(replace(bill, kwh=846.0), *HOUSE.bills[1:]))).to_dict()
    )


def test_days_of_pandas_are_days() -> None:
    frame = pd.DataFrame({"start": [b.start for b in HOUSE.bills], "end": [b.end for b in HOUSE.bills]})
    frame = frame.apply(pd.to_datetime)
    bills = tuple(
        replace(bill, start=frame.start[n], end=np.datetime64(frame.end[n])) for n, bill in enumerate(HOUSE.bills)
    )
    assert bills == HOUSE.bills
    assert replace(HOUSE.bills[0], bill_date=pd.NaT).bill_date is None
    assert reconcile(replace(HOUSE, bills=bills)).to_dict() == reconcile(replace(HOUSE)).to_dict()


def test_every_part_keeps_pythons_own() -> None:
    load = Load("x", count=np.int64(2), watts=np.float64(60), run_hours=np.float32(5), arrives=pd.Timestamp(2025, 1, 7))
    meter = Meter(digits=np.int64(5), multiplier=np.float64(1.0))
    bill = Bill(pd.Timestamp(2025, 1, 7), pd.Timestamp(2025, 2, 6), np.int64(7), Decimal("1.20"))
    for one in (load, meter, bill):
        for field in fields(one):
            assert not isinstance(getattr(one, field.name), np.generic | pd.Timestamp), field.name
    assert replace(HOUSE, occupants=np.int64(3)).occupants == 3
