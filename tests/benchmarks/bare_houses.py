"""Houses with bills and nothing else, neither list nor weather: how often is one in order accused, and a fault found?

    python tests/benchmarks/bare_houses.py --houses 60 --start 0
    python tests/benchmarks/bare_houses.py --try SEASON_SD 0.15 0.25 0.4 0.6

A simulator of its own, with not a line in common with the program or with the other benches': people, a climate of
random years, a way to heat and to cool, and a bill a month. Three kinds of house, the same ones for every value tried:
*in order*; *fast*, all use 1.5 times from an exchange on; *load*, 300 W more from one month on. A house in order is
accused where it is sent outside or to a test; a fault is found where it is.

Values of a default are compared by what they cost a thousand such houses at the costs of :mod:`reconcile.costs`, at the
chances of the table of causes: a wasted look for each accused, a load or a fast meter left for each that is not found.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from tables import share

from reconcile import kinds, reconcile
from reconcile.costs import COSTS
from reconcile.house import Bill, House, Meter
from reconcile.weigh import constants

STORIES = ("in order", "fast", "load")
LOOKS = ("outside-check", "field-test")
FAST, WATTS = 1.5, 300.0
EXCHANGED = 0.1
"""Part of houses whose meter is exchanged within the bills (our guess)."""


@dataclass(frozen=True)
class Home:
    """What an invented household draws, day by day [kWh]."""

    steady: float
    people: float
    heating_per_kelvin: float
    cooling_per_kelvin: float
    mean_c: float
    swing_c: float


def invent(rng: np.random.Generator) -> Home:
    """A home somewhere: four ways to heat and cool, small or large."""
    size = float(rng.lognormal(0.0, 0.35))
    heats, cools = ((0.0, 0.0), (0.0, 1.3), (1.1, 0.0), (0.8, 1.1))[int(rng.integers(4))]
    swing = float(rng.uniform(5.0, 14.0))
    return Home(
        steady=size * float(rng.uniform(3.0, 9.0)),
        people=size * float(rng.uniform(5.0, 14.0)),
        heating_per_kelvin=size * heats * float(rng.uniform(0.7, 1.3)),
        cooling_per_kelvin=size * cools * float(rng.uniform(0.7, 1.3)),
        mean_c=float(rng.uniform(7.0, 21.0)),
        swing_c=swing,
    )


def days_of(rng: np.random.Generator, home: Home, days: int, first: date) -> np.ndarray:
    """Each day's use [kWh]: weather wanders by the day and by the season, people by the week and by the month."""
    turn = 2.0 * np.pi * (first.timetuple().tm_yday + np.arange(days) - 200) / 365.25
    weather = home.mean_c + home.swing_c * np.cos(turn) + _wander(rng, days, 5.0, 3.5) + _wander(rng, days, 45.0, 1.5)
    habits = np.exp(_wander(rng, days, 40.0, 0.07) + 0.15 * rng.standard_normal(days) - 0.01)
    winter = 1.0 - 0.12 * np.cos(turn)
    for _ in range(int(rng.poisson(days / 300.0))):
        away = int(rng.integers(days))
        habits[away : away + int(rng.integers(3, 12))] *= 0.25
    heat = home.heating_per_kelvin * np.maximum(15.0 - weather, 0.0)
    cool = home.cooling_per_kelvin * np.maximum(weather - 21.0, 0.0)
    return np.asarray(home.steady + home.people * habits * winter + heat + cool)


def _wander(rng: np.random.Generator, days: int, memory: float, sd: float) -> np.ndarray:
    """A slow wander that forgets in so many days."""
    keep = float(np.exp(-1.0 / memory))
    out = np.empty(days)
    out[0] = rng.standard_normal()
    for day, shock in enumerate(rng.standard_normal(days - 1) * np.sqrt(1.0 - keep**2), start=1):
        out[day] = keep * out[day - 1] + shock
    return sd * out


def house(story: str, seed: int) -> House:
    """One house's bills: 12 to 24 of them, and what befell it from a reading in their middle half on."""
    rng = np.random.default_rng([seed, 77])
    count = int(rng.integers(12, 25))
    first = date(2022, 1, 1) + timedelta(days=int(rng.integers(0, 365)))
    lengths = rng.integers(28, 34, count)
    closes = np.cumsum(lengths)
    used = days_of(rng, invent(rng), int(closes[-1]), first)
    onset = int(rng.integers(count // 4, 3 * count // 4))
    begins = int(closes[onset] - lengths[onset])
    if story == "fast":
        used[begins:] *= FAST
    elif story == "load":
        used[begins:] += 0.024 * WATTS
    exchanged = story == "fast" or rng.random() < EXCHANGED
    bills = tuple(
        Bill(
            first + timedelta(days=int(close - length)),
            first + timedelta(days=int(close)),
            kwh=float(round(used[close - length : close].sum())),
            meter=("new" if at >= onset else "old") if exchanged else None,
        )
        for at, (close, length) in enumerate(zip(closes, lengths, strict=True))
    )
    meters = (Meter(number="old"), Meter(number="new")) if exchanged else (Meter(),)
    return House(name=f"{story} {seed}", bills=bills, loads=(), meters=meters)


def sent(homes: Sequence[House]) -> int:
    """How many of some houses are sent outside or to a test."""
    return sum(reconcile(home).verdict.decision in LOOKS for home in homes)


def cost(accused: float, fast_found: float, load_found: float) -> float:
    """What answers of such shares cost a thousand houses, at the chances of the table of causes [US dollars]."""
    load = kinds.KINDS["constant-load"].chance
    fast = EXCHANGED * kinds.KINDS["meter-exchange"].chance + kinds.KINDS["meter-step"].chance
    in_order = 1.0 - load - fast
    lost = in_order * accused * COSTS.wasted_look
    lost += load * (1.0 - load_found) * COSTS.load_left * WATTS / 400.0
    return 1000.0 * (lost + fast * (1.0 - fast_found) * COSTS.fast_left * (FAST - 1.0) / 0.2)


def row(homes: dict[str, list[House]]) -> str:
    """One line: shares and their cost."""
    found = {story: sent(of) for story, of in homes.items()}
    shares = {story: found[story] / len(of) for story, of in homes.items()}
    told = ", ".join(f"{story} {share(found[story], len(of))}" for story, of in homes.items())
    return f"{told}, cost {cost(shares['in order'], shares['fast'], shares['load']):,.0f} a thousand houses"


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the shares sent outside, for the defaults or for some values of one of them."""
    parser = argparse.ArgumentParser(description="Houses with bills alone: accused and found.")
    parser.add_argument("--houses", type=int, default=60)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--try", nargs="+", dest="tried", metavar="NAME VALUE", default=[])
    asked = parser.parse_args(arguments)
    seeds = range(asked.start, asked.start + asked.houses)
    homes = {story: [house(story, seed) for seed in seeds] for story in STORIES}
    if not asked.tried:
        print(row(homes))
        return 0
    name, *values = asked.tried
    usual = getattr(constants, name)
    for value in values:
        setattr(constants, name, float(value))
        print(f"{name} {float(value):g}: {row(homes)}")
    setattr(constants, name, usual)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
