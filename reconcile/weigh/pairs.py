"""Patterns that may act, and the weights of all pairs of them from one Gram matrix (method page, eq. 9 to 13)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

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

AT_ONCE = 36_000
"""Pairs are weighed in blocks of so many, which stay in the processor's cache."""

MOST_LOG, LEAST_LOG = 60.0, -40.0
"""Logarithms of the largest and the least number that is formed: in single precision there is none beyond 88."""

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
        """The same with smaller numbers, which are compared faster."""
        short = {name: getattr(self, name).astype(np.int16) for name in ("group", "opens", "closes")}
        return replace(self, **short)

    def prior(self, freedom: float) -> Floats:
        """Logarithm of each pattern's prior odds over the chance of its sign beforehand."""
        if freedom not in self.priors:
            shift = np.abs(self.shift)
            signs = np.where(shift > 0.0, np.log(one_side(shift, freedom)), 0.0)
            self.priors[freedom] = self.log_prior - signs
        return self.priors[freedom]

    def allowed(self, rows: Ints, first: int) -> NDArray[np.bool_]:
        """Whether patterns that all persist, or all pass, may act with each from ``first`` on, shape (m, K - first)."""
        apart: NDArray[np.bool_] = self.group[rows, None] != self.group[first:]
        begin = max(self.persistent - first, 0)
        if rows[0] >= self.persistent:
            opens, closes = self.opens[first + begin :], self.closes[first + begin :]
            np.less_equal(closes, self.opens[rows, None], out=apart[:, begin:])
            apart[:, begin:] |= self.closes[rows, None] <= opens
        return apart


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
    prior = candidates.prior(data.freedom)
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
    row_runs = np.flatnonzero(np.diff(candidates.kind[rows], prepend=-1))
    totals, acts, by_kind = np.zeros(len(each)), np.zeros(count), np.zeros((kinds, kinds))
    found_pairs: list[tuple[Ints, Ints]] = [(rows[:0], rows[:0])]
    found = [np.zeros(0)]
    best = 1.0
    at_once = max(AT_ONCE // max(count, 1), 1)
    rooms = Rooms.of(at_once * count)
    blocks = [Block.of(parts) for parts in each]
    small = candidates.compact()
    passing = int(np.searchsorted(rows, candidates.persistent))
    for begin, end in [*_spans(0, passing, at_once), *_spans(passing, len(rows), at_once)]:
        at = rows[begin:end]
        first = int(at[0]) if whole else 0
        allowed = small.allowed(at, first)
        twice = np.arange(first, at[-1] + 1)  # beyond these none has been met
        allowed[:, : len(twice)] &= (twice > at[:, None]) if whole else (twice > at[:, None]) | ~taken[twice]
        weight = rooms.weight[: allowed.size].reshape(allowed.shape)
        weight[:] = 0.0
        for way, block in enumerate(blocks):
            logs, factor = block.logs(at, slice(first, count), rooms, top)
            more = float(logs.max(initial=-np.inf))
            if more > MOST_LOG:
                logs[~allowed] = LEAST_LOG
                more = float(logs.max(initial=-np.inf))
            if more > MOST_LOG:  # all that was summed is made relative to this pair
                top += more
                logs -= np.float32(more)
                for summed in (totals, acts, by_kind, weight, *found):
                    summed *= np.exp(-more)
                best *= np.exp(-more)
            np.maximum(logs, np.float32(LEAST_LOG), out=logs)
            np.exp(logs, out=logs)
            logs *= factor
            logs *= allowed
            by_row = np.asarray(logs.sum(axis=1, dtype=float))
            totals[way] += by_row.sum()
            acts[at] += by_row
            weight += logs
        mine = np.append(begin, row_runs[(row_runs > begin) & (row_runs < end)])
        theirs = np.append(first, runs[runs > first])
        across = np.add.reduceat(weight, mine - begin, axis=0)
        acts[first:] += across.sum(axis=0)
        across = np.add.reduceat(across, theirs - first, axis=1)
        flat = candidates.kind[rows[mine]][:, None] * kinds + candidates.kind[theirs]
        by_kind += np.bincount(flat.ravel(), across.ravel(), kinds * kinds).reshape(by_kind.shape)
        best = max(best, float(weight.max(initial=0.0)))
        keep = np.flatnonzero(weight.ravel() > best * np.exp(-KEPT))
        if keep.size:
            found.append(weight.ravel()[keep])
            row, column = np.divmod(keep, count - first)
            found_pairs.append((at[row], column + first))
    pair, members = np.concatenate(found), np.stack([np.concatenate(side) for side in zip(*found_pairs, strict=True)])
    keep = pair > best * np.exp(-KEPT)
    paired = Paired(top, np.sort(members[:, keep].T, axis=1), pair[keep], totals, acts, by_kind)
    return _in_full(paired, each, candidates)


def _spans(begin: int, end: int, length: int) -> list[tuple[int, int]]:
    return [(at, min(at + length, end)) for at in range(begin, end, length)]


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
class Rooms:
    """Room for so many pairs at a time, used again for every block."""

    double: Floats
    single: Floats32
    weight: Floats

    @classmethod
    def of(cls, size: int) -> Rooms:
        """Make room."""
        return cls(np.empty((2, size)), np.empty((6, size), np.float32), np.empty(size))


@dataclass(frozen=True, slots=True, eq=False)
class Block:
    """Weights of pairs in blocks, each column divided by its length: a pair is its cosine and little else.

    How far apart two patterns are, and what they explain together, may cancel: it is reckoned in double precision, and
    what follows from it in single. ``unit`` holds the columns with their pulls below, in units of the ``least`` misfit
    of one pattern; ``short`` and ``turned`` are the two sides of the product that is the size of the first of a pair.
    """

    parts: Parts
    least: float
    unit: Floats
    pull: Floats
    short: Floats32
    turned: Floats32
    factor: Floats32
    left: Floats
    loss: Floats
    either: Ints

    @classmethod
    def of(cls, parts: Parts) -> Block:
        """Prepare what all blocks have in common."""
        length, least = np.sqrt(parts.one), parts.misfit
        least = max(float(np.min(least + parts.loss - parts.pull**2 / parts.one, initial=least)), parts.freedom)
        pull = parts.pull / (length * np.sqrt(least))
        unit = np.vstack([parts.white / length, -pull])
        short = ((unit + WHOLE) - WHOLE).astype(np.float32)
        turned = short * pull.astype(np.float32)
        turned[-1] = 1.0
        either = np.flatnonzero(~parts.signed)
        short[-1, either] = NO_SIDE
        factor, loss = (np.exp(parts.prior) / length).astype(np.float32), parts.loss / least
        left = parts.misfit / least + loss - pull**2
        return cls(parts, least, unit, pull, short, turned, factor, left, loss, either)

    @np.errstate(over="ignore")  # one by infinity is as good as nothing
    def logs(self, rows: Ints, columns: slice, rooms: Rooms, top: float) -> tuple[Floats32, Floats32]:
        """Of some patterns with a run of others, less ``top``, and what their exponential is to be multiplied by."""
        parts, across = self.parts, (len(rows), columns.stop - columns.start)
        size = across[0] * across[1]
        sine, misfit = rooms.double[:, :size].reshape(2, *across)
        room = rooms.single[:, :size].reshape(6, *across)
        logs, scale, sizes, odds = room[0], room[1], room[2:4], room[4:]
        mine = self.unit[:, rows]
        np.matmul(mine[:-1].T, self.unit[:-1, columns], out=sine)
        sine *= sine
        np.subtract(1.0, sine, out=sine)  # squared
        if sine.min(initial=1.0) < LEAST_SINE:
            np.maximum(sine, LEAST_SINE, out=sine)
        mine *= self.pull[rows]
        mine[-1] = 1.0
        np.matmul(mine.T, self.unit[:, columns], out=misfit)
        np.matmul(self.short[:, rows].T, self.turned[:, columns], out=sizes[0])
        sizes[1] = misfit
        sizes[1][:, self.either[self.either >= columns.start] - columns.start] = NO_SIDE
        misfit *= misfit
        misfit /= sine
        np.subtract(self.left[rows, None], misfit, out=misfit)
        misfit += self.loss[columns]
        least = parts.freedom / self.least
        if misfit.min(initial=1.0) < least:  # huge bills cancel
            np.maximum(misfit, least, out=misfit)
        sine *= misfit
        logs[:] = misfit
        scale[:] = sine
        straight, cubic = logistic(2.0 * parts.exponent)
        root = float(np.cbrt(cubic))
        times = root * float(np.sqrt(2.0 * parts.exponent))
        np.sqrt(scale, out=scale)
        np.divide(np.float32(times), scale, out=scale)
        # of sizes turned and scaled, so that the logarithm of the odds against is t (straight / root + t^2)
        sizes *= scale
        np.multiply(sizes, sizes, out=odds)
        odds += np.float32(straight / root)
        sizes *= odds
        np.exp(sizes, out=sizes)
        sizes += np.float32(1.0)
        scale /= sizes[0]
        scale /= sizes[1]
        scale *= self.factor[columns]
        scale *= self.factor[rows, None]
        np.log(logs, out=logs)
        logs *= np.float32(0.5 - parts.exponent)
        logs += np.float32(parts.level - parts.exponent * np.log(self.least) - np.log(times) - top)
        return logs, scale
