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
    code : ndarray of int, shape (K,)
        Patterns of one code exclude each other.
    persistent : int
        The first so many act on; every pair holds at least one of them.
    """

    columns: Floats
    shift: Floats
    log_prior: Floats
    code: Ints
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
    triples : tuple of ((int, int, int), float)
    acts : ndarray, shape (K,)
        Probability that each pattern acts, alone or with others.
    log_total : float
        Logarithm of the sum of all weights, relative to the evidence of none.
    """

    none: float
    single: Floats
    pair: Floats
    triples: tuple[tuple[tuple[int, int, int], float], ...]
    acts: Floats
    log_total: float


def weigh(data: Fit, candidates: Candidates, *, triples_of: int = 0) -> Posterior:
    """Weigh no cause, every single cause and every pair of causes of different codes.

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
    triples: tuple[tuple[tuple[int, int, int], float], ...] = ()
    if triples_of and float(pair.max(initial=-np.inf)) > top - NEGLIGIBLE:
        triples = _triples(data, candidates, gram, pull, loss, exponent, base, pair, triples_of, top)
        top = max(top, *(weight for _, weight in triples), 0.0)
    none = float(np.exp(-top))
    np.subtract(single, top, out=single)
    np.exp(single, out=single)
    np.subtract(pair, top, out=pair)
    np.exp(pair, out=pair)
    third = [(members, float(np.exp(weight - top))) for members, weight in triples]
    total = none + float(single.sum()) + float(pair.sum()) + sum(weight for _, weight in third)
    single /= total
    pair /= total
    acts = single + pair.sum(axis=0)
    acts[:p] += pair.sum(axis=1)
    kept = tuple((members, weight / total) for members, weight in third)
    for members, weight in kept:
        for member in members:
            acts[member] += weight
    return Posterior(none / total, single, pair, kept, np.minimum(acts, 1.0), top + float(np.log(total)))


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
    prior[candidates.code[:p, None] == candidates.code] = -np.inf
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
) -> tuple[tuple[tuple[int, int, int], float], ...]:
    """Extend the likeliest pairs by every third pattern of another code; each triple once."""
    size = pair.shape[1]
    flat = pair.ravel()
    likeliest = np.argpartition(flat, -min(count, flat.size))[-count:]
    found: dict[tuple[int, int, int], float] = {}
    for at in likeliest:
        if flat[at] < top - NEGLIGIBLE:
            continue
        members = np.array(divmod(int(at), size))
        inner = np.linalg.inv(np.eye(2) + gram[np.ix_(members, members)])
        across = gram[members]
        left = 1.0 + np.diagonal(gram) - np.einsum("ik,ij,jk->k", across, inner, across)
        rest = pull - pull[members] @ inner @ across
        misfit = data.misfit + loss[members].sum() - pull[members] @ inner @ pull[members]
        misfit = misfit + loss - rest**2 / left
        weight = candidates.log_prior + candidates.log_prior[members].sum() + base
        weight = weight - 0.5 * (np.log(left) - np.linalg.slogdet(inner)[1])
        weight -= exponent * np.log(data.freedom + misfit)
        same = np.isin(candidates.code, candidates.code[members])
        worth = np.flatnonzero(~same & (weight > top - NEGLIGIBLE))
        for third in worth:
            key = tuple(sorted((int(members[0]), int(members[1]), int(third))))
            found[key] = float(weight[third])  # type: ignore[index]
    return tuple(found.items())


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
