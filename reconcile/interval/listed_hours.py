"""What the list itself says comes and goes: by the day, and as blocks of hours that are on it."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from reconcile.house import Load

Floats = NDArray[np.float64]

FITS_WITHIN = 0.2
"""A listed load fits a step where its mean power is this near, as a share (our own judgement)."""

LISTED_DAYS = 10
"""A change this near to the coming or going of a listed load, and no larger than it, is that load's [d]."""

ALL_DAY_HOURS = 20.0
"""Hours a day from which a listed load runs by night as well [h/d]; of the others only their owner knows."""

LIKE_SHARE = 0.5
"""A block of hours is a listed load's where its watts are this near, as a part of them (our own judgement)."""


def listed_watts(loads: tuple[Load, ...], calendar: list[date]) -> tuple[Floats, Floats]:
    """Mean power of the listed loads that no weather moves, on each day [W].

    Returns
    -------
    all_day, part : ndarray, shape (n,)
        Of those that run by night, too, and of those that come and go and run for some hours only.
    """
    all_day, part = np.zeros(len(calendar)), np.zeros(len(calendar))
    for load in loads:
        if load.follows in ("heating", "cooling") or load.watts is None:
            continue
        hours = 24.0 if load.follows == "always" else (load.run_hours or 0.0)
        here = np.array([_there(load, day) for day in calendar])
        watts = here * (load.count * load.watts * load.share_on * hours / 24.0)
        if hours >= ALL_DAY_HOURS:
            all_day += watts
        elif not here.all():
            part += watts
    return all_day, part


def begins_then(loads: tuple[Load, ...], day: date, watts: float) -> bool:
    """Whether a listed load of about so many watts begins on a day or near it.

    Examples
    --------
    >>> pump = Load("Pool pump", watts=1100.0, run_hours=8.0, months=frozenset({5, 6, 7, 8, 9}))
    >>> begins_then((pump,), date(2024, 5, 3), 1050.0), begins_then((pump,), date(2024, 7, 3), 1050.0)
    (True, False)
    """
    before, after = (day + timedelta(days=away) for away in (-LISTED_DAYS, LISTED_DAYS))
    return any(
        abs(load.count * load.watts - watts) <= LIKE_SHARE * load.count * load.watts
        for load in loads
        if load.watts is not None and not _there(load, before) and _there(load, after)
    )


def _there(load: Load, day: date) -> bool:
    """Whether the list says that a load is there on a day."""
    if load.months is not None and day.month not in load.months:
        return False
    return (load.arrives is None or day >= load.arrives) and (load.leaves is None or day < load.leaves)


def fits(load: Load, watts: float) -> bool:
    """Whether a listed load, running all the time or left on, takes about so many watts."""
    if load.watts is None:
        return False
    powers = {load.watts, load.watts * load.share_on, load.count * load.watts * load.share_on}
    return any(abs(power - watts) <= FITS_WITHIN * watts for power in powers)
