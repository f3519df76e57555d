"""The base load in interval data: its floor by night, and the days on which it stepped up or down."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from datetime import date
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import as_day, day_numbers
from reconcile.house import House, Load
from reconcile.interval.by_degree import WANDER_SD, Spell
from reconcile.interval.listed_hours import LISTED_DAYS, by_months, fits, listed_watts, shown_by_night
from reconcile.interval.night_weather import LEARNT_SHARE, of_nights
from reconcile.interval.steps import (
    LEAST_STEP_WATTS,
    ODD_DAY_SDS,
    Lows,
    dated_changes,
    floors,
    night_weights,
    partition,
    without_odd_nights,
)
from reconcile.interval.weather_hours import HELD_SHARE, days_of
from reconcile.interval.windows import (
    LEVEL_SD,
    drift,
    edges_of,
    one_time,
    passing,
    reaching,
    scatter,
    slow,
    swing,
    uneven,
    wandering,
)
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Spans = Sequence[tuple[date, date]]

FLOOR_QUANTILE = 0.10
"""Of the nights' floors: what is left on when nobody is up (our own judgement)."""

LEAST_DAYS = 14
"""Shortest stretch of nights that counts as a level of the base load (our own judgement)."""

PENALTY = 3.0
"""Cost of a change, times the log of the number of nights, after the nights' likeness to their neighbours is
allowed for. False steps on steady simulated houses are counted in the tests."""

YEAR_AGO_NIGHTS = 14
"""Nights with a counterpart a year before that must bear a rise out, where there are as many."""

RETURN_DAYS = 60
"""A rise to a level that stood within so many days before is a return, as from an absence [d] (our own judgement)."""

SEASON_DAYS, SEASON_KELVIN = 270, 2.0
"""What came and went within so many days [d] may be a season's heating or cooling where the nights inside were so much
warmer, or colder, than those before and those after [K], or where nobody knows the weather (our own judgement)."""

BY_WEATHER = ("heating", "cooling")

BESIDE_DAYS = 30
"""Nights before and after such a time that are compared with it [d]."""

SHARP_SHARE = 0.7
"""Part of a rise that stands within two weeks of its date: what comes slowly is a season's (our own judgement)."""

LEAST_STEP_SDS = 2.5
"""Smaller rises, in standard deviations of what a base load wanders by itself, are ordinary coming and going (our
judgement)."""

WANDER_WATTS, WANDER_SHARE, WANDER_DAYS = 10.0, 0.08, 60.0
"""Slow wandering of a base load: its standard deviation [W] and as a part of the level, over so many days [d]. Medians
of 15 to 30 days of one real home differ by 40 W, a seventh of its base load."""

MOSTLY_WEATHER = 0.5
"""Part of the nights' power that the weather adds, from which the days' lows, of whatever hour, stand for the nights
(our own judgement)."""

LEAST_NIGHTS = 4
"""Nights below which a window says nothing."""

WINDOW_DAYS, WEEK = 28, 7
"""Shortest windows of the evidence, and of those next to a change [d] (our own judgement)."""


@dataclass(frozen=True, slots=True)
class Onset:
    """Where the base load stepped, with the limits of the date."""

    day: date
    low: date
    high: date
    cause: str
    watts: float


@dataclass(frozen=True, slots=True)
class BaseStep:
    """A change of the base load: its day with 95 % limits, its watts (a fall is below zero), and the listed loads of
    about that size.
    """

    day: date
    low: date
    high: date
    watts: float
    fits: tuple[str, ...] = ()
    passed: bool = False
    """Whether what it began came to an end, as an absence, guests or a season does."""
    ended: float = 0.0
    """What of it is the end of something that had come so [W]."""


@dataclass(frozen=True, slots=True, eq=False)
class BaseLoad:
    """Base load by night, its steps, and what windows of it say of a constant load."""

    days: Ints
    """Days since 1970-01-01 with a full night [d], shape (n,)."""
    watts: Floats
    """Low power of each night [W], shape (n,)."""
    level: Floats
    """The same without what the weather and the list account for [W], shape (n,)."""
    floor_watts: float
    """Low quantile of the nights' floors since the last rise, or of all [W]."""
    onset: Onset | None
    """The largest lasting rise."""
    steps: tuple[BaseStep, ...]
    """All changes, in order."""
    begins: Ints
    ends: Ints
    """Both: windows, days since 1970-01-01 [d], shape (m,)."""
    value: Floats
    """Mean level of each, above that of all [W], shape (m,)."""
    covariance: Floats
    """[W^2], shape (m, m)"""
    usual_watts: float = 0.0
    """Level of all windows, each as well as it is known: nights of hard frost say little of it [W]."""
    listed_watts: float = 0.0
    """What the list holds round the clock on every day, which the level lacks [W]."""
    weather: Floats = field(default_factory=lambda: np.zeros((0, 2)))
    """Heating and cooling that were taken out of each window [W], shape (m, 2)."""
    step_hours: float = 1.0
    """Length of the readings, up to an hour [h]."""


def base_load(
    house: House, dates: Sequence[int] = (), spells: Sequence[Spell] = (), empty: Spans = ()
) -> BaseLoad | None:
    """Look at the house's low power by night.

    Parameters
    ----------
    house : House
        With interval data in steps of an hour or less.
    dates : sequence of int
        Dates at which windows are cut too, days since 1970-01-01 [d].
    spells : sequence of Spell
        Times in which heating or cooling took more for the same weather, by night as well.
    empty : sequence of (date, date)
        First and last day of times with nobody at home: what stood before them and stands again did not pass.

    Returns
    -------
    BaseLoad or None
        None without a full night.
    """
    if house.interval is None:
        return None
    by_night, by_day = floors(house.interval, ZoneInfo(house.timezone))
    days, watts = by_night
    if len(days) == 0:
        return None
    if len(days) < 2 * LEAST_DAYS:
        nothing = np.empty(0, dtype=np.int64)
        floor = float(np.quantile(watts, FLOOR_QUANTILE))
        return BaseLoad(days, watts, watts, floor, None, (), nothing, nothing, np.empty(0), np.empty((0, 0)))
    if len(by_day[0]) < 2 * LEAST_DAYS:  # hardly a day is whole: the nights stand for the days
        by_day = by_night
    return levels(house, by_night, by_day, dates, spells, empty)


def levels(
    house: House, by_night: Lows, by_day: Lows, dates: Sequence[int], spells: Sequence[Spell], empty: Spans
) -> BaseLoad:
    """Look at some power of every night, with that of the days, which dates its steps, as :func:`base_load` does."""
    days, watts = by_night
    nights = _Nights.of(house, by_night, by_day, spells, empty)
    since, onset = nights.largest_rise()
    steps = nights.steps(house.loads)
    begins, ends, value, covariance, weather = nights.windows(dates, steps)
    floor = float(np.quantile(watts[since:], FLOOR_QUANTILE))
    always = float(listed_watts(house.loads, [as_day(int(day)) for day in days])[0].min())
    usual = float(np.average(value, weights=np.diag(np.linalg.inv(covariance)))) if len(value) else 0.0
    return BaseLoad(
        days, watts, nights.level, floor, onset, steps, begins, ends, value - usual, covariance, usual, always, weather
    )


@dataclass(frozen=True, slots=True)
class _Nights:
    """Nightly floors less what the weather and the list account for, with their weights."""

    days: Ints
    level: Floats
    weights: Floats
    listed: list[tuple[int, float]]
    """Days on which listed loads come or go, and their watts."""
    changes: list[int]
    """First night of each level after the first."""
    doubt: Floats
    """What the weather that nobody knows may have moved each night by, one standard deviation [W]."""
    seasonal: Floats
    """What listed loads that come and go may draw by night, shape (n, k) [W]."""
    dates: list[tuple[int, int, int]]
    """Day of each change, with its 95 % limits, since 1970-01-01 [d]."""
    heated: Floats
    """What each spell of more heating or cooling may have added to each night, shape (n, s) [W]."""
    outside_c: Floats | None
    """Outdoor temperature of each night's day [degC]; None where nobody knows it."""
    may_swing: float
    """What the list holds for heating and cooling [W]."""
    away: NDArray[np.bool_]
    """Nights with nobody at home."""
    weather: Floats
    """Heating and cooling that were taken out of each night [W], shape (n, 2); none beside a spell."""
    spells: list[tuple[float, float]]
    """Days from and to which heating or cooling took more, and ended, since 1970-01-01 [d]."""

    @classmethod
    def of(cls, house: House, nights: Lows, by_day: Lows, spells: Sequence[Spell], empty: Spans) -> _Nights:
        days, watts = nights
        calendar = [as_day(int(day)) for day in range(int(days[0]), int(days[-1]) + 1)]
        lows = np.interp(days, *by_day)
        both = watts[:, None] if by_day is nights else np.column_stack([watts, lows])
        weather_days = days_of(house, int(days[0]), int(days[-1]))
        outside = None if weather_days is None else weather_days.at(days - days[0])
        parts, doubt, heated, sides = of_nights(outside, days, both, spells)
        if by_day is not nights and parts[:, 0].sum() > MOSTLY_WEATHER * watts.sum():
            # thermostats fill the nights: some hour of a mild day is left alone
            watts = lows
            parts, doubt, heated, sides = of_nights(outside, days, lows[:, None], spells)
        weather = parts[:, 0]
        listed, seasonal = listed_watts(shown_by_night(house.loads, days, watts - weather), calendar)
        level = watts - weather - listed[days - days[0]]
        steps = np.abs(np.diff(listed)) + np.abs(np.diff(seasonal))
        moves = [(int(days[0]) + int(i) + 1, float(steps[i])) for i in np.flatnonzero(steps)]
        level = without_odd_nights(level)
        weights = night_weights(level, weather)
        changes = partition(level, weights, PENALTY * math.log(len(level)), LEAST_DAYS)
        changes = _beyond_weather(changes, level, weights, weather)
        dating = without_odd_nights(lows - parts[:, -1], ODD_DAY_SDS)
        limits = dated_changes(dating, night_weights(dating, parts[:, -1]), changes)
        dates = [(int(days[best]), int(days[low]), int(days[high])) for best, low, high in limits]
        mean_c = None if outside is None else outside.mean_c
        edges = [0, *changes, len(level)]
        means = [np.average(level[a:b], weights=weights[a:b]) for a, b in pairwise(edges)]
        months = by_months(house.loads, days, [(day, m) for (day, _, _), m in zip(dates, np.diff(means), strict=True)])
        listed_swing = sum(load.count * (load.watts or 0.0) for load in house.loads if load.follows in BY_WEATHER)
        spans = [day_numbers(span) for span in empty if (span[1] - span[0]).days <= RETURN_DAYS]
        away = np.zeros(len(days), dtype=bool)
        for first, last in spans:
            away |= (first <= days) & (days <= last)
        over = [(float(spell.begin), float(spell.end)) for spell in spells if spell.end is not None]
        return cls(
            days, level, weights, moves, changes, doubt, months, dates, heated, mean_c, listed_swing, away, sides, over
        )

    def means(self) -> list[float]:
        edges = [0, *self.changes, len(self.level)]
        return [float(np.average(self.level[a:b], weights=self.weights[a:b])) for a, b in pairwise(edges)]

    def lived_in(self) -> list[float]:
        """The same, with a level of nights that were mostly those of an empty house as the lower one beside it is."""
        edges, means = [0, *self.changes, len(self.level)], self.means()
        for k, (a, b) in enumerate(pairwise(edges)):
            if 0 < k < len(means) - 1 and self.away[a:b].mean() >= 0.5:
                means[k] = max(means[k], min(means[k - 1], means[k + 1]))
        return means

    def largest_rise(self) -> tuple[int, Onset | None]:
        """Index of the night from which the base load stands higher for good, and the rise; 0 and None if
        none.
        """
        changes, means = self.changes, self.lived_in()
        edges = [0, *changes, len(self.level)]
        above = self.passing()[:, 0]
        # what came with a season goes with it: the rest of such a rise
        lasts = [means[k + 1] - means[k] - max(above[k + 1] - above[k], 0.0) for k in range(len(changes))]
        rises = [
            (lasts[k], k)
            for k in range(len(changes))
            if self._stands(changes[k], lasts[k], means[k:], means[k + 1] - means[k])
            and self._is_no_return(changes[k], edges[: k + 1], means[: k + 2])
        ]
        if not rises:
            return 0, None
        taken = [float(part.mean()) for part in np.split(self.weather.sum(axis=1), changes)]
        usual = math.hypot(WANDER_WATTS, WANDER_SHARE * max(means[0], 0.0))
        # of a rise as the heat came on much may be the weather's
        rise, k = max(
            rises, key=lambda one: one[0] / math.hypot(usual, LEARNT_SHARE * (taken[one[1] + 1] - taken[one[1]]))
        )
        day, first, last = (as_day(each) for each in self.dates[k])
        return changes[k], Onset(day, first, last, "constant-load", rise)

    def steps(self, loads: tuple[Load, ...]) -> tuple[BaseStep, ...]:
        """All changes of level with their dates, and the listed loads of about their size."""
        means, heights = self.means(), self.passing()
        found = []
        for k, limits in enumerate(self.dates):
            day, first, last = (as_day(each) for each in limits)
            watts = means[k + 1] - means[k]
            names = tuple(load.name for load in loads if fits(load, abs(watts)))
            passed = bool((heights[k + 1] * watts > 0.5 * watts**2).any())
            ended = float(np.clip(-heights[k] * np.sign(watts), 0.0, abs(watts)).max())
            found.append(BaseStep(day, first, last, watts, names, passed, ended))
        return tuple(found)

    def windows(self, dates: Sequence[int], steps: tuple[BaseStep, ...]) -> tuple[Ints, Ints, Floats, Floats, Floats]:
        """Mean level of windows cut at some dates and at the steps, their covariance, and the weather of each."""
        first, last = int(self.days[0]), int(self.days[-1]) + 1
        changed = sorted(day for day, _, _ in self.dates)
        cuts = {*changed, *dates}
        # short windows next to a change: an onset a week from it is told from one on its day
        beside = {day + week for day in changed for week in (-WEEK, WEEK)}
        edges = np.union1d(edges_of(first, last, sorted(cuts), WINDOW_DAYS), [d for d in beside if first < d < last])
        place = np.searchsorted(edges, self.days, side="right") - 1
        count = len(edges) - 1
        held = np.bincount(place, minlength=count) >= LEAST_NIGHTS
        weight = np.bincount(place, weights=self.weights, minlength=count)
        begins, ends = edges[:-1][held], edges[1:][held]
        # a night counts for what moves a window as it does in its level
        mean = (place == np.flatnonzero(held)[:, None]) * self.weights / weight[held, None]
        value, variance = mean @ self.level, 1.0 / weight[held]
        middle = (begins + ends) / 2.0
        part = np.searchsorted(changed, middle)
        usual = max(float(np.median(self.level)), 0.0)
        # the windows next to a change may hold some nights of the other level; farther ones say that they do not
        near = [(max(low, day - WEEK), min(high, day + WEEK)) for day, low, high in self.dates]
        passed = reaching(self.passing(), near, begins, ends)
        own = np.diag(variance * scatter(value, variance, part) + (passed**2).sum(axis=1))
        # what passes is no level, each time by itself and as a whole
        for heights in passed.T:
            own += np.outer(heights, heights) * one_time(heights)
        doubt, seasonal, heated, weather = (
            mean @ each for each in (self.doubt, self.seasonal, self.heated, self.weather)
        )
        own += np.outer(doubt, doubt) * (slow(middle, WANDER_DAYS) + swing(middle))
        own += seasonal @ seasonal.T + heated @ heated.T
        # how much the weather adds at all is learnt from the same nights: it is its changes that tell
        own += (weather @ weather.T) * (LEARNT_SHARE**2 + drift(middle, WANDER_SD, WANDER_DAYS))
        usually = math.hypot(WANDER_WATTS, WANDER_SHARE * usual)
        own += drift(middle, wandering(value, middle, usually, WANDER_DAYS, own), WANDER_DAYS)
        # what came is not known to keep still as what was there: a leak of hot water follows the mains
        means = np.array(self.means())
        risen = (means - np.minimum.accumulate(means))[part]
        own += np.outer(risen, risen) * drift(middle, WANDER_SHARE, WANDER_DAYS)
        level = (LEVEL_SD * max(usual, 100.0)) ** 2
        return begins, ends, value, own + level, weather

    def passing(self) -> Floats:
        """How far each level came and went, see :func:`reconcile.interval.windows.passing`."""
        edges = [int(self.days[0]), *(day for day, _, _ in self.dates), int(self.days[-1]) + 1]
        swing = self._may_swing if self.outside_c is None else None
        heights = passing(np.array(self.lived_in()), edges, self._is_a_season, swing, self.spells)
        if self.away.any():
            heights[:, 1] = passing(np.array(self.means()), edges, self._is_a_season, swing)[:, 1]
        return heights

    def _may_swing(self, begin: int, end: int, height: float) -> float:
        """What heating or cooling may have moved from one day to another, by the list or by how the nights scatter."""
        return height if uneven(self.level, (self.days >= begin) & (self.days < end)) else self.may_swing

    def _is_a_season(self, begin: int, end: int) -> bool:
        """Whether what came and went from one day to another may be an absence, guests, or heating or cooling."""
        if end - begin <= RETURN_DAYS or end - begin > SEASON_DAYS or self.outside_c is None:
            return end - begin <= SEASON_DAYS
        inside = float(self.outside_c[(self.days >= begin) & (self.days < end)].mean())
        before = self.outside_c[(self.days >= begin - BESIDE_DAYS) & (self.days < begin)]
        after = self.outside_c[(self.days >= end) & (self.days < end + BESIDE_DAYS)]
        if not (len(before) and len(after)):  # data are missing there: nobody knows
            return True
        apart = inside - float(before.mean()), inside - float(after.mean())
        return min(apart) >= SEASON_KELVIN or max(apart) <= -SEASON_KELVIN

    def _stands(self, change: int, rise: float, means: list[float], whole: float) -> bool:
        wander = math.sqrt(2.0) * math.hypot(WANDER_WATTS, WANDER_SHARE * max(means[0], 0.0))
        large = rise >= max(LEAST_STEP_WATTS, LEAST_STEP_SDS * wander)
        lasting = min(means[1:]) - means[0] >= 0.5 * rise
        day = self.days[change]
        of_the_list = any(abs(day - when) <= LISTED_DAYS and whole <= watts for when, watts in self.listed)
        sharp = self._step_at(change) >= SHARP_SHARE * max(rise, LEAST_STEP_SDS * wander)
        return large and sharp and lasting and not of_the_list and self._above_a_year_ago(change, rise)

    def _is_no_return(self, change: int, begins: list[int], means: list[float]) -> bool:
        """Whether the new level stands above those of the weeks before, too: after an absence the old level returns."""
        rise = means[-1] - means[-2]
        since = self.days[change] - RETURN_DAYS
        ends = [*begins[1:], change]
        recent = [mean for mean, end in zip(means[:-1], ends, strict=True) if self.days[end - 1] >= since]
        return means[-1] - max(recent, default=means[-2]) >= 0.5 * rise

    def _step_at(self, change: int) -> float:
        """Middle of the nights just after a change less the middle of those just before it [W]."""
        before, after = self.level[max(change - LEAST_DAYS, 0) : change], self.level[change : change + LEAST_DAYS]
        return float(np.median(after) - np.median(before))

    def _above_a_year_ago(self, change: int, rise: float) -> bool:
        """Whether the nights since stand above the same nights a year before, where those came before the
        change.
        """
        after = self.days[change:]
        at = np.searchsorted(self.days, after - 365)
        paired = (self.days[np.minimum(at, len(self.days) - 1)] == after - 365) & (at < change)
        if paired.sum() < YEAR_AGO_NIGHTS:
            return True
        return float(np.median(self.level[change:][paired] - self.level[at[paired]])) >= 0.5 * rise


def _beyond_weather(changes: list[int], level: Floats, weights: Floats, weather: Floats) -> list[int]:
    """Changes that are more than what is not known of the weather's part could make, the least of the others gone
    first.
    """
    changes = list(changes)
    while changes:
        stretches = [slice(a, b) for a, b in pairwise([0, *changes, len(level)])]
        means = [float(np.average(level[part], weights=weights[part])) for part in stretches]
        taken = [float(np.average(weather[part], weights=weights[part])) for part in stretches]
        beyond = np.abs(np.diff(means)) / (LEAST_STEP_SDS * HELD_SHARE * np.abs(np.diff(taken)) + 1e-9)
        least = int(np.argmin(beyond))
        if beyond[least] >= 1.0:
            break
        del changes[least]
    return changes
