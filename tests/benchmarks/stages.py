"""What each stage of checks does: a fast meter after quiet and main-off readings alone, and after a known load.

    python tests/benchmarks/stages.py --fast 400 --right 1000

Wanted: a meter fast by 20 % or more to which the bills leave one chance in twenty is never *explained* before a known
load was run, at most one in ten falls under that chance, and .97 end in a test once it was; a right meter never.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

from checks import with_checks
from kinds import KINDS, WORLDS
from simulate import simulate

import reconcile
from reconcile.costs import COSTS
from reconcile.house import House

FAST = ("meter-20-exchange", "meter-50-exchange", "meter-20", "meter-50", "meter-30-always")
RIGHT = tuple(name for name, kind in KINDS.items() if kind.meter_right)


def short_of_a_run(house: House) -> House:
    """The same house with its quiet and main-off readings alone."""
    test = house.field_test
    return house if test is None else replace(house, field_test=replace(test, runs=()))


def fast_meters(count: int, start: int) -> Counter[str]:
    """Follow fast meters through the stages."""
    told: Counter[str] = Counter()
    for job in range(count):
        kind, world = FAST[job % len(FAST)], WORLDS[job // len(FAST) % 2]
        case = simulate(kind, world, start + job)
        bills = reconcile.reconcile(case.house)
        checked = with_checks(case)
        quiet, run = reconcile.reconcile(short_of_a_run(checked)), reconcile.reconcile(checked)
        told["houses"] += 1
        told["tested once a known load was run"] += run.verdict.decision == "field-test"
        if (bills.verdict.meter_fast_probability or 0.0) >= COSTS.open_at:
            told["left one in twenty by the bills"] += 1
            told["of these, explained after the quiet readings"] += quiet.verdict.decision == "explained"
            told["of these, fell under one in twenty"] += (quiet.verdict.meter_fast_probability or 0.0) < COSTS.open_at
    return told


def right_meters(count: int, start: int) -> Counter[str]:
    """Count right meters sent to a test at each stage."""
    told: Counter[str] = Counter()
    for job in range(count):
        kind, world = RIGHT[job % len(RIGHT)], WORLDS[job // len(RIGHT) % 2]
        case = simulate(kind, world, start + job)
        checked = with_checks(case)
        told["houses"] += 1
        told["tested from bills"] += reconcile.reconcile(case.house).verdict.field_test_warranted
        told["tested after the quiet readings"] += reconcile.reconcile(
            short_of_a_run(checked)
        ).verdict.field_test_warranted
        told["tested once a known load was run"] += reconcile.reconcile(checked).verdict.field_test_warranted
    return told


def main(arguments: Sequence[str] | None = None) -> int:
    """Run both and print them."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n")[0])
    parser.add_argument("--fast", type=int, default=400)
    parser.add_argument("--right", type=int, default=1000)
    parser.add_argument("--start", type=int, default=60000)
    options = parser.parse_args(arguments)
    begun = time.perf_counter()
    for name, told in (
        ("fast meters", fast_meters(options.fast, options.start)),
        ("right meters", right_meters(options.right, options.start)),
    ):
        print(name + ":", ", ".join(f"{what} {count}" for what, count in told.items()), flush=True)
    print(f"{time.perf_counter() - begun:.0f} s")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
