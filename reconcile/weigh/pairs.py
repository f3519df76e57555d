"""Patterns that may act, and the weights of all pairs of them from one Gram matrix (method page, eq. 9 to 13)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reconcile.weigh.gaussian import Fit
from reconcile.weigh.one_sign import LEAST, all_sides, beforehand, logistic, one_side

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int64]

KEPT = 14.0
"""Pairs this far below the best in log weight count in the sums by kind and pattern, and are not told one by one."""

MOST_PAIRS = 4_000_000
"""Pairs weighed at the most: with more patterns, only those that hold one of the likeliest singles."""

ROWS_AT_ONCE = 48
"""Pairs are weighed in blocks that stay in the processor's cache."""

MOST_LOG = 500.0
"""Logarithm of the largest number that is formed."""

LEAST_LOG = 600.0
"""Logarithm, negative, of what stands for nothing: of less, or of nothing itself, the exponential takes three times as
long."""

LEAST_SINE = 1e-13
"""Square of the sine between two patterns, at the least: less is rounding."""

MOST_EXACT = 120
"""Pairs, or triples, whose signs are weighed together, the likeliest: of the others each sign is by itself."""

SURE_SIDE = 60.0
"""Logarithm of the odds that stand for certainty about two signs."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """K patterns that may act, the persistent ones first.

    Attributes
    ----------
    columns : ndarray, shape (N, K)
        Effect on each observation of one prior standard deviation of size.
    shift : ndarray, shape (K,)
        Prior mean size in prior standard deviations. A size has its mean's sign and no other; one of mean 0 has either.
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
        again: NDArray[np.bool_] = self.group[first] == self.group[second]
        if first.max(initial=0) < p or second.max(initial=0) < p:
            return again
        passing = (first >= p) & (second >= p)
        overlap = (opens[first] < closes[second]) & (opens[second] < closes[first])
        barred: NDArray[np.bool_] = np.where(passing, overlap, again)
        return barred

    def compact(self) -> Candidates:
        """The same with smaller numbers, which are compared faster."""
        short = {name: getattr(self, name).astype(np.int16) for name in ("group", "opens", "closes")}
        return replace(self, **short)


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """What every model is made of under one reading of the data.

    Whitened columns, turned so that every mean size is positive, their pull and length, the misfit of none with the
    freedom added, and the logarithms of the weights: ``none`` and ``single``; ``level`` is what all have in common.
    ``signed`` marks the sizes that have one sign, and ``prior`` holds each pattern's prior odds over the chance of that
    sign beforehand.
    """

    white: Floats
    pull: Floats
    one: Floats
    shift: Floats
    loss: Floats
    signed: NDArray[np.bool_]
    prior: Floats
    misfit: float
    freedom: float
    exponent: float
    level: float
    none: float
    single: Floats

    def several(self, members: Ints, odds: Floats) -> Floats:
        """Log weights of models of two or three patterns, the likeliest first: their signs together in full.

        Parameters
        ----------
        members : ndarray of int, shape (M, m)
        odds : ndarray, shape (K,)
            Logarithm of the prior odds of each pattern.

        Returns
        -------
        ndarray, shape (M,)
        """
        count, length = members.shape[1], np.sqrt(self.one[members])
        unit, pulls = self.white.T[members] / length[:, :, None], self.pull[members] / length
        inner = np.clip(np.einsum("mkn,mln->mkl", unit, unit), LEAST_SINE - 1.0, 1.0 - LEAST_SINE)
        inner[:, range(count), range(count)] = 1.0
        inverse = np.linalg.inv(inner)
        size = np.einsum("mkl,ml->mk", inverse, pulls)
        left = self.misfit + self.loss[members].sum(axis=1) - np.einsum("mk,mk->m", pulls, size)
        left = np.maximum(left, self.freedom)
        spread = np.linalg.slogdet(inner)[1] + 2.0 * np.log(length).sum(axis=1)
        weight = self.level + odds[members].sum(axis=1) - 0.5 * spread - self.exponent * np.log(left)
        sd = np.sqrt(np.maximum(np.diagonal(inverse, axis1=1, axis2=2), LEAST_SINE))
        sure = np.where(self.signed[members], 0.0, np.inf)
        here = size / (sd * np.sqrt(left / (2.0 * self.exponent))[:, None]) + sure
        together = np.maximum(np.prod(one_side(here, 2.0 * self.exponent), axis=1), LEAST)
        full = slice(0, MOST_EXACT)
        together[full] = all_sides(here[full], (inverse / (sd[:, :, None] * sd[:, None]))[full], 2.0 * self.exponent)
        return np.asarray(weight + np.log(together) - beforehand(self.shift[members] + sure, self.freedom))


def parts_of(chance: float, data: Fit, candidates: Candidates) -> Parts:
    """Form them for data read in one way, of so much chance."""
    exponent = 0.5 * (data.freedom + len(data.residual))
    turned = np.where(candidates.shift < 0.0, -1.0, 1.0)
    white, shift = data.half @ (turned * candidates.columns), np.abs(candidates.shift)
    pull = data.white @ white + shift
    loss, signed = shift**2, shift > 0.0
    one = 1.0 + np.einsum("ij,ij->j", white, white)
    several, which = np.unique(shift, return_inverse=True)  # of the same kinds it is the same
    prior = candidates.log_prior - np.where(signed, np.log(one_side(several, data.freedom))[which], 0.0)
    misfit = data.freedom + data.misfit
    level = float(np.log(chance) + np.log(np.diagonal(data.half)).sum())
    # never below the freedom in exact arithmetic; huge bills cancel
    left = np.maximum(misfit + loss - pull**2 / one, data.freedom)
    single = level + prior - 0.5 * np.log(one) - exponent * np.log(left)
    side = one_side(pull / np.sqrt(one * left / (2.0 * exponent)), 2.0 * exponent)
    single += np.where(signed, np.log(side), 0.0)
    none = level - exponent * float(np.log(misfit))
    return Parts(white, pull, one, shift, loss, signed, prior, misfit, data.freedom, exponent, level, none, single)


@dataclass(frozen=True, slots=True, eq=False)
class Paired:
    """Pairs under all readings of the data together: those that matter with their weights, and the sums of all.

    All relative to a model of log weight ``top``.
    """

    top: float
    members: Ints
    weight: Floats
    totals: Floats
    acts: Floats
    by_kind: Floats


def weigh_pairs(each: Sequence[Parts], candidates: Candidates, top: float) -> Paired:
    """Weigh every pair once, its lower index first."""
    count = len(candidates.kind)
    rows = np.arange(count)
    if count * count > 2 * MOST_PAIRS:
        single = np.max([parts.single for parts in each], axis=0)
        rows = np.sort(np.argpartition(single, -(MOST_PAIRS // count))[-(MOST_PAIRS // count) :])
    taken = np.zeros(count, dtype=bool)
    taken[rows] = True
    whole = len(rows) == count
    kinds = int(candidates.kind.max(initial=-1)) + 1
    # patterns of one kind stand together, but for a few
    runs = np.flatnonzero(np.diff(candidates.kind, prepend=-1))
    of_kind = np.zeros((count, kinds))
    of_kind[np.arange(count), candidates.kind] = 1.0
    totals, acts, by_run = np.zeros(len(each)), np.zeros(count), np.zeros((kinds, len(runs)))
    found_pairs, found = [np.zeros((2, 0), dtype=np.int64)], [np.zeros(0)]
    best = 1.0
    blocks = [Block.of(parts, candidates, min(ROWS_AT_ONCE, len(rows))) for parts in each]
    small = candidates.compact()
    for begin in range(0, len(rows), ROWS_AT_ONCE):
        at = rows[begin : begin + ROWS_AT_ONCE]
        first = int(at[0]) if whole else 0
        others = np.arange(first, count)
        barred = small.excludes(at[:, None], others)
        twice = others[: int(at[-1]) - first + 1]  # beyond these none has been met
        barred[:, : len(twice)] |= (twice <= at[:, None]) if whole else (twice <= at[:, None]) & taken[twice]
        weight = np.zeros(barred.shape)
        for way, block in enumerate(blocks):
            logs, sides = block.logs(at, slice(first, count), top)
            logs[barred] = -LEAST_LOG
            more = float(logs.max(initial=-np.inf))
            if more > MOST_LOG:  # all that was summed is made relative to this pair
                top += more
                logs -= more
                for summed in (totals, acts, by_run, weight, *found):
                    summed *= np.exp(-more)
                best *= np.exp(-more)
            np.exp(logs, out=logs)
            logs *= sides
            totals[way] += logs.sum()
            weight += logs
        acts[at] += weight.sum(axis=1)
        acts[first:] += weight.sum(axis=0)
        run = int(np.searchsorted(runs, first, side="right")) - 1
        across = np.add.reduceat(weight, np.maximum(runs[run:] - first, 0), axis=1)
        by_run[:, run:] += of_kind[at].T @ across
        best = max(best, float(weight.max(initial=0.0)))
        keep = np.flatnonzero(weight > best * np.exp(-KEPT))
        row, column = np.divmod(keep, len(others))
        found.append(weight.ravel()[keep])
        found_pairs.append(np.stack([at[row], others[column]]))
    pair, members = np.concatenate(found), np.concatenate(found_pairs, axis=1)
    keep = pair > best * np.exp(-KEPT)
    paired = Paired(top, np.sort(members[:, keep].T, axis=1), pair[keep], totals, acts, by_run @ of_kind[runs])
    return _in_full(paired, each, candidates)


def _in_full(paired: Paired, each: Sequence[Parts], candidates: Candidates) -> Paired:
    """Weigh the likeliest pairs once more, their two signs together; in place."""
    likeliest = np.argsort(-paired.weight)[:MOST_EXACT]
    members, kind = paired.members[likeliest], candidates.kind
    by_way = np.exp(np.stack([parts.several(members, candidates.log_prior) for parts in each]) - paired.top)
    weight = by_way.sum(axis=0)
    more = weight - paired.weight[likeliest]
    paired.totals[:] += by_way @ (more / np.maximum(weight, np.exp(-MOST_LOG)))
    paired.weight[likeliest] = weight
    for member in members.T:
        np.add.at(paired.acts, member, more)
    np.add.at(paired.by_kind, (kind[members[:, 0]], kind[members[:, 1]]), more)
    return paired


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Log weights of pairs in blocks, each column divided by its length: a pair is its cosine and little else.

    ``left`` and ``right`` are formed so that one product of theirs is what two patterns explain together.
    """

    parts: Parts
    unit: Floats
    left: Floats
    right: Floats
    loss: Floats
    level: Floats
    room: Floats
    short: Floats32

    @classmethod
    def of(cls, parts: Parts, candidates: Candidates, rows: int) -> Block:
        """Prepare for blocks of so many rows at the most."""
        unit, pull = parts.white / np.sqrt(parts.one), parts.pull / np.sqrt(parts.one)
        ones = np.ones_like(pull)
        left = np.vstack([2.0 * pull * unit, -(pull**2), ones])
        right = np.vstack([pull * unit, ones, -(pull**2)])
        level = parts.prior - 0.5 * np.log(parts.one)
        short = np.vstack([unit, pull, parts.signed]).astype(np.float32)
        return cls(parts, unit, left, right, parts.loss, level, np.empty((2, rows * len(pull))), short)

    def logs(self, rows: Ints, columns: slice, top: float = 0.0) -> tuple[Floats, Floats32]:
        """Of some patterns with a run of others, less ``top``, and the chance that both sizes have their sign.

        The first in a room of its own, until the next call.
        """
        parts, across = self.parts, (len(rows), columns.stop - columns.start)
        size = across[0] * across[1]
        sine, misfit = (room[:size].reshape(across) for room in self.room)
        np.matmul(self.unit[:, rows].T, self.unit[:, columns], out=sine)
        sine *= sine
        np.subtract(1.0, sine, out=sine)  # squared
        np.maximum(sine, LEAST_SINE, out=sine)
        np.matmul(self.left[:, rows].T, self.right[:, columns], out=misfit)
        misfit /= sine
        misfit += self.loss[columns] + parts.misfit
        misfit += self.loss[rows, None]
        np.maximum(misfit, parts.freedom, out=misfit)  # huge bills cancel
        sides = self._sides(rows, columns, sine, misfit)
        np.log(misfit, out=misfit)
        misfit *= -parts.exponent
        np.log(sine, out=sine)
        sine *= 0.5
        misfit -= sine
        misfit += self.level[columns] + (parts.level - top)
        misfit += self.level[rows, None]
        return np.asarray(misfit), sides

    def _sides(self, rows: Ints, columns: slice, sine: Floats, misfit: Floats) -> Floats32:
        """Chance that the two sizes of each pair have their signs, each by itself, to a thousandth."""
        first, second = self.short[:, rows], self.short[:, columns]
        cosine = first[:-2].T @ second[:-2]
        straight, cubic = logistic(2.0 * self.parts.exponent)
        root = float(np.cbrt(cubic))
        scale = (sine * misfit).astype(np.float32)
        np.sqrt(scale, out=scale)
        # of sizes turned and scaled, so that the logarithm of the odds against is t (straight / root + t^2)
        np.divide(np.float32(root * np.sqrt(2.0 * self.parts.exponent)), scale, out=scale)
        mine, other = first[-2][:, None], second[-2]
        odds = _against(cosine * other - mine, scale, straight / root)
        odds[first[-1] == 0.0] = 1.0
        cosine *= mine
        cosine -= other
        beside = _against(cosine, scale, straight / root)
        beside[:, second[-1] == 0.0] = 1.0
        odds *= beside
        return np.reciprocal(odds, out=odds)


def _against(size: Floats32, scale: Floats32, straight: float) -> Floats32:
    """One by the chance of each size on its side, in the room of the sizes."""
    size *= scale
    odds = size * size
    odds += np.float32(straight)
    odds *= size
    np.minimum(odds, np.float32(SURE_SIDE / 2.0), out=odds)
    np.exp(odds, out=odds)
    odds += np.float32(1.0)
    return odds
