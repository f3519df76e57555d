"""Small invented houses for the weigher's tests."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np

from reconcile.house import Band, Bill, House, Load, Weather

LOADS = (
    Load("refrigerator", kwh_per_year=550.0, follows="always", source="label"),
    Load("lights", watts=300.0, run_hours=5.0),
    Load("water heater", watts=4500.0, run_hours=2.2, source="measured"),
    Load("television", watts=120.0, run_hours=4.0, standby_watts=2.0),
    Load("heat pump", watts=3000.0, follows="heating", hours_per_degree_day=0.45, balance_c=16.0, source="measured"),
)


def sky(first: date, days: int) -> Weather:
    """A smooth year with a little weather in it."""
    day = np.arange(days)
    mean_c = 11.0 - 12.0 * np.cos(2 * np.pi * (day + first.timetuple().tm_yday) / 365.25) + 2.0 * np.sin(day * 1.7)
    return Weather(first, mean_c)


def expected(house: House) -> np.ndarray:
    """Expected kWh by a plain loop over days: no code of the package but the house's own values."""
    out = []
    for bill in house.bills:
        total = 0.0
        for offset in range(bill.days):
            day = bill.start + timedelta(days=offset)
            assert house.weather is not None
            cold = max(16.0 - float(house.weather.between(day, day + timedelta(days=1))[0]), 0.0)
            for load in house.loads:
                if load.kwh_per_year is not None:
                    total += load.kwh_per_year / 365.0
                elif load.follows == "heating":
                    total += load.watts * min(load.hours_per_degree_day * cold, 24.0) / 1000.0
                else:
                    total += (load.watts * load.run_hours + load.standby_watts * (24.0 - load.run_hours)) / 1000.0
        out.append(total)
    return np.array(out)


def house(months: int = 18, *, rest: float = 3.0, seed: int = 0, factor: np.ndarray | None = None) -> House:
    """A house whose bills are what its list says, with a few per cent of habit, times ``factor`` a period."""
    rng = np.random.default_rng(seed)
    start = date(2024, 1, 5)
    lengths = rng.integers(29, 33, months)
    edges = [start + timedelta(days=int(x)) for x in np.concatenate([[0], np.cumsum(lengths)])]
    weather = sky(date(2023, 12, 1), 31 * months + 60)
    bare = House(
        "Test house",
        tuple(Bill(a, b, kwh=0.0) for a, b in pairwise(edges)),
        LOADS,
        weather=weather,
        band=Band(unlisted_kwh_per_day=rest, unlisted_within_percent=60.0),
    )
    kwh = (expected(bare) + rest * lengths) * (1.0 + 0.02 * rng.standard_normal(months))
    if factor is not None:
        kwh = kwh * factor
    bills = tuple(replace(bill, kwh=float(round(k))) for bill, k in zip(bare.bills, kwh, strict=True))
    return replace(bare, bills=bills)
