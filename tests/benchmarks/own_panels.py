"""Houses with panels: are they named when half of them fails, and left alone when nothing happened?

    python tests/benchmarks/own_panels.py --seeds 40

The houses are those of the other benches; panels make by the sun's height day by day under clouds that last, and the
house takes hour by hour what it can of them. Wanted: panels halved in mid-year named first in .8.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta

import numpy as np
from kinds import WORLDS, World
from simulate import simulate, streams
from tables import share

from reconcile import reconcile
from reconcile.house import House

DECLINATION = 23.44
HOURS = np.arange(24) + 0.5


def clear_day(latitude: float, day_of_year: int) -> np.ndarray:
    """Sine of the sun's height each hour of a day, none below the horizon."""
    tilt = np.radians(DECLINATION) * np.sin(2 * np.pi * (day_of_year - 80) / 365.25)
    high = np.sin(np.radians(latitude)) * np.sin(tilt)
    high += np.cos(np.radians(latitude)) * np.cos(tilt) * np.cos(np.pi * (HOURS - 12) / 12)
    return np.maximum(high, 0.0)


def with_panels(
    seed: int, world: World, *, halved: int | None, expected: bool = False, net: bool = False, left: float = 0.5
) -> House:
    """The same house with panels that make a good half of its use; from one bill on half of them make nothing.

    ``left``: the part that they make from then on, where it is not half.
    ``expected``: what they should make is on the bills, from clear days alone. ``net``: the bills give only what is
    left.
    """
    home = simulate("healthy", world, seed).house
    (rng,) = streams("panels", world, seed, 1)
    latitude, size = float(rng.uniform(25, 52)), float(rng.uniform(0.45, 0.8))
    year = np.array([clear_day(latitude, d) for d in range(366)])
    total, days = sum(bill.kwh or 0.0 for bill in home.bills), sum(bill.days for bill in home.bills)
    scale = size * total / days / (year.sum(axis=1).mean() * 0.6)
    clouds, cloud, bills = 0.0, [], []
    for i, bill in enumerate(home.bills):
        made, sent, clear = 0.0, 0.0, 0.0
        a_day = (bill.kwh or 0.0) / bill.days
        for n in range(bill.days):
            clouds = 0.6 * clouds + float(rng.normal(0, 0.35))
            day = year[(bill.start + timedelta(days=n)).timetuple().tm_yday - 1]
            part = float(np.clip(0.6 + 0.35 * np.tanh(clouds), 0.1, 1.0))
            cloud.append(part)
            made_hours = scale * part * day * (left if halved is not None and i >= halved else 1.0)
            use_hours = a_day * rng.gamma(2.0, 0.5, 24) * (1.0 + 0.5 * np.cos(np.pi * (HOURS - 19) / 12)) / 24
            made, sent = made + made_hours.sum(), sent + np.maximum(made_hours - use_hours, 0.0).sum()
            clear += 0.6 * scale * day.sum()
        delivered = (bill.kwh or 0.0) - made + sent
        kwh = float(round(delivered - sent))
        bills.append(
            replace(
                bill,
                kwh=kwh,
                delivered_kwh=None if net else float(round(delivered)),
                received_kwh=None if net else float(round(sent)),
                expected_generation_kwh=float(round(clear)) if expected else None,
                reading_start=None,
                reading_end=None,
                amount=None,
            )
        )
    return replace(home, bills=tuple(bills), generation=True, tariffs=())


def main(arguments: Sequence[str] | None = None) -> int:
    """Print what is named first."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--start", type=int, default=0)
    asked = parser.parse_args(arguments)
    for world in WORLDS:
        for expected in (False, True):
            for halved in (True, False):
                first: Counter[str] = Counter()
                decided: Counter[str] = Counter()
                for seed in range(asked.start, asked.start + asked.seeds):
                    at = 6 + seed % 7 if halved else None
                    said = reconcile(with_panels(seed, world, halved=at, expected=expected))
                    first[max(said.causes, key=lambda c: c.probability).code] += 1
                    decided[said.verdict.decision] += 1
                what = "halved" if halved else "in order"
                right = first["generation-fall"] if halved else first["none"]
                print(
                    f"  {world:6s} panels {what:8s} {'course told' if expected else '':11s}: right first "
                    f"{share(right, asked.seeds)}; {dict(first.most_common())}; {dict(decided)}",
                    flush=True,
                )
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
