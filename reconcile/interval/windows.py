"""Windows of time whose means are evidence: where they are cut, and how they scatter and drift."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reconcile.distributions import MEDIAN_TO_SD

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEVEL_SD = 1.0
"""What one knows of the level itself, as a part of it: nothing. Windows tell changes only."""

PRIOR_MOVES = 0.5
"""Moves from one window to the next by which a level is taken beforehand to wander as usual: homes differ tenfold, so
that a year of its own says more. What the rows say of a step where there is none then has a root mean square of 0.89 to
0.99 of what they own to, in years of one real home at 5, 15 and 60 min, and 0.36 in simulated ones (our own judgement;
2 gives 0.88 to 0.96, and 0.33).
"""

MOST_STRAY = 3.0
"""Standard deviations beyond which a window counts no more for the scatter of all: weeks of an empty house are no noise
(our own judgement)."""

PRIOR_WINDOWS = 4.0
"""Windows whose scatter is taken beforehand to be what their own noise says (our own judgement)."""

RETURN_SHARE = 0.5
"""Part of the larger of what came and what went that the smaller must be for the two to be one thing (our own
judgement)."""

SWING_DAYS, CUT_DAYS = 30, 200
"""Where nobody knows the weather, from so many days on such a time shows how far seasons move the nights, and one that
either end of the data cuts off lasts no longer than so [d] (our own judgement)."""

YEAR_DAYS, LATE_DAYS = 365, 45
"""A season comes and goes a year after the last, so many days earlier or later (our own judgement)."""

UNEVEN, LEAST_UNEVEN_DAYS = 2.0, 14
"""There a time that either end of the data cuts off may be a season's, however high, where its nights differ from one
to the next by so many times as much as all others, of so many at the least on either side: heating follows the cold
(our judgement)."""

COVERAGE = 2.0
"""Standard deviations that hold what is seldom exceeded."""

LEAST_APART = 10.0
"""Windows less far apart say nothing of how a level wanders [d]."""


def edges_of(first: int, last: int, cuts: Sequence[int], least_days: int) -> Ints:
    """Cut a stretch of days at given dates, and what lies between evenly.

    Parameters
    ----------
    first, last : int
        First day and the day after the last [d].
    cuts : sequence of int
        In order; those outside are left out.
    least_days : int
        Windows are no shorter, but for what the cuts leave [d].

    Examples
    --------
    >>> edges_of(0, 100, [50], 20).tolist()
    [0, 25, 50, 75, 100]
    """
    edges = [first]
    inside = [cut for cut in cuts if first < cut < last]
    for begin, end in pairwise([first, *inside, last]):
        count = max(1, (end - begin) // least_days)
        edges += np.round(np.linspace(begin, end, count + 1)[1:]).astype(int).tolist()
    return np.array(edges, dtype=np.int64)


def standing_out(
    levels: Floats, edges: Sequence[int], *, cut_off: bool = False
) -> Iterator[tuple[int, float, int, int]]:
    """Levels that stand above, or below, some level before and some level after them.

    Parameters
    ----------
    levels : ndarray, shape (k,)
    edges : sequence of int, length k + 1
        Days at which they begin, and the end of the last [d].
    cut_off : bool
        Take it that before the first and after the last the lowest level, or the highest, stood.

    Yields
    ------
    level, height, begin, end : tuple of int, float, int and int
        Place of a level, how far it stands above both sides (below zero: beneath them), and the days from which and to
        which the levels about it do by half of that.

    Examples
    --------
    >>> list(standing_out(np.array([1.0, 5.0, 2.0]), [0, 30, 60, 90]))
    [(1, 3.0, 30, 60)]
    """
    if cut_off:
        edges = [edges[0], *edges, edges[-1]]
    for k in range(1, len(levels) + 1 if cut_off else len(levels) - 1):
        for sign in (1.0, -1.0):
            stands = sign * levels
            if cut_off:
                stands = np.concatenate([[stands.min()], stands, [stands.min()]])
            sides = stands[k] - stands[:k].min(), stands[k] - stands[k + 1 :].min()
            height = float(min(sides))
            if height > RETURN_SHARE * max(sides):
                low = np.flatnonzero(stands < stands[k] - 0.5 * height)
                yield k - cut_off, sign * height, edges[int(low[low < k].max()) + 1], edges[int(low[low > k].min())]


def passing(
    levels: Floats,
    edges: Sequence[int],
    is_a_season: Callable[[int, int], bool],
    may_swing: Callable[[int, int, float], float] | None,
    spells: Sequence[tuple[float, float]] = (),
) -> Floats:
    """How far levels stand above, or below zero beneath, both those before and those after them, where that came and
    went as an absence, guests or a season's heating and cooling does.

    Parameters
    ----------
    levels : ndarray, shape (k,)
    edges : sequence of int, length k + 1
        Days at which they begin, and the end of the last [d].
    is_a_season : callable
        Whether what stood from one day to another may have passed so.
    may_swing : callable or None
        Where nobody knows the weather, what a season may have moved at the least that stands from one day to another
        by some height.
    spells : sequence of (float, float)
        Days from and to which heating or cooling is known to have taken more: their height is none of a level.

    Returns
    -------
    ndarray, shape (k, 3)
        Above, beneath, and above in a season that is cut off.
    """
    out, seasons = np.zeros((len(levels), 3)), []
    known: list[tuple[float, float, float]] = []
    for k, height, begin, end in standing_out(levels, edges):
        if is_a_season(begin, end):
            out[k, int(height < 0.0)] = height
            seasons += [(begin, end)] if height > 0.0 else []
            if end - begin >= SWING_DAYS:
                known.append((height, begin, end))
    # one that is cut off adds, and is seldom larger than the others, nor than what is listed for it; with the weather
    # known it is one that came or went a year apart
    others = [abs(height) / COVERAGE for height, _, _ in known]
    cut_off = [one for one in standing_out(levels, edges, cut_off=True) if one[1] > 0.0 and one[3] - one[2] <= CUT_DAYS]
    whole = [
        (begin, end)
        for _, height, begin, end in cut_off
        if may_swing is not None and may_swing(begin, end, height) >= height
    ]
    known += [(math.inf, begin, end) for begin, end in spells]
    for k, height, begin, end in cut_off:
        again = [
            other
            for other, came, went in known
            if min(abs(begin - came - YEAR_DAYS), abs(went - end - YEAR_DAYS)) <= LATE_DAYS
        ]
        swing = [] if may_swing is None else [may_swing(begin, end, height), *others]
        # what stands higher for a part of a season is of it
        inside = any(came <= begin and end <= went for came, went in whole)
        out[k, 2] = height if inside else min(height, max([0.0, *swing, *again]))
        seasons += [(begin, end)] if out[k, 2] > 0.0 and may_swing is None else []
    # what lies between two seasons is the usual, and no time that passed: what stands above it after both has begun
    for k, height, begin, end in standing_out(levels, edges):
        if height < 0.0 and any(went == begin for _, went in seasons) and any(came == end for came, _ in seasons):
            out[k, 1] = 0.0
    return out


def reaching(heights: Floats, limits: Sequence[tuple[int, int]], begins: Ints, ends: Ints) -> Floats:
    """Return the most of the heights of all levels that may reach into each window by the dates of their changes.

    Parameters
    ----------
    heights : ndarray, shape (k, 3)
        As :func:`passing` gives them.
    limits : sequence of (int, int), length k - 1
        Earliest and latest day of each change [d].
    begins, ends : ndarray of int64, shape (m,)
        [d]

    Returns
    -------
    ndarray, shape (m, 3)

    Examples
    --------
    >>> heights = np.array([[0.0, 0.0, 0.0], [90.0, 0.0, 0.0]])
    >>> reaching(heights, [(37, 41)], np.array([0, 33, 40]), np.array([33, 40, 70]))[:, 0].tolist()
    [0.0, 90.0, 90.0]
    """
    low, high = np.array(limits, dtype=np.int64).reshape(-1, 2).T
    first, last = np.searchsorted(high, begins, side="right"), np.searchsorted(low, ends)
    at = np.arange(len(heights))
    reaches = (at >= np.minimum(first, last)[:, None]) & (at <= last[:, None])
    inside = reaches[:, :, None] * heights
    found: Floats = np.take_along_axis(inside, np.abs(inside).argmax(axis=1)[:, None], axis=1)[:, 0]
    return found


def one_time(heights: Floats) -> Floats:
    """Whether two windows lie in one time in which a level stood out, one where they do, shape (m, m)."""
    time = np.cumsum(np.diff(np.sign(heights), prepend=0.0) != 0.0)
    alike: Floats = (time[:, None] == time).astype(float)
    return alike


def scatter(value: Floats, variance: Floats, part: Ints) -> float:
    """How much more windows scatter about the mean of their part than their noise says; never less than 1.

    Parameters
    ----------
    value, variance : ndarray, shape (m,)
    part : ndarray of int64, shape (m,)
        Windows of one part share a level.

    Returns
    -------
    float
        Factor on the variances.
    """
    parts = np.unique(part)
    left = value.copy()
    for one in parts:
        here = part == one
        left[here] -= np.average(value[here], weights=1.0 / variance[here])
    freedom = max(len(value) - len(parts), 0)
    strays = np.minimum(left**2 / variance, MOST_STRAY**2)
    return max(1.0, float((PRIOR_WINDOWS + np.sum(strays)) / (PRIOR_WINDOWS + freedom)))


def uneven(level: Floats, inside: NDArray[np.bool_]) -> bool:
    """Whether the nights of some time differ more from one to the next than others, as a season's do.

    Parameters
    ----------
    level : ndarray, shape (n,)
    inside : ndarray of bool, shape (n,)
    """
    if min(inside.sum(), (~inside).sum()) < LEAST_UNEVEN_DAYS:
        return False
    within, beside = (float(np.median(np.abs(np.diff(level[nights])))) for nights in (inside, ~inside))
    return within > UNEVEN * beside


def added_scatter(before: Floats, since: Floats) -> float:
    """How much more the days since scatter than those before, about their middle or from one to the next.

    Parameters
    ----------
    before, since : ndarray, shape (n,), (m,)

    Returns
    -------
    float
        One standard deviation, by the middle one of what is left; the larger of the two.
    """
    squares = [
        [
            (MEDIAN_TO_SD * float(np.median(np.abs(off)))) ** 2
            for off in (days - np.median(days), np.diff(days) / 2**0.5)
        ]
        for days in (before, since)
    ]
    return float(np.sqrt(max(0.0, *(now - was for was, now in zip(*squares, strict=True)))))


def wandering(value: Floats, middle: Floats, usually: float, days: float, held: Floats | None = None) -> float:
    """How far a level wanders by itself, one standard deviation, as its own windows show.

    Parameters
    ----------
    value : ndarray, shape (m,)
        Means of windows, in order.
    middle : ndarray, shape (m,)
        [d]
    usually : float
        What is taken beforehand.
    days : float
        After which it has lost most of its memory [d].
    held : ndarray, shape (m, m), or None
        Covariance of what else moves them, as the weather does: a level wanders by no more than is left.

    Notes
    -----
    From the middle one of the differences of windows next to each other, less what else moves them: a step or two move
    it little, and a house whose level keeps still is heard the better.
    """
    apart = np.diff(middle)
    far = apart >= LEAST_APART
    if not far.any():
        return usually
    apart_by = 2.0 * (1.0 - np.exp(-apart / days))
    moved = MEDIAN_TO_SD**2 * float(np.median((np.diff(value) ** 2 / apart_by)[far]))
    if held is not None:
        own_of_each = np.diag(held)
        between = own_of_each[:-1] + own_of_each[1:] - 2.0 * np.diag(held, 1)
        moved -= float(np.median((between / apart_by)[far]))
    count = int(far.sum())
    return math.sqrt((PRIOR_MOVES * usually**2 + count * max(moved, 0.0)) / (PRIOR_MOVES + count))


def drift(middle: Floats, sd: float, days: float) -> Floats:
    """Covariance of a slow drift at some dates.

    Parameters
    ----------
    middle : ndarray, shape (m,)
        [d]
    days : float
        After which a drift has lost most of its memory [d].
    """
    covariance: Floats = sd**2 * np.exp(-np.abs(middle[:, None] - middle) / days)
    return covariance


def slow(middle: Floats, days: float) -> Floats:
    """Covariance of something that moves slowly and smoothly, as seasons do: no step is like it.

    Parameters
    ----------
    middle : ndarray, shape (m,)
        [d]
    days : float
        After which it has lost two thirds of its memory [d].
    """
    covariance: Floats = np.exp(-(((middle[:, None] - middle) / days) ** 2))
    return covariance


def swing(middle: Floats) -> Floats:
    """Covariance of a yearly and a half-yearly swing of unknown phase at some dates.

    Parameters
    ----------
    middle : ndarray, shape (m,)
        [d]

    Returns
    -------
    ndarray, shape (m, m)
        One at most.
    """
    turn = 2.0 * np.pi * (middle[:, None] - middle) / 365.25
    covariance: Floats = 0.5 * (np.cos(turn) + np.cos(2.0 * turn))
    return covariance
