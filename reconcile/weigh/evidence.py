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
        A pair stands once, in the row of its lower index.
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
    pull = data.white @ white + candidates.shift
    loss = candidates.shift**2
    one = 1.0 + np.einsum("ij,ij->j", white, white)
    base = exponent * np.log(data.freedom + data.misfit)

    single = candidates.log_prior + base - 0.5 * np.log(one)
    single -= exponent * np.log(data.freedom + data.misfit + loss - pull**2 / one)
    parts = _Parts(white, pull, one, loss, data.freedom + data.misfit, exponent)
    pair = _pairs(parts, candidates)
    pair += base
    best_pair = float(pair.max(initial=-np.inf))
    top = max(0.0, float(single.max(initial=0.0)), best_pair)
    triples, third = np.zeros((0, 3), dtype=np.int64), np.zeros(0)
    if triples_of and best_pair > top - NEGLIGIBLE:
        triples, third = _triples(parts, candidates, base, pair, triples_of, top)
        top = max(top, float(third.max(initial=0.0)))
    for weight in (single, pair, third):
        np.subtract(weight, top, out=weight)
        np.exp(weight, out=weight)
    none = float(np.exp(-top))
    total = none + float(single.sum()) + float(pair.sum()) + float(third.sum())
    for weight in (single, pair, third):
        weight /= total
    acts = single + pair.sum(axis=0)
    acts[: candidates.persistent] += pair.sum(axis=1)
    np.add.at(acts, triples, third[:, None])
    return Posterior(
        none=none / total,
        single=single,
        pair=pair,
        triples=triples,
        triple=third,
        kind_single=_by_kind(single, candidates, axis=0),
        kind_pair=_by_kind(_by_kind(pair, candidates, axis=1), candidates, axis=0),
        kind_triple=candidates.kind[triples],
        acts=np.minimum(acts, 1.0),
        log_total=top + float(np.log(total)),
    )


def _by_kind(weight: Floats, candidates: Candidates, *, axis: int) -> Floats:
    """Sum weights over the patterns of each kind, which stand side by side; shape (..., C, ...)."""
    kind = candidates.kind[: weight.shape[axis]]
    size = list(weight.shape)
    size[axis] = int(candidates.kind.max(initial=-1)) + 1
    out = np.zeros(size)
    if len(kind):
        begins = np.flatnonzero(np.diff(kind, prepend=-1))
        place = [slice(None)] * weight.ndim
        place[axis] = kind[begins]  # type: ignore[call-overload]
        out[tuple(place)] = np.add.reduceat(weight, begins, axis=axis)
    return out


@dataclass(frozen=True, slots=True, eq=False)
class _Parts:
    """What every model is made of: whitened columns, their pull and length, and the misfit of none."""

    white: Floats
    pull: Floats
    one: Floats
    loss: Floats
    misfit: float
    exponent: float


ROWS_AT_ONCE = 32
"""Pairs are weighed in blocks that stay in the processor's cache."""


def _pairs(parts: _Parts, candidates: Candidates) -> Floats:
    """Log weights of all pairs, less the constant of none; each pair once, in the row of its lower index."""
    pull, one, loss, prior = parts.pull, parts.one, parts.loss, candidates.log_prior
    p, count = candidates.persistent, len(pull)
    out = np.full((p, count), -np.inf)
    square = pull * pull
    for begin in range(0, p, ROWS_AT_ONCE):
        end = min(begin + ROWS_AT_ONCE, p)
        rows, columns = slice(begin, end), slice(begin, count)
        gram = parts.white[:, rows].T @ parts.white[:, columns]
        determinant = one[rows, None] * one[columns]
        misfit = square[rows, None] * one[columns]
        misfit += one[rows, None] * square[columns]
        across = gram * pull[columns]
        across *= 2.0 * pull[rows, None]
        misfit -= across
        gram *= gram
        determinant -= gram
        np.maximum(determinant, 1.0, out=determinant)
        misfit /= determinant
        np.subtract(loss[columns] + parts.misfit, misfit, out=misfit)
        misfit += loss[rows, None]
        np.log(misfit, out=misfit)
        misfit *= -parts.exponent
        np.log(determinant, out=determinant)
        determinant *= 0.5
        misfit -= determinant
        misfit += prior[rows, None]
        misfit += prior[columns]
        again = candidates.group[rows, None] == candidates.group[columns]
        again |= np.arange(begin, count) <= np.arange(begin, end)[:, None]
        misfit[again] = -np.inf
        out[rows, columns] = misfit
    return out


def _triples(
    parts: _Parts, candidates: Candidates, base: float, pair: Floats, count: int, top: float
) -> tuple[Ints, Floats]:
    """Extend the likeliest pairs by every third pattern of another group; each triple once."""
    flat = pair.ravel()
    likeliest = np.argpartition(flat, -min(count, flat.size))[-count:]
    likeliest = likeliest[flat[likeliest] > top - NEGLIGIBLE]
    first, second = np.divmod(likeliest, pair.shape[1])
    white, pull, loss = parts.white, parts.pull, parts.loss
    a, b = white[:, first].T @ white, white[:, second].T @ white
    # inverse of I + G on each pair, written out
    one, two, both = parts.one[first], parts.one[second], a[np.arange(len(first)), second]
    determinant = np.maximum(one * two - both**2, 1.0)
    h, g = pull[first], pull[second]
    left = a * a * two[:, None] - 2.0 * a * b * both[:, None] + b * b * one[:, None]
    # at least 1 in exact arithmetic; huge bills cancel
    left = np.maximum(parts.one - left / determinant[:, None], 1.0)
    x, y = (two * h - both * g) / determinant, (one * g - both * h) / determinant
    rest = pull - a * x[:, None] - b * y[:, None]
    misfit = (parts.misfit + loss[first] + loss[second] - h * x - g * y)[:, None] + loss - rest**2 / left
    prior = candidates.log_prior
    weight = (prior[first] + prior[second] + base - 0.5 * np.log(determinant))[:, None]
    weight = weight + prior - 0.5 * np.log(left) - parts.exponent * np.log(misfit)
    group = candidates.group
    weight[(group == group[first][:, None]) | (group == group[second][:, None])] = -np.inf
    row, third = np.nonzero(weight > top - NEGLIGIBLE)
    found = np.sort(np.column_stack([first[row], second[row], third]), axis=1)
    unique, at = np.unique(found, axis=0, return_index=True)
    return unique.reshape(-1, 3), weight[row, third][at]


def sizes(data: Fit, candidates: Candidates, members: tuple[int, ...]) -> tuple[Floats, Floats, float]:
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
    misfit : float
        What is left of r' S^-1 r with them in.
    """
    chosen = list(members)
    white = data.half @ candidates.columns[:, chosen]
    shift = candidates.shift[chosen]
    inner = np.linalg.inv(np.eye(len(chosen)) + white.T @ white)
    pull = white.T @ data.white + shift
    mean = inner @ pull
    misfit = data.misfit + float(shift @ shift) - float(pull @ mean)
    scale = (data.freedom + misfit) / (data.freedom + len(data.residual))
    return mean, np.sqrt(np.diagonal(inner) * scale), misfit
