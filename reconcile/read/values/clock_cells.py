"""A clock time or the number of an hour, in a cell or a column's name of its own; and clocks without AM and PM."""

from __future__ import annotations

import itertools
import re
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reconcile.array_types import Ints
from reconcile.clock import DAY_SECONDS

_HOUR = re.compile(
    r"(?:h(?:e|r|our)?\s*(?:ending|end)?\s*)?(0?\d{1,2})(?:\s*(?:h(?:ours?|rs?)?|uhr|uur|시|时|時))?"
    r"(?:\s?[abx*])?",  # the mark of an hour that the clock repeats
    re.IGNORECASE | re.ASCII,
)
_HOUR_ENDING = re.compile(
    r"h(?:e|r|our)?\s*(?:ending|end)\s*(\d{1,2}):?00|he\s*(\d{1,2}):?00", re.IGNORECASE | re.ASCII
)
_HALF = r"(?P<{}>[ap])(?:\.?\s?m\.?)?(?![a-z])|(?P<{}>midnight|noon)(?![a-z])"
"""Which half of the day, as ``PM``, ``p. m.``, ``p`` or a word for its twelfth hour."""
_ONLY_CLOCK = re.compile(
    r"(?P<H>\d{1,2})[AB]?:(?P<M>\d{2})(?::(?P<S>\d{2})(?:[.,]\d{1,9})?)?(?:\s?\*)?"
    rf"(?:\s?(?:{_HALF.format('pm', 'word')}))?(?P<rest>.*)"
    r"|(?P<H3>\d{1,2})h(?P<M3>\d{2})?(?P<rest4>\s*(?:-|–|to).*)?"
    r"|(?P<H2>\d{1,2})\s?(?P<pm2>[ap])\.?\s?m\.?(?P<rest2>.*)|(?P<H6>12)\s(?P<word6>midnight|noon)|(?P<four>\d{3,4})(?P<rest3>\s*-.*)?",
    re.IGNORECASE | re.ASCII,
)
_UNTIL = re.compile(r"\s*(?:-|–|to)\s*(\d.*)|\s*", re.IGNORECASE)


class Clock(NamedTuple):
    """A clock time of its own cell or column name."""

    second: int | None
    """Second of the day [s]; None where it is an ``hour`` without minutes."""
    hour: int | None
    ending: bool
    """Whether it names the end of its interval, as ``HE01`` does."""
    span: bool


@lru_cache(maxsize=4096)
def read_clock(text: str) -> Clock | None:
    """Read a clock time, a span of two, or the number of an hour.

    Examples
    --------
    >>> read_clock("2:15 PM").second, read_clock("HE01"), read_clock("00:00 - 01:00").second, read_clock("soon")
    (51300, Clock(second=None, hour=1, ending=True, span=False), 0, None)
    >>> read_clock("2:15p").second, read_clock("2:15 p. m.").second, read_clock("12:00 noon").second
    (51300, 51300, 43200)
    """
    text = text.strip()
    hour = _HOUR.fullmatch(text)
    if hour and int(hour[1]) <= 25:
        return Clock(None, int(hour[1]), bool(re.match(r"he|hour\s*end", text, re.IGNORECASE)), False)
    lettered = _HOUR_ENDING.fullmatch(text)
    if lettered and 1 <= int(lettered[1] or lettered[2]) <= 25:
        return Clock(None, int(lettered[1] or lettered[2]), True, False)
    found = _ONLY_CLOCK.fullmatch(text)
    if not found:
        return None
    rest = found["rest"] or found["rest2"] or found["rest3"] or found["rest4"] or ""
    if not _UNTIL.fullmatch(rest):
        return None
    if found["four"]:
        at, minute, second = int(found["four"][:-2]), int(found["four"][-2:]), 0
    else:
        at, minute, second = (
            int(found["H"] or found["H2"] or found["H3"] or found["H6"]),
            int(found["M"] or found["M3"] or 0),
            int(found["S"] or 0),
        )
    half = found["pm"] or found["pm2"]
    word = found["word"] or found["word6"]
    if half or word:
        if not 1 <= at <= 12 or (word and (at, minute) != (12, 0)):
            return None
        at = at % 12 + 12 * ((half or word).casefold() in ("p", "noon"))
    total = 3600 * at + 60 * minute + second
    return (
        Clock(total, None, False, bool(rest.strip()))
        if minute <= 59 and second <= 59 and total <= DAY_SECONDS
        else None
    )


HALF, HOUR = 43_200, 3_600
TWICE = 0.8
"""Share of the clock times of a day that stand twice in it where the clock runs round twice (our choice)."""
FEWEST = 24
"""Readings below which nothing is made of it."""


def runs_round_twice(midnights: Ints, seconds: NDArray[np.int32]) -> bool:
    """Whether a clock shows the hours 1 to 12 alone, and most of them twice a day.

    Parameters
    ----------
    midnights : ndarray of int64
        Begin of each reading's day [s].
    seconds : ndarray of int32
        Second of the day, as written [s].
    """
    if len(seconds) < FEWEST or int(seconds.min()) < HOUR or not HALF <= int(seconds.max()) < HALF + HOUR:
        return False
    counts = np.unique(midnights + seconds, return_counts=True)[1]
    return float(np.mean(counts == 2)) >= TWICE


def second_of_day(days: Ints, seconds: NDArray[np.int32]) -> NDArray[np.int32] | None:
    """Return the second of the day, hours from the second twelve on counted on; None where the order leaves it open.

    Within a day the clock begins at twelve, or where the data begin, and the next twelve is noon.

    Parameters
    ----------
    days : ndarray of int64
        In the order of the file, oldest first or newest first.
    seconds : ndarray of int32
        Second of the day, as written [s].

    Examples
    --------
    >>> hours = np.array([12, *range(1, 12)] * 2, dtype=np.int32) * 3600
    >>> (second_of_day(np.zeros(24, dtype=np.int64), hours) // 3600).tolist() == list(range(24))
    True
    """
    if np.count_nonzero(np.diff(days) < 0) > np.count_nonzero(np.diff(days) > 0) or _falls(seconds):
        turned = second_of_day(days[::-1], seconds[::-1])
        return None if turned is None else turned[::-1]
    out = seconds % HALF
    edges = [0, *(np.flatnonzero(np.diff(days)) + 1).tolist(), len(days)]
    for at, (low, high) in enumerate(itertools.pairwise(edges)):
        here = out[low:high]
        twelve = np.flatnonzero((here < HOUR) & np.concatenate([[True], here[:-1] >= HOUR]))
        if len(twelve) == 2 and twelve[0] == 0:
            noon = int(twelve[1])
        elif len(twelve) == 1 and (twelve[0] > 0 or (at == 0 and len(edges) > 2)):
            noon = int(twelve[0])
        elif len(twelve) == 1 and at == len(edges) - 2:
            noon = high - low  # the data end before noon
        else:
            return None
        here[noon:] += HALF
    return out


def _falls(seconds: NDArray[np.int32]) -> bool:
    """Whether times within one day mostly go back."""
    steps = np.diff(seconds % HALF)
    return bool(np.count_nonzero(steps < 0) > np.count_nonzero(steps > 0))
