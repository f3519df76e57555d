"""What the list itself says comes and goes: by the day, and as blocks of hours that are on it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import product

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import as_day
from reconcile.house import Load

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

FITS_WITHIN = 0.2
"""A listed load fits a step where its mean power is this near, as a share (our own judgement)."""

LISTED_DAYS = 10
"""A change this near to the coming or going of a listed load, and no larger than it, is that load's [d]."""

MONTH_OFF = 30
"""A change of the nights so near to a listed load's first or last day may be its coming or going [d]
(our own judgement: who lists May to September means a summer)."""

LEAST_OF_IT = 0.25
"""That is no smaller than this part of what the load draws on the mean (our own judgement)."""

ALL_DAY_HOURS = 20.0
"""Hours a day from which a listed load runs by night as well [h/d]; of the others only their owner knows."""

SHOWN_SHARE, LEAST_BESIDE = 0.5, 7
"""A listed load that comes and goes, and should run by night, is heard where the nights with it stand above those
beside by this part of its watts, of at least so many nights each (our own judgement: a dehumidifier told with its hours
of July rests in May)."""

LEAST_TIMED_HOURS = 1.0
"""Hours a day from which a listed load may be on a timer (our own judgement) [h/d]."""

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
        here = _on_list(load, calendar)
        watts = here * (load.count * load.watts * load.share_on * hours / 24.0)
        if hours >= ALL_DAY_HOURS:
            all_day += watts
        elif not here.all():
            part += watts
    return all_day, part


def shown_by_night(loads: tuple[Load, ...], days: Ints, watts: Floats) -> tuple[Load, ...]:
    """Return the listed loads without those that come and go while the nights do not rise with them.

    Parameters
    ----------
    days : ndarray of int64, shape (n,)
        Nights, since 1970-01-01, in order [d].
    watts : ndarray, shape (n,)
        Low power of each, less the weather's part [W].

    Examples
    --------
    >>> fan = Load("Attic fan", watts=400.0, run_hours=24.0, months=frozenset({5, 6, 7, 8, 9}))
    >>> nights = np.arange(19800, 20165)
    >>> shown_by_night((fan,), nights, np.full(365, 200.0))
    ()
    >>> len(shown_by_night((fan,), nights, np.where((nights >= 19844) & (nights < 19997), 600.0, 200.0)))
    1
    """
    calendar, kept = [as_day(int(day)) for day in days], []
    for load in loads:
        here = _on_list(load, calendar)
        mean = listed_watts((load,), calendar)[0].max(initial=0.0)
        near = np.abs(days[~here][:, None] - days[here]).min(axis=1, initial=MONTH_OFF * 99) <= 2 * MONTH_OFF
        inside, beside = watts[here], watts[~here][near]
        told = mean > 0.0 and min(len(inside), len(beside)) >= LEAST_BESIDE
        if not told or np.median(inside) - np.median(beside) >= SHOWN_SHARE * mean:
            kept.append(load)
    return tuple(kept)


def by_months(loads: tuple[Load, ...], days: Ints, changes: Sequence[tuple[int, float]]) -> Floats:
    """What listed loads that come and go may draw by night, shape (n, k) [W].

    Months are no days: such a load is there from a change of the nights near to the first of them to one near to the
    last, each as likely as the others. Where the nights do not change at either end of it, it is one of the day.

    Parameters
    ----------
    days : ndarray of int64, shape (n,)
        Nights, since 1970-01-01, in order [d].
    changes : sequence of (int, float)
        Day of each change of the nights, and its watts.

    Returns
    -------
    ndarray
        Columns, each as likely up as down. What two nights have in common is the sum of the columns' products.
    """
    first, last = int(days[0]), int(days[-1])
    calendar = [as_day(day) for day in range(first - MONTH_OFF, last + MONTH_OFF + 1)]
    columns = [np.zeros((len(days), 0))]
    for load in loads:
        if _always(load) or load.watts is None or load.follows in ("heating", "cooling"):
            continue
        hours = 24.0 if load.follows == "always" else (load.run_hours or 0.0)
        watts = load.count * load.watts * load.share_on * hours / 24.0
        here = np.diff(np.concatenate([[False], _on_list(load, calendar), [False]]).astype(np.int8))
        for begin, end in np.flatnonzero(here).reshape(-1, 2) + first - MONTH_OFF:
            near = [
                [day for day, more in changes if abs(day - at) <= MONTH_OFF and sign * more >= LEAST_OF_IT * watts]
                for at, sign in ((begin, 1.0), (end, -1.0))
            ]
            comes = near[0] or ([first] if begin <= first else [])
            goes = near[1] or ([last + 1] if end > last else [])
            there = [(since <= days) & (days < until) for since, until in product(comes, goes)]
            columns += [watts * np.array(there, dtype=float).T / len(there) ** 0.5] if there else []
    return np.concatenate(columns, axis=1)


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


def _always(load: Load) -> bool:
    return load.months is None and load.arrives is None and load.leaves is None


def _on_list(load: Load, calendar: Sequence[date]) -> NDArray[np.bool_]:
    """Days on which the list says that a load is there, shape (n,)."""
    always = _always(load)
    return np.fromiter((always or _there(load, day) for day in calendar), dtype=bool, count=len(calendar))


def runs_longer(loads: tuple[Load, ...], watts: float) -> bool:
    """Whether a listed load of about so many watts runs for some hours a day, and so may run longer for a season.

    Examples
    --------
    >>> runs_longer((Load("Pool pump", watts=1100.0, run_hours=3.0),), 1050.0)
    True
    >>> runs_longer((Load("Kettle", watts=1100.0, run_hours=0.2),), 1050.0)
    False
    """
    return any(
        abs(load.count * load.watts - watts) <= LIKE_SHARE * load.count * load.watts
        for load in loads
        if load.watts is not None and load.follows == "clock" and (load.run_hours or 0.0) >= LEAST_TIMED_HOURS
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
