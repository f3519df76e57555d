"""Evidence of patterns, one, two or three at once, in closed form from one Gram matrix (method page, eq. 9 to 13).

A pattern of effect column v, scaled so that its size has unit variance, and prior mean size ``shift``, changes
y ~ t(m, S) into y ~ t(m + shift v, S + v v'). With the whitened columns V and residual w,
c = V'w + shift, G = V'V and M = I + G on the patterns present:

    det factor = |M|,   misfit = w'w + sum shift^2 - c' M^-1 c.

No factorisation but the one of S is ever made.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reconcile.weigh.gaussian import Fit

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


NEGLIGIBLE = 7.0
"""Models this far below the best in log weight (a thousandth of it) are not extended by a third pattern."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """K patterns that may act, the persistent ones first.

    Attributes
    ----------
    columns : ndarray, shape (N, K)
        Effect on each observation of one prior standard deviation of size.
    shift : ndarray, shape (K,)
        Prior mean size in prior standard deviations.
    log_prior : ndarray, shape (K,)
        Logarithm of the prior odds of each.
    group : ndarray of int, shape (K,)
        Patterns of one group exclude each other.
    kind : ndarray of int, shape (K,)
        Finer than the group: answers are summed by kind.
    persistent : int
        The first so many act on; every pair holds at least one of them.
    """

    columns: Floats
    shift: Floats
    log_prior: Floats
    group: Ints
    kind: Ints
    persistent: int


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Weights of all models: none, each pattern alone, each pair, and the triples kept.

    Attributes
    ----------
    none : float
        Posterior probability that nothing acts.
    single : ndarray, shape (K,)
    pair : ndarray, shape (persistent, K)
        A pair of two persistent patterns stands twice, at half its weight.
    triples : ndarray of int, shape (T, 3)
    triple : ndarray, shape (T,)
        The triples kept, and their weights.
    kind_single : ndarray, shape (C,)
    kind_pair : ndarray, shape (C, C)
    kind_triple : ndarray of int, shape (T, 3)
        The same weights summed by kind.
    acts : ndarray, shape (K,)
        Probability that each pattern acts, alone or with others.
    log_total : float
        Logarithm of the sum of all weights, relative to the evidence of none.
    """

    none: float
    single: Floats
    pair: Floats
    triples: Ints
    triple: Floats
    kind_single: Floats
    kind_pair: Floats
    kind_triple: Ints
    acts: Floats
    log_total: float

    def chance_of_any(self, member: NDArray[np.bool_]) -> float:
        """Probability that a cause of at least one of the marked kinds acts.

        Parameters
        ----------
        member : ndarray of bool, shape (C,)

        Returns
        -------
        float
        """
        out = ~member
        free = self.none + self.kind_single[out].sum() + self.kind_pair[out][:, out].sum()
        free += self.triple[out[self.kind_triple].all(axis=1)].sum()
        return float(min(max(1.0 - free, 0.0), 1.0))


def weigh(data: Fit, candidates: Candidates, *, triples_of: int = 0) -> Posterior:
    """Weigh no cause, every single cause and every pair of causes of different groups.

    Parameters
    ----------
    data : Fit
        N observations.
    candidates : Candidates
    triples_of : int
        Extend this many of the likeliest pairs by every third pattern; 0 for none.

    Returns
    -------
    Posterior
    """
    exponent = 0.5 * (data.freedom + len(data.residual))
    white = data.half @ candidates.columns
    gram = white.T @ white
    pull = white.T @ data.white + candidates.shift
    loss = candidates.shift**2
    one = 1.0 + np.diagonal(gram)
    base = exponent * np.log(data.freedom + data.misfit)

    single = candidates.log_prior + base - 0.5 * np.log(one)
    single -= exponent * np.log(data.freedom + data.misfit + loss - pull**2 / one)

    p = candidates.persistent
    pair = _pairs(data, candidates, gram[:p], pull, one, loss, exponent)
    pair += base
    top = max(0.0, float(single.max(initial=0.0)), float(pair.max(initial=0.0)))
    triples, third = np.zeros((0, 3), dtype=np.int64), np.zeros(0)
    if triples_of and float(pair.max(initial=-np.inf)) > top - NEGLIGIBLE:
        triples, third = _triples(data, candidates, gram, pull, loss, exponent, base, pair, triples_of, top)
        top = max(top, float(third.max(initial=0.0)))
    for weight in (single, pair, third):
        np.subtract(weight, top, out=weight)
        np.exp(weight, out=weight)
    none = float(np.exp(-top))
    total = none + float(single.sum()) + float(pair.sum()) + float(third.sum())
    for weight in (single, pair, third):
        weight /= total
    acts = single + pair.sum(axis=0)
    acts[:p] += pair.sum(axis=1)
    np.add.at(acts, triples, third[:, None])
    kinds = np.zeros((len(single), int(candidates.kind.max(initial=-1)) + 1))
    kinds[np.arange(len(single)), candidates.kind] = 1.0
    return Posterior(
        none=none / total,
        single=single,
        pair=pair,
        triples=triples,
        triple=third,
        kind_single=single @ kinds,
        kind_pair=kinds[:p].T @ pair @ kinds,
        kind_triple=candidates.kind[triples],
        acts=np.minimum(acts, 1.0),
        log_total=top + float(np.log(total)),
    )


def _pairs(
    data: Fit, candidates: Candidates, gram: Floats, pull: Floats, one: Floats, loss: Floats, exponent: float
) -> Floats:
    """Log weights of all pairs, less the constant of none; shape (persistent, K)."""
    p = candidates.persistent
    first, first_one = pull[:p, None], one[:p, None]
    determinant = first_one * one - gram * gram
    misfit = first * first * one
    misfit += pull * pull * first_one
    misfit -= 2.0 * first * (gram * pull)
    misfit /= determinant
    np.subtract(loss[:p, None] + (loss + (data.freedom + data.misfit)), misfit, out=misfit)
    # a pair of two persistent patterns is met in both orders
    prior = candidates.log_prior[:p, None] + candidates.log_prior
    prior[:, :p] -= np.log(2.0)
    prior[candidates.group[:p, None] == candidates.group] = -np.inf
    np.log(determinant, out=determinant)
    np.log(misfit, out=misfit)
    misfit *= -exponent
    misfit -= 0.5 * determinant
    misfit += prior
    return misfit


def _triples(
    data: Fit,
    candidates: Candidates,
    gram: Floats,
    pull: Floats,
    loss: Floats,
    exponent: float,
    base: float,
    pair: Floats,
    count: int,
    top: float,
) -> tuple[Ints, Floats]:
    """Extend the likeliest pairs by every third pattern of another group; each triple once."""
    flat = pair.ravel()
    likeliest = np.argpartition(flat, -min(count, flat.size))[-count:]
    likeliest = likeliest[flat[likeliest] > top - NEGLIGIBLE]
    members = np.stack(np.divmod(likeliest, pair.shape[1]), axis=1)
    first, second = members.T
    # inverse of I + G on each pair, written out
    one, two, both = 1.0 + gram[first, first], 1.0 + gram[second, second], gram[first, second]
    determinant = one * two - both**2
    a, b = gram[first], gram[second]
    h, g = pull[first], pull[second]
    left = 1.0 + np.diagonal(gram)
    left = left - (a * a * two[:, None] - 2.0 * a * b * both[:, None] + b * b * one[:, None]) / determinant[:, None]
    x, y = (two * h - both * g) / determinant, (one * g - both * h) / determinant
    rest = pull - a * x[:, None] - b * y[:, None]
    misfit = (data.misfit + loss[first] + loss[second] - h * x - g * y)[:, None] + loss - rest**2 / left
    weight = (candidates.log_prior[first] + candidates.log_prior[second] + base - 0.5 * np.log(determinant))[:, None]
    weight = weight + candidates.log_prior - 0.5 * np.log(left)
    weight -= exponent * np.log(data.freedom + misfit)
    group = candidates.group
    weight[(group == group[first][:, None]) | (group == group[second][:, None])] = -np.inf
    row, third = np.nonzero(weight > top - NEGLIGIBLE)
    found = np.sort(np.column_stack([members[row], third]), axis=1)
    unique, at = np.unique(found, axis=0, return_index=True)
    return unique.reshape(-1, 3), weight[row, third][at]


def sizes(data: Fit, candidates: Candidates, members: tuple[int, ...]) -> tuple[Floats, Floats]:
    """Size of each pattern present, in prior standard deviations, once the data are heard.

    Parameters
    ----------
    data : Fit
    candidates : Candidates
    members : tuple of int
        Patterns taken to act together.

    Returns
    -------
    mean, sd : ndarray, shape (len(members),)
        Location and scale of the t with ``freedom`` + N degrees of freedom.
    """
    chosen = list(members)
    white = data.half @ candidates.columns[:, chosen]
    shift = candidates.shift[chosen]
    inner = np.linalg.inv(np.eye(len(chosen)) + white.T @ white)
    pull = white.T @ data.white + shift
    mean = inner @ pull
    misfit = data.misfit + float(shift @ shift) - float(pull @ mean)
    scale = (data.freedom + misfit) / (data.freedom + len(data.residual))
    return mean, np.sqrt(np.diagonal(inner) * scale)
