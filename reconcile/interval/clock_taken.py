"""Interval data without a load that runs by the clock."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, local_seconds, standard_time
from reconcile.house import Interval
from reconcile.interval.clock_load import NEAR_DAYS, ClockLoad, Floats, Ints
from reconcile.interval.clock_size import BESIDE_HOURS
from reconcile.interval.hour_blocks import Bools

PAUSE_DAYS, PAUSE_SHARE = 14, 0.5
"""It rests where its hours stand over those beside by less than this part of it in the middle of so many days on either
side (our own judgement): a pump of the summer takes nothing in winter, nor hides what else came to those hours."""


def without(load: ClockLoad, interval: Interval, zone: ZoneInfo) -> Interval:
    """Return interval data without what a load that runs by the clock took, so that it is no base load by night."""
    clock = standard_time(zone, (load.day - date(1970, 1, 1)).days) if load.by_standard_time else zone
    first = (load.day - date(1970, 1, 1)).days
    last = math.inf if load.until is None else (load.until - date(1970, 1, 1)).days
    margin = (1 + BESIDE_HOURS) * HOUR_SECONDS
    into = local_seconds(interval.starts, clock) - round(load.start_hour * HOUR_SECONDS) + margin
    day, into = into // DAY_SECONDS, into % DAY_SECONDS
    end = margin + load.hours * HOUR_SECONDS
    runs = (into >= margin) & (into < end)
    beside = (into < margin - HOUR_SECONDS) | ((into >= end + HOUR_SECONDS) & (into < end + margin))
    place, begun = day - int(day[0]), first - int(day[0])
    here, there = (_by_day(interval, place, hours) for hours in (runs, beside))
    usual = np.nanmedian((here - there)[max(begun - NEAR_DAYS, 0) : begun])
    on = runs & (day >= first) & (day < last)
    if load.varies:  # what is over the hours beside it on the same day, as these stood to them before
        left = np.fmin(interval.kwh, (there + usual)[place] * interval.lengths)
    else:
        left = interval.kwh - load.watts * interval.lengths / 3.6e6
        on &= (_middle(here - there - usual) * 3.6e6 >= PAUSE_SHARE * load.watts)[place]
    return replace(interval, kwh=np.where(on, np.maximum(left, 0.0), interval.kwh))


def _middle(values: Floats) -> Floats:
    """Median of the days about each one, without those that are not known; infinite where none is."""
    known = np.pad(values, PAUSE_DAYS, constant_values=np.nan)
    about = sliding_window_view(known, 2 * PAUSE_DAYS + 1)
    middle = np.full(len(values), np.inf)
    told = np.isfinite(about).any(axis=1)
    middle[told] = np.nanmedian(about[told], axis=1)
    return middle


def _by_day(interval: Interval, place: Ints, hours: Bools) -> Floats:
    """Mean energy by second of some hours of each day; NaN where none of them is known [kWh/s]."""
    told = hours & np.isfinite(interval.kwh)
    kwh, seconds = (
        np.bincount(place[told], part[told], int(place[-1]) + 1) for part in (interval.kwh, interval.lengths)
    )
    return kwh / np.where(seconds > 0.0, seconds, np.nan)
