"""Propagation of distributions by seeded random draws, after JCGM 101:2008, beside the budget of JCGM 100.

References
----------
.. [1] JCGM 101:2008, Supplement 1 to the Guide: propagation of distributions using a Monte Carlo method (the
clauses
   named here are from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from reconcile.meter.budget import Budget, Correlations, Input, Model
from reconcile.records import dataclass

TRIALS = 20_000
"""Draws: the limits of a 95 % interval then repeat to within about 2 % of the expanded uncertainty."""
SEED = 20_090_915
"""One seed for all, so that the same readings always give the same answer."""

_KINDS = {"normal": 0, "rectangular": 1, "triangular": 2, "arcsine": 3}


@dataclass(frozen=True, slots=True, eq=False)
class Simulated:
    """What the draws of a result show."""

    mean: float
    standard_uncertainty: float
    low: float
    high: float
    """Both: limits of the interval with equal tails at ``coverage``."""
    coverage: float
    draws: NDArray[np.float64]
    """Sorted, shape (trials,)."""

    def quantile(self, share: float) -> float:
        """Return what a share of the draws, 0 to 1, lies below."""
        place = share * (len(self.draws) - 1)
        low = int(place)
        below, above = self.draws[low], self.draws[min(low + 1, len(self.draws) - 1)]
        return float(below + (above - below) * (place - low))

    def chance_within(self, low: float, high: float) -> float:
        """Return the share of the draws between two limits, 0 to 1."""
        inside = np.searchsorted(self.draws, high, "right") - np.searchsorted(self.draws, low, "left")
        return float(inside) / len(self.draws)


def simulate(
    model: Model,
    inputs: Sequence[Input],
    *,
    correlations: Correlations | None = None,
    coverage: float = 0.95,
    trials: int = TRIALS,
    seed: int = SEED,
) -> Simulated:
    """Draw the inputs, run the model on every draw, and take the interval from the draws.

    Parameters
    ----------
    model : callable
        As for :func:`reconcile.meter.budget.propagate`.
    inputs : sequence of Input
        Normal ones with few degrees of freedom are drawn from Student's t, as [1]_, 6.4.9 asks of a Type A
        mean.
    correlations : mapping, optional
        Between normal inputs only.
    trials : int
        Rounded up to an even number: every draw has its mirror image, which steadies the interval's middle.

    Raises
    ------
    ValueError
        Where correlations are given between inputs that are not normal.
    """
    names = [q.name for q in inputs]
    half = (trials + 1) // 2
    unit = [
        _draws(_KINDS[q.distribution], row, half, seed, _whole(q.degrees_of_freedom)) for row, q in enumerate(inputs)
    ]
    if correlations:
        unit = list(_correlated(np.stack(unit), inputs, names, correlations))
    out = np.concatenate([np.broadcast_to(_run(model, inputs, unit, sign), (half,)) for sign in (1.0, -1.0)])
    draws = np.sort(out)
    tail = (1.0 - coverage) / 2.0
    found = Simulated(float(out.mean()), float(out.std(ddof=1)), 0.0, 0.0, coverage, draws)
    return replace(found, low=found.quantile(tail), high=found.quantile(1.0 - tail))


def _run(
    model: Model, inputs: Sequence[Input], unit: Sequence[NDArray[np.float64]], sign: float
) -> NDArray[np.float64]:
    """Run the model on draws of unit size, or on their mirror image."""
    drawn = {
        q.name: q.value + sign * (q.limit if q.distribution != "normal" else q.standard_uncertainty) * row
        if q.limit
        else np.asarray(q.value)
        for q, row in zip(inputs, unit, strict=True)
    }
    return np.asarray(model(drawn))


def _whole(degrees_of_freedom: float) -> int | None:
    return None if math.isinf(degrees_of_freedom) else max(int(degrees_of_freedom), 1)


@cache
def _draws(kind: int, row: int, count: int, seed: int, freedom: int | None) -> NDArray[np.float64]:
    generator = np.random.default_rng([seed, kind, row, freedom or 0])
    if kind == 0:
        made = generator.standard_normal(count) if freedom is None else generator.standard_t(freedom, count)
    elif kind == 1:
        made = generator.uniform(-1.0, 1.0, count)
    elif kind == 2:
        made = generator.triangular(-1.0, 0.0, 1.0, count)
    else:
        made = np.sin(generator.uniform(-math.pi / 2.0, math.pi / 2.0, count))
    made.flags.writeable = False
    return made


def _correlated(
    unit: NDArray[np.float64], inputs: Sequence[Input], names: list[str], correlations: Correlations
) -> NDArray[np.float64]:
    matrix = np.eye(len(names))
    for (a, b), r in correlations.items():
        i, j = names.index(a), names.index(b)
        if inputs[i].distribution != "normal" or inputs[j].distribution != "normal":
            raise ValueError("correlated inputs must be normal to be drawn")
        matrix[i, j] = matrix[j, i] = r
    values, vectors = np.linalg.eigh(matrix)
    root = vectors * np.sqrt(np.clip(values, 0.0, None)) @ vectors.T
    together: NDArray[np.float64] = root @ unit
    return together


def agrees(budget: Budget, simulated: Simulated, digits: int = 2) -> bool:
    """Return whether the budget's interval is the draws' interval to the digits stated ([1]_, clause 8).

    Parameters
    ----------
    digits : int
        Significant digits of the standard uncertainty that are meant; the tolerance is half the last one.
    """
    doubt = budget.standard_uncertainty
    if doubt == 0.0:
        return True
    tolerance = 0.5 * 10.0 ** (math.floor(math.log10(doubt)) - digits + 1)
    expanded = budget.expanded_uncertainty
    off = (abs(budget.value - expanded - simulated.low), abs(budget.value + expanded - simulated.high))
    return max(off) <= tolerance


def coverage_interval(budget: Budget, simulated: Simulated) -> tuple[float, float, float]:
    """Return the interval to go by and its half-width: the budget's where the draws agree with it, else theirs."""
    if agrees(budget, simulated):
        expanded = budget.expanded_uncertainty
        return budget.value - expanded, budget.value + expanded, expanded
    return simulated.low, simulated.high, (simulated.high - simulated.low) / 2.0
