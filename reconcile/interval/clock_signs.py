"""Signs by which a load on a timer is told from a habit, from a thermostat, and from what a season brings back."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, time
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import as_day
from reconcile.house import House
from reconcile.interval.hour_blocks import LEAST_DAYS, SPANS_DAYS
from reconcile.interval.weather_hours import days_of
from reconcile.interval.windows import added_scatter

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NO_HABIT_DAYS, NO_HABIT_SHARE, NO_HABIT_MONTH = 0.95, 0.85, 0.5
"""Where what it takes differs from day to day: quantile of the days before, above which such a part of the days since
stands, and of those of any month, in which nobody may be at home for a while (our own judgement: a habit has days off,
and people did some of it before)."""

SHARP_LOW, SHARP_HIGH = 0.3, 0.7
"""And such a load begins or ends at a moment: the slot outside and the one inside rose by less and by more than these
parts of its step, with one slot between them that may hold a part of the run (our own judgement)."""

NO_SEASON_DAYS, ADDED_SCATTER = 183, 0.25
"""Where nobody knows the weather a run is no season's that lasts half a year [d], or begins and ends at a moment by
quarters of an hour, or one of them and adds no more scatter to its days than this part of its step (our judgement)."""

MOVED_SHARE, MOVED_DAYS, EDGED_SCATTER = 0.5, 0.8, 0.5
"""Where heating or cooling takes this part of the step in the same hours, by this quantile of the days of the run, it
is a thermostat's unless its days add no more scatter of their own than :data:`ADDED_SCATTER`, or, where it begins and
ends at a moment, than this part of its step, and those of the most weather are not as much above those of the least: a
timer takes the same every day, a thermostat what the day asks for (our judgement: of some sixty runs in simulated homes
timers added up to 0.29, thermostats 0.28 to 0.92).
"""

MILD_C, MILD_DAYS = (15.0, 20.0), 10
"""Mean temperatures at which little is heated or cooled [degC], and the days of these in which what takes more on some
days than on others must have run, if heating and cooling are not to be taken for it (our own judgement: of 11 such runs
in simulated homes whose heat pump had failed none had one, of timers' all that ran for months)."""

BOTH = 2
"""Ends of a run."""

RETURN_DAYS, MONTH_DAYS = 60, 28
"""A level that stood in some two weeks of so many days before is a return, as from an absence, and so is one that stood
for so long at any time before [d] (our own judgement)."""


MOST_DOUBTED = 4
"""Days within which a beginning must be dated for it to be the day of a clock change (our own judgement)."""


def at_a_clock_change(low: int, high: int, cuts: Sequence[int], zone: ZoneInfo) -> bool:
    """Whether what began between two days did so as the clock changed, or came and went with it each time: habits that
    go by the sun, and people who keep winter time, then stand at another hour.

    Parameters
    ----------
    cuts : sequence of int
        Days on which it came and went.
    """

    def changes(first: int, last: int) -> bool:
        before, after = (datetime.combine(as_day(day), time(12), zone).utcoffset() for day in (first, last))
        return before != after

    # one of three or four may have been dated late
    with_it = sum(changes(day - MOST_DOUBTED, day + MOST_DOUBTED) for day in cuts)
    return with_it >= max(2, min(len(cuts), 3)) or (high - low < MOST_DOUBTED and changes(low - 1, high))


def unsteady(series: Floats) -> float:
    """How much a series of days moves from one day to the next [W]."""
    return float(np.nanmedian(np.abs(np.diff(series))))


def stretches(here: Floats, change: int) -> tuple[tuple[int, int], ...]:
    """Places from and to which a step stands, in order: from ``change`` to its end, with rests between.

    Of all ways to go on and off, the one whose days best lie on their side of half the step, where each going counts as
    so many days on the wrong side as tell a level: shorter rests are none. Empty where it does not stand at first.
    """
    level = float(np.nanmedian(here[:change]))
    half = level + (float(np.nanmedian(here[change : change + SPANS_DAYS[0]])) - level) / 2.0
    wrong = np.stack([here[change:] > half, here[change:] <= half], axis=1).astype(float)  # off, on
    total, came = np.array([np.inf, 0.0]), []
    for day in wrong:
        turns = total[::-1] + LEAST_DAYS < total
        came.append(turns)
        total = np.where(turns, total[::-1] + LEAST_DAYS, total) + day
    on, state = np.zeros(len(wrong), dtype=bool), int(np.argmin(total))
    for place in range(len(wrong) - 1, -1, -1):
        on[place] = bool(state)
        state = 1 - state if came[place][state] else state
    turned = change + np.flatnonzero(np.diff(on, prepend=False, append=False))
    return tuple((int(begin), int(end)) for begin, end in turned.reshape(-1, 2)) if on[0] else ()


def stands_daily(before: Floats, since: Floats) -> bool:
    """Whether nearly every day since stands above nearly all days of those before, and no month of them stays below."""
    above = since > float(np.quantile(before, NO_HABIT_DAYS))
    months = np.array_split(above, max(len(above) // MONTH_DAYS, 1))
    return bool(above.mean() >= NO_HABIT_SHARE and min(month.mean() for month in months) >= NO_HABIT_MONTH)


def edges(rise: Floats, inside: Ints) -> int:
    """At how many of its ends, two at the most, the rise of the slots begins or ends at a moment."""
    half = rise / float(np.median(rise[inside]))
    ends = (inside[0] - np.arange(3) + 1) % len(rise), (inside[-1] + np.arange(3) - 1) % len(rise)
    low, high = half[np.array(ends)] < SHARP_LOW, half[np.array(ends)] > SHARP_HIGH
    return int(((high[:, 0] & (low[:, 1] | low[:, 2])) | (high[:, 1] & low[:, 2])).sum())


def own_scatter(added: float, before: Floats, since: Floats) -> float:
    """What a run's days scatter more beyond what the season brought to the hours beside it as well [W].

    Parameters
    ----------
    added : float
        How much more they scatter than those before the run.
    before, since : ndarray, shape (n,), (m,)
        The hours beside on either side of its beginning; NaN where readings are missing.
    """
    before, since = before[np.isfinite(before)], since[np.isfinite(since)]
    if min(len(before), len(since)) < LEAST_DAYS:
        return added
    return math.sqrt(max(added**2 - added_scatter(before, since) ** 2, 0.0))


def by_thermostat(taken: Floats, since: Floats, watts: float, *, alike: bool) -> bool:
    """Whether heating or cooling may make a run: enough of either runs in its hours, and its days differ as that does.

    Parameters
    ----------
    taken, since : ndarray, shape (n,)
        What the weather is taken to add in the hours of the run, and what they hold without it, on each of its days
        [W].
    alike : bool
        Its days differ no more than those before it.
    """
    mild, hard = np.quantile(taken, (1.0 - MOVED_DAYS, MOVED_DAYS))
    follows = float(np.median(since[taken >= hard]) - np.median(since[taken <= mild]))
    return bool(hard >= MOVED_SHARE * watts and (not alike or follows >= MOVED_SHARE * watts))


def returns(here: Floats, change: int, half: float, *, no_weather: bool) -> bool:
    """Whether the level stood as high in some weeks before, or, without what the weather adds, for a month of any time
    before: after an absence the old level returns, and with its season what ran a year ago.
    """
    weeks = [here[end - LEAST_DAYS : end] for end in range(change, max(change - RETURN_DAYS, LEAST_DAYS), -LEAST_DAYS)]
    long_ago = range(change, MONTH_DAYS, -LEAST_DAYS) if no_weather else ()
    months = [here[end - MONTH_DAYS : end] for end in long_ago]
    return any(float(np.median(part)) > half for part in (*weeks, *months))


def of_one_season(house: House | None, days: Ints, runs: Ints, watts: float) -> bool:
    """Whether what the list has for heating or cooling may take so much, and hardly a day was mild while it ran.

    Parameters
    ----------
    days : ndarray of int64, shape (n,)
        With data, since 1970-01-01, in order [d].
    runs : ndarray of int64
        Places of those on which it ran.
    watts : float
        What it takes [W].
    """
    outside = None if house is None else days_of(house, int(days[0]), int(days[-1]))
    if house is None or outside is None:
        return False
    listed = sum(load.count * (load.watts or 0.0) for load in house.loads if load.follows in ("heating", "cooling"))
    mean_c = outside.mean_c[days[runs] - days[0]]
    mild = np.count_nonzero((mean_c >= MILD_C[0]) & (mean_c <= MILD_C[1]))
    return bool(mild < MILD_DAYS and (not house.loads or listed >= watts))
