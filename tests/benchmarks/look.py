"""Look at one simulated house: what is true, what is written, and what the program says at both stages.

python tests/benchmarks/look.py meter-20 unkind 4
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from collections.abc import Sequence

from checks import with_checks
from hand import listed_kwh
from kinds import KINDS, WORLDS
from simulate import Case, simulate

import reconcile
from reconcile.result import Reconciliation


def bills(case: Case, said: Reconciliation) -> list[str]:
    """The bills beside both bands and the energy that was truly trouble."""
    lines = ["  start       days billed  true  trouble | list    low   high | usual   low   high  flag"]

    def cell(value: float | None) -> str:
        return "     -" if value is None else f"{value:6.0f}"

    for i, row in enumerate(said.rows):
        bill = case.house.bills[i]
        truth = f"{case.truth.true_kwh[i]:6.0f} {case.truth.parts_kwh['trouble'][i]:6.0f}"
        band = " ".join(map(cell, (row.expected_kwh, row.low_kwh, row.high_kwh)))
        usual = " ".join(map(cell, (row.usual_kwh, row.usual_low_kwh, row.usual_high_kwh)))
        meter = "" if i == 0 or bill.meter == case.house.bills[i - 1].meter else " new meter"
        read = "" if bill.read_type == "actual" else f" {bill.read_type}"
        lines.append(
            f"  {bill.start} {bill.days:4d} {cell(bill.kwh)} {truth} | {band} | {usual}  {row.flag}{meter}{read}"
        )
    return lines


def loads(case: Case) -> list[str]:
    """Each load: what the list says by plain multiplication, and what it truly took."""
    house, parts = case.house, case.truth.parts_kwh
    lines = ["  load                    listed    true kWh"]
    for load in house.loads:
        lines.append(f"  {load.name:22s} {listed_kwh(house, load).sum():7.0f} {parts[load.name].sum():7.0f}")
    days = sum(bill.days for bill in house.bills)
    stated = house.band.unlisted_kwh_per_day
    rest = "      -" if stated is None else f"{stated * days:7.0f}"
    lines.append(f"  {'not listed':22s} {rest} {parts['not listed'].sum():7.0f}")
    return lines


def answer(title: str, said: Reconciliation) -> list[str]:
    """Decision, reasons and causes of one stage."""
    lines = [f"{title}: {said.verdict.decision}. {said.verdict.headline}"]
    lines += [f"  because {reason}" for reason in said.verdict.reasons]
    for cause in sorted(said.causes, key=lambda c: -c.probability):
        size = "" if cause.size is None else f" {cause.size:.0f} {cause.unit}"
        lines.append(f"  {cause.code:16s} {cause.probability:.2f} since {cause.since}{size}")
    lines += [f"  finding {finding.code} {finding.periods}: {finding.figures}" for finding in said.findings]
    return lines


def main(arguments: Sequence[str] | None = None) -> int:
    """Print everything about one house."""
    parser = argparse.ArgumentParser(description="Look at one simulated house.")
    parser.add_argument("kind", choices=list(KINDS))
    parser.add_argument("world", choices=WORLDS)
    parser.add_argument("seed", type=int)
    asked = parser.parse_args(arguments)
    case = simulate(asked.kind, asked.world, asked.seed)
    truth = case.truth
    first, final = reconcile.reconcile(case.house), reconcile.reconcile(with_checks(case))
    head = (
        f"{asked.kind}, {asked.world}, seed {asked.seed}: onset {truth.onset} (period {truth.onset_period}), meter "
        f"{truth.meter_error_percent:+.0f} %, {truth.constant_watts:.0f} W, size {truth.size_percent:.0f} %"
    )
    print("\n".join([head, *bills(case, first), *loads(case), *answer("Bills", first), *answer("Checks", final)]))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
