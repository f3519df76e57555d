"""Columns beside the times that tell their distance from UTC, or that it is summer."""

from __future__ import annotations

import re
from datetime import datetime, timedelta, tzinfo

import numpy as np
from numpy.typing import NDArray

from reconcile.array_types import Ints, Places
from reconcile.clock import DAY_SECONDS, offsets_at
from reconcile.read.values.time_grammar import ZONES

OFFSET = re.compile(r"(?:utc|gmt|time ?zone|tz)[ _-]*(?:offset|diff)|^(?:tz|offset|time ?zone)$", re.IGNORECASE)
SUMMER = re.compile(
    r"(?<![a-z])dst(?![a-z])|daylight|summer ?time|sommerzeit|heure d.?.t.|horario de verano|zomertijd", re.IGNORECASE
)
AGREES = 0.95
"""Share of the times about whose summer time there is no doubt that a column must agree with (our choice)."""

_STANDARD = re.compile(r"standard[- ]?time|(?<![A-Z])(?:LST|MEZ)(?![A-Z])|(?:winter|normal)[- ]?zeit", re.IGNORECASE)
_OFFSET = re.compile(r"(?:UTC|GMT)?([+-]?)(\d{1,2})(?::?(\d{2})|\.(\d+))?", re.IGNORECASE | re.ASCII)
_YES = ("1", "y", "yes", "true", "s", "dst", "summer", "d", "ja", "so")
_NO = ("0", "n", "no", "false", "w", "std", "winter", "st", "standard", "nein", "wi")

Words = tuple[list[str], Places]
"""The distinct texts of a column, and the place of each cell's among them."""


def offset_seconds(cell: str) -> int | None:
    """Return the distance from UTC that a cell holds [s]; None where it holds none.

    Examples
    --------
    >>> offset_seconds("-06:00"), offset_seconds("UTC+5.5"), offset_seconds("CDT"), offset_seconds("soon")
    (-21600, 19800, -18000, None)
    """
    if cell.casefold() in ZONES:
        return round(3600 * ZONES[cell.casefold()])
    found = _OFFSET.fullmatch(cell.strip())
    if not found:
        return None
    size = 3600 * int(found[2]) + 60 * int(found[3] or 0) + round(3600 * float(f"0.{found[4] or 0}"))
    return (-size if found[1] == "-" else size) if size <= 14 * 3600 else None


def is_summer(cell: str) -> bool | None:
    """Return whether a cell says summer time; None where it says neither."""
    text = cell.strip().casefold()
    return True if text in _YES else False if text in _NO else None


def names_standard_time(name: str, zone: tzinfo) -> bool:
    """Whether a column's name has the letters of a zone's standard time, and none of its summer time.

    Examples
    --------
    >>> from zoneinfo import ZoneInfo
    >>> home = ZoneInfo("America/Chicago")
    >>> [names_standard_time(name, home) for name in ("Time (CST)", "Time (CDT)", "CST/CDT", "Standard time", "Time")]
    [True, False, False, True, False]
    """
    words = set(re.findall(r"[A-Z]{2,5}", name))
    either = {datetime(2025, month, 1, tzinfo=zone) for month in (1, 7)}
    usual = min(either, key=lambda at: at.utcoffset() or timedelta(0))
    letters = {at.tzname() for at in either}
    if len(letters & words) == 1:
        return usual.tzname() in words
    return not letters & words and bool(_STANDARD.search(name))


def offsets_of(words: Words) -> Ints | None:
    """Return the distance from UTC of each row [s]; None where one of them has none."""
    texts, place = words
    read = [offset_seconds(text) for text in texts]
    if any(value is None for value in read):
        return None
    return np.array([value or 0 for value in read], dtype=np.int64)[place]


def summer_offsets(labels: Ints, words: Words, zone: tzinfo) -> Ints | None:
    """Return the distance from UTC of each row from a column that tells summer time.

    Parameters
    ----------
    labels : ndarray of int64
        Seconds of the local clock [s].
    words : tuple
        Texts of the column and the place of each row's.

    Returns
    -------
    ndarray of int64 or None
        [s]; None where the column does not agree with the clock of the zone.
    """
    texts, place = words
    told = [is_summer(text) for text in texts]
    years = np.unique(labels.astype("datetime64[s]").astype("datetime64[Y]").astype(int)) + 1970
    ends = [_offset(int(year), month, zone) for year in years.tolist() for month in (1, 7)]
    winter, summer = min(ends, default=0), max(ends, default=0)
    if any(value is None for value in told) or winter == summer:
        return None
    flags = np.array([bool(value) for value in told])[place]
    expected = _expected(labels, winter, summer, zone)
    known = expected >= 0
    if known.any() and np.mean(flags[known] == (expected[known] == 1)) < AGREES:
        return None
    return np.where(flags, summer, winter).astype(np.int64)


def _offset(year: int, month: int, zone: tzinfo) -> int:
    away = datetime(year, month, 1, tzinfo=zone).utcoffset()
    return 0 if away is None else int(away.total_seconds())


def _expected(labels: Ints, winter: int, summer: int, zone: tzinfo) -> NDArray[np.int8]:
    """Return 1 in summer, 0 in winter, -1 on the days of a change."""
    before, after = (offsets_at(labels - winter + shift, zone) for shift in (-DAY_SECONDS, DAY_SECONDS))
    out = np.where(before == summer, 1, 0).astype(np.int8)
    out[before != after] = -1
    return out
