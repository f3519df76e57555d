"""Nights by the minute with what cycles in them, and a heater on a plug-in meter switched by hand: a world of its own.

Nothing here is shared with ``switching_homes``: thermostats with their own time on and off, a tank that loses heat and
is drawn from, a heat pump that follows the cold, somebody up at night. The householder switches some minutes off the
time typed in, and the meter's clock is off by some more.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.house import Interval
from reconcile.house.site import IntervalRun
from reconcile.interval.planned_run import plan_run
from reconcile.plan.night_run import WANTED

DAY = 1440
ZONE = ZoneInfo("UTC")
FIRST = date(2024, 9, 20)
BEFORE, DAYS = 90, 130


@dataclass(frozen=True)
class Hand:
    """How far off the heater is switched: each time by so many minutes at most, the meter's clock by so many [min]."""

    each: float = 5.0
    clock: float = 4.0


def thermostat(rng: np.random.Generator, minutes: int, on: float, off: np.ndarray) -> np.ndarray:
    """Part of each minute that a thermostat's load runs: some minutes on, then off for what the moment calls for."""
    share, at = np.zeros(minutes + 1), rng.uniform(0.0, on + off[0])
    while at < minutes:
        end = min(at + on * rng.uniform(0.85, 1.15), minutes)
        ticks = np.arange(int(at), int(np.ceil(end)))
        share[ticks] += np.minimum(ticks + 1.0, end) - np.maximum(ticks, at)
        at = end + off[min(int(end), minutes - 1)] * rng.uniform(0.8, 1.2)
    return np.minimum(share[:minutes], 1.0)


def home_watts(rng: np.random.Generator) -> np.ndarray:
    """Power of a home by the minute [W]; about half of the homes have each of the large things that cycle by night."""
    n = DAYS * DAY
    minute = np.arange(n)
    hour = minute / 60.0 % 24.0
    asleep = (hour < 5.5) | (hour > 23.0)
    outside_c = 12.0 - 12.0 * minute / n + 4.0 * np.sin(2 * np.pi * (hour - 9.0) / 24.0)
    outside_c += np.repeat(np.convolve(rng.normal(0, 3.0, DAYS + 2), np.ones(3) / 2.0, "valid"), DAY)
    watts = (
        rng.uniform(60.0, 300.0) + 4.0 * rng.standard_normal(n) + np.repeat(rng.normal(0, 8.0, n // 180 + 1), 180)[:n]
    )
    watts += rng.uniform(80, 200) * thermostat(rng, n, rng.uniform(12, 28), np.full(n, rng.uniform(18, 50)))
    if rng.random() < 0.6:
        watts += rng.uniform(70, 150) * thermostat(rng, n, rng.uniform(10, 35), np.full(n, rng.uniform(25, 70)))
    if rng.random() < 0.5:
        rest = np.where(asleep, rng.uniform(300, 700), rng.uniform(60, 200))
        watts += rng.uniform(3000, 4800) * thermostat(rng, n, rng.uniform(5, 14), rest)
    if rng.random() < 0.4:
        on = rng.uniform(7, 14)
        duty = np.clip((14.0 - outside_c) / rng.uniform(22.0, 35.0), 0.01, 0.9)
        watts += rng.uniform(900, 2500) * thermostat(rng, n, on, on / duty - on)
    people = ~asleep * np.repeat(rng.gamma(1.2, 250.0, n // 20 + 1), 20)[:n]
    up = np.repeat((rng.random(n // 10 + 1) < 0.02) * rng.choice([40.0, 100.0, 1200.0], n // 10 + 1), 10)[:n]
    return np.maximum(watts + people + asleep * up, 20.0)


def metered(watts: np.ndarray, minutes: int) -> Interval:
    """What a meter of a watt-hour records."""
    register = np.concatenate([[0.0], np.cumsum(watts.reshape(-1, minutes).sum(axis=1) / 60_000.0)])
    starts = np.datetime64(FIRST, "s") + np.arange(len(register) - 1) * np.timedelta64(minutes * 60, "s")
    return Interval(starts, np.round(np.diff(np.floor(register * 1000.0)) / 1000.0, 3), minutes * 60)


def run_by_hand(
    seed: int, minutes: int, gain: float, hand: Hand, pattern: tuple[float, float, int] | None = None
) -> tuple[Interval, list[IntervalRun]] | None:
    """Data with a run, and what was typed in; by a pattern (from hour, hours on and off, times), else as planned."""
    rng = np.random.default_rng([41, seed])
    watts = home_watts(rng)
    plan = None
    if pattern is None:
        plan = plan_run(metered(gain * watts[: BEFORE * DAY], minutes), ZONE, 1.5, WANTED)
        if plan is None:
            return None
        pattern = plan.from_hour, plan.on_hours, 1
    from_hour, hours, times = pattern
    heater_kw, reads = 1.5 * rng.uniform(0.96, 1.04), 1.0 + rng.uniform(-0.01, 0.01)
    clock, edges, runs = rng.uniform(-1, 1) * hand.clock, np.arange(DAYS * DAY + 1.0), []
    drawn = int(rng.integers(3, 6))
    for night in range(drawn if plan is None else plan.nights):
        for turn in range(times):
            at = from_hour + 2.0 * hours * turn
            typed = (BEFORE + night) * DAY + 60.0 * at
            begin, end = typed + clock + hand.each * rng.uniform(-1, 1, 2) + np.array([0.0, 60.0 * hours])
            share = np.clip(np.minimum(edges[1:], end) - np.maximum(edges[:-1], begin), 0.0, None)
            kw = heater_kw * rng.normal(1.0, 0.004)
            watts = watts + 1000.0 * kw * share
            day = FIRST + timedelta(days=BEFORE + night)
            runs.append(IntervalRun(day, at, hours, round(kw * (end - begin) / 60.0 * reads, 2)))
    return metered(gain * watts, minutes), runs
