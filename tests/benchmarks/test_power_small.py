"""A small run of the power bench. Bounds are binomial: a program at the bar fails one of them less than once in 500.

The full run is ``python tests/benchmarks/power.py --seeds 40``.
"""

from __future__ import annotations

import coverage
import numpy as np
import pytest
from kinds import KINDS
from power import Judged, judge
from scipy.stats import binom

pytestmark = pytest.mark.slow

SEEDS = {"plain": 2, "unkind": 2}
RARE = 0.002


def least(n: int, share: float) -> int:
    """Fewest successes that a true share would still show."""
    return int(binom.ppf(RARE, n, share))


def most(n: int, share: float) -> int:
    """Most successes that a true share would still show."""
    return int(binom.isf(RARE, n, share))


@pytest.fixture(scope="module")
def judged() -> list[Judged]:
    jobs = [(kind, world, 5000 + k, False) for world, seeds in SEEDS.items() for kind in KINDS for k in range(seeds)]
    return [judge(job) for job in jobs]


def of_world(judged: list[Judged], world: str) -> list[Judged]:
    return [j for j in judged if j.world == world]


def test_nothing_crashes(judged):
    crashed = [j for j in judged if "crash" in (j.first.decision, j.final.decision)]
    assert not crashed, crashed[0]


@pytest.mark.parametrize(("world", "bar"), [("plain", 0.90), ("unkind", 0.80)])
def test_decisions_an_expert_would_accept(judged, world, bar):
    rows = of_world(judged, world)
    assert sum(j.good for j in rows) >= least(len(rows), bar)


@pytest.mark.parametrize(("world", "bar"), [("plain", 0.01), ("unkind", 0.015)])
def test_field_tests_are_not_advised_where_the_meter_is_right(judged, world, bar):
    rows = [j for j in of_world(judged, world) if KINDS[j.kind].meter_right]
    assert sum(j.first.tests or j.final.tests for j in rows) <= most(len(rows), bar)


@pytest.mark.parametrize(("world", "bar"), [("plain", 0.75), ("unkind", 0.60)])
def test_fast_meters_are_tested_in_the_end(judged, world, bar):
    rows = [j for j in of_world(judged, world) if j.kind in ("meter-20-exchange", "meter-50-exchange", "estimate-fast")]
    assert sum(j.first.tests or j.final.tests for j in rows) >= least(len(rows), bar)


@pytest.fixture(scope="module")
def covered() -> list[coverage.Covered]:
    return coverage.run(60, "plain", 7000, 1)


def test_bands_hold_what_they_say_on_honest_houses(covered):
    # bills of one house go together: four standard errors from house to house beside the 93 to 97 % wanted
    mean, doubt = coverage.mean_and_doubt([c.inventory for c in covered])
    assert 0.93 - 4 * doubt <= mean <= min(0.97 + 4 * doubt, 1.0 - 1e-9)
    # the usual ranges hold all bills of a house together
    assert sum(c.usual == 1.0 for c in covered) >= least(len(covered), 0.95)
    assert all(c.over + c.under == round((1.0 - c.usual) * c.bills) for c in covered)
    flagged = sum(bool(c.over or c.under) for c in covered)
    assert flagged <= most(len(covered), 0.05)


def test_the_bands_have_a_width_worth_having(covered):
    assert np.median([c.width for c in covered]) < np.median([c.inventory_width for c in covered])
