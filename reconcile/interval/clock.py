"""Local time for interval data: midnights as UTC seconds, and the local hour of each instant."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

DAY_SECONDS = 86400
HOUR_SECONDS = 3600


def local_instants(days: Sequence[date], zone: ZoneInfo, hour: int = 0) -> NDArray[np.int64]:
    """Instants at a local hour of each day.

    Parameters
    ----------
    days : sequence of date
        Calendar days in the house's zone.
    zone : ZoneInfo
        The house's zone.
    hour : int
        Local clock hour, 0 to 23; one that a clock change skips or repeats is the earlier offset's.

    Returns
    -------
    ndarray of int64
        Seconds since 1970-01-01 00:00 UTC [s].

    Examples
    --------
    >>> local_instants([date(1970, 1, 2)], ZoneInfo("UTC"), 6).tolist()
    [108000]
    """
    return np.array(
        [int(datetime(d.year, d.month, d.day, hour, tzinfo=zone).timestamp()) for d in days], dtype=np.int64
    )


def local_seconds(instants: NDArray[np.int64], zone: ZoneInfo) -> NDArray[np.int64]:
    """Seconds of the local clock, counted as if it were UTC, so that whole days and hours divide out.

    Parameters
    ----------
    instants : ndarray of int64
        Seconds since 1970-01-01 00:00 UTC, increasing [s].
    zone : ZoneInfo
        The house's zone.

    Returns
    -------
    ndarray of int64
        Instants plus the zone's offset from UTC at each [s].
    """
    if len(instants) == 0:
        return instants
    days = np.arange(instants[0] - instants[0] % DAY_SECONDS, instants[-1] + 2 * DAY_SECONDS, DAY_SECONDS)
    offsets = _offsets(days, zone)
    edges, values = [days[0]], [offsets[0]]
    for i in np.flatnonzero(np.diff(offsets)):
        quarters = np.arange(days[i], days[i + 1] + 1, 900)
        inside = _offsets(quarters, zone)
        k = int(np.flatnonzero(np.diff(inside))[0]) + 1
        edges.append(quarters[k])
        values.append(inside[k])
    which = np.searchsorted(np.array(edges), instants, side="right") - 1
    shifted: NDArray[np.int64] = instants + np.array(values, dtype=np.int64)[which]
    return shifted


def as_day(number: int) -> date:
    """Calendar day of a count of days since 1970-01-01.

    Parameters
    ----------
    number : int
        Days since 1970-01-01 [d].

    Returns
    -------
    date
        The day.

    Examples
    --------
    >>> as_day(31)
    datetime.date(1970, 2, 1)
    """
    return date(1970, 1, 1) + timedelta(days=number)


def _offsets(instants: NDArray[np.int64], zone: ZoneInfo) -> NDArray[np.int64]:
    moments = (datetime.fromtimestamp(int(t), UTC).astimezone(zone).utcoffset() for t in instants)
    return np.array([0 if m is None else int(m.total_seconds()) for m in moments], dtype=np.int64)
