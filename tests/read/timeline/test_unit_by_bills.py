"""Values whose unit no file names, or names wrongly: the bills tell it, and the answer says so."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest

from reconcile.house import Interval
from reconcile.read import read_house

MakeHouse = Callable[..., Path]
FIRST, DAYS = datetime(2025, 1, 7), 59
BILLS = (date(2025, 1, 7), date(2025, 2, 6), date(2025, 3, 7))


def energies(step_minutes: int) -> np.ndarray:
    """Energy of each interval [kWh]."""
    count = DAYS * 1440 // step_minutes
    return np.round(np.random.default_rng(3).gamma(2.0, 0.4, count) * step_minutes / 60.0, 3) + 0.002


def read(
    make_house: MakeHouse, header: str, values: np.ndarray, step: int, *, used: np.ndarray, settings: str = ""
) -> Interval:
    per_day = 1440 // step
    rows = [f"{FIRST + timedelta(minutes=step * i):%Y-%m-%d %H:%M},{value:.6g}" for i, value in enumerate(values)]
    bills = [
        f"{a},{b},{used[(a - BILLS[0]).days * per_day : (b - BILLS[0]).days * per_day].sum():.0f}"
        for a, b in pairwise(BILLS)
    ]
    house = f"[house]\ntimezone = 'America/Chicago'\n[interval]\n{settings}"
    files = {"bills.csv": "\n".join(["start,end,kwh", *bills]), "interval.csv": "\n".join([header, *rows])}
    interval = read_house(make_house({"house.toml": house, **files})).interval
    assert interval is not None
    return interval


@pytest.mark.parametrize(
    ("header", "step", "factor", "code"),
    [
        ("time,Demand", 15, 4.0, "unit"),
        ("time,Value", 15, 4.0, "unit-bills"),
        ("time,Value", 30, 2.0, "unit-bills"),
        ("time,Usage", 60, 1000.0, "unit-bills"),
        ("time,value", 5, 12_000.0, "unit-bills"),
        ("time,Demand", 15, 4000.0, "unit-bills"),
        ("time,kWh", 60, 1000.0, "unit-other"),
        ("time,Wh", 60, 1.0, "unit-other"),
        ("time,kW", 15, 4000.0, "unit-other"),
        ("time,kWh", 60, 1.0, None),
    ],
)
def test_values_are_taken_in_the_unit_that_adds_up_to_the_bills(
    make_house: MakeHouse, header: str, step: int, factor: float, code: str | None
) -> None:
    used = energies(step)
    interval = read(make_house, header, used * factor, step, used=used)
    np.testing.assert_allclose(interval.kwh, used, rtol=1e-5, atol=1e-9)
    units = [one.code for one in interval.assumed if one.code.startswith("unit")]
    assert units == ([] if code is None else [code])


@pytest.mark.parametrize("ratio", [0.25, 0.5, 1.3, 4.0])
def test_a_unit_that_is_named_stands_where_bills_are_off_by_less_than_a_prefix(
    make_house: MakeHouse, ratio: float
) -> None:
    used = energies(15)
    interval = read(make_house, "time,kWh", used, 15, used=used * ratio)
    np.testing.assert_allclose(interval.kwh, used, rtol=1e-5, atol=1e-9)


def test_what_the_household_sets_is_not_asked_of_the_bills(make_house: MakeHouse) -> None:
    used = energies(15)
    interval = read(make_house, "time,Value", used, 15, used=used / 4.0, settings="unit = 'kWh'")
    np.testing.assert_allclose(interval.kwh, used, rtol=1e-5, atol=1e-9)


def test_a_running_register_is_not_taken_for_another_unit(make_house: MakeHouse) -> None:
    used = energies(60)
    interval = read(make_house, "time,Value", 0.001 * np.cumsum(used) + 5.0, 60, used=used)
    assert not any(one.code in ("unit-bills", "unit-other") for one in interval.assumed)
