"""What days of weather that are missing do to the answer: no cause and no mark that the whole record does not give.

``python tests/benchmarks/weather_cuts.py --cuts 40`` cuts the weather of every sample house;
``--simulated 60`` does so to simulated honest houses; ``--power 60`` compares how often a real 400 W load is named.
"""

from __future__ import annotations

import argparse
import random
import sys
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

if __name__ == "__main__":
    sys.path[:0] = [str(Path(__file__).parents[2]), str(Path(__file__).parent)]

from simulate import simulate

from reconcile.answer import reconcile
from reconcile.house import House
from reconcile.read import read_house
from reconcile.result import Reconciliation

SAMPLES = Path(__file__).parents[2] / "sample_bills"
CUTS = ("start", "end", "hole", "holes", "a month gone", "a month kept", "a day kept", "days here and there")
LEAST = 0.5
"""Chance from which a cause counts as named."""


def cut(house: House, way: str, dice: random.Random) -> House:
    """Return the house with days of its weather gone."""
    assert house.weather is not None
    mean_c = house.weather.mean_c.copy()
    n = len(mean_c)
    length = dice.randint(20, max(n // 2, 21))
    if way == "none":
        return replace(house, weather=None)
    if way == "nine months":
        mean_c[274:] = np.nan
    elif way == "start":
        mean_c[:length] = np.nan
    elif way == "end":
        mean_c[n - length :] = np.nan
    elif way == "hole":
        at = dice.randrange(max(n - length, 1))
        mean_c[at : at + length // 2] = np.nan
    elif way == "holes":
        for _ in range(dice.randint(2, 5)):
            at = dice.randrange(n)
            mean_c[at : at + dice.randint(5, 60)] = np.nan
    elif way in ("a month gone", "a month kept"):
        at = dice.randrange(max(n - 30, 1))
        kept = mean_c[at : at + 30].copy()
        mean_c[at : at + 30] = np.nan
        if way == "a month kept":
            mean_c[:] = np.nan
            mean_c[at : at + 30] = kept
    elif way == "a day kept":
        at = dice.randrange(n)
        kept = mean_c[at]
        mean_c[:] = np.nan
        mean_c[at] = kept
    else:
        share = dice.uniform(0.05, 0.6)
        mean_c[[dice.random() < share for _ in range(n)]] = np.nan
    return replace(house, weather=replace(house.weather, mean_c=mean_c))


def named(answer: Reconciliation) -> set[str]:
    """Causes with more than one half; a meter fast from a day on or always is one news."""
    alike = {"meter-always": "meter-step"}
    return {alike.get(c.code, c.code) for c in answer.causes if c.probability > LEAST and c.code != "none"}


def more(whole: Reconciliation, part: Reconciliation) -> str | None:
    """Say what an answer claims that another does not; None where nothing.

    A mark on a bill that the whole record gives to a lasting rise is nothing new.
    """
    causes = named(part) - named(whole)
    flags = [
        f"{n} {b.flag}"
        for n, (a, b) in enumerate(zip(whole.rows, part.rows, strict=True))
        if b.flag in ("over", "under") and a.flag != b.flag and a.part_of is None
    ]
    if not causes and not flags:
        return None
    before = {c.code: round(c.probability, 2) for c in whole.causes if c.probability > 0.1}
    after = {c.code: round(c.probability, 2) for c in part.causes if c.probability > 0.1}
    return f"flags {flags}, causes {before} -> {after}"


def cuts_of_samples(cuts: int, seed: int, names: Sequence[str]) -> None:
    """Cut the weather of the sample houses."""
    tried: Counter[str] = Counter()
    wrong: Counter[str] = Counter()
    for folder in sorted(SAMPLES.iterdir()):
        if not (folder / "weather.csv").exists() or (names and folder.name not in names):
            continue
        house = read_house(folder)
        whole = reconcile(house)
        for number in range(cuts):
            way = CUTS[number % len(CUTS)]
            said = more(whole, reconcile(cut(house, way, random.Random(f"{folder.name} {number} {seed}"))))
            tried[folder.name] += 1
            tried[way] += 1
            if said:
                wrong[folder.name] += 1
                wrong[way] += 1
                print(f"{folder.name} {number} {way}: {said}", flush=True)
    for name, count in tried.items():
        print(f"{count - wrong[name]:4d} of {count:4d} clean  {name}")


def simulated(houses: int, start: int, world: str, ways: Sequence[str], kind: str) -> None:
    """Cut the weather of simulated houses in order."""
    wrong: Counter[str] = Counter()
    for seed in range(start, start + houses):
        house = simulate(kind, world, seed).house  # type: ignore[arg-type]
        whole = reconcile(house)
        wrong["whole"] += bool(named(whole))
        for way in ways:
            part = reconcile(cut(house, way, random.Random(f"{seed} {way}")))
            said = more(whole, part)
            wrong[way] += said is not None
            if said:
                print(f"{kind} {world} {seed} {way}: {said}", flush=True)
    for way in ("whole", *ways):
        print(f"{houses - wrong[way]:4d} of {houses:4d} clean  {way}")


def power(houses: int, start: int, world: str) -> None:
    """Count how often a real 400 W load is named, with all its weather and with nine months of it."""
    found: Counter[str] = Counter()
    tried = 0
    for seed in range(start, start + 20 * houses):
        case = simulate("constant", world, seed)  # type: ignore[arg-type]
        if not 300.0 <= case.truth.size_watts <= 500.0:
            continue
        tried += 1
        for way in ("whole", "nine months"):
            house = case.house if way == "whole" else cut(case.house, way, random.Random(seed))
            found[way] += bool(named(reconcile(house)) & (case.truth.codes | {"constant-load"}))
        if tried == houses:
            break
    print(f"{world}, {tried} houses: whole {found['whole']}, nine months {found['nine months']}")


def main() -> None:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cuts", type=int, default=0)
    parser.add_argument("--simulated", type=int, default=0)
    parser.add_argument("--power", type=int, default=0)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--world", default="plain")
    parser.add_argument("--kind", default="healthy")
    parser.add_argument("--ways", default="none,start,end,hole,holes,a month gone")
    parser.add_argument("--houses", default="", help="names of sample houses")
    given = parser.parse_args()
    if given.cuts:
        cuts_of_samples(given.cuts, given.seed, [name for name in given.houses.split(",") if name])
    if given.simulated:
        simulated(given.simulated, given.seed, given.world, given.ways.split(","), given.kind)
    if given.power:
        power(given.power, given.seed, given.world)


if __name__ == "__main__":
    main()
