"""One ratio of billed to interval energy that bills in a row share, where every reading has an hour of its own.

The hours of reading scatter, and how far is learnt from the same bills: a bill is off its intervals by the energy
between the usual hours and its own. A ratio moves every bill by one part of it, which no hours do.
"""

from __future__ import annotations

import math
from itertools import combinations

import numpy as np

from reconcile.house import House
from reconcile.interval.chain import WRONG
from reconcile.interval.other_meter import END_DAYS
from reconcile.interval.reads import AGREEING_SHARE, LEAST_AGREEING, OFFSETS, RATIO_SPREAD, Reads
from reconcile.interval.running import Floats, Ints
from reconcile.records import dataclass

COMMON: Ints = np.arange(0, len(OFFSETS), 16)
"""Common times of reading tried, places in OFFSETS: every four hours, which hardly move the energy of a whole bill."""

HOURS = (0.5, 2.0, 4.0, 6.0, 9.0)
"""Scatters of an account's hours of reading, one standard deviation, in hours of mean use: at any hour of the day it is
7, and more where evenings take more than the mean (our own judgement) [h]."""

NO_HOURS = (18.0, 36.0, 72.0)
"""Scatters beyond any hours: bills that the data are not of, among which some come near one ratio by chance (our own
judgement) [h]."""

WITHIN_SDS = 3.0
"""A bill agrees with a ratio within so many standard deviations of what its hours of reading leave open (our own
judgement)."""

LEAST_GAIN = -math.log(WRONG)
"""By how much a ratio must make the bills likelier, beside the number of stretches tried, in logarithms of odds: it is
about as rare as a wrong bill (our own judgement)."""

AT_EDGE = 0.1
"""Chance that a ratio began or ended within its first or last bill rather than with it (our own judgement)."""

FEW = 2
"""Bills that may share a ratio where others tell how far the hours scatter (our own judgement)."""

MOST_BILLS = 36
"""Of longer accounts only stretches that begin with the first bill or end with the last are tried (a guard of time, our
choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Shared:
    """A ratio and the groups of bills that stand in it, one after another."""

    ratio: float
    uncertainty: float
    run: Ints
    whole: bool
    """No bill that can be judged stands outside it."""


@dataclass(frozen=True, slots=True, eq=False)
class _Bills:
    """Groups of bills that can be judged, g of them, at c common times and s scatters of the hours."""

    groups: Ints
    billed: Floats
    added: Floats
    """Intervals [kWh], shape (c, 1, g)."""
    hours: Floats
    """What the hours leave open of the intervals, one standard deviation [kWh], shape (c, s, g)."""
    slack: Floats
    """What readings in whole steps and rounding leave open either way [kWh]."""
    days: Floats

    def sd(self, ratio: Floats) -> Floats:
        """What is open of each bill at a ratio for each common time [kWh], shape (c, s, g)."""
        return np.hypot(ratio[:, None, None] * self.hours, np.maximum(ratio, 1.0)[:, None, None] * self.slack / 2.0)


def shared_ratio(house: House, reads: Reads) -> Shared | None:
    """Find the stretch of bills and the ratio that make all bills likeliest, with hours of reading that scatter.

    Parameters
    ----------
    house : House
        With interval data.
    reads : Reads

    Returns
    -------
    Shared or None
        None where no ratio is likely enough, or where bills that fit neither it nor one are too many.
    """
    bills = _judged(house, reads)
    count = len(bills.groups)
    if count < LEAST_AGREEING:
        return None
    one = _likely(bills, slice(0, count), np.ones(len(COMMON)))
    so_far = np.cumsum(np.concatenate([np.zeros((*one.shape[:2], 1)), one], axis=2), axis=2)
    stretches = [(a, b) for a, b in combinations(range(count + 1), 2) if b - a >= FEW]
    if count > MOST_BILLS:
        stretches = [(a, b) for a, b in stretches if a == 0 or b == count]
    found = []
    for a, b in stretches:
        ratio = _ratio(bills, a, b)
        apart = np.abs(ratio - 1.0)
        daily = bills.billed[a:b].sum() / bills.days[a:b].sum()
        open_days = END_DAYS + (bills.slack[a] + bills.slack[b - 1]) / 2.0 / daily
        if apart.min() > RATIO_SPREAD and apart.min() * bills.days[a:b].sum() > open_days:
            total = so_far[:, :, -1] - so_far[:, :, b] + so_far[:, :, a] + _held(bills, a, b, ratio).sum(axis=2)
            found.append((float(total.max()), a, b, ratio, np.unravel_index(int(np.argmax(total)), total.shape)))
    if not found:
        return None
    likely, a, b, ratios, (common, spread) = max(found, key=lambda one: one[0])
    gain = likely - float(so_far[:, :, -1].max())
    if spread >= len(HOURS) or gain < LEAST_GAIN + math.log(len(stretches)):
        return None
    added, sd = bills.added[common, 0], bills.sd(ratios)[common, spread]
    near = np.abs(bills.billed - ratios[common] * added) <= WITHIN_SDS * sd + RATIO_SPREAD * bills.billed
    own = np.abs(bills.billed - added) <= WITHIN_SDS * bills.sd(np.ones_like(ratios))[common, spread]
    own[a:b] = near[a:b]
    run = a + np.flatnonzero(near[a:b])
    if len(run) < FEW or own.sum() < max(LEAST_AGREEING, AGREEING_SHARE * count):
        return None
    ends = slice(run[0], run[-1] + 1)
    whole = float(bills.billed[ends].sum() / added[ends].sum())
    doubt = float(np.hypot(sd[run[0]], sd[run[-1]]) / math.sqrt(2.0) / added[ends].sum())
    between = (bills.billed - added) * (ratios[common] * added - bills.billed) > 0.0
    near[[a, b - 1]] |= between[[a, b - 1]]
    return Shared(whole, doubt, bills.groups[a:b][near[a:b]], b - a == count)


def _judged(house: House, reads: Reads) -> _Bills:
    added = reads.sums[COMMON]
    use = np.flatnonzero(reads.judged[COMMON].all(axis=0) & (added > 0.0).all(axis=0) & (reads.billed_kwh > 0.0))
    days = np.array([sum(house.bills[i].days for i in reads.groups[g]) for g in use], dtype=float)
    added = added[:, None, use]
    hours = math.sqrt(2.0) * np.array(HOURS + NO_HOURS)[:, None] * added / (24.0 * days)
    return _Bills(use, reads.billed_kwh[use], added, hours, reads.slack[use], days)


def _ratio(bills: _Bills, a: int, b: int) -> Floats:
    """Ratio of a stretch at each common time, by the bills within which it neither began nor ended where there are
    enough.
    """
    inner = slice(a + 1, b - 1) if b - a > LEAST_AGREEING else slice(a, b)
    return np.asarray(bills.billed[inner].sum() / bills.added[:, 0, inner].sum(axis=1))


def _likely(bills: _Bills, part: slice, ratio: Floats) -> Floats:
    """Logarithm of how likely each bill is at a ratio, or wrong by any part of it, shape (c, s, g)."""
    sd = bills.sd(ratio)[:, :, part]
    over = (bills.billed[part] - ratio[:, None, None] * bills.added[:, :, part]) / sd
    wild = math.log(WRONG) - np.log(bills.billed[part])
    return np.asarray(np.logaddexp(-0.5 * over**2 - np.log(math.sqrt(2.0 * math.pi) * sd), wild))


def _held(bills: _Bills, a: int, b: int, ratio: Floats) -> Floats:
    """How likely the bills of a stretch are at its ratio, which may have begun or ended within the first or last."""
    held = _likely(bills, slice(a, b), ratio)
    for end in (0, -1) if b - a > LEAST_AGREEING else ():
        billed, added = bills.billed[a:b][end], bills.added[:, :, a:b][:, :, end]
        between = (billed - added) * (ratio[:, None] * added - billed) > 0.0
        part = math.log(AT_EDGE) - np.log(np.abs(ratio - 1.0)[:, None] * added)
        held[:, :, end] = np.where(between, np.maximum(held[:, :, end], part), held[:, :, end])
    return held
