"""Temperatures whose unit nobody wrote: told by what they would be, else one question; never wrong in silence."""

from __future__ import annotations

import math
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from reconcile.errors import InputError
from reconcile.house import House, Weather
from reconcile.read import read_house

from ..wrappings.test_beside import book

YEAR_F = (49, 38, 30, 33, 45, 55, 58, 64, 71, 74, 68, 57)
COAST_F = (50, 51, 52, 54, 55, 58, 60, 60, 60, 58, 54, 51)
YEAR_C = (-6, -4, 2, 9, 14, 20, 23, 22, 17, 11, 4, -2)


def bills(temperatures: tuple[float, ...], first: int = 1) -> list[list[object]]:
    rows: list[list[object]] = [["end", "kwh", "average temperature"]]
    for n, value in enumerate(temperatures):
        month = (first + n - 1) % 12 + 1
        rows.append([date(2025 + (first + n - 1) // 12, month, 12), 600 + 7 * n, value])
    return rows


def write(folder: Path, rows: list[list[object]], toml: str = "") -> Path:
    (folder / "bills.csv").write_text("\n".join(",".join(map(str, row)) for row in rows))
    (folder / "house.toml").write_text(toml or "[house]\n")
    return folder


@pytest.mark.parametrize(
    ("temperatures", "unit"), [(YEAR_F, "F"), (COAST_F, "F"), (YEAR_C, "C"), ((20, 24, 31, 33, 30, 23), "C?")]
)
def test_the_unit_of_printed_averages(tmp_path: Path, temperatures: tuple[float, ...], unit: str) -> None:
    folder = write(tmp_path, bills(temperatures))
    if unit == "C?":
        with pytest.raises(InputError, match=r"33 may be degrees F \(1 C\) or degrees C \(91 F\).*temperature_unit"):
            read_house(folder)
        write(tmp_path, bills(temperatures), '[house]\ntemperature_unit = "C"\n')
        assert read_house(folder).temperature_unit == "C"
        return
    house = read_house(folder)
    assert house.temperature_unit == unit
    read = [bill.mean_temperature_c for bill in house.bills]
    assert read == pytest.approx([t if unit == "C" else (t - 32) / 1.8 for t in temperatures])
    assert any("No temperature unit is set" in notice for notice in house.notices)


def test_the_season_tells_where_the_place_is_known(tmp_path: Path) -> None:
    """Three winter bills of 30 to 38: no town of the north has them in Celsius."""
    folder = write(tmp_path, bills((30, 33, 38)), '[house]\ntimezone = "America/New_York"\n')
    assert read_house(folder).temperature_unit == "F"


def test_a_year_as_warm_as_no_place_is_refused_in_the_words_of_the_form(tmp_path: Path) -> None:
    keys: list[list[object]] = [["house.temperature_unit", "C"]]
    with pytest.raises(InputError) as caught:
        read_house(book(tmp_path / "house.xlsx", bills=bills(YEAR_F), house=keys))
    assert all("in the row house.temperature_unit, write F" in fault.remedy for fault in caught.value.faults)
    write(tmp_path, bills(tuple((t - 32) / 1.8 for t in COAST_F)), '[house]\ntemperature_unit = "F"\n')
    (tmp_path / "house.xlsx").unlink()
    with pytest.raises(InputError, match=r"in degrees F no place has"):
        read_house(tmp_path)


def test_in_python_the_remedy_is_an_argument() -> None:
    frame = pd.DataFrame(bills((20, 24, 31, 33, 30, 23))[1:], columns=bills(())[0])
    with pytest.raises(InputError, match=r'Give temperature_unit="F" \(or "C"\)'):
        House.from_frames(frame)


@settings(deadline=None, max_examples=30)
@given(
    mean=st.floats(-2.0, 26.0),
    swing=st.floats(4.0, 15.0),
    unit=st.sampled_from("CF"),
    first=st.integers(1, 12),
    many=st.integers(3, 14),
)
def test_no_place_is_read_in_the_other_unit(mean: float, swing: float, unit: str, first: int, many: int) -> None:
    assume(mean + swing >= 12.0)  # the warmest month of nearly every town
    months = [(first + n - 1) % 12 + 1 for n in range(many)]
    celsius = [mean - swing * math.cos(2 * math.pi * (month - 1) / 12) for month in months]
    shown = tuple(round(c if unit == "C" else c * 1.8 + 32) for c in celsius)
    rows = bills(shown, first)
    asked = ""
    try:
        house = House.from_frames(pd.DataFrame(rows[1:], columns=rows[0]), timezone="America/Denver")
    except InputError as error:
        asked = str(error)
    if asked:
        assert "no unit of temperature" in asked
        return
    assert house.temperature_unit == unit or len(set(shown)) == 1


def test_daily_weather_without_a_unit_is_told_too() -> None:
    days = pd.date_range("2025-01-01", periods=365, freq="D")
    fahrenheit = 52.0 - 25.0 * np.cos(2 * np.pi * np.arange(365) / 365)
    frame = pd.DataFrame([[date(2025, 3, 7), date(2025, 4, 6), 500]], columns=["start", "end", "kwh"])
    house = House.from_frames(frame, weather=pd.DataFrame({"date": days, "mean": fahrenheit}))
    assert isinstance(house.weather, Weather)
    assert house.weather.mean_c[0] == pytest.approx((27.0 - 32.0) / 1.8)


def test_a_desert_in_celsius_is_no_place_in_fahrenheit(tmp_path: Path) -> None:
    folder = write(tmp_path, [["start", "end", "kwh"], ["2025-01-12", "2026-01-12", 9000]])
    days = [date(2025, 1, 1) + timedelta(days=n) for n in range(400)]
    lines = [
        f"{day},{mean - 7:.1f},{mean + 7:.1f}"
        for day in days
        if (mean := 22 - 13 * math.cos(2 * math.pi * (day.timetuple().tm_yday - 15) / 365.25) + day.day % 7)
    ]
    (folder / "weather.csv").write_text("date,tmin,tmax\n" + "\n".join(lines))
    assert read_house(folder).temperature_unit == "C"
