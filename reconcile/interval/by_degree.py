"""Energy for a degree of cold, and of heat, day by day: what heating and cooling take for the same weather.

A load round the clock lifts the days of a month alike. A heat pump on its auxiliary heat, a second heater or an air
conditioner short of refrigerant lifts the cold, or the hot, days most. How the days *within* some weeks differ with
their weather is heard here, and not their total, which the bills hold already.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.house import House
from reconcile.interval.hour_blocks import by_day
from reconcile.interval.weather_hours import Days, days_of, weather_curve
from reconcile.interval.windows import LEVEL_SD, drift, edges_of, scatter

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Side = Literal["heating", "cooling"]

LEAST_DAYS = 120
"""Whole days of known weather from which this is looked at (our own judgement)."""

LEAST_SEASON_DAYS = 20
"""Days with some heating, or cooling, that must lie inside of a spell, and outside of it (our own judgement)."""

SHORTEST_DAYS = 14
"""Shortest spell that is looked for [d] (our own judgement)."""

SOME_PART = 0.3
"""Part of the usual heating of a heated day from which a day counts as one (our own judgement)."""

OWN_SHARE = 0.12
"""How far the heating of a day scatters by sun, wind and settings, as a part of it (our own judgement)."""

LEAST_CHANGE, LEAST_SDS = 0.25, 3.0
"""Least change of heating for the same weather that is dated, as a part of it, and in standard uncertainties (our own
judgement; smaller ones are heard all the same)."""

WINTER_SD = 0.08
"""How far one winter's, or one summer's, use for a degree differs from the next, as a part of it (our own judgement:
settings, wind, wood, visitors)."""

BETTER = 10.0
"""By how much a change in proportion to the weather must fit the days better than one that is the same every day, or
in proportion to everything (chi-square; our own judgement)."""

MOST_MEMORY = 4.0
"""How much more the mean of days scatters than their number says, at the most: days are like their neighbors."""

WINDOW_DAYS = 28
"""Shortest windows of the evidence [d]."""

WANDER_SD, WANDER_DAYS = 0.12, 60.0
"""How far the use for a degree wanders by itself, as a part of it, and over how many days [d]: a curve of the whole
year fits no month quite, defrosting and strip heat come with damp and with deep cold (our own judgement; checked by
`tests/benchmarks/heat_pumps.py`)."""

MOST_SD = 0.6
"""Windows less well known than this say nothing."""

DATE_LIMIT = 4.0
"""A date fits nearly as well where it costs less than this (chi-square)."""


@dataclass(frozen=True, slots=True)
class Spell:
    """A time in which heating, or cooling, took more for the same weather: days since 1970-01-01 [d].

    ``end`` is None where it still lasts; ``size`` is a part of the usual (1 = twice as much).
    """

    side: Side
    begin: int
    low: int
    high: int
    end: int | None
    size: float


@dataclass(frozen=True, slots=True, eq=False)
class ByDegree:
    """Use for the same weather in windows, as a part of the usual less 1, and the spell in which it was higher.

    Attributes
    ----------
    side : {'heating', 'cooling'}
    begins, ends : ndarray of int64, shape (m,)
        Windows, days since 1970-01-01 [d].
    value : ndarray, shape (m,)
    covariance : ndarray, shape (m, m)
    spell : Spell or None
    """

    side: Side
    begins: Ints
    ends: Ints
    value: Floats
    covariance: Floats
    spell: Spell | None


def by_degree(house: House, zone: ZoneInfo) -> tuple[ByDegree, ...]:
    """Look at heating and at cooling.

    Parameters
    ----------
    house : House
    zone : ZoneInfo

    Returns
    -------
    tuple of ByDegree
        None of a side that the house does not have or whose weather is not known.
    """
    if house.interval is None:
        return ()
    first, hourly = by_day(house.interval, zone)
    if len(hourly) < LEAST_DAYS:
        return ()
    outside = days_of(house, first, first + len(hourly) - 1)
    if outside is None:
        return ()
    watts = hourly.mean(axis=1)
    kept = np.flatnonzero(np.isfinite(watts) & outside.known)
    if len(kept) < LEAST_DAYS:
        return ()
    days = _Daily.of(first + kept, watts[kept], outside.at(kept))
    return tuple(one for side in ("heating", "cooling") if (one := days.windows(side)) is not None)  # type: ignore[arg-type]


@dataclass(frozen=True, slots=True, eq=False)
class _Daily:
    """Whole days: their number, mean power, weather, and the usual heating and cooling of each [W]."""

    days: Ints
    watts: Floats
    outside: Days
    usual: dict[Side, Floats]

    @classmethod
    def of(cls, days: Ints, watts: Floats, outside: Days, apart: Bools | None = None) -> _Daily:
        """Fit the usual to all days but those of a spell."""
        taught = outside.known if apart is None else ~apart
        curve = weather_curve(watts[:, None], outside.mean_c, taught)
        warm = curve.cooling().part(outside.mean_c)[:, 0]
        cold = curve.part(outside.mean_c)[:, 0] - warm
        return cls(days, watts, outside, {"heating": cold, "cooling": warm})

    def windows(self, side: Side) -> ByDegree | None:
        """Use for a degree of one side in windows, held to the usual of the days outside of its spell."""
        if not self._has(side):
            return None
        spell, usual = self._spell(side), self
        if spell is not None:
            # the usual was fitted to days of both kinds: once more to those outside alone
            again = _Daily.of(self.days, self.watts, self.outside, self._inside(spell))
            closer = again._spell(side) if again._has(side) else None
            if closer is not None:
                usual = _Daily.of(self.days, self.watts, self.outside, self._inside(closer))
                spell = closer
        return usual._slopes(side, spell)

    def _has(self, side: Side) -> bool:
        return int(self._some(side).sum()) >= 2 * LEAST_SEASON_DAYS

    def _some(self, side: Side) -> Bools:
        part = self.usual[side]
        on = part[part > 0.0]
        return part > SOME_PART * float(np.median(on)) if on.size else np.zeros(len(part), dtype=bool)

    def _inside(self, spell: Spell) -> Bools:
        return (self.days >= spell.begin) & (self.days < (np.inf if spell.end is None else spell.end))

    def _weights(self) -> tuple[Floats, Floats, float]:
        """Design of a usual day, the weight of each, and how much more their means scatter than these say."""
        heat, cool = self.usual["heating"], self.usual["cooling"]
        weekend = ((self.days + 3) % 7 >= 5).astype(float)
        design = np.column_stack([np.ones(len(heat)), weekend, heat, cool])
        spread, weight = OWN_SHARE * (heat + cool), np.ones(len(heat))
        left = self.watts - np.median(self.watts)
        own = 1.0
        for _ in range(4):
            root = np.sqrt(weight)[:, None]
            fitted, *_ = np.linalg.lstsq(design * root, self.watts * root[:, 0], rcond=None)
            left = self.watts - design @ fitted
            near = np.abs(np.diff(left)) / math.sqrt(2.0)  # what lasts is no scatter of days
            own = 1.4826 * float(np.median(near)) + 1.0
            sd = np.hypot(own, spread)
            weight = np.minimum(1.0, 3.0 * sd / np.maximum(np.abs(left), 1e-9)) / sd**2
        return design, weight, own

    def _spell(self, side: Side) -> Spell | None:
        """The time in which use for a degree stood higher, where that fits the days better than all else."""
        design, weight, _ = self._weights()
        part = self.usual[side]
        everything = np.maximum(design @ np.linalg.lstsq(design, self.watts, rcond=None)[0], 0.0)
        rivals = [_scan(design, weight, self.watts, self.days, z) for z in (part, np.ones(len(part)), everything)]
        begin, end = rivals[0].best(self._some(side))
        if begin < 0:
            return None
        inside = np.zeros(len(part), dtype=bool)
        inside[begin:end] = True
        more = np.column_stack([design, np.where(inside, part, 0.0)])
        size, sd, memory = _fitted(more, weight, self.watts)
        gains = [float(rival.gain.max()) / memory for rival in rivals]
        if size < LEAST_CHANGE or size < LEAST_SDS * math.hypot(sd, WINTER_SD):
            return None
        if gains[0] - max(gains[1:]) < BETTER:
            return None
        low, high = rivals[0].dates(begin, end, DATE_LIMIT * memory)
        until = None if self._lasts(side, end) else int(self.days[end])
        return Spell(side, int(self.days[begin]), int(self.days[low]), int(self.days[high]), until, size)

    def _lasts(self, side: Side, end: int) -> bool:
        """Whether hardly a day that needs heating, or cooling, came after."""
        return int(self._some(side)[end:].sum()) < SHORTEST_DAYS

    def _slopes(self, side: Side, spell: Spell | None) -> ByDegree | None:
        part, (_, weight, _) = self.usual[side], self._weights()
        first, last = int(self.days[0]), int(self.days[-1]) + 1
        cuts = [] if spell is None else [spell.begin, *([] if spell.end is None else [spell.end])]
        edges = edges_of(first, last, cuts, WINDOW_DAYS)
        found = []
        for begin, end in zip(edges[:-1], edges[1:], strict=True):
            mine = (self.days >= begin) & (self.days < end)
            if mine.sum() < SHORTEST_DAYS or part[mine].max() <= 0.0:
                continue
            design = np.column_stack([np.ones(int(mine.sum())), part[mine], self._other(side)[mine]])
            design = design[:, np.ptp(design, axis=0) + (np.arange(design.shape[1]) == 0) > 1e-9]
            if design.shape[1] < 2 or np.ptp(part[mine]) <= 0.0:
                continue
            value, sd, memory = _fitted(design, weight[mine], self.watts[mine], at=1)
            sd *= math.sqrt(memory)
            if sd <= MOST_SD:
                found.append((begin, end, value - 1.0, sd))
        if len(found) < 2:
            return None
        begins, ends = (np.array([one[i] for one in found], dtype=np.int64) for i in (0, 1))
        value, sds = (np.array([one[i] for one in found], dtype=float) for i in (2, 3))
        middle = (begins + ends) / 2.0
        within = np.zeros(len(value), dtype=np.int64)
        if spell is not None:
            within[(begins >= spell.begin) & (ends <= (np.inf if spell.end is None else spell.end))] = 1
        variance = sds**2 + WANDER_SD**2
        own = np.diag(sds**2 + (scatter(value, variance, within) - 1.0) * variance)
        own += drift(middle, WANDER_SD, WANDER_DAYS) + LEVEL_SD**2
        return ByDegree(side, begins, ends, value, own, spell)

    def _other(self, side: Side) -> Floats:
        return self.usual["cooling" if side == "heating" else "heating"]


@dataclass(frozen=True, slots=True, eq=False)
class _Scan:
    """By how much a pattern from one day to before another fits better, shape (n, n + 1) (chi-square)."""

    gain: Floats
    size: Floats
    days: Ints

    def best(self, some: Bools) -> tuple[int, int]:
        """First and last-but-one place of the rise that fits best, with enough of the season in and out; -1 if none."""
        count = np.concatenate([[0], np.cumsum(some)])
        inside = count[None, :] - count[:-1, None]
        enough = (inside >= min(LEAST_SEASON_DAYS, SHORTEST_DAYS)) & (count[-1] - inside >= LEAST_SEASON_DAYS)
        gain = np.where(enough & (self.size > 0.0), self.gain, -1.0)
        place = int(np.argmax(gain))
        begin, end = divmod(place, gain.shape[1])
        return (begin, end) if gain[begin, end] > 0.0 else (-1, -1)

    def dates(self, begin: int, end: int, cost: float) -> tuple[int, int]:
        """First and last begin that fit nearly as well."""
        near = np.flatnonzero(self.gain[:, end] >= self.gain[begin, end] - cost)
        near = near[np.abs(near - begin) <= 2 * WINDOW_DAYS]
        return int(near[0]), int(near[-1])


def _scan(design: Floats, weight: Floats, watts: Floats, days: Ints, column: Floats) -> _Scan:
    """Fit a pattern that acts from one day to before another, for all of them, beside the usual day."""
    root = np.sqrt(weight)
    white, _ = np.linalg.qr(design * root[:, None])
    left = watts * root - white @ (white.T @ (watts * root))
    own = column * root
    pull = np.concatenate([[0.0], np.cumsum(own * left)])
    square = np.concatenate([[0.0], np.cumsum(own**2)])
    shared = np.concatenate([np.zeros((1, white.shape[1])), np.cumsum(white * own[:, None], axis=0)])
    pulled = pull[None, :] - pull[:-1, None]
    along = shared[None, :, :] - shared[:-1, None, :]
    length = square[None, :] - square[:-1, None] - np.einsum("ijk,ijk->ij", along, along)
    total = float(square[-1])
    ok = length > 0.01 * total
    size = np.where(ok, pulled / np.where(ok, length, 1.0), 0.0)
    gain = np.where(ok & (np.arange(len(watts) + 1)[None, :] > np.arange(len(watts))[:, None]), size * pulled, 0.0)
    return _Scan(gain, size, days)


def _fitted(design: Floats, weight: Floats, watts: Floats, at: int = -1) -> tuple[float, float, float]:
    """Size of one column, its standard uncertainty as of days by themselves, and how much more they scatter."""
    root = np.sqrt(weight)
    white = design * root[:, None]
    gram = white.T @ white
    inverse = np.linalg.pinv(gram)
    solved = inverse @ (white.T @ (watts * root))
    left = watts * root - white @ solved
    freedom = max(len(watts) - design.shape[1], 1)
    scale = float(left @ left) / freedom
    like = float(left[1:] @ left[:-1]) / max(float(left @ left), 1e-12)
    memory = float(np.clip((1.0 + like) / max(1.0 - like, 0.1), 1.0, MOST_MEMORY)) * max(scale, 1.0)
    return float(solved[at]), math.sqrt(max(float(inverse[at, at]), 0.0)), memory
