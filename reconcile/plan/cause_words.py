"""Sentences of the weigher: one place for how chances, sizes and causes are said."""

from __future__ import annotations

import math
from datetime import date
from decimal import Decimal


def rounded(value: float, doubt: float | None = None) -> str:
    """Write a number to no more figures than its doubt bears.

    Examples
    --------
    >>> rounded(212.4, 31.0)
    '210'
    >>> rounded(1234.0)
    '1,230'
    >>> rounded(3.26)
    '3.3'
    """
    if doubt is not None and math.isfinite(doubt) and doubt > 0:
        # a doubt as large as the number itself still leaves its first figure
        step = 10.0 ** math.floor(math.log10(min(doubt, abs(value)) if value else doubt))
    elif value == 0 or not math.isfinite(value):
        return "0"
    else:
        step = 10.0 ** (math.floor(math.log10(abs(value))) - (2 if abs(value) >= 100 else 1))
    scaled = round(value / step) * step
    return f"{scaled:,.{max(0, -math.floor(math.log10(step)))}f}"


def chance(probability: float) -> str:
    """Say a chance in words and number.

    Examples
    --------
    >>> chance(0.8)
    'likely (about 80 %)'
    """
    percent = round(100 * probability)
    number = "over 99 %" if probability > 0.99 else "under 1 %" if probability < 0.01 else f"about {percent} %"
    for limit, word in (
        (0.95, "very likely"),
        (0.75, "likely"),
        (0.55, "more likely than not"),
        (0.45, "as likely as not"),
        (0.2, "possible"),
        (0.05, "unlikely"),
    ):
        if probability >= limit:
            return f"{word} ({number})"
    return f"very unlikely ({number})"


def money(amount: Decimal | float | None, currency: str) -> str:
    """Write an amount, ``about $31``; empty where none is known.

    Examples
    --------
    >>> money(Decimal("31.4"), "USD")
    'about $31'
    """
    if amount is None:
        return ""
    sign = "$" if currency == "USD" else ""
    tail = "" if sign else f" {currency}"
    value = float(amount)
    return f"about {'-' if value < 0 else ''}{sign}{abs(value):,.0f}{tail}"


def month(day: date) -> str:
    """Name a day's month and year: ``March 2025``."""
    return f"{day:%B %Y}"


_SAYS = {
    "none": "Nothing but days, weather and habit is needed to account for these bills",
    "single-period": "One period stands out {side} by {size} kWh, the one that begins {since}",
    "swap": "About {size} kWh was billed in one of two neighbouring periods and belongs to the other (from {since})",
    "meter-step": "The meter registers about {size} % more than is used, since {since}",
    "meter-always": "The meter has registered about {size} % more than is used since before the first bill",
    "old-meter-slow": "The old meter registered about {size} % less than was used, until {since}",
    "meter-low": "The meter registers about {size} % less than is used, since {since}",
    "constant-load": "Something draws about {size} W round the clock since {since}",
    "timed-load": "Something drew about {size} W on average for some months, from {since}",
    "habit-step": "The household's own use {moved} by about {size} % from {since}",
    "heating-rise": "Heating uses about {size} % more for the same weather since {since}",
    "cooling-rise": "Cooling uses about {size} % more for the same weather since {since}",
    "heating-fall": "Heating uses about {size} % less for the same weather since {since}",
    "cooling-fall": "Cooling uses about {size} % less for the same weather since {since}",
    "unlisted": "About {size} W on average has been there all the time and is not on the list",
    "load-gone": "About {size} W on average fell away from {since}",
}


def cause_text(
    code: str, probability: float, since: date | None, size: float | None, unit: str, doubt: float | None = None
) -> str:
    """Say a cause in one sentence with its chance in words and number, its size rounded to its doubt."""
    fell = size is not None and size < 0
    body = _SAYS[code].format(
        size=rounded(abs(size), doubt) if size is not None else "",
        since=f"{since:%d %B %Y}".lstrip("0") if since is not None else "before the first bill",
        moved="fell" if fell else "rose",
        side="low" if fell else "high",
    )
    return f"{body}: {chance(probability)}."
