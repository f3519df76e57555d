"""The patterns that may stand in a house's bills: one column each, with its onset, size and prior."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date, timedelta
from functools import cache

import numpy as np
from numpy.typing import NDArray

from reconcile import kinds
from reconcile.records import dataclass
from reconcile.weigh.gaussian import Fit
from reconcile.weigh.model import Model
from reconcile.weigh.pairs import Candidates
from reconcile.weigh.places import FOLLOWING_WEATHER, Places
from reconcile.weigh.shapes import NO_SHARE, SHARES, Acting, Shape, sharpen

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FOLLOWS = {
    "meter-step": "all",
    "meter-exchange": "all",
    "meter-drift": "all",
    "old-meter-slow": "all",
    "meter-low-exchange": "all",
    "meter-always": "all",
    "meter-low": "all",
    "meter-leg": "all",
    "meter-low-always": "all",
    "meter-slowing": "all",
    "habit-step": "clock",
    "habit-fall": "clock",
    "house-left": "clock",
    "heating-rise": "heating",
    "heating-fall": "heating",
    "heating-spell": "heating",
    "cooling-spell": "cooling",
    "cooling-rise": "cooling",
    "cooling-fall": "cooling",
}
"""Which share of the use each proportional kind acts on (:func:`reconcile.weigh.shapes.shares`)."""

KINDS = tuple(kinds.PATTERNS)
CODES = tuple(dict.fromkeys(kinds.PATTERNS[kind].code for kind in KINDS))
CODE_OF_KIND = np.array([CODES.index(kinds.PATTERNS[kind].code) for kind in KINDS])

UNDATED = 0.1
"""Part of an onset's chance that stays with it where interval data date a change near it: that date is then the onset,
if there is one at all (our choice)."""

LEAST_SEEN = 0.08
"""Part of the mean use of a period from which a pattern is seen in it."""

LEAST_BEFORE = 0.05
"""Part of all heating, or cooling, of these bills that must stand before it is said to have changed (our choice)."""

_EXCLUDING = (
    ("meter-step", "old-meter-slow", "meter-always", "meter-low"),
    ("constant-load", "load-gone"),
)
"""Codes of which only one is taken to act: a meter that turned fast and then slow again, or a load that came as another
went, is a load between two dates."""
GROUP_OF_KIND = np.array(
    [next((CODES.index(g[0]) for g in _EXCLUDING if CODES[code] in g), code) for code in CODE_OF_KIND]
)

GROUP_OF_KIND[KINDS.index("house-left")] = CODES.index("constant-load")  # nobody leaves for good as a load comes
_FOLLOWS_OF_KIND = np.array([SHARES.index(FOLLOWS[kind]) if kind in FOLLOWS else NO_SHARE for kind in KINDS])
_SIZE_MEAN, _SIZE_SD = (
    np.array([getattr(kind, name) for kind in kinds.PATTERNS.values()]) for name in ("size_mean", "size_sd")
)
_LARGE_MEAN, _LARGE_SD = np.array([kind.large_size for kind in kinds.PATTERNS.values()]).T


LEAST_THINGS = 0.2
"""Part of all use that the things of a house take beside its heating and cooling, at the least (our choice)."""

BY_PEOPLE = 0.2
"""Part of heating and cooling that goes as the people do: rooms warmed for guests, a setting turned back on leaving
(our choice)."""

MOVED_BETWEEN_BILLS = ("late-reading", "swap", "swap-back", "catch-up", "trued-up")
"""Kinds of use that one bill lacks and the next one holds."""


@cache
def kinds_mask(*kinds: str) -> NDArray[np.bool_]:
    """Mark some kinds among :data:`KINDS`.

    Examples
    --------
    >>> int(kinds_mask("drift").sum())
    1
    """
    return np.array([kind in kinds for kind in KINDS])


@dataclass(frozen=True, slots=True, eq=False)
class Patterns:
    """K patterns on n periods."""

    effect: Floats
    """kWh in each period per unit of size (1 = the part of use, or kWh/d, that ``unit`` says), shape (n, K)."""
    kind_index: NDArray[np.int64]
    """Place of each kind in :data:`KINDS`, shape (K,)."""
    start: Floats
    """Day (ordinal) from which each acts, shape (K,); NaN for always."""
    end: Floats
    """Day (ordinal) on which each is over, infinite where it is not, shape (K,); NaN where ``closes`` alone says."""
    full: Floats
    """Day (ordinal) from which each that grows stands at its size, shape (K,); NaN for those that do not grow."""
    size_mean: Floats
    size_sd: Floats
    """Both: shape (K,)."""
    log_prior: Floats
    """Shape (K,)."""
    persistent: int
    """The first so many."""
    opens: Ints
    closes: Ints
    """Both: first period in which each acts, and the one after its last, shape (K,)."""
    acting: Acting
    """What the proportional ones act on, and by what part."""
    idle: NDArray[np.bool_]
    """Loads that rest while a quiet night is read, shape (K,)."""
    nights: Floats
    """Part of the base load of the nights that goes with ways of the household, shape (K,)."""
    spared: Floats
    """Of the base load, what a meter of a dead element counts beyond its part of all use [kWh/d], shape (K,)."""

    def code(self, index: int) -> str:
        """Cause code of a pattern."""
        return CODES[int(CODE_OF_KIND[self.kind_index[index]])]

    def sized(self, scatter: float) -> Patterns:
        """Return the same with sizes as far from usual as stated, where bills scatter more than the model has it.

        One unknown scale multiplies the bills' scatter and what causes may amount to. That the bills of a house scatter
        twice as far makes no meter run twice as far from right. An odd bill, or a late reading, is scatter itself.

        Parameters
        ----------
        scatter : float
            The scale, squared.
        """
        own = kinds_mask(*kinds.SCATTER)[self.kind_index]
        return replace(self, size_sd=np.where(own, 1.0, scatter**-0.5) * self.size_sd)

    def candidates(self, effect: Floats) -> Candidates:
        """Scale the patterns' effects on the observations heard, shape (N, K), for the evidence."""
        return Candidates(
            columns=effect * self.size_sd,
            shift=self.size_mean / self.size_sd,
            log_prior=self.log_prior,
            group=GROUP_OF_KIND[self.kind_index],
            kind=self.kind_index,
            persistent=self.persistent,
            opens=self.opens,
            closes=self.closes,
        )


def acted_on(shape: Shape) -> Floats:
    """Energy of each period that a pattern of each kind multiplies by its size [kWh], shape (C, n).

    Guests and an empty house move what people use: most of the heating goes on, where it is known what that is.
    """
    per_day = shape.days * shape.per_day
    lived = shape.all - shape.told * (1.0 - BY_PEOPLE) * (shape.heating + shape.cooling)
    on = {
        "all": shape.all,
        "clock": shape.clock,
        "heating": shape.heating,
        "cooling": shape.cooling,
        "heating-setting": shape.warmer,
        "cooling-setting": shape.cooler,
        "cold-load": per_day * shape.outdoors,
        "hot-water-leak": per_day * shape.mains,
        "list-short": shape.all,
        "unlisted-heating": per_day * shape.cold,
        "unlisted-cooling": per_day * shape.hot,
        "single-high": lived,
        "single-low": lived,
        "odd-bill": shape.all,
        "generation-fall": shape.made,
    }
    return np.stack([on.get(FOLLOWS.get(kind, kind), per_day) for kind in KINDS])


def usual_sizes(shape: Shape) -> Floats:
    """Return by what the table's size of each kind is multiplied in a house, shape (C,).

    What leaves, or is no longer used, was one of the things of the house: in one that is heated by electricity it is no
    larger than elsewhere; nor is what people do otherwise, where all use stands for what they switch. What sticks uses
    the same in a small house as in a large one.
    """
    total, follows = float(shape.all.sum()), float((shape.heating + shape.cooling).sum())
    things = 1.0 - follows / total if math.isfinite(total) and total > 0.0 else 1.0
    of_things = kinds_mask("load-gone") if shape.told else kinds_mask("load-gone", "habit-step")
    usual = np.where(of_things, min(max(things, LEAST_THINGS), 1.0), 1.0)
    return np.where(kinds_mask("stuck-load"), kinds.STUCK_KWH / max(shape.per_day, 1e-9), usual)


def patterns(at: Places, model: Model, shape: Shape, bills: Fit, judged: NDArray[np.bool_]) -> Patterns:
    """Let every pattern act on the use of a house.

    Parameters
    ----------
    shape : Shape
    bills : Fit
        The judged bills with no pattern in.
    judged : ndarray of bool, shape (n,)
        Periods that are heard; a pattern that touches none of them is left out.
    """
    told, use = ~np.isnan(at.end), acted_on(shape)
    on = use[at.kind_index]
    on[told] = shape.days  # days of interval data say its kWh
    effect = at.mask * on
    between = kinds_mask(*MOVED_BETWEEN_BILLS)[at.kind_index]
    effect[between] *= _own_use(at.mask[between], shape)[:, None]
    kept = np.flatnonzero(told_apart(at, effect, use, shape, model, judged))
    index, large = at.kind_index[kept], at.large[kept]
    mask = at.mask[kept]
    acts, usual = np.abs(mask) > 0.0, usual_sizes(shape)[index]
    acting = Acting(
        mask=mask.T.copy(),
        follows=np.where(told[kept], NO_SHARE, _FOLLOWS_OF_KIND[index]),
        size_mean=usual * np.where(large, _LARGE_MEAN[index], _SIZE_MEAN[index]),
        size_sd=usual * np.where(large, _LARGE_SD[index], _SIZE_SD[index]),
    )
    spared = at.spared[kept]
    sharp = sharpen(effect[kept].T.copy(), acting, model, bills, judged) - acting.mask * np.outer(shape.days, spared)
    # what it is a part of is no share of the use
    acting = replace(acting, follows=np.where(kinds_mask("meter-leg")[index], NO_SHARE, acting.follows))
    return Patterns(
        effect=sharp,
        kind_index=index,
        start=at.start[kept],
        end=at.end[kept],
        full=at.full[kept],
        size_mean=acting.size_mean,
        size_sd=acting.size_sd,
        log_prior=at.log_odds[kept] + np.log(_shares(at.row[kept], at.start[kept], at.dated[kept])),
        persistent=int(np.searchsorted(kept, at.persistent)),
        opens=np.argmax(acts, axis=1),
        closes=acts.shape[1] - np.argmax(acts[:, ::-1], axis=1),
        acting=acting,
        idle=np.zeros(len(index), dtype=bool),
        nights=np.zeros(len(index)),
        spared=spared,
    )


def _own_use(mask: Floats, shape: Shape) -> Floats:
    """Use a day in the periods that each pattern touches over the mean of all, at least 1, shape (m,).

    Half of a month's use estimated away is half of that month's use: in the cold it is far more than half of the mean.
    Where a house uses little a misread dial can still be wrong by as much as elsewhere.
    """
    touched = (mask != 0.0).astype(float)
    usual: Floats = touched @ shape.days * shape.per_day
    ratio: Floats = np.divide(touched @ shape.all, usual, out=np.ones_like(usual), where=usual > 0.0)
    return np.maximum(ratio, 1.0)


def told_apart(
    at: Places, effect: Floats, use: Floats, shape: Shape, model: Model, judged: NDArray[np.bool_]
) -> NDArray[np.bool_]:
    """Mark what these bills could tell of, shape (m,); ``use`` is what patterns of each kind act on.

    A pattern too small to be seen in any period that is heard is no cause of these bills; one that differs from the
    next onset's in nothing (a rise of heating that begins in June or July) need not be weighed twice; nor is one a
    cause that is seen only where the weather is not known: such a period accuses nobody. And heating that hardly ran
    before it is said to have risen is heating of which the list is wrong.
    """
    least = LEAST_SEEN * float(shape.days.mean()) * shape.per_day
    known = judged & ~model.thin
    heard = effect[:, known if known.any() else judged]
    told = np.abs(heard).max(axis=1, initial=0.0) > least
    told |= kinds_mask("generation-fall")[at.kind_index]  # seen in what is sent out
    alike = (at.row[1:] == at.row[:-1]) & kinds_mask(*FOLLOWING_WEATHER)[at.kind_index[1:]]
    told[:-1] &= ~alike | (np.abs(heard[1:] - heard[:-1]).max(axis=1, initial=0.0) > least / 4.0)
    onward = kinds_mask(*FOLLOWING_WEATHER)[at.kind_index] & np.isnan(at.end)
    every = use[:, known if known.any() else judged].sum(axis=1)[at.kind_index[onward]]
    told[onward] &= np.abs(heard[onward]).sum(axis=1) <= (1.0 - LEAST_BEFORE) * every
    return np.asarray(told, dtype=bool)


def _shares(row: Ints, start: Floats, dated: NDArray[np.bool_]) -> Floats:
    """Part of its row's chance at each onset.

    Onsets that interval data name share the chance of the usual one nearest to them: that they were looked for makes
    them no likelier.
    """
    share: Floats = 1.0 / np.bincount(row)[row]
    for which in set(row[dated].tolist()):
        mine = row == which
        usual = start[mine & ~dated]
        if usual.size:
            days, alike = np.unique(usual, return_counts=True)  # several that end on different days may start on one
            cell = np.argmin(np.abs(start[mine, None] - days), axis=1)
            dates = np.bincount(cell, weights=dated[mine], minlength=len(days))[cell]
            left = np.where(dates > 0, UNDATED, 1.0)
            named = (1.0 - UNDATED) * alike[cell] / np.maximum(dates, 1.0)
            share[mine] = np.where(dated[mine], named, left) / len(usual)
    return share


def day_of(ordinal: float) -> date | None:
    """Date of an ordinal day; None for always."""
    return None if np.isnan(ordinal) else date(1, 1, 1) + timedelta(days=int(ordinal) - 1)
