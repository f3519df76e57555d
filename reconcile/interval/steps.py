"""Nights of interval data: their low power, what the weather adds to it, and an exact search for levels."""

from __future__ import annotations

import math
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, local_seconds
from reconcile.distributions import MEDIAN_TO_SD
from reconcile.house import Interval

Lows = tuple[NDArray[np.int64], NDArray[np.float64]]
"""Days since 1970-01-01 [d], and their low power [W]."""

NIGHT_HOURS = (0, 6)
"""Local clock hours in which a house sleeps (common practice)."""

NIGHT_QUANTILE = 0.25
"""Of a night's hourly powers: passes over a cycle of a heater, stays above a single quiet hour (our
judgement)."""

DAY_RANK = 2
"""Of a day's hourly powers in order, the one that is its floor: one real home's steps of 200 W are dated within 3 days
in .95, by its nights in .7 to .9."""

WEATHER_DOUBT = 0.15
"""Doubt of what is taken out of a night for the weather, as a share of it (our own judgement): a night of
hard frost or heat says little of the base load."""

SLOT_SECONDS, MOST_SLOT_SECONDS = 300, 900
"""Shortest and longest time whose mean may stand for an hour [s]: a thermostat rests for so long, and a register that
counts watt-hours is read to some watts (our own judgement)."""

MOST_NIGHTS, STEADIER = 0.8, 3.0
"""Each hour's least speaks where by so many times most nights then lie nearer to the one before, this part of them: a
load that goes on and off all day is in the hours' means alone (our own judgement)."""

LOCAL_NIGHTS = 21
"""Nights around each one whose differences tell its noise."""

LEAST_NOISE_WATTS = 5.0
"""No floor is known better than this: rounding, voltage, a fridge's hour (our own judgement)."""

MOST_ALIKE = 0.8
"""Largest correlation of neighbouring nights that is allowed for."""

LEAST_STEP_WATTS = 25.0
"""Smaller rises are ordinary coming and going (our judgement)."""

ODD_NIGHTS, ODD_SDS = 15, 4.0
"""Nights about each one whose middle tells whether it is odd, and by how many robust standard deviations (our own
judgement)."""

ODD_DAY_SDS = 2.0
"""The same for the floors of days, which date a change (tried on one real home)."""

DATE_LIMIT = 3.84
"""Rise of the misfit at the 95 % limits of a change's date (chi-square, 1 degree of freedom)."""

DATED_FROM, DATED_WITHIN = 60, 21
"""Days on either side of a change that date it, and how far from the first guess [d]."""


def floors(interval: Interval, zone: ZoneInfo) -> tuple[Lows, Lows]:
    """Low power of each night, and of each day, whatever its hour: steadier, and so the better date of a step.

    Of hourly powers; where thermostats never leave a whole hour alone, but some minutes of it, of each hour's least.

    Parameters
    ----------
    interval : Interval
        Readings in steps of an hour or less.
    zone : ZoneInfo
        The house's zone.

    Returns
    -------
    nights, days : tuple of (ndarray of int64, ndarray)
        Days since 1970-01-01 with a full night of readings, or all full [d], and a low quantile of each one's hourly
        power [W].
    """
    night = NIGHT_HOURS, int(NIGHT_QUANTILE * (NIGHT_HOURS[1] - NIGHT_HOURS[0]))
    day = (0, 24), DAY_RANK
    local = local_seconds(interval.starts, zone)
    hourly = _floors(interval, local, *night)
    slot = max(SLOT_SECONDS, interval.step_seconds)
    if slot <= MOST_SLOT_SECONDS and slot % interval.step_seconds == 0 and len(hourly[0]) > 1:
        least = _floors(interval, local, *night, slot)
        if STEADIER * max(_unrest(least[1]), LEAST_NOISE_WATTS) <= _unrest(hourly[1]):
            return least, _floors(interval, local, *day, slot)
    return hourly, _floors(interval, local, *day)


def _unrest(watts: NDArray[np.float64]) -> float:
    """How far most nights lie from the one before [W]."""
    return float(np.quantile(np.abs(np.diff(watts)), MOST_NIGHTS)) if len(watts) > 1 else math.inf


def _floors(
    interval: Interval, local: NDArray[np.int64], between: tuple[int, int], rank: int, slot: int = HOUR_SECONDS
) -> Lows:
    """One of the lowest powers of the hours between two of each day, of each its mean or its least slot [W]."""
    nothing = np.empty(0, dtype=np.int64), np.empty(0)
    step = interval.step_seconds
    if step > HOUR_SECONDS or HOUR_SECONDS % step or len(interval.kwh) == 0:
        return nothing
    slot_of_day = local % DAY_SECONDS // slot
    an_hour = HOUR_SECONDS // slot
    at_night = (slot_of_day >= between[0] * an_hour) & (slot_of_day < between[1] * an_hour)
    day, place, kwh = local[at_night] // DAY_SECONDS, slot_of_day[at_night], interval.kwh[at_night]
    if len(day) == 0:
        return nothing
    hours = between[1] - between[0]
    cell = (day - day[0]) * hours * an_hour + place - between[0] * an_hour
    cells = int(day[-1] - day[0] + 1) * hours * an_hour
    full = np.bincount(cell, weights=interval.lengths[at_night], minlength=cells) == slot
    watts = np.bincount(cell, weights=kwh, minlength=cells) * 1000.0 * an_hour
    watts[~full] = np.nan
    nights = watts.reshape(-1, hours, an_hour).min(axis=2)
    known = np.isfinite(nights).sum(axis=1) >= hours - 1  # a clock change takes one hour of a night
    ordered = np.sort(nights[known], axis=1)  # NaN sorts last
    return np.flatnonzero(known) + day[0], ordered[:, rank]


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


def night_weights(level: NDArray[np.float64], weather: NDArray[np.float64]) -> NDArray[np.float64]:
    """One over the variance of each night, widened for the likeness of neighbouring nights.

    The noise is taken from night-to-night differences around each night: a summer's nights scatter far more
    than a winter's. A step enters one difference only.

    Parameters
    ----------
    level : ndarray, shape (n,)
        Base load of each night, weather taken out [W].
    weather : ndarray, shape (n,)
        What was taken out [W].

    Returns
    -------
    ndarray, shape (n,)
        [1/W^2]
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


def dated_changes(
    level: NDArray[np.float64], weight: NDArray[np.float64], changes: list[int]
) -> list[tuple[int, int, int]]:
    """Date changes of level, each near a first guess.

    Parameters
    ----------
    level, weight : ndarray, shape (n,)
        Of each day.
    changes : list of int
        First guess of the first day of each, in order.

    Returns
    -------
    list of (int, int, int)
        First day of each, with the first and last that fit nearly as well.
    """
    found = []
    edges = [0, *changes, len(level)]
    for k, change in enumerate(changes):
        begin, end = max(edges[k], change - DATED_FROM), min(edges[k + 2], change + DATED_FROM)
        count, total = np.cumsum(weight[begin:end]), np.cumsum((weight * level)[begin:end])
        gain = total[:-1] ** 2 / count[:-1] + (total[-1] - total[:-1]) ** 2 / (count[-1] - count[:-1])
        far = np.abs(np.arange(begin + 1, end) - change) > DATED_WITHIN
        gain = np.where(far, -np.inf, gain)
        near = np.flatnonzero(gain >= gain.max() - DATE_LIMIT) + begin + 1
        found.append((int(gain.argmax()) + begin + 1, int(near[0]), int(near[-1])))
    return found


def without_odd_nights(level: NDArray[np.float64], sds: float = ODD_SDS) -> NDArray[np.float64]:
    """Draw single nights far from those about them in: a night with the air conditioner on is no level."""
    half = min(ODD_NIGHTS // 2, (len(level) - 1) // 2)
    padded = np.pad(level, half, mode="reflect")
    middle = np.median(np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1), axis=1)
    room = sds * MEDIAN_TO_SD * float(np.median(np.abs(level - middle))) + LEAST_STEP_WATTS
    drawn: NDArray[np.float64] = np.clip(level, middle - room, middle + room)
    return drawn
