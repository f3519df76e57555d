"""Downloads of many utilities and countries: the same energies at the same instants, or one question."""

from __future__ import annotations

import json
import sys
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[2]))
import interval_layouts_more as more

from reconcile.house import House
from reconcile.read import read_house
from reconcile.read.household.settings import IntervalSettings
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.interval_table import read_interval
from reconcile.read.wrappings.interval_files import IntervalFile

ONE_HOUR_LOST = ("italy", "japan", "new zealand")
"""Rows of days with a column for every hour of the clock hold one of the two hours that the clock repeats."""


@pytest.mark.parametrize("first", ["2025-03-01", "2025-10-10", "2025-01-05"])
@pytest.mark.parametrize("name", more.LAYOUTS)
def test_every_watt_hour_stands_where_it_was_used(name: str, first: str, tmp_path: Path) -> None:
    make, zone, minutes = more.LAYOUTS[name]
    truth = more.truth(zone, minutes, first)
    file, data = make(truth)
    path = tmp_path / file
    path.write_bytes(data)
    gate = Gate()
    got, _ = read_interval([IntervalFile(file, path)], gate, House("A", (), timezone=zone), IntervalSettings())
    assert not gate.faults
    assert got is not None
    starts = got.starts.astype("datetime64[s]").astype(np.int64)
    lost = len(truth.starts) - len(starts)
    if name in ONE_HOUR_LOST and lost:
        assert lost == 3600 // truth.step
        assert [action.count for action in got.actions if action.code == "clock-back-once"] == [lost]
        return
    assert starts.tolist() == truth.starts.tolist()
    assert np.abs(got.kwh * 1000.0 - truth.wh).max() < 0.51


def test_days_of_json_may_hold_their_hours_in_a_list(tmp_path: Path) -> None:
    days = [{"date": f"2025-03-{day:02d}", "values": [0.5, 2.0] * 12} for day in (3, 4)]
    (tmp_path / "bills.csv").write_text("start,end,kwh\n2025-03-03,2025-03-05,60\n")
    (tmp_path / "interval.json").write_text(json.dumps(days))
    interval = read_house(tmp_path).interval
    assert interval is not None
    assert (len(interval.kwh), round(float(interval.kwh.sum()), 6)) == (48, 60.0)


def test_a_meters_number_that_stands_still_is_no_time(tmp_path: Path) -> None:
    rows = ["MPAN,Date," + ",".join(f"HH{n:02d}" for n in range(1, 49))]
    rows += [f"1200000000000,{day:02d}/03/2025," + ",".join(["0.25", "1.0"] * 24) for day in range(3, 17)]
    (tmp_path / "bills.csv").write_text("start,end,kwh\n2025-03-03,2025-03-17,420\n")
    (tmp_path / "interval.csv").write_text("\n".join(rows))
    interval = read_house(tmp_path).interval
    assert interval is not None
    assert (len(interval.kwh), float(interval.kwh.sum())) == (14 * 48, 420.0)
