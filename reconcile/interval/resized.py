"""How likely the sizes of a house's own steps all moved at a date, by how much, and what else would make it look so.

The two sides of a date are compared as they are, as whole densities of the logarithm of size: how much better they
agree once all of one side is moved by a shift (:mod:`reconcile.interval.alignment`), against one appliance or two that
were replaced, and against a change of the supply's volts.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reconcile.interval.alignment import BIN, BINS, LOW
from reconcile.interval.clusters import SMALL_KW, bands

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

REACH = 60
GRID: Floats = BIN * np.arange(-REACH, REACH + 1, dtype=np.float64)
"""Shifts looked at, in the logarithm of size: 26 % down to 35 % up."""

STILL_BINS = 2
"""Shifts so small are none [bins]."""

STEP_WORTH = 1.0
"""What a step is worth: log-likelihood for each of them and each unit of likeness, a quarter of what independent ones
would be. With nothing changed the best of all dates and shifts of a year betters the likeness by 0.1 to 4.5 of these, a
meter's 10 % by 8 to 280 (one real home and simulated ones at 5 and 15 min)."""

OPEN_ABOVE = 0.12
"""Distance above the least size heard, in the logarithm, from which sizes are compared: that limit does not move with
the meter."""

MOST_LOOKED_AT = 5
"""Appliances, the most used first, that may have been replaced."""

OWN_BELOW, OWN_ABOVE = 14, 15
BESIDE = ((0, 0, 0.0), (36, 80, 1.0), (60, 110, 0.5), (60, 110, 0.8))
"""Bins about the peak of an appliance that are its own; and how far below and above it, and for what part of the steps
there, it is seen together with others that switch at once or has another setting: each is tried (one real home: a
heater of 1.1 kW, whose own circuit is known, stands from 0.8 to 1.9)."""

REPLACED_STEP = 3
"""Bins from one size of a new appliance to the next that is tried."""

GONE, AGAIN = 0.008, 0.05
"""Chance that an appliance changes at a date just when another of about its size comes (our own judgement: an appliance
lasts some ten years, and the chance is of one month), and that another one does at the same time: who renews one
may renew two."""

SHARP = 5.0
"""Log-likelihood of a new size from which it is looked at again to the bin."""

TWICE = 2
"""Appliances replaced at one date, at the most."""

SEASONAL = 0.001
"""What is added to that chance for each day, beyond what is usual, on which the appliance was not seen just before the
date: one of a season comes and goes without being replaced, but a meter's change leaves no gap (our own judgement: a
third of appliances, half a year)."""

ABOUT_ITS_SIZE = 1.0
"""Density in which new appliances fall about the old one's size, for each unit of its logarithm: one that is replaced
is replaced by one of about its size (our own judgement)."""

MOTORS = 0.3
"""Chance that an appliance does not follow the square of the volts (our own judgement)."""

VOLTS_STEP, VOLTS_REACH = 0.045, 20
"""Lasting change of the supply's volts up to which all are about as likely, by what it does to the power of heating
elements, in its logarithm, twice that of the volts; and the most [bins]. A transformer's tap is 2.5 %, and a supply has
5 % either way about its nominal volts (ANSI C84.1, range A, from memory); the rest is our own judgement."""

LEAST_TOLD = 1.0
"""Log-likelihood of the best shift below which nothing else is looked for."""

LIKE_ANOTHER = 0.02
"""How far two sizes lie apart, in the logarithm, that are one: the smoothing of the histograms."""

LEAST_USED = 3.0
"""Steps below which there is no appliance."""


@dataclass(frozen=True, slots=True, eq=False)
class Support:
    """Log-likelihoods: of each shift of all sizes, on :data:`GRID`, and of each change of the volts."""

    moved: Floats
    by_volts: Floats

    def less(self, constant: float) -> Support:
        """Take a constant off both."""
        return Support(self.moved - constant, self.by_volts - constant)


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Steps on both sides of a date.

    Attributes
    ----------
    before, after : ndarray, shape (BINS,)
        Smoothed histograms of the logarithm of size; each step counts one.
    least_kw : float
        Smallest size heard [kW].
    volts : bool
        Whether the sizes are brought to one voltage.
    gap : callable
        Days, beyond what is usual, between the date and the last steps of some sizes before it [d].
    volts_change : float
        Of the logarithm of the supply's volts across the date, where the data carry them.
    """

    before: Floats
    after: Floats
    least_kw: float
    volts: bool = True
    gap: Callable[[slice], float] = lambda _: 0.0
    volts_change: float = 0.0

    @property
    def lowest(self) -> int:
        """First bin that is compared."""
        return int((math.log(self.least_kw) + OPEN_ABOVE - LOW) / BIN)


def support(sides: Sides, replaced: float = GONE) -> Support:
    """Log-likelihood of every shift of all sizes, and of every change of the volts, less a constant.

    Parameters
    ----------
    sides : Sides
    replaced : float
        Chance that an appliance changes at the date just when another of about its size comes.

    Returns
    -------
    Support
    """
    nothing = Support(np.zeros(len(GRID)), np.zeros(2 * VOLTS_REACH + 1))
    before, after, lowest = sides.before, sides.after, sides.lowest
    n, m = float(before[lowest:].sum()), float(after[lowest:].sum())
    if min(n, m) < 1.0:
        return nothing
    worth = STEP_WORTH * n * m / (n + m)
    moved = worth * _likeness(before, after, lowest)
    moved = _no_tails(moved - moved[REACH])
    still = np.abs(np.arange(len(GRID)) - REACH) <= STILL_BINS
    bins = int(np.where(still, -np.inf, moved).argmax()) - REACH
    if moved[REACH + bins] < LEAST_TOLD:
        return Support(np.where(still, 0.0, moved), moved[REACH - VOLTS_REACH : REACH + VOLTS_REACH + 1])
    others = _Others(after, lowest, worth / math.sqrt(n * m), replaced)
    none = others.replaced(before, sides.gap)
    if sides.volts and abs(by_motors := round(-2.0 * sides.volts_change / BIN)) > STILL_BINS:
        # what was brought to one voltage as if all were heaters
        motors, since = others.some_moved(before, by_motors)
        none = max(none, motors + others.replaced(since, sides.gap))
    after_all = np.roll(before, bins)
    # all but one appliance moved back would be no meter
    some = others.replaced(after_all, lambda near: sides.gap(slice(near.start - bins, near.stop - bins)), alone=True)
    told = Support(np.where(still, none, moved + some), nothing.by_volts)
    if sides.volts:
        return told
    # motors and electronics stay where they were; an appliance may have been replaced here too
    volts = np.arange(-VOLTS_REACH, VOLTS_REACH + 1)
    heaters = slice(max(int((math.log(SMALL_KW) - LOW) / BIN), lowest), BINS)
    large = others.moved(before, _Part(heaters, heaters), volts)
    stayed, _ = others.some_moved(after_all, -bins)
    by_volts = np.logaddexp(moved[REACH + volts], large) - math.log(2.0)
    return Support(told.moved, by_volts + max(stayed, some))


def against(sides: Sides, shift: float, replaced: float = GONE) -> float:
    """How much likelier no shift is than a step of some size up or down, in log-likelihood.

    An appliance may have been replaced just as the meter changed, so that it seems to stay: none refutes more than that
    is worth.

    Parameters
    ----------
    sides : Sides
    shift : float
    replaced : float
        As in :func:`support`.

    Returns
    -------
    float
    """
    before, after, lowest = sides.before, sides.after, sides.lowest
    n, m = float(before[lowest:].sum()), float(after[lowest:].sum())
    if min(n, m) < 1.0:
        return 0.0
    worth, step = STEP_WORTH * n * m / (n + m), round(shift / BIN)
    curve = worth * _likeness(before, after, lowest)
    others = _Others(after, lowest, worth / math.sqrt(n * m), replaced)
    steps = np.array([-step, step])
    lost = curve[REACH] - curve[REACH + steps]
    alone = [_Part(own, own) for _, own in others.appliances(before)]
    each = np.array([-others.moved(before, part, steps) for part in alone]).reshape(-1, 2)
    most = np.full(each.shape, -math.log(max(replaced, AGAIN) * ABOUT_ITS_SIZE * LIKE_ANOTHER))
    most[:1] = -math.log(replaced * ABOUT_ITS_SIZE * LIKE_ANOTHER)
    held = np.minimum(np.sort(np.maximum(each, 0.0), axis=0)[::-1], most)
    told: Floats = np.maximum(lost - np.maximum(each, 0.0).sum(axis=0), 0.0) + held.sum(axis=0)
    return float(told.min())


def widened(found: Support, sd: float, volts_share: float = 0.0) -> Floats:
    """Log-likelihood of a shift that is the meter's only to within some common error.

    Parameters
    ----------
    found : Support
    sd : float
        Standard deviation of the common error.
    volts_share : float
        Chance that the supply's volts changed for good.

    Returns
    -------
    ndarray, shape (2 REACH + 1,)
    """
    highest = max(float(found.moved.max()), float(found.by_volts.max()))
    likelihood = (1.0 - volts_share) * (_common(sd) @ np.exp(found.moved - highest))
    # a meter that errs and volts that change at once are not thought of
    likelihood[REACH] += volts_share * float(_volts_chance() @ np.exp(found.by_volts - highest))
    told: Floats = np.log(np.maximum(likelihood, 1e-300)) + highest
    return told


def _likeness(before: Floats, after: Floats, lowest: int) -> Floats:
    """Bhattacharyya's coefficient of the two, above a bin, with the first moved by every shift of :data:`GRID`."""
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(before, REACH), BINS)[::-1, lowest:]
    open_after = after[lowest:]
    total = np.maximum(windows.sum(axis=1) * open_after.sum(), 1e-300)
    found: Floats = (np.sqrt(windows) @ np.sqrt(open_after)) / np.sqrt(total)
    return found


def _no_tails(curve: Floats) -> Floats:
    """Without what still rises at the ends of the grid: no shift fits there, only something broad that moved far."""
    told = curve.copy()
    for side in (told[REACH:], told[REACH::-1]):
        falls = np.flatnonzero(np.diff(side) < 0.0)
        begin = int(falls[-1]) + 2 if len(falls) else 1
        side[begin:] = np.minimum(side[begin:], 0.0)
    return told


@dataclass(frozen=True, slots=True)
class _Part:
    """Steps taken for one appliance's: all of its own bins, and a share of those beside them."""

    own: slice
    beside: slice
    share: float = 0.0

    def of(self, before: Floats) -> Floats:
        """Those steps, by bin."""
        piece = np.zeros(BINS)
        piece[self.beside] = self.share * before[self.beside]
        piece[self.own] = before[self.own]
        return piece

    def moved(self, before: Floats, bins: int) -> Floats:
        """All steps, with those moved."""
        piece = self.of(before)
        moved: Floats = before - piece + np.roll(piece, bins)
        return moved


@dataclass(frozen=True, slots=True, eq=False)
class _Others:
    """What moves the sizes of one appliance and leaves the others."""

    after: Floats
    lowest: int
    scale: float
    gone: float

    def replaced(self, before: Floats, gap: Callable[[slice], float], alone: bool = False) -> float:
        """Log-likelihood that some appliance was replaced, above that none was; ``alone``: not what is beside it."""
        told, gone = 0.0, self.gone
        for _ in range(TWICE):
            found = []
            for top, own in self.appliances(before):
                chance = min(gone + SEASONAL * gap(own), 0.5) * ABOUT_ITS_SIZE * REPLACED_STEP * BIN / len(BESIDE)
                for below, above, share in BESIDE[:1] if alone else BESIDE:
                    part = _Part(own, slice(max(min(top - below, own.start), 0), max(top + above, own.stop)), share)
                    gain = self.moved(before, part, NEW_SIZES)
                    best, likely = int(NEW_SIZES[gain.argmax()]), float(np.logaddexp.reduce(gain))
                    if gain.max() > SHARP:
                        # many steps of one appliance know its new size better than the sizes tried
                        near = self.moved(before, part, best + NEAR_SIZES)
                        likely = max(likely, float(np.logaddexp.reduce(near)) - math.log(REPLACED_STEP))
                        best += int(NEAR_SIZES[near.argmax()])
                    found.append((math.log(chance) + likely, part, best))
            if not found:
                break
            told += float(np.logaddexp.reduce([0.0, *(one[0] for one in found)]))
            likely, part, bins = max(found, key=lambda one: one[0])
            if likely < 0.0:
                break
            before, gone = part.moved(before, bins), max(gone, AGAIN)
        return told

    def some_moved(self, before: Floats, bins: int) -> tuple[float, Floats]:
        """Log-likelihood that motors moved by some bins, or moved back, above that all stayed; and the steps then."""
        told, then = 0.0, before
        for _, own in self.appliances(before):
            gain = float(self.moved(then, _Part(own, own), np.array([bins]))[0])
            told += float(np.logaddexp(math.log1p(-MOTORS), math.log(MOTORS) + gain))
            if gain > 0.0:
                then = _Part(own, own).moved(then, bins)
        return told, then

    def moved(self, before: Floats, part: _Part, bins: Ints) -> Floats:
        """Log-likelihood of some sizes moved by each shift, above that they stayed."""
        reach = int(np.abs(bins).max())
        near = slice(max(part.beside.start - reach, 0), min(part.beside.stop + reach, BINS))
        piece = part.of(before)[near]
        windows = np.lib.stride_tricks.sliding_window_view(np.pad(piece, reach), len(piece))[reach - bins]
        mixed = windows + (before[near] - piece)
        gain: Floats = self.scale * ((np.sqrt(mixed, out=mixed) - np.sqrt(before[near])) @ np.sqrt(self.after[near]))
        return gain

    def appliances(self, before: Floats) -> list[tuple[int, slice]]:
        """Peak and own bins of the most used ones."""
        found = []
        for band in bands(before):
            top = band.start + int(before[band].argmax())
            if top >= self.lowest:
                own = slice(max(top - OWN_BELOW, band.start), min(top + OWN_ABOVE, band.stop))
                used = float(before[own].sum())
                if used >= LEAST_USED:
                    found.append((used, top, own))
        found.sort(key=lambda one: -one[0])
        return [(top, own) for _, top, own in found[:MOST_LOOKED_AT]]


NEW_SIZES: Ints = np.arange(-REACH, REACH + 1, REPLACED_STEP, dtype=np.int64)
NEAR_SIZES: Ints = np.arange(-2, 3, dtype=np.int64)
"""Sizes of a new appliance beside the old one's, and those looked at again about the likeliest [bins]."""


@lru_cache(maxsize=8)
def _common(sd: float) -> Floats:
    apart = (np.arange(len(GRID))[:, None] - np.arange(len(GRID))) * BIN
    usual = np.exp(-0.5 * (apart / sd) ** 2)
    matrix: Floats = usual / usual.sum(axis=1, keepdims=True)
    return matrix


@lru_cache(maxsize=1)
def _volts_chance() -> Floats:
    usual = np.exp(-0.5 * (BIN * np.arange(-VOLTS_REACH, VOLTS_REACH + 1) / VOLTS_STEP) ** 4)
    chance: Floats = usual / usual.sum()
    return chance
