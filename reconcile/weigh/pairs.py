"""Patterns that may act, and the weights of all pairs of them from one Gram matrix (method page, eq. 9 to 13)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reconcile.records import dataclass
from reconcile.weigh.gaussian import Fit
from reconcile.weigh.one_sign import LEAST, all_sides, beforehand, logistic, one_side

Floats = NDArray[np.float64]
Floats32 = NDArray[np.float32]
Ints = NDArray[np.int64]

KEPT = 14.0
"""Pairs this far below the best in log weight count in the sums by kind and pattern, and are not told one by one."""

MOST_PAIRS = 4_000_000
"""Pairs weighed at the most: with more patterns, only those that hold one of the likeliest singles."""

AT_ONCE = 36_000
"""Pairs are weighed in blocks of so many, which stay in the processor's cache."""

MOST_LOG, LEAST_LOG = 60.0, -40.0
"""Logarithms of the largest and the least number that is formed: in single precision there is none beyond 88."""

LINE = 16
"""Numbers of single precision that a line of the processor's cache holds."""

WHOLE = 1e3
"""Added and taken away again: what is lost is rounding, and slow."""

NO_SIDE = -1e4
"""Size, the wrong way round, that stands for certainty about the sign: one of either sign has nothing against it."""

LEAST_SINE = 1e-13
"""Square of the sine between two patterns, at the least: less is rounding."""

MOST_EXACT = 120
"""Pairs, or triples, whose signs are weighed together, the likeliest: of the others each sign is by itself."""


@dataclass(frozen=True, slots=True, eq=False)
class Candidates:
    """K patterns that may act, the persistent ones first."""

    columns: Floats
    """Effect on each observation of one prior standard deviation of size, shape (N, K)."""
    shift: Floats
    """Prior mean size in prior standard deviations. A size has its mean's sign and no other, shape (K,); one of mean
    0 has either."""
    log_prior: Floats
    """Logarithm of the prior odds of each, shape (K,)."""
    group: Ints
    """Persistent patterns of one group exclude each other, shape (K,)."""
    kind: Ints
    """Finer than the group: answers are summed by kind, shape (K,)."""
    persistent: int
    """The first so many act on; the others pass."""
    opens: Ints
    closes: Ints
    """Both: first period in which each acts, and the one after its last: two passing patterns that overlap exclude
    each other, two that do not may both have been, of one code too, shape (K,)."""
    priors: dict[float, Floats] = field(default_factory=dict)

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
        """The same with smaller numbers, which are compared faster, and filled up to whole lines."""
        small: Any = np.zeros((3, in_lines(len(self.kind))), dtype=np.int16)
        small[:, : len(self.kind)] = self.group, self.opens, self.closes
        return replace(self, group=small[0], opens=small[1], closes=small[2])

    def prior(self, freedom: float) -> Floats:
        """Logarithm of each pattern's prior odds over the chance of its sign beforehand."""
        if freedom not in self.priors:
            signs = np.where(self.shift == 0.0, 0.0, np.log(one_side(np.abs(self.shift), freedom)))
            self.priors[freedom] = self.log_prior - signs
        return self.priors[freedom]

    def allowed(self, rows: Ints, first: int) -> NDArray[np.bool_]:
        """Whether patterns that all persist, or all pass, may act with each from ``first`` on, shape (m, K - first)."""
        if rows[0] < self.persistent:
            return np.asarray(self.group[rows, None] != self.group[first:])
        passing = max(first, self.persistent)
        apart: NDArray[np.bool_] = self.closes[passing:] <= self.opens[rows, None]
        apart |= self.closes[rows, None] <= self.opens[passing:]
        return apart if first == passing else np.hstack([self.group[rows, None] != self.group[first:passing], apart])


@dataclass(frozen=True, slots=True, eq=False)
class Parts:
    """What every model is made of under each of W readings of the same data.

    Whitened columns (W, N, K), turned so that every mean size is positive, their pull and length (W, K), the misfit of
    none with the freedom added (W,), and the logarithms of the weights: ``none`` (W,) and ``single`` (W, K); ``level``
    (W,) is what all have in common. ``signed`` marks the sizes that have one sign, and ``prior`` holds each pattern's
    prior odds over the chance of that sign beforehand.
    """

    white: Floats
    pull: Floats
    one: Floats
    shift: Floats
    loss: Floats
    signed: NDArray[np.bool_]
    prior: Floats
    misfit: Floats
    freedom: float
    exponent: float
    level: Floats
    none: Floats
    single: Floats

    def several(self, members: Ints, odds: Floats) -> Floats:
        """Log weights of models of two or three patterns, the likeliest first: their signs together in full.

        Parameters
        ----------
        members : ndarray of int, shape (M, m)
        odds : ndarray, shape (K,)
            Logarithm of the prior odds of each pattern.
        """
        count, length = members.shape[1], np.sqrt(self.one[:, members])
        unit = np.swapaxes(self.white, 1, 2)[:, members] / length[..., None]
        pulls = self.pull[:, members] / length
        inner = np.clip(np.einsum("wmkn,wmln->wmkl", unit, unit), LEAST_SINE - 1.0, 1.0 - LEAST_SINE)
        inner[..., range(count), range(count)] = 1.0
        inverse, spread = _inverted(inner)
        size = np.einsum("wmkl,wml->wmk", inverse, pulls)
        left = self.misfit[:, None] + self.loss[members].sum(axis=1) - np.einsum("wmk,wmk->wm", pulls, size)
        left = np.maximum(left, self.freedom)
        spread = spread + 2.0 * np.log(length).sum(axis=2)
        weight = self.level[:, None] + odds[members].sum(axis=1) - 0.5 * spread - self.exponent * np.log(left)
        sd = np.sqrt(np.maximum(np.diagonal(inverse, axis1=2, axis2=3), LEAST_SINE))
        sure = np.where(self.signed[members], 0.0, np.inf)
        here = size / (sd * np.sqrt(left / (2.0 * self.exponent))[..., None]) + sure
        likeliest, others = here[:, :MOST_EXACT], here[:, MOST_EXACT:]
        correlation = (inverse / (sd[..., None] * sd[..., None, :]))[:, :MOST_EXACT].reshape(-1, count, count)
        exact = all_sides(likeliest.reshape(-1, count), correlation, 2.0 * self.exponent)
        alone = np.maximum(np.prod(one_side(others, 2.0 * self.exponent), axis=2), LEAST)
        together = np.concatenate([exact.reshape(likeliest.shape[:2]), alone], axis=1)
        return np.asarray(weight + np.log(together) - beforehand(self.shift[members] + sure, self.freedom))


def _inverted(inner: Floats) -> tuple[Floats, Floats]:
    """Return inverses of correlations, shape (..., m, m), and the logarithms of their determinants."""
    if inner.shape[-1] > 2:
        return np.asarray(np.linalg.inv(inner)), np.asarray(np.linalg.slogdet(inner)[1])
    determinant = 1.0 - inner[..., 0, 1] ** 2  # of two, written out
    inverse = inner / determinant[..., None, None]
    inverse[..., 0, 1] *= -1.0
    inverse[..., 1, 0] *= -1.0
    return inverse, np.log(determinant)


def parts_under(several: Sequence[tuple[float, Fit]], candidates: Candidates) -> Parts:
    """Form them for the same data read in several ways, each of so much chance."""
    first, half = several[0][1], np.stack([data.half for _, data in several])
    exponent, freedom = 0.5 * (first.freedom + len(first.residual)), first.freedom
    white, shift = (
        half @ np.where(candidates.shift < 0.0, -candidates.columns, candidates.columns),
        np.abs(candidates.shift),
    )
    pull = (np.stack([data.white for _, data in several])[:, None] @ white)[:, 0] + shift
    loss, signed = shift**2, shift > 0.0
    one = 1.0 + np.einsum("wij,wij->wj", white, white)
    prior = candidates.prior(freedom)
    misfit = np.array([freedom + data.misfit for _, data in several])
    level = np.log([chance for chance, _ in several]) + np.log(np.diagonal(half, axis1=1, axis2=2)).sum(axis=1)
    # never below the freedom in exact arithmetic; huge bills cancel
    left = np.maximum(misfit[:, None] + loss - pull**2 / one, freedom)
    single = level[:, None] + prior - 0.5 * np.log(one) - exponent * np.log(left)
    side = one_side(pull / np.sqrt(one * left / (2.0 * exponent)), 2.0 * exponent)
    single += np.where(signed, np.log(side), 0.0)
    none = level - exponent * np.log(misfit)
    return Parts(white, pull, one, shift, loss, signed, prior, misfit, freedom, exponent, level, none, single)


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


def weigh_pairs(parts: Parts, candidates: Candidates, top: float) -> Paired:
    """Weigh every pair once, its lower index first."""
    count = len(candidates.kind)
    rows = np.arange(count)
    if count * count > 2 * MOST_PAIRS:
        single = parts.single.max(axis=0)
        rows = np.sort(np.argpartition(single, -(MOST_PAIRS // count))[-(MOST_PAIRS // count) :])
    taken = np.zeros(count, dtype=bool)
    taken[rows] = True
    whole = len(rows) == count
    kind, kinds = candidates.kind, int(candidates.kind.max(initial=-1)) + 1
    # patterns of one kind stand together, but for a few
    runs = np.flatnonzero(kind != np.concatenate([[-1], kind[:-1]]))
    run = np.searchsorted(runs, np.arange(count), side="right") - 1
    totals, acts, by_kind = np.zeros(len(parts.none)), np.zeros(count), np.zeros((kinds, kinds))
    found_pairs: list[tuple[Ints, Ints]] = [(rows[:0], rows[:0])]
    found = [np.zeros(0)]
    best = 1.0
    passing = int(np.searchsorted(rows, candidates.persistent))
    spans = [*_spans(0, passing, count, whole), *_spans(passing, len(rows), count, whole)]
    rooms = Rooms.of(max(((end - begin) * (in_lines(count) - first) for begin, end, first in spans), default=0))
    blocks = [Block.of(parts, way) for way in range(len(parts.none))]
    small = candidates.compact()
    for begin, end, first in spans:
        at = rows[begin:end]
        allowed = small.allowed(at, first)
        twice = np.arange(first, at[-1] + 1)  # beyond these none has been met
        later = twice.astype(np.int32) > at[:, None].astype(np.int32)
        allowed[:, : len(twice)] &= later if whole else later | ~taken[twice]
        weight = np.zeros((1, 1))
        for way, block in enumerate(blocks):
            logs, factor = block.logs(slice(begin, end) if whole else at, first, rooms, top)
            more = float(logs.max(initial=-np.inf))
            if more > MOST_LOG:
                logs[~allowed] = LEAST_LOG
                more = float(logs.max(initial=-np.inf))
            if more > MOST_LOG:  # all that was summed is made relative to this pair
                top += more
                logs -= np.float32(more)
                weight = weight * np.exp(-more)
                for summed in (totals, acts, by_kind, *found):
                    summed *= np.exp(-more)
                best *= np.exp(-more)
            logs.clip(np.float32(LEAST_LOG), np.float32(MOST_LOG), out=logs)
            np.exp(logs, out=logs)
            logs *= factor
            logs *= allowed
            mine = rooms.double[: logs.size].reshape(logs.shape)
            mine[:] = logs
            weight = mine if len(blocks) == 1 else weight + mine
            by_row = mine.sum(axis=1)
            totals[way] += by_row.sum()
            acts[at] += by_row
        begun, until = int(run[at[0]]), int(run[at[-1]]) + 1
        across = (run[at] == np.arange(begun, until)[:, None]).astype(float) @ weight
        acts[first:] += across.sum(axis=0)[: count - first]
        theirs = np.maximum(runs[run[first] :], first)
        across = np.add.reduceat(across, theirs - first, axis=1)
        flat = kind[runs[begun:until]][:, None] * kinds + kind[theirs]
        by_kind += np.bincount(flat.ravel(), across.ravel(), kinds * kinds).reshape(by_kind.shape)
        best = max(best, float(weight.max(initial=0.0)))
        keep = np.flatnonzero(weight > best * np.exp(-KEPT))
        if keep.size:
            found.append(weight.ravel()[keep])
            row, column = np.divmod(keep, weight.shape[1])
            found_pairs.append((at[row], column + first))
    pair, members = np.concatenate(found), np.stack([np.concatenate(side) for side in zip(*found_pairs, strict=True)])
    keep = pair > best * np.exp(-KEPT)
    paired = Paired(top, np.sort(members[:, keep].T, axis=1), pair[keep], totals, acts, by_kind)
    return _in_full(paired, parts, candidates)


def in_lines(count: int) -> int:
    """Return a number of columns filled up to whole lines."""
    return count + -count % LINE


def _spans(begin: int, end: int, count: int, whole: bool) -> list[tuple[int, int, int]]:
    """Rows of each block and its first column, from a whole line on: more rows at once where fewer columns are left."""
    spans = []
    while begin < end:
        first = begin - begin % LINE if whole else 0
        spans.append((begin, min(begin + max(AT_ONCE // (count - first), 1), end), first))
        begin = spans[-1][1]
    return spans


def _in_full(paired: Paired, parts: Parts, candidates: Candidates) -> Paired:
    """Weigh the likeliest pairs once more, their two signs together; in place."""
    likeliest = np.argsort(-paired.weight)[:MOST_EXACT]
    members, kind, kinds = paired.members[likeliest], candidates.kind, len(paired.by_kind)
    by_way = np.exp(parts.several(members, candidates.log_prior) - paired.top)
    weight = by_way.sum(axis=0)
    more = weight - paired.weight[likeliest]
    paired.totals[:] += by_way @ (more / np.maximum(weight, np.exp(-MOST_LOG)))
    paired.weight[likeliest] = weight
    paired.acts[:] += np.bincount(members.ravel(), np.repeat(more, 2), len(kind))
    paired.by_kind[:] += np.bincount(kind[members] @ [kinds, 1], more, kinds**2).reshape(kinds, kinds)
    return paired


@dataclass(frozen=True, slots=True, eq=False)
class Rooms:
    """Room for so many pairs at a time, used again for every block."""

    double: Floats
    single: Floats32

    @classmethod
    def of(cls, size: int) -> Rooms:
        """Make room, from a whole line of the processor's cache on: twice as fast to write."""
        floats = np.empty(6 * size + LINE)
        floats = floats[-floats.ctypes.data % (4 * LINE) // 8 :]
        return cls(floats[: 3 * size], floats[3 * size : 6 * size].view(np.float32))


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Weights of pairs in blocks, each column divided by its length: a pair is its cosine and little else.

    How far apart two patterns are, and what they explain together, may cancel: it is reckoned in double precision, and
    what follows from it in single. ``unit`` holds the columns, and their pulls are in units of the least misfit of
    one pattern, as ``freedom`` is; ``short`` and ``turned`` are the two sides of the product that is the size of the
    first of a pair, ``left`` and ``loss`` those of the sum that is left before anything is explained. All are filled up
    with columns of no weight to whole lines.
    """

    level: float
    exponent: float
    freedom: float
    unit: Floats
    pull: Floats
    short: Floats32
    turned: Floats32
    factor: Floats32
    left: Floats
    loss: Floats
    either: Ints

    @classmethod
    def of(cls, parts: Parts, way: int) -> Block:
        """Prepare what all blocks under one reading have in common."""
        length, least, count = np.sqrt(parts.one[way]), float(parts.misfit[way]), len(parts.loss)
        of_one = least + parts.loss - parts.pull[way] ** 2 / parts.one[way]
        least = max(float(np.min(of_one, initial=least)), parts.freedom)
        pull, unit = np.zeros(in_lines(count)), np.zeros((parts.white.shape[1], in_lines(count)))
        factor, loss = np.zeros(in_lines(count), np.float32), np.zeros(in_lines(count))
        np.divide(parts.pull[way], length * np.sqrt(least), out=pull[:count])
        np.divide(parts.white[way], length, out=unit[:, :count])
        short = ((np.vstack([unit, -pull]) + WHOLE) - WHOLE).astype(np.float32)
        turned = short * pull.astype(np.float32)
        turned[-1] = 1.0
        either = np.flatnonzero(~parts.signed)
        short[-1, either] = NO_SIDE
        factor[:count], loss[:count] = np.exp(parts.prior) / length, parts.loss / least
        ones = np.ones(len(pull))
        left = np.stack([parts.misfit[way] / least + loss - pull**2, ones])
        level = float(parts.level[way] - parts.exponent * np.log(least))
        return cls(
            level, parts.exponent, parts.freedom / least, unit, pull, short, turned, factor,
            left, np.stack([ones, loss]), either,
        )  # fmt: skip

    @np.errstate(over="ignore")  # one by infinity is as good as nothing
    def logs(self, rows: Ints | slice, first: int, rooms: Rooms, top: float) -> tuple[Floats32, Floats32]:
        """Of some patterns with all from ``first`` on, less ``top``, and what their exponential is to be multiplied by.

        Both of shape (m, K - first), K filled up to whole lines.
        """
        exponent, mine, unit = self.exponent, self.unit[:, rows], self.unit[:, first:]
        count = mine.shape[1]
        size = count * unit.shape[1]
        sine, misfit, left = rooms.double[: 3 * size].reshape(3, count, -1)
        logs, scale, here, there, odds = rooms.single[: 5 * size].reshape(5, count, -1)
        np.matmul(mine.T, unit, out=sine)  # yet the cosine
        np.multiply(sine, self.pull[rows, None], out=misfit)
        misfit -= self.pull[first:]
        np.matmul(self.short[:, rows].T, self.turned[:, first:], out=here)
        there[:] = misfit
        there[:, self.either[self.either >= first] - first] = NO_SIDE
        sine *= sine
        np.subtract(1.0, sine, out=sine)  # squared
        if sine.min(initial=1.0) < LEAST_SINE:
            np.maximum(sine, LEAST_SINE, out=sine)
        misfit *= misfit
        misfit /= sine
        # as a product: sums of a row and a column are twice as slow
        np.matmul(self.left[:, rows].T, self.loss[:, first:], out=left)
        left -= misfit
        if left.min(initial=1.0) < self.freedom:  # huge bills cancel
            np.maximum(left, self.freedom, out=left)
        sine *= left
        logs[:] = left
        scale[:] = sine
        straight, cubic = logistic(2.0 * exponent)
        root = float(np.cbrt(cubic))
        times = root * float(np.sqrt(2.0 * exponent))
        np.sqrt(scale, out=scale)
        np.divide(np.float32(times), scale, out=scale)
        # of sizes turned and scaled, so that the logarithm of the odds against is t (straight / root + t^2)
        for turned in (here, there):
            turned *= scale
            np.multiply(turned, turned, out=odds)
            odds += np.float32(straight / root)
            turned *= odds
            np.exp(turned, out=turned)
            turned += np.float32(1.0)
        scale /= here
        scale /= there
        scale *= self.factor[first:]
        scale *= self.factor[rows, None]
        np.log(logs, out=logs)
        logs *= np.float32(0.5 - exponent)
        logs += np.float32(self.level - np.log(times) - top)
        return logs, scale
