"""Texts copied off bills are read as bills, or refused once, with a block as it is wanted."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hand_typed import a_year
from pasted_bills import PASTED

from reconcile.errors import InputError
from reconcile.read import read_house

WANTED = "Service period: Oct 22, 2024 - Nov 21, 2024"


@pytest.mark.parametrize("count", [12, 2, 1])
@pytest.mark.parametrize("name", list(PASTED))
def test_a_pasted_text_is_read_or_refused_once(name: str, count: int, tmp_path: Path) -> None:
    pasted, truth = PASTED[name], a_year(7, count, large=count > 1)
    file = tmp_path / "bills.txt"
    file.write_text(pasted.of(truth), encoding="utf-8")
    if pasted.refused:
        with pytest.raises(InputError) as caught:
            read_house(file)
        (fault,) = caught.value.faults
        assert pasted.refused in fault.problem
        assert fault.row is not None
        assert WANTED in fault.remedy
        return
    if count == 1 and pasted.asks and not pasted.inclusive:  # of a lone bill 3/6/24 can only be asked
        with pytest.raises(InputError, match="more than one way"):
            read_house(file)
        (tmp_path / "house.toml").write_text(f'[bills]\ndate_format = "{pasted.asks}"\n')
    house = read_house(file)
    assert len(house.bills) == count, house.notices
    for n, (bill, t) in enumerate(zip(house.bills, truth, strict=True)):
        assert (bill.start, bill.end) == (t.start, t.end - timedelta(days=pasted.inclusive))
        assert bill.kwh == t.kwh
        assert bill.amount == (Decimal(t.cents) / 100 if pasted.amount else None)
        assert (bill.reading_start is not None) == pasted.readings
        if bill.reading_start is not None and bill.reading_end is not None:
            assert bill.reading_end - bill.reading_start == t.kwh
        assert bill.read_type == ("estimated" if pasted.estimated else "actual"), n
    assert any("each block" in notice for notice in house.notices)
