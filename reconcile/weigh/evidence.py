"""Evidence of patterns, one, two or three at once, in closed form from one Gram matrix (method page, eq. 9 to 13).

A pattern of effect column v, scaled so that its size has unit variance, and prior mean size ``shift``, changes
y ~ t(m, S) into y ~ t(m + shift v, S + v v'). With the whitened columns V and residual w,
c = V'w + shift, G = V'V and M = I + G on the patterns present:

    det factor = |M|,   misfit = w'w + sum shift^2 - c' M^-1 c.

A size that has one sign only multiplies this by the chance of that sign once the data are heard, over the one
beforehand (:mod:`reconcile.weigh.one_sign`).

No factorisation but the one of S is ever made.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reconcile.distributions import raised
from reconcile.records import dataclass
from reconcile.weigh.gaussian import Fit, inverse_beside
from reconcile.weigh.one_sign import logistic
from reconcile.weigh.pairs import LEAST_SINE, Candidates, Paired, Parts, parts_under, weigh_pairs

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


LEAST_HELD = 1e-5
"""Models of less weight are not looked at one by one (our choice: each costs a solution of its own, and the hundreds
below it hold .003 of the whole together at the most in the sample houses where such limits are known)."""

LEAST_NONE = 1e-300
"""Weight of no cause at the least, where only what cannot be was likelier (our choice: a logarithm needs more than
zero, and beside any weight that is left so little adds nothing)."""

NEGLIGIBLE = 7.0
"""Models this far below the best in log weight (a thousandth of it) are not extended by a third pattern."""


@dataclass(frozen=True, slots=True, eq=False)
class Posterior:
    """Weights of all models: none, each pattern alone, and the pairs and triples that matter."""

    none: float
    """Posterior probability that nothing acts."""
    single: Floats
    """Shape (K,)."""
    pairs: Ints
    """Lower index first, shape (P, 2)."""
    pair: Floats
    """Shape (P,)."""
    triples: Ints
    """Shape (T, 3)."""
    triple: Floats
    """Shape (T,)."""
    kind_single: Floats
    """Shape (C,)."""
    kind_pair: Floats
    """Shape (C, C)."""
    kind_triple: Ints
    """The same weights summed by kind, shape (T, 3); of the triples their kinds."""
    acts: Floats
    """Probability that each pattern acts, alone or with others, shape (K,)."""
    log_total: float
    """Logarithm of the sum of all weights, relative to the evidence of none."""

    @property
    def by_count(self) -> tuple[tuple[Ints, Floats], ...]:
        """Models of one, two and three patterns: their members (M, count), and their weights (M,)."""
        ones = np.arange(len(self.single))[:, None]
        return (ones, self.single), (self.pairs, self.pair), (self.triples, self.triple)

    @property
    def likeliest(self) -> tuple[int, ...]:
        """Members of the likeliest model."""
        best, members = self.none, np.zeros(0, dtype=np.int64)
        for models, weight in self.by_count:
            if weight.max(initial=0.0) > best:
                best, members = float(weight.max()), models[int(np.argmax(weight))]
        return tuple(int(i) for i in members)

    def chance_of_any(self, member: NDArray[np.bool_]) -> Floats:
        """Probability that a cause of at least one of the marked kinds acts.

        Parameters
        ----------
        member : ndarray of bool, shape (..., C)
            Of each of several groups of kinds.
        """
        out = ~member
        free = self.none + out @ self.kind_single + ((out @ self.kind_pair) * out).sum(axis=-1)
        if len(self.triple):
            free += out[..., self.kind_triple].all(axis=-1) @ self.triple
        return np.asarray(np.minimum(np.maximum(1.0 - free, 0.0), 1.0))


def weigh(data: Fit, candidates: Candidates, *, triples_of: int = 0) -> Posterior:
    """Weigh no cause, every single cause, and every pair of causes that may act together.

    Parameters
    ----------
    data : Fit
        N observations.
    triples_of : int
        Extend this many of the likeliest pairs by every third pattern; 0 for none.
    """
    return weigh_under([(1.0, data)], candidates, triples_of=triples_of)[0]


def weigh_under(
    several: Sequence[tuple[float, Fit]], candidates: Candidates, *, triples_of: int = 0
) -> tuple[Posterior, Floats]:
    """Weigh the same models under several covariances of the data, and add the weights up.

    Parameters
    ----------
    several : sequence of (float, Fit)
        Each with its chance before anything is heard.
    triples_of : int
        As :func:`weigh`, under each.

    Returns
    -------
    posterior : Posterior
        Its ``log_total`` relative to the evidence of none under all of them together.
    shares : ndarray, shape (len(several),)
        Chance of each of them, once the data are heard.
    """
    parts = parts_under(several, candidates)
    top = max(float(parts.none.max()), float(parts.single.max(initial=-np.inf)))
    paired = weigh_pairs(parts, candidates, top)
    top = paired.top
    none, single = np.exp(parts.none - top), np.exp(parts.single - top)
    totals = none + single.sum(axis=1) + paired.totals
    triples, triple = np.zeros((0, 3), dtype=np.int64), np.zeros(0)
    if triples_of:
        triples, by_way = _extended(parts, candidates, paired, triples_of)
        triple, totals = by_way.sum(axis=0), totals + by_way.sum(axis=1)
    total = float(totals.sum())
    alone, kinds = single.sum(axis=0) / total, len(paired.by_kind)
    triple /= total
    acts = alone + paired.acts / total + np.bincount(triples.ravel(), np.repeat(triple, 3), len(alone))
    posterior = Posterior(
        none=float(none.sum()) / total,
        single=alone,
        pairs=paired.members,
        pair=paired.weight / total,
        triples=triples,
        triple=triple,
        kind_single=np.asarray(np.bincount(candidates.kind, alone, kinds), dtype=float),
        kind_pair=paired.by_kind / total,
        kind_triple=candidates.kind[triples],
        acts=np.minimum(acts, 1.0),
        log_total=top + float(np.log(total) - np.logaddexp.reduce(parts.none)),
    )
    return posterior, totals / total


def quick_totals(parts: Parts, candidates: Candidates, leaders: int) -> Floats:
    """Logarithm of the evidence of no cause, each alone, and each beside one of the likeliest, less a constant.

    What ways a household has is judged whatever causes act; the likeliest few stand for all.

    Parameters
    ----------
    parts : Parts
        Under each of W ways.
    """
    leaders = min(leaders, parts.single.shape[1])
    likeliest = np.sort(np.argpartition(parts.single, -leaders, axis=1)[:, -leaders:], axis=1)
    barred = candidates.excludes(likeliest[:, :, None], np.arange(parts.single.shape[1]))
    ways, places = np.arange(len(barred))[:, None, None], np.arange(leaders)
    barred[ways[:, 0], places, likeliest] = True
    pair, top = _beside(parts, likeliest, barred)
    # two of the likeliest meet twice
    pair[ways, places[:, None], likeliest[:, None]] *= 0.5
    with np.errstate(divide="ignore"):
        pairs = top + np.log(pair.sum(axis=(1, 2)))
    every = np.concatenate([parts.none[:, None], parts.single, pairs[:, None]], axis=1)
    top = every.max(axis=1)
    return np.asarray(top + np.log(np.exp(every - top[:, None]).sum(axis=1)))


@np.errstate(over="ignore")
def _beside(parts: Parts, rows: Ints, barred: NDArray[np.bool_]) -> tuple[Floats, Floats]:
    """Weights of some patterns under each way, shape (W, m), with every other that is not barred, each sign by itself.

    Relative to a model of some log weight under each way, the second: no pair has its logarithm taken.
    """
    exponent, loss, ways = parts.exponent, parts.loss, np.arange(len(rows))[:, None]
    length = np.sqrt(parts.one)
    unit, pull = parts.white / length[:, None], parts.pull / length
    mine, pull = pull[ways, rows][:, :, None], pull[:, None]
    cosine = np.swapaxes(unit, 1, 2)[ways, rows] @ unit
    sine = np.maximum(1.0 - cosine**2, LEAST_SINE)  # squared
    here, there = mine - cosine * pull, pull - cosine * mine
    misfit = parts.misfit[:, None, None] + loss[rows][:, :, None] + loss
    left = np.maximum(misfit - mine**2 - there**2 / sine, parts.freedom)
    straight, cubic = logistic(2.0 * exponent)
    sd = np.sqrt(sine * left / (2.0 * exponent))
    left[barred] = np.inf
    least = left.min(axis=(1, 2), initial=np.inf)
    least = np.where(np.isfinite(least), least, 1.0)
    against = raised(left / least[:, None, None], exponent) * np.sqrt(sine)
    for size, known in ((here / sd, parts.signed[rows][:, :, None]), (there / sd, parts.signed)):
        odds = np.where(known, size * (straight + cubic * size**2), np.inf)
        against *= 1.0 + np.exp(-odds.clip(-80.0, np.inf))
    each = np.exp(parts.prior) / length
    return each[ways, rows][:, :, None] * each[:, None] / against, parts.level - exponent * np.log(least)


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


def at_least(posterior: Posterior, candidates: Candidates, member: NDArray[np.bool_], chance: float) -> Posterior:
    """Give the models that hold one of some patterns a chance together that is known from elsewhere, if they have less.

    Among themselves they keep their shares, and so do those that hold none of them.

    Parameters
    ----------
    posterior : Posterior
        Whose pairs and triples are all there are.
    member : ndarray of bool, shape (K,)
    """
    held = (member, member[posterior.pairs].any(axis=1), member[posterior.triples].any(axis=1))
    weights = (posterior.single, posterior.pair, posterior.triple)
    now = sum(float(weight[mine].sum()) for weight, mine in zip(weights, held, strict=True))
    if not 0.0 < now < chance:
        return posterior
    with np.errstate(divide="ignore"):
        more, less = np.log(chance / now), np.log((1.0 - chance) / (1.0 - now))
        moved: list[Floats] = [
            np.log(weight) + np.where(mine, more, less) for weight, mine in zip(weights, held, strict=True)
        ]
        none = float(np.log(posterior.none) + less)
    return replace(
        collect(candidates, moved[0], posterior.pairs, moved[1], posterior.triples, moved[2], none),
        log_total=posterior.log_total,
    )


def possible(posterior: Posterior, data: Fit, candidates: Candidates, low: Floats, high: Floats) -> Posterior:
    """Leave out the models that hold a pattern whose size, once the data are heard, is none that it can have.

    A size is Gaussian to the weighing: what else moved the data can carry it beyond all bounds.

    Parameters
    ----------
    data : Fit
        All that was heard.
    low, high : ndarray, shape (K,)
        Bounds of each size, in prior standard deviations.
    """
    bounded = np.isfinite(low) | np.isfinite(high)
    singles = np.arange(len(posterior.single))[:, None]
    logs, left = [], False
    for models, weight in (
        (singles, posterior.single),
        (posterior.pairs, posterior.pair),
        (posterior.triples, posterior.triple),
    ):
        with np.errstate(divide="ignore"):
            log = np.log(weight)
        for at in np.flatnonzero((weight > LEAST_HELD) & bounded[models].any(axis=1)):
            mean = sizes(data, candidates, tuple(models[at].tolist()))[0]
            if ((mean <= low[models[at]]) | (mean >= high[models[at]])).any():
                log[at], left = -np.inf, True
        logs.append(log)
    if not left:
        return posterior
    single, pair, triple = logs
    none = math.log(max(posterior.none, LEAST_NONE))  # where no other is left it is nothing that acts
    kept = collect(candidates, single, posterior.pairs, pair, posterior.triples, triple, none)
    # what was too unlikely to be looked at may be all that is left
    return possible(replace(kept, log_total=posterior.log_total), data, candidates, low, high)


def _by_kind(kind: Ints, pairs: Ints, weight: Floats, kinds: int) -> Floats:
    """Sum the weights of pairs by the kinds of their members, shape (kinds, kinds)."""
    flat = np.bincount(kind[pairs[:, 0]] * kinds + kind[pairs[:, 1]], weight, kinds * kinds)
    return np.asarray(flat, dtype=float).reshape(kinds, kinds)


def _extended(parts: Parts, candidates: Candidates, paired: Paired, most: int) -> tuple[Ints, Floats]:
    """Extend the likeliest pairs by every third pattern: each triple once, and its weight under each (ways, T)."""
    nothing, top = (np.zeros((0, 3), dtype=np.int64), np.zeros((len(parts.none), 0))), paired.top
    best = max(
        float(np.exp(parts.none - top).sum()),
        float(np.exp(parts.single - top).sum(axis=0).max(initial=0.0)),
        float(paired.weight.max(initial=0.0)),
    )
    least = best * np.exp(-NEGLIGIBLE)
    likeliest = np.argsort(paired.weight)[-most:]
    likeliest = likeliest[paired.weight[likeliest] > least]
    if not likeliest.size:
        return nothing
    pairs = paired.members[likeliest]
    weight = np.exp(_triples(parts, candidates, pairs) - top).sum(axis=0)
    row, third = np.nonzero(weight > least)
    found = np.sort(np.column_stack([pairs[row], third]), axis=1)
    # a triple that comes of two pairs once: as one number, which sorts many times faster than three
    _, at = np.unique(found @ [weight.shape[1] ** 2, weight.shape[1], 1], return_index=True)
    if not len(at):
        return nothing
    unique = found[at][np.argsort(-weight[row[at], third[at]])]
    return unique, np.exp(parts.several(unique, candidates.log_prior) - top)


def _triples(parts: Parts, candidates: Candidates, pairs: Ints) -> Floats:
    """Log weights of pairs with every third pattern that may act with both, shape (W, len(pairs), K)."""
    first, second = pairs.T
    pull, loss, across = parts.pull[:, None], parts.loss, np.swapaxes(parts.white, 1, 2)
    a, b = across[:, first] @ parts.white, across[:, second] @ parts.white
    # inverse of I + G on each pair, written out
    both = a[:, np.arange(len(first)), second][..., None]
    (one, h), (two, g) = ((parts.one[:, at, None], parts.pull[:, at, None]) for at in (first, second))
    determinant = np.maximum(one * two - both**2, 1.0)
    left = a * a * two - 2.0 * a * b * both + b * b * one
    # at least 1 in exact arithmetic; huge bills cancel
    left = np.maximum(parts.one[:, None] - left / determinant, 1.0)
    x, y = (two * h - both * g) / determinant, (one * g - both * h) / determinant
    rest = pull - a * x - b * y
    misfit = parts.misfit[:, None, None] + (loss[first] + loss[second])[:, None] - h * x - g * y + loss - rest**2 / left
    prior = parts.prior
    weight = parts.level[:, None, None] + (prior[first] + prior[second])[:, None] - 0.5 * np.log(determinant)
    weight = weight + prior - 0.5 * np.log(left) - parts.exponent * np.log(np.maximum(misfit, parts.freedom))
    every = np.arange(len(loss))
    barred = candidates.excludes(first[:, None], every) | candidates.excludes(second[:, None], every)
    barred |= (first[:, None] == every) | (second[:, None] == every)
    weight[:, barred] = -np.inf
    return np.asarray(weight)


def sizes(data: Fit, candidates: Candidates, members: tuple[int, ...]) -> tuple[Floats, Floats, float]:
    """Size of each pattern present, in prior standard deviations, once the data are heard.

    Parameters
    ----------
    members : tuple of int
        Patterns taken to act together.

    Returns
    -------
    mean, sd : ndarray, shape (len(members),)
        Location and scale of the t with ``freedom`` + N degrees of freedom.
    misfit : float
        What is left of r' S^-1 r with them in.
    """
    shift = candidates.shift[list(members)]
    (inner,), (pull,), (mean,) = _heard(data, candidates, np.array([members], dtype=np.int64))
    misfit = max(data.misfit + float(shift @ shift) - float(pull @ mean), 0.0)  # huge bills cancel
    scale = (data.freedom + misfit) / (data.freedom + len(data.residual))
    return mean, np.sqrt(np.diagonal(inner) * scale), misfit


def scale_without(data: Fit, candidates: Candidates, members: tuple[int, ...]) -> float:
    """Scale of the bills' scatter with some patterns taken out."""
    misfit = sizes(data, candidates, members)[2] if members else data.misfit
    return (data.freedom + misfit) / (data.freedom + len(data.residual))


def mean_sizes(data: Fit, candidates: Candidates, models: Iterable[tuple[int, ...]]) -> dict[tuple[int, ...], Floats]:
    """Return the sizes of the patterns of each of several models, as the first of :func:`sizes`, all at once."""
    models, found = list(models), dict[tuple[int, ...], Floats]()
    for count in set(map(len, models)):
        alike = [members for members in models if len(members) == count]
        found.update(zip(alike, _heard(data, candidates, np.array(alike))[2], strict=True))
    return {members: found[members] for members in models}


def _heard(data: Fit, candidates: Candidates, members: Ints) -> tuple[Floats, Floats, Floats]:
    """Covariance, pull and mean of the sizes of models of m patterns each, in units of the scale; members (M, m)."""
    white = data.half @ np.swapaxes(candidates.columns.T[members], 1, 2)
    across = np.swapaxes(white, 1, 2)
    inner = inverse_beside(across @ white, np.ones(members.shape[1]))
    pull = across @ data.white + candidates.shift[members]
    return inner, pull, (inner @ pull[..., None])[..., 0]
