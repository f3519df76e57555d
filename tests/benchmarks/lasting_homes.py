"""Homes whose habits last: a second simulator, with not a line in common with the program or the other benches'.

    python tests/benchmarks/lasting_homes.py --houses 40 --start 0

A household differs from its usual by 2 to 7 %, forgotten at once, in six weeks, in four months, or in more than a year;
most of that is in what people switch, a part in heating and cooling. One year in two brings a month with guests or
away. Its list is as right as it says (*honest*), or twice as wrong and short of hours (*rash*), or bare names. From a
reading on a meter errs, or a load runs; or one does so all along. Printed: do the 95 % limits of the stated sizes hold,
for those whose habits are forgotten in so many days, and how wide they are.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from names_only import by_name
from tables import share

from reconcile import reconcile
from reconcile.house import Band, Bill, House, Load, Meter, Weather

Floats = np.ndarray
MEMORIES = (0.0, 45.0, 120.0, 400.0)
"""Days in which a household forgets two thirds of how it lives, each as often."""

CHANGES: dict[str, tuple[str, float]] = {
    "meter +20 %": ("meter-step", 20.0),
    "meter +50 %": ("meter-step", 50.0),
    "meter -30 %": ("meter-low", -30.0),
    "load 200 W": ("constant-load", 200.0),
    "load 500 W": ("constant-load", 500.0),
    "always +30 %": ("meter-always", 30.0),
    "always 400 W": ("unlisted", 400.0),
}
"""What befell a home, the cause that says so, and its size."""


@dataclass(frozen=True)
class Home:
    """A home, and how it lives."""

    house: House
    memory: float
    habit_sd: float
    onset: int


def lasting(rng: np.random.Generator, closes: Floats, memory: float) -> Floats:
    """One value a bill, of unit variance, that is forgotten in so many days."""
    out = rng.standard_normal(len(closes))
    if memory > 0.0:
        for i in range(1, len(out)):
            keep = np.exp(-(closes[i] - closes[i - 1]) / memory)
            out[i] = keep * out[i - 1] + np.sqrt(1.0 - keep**2) * out[i]
    return out


def sky(rng: np.random.Generator, first: date, days: int) -> Floats:
    """Mean temperature of each day [degC]: a year, spells of a week and of a season."""
    turn = 2.0 * np.pi * (first.timetuple().tm_yday + np.arange(days) - 17) / 365.25
    week, season = np.zeros(days), np.zeros(days)
    for day in range(1, days):
        week[day] = 0.8 * week[day - 1] + rng.normal(0.0, 2.0)
        season[day] = 0.98 * season[day - 1] + rng.normal(0.0, 0.3)
    return rng.uniform(8.0, 19.0) - rng.uniform(6.0, 13.0) * np.cos(turn) + week + season


def home_of(seed: int, change: str | None = None, *, hand: str = "honest") -> Home:
    """One home, its bills, and a list by an ``honest`` or ``rash`` hand, or of ``names`` only."""
    rng = np.random.default_rng([seed, 4051])
    count = int(rng.integers(15, 25))
    lengths = rng.integers(28, 34, count)
    closes = np.cumsum(lengths)
    first = date(2023, 1, 1) + timedelta(days=int(rng.integers(0, 365)))
    days = int(closes[-1])
    mean_c = sky(rng, first, days)
    wrong, lean = (1.0, 0.0) if hand == "honest" else (2.0, 0.1)

    def truth(limit: float) -> float:
        """What is so over what is written, its 95 % limits stated as so many per cent."""
        return float(np.exp(wrong * limit / 196.0 * rng.standard_normal()))

    loads, steady, people = [], 0.0, 0.0
    for name, watts, hours, watts_percent, hours_percent, always in (
        ("Refrigerator", rng.uniform(40, 80), 24.0, 15.0, 0.0, True),
        ("Router and clocks", rng.uniform(10, 40), 24.0, 20.0, 0.0, True),
        ("Lights", rng.uniform(150, 450), rng.uniform(4, 7), 15.0, 35.0, False),
        ("Television", rng.uniform(80, 200), rng.uniform(2, 6), 15.0, 35.0, False),
        ("Electric range", rng.uniform(1500, 2500), rng.uniform(0.4, 1.2), 15.0, 40.0, False),
        ("Clothes dryer", rng.uniform(2800, 4800), rng.uniform(0.2, 0.7), 10.0, 40.0, False),
        ("Electric water heater", 4500.0, rng.uniform(1.0, 2.4), 10.0, 35.0, False),
        ("Computer", rng.uniform(60, 250), rng.uniform(3, 9), 20.0, 40.0, False),
    ):
        if rng.random() < 0.2 and name not in ("Refrigerator", "Lights"):
            continue
        watts, hours = float(round(watts)), float(round(hours, 1))
        kwh = watts * hours / 1000.0 * truth(float(np.hypot(watts_percent, hours_percent)))
        steady, people = (steady + kwh, people) if always else (steady, people + kwh / (1.0 - lean))
        load = Load(name, watts=watts, follows="always", watts_within_percent=watts_percent)
        if not always:
            load = replace(load, run_hours=hours, follows="clock", hours_within_percent=hours_percent)
        loads.append(load)
    follows = np.zeros(days)
    for name, way, sign, watts in (("Heat pump", "heating", 1.0, 3500.0), ("Air conditioner", "cooling", -1.0, 2500.0)):
        if rng.random() < 0.4:
            continue
        balance = float(round(rng.uniform(14, 17) if sign > 0 else rng.uniform(19, 22)))
        hours = float(round(rng.uniform(0.3, 0.8), 2))
        cold = np.maximum(sign * (balance + rng.normal(0.0, 1.0) - mean_c), 0.0)
        follows += watts / 1000.0 * np.minimum(hours * cold, 24.0) * truth(30.0)
        loads.append(
            Load(name, watts=watts, follows=way, hours_per_degree_day=hours, balance_c=balance,
                 watts_within_percent=10.0, hours_within_percent=28.0)
        )  # fmt: skip
    rest = float(round(rng.uniform(2.0, 4.0), 1))
    memory, sd = float(rng.choice(MEMORIES)), float(rng.choice([0.02, 0.04, 0.07]))
    habit = sd * lasting(rng, closes, memory)
    if rng.random() < 0.5 * count / 12.0:
        habit[int(rng.integers(count))] += rng.choice([-1.0, 1.0]) * rng.uniform(0.05, 0.2)
    by_day = np.repeat(habit, lengths)
    used = steady + people * np.exp(by_day) + rest * truth(60.0) + follows * np.exp(0.4 * by_day)
    onset = int(rng.integers(count // 3, 2 * count // 3 + 1))
    if change is not None:
        begins = 0 if change.startswith("always") else int(closes[onset] - lengths[onset])
        _, size = CHANGES[change]
        used[begins:] = used[begins:] * (1.0 + size / 100.0) if change.endswith("%") else used[begins:] + 0.024 * size
    exchanged = change is not None and change.startswith("meter")
    edges = first.toordinal() + np.concatenate([[0], closes])
    bills = tuple(
        Bill(
            date.fromordinal(int(edges[i])), date.fromordinal(int(edges[i + 1])),
            kwh=float(round(used[closes[i] - lengths[i] : closes[i]].sum())),
            meter=("new" if i >= onset else "old") if exchanged else None,
        )
        for i in range(count)
    )  # fmt: skip
    house = House(
        f"home {seed}", bills, tuple(loads),
        weather=Weather(first, np.round(mean_c + rng.normal(0.0, 0.7, days), 1)),
        meters=(Meter(number="old"), Meter(number="new")) if exchanged else (Meter(),),
        floor_area_m2=float(round(rng.uniform(80, 200))), occupants=float(rng.integers(1, 6)),
        band=Band(unlisted_kwh_per_day=rest, unlisted_within_percent=60.0),
    )  # fmt: skip
    return Home(by_name(house) if hand == "names" else house, memory, sd, onset)


def main(arguments: Sequence[str] | None = None) -> int:
    """Print whether stated limits hold, by how long habits last."""
    parser = argparse.ArgumentParser(description="Limits of sizes where habits last.")
    parser.add_argument("--houses", type=int, default=40)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--hands", nargs="*", default=["honest", "rash"])
    asked = parser.parse_args(arguments)
    for hand in asked.hands:
        by_memory: dict[float, list[bool]] = {memory: [] for memory in MEMORIES}
        for change, (code, size) in CHANGES.items():
            inside, width, lacking = [], [], 0
            for seed in range(asked.start, asked.start + asked.houses):
                home = home_of(seed, change, hand=hand)
                cause = next((c for c in reconcile(home.house).causes if c.code == code and c.size is not None), None)
                if cause is None or cause.size_low is None or cause.size_high is None:
                    lacking += 1
                    continue
                inside.append(cause.size_low <= size <= cause.size_high)
                width.append((cause.size_high - cause.size_low) / 2.0)
                if not change.startswith("always"):
                    by_memory[home.memory].append(inside[-1])
            print(
                f"  {hand:6s} {change:12s}: 95 % limits hold {share(sum(inside), len(inside))}, half width "
                f"{np.median(width or [np.nan]):.1f} in the median, not named {lacking}"
            )
        for memory, held in by_memory.items():
            print(f"  {hand:6s} forgotten in {memory:.0f} d, begun: hold {share(sum(held), len(held))}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
