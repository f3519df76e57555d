"""Two things at once: empty months, guests, guests and a leak, a leak and an exchange, an estimate and a fast meter.

    python tests/benchmarks/two_events.py --seeds 20

Accepted by the same table as in the power bench. Wanted: .95 in the plain world, .85 in the unkind one.
"""

from __future__ import annotations

import one_thread  # noqa: F401

# isort: split
import argparse
from collections.abc import Sequence

from kinds import TWO_EVENTS, WORLDS
from power import run
from tables import confusion, missed, share


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the bench and print what it saw."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--seeds", type=int, default=20)
    parser.add_argument("--start", type=int, default=0)
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--kinds", nargs="*", default=list(TWO_EVENTS))
    parser.add_argument("--misses", type=int, default=5, help="list so many unaccepted houses a kind, by seed")
    asked = parser.parse_args(arguments)
    seeds = range(asked.start, asked.start + asked.seeds)
    judged = run([(kind, world, seed, False) for world in WORLDS for kind in asked.kinds for seed in seeds], asked.jobs)
    for world in WORLDS:
        rows = [j for j in judged if j.world == world]
        print(f"== {world} world: accepted {share(sum(j.good for j in rows), len(rows))}")
        print("\n".join([*confusion(rows), *missed(rows, asked.misses)]))
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
