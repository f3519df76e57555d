"""What the whole answer makes of interval data: causes named and dated, from bills alone and with the data beside them.

    python tests/benchmarks/interval_answers.py                       simulated homes with a rough list
    python tests/benchmarks/interval_answers.py --real                one real home's minutes, no list and no weather

Each account has about fifteen monthly bills, and interval data for all but the first two. One change is put in at a
date drawn at random; ``exchange`` tells the household's diary of a meter exchanged that day, ``runs`` is an element
that goes on and off day and night. *Found*: the right cause has one half or more and leads; *.9*: it has nine tenths;
*near*: of the found ones, dated within 3 days; *false*: a meter cause over .2 where the meter is right. The real home
is read as ``interval_signals.py`` says.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
import itertools
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from pathlib import Path

import numpy as np
from tables import share

sys.path.insert(0, str(Path(__file__).parents[1]))
import data_homes
import switching_homes as homes
from interval_signals import real_columns

import reconcile
from reconcile.house import Band, Bill, Event, House, Interval

DAYS = data_homes.DAYS
NEAR_DAYS = 3
METER = ("meter-step", "meter-always", "meter-low", "old-meter-slow")
FALSE_OVER = 0.2
USUAL = (
    "as it is", "meter 5", "meter 10", "meter 20", "meter 10 exchange", "meter 20 exchange", "load 100", "load 200",
    "load 400", "timed 1000", "timed 500",
)  # fmt: skip
RUNS = ("runs 400",)
ALWAYS = ("heater as it is", "always 20")
"""A water heater of 4,500 W on the list, its watts within 5 %; the meter right, or a fifth fast since ever."""
CONFOUNDED = ("replaced", "most used replaced", "volts low, middle", "volts low, end", "new heater", "solar")

Case = tuple[House, date]
"""A house, and the day of its change."""


def since_of(seed: int) -> int:
    """Day of the change, counted from the first: in the data, 90 days of it on either side."""
    return int(np.random.default_rng([11, seed]).integers(data_homes.BEGINS + 90, DAYS - 90))


def clock_of(seed: int) -> tuple[float, float]:
    """Hour at which a timer switches on, and for how many hours: half of them by night, 4 h, others by day, 8 h."""
    rng = np.random.default_rng([14, seed])
    by_night = seed % 2 == 0
    return float(rng.choice([0, 1, 2, 22, 22.5, 23] if by_night else [8, 9, 9.5, 10])), 4.0 if by_night else 8.0


def parts_of(kind: str) -> tuple[float, float]:
    """Gain of the meter and watts of the load that a kind's name says."""
    words = kind.split()
    wrong = words[0] in ("meter", "always")
    return (float(words[1]) / 100.0 if wrong else 0.0), (float(words[1]) if words[0] in ("load", "runs") else 0.0)


def simulated(kind: str, minutes: int, count: int, volts: bool = False, start: int = 0) -> Iterator[Case]:
    """Simulated homes with their list, from a seed on."""
    gain, watts = parts_of(kind)
    known = kind == ALWAYS[0] or kind.startswith("always")
    seeds = (seed for seed in itertools.count(start) if not known or "water heater" in simulated_home(seed).watts)
    for seed in itertools.islice(seeds, count):
        day, made = since_of(seed), simulated_home(seed)
        if known:
            made, day = with_heater(made, seed), 0
        said = data_homes.listed(made, seed)
        if known:
            plate = {"watts": 4500.0, "watts_within_percent": 5.0, "source": "nameplate"}
            said = tuple(replace(load, **plate) if load.name == "water heater" else load for load in said)
        rng = np.random.default_rng([12, seed])
        back = None
        if kind.startswith("timed"):
            made = homes.with_timed(made, float(kind.split()[1]), clock_of(seed), day)
        elif watts:
            made = homes.with_runs(made, watts, day, seed) if "runs" in kind else homes.with_load(made, watts, day)
        elif kind == "replaced":
            names = [name for name in made.watts if name != "refrigerator"]
            made = homes.replaced(made, names[int(rng.integers(len(names)))], float(rng.choice([0.85, 1.1, 1.2])), day)
        elif kind == "most used replaced":
            made = homes.replaced(made, most_used(made), 1.1, day)
        elif kind == "volts low, middle":
            made = homes.low_volts(made, 0.03, day - 50, day + 40)
        elif kind == "volts low, end":
            made = homes.low_volts(made, 0.03, day, DAYS + 1)
        elif kind == "new heater":
            made = homes.new_heater(made, 1700.0, day, seed)
        elif kind == "solar":
            made, back = homes.solar(made, 5.0, day, seed)
        house = data_homes.billed(made, gain=gain, since=day, minutes=minutes, loads=said, volts=volts)
        if back is not None and house.interval is not None:
            sent = back[: len(back) // minutes * minutes].reshape(-1, minutes).mean(axis=1) * minutes / 60_000.0
            part = replace(house.interval, received_kwh=sent[-len(house.interval.kwh) :])
            house = replace(house, generation=True, interval=part)
        yield with_exchange(house, kind, made.first + timedelta(days=day)), made.first + timedelta(days=day)


def most_used(made: homes.Home) -> str:
    """Name of the appliance that takes most energy, the refrigerator aside."""
    return max((name for name in made.watts if name != "refrigerator"), key=lambda name: made.watts[name].sum())


def with_heater(made: homes.Home, seed: int) -> homes.Home:
    """The home with a water heater whose watts are within 5 % of what its plate says."""
    true = 4500.0 * float(np.clip(1.0 + np.random.default_rng(seed).normal(0, 0.025), 0.95, 1.05))
    heater = made.watts["water heater"]
    return replace(made, watts={**made.watts, "water heater": heater * (true / heater.max())})


@cache
def simulated_home(seed: int) -> homes.Home:
    return homes.home(seed, DAYS)


def with_exchange(house: House, kind: str, day: date) -> House:
    """The diary's line of a meter exchanged, where the kind says so."""
    return replace(house, events=(Event(day, "meter-exchange"),)) if kind.endswith("exchange") else house


def real(kind: str, minutes: int, count: int, volts: bool = True, start: int = 0) -> Iterator[Case]:
    """Parts of the real home's minutes as accounts of their own; *replaced*: all of one circuit is another size."""
    starts, kw, measured, circuits = minutes_of_the_real_home()
    gain, watts = parts_of(kind)
    for seed in range(start, start + count):
        rng = np.random.default_rng([13, seed])
        first, day = int(rng.integers(20, len(kw) // 1440 - DAYS - 1)), since_of(seed)
        part = slice(first * 1440, (first + DAYS) * 1440)
        acts = np.arange(DAYS * 1440) >= day * 1440
        if kind.startswith("timed"):
            acts, watts = acts & homes.timed(np.arange(DAYS * 1440), *clock_of(seed)), float(kind.split()[1])
        power = (kw[part] + watts / 1000.0 * acts) * np.where(np.arange(DAYS * 1440) >= day * 1440, 1.0 + gain, 1.0)
        if kind == "replaced":
            circuit = circuits[int(rng.integers(len(circuits)))][part]
            power = power + np.where(acts, (float(rng.choice([0.85, 1.1, 1.2])) - 1.0) * np.nan_to_num(circuit), 0.0)
        begins = starts[part].astype("datetime64[D]")[::1440].astype(date)
        daily = np.nansum(power.reshape(-1, 1440), axis=1) / 60.0
        bills = tuple(
            Bill(begins[a], begins[b], kwh=float(round(daily[a:b].sum())))
            for a, b in itertools.pairwise(range(0, DAYS - 20, 30))
        )
        kwh = np.round(power.reshape(-1, minutes).mean(axis=1) * minutes / 60.0, 4 if minutes < 5 else 3)
        mean_volts = measured[part].reshape(-1, minutes).mean(axis=1)
        kept = np.isfinite(kwh) & (np.arange(len(kwh)) >= data_homes.BEGINS * 1440 // minutes)
        data = Interval(
            starts[part][::minutes][kept], kwh[kept], minutes * 60, volts=mean_volts[kept] if volts else None
        )
        house = House("A real home", bills, timezone="UTC", interval=data, band=Band())
        yield with_exchange(house, kind, begins[day]), begins[day]


@cache
def minutes_of_the_real_home() -> tuple[np.ndarray, np.ndarray, np.ndarray, list[np.ndarray]]:
    """Starts, kW, volts, and what each of three circuits took of it [kW]."""
    starts, (kw, volts, *circuits) = real_columns(
        "Global_active_power", "Voltage", "Sub_metering_1", "Sub_metering_2", "Sub_metering_3"
    )
    return starts, kw, volts, [0.06 * circuit for circuit in circuits]  # of Wh in a minute


def line(kind: str, cases: Iterator[Case], verbose: bool = False) -> str:
    """What is said of one kind, as a line."""
    gain, watts = parts_of(kind)
    right = METER if gain else ("constant-load",) if watts else ("none",)
    right = ("timed-load",) if kind.startswith("timed") else right
    found, sure, near, alone, false, explained = [], [], [], [], [], []
    for house, day in cases:
        answers = [reconcile.reconcile(one) for one in (house, replace(house, interval=None))]
        chances = [{cause.code: cause.probability for cause in answer.causes} for answer in answers]
        wanted, without = (sum(said.get(code, 0.0) for code in right) for said in chances)
        rivals = max((chance for code, chance in chances[0].items() if code not in (*right, "none")), default=0.0)
        found.append(wanted >= 0.5 and wanted > rivals)
        sure.append(wanted >= 0.9)
        alone.append(without >= 0.5)
        explained.append(answers[0].verdict.decision == "explained")
        false.append(sum(chances[0].get(code, 0.0) for code in METER) > FALSE_OVER)
        since = [cause.since for cause in answers[0].causes if cause.code in right and cause.probability >= 0.5]
        if found[-1] and since and since[0] is not None:
            near.append(abs((since[0] - day).days) <= NEAR_DAYS)
        if verbose:
            change = None if answers[0].interval is None else answers[0].interval.gain
            if change is not None:
                one = change.change.to_dict()
                print("  ", *(one[key] for key in ("date", "low", "high", "percent", "standard_uncertainty_percent")))
            told = {code: round(chance, 2) for code, chance in chances[0].items() if chance > 0.03}
            print(f"   {wanted:.2f} {without:.2f} {day} {since}", told, answers[0].verdict.decision)
    text = f"found {share(sum(found), len(found))}; .9 {sum(sure)}; bills alone {sum(alone)}"
    if near:
        text += f"; near {sum(near)}/{len(near)}"
    if right == ("none",):
        text = f"explained {share(sum(explained), len(explained))}"
    return text + ("" if gain else f"; false {sum(false)}")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--homes", type=int, default=20)
    parser.add_argument("--start", type=int, default=0, help="first seed")
    parser.add_argument("--minutes", type=int, nargs="*", default=(1, 5, 15, 30, 60))
    parser.add_argument("--kinds", nargs="*")
    parser.add_argument("--real", action="store_true")
    parser.add_argument("--volts", action="store_true", help="simulated data carry volts, real ones do not")
    parser.add_argument("--verbose", action="store_true")
    asked = parser.parse_args()
    kinds = asked.kinds or (USUAL + CONFOUNDED[:1] if asked.real else USUAL + RUNS + CONFOUNDED + ALWAYS)
    for minutes in asked.minutes:
        for kind in kinds:
            make = real if asked.real else simulated
            cases = make(kind, minutes, asked.homes, asked.volts != asked.real, asked.start)
            print(f"{minutes:3d} min  {kind:20s} {line(kind, cases, asked.verbose)}", flush=True)


if __name__ == "__main__":
    main()
