"""Registration from data alone: a listed water heater, and a planned run with a heater on a plug-in meter.

python tests/benchmarks/reference_runs.py                 simulated homes
python tests/benchmarks/reference_runs.py --real          planned runs on one real home (see interval_signals.py)
python tests/benchmarks/reference_runs.py --hand --first 5000     switched by hand in another world (quiet_nights.py)
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import quiet_nights
from interval_signals import homes, real_minutes
from tables import share

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, day_numbers, local_seconds
from reconcile.house import Interval, Load
from reconcile.house.site import IntervalRun
from reconcile.interval.known_load import known_load
from reconcile.interval.planned_run import RunRead, plan_run, read_run
from reconcile.interval.switching import switching, thinned
from reconcile.plan.night_run import WANTED

PLUG_IN = 0.01
BEFORE_DAYS = 60


def heaters(count: int, minutes: int, gain: float) -> Iterator[tuple[bool, bool]]:
    """Whether a meter's registration is named right from a 4,500 W heater, and whether it is named wrong."""
    seed = made = 0
    while made < count:
        seed += 1
        home = homes.home(seed, 200)
        if "water heater" not in home.watts:
            continue
        made += 1
        rng = np.random.default_rng(seed)
        true = 4500.0 * float(np.clip(1 + rng.normal(0, 0.025), 0.95, 1.05))
        scale = true / home.watts["water heater"].max()
        home = replace(home, watts={**home.watts, "water heater": scale * home.watts["water heater"]})
        seen = switching(thinned(homes.metered(home, minutes, gain=gain)), homes.ZONE)
        assert seen is not None
        load = Load("Water heater", watts=4500.0, watts_within_percent=5.0, run_hours=1.5)
        found = known_load((load,), seen, seen.first, seen.last + 1)
        error = np.inf if found is None else abs(found.registration - 1.0 - gain) / found.standard_uncertainty
        yield bool(error <= 3.0), found is not None and bool(error > 3.0)


def with_run(
    interval: Interval, zone: ZoneInfo, first: date, registration: float, rng: np.random.Generator
) -> tuple[Interval, list[IntervalRun]] | None:
    """Data with a run as it would have been planned from the days before, and what was typed in."""
    days = local_seconds(interval.starts, zone) // DAY_SECONDS
    before = days < int(day_numbers([first])[0])
    past = replace(interval, starts=interval.starts[before], kwh=interval.kwh[before])
    plan = plan_run(past, zone, 1.5, WANTED)
    if plan is None:
        return None
    local = local_seconds(interval.starts, zone)
    kwh, runs, step = interval.kwh.copy(), [], interval.step_seconds
    kw, reads = 1.5 * (1 + rng.normal(0, 0.01)), 1 + rng.uniform(-PLUG_IN, PLUG_IN)
    for night in range(plan.nights):
        day, hour = first + timedelta(days=night), plan.from_hour
        begin = int(day_numbers([day])[0]) * DAY_SECONDS + hour * HOUR_SECONDS
        end = begin + plan.on_hours * HOUR_SECONDS
        share_ = np.clip(np.minimum(local + step, end) - np.maximum(local, begin), 0, None) / HOUR_SECONDS
        kwh += share_ * kw * registration
        runs.append(IntervalRun(day, hour, plan.on_hours, round(kw * reads * plan.on_hours, 3)))
    return replace(interval, kwh=np.round(kwh, 3)), runs


def nights(
    count: int, minutes: int, real: bool, begin: int = 0
) -> Iterator[tuple[Interval, ZoneInfo, date, np.random.Generator]]:
    """Stretches of data and the first night of a run in each."""
    data = real_minutes() if real else None
    for seed in range(begin, begin + count):
        rng = np.random.default_rng([13, seed])
        if data is None:
            home = homes.home(seed, 130)
            yield homes.metered(home, minutes), homes.ZONE, home.first + timedelta(days=100), rng
            continue
        starts, kw, _ = data
        first = int(rng.integers(10, len(kw) // 1440 - 140))
        part = slice(first * 1440, (first + 130) * 1440)
        kwh = np.round(kw[part].reshape(-1, minutes).mean(axis=1) * minutes / 60.0, 3)
        known = np.isfinite(kwh)
        day = starts[part][0].astype("datetime64[D]").astype(date) + timedelta(days=100)
        yield Interval(starts[part][::minutes][known], kwh[known], minutes * 60), ZoneInfo("UTC"), day, rng


def runs_line(count: int, minutes: int, real: bool, begin: int) -> str:
    """Errors and coverage of runs as they are planned."""
    judged = []
    for interval, zone, first, rng in nights(count, minutes, real, begin):
        registration = float(rng.choice([0.9, 1.0, 1.2]))
        made = with_run(interval, zone, first, registration, rng)
        judged.append((registration, None if made is None else read_run(made[0], zone, made[1])))
    return told(judged)


def by_hand(count: int, minutes: int, hand: quiet_nights.Hand, begin: int) -> str:
    """The same of quiet nights, the heater switched by hand and all registered alike."""
    judged = []
    for seed in range(begin, begin + count):
        gain = (0.8, 1.0, 1.2)[seed % 3]
        made = quiet_nights.run_by_hand(seed, minutes, gain, hand)
        judged.append((gain, None if made is None else read_run(made[0], quiet_nights.ZONE, made[1])))
    return told(judged)


def told(judged: list[tuple[float, RunRead | None]]) -> str:
    """How far readings are off, and whether their limits hold."""
    read = [(true, one) for true, one in judged if one is not None]
    error = np.abs([one.registration / true - 1.0 for true, one in read])
    covered = sum(one.low <= true <= one.high for true, one in read)
    return (
        f"error, robust sd {1.4826 * np.median(error):.3f}, rms {np.sqrt(np.mean(error**2)):.3f}; within 8 % "
        f"{share(int((error < 0.08).sum()), len(error))}; within 3 % {share(int((error < 0.03).sum()), len(error))}; "
        f"limits hold {share(covered, len(error))}; own standard uncertainty "
        f"{np.mean([one.standard_uncertainty / true for true, one in read]):.3f}"
    )


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=60)
    parser.add_argument("--heaters", type=int, default=12)
    parser.add_argument("--real", action="store_true")
    parser.add_argument("--hand", action="store_true")
    parser.add_argument("--first", type=int, default=0)
    asked = parser.parse_args()
    for each, clock in ((0.0, 0.0), (0.5, 1.0), (5.0, 4.0)) if asked.hand else ():
        for minutes in (1, 5, 15, 30, 60):
            line = by_hand(asked.runs, minutes, quiet_nights.Hand(each, clock), asked.first)
            print(f"hand within {each:g} min, clock within {clock:g}, {minutes:2d} min: {line}", flush=True)
    for minutes in () if asked.hand else (60, 15):
        line = runs_line(asked.runs, minutes, asked.real, asked.first)
        print(f"planned run {minutes:2d} min: {line}", flush=True)
    for minutes in () if asked.real or asked.hand else (1, 5, 15, 30, 60):
        for gain in (0.0, 0.2):
            judged = list(heaters(asked.heaters, minutes, gain))
            right, wrong = sum(r for r, _ in judged), sum(w for _, w in judged)
            print(f"water heater {minutes:2d} min, meter {gain:+.0%}: right {share(right, len(judged))}, wrong {wrong}")


if __name__ == "__main__":
    main()
