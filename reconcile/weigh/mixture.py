"""Weigh models where some observations have a doubt of their own: bills of unknown scale, instruments of known limits.

The scale of the bills' scatter is unknown, that of an instrument is not. Given the scale all is Gaussian, so each model
is weighed at a dozen scales and the weights are added up: a registration of 105 +/- 2 % says the same in every house,
however its bills scatter. Models that the closed form with a single scale leaves behind by far are not weighed again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reconcile.weigh.evidence import Posterior, collect
from reconcile.weigh.gaussian import Fit, fit
from reconcile.weigh.pairs import Candidates

Floats = NDArray[np.float64]

NODES = 9
"""Scales at which every model is weighed: one and a quarter standard deviations apart, a millionth off the integral."""

BELOW, ABOVE = 4.0, 6.0
"""How far they reach about the likeliest scale, in standard deviations of its logarithm."""

FORGOTTEN = 3e-4
"""Part of all weight that the pairs, or triples, have at the most together that are not weighed again."""


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Observations, bills first.

    Attributes
    ----------
    residual : ndarray, shape (N,)
    scaled : ndarray, shape (N, N)
        Covariance that the unknown scale multiplies.
    known : ndarray, shape (N, N)
        Covariance that it does not; zero for bills.
    freedom : float
        Of the scale.
    """

    residual: Floats
    scaled: Floats
    known: Floats
    freedom: float

    def at(self, scale: float) -> Fit:
        """All of them as if the scale were known, in its units."""
        return fit(self.residual, self.scaled + self.known / scale, self.freedom)


@dataclass(frozen=True, slots=True, eq=False)
class Reading:
    """One way to read what was heard: its chance beforehand, the rows so read, and the likeliest scale of the bills."""

    chance: float
    rows: Rows
    scale: float


def reweigh(several: Sequence[Reading], candidates: Candidates, screened: Posterior) -> tuple[Posterior, Floats]:
    """Weigh the models that the closed form kept at several scales, under each reading of the rows.

    Parameters
    ----------
    several : sequence of Reading
        A night may have been quiet or not; the household may have one kind of ways or another.
    candidates : Candidates
        With columns on all N observations.
    screened : Posterior
        By the closed form with one scale, under all of them together.

    Returns
    -------
    posterior : Posterior
    chances : ndarray, shape (len(several),)
        Of each of them, once all is heard.
    """
    rows = several[0].rows
    # only rows that the scale multiplies by themselves tell of it
    n = np.count_nonzero(np.diagonal(rows.known) == 0.0)
    spread = np.sqrt(2.0 / (rows.freedom + n))
    pairs, triples = _kept(screened.pairs, screened.pair), _kept(screened.triples, screened.triple)
    # the patterns that any pair holds, and the two places of each pair among them
    used, place = np.unique(pairs, return_inverse=True)
    two = used, *place.reshape(pairs.shape).T
    each = []
    for one in several:
        logs = np.log(one.scale) + np.linspace(-BELOW * spread, ABOVE * spread, NODES)
        weights = [_at_scale(one.rows.at(float(np.exp(log))), candidates, two, triples, float(log)) for log in logs]
        summed = [np.logaddexp.reduce(np.stack(part), axis=0) for part in zip(*weights, strict=True)]
        each.append([np.log(one.chance) + part for part in summed])
    none, single, pair, triple = (np.logaddexp.reduce(np.stack(part), axis=0) for part in zip(*each, strict=True))
    totals = np.array([np.logaddexp.reduce(np.concatenate([np.atleast_1d(part) for part in parts])) for parts in each])
    chances = np.exp(totals - totals.max())
    return collect(candidates, single, pairs, pair, triples, triple, float(none)), chances / chances.sum()


def _kept(models: NDArray[np.int64], weight: Floats) -> NDArray[np.int64]:
    """Models that make all but a small part of the weight."""
    return models[weight * len(weight) > FORGOTTEN]


def _at_scale(
    data: Fit, candidates: Candidates, two: Sequence[NDArray[np.int64]], triples: NDArray[np.int64], log_scale: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Log weights of no cause, singles, pairs and triples at one scale, its own prior included."""
    scale = np.exp(log_scale)
    n, freedom = len(data.residual), data.freedom
    # inverse gamma in the scale, uniform steps in its logarithm
    prior = -0.5 * freedom * log_scale - 0.5 * freedom / scale
    none = prior + float(np.log(np.diagonal(data.half)).sum()) - 0.5 * n * log_scale - 0.5 * data.misfit / scale
    white = data.half @ candidates.columns
    shift, odds = candidates.shift, candidates.log_prior
    pull, loss = data.white @ white + shift, shift**2
    one = 1.0 + np.einsum("ij,ij->j", white, white)
    single = none + odds - 0.5 * np.log(one) - 0.5 * (loss - pull**2 / one) / scale
    pair = none + _two(white, pull, loss, odds, two, float(scale))
    return np.array(none), single, pair, none + _several(white, pull, loss, odds, triples, float(scale))


def _several(
    white: Floats, pull: Floats, loss: Floats, odds: Floats, members: NDArray[np.int64], scale: float
) -> Floats:
    if not len(members):
        return np.zeros(0)
    chosen = white.T[members]
    inner = np.eye(members.shape[1]) + np.einsum("mkn,mln->mkl", chosen, chosen)
    pulls = pull[members]
    solved = np.linalg.solve(inner, pulls[..., None])[..., 0]
    misfit = loss[members].sum(axis=1) - np.einsum("mk,mk->m", pulls, solved)
    _, log_determinant = np.linalg.slogdet(inner)
    weight: Floats = odds[members].sum(axis=1) - 0.5 * log_determinant - 0.5 * misfit / scale
    return weight


def _two(
    white: Floats, pull: Floats, loss: Floats, odds: Floats, two: Sequence[NDArray[np.int64]], scale: float
) -> Floats:
    """The same of pairs, their two by two inverses written out; ``two`` as in :func:`reweigh`."""
    used, first, second = two
    gram = white[:, used].T @ white[:, used]
    pull, loss, odds = pull[used], loss[used], odds[used]
    both, one = gram[first, second], 1.0 + np.diagonal(gram)
    g, h = pull[first], pull[second]
    determinant = np.maximum(one[first] * one[second] - both**2, 1.0)
    misfit = loss[first] + loss[second]
    misfit -= (g * g * one[second] + h * h * one[first] - 2.0 * g * h * both) / determinant
    weight: Floats = odds[first] + odds[second] - 0.5 * np.log(determinant) - 0.5 * misfit / scale
    return weight
