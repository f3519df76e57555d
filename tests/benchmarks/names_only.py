"""Lists of names and counts alone: does the band that follows from them hold the bills that it should?

    python tests/benchmarks/names_only.py --houses 200

Of a simulated house only the names of its loads are kept; watts and hours come from the handbook, what the list leaves
out from the survey's reference. The shares are of honest bills; their doubt is reckoned from house to house.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
import pandas as pd
from coverage import HONEST
from kinds import WORLDS, World
from simulate import simulate

from reconcile import paper
from reconcile.house import Band, Bill, House, Load
from reconcile.loads.handbook import find
from reconcile.previsit import estimate
from reconcile.weigh.bands import inventory_band
from reconcile.weigh.model import build


@dataclass(frozen=True)
class Named:
    """One house by its names alone."""

    inside: float
    """Share of its bills inside the band from the list."""
    above: float
    below: float
    width: float
    """Median half width as part of what is expected."""
    year_inside: float
    """Whether a year's use falls inside the pre-visit band; nan where the bills are shorter than a year."""
    month_inside: float
    """Share of bills inside the pre-visit band of their month."""
    ratio: float
    """Billed energy over expected."""


def by_name(house: House) -> House:
    """Return the house with only the names and counts of its loads, read as a person's list is."""
    known = [load for load in house.loads if find(load.name)]
    bills = pd.DataFrame({"start": ["2024-01-01"], "end": ["2024-02-01"], "kwh": [500.0]})
    loads = pd.DataFrame({"load": [load.name for load in known], "count": [load.count for load in known]})
    read: tuple[Load, ...] = House.from_frames(
        bills, loads, occupants=house.occupants, bedrooms=house.bedrooms, floor_area=f"{house.floor_area_m2} m^2"
    ).loads
    return replace(house, loads=read, band=Band())


def measure(kind: str, world: World, seed: int, *, weather: bool) -> Named:
    """Hold the bands of one honest house against its bills."""
    house = by_name(simulate(kind, world, seed).house)
    if not weather:
        house = replace(house, weather=None)
    facts = paper.examine(house)
    low, high = inventory_band(build(house, facts), house.band.coverage)
    billed = np.where(np.isfinite(facts.billed_kwh), facts.billed_kwh, np.nan)
    judged = np.isfinite(billed)
    said = estimate(replace(house, bills=(), readings=(), charges=()), date(2025, 1, 1))
    months = [said.months[_middle_month(bill) - 1] for bill in house.bills]
    days = np.array([bill.days for bill in house.bills], float)
    lows = np.array([m.low_kwh / m.days for m in months]) * days
    highs = np.array([m.high_kwh / m.days for m in months]) * days
    expected = np.array([m.expected_kwh / m.days for m in months]) * days
    year = np.flatnonzero(judged)[:12]
    total = billed[year].sum() * 365.25 / days[year].sum() if len(year) == 12 else np.nan
    return Named(
        float(np.mean((billed >= low) & (billed <= high), where=judged)),
        float(np.mean(billed > high, where=judged)),
        float(np.mean(billed < low, where=judged)),
        float(np.median((high - low) / (high + low))),
        float(said.year.low_kwh <= total <= said.year.high_kwh) if np.isfinite(total) else np.nan,
        float(np.mean((billed >= lows) & (billed <= highs), where=judged)),
        float(np.nansum(billed) / expected[judged].sum()),
    )


def _middle_month(bill: Bill) -> int:
    return date.fromordinal(bill.start.toordinal() + bill.days // 2).month


def main(arguments: Sequence[str] | None = None) -> int:
    """Print one line a world, with the weather and without."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--houses", type=int, default=100)
    parser.add_argument("--start", type=int, default=9000)
    chosen = parser.parse_args(arguments)
    print("world, weather: bills inside the list's band, above, below, half width; pre-visit months, years; ratio")
    for world in WORLDS:
        for weather in (True, False):
            found = [
                measure(HONEST[n % len(HONEST)], world, chosen.start + n, weather=weather) for n in range(chosen.houses)
            ]
            columns = [
                float(np.nanmean([getattr(one, name) for one in found]))
                for name in ("inside", "above", "below", "width", "month_inside", "year_inside")
            ]
            spread = float(np.std([one.inside for one in found], ddof=1) / np.sqrt(len(found)))
            ratio = float(np.median([one.ratio for one in found]))
            print(
                f"{world} {weather}:", *(f"{value:.3f}" for value in columns), f"+/- {1.96 * spread:.3f}; {ratio:.2f}"
            )
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
