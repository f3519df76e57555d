"""Quantities with a unit as people write them, brought into the form :func:`reconcile.units.parse` reads."""

from __future__ import annotations

import re

from reconcile import units
from reconcile.errors import UnitError

LONGEST = 60
"""Characters of a quantity; longer ones are a sentence (common practice)."""

_ALLOWED = re.compile(r"[0-9A-Za-z\s.*/^()+\-²³%°µ]+")
_POWER = re.compile(r"(?:\*\*|\^)(?!\s*[+-]?[123](?![0-9.]))")
_TIMES = re.compile(r"(?<=[\sA-Za-z0-9)])\s*[×·]\s*|\s+[xX]\s+")
_COMMA = re.compile(r"\d,\d")
_SEVERAL = re.compile(r"\d\s+\d|\d\s*/\s*\d|\d\s*k?w(?:atts?)?\b.*\d\s*k?w(?:atts?)?\b", re.IGNORECASE)
"""More than one number: ``750/1500W`` is the lower and the higher, never a half of a watt."""
_SUM = re.compile(r"(?<=[^\s(*^eE])\s*[+-]")
"""A sum or a range: ``60-100 W`` is no quantity; a sign may stand first or in a power."""
_A_RATE = re.compile(r"/|\bper\b")
_AMPS = re.compile(r"(?<![A-Za-z])(?:[mk]?VA|volt[-_]?amp(?:ere)?s?|[mk]?A|ampere)(?![A-Za-z])")
_SHAFT = re.compile(r"(?<![A-Za-z])(?:hp|horsepower)(?![A-Za-z])")
_WORDS = {
    word: unit
    for unit, words in {
        "ampere": "amp amps amperes",
        "V": "v volt volts",
        "VA": "va",
        "kVA": "kva",
        "W": "w watt watts",
        "kW": "kw",
        "Wh": "wh",
        "kWh": "kwh",
        "hp": "hp",
        "h": "hr hrs",
        "min": "min mins minutes",
        "week": "wk",
        "ft^2": "sqft",
    }.items()
    for word in words.split()
}


def tidy(text: str) -> str:
    """Return a quantity with the spellings of daily use replaced by those of the unit registry.

    >>> tidy("12 Amps x 120 volts")
    '12 ampere*120 V'
    """
    text = _TIMES.sub("*", text.strip())
    return re.sub(r"[A-Za-z]+", lambda m: _WORDS.get(m[0].casefold(), m[0]), text)


def parse(text: str, unit: str) -> float:
    """Read a quantity with its unit as a float in ``unit``.

    Raises
    ------
    UnitError
        Where it is none, or cannot become ``unit``; its text is a clause for a fault.

    Examples
    --------
    >>> parse("12 amps x 120 volts", "W")
    1440.0
    """
    if len(text) > LONGEST:
        raise UnitError("this is text where a number is wanted")
    if _COMMA.search(text):
        raise UnitError("a comma in a number can be read two ways")
    if _SEVERAL.search(text) or _SUM.search(text):
        raise UnitError("this holds more than one number")
    if "/" in unit and not _A_RATE.search(text):
        raise UnitError("this is no rate, such as 3 h/week")
    if not _ALLOWED.fullmatch(_TIMES.sub("*", text)) or _POWER.search(text):
        raise UnitError("this is text where a number is wanted")
    return units.parse(tidy(text), unit)


def from_amps(text: str) -> bool:
    """Whether a quantity is amps x volts (VA, a nameplate maximum) rather than watts.

    >>> from_amps("12 A * 120 V"), from_amps("1.5 kW")
    (True, False)
    """
    return bool(_AMPS.search(tidy(text)))


def from_shaft(text: str) -> bool:
    """Whether a quantity is what a motor's shaft gives.

    >>> from_shaft("0.75 hp")
    True
    """
    return bool(_SHAFT.search(tidy(text)))
