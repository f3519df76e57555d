"""The size of the largest short peaks in hourly power: appliances of kilowatts that run for an hour or two.

Who lives in a house, and what runs in it for long, changes how often an oven, a dryer or a kettle runs, and hardly how
much it takes. The peaks that come once in some days are therefore nearly as large whoever is at home; a meter's error
moves them with all else. That is what steps say too, where the readings are short enough to show any.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from zoneinfo import ZoneInfo

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from reconcile.clock import day_numbers
from reconcile.house import House
from reconcile.interval.base_load import BaseLoad
from reconcile.interval.hour_blocks import by_day
from reconcile.interval.windows import LEVEL_SD, drift, edges_of
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

STEPS_SECONDS = 900
"""Readings in which single steps are seen well enough [s] (our judgement)."""

SHORT_HOURS = 4
"""What stands for as many hours or more is no short peak [h] (our choice: a meal, a bath and a wash are shorter,
heating, cooling and a car are longer)."""

EVERY_DAYS = (4.0, 2.0, 1.0)
"""The peaks looked at are those that as large a one follows once in so many days on the mean [d]; of these the ones
whose size is the surest (our choice)."""

LEAST_WATTS = 700.0
"""Smaller peaks are no appliance's, but what many small ones scatter by [W] (our judgement)."""

WINDOW_DAYS, LEAST_DAYS, LEAST_WINDOWS = 28, 10, 5
"""Shortest windows, the fewest whole days in one of them next to a change [d], and the fewest that tell (our
judgement)."""

GONE = 0.2
"""Part of the second largest below which the peaks of a window are those of nobody at home, and say nothing (our
judgement: a house may be left for most of the time)."""

MORE_OFTEN = 1.5
"""How many times as often people may make such peaks at one time as at another, one standard deviation (our judgement:
one more, or one less, of two)."""

LEAST_OWN, LEAST_DRIFT, DRIFT_DAYS = 0.04, 0.08, 90.0
"""How far the size scatters from window to window, at the least, and how far it wanders with the seasons, over so many
days [d], both as a part of it (our judgement: by as much as sizes of steps wander in hourly data)."""

OTHER_APPLIANCE = 0.5
"""Part of its largest lasting change by which the size wanders as well: where another appliance made the largest peaks
once, or they go by the season, they may again (our judgement: so a change alone hardly counts for a meter, and peaks
that stay where they always were count against one by all they are worth)."""

NEAR_WINDOWS = 4
"""Windows on either side of a date by which a lasting change is told (our choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class ShortPeaks:
    """Size of the largest short peaks in successive windows, as a part of the usual size less 1."""

    begins: Ints
    ends: Ints
    """Both: days since 1970-01-01 [d], shape (m,)."""
    value: Floats
    """Shape (m,)."""
    covariance: Floats
    """Shape (m, m)."""


def short_peaks(house: House, zone: ZoneInfo, base: BaseLoad | None, dates: Sequence[int] = ()) -> ShortPeaks | None:
    """Follow the size of the largest short peaks through windows cut at the steps of the base load and at some dates.

    Parameters
    ----------
    house : House
        With interval data.
    dates : sequence of int
        Days since 1970-01-01 [d].

    Returns
    -------
    ShortPeaks or None
        None with too few windows in which anybody was at home, and in shorter readings, whose own steps say more.
    """
    if house.interval is None or house.interval.step_seconds <= STEPS_SECONDS:
        return None
    first, watts = by_day(house.interval, zone)
    if len(watts) < LEAST_WINDOWS * WINDOW_DAYS:
        return None
    above = above_long(watts.reshape(len(watts), 24, -1).mean(axis=2))
    steps = [] if base is None else [int(day_numbers([step.day])[0]) for step in base.steps]
    edges = edges_of(first, first + len(watts), sorted({*steps, *dates}), WINDOW_DAYS)
    windows = [day[np.isfinite(day).all(axis=1)] for day in np.split(above, edges[1:-1] - first)]
    held = np.array([len(window) >= LEAST_DAYS for window in windows])
    if held.sum() < LEAST_WINDOWS:
        return None
    begins, ends = edges[:-1][held], edges[1:][held]
    windows = [window for window, enough in zip(windows, held, strict=True) if enough]
    told = [found for days in EVERY_DAYS if (found := _followed(windows, days)) is not None]
    if not told:
        return None
    own, wander, there, size = min(told, key=lambda one: math.hypot(*one[:2]))
    begins, ends = begins[there], ends[there]
    value = size / np.median(size) - 1.0
    # a window unlike those on both sides says nothing by itself: somebody was away, or baked for a feast
    odd = value - np.median(sliding_window_view(np.pad(value, 1, mode="edge"), 3), axis=1)
    covariance = np.diag(own**2 * np.maximum(WINDOW_DAYS / (ends - begins), 1.0) + odd**2)
    wander = math.hypot(wander, OTHER_APPLIANCE * _largest_change(value))
    covariance += drift((begins + ends) / 2.0, wander, DRIFT_DAYS) + LEVEL_SD**2
    return ShortPeaks(begins, ends, value, covariance)


def above_long(watts: Floats) -> Floats:
    """What stands above all that lasts for :data:`SHORT_HOURS` and more, by day and hour, shape (n, 24) [W].

    The opening of mathematical morphology is taken off (a top-hat); an hour that is missing stays so.

    Examples
    --------
    >>> day = np.full((1, 24), 200.0)
    >>> day[0, 7], day[0, 12:18] = 2200.0, 1200.0
    >>> np.flatnonzero(above_long(day)[0]).tolist()
    [7]
    """
    hours = watts.ravel()
    known = np.where(np.isfinite(hours), hours, np.inf)
    padded = np.pad(known, SHORT_HOURS - 1, mode="edge")
    lowest = sliding_window_view(padded, SHORT_HOURS).min(axis=1)
    opened = sliding_window_view(lowest, SHORT_HOURS).max(axis=1)
    return np.asarray((hours - opened).reshape(watts.shape))


def _followed(windows: Sequence[Floats], days: float) -> tuple[float, float, Bools, Floats] | None:
    """Size that the peaks of a window reach once in so many days: how far it scatters and wanders, as a part of it, in
    which windows anybody was at home, and the size in these [W]; None in too few, or of nothing but small ones.
    """
    size, oftener = (
        np.array([np.sort(window, axis=None)[-1 - int(len(window) / each)] for window in windows])
        for each in (days, days / MORE_OFTEN)
    )
    usual = float(np.sort(size)[-2])
    there = size > GONE * usual
    if usual < LEAST_WATTS or there.sum() < LEAST_WINDOWS:
        return None
    size, oftener = size[there], np.maximum(oftener[there], 1.0)
    # a lasting step or two are no scatter
    moved = np.sort(np.diff(np.log(size)) ** 2)[: -1 - len(size) // 10]
    own = max(math.sqrt(0.5 * float(moved.mean())), LEAST_OWN)
    # as far as they would differ if so many more, or fewer, were made
    return own, math.hypot(LEAST_DRIFT, float(np.median(np.log(size / oftener)))), there, size


def _largest_change(value: Floats) -> float:
    """Return the one lasting change that fits best, by the windows near to it."""
    at = np.arange(1, len(value))
    before, after = np.cumsum(value)[:-1] / at, np.cumsum(value[::-1])[::-1][1:] / (len(value) - at)
    best = int(at[np.argmax(at * (len(value) - at) * (after - before) ** 2)])
    near = value[best : best + NEAR_WINDOWS], value[max(best - NEAR_WINDOWS, 0) : best]
    return float(np.median(near[0]) - np.median(near[1]))
