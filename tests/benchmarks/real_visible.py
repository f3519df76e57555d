"""Is what these bills could have shown really seen in real homes? The size that is claimed is put into the bills.

    python tests/benchmarks/real_visible.py

Runs of 18 bills of the two real homes (:mod:`real_usual`); at some readings of each, the meter is made fast by the
smallest error that the answer says these bills would have shown nine times in ten. *Seen*: a look outside or a test
follows, or causes that last are together likelier than not.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from real import SEEN
from real_usual import runs
from tables import share

import reconcile
from reconcile.house import House

LASTING = ("meter-step", "constant-load", "habit-step", "old-meter-slow", "timed-load")
WEATHER = ("heating-rise", "cooling-rise")


def seen(house: House) -> bool:
    """Whether the bills make anybody look."""
    said = reconcile.reconcile(house)
    lasting = sum(cause.probability for cause in said.causes if cause.code in (*LASTING, *WEATHER))
    return said.verdict.decision in SEEN or lasting >= 0.5


def fast_from(house: House, onset: int, factor: float) -> House:
    """The same bills with the meter fast from one of them on."""
    bills = tuple(
        replace(bill, kwh=(bill.kwh or 0.0) * (factor if i >= onset else 1.0)) for i, bill in enumerate(house.bills)
    )
    return replace(house, bills=bills)


def report(every: int, length: int = 18) -> list[str]:
    """One line a case."""
    found: dict[str, list[tuple[float | None, bool, bool]]] = {}
    for name, house, _ in runs(every):
        if len(house.bills) != length:
            continue
        visible = reconcile.reconcile(house).visible
        for onset in (length // 3, length // 2, 2 * length // 3):
            claim = None if visible is None else visible.meter_percent[onset]
            out = found.setdefault(name, [])
            if claim is None:
                out.append((None, False, False))
            else:
                out.append((claim, seen(fast_from(house, onset, 1.0 + claim / 100.0)), seen(house)))
    lines = []
    for name, each in found.items():
        claims = [claim for claim, *_ in each if claim is not None]
        hits = sum(was for claim, was, _ in each if claim is not None)
        alone = sum(calm for claim, _, calm in each if claim is not None)
        lines.append(
            f"{name:40s} claims of {len(claims)} of {len(each)} readings, {np.median(claims or [np.nan]):.0f} % in the "
            f"median: seen {share(hits, len(claims))}; without it {alone}"
        )
    return lines


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the lines."""
    parser = argparse.ArgumentParser(description="Claims of what could be seen, put into real bills.")
    parser.add_argument("--every", type=int, default=6)
    print("\n".join(report(parser.parse_args(arguments).every)))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
