"""Weigh models where some observations have a doubt of their own: bills of unknown scale, instruments of known limits.

The scale of the bills' scatter is unknown, that of an instrument is not. Given the scale all is Gaussian, so each model
is weighed at a dozen scales and the weights are added up: a registration of 105 +/- 2 % says the same in every house,
however its bills scatter. Models that the closed form with a single scale leaves behind by far are not weighed again.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reconcile.records import dataclass
from reconcile.weigh.evidence import Posterior, collect
from reconcile.weigh.gaussian import Fit, fit
from reconcile.weigh.one_sign import LEAST, all_sides, beforehand, one_side
from reconcile.weigh.pairs import Candidates

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NODES = 9
"""Scales at which every model is weighed: one and a quarter standard deviations apart, a millionth off the integral."""

BELOW, ABOVE = 4.0, 6.0
"""How far they reach about the likeliest scale, in standard deviations of its logarithm."""

IN_FULL = 1e-3
"""Weight of a pair from which its two signs are weighed together; of others, and of triples, each by itself."""

FORGOTTEN = 3e-4
"""Part of all weight that the pairs, or triples, have at the most together that are not weighed again."""


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Observations, bills first."""

    residual: Floats
    """Shape (N,)."""
    scaled: Floats
    """Covariance that the unknown scale multiplies, shape (N, N)."""
    known: Floats
    """Covariance that it does not, shape (N, N); zero for bills."""
    freedom: float
    """Of the scale."""

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
    pairs, triples = screened.pairs[_worth(screened.pair)], screened.triples[_worth(screened.triple)]
    # the patterns that any pair holds, and the two places of each pair among them
    used, place = np.unique(pairs, return_inverse=True)
    shift = np.where(candidates.shift == 0.0, np.inf, np.abs(candidates.shift))
    first, second = place.reshape(pairs.shape).T
    ones = np.arange(len(shift))[:, None]
    by_single, by_pair, by_triple = (beforehand(shift[models], rows.freedom) for models in (ones, pairs, triples))
    in_full = np.flatnonzero(screened.pair[_worth(screened.pair)] > IN_FULL)
    kept = _Kept(used, first, second, triples, by_single, by_pair, by_triple, in_full)
    each = []
    for one in several:
        logs = np.log(one.scale) + np.linspace(-BELOW * spread, ABOVE * spread, NODES)
        weights = [_at_scale(one.rows.at(float(np.exp(log))), candidates, kept, float(log)) for log in logs]
        summed = [np.logaddexp.reduce(np.stack(part), axis=0) for part in zip(*weights, strict=True)]
        each.append([np.log(one.chance) + part for part in summed])
    none, single, pair, triple = (np.logaddexp.reduce(np.stack(part), axis=0) for part in zip(*each, strict=True))
    totals = np.array([np.logaddexp.reduce(np.concatenate([np.atleast_1d(part) for part in parts])) for parts in each])
    chances = np.exp(totals - totals.max())
    return collect(candidates, single, pairs, pair, triples, triple, float(none)), chances / chances.sum()


def _worth(weight: Floats) -> NDArray[np.bool_]:
    """Mark the models that make all but a small part of the weight."""
    return np.asarray(weight * len(weight) > FORGOTTEN)


@dataclass(frozen=True, slots=True, eq=False)
class _Kept:
    """Models weighed again: the patterns ``used`` in pairs, the two places of each pair among them, and triples.

    ``by_*`` are the logarithms of the chance of their signs beforehand; ``in_full`` are the likeliest pairs.
    """

    used: Ints
    first: Ints
    second: Ints
    triples: Ints
    by_single: Floats
    by_pair: Floats
    by_triple: Floats
    in_full: Ints


@dataclass(frozen=True, slots=True, eq=False)
class _Turned:
    """Patterns at one scale, turned so that every mean size is positive."""

    white: Floats
    pull: Floats
    loss: Floats
    odds: Floats
    sure: Floats
    scale: float


def _at_scale(
    data: Fit, candidates: Candidates, kept: _Kept, log_scale: float
) -> tuple[Floats, Floats, Floats, Floats]:
    """Log weights of no cause, singles, pairs and triples at one scale, its own prior included."""
    scale = float(np.exp(log_scale))
    n, freedom = len(data.residual), data.freedom
    # inverse gamma in the scale, uniform steps in its logarithm
    prior = -0.5 * freedom * log_scale - 0.5 * freedom / scale
    none = prior + float(np.log(np.diagonal(data.half)).sum()) - 0.5 * n * log_scale - 0.5 * data.misfit / scale
    turned, shift = np.where(candidates.shift < 0.0, -1.0, 1.0), np.abs(candidates.shift)
    white = data.half @ (turned * candidates.columns)
    pull = data.white @ white + shift
    sure = np.where(shift > 0.0, 0.0, np.inf)
    at = _Turned(white, pull, shift**2, candidates.log_prior, sure, scale)
    one = 1.0 + np.einsum("ij,ij->j", white, white)
    single = none + at.odds - 0.5 * np.log(one) - 0.5 * (at.loss - pull**2 / one) / scale
    single += np.log(one_side(pull / np.sqrt(one * scale) + sure, np.inf)) - kept.by_single
    pair = _two(at, kept)
    members = kept.used[np.column_stack([kept.first, kept.second])]
    pair[kept.in_full] = _several(at, members[kept.in_full])
    triple = _several(at, kept.triples)
    return np.array(none), single, none + pair - kept.by_pair, none + triple - kept.by_triple


def _several(at: _Turned, members: Ints) -> Floats:
    if not len(members):
        return np.zeros(0)
    chosen = at.white.T[members]
    inner = np.eye(members.shape[1]) + np.einsum("mkn,mln->mkl", chosen, chosen)
    pulls, inverse = at.pull[members], np.linalg.inv(inner)
    size = np.einsum("mkl,ml->mk", inverse, pulls)
    misfit = at.loss[members].sum(axis=1) - np.einsum("mk,mk->m", pulls, size)
    _, log_determinant = np.linalg.slogdet(inner)
    sd = np.sqrt(np.maximum(np.diagonal(inverse, axis1=1, axis2=2), LEAST))
    sides = all_sides(
        size / (sd * np.sqrt(at.scale)) + at.sure[members], inverse / (sd[:, :, None] * sd[:, None]), np.inf
    )
    weight: Floats = at.odds[members].sum(axis=1) - 0.5 * (log_determinant + misfit / at.scale) + np.log(sides)
    return weight


def _two(at: _Turned, kept: _Kept) -> Floats:
    """The same of pairs, their two by two inverses written out, and each sign by itself."""
    used, first, second = kept.used, kept.first, kept.second
    white = at.white[:, used]
    gram = white.T @ white
    pull, loss, odds, sure = at.pull[used], at.loss[used], at.odds[used], at.sure[used]
    both, one = gram[first, second], 1.0 + np.diagonal(gram)
    g, h = pull[first], pull[second]
    determinant = np.maximum(one[first] * one[second] - both**2, 1.0)
    misfit = loss[first] + loss[second]
    misfit -= (g * g * one[second] + h * h * one[first] - 2.0 * g * h * both) / determinant
    weight: Floats = odds[first] + odds[second] - 0.5 * np.log(determinant) - 0.5 * misfit / at.scale
    room = np.sqrt(determinant * at.scale)
    here = (g * one[second] - h * both) / (room * np.sqrt(one[second])) + sure[first]
    there = (h * one[first] - g * both) / (room * np.sqrt(one[first])) + sure[second]
    # each by itself: what is as good as nothing twice over has no logarithm
    return weight + np.log(one_side(here, np.inf)) + np.log(one_side(there, np.inf))
