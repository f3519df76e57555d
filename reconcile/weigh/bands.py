"""Two bands a period: from the inventory alone, and from the inventory and all the other bills."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reconcile.distributions import student_below, student_quantile
from reconcile.facts import Facts
from reconcile.records import dataclass
from reconcile.weigh import constants as k
from reconcile.weigh.gaussian import fit, leave_one_out, predict
from reconcile.weigh.model import Model
from reconcile.weigh.regression import regressed, robust_square

Floats = NDArray[np.float64]

LEAST_CHANCE = 1e-300
"""A chance below this is taken for it: its logarithm is asked for."""
ROUNDS = 5
"""Rounds in which a limit is found to a thousandth of the range."""


@dataclass(frozen=True, slots=True, eq=False)
class TakenOut:
    """What is no part of the usual."""

    effect: Floats
    effect_sd: Floats
    """Both: kWh of a cause already found, and its standard uncertainty, shape (n,); zeros where none was."""
    odd: Floats
    """Variance that events of single bills may hold, in units of the bills' scale [kWh^2], shape (n,)."""
    odd_share: float
    """Share of bills that have one."""


@dataclass(frozen=True, slots=True, eq=False)
class Bands:
    """Bands of n periods [kWh]; ``usual`` values are of what the house would have used without a cause."""

    low: Floats
    high: Floats
    usual: Floats
    usual_low: Floats
    usual_high: Floats


def inventory_band(model: Model, coverage: float) -> tuple[Floats, Floats]:
    """Return the limits of what the inventory alone says.

    The total is taken as lognormal with the model's mean and the variance that the list's own limits, the weather and
    the readings make: guessed hours err by factors, and a symmetric band would miss on the upper side (method page).
    What the weighing adds because lists lean and lack things is no part of what the list says.
    """
    reach = _normal_quantile(0.5 + coverage / 2.0)
    mean = np.maximum(model.mean, 1e-9)
    stated = (model.factors[:, : model.stated] ** 2).sum(axis=1) + np.diagonal(model.noise)
    spread = np.log1p(stated / mean**2)
    centre = np.log(mean) - spread / 2.0
    return np.exp(centre - reach * np.sqrt(spread)), np.exp(centre + reach * np.sqrt(spread))


def usual_bands(
    under: Sequence[tuple[float, Model]],
    facts: Facts,
    heard: NDArray[np.bool_],
    taken_out: TakenOut,
    coverage: float,
) -> tuple[Floats, Floats, Floats]:
    """Leave each period out and say what the inventory and all the others expect of it.

    Parameters
    ----------
    under : sequence of (float, Model)
        The model under each of the ways that the household may have, and its chance once the bills are heard.
    heard : ndarray of bool, shape (n,)
        Periods that vouch for the others; one that is not heard is judged by all that are.
    taken_out : TakenOut
        A cause already found, and what single odd bills take from a bill's word.

    Returns
    -------
    usual, low, high : ndarray, shape (n,)
        What is usual is NaN where the weather is too thin to say.

    Notes
    -----
    A bill with an event of its own tells little of the others: its variance grows by what the event may hold, in
    every prediction but its own. How often such events come is learnt with them; a bill in order may lie so far out
    once in a while, so the tails of each prediction are those of a mixture; and the prediction is one over the ways of
    the household besides, each by its chance. A plain regression is one voice more, by how well either has foretold
    the bills it was not shown: the likelihood of its errors beside those of the mixture, at the scale of each.
    """
    chance = np.array([share for share, _ in under])
    chance /= chance.sum()
    cleared = [model.cleared(facts, taken_out.effect, taken_out.odd) for _, model in under]
    each = [_predicted(model, facts, heard, taken_out) for model in cleared]
    mean, scale = (np.stack(part) for part in zip(*(one[:2] for one in each), strict=True))
    kwh = facts.billed_kwh - taken_out.effect
    line = regressed(under[0][1], kwh, heard)
    if line is not None:
        days = under[0][1].days
        missed = robust_square(((kwh - chance @ mean) / days)[heard])
        voice = 1.0 / (1.0 + (line.missed / max(missed, 1e-12)) ** (0.5 * heard.sum()))
        mean, scale = np.vstack([mean, line.kwh]), np.vstack([scale, np.hypot(line.scale, taken_out.effect_sd)])
        chance = np.append((1.0 - voice) * chance, voice)
    prediction = Mixture(chance, mean, np.maximum(scale, 1e-9), each[0][2], taken_out.odd_share)
    low, high = prediction.limits(1.0 - coverage)
    usual, low = np.maximum(prediction.mean, 0.0), np.maximum(low, 0.0)
    thin = under[0][1].thin
    return np.where(thin, np.nan, usual), low, high


def _predicted(
    model: Model, facts: Facts, heard: NDArray[np.bool_], taken_out: TakenOut
) -> tuple[Floats, Floats, Floats]:
    """Mean, scale and degrees of freedom of each period, by all others that are heard, under one model."""
    n = len(model.mean)
    covariance = model.covariance
    usual, scale, freedom = np.full(n, np.nan), np.full(n, np.nan), np.full(n, np.nan)
    residual = (facts.billed_kwh - model.mean - taken_out.effect)[heard]
    odd = taken_out.odd[heard]
    clean = fit(residual, covariance[np.ix_(heard, heard)] + np.diag(odd), k.FREEDOM)
    alone = leave_one_out(clean)
    usual[heard] = model.mean[heard] + alone.mean
    own = np.maximum(1.0 - odd * np.diagonal(clean.precision), 1e-3)
    scale[heard] = np.hypot(alone.scale * np.sqrt(own), taken_out.effect_sd[heard])
    freedom[heard] = alone.freedom
    aside = ~heard
    if aside.any():
        rest = predict(clean, model.mean[aside], covariance[np.ix_(aside, heard)], np.diagonal(covariance)[aside])
        usual[aside], scale[aside], freedom[aside] = rest.mean, rest.scale, rest.freedom
    return usual, scale, freedom


@dataclass(frozen=True, slots=True, eq=False)
class Mixture:
    """Predictions of n values: Student's t under each of w ways, and for a share of them one several times as wide."""

    chance: Floats
    """Shape (w,)."""
    centre: Floats
    scale: Floats
    """Both: shape (w, n)."""
    freedom: Floats
    """Shape (n,)."""
    odd_share: float

    @property
    def mean(self) -> Floats:
        """Shape (n,)."""
        return np.asarray(self.chance @ self.centre)

    def below(self, value: Floats) -> Floats:
        """Return the chance of less than each of so many values, shape (n,)."""
        t = (value - self.centre) / self.scale
        both = np.stack([t, t / k.ODD_TIMES])
        for freedom in set(self.freedom.tolist()):
            of = self.freedom == freedom
            both[..., of] = student_below(both[..., of], freedom)
        usual, odd = both
        return np.asarray(self.chance @ ((1.0 - self.odd_share) * usual + self.odd_share * odd))

    def limits(self, chance: float) -> tuple[Floats, Floats]:
        """Return what so few values lie outside, as many on each side; shape (n,) each."""
        n = len(self.freedom)
        mirrored = np.concatenate([self.centre, -self.centre], axis=1)
        both = replace(self, centre=mirrored, scale=np.tile(self.scale, 2), freedom=np.tile(self.freedom, 2))
        low = both.lower_limit(chance / 2.0)
        return low[:n], -low[n:]

    def lower_limit(self, chance: float) -> Floats:
        """Return what lies so seldom below, shape (n,).

        Between the limits of the parts, by false position on the root of the chance's logarithm, straight for a normal.
        """
        several, which = np.unique(self.freedom, return_inverse=True)
        reach = self.scale * np.array([-student_quantile(chance, float(f)) for f in several])[which]
        left, right = (self.centre - k.ODD_TIMES * reach).min(axis=0), (self.centre - reach).max(axis=0)
        wanted = np.sqrt(-np.log(chance))
        under, over = (wanted - np.sqrt(-np.log(np.maximum(self.below(at), LEAST_CHANCE))) for at in (left, right))
        before = None
        for _ in range(ROUNDS):
            apart = over - under
            at = np.where(apart > 0.0, (left * over - right * under) / np.where(apart > 0.0, apart, 1.0), right)
            here = wanted - np.sqrt(-np.log(np.maximum(self.below(at), LEAST_CHANCE)))
            low = here < 0.0
            # an end that stays twice counts half, so that both ends move
            half = 1.0 if before is None else np.where(low == before, 0.5, 1.0)
            over, under, before = np.where(low, half * over, here), np.where(low, here, half * under), low
            left, right = np.where(low, at, left), np.where(low, right, at)
        return np.asarray(at)


def _normal_quantile(probability: float) -> float:
    from statistics import NormalDist

    return NormalDist().inv_cdf(probability)
