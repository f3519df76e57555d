"""Hypothesis strategies for houses that are in order, shared by all tests.

``bills()``, ``loads()``, ``weather()`` and ``houses()`` draw frozen values of :mod:`reconcile.house` with which the
readers find no fault, so that a test may break exactly one thing.
"""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import numpy as np
from hypothesis import strategies as st

from reconcile.house import Band, Bill, Event, House, Load, Meter, Weather
from reconcile.read.tables.bounds import most_watts

TELLS_HOURS = re.compile(r"\d\s*h", re.IGNORECASE)
SOURCES = ("measured", "nameplate", "label", "guessed")
EVENT_KINDS = ("new-load", "repair", "away", "guests", "thermostat", "outage", "other")


def rounded(low: float, high: float, places: int = 2) -> st.SearchStrategy[float]:
    """Numbers as people write them, with at most ``places`` decimals."""
    scale = 10**places
    return st.integers(round(low * scale), round(high * scale)).map(lambda n: n / scale)


def money(low: float = 0.0, high: float = 900.0) -> st.SearchStrategy[Decimal]:
    return st.integers(round(low * 100), round(high * 100)).map(lambda n: Decimal(n) / 100)


def words(most: int = 20) -> st.SearchStrategy[str]:
    """Text of a cell: any letters, commas and quotes among them, without spaces at its ends."""
    return (
        st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "Zs", "Sm")), min_size=1, max_size=most)
        .map(lambda text: " ".join(text.split()))
        .filter(lambda text: text and text[0] not in "=+-#'" and not text.replace(".", "").isnumeric())
    )


def dates(first: date = date(2019, 1, 1), last: date = date(2025, 12, 31)) -> st.SearchStrategy[date]:
    return st.dates(first, last)


@st.composite
def bills(draw: st.DrawFn, least: int = 1, most: int = 26, *, readings: bool | None = None) -> tuple[Bill, ...]:
    """Consecutive bills without a fault of paper; with true register readings where ``readings`` says so."""
    start = draw(dates())
    count = draw(st.integers(least, most))
    with_readings = draw(st.booleans()) if readings is None else readings
    register = float(draw(st.integers(0, 40_000)))
    made = []
    for _ in range(count):
        end = start + timedelta(days=draw(st.integers(27, 34)))
        kwh = float(draw(st.integers(50, 2500)))
        made.append(
            Bill(
                start=start,
                end=end,
                kwh=kwh,
                amount=draw(st.none() | money(5.0)),
                reading_start=register if with_readings else None,
                reading_end=register + kwh if with_readings else None,
                printed_days=draw(st.none() | st.just((end - start).days)),
                note=draw(st.just("") | words()),
            )
        )
        register += kwh
        start = end
    return tuple(made)


@st.composite
def load(draw: st.DrawFn, name: str) -> Load:
    """One load, told in one of the ways there are."""
    way = draw(st.sampled_from(("clock", "always", "weather", "year", "cycle")))
    arrives = draw(st.none() | dates())
    common = {
        "name": name,
        "count": draw(st.integers(1, 12)),
        "months": draw(st.none() | st.frozensets(st.integers(1, 12), min_size=1)),
        "arrives": arrives,
        "leaves": arrives and draw(st.none() | st.integers(1, 900).map(lambda n: arrives + timedelta(n))),
        "watts_within_percent": draw(st.none() | rounded(1, 100, 1)),
        "hours_within_percent": draw(st.none() | rounded(1, 100, 1)),
        "source": draw(st.sampled_from(SOURCES)),
        "note": draw(st.just("") | words()),
    }
    if way == "year":
        return Load(**common, kwh_per_year=draw(rounded(1, 6000, 1)))
    if way == "cycle":
        return Load(**common, kwh_per_cycle=draw(rounded(0.1, 8)), cycles_per_week=draw(rounded(0.5, 20, 1)))
    power = {
        "watts": draw(rounded(1, 9000, 1)),
        "standby_watts": draw(rounded(0, 20, 1)),
        "share_on": draw(rounded(0, 1)),
    }
    if way == "clock":
        return Load(**common, **power, run_hours=draw(rounded(0, 24)))
    if way == "always":
        return Load(**common, **power, follows="always")
    return Load(
        **common,
        **power,
        follows=draw(st.sampled_from(("heating", "cooling"))),
        hours_per_degree_day=draw(st.none() | rounded(0, 2)),
        balance_c=draw(st.none() | rounded(8, 24, 1)),
    )


@st.composite
def loads(draw: st.DrawFn, most: int = 12) -> tuple[Load, ...]:
    """Loads of different names."""
    plain = words().filter(lambda name: not TELLS_HOURS.search(name))  # a name's own figures are read from it
    names = draw(st.lists(plain, max_size=most, unique_by=lambda name: name.casefold()))
    return tuple(draw(load(name)) for name in names)


@st.composite
def weather(draw: st.DrawFn, first: date, last: date) -> Weather:
    """Daily means from ``first`` to ``last``, some days missing."""
    days = (last - first).days + 1
    seed = draw(st.integers(0, 2**32 - 1))
    rng = np.random.default_rng(seed)
    means = np.round(12 + 12 * np.sin(np.arange(days) / 58.0 + rng.uniform(0, 6)) + rng.normal(0, 3, days), 1)
    gone = rng.random(days) < draw(st.sampled_from((0.0, 0.03)))
    gone[[0, -1]] = False
    means[gone] = np.nan
    return Weather(first, means, int(gone.sum()))


@st.composite
def events(draw: st.DrawFn, names: tuple[str, ...], most: int = 4) -> tuple[Event, ...]:
    """A diary in order of its days; the loads it names are of ``names``."""
    days = sorted(draw(st.lists(dates(), max_size=most)))
    return tuple(
        Event(
            day,
            draw(st.sampled_from(EVENT_KINDS)),
            until=draw(st.none() | st.integers(0, 60).map(lambda n, day=day: day + timedelta(n))),
            load=draw(st.sampled_from(names)) if names and draw(st.booleans()) else None,
            note=draw(st.just("") | words()),
        )
        for day in days
    )


@st.composite
def houses(draw: st.DrawFn, most_bills: int = 26, most_loads: int = 12) -> House:
    """A house as its readers give it: settings, bills, and now and then loads, weather and a diary."""
    its_bills = draw(bills(most=most_bills))
    with_weather = draw(st.booleans())
    house = House(
        name=draw(words()),
        bills=its_bills,
        timezone=draw(st.sampled_from(("America/Chicago", "Europe/Rome", "Asia/Kolkata", "UTC"))),
        currency=draw(st.sampled_from(("USD", "EUR", "INR"))),
        floor_area_m2=draw(st.none() | rounded(20, 400, 0)),
        occupants=draw(st.none() | rounded(1, 8, 0)),
        bedrooms=draw(st.none() | rounded(0, 6, 0)),
        heating_fuel=draw(st.none() | st.sampled_from(("electric", "gas"))),
        service=draw(st.sampled_from(("split-phase", "network", "unknown"))),
        line_volts=draw(st.none() | rounded(200, 245, 0)),
        service_amps=draw(st.none() | rounded(60, 400, 0)),
        dangers=draw(st.sampled_from(((), ("buzzing",), ("warm_meter", "shock")))),
        meters=(
            Meter(
                digits=enough(draw(st.none() | st.integers(4, 6)), its_bills),
                step_kwh=draw(st.sampled_from((1.0, 0.1))),
            ),
        ),
        band=Band(coverage=draw(st.sampled_from((0.9, 0.95)))),
        weather=draw(weather(its_bills[0].start, its_bills[-1].end)) if with_weather else None,
    )
    its_loads = tuple(carried(one, house) for one in draw(loads(most=most_loads)))
    return replace(house, loads=its_loads, events=draw(events(tuple(one.name for one in its_loads))))


def enough(digits: int | None, its_bills: tuple[Bill, ...]) -> int | None:
    """Return as many digits as show every reading of the bills, where they are known at all."""
    most = max((bill.reading_end or 0.0 for bill in its_bills), default=0.0)
    return None if digits is None else max(digits, len(f"{most:.0f}"))


def carried(load: Load, house: House) -> Load:
    """No more of a load than the service carries at once; one of any drawn here it does."""
    return replace(load, count=max(1, min(load.count, int(most_watts(house) / (load.watts or 1.0)))))
