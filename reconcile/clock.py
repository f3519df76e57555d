"""The house's clock: instants to local time and back, the same for every part that asks.

Instants are seconds since 1970-01-01 00:00 UTC. Seconds of a local clock are counted the same way, as if that clock
were UTC, so that whole days and hours divide out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, time, timedelta, timezone, tzinfo
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

DAY_SECONDS = 86_400
HOUR_SECONDS = 3600
_EPOCH_DAY = date(1970, 1, 1).toordinal()

Ints = NDArray[np.int64]


class Change(NamedTuple):
    """A clock change: its instant [s, UTC] and the offsets from UTC before and after it [s]."""

    instant: int
    before: int
    after: int


def offset_at(instant: int, zone: tzinfo) -> int:
    """Return a zone's offset from UTC at an instant [s].

    Examples
    --------
    >>> from zoneinfo import ZoneInfo
    >>> offset_at(0, ZoneInfo("America/Chicago"))
    -21600
    """
    shift = datetime.fromtimestamp(instant, UTC).astimezone(zone).utcoffset()
    return 0 if shift is None else int(shift.total_seconds())


def changes(first: int, last: int, zone: tzinfo) -> tuple[Change, ...]:
    """Return the clock changes with ``first`` < instant <= ``last``, to the second.

    The zone is asked once a day, and between two days that differ by halving: since 1950 no zone has changed twice
    within three days (counted over every zone of tzdata 2026).

    Parameters
    ----------
    first, last : int
        Seconds since 1970-01-01 00:00 UTC [s].

    Returns
    -------
    tuple of Change
        In order of time.

    Examples
    --------
    >>> from zoneinfo import ZoneInfo
    >>> changes(1_735_689_600, 1_750_000_000, ZoneInfo("America/Chicago"))
    (Change(instant=1741507200, before=-21600, after=-18000),)
    """
    years = range(_year(first), _year(last) + 1)
    return tuple(c for year in years for c in _changes_of(year, zone) if first < c.instant <= last)


def _year(instant: int) -> int:
    return (date(1970, 1, 1) + timedelta(days=instant // DAY_SECONDS)).year


@lru_cache(maxsize=512)
def _changes_of(year: int, zone: tzinfo) -> tuple[Change, ...]:
    first = (date(year, 1, 1).toordinal() - _EPOCH_DAY) * DAY_SECONDS - 1
    days = range(first, (date(year, 12, 31).toordinal() - _EPOCH_DAY + 1) * DAY_SECONDS, DAY_SECONDS)
    offsets = [offset_at(day, zone) for day in days]
    found = []
    for i in range(1, len(offsets)):
        low, high = days[i - 1], days[i]
        if offsets[i] == offsets[i - 1]:
            continue
        while high - low > 1:
            middle = (low + high) // 2
            if offset_at(middle, zone) == offsets[i - 1]:
                low = middle
            else:
                high = middle
        found.append(Change(high, offsets[i - 1], offsets[i]))
    return tuple(found)


def offsets_at(instants: Ints, zone: tzinfo) -> Ints:
    """Return a zone's offset from UTC at each instant [s].

    Parameters
    ----------
    instants : ndarray of int64
        Seconds since 1970-01-01 00:00 UTC, in any order [s].
    """
    if len(instants) == 0:
        return np.empty(0, dtype=np.int64)
    first, last = int(instants.min()), int(instants.max())
    found = changes(first, last, zone)
    values = np.array([offset_at(first, zone), *(c.after for c in found)], dtype=np.int64)
    if len(values) == 1:
        return np.full(len(instants), values[0])
    edges = np.array([c.instant for c in found], dtype=np.int64)
    at: Ints = values[np.searchsorted(edges, instants, side="right")]
    return at


def summer_hours(zone: tzinfo, day: int) -> float:
    """Hours by which a zone's clock stands ahead of its standard time at noon of a day, counted from 1970-01-01."""
    ahead = datetime.combine(as_day(day), time(12), zone).dst() or timedelta(0)
    return ahead.total_seconds() / HOUR_SECONDS


def standard_time(zone: tzinfo, day: int) -> timezone:
    """A zone's standard time, as on a day counted from 1970-01-01, all year."""
    offset = datetime.combine(as_day(day), time(12), zone).utcoffset() or timedelta(0)
    return timezone(offset - timedelta(hours=summer_hours(zone, day)))


def local_seconds(instants: Ints | NDArray[np.datetime64], zone: tzinfo) -> Ints:
    """Instants [s] plus the zone's offset from UTC at each: seconds of which whole local days and hours divide out.

    Examples
    --------
    >>> from zoneinfo import ZoneInfo
    >>> noon = np.array(["2025-07-01T12:00:00"], "datetime64[s]")
    >>> local_seconds(noon, ZoneInfo("America/Chicago")) % DAY_SECONDS // HOUR_SECONDS
    array([7])
    """
    if instants.dtype.kind == "M":
        instants = instants.astype("datetime64[s]")
    seconds = instants.astype(np.int64, copy=False)
    shifted: Ints = seconds + offsets_at(seconds, zone)
    return shifted


def local_instants(days: Sequence[date], zone: tzinfo) -> Ints:
    """Midnight that begins each day, in seconds since 1970-01-01 00:00 UTC [s].

    One that a clock change skips or repeats is the earlier offset's.

    Examples
    --------
    >>> local_instants([date(1970, 1, 2)], UTC).tolist()
    [86400]
    """
    return np.array([int(datetime(d.year, d.month, d.day, tzinfo=zone).timestamp()) for d in days], dtype=np.int64)


def day_numbers(days: Iterable[date]) -> Ints:
    """Days since 1970-01-01 of calendar days [d].

    Examples
    --------
    >>> day_numbers([date(1970, 2, 1)]).tolist()
    [31]
    """
    return np.array([day.toordinal() - _EPOCH_DAY for day in days], dtype=np.int64)


def as_day(number: int) -> date:
    """Calendar day of a count of days since 1970-01-01.

    Examples
    --------
    >>> as_day(31)
    datetime.date(1970, 2, 1)
    """
    return date.fromordinal(_EPOCH_DAY + number)
