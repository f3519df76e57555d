"""Coverage: does a 95 % band hold 95 % of bills where the stated limits are honest, and how many false alarms?

    python tests/benchmarks/coverage.py --houses 200

Bills of one house share its list's errors, so the doubt of a share is reckoned from house to house. The range that is
shown holds all bills of a house together; beside it the range of one bill by itself, which its own kWh has no part in,
is held to its 95 %. Two more simulators, which share no code with the two worlds, are tried too: *bare* homes with
neither list nor weather, and homes by the hour with their bills alone (*hourly*) and with the download beside them
(*hours*). Everybody there is away once or twice for four to ten days: a bill that holds such days stands out rightly
where no data show them, and is not counted.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from multiprocessing import get_context
from pathlib import Path

import bare_houses
import hourly_homes
import numpy as np
from kinds import WORLDS
from simulate import simulate
from tables import share

import reconcile
from reconcile.grounds import ranges
from reconcile.house import House
from reconcile.result import Period

HONEST = ("healthy", "healthy-exchange", "spells", "price-rise")
"""Kinds in which every bill is as the house is."""


@dataclass(frozen=True)
class Covered:
    """One house: the share of its bills inside each band, and which way it was flagged."""

    inventory: float
    usual: float
    over: int
    under: int
    bills: int
    above: float
    """Share of bills above the inventory band."""
    width: float
    """Median half width of the usual band as part of the usual kWh."""
    inventory_width: float
    usual_above: float
    alone: float
    """Share of its bills inside the range of one bill by itself."""


OTHERS = ("hourly", "hours", "bare")
BY_THE_HOUR = ("plain", "hot summer", "cold spell", "pool", "standard time")


def house_of(world: str, at: int, seed: int) -> tuple[House, frozenset[date]]:
    """One honest house, and the first days of bills that hold days away which nothing shows."""
    if world in ("hourly", "hours"):
        home = hourly_homes.home(BY_THE_HOUR[at % len(BY_THE_HOUR)], seed)
        shown = hourly_homes.BEGINS if world == "hours" else hourly_homes.DAYS
        away = [hourly_homes.FIRST + timedelta(days=int(day)) for day in np.flatnonzero(home.away[:shown])]
        house = home.house if world == "hours" else replace(home.house, interval=None)
        return house, frozenset(bill.start for bill in house.bills if any(bill.start <= day < bill.end for day in away))
    if world == "bare":
        return bare_houses.house("in order", seed), frozenset()
    return simulate(HONEST[at % len(HONEST)], world, seed).house, frozenset()  # type: ignore[arg-type]


def counted(house: House, leave: frozenset[date]) -> list[Period]:
    """Rows of the answer that are judged, but those of bills that stand out rightly."""
    return [row for row in reconcile.reconcile(house).rows if row.flag != "not-judged" and row.start not in leave]


def each_by_itself(house: House, leave: frozenset[date]) -> float:
    """Share of the bills inside ranges that hold one bill at the stated coverage, and not all of them together."""
    together = ranges.joint
    ranges.joint = lambda coverage, bills: coverage
    try:
        rows = counted(house, leave)
    finally:
        ranges.joint = together
    return float(np.mean([row.flag == "within" for row in rows]))


def cover(job: tuple[str, int, int]) -> Covered:
    """Weigh one honest house."""
    house, leave = house_of(*job)
    rows = counted(house, leave)

    def column(name: str) -> np.ndarray:
        return np.array([np.nan if getattr(row, name) is None else getattr(row, name) for row in rows], dtype=float)

    billed = column("billed_kwh")
    low, high, usual_low, usual_high = map(column, ("low_kwh", "high_kwh", "usual_low_kwh", "usual_high_kwh"))
    return Covered(
        float(np.mean((billed >= low) & (billed <= high))),
        float(np.mean((billed >= usual_low) & (billed <= usual_high))),
        sum(row.flag == "over" for row in rows),
        sum(row.flag == "under" for row in rows),
        len(rows),
        float(np.mean(billed > high)),
        float(np.median((usual_high - usual_low) / 2 / column("usual_kwh"))),
        float(np.median((high - low) / 2 / column("expected_kwh"))),
        float(np.mean(billed > usual_high)),
        each_by_itself(house, leave),
    )


def run(houses: int, world: str, start: int, workers: int) -> list[Covered]:
    """Weigh many honest houses."""
    jobs = [(world, k, start + k) for k in range(houses)]
    if workers <= 1:
        return [cover(job) for job in jobs]
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        return list(pool.map(cover, jobs, chunksize=8))


def mean_and_doubt(values: Sequence[float]) -> tuple[float, float]:
    """Mean over houses and its standard error."""
    array = np.asarray(values)
    return float(array.mean()), float(array.std(ddof=1) / np.sqrt(len(array)))


def report(world: str, covered: Sequence[Covered]) -> str:
    """What was seen, in words."""
    lines = [f"== {world} world, {len(covered)} honest houses, {sum(c.bills for c in covered)} bills =="]
    for name, values, above in (
        ("inventory band", [c.inventory for c in covered], [c.above for c in covered]),
        ("usual band", [c.usual for c in covered], [c.usual_above for c in covered]),
    ):
        if world == "bare" and name == "inventory band":
            continue
        mean, doubt = mean_and_doubt(values)
        missed = f"above it {100 * np.mean(above):.1f} %"
        lines.append(f"  {name:16s} holds {100 * mean:.1f} % +/- {196 * doubt:.1f} ({missed})")
    together = [float(c.usual == 1.0) for c in covered]
    lines.append(f"  usual bands hold all bills of {share(int(sum(together)), len(together))} houses (95 % wanted)")
    mean, doubt = mean_and_doubt([c.alone for c in covered])
    lines.append(f"  range of one bill by itself holds {100 * mean:.1f} % +/- {196 * doubt:.1f} (95 % wanted)")
    flagged = sum(bool(c.over or c.under) for c in covered)
    over = sum(bool(c.over) for c in covered)
    lines.append(f"  houses with any flag {share(flagged, len(covered))}; with a high one {over}")
    lines.append(
        f"  half width in the median: inventory {100 * np.median([c.inventory_width for c in covered]):.0f} %, "
        f"usual {100 * np.median([c.width for c in covered]):.1f} %"
    )
    return "\n".join(lines)


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the coverage of both bands in both worlds."""
    parser = argparse.ArgumentParser(description="Coverage of the bands on honest houses.")
    parser.add_argument("--houses", type=int, default=200)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--worlds", nargs="+", default=[*WORLDS, *OTHERS], choices=[*WORLDS, *OTHERS])
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args(arguments)
    text = "\n".join(report(world, run(asked.houses, world, asked.start, asked.jobs)) for world in asked.worlds) + "\n"
    print(text)
    if asked.out:
        asked.out.mkdir(parents=True, exist_ok=True)
        (asked.out / f"coverage-{datetime.now():%m%d-%H%M%S}.txt").write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
