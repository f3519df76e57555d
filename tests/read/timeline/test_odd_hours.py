"""Registers read at odd hours, and clocks that change by half an hour or stand a quarter of one off."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from reconcile.house import House, Interval
from reconcile.read.household.settings import IntervalSettings
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.interval_table import read_interval
from reconcile.read.wrappings.interval_files import IntervalFile
from reconcile.say import Voice
from reconcile.texts.interval import assumed_text


def read(path: Path, text: str, zone: str = "America/Chicago") -> tuple[Interval | None, Gate]:
    path = path / "log.csv"
    path.write_text(text, encoding="utf-8")
    gate = Gate()
    house = House("A", (), timezone=zone)
    return read_interval([IntervalFile("log.csv", path)], gate, house, IntervalSettings())[0], gate


def log(seed: int, count: int, hours: tuple[float, ...], scatter: float = 0.0) -> list[tuple[datetime, float]]:
    """Readings [kWh] of a house that draws 1.1 kW, at odd hours."""
    rng = np.random.default_rng(seed)
    at, kwh, rows = datetime(2025, 1, 2, 7, 12), 12_000.0, []
    for _ in range(count):
        rows.append((at, kwh))
        away = round(60.0 * (float(rng.choice(hours)) + float(rng.normal(0, scatter)))) / 60.0
        at, kwh = at + timedelta(hours=away), kwh + 1.1 * away
    return rows


@pytest.mark.parametrize(
    ("hours", "scatter", "step"),
    [
        ((11.3, 12.7, 24.1, 23.4), 0.3, 86_400),
        ((24.0,), 1.5, 86_400),
        ((1.0, 1.0, 1.0, 2.0, 3.0), 0.03, 3600),
        ((0.1, 0.2, 0.3, 0.7), 0.02, 900),
    ],
)
@pytest.mark.parametrize("form", ["%m/%d/%Y,%I:%M %p", "%Y-%m-%d,%H:%M"])
def test_readings_at_odd_hours_become_even_steps(
    tmp_path: Path, hours: tuple[float, ...], scatter: float, step: int, form: str
) -> None:
    rows = log(4, 120, hours, scatter)
    text = "Date,Time,Meter reading (kWh)\n" + "".join(f"{at:{form}},{kwh:.3f}\n" for at, kwh in rows)
    got, gate = read(tmp_path, text, "America/Phoenix")
    assert not gate.faults
    assert got is not None
    assert got.step_seconds == step
    lengths = got.lengths.astype(float)
    assert np.abs(got.kwh - 1.1 * lengths / 3600.0).max() < 0.01
    told = next(one for one in got.assumed if one.code == "odd-hours")
    assert got.kwh.sum() + told.figures["lost"] == pytest.approx(rows[-1][1] - rows[0][1], abs=0.01)
    assert "read at odd times" in assumed_text(told, Voice())


def test_weekly_readings_are_sent_to_the_file_of_readings(tmp_path: Path) -> None:
    rows = log(5, 40, (24.0 * 6, 24.0 * 7, 24.0 * 9), 3.0)
    got, gate = read(tmp_path, "date,meter reading\n" + "".join(f"{at:%Y-%m-%d %H:%M},{kwh:.0f}\n" for at, kwh in rows))
    assert got is None
    assert [fault.remedy for fault in gate.faults] == ["Readings further apart than a day belong into readings.csv."]


def test_use_at_odd_hours_is_no_register(tmp_path: Path) -> None:
    rng = np.random.default_rng(1)
    rows = [(at, rng.uniform(0.1, 3.0)) for at, _ in log(6, 90, (0.6, 1.3, 2.9), 0.2)]
    got, gate = read(tmp_path, "time,kwh\n" + "".join(f"{at:%Y-%m-%d %H:%M},{kwh:.3f}\n" for at, kwh in rows))
    assert got is None
    assert gate.faults


@pytest.mark.parametrize(
    "zone",
    [
        "Australia/Lord_Howe",
        "Pacific/Chatham",
        "Asia/Kathmandu",
        "America/St_Johns",
        "Africa/Casablanca",
        "Europe/Dublin",
    ],
)
@pytest.mark.parametrize("first", ["2025-03-20", "2025-09-20", "2024-12-25", "2025-02-20"])
@pytest.mark.parametrize("minutes", [30, 60])
def test_clocks_of_odd_places(tmp_path: Path, zone: str, first: str, minutes: int) -> None:
    home = ZoneInfo(zone)
    begin = datetime.fromisoformat(first).replace(tzinfo=home).timestamp()
    starts = np.arange(int(begin), int(begin) + 45 * 86_400, 60 * minutes)
    wh = np.random.default_rng(2).integers(100, 900, len(starts))
    local = [datetime.fromtimestamp(int(at), UTC).astimezone(home) for at in starts]
    got, gate = read(
        tmp_path, "time,Wh\n" + "".join(f"{at:%Y-%m-%d %H:%M},{w}\n" for at, w in zip(local, wh, strict=True)), zone
    )
    assert not gate.faults
    assert got is not None
    assert got.starts.astype("datetime64[s]").astype(np.int64).tolist() == starts.tolist()
    assert np.abs(got.kwh * 1000.0 - wh).max() < 0.5


def test_energy_of_intervals_is_not_sorted_to_look_for_odd_hours(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("reconcile.read.timeline.odd_hours.local_stamps", None)
    monkeypatch.setattr("reconcile.read.timeline.odd_hours.mode", None)
    begin = datetime(2025, 1, 2)
    rows = [(begin + timedelta(minutes=15 * n), 0.1 + 0.05 * (n % 7)) for n in range(200)]
    got, gate = read(tmp_path, "time,kwh\n" + "".join(f"{at:%Y-%m-%d %H:%M},{kwh:.3f}\n" for at, kwh in rows))
    assert not gate.faults
    assert got is not None
    assert got.step_seconds == 900
