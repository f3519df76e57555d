"""Faces of the library for many houses: one row each, what is over and under, words for wrong odds, causes in time."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import reconcile
from reconcile.errors import InputError
from reconcile.frame_rows import HOUSES
from reconcile.frames import houses
from reconcile.house import House, Interval, Weather

SAMPLES = Path(__file__).parents[1] / "sample_bills"


@cache
def answer(name: str) -> reconcile.Reconciliation:
    return reconcile.reconcile(reconcile.read_house(SAMPLES / name))


def test_one_row_a_house_and_the_troubled_first() -> None:
    names = ["all_well", "fast_meter", "new_load_in_may", "estimated_read", "danger_sign"]
    table = houses(answer(name) for name in names)
    assert list(table.columns) == ["house", *HOUSES]
    assert table.house.tolist() == [answer(name).house.name for name in names]
    first = table.sort_values("needs_cause_probability", ascending=False).iloc[0]
    assert first.cause in ("meter-step", "constant-load")
    well = table.iloc[0]
    assert well.needs_cause_probability < 0.2
    assert table.iloc[1].cause_turn == pd.Timestamp("2025-03-09")
    assert houses([]).dtypes.to_dict() == table.dtypes.to_dict()
    assert table.iloc[1].over_bills == answer("fast_meter").verdict.over.bills > 0


def test_low_bills_are_added_up_too() -> None:
    result = answer("estimated_read")
    under = [row for row in result.rows if row.flag == "under"]
    assert result.verdict.under.bills == len(under)
    house = reconcile.read_house(SAMPLES / "all_well")
    low = replace(house.bills[-1], kwh=100.0, amount=None, reading_start=None, reading_end=None)
    told = reconcile.reconcile(replace(house, bills=(*house.bills[:-1], low), notices=()))
    assert told.verdict.under.bills == 1
    assert told.verdict.under.kwh < 0.0
    assert told.to_dict()["verdict"]["under"]["kwh"] == told.verdict.under.kwh


def test_an_old_meter_has_an_end_and_no_beginning() -> None:
    result = answer("fast_meter")
    slow = next(cause for cause in result.causes if cause.code == "old-meter-slow")
    assert (slow.since, str(slow.until), str(slow.turn)) == (None, "2025-03-09", "2025-03-09")
    frame = result.causes_frame.set_index("code")
    assert pd.isna(frame.loc["old-meter-slow", "since"])
    assert "until March 9, 2025" in slow.text
    assert result.money is not None
    for stake in result.money.stakes:
        assert stake.kwh_limits is None or stake.kwh_limits[0] <= stake.kwh_limits[1]
        assert stake.amount_limits is None or stake.amount_limits[0] <= stake.amount_limits[1]
    disputed = result.to_dict()["money"]["disputed"]
    assert "meter-step" in disputed
    assert "old-meter-slow" not in disputed


def test_findings_have_their_sentences_in_a_frame() -> None:
    result = answer("estimated_read")
    frame = result.findings_frame
    assert frame.text.tolist() == [finding["text"] for finding in result.to_dict()["findings"]]
    assert (frame.text.str.len() > 10).all()


@pytest.mark.parametrize(
    ("odds", "says"),
    [
        ({"meterstep": 3}, "did you mean 'meter-step'?"),
        ({"zzz": 3}, "The codes are .*meter-step.*constant-load"),
        ({"none": 2}, "what the others leave"),
        ({"meter-step": "3"}, "factor above 0, and got '3'"),
        ({"meter-step": True}, "factor above 0, and got True"),
        ({"meter-step": -1}, "factor above 0"),
        (["meter-step"], "a mapping of codes to factors"),
    ],
)
def test_wrong_odds_list_the_codes(odds: object, says: str) -> None:
    house = reconcile.read_house(SAMPLES / "bills_only")
    with pytest.raises(ValueError, match=says):
        reconcile.reconcile(house, odds=odds)  # type: ignore[arg-type]


BILLS = pd.DataFrame({"start": ["2025-01-07", "2025-02-06"], "end": ["2025-02-06", "2025-03-08"], "kwh": [600, 580]})
DAYS = pd.date_range("2025-01-01", "2025-03-31", freq="D")


def test_weather_as_a_series_or_as_weather() -> None:
    series = pd.Series(np.linspace(-4.0, 12.0, len(DAYS)), index=DAYS)
    by_series = House.from_frames(BILLS, weather=series, temperature_unit="C")
    by_weather = House.from_frames(BILLS, weather=Weather.from_series(series))
    assert by_series.weather is not None
    assert by_weather.weather is not None
    assert by_series.weather.first == by_weather.weather.first
    assert np.allclose(by_series.weather.mean_c, by_weather.weather.mean_c)
    with pytest.raises(InputError, match="a Series of temperatures"):
        House.from_frames(BILLS, weather=[3.0])  # type: ignore[arg-type]


def test_one_negative_hour_is_left_out_and_named() -> None:
    hours = pd.date_range("2025-01-07", periods=24 * 60, freq="h", tz="America/Chicago")
    values = pd.Series(0.8, index=hours)
    values.iloc[500] = -0.3
    house = House.from_frames(BILLS, interval=values)
    assert isinstance(house.interval, Interval)
    assert len(house.interval.kwh) == 24 * 60 - 1
    assert house.interval.actions[0].code == "negative"
    assert house.interval.actions[0].figures["rows"] == "2025-01-27 20:00:00-06:00"
    values.iloc[300:400] = -0.3
    with pytest.raises(InputError, match="2025-01-19 12:00:00-06:00"):
        House.from_frames(BILLS, interval=values)


def test_a_series_in_watt_hours_is_asked_about_where_no_bill_tells_its_unit() -> None:
    hours = pd.date_range("2025-01-07", periods=24 * 60, freq="h", tz="America/Chicago")
    with pytest.raises(InputError, match="unit='Wh'"):
        House.from_frames(BILLS, interval=pd.Series(2900.0, index=hours))
    told = House.from_frames(BILLS, interval=pd.Series(800.0, index=hours)).interval
    assert told is not None
    assert told.kwh[0] == pytest.approx(0.8)
    assert any(one.code == "unit-bills" for one in told.assumed)


def test_a_fault_names_every_row_by_its_label() -> None:
    loads = pd.DataFrame({"load": ["Lamp", "Lamp"], "watts": [60, 60], "run_hours": [5, 5]}, index=["a", "b"])
    with pytest.raises(InputError, match=r"row b.*also stands in row a"):
        House.from_frames(BILLS, loads=loads)
