"""Energy for a degree of cold, and of heat, day by day: what heating and cooling take for the same weather.

A load round the clock lifts the days of a month alike. A heat pump on its auxiliary heat, a second heater or an air
conditioner short of refrigerant lifts the cold, or the hot, days most. How the days *within* some weeks differ with
their weather is heard here, and not their total, which the bills hold already.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import day_numbers
from reconcile.distributions import MEDIAN_TO_SD, middle
from reconcile.house import House
from reconcile.interval.day_fits import fitted, gain_of, scan_of
from reconcile.interval.hour_blocks import by_day
from reconcile.interval.weather_hours import COOLING_C, HEATING_C, Days, days_of, weather_curve
from reconcile.interval.windows import LEVEL_SD, drift, edges_of, scatter
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]
Side = Literal["heating", "cooling"]
SIDES: tuple[Side, ...] = ("heating", "cooling")

LEAST_DAYS = 120
"""Whole days of known weather from which this is looked at (our own judgement)."""

LEAST_SEASON_DAYS, SHORTEST_DAYS = 20, 14
"""Days with some heating, or cooling, that must lie outside of a spell, and inside of it (our own judgement)."""

SOME_PART = 0.3
"""Part of the usual heating of a heated day from which a day counts as one (our own judgement)."""

OWN_SHARE = 0.12
"""How far the heating of a day scatters by sun, wind and settings, as a part of it (our own judgement)."""

LEAST_CHANGE, LEAST_TOLD, LEAST_SDS = 0.8, 0.3, 3.0
"""Least change of heating for the same weather that is dated, as a part of it; the same where the days tell it from a
load and from a change of all use; and in standard uncertainties (our own judgement; smaller ones are heard all the
same)."""

WINTER_SD = 0.08
"""How far one winter's, or one summer's, use for a degree differs from the next, as a part of it (our own judgement:
settings, wind, wood, visitors)."""

BETTER, NEARLY = 10.0, 0.03
"""By how much a change that goes with the weather must fit the days better than one that is the same every day to be
told from it: in chi-square, and as a part of what that one explains. By as much less, it may be either (our own
judgement)."""

SURE_SDS = 4.0
"""Standard uncertainties by which the days of a spell must go steeper with the weather than usual (our own
judgement)."""

MOST_LEAD = 20.0
"""Log likelihood that days say at the most (our own choice: beyond doubt, and no more)."""

ABOUT = 0.8
"""Part of what a change of all use explains that a change with the weather must explain, at the least: days in winter
tell a meter and the heating poorly apart, and other signals do (our own judgement)."""

MET, MET_PART = 0.75, 0.8
"""Quantile of the heating that the weather asked for on days outside of a spell, and the part of its mean within that
it must come up to: what no day outside has shown is no more than usual (our own judgement)."""

WINDOW_DAYS = 28
"""Shortest windows of the evidence [d]."""

WANDER_SD, WANDER_DAYS = 0.12, 60.0
"""How far the use for a degree wanders by itself, as a part of it, and over how many days [d]: a curve of the whole
year fits no month quite, defrosting and strip heat come with damp and with deep cold (our own judgement; checked by
`tests/benchmarks/heat_pumps.py`)."""

STRAIGHT_FROM = 4
"""So many of the warmest edges of heating, or the coolest of cooling, are tried for where it begins."""

HEATED_BELOW_C, COOLED_ABOVE_C = 16.0, 20.0
"""Mean outdoor temperatures below and above which nights are taken to be heated and cooled [degC] (our own choice)."""

CAPS = (0.35, 0.65)
"""Parts of the heated days that are colder than where auxiliary heat may add no more (our own choice)."""

ROUNDS, ODD_SDS = 4, 3.0
"""Times that odd days are drawn in, and from how many standard deviations."""

LEAST_QUANTILE, STOPS_SHARE = 0.15, 0.4
"""What a load round the clock lifts as much as the mean: a low quantile of the days' least power; and the part of a
rise below which it stands still now and then (our own judgement)."""

MOST_SD = 0.6
"""Windows less well known than this say nothing."""

DATE_LIMIT = 4.0
"""A date fits nearly as well where it costs less than this (chi-square)."""


@dataclass(frozen=True, slots=True)
class Spell:
    """A time in which heating, or cooling, took more for the same weather: days since 1970-01-01 [d].

    ``end`` is None where it still lasts; ``size`` is a part of the usual (1 = twice as much). ``sure``: the days tell
    it from a load that is the same every day; where not, it may be either.
    """

    side: Side
    begin: int
    low: int
    high: int
    end: int | None
    size: float
    sure: bool
    lead: float = 0.0
    """By how much the days say so, against a load that is the same every day, in log likelihood."""
    guests: bool = False
    """Over, no more than people may take, resting now and then, and no steeper with the weather: as well visitors."""

    def degrees(self, mean_c: Floats) -> Floats:
        """Degrees of cold, or of heat, of days by their mean outdoor temperature [K]."""
        beyond = HEATED_BELOW_C - mean_c if self.side == "heating" else mean_c - COOLED_ABOVE_C
        return np.maximum(beyond, 0.0)

    def holds(self, days: Ints) -> Bools:
        """Which days lie in it."""
        return np.asarray((days >= self.begin) & (days < (np.inf if self.end is None else self.end)))


@dataclass(frozen=True, slots=True, eq=False)
class ByDegree:
    """Use for the same weather in windows, as a part of the usual less 1, and the spell in which it was higher."""

    side: Side
    begins: Ints
    ends: Ints
    """Both: windows, days since 1970-01-01 [d], shape (m,)."""
    value: Floats
    """Shape (m,)."""
    covariance: Floats
    """Shape (m, m)."""
    spell: Spell | None
    days: Ints
    """Whole days, since 1970-01-01 [d], shape (n,)."""
    more: Floats
    """What the spell adds to each [W], shape (n,)."""
    guests: Spell | None = None
    """A time of more use that is as well visitors' as heating or cooling."""


def by_degree(house: House, zone: ZoneInfo, empty: Sequence[tuple[date, date]] = ()) -> tuple[ByDegree, ...]:
    """Look at heating and at cooling.

    Parameters
    ----------
    empty : sequence of (date, date)
        First and last day of times with nobody at home: they teach nothing.

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
    known = np.isfinite(watts) & outside.known
    for begin, end in empty:
        a, b = np.maximum(day_numbers([begin, end]) - first, 0)
        known[a : b + 1] = False
    kept = np.flatnonzero(known)
    if len(kept) < LEAST_DAYS:
        return ()
    days = _Daily.of(first + kept, watts[kept], hourly[kept].min(axis=1), outside.at(kept))
    return tuple(one for side in SIDES if (one := days.windows(side)) is not None)


@dataclass(frozen=True, slots=True, eq=False)
class _Daily:
    """Whole days: their number, mean and least power, weather, and the usual heating and cooling of each [W]."""

    days: Ints
    watts: Floats
    least: Floats
    outside: Days
    usual: dict[Side, Floats]

    @classmethod
    def of(cls, days: Ints, watts: Floats, least: Floats, outside: Days, apart: Bools | None = None) -> _Daily:
        """Fit the usual to all days but those of a spell."""
        taught = outside.known if apart is None else ~apart
        curve = weather_curve(watts[:, None], outside.mean_c, taught)
        warm = curve.cooling().part(outside.mean_c)[:, 0]
        cold = curve.part(outside.mean_c)[:, 0] - warm
        return cls(days, watts, least, outside, {"heating": cold, "cooling": warm})

    def beside(self, spell: Spell) -> _Daily:
        """The same with the usual of the days outside of a spell."""
        return _Daily.of(self.days, self.watts, self.least, self.outside, spell.holds(self.days))

    def windows(self, side: Side) -> ByDegree | None:
        """Use for a degree of one side in windows, held to the usual of the days outside of its spell."""
        usual, spell = self, None
        for _ in range(ROUNDS):
            again = usual._spell(side) if usual._has(side) else None
            if again is None:
                break
            # the usual was fitted to days of both kinds: once more to those outside alone
            usual, spell = self.beside(again), again
        if spell is not None and spell.guests:
            # beside them all is as usual
            found = usual._slopes(side, None) if usual._has(side) else None
            return None if found is None else replace(found, guests=spell)
        return usual._slopes(side, spell) if usual._has(side) else None

    def _has(self, side: Side) -> bool:
        return int(self._some(side).sum()) >= 2 * LEAST_SEASON_DAYS

    def _some(self, side: Side) -> Bools:
        part = self.usual[side]
        on = part[part > 0.0]
        return part > SOME_PART * float(np.median(on)) if on.size else np.zeros(len(part), dtype=bool)

    def _shapes(self, side: Side) -> list[Floats]:
        """How more heating may go with the weather [W]: as the usual, in a straight line, or that up to some cold.

        A heat pump takes more for each degree colder; resistance heat goes in a straight line. What strips carry in
        deep cold anyway is no more than before: there auxiliary heat adds no more than the compressor could give.
        """
        part, felt = self.usual[side], self.outside.mean_c
        sign, edges = (-1.0, HEATING_C) if side == "heating" else (1.0, COOLING_C)
        lines = [np.maximum(sign * (felt - edge), 0.0) for edge in edges[:STRAIGHT_FROM]]
        like = [float(line @ part) / math.sqrt(float(line @ line) * float(part @ part) + 1e-9) for line in lines]
        line = lines[int(np.argmax(like))]
        line = line * float(part.sum()) / max(float(line.sum()), 1e-9)
        on = line[line > 0.0]
        caps = np.quantile(on, CAPS) if on.size else ()
        return [part, line, *(np.minimum(line, cap) for cap in caps)]

    def _bent(self, side: Side) -> tuple[Floats, Floats]:
        """The same on every heated day, and in a straight line beside it [W]."""
        _, line, low, _ = self._shapes(side)
        return low, line

    def _weights(self) -> tuple[Floats, Floats]:
        """Design of a usual day, and the weight of each, odd ones drawn in beside it."""
        heat, cool = self.usual["heating"], self.usual["cooling"]
        weekend = ((self.days + 3) % 7 >= 5).astype(float)
        design = np.column_stack([np.ones(len(heat)), weekend, heat, cool])
        return design, self._drawn(design, np.ones(len(heat), dtype=bool), self.watts)

    def _drawn(self, design: Floats, some: Bools, watts: Floats) -> Floats:
        """Weight of some days, those far from what fits all of them drawn in."""
        spread = OWN_SHARE * (self.usual["heating"] + self.usual["cooling"])[some]
        weight = np.ones(len(watts))
        for _ in range(ROUNDS):
            root = np.sqrt(weight)[:, None]
            solved, *_ = np.linalg.lstsq(design * root, watts * root[:, 0], rcond=None)
            left = watts - design @ solved
            near = np.abs(np.diff(left)) / math.sqrt(2.0)  # what lasts is no scatter of days
            sd = np.hypot(MEDIAN_TO_SD * middle(near) + 1.0, spread)
            weight = np.minimum(1.0, ODD_SDS * sd / np.maximum(np.abs(left), 1e-9)) / sd**2
        return weight

    def _spell(self, side: Side) -> Spell | None:
        """The time in which use for a degree stood higher, where that fits the days about as well as all else."""
        design, weight = self._weights()
        part = self.usual[side]
        everything = np.maximum(design @ np.linalg.lstsq(design, self.watts, rcond=None)[0], 0.0)
        enough = _enough(self._some(side))
        tried = [(column, scan_of(design, weight, self.watts, column)) for column in self._shapes(side)]
        (most, begin, end), column, scan = max(
            ((scan.most(enough), column, scan) for column, scan in tried), key=lambda one: one[0][0]
        )
        if most <= 0.0:
            return None
        inside = np.zeros(len(part), dtype=bool)
        inside[begin:end] = True
        added = np.where(inside, column, 0.0)
        size, sd, memory = fitted(np.column_stack([design, added]), weight, self.watts)
        scale = float(column[inside].sum()) / max(float(part[inside].sum()), 1e-9)
        size, sd = size * scale, sd * scale
        if size < LEAST_TOLD or size < LEAST_SDS * math.hypot(sd, WINTER_SD):
            return None
        own = gain_of(design, weight, self.watts, [np.where(inside, one, 0.0) for one in self._bent(side)])
        alike, all_use = (scan_of(design, weight, self.watts, z).most()[0] for z in (np.ones(len(part)), everything))
        stops = self._stops(side, inside)
        own = max(own, most)
        clear = own - BETTER * memory >= max((1.0 + NEARLY) * alike, all_use)
        if size < LEAST_CHANGE and not clear:
            return None
        if own < ABOUT * all_use or (not stops and own < (1.0 - NEARLY) * alike - BETTER * memory):
            return None
        low, high = scan.dates(begin, end, DATE_LIMIT * memory, 2 * WINDOW_DAYS)
        nothing_after = end == len(part) or self._some(side)[end:].sum() < SHORTEST_DAYS
        lasts = nothing_after or scan.gain(begin, len(part)) >= most - DATE_LIMIT * memory
        until = None if lasts else int(self.days[end])
        same = gain_of(design, weight, self.watts, [inside.astype(float)])
        told = own >= (1.0 + NEARLY) * same + BETTER * memory or self._follows(side, inside, weight)
        guests = stops and not lasts and not told and size * float(part[inside].mean()) <= self._unheated()
        if lasts and (own < all_use or not self._met_before(side, inside)):
            return None
        sure = own >= (1.0 + NEARLY) * alike + BETTER * memory or stops or self._follows(side, inside, weight)
        lead = min(max(0.5 * (own - max(alike, same)) / memory, 0.0), MOST_LEAD)
        first, last = int(self.days[low]), int(self.days[high])
        return Spell(side, int(self.days[begin]), first, last, until, size, sure, lead, guests)

    def _met_before(self, side: Side, inside: Bools) -> bool:
        """Whether days outside of a spell that lasts were about as cold, or hot: else it may as well be the meter."""
        some, felt = self._some(side), self._shapes(side)[1]
        inner, outer = some & inside, some & ~inside
        return bool(np.quantile(felt[outer], MET) >= MET_PART * float(felt[inner].mean()))

    def _stops(self, side: Side, inside: Bools) -> bool:
        """Whether what came stands still now and then: the least power of the days rose by a small part of it.

        What runs round the clock lifts the least as well as the mean; heat that a thermostat calls for does not.
        """
        some = self._some(side)
        now, before = some & inside, some & ~inside
        rise = float(np.mean((self.watts - self.usual["heating"] - self.usual["cooling"])[now]))
        rise -= float(np.mean((self.watts - self.usual["heating"] - self.usual["cooling"])[before]))
        lift = float(np.quantile(self.least[now], LEAST_QUANTILE) - np.quantile(self.least[before], LEAST_QUANTILE))
        return lift < STOPS_SHARE * rise

    def _follows(self, side: Side, inside: Bools, weight: Floats) -> bool:
        """Whether the days of a spell by themselves go steeper with the weather than usual, beyond doubt."""
        line = self._shapes(side)[1]
        left = (self.watts - self.usual["heating"] - self.usual["cooling"])[inside]
        design = np.column_stack([np.ones(int(inside.sum())), line[inside]])
        slope, sd, memory = fitted(design, weight[inside], left)
        return slope >= LEAST_CHANGE and slope >= SURE_SDS * sd * math.sqrt(memory)

    def _unheated(self) -> float:
        """What a day takes without heating and cooling [W]: guests for some weeks double it at the most, and the least
        power of their days stays where it was (our own judgement).
        """
        return float(np.median(self.watts - self.usual["heating"] - self.usual["cooling"]))

    def _slopes(self, side: Side, spell: Spell | None) -> ByDegree | None:
        part = self.usual[side]
        first, last = int(self.days[0]), int(self.days[-1]) + 1
        cuts = [] if spell is None else [spell.begin, *([] if spell.end is None else [spell.end])]
        edges = edges_of(first, last, cuts, WINDOW_DAYS)
        more = self._more(side, spell)
        found: list[tuple[int, int, float, float]] = []
        for begin, end in zip(edges[:-1].tolist(), edges[1:].tolist(), strict=True):
            mine = (self.days >= begin) & (self.days < end)
            inside = spell is not None and bool(spell.holds(self.days[mine]).all())
            # within a spell: how the days follow what it adds with the weather, beside the usual
            follows = more if inside else part
            if mine.sum() < SHORTEST_DAYS or float(np.ptp(follows[mine])) <= 0.0:
                continue
            design = np.column_stack([np.ones(int(mine.sum())), follows[mine], self._other(side)[mine]])
            varies = np.ptp(design, axis=0) > 1e-6
            if not varies[1]:
                continue
            design = design[:, varies | (np.arange(design.shape[1]) == 0)]
            watts = self.watts[mine] - (part[mine] if inside else 0.0)
            # odd beside the days about it: beside all of the year, days of another slope are odd
            slope, own, memory = fitted(design, self._drawn(design, mine, watts), watts, at=1)
            scale = spell.size if inside and spell is not None else 1.0
            if scale * own * math.sqrt(memory) <= MOST_SD:
                found.append((begin, end, scale * slope - (not inside), scale * own * math.sqrt(memory)))
        if len(found) < 2:
            return None
        begins, ends = (np.array([one[i] for one in found], dtype=np.int64) for i in (0, 1))
        values, sds = (np.array([one[i] for one in found], dtype=float) for i in (2, 3))
        middle = (begins + ends) / 2.0
        within = np.zeros(len(values), dtype=np.int64)
        if spell is not None:
            within[spell.holds(begins)] = 1
        variance = sds**2 + WANDER_SD**2
        covariance = np.diag(sds**2 + (scatter(values, variance, within) - 1.0) * variance)
        covariance += drift(middle, WANDER_SD, WANDER_DAYS) + LEVEL_SD**2
        return ByDegree(side, begins, ends, values, covariance, spell, self.days, more)

    def _more(self, side: Side, spell: Spell | None) -> Floats:
        """What a spell adds to its days by their weather [W]; zeros where there is none."""
        if spell is None:
            return np.zeros(len(self.days))
        inside = spell.holds(self.days)
        bent = np.column_stack([np.where(inside, one, 0.0) for one in self._bent(side)])
        root = np.sqrt(self._weights()[1])[:, None]
        plain = np.column_stack([np.ones(len(inside)), self._other(side), bent])
        solved, *_ = np.linalg.lstsq(plain * root, (self.watts - self.usual[side]) * root[:, 0], rcond=None)
        more: Floats = bent @ solved[2:]
        return more

    def _other(self, side: Side) -> Floats:
        return self.usual["cooling" if side == "heating" else "heating"]


def _enough(some: Bools) -> Bools:
    """Mark the stretches with enough days of the season inside and outside, shape (n, n + 1)."""
    count = np.concatenate([[0], np.cumsum(some)])
    inside = count[None, :] - count[:-1, None]
    before = count[:-1, None] >= SHORTEST_DAYS  # what was there from the first day on is the usual
    enough: Bools = before & (inside >= SHORTEST_DAYS) & (count[-1] - inside >= LEAST_SEASON_DAYS)
    return enough
