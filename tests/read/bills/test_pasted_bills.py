"""Texts copied off bills are read as bills, or refused once, with a block as it is wanted."""

from __future__ import annotations

import random
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hand_typed import a_year
from pasted_bills import PASTED, STRAYS

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


@pytest.mark.parametrize("name", [name for name, pasted in PASTED.items() if not pasted.refused])
def test_a_line_lost_moved_or_added_never_makes_a_wrong_bill(name: str, tmp_path: Path) -> None:
    pasted, rng, read = PASTED[name], random.Random(name), 0
    for n in range(8):
        truth = a_year(n, 4, large=True)
        lines = pasted.of(truth).split("\n")
        at = rng.randrange(len(lines) - 1)
        if n < 2:
            del lines[at]
        elif n < 4:
            lines[at : at + 2] = lines[at + 1 : at - 1 if at else None : -1]
        else:
            lines.insert(at, rng.choice(STRAYS))
        file = tmp_path / "bills.txt"
        file.write_text("\n".join(lines), encoding="utf-8")
        try:
            house = read_house(file)
        except InputError:
            continue
        read += 1
        own = {(t.start, t.end - timedelta(days=pasted.inclusive)): t for t in truth}
        for bill in house.bills:
            if bill.edge_doubt_days == 0.0:
                used = bill.kwh if bill.kwh is not None else (bill.reading_end or 0.0) - (bill.reading_start or 0.0)
                assert used == own[bill.start, bill.end].kwh, lines
                assert bill.amount in (None, Decimal(own[bill.start, bill.end].cents) / 100), lines
    assert read > 0


def test_units_of_a_line_are_its_energy_where_they_are_of_no_other_service(tmp_path: Path) -> None:
    truth = a_year(3, 4, large=True)
    file = tmp_path / "bills.txt"
    lines = [f"{t.start:%d/%m/%Y} - {t.end:%d/%m/%Y}   {t.kwh} units   £{t.cents / 100:.2f}" for t in truth]
    file.write_text("\n".join(lines), encoding="utf-8")
    assert [bill.kwh for bill in read_house(file).bills] == [t.kwh for t in truth]
    file.write_text("\n".join(line.replace("   ", " gas ", 1) for line in lines), encoding="utf-8")
    with pytest.raises(InputError):
        read_house(file)
