"""The rules of speech over simulated, real and odd houses: every violation is printed, none is wanted.

    python tests/benchmarks/speech_rules.py --houses 2000

Simulated houses of every kind and world, as they are, with a quiet reading, and with all checks; every run of 12, 18
and 24 bills of the real home, as it is and made wrong in four ways.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

from checks import with_checks
from kinds import KINDS, WORLDS
from simulate import simulate

import reconcile
from reconcile.house import House

sys.path.insert(0, str(Path(__file__).parents[1]))
from speech import broken


def simulated(count: int, start: int) -> Iterator[tuple[str, House]]:
    """Houses of every kind and world in turn: bills alone, with a quiet reading, with every check."""
    kinds = tuple(KINDS)
    for made in range(count):
        turn, k = divmod(made, len(kinds))
        kind, world, seed = kinds[k], tuple(WORLDS)[(turn + k) % len(WORLDS)], start + turn // len(WORLDS)
        case = simulate(kind, world, seed)
        name = f"{kind} {world} {seed}"
        stage = made % 3
        if stage == 0:
            yield name, case.house
        else:
            checked = with_checks(case)
            test = checked.field_test
            assert test is not None
            short = replace(checked, field_test=replace(test, runs=()))
            yield f"{name} {'quiet' if stage == 1 else 'checked'}", short if stage == 1 else checked


def real() -> Iterator[tuple[str, House]]:
    """Windows of the real home: as they are, one bill doubled, two digits swapped, an estimate left unsaid."""
    from real import LENGTHS, house_of, months

    data = months()
    for length in LENGTHS:
        for first in range(len(data.bills) - length + 1):
            home = house_of(data, first, length)
            yield f"real {length} at {first}", home
            for way in (doubled, swapped, unsaid):
                yield f"real {length} at {first} {way.__name__}", way(home, first)


def _with_kwh(house: House, changes: dict[int, float]) -> House:
    bills = tuple(replace(b, kwh=changes.get(i, b.kwh)) for i, b in enumerate(house.bills))
    return replace(house, bills=bills)


def doubled(house: House, seed: int) -> House:
    """One bill twice what it was."""
    at = 2 + seed % (len(house.bills) - 4)
    return _with_kwh(house, {at: 2.0 * (house.bills[at].kwh or 0.0)})


def swapped(house: House, seed: int) -> House:
    """Two neighboring digits of one bill change places."""
    at = 2 + seed % (len(house.bills) - 4)
    digits = list(f"{house.bills[at].kwh or 0.0:.0f}")
    for i in range(len(digits) - 1):
        if digits[i] != digits[i + 1]:
            digits[i], digits[i + 1] = digits[i + 1], digits[i]
            break
    return _with_kwh(house, {at: float("".join(digits))})


def unsaid(house: House, seed: int) -> House:
    """An estimate a third too high, not marked, and trued up by the next bill."""
    at = 2 + seed % (len(house.bills) - 4)
    moved = round((house.bills[at].kwh or 0.0) / 3.0)
    return _with_kwh(
        house, {at: (house.bills[at].kwh or 0.0) + moved, at + 1: max((house.bills[at + 1].kwh or 0.0) - moved, 0.0)}
    )


def main(arguments: Sequence[str] | None = None) -> int:
    """Run it and print what was broken."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--houses", type=int, default=2000)
    parser.add_argument("--start", type=int, default=40000)
    parser.add_argument("--real", action="store_true", help="windows of the real home too")
    options = parser.parse_args(arguments)
    begun, houses = time.perf_counter(), 0
    rules: Counter[str] = Counter()
    decisions: Counter[tuple[str, str]] = Counter()
    shown: Counter[str] = Counter()
    sources = [simulated(options.houses, options.start), *([real()] if options.real else [])]
    for source in sources:
        for name, house in source:
            result = reconcile.reconcile(house)
            houses += 1
            group = name.split()[0] + (" " + name.split()[-1] if not name.split()[-1].isdigit() else "")
            outside = any(row.flag in ("over", "under") for row in result.rows)
            decisions[group if name.startswith("real") else "simulated", str(result.verdict.decision)] += 1
            if name.startswith("real") and outside:
                decisions[group + ", a bill outside", str(result.verdict.decision)] += 1
            for found in broken(result):
                rules[found.rule] += 1
                shown[found.rule] += 1
                if shown[found.rule] <= 5:
                    print(f"{found.rule} {name}: {found.what}")
    print(f"{houses} houses, {sum(rules.values())} violations {dict(rules)}, {time.perf_counter() - begun:.0f} s")
    for (group, decision), count in sorted(decisions.items()):
        print(f"  {group:34} {decision:18} {count}")
    return 1 if rules else 0


if __name__ == "__main__":
    raise SystemExit(main())
