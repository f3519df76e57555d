"""The meter's gain from the house's own appliances: windows of step sizes, and the date on which they all moved."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import as_day
from reconcile.interval.alignment import BIN, BINS, LOW, REACH, histograms, likeness, peak
from reconcile.interval.clusters import Cluster, agreed, cluster_shifts
from reconcile.interval.switching import Switching
from reconcile.interval.windows import LEVEL_SD, drift, scatter

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SIDE_DAYS = 182
LEAST_SIDE_DAYS = 14
LEAST_SIDE_STEPS = 50
"""Longest and shortest stretch compared on either side of a date [d], and fewest steps in it (our own judgement)."""

SCAN_DAYS = 3
"""Dates looked at first [d]; the date itself is then found to the day."""

WINDOW_DAYS = 28
WINDOW_STEPS = 40
"""Shortest window of the evidence [d], and fewest steps in one (our own judgement)."""

WINDOW_REACH = 24
"""Shift of one window apart from the others that is looked for [bins]."""

FOUND_AT = 2.0
CUT_AT = 0.01
LEAST_SHIFT = 0.025
"""A date is named where the sizes moved by so many standard uncertainties and by this much; the windows are cut at it
wherever the best shift there is at least the last (our own judgement)."""

RESAMPLES = 48
"""Resamples of whole weeks for the uncertainty of a shift."""

LEAST_SD = 0.01
"""No shift is known better than this: settings, ageing, what no check has shown (our own judgement)."""

DRIFT_SD, DRIFT_SD_WITH_VOLTS, DRIFT_DAYS = 0.015, 0.005, 120.0
"""Slow drift of sizes, over so many days [d]: supply volts and season. Half years of one real home differ by 0.9 to
2.3 % as they are, by 0.3 to 1.5 % at one voltage."""

VOLTS_SD = 0.02
"""Lasting change of the supply's volts, as a part of power, where the data carry none (our own judgement: a tap of a
regulator is 0.6 % of volts, a changed transformer tap 2.5 %)."""

FEW_STEPS_SD, NO_CLUSTER_SD, ONE_CLUSTER_SD = 0.3, 0.15, 0.02
"""Where no cluster stands out: one step's word on the shift, and how far the sizes may wander with the seasons;
likewise with one cluster only (our own judgement)."""

DOUBTFUL_SHIFT, DOUBTFUL_SHARE = 0.06, 0.5
"""Where the best shift is larger than this and yet not believed, appliances come and go by the season, and windows may
be matched as wrongly: they wander by this part of it (our own judgement)."""

SHARP, LONE_SHARE = 0.02, 0.25
"""A cluster known this well confirms the shift of others; a shift that one cluster alone shows may be a replaced
appliance, and is taken for no better known than this part of itself (our own judgement)."""

OWN_SHARE = 0.1
"""A cluster with less than this part of the largest one's steps may be its intervals in which it ran for a part only:
it confirms nothing (our own judgement; a replaced heater passed for a meter by such a cluster of 12 steps in 300)."""

BACKGROUND = 0.1
"""Part of steps that belong to no cluster (our own judgement)."""

REPEATED = 3.0
"""Steps that tell one thing: on and off of one run, several runs a day (our own judgement)."""


@dataclass(frozen=True, slots=True, eq=False)
class Change:
    """Step sizes before and after one date, counted in days since 1970-01-01.

    Attributes
    ----------
    day, low, high : int
        First day after the change, with 95 % limits [d].
    shift, standard_uncertainty : float
        Of the logarithm of the sizes, clusters agreed.
    clusters : tuple of Cluster
    before, after : ndarray, shape (BINS,)
        Smoothed histograms of both sides.
    """

    day: int
    low: int
    high: int
    shift: float
    standard_uncertainty: float
    clusters: tuple[Cluster, ...]
    before: Floats
    after: Floats
    step_variance: float
    """Variance of one step's word on the shift."""
    common_bins: int

    def to_dict(self) -> dict[str, Any]:
        """Return the change as plain values; percentages are of the sizes before."""
        percent = 100.0 * math.expm1(self.shift)
        return {
            "date": as_day(self.day).isoformat(),
            "low": as_day(self.low).isoformat(),
            "high": as_day(self.high).isoformat(),
            "percent": percent,
            "standard_uncertainty_percent": 100.0 * self.standard_uncertainty,
            "found": self.found,
            "clusters": [
                {
                    "watts": 1000.0 * cluster.kw,
                    "percent": 100.0 * math.expm1(cluster.shift),
                    "standard_uncertainty_percent": 100.0 * cluster.standard_uncertainty,
                    "steps_before": round(cluster.steps_before),
                    "steps_after": round(cluster.steps_after),
                }
                for cluster in self.clusters
            ],
        }

    @property
    def cuts(self) -> bool:
        """Whether the windows are cut at the date, so that neither side blurs the other."""
        return abs(self.common_bins) * BIN >= CUT_AT

    @property
    def found(self) -> bool:
        """Whether the sizes moved beyond what chance gives."""
        return abs(self.shift) >= max(FOUND_AT * self.standard_uncertainty, LEAST_SHIFT)


@dataclass(frozen=True, slots=True, eq=False)
class GainSignal:
    """Log gain of each window against the others, with its covariance, and the likeliest change.

    ``begins`` and ``ends`` are days since 1970-01-01 [d]; ``value`` is in the logarithm of size.
    """

    begins: Ints
    ends: Ints
    value: Floats
    covariance: Floats
    steps: Ints
    change: Change
    at_dates: tuple[Change, ...] = ()
    """The same comparison at dates given beforehand, such as a recorded meter exchange."""

    def to_dict(self) -> dict[str, Any]:
        """Return the ``gain`` part of ``result.json``."""
        return {
            "steps_seen": int(self.steps.sum()),
            "change": self.change.to_dict(),
            "at_dates": [change.to_dict() for change in self.at_dates],
        }


def gain_signal(seen: Switching, dates: Sequence[int] = ()) -> GainSignal | None:
    """Compare the sizes of the house's own steps over time.

    Parameters
    ----------
    seen : Switching
    dates : sequence of int
        Dates given beforehand, days since 1970-01-01 [d].

    Returns
    -------
    GainSignal or None
        None where too few steps were seen.
    """
    days = seen.last - seen.first + 1
    if days < 2 * LEAST_SIDE_DAYS or len(seen.day) < 2 * LEAST_SIDE_STEPS:
        return None
    kernel = max(0.02, seen.resolution_kw / 2.0)
    daily = histograms(seen.day - seen.first, seen.log_kw, days, kernel)
    sides = _Sides(seen, np.concatenate([np.zeros((1, BINS)), np.cumsum(daily, axis=0)]), daily)
    start = sides.likeliest()
    if start is None:
        return None
    change = sides.change(*start, dated=True)
    given = [d - seen.first for d in dates if sides.usable(np.array([d - seen.first]))[0]]
    at_dates = tuple(sides.change(d, None) for d in given)
    cuts = sorted({*given, *([change.day - seen.first] if change.cuts else [])})
    return _windows(sides, change, at_dates, cuts)


@dataclass(frozen=True, slots=True, eq=False)
class _Sides:
    """Daily histograms counted up, to be cut at any date; days count from the first."""

    seen: Switching
    counted: Floats
    daily: Floats

    @property
    def days(self) -> int:
        return len(self.daily)

    def both(self, cut: Ints) -> tuple[Floats, Floats]:
        return (
            self.counted[cut] - self.counted[np.maximum(cut - SIDE_DAYS, 0)],
            self.counted[np.minimum(cut + SIDE_DAYS, self.days)] - self.counted[cut],
        )

    def usable(self, cut: Ints) -> NDArray[np.bool_]:
        inside = (cut >= LEAST_SIDE_DAYS) & (cut <= self.days - LEAST_SIDE_DAYS)
        before, after = self.both(np.clip(cut, 0, self.days))
        enough: NDArray[np.bool_] = inside & (np.minimum(before.sum(axis=1), after.sum(axis=1)) >= LEAST_SIDE_STEPS)
        return enough

    def likeliest(self) -> tuple[int, int] | None:
        """Date and shift [bins] that most better the likeness of the two sides."""
        cut = np.arange(LEAST_SIDE_DAYS, self.days - LEAST_SIDE_DAYS + 1, SCAN_DAYS)
        cut = cut[self.usable(cut)]
        if len(cut) == 0:
            return None
        before, after = self.both(cut)
        n, m = before.sum(axis=1), after.sum(axis=1)
        curve = likeness(before, after)
        better = (curve.max(axis=1) - curve[:, REACH]) * n * m / (n + m)
        best = int(better.argmax())
        return int(cut[best]), int(curve[best].argmax()) - REACH

    def change(self, cut: int, shift_bins: int | None, *, dated: bool = False) -> Change:
        """Compare both sides of a date; with ``dated`` the date itself is found to the day first."""
        if shift_bins is None:
            before, after = self.both(np.array([cut]))
            shift_bins = int(likeness(before, after)[0].argmax()) - REACH
        low = high = cut
        if dated:
            cut, low, high = self._dated(cut, shift_bins)
        before, after = self._resampled(cut)
        shift_bins = int(likeness(before[:1], after[:1])[0].argmax()) - REACH
        clusters = cluster_shifts(before, after, shift_bins, self.seen.least_kw)
        # resampled over the whole reach: where another shift fits nearly as well, some resamples will choose it
        curves = likeness(before, after)
        drawn = peak(curves)
        own = max(float(np.std(drawn[1:] - shift_bins * BIN)), 1e-3)
        if clusters:
            shift, sd = agreed(clusters)
        else:
            few = FEW_STEPS_SD * math.sqrt(1.0 / before[0].sum() + 1.0 / after[0].sum())
            shift, sd = agreed(
                (Cluster(1.0, float(drawn[0]), math.hypot(own, few), 1.0, 1.0),), cluster_sd=NO_CLUSTER_SD
            )
        sharp = _confirming(clusters)
        left = _left_open(before, after, curves[0], abs(shift)) / max(sharp, 1) ** 1.5
        left = math.hypot(left, LONE_SHARE * shift / max(sharp, 1) ** 2)
        sd = math.sqrt(sd**2 + own**2 + left**2 + LEAST_SD**2 + (0.0 if self.seen.volts else VOLTS_SD**2))
        n, m = float(before[0].sum()), float(after[0].sum())
        first = self.seen.first
        return Change(
            first + cut, first + low, first + high, shift, sd, clusters, before[0], after[0],
            own**2 / (1.0 / n + 1.0 / m), shift_bins,
        )  # fmt: skip

    def _resampled(self, cut: int) -> tuple[Floats, Floats]:
        """Both sides as they are, then with their weeks drawn anew."""
        rng = np.random.default_rng(0)
        sides = []
        for begin, end in ((max(cut - SIDE_DAYS, 0), cut), (cut, min(cut + SIDE_DAYS, self.days))):
            edges = np.linspace(begin, end, max(2, round((end - begin) / 7)) + 1).astype(int)
            weeks = np.diff(self.counted[edges], axis=0)
            count = len(weeks)
            drawn = rng.multinomial(count, np.full(count, 1.0 / count), RESAMPLES)
            sides.append(np.concatenate([np.ones((1, count)), drawn]) @ weeks)
        return sides[0], sides[1]

    def _dated(self, cut: int, shift_bins: int) -> tuple[int, int, int]:
        """Day on which the sizes moved by a shift, with 95 % limits."""
        before, after = self.both(np.array([cut]))
        shape = before[0] / before[0].sum() + np.roll(after[0], -shift_bins) / after[0].sum()
        density = np.log((1.0 - BACKGROUND) * shape / shape.sum() + BACKGROUND / BINS)
        column = np.clip(((self.seen.log_kw - LOW) / BIN).astype(np.int64), 0, BINS - 1)
        gain = density[column] - density[np.clip(column - shift_bins, 0, BINS - 1)]
        begin, end = max(cut - SIDE_DAYS, 0), min(cut + SIDE_DAYS, self.days)
        daily = np.bincount(self.seen.day - self.seen.first, weights=gain, minlength=self.days)[begin:end]
        support = np.concatenate([[0.0], np.cumsum(daily)]) / REPEATED
        edge = min(LEAST_SIDE_DAYS, len(daily) // 3)
        support[:edge] = support[-edge:] = -np.inf
        chance = np.exp(support - support.max())
        total = np.cumsum(chance) / chance.sum()
        low, high = int(np.searchsorted(total, 0.025)), int(np.searchsorted(total, 0.975))
        return begin + int(support.argmax()), begin + low, begin + high


def _confirming(clusters: Sequence[Cluster]) -> int:
    """Clusters that confirm the shift of others: sharp ones with steps enough to be an appliance of their own."""
    steps = [min(cluster.steps_before, cluster.steps_after) for cluster in clusters]
    least = OWN_SHARE * max(steps, default=0.0)
    sharp = (cluster.standard_uncertainty <= SHARP for cluster in clusters)
    return sum(one and count >= least for one, count in zip(sharp, steps, strict=True))


def _left_open(before: Floats, after: Floats, curve: Floats, shift: float) -> float:
    """Uncertainty of a shift that explains only a part of how the two sides differ.

    Appliances come, go and follow the season; then some shift always fits a little better than none. What the best
    shift leaves unexplained beyond the scatter from week to week speaks for that.
    """
    repeats = [likeness(np.broadcast_to(side[0], side[1:].shape), side[1:], 0).mean() for side in (before, after)]
    most = min(1.0, float(sum(repeats)) - 1.0)
    without, best = float(curve[REACH]), float(curve.max())
    part = (best - without) / max(most - without, best - without, 1e-9)
    return shift * ((1.0 - part) / max(part, 0.1)) ** 2


def _windows(sides: _Sides, change: Change, at_dates: tuple[Change, ...], cuts: list[int]) -> GainSignal:
    first = sides.seen.first
    edges = _edges(sides, cuts)
    held = np.diff(sides.counted[edges], axis=0)
    steps = held.sum(axis=1)
    middle = (edges[:-1] + edges[1:]) / 2.0
    start = np.zeros(len(held), dtype=np.int64)
    if change.cuts:
        start[middle >= change.day - first] = change.common_bins
    value = _aligned(held, start)
    variance = change.step_variance / steps
    part = np.searchsorted([change.day - first] if change.cuts else [], middle)
    own = np.diag(variance * scatter(value, variance, part))
    lone = (NO_CLUSTER_SD, ONE_CLUSTER_SD, 0.0)[min(len(change.clusters), 2)]
    if not change.found and abs(change.shift) > DOUBTFUL_SHIFT:
        lone = max(lone, DOUBTFUL_SHARE * abs(change.shift))
    own += drift(middle, math.hypot(DRIFT_SD_WITH_VOLTS if sides.seen.volts else DRIFT_SD, lone), DRIFT_DAYS)
    for known in ([change] if change.cuts else []) + list(at_dates):
        after = (middle >= known.day - first).astype(float)
        if 0 < after.sum() < len(after):
            contrast = after * steps / (after @ steps) - (1 - after) * steps / ((1 - after) @ steps)
            if known is change:
                value = value + (known.shift - contrast @ value) * after
            missing = known.standard_uncertainty**2 - contrast @ own @ contrast
            own = own + max(missing, 0.0) * np.outer(after - 0.5, after - 0.5)
    return GainSignal(
        begins=first + edges[:-1],
        ends=first + edges[1:],
        value=value - np.average(value, weights=1.0 / np.diag(own)),
        covariance=own + LEVEL_SD**2,
        steps=np.round(steps).astype(np.int64),
        change=change,
        at_dates=at_dates,
    )


def _edges(sides: _Sides, cuts: list[int]) -> Ints:
    """Windows of about a month, longer where steps are few, cut at the dates that matter."""
    edges = [0]
    total = sides.counted.sum(axis=1)
    for begin, end in pairwise([0, *cuts, sides.days]):
        steps = total[end] - total[begin]
        count = int(max(1, min((end - begin) // WINDOW_DAYS, steps // WINDOW_STEPS)))
        edges += np.round(np.linspace(begin, end, count + 1)[1:]).astype(int).tolist()
    return np.array(edges, dtype=np.int64)


def _aligned(held: Floats, start: Ints) -> Floats:
    """Shift of each window against all the others, from a first guess of each [bins]."""
    value = start * BIN
    if len(held) < 2:
        return np.zeros(len(held))
    for _ in range(2):
        bins = np.round(value / BIN).astype(np.int64)
        back = np.stack([np.roll(row, -b) for row, b in zip(held, bins, strict=True)])
        rest = back.sum(axis=0) - back
        value = bins * BIN + peak(likeness(rest, back, WINDOW_REACH))
    aligned: Floats = np.asarray(value, dtype=np.float64)
    return aligned
