"""What the page says of the signals of interval data: by which of them causes come apart."""

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1]))
import data_homes
import switching_homes as homes

import reconcile
from reconcile.house import Load
from reconcile.report.screens.screen import whole
from reconcile.report.views.interval_view import signals, usual_days
from reconcile.say import Voice

SINCE = 250


@pytest.fixture(scope="module")
def usual():
    return homes.home(6, data_homes.DAYS)


def said(made, gain=0.0, loads=()):
    house = data_homes.billed(made, gain=gain, since=SINCE, loads=(*data_homes.listed(made, 6), *loads))
    answer = reconcile.reconcile(house)
    assert answer.interval is not None
    return answer.interval, " ".join(signals(answer.interval, Voice()))


def test_a_house_in_order(usual):
    data, text = said(usual)
    assert "stayed the same, give or take" in text
    assert "made no step" in text
    rows = usual_days(data, Voice())
    assert len(rows) == 8
    assert rows[0]["kind"] == "Dec to Feb, weekdays"
    assert all(" W at " in row[key] for row in rows for key in ("least", "most"))


def test_a_load_round_the_clock_with_the_listed_loads_that_fit(usual):
    pump = Load("well pump", watts=300.0, run_hours=1.0)
    _, text = said(homes.with_load(usual, 300.0, SINCE), loads=(pump,))
    assert "What runs round the clock rose by about" in text
    assert "What is on the list with about as many watts: well pump" in text


def test_a_load_on_a_timer(usual):
    _, text = said(homes.with_timed(usual, 1000.0, (1.0, 4.0), SINCE))
    assert "more runs from 1:00 to 5:00 every day, from Nov 10, 2024" in text
    assert "something on a timer, and not the meter" in text


def test_a_fast_meter(usual):
    _, text = said(usual, gain=0.2)
    assert "house's own appliances switch changed by" in text


def test_days_away_and_days_of_guests(usual):
    minute = np.arange(len(usual.base))
    empty = (minute >= 200 * 1440) & (minute < 210 * 1440)
    full = (minute >= 300 * 1440) & (minute < 305 * 1440)
    made = replace(
        usual,
        watts={name: np.where(empty, 0.0, watts) for name, watts in usual.watts.items()},
        base=np.where(empty, 60.0, usual.base + 2500.0 * full),
    )
    data, text = said(made)
    assert data.daily is not None
    away, busy = data.daily.away, data.daily.busy
    assert [((a - made.first).days, (b - made.first).days) for a, b in away] == [(200, 209)]
    assert [((a - made.first).days, (b - made.first).days) for a, b in busy] == [(300, 304)]
    assert "Days that look like nobody at home: Sep 21, 2024 to Sep 30, 2024." in text
    assert "Days that took far more than their weather and weekday account for" in text
    told = data.to_dict()["daily"]
    assert told["away"] == [["2024-09-21", "2024-09-30"]]


def test_data_beside_other_months_are_said_to_cover_no_bill(tmp_path):
    rows = [f"2025-03-{day:02d} {hour:02d}:00,0.4" for day in range(1, 21) for hour in range(24)]
    (tmp_path / "interval.csv").write_text("\n".join(["time,kwh", *rows]), encoding="utf-8")
    bills = [f"2024-{month:02d}-03,2024-{month + 1:02d}-03,{500 + 9 * month}" for month in range(1, 12)]
    (tmp_path / "bills.csv").write_text("\n".join(["start,end,kwh", *bills]), encoding="utf-8")
    (tmp_path / "house.toml").write_text('[house]\ntimezone = "America/Chicago"\n', encoding="utf-8")
    result = reconcile.reconcile(reconcile.read_house(tmp_path))
    told = " ".join(block.text for block in whole(result) if "Interval data" in getattr(block, "text", ""))
    assert "Mar 1, 2025" in told
    assert "cover none of the bills" in told
