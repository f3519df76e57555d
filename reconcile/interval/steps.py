"""The base load in interval data: its floor, and the day on which it stepped up."""

from __future__ import annotations

import math
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.house import House, Interval
from reconcile.interval.clock import DAY_SECONDS, HOUR_SECONDS, as_day, local_seconds
from reconcile.interval.result import Onset

NIGHT_HOURS = (0, 6)
"""Local clock hours in which a house sleeps (common practice)."""

NIGHT_QUANTILE = 0.25
"""Of a night's hourly powers: passes over a cycle of a heater, stays above a single quiet hour (our
judgement)."""

FLOOR_QUANTILE = 0.10
"""Of the nights' floors: what is left on when nobody is up (our own judgement)."""

LEAST_DAYS = 14
"""Shortest stretch of days that counts as a level of the base load (our own judgement)."""

LEAST_STEP_WATTS = 25.0
LEAST_STEP_SHARE = 0.10
"""Smaller rises, in watts and as a share of the level before, are ordinary coming and going (our
judgement)."""

PENALTY = 8.0
"""Cost of a change in units of noise variance x log(days): 2 for the two new numbers, 4 times that since
the nights of one week resemble each other. False steps on steady simulated houses are counted in the
tests."""

DATE_LIMIT = 3.84
"""Rise of the misfit, in noise variances, at the 95 % limits of a change's date (chi-square, 1 degree)."""


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
    local = local_seconds(interval.starts.astype("datetime64[s]").astype(np.int64), zone)
    hour_of_day = local % DAY_SECONDS // HOUR_SECONDS
    at_night = (hour_of_day >= NIGHT_HOURS[0]) & (hour_of_day < NIGHT_HOURS[1])
    day, hour, kwh = local[at_night] // DAY_SECONDS, hour_of_day[at_night], interval.kwh[at_night]
    if len(day) == 0:
        return nothing
    hours = NIGHT_HOURS[1] - NIGHT_HOURS[0]
    cell = (day - day[0]) * hours + hour - NIGHT_HOURS[0]
    cells = int(day[-1] - day[0] + 1) * hours
    full = np.bincount(cell, minlength=cells) == HOUR_SECONDS // step
    watts = np.bincount(cell, weights=kwh, minlength=cells) * 1000.0
    watts[~full] = np.nan
    nights = watts.reshape(-1, hours)
    known = np.isfinite(nights).sum(axis=1) >= hours - 1  # a clock change takes one hour of a night
    ordered = np.sort(nights[known], axis=1)  # NaN sorts last
    rank = int(NIGHT_QUANTILE * hours)
    return np.flatnonzero(known) + day[0], ordered[:, rank]


def weather_free(values: NDArray[np.float64], mean_c: NDArray[np.float64]) -> NDArray[np.float64]:
    """Take out of daily values what goes with the weather, without touching their steps.

    The slopes on heating and cooling degrees about 16 and 20 degC are fitted to day-to-day differences, in
    which a step is a single odd value among many; odd values are then left out and the slopes fitted again.

    Parameters
    ----------
    values : ndarray, shape (n,)
        Daily values.
    mean_c : ndarray, shape (n,)
        Mean outdoor temperature of the same days, NaN where unknown [degC].

    Returns
    -------
    ndarray, shape (n,)
        Values as they would be in mild weather.
    """
    degrees = np.column_stack([np.maximum(16.0 - mean_c, 0.0), np.maximum(mean_c - 20.0, 0.0)])
    degrees = np.nan_to_num(degrees)
    change, by = np.diff(values), np.diff(degrees, axis=0)
    keep = np.ones(len(change), dtype=bool)
    slopes = np.zeros(2)
    for _ in range(3):
        slopes = np.linalg.lstsq(by[keep], change[keep], rcond=None)[0]
        rest = np.abs(change - by @ slopes)
        keep = rest <= 4.0 * max(float(np.median(rest)), 1e-9)
    free: NDArray[np.float64] = values - degrees @ np.maximum(slopes, 0.0)
    return free


def partition(values: NDArray[np.float64], penalty: float, least: int = 1) -> list[int]:
    """Split a series exactly into the levels that fit it best.

    Minimises the sum of squares about the level of each stretch plus ``penalty`` for each change, by optimal
    partitioning [1]_.

    Parameters
    ----------
    values : ndarray, shape (n,)
        The series.
    penalty : float
        Cost of a change, in the square of the values' unit.
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
    >>> partition(np.array([1.0, 1.0, 1.0, 5.0, 5.0, 5.0]), penalty=2.0)
    [3]
    """
    n = len(values)
    centred = values - values.mean() if n else values
    total = np.concatenate([[0.0], np.cumsum(centred)])
    square = np.concatenate([[0.0], np.cumsum(centred**2)])
    best = np.full(n + 1, np.inf)
    best[0] = -penalty
    came_from = np.zeros(n + 1, dtype=np.int64)
    index = np.arange(n + 1)
    for end in range(least, n + 1):
        begin = index[: end - least + 1]
        misfit = square[end] - square[begin] - (total[end] - total[begin]) ** 2 / (end - begin)
        cost = best[begin] + misfit + penalty
        came_from[end] = int(np.argmin(cost))
        best[end] = cost[came_from[end]]
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
        level = watts
        if house.weather is not None:
            level = weather_free(
                watts, house.weather.between(as_day(int(days[0])), as_day(int(days[-1]) + 1))[days - days[0]]
            )
        found = _largest_rise(level)
        if found is not None:
            since, low, high, rise = found
            onset = Onset(
                as_day(int(days[since])),
                as_day(int(days[low])),
                as_day(int(days[high])),
                "constant-load",
                rise,
            )
    return float(np.quantile(watts[since:], FLOOR_QUANTILE)), onset


def _largest_rise(level: NDArray[np.float64]) -> tuple[int, int, int, float] | None:
    """Index, its 95 % limits, and size of the largest rise that lasts."""
    noise = _noise_variance(level)
    changes = partition(level, PENALTY * noise * math.log(len(level)), LEAST_DAYS)
    edges = [0, *changes, len(level)]
    means = [float(level[a:b].mean()) for a, b in pairwise(edges)]
    rises = []
    for k, change in enumerate(changes):
        rise = means[k + 1] - means[k]
        lasting = min(means[k + 1 :]) - means[k] >= 0.5 * rise
        if lasting and rise >= max(LEAST_STEP_WATTS, LEAST_STEP_SHARE * means[k]):
            rises.append((rise, k, change))
    if not rises:
        return None
    rise, k, change = max(rises)
    low, high = _date_limits(level[edges[k] : edges[k + 2]], noise)
    return change, edges[k] + low, min(edges[k] + high, len(level) - 1), rise


def _date_limits(level: NDArray[np.float64], noise: float) -> tuple[int, int]:
    """First and last index at which two levels fit nearly as well as at the best."""
    n = len(level)
    split = np.arange(1, n)
    total = np.cumsum(level)
    gain = total[:-1] ** 2 / split + (total[-1] - total[:-1]) ** 2 / (n - split)
    near = split[gain >= gain.max() - DATE_LIMIT * noise]
    return int(near[0]), int(near[-1])


def _noise_variance(level: NDArray[np.float64]) -> float:
    """Variance of the noise from differences a week apart, which a step enters only seven times."""
    spread = float(np.median(np.abs(level[7:] - level[:-7])))
    return max((1.4826 * spread) ** 2 / 2.0, 1.0)
