"""Sizes: are the stated per cent and watts those that are true, and do their limits hold them?

    python tests/benchmarks/sizes.py --seeds 20

Bills of houses in order are stepped by hand at one reading: every bill after it times a factor (a meter, at a recorded
exchange), or so many watts more. Every size has houses of its own: limits that one house's habits miss are missed for
all its sizes. *Exact* houses are billed what their list expects. The cause asked is the likeliest of the right code,
however unlikely. Errors of loads are in watts, and in points of the house's use as those of meters are. They are also
given for those that are dated right and for those that are held likely: where few are, a size is that of the onset
which the scatter helped, and no bias of the fit.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from simulate import simulate
from tables import share

from reconcile import paper, reconcile
from reconcile.house import House, Meter
from reconcile.result import Cause
from reconcile.weigh.model import build

METER_PERCENT = (-50, -30, 20, 30, 50, 100)
LOAD_WATTS = (150, 300, 600)
LIKELY = 0.5
FAST, SLOW = ("meter-step",), ("meter-low",)


def stepped(home: House, onset: int, *, percent: float = 0.0, watts: float = 0.0) -> House:
    """The same house with a meter that errs, or a load that runs, from one reading on; registers are left out."""
    bills = tuple(
        replace(
            bill,
            kwh=round((bill.kwh or 0.0) * (1 + percent / 100) + 0.024 * watts * bill.days, 1)
            if i >= onset
            else bill.kwh,
            reading_start=None,
            reading_end=None,
            amount=None,
            meter=("B" if i >= onset else "A") if percent else None,
        )
        for i, bill in enumerate(home.bills)
    )
    meters = (Meter(number="A"), Meter(number="B")) if percent else (Meter(),)
    return replace(home, bills=bills, meters=meters, tariffs=(), events=())


def exact(home: House) -> House:
    """The same house billed exactly what its list expects."""
    expected = build(home, paper.examine(home)).mean
    return replace(home, bills=tuple(replace(b, kwh=float(e)) for b, e in zip(home.bills, expected, strict=True)))


def used_watts(home: House) -> float:
    """What the house uses on the mean [W]."""
    return sum(bill.kwh or 0.0 for bill in home.bills) / sum(bill.days for bill in home.bills) / 0.024


def told(home: House, codes: Sequence[str]) -> Cause | None:
    """The likeliest cause of some codes."""
    causes = [cause for cause in reconcile(home).causes if cause.code in codes and cause.size is not None]
    return max(causes, key=lambda cause: cause.probability, default=None)


def _median(error: Sequence[float], chosen: Sequence[bool]) -> str:
    """Median error of some, and how many they are."""
    some = [value for value, mine in zip(error, chosen, strict=True) if mine]
    return f"{np.median(some):+.1f} of {len(some)}" if some else "none"


def main(arguments: Sequence[str] | None = None) -> int:
    """Print bias and coverage of the stated sizes."""
    parser = argparse.ArgumentParser(description="Bias and limits of stated sizes.")
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--worlds", nargs="*", default=["exact", "plain", "unkind"])
    asked = parser.parse_args(arguments)
    for world in asked.worlds:
        inside_all = of_all = 0
        first = asked.start
        for kind, sizes in (("meter", METER_PERCENT), ("load", LOAD_WATTS)):
            for size in sizes:
                error, points, dated, likely, inside, missing = [], [], [], [], 0, 0
                first += asked.seeds
                for seed in range(first - asked.seeds, first):
                    home = simulate("healthy", "unkind" if world == "unkind" else "plain", seed).house
                    onset = 6 + seed % 7
                    if world == "exact":
                        home = exact(home)
                    change = {"percent": size} if kind == "meter" else {"watts": size}
                    codes = ("constant-load",) if kind == "load" else FAST if size > 0 else SLOW
                    cause = told(stepped(home, onset, **change), codes)
                    if cause is None or cause.size is None:
                        missing += 1
                        continue
                    error.append(cause.size - size)
                    points.append(100.0 * error[-1] / used_watts(home))
                    dated.append(cause.since == home.bills[onset].start)
                    likely.append(cause.probability >= LIKELY)
                    inside += (cause.size_low or 0.0) <= size <= (cause.size_high or 0.0)
                inside_all, of_all = inside_all + inside, of_all + len(error)
                unit = "%" if kind == "meter" else "W"
                of_use = f" ({np.median(points):+.1f} points)" if kind == "load" else ""
                print(
                    f"  {world:6s} {kind:5s} {size:+5d} {unit}: median error {np.median(error):+6.1f}{of_use}, "
                    f"95 % limits hold {share(inside, len(error))}, not named {missing}; "
                    f"dated right {_median(error, dated)}, likely {_median(error, likely)}"
                )
        print(f"  {world:6s} all: limits hold {share(inside_all, of_all)}")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
