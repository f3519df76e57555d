"""Figures with their unit in one: a nameplate's flash or turn, a heading of so many kWh, the times of a stopwatch."""

from __future__ import annotations

import re
from datetime import time
from typing import Any

_ONE = r"(?:imp(?:ulses?|s)?\.?|pulses?|flash(?:es)?|blinks?|rev(?:olutions?|s)?\.?|turns?|tr|u|r)"
_NUMBER = r"([0-9]+(?:[.,][0-9]+)?)"
_PER_KWH = re.compile(rf"{_NUMBER}\s*{_ONE}\s*(?:/|per)\s*kwh", re.I)
_WH_OF_ONE = re.compile(rf"{_NUMBER}\s*wh\s*(?:/|per)\s*{_ONE}", re.I)
_STOPWATCH = re.compile(r"(?:([0-9]{1,2}):)?([0-9]{1,3}):([0-5][0-9](?:\.[0-9]+)?)")


def wh_of_one(value: Any) -> Any:
    """Return the watt-hours of one flash or turn where a nameplate's ``imp/kWh`` or ``Wh/imp`` is written.

    Examples
    --------
    >>> wh_of_one("1000 imp/kWh"), wh_of_one("7.2 Wh/rev"), wh_of_one("3.6 Wh")
    (1.0, 7.2, '3.6 Wh')
    """
    if not isinstance(value, str):
        return value
    if found := _PER_KWH.fullmatch(value.strip()):
        number = float(found[1].replace(",", "."))
        return 1000.0 / number if number > 0 else value
    found = _WH_OF_ONE.fullmatch(value.strip())
    return float(found[1].replace(",", ".")) if found else value


_MANY = r"(10{1,3}|0?\.0{0,2}1)"
_OF_MANY = re.compile(rf"\(\s*(?:in\s+)?[x×*]?\s*{_MANY}\s*[x×*]?\s*k?wh\s*\)|[x×*]\s*{_MANY}\s*k?wh", re.I)


def times_of(heading: str) -> float:
    """Return of how many of its unit each figure below a heading is: tens, hundreds, hundredths; 1 where none is said.

    Examples
    --------
    >>> times_of("usage (x100 kWh)"), times_of("reading (0.01 kWh)"), times_of("kWh")
    (100.0, 0.01, 1.0)
    """
    found = _OF_MANY.search(heading)
    return 1.0 if found is None else float(found[1] or found[2])


def stopwatch_seconds(value: Any) -> Any:
    """Return the seconds of minutes and seconds, or of hours, minutes and seconds, as a stopwatch shows them.

    Examples
    --------
    >>> stopwatch_seconds("10:00"), stopwatch_seconds("1:02:30.5"), stopwatch_seconds("600")
    (600.0, 3750.5, '600')
    """
    if isinstance(value, time):
        return 3600.0 * value.hour + 60.0 * value.minute + value.second + value.microsecond / 1e6
    found = _STOPWATCH.fullmatch(value.strip()) if isinstance(value, str) else None
    if found is None or (found[1] is not None and int(found[2]) > 59):
        return value
    return 3600.0 * int(found[1] or 0) + 60.0 * int(found[2]) + float(found[3])
