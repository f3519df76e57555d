"""Frames as databases, notebooks and other libraries give them: taken for what they plainly are, or one clear fault."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

import reconcile
from reconcile.errors import InputError
from reconcile.house import House, Interval, Weather
from reconcile.read import read_house

DAYS = pd.to_datetime(["2025-01-11", "2025-02-12", "2025-03-12"])
BILLS = pd.DataFrame({"start": DAYS[:-1], "end": DAYS[1:], "kwh": [600.0, 580.0]})
ROME = "Europe/Rome"
UNITS: Any = pint.UnitRegistry()


def hours(days: int = 30, values: float = 0.8, zone: str = "America/Chicago") -> pd.Series:
    index = pd.date_range("2025-01-11", periods=24 * days, freq="h", tz=zone)
    return pd.Series(values + 0.3 * np.sin(np.arange(len(index)) / 3.0), index=index)


def counted(interval: Interval | None) -> dict[str, int]:
    assert interval is not None
    return {action.code: action.count for action in interval.actions}


@pytest.mark.parametrize("three", [np.int64(3), np.int32(3), np.float32(3), np.uint8(3), "3", 3])
def test_settings_take_the_numbers_of_numpy(three: Any) -> None:
    house = House.from_frames(
        BILLS,
        occupants=three,
        meter=[{"digits": three + 2 if three != "3" else "5"}],
        band={"coverage": np.float32(0.9)},
    )
    assert (house.occupants, house.meters[0].digits, house.band.coverage) == (3.0, 5, 0.9)


def test_a_price_in_single_precision_is_the_price_that_was_meant() -> None:
    house = House.from_frames(BILLS, tariff=[{"energy": np.float32(0.15), "fixed_per_bill": np.float64(9.5)}])
    assert [str(charge.price) for charge in house.tariffs[0].charges] == ["9.5", "0.15"]


@pytest.mark.parametrize("nothing", [None, float("nan"), np.nan, np.float32("nan"), pd.NA, pd.NaT])
def test_a_missing_value_is_a_key_that_is_not_given(nothing: Any) -> None:
    keys = ("occupants", "floor_area", "heating_fuel", "timezone", "name", "generation", "service", "date_format")
    house = House.from_frames(
        BILLS,
        meter=[{"digits": nothing, "form": nothing}],
        tariff=nothing,
        band=nothing,
        **dict.fromkeys(keys, nothing),
    )
    assert house == House.from_frames(BILLS)
    assert house.heating_fuel is None


@pytest.mark.parametrize("held", ["UTC", "Asia/Tokyo"])
def test_midnights_of_the_house_held_in_another_zone_are_its_days(held: str) -> None:
    moved = BILLS.assign(**{c: BILLS[c].dt.tz_localize(ROME).dt.tz_convert(held) for c in ("start", "end")})
    days = pd.date_range("2025-01-11", "2025-03-11", tz=ROME).tz_convert(held)
    house = House.from_frames(moved, weather=pd.Series(np.arange(60.0) / 10, index=days), timezone=ROME)
    assert [(bill.start, bill.end) for bill in house.bills] == [
        (date(2025, 1, 11), date(2025, 2, 12)),
        (date(2025, 2, 12), date(2025, 3, 12)),
    ]
    assert house.weather is not None
    assert (house.weather.first, house.weather.last) == (date(2025, 1, 11), date(2025, 3, 11))
    told = [notice for notice in house.notices if f"its times are of {held}; the clock of {ROME} was taken" in notice]
    assert len(told) == 3


@given(
    home=st.sampled_from(["Europe/Rome", "America/Chicago", "Asia/Kolkata", "Pacific/Auckland", "America/Santiago"]),
    held=st.sampled_from(["UTC", "Asia/Tokyo", "America/New_York", "Europe/Rome", "Etc/GMT+12"]),
    first=st.dates(date(2023, 1, 1), date(2025, 6, 1)),
    hour=st.integers(0, 23),
)
def test_a_time_of_the_house_is_its_day_in_whatever_zone_it_is_held(
    home: str, held: str, first: date, hour: int
) -> None:
    own = pd.date_range(first, periods=3, freq="31D") + pd.Timedelta(hours=hour)
    local = own.tz_localize(home, nonexistent="shift_forward", ambiguous=True)
    there = local.tz_convert(held)
    frame = pd.DataFrame({"start": there[:-1], "end": there[1:], "kwh": [600.0, 580.0]})
    if all(there.hour == 0) and not all(local.hour == 0):
        return  # midnights there are days that somebody wrote: the test below
    house = House.from_frames(frame, timezone=home)
    assert [bill.start for bill in house.bills] == [day.date() for day in own[:-1]]


def test_days_written_as_midnights_of_utc_stay_those_days() -> None:
    moved = BILLS.assign(**{c: BILLS[c].dt.tz_localize("UTC") for c in ("start", "end")})
    days = pd.Series(1.0, index=pd.date_range("2025-01-11", "2025-03-11", tz="UTC"))
    assert House.from_frames(moved).bills == House.from_frames(BILLS).bills
    assert Weather.from_series(days).first == date(2025, 1, 11)
    house = House.from_frames(moved, timezone="America/Chicago")
    assert [bill.start for bill in house.bills] == [date(2025, 1, 11), date(2025, 2, 12)]
    assert any("midnights of UTC; they were taken as days" in notice for notice in house.notices)


def test_without_the_house_s_clock_times_are_read_on_their_own() -> None:
    noons = {c: (BILLS[c] + pd.Timedelta(hours=12)).dt.tz_localize(ROME) for c in ("start", "end")}
    house = House.from_frames(BILLS.assign(**noons))
    assert [bill.start for bill in house.bills] == [date(2025, 1, 11), date(2025, 2, 12)]
    assert any(f"its times are of {ROME}; the days of that clock were taken" in notice for notice in house.notices)


def test_times_of_utc_without_the_house_s_clock_are_asked_about() -> None:
    moved = BILLS.assign(**{c: BILLS[c].dt.tz_localize(ROME).dt.tz_convert("UTC") for c in ("start", "end")})
    with pytest.raises(InputError, match='Give timezone="America/Chicago"') as caught:
        House.from_frames(moved)
    assert {fault.column for fault in caught.value.faults} == {"start", "end"}
    days = pd.date_range("2025-01-11", "2025-03-11", tz=ROME).tz_convert("UTC")
    with pytest.raises(InputError, match="tz_convert"):
        Weather.from_series(pd.Series(1.0, index=days))


def test_hours_without_a_value_are_counted_as_in_a_file(tmp_path: Path) -> None:
    series = hours()
    series.iloc[300:600] = np.nan
    series = pd.concat([series.iloc[:100], series.iloc[110:]])
    written = series.rename("kwh").rename_axis("time").reset_index()
    written["time"] = written["time"].dt.strftime("%Y-%m-%dT%H:%M:%S%z")
    written.to_csv(tmp_path / "interval.csv", index=False)
    BILLS.to_csv(tmp_path / "bills.csv", index=False)
    from_file = read_house(tmp_path).interval
    from_frame = House.from_frames(BILLS, interval=series).interval
    assert counted(from_frame) == counted(from_file) == {"blank": 300, "gap": 10}
    assert counted(Interval.from_series(series)) == {"blank": 300, "gap": 10}
    assert from_frame is not None
    assert from_file is not None
    np.testing.assert_allclose(from_frame.kwh, from_file.kwh, rtol=1e-12, atol=0)
    assert (from_frame.starts == from_file.starts).all()
    told = reconcile.reconcile(House.from_frames(BILLS, interval=series)).to_dict()["interval"]["actions"]
    assert any(action["text"].startswith("300 intervals without a value") for action in told)


def test_hours_in_any_order_are_put_in_order_and_told() -> None:
    series = hours()
    shuffled = series.sample(frac=1.0, random_state=5)
    house = House.from_frames(BILLS, interval=shuffled)
    assert house.interval == House.from_frames(BILLS, interval=series).interval
    assert any("put in order" in notice for notice in house.notices)
    assert counted(House.from_frames(BILLS, interval=pd.concat([series, series.iloc[3:5]])).interval) == {"repeat": 2}


@pytest.mark.parametrize("shape", ["column", "time column", "objects"])
def test_hours_in_a_frame(shape: str) -> None:
    series = hours()
    frame = series.to_frame("usage")
    given: Any = {
        "column": frame,
        "time column": frame.rename_axis("when").reset_index(),
        "objects": frame.astype(object),
    }[shape]
    assert House.from_frames(BILLS, interval=given).interval == House.from_frames(BILLS, interval=series).interval


def test_what_was_drawn_and_what_was_sent_back() -> None:
    series = hours()
    frame = pd.DataFrame({"delivered kWh": series, "received kWh": 0.1 * series})
    read = House.from_frames(BILLS, interval=frame, generation=True).interval
    assert read is not None
    assert read.received_kwh is not None
    np.testing.assert_allclose(read.received_kwh, 0.1 * read.kwh, rtol=1e-12, atol=0)
    with pytest.raises(InputError, match=r"more than one column of values \(a, b\)"):
        House.from_frames(BILLS, interval=pd.DataFrame({"a": series, "b": series}))


def test_a_wrong_hour_is_told_once_by_its_time() -> None:
    series = hours()
    series.iloc[5] = np.inf
    with pytest.raises(InputError) as caught:
        House.from_frames(BILLS, interval=series)
    assert [(fault.row, fault.problem) for fault in caught.value.faults] == [
        ("2025-01-11 05:00:00-06:00", "this is not a finite number")
    ]
    with pytest.raises(InputError, match="this is not a number"):
        House.from_frames(BILLS, interval=hours().astype(object).where(lambda x: x.index.hour != 5, "many"))


def test_a_frame_without_columns_is_told_in_words_of_frames() -> None:
    with pytest.raises(InputError) as caught:
        House.from_frames(pd.DataFrame())
    assert "line above" not in str(caught.value)
    assert "the column" in str(caught.value)
    with pytest.raises(InputError) as caught:
        House.from_frames(pd.DataFrame([[1, 2, 3]]))
    assert "line above" not in str(caught.value)


def test_a_day_of_a_series_is_told_by_its_label() -> None:
    days = pd.date_range("2025-01-11", "2025-03-11")
    series = pd.Series(1.0, index=days)
    series.iloc[7] = 400.0
    with pytest.raises(InputError) as caught:
        House.from_frames(BILLS, weather=series, temperature_unit="C")
    assert [fault.row for fault in caught.value.faults] == ["2025-01-18"]


def test_hourly_temperatures_give_the_mean_of_the_day() -> None:
    index = pd.date_range("2025-01-11", periods=24 * 60, freq="h", tz=ROME)
    values = 5.0 * np.sin(np.arange(len(index)) * 2 * np.pi / 24) + np.repeat(np.linspace(-4, 12, 60), 24)
    series = pd.Series(values, index=index)
    for data in (series, series.to_frame("temperature"), series.rename("mean").rename_axis("date").reset_index()):
        house = House.from_frames(BILLS, weather=data, temperature_unit="C", timezone=ROME)
        assert house.weather is not None
        np.testing.assert_allclose(house.weather.mean_c, np.linspace(-4, 12, 60), rtol=0, atol=1e-9)
        assert any("24 temperatures a day were averaged by days." in notice for notice in house.notices)
    short = pd.concat([series.iloc[:48], series.iloc[60:]])
    house = House.from_frames(BILLS, weather=short, temperature_unit="C", timezone=ROME)
    assert house.weather is not None
    assert np.flatnonzero(np.isnan(house.weather.mean_c)).tolist() == [2]
    assert any("1 with fewer than three quarters of them was left out" in notice for notice in house.notices)


def test_hourly_temperatures_of_a_file(tmp_path: Path) -> None:
    index = pd.date_range("2025-01-11", periods=24 * 60, freq="h")
    BILLS.to_csv(tmp_path / "bills.csv", index=False)
    frame = pd.DataFrame({"date": index.strftime("%Y-%m-%d %H:%M"), "mean": np.tile(np.arange(24.0), 60)})
    frame.to_csv(tmp_path / "weather.csv", index=False)
    (tmp_path / "house.toml").write_text('[house]\ntemperature_unit = "C"\n')
    weather = read_house(tmp_path).weather
    assert weather is not None
    np.testing.assert_allclose(weather.mean_c, 11.5, rtol=0, atol=1e-12)


def test_a_quantity_of_pint_is_its_number_and_unit() -> None:
    loads = pd.DataFrame(
        {
            "load": ["Kiln", "Pump"],
            "watts": [1.5 * UNITS.kW, 60 * UNITS.W],
            "run_hours": [3 * UNITS.hour / UNITS.week, 2],
        }
    )
    house = House.from_frames(BILLS, loads, floor_area=150 * UNITS.m**2, meter=[{"disk_wh": 7.2 * UNITS.watt_hour}])
    assert [load.watts for load in house.loads] == [1500.0, 60.0]
    assert house.loads[0].run_hours == pytest.approx(3 / 7, rel=1e-12)
    assert (house.floor_area_m2, house.meters[0].disk_wh) == (150.0, 7.2)
    with pytest.raises(InputError, match="kg"):
        House.from_frames(BILLS, floor_area=150 * UNITS.kg)


def test_rows_as_dicts() -> None:
    events = [{"date": "2025-01-20", "kind": "guests"}, {"date": date(2025, 2, 20), "kind": "away", "until": None}]
    house = House.from_frames(BILLS.to_dict("records"), events=events)  # type: ignore[arg-type]
    assert [event.kind for event in house.events] == ["guests", "away"]
    assert house.bills == House.from_frames(BILLS).bills
    with pytest.raises(InputError, match="a DataFrame or a list of dicts"):
        House.from_frames(BILLS, events=3)


def test_nothing_that_was_given_is_changed() -> None:
    series = hours()
    days = pd.Series(np.linspace(-4.0, 12.0, 60), index=pd.date_range("2025-01-11", periods=60))
    before = (BILLS.copy(), series.copy(), days.copy())
    House.from_frames(BILLS, weather=days, interval=series.sample(frac=1.0, random_state=1))
    for was, now in zip(before, (BILLS, series, days), strict=True):
        assert was.equals(now)


@pytest.mark.parametrize("form", [int, float, str, "Int64"])
def test_days_as_numbers_of_eight_figures(form: Any, tmp_path: Path) -> None:
    moved = BILLS.assign(**{c: BILLS[c].dt.strftime("%Y%m%d").astype(int).astype(form) for c in ("start", "end")})
    house = House.from_frames(moved)
    assert house.bills == House.from_frames(BILLS).bills
    moved.to_csv(tmp_path / "bills.csv", index=False)
    assert [bill.start for bill in read_house(tmp_path).bills] == [bill.start for bill in house.bills]
    wrong = moved.assign(end=[20250230, 20250312])
    with pytest.raises(InputError, match="there is no such day"):
        House.from_frames(wrong)


def test_a_column_of_wrong_dates_is_one_fault() -> None:
    days = pd.date_range("2023-01-09", periods=41, freq="30D")
    many = pd.DataFrame({"start": days[:-1].astype("int64"), "end": days[1:].astype("int64"), "kwh": 600.0})
    with pytest.raises(InputError) as caught:
        House.from_frames(many)
    assert [(fault.column, fault.problem) for fault in caught.value.faults] == [
        ("start", "this is not a date"),
        ("end", "this is not a date"),
    ]


@pytest.mark.parametrize("clock", ["09:30", "23:59"])
def test_times_of_day_beside_the_dates_of_bills_are_told(clock: str, tmp_path: Path) -> None:
    def told(house: House) -> bool:
        return any("read as: days, without the times of day beside them" in notice for notice in house.notices)

    moved = BILLS.assign(**{c: BILLS[c] + pd.Timedelta(f"{clock}:00") for c in ("start", "end")})
    house = House.from_frames(moved)
    assert [(bill.start, bill.end) for bill in house.bills] == [
        (bill.start, bill.end) for bill in House.from_frames(BILLS).bills
    ]
    assert told(house)
    for name, form in (("spaced", "%Y-%m-%d %H:%M"), ("iso", "%Y-%m-%dT%H:%M:%S-06:00")):
        (tmp_path / name).mkdir()
        moved.to_csv(tmp_path / name / "bills.csv", index=False, date_format=form)
        assert told(read_house(tmp_path / name))
    assert not told(House.from_frames(BILLS))


def test_a_label_that_several_rows_have_says_which_row() -> None:
    wrong = BILLS.assign(kwh=[600.0, -50.0])
    with pytest.raises(InputError) as caught:
        House.from_frames(wrong.set_axis([3, 3], axis=0))
    assert [fault.row for fault in caught.value.faults] == ["3 (number 2 from the top)"]
    with pytest.raises(InputError) as caught:
        House.from_frames(wrong.set_index([pd.Index(["x", "x"]), pd.Index([4, 5])]))
    assert [fault.row for fault in caught.value.faults] == ["x, 5"]
