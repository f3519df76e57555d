"""Hours of exactly nothing in a house where something always runs: a meter that stands still at times.

A refrigerator and a router leave no hour without use. Where hours of exactly nothing begin on some day and come again
and again, the meter may stand still at times; or the power was off, or the file says nothing where no reading came.
"""

from __future__ import annotations

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.clock import DAY_SECONDS, as_day, local_seconds
from reconcile.facts import Finding
from reconcile.house import House

LEAST_SECONDS, LEAST_RUNS, LEAST_PART = 3 * 3600, 5, 0.03
"""Shortest run of nothing that counts [s], the fewest of them, and their least part of the time since the first (our
choice: no power cut comes so often, a main switch that is off for one stay is one run, and gaps that a file fills with
zeros came to a hundredth in three real homes of fifteen)."""

LEAST_FLOOR_WATTS, FLOOR_STEPS = 20.0, 5.0
"""Least that always runs in the other hours [W], and in steps of the readings (our choice: a register of whole kWh
leaves many hours of nothing in a house in order)."""

FLOOR_QUANTILE = 0.02
"""Part of the readings with use that may be lower than what always runs (our choice)."""

BEFORE_DAYS = 30
"""Days without any such hour before the first from which on they are said to have begun [d] (our choice)."""


def standing_still(house: House) -> Finding | None:
    """Say that the register stood still again and again where something always runs.

    Returns
    -------
    Finding or None
        ``stopped-register`` in the case ``hours``; None of a house with own power, whose register may well rest.
    """
    interval = house.interval
    if interval is None or house.generation:
        return None
    used, still = interval.kwh > 0.0, interval.kwh == 0.0
    if not (used.any() and still.any()):
        return None
    floor = float(np.quantile(interval.kwh[used], FLOOR_QUANTILE))
    watts = floor * 3.6e6 / float(np.median(interval.lengths))
    step = float(np.diff(np.unique(np.round(interval.kwh, 6))).min())
    if watts < LEAST_FLOOR_WATTS or floor < FLOOR_STEPS * step:
        return None
    edges = np.flatnonzero(np.diff(np.concatenate([[False], still, [False]]).astype(np.int8)))
    begins, ends = edges[::2], edges[1::2]
    seconds = (interval.ends[ends - 1] - interval.starts[begins]).astype("timedelta64[s]").astype(np.int64)
    zone = ZoneInfo(house.timezone)
    days = local_seconds(interval.starts, zone) // DAY_SECONDS
    told = np.array([_told(house, as_day(int(day))) for day in days[begins]], dtype=bool)
    kept = (seconds >= LEAST_SECONDS) & ~told
    hours = float(seconds[kept].sum()) / 3600.0
    if kept.sum() < LEAST_RUNS:
        return None
    whole = (interval.ends[-1] - interval.starts[begins[kept][0]]).astype("timedelta64[s]").astype(np.int64)
    if 3600.0 * hours < LEAST_PART * float(whole):
        return None
    first, begun = as_day(int(days[begins[kept][0]])), as_day(int(days[0]))
    since = first if first - begun >= timedelta(days=BEFORE_DAYS) else None
    mean = float(interval.kwh[used].sum() / interval.lengths[used].sum())
    return Finding(
        code="stopped-register",
        periods=tuple(i for i, bill in enumerate(house.bills) if bill.closes > first),
        kwh=-mean * 3600.0 * hours,
        settles=True,
        case="hours",
        figures={
            "hours": hours,
            "runs": int(kept.sum()),
            "longest": float(seconds[kept].max()) / 3600.0,
            "since": since,
            "floor_watts": watts,
        },
        asks=("stands-still",),
        household=("watch-register", "away-in-diary"),
    )


def _told(house: House, day: date) -> bool:
    """Whether the diary tells of an absence or an outage on a day."""
    return any(
        event.kind in ("away", "outage") and event.day <= day <= (event.until or event.day) for event in house.events
    )
