"""A test of the meter by the utility or a laboratory, as a line of the diary tells it."""

from __future__ import annotations

import re

RIGHT = 100.0
"""Registration of a right meter [%]."""
LARGEST_ERROR = 50.0
"""A figure without a word beside it is an error up to here, and a registration beyond [%] (our choice): meters that
count half or half as much again are rare, and such a figure is written with its direction."""
MOST_UNSIGNED = 2.0
"""An error without a direction up to here is within the usual limits of a meter [%] (ANSI C12.1 as state rules restate
it: 98 to 102 %)."""

_NUMBER = re.compile(
    r"(?<![\d.,])([+\-\u2212\u00b1]?)\s?(\d{1,3}(?:[.,]\d+)?)\s?(?:%|percent\b|per cent\b|pct\b)", re.I
)
_FAST = re.compile(r"\b(?:fast|high|over|too much|more)\b", re.I)
_SLOW = re.compile(r"\b(?:slow|low|under|too little|less)\b", re.I)
_RIGHT = re.compile(
    r"\b(?:passed|accurate|correct|fine|ok|okay|good|right|no fault|no error)\b"
    r"|\bwithin\b[^.;]*\b(?:limits?|tolerance|range|spec\w*|standards?)\b",
    re.I,
)
_NOT = re.compile(r"\b(?:not|never|isn't|wasn't|didn't|inaccurate|incorrect|fail\w*|outside)\b", re.I)
_ASKED = re.compile(
    r"\b(?:ask\w*|request\w*|order\w*|schedul\w*|book\w*|want\w*|will|wait\w*|appl\w+ for|going to|paid for)\b", re.I
)
_OWN = re.compile(r"\b(?:i|we|myself|ourselves|electrician|heater|kettle|clamp)\b", re.I)
_TEST = re.compile(
    r"\bmeter\b[^.;]*\b(?:tested|test(?:s|ed)? (?:at|by|as|ok|fine|good|result|report|\d)|checked and)"
    r"|\b(?:tested|test of|result of) (?:the |my |our )?meter\b|\bmeter test\b",
    re.I,
)


def tells_of_a_test(text: str) -> bool:
    """Whether a line tells of a test that somebody other than the household made of the meter.

    Examples
    --------
    >>> tells_of_a_test("utility tested the meter, 100.1 %"), tells_of_a_test("asked for a meter test")
    (True, False)
    """
    return bool(_TEST.search(text)) and not _ASKED.search(text) and not _OWN.search(text)


def registration_told(text: str) -> float | None:
    """Return the registration that a line gives of the meter [%], or None where it cannot be told.

    Parameters
    ----------
    text : str
        As ``100.1 %``, ``2.4 % fast``, ``-1.3 %``, ``passed``.

    Examples
    --------
    >>> [registration_told(line) for line in ("100.1 %", "2.4 % fast", "30% slow", "-1.3 percent", "160 % fast")]
    [100.1, 102.4, 70.0, 98.7, 160.0]
    >>> registration_told("passed, within limits"), registration_told("it was tested"), registration_told("failed")
    (100.0, None, None)
    """
    told = {_registration(sign, float(figure.replace(",", ".")), text) for sign, figure in _NUMBER.findall(text)}
    if told:
        return told.pop() if len(told) == 1 else None
    return RIGHT if _RIGHT.search(text) and not _NOT.search(text) else None


def _registration(sign: str, figure: float, text: str) -> float | None:
    fast, slow = bool(_FAST.search(text)), bool(_SLOW.search(text)) or sign in ("-", "\u2212")
    if fast and slow:
        return None
    if figure > LARGEST_ERROR and not sign and (not slow or figure > RIGHT) and not (fast and figure <= RIGHT):
        return figure
    if fast or slow or sign == "+":
        error = -figure if slow else figure
        return round(RIGHT + error, 6) if not slow or figure <= LARGEST_ERROR else None
    return RIGHT if figure <= MOST_UNSIGNED else None
