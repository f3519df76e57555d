"""Temperatures that are each possible and together are not: another unit, or days and months exchanged."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

import numpy as np

UNTOUCHED_FROM = 13
"""Days of the month from here on cannot be taken for months."""

FEWEST_MOVED = 40
"""Days whose month and day may have changed places that are needed to tell (our choice)."""

FITS_BETTER = 0.6
"""Departure from the rest of the month, with day and month exchanged over as they stand, that tells (our choice): in
order it is about 2, exchanged about a half."""

YEAR_DAYS = 300
"""Days of record that hold a summer and a winter (our choice)."""

COLD_SUMMER_C, WARM_WINTER_C = 8.0, 26.0
"""No town's days stay all year below the one or above the other (from memory: days of Arctic towns reach 10 degC in
summer; the mildest days of the hottest towns are about 24)."""


def exchanged(means: Mapping[date, float]) -> date | None:
    """Return a day whose month and day have changed places, as most of those have that can; None where none has.

    Parameters
    ----------
    means : mapping of date to float
        Daily means [degC].

    Returns
    -------
    date or None
    """
    sure: dict[tuple[int, int], list[float]] = {}
    for day, value in means.items():
        if day.day >= UNTOUCHED_FROM:
            sure.setdefault((day.year, day.month), []).append(value)
    months = {month: float(np.mean(values)) for month, values in sure.items() if len(values) >= 5}
    as_it_stands, other_way, first, count = 0.0, 0.0, None, 0
    for day, value in means.items():
        if day.day >= UNTOUCHED_FROM or day.day == day.month:
            continue
        here, there = months.get((day.year, day.month)), months.get((day.year, day.day))
        if here is None or there is None:
            continue
        as_it_stands += abs(value - here)
        other_way += abs(value - there)
        first = day if first is None else min(first, day)
        count += 1
    return first if count >= FEWEST_MOVED and other_way < FITS_BETTER * as_it_stands else None


def in_other_unit(means: Mapping[date, float]) -> bool:
    """Whether a year's days are all too cold, or all too warm, for anywhere.

    Parameters
    ----------
    means : mapping of date to float
        Daily means [degC].

    Returns
    -------
    bool
    """
    values = np.array(list(means.values()))
    if len(values) < YEAR_DAYS:
        return False
    return bool(values.max() < COLD_SUMMER_C or values.min() > WARM_WINTER_C)
