"""Frames and series go through the gate of files: the same house, the same faults, rows by their labels."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from reconcile.errors import InputError
from reconcile.house import House, Interval, Weather
from reconcile.read import read_house

BILLS = pd.DataFrame(
    {
        "From": pd.to_datetime(["2025-01-07", "2025-02-06"]),
        "To": pd.to_datetime(["2025-02-06", "2025-03-07"]),
        "Usage (kWh)": [912, 801],
        "Total": [131.20, 115.95],
        "Read type": ["A", None],
    },
    index=["jan", "feb"],
)
LOADS = pd.DataFrame({"load": ["Fridge", "Kiln"], "watts": [150.0, 60.0], "run_hours": [np.nan, 4.0]})


def test_a_house_from_frames() -> None:
    days = pd.date_range("2025-01-07", periods=60)
    weather = pd.DataFrame({"date": days, "mean": np.linspace(30.0, 50.0, 60)})
    index = pd.date_range("2025-01-07", periods=48, freq="h", tz="America/Chicago")
    house = House.from_frames(
        BILLS,
        LOADS,
        weather,
        interval=pd.Series(0.5, index=index),
        timezone="America/Chicago",
        temperature_unit="F",
        dangers=("buzzing",),
        band={"coverage": 0.9},
        tariff=[{"fixed_per_bill": "9.50", "energy": 0.1432}],
    )
    assert [(b.start, b.end, b.kwh, b.amount, b.read_type) for b in house.bills] == [
        (date(2025, 1, 7), date(2025, 2, 6), 912.0, Decimal("131.2"), "actual"),
        (date(2025, 2, 6), date(2025, 3, 7), 801.0, Decimal("115.95"), "actual"),
    ]
    assert [load.follows for load in house.loads] == ["always", "clock"]
    assert house.weather is not None
    assert house.weather.mean_c[0] == pytest.approx(-1.0 - 1 / 9, rel=1e-9)
    assert house.interval is not None
    assert (house.interval.step_seconds, house.interval.kwh.sum()) == (3600, 24.0)
    assert house.interval.starts[0] == np.datetime64("2025-01-07T06:00:00")
    assert (house.dangers, house.band.coverage) == (("buzzing",), 0.9)
    assert [str(charge.price) for charge in house.tariffs[0].charges] == ["9.50", "0.1432"]


def test_faults_name_the_frame_and_the_label_of_the_row() -> None:
    wrong = BILLS.assign(**{"Usage (kWh)": [912, -801]})
    with pytest.raises(InputError) as caught:
        House.from_frames(wrong, LOADS.assign(watts=[-1.0, 60.0]), timezome="UTC")
    places = {(fault.file, fault.row, fault.column) for fault in caught.value.faults}
    assert places == {
        ("bills frame", "feb", "Usage (kWh)"),
        ("loads frame", 0, "watts"),
        ("settings", None, "house.timezome"),
    }


def test_a_question_says_which_argument_answers_it() -> None:
    frame = pd.DataFrame({"start": ["02/03/2025"], "end": ["03/04/2025"], "kwh": [700]})
    with pytest.raises(InputError, match=r'Give date_format = "DD/MM/YYYY" or date_format = "MM/DD/YYYY"'):
        House.from_frames(frame)
    assert House.from_frames(frame, date_format="DD/MM/YYYY").bills[0].start == date(2025, 3, 2)
    assert House.from_frames(frame, date_format="MM/DD/YYYY").bills[0].start == date(2025, 2, 3)


@pytest.mark.parametrize("bills", [None, "bills.csv", [1, 2], pd.DataFrame()])
def test_what_is_no_frame_of_bills_is_refused(bills: object) -> None:
    with pytest.raises(InputError):
        House.from_frames(bills)  # type: ignore[arg-type]


def test_a_frame_reads_as_its_file_does(make_house: Callable[..., Path]) -> None:
    folder = make_house({"loads.csv": None, "weather.csv": None, "interval.csv": None, "events.csv": None})
    from_file = read_house(folder).bills
    from_frame = House.from_frames(pd.read_csv(folder / "bills.csv")).bills
    assert from_frame == from_file


def test_weather_by_its_days() -> None:
    series = pd.Series([86.0, 32.0], index=pd.to_datetime(["2025-01-09", "2025-01-07"]))
    weather = Weather.from_series(series, temperature_unit="F")
    assert (weather.first, weather.missing_days) == (date(2025, 1, 7), 1)
    np.testing.assert_allclose(weather.mean_c, [0.0, np.nan, 30.0], rtol=0, atol=1e-12)
    with pytest.raises(InputError, match="never that cold or warm"):
        Weather.from_series(series)
    with pytest.raises(InputError, match="no series"):
        Weather.from_series([1, 2])  # type: ignore[arg-type]


def test_interval_over_the_change_of_the_clock() -> None:
    index = pd.date_range("2025-03-09", periods=23, freq="h", tz="America/Chicago")
    made = Interval.from_series(pd.Series(2.0, index=index), unit="kW")
    assert np.unique(np.diff(made.starts.astype(np.int64))).tolist() == [3600]
    assert made.kwh.sum() == 46.0


@pytest.mark.parametrize(
    ("series", "text"),
    [
        (pd.Series([1.0, 2.0], index=pd.date_range("2025-01-07", periods=2, freq="h")), "of which zone"),
        (pd.Series([1.0, 2.0]), "holds no times"),
        (pd.Series([1.0, 2.0], index=pd.DatetimeIndex(["2025-01-07"] * 2, tz="UTC")), "the same time"),
        (pd.Series(["a", "b"], index=pd.date_range("2025-01-07", periods=2, freq="h", tz="UTC")), "not a number"),
        (pd.Series([1.0], index=pd.date_range("2025-01-07", periods=1, tz="UTC")), "fewer than two"),
    ],
)
def test_interval_that_is_none(series: pd.Series, text: str) -> None:
    with pytest.raises(InputError, match=text):
        Interval.from_series(series)


def test_interval_in_a_wrong_unit() -> None:
    index = pd.date_range("2025-01-07", periods=3, freq="h", tz="UTC")
    with pytest.raises(InputError, match="no unit"):
        Interval.from_series(pd.Series(1.0, index=index), unit="MJ")  # type: ignore[arg-type]


def test_days_as_whole_numbers_are_read_as_in_text() -> None:
    frame = pd.DataFrame({"start": [20230109, 20230209], "end": [20230209, 20230309], "kwh": [400, 500]})
    assert [str(bill.start) for bill in House.from_frames(frame).bills] == ["2023-01-09", "2023-02-09"]
