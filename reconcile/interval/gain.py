"""The meter's gain from the house's own appliances: the date on which the sizes of their steps all moved, and by how
much, with windows of time as evidence.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import as_day
from reconcile.house import Event
from reconcile.interval.alignment import BIN, KERNEL, beside, counted_up, folded, histograms, moved_at_all, moved_by
from reconcile.interval.change_day import APART_DAYS, DATING, DATING_KERNEL, LEAST_SIDE_DAYS, Limits, date_limits
from reconcile.interval.clusters import clusters_of, matched
from reconcile.interval.diary import gone_at, volts_share_at
from reconcile.interval.resized import (
    DRIFT,
    FAR,
    GRID,
    NEAR,
    REACH,
    Gap,
    Sides,
    against,
    alike,
    lowest_bin,
    support,
    widened,
)
from reconcile.interval.size_change import (
    MOST_SD,
    Change,
    GainSignal,
    as_normal,
    date_doubt,
    undone,
    window_edges,
)
from reconcile.interval.small_drift import small_drift, small_rounded
from reconcile.interval.switching import Switching
from reconcile.interval.windows import LEVEL_SD
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SIDES = (120, 400)
"""Stretches compared on either side of a date [d]: the short one is of a season or two, the long one holds more
appliances; what they say is averaged (years of one real home: a shift with nothing changed has a standard deviation of
3 % with 60 d, 1.5 % with 120 d and 0.9 % with half a year)."""

LEAST_SIDE_STEPS = 25
"""Fewest steps on either side of a date (our own judgement)."""

SCAN_DAYS, COARSE = 3, 4
CANDIDATES, FAR_EVERY = 3, 4
"""Dates looked at first, every so many days [d], with so many bins taken as one; how many of the best are looked at
closely for each stretch; and of how many of the dates one is looked at for shifts beyond the usual ones, which tell it
from far."""

COMMON_SD_WITH_VOLTS, COMMON_SD = 0.006, 0.011
"""Common error of all sizes across a date, where the data carry volts and where not (one real home, as it is and at one
voltage)."""

USUAL_STEP = 0.15
"""A meter's step whose absence the rows tell as strongly as the likelihood does, in the logarithm: larger ones could
be refuted no better, as appliances may have changed (our own judgement)."""

GIVEN_WORTH, ALIKE_SHIFTS = 3.0, 0.03
"""Log-likelihood by which a change found elsewhere must be the likelier to be another one than that of a date given
beforehand, whose shift lies so near: days of rare use leave a date open, and a year holds some hundred of them (our own
judgement)."""

ROUGH_SD, ROUGH_MOVED, ROUGH_STEPS = 0.2, 3.0, 15.0
"""How far the sizes as a whole move by themselves, one standard deviation (years of one real home: 0.02 to 0.05,
simulated ones 0.13 to 0.19); how much more where they seem to have moved; and the steps on either side that tell."""

NEAREST = 3.0
"""Steps of an appliance by which it counts as seen near a date: one or two may be another's (our own judgement)."""

USUAL_GAPS = 2.0
"""Times the usual time between so many steps for which none says nothing (our own judgement)."""


def gain_signal(seen: Switching, dates: Sequence[int] = (), events: Sequence[Event] = ()) -> GainSignal | None:
    """Compare the sizes of the house's own steps over time.

    Parameters
    ----------
    dates : sequence of int
        Dates given beforehand, days since 1970-01-01 [d].
    events : sequence of Event
        The diary, which may tell of appliances replaced and of the volts.

    Returns
    -------
    GainSignal or None
        None where too few steps were seen.
    """
    days = seen.last - seen.first + 1
    if days < 2 * LEAST_SIDE_DAYS or len(seen.day) < 2 * LEAST_SIDE_STEPS:
        return None
    sides = _Sides.of(seen, events)
    candidates = sides.candidates()
    if not candidates:
        return None
    change = sides.described(max(sides.dated(candidates), key=lambda one: one.likelier))
    given = [d - seen.first for d in dates if sides.usable(np.array([d - seen.first]), SIDES[-1])[0]]
    at_dates = tuple(sides.described(sides.change(d)) for d in given)
    # what lies about a given date is that date's: told twice, it would count twice
    change = min(
        (one for one in at_dates if _same(one, change)), key=lambda one: abs(one.day - change.day), default=change
    )
    known = [*at_dates, *([change] if change.cuts and change not in at_dates else [])]
    if change.cuts:
        # what goes up may come down again: a season's volts, a loan of a heater
        moved = ((change.day - seen.first, round(change.shift / BIN)),)
        others = sides.dated([one for one in candidates if abs(one[0] - moved[0][0]) >= APART_DAYS], moved)
        others = [one for one in others if all(abs(one.day - first.day) >= APART_DAYS for first in known)]
        second = max(others, key=lambda one: one.likelier, default=None)
        # nobody asks for its date: doubt of it would only blur the first
        known += [replace(second, about=())] if second is not None and second.cuts else []
    return _windows(sides, change, at_dates, {one.day - seen.first: one for one in known})


def _same(given: Change, found: Change) -> bool:
    """Whether a change that was found is the one of a date given beforehand: near it, or as well told there."""
    alike = abs(given.shift - found.shift) <= ALIKE_SHIFTS and given.likelier >= found.likelier - GIVEN_WORTH
    return found.low <= given.day <= found.high or abs(given.day - found.day) < APART_DAYS or alike


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """Daily histograms counted up, to be cut at any date; days count from the first."""

    seen: Switching
    counted: Floats
    coarse: Floats
    """The same, with some bins taken as one."""
    by_size: Floats
    """As ``coarse``, a row for each bin."""
    below: Floats
    """The same counted up over the bins, none in the first row."""
    fine: Floats
    """The same, with fewer bins taken as one and smoothed by less where sizes are sharp: days are told by it."""
    events: Sequence[Event] = ()
    drift: float = DRIFT
    rounded: float = 0.0
    """Both: as in :class:`~reconcile.interval.resized.Sides`."""

    @classmethod
    def of(cls, seen: Switching, events: Sequence[Event] = ()) -> _Sides:
        rounding = seen.resolution_kw / 2.0

        def smoothed(kernel: float) -> Floats:  # none in the first row
            place, places = seen.day - seen.first + 1, seen.last - seen.first + 2
            return counted_up(histograms(place, seen.log_kw, places, max(kernel, rounding)))

        counted = smoothed(KERNEL)
        coarse = folded(counted, COARSE)
        fine = folded(smoothed(DATING_KERNEL), DATING) if seen.sharp else coarse
        by_size = np.ascontiguousarray(coarse.T)
        below = counted_up(np.concatenate([np.zeros((1, len(coarse))), by_size]))
        lowest = lowest_bin(seen.least_kw)
        drift, rounded = small_drift(counted, lowest), small_rounded(counted, lowest, seen.resolution_kw)
        return cls(seen, counted, coarse, by_size, below, fine, events, drift, rounded)

    @property
    def days(self) -> int:
        return len(self.counted) - 1

    def both(self, cut: Ints, length: int) -> tuple[Floats, Floats]:
        return beside(self.counted, cut, length)

    def usable(self, cut: Ints, length: int) -> NDArray[np.bool_]:
        inside = (cut >= LEAST_SIDE_DAYS) & (cut <= self.days - LEAST_SIDE_DAYS)
        before, after = beside(self.below[-1], np.clip(cut, 0, self.days), length)
        enough: NDArray[np.bool_] = inside & (np.minimum(before, after) >= LEAST_SIDE_STEPS)
        return enough

    def candidates(self) -> list[tuple[int, int]]:
        """Dates and shifts [bins] that most better the overlap of the two sides, for short and long sides."""
        found: dict[tuple[int, int], None] = {}
        coarse, lowest = self.coarse, lowest_bin(self.seen.least_kw) // COARSE
        shifts = np.arange(-FAR // COARSE, FAR // COARSE + 1)
        near, far = (shifts[which] for which in (np.abs(shifts) <= REACH // COARSE, np.abs(shifts) > REACH // COARSE))
        for length in (SIDES[0], SIDES[-1]):
            cut = np.arange(LEAST_SIDE_DAYS, self.days - LEAST_SIDE_DAYS + 1, SCAN_DAYS)
            cut = cut[self.usable(cut, length)]
            if len(cut) == 0:
                continue
            before, after = (side.astype(np.float32) for side in beside(coarse, cut, length))
            curve = alike(before, after, near, lowest)
            better = curve.max(axis=1) - curve[:, len(near) // 2]
            # all sizes far away stand out on many days: of those, only what is better than any near
            some = slice(None, None, FAR_EVERY)
            farther = alike(before[some], after[some], far, lowest)
            gain = farther.max(axis=1) - curve[some, len(near) // 2]
            if gain.max() > better.max():
                best = int(gain.argmax())
                found[int(cut[some][best]), int(far[farther[best].argmax()]) * COARSE] = None
            for _ in range(CANDIDATES):
                best = int(better.argmax())
                if better[best] < 0:
                    break
                found[int(cut[best]), int(near[curve[best].argmax()]) * COARSE] = None
                better[np.abs(cut - cut[best]) < APART_DAYS] = -1.0
        return list(found)

    def compared(self, cut: int, moved: Sequence[tuple[int, int]] = (), about: int = 0) -> Floats:
        """Log-likelihood of each shift across a date, within what else moves all sizes.

        ``moved``: dates and shifts [bins] of changes beyond this one that are undone first. ``about``: the shift about
        which others are looked at [bins].
        """
        day = as_day(self.seen.first + cut)
        replaced = gone_at(self.events, day)
        sd, share = (COMMON_SD_WITH_VOLTS, 0.0) if self.seen.volts else (COMMON_SD, volts_share_at(self.events, day))
        curves = []
        for one in self._pairs(cut, moved):
            curves.append(widened(support(one, replaced, about), sd, share))
        # which of the stretches the sizes kept still in is not known: the mean of what each makes likelier
        total: Floats = np.logaddexp.reduce(curves, axis=0) - math.log(len(curves))
        if moved:  # sizes that a season moved for a while look undone to the short stretch: all have to tell of it
            total = np.minimum(total, np.minimum.reduce([one - one[REACH] for one in curves]) + total[REACH])
        return total

    def _pairs(self, cut: int, moved: Sequence[tuple[int, int]]) -> list[Sides]:
        """Stretches on both sides of a date, the shortest first."""
        ends = dict.fromkeys((max(cut - length, 0), min(cut + length, self.days)) for length in SIDES)
        return [
            Sides(
                self._undone(begin, cut, moved),
                self._undone(cut, end, moved),
                self.seen.least_kw,
                self.seen.volts,
                self._gap(cut, begin, moved),
                _mean(self.seen.log_volts[cut:end]) - _mean(self.seen.log_volts[begin:cut]),
                self._gap(cut, end, moved),
                (end - cut) / (cut - begin),
                self.drift,
                self.rounded,
                self.seen.sharp,
            )
            for begin, end in ends
        ]

    def still(self, cut: int, moved: Sequence[tuple[int, int]] = ()) -> float:
        """Standard uncertainty of no shift at a date, as much against a usual step of a meter as the likelihood is."""
        replaced = gone_at(self.events, as_day(self.seen.first + cut))
        pairs = self._pairs(cut, moved)
        told = (against(one, USUAL_STEP, replaced) for one in pairs)
        moved_by = max((abs(_roughly(one)) for one in pairs), default=0.0)
        if moved_by > GRID[-1]:
            return MOST_SD  # farther than appliances are looked for
        return min(as_normal(USUAL_STEP, min(told)), math.hypot(ROUGH_SD, ROUGH_MOVED * moved_by), MOST_SD)

    def _undone(self, begin: int, end: int, moved: Sequence[tuple[int, int]]) -> Floats:
        """Histogram of some days with the changes inside them undone."""
        total: Floats = self.counted[end] - self.counted[begin]
        for date, bins in moved:
            if date < end:
                after = self.counted[end] - self.counted[max(date, begin)]
                total = total - after + moved_by(after, -bins)
        total[total < 0.0] = 0.0  # sums of many days differ by their rounding
        return total

    def _gap(self, cut: int, end: int, moved: Sequence[tuple[int, int]]) -> Gap:
        """How much longer than usual before or after a date the nearest few steps of some sizes lie [d]."""
        shifted = sum(bins for date, bins in moved if date < max(cut, end) and date <= cut)

        way, onward = (slice(cut, end + 1), 1) if end > cut else (slice(end, cut + 1), -1)

        def days(low: Ints, high: Ints) -> Floats:
            wide = (high - low) // 2
            edges = (np.array([low, high, low - wide, high + wide]) + shifted) / COARSE
            begin, end, wide_begin, wide_end = self._until(way, edges)[..., ::onward]
            # as many of its sizes are other appliances' as stand about it
            counted = onward * (2.0 * (end - begin) - (wide_end - wide_begin))
            seen = np.maximum.accumulate(counted[:, 1:] - counted[:, :1], axis=1)
            usual = NEAREST * seen.shape[1] / np.maximum(seen.max(axis=1, initial=0.0), 1.0)
            gap: Floats = np.maximum((seen <= NEAREST).sum(axis=1) - USUAL_GAPS * usual, 0.0)
            return gap

        return days

    def _until(self, days: slice, edges: Floats) -> Floats:
        """Steps below some sizes up to each of some days, shape (..., d): edges of coarse bins, or between them."""
        edges = np.clip(edges, 0, len(self.by_size) - 1e-6)
        low = edges.astype(np.int64)
        below: Floats = self.below[:, days][low] + (edges - low)[..., None] * self.by_size[:, days][low]
        return below

    def dated(self, candidates: Sequence[tuple[int, int]], moved: Sequence[tuple[int, int]] = ()) -> list[Change]:
        """Find the dates of some changes to the day, and compare both sides of each: several may lead to one."""
        found: dict[int, tuple[Limits, int]] = {}
        for cut, bins in candidates:
            limits = date_limits(self.fine, cut, bins, moved)
            found.setdefault(limits.day, (limits, bins))
        return [self._at(limits, bins, moved) for limits, bins in found.values()]

    def _at(self, limits: Limits, bins: int, moved: Sequence[tuple[int, int]]) -> Change:
        """Compare both sides of a date that was found for a shift, and find it anew where that is another shift."""
        again = self.change(limits.day, moved, bins)
        if abs(again.shift - bins * BIN) > 2 * BIN and again.cuts:
            limits = date_limits(self.fine, limits.day, round(again.shift / BIN), moved)
            again = self.change(limits.day, moved, round(again.shift / BIN))
        first = self.seen.first
        about = tuple(first + day for day in limits.about)
        return replace(again, low=first + limits.low, high=first + limits.high, about=about)

    def change(self, cut: int, moved: Sequence[tuple[int, int]] = (), about: int | None = None) -> Change:
        """Compare both sides of a date, where the sizes moved far, about that shift too [bins]."""
        if about is None:
            about = round(_roughly(self._pairs(cut, moved)[-1]) / BIN)
        shift, sd, likelier = _told(self.compared(cut, moved))
        beyond = abs(shift) > NEAR * BIN  # heard no more than what is near: how far they moved is told from there
        about = round(shift / BIN) if beyond and abs(about) <= REACH else about
        if abs(about) > NEAR:
            other, own_sd, likely = _told(self.compared(cut, moved, about), about)
            if likely > likelier:
                shift, sd, likelier = other, own_sd, likely
            elif beyond and abs(about) <= REACH and likely > 0.0:
                shift, sd = other, as_normal(other, likelier)
        before, after = self.both(np.array([cut]), SIDES[-1])
        day = self.seen.first + cut
        return Change(day, day, day, shift, sd, likelier, (), before[0], after[0], self.seen.volts)

    def described(self, change: Change) -> Change:
        """With the appliances on both sides of its date, and how sure it is that the sizes kept still, if they did."""
        cut, least = change.day - self.seen.first, self.seen.least_kw
        longest = self._pairs(cut, ())[-1]
        before, after = clusters_of(longest.before, least), clusters_of(longest.after, least)
        clusters = matched(before, after, change.shift, longest.longer)
        sd = change.standard_uncertainty if change.shift else self.still(cut)
        return replace(change, clusters=clusters, standard_uncertainty=sd)


def _roughly(sides: Sides) -> float:
    """How far the sizes as a whole moved, whichever appliances they are: a meter of twice or half as much moves them.

    As far as any where too few tell.
    """
    if min(sides.before[sides.lowest :].sum(), sides.after[sides.lowest :].sum()) < ROUGH_STEPS:
        return float(GRID[-1])
    return moved_at_all(sides.before, sides.after, sides.lowest)


def _mean(values: Floats) -> float:
    """Mean of what is known; zero where nothing is."""
    known = values[np.isfinite(values)]
    return float(known.mean()) if len(known) else 0.0


def _told(curve: Floats, about: int = 0) -> tuple[float, float, float]:
    """Likeliest shift, the standard uncertainty at which a normal law says as much as the likelihood does, and its
    log-likelihood above none.

    Where the sizes moved, as much against no shift: an appliance replaced moves one cluster, and however sharp that
    stands, it speaks no louder than such a chance allows.
    """
    best = int(curve.argmax())
    shift = float(GRID[best]) + about * BIN
    likelier = float(curve[best] - (0.0 if about else curve[REACH]))
    return shift, as_normal(shift, likelier), likelier


def _windows(sides: _Sides, change: Change, at_dates: tuple[Change, ...], known: dict[int, Change]) -> GainSignal:
    """Gain of successive windows: each boundary's shift adds to those before it."""
    first = sides.seen.first
    about = [day - first for one in known.values() for day in one.about]
    edges = window_edges(sides.days, known, first)
    value, covariance = np.zeros(len(edges) - 1), np.full((len(edges) - 1, len(edges) - 1), LEVEL_SD**2)
    moved = [(day, round(one.shift / BIN)) for day, one in known.items()]
    for place, cut in enumerate(edges[1:-1].tolist(), start=1):
        if cut in about and cut not in known:
            continue
        if cut in known:
            shift, sd = known[cut].shift, known[cut].standard_uncertainty
        else:
            # stretches overlap from one boundary to the next: what moves slowly must not add up to a step
            shift, sd = 0.0, sides.still(cut, moved)
        after = (np.arange(len(value)) >= place).astype(float)
        value += shift * after
        covariance += sd**2 * np.outer(after, after)
    for one, other, common in undone(known.values()):
        acts = [(first + edges[:-1] >= each.day).astype(float) for each in (one, other)]
        covariance -= common * (np.outer(*acts) + np.outer(*acts).T)
    for one in known.values():
        covariance += np.diag(date_doubt(one, first + edges))
    counts = np.diff(sides.counted[edges].sum(axis=1))
    return GainSignal(
        begins=first + edges[:-1],
        ends=first + edges[1:],
        value=value - value.mean(),
        covariance=covariance + 1e-6 * np.eye(len(value)),
        steps=np.round(counts).astype(np.int64),
        change=change,
        at_dates=at_dates,
    )
