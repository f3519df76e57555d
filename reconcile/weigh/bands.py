"""Two bands a period: from the inventory alone, and from the inventory and all the other bills; and the flags."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reconcile.distributions import student_beyond, student_quantile
from reconcile.facts import Facts
from reconcile.weigh import constants as k
from reconcile.weigh.gaussian import fit, leave_group_out, leave_one_out, predict
from reconcile.weigh.model import Model

Floats = NDArray[np.float64]

HALVINGS = 24
"""Steps of a bisection: a ten-millionth of where it began."""


@dataclass(frozen=True, slots=True, eq=False)
class TakenOut:
    """What is no part of the usual.

    Attributes
    ----------
    effect, effect_sd : ndarray, shape (n,)
        kWh of a cause already found, and its standard uncertainty; zeros where none was.
    odd : ndarray, shape (n,)
        Variance that events of single bills may hold, in units of the bills' scale [kWh^2].
    odd_share : float
        Share of bills that have one.
    """

    effect: Floats
    effect_sd: Floats
    odd: Floats
    odd_share: float


@dataclass(frozen=True, slots=True, eq=False)
class Bands:
    """Bands and flags of n periods [kWh]; ``usual`` values are of what the house would have used without a cause.

    ``outlying`` holds the two-sided chance of so large an excess in a house in order, 1 where not judged. A flag says
    that a bill lies outside ``flag_low`` to ``flag_high``, which all bills of a house in order do not leave with the
    family's chance; bills that an untrue reading ties together are flagged by their sum.
    """

    low: Floats
    high: Floats
    usual: Floats
    usual_low: Floats
    usual_high: Floats
    outlying: Floats
    flags: tuple[str, ...]
    blocks: tuple[tuple[int, ...], ...]
    flag_low: Floats
    flag_high: Floats


def inventory_band(model: Model, coverage: float) -> tuple[Floats, Floats]:
    """Return the limits of what the inventory alone says.

    The total is taken as lognormal with the model's mean and the variance that the list's own limits, the weather and
    the readings make: guessed hours err by factors, and a symmetric band would miss on the upper side (method page).
    What the weighing adds because lists lean and lack things is no part of what the list says.

    Parameters
    ----------
    model : Model
    coverage : float

    Returns
    -------
    low, high : ndarray, shape (n,)
    """
    reach = _normal_quantile(0.5 + coverage / 2.0)
    mean = np.maximum(model.mean, 1e-9)
    stated = (model.factors[:, : model.stated] ** 2).sum(axis=1) + np.diagonal(model.noise)
    spread = np.log1p(stated / mean**2)
    centre = np.log(mean) - spread / 2.0
    return np.exp(centre - reach * np.sqrt(spread)), np.exp(centre + reach * np.sqrt(spread))


def usual_bands(
    model: Model,
    facts: Facts,
    heard: NDArray[np.bool_],
    judged: NDArray[np.bool_],
    taken_out: TakenOut,
    coverage: float,
) -> Bands:
    """Leave each period out and say what the inventory and all the others expect of it.

    Parameters
    ----------
    model : Model
    facts : Facts
    heard : ndarray of bool, shape (n,)
        Periods that vouch for the others.
    judged : ndarray of bool, shape (n,)
        Periods that get a flag; one that is not heard is judged by all that are.
    taken_out : TakenOut
        A cause already found, and what single odd bills take from a bill's word.
    coverage : float

    Returns
    -------
    Bands

    Notes
    -----
    A bill with an event of its own tells little of the others: its variance grows by what the event may hold, in
    every prediction but its own. How often such events come is learnt with them; a bill in order may lie so far out
    once in a while, so the tails of the prediction are those of a mixture.
    """
    n = len(model.mean)
    effect, effect_sd = taken_out.effect, taken_out.effect_sd
    covariance = model.covariance
    usual, scale, freedom = np.full(n, np.nan), np.full(n, np.nan), np.full(n, np.nan)
    residual = (facts.billed_kwh - model.mean - effect)[heard]
    odd = taken_out.odd[heard]
    clean = fit(residual, covariance[np.ix_(heard, heard)] + np.diag(odd), k.FREEDOM)
    alone = leave_one_out(clean)
    usual[heard] = model.mean[heard] + alone.mean
    own = np.maximum(1.0 - odd * np.diagonal(clean.precision), 1e-3)
    scale[heard] = np.hypot(alone.scale * np.sqrt(own), effect_sd[heard])
    freedom[heard] = alone.freedom
    aside = ~heard
    if aside.any():
        rest = predict(clean, model.mean[aside], covariance[np.ix_(aside, heard)], np.diagonal(covariance)[aside])
        usual[aside], scale[aside], freedom[aside] = rest.mean, rest.scale, rest.freedom
    tails = Tails(taken_out.odd_share)
    usual = np.maximum(usual, 0.0)
    excess = facts.billed_kwh - usual

    blocks = _blocks(facts, heard)
    inside = {i for block in blocks for i in block}
    outlying, side = np.ones(n), excess.copy()
    for i in np.flatnonzero(judged):
        if i not in inside:
            outlying[i] = tails.beyond(abs(excess[i]) / max(scale[i], 1e-9), freedom[i])
    for block in blocks:
        member = np.zeros(n, dtype=bool)
        member[list(block)] = True
        over, wide, free = leave_group_out(clean, member[heard])
        over += float(effect[member].sum())
        wide = math.hypot(wide, float(effect_sd[member].sum()))
        outlying[member] = tails.beyond(abs(over) / max(wide, 1e-9), free)
        side[member] = over
    singles = int(judged.sum()) - len(inside)
    level = 1.0 - (1.0 - k.FAMILY_LEVEL) ** (1.0 / max(singles + len(blocks), 1))
    flags = tuple(
        "not-judged" if not judged[i] else "within" if outlying[i] >= level else ("over" if side[i] > 0 else "under")
        for i in range(n)
    )
    low, high = inventory_band(model, coverage)
    usual = np.where(model.thin, np.nan, usual)
    flags = tuple("not-judged" if thin else flag for thin, flag in zip(model.thin, flags, strict=True))
    reach, far = (_reaches(tails, chance, freedom) for chance in (1.0 - coverage, level))
    return Bands(
        low,
        high,
        usual,
        np.maximum(usual - reach * scale, 0.0),
        usual + reach * scale,
        outlying,
        flags,
        blocks,
        np.maximum(usual - far * scale, 0.0),
        usual + far * scale,
    )


def _reaches(tails: Tails, chance: float, freedom: Floats) -> Floats:
    """Reach at each of the degrees of freedom, found once for those that are the same."""
    several, which = np.unique(freedom, return_inverse=True)
    return np.asarray(np.array([tails.reach(chance, float(f)) for f in several])[which], float)


@dataclass(frozen=True, slots=True)
class Tails:
    """Tails of a prediction: Student's t, and for a small share of bills one several times as wide."""

    odd_share: float

    def beyond(self, t: float, freedom: float) -> float:
        """Two-sided chance of so many scales or more."""
        usual, odd = student_beyond(t, freedom), student_beyond(t / k.ODD_TIMES, freedom)
        return (1.0 - self.odd_share) * usual + self.odd_share * odd

    def reach(self, chance: float, freedom: float) -> float:
        """Scales beyond which lies so much on both sides together."""
        if not np.isfinite(freedom):
            return float("nan")
        low = student_quantile(1.0 - chance / 2.0, freedom)
        high = k.ODD_TIMES * low
        for _ in range(HALVINGS):
            middle = 0.5 * (low + high)
            low, high = (middle, high) if self.beyond(middle, freedom) > chance else (low, middle)
        return 0.5 * (low + high)


def _blocks(facts: Facts, judged: NDArray[np.bool_]) -> tuple[tuple[int, ...], ...]:
    """Neighbours that an untrue reading ties together: only their sum can be judged."""
    blocks: list[list[int]] = []
    for i in sorted(facts.loose_edges):
        if i + 1 >= len(judged) or not (judged[i] and judged[i + 1]):
            continue
        if blocks and blocks[-1][-1] == i:
            blocks[-1].append(i + 1)
        else:
            blocks.append([i, i + 1])
    return tuple(tuple(block) for block in blocks)


def _normal_quantile(probability: float) -> float:
    from statistics import NormalDist

    return NormalDist().inv_cdf(probability)
