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

from reconcile.weigh.gaussian import Fit, inverse_beside

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


NEGLIGIBLE = 7.0
"""Models this far below the best in log weight (a thousandth of it) are not extended by a third pattern."""

KEPT = 20.0
"""Pairs this far below the best in log weight are forgotten: all of them make a five-thousandth of it."""

MOST_PAIRS = 4_000_000
"""Pairs weighed at the most: with more patterns, only those that hold one of the likeliest singles."""

ROWS_AT_ONCE = 64
"""Pairs are weighed in blocks that stay in the processor's cache."""


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
        Persistent patterns of one group exclude each other.
    kind : ndarray of int, shape (K,)
        Finer than the group: answers are summed by kind.
    persistent : int
        The first so many act on; the others pass.
    opens, closes : ndarray of int, shape (K,)
        First period in which each acts, and the one after its last: two passing patterns that overlap exclude each
        other, two that do not may both have been, of one code too.
    """

    columns: Floats
    shift: Floats
    log_prior: Floats
    group: Ints
    kind: Ints
    persistent: int
    opens: Ints
    closes: Ints

    def excludes(self, first: Ints, second: Ints) -> NDArray[np.bool_]:
        """Whether two patterns cannot both act; index arrays that broadcast."""
        opens, closes, p = self.opens, self.closes, self.persistent
        again = self.group[first] == self.group[second]
        passing = (first >= p) & (second >= p)
        overlap = (opens[first] < closes[second]) & (opens[second] < closes[first])
        barred: NDArray[np.bool_] = np.where(passing, overlap, again)
        return barred


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Weights of all models: none, each pattern alone, and the pairs and triples that matter.

    Attributes
    ----------
    none : float
        Posterior probability that nothing acts.
    single : ndarray, shape (K,)
    pairs : ndarray of int, shape (P, 2)
        Lower index first.
    pair : ndarray, shape (P,)
    triples : ndarray of int, shape (T, 3)
    triple : ndarray, shape (T,)
    kind_single : ndarray, shape (C,)
    kind_pair : ndarray, shape (C, C)
    kind_triple : ndarray of int, shape (T, 3)
        The same weights summed by kind; of the triples their kinds.
    acts : ndarray, shape (K,)
        Probability that each pattern acts, alone or with others.
    log_total : float
        Logarithm of the sum of all weights, relative to the evidence of none.
    """

    none: float
    single: Floats
    pairs: Ints
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


@dataclass(frozen=True, slots=True, eq=False)
class _Parts:
    """What every model is made of: whitened columns, their pull and length, and the misfit of none."""

    white: Floats
    pull: Floats
    one: Floats
    loss: Floats
    misfit: float
    exponent: float


def weigh(data: Fit, candidates: Candidates, *, triples_of: int = 0) -> Posterior:
    """Weigh no cause, every single cause, and every pair of causes that may act together.

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
    parts, single = _singles(data, candidates)
    base = parts.exponent * np.log(parts.misfit)
    pairs, pair = _pairs(parts, candidates, single)
    pair += base
    best_pair = float(pair.max(initial=-np.inf))
    top = max(0.0, float(single.max(initial=0.0)), best_pair)
    triples, third = np.zeros((0, 3), dtype=np.int64), np.zeros(0)
    if triples_of and best_pair > top - NEGLIGIBLE:
        likeliest = np.argsort(pair)[-triples_of:]
        likeliest = likeliest[pair[likeliest] > top - NEGLIGIBLE]
        triples, third = _triples(parts, candidates, base, pairs[likeliest], top)
    return collect(candidates, single, pairs, pair, triples, third)


def quick_total(data: Fit, candidates: Candidates, leaders: int) -> float:
    """Logarithm of the evidence of no cause, each alone, and each beside one of the likeliest, less a constant.

    What ways a household has is judged whatever causes act; the likeliest few stand for all.
    """
    parts, single = _singles(data, candidates)
    likeliest = np.sort(np.argsort(single)[-leaders:])
    pair = _block(parts, candidates, likeliest, slice(0, len(single)))
    pair[candidates.excludes(likeliest[:, None], np.arange(len(single)))] = -np.inf
    twice = np.zeros(len(single), dtype=bool)
    twice[likeliest] = True
    pair[:, twice] -= np.log(2.0)
    pair[np.arange(len(likeliest)), likeliest] = -np.inf
    pair += parts.exponent * np.log(parts.misfit)
    null = float(np.log(np.diagonal(data.half)).sum()) - parts.exponent * float(np.log(parts.misfit))
    top = max(0.0, float(single.max(initial=0.0)), float(pair.max(initial=0.0)))
    total = np.exp(-top) + np.exp(single - top).sum() + np.exp(pair - top).sum()
    return null + top + float(np.log(total))


def _singles(data: Fit, candidates: Candidates) -> tuple[_Parts, Floats]:
    """What all models are made of, and the log weights of singles relative to none."""
    exponent = 0.5 * (data.freedom + len(data.residual))
    white = data.half @ candidates.columns
    pull = data.white @ white + candidates.shift
    loss = candidates.shift**2
    one = 1.0 + np.einsum("ij,ij->j", white, white)
    parts = _Parts(white, pull, one, loss, data.freedom + data.misfit, exponent)
    single = candidates.log_prior + exponent * np.log(parts.misfit) - 0.5 * np.log(one)
    single -= exponent * np.log(np.maximum(parts.misfit + loss - pull**2 / one, 1e-300))
    return parts, single


def collect(
    candidates: Candidates, single: Floats, pairs: Ints, pair: Floats, triples: Ints, triple: Floats, none: float = 0.0
) -> Posterior:
    """Turn log weights of models, relative to that of none, into probabilities."""
    top = max(none, *(float(w.max(initial=-np.inf)) for w in (single, pair, triple)))
    single, pair, triple = (np.exp(weight - top) for weight in (single, pair, triple))
    nothing = float(np.exp(none - top))
    total = nothing + float(single.sum()) + float(pair.sum()) + float(triple.sum())
    for weight in (single, pair, triple):
        weight /= total
    count, kind = len(single), candidates.kind
    kinds = int(kind.max(initial=-1)) + 1
    acts = single + np.bincount(pairs[:, 0], pair, count) + np.bincount(pairs[:, 1], pair, count)
    acts += np.bincount(triples.ravel(), np.repeat(triple, 3), count)
    return Posterior(
        none=nothing / total,
        single=single,
        pairs=pairs,
        pair=pair,
        triples=triples,
        triple=triple,
        kind_single=np.asarray(np.bincount(kind, single, kinds), dtype=float),
        kind_pair=_by_kind(kind, pairs, pair, kinds),
        kind_triple=kind[triples],
        acts=np.minimum(acts, 1.0),
        log_total=top + float(np.log(total)),
    )


def _by_kind(kind: Ints, pairs: Ints, weight: Floats, kinds: int) -> Floats:
    """Sum the weights of pairs by the kinds of their members, shape (kinds, kinds)."""
    flat = np.bincount(kind[pairs[:, 0]] * kinds + kind[pairs[:, 1]], weight, kinds * kinds)
    return np.asarray(flat, dtype=float).reshape(kinds, kinds)


def _pairs(parts: _Parts, candidates: Candidates, single: Floats) -> tuple[Ints, Floats]:
    """Pairs that matter and their log weights, less the constant of none; each once, its lower index first."""
    count = len(single)
    rows = np.arange(count)
    if count * count > 2 * MOST_PAIRS:
        rows = np.sort(np.argpartition(single, -(MOST_PAIRS // count))[-(MOST_PAIRS // count) :])
    taken = np.zeros(count, dtype=bool)
    taken[rows] = True
    whole = len(rows) == count
    found_pairs, found = [], []
    best = float(single.max(initial=0.0)) - parts.exponent * np.log(parts.misfit)
    for begin in range(0, len(rows), ROWS_AT_ONCE):
        at = rows[begin : begin + ROWS_AT_ONCE]
        first = int(at[0]) if whole else 0
        weight = _block(parts, candidates, at, slice(first, count))
        others = np.arange(first, count)
        twice = others <= at[:, None]
        if not whole:
            twice &= taken[others]
        weight[twice | candidates.excludes(at[:, None], others)] = -np.inf
        best = max(best, float(weight.max(initial=-np.inf)))
        keep = np.flatnonzero(weight > best - KEPT)
        row, column = np.divmod(keep, len(others))
        found.append(weight.ravel()[keep])
        found_pairs.append(np.stack([at[row], others[column]]))
    if not found:
        return np.zeros((0, 2), dtype=np.int64), np.zeros(0)
    pair = np.concatenate(found)
    members = np.concatenate(found_pairs, axis=1)
    keep = pair > best - KEPT
    if not keep.all():
        pair, members = pair[keep], members[:, keep]
    return members.T if whole else np.sort(members.T, axis=1), pair


def _block(parts: _Parts, candidates: Candidates, rows: Ints, columns: slice) -> Floats:
    """Log weights of some patterns with a run of others."""
    pull, one, loss, prior = parts.pull, parts.one, parts.loss, candidates.log_prior
    gram = parts.white[:, rows].T @ parts.white[:, columns]
    determinant = one[rows, None] * one[columns]
    square = pull * pull
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
    np.maximum(misfit, 1e-300, out=misfit)
    np.log(misfit, out=misfit)
    misfit *= -parts.exponent
    np.log(determinant, out=determinant)
    determinant *= 0.5
    misfit -= determinant
    misfit += prior[rows, None]
    misfit += prior[columns]
    return misfit


def _triples(parts: _Parts, candidates: Candidates, base: float, pairs: Ints, top: float) -> tuple[Ints, Floats]:
    """Extend pairs by every third pattern that may act with both; each triple once."""
    first, second = pairs.T
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
    weight = weight + prior - 0.5 * np.log(left) - parts.exponent * np.log(np.maximum(misfit, 1e-300))
    every = np.arange(len(pull))
    barred = candidates.excludes(first[:, None], every) | candidates.excludes(second[:, None], every)
    barred |= (first[:, None] == every) | (second[:, None] == every)
    weight[barred] = -np.inf
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
    inner = inverse_beside(white.T @ white, np.ones(len(chosen)))
    pull = white.T @ data.white + shift
    mean = inner @ pull
    misfit = max(data.misfit + float(shift @ shift) - float(pull @ mean), 0.0)  # huge bills cancel
    scale = (data.freedom + misfit) / (data.freedom + len(data.residual))
    return mean, np.sqrt(np.diagonal(inner) * scale), misfit
