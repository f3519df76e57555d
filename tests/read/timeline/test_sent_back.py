"""A register of what is sent back tells of own generation, whether the settings say so or not."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from reconcile.read import read_house


def house(folder: Path, sent: float) -> object:
    days = [date(2024, 3, 1) + timedelta(30 * k) for k in range(4)]
    (folder / "bills.csv").write_text("start,end,kwh\n" + "".join(f"{a},{b},360\n" for a, b in pairwise(days)))
    hours = [datetime(2024, 3, 1) + timedelta(hours=k) for k in range(90 * 24)]
    rows = (f"{hour:%Y-%m-%d %H:%M},0.5,{sent if 9 <= hour.hour < 15 else 0.0}\n" for hour in hours)
    (folder / "interval.csv").write_text("start,delivered kWh,received kWh\n" + "".join(rows))
    return read_house(folder)


@pytest.mark.parametrize(("sent", "own"), [(0.0, False), (0.001, False), (0.8, True)])
def test_what_is_sent_back_makes_a_house_of_its_own_generation(sent: float, own: bool, tmp_path: Path) -> None:
    read = house(tmp_path, sent)
    assert read.generation is own
    assert [bill.received_kwh for bill in read.bills] == (
        [pytest.approx(30 * 6 * sent, rel=1e-6)] * 3 if own else [None] * 3
    )
    assert any("sent back: the house is taken as one that makes its own" in told for told in read.notices) is own
