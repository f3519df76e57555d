"""How likely the sizes of a house's own steps all moved at a date, by how much, and what else would make it look so.

The steps of each appliance seen before a date, a band of sizes, are looked for after it, moved by every shift. A meter
moves all by one shift; an appliance replaced moves by its own, with some of what stands beside it; a change of the
supply's volts moves heating elements alone. However sharp one appliance stands, it speaks no louder for a meter than
the chance that it was replaced allows.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from reconcile.interval.alignment import BIN, LOW, moved_by
from reconcile.interval.clusters import ALIKE_RATES, NO_STEP, SMALL_KW, bands, standing
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Sizes = NDArray[np.float64] | NDArray[np.float32]
Gap = Callable[[Ints, Ints], Floats]
"""Of some bands of sizes, each by its first bin and the one after its last, shape (k,) each, days without them."""

REACH = 90
GRID: Floats = BIN * np.arange(-REACH, REACH + 1, dtype=np.float64)
"""Shifts looked at, in the logarithm of size: 36 % down to 57 % up."""

FAR = 180
"""Farthest that sizes may have moved, a factor of 2.5 either way [bins]: appliances are looked for about where the
sizes as a whole went (a meter of the wrong multiplier counts twice or half; our choice)."""

SELDOM = 3.0
"""Log-likelihood taken from so far a shift: few meters err so much, and among so many sizes another appliance stands
somewhere (our own judgement: one in twenty)."""

NEAR, FARTHER = 60, 0.25
ANOTHER_SIZE: Floats = np.where(np.abs(np.arange(-REACH, REACH + 1)) <= NEAR, 1.0, FARTHER) / (2 * NEAR + 1)
"""Shifts [bins] that are meant by another appliance of about its size, as far as 26 % down and 35 % up, one as likely
as the next; and how likely a farther one is beside them (our own judgement)."""

CHANCE = 2.0
"""Variance of how many steps stand out of a band by chance, for each step in it: what stands on a hill by chance is met
by nothing after the date, whatever the meter does (our own judgement: with it nothing that did not happen is likelier
than chance allows at 5 and 15 min, in simulated homes and a real one)."""

SOME = 2
"""Of how many neighboring shifts one is looked at where only the best of many is asked for: steps of one appliance lie
within some five bins (our choice)."""

STILL_BINS = 2
"""Shifts so small are none [bins]."""

MOST_HEARD = 100.0
"""Log-likelihood of all steps of one appliance, at the most: the shape of its sizes changes from season to season by
some hundredths, however many they are (one real home: a refrigerator's thousands, in minutes, look 20 % smaller; the
figure is our own judgement)."""

SHARPER = 1.5
"""Times as much that an overlap says where samples of one level lie close together: what stands beside a step then
blurs it little. Twice an overlap is the log-likelihood of steps that are independent (chosen on simulated homes at 5
min with volts; one real home's minutes, where nothing changed, bear twice).
"""

OPEN_ABOVE = 0.12
"""Distance above the least size heard, in the logarithm, from which sizes are compared: that limit does not move with
the meter."""

AS_OFTEN = 1.5
"""Times as often as before, beside the length of the sides, that a size counts after the date at the most: what stands
far away and runs more often, as an appliance that its season brought, would else be the better match for what stayed
where it was (our own judgement)."""

LEAST_USED = 2.0
"""Steps below which there is no appliance."""

FAINT = 1e-3
"""Part of the most that a band holds in a bin, below which a bin of it is not looked for: all such together hold less
than a thousandth of its steps (our choice)."""

LEAST_MET = 1e-12
"""Added to the sum of two densities, so that nothing beside nothing is nothing."""

OWN = 14
"""Bins about the peak of an appliance that are its own."""

GONE, AGAIN, RENEWED = 0.002, 0.05, 0.08
"""Chance that an appliance changes at a date just when another of about its size comes; the same in a month in which
others are renewed too, and the chance of such a month (our own judgement: an appliance lasts some ten years, half of
them go when others do, half of the others are followed by one of the same size, and the chance is of one month)."""

SEASONAL, MOST_GONE = 0.001, 0.5
"""What is added to that chance for each day, beyond what is usual, on which the appliance was not seen just before the
date: one of a season comes and goes without being replaced, but a meter's change leaves no gap (our own judgement: a
third of appliances, half a year); and the most it comes to."""

MOTORS = 0.3
"""Chance that an appliance does not follow the square of the volts (our own judgement); all small ones do not."""

DRIFT, OWN_DRIFT, FEWER_MOTORS = 0.03, 0.015, 4.0
"""Standard deviations of how far the power of motors moves by itself from one stretch to another, in the logarithm, of
all small ones together and of each of them beside the others (our own judgement: a compressor draws about 1 % more for
each degree about it, and seasons lie some degrees apart); and the power of the size by which larger ones are seldom
motors, one in five at 0.6 kW (our own judgement)."""

LEAST_MOTORS, LEAST_HEARD = 1e-3, 1.0
"""Chance of a motor that is worth the time, below that of :data:`GONE`, and log-likelihood at its best shift."""

VOLTS_STEP, VOLTS_REACH = 0.045, 20
"""Lasting change of the supply's volts up to which all are about as likely, by what it does to the power of heating
elements, in its logarithm, twice that of the volts; and the most [bins]. A transformer's tap is 2.5 %, and a supply has
5 % either way about its nominal volts (ANSI C84.1, range A, from memory); the rest is our own judgement."""


@dataclass(frozen=True, slots=True, eq=False)
class Support:
    """Log-likelihoods above that of nothing changed: of each shift of all sizes, on :data:`GRID` about some shift, and
    of each change of the volts.
    """

    moved: Floats
    by_volts: Floats
    about: int = 0
    """Shift in the middle [bins]."""


@dataclass(frozen=True, slots=True, eq=False)
class Sides:
    """Steps on both sides of a date."""

    before: Floats
    after: Floats
    """Both: smoothed histograms of the logarithm of size, shape (BINS,); each step counts one."""
    least_kw: float
    """Smallest size heard [kW]."""
    volts: bool = True
    """Whether the sizes are brought to one voltage."""
    gap: Gap = lambda low, high: np.zeros(len(low))
    """Days, beyond what is usual, between the date and the last steps of some sizes before it [d]."""
    volts_change: float = 0.0
    """Of the logarithm of the supply's volts across the date, where the data carry them."""
    gap_after: Gap = lambda low, high: np.zeros(len(low))
    """As ``gap``, of the first steps after the date."""
    longer: float = 1.0
    """Days after the date for each one before it."""
    drift: float = DRIFT
    """How far small ones together move by themselves, one standard deviation, in the logarithm."""
    rounded: float = 0.0
    """How far besides a meter's step seems to move small ones by rounding, one standard deviation."""
    sharp: bool = False
    """As in :class:`~reconcile.interval.switching.Switching`."""

    @property
    def lowest(self) -> int:
        """First bin that is compared."""
        return lowest_bin(self.least_kw)

    def brought(self, bins: int) -> Sides:
        """With the side after as if its sizes had moved by so much less."""
        least = self.least_kw * math.exp(max(-bins, 0) * BIN)
        return replace(self, after=moved_by(self.after, -bins), least_kw=least)

    def turned(self) -> Sides:
        """Both sides as if time ran back."""
        return replace(
            self,
            before=self.after,
            after=self.before,
            gap=self.gap_after,
            gap_after=self.gap,
            volts_change=-self.volts_change,
            longer=1.0 / self.longer,
        )


def lowest_bin(least_kw: float) -> int:
    """First bin that is compared where some size is the smallest heard [kW]."""
    return int((math.log(least_kw) + OPEN_ABOVE - LOW) / BIN)


def overlap(before: Sizes, after: Sizes) -> Sizes:
    """How much of one histogram is met by another, bin by bin and summed over the last axis.

    Half the harmonic mean of the two, as in a chi-square comparison of two samples: where one of them is far the
    larger, the smaller counts, so that it matters where steps stand and little how many they are. Taken as a
    log-likelihood it is about half of what independent steps would have: they come in runs, and their sizes drift.

    Parameters
    ----------
    before, after : ndarray
        Not negative.
    """
    both = before + after
    both += LEAST_MET
    found: Sizes = np.einsum("...i,...i->...", before, np.divide(after, both, out=both))
    return found


def alike(before: Sizes, after: Sizes, shifts: Ints, lowest: int) -> Floats:
    """Overlap of histograms, a row each, with others from some bin on, moved by each shift [bins], shape (n, m)."""
    reach, whole = int(np.abs(shifts).max()), before.shape[1]
    padded = np.zeros((len(before), whole + 2 * reach), dtype=before.dtype)
    padded[:, reach : reach + whole] = before
    found = np.zeros((len(before), len(shifts)))
    for column, bins in zip(found.T, shifts.tolist(), strict=True):
        column[:] = overlap(padded[:, reach + lowest - bins : reach + whole - bins], after[:, lowest:])
    return found


def support(sides: Sides, replaced: float = GONE, about: int = 0) -> Support:
    """Log-likelihood of every shift of all sizes, and of every change of the volts, above that of nothing changed.

    The appliances of the side before are looked for after the date. Those of the side after, looked for before it, are
    the same evidence, but say which shift it was: rare ones are met by a frequent one far away, which itself is met by
    none.

    Parameters
    ----------
    replaced : float
        Chance that an appliance changes at the date just when another of about its size comes.
    about : int
        Shift about which others are looked at [bins].
    """
    onward, back = (_one_way(each, replaced, at) for each, at in ((sides, about), (sides.turned(), -about)))
    rather = back.moved[::-1] - max(float(back.moved.max()), 0.0)
    if not about:
        rather[REACH - STILL_BINS : REACH + STILL_BINS + 1] = 0.0
    return Support(_no_tails(onward.moved + rather) - (SELDOM if about else 0.0), onward.by_volts, about)


def _one_way(sides: Sides, replaced: float, about: int) -> Support:
    """Look for the appliances of the side before on the other."""
    nothing = np.zeros(2 * VOLTS_REACH + 1)
    # what is too small to be seen on both sides says nothing of no change either
    seen = _Appliances.of(replace(sides, least_kw=sides.brought(about).least_kw), replaced)
    if not len(seen.tops):
        return Support(np.zeros(len(GRID)), nothing)
    if about:
        away = _Appliances.of(sides.brought(about), replaced)
        none = float(seen.beside(away).told()[REACH])
        return Support(away.beside(seen).told(away=True) - none, nothing)
    told = seen.told()
    none = float(told[REACH])
    moved = told - none
    moved[REACH - STILL_BINS : REACH + STILL_BINS + 1] = 0.0
    return Support(moved, nothing if sides.volts else seen.by_volts() - none)


def against(sides: Sides, shift: float, replaced: float = GONE) -> float:
    """How much likelier no shift is than a step of some size or more, up or down, in log-likelihood.

    An appliance may have been replaced just as the meter changed, so that it seems to stay: none refutes more than that
    is worth.

    Parameters
    ----------
    replaced : float
        As in :func:`support`.
    """
    seen, step = _Appliances.of(sides, replaced, SOME), round(shift / (SOME * BIN))
    if not len(seen.tops):
        return 0.0
    told, none = seen.told(), REACH // SOME
    moved = max(float(told[: none - step + 1].max()), float(told[none + step :].max()))
    return max(float(told[none]) - moved, 0.0)


def widened(found: Support, sd: float, volts_share: float = 0.0) -> Floats:
    """Log-likelihood of a shift that is the meter's only to within some common error.

    Parameters
    ----------
    sd : float
        Standard deviation of the common error.
    volts_share : float
        Chance that the supply's volts changed for good.
    """
    highest = max(float(found.moved.max()), float(found.by_volts.max()))
    likelihood = (1.0 - volts_share) * (_common(sd) @ np.exp(found.moved - highest))
    # a meter that errs and volts that change at once are not thought of
    if not found.about:
        likelihood[REACH] += volts_share * float(_volts_chance() @ np.exp(found.by_volts - highest))
    told: Floats = np.log(np.maximum(likelihood, 1e-300)) + highest
    return told


def _no_tails(curve: Floats) -> Floats:
    """Without what still rises at the ends of the grid: no shift fits there, only something broad that moved far."""
    told = curve.copy()
    for side in (told[REACH:], told[REACH::-1]):
        falls = np.flatnonzero(np.diff(side) < 0.0)
        begin = int(falls[-1]) + 2 if len(falls) else 1
        side[begin:] = np.minimum(side[begin:], 0.0)
    return told


@dataclass(frozen=True, slots=True, eq=False)
class _Appliances:
    """Bands of sizes before a date, and how well each is met after it, moved by each shift."""

    tops: Ints
    """Bin of each peak, shape (k,)."""
    small: NDArray[np.bool_]
    """Whether it is a motor, as all small ones are, shape (k,)."""
    met: Floats
    """Likelihood of each shift of each, or of one in ``every`` so many, shape (k, 2 REACH / every + 1)."""
    another: Floats
    """The same of another appliance in its place, of any size within reach, shape (k, 1)."""
    highest: Floats
    """Logarithm of the unit of both, shape (k, 1)."""
    gone: Floats
    """Chance of each that it is another since the date, shape (k, 1)."""
    renewed: float
    """Chance that several are."""
    drift: float
    rounded: float
    """Both: as in :class:`Sides`."""
    every: int = 1

    @classmethod
    def of(cls, sides: Sides, replaced: float, every: int = 1) -> _Appliances:
        """Cut the steps before a date into bands, and look for each after it."""
        before, lowest = standing(sides.before), sides.lowest
        after = np.zeros(len(before) + 2 * REACH)
        after[REACH + lowest : -REACH] = standing(sides.after)[lowest:]
        held = bands(sides.before)
        begin, end = np.array([(band.start, band.stop) for band in held], dtype=np.int64).reshape(-1, 2).T
        tops = np.array([band.start + int(before[band].argmax()) for band in held], dtype=np.int64)
        steps, with_hill = (np.add.reduceat(sizes, begin) for sizes in (before, sides.before))
        appliance = (tops >= lowest) & (steps >= LEAST_USED)
        begin, end, tops, steps, with_hill = (each[appliance] for each in (begin, end, tops, steps, with_hill))
        gap = sides.gap(np.maximum(tops - OWN, begin), np.minimum(tops + OWN + 1, end))
        gone = np.minimum(replaced + SEASONAL * gap, MOST_GONE)
        clear = steps**2 / (steps**2 + CHANCE * with_hill)
        as_often = AS_OFTEN * sides.longer
        found = clear[:, None] * _overlaps(before, after, (begin, end), every, as_often / (1.0 + as_often))
        motors = np.minimum(np.exp(FEWER_MOTORS * (math.log(SMALL_KW) - LOW - BIN * tops)), 1.0)
        # what stands there far more often is another one, if it may have drifted there: beside it none would be seen
        often, most = after[tops[:, None] + np.arange(len(GRID))].max(axis=1), ALIKE_RATES * sides.longer
        for k in np.flatnonzero(often > most * before[tops]).tolist():
            own, there = before[begin[k] : end[k]], after[begin[k] : end[k] + 2 * REACH]
            over = np.correlate(there, own, "valid")[::every] / max(most * float(own @ own), LEAST_MET)
            found[k] /= 1.0 + motors[k] * np.maximum(over - 1.0, 0.0)
        near = found[:, (REACH - NEAR) // every : (REACH + NEAR) // every + 1].max(axis=1, keepdims=True)
        # nothing farther away is heard more than what is near, nor a few steps as if they were most of them
        usual = sides.longer / (1.0 + sides.longer) / ALIKE_RATES
        whole = np.maximum(np.maximum(near, usual * steps[:, None]), 1e-9)
        found = np.minimum(found, near) * np.minimum(1.0, MOST_HEARD / whole) * (SHARPER if sides.sharp else 1.0)
        by_motors = round(-2.0 * sides.volts_change / BIN) if sides.volts else 0
        if abs(by_motors) > STILL_BINS:
            # what was brought to one voltage as if all were heaters
            at = np.clip(np.arange(found.shape[1]) + round(by_motors / every), 0, found.shape[1] - 1)
            found = np.logaddexp(math.log1p(-MOTORS) + found, math.log(MOTORS) + found[:, at])
        highest = found.max(axis=1, keepdims=True)
        met = np.exp(found - highest)
        another = every * met @ ANOTHER_SIZE[::every]
        small = tops < (math.log(SMALL_KW) - LOW) / BIN
        heard = (motors > LEAST_MOTORS) & (highest[:, 0] > LEAST_HEARD)
        for sd, rows in ((OWN_DRIFT / DRIFT * sides.drift, heard & small), (DRIFT, heard & ~small)):
            met[rows] += motors[rows, None] * (met[rows].astype(np.float32) @ _spread(sd, every) - met[rows])
        renewed = min(RENEWED * replaced / GONE, MOST_GONE)
        return cls(
            tops, small, met, another[:, None], highest, gone[:, None], renewed, sides.drift, sides.rounded, every
        )

    def beside(self, other: _Appliances) -> _Appliances:
        """With what those of another look hold: one in its place may be of those sizes too."""
        return replace(self, another=self.another + np.exp(other.highest - self.highest) * other.another)

    def told(self, *, away: bool = False) -> Floats:
        """Log-likelihood of each shift of all: each may have been replaced, and small ones drift together.

        What whole steps of the register make of a size changes with the meter alone: not where nothing changed, the
        shift in the middle but for a look ``away`` from it.
        """
        both = [self._each(slice(None), chance) for chance in (self.gone, np.maximum(self.gone, AGAIN))]
        small, large = (np.array([each[which].sum(axis=0) for each in both]) for which in (self.small, ~self.small))
        highest = small.max(axis=1, keepdims=True)
        own = np.exp(small - highest)
        spread = own @ _common(math.hypot(self.drift, self.rounded), self.every).T
        if self.rounded and not away:
            middle, still = REACH // self.every, STILL_BINS // self.every
            at = slice(middle - still, middle + still + 1)
            spread[:, at] = own @ _common(self.drift, self.every)[at].T
        drifted = large + highest + np.log(np.maximum(spread, 1e-300))
        told: Floats = np.logaddexp(drifted[0], math.log(self.renewed) + drifted[1])
        return told

    def by_volts(self) -> Floats:
        """Log-likelihood of each change of the volts: motors and electronics stay where they were."""
        reach = REACH + np.arange(-VOLTS_REACH, VOLTS_REACH + 1)
        moved, still = self._each(reach, self.gone), self._each(slice(REACH, REACH + 1), self.gone)
        either = np.logaddexp(math.log1p(-MOTORS) + moved, math.log(MOTORS) + still)
        told: Floats = np.where(self.small[:, None], still, either).sum(axis=0)
        return told

    def _each(self, at: Ints | slice, gone: Floats) -> Floats:
        """Log-likelihood of some shifts for each appliance, which may be another."""
        found: Floats = self.highest + np.log((1.0 - gone) * self.met[:, at] + gone * self.another)
        return found


def _overlaps(before: Floats, after: Floats, limits: tuple[Ints, Ints], every: int, most: float) -> Floats:
    """Overlap of each band of bins with what stands after, moved by every shift or one in so many; ``most`` of each bin
    at the most.

    ``after`` reaches beyond either end of ``before`` by the farthest shift. Of b before and a after, the sum of
    b a / (a + b) over the bins is a product of b with a / (a + b); in single precision, as none of it cancels.
    """
    begin, end = limits
    band, bins = np.repeat(np.arange(len(begin)), end - begin), np.concatenate([*map(np.arange, begin, end), begin[:0]])
    stands = before[bins] > np.maximum(FAINT * np.maximum.reduceat(before, begin)[band], NO_STEP)
    band, bins = band[stands], bins[stands]
    own = before[bins].astype(np.float32)
    after = after.astype(np.float32)
    windows = np.lib.stride_tricks.as_strided(after, (len(before), len(GRID)), 2 * after.strides)
    there = windows[bins, ::every]
    held = np.zeros((len(begin), len(bins)), dtype=np.float32)
    held[band, np.arange(len(bins))] = own
    both = there + (own + np.float32(LEAST_MET))[:, None]
    part = np.minimum(np.divide(there, both, out=both), np.float32(most), out=both)
    found: Floats = (held @ part).astype(np.float64)
    return found


@lru_cache(maxsize=8)
def _common(sd: float, every: int = 1) -> Floats:
    apart = GRID[::every, None] - GRID[::every]
    usual = np.exp(-0.5 * (apart / sd) ** 2)
    matrix: Floats = usual / usual.sum(axis=1, keepdims=True)
    return matrix


@lru_cache(maxsize=4)
def _spread(sd: float, every: int) -> NDArray[np.float32]:
    """What :func:`_common` does to rows, in single precision: none of it cancels."""
    return _common(sd, every).T.astype(np.float32)


@lru_cache(maxsize=1)
def _volts_chance() -> Floats:
    usual = np.exp(-0.5 * (BIN * np.arange(-VOLTS_REACH, VOLTS_REACH + 1) / VOLTS_STEP) ** 4)
    chance: Floats = usual / usual.sum()
    return chance
