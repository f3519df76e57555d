"""What the answer makes of houses heated by a heat pump, from bills alone and with hours or quarter-hours.

    python tests/benchmarks/heat_pumps.py --kinds healthy "aux 3 months" --homes 10 --steps 0 60 15
    python tests/benchmarks/heat_pumps.py --unlisted          the heat pump is not on the list

Houses of five-minute steps: a building that loses heat by the kelvin, sun and wind of each day, a heat pump whose
output and heat per kilowatt-hour fall with the cold, defrosting, strip heat for what it cannot deliver, a set point
that is lower by night in some of them (with strips that help it up in the morning), cooling, and what people do.
*Auxiliary heat* carries all of it where the compressor stands still.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

import reconcile

Floats = NDArray[np.float64]

ZONE, FIRST, DAYS, SLOTS = "America/New_York", date(2023, 10, 2), 550, 288

WEATHER = ("heating-rise", "cooling-rise")
RIGHT: dict[str, tuple[str, ...]] = {
    "healthy": (),
    "colder": (),
    "heater": ("heating-rise", "timed-load"),
    "warmer": ("heating-rise",),
    "aux 3 weeks": ("heating-rise",),
    "aux 3 months": ("heating-rise",),
    "aux winter": ("heating-rise",),
    "cooling": ("cooling-rise",),
    "constant": ("constant-load",),
    "meter": ("meter-step",),
}
"""What may be told of each kind: nothing of the first two."""


@dataclass(frozen=True)
class Pumped:
    """A house and its truth: the first day of what is wrong and the day after its last, and the energy it took."""

    house: reconcile.House
    kind: str
    begin: date | None
    end: date | None
    kwh: float


def _cycled(rng: np.random.Generator, watts: float, duty: Floats, minutes: float) -> Floats:
    """Power of something that is on for a part of each cycle of about so many minutes."""
    turns = np.cumsum(5.0 / minutes * rng.uniform(0.8, 1.2, len(duty)))
    return watts * (turns % 1.0 < np.clip(duty, 0.0, 1.0))


def _used(rng: np.random.Generator, watts: float, per_day: float, hours: tuple[float, ...], minutes: float) -> Floats:
    """Power of something that people start so many times a day about some hours."""
    out = np.zeros(DAYS * SLOTS + SLOTS)
    for day in range(DAYS):
        for _ in range(rng.poisson(per_day)):
            at = day * SLOTS + int((rng.choice(hours) + rng.normal(0, 1.0)) % 24 * 12)
            out[at : at + max(int(rng.gamma(6, minutes / 30.0)), 1)] = watts
    return out[: DAYS * SLOTS]


def house(kind: str, seed: int, minutes: int, *, listed: bool = True) -> Pumped:
    """Build one.

    Parameters
    ----------
    kind : str
        Of :data:`RIGHT`.
    seed : int
    minutes : int
        Step of the interval data; 0 for none [min].
    listed : bool
        Whether the heat pump stands on the list.
    """
    rng = np.random.default_rng([seed, 771])
    day = np.arange(DAYS)
    doy = (FIRST.timetuple().tm_yday + day) % 365.25
    spells = np.zeros(DAYS)
    for i in range(1, DAYS):
        spells[i] = 0.72 * spells[i - 1] + rng.normal(0, 2.4)
    mean = rng.uniform(8.5, 14.0) - rng.uniform(9.5, 12.5) * np.cos(2 * np.pi * (doy - 20) / 365.25) + spells
    if kind == "colder":
        mean = mean - np.where(day > 365 - 20, 3.5, 0.0)
    if kind == "cooling":
        mean = mean + 6.0
    swing = rng.uniform(3.0, 7.0, DAYS)
    clock = np.tile(np.arange(SLOTS) / 12.0, DAYS)
    slow = np.repeat(mean, SLOTS)
    slow = np.convolve(np.pad(slow, SLOTS // 2, mode="edge"), np.ones(SLOTS) / SLOTS, "same")[
        SLOTS // 2 : -(SLOTS // 2)
    ]
    outside = slow + np.repeat(swing, SLOTS) * np.cos(2 * np.pi * (clock - 15) / 24)

    begin, end = None, None
    autumn = (date(2024, 11, 10) - FIRST).days + int(rng.integers(0, 40))
    if kind in ("heater", "warmer", "aux 3 months", "aux 3 weeks", "meter", "constant"):
        begin = autumn if kind != "aux 3 weeks" else autumn + 25
    if kind == "aux winter":
        begin = (date(2024, 10, 1) - FIRST).days
    if kind == "cooling":
        begin = (date(2024, 5, 20) - FIRST).days + int(rng.integers(0, 30))
    if kind == "aux 3 weeks":
        end = begin + 21
    if kind == "aux 3 months":
        end = begin + 90
    acts = np.zeros(DAYS * SLOTS, dtype=bool)
    if begin is not None:
        acts[begin * SLOTS : None if end is None else end * SLOTS] = True

    loss = rng.uniform(130, 260)
    back = rng.choice([0.0, 0.0, 2.0, 3.0])
    setting = np.where((clock >= 22) | (clock < 5.5), -back, 0.0) + (3.0 * acts if kind == "warmer" else 0.0)
    gains = np.repeat(rng.normal(0, 1.0, DAYS) + 1.2 * swing - 6.0, SLOTS) * np.exp(-(((clock - 14) / 4.0) ** 2))
    wind = np.repeat(np.exp(rng.normal(0, 0.10, DAYS)), SLOTS)
    balance = rng.uniform(15.0, 17.5)
    need = np.clip(loss * wind * (balance + setting - outside - gains), 0, None)
    lift = np.where((clock >= 5.5) & (clock < 7.0), back * rng.uniform(500, 900), 0.0) * (need > 0.15 * need.max())
    need = np.where(need > 150.0, need + lift, 0.0)
    design = loss * (balance - np.quantile(mean, 0.02))
    capacity = design * rng.uniform(0.65, 1.0) * np.clip(1.0 + 0.022 * (outside - np.quantile(mean, 0.02)), 0.4, 2.0)
    cop = np.clip(rng.uniform(2.9, 3.5) + 0.065 * (outside - 8.0), 1.4, 4.2)
    strips = max(1000.0 * rng.choice([5, 8, 10, 15]), 1000.0 * round(design / 1000.0))
    pump_watts = design * 0.8 / 2.4
    by_pump = np.minimum(need, capacity)
    strip_heat = np.clip(need - capacity, 0, strips)
    if back and rng.random() < 0.6:
        help_ = np.where(lift > 0, 0.5 * by_pump, 0.0)
        by_pump, strip_heat = by_pump - help_, strip_heat + help_
    frost = np.where((outside < 4) & (outside > -8), 0.04, 0.01)
    healthy = by_pump / cop * (1 + frost) + strip_heat
    if kind.startswith("aux"):
        by_pump, strip_heat = np.where(acts, 0.0, by_pump), np.where(acts, np.minimum(need, strips), strip_heat)
    pump = by_pump / cop
    watts = _cycled(rng, pump_watts, pump * (1 + frost) / pump_watts, rng.uniform(18, 35))
    pump_over = np.clip(pump * (1 + frost) - pump_watts, 0, None)
    watts = watts + pump_over + _cycled(rng, strips, strip_heat / strips, rng.uniform(15, 30))
    excess = float((pump * (1 + frost) + strip_heat - healthy)[acts].sum()) / 12000.0
    cool = np.clip((outside - rng.uniform(20.5, 22.5) + 0.3 * gains) * loss * 1.3, 0, None) / 3.3
    cooler = cool / (0.75 if kind == "cooling" else 1.0)
    cool = np.where(acts, cooler, cool)
    cool_watts = pump_watts * 0.9
    watts = watts + _cycled(rng, cool_watts, cool / cool_watts, 25.0) + np.clip(cool - cool_watts, 0, None)
    if kind == "cooling":
        excess = float((0.25 * cool)[acts].sum()) / 12000.0
    if kind == "heater":
        runs = _cycled(rng, 1500.0, np.clip((11.0 - outside) / 18.0, 0, 0.9) * acts, 40.0)
        runs = np.where((clock > 7) & (clock < 23), runs, 0.4 * runs)
        watts, excess = watts + runs, float(runs.sum()) / 12000.0

    watts = watts + _cycled(rng, 140.0, np.full(len(clock), 0.4), 45.0) + rng.uniform(60, 140)
    watts = watts + _used(rng, 4500.0, 3.2, (7.0, 12.0, 20.0), 22) + _used(rng, 2400.0, 0.8, (18.0,), 40) * 0.7
    watts = watts + _used(rng, 4800.0, 0.5, (11.0, 19.0), 40) * 0.75 + _used(rng, 1500.0, 2.5, (7.0, 16.0), 5)
    dusk = 18.5 + 1.6 * np.sin(2 * np.pi * (np.repeat(doy, SLOTS) - 80) / 365.25)
    watts = watts + np.where((clock > dusk) & (clock < 23), 250.0, 0.0) * np.repeat(rng.uniform(0.6, 1.4, DAYS), SLOTS)
    watts = watts + np.where((clock > 7) & (clock < 23), 180.0, 0.0) * np.repeat(rng.uniform(0.5, 1.6, DAYS), SLOTS)
    for _ in range(3):
        gone = int(rng.integers(20, DAYS - 20))
        watts[gone * SLOTS : (gone + int(rng.integers(2, 7))) * SLOTS] *= 0.8
    if kind == "constant":
        watts, excess = watts + 300.0 * acts, 0.3 * float(acts.sum()) / 12.0
    if kind == "meter":
        excess = 0.15 * float(watts[acts].sum()) / 12000.0
        watts = watts * np.where(acts, 1.15, 1.0)

    reads = [0]
    while reads[-1] + 34 < DAYS:
        reads.append(reads[-1] + int(rng.integers(28, 34)))
    total = np.concatenate([[0.0], np.cumsum(watts) / 12000.0])
    register = [int(total[at * SLOTS + int(rng.uniform(8, 15) * 12)]) if at else 0 for at in reads]
    days = [FIRST + timedelta(days=int(at)) for at in reads]
    bills = [
        {"start": a, "end": b, "kwh": float(k - j)}
        for a, b, j, k in zip(days, days[1:], register, register[1:], strict=False)
    ]
    loads = [
        {"load": "Refrigerator", "watts": 140, "run_hours": 24, "share_on": 0.4, "follows": "always"},
        {"load": "Router and standby", "watts": 100, "run_hours": 24, "follows": "always"},
        {"load": "Lights", "watts": 250, "run_hours": 4.5},
        {"load": "Television and computers", "watts": 180, "run_hours": 9},
        {"load": "Electric range", "watts": 2400, "run_hours": 0.5},
        {"load": "Clothes dryer", "watts": 4800, "run_hours": 0.3},
        {"load": "Water heater", "watts": 4500, "run_hours": 1.3},
        {"load": "Air conditioner", "watts": round(cool_watts, -1), "follows": "cooling"},
    ]
    if listed:
        loads.append({"load": "Heat pump", "watts": round(pump_watts, -1), "follows": "heating"})
    weather = pd.DataFrame(
        {"date": [FIRST + timedelta(days=int(d)) for d in day], "tmean": (mean + rng.normal(0, 0.3, DAYS)).round(1)}
    )
    interval = None
    if minutes:
        width = minutes // 5
        local = pd.date_range(FIRST, periods=DAYS * SLOTS // width, freq=f"{minutes}min", tz="Etc/GMT+5")
        kwh = np.floor(total[::width] * 100 + 1e-6) / 100
        interval = pd.Series(np.diff(kwh).round(3), index=local)
    made = reconcile.House.from_frames(
        bills,
        loads,
        weather,
        interval,
        timezone=ZONE if not minutes else "Etc/GMT+5",
        floor_area=f"{int(loss * 9)} ft^2",
        occupants=3,
        heating_fuel="electric",
        water_heating_fuel="electric",
    )
    when = (None if at is None else FIRST + timedelta(days=int(at)) for at in (begin, end))
    return Pumped(made, kind, *when, excess)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--homes", type=int, default=10)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--kinds", nargs="*", default=tuple(RIGHT))
    parser.add_argument("--steps", nargs="*", type=int, default=(0, 60, 15))
    parser.add_argument("--unlisted", action="store_true")
    parser.add_argument("--verbose", action="store_true")
    asked = parser.parse_args()
    for kind in asked.kinds:
        for minutes in asked.steps:
            named = wrong = sure = meter = 0
            for seed in range(asked.first, asked.first + asked.homes):
                made = house(kind, seed, minutes, listed=not asked.unlisted)
                answer = reconcile.reconcile(made.house)
                told = {c.code: c.probability for c in answer.causes}
                right = max((told.get(code, 0.0) for code in RIGHT[kind]), default=0.0)
                other = [p for code, p in told.items() if code not in (*RIGHT[kind], "none", "unlisted")]
                most = max(other, default=0.0)
                named += right >= 0.5 and right > most
                wrong += most > 0.5
                sure += most > 0.9
                meter += max(told.get(code, 0.0) for code in ("meter-step", "meter-always", "meter-low")) > 0.2
                if asked.verbose:
                    size = [
                        f"{c.code} {c.probability:.2f} {c.size or 0:.0f} "
                        f"[{c.size_low or 0:.0f}..{c.size_high or 0:.0f}] {c.since} to {c.until} {c.kwh or 0:.0f} kWh"
                        for c in answer.causes
                        if c.probability > 0.1 and c.code != "none"
                    ]
                    truth = f"{made.begin} to {made.end} {made.kwh:.0f} kWh"
                    print(f"    {seed} {truth} | {answer.verdict.decision} | {'; '.join(size)}", flush=True)
            said = f"named {named}, wrong .5 {wrong}, .9 {sure}, meter {meter}"
            print(f"{kind:14s} {minutes:2d} min: of {asked.homes}: {said}", flush=True)


if __name__ == "__main__":
    main()
