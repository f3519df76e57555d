"""What the answer makes of homes with electric heat where the meter, the heating or a load changed on some day.

    python tests/benchmarks/electric_homes.py --homes 12 --steps 60 15 --cases "as is" "heating 100" "meter 100"

Homes by the minute: rooms with baseboard and a thermostat each, an electric furnace in stages, or a heat pump with
strips; set points that fall by night in some, a water heater with draws and standing loss, boxes that cycle, people
whose ways wander and who are away now and then, cooling in some. *heating 50* has the same house ask for half more heat
from a day on, and the meter is right; *meter 50* counts half more of everything; *exchange* says the day in the diary.
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

DAYS, MINUTES, ZONE = 560, 1440, "America/Denver"
METER = ("meter-step", "meter-always", "meter-low", "old-meter-slow")
CASES = (
    "as is", "heating 50", "heating 100", "meter 30", "meter 50", "meter 100", "meter 50 exchange", "load 300",
)  # fmt: skip
SYSTEMS = ("baseboard", "furnace", "pump")


@dataclass(frozen=True)
class Made:
    """A home as it is entered, and the day of its change."""

    house: reconcile.House
    system: str
    day: date


def _blocks(rng: np.random.Generator, duty: Floats, minutes: float) -> NDArray[np.bool_]:
    """When something is on that runs for a part of each of its cycles, by the minute."""
    phase = rng.random() + np.cumsum(rng.uniform(0.85, 1.15, len(duty)) / minutes)
    return (phase % 1.0) < duty


def _runs(rng: np.random.Generator, ways: Floats, hours: tuple[float, ...], minutes: float, spread: float) -> Floats:
    """Marks 1 while something runs that people start about some hours, as often a day as their ways say."""
    on = np.zeros(DAYS * MINUTES)
    for day, often in enumerate(ways):
        for _ in range(rng.poisson(often)):
            at = day * MINUTES + int(60 * (rng.choice(hours) + rng.normal(0, spread)) % MINUTES)
            on[at : at + max(1, int(minutes * rng.lognormal(0, 0.25)))] = 1.0
    return on


def _heat(rng: np.random.Generator, system: str, need: Floats, outside: Floats, peak: float) -> Floats:
    """Electric power that gives so much heat [W], by the minute."""
    if system == "baseboard":
        rooms = int(rng.integers(4, 8))
        parts = rng.dirichlet(np.full(rooms, 5.0))
        power = np.zeros(len(need))
        for part in parts:
            watts = 250.0 * np.ceil(1.5 * part * peak / 250.0)
            power += watts * _blocks(rng, np.minimum(part * need / watts, 1.0), rng.uniform(6, 25))
        return power
    if system == "furnace":
        stages = max(1, int(np.ceil(1.4 * peak / 5000.0)))
        duty = np.minimum(need / (5000.0 * stages), 1.0)
        return 5000.0 * stages * _blocks(rng, duty, rng.uniform(12, 30)) + 400.0 * (duty > 0.02)
    gives = peak * rng.uniform(0.6, 0.95) * np.clip(1.0 + 0.025 * (outside + 8.0), 0.5, 2.2)
    draws = peak * 0.33
    by_pump = np.minimum(need, gives)
    efficiency = np.clip(3.0 + 0.06 * (outside - 7.0), 1.5, 4.0)
    compressor = draws * _blocks(rng, np.minimum(by_pump / efficiency / draws, 1.0), rng.uniform(15, 40))
    more = np.maximum(by_pump / efficiency - draws, 0.0)
    strips = 5000.0 * np.ceil(peak / 5000.0)
    return compressor + more + strips * _blocks(rng, np.minimum((need - by_pump) / strips, 1.0), rng.uniform(8, 20))


def made(case: str, seed: int, minutes: int) -> Made:
    """Build one home.

    Parameters
    ----------
    case : str
        ``as is``; ``heating P`` or ``meter P``, P per cent more, perhaps followed by ``exchange``; ``load W``.
    seed : int
        The same home in all cases.
    minutes : int
        Step of the interval data [min].
    """
    rng = np.random.default_rng([seed, 4177])
    what, size = ("as", 0.0) if case == "as is" else (case.split()[0], float(case.split()[1]))
    first = date(2022, 1, 1) + timedelta(days=int(rng.integers(0, 365)))
    system = SYSTEMS[seed % len(SYSTEMS)]
    change = int(rng.integers(110, DAYS - 110))
    acts = np.repeat(np.arange(DAYS) >= change, MINUTES)

    of_year = (first.timetuple().tm_yday + np.arange(DAYS)) % 365.25
    spells = np.zeros(DAYS)
    for i in range(1, DAYS):
        spells[i] = 0.75 * spells[i - 1] + rng.normal(0, 2.2)
    mean_c = rng.uniform(7, 14) - rng.uniform(9, 13) * np.cos(2 * np.pi * (of_year - 18) / 365.25) + spells
    clock = np.tile(np.arange(MINUTES) / 60.0, DAYS)
    middles = np.interp(np.arange(DAYS * MINUTES), np.arange(DAYS) * MINUTES + MINUTES / 2, mean_c)
    swing = np.repeat(rng.uniform(3, 8, DAYS), MINUTES)
    outside = middles + swing * np.cos(2 * np.pi * (clock - 15.5) / 24)

    setback = rng.choice([0.0, 0.0, 2.0, 3.5])
    loss, balance = rng.uniform(110, 240), rng.uniform(14.5, 17.5)
    sun = np.repeat(rng.gamma(2.0, 1.2, DAYS), MINUTES) * np.clip(np.sin(np.pi * (clock - 7) / 11), 0, None)
    wind = np.repeat(rng.lognormal(0, 0.1, DAYS), MINUTES)
    felt = balance - np.where((clock > 22.5) | (clock < 5.5), setback, 0.0) - outside - sun
    # the house's mass: what is asked for follows by some hours
    need = loss * wind * np.maximum(felt, 0.0)
    hours = need.reshape(-1, 60).mean(axis=1)
    slow = hours.copy()
    for i in range(1, len(slow)):
        slow[i] = 0.75 * slow[i - 1] + 0.25 * hours[i]
    need = np.repeat(slow, 60) + np.where((clock >= 5.5) & (clock < 7.0), setback * 0.3, 0.0) * np.repeat(slow, 60)
    usual_peak = float(np.quantile(need, 0.995))
    more = 1.0 + (size / 100.0 * acts if what == "heating" else 0.0)
    power = _heat(rng, system, need * more, outside, usual_peak * (1.0 + (1.0 if what == "heating" else 0.4)))
    if system == "pump" or rng.random() < 0.4:
        hot = np.maximum(outside - rng.uniform(21, 24), 0.0) * loss / 3.0
        draws = max(900.0, float(np.quantile(hot, 0.999)))
        power += draws * _blocks(rng, np.minimum(hot / draws, 1.0), 20.0)
    peak_watts = float(np.quantile(power, 0.999))

    ways = np.exp(np.convolve(rng.normal(0, 0.12, DAYS + 40), np.ones(41) / 41**0.5, "valid") * 0.5)
    people = int(rng.integers(1, 5))
    for _ in range(int(rng.integers(1, 4))):
        gone = int(rng.integers(5, DAYS - 12))
        ways[gone : gone + int(rng.integers(2, 9))] = 0.05
    always = rng.uniform(50, 160)
    power += always
    power += rng.uniform(90, 150) * _blocks(rng, np.clip(0.35 + 0.004 * (middles - 12), 0.2, 0.6), rng.uniform(35, 60))
    if rng.random() < 0.5:
        power += rng.uniform(80, 130) * _blocks(rng, np.full(len(power), 0.4), rng.uniform(40, 70))
    draws_min = _runs(rng, 1.2 * people * ways, (6.8, 7.5, 19.0, 21.5), 9.0, 0.8)
    # a water heater makes good what was drawn, and what it loses twice or three times a day
    owed, heater = 0.0, np.zeros(len(power))
    lost = 90.0 / 60.0
    drawn = draws_min * 19000.0 / 60.0 * (1.0 + 0.15 * np.cos(2 * np.pi * (np.repeat(of_year, MINUTES) - 40) / 365.25))
    owing = (drawn + lost).tolist()
    on, element = False, 4500.0 * rng.uniform(0.96, 1.02)
    per_minute, out = element / 60.0, []
    for each in owing:
        owed += each
        on = owed > 0 if on else owed > 900.0
        out.append(on)
        owed -= per_minute if on else 0.0
    heater[:] = element * np.array(out)
    power += heater
    sizes = {
        "Kettle": rng.uniform(1300, 1600),
        "Electric range": rng.uniform(1800, 2600),
        "Clothes dryer": rng.uniform(4700, 5600),
        "Dishwasher": rng.uniform(1000, 1300),
    }
    marks = {
        "Kettle": _runs(rng, rng.uniform(1, 3) * ways, (7.0, 10.0, 16.0), 4.0, 1.0),
        "Electric range": _runs(rng, 1.1 * ways, (12.0, 18.3), 30.0, 0.7),
        "Clothes dryer": _runs(rng, 0.15 * people * ways, (11.0, 18.0), 45.0, 2.0),
        "Dishwasher": _runs(rng, 0.55 * ways, (13.0, 20.5), 25.0, 0.7),
    }
    for name, watts in sizes.items():
        duty = _blocks(rng, np.full(len(power), 0.7), 6.0) if name in ("Electric range", "Clothes dryer") else 1.0
        power += watts * marks[name] * duty
    dusk = 18.4 + 1.7 * np.sin(2 * np.pi * (np.repeat(of_year, MINUTES) - 81) / 365.25)
    evening = rng.uniform(80, 260) * np.repeat(ways * rng.uniform(0.6, 1.4, DAYS), MINUTES)
    power += evening * ((clock > dusk) & (clock < 23)) + 0.7 * evening * ((clock > 6.5) & (clock < 23))
    if what == "load":
        power += size * acts
    gain = 1.0 + (size / 100.0 if what == "meter" else 0.0) * acts

    total = np.concatenate([[0.0], np.cumsum(power * gain) / 60_000.0])
    reads = [int(rng.integers(0, 5))]
    while reads[-1] + 34 < DAYS:
        reads.append(reads[-1] + int(rng.integers(28, 34)))
    at = [day * MINUTES for day in reads]
    days = [first + timedelta(days=day) for day in reads]
    bills = [
        {"start": a, "end": b, "kwh": float(round(total[k] - total[j]))}
        for a, b, j, k in zip(days, days[1:], at, at[1:], strict=False)
    ]
    loads = [
        {"load": "Refrigerators and standby", "watts": round(always + 60 * rng.normal(1, 0.15)), "run_hours": 24,
         "follows": "always"},
        {"load": "Lights and electronics", "watts": 200, "run_hours": round(12 * rng.normal(1, 0.2), 1)},
        {"load": "Water heater", "watts": 4500, "run_hours": round(heater[: 365 * MINUTES].mean() / element * 24
                                                                   * rng.normal(1, 0.15), 1)},
        *({"load": name, "watts": round(float(watts), -2),
           "run_hours": round(float(marks[name].mean() * 24 * rng.normal(1, 0.2)), 2)}
          for name, watts in sizes.items()),
        {"load": {"baseboard": "Baseboard heaters", "furnace": "Electric furnace", "pump": "Heat pump"}[system],
         "watts": round(peak_watts if system != "pump" else usual_peak * 0.33, -2), "follows": "heating"},
    ]  # fmt: skip
    if system == "pump":
        loads.append({"load": "Air conditioner", "watts": 2500, "follows": "cooling"})
    weather = pd.DataFrame(
        {
            "date": [first + timedelta(days=i) for i in range(DAYS)],
            "tmean": (mean_c + rng.normal(0, 0.4, DAYS)).round(1),
        }
    )
    begins = 30 * MINUTES if seed % 2 else 0
    local = pd.date_range(first, periods=DAYS * MINUTES // minutes, freq=f"{minutes}min", tz="Etc/GMT+7")
    kwh = np.diff(np.floor(total[::minutes] * 100 + 1e-6) / 100).round(3)
    day = first + timedelta(days=change)
    events = [{"date": day, "what": "meter-exchange"}] if case.endswith("exchange") else None
    house = reconcile.House.from_frames(
        bills,
        loads,
        weather,
        pd.Series(kwh, index=local)[begins // minutes :],
        timezone="Etc/GMT+7",
        floor_area=f"{int(loss * 9)} ft^2",
        occupants=people,
        heating_fuel="electric",
        water_heating_fuel="electric",
        **({"events": events} if events else {}),
    )
    return Made(house, system, day)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--homes", type=int, default=12)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--cases", nargs="*", default=CASES)
    parser.add_argument("--steps", nargs="*", type=int, default=(60, 15))
    parser.add_argument("--verbose", action="store_true")
    asked = parser.parse_args()
    for case in asked.cases:
        for minutes in asked.steps:
            meters, others = [], []
            for seed in range(asked.first, asked.first + asked.homes):
                one = made(case, seed, minutes)
                answer = reconcile.reconcile(one.house)
                told = {cause.code: cause for cause in answer.causes}
                meters.append(min(sum(told[code].probability for code in METER if code in told), 1.0))
                rest = {code: cause for code, cause in told.items() if code not in (*METER, "none", "unlisted")}
                others.append(max((cause.probability for cause in rest.values()), default=0.0))
                if asked.verbose:
                    said = "; ".join(
                        f"{code} {cause.probability:.2f} {cause.size or 0:.0f} {cause.since}"
                        for code, cause in told.items()
                        if cause.probability > 0.05
                    )
                    print(f"    {seed} {one.system} {one.day} | {answer.verdict.decision} | {said}", flush=True)
            chance, beside = np.array(meters), np.array(others)
            text = f"meter over .2 {(chance > 0.2).sum()}, at .5 {(chance >= 0.5).sum()}, mean {chance.mean():.2f}"
            print(
                f"{case:18s} {minutes:2d} min, {len(chance)}: {text}; another cause at .5 {(beside >= 0.5).sum()}",
                flush=True,
            )


if __name__ == "__main__":
    main()
