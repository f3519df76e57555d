"""From weights of patterns to causes in the trade's words: chance, onset, size, energy."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reconcile.weigh.evidence import Candidates, Posterior, sizes
from reconcile.weigh.gaussian import Fit
from reconcile.weigh.patterns import Patterns, Shape, day_of
from reconcile.weigh.result import Cause
from reconcile.weigh.words import cause_text

Floats = NDArray[np.float64]

WORTH_SHOWING = 0.005
"""Causes less likely than this are left out of the answer."""

LEVEL_KINDS = ("meter-always", "unlisted")
"""They say that the list is too small or the meter always fast, not that something changed."""

_WATTS = ("constant-load", "timed-load", "unlisted", "load-gone")
_KWH = ("single-period", "swap")


@dataclass(frozen=True, slots=True, eq=False)
class Best:
    """The likeliest model holding a pattern: its members and the sizes of each."""

    members: tuple[int, ...]
    size: Floats
    sd: Floats


def chance_of_any(posterior: Posterior, member: NDArray[np.bool_]) -> float:
    """Probability that at least one of the marked patterns acts.

    Parameters
    ----------
    posterior : Posterior
    member : ndarray of bool, shape (K,)

    Returns
    -------
    float
    """
    out = ~member
    first = out[: len(posterior.pair)]
    free = posterior.none + posterior.single[out].sum() + posterior.pair[first][:, out].sum()
    free += sum(weight for members, weight in posterior.triples if not member[list(members)].any())
    return float(np.clip(1.0 - free, 0.0, 1.0))


def best_model(
    data: Fit, candidates: Candidates, posterior: Posterior, wanted: NDArray[np.bool_]
) -> Best | None:
    """Find the likeliest model that holds a wanted pattern; None where no pattern is wanted."""
    if not wanted.any():
        return None
    p = len(posterior.pair)
    single = np.where(wanted, posterior.single, -1.0)
    members: tuple[int, ...] = (int(np.argmax(single)),)
    weight = float(single.max())
    if p:
        pair = posterior.pair * np.where(wanted[:p, None] | wanted, 1.0, -1.0)
        # pairs of two persistent patterns stand twice at half weight
        pair[:, :p] *= 2.0
        at = int(np.argmax(pair))
        if pair.ravel()[at] > weight:
            members, weight = divmod(at, pair.shape[1]), float(pair.ravel()[at])
    for triple, share in posterior.triples:
        if share > weight and wanted[list(triple)].any():
            members, weight = triple, share
    size, sd = sizes(data, candidates, members)
    return Best(members, size, sd)


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
    names, place = found.codes()
    stated = [Cause("none", posterior.none, None, None, "", cause_text("none", posterior.none, None, None, ""))]
    reach = quantile(0.975, data.freedom + len(data.residual))
    for index, name in enumerate(names):
        mine = place == index
        chance = chance_of_any(posterior, mine)
        if chance < WORTH_SHOWING:
            continue
        likeliest = np.where(mine, posterior.acts, -1.0)
        one = np.zeros(len(place), dtype=bool)
        one[int(np.argmax(likeliest))] = True
        model = best_model(data, candidates, posterior, one)
        if model is None:
            continue
        pattern = int(np.argmax(one))
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
                text=cause_text(name, chance, since, factor * size, unit),
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
