"""The time zone that interval data tell of themselves, where the household names none."""

from __future__ import annotations

from zoneinfo import ZoneInfo

import numpy as np

from reconcile.array_types import Ints
from reconcile.clock import DAY_SECONDS, offsets_at
from reconcile.read.timeline.espi import Parsed
from reconcile.read.timeline.series import Series

ZONES = (
    *("America/Chicago", "America/New_York", "America/Denver", "America/Los_Angeles", "America/Phoenix"),
    *("America/Anchorage", "Pacific/Honolulu", "America/Halifax", "America/St_Johns", "America/Regina"),
    *("America/Puerto_Rico", "America/Mexico_City", "America/Bogota", "America/Sao_Paulo", "America/Santiago"),
    *("Europe/London", "Europe/Berlin", "Europe/Athens", "Atlantic/Reykjavik", "Atlantic/Azores", "Europe/Istanbul"),
    *("Africa/Lagos", "Africa/Johannesburg", "Africa/Nairobi", "Asia/Dubai", "Asia/Karachi", "Asia/Kolkata"),
    *("Asia/Kathmandu", "Asia/Dhaka", "Asia/Bangkok", "Asia/Shanghai", "Asia/Tokyo", "Australia/Perth"),
    *("Australia/Darwin", "Australia/Adelaide", "Australia/Brisbane", "Australia/Sydney", "Australia/Lord_Howe"),
    "Pacific/Auckland",
)
"""One of each kind of clock that is in use (our choice of the tz database); the first that agrees is taken, so that of
zones of one clock the one with most people stands first."""
MOST_ASKED = 400
"""Readings at which the zones are asked, evenly over all."""
FARTHEST_EAST = 13 * 3600
"""Greatest distance from UTC that is taken for a midnight [s]: New Zealand in summer."""
QUARTER = 900
LONG = 0.9 * DAY_SECONDS
"""Length of a reading or of a bill from which it begins at midnight [s]."""


def zone_of_feed(parsed: Parsed, home: str) -> str | None:
    """Return the zone of a feed: by its own clock and rules, else by the midnights that begin its days and bills."""
    starts = np.concatenate(
        [np.array([one.start for one in parsed.summaries], dtype=np.int64), *(m.starts for m in parsed.meters)]
    )
    starts = starts[starts > 0]
    if len(starts) == 0:
        return None
    if parsed.clock is not None:
        first = int(starts.min()) // DAY_SECONDS
        noons = np.arange(first, first + 366, 7) * DAY_SECONDS + DAY_SECONDS // 2
        offsets = np.array([parsed.clock.at(int(noon)) for noon in noons])
        return zone_agreeing(noons, offsets, home)
    long = [m.starts[m.durations >= LONG] for m in parsed.meters]
    begins = np.concatenate([np.array([one.start for one in parsed.summaries], dtype=np.int64), *long])
    offsets_told = offsets_of_midnights(begins)
    return None if offsets_told is None else zone_agreeing(begins, offsets_told, home)


def zone_of_series(found: list[Series], home: str) -> str | None:
    """Return the zone of times that all say how far they are from UTC; None where any does not, or all say UTC."""
    told = [one for one in found if one.offsets is not None and len(one.labels)]
    if not told or len(told) < len(found):
        return None
    places = [np.linspace(0, len(one.labels) - 1, MOST_ASKED).astype(np.intp) for one in told]
    offsets = np.concatenate([one.offsets[at] for one, at in zip(told, places, strict=True) if one.offsets is not None])
    instants = np.concatenate([one.labels[at] for one, at in zip(told, places, strict=True)]) - offsets
    return zone_agreeing(instants, offsets, home) if offsets.any() else None


def zone_agreeing(instants: Ints, offsets: Ints, home: str) -> str | None:
    """Return the first zone with these distances from UTC, the usual one before all others; None if none has them.

    Examples
    --------
    >>> zone_agreeing(np.array([1_736_000_000, 1_752_000_000]), np.array([3600, 7200]), "America/Chicago")
    'Europe/Berlin'
    """
    first = np.array([instants[0]])
    for name in dict.fromkeys((home, *ZONES)):
        zone = ZoneInfo(name)
        if offsets_at(first, zone)[0] == offsets[0] and np.array_equal(offsets_at(instants, zone), offsets):
            return name
    return None


def offsets_of_midnights(begins: Ints) -> Ints | None:
    """Return the distance from UTC of each midnight of a clock; None where they are midnights of none.

    Examples
    --------
    >>> offsets_of_midnights(np.array([1_314_331_200, 1_325_394_000])) / 3600
    array([-4., -5.])
    """
    if len(begins) == 0:
        return None
    offsets = -begins % DAY_SECONDS
    offsets = np.where(offsets > FARTHEST_EAST, offsets - DAY_SECONDS, offsets)
    whole = bool((offsets % QUARTER == 0).all()) and int(offsets.max() - offsets.min()) <= 3600
    return offsets if whole else None
