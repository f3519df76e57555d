"""From weights of patterns to causes in the trade's words: chance, onset, size, energy."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reconcile.result import Cause
from reconcile.weigh.evidence import Candidates, Posterior, sizes
from reconcile.weigh.gaussian import Fit
from reconcile.weigh.patterns import CODE_OF_KIND, CODES, Patterns, Shape, day_of

Floats = NDArray[np.float64]

WORTH_SHOWING = 0.01
"""Causes less likely than this are left out of the answer."""

_WATTS = ("constant-load", "timed-load", "unlisted", "load-gone")
_KWH = ("single-period", "swap")


@dataclass(frozen=True, slots=True, eq=False)
class Best:
    """The likeliest model holding a pattern: its members and the sizes of each."""

    members: tuple[int, ...]
    size: Floats
    sd: Floats
    misfit: float
    """Misfit left with them in, as :attr:`reconcile.weigh.gaussian.Fit.misfit` is without."""


def best_model(data: Fit, candidates: Candidates, posterior: Posterior, wanted: Sequence[int]) -> Best | None:
    """Find the likeliest model that holds one of the wanted patterns; None where none is wanted.

    Parameters
    ----------
    data : Fit
    candidates : Candidates
    posterior : Posterior
    wanted : sequence of int
        Patterns.

    Returns
    -------
    Best or None
    """
    found: tuple[float, tuple[int, ...]] = (-1.0, ())
    p = len(posterior.pair)
    for pattern in wanted:
        options: list[tuple[float, tuple[int, ...]]] = [(float(posterior.single[pattern]), (pattern,))]
        if pattern < p:
            row = posterior.pair[pattern]
            options.append((float(row.max()), (pattern, int(row.argmax()))))
        if p:
            column = posterior.pair[:, pattern]
            options.append((float(column.max()), (int(column.argmax()), pattern)))
        with_it = (posterior.triples == pattern).any(axis=1)
        if with_it.any():
            at = int(np.argmax(np.where(with_it, posterior.triple, -1.0)))
            options.append((float(posterior.triple[at]), tuple(int(i) for i in posterior.triples[at])))
        found = max(found, *options)
    members = found[1]
    if not members:
        return None
    size, sd, misfit = sizes(data, candidates, members)
    return Best(members, size, sd, misfit)


def name_causes(
    data: Fit,
    found: Patterns,
    candidates: Candidates,
    posterior: Posterior,
    shape: Shape,
    quantile: Callable[[float, float], float],
) -> tuple[Cause, ...]:
    """State every cause worth showing, likeliest first, and the chance that none is needed.

    Parameters
    ----------
    data, found, candidates, posterior, shape
        As weighed.
    quantile : callable
        ``quantile(probability, freedom)`` of Student's t.

    Returns
    -------
    tuple of Cause
    """
    stated = [Cause("none", posterior.none, None, None, "")]
    reach = quantile(0.975, data.freedom + len(data.residual))
    for index, name in enumerate(CODES):
        mine = np.flatnonzero(CODE_OF_KIND[candidates.kind] == index)
        # patterns of one code exclude each other, so their chances add up
        chance = float(posterior.acts[mine].sum())
        if chance < WORTH_SHOWING:
            continue
        pattern = int(mine[np.argmax(posterior.acts[mine])])
        model = best_model(data, candidates, posterior, (pattern,))
        if model is None:
            continue
        at = model.members.index(pattern)
        size = float(model.size[at] * found.size_sd[pattern])
        sd = float(model.sd[at] * found.size_sd[pattern])
        effect = found.effect[:, pattern] * size
        factor, unit = _unit(name, shape, found, pattern)
        since = day_of(found.start[pattern])
        scaled = sorted((factor * (size - reach * sd), factor * (size + reach * sd)))
        stated.append(
            Cause(
                code=name,
                probability=chance,
                since=since,
                size=factor * size,
                unit=unit,
                size_low=scaled[0],
                size_high=scaled[1],
                kwh=float(effect.sum()),
                pattern_kwh=tuple(float(value) for value in effect),
            )
        )
    return tuple(sorted(stated, key=lambda cause: -cause.probability))


def _unit(code: str, shape: Shape, found: Patterns, pattern: int) -> tuple[float, str]:
    if code in _WATTS:
        return shape.per_day / 0.024, "W"
    if code in _KWH:
        return float(np.abs(found.effect[:, pattern]).max()), "kWh"
    return 100.0, "%"
