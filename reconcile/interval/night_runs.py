"""What goes on and off in the night above its floor: an element that heats for a tap left open, a pump by its float.

A thermostat's load rests in every hour, so that no floor shows it, and people who sleep do not switch it: the mean of
the quiet hours above the floor tells it from what they do by day.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, local_seconds
from reconcile.house import House, Interval
from reconcile.interval.base_load import BY_WEATHER, BaseLoad, Spans, levels
from reconcile.interval.by_degree import Spell
from reconcile.interval.steps import NIGHT_HOURS, Lows

HALVES, UNEVEN = 2, 2.0
"""Parts of a night, and by how many times its mean may be more than the lower of them: a car that charges, or a late
evening, fills one part alone, and a few runs of an element fall unevenly (our own judgement)."""

LEAST_NIGHTS = 28
"""Fewest nights that tell (our own judgement)."""


def night_runs(
    house: House,
    zone: ZoneInfo,
    base: BaseLoad | None,
    dates: Sequence[int] = (),
    spells: Sequence[Spell] = (),
    empty: Spans = (),
) -> BaseLoad | None:
    """Look at what the nights hold above their floor, as :func:`reconcile.interval.base_load.base_load` at the floor.

    Parameters
    ----------
    base : BaseLoad or None
        Their floor; None without a full night.

    Returns
    -------
    BaseLoad or None
        None without enough whole nights.
    """
    if house.interval is None or base is None:
        return None
    nights = above_floor(house.interval, zone, (base.days, base.watts))
    if len(nights[0]) < LEAST_NIGHTS:
        return None
    # of what comes and goes above the floor the list says nothing, but what the weather moves
    listed = tuple(load for load in house.loads if load.follows in BY_WEATHER)
    found = levels(replace(house, loads=listed), nights, nights, dates, spells, empty)
    return replace(found, step_hours=min(house.interval.step_seconds / HOUR_SECONDS, 1.0))


def above_floor(interval: Interval, zone: ZoneInfo, floors: Lows) -> Lows:
    """Mean power of each night above its floor, where both halves hold it.

    Returns
    -------
    days : ndarray of int64
        Days since 1970-01-01 with a full night of readings [d].
    watts : ndarray
        [W]
    """
    days, floor = floors
    local = local_seconds(interval.starts, zone)
    begin, end = (hour * HOUR_SECONDS for hour in NIGHT_HOURS)
    second = local % DAY_SECONDS
    inside = (second >= begin) & (second < end) & np.isfinite(interval.kwh)
    cell = (local[inside] // DAY_SECONDS - days[0]) * HALVES + (second[inside] - begin) * HALVES // (end - begin)
    count = int(days[-1] - days[0] + 1) * HALVES
    held = (cell >= 0) & (cell < count)
    seconds, kwh = (
        np.bincount(cell[held], weights=of[inside][held], minlength=count).reshape(-1, HALVES)
        for of in (interval.lengths, interval.kwh)
    )
    # hours that a change of the clocks takes, or that are missing, are as the others of their half
    mean = (3.6e6 * kwh / np.maximum(seconds, 1.0))[days - days[0]]
    full = seconds[days - days[0]].min(axis=1) > 0.5 * (end - begin) / HALVES
    days, above = days[full], np.maximum(mean[full] - floor[full, None], 0.0)
    return days, np.minimum(above.mean(axis=1), UNEVEN * above.min(axis=1))
