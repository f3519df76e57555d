"""A clock time or the number of an hour, in a cell or a column's name of its own."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import NamedTuple

DAY = 86_400

_HOUR = re.compile(
    r"(?:h(?:e|r|our)?\s*(?:ending|end)?\s*)?(0?\d{1,2})(?:\s*(?:h(?:ours?|rs?)?|uhr|uur|시|时|時))?",
    re.IGNORECASE | re.ASCII,
)
_HOUR_ENDING = re.compile(
    r"h(?:e|r|our)?\s*(?:ending|end)\s*(\d{1,2}):?00|he\s*(\d{1,2}):?00", re.IGNORECASE | re.ASCII
)
_HALF = r"(?P<{}>[ap])(?:\.?\s?m\.?)?(?![a-z])|(?P<{}>midnight|noon)(?![a-z])"
"""Which half of the day, as ``PM``, ``p. m.``, ``p`` or a word for its twelfth hour."""
_ONLY_CLOCK = re.compile(
    r"(?P<H>\d{1,2})[AB]?:(?P<M>\d{2})(?::(?P<S>\d{2})(?:[.,]\d{1,9})?)?"
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
    return Clock(total, None, False, bool(rest.strip())) if minute <= 59 and second <= 59 and total <= DAY else None
