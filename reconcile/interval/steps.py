"""The base load in interval data: its floor, and the day on which it stepped up."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, as_day, local_seconds
from reconcile.house import House, Interval, Load
from reconcile.interval.found import Onset

NIGHT_HOURS = (0, 6)
"""Local clock hours in which a house sleeps (common practice)."""

NIGHT_QUANTILE = 0.25
"""Of a night's hourly powers: passes over a cycle of a heater, stays above a single quiet hour (our
judgement)."""

FLOOR_QUANTILE = 0.10
"""Of the nights' floors: what is left on when nobody is up (our own judgement)."""

LEAST_DAYS = 14
"""Shortest stretch of nights that counts as a level of the base load (our own judgement)."""

LEAST_STEP_WATTS = 25.0
LEAST_STEP_SHARE = 0.10
"""Smaller rises, in watts and as a share of the level before, are ordinary coming and going (our
judgement)."""

WEATHER_DOUBT = 0.15
"""Doubt of what is taken out of a night for the weather, as a share of it (our own judgement): a night of
hard frost or heat says little of the base load."""

PENALTY = 3.0
"""Cost of a change, times the log of the number of nights, after the nights' likeness to their neighbours is
allowed for. False steps on steady simulated houses are counted in the tests."""

DATE_LIMIT = 3.84
"""Rise of the misfit at the 95 % limits of a change's date (chi-square, 1 degree of freedom)."""

LOCAL_NIGHTS = 21
"""Nights around each one whose differences tell its noise."""

MEDIAN_TO_SD = 1.4826
"""Standard deviation of a normal quantity over the median of its absolute value."""

LEAST_NOISE_WATTS = 5.0
"""No floor is known better than this: rounding, voltage, a fridge's hour (our own judgement)."""

MOST_ALIKE = 0.8
"""Largest correlation of neighbouring nights that is allowed for."""

LISTED_DAYS = 10
"""A change this near to the coming or going of a listed load, and no larger than it, is that load's [d]."""

YEAR_AGO_NIGHTS = 14
"""Nights with a counterpart a year before that must bear a rise out, where there are as many."""


def night_floors(interval: Interval, zone: ZoneInfo) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Low power of each night.

    Parameters
    ----------
    interval : Interval
        Readings in steps of an hour or less.
    zone : ZoneInfo
        The house's zone.

    Returns
    -------
    days : ndarray of int64
        Days since 1970-01-01 with a full night of readings [d].
    watts : ndarray
        A low quantile of each night's hourly power [W].
    """
    nothing = np.empty(0, dtype=np.int64), np.empty(0)
    step = interval.step_seconds
    if step > HOUR_SECONDS or HOUR_SECONDS % step or len(interval.kwh) == 0:
        return nothing
    local = local_seconds(interval.starts, zone)
    hour_of_day = local % DAY_SECONDS // HOUR_SECONDS
    at_night = (hour_of_day >= NIGHT_HOURS[0]) & (hour_of_day < NIGHT_HOURS[1])
    day, hour, kwh = local[at_night] // DAY_SECONDS, hour_of_day[at_night], interval.kwh[at_night]
    if len(day) == 0:
        return nothing
    hours = NIGHT_HOURS[1] - NIGHT_HOURS[0]
    cell = (day - day[0]) * hours + hour - NIGHT_HOURS[0]
    cells = int(day[-1] - day[0] + 1) * hours
    full = np.bincount(cell, weights=interval.lengths[at_night], minlength=cells) == HOUR_SECONDS
    watts = np.bincount(cell, weights=kwh, minlength=cells) * 1000.0
    watts[~full] = np.nan
    nights = watts.reshape(-1, hours)
    known = np.isfinite(nights).sum(axis=1) >= hours - 1  # a clock change takes one hour of a night
    ordered = np.sort(nights[known], axis=1)  # NaN sorts last
    rank = int(NIGHT_QUANTILE * hours)
    return np.flatnonzero(known) + day[0], ordered[:, rank]


def weather_part(watts: NDArray[np.float64], mean_c: NDArray[np.float64]) -> NDArray[np.float64]:
    """Part of nightly floors that goes with the weather, found without being misled by their steps.

    Slopes on heating and cooling degrees about 16 and 20 degC are fitted to night-to-night differences, in
    which a step is a single odd value among many; odd values are then left out and the slopes fitted again.

    Parameters
    ----------
    watts : ndarray, shape (n,)
        Floors of successive nights [W].
    mean_c : ndarray, shape (n,)
        Mean outdoor temperature of the same days, NaN where unknown [degC].

    Returns
    -------
    ndarray, shape (n,)
        What the weather adds to each, never negative [W].
    """
    degrees = np.column_stack([np.maximum(16.0 - mean_c, 0.0), np.maximum(mean_c - 20.0, 0.0)])
    degrees = np.nan_to_num(degrees)
    change, by = np.diff(watts), np.diff(degrees, axis=0)
    keep = np.ones(len(change), dtype=bool)
    slopes = np.zeros(2)
    for _ in range(3):
        slopes = np.linalg.lstsq(by[keep], change[keep], rcond=None)[0]
        rest = np.abs(change - by @ slopes)
        keep = rest <= 4.0 * max(float(np.median(rest)), 1e-9)
    part: NDArray[np.float64] = degrees @ np.maximum(slopes, 0.0)
    return part


def partition(values: NDArray[np.float64], weights: NDArray[np.float64], penalty: float, least: int = 1) -> list[int]:
    """Split a series exactly into the levels that fit it best.

    Minimises the weighted sum of squares about the level of each stretch plus ``penalty`` for each change, by
    optimal partitioning [1]_.

    Parameters
    ----------
    values : ndarray, shape (n,)
        The series.
    weights : ndarray, shape (n,)
        Weight of each value, above 0.
    penalty : float
        Cost of a change, in the unit of weight times the square of the values' unit.
    least : int
        Shortest stretch.

    Returns
    -------
    list of int
        First index of each stretch after the first.

    References
    ----------
    .. [1] Jackson et al., An algorithm for optimal partitioning of data on an interval, IEEE Signal
    Processing
       Letters 12(2), 2005, doi:10.1109/LSP.2001.838216 (from memory).

    Examples
    --------
    >>> partition(np.array([1.0, 1.0, 1.0, 5.0, 5.0, 5.0]), np.ones(6), penalty=2.0)
    [3]
    """
    n = len(values)
    centred = values - np.average(values, weights=weights) if n else values
    weight = np.concatenate([[0.0], np.cumsum(weights)])
    total = np.concatenate([[0.0], np.cumsum(weights * centred)])
    # The sum of all squares is the same whatever the partition: only what each stretch gains, and the penalties, count.
    base = np.full(n + 1, np.inf)
    base[0] = -penalty
    came_from = np.zeros(n + 1, dtype=np.int64)
    for end in range(least, n + 1):
        begins = slice(0, end - least + 1)
        gain = total[end] - total[begins]
        gain *= gain
        gain /= weight[end] - weight[begins]
        cost = base[begins] - gain
        came_from[end] = cost.argmin()
        base[end] = cost[came_from[end]] + penalty
    changes = []
    end = n
    while end > 0 and came_from[end] > 0:
        end = int(came_from[end])
        changes.append(end)
    return changes[::-1]


def base_load(house: House) -> tuple[float | None, Onset | None]:
    """Floor of the house's power, and the day on which its base load rose, if it did.

    Parameters
    ----------
    house : House
        With interval data in steps of an hour or less.

    Returns
    -------
    floor_watts : float or None
        Low quantile of the nights' floors since the onset, or of all nights [W].
    onset : Onset or None
        The largest lasting rise, with 95 % limits of its date; falls are not told.
    """
    if house.interval is None:
        return None, None
    days, watts = night_floors(house.interval, ZoneInfo(house.timezone))
    if len(days) == 0:
        return None, None
    since, onset = 0, None
    if len(days) >= 2 * LEAST_DAYS:
        nights = _Nights.of(house, days, watts)
        since, onset = nights.largest_rise()
    return float(np.quantile(watts[since:], FLOOR_QUANTILE)), onset


@dataclass(frozen=True, slots=True)
class _Nights:
    """Nightly floors less what the weather and the list account for, with their weights."""

    days: NDArray[np.int64]
    level: NDArray[np.float64]
    weights: NDArray[np.float64]
    listed: list[tuple[int, float]]
    """Days on which listed loads come or go, and their watts."""

    @classmethod
    def of(cls, house: House, days: NDArray[np.int64], watts: NDArray[np.float64]) -> _Nights:
        calendar = [as_day(int(day)) for day in range(int(days[0]), int(days[-1]) + 1)]
        listed = _listed_watts(house.loads, calendar)
        weather = np.zeros(len(days))
        if house.weather is not None:
            mean_c = house.weather.between(calendar[0], as_day(int(days[-1]) + 1))
            weather = weather_part(watts, mean_c[days - days[0]])
        level = watts - weather - listed[days - days[0]]
        steps = np.diff(listed)
        moves = [(int(days[0]) + int(i) + 1, abs(float(steps[i]))) for i in np.flatnonzero(steps)]
        return cls(days, level, _weights(level, weather), moves)

    def largest_rise(self) -> tuple[int, Onset | None]:
        """Index of the night from which the base load stands higher for good, and the rise; 0 and None if
        none.
        """
        n = len(self.level)
        changes = partition(self.level, self.weights, PENALTY * math.log(n), LEAST_DAYS)
        edges = [0, *changes, n]
        means = [float(np.average(self.level[a:b], weights=self.weights[a:b])) for a, b in pairwise(edges)]
        rises = [
            (means[k + 1] - means[k], k)
            for k in range(len(changes))
            if self._stands(changes[k], means[k + 1] - means[k], means[k:])
        ]
        if not rises:
            return 0, None
        rise, k = max(rises)
        low, high = self._date_limits(edges[k], edges[k + 2])
        day, first, last = (as_day(int(self.days[i])) for i in (changes[k], low, high))
        return changes[k], Onset(day, first, last, "constant-load", rise)

    def _stands(self, change: int, rise: float, means: list[float]) -> bool:
        large = rise >= max(LEAST_STEP_WATTS, LEAST_STEP_SHARE * means[0])
        lasting = min(means[1:]) - means[0] >= 0.5 * rise
        day = self.days[change]
        of_the_list = any(abs(day - when) <= LISTED_DAYS and rise <= watts for when, watts in self.listed)
        return large and lasting and not of_the_list and self._above_a_year_ago(change, rise)

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

    def _date_limits(self, begin: int, end: int) -> tuple[int, int]:
        """First and last night at which two levels fit nearly as well as at the best."""
        value, weight = self.level[begin:end], self.weights[begin:end]
        count, total = np.cumsum(weight), np.cumsum(weight * value)
        gain = total[:-1] ** 2 / count[:-1] + (total[-1] - total[:-1]) ** 2 / (count[-1] - count[:-1])
        near = np.flatnonzero(gain >= gain.max() - DATE_LIMIT) + begin + 1
        return int(near[0]), int(near[-1])


def _weights(level: NDArray[np.float64], weather: NDArray[np.float64]) -> NDArray[np.float64]:
    """One over the variance of each night, widened for the likeness of neighbouring nights.

    The noise is taken from night-to-night differences around each night: a summer's nights scatter far more
    than a winter's. A step enters one difference only.
    """
    change = np.abs(np.diff(level))
    half = min(LOCAL_NIGHTS // 2, (len(change) - 1) // 2)
    padded = np.pad(change, (half, half + 1), mode="reflect")
    local = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), axis=1)
    noise = MEDIAN_TO_SD * local / math.sqrt(2.0)
    variance = noise**2 + (WEATHER_DOUBT * weather) ** 2 + LEAST_NOISE_WATTS**2
    scaled = level / np.sqrt(variance)
    a_week, a_night = (float(np.median(np.abs(scaled[lag:] - scaled[:-lag]))) for lag in (7, 1))
    alike = min(max(1.0 - (a_night / max(a_week, 1e-9)) ** 2, 0.0), MOST_ALIKE)
    weights: NDArray[np.float64] = (1.0 - alike) / (1.0 + alike) / variance
    return weights


def _listed_watts(loads: tuple[Load, ...], calendar: list[date]) -> NDArray[np.float64]:
    """Mean power of the listed clock and round-the-clock loads on each day [W]: what the list says comes
    and goes.
    """
    listed = np.zeros(len(calendar))
    months = np.array([day.month for day in calendar])
    for load in loads:
        if load.follows in ("heating", "cooling") or load.watts is None:
            continue
        hours = 24.0 if load.follows == "always" else (load.run_hours or 0.0)
        here = np.ones(len(calendar), dtype=bool)
        if load.months is not None:
            here &= np.isin(months, list(load.months))
        if load.arrives is not None:
            here &= np.array([day >= load.arrives for day in calendar])
        if load.leaves is not None:
            here &= np.array([day < load.leaves for day in calendar])
        listed += here * (load.count * load.watts * load.share_on * hours / 24.0)
    return listed
