"""Invented homes by the hour, whose truth is known: people, water, a heat pump with strip heat, air conditioning.

Nothing here knows how the program reckons. Each home has some twenty bills, a weather file of daily means, a list as
its household would write it, and an hour by hour download for all of it but the first weeks. Two things beset every
one of them: what people do is not even (absences, guests, months of their own), and what the weather does is not
straight (strip heat below what the heat pump gives, air conditioning that reaches its end, rooms that lag behind).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
from climate import CLIMATES, Floats, ar1, make_sky
from numpy.typing import NDArray

from reconcile.house import Band, Bill, Event, House, Interval, Load, Weather

FIRST, DAYS = date(2023, 2, 1), 640
BEGINS = 50
"""First day of the download."""
ZONE = ZoneInfo("America/New_York")

USED = np.array([3, 2, 2, 2, 3, 5, 8, 9, 7, 6, 5, 6, 6, 6, 6, 7, 9, 13, 15, 14, 12, 10, 7, 4], dtype=float)
WATER = np.array([1, 1, 1, 1, 2, 7, 15, 15, 9, 6, 5, 5, 5, 4, 4, 5, 7, 9, 12, 11, 9, 7, 4, 2], dtype=float)


@dataclass(frozen=True)
class Put:
    """What is put into a home, and when."""

    kind: str
    day: int = -1
    """From which day on, counted from the first; -1 where nothing is wrong."""
    watts: float = 0.0
    start_hour: int = 0
    hours: int = 0
    right: tuple[str, ...] = ("none", "unlisted")
    """Causes that may rightly be named."""


@dataclass(frozen=True)
class Home:
    """A house as the program reads it, with its truth."""

    house: House
    put: Put
    hourly_kwh: Floats = field(repr=False)
    """By day and local clock hour, as registered, shape (days, 24)."""
    away: NDArray[np.bool_] = field(repr=False)
    """Days with nobody at home, shape (days,)."""


QUIET = ("plain", "hot summer", "cold spell", "absence", "guests", "pool", "standard time")
"""Homes in which nothing is wrong."""
WRONG = (
    "clock night", "clock day", "clock evening", "photocell", "constant 200", "constant 400", "constant 600",
    "meter exchange", "setback", "car",
)  # fmt: skip


def home(kind: str, seed: int, watts: float = 600.0) -> Home:
    """Draw one."""
    rng = np.random.default_rng([77, seed, *kind.encode()])
    climate = CLIMATES[int(rng.integers(len(CLIMATES)))]
    sky = make_sky(rng, climate, FIRST.toordinal(), DAYS)
    outside = sky.hourly_c.copy()
    doy = np.array([(FIRST + timedelta(days=i)).timetuple().tm_yday for i in range(DAYS)], dtype=float)
    if kind == "hot summer":
        outside += np.where((np.arange(DAYS) > 480) & (doy > 150) & (doy < 250), 3.5, 0.0)[:, None]
    if kind == "cold spell":
        begin = int(rng.integers(330, 380))
        outside[begin : begin + int(rng.integers(14, 40))] -= rng.uniform(5.0, 9.0)
    put = _put(kind, rng, watts)
    use, loads, away = _people(kind, rng, doy)
    heat, cool, listed = _conditioned(kind, rng, outside, put)
    loads += listed
    use = use + heat + cool
    use += _added(put, doy)
    events: tuple[Event, ...] = ()
    if put.kind == "meter exchange":
        use[put.day :] *= 1.2
        events = (Event(FIRST + timedelta(days=put.day), "meter-exchange"),)
    return Home(_house(rng, use, outside, tuple(loads), events, standard=kind == "standard time"), put, use, away)


def _put(kind: str, rng: np.random.Generator, watts: float) -> Put:
    day = int(rng.integers(BEGINS + 120, DAYS - 130))
    clocked = ("timed-load",)
    if kind == "clock night":
        return Put(kind, day, watts, int(rng.integers(19, 25)) % 24, int(rng.integers(4, 12)), clocked)
    if kind == "clock day":
        return Put(kind, day, watts, int(rng.integers(7, 11)), int(rng.integers(3, 10)), clocked)
    if kind == "clock evening":
        return Put(kind, day, watts, int(rng.integers(15, 19)), int(rng.integers(3, 8)), clocked)
    if kind == "photocell":
        return Put(kind, day, watts, 18, 12, clocked)
    if kind.startswith("constant"):
        return Put(kind, day, float(kind.split()[1]), 0, 24, ("constant-load",))
    if kind == "meter exchange":
        return Put(kind, day, right=("meter-step", "old-meter-slow"))
    if kind == "setback":
        return Put(
            kind, day, right=("none", "unlisted", "heating-rise", "cooling-rise", "heating-fall", "cooling-fall")
        )
    if kind == "car":
        return Put(kind, day, 7000.0, int(rng.integers(20, 25)) % 24, 2, ("timed-load", "habit-step", "constant-load"))
    return Put(kind, right=("none", "unlisted", "single-period"))  # an absence or guests that a bill shows


def _people(kind: str, rng: np.random.Generator, doy: Floats) -> tuple[Floats, list[Load], NDArray[np.bool_]]:
    """What people use and what is always on [kWh], by day and hour; what of it is on the list; and days away."""
    weekend = np.array([(FIRST + timedelta(days=i)).weekday() >= 5 for i in range(DAYS)])
    slow = np.exp(rng.uniform(0.03, 0.08) * ar1(rng.standard_normal(DAYS), 0.97))
    day = slow * np.exp(rng.normal(0, 0.12, DAYS)) * np.where(weekend, rng.uniform(1.0, 1.3), 1.0)
    dark = 1.0 + rng.uniform(0.03, 0.15) * np.cos(2 * np.pi * (doy - 355) / 365.25)
    away = np.zeros(DAYS, dtype=bool)
    for _ in range(int(rng.integers(1, 3)) + 2 * (kind == "absence")):
        begin = int(rng.integers(0, DAYS - 20))
        away[begin : begin + int(rng.integers(4, 22 if kind == "absence" else 11))] = True
    more = np.ones(DAYS)
    for _ in range(2 * (kind == "guests")):
        begin = int(rng.integers(0, DAYS - 20))
        more[begin : begin + int(rng.integers(10, 24))] = rng.uniform(1.4, 2.0)
    shape = USED * rng.uniform(0.7, 1.4, 24)
    shape /= shape.sum()
    kwh = float(rng.uniform(8, 16))
    people = (kwh * day * dark * more)[:, None] * shape * rng.gamma(8.0, 1 / 8.0, (DAYS, 24))
    base = float(rng.uniform(0.12, 0.32))
    use = np.where(away[:, None], 0.1, 1.0) * people + base * (1.0 + rng.normal(0, 0.04, (DAYS, 24)))
    off = rng.normal(1.0, 0.12, 4)
    loads = [
        Load("Lights and appliances", watts=1000.0, run_hours=round(kwh * off[0], 1), hours_within_percent=25.0),
        Load("Always on", watts=round(1000 * base * off[1], -1), follows="always", watts_within_percent=20.0),
    ]
    if rng.random() < 0.6:
        litres = float(rng.uniform(5, 12))
        drawn = rng.poisson(litres * day[:, None] * more[:, None] * WATER / WATER.sum() / 0.75, (DAYS, 24)) * 0.75
        use = use + np.where(away[:, None], 0.0, drawn)
        loads.append(Load("Water heater", watts=4500.0, run_hours=round(litres / 4.5 * off[2], 1)))
    if kind == "pool":
        months = frozenset(range(5, 10))
        swims = np.array([(FIRST + timedelta(days=i)).month in months for i in range(DAYS)])
        use[swims, 9:17] += 1.1
        loads.append(Load("Pool pump", watts=1100.0, run_hours=8.0, months=months))
    return use, loads, away


def _conditioned(kind: str, rng: np.random.Generator, outside: Floats, put: Put) -> tuple[Floats, Floats, list[Load]]:
    """Heating and cooling [kWh]: a heat pump and its strip heat or a gas furnace's fan, and air conditioning."""
    flat = outside.ravel()
    lag = float(rng.uniform(2.0, 12.0))
    keep = np.exp(-1.0 / lag)
    from scipy.signal import lfilter

    felt = lfilter([1 - keep], [1.0, -keep], flat - flat[0]) + flat[0]
    hour = np.tile(np.arange(24), DAYS)
    warm, cool = np.full(DAYS * 24, rng.uniform(15.0, 18.0)), np.full(DAYS * 24, rng.uniform(19.0, 22.0))
    asleep = (hour < 6) | (hour >= 22)
    if rng.random() < 0.5:
        warm[asleep] -= 2.0  # a thermostat turned down by night
    if kind == "setback":
        warm[put.day * 24 :] += rng.choice([-2.0, 2.0])
        cool[put.day * 24 :] -= rng.choice([-1.5, 1.5])
    sun = np.clip(np.sin(np.pi * (hour - 7) / 12.0), 0.0, None) * rng.uniform(0.0, 3.0)
    loads = []
    if rng.random() < 0.5 or kind == "cold spell":
        loss = float(rng.uniform(0.12, 0.25))  # kW of heat for a kelvin
        need = np.maximum(warm - 0.5 * (felt + flat), 0.0) * loss
        cop = np.clip(2.9 + 0.07 * (flat - 4.0), 1.5, 4.3)
        gives = loss * rng.uniform(13.0, 22.0) * np.clip(1.0 + 0.02 * (flat - 4.0), 0.5, 1.3)
        heat = np.minimum(need, gives) / cop + np.minimum(np.maximum(need - gives, 0.0), 9.6)
        heat = heat * rng.gamma(30.0, 1 / 30.0, DAYS * 24)
        loads.append(Load("Heat pump", watts=round(float(np.quantile(heat, 0.95)) * 900.0, -2), follows="heating"))
        loads.append(Load("Strip heat", watts=9600.0, follows="heating"))
    else:
        heat = np.maximum(warm - felt, 0.0) * rng.uniform(0.008, 0.03)
        loads.append(Load("Furnace fan", watts=450.0, follows="heating"))
    most = float(rng.uniform(2.5, 4.5))
    air = np.minimum(np.maximum(0.5 * (felt + flat) + sun - cool, 0.0) * rng.uniform(0.10, 0.28), most)
    air *= rng.gamma(20.0, 1 / 20.0, DAYS * 24)
    loads.append(Load("Air conditioner", watts=round(1000 * most, -2), follows="cooling"))
    return heat.reshape(DAYS, 24), air.reshape(DAYS, 24), loads


def _added(put: Put, doy: Floats) -> Floats:
    """What the thing put in takes [kWh], by day and hour."""
    out = np.zeros((DAYS, 24))
    if not put.watts:
        return out
    hours = (put.start_hour + np.arange(put.hours)) % 24
    on = np.zeros((DAYS, 24))
    on[:, hours] = 1.0
    if put.kind == "photocell":
        half = 6.0 + 1.6 * np.cos(2 * np.pi * (doy - 172) / 365.25)  # of the day's light about one o'clock
        middle = np.arange(24) + 0.5
        on = np.clip(np.abs(middle - 13.0)[None, :] - half[:, None] + 0.5, 0.0, 1.0)
    if put.kind == "car":
        on[np.random.default_rng(put.day).random(DAYS) < 0.5] = 0.0
    out[put.day :] = put.watts / 1000.0 * on[put.day :]
    return out


def _house(
    rng: np.random.Generator, use: Floats, outside: Floats, loads: tuple[Load, ...], events: tuple[Event, ...],
    *, standard: bool,
) -> House:  # fmt: skip
    edges = [0]
    while edges[-1] < DAYS - 34:
        edges.append(edges[-1] + int(rng.integers(29, 34)))
    daily = use.sum(axis=1)
    if events:  # a bill ends where a meter is exchanged
        edges = sorted({*edges, (events[0].day - FIRST).days})
        edges = [day for i, day in enumerate(edges) if i == 0 or day - edges[i - 1] > 6]
    bills = tuple(
        Bill(FIRST + timedelta(days=a), FIRST + timedelta(days=b), kwh=float(round(daily[a:b].sum())))
        for a, b in pairwise(edges)
    )
    begin = int(datetime(FIRST.year, FIRST.month, FIRST.day, tzinfo=ZONE).astimezone(UTC).timestamp())
    starts = begin + 3600 * np.arange(BEGINS * 24, edges[-1] * 24)
    zone = timedelta(hours=-5)
    shift = [
        int(
            (
                (zone if standard else datetime.fromtimestamp(s, UTC).astimezone(ZONE).utcoffset()) or zone
            ).total_seconds()
        )
        for s in starts[::24].tolist()
    ]
    local = starts + np.repeat(shift, 24)[: len(starts)]
    first = int(datetime(FIRST.year, FIRST.month, FIRST.day, tzinfo=UTC).timestamp())
    day, hour = np.divmod((local - first) // 3600, 24)
    kwh = np.round(use[np.minimum(day, DAYS - 1), hour], 3)
    data = Interval(starts.astype("datetime64[s]"), kwh, 3600)
    return House(
        "Invented", bills, loads, timezone=ZONE.key, interval=data, events=events, band=Band(),
        weather=Weather(FIRST, np.round(outside.mean(axis=1), 1)),
    )  # fmt: skip
