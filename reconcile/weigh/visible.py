"""What these bills could have shown, and which loads blur the view (method page, eq. 16 to 19)."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reconcile.distributions import raised
from reconcile.records import dataclass
from reconcile.weigh.gaussian import Fit, leave_one_out
from reconcile.weigh.pairs import Candidates

Floats = NDArray[np.float64]

NINETY_PERCENT = 1.2816
"""Quantile of the normal distribution: the size is exceeded by its estimate with 90 % probability."""

FIVE_PERCENT = 1.6449
"""The same of 95 %: scatter alone exceeds it once in twenty."""

CLEAR = 4.8
"""A cause some standard uncertainties wide is seen; where the search begins."""

NEAREST, FURTHEST = 0.2, 2.5
"""How far the first search reaches, in first guesses."""

ROUNDS, CLOSE = 8, 0.05
"""Rounds of the search at the most, and log odds within which a size is found: a hundredth of the chance."""

DRAWS, NINE_IN_TEN = 20, 18
"""Draws of the bills' scatter for the size that is stated, and place of the one that nine in ten do not exceed."""

LARGEST = 4.0
"""Sizes above this many times the unit are called invisible."""

MEASURED_SD = 0.05
"""Relative standard uncertainty left of a load's energy after a week of measuring it (common practice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Rules:
    """When an effect is seen: for each rule the marked patterns together reach the probability.

    ``marked`` has shape (K, R), ``wanted`` (R,).
    """

    marked: Floats
    wanted: Floats


def smallest_visible(data: Fit, candidates: Candidates, effect: Floats, rules: Rules, at: Sequence[int]) -> Floats:
    """Smallest size of each effect that the bills would have shown with 90 % probability.

    Parameters
    ----------
    data : Fit
        For its precision and learnt scale; its residual plays no part.
    candidates : Candidates
        All patterns weighed; rows beyond the bills' play no part.
    effect : ndarray, shape (N, m)
        One column an effect, kWh per unit of size; equal blocks of them, one block for each of ``at``.
    at : sequence of int
        In each block, the column whose size is found exactly.

    Returns
    -------
    ndarray, shape (m,)
        Sizes; NaN where even :data:`LARGEST` would stay unseen.

    Notes
    -----
    Exactly: the scatter of the bills is drawn :data:`DRAWS` times, for each draw the single-cause posterior is solved
    for the size, and the nine-in-ten quantile is taken. The other effects of a block follow a cheaper reckoning, bills
    at their tenth percentile along the effect and all other scatter at its mean, scaled to agree where both are known.
    """
    white = data.half @ candidates.columns[: len(data.residual)]
    seen = data.half @ effect
    n, scale = len(data.residual), data.scale
    unit = np.sqrt(np.maximum(np.einsum("ij,ij->j", seen, seen), 1e-12))
    across = seen.T @ white
    along = -NINETY_PERCENT * np.sqrt(scale)
    mean = _Rows(
        across, unit, (along / unit)[:, None] * across, along * unit, np.full(len(unit), along**2 + (n - 1) * scale)
    )
    draws = _scatter(n) * np.sqrt(scale)
    noise_pull, noise_misfit = draws @ white, np.einsum("ij,ij->i", draws, draws)
    width = len(unit) // len(at)
    exactly = [block * width + place for block, place in enumerate(at)]
    drawn = [
        _Rows(
            np.broadcast_to(across[which], noise_pull.shape),
            np.full(DRAWS, unit[which]),
            noise_pull,
            draws @ seen[:, which],
            noise_misfit,
        )
        for which in exactly
    ]
    every = _Rows(*(np.concatenate(parts) for parts in zip(mean, *drawn, strict=True)))
    cheap, *found = np.split(_sizes_seen(data, candidates, white, rules, every), len(unit) + DRAWS * np.arange(len(at)))
    for block, which in enumerate(exactly):
        sizes = np.sort(np.where(np.isnan(found[block]), np.inf, found[block]))
        exact = float(sizes[NINE_IN_TEN])
        if np.isfinite(exact) and cheap[which] > 0:
            cheap[block * width : (block + 1) * width] *= exact / cheap[which]
        cheap[which] = exact
    return np.where(cheap > LARGEST, np.nan, cheap)


def least_by_scatter(data: Fit, effect: Floats) -> Floats:
    """Size that stands out from the bills' own scatter, whatever the causes are thought to be.

    Each bill misses what all the others say of it by its leave-one-out scatter. An effect is told from that where its
    size is found at the one-sided 5 % level nine times in ten, the affected bills weighed together.

    Parameters
    ----------
    effect : ndarray, shape (n, m)
        kWh per unit of size.

    Returns
    -------
    ndarray, shape (m,)
        Infinite where no bill is affected.
    """
    sd = leave_one_out(data).scale
    together = np.sqrt(((effect / sd[:, None]) ** 2).sum(axis=0))
    with np.errstate(divide="ignore"):
        return np.asarray((FIVE_PERCENT + NINETY_PERCENT) / together)


@lru_cache(maxsize=64)
def _scatter(n: int) -> Floats:
    """Standard normal scatter of n bills, the same at every call."""
    return np.random.default_rng(n).standard_normal((DRAWS, n))


class _Rows(NamedTuple):
    """Effects with their scatter: the effect's products with every pattern and its norm, and the scatter's products
    with the patterns, with the effect, and with itself.
    """

    across: Floats
    unit: Floats
    noise_pull: Floats
    noise_along: Floats
    noise_misfit: Floats


def _sizes_seen(data: Fit, candidates: Candidates, white: Floats, rules: Rules, rows: _Rows) -> Floats:
    """Size from which each row is seen, by false position on its log odds; NaN where none is."""
    across, unit, noise_pull, noise_along, noise_misfit = rows
    one = 1.0 + np.einsum("ij,ij->j", white, white)
    half = 0.5 * (data.freedom + len(data.residual))
    # a size is wanted to a per cent or two: single precision is enough, and three times as fast
    root = np.sqrt(one)
    loss = (candidates.shift**2).astype(np.float32)
    base = ((noise_pull + candidates.shift) / root).astype(np.float32)
    slope = (across / root).astype(np.float32)
    marked = np.column_stack([rules.marked, np.ones(len(root))])
    marked = (marked * (np.exp(candidates.log_prior) / root)[:, None]).astype(np.float32)
    wanted = np.log(rules.wanted / np.maximum(1.0 - rules.wanted, 1e-9))
    room = np.empty_like(slope)

    def beyond(size: Floats, at: slice | NDArray[np.int64] = slice(None)) -> Floats:
        """Least log odds of any rule, less those that it wants: above nothing where the row is seen."""
        misfit = data.freedom + (size * unit[at]) ** 2 + 2.0 * size * noise_along[at] + noise_misfit[at]
        weight = np.multiply(size.astype(np.float32)[:, None], slope[at], out=room[: len(size)])
        weight += base[at]
        weight *= weight
        np.subtract(loss, weight, out=weight)
        weight /= misfit.astype(np.float32)[:, None]
        weight += np.float32(1.0)
        # positive in exact arithmetic; a huge effect cancels in single precision, and is seen anyway
        weight.clip(np.float32(np.exp(-80.0 / half)), np.float32(np.inf), out=weight)
        against = raised(weight, half)
        *each, every = (np.reciprocal(against, out=against) @ marked).T
        told = np.stack(each, axis=1)
        rest = np.maximum(1.0 + every[:, None] - told, 1e-6 * told + 1e-12)
        return np.asarray((np.log(np.maximum(told, 1e-12) / rest) - wanted).min(axis=1))

    # A first guess from what a single clear cause needs.
    guess = np.minimum(CLEAR * np.sqrt(data.scale) / unit, LARGEST / 2.0)
    there = beyond(guess)
    seen = there >= 0.0
    other = np.where(seen, NEAREST * guess, np.minimum(FURTHEST * guess, LARGEST))
    left = beyond(other)
    unseen = ~seen & (left < 0.0)
    if unseen.any():
        at = np.flatnonzero(unseen)
        other[at] = LARGEST
        left[at] = beyond(other[at], at)
        unseen = ~seen & (left < 0.0)
    low, high = np.where(seen, other, guess), np.where(seen, guess, other)
    under, over = np.where(seen, left, there), np.where(seen, there, left)
    # log odds grow with the square of the size
    low, high, before, here = low**2, high**2, seen, np.full(len(unit), np.inf)
    moves = ~unseen
    for _ in range(ROUNDS):
        at = np.flatnonzero(moves)
        middle = low + np.clip(under / np.minimum(under - over, -1e-9), 0.05, 0.95) * (high - low)
        here[at] = beyond(np.sqrt(middle[at]), at)
        enough, short = moves & (here >= 0.0), moves & (here < 0.0)
        # an end that stays twice counts half, so that both ends move
        part = np.where((here >= 0.0) == before, 0.5, 1.0)
        over, under = (
            np.where(enough, here, np.where(short, part * over, over)),
            np.where(short, here, np.where(enough, part * under, under)),
        )
        high, low = np.where(enough, middle, high), np.where(short, middle, low)
        before, moves = np.where(moves, here >= 0.0, before), moves & (np.abs(here) > CLOSE)
        if not moves.any():
            break
    share = np.clip(under / np.minimum(under - over, -1e-9), 0.0, 1.0)
    return np.where(unseen, np.nan, np.sqrt(low + share * (high - low)))


def doubt(precision: Floats, direction: Floats) -> float:
    """Standard uncertainty of the size of an effect that the bills alone would settle.

    Examples
    --------
    >>> doubt(np.eye(4), np.ones(4))
    0.5
    """
    return float(1.0 / np.sqrt(max(float(direction @ precision @ direction), 1e-300)))


def gains(precision: Floats, own: Floats, relative_sd: Floats, direction: Floats) -> Floats:
    """Variance of an effect's size once each load alone has been measured, closed form.

    Parameters
    ----------
    precision : ndarray, shape (n, n)
    own : ndarray, shape (n, q)
        Factor columns of the loads, scaled to one standard deviation.
    relative_sd : ndarray, shape (q,)
        Their relative standard uncertainties.
    direction : ndarray, shape (n,)
        The effect per unit of size.
    """
    removed = np.maximum(1.0 - (MEASURED_SD / np.maximum(relative_sd, MEASURED_SD)) ** 2, 0.0)
    pulled = precision @ direction
    inner = np.einsum("ij,ij->j", own, precision @ own)
    across = own.T @ pulled
    information = float(direction @ pulled) + removed * across**2 / np.maximum(1.0 - removed * inner, 1e-9)
    result: Floats = 1.0 / np.maximum(information, 1e-300)
    return result


def measured(precision: Floats, column: Floats, relative_sd: float) -> Floats:
    """Precision once one load has been measured: a rank-one update."""
    removed = max(1.0 - (MEASURED_SD / max(relative_sd, MEASURED_SD)) ** 2, 0.0)
    pulled = precision @ column
    updated: Floats = precision + np.outer(pulled, pulled) * (
        removed / max(1.0 - removed * float(column @ pulled), 1e-9)
    )
    return updated
