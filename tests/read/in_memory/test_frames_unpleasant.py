"""Frames that nobody would wish for: read for what they plainly are, or refused once and in words; never changed."""

from __future__ import annotations

import copy
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

from reconcile.errors import InputError
from reconcile.house import House

COUNT = 14
EDGES = pd.date_range("2024-01-10", periods=COUNT + 1, freq="31D")
KWH = 600.0 + 10.0 * np.arange(COUNT) % 70
BILLS = pd.DataFrame({"start": EDGES[:-1], "end": EDGES[1:], "kwh": KWH, "amount": 90.0 + np.arange(COUNT)})
DAYS = pd.date_range(EDGES[0], EDGES[-1], inclusive="left")
WARMTH = pd.Series(np.round(10.0 + 8.0 * np.sin(np.arange(len(DAYS)) / 58.0), 1), index=DAYS)
HOURS = pd.Series(0.8, index=pd.date_range("2024-01-10", periods=24 * 40, freq="h", tz="America/Chicago"))
LOADS = pd.DataFrame({"load": ["Fridge", "Lamp"], "watts": [150, 60], "run_hours": [8, 5]})
PLAIN = House.from_frames(BILLS)


def levels(frame: pd.DataFrame, columns: list[tuple[str, ...]]) -> pd.DataFrame:
    return frame.set_axis(pd.MultiIndex.from_tuples(columns), axis=1)


SAME: dict[str, Callable[[], Any]] = {
    "own missing values": BILLS.convert_dtypes,
    "category": lambda: BILLS.astype({"kwh": "category", "start": "category"}),
    "seconds": lambda: BILLS.assign(start=BILLS.start.astype("datetime64[s]"), end=BILLS.end.astype("datetime64[us]")),
    "periods": lambda: BILLS.assign(start=BILLS.start.dt.to_period("D"), end=BILLS.end.dt.to_period("D")),
    "midnights": lambda: BILLS.assign(start=BILLS.start.dt.tz_localize("UTC"), end=BILLS.end.dt.tz_localize("UTC")),
    "dates": lambda: BILLS.assign(start=BILLS.start.dt.date, end=[day.to_pydatetime() for day in BILLS.end]),
    "numpy days": lambda: BILLS.assign(start=pd.Series(list(BILLS.start.to_numpy()), dtype=object)),
    "decimals": lambda: BILLS.assign(kwh=[Decimal(str(x)) for x in KWH]),
    "fractions": lambda: BILLS.assign(kwh=[Fraction(x) for x in KWH]),
    "bytes": lambda: BILLS.assign(kwh=[str(x).encode() for x in KWH]),
    "sparse": lambda: BILLS.assign(kwh=pd.arrays.SparseArray(KWH)),
    "texts with blanks": lambda: BILLS.assign(kwh=[f" {x} " for x in KWH]),
    "blanks beside names": lambda: BILLS.rename(columns={"kwh": " kWh  ", "start": "start ", "end": "\tEnd"}),
    "two like columns": lambda: pd.concat([BILLS, BILLS.kwh], axis=1),
    "a level of nothing": lambda: levels(BILLS, [(name, "") for name in BILLS]),
    "a level of one name": lambda: levels(BILLS, [("house", name) for name in BILLS]),
    "an index": lambda: BILLS.set_index("start"),
    "an index of two": lambda: BILLS.set_index(["start", "end"]),
    "spans": lambda: BILLS[["kwh", "amount"]].set_index(pd.IntervalIndex.from_arrays(BILLS.start, BILLS.end)),
    "dicts": lambda: BILLS.to_dict("records"),
    "tuples": lambda: tuple(BILLS.itertuples(index=False)),
    "columns": lambda: BILLS.to_dict("list"),
    "arrays": lambda: {name: BILLS[name].to_numpy() for name in BILLS},
    "records": lambda: BILLS.to_records(index=False),
    "any index": lambda: BILLS.set_axis(list("abcdefghijklmn"), axis=0).iloc[::-1],
    "a generator": lambda: (row for row in BILLS.to_dict("records")),
}


@pytest.mark.parametrize("form", SAME)
def test_the_same_bills_in_another_form(form: str) -> None:
    given = SAME[form]()
    before = copy.deepcopy(given) if form != "a generator" else None
    house = House.from_frames(given)
    told = [(bill.start, bill.end, bill.kwh, float(bill.amount or 0)) for bill in house.bills]
    assert told == [(bill.start, bill.end, bill.kwh, float(bill.amount or 0)) for bill in PLAIN.bills]
    if isinstance(before, pd.DataFrame):
        pd.testing.assert_frame_equal(given, before)
    elif isinstance(before, dict | list):
        assert all(list(a) == list(b) for a, b in zip(given, before, strict=True))


def test_what_arrow_keeps() -> None:
    arrow = pytest.importorskip("pyarrow")
    own = {"start": BILLS.start.dt.date, "end": BILLS.end.dt.date, "kwh": BILLS.kwh}
    days = pd.ArrowDtype(arrow.date32())
    forms = (
        BILLS.convert_dtypes(dtype_backend="pyarrow"),
        BILLS.astype(str).astype("string[pyarrow]"),
        BILLS.assign(start=own["start"].astype(days), end=own["end"].astype(days)),
        arrow.table({name: list(values) for name, values in own.items()}),
    )
    for form in forms:
        assert [(b.start, b.end, b.kwh) for b in House.from_frames(form).bills] == [
            (b.start, b.end, b.kwh) for b in PLAIN.bills
        ]
    times = HOURS.index.astype(pd.ArrowDtype(arrow.timestamp("ns", tz="America/Chicago")))
    moved = pd.Series(HOURS.to_numpy(), index=times).astype("float64[pyarrow]")
    assert House.from_frames(BILLS, interval=moved).interval == House.from_frames(BILLS, interval=HOURS).interval


WRONG: dict[str, tuple[Callable[[], Any], str]] = {
    "nothing": (lambda: None, "there are no bills"),
    "a path": (lambda: Path("bills.csv"), "this is a path"),
    "text": (lambda: "bills.csv", "reconcile.read_house reads files"),
    "bytes": (lambda: b"bills", "this is a path"),
    "a number": (lambda: 3, "this is no frame"),
    "a series": (lambda: BILLS.kwh, "this is no frame"),
    "an array": (BILLS.to_numpy, "this is no frame"),
    "an empty list": (list, "this is no frame"),
    "lists": (BILLS.to_numpy().tolist, "this is no frame"),
    "columns of two lengths": (lambda: {"start": [1, 2], "end": [3]}, "not of one length"),
    "no rows": (lambda: BILLS.iloc[:0], "a header but no bill"),
    "ten thousand rows": (
        lambda: pd.DataFrame({"start": pd.date_range("1990-01-01", periods=10_000), "days": 1, "kwh": 20.0}),
        "more than 1500 bills",
    ),
    "missing numbers": (
        lambda: BILLS.assign(kwh=BILLS.kwh.astype("Int64").mask(BILLS.index % 2 == 0)),
        "column kwh",
    ),
    "infinite": (lambda: BILLS.assign(kwh=np.inf), "not a finite number"),
    "infinite decimals": (lambda: BILLS.assign(kwh=[Decimal("Infinity")] * COUNT), "not a finite number"),
    "signaling": (lambda: BILLS.assign(kwh=[Decimal("sNaN")] * COUNT), "nothing is written here"),
    "huge": (lambda: BILLS.assign(kwh=1e300), "could not carry that"),
    "huge whole numbers": (lambda: BILLS.assign(kwh=[10**400] * COUNT), "not a finite number"),
    "truths": (lambda: BILLS.assign(kwh=True), "not a number"),
    "complex": (lambda: BILLS.assign(kwh=BILLS.kwh + 0j), "not a number"),
    "durations": (lambda: BILLS.assign(kwh=pd.to_timedelta(KWH, unit="h")), "not a number"),
    "lists in cells": (lambda: BILLS.assign(kwh=[[600]] * COUNT), "not a number"),
    "arrays in cells": (lambda: BILLS.assign(kwh=[np.array([1, 2])] * COUNT), "not a number"),
    "frames in cells": (lambda: BILLS.assign(kwh=[BILLS] * COUNT), "where a number is wanted"),
    "the year 1": (lambda: BILLS.assign(start=[date(1, 1, 1)] * COUNT), "the year 1 cannot be right"),
    "the end of time": (lambda: BILLS.assign(end=pd.Timestamp.max), "the year 2262"),
    "two unlike columns": (lambda: pd.concat([BILLS, BILLS.amount + 1], axis=1), "stands twice"),
    "numbers for names": (lambda: BILLS.set_axis(range(4), axis=1), "the column kwh is missing"),
    "two levels": (
        lambda: levels(BILLS, [("when", "start"), ("when", "end"), ("what", "kwh"), ("what", "amount")]),
        "names on several levels",
    ),
}


@pytest.mark.parametrize("form", WRONG)
def test_what_no_bills_can_be_made_of_is_told_in_few_words(form: str) -> None:
    make, says = WRONG[form]
    with pytest.raises(InputError) as caught:
        House.from_frames(make())
    assert says in str(caught.value)
    assert len(caught.value.faults) <= 2
    assert all(fault.file == "bills frame" for fault in caught.value.faults)


def test_one_missing_number_is_a_gap_that_is_told() -> None:
    house = House.from_frames(BILLS.assign(kwh=BILLS.kwh.astype("Int64").mask(BILLS.index == 4)))
    assert len(house.bills) == len(BILLS) - 1
    assert any(
        f"({BILLS.start[4]:%Y-%m-%d} to {BILLS.end[4]:%Y-%m-%d}), which has no kWh: its time is a gap" in notice
        for notice in house.notices
    )


def test_months_in_the_index() -> None:
    months = pd.DataFrame({"kwh": KWH}, index=pd.period_range("2024-01", periods=COUNT, freq="M"))
    house = House.from_frames(months)
    assert [bill.start for bill in house.bills] == [month.start_time.date() for month in months.index]


def test_an_index_of_days_without_a_name() -> None:
    house = House.from_frames(BILLS.set_axis(pd.DatetimeIndex(EDGES[:-1], name=None), axis=0))
    assert "Bills frame, not read: its index of days, which has no name." in house.notices
    two = pd.DataFrame({"tmin": WARMTH - 5.0, "tmax": WARMTH + 5.0})
    for given in (two, two.rename_axis("date").reset_index(), WARMTH, WARMTH.to_dict(), WARMTH.astype("Float64")):
        weather = House.from_frames(BILLS, weather=given, temperature_unit="C").weather
        assert weather is not None
        np.testing.assert_allclose(weather.mean_c, WARMTH.to_numpy(), rtol=0, atol=1e-9)
    events = pd.DataFrame({"kind": pd.Categorical(["guests"])}, index=[EDGES[2]])
    assert (
        House.from_frames(BILLS, events=events).events
        == House.from_frames(BILLS, events={"date": EDGES[2], "kind": "guests"}).events
    )


HOURLY: dict[str, Callable[[], Any]] = {
    "objects": lambda: pd.Series(HOURS.to_numpy(), index=HOURS.index.astype(object)),
    "decimals": lambda: HOURS.map(lambda x: Decimal(str(x))),
    "a column twice": lambda: HOURS.to_frame("kwh").assign(time=HOURS.index).reset_index(drop=True),
    "dicts": lambda: [{"time": time, "kwh": value} for time, value in HOURS.items()],
    "columns": lambda: {"time": list(HOURS.index), "kwh": HOURS.to_numpy()},
}


@pytest.mark.parametrize("form", HOURLY)
def test_the_same_hours_in_another_form(form: str) -> None:
    assert (
        House.from_frames(BILLS, interval=HOURLY[form]()).interval == House.from_frames(BILLS, interval=HOURS).interval
    )


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (HOURS.iloc[:0], "fewer than two readings"),
        (HOURS.iloc[:1], "fewer than two readings"),
        (HOURS.to_numpy(), "this is no series"),
        (pd.DataFrame(index=HOURS.index), "there is no column of values"),
        (pd.concat([HOURS.rename("kwh")] * 2, axis=1), "more than one column of values"),
        (HOURS * 1e30, "could not carry that"),
        (HOURS > 3, "not a number"),
        (Path("interval.csv"), "this is no series"),
    ],
    ids=lambda value: value if isinstance(value, str) else type(value).__name__,
)
def test_what_no_hours_can_be_made_of(given: Any, says: str) -> None:
    with pytest.raises(InputError, match=says):
        House.from_frames(BILLS, interval=given)


def test_settings_that_are_none() -> None:
    inside: dict[str, Any] = {}
    inside["self"] = inside
    wrong: list[tuple[dict[str, Any], str]] = [
        ({"band": [1, 2]}, r"Give a dict: band=\{\.\.\.\}"),
        ({"meter": "M1"}, r"Give a list of dicts: meter=\[\{\.\.\.\}\]"),
        ({"tariff": pd.DataFrame({"energy": [0.15]})}, r"Give a list of dicts: tariff="),
        ({"band": inside}, "a setting holds itself"),
        ({"dangers": ("fire", 3)}, "the key fire is not known"),
        ({"dangers": 3}, "the key 3 is not known"),
        ({"timezone": 3}, "this time zone is not known"),
    ]
    for settings, says in wrong:
        with pytest.raises(InputError, match=says):
            House.from_frames(BILLS, **settings)
    with pytest.raises(InputError) as caught:
        House.from_frames(
            BILLS.assign(kwh=-5), LOADS.assign(watts=-5), [1, 2], HOURS * np.inf, occupants=-3, locale="xx_YY"
        )
    assert {fault.file for fault in caught.value.faults} >= {
        "settings", "bills frame", "loads frame", "weather frame", "interval series"
    }  # fmt: skip


def test_signs_of_danger_as_a_table() -> None:
    assert House.from_frames(BILLS, dangers={"shock": False, "buzzing": True}).dangers == ("buzzing",)
    assert House.from_frames(BILLS, dangers={"buzzing"}).dangers == ("buzzing",)
