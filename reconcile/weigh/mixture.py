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

from reconcile.weigh.evidence import Candidates, Posterior, collect
from reconcile.weigh.gaussian import Fit, fit

Floats = NDArray[np.float64]

NODES = 14
"""Scales at which every model is weighed."""

BELOW, ABOVE = 4.0, 6.0
"""How far they reach about the likeliest scale, in standard deviations of its logarithm."""

AGAIN = 14.0
"""Pairs and triples this far below the best are not weighed again: a millionth of it."""


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


def reweigh(
    several: Sequence[tuple[float, Rows]], candidates: Candidates, screened: Sequence[Posterior], scale: float
) -> tuple[Posterior, Floats]:
    """Weigh the models that the closed form kept at a dozen scales, under each reading of the rows.

    Parameters
    ----------
    several : sequence of (float, Rows)
        Each with its chance, which add up to one: a night may have been quiet or not.
    candidates : Candidates
        With columns on all N observations.
    screened : sequence of Posterior
        By the closed form with one scale, one for each of them.
    scale : float
        The likeliest scale.

    Returns
    -------
    posterior : Posterior
    chances : ndarray, shape (len(several),)
        Of each of them, once all is heard.
    """
    rows = several[0][1]
    # only rows that the scale multiplies by themselves tell of it
    n = np.count_nonzero(np.diagonal(rows.known) == 0.0)
    spread = np.sqrt(2.0 / (rows.freedom + n))
    logs = np.log(scale) + np.linspace(-BELOW * spread, ABOVE * spread, NODES)
    pairs, triples = _kept(screened)
    each = []
    for chance, heard in several:
        weights = [_at_scale(heard.at(float(np.exp(log))), candidates, pairs, triples, float(log)) for log in logs]
        summed = [np.logaddexp.reduce(np.stack(part), axis=0) for part in zip(*weights, strict=True)]
        each.append([np.log(chance) + part for part in summed])
    none, single, pair, triple = (np.logaddexp.reduce(np.stack(part), axis=0) for part in zip(*each, strict=True))
    totals = np.array([np.logaddexp.reduce(np.concatenate([np.atleast_1d(part) for part in parts])) for parts in each])
    chances = np.exp(totals - totals.max())
    return collect(candidates, single, pairs, pair, triples, triple, float(none)), chances / chances.sum()


def _kept(screened: Sequence[Posterior]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Pairs and triples that matter under any of them, each once."""
    pairs, triples = [], []
    for one in screened:
        best = max(one.none, *(float(w.max(initial=0.0)) for w in (one.single, one.pair, one.triple)))
        least = best * np.exp(-AGAIN)
        pairs.append(one.pairs[one.pair > least])
        triples.append(one.triples[one.triple > least])
    if len(screened) == 1:
        return pairs[0], triples[0]
    return np.unique(np.concatenate(pairs), axis=0), np.unique(np.concatenate(triples), axis=0)


def _at_scale(
    data: Fit, candidates: Candidates, pairs: NDArray[np.int64], triples: NDArray[np.int64], log_scale: float
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
    together = [_together(white, pull, loss, odds, members, float(scale)) for members in (pairs, triples)]
    return np.array(none), single, none + together[0], none + together[1]


def _together(
    white: Floats, pull: Floats, loss: Floats, odds: Floats, members: NDArray[np.int64], scale: float
) -> Floats:
    if not len(members):
        return np.zeros(0)
    if members.shape[1] == 2:
        return _two(white, pull, loss, odds, members.T, scale)
    chosen = white.T[members]
    inner = np.eye(members.shape[1]) + np.einsum("mkn,mln->mkl", chosen, chosen)
    pulls = pull[members]
    solved = np.linalg.solve(inner, pulls[..., None])[..., 0]
    misfit = loss[members].sum(axis=1) - np.einsum("mk,mk->m", pulls, solved)
    _, log_determinant = np.linalg.slogdet(inner)
    weight: Floats = odds[members].sum(axis=1) - 0.5 * log_determinant - 0.5 * misfit / scale
    return weight


def _two(white: Floats, pull: Floats, loss: Floats, odds: Floats, members: NDArray[np.int64], scale: float) -> Floats:
    """The same of pairs, their two by two inverses written out."""
    used, place = np.unique(members, return_inverse=True)
    first, second = place.reshape(members.shape)
    gram = white[:, used].T @ white[:, used]
    pull, loss, odds = pull[used], loss[used], odds[used]
    both, one = gram[first, second], 1.0 + np.diagonal(gram)
    g, h = pull[first], pull[second]
    determinant = np.maximum(one[first] * one[second] - both**2, 1.0)
    misfit = loss[first] + loss[second]
    misfit -= (g * g * one[second] + h * h * one[first] - 2.0 * g * h * both) / determinant
    weight: Floats = odds[first] + odds[second] - 0.5 * np.log(determinant) - 0.5 * misfit / scale
    return weight
