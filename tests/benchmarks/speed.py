"""Speed of ``reconcile(house)``, how it grows with the number of bills, and of a year of interval data by itself.

    python tests/benchmarks/speed.py

Times depend on the machine, so each is also given as a ratio to a fixed piece of numpy work done before and after it,
the median of several. They are of the processor, so that what else runs beside it counts for little.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import numpy as np
from checks import with_checks
from interval_signals import looked_at, simulated
from simulate import Case, simulate

import reconcile
from reconcile.house import House
from reconcile.paper import examine
from reconcile.read.in_memory.check_house import check_house
from reconcile.weigh.evidence import weigh
from reconcile.weigh.weighing import weigh_house

LENGTHS = (6, 12, 18, 24, 36, 60)


def yardstick() -> None:
    """A fixed amount of small linear algebra: forty inverses of an 18 x 18 matrix and forty products of 18 x 900."""
    rng = np.random.default_rng(0)
    wide = rng.standard_normal((18, 900))
    matrix = wide @ wide.T
    for _ in range(40):
        inverse = np.linalg.inv(matrix)
        np.sum((inverse @ wide) ** 2, axis=0)


def usual_ms(work: Callable[[], object], repeats: int) -> float:
    """Processor's time of some work [ms], the lower quartile, after one run to warm up."""
    work()
    return float(np.quantile([once_ms(work) for _ in range(repeats)], 0.25))


def beside_yardstick(work: Callable[[], object], repeats: int) -> tuple[float, float]:
    """Processor's time of some work [ms], and in yardsticks, which take turns with it: medians."""
    work()
    took, ratios = [], []
    for _ in range(repeats):
        before, own, after = (once_ms(each) for each in (yardstick, work, yardstick))
        took.append(own)
        ratios.append(2.0 * own / (before + after))
    return float(np.median(took)), float(np.median(ratios))


def once_ms(work: Callable[[], object]) -> float:
    """Processor's time of some work, done once [ms]."""
    began = time.process_time()
    work()
    return 1000 * (time.process_time() - began)


def with_loads(wanted: int, bills: int = 18) -> Case:
    """A healthy plain house with so many loads on its list."""
    for seed in range(1000):
        case = simulate("healthy", "plain", seed, bills=bills)
        if len(case.house.loads) == wanted:
            return case
    raise LookupError(f"no house with {wanted} loads")


def measure(repeats: int) -> list[str]:
    """The lines of the report."""
    unit = usual_ms(yardstick, repeats)
    lines = [f"yardstick {unit:.2f} ms"]

    def timed(name: str, work: Callable[[], object]) -> float:
        took, ratio = beside_yardstick(work, repeats)
        lines.append(f"{name:34s} {took:7.2f} ms, {ratio:6.2f} yardsticks")
        return took

    def line(name: str, house: House) -> float:
        return timed(name, lambda: reconcile.reconcile(house))

    case = with_loads(15)
    line("18 bills, 15 loads, made by hand", case.house)
    timed("  of it, held against its tables", lambda: check_house(case.house))
    line("the same as read from files", replace(case.house).through_gate())
    line("with checks entered, as read", with_checks(case).through_gate())
    weighing = weigh_house(case.house, examine(case.house))
    took_all = usual_ms(lambda: weigh(weighing.data, weighing.candidates), repeats)
    k, p = len(weighing.found.kind_index), weighing.candidates.persistent
    models = 1 + k + p * (p - 1) // 2 + p * (k - p)
    lines.append(f"{'  of it, ' + format(models, ',') + ' models weighed':34s} {took_all:7.2f} ms")
    year, *_ = next(simulated("load 200", 15, 1))
    timed("a year of 15 min, all signals", lambda: looked_at(year))
    took = [line(f"{n} bills", simulate("constant", "plain", 7, bills=n).house.through_gate()) for n in LENGTHS]
    slope = float(np.polyfit(np.log(LENGTHS[2:]), np.log(took[2:]), 1)[0])
    lines.append(f"grows as the number of bills to the power {slope:.2f} (from 18 to 60 bills)")
    return lines


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the times."""
    parser = argparse.ArgumentParser(description="Speed of one weighing and its growth with the number of bills.")
    parser.add_argument("--repeats", type=int, default=25)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args(arguments)
    text = "\n".join(measure(asked.repeats)) + "\n"
    print(text)
    if asked.out:
        asked.out.mkdir(parents=True, exist_ok=True)
        (asked.out / f"speed-{datetime.now():%m%d-%H%M%S}.txt").write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
