"""Numbers, money, dates, chances and codes as a tired householder reads them."""

from __future__ import annotations

import math
import re
import unicodedata
from collections.abc import Iterable
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from reconcile.say import MONTHS, Voice
from reconcile.texts.causes import NAMES as CAUSES
from reconcile.texts.decisions import FLAGS
from reconcile.texts.decisions import NAMES as DECISIONS

_SYMBOLS = {"USD": "$", "EUR": "€", "GBP": "£"}

__all__ = ["CAUSES", "DECISIONS", "FLAGS"]

HAZARDS = (
    "On paper",
    "Looking and writing down",
    "With a plug-in meter, nothing opened",
    "Main breaker off, every cover on",
    "The utility's people",
    "At the panel: a qualified person only",
)
"""Heading for each hazard of :class:`reconcile.result.Step`."""

BRIDGE = {
    "price": "Price",
    "fixed": "Fixed charges",
    "days": "Length of the period",
    "weather": "Weather",
    "use": "Use",
    "excess": "Use outside the usual",
}

FINDINGS = {
    "gap": "Days without a bill",
    "overlap": "Bills overlap",
    "duplicate": "The same bill twice",
    "days-mismatch": "Printed days do not fit the dates",
    "long-period": "Long period",
    "short-period": "Short period",
    "estimated-read": "Estimated reading",
    "catch-up": "Catch-up after an estimate",
    "reading-mismatch": "Readings do not give the kWh",
    "stopped-register": "Meter stopped",
    "unit-mismatch": "Unit or column",
    "unit-price": "kWh against amount",
    "rollover": "Register passed its end",
    "reading-slip": "Misread or keying error",
    "multiplier": "Multiplier",
    "meter-exchange": "Meter exchange",
    "meter-number": "Another meter on the bill",
    "price-change": "Price change",
    "amount-mismatch": "Amount differs from the tariff as typed",
    "interval-mismatch": "Interval data and bill disagree",
    "proration": "Price change inside a bill",
    "rebill": "Bill written anew",
    "budget-settlement": "Budget plan settled",
    "other-charge": "Other charges",
    "rate-code-change": "Price plan changed",
    "negative-use": "Negative use",
}


def spoken(code: str, words: dict[str, str]) -> str:
    """Return the words for a code; a code that is not known yet reads as itself without hyphens.

    Examples
    --------
    >>> spoken("meter-step", CAUSES)
    'meter fast'
    >>> spoken("moon-phase", CAUSES)
    'moon phase'
    """
    return words.get(code, code.replace("-", " "))


def named_cause(code: str, since: date | None) -> str:
    """Return the words for a cause with the date from which it acts.

    Examples
    --------
    >>> named_cause("meter-step", date(2025, 3, 7))
    'meter fast, from 7 Mar 2025'
    """
    word = "until" if code == "old-meter-slow" else "from"
    return spoken(code, CAUSES) + (f", {word} {day(since)}" if since else "")


def clean(value: Any) -> Any:
    r"""Drop what can steer a terminal or reorder a line from a text; anything else passes unchanged.

    Control characters (escape sequences among them) and direction overrides become spaces.

    Examples
    --------
    >>> clean("red \x1b[31m alarm")
    'red  [31m alarm'
    """
    if type(value) is not str:
        return value
    return "".join(
        " " if unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Zl", "Zp") and letter != "\u00ad" else letter
        for letter in value
    )


_UNIT = re.compile(r"(?<=\d) (?=(?:%|±|kWh|kW|W)(?![A-Za-z]))|(?<=±) (?=\d)")


def glued(text: str) -> str:
    r"""Keep numbers beside their units where a line breaks, by spaces that do not break.

    Examples
    --------
    >>> glued("690 ± 80 kWh, about 12 %").count("\N{NO-BREAK SPACE}")
    4
    """
    return _UNIT.sub("\N{NO-BREAK SPACE}", text)


def shorten(text: str, most: int) -> str:
    """Return ``text`` in at most ``most`` letters, the cut marked.

    Examples
    --------
    >>> shorten("A very long name for a freezer", 12)
    'A very long…'
    """
    text = " ".join(str(clean(text)).split())
    return text if len(text) <= most else text[: most - 1].rstrip() + "…"


def step_of(doubt: float) -> float:
    """Return the power of ten to which a number with this doubt is rounded: at most half the doubt.

    Examples
    --------
    >>> step_of(83.0), step_of(15.0), step_of(150.0)
    (10.0, 1.0, 10.0)
    """
    if not (math.isfinite(doubt) and doubt > 0):
        return 1.0
    return float(10.0 ** math.floor(math.log10(doubt / 2.0)))


def number(value: float | None, step: float = 1.0) -> str:
    """Write a number to a step, with thousands apart; None is a dash.

    Examples
    --------
    >>> number(1234.6), number(1234.6, 10.0), number(0.128, 0.01), number(None)
    ('1,235', '1,230', '0.13', '–')
    """
    if value is None or not math.isfinite(value):
        return "–"
    places = max(0, -math.floor(math.log10(step)))
    rounded = round(round(value / step) * step, places) + 0.0
    return f"{rounded:,.{places}f}".replace("-", "−")


def two_figures(value: float | None) -> str:
    """Write a number that is itself a rough one to two figures, without an idle nought.

    Examples
    --------
    >>> two_figures(9.04), two_figures(4.63), two_figures(317.0), two_figures(-0.021), two_figures(0.0)
    ('9', '4.6', '320', '−0.021', '0')
    """
    if value is None or not math.isfinite(value) or value == 0:
        return number(value)
    text = number(value, float(10.0 ** (math.floor(math.log10(abs(value))) - 1)))
    return text.removesuffix(".0")


def billed(kwh: float | None) -> str:
    """Write energy as a bill prints it: no rounding beyond a hundredth.

    Examples
    --------
    >>> billed(812.0), billed(1812.25), billed(None)
    ('812', '1,812.25', '–')
    """
    if kwh is None or not math.isfinite(kwh):
        return "–"
    text = f"{kwh:,.2f}"
    return text.rstrip("0").rstrip(".").replace("-", "−")


def signed(value: float | None, step: float = 1.0) -> str:
    """Write a difference with its sign.

    Examples
    --------
    >>> signed(212.4), signed(-31.0, 10.0), signed(0.2)
    ('+212', '−30', '0')
    """
    text = number(value, step)
    return text if text.startswith(("−", "–")) or not text.strip("0.,") else "+" + text


def between(low: float | None, high: float | None) -> str:
    """Write limits, rounded to their own width.

    Examples
    --------
    >>> between(611.2, 778.9), between(None, None)
    ('610 to 780', '–')
    """
    if low is None or high is None or not (math.isfinite(low) and math.isfinite(high)):
        return "–"
    step = step_of((high - low) / 2.0)
    return f"{number(low, step)} to {number(high, step)}"


def give_or_take(value: float | None, low: float | None, high: float | None) -> str:
    """Write a value with half the width of its limits, both to the same step.

    Examples
    --------
    >>> give_or_take(694.0, 611.0, 777.0)
    '690 ± 80'
    """
    if value is None or low is None or high is None:
        return number(value)
    half = (high - low) / 2.0
    step = step_of(half)
    return f"{number(value, step)} ± {number(half, step)}"


def money(amount: Decimal | float | None, currency: str, *, about: bool = False, sign: bool = False) -> str:
    """Write money in the house's currency; ``about`` drops the cents of an inferred amount.

    Examples
    --------
    >>> money(Decimal("1131.255"), "USD"), money(Decimal("31.42"), "USD", about=True)
    ('$1,131.26', '$31')
    >>> money(-3, "CHF", sign=True)
    '−3.00 CHF'
    """
    if amount is None:
        return "–"
    exact = Decimal(str(amount))
    places = Decimal("1") if about else Decimal("0.01")
    rounded = exact.quantize(places, rounding=ROUND_HALF_UP)
    body = f"{abs(rounded):,}"
    before = "−" if rounded < 0 else "+" if sign and rounded > 0 else ""  # what rounds to nothing has no sign
    symbol = _SYMBOLS.get(currency)
    return f"{before}{symbol}{body}" if symbol else f"{before}{body} {currency}"


def day(when: date | None) -> str:
    """Write a date that nobody can read two ways.

    Examples
    --------
    >>> day(date(2025, 3, 7))
    '7 Mar 2025'
    """
    return "–" if when is None else f"{when.day} {MONTHS[when.month - 1][:3]} {when.year}"


def span(start: date, end: date) -> str:
    """Write the two dates of a period, the year once where one will do.

    Examples
    --------
    >>> span(date(2025, 3, 7), date(2025, 4, 6)), span(date(2024, 12, 8), date(2025, 1, 7))
    ('7 Mar – 6 Apr 2025', '8 Dec 2024 – 7 Jan 2025')
    """
    first = f"{start.day} {MONTHS[start.month - 1][:3]}" if start.year == end.year else day(start)
    return f"{first} – {day(end)}"


def percent_of_chance(probability: float) -> str:
    """Write a chance as the number that :meth:`reconcile.say.Voice.chance` gives beside its words.

    Examples
    --------
    >>> percent_of_chance(0.8)
    'about 80 %'
    """
    return Voice().chance_percent(probability)


def listed(items: Iterable[str]) -> str:
    """Join items as a sentence does.

    Examples
    --------
    >>> listed(["a", "b", "c"])
    'a, b and c'
    """
    every = list(items)
    return every[0] if len(every) == 1 else ", ".join(every[:-1]) + " and " + every[-1] if every else ""
