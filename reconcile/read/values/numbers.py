"""Numbers as people write them: signs of currency, thousands, either decimal sign, a unit or a mark behind."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache
from typing import Literal

from reconcile.records import dataclass

Decimal = Literal[".", ","]

LONGEST = 200
"""Characters of a number with its unit; longer ones are a sentence."""

CURRENCIES: dict[str, str | None] = {
    "us$": "USD",
    "a$": "AUD",
    "au$": "AUD",
    "c$": "CAD",
    "ca$": "CAD",
    "nz$": "NZD",
    "r$": "BRL",
    "$": None,
    "€": "EUR",
    "£": "GBP",
    "₹": "INR",
    "rs": "INR",
    "rs.": "INR",
    "¥": None,
    "zł": "PLN",
    "kč": "CZK",
    "fr.": "CHF",
    "kr": None,
    "kr.": None,
    "r": "ZAR",
    **dict.fromkeys(("dollars", "dollar"), None),
    **dict.fromkeys(("euros", "euro"), "EUR"),
    **dict.fromkeys(("rupees", "rupee"), "INR"),
    **{code.casefold(): code for code in ("USD", "EUR", "GBP", "INR", "AUD", "CAD", "NZD", "CHF", "ZAR", "JPY")},
    **{code.casefold(): code for code in ("SEK", "NOK", "DKK", "PLN", "CZK", "BRL", "MXN")},
}
"""Signs of money; None where several countries share one."""

OF_SEVERAL: dict[str, frozenset[str]] = {
    **dict.fromkeys("$d", frozenset(("USD", "CAD", "AUD", "NZD", "MXN", "BRL"))),
    "\N{YEN SIGN}": frozenset(("JPY", "CNY")),
    "k": frozenset(("SEK", "NOK", "DKK")),
}
"""Currencies that share a sign or a word, by its first letter: ``$`` and dollars, yen and yuan, crowns."""

_CURRENCY = "|".join(sorted((re.escape(sign) for sign in CURRENCIES), key=len, reverse=True))
_WRITTEN = re.compile(
    rf"(?P<open>\()?\s*(?P<sign>[+-])?\s*(?P<money>{_CURRENCY})?\s*(?P<sign2>[+-])?"
    r"(?P<number>\d[\d.,' ’]*\d|\d|[.,]\d+)(?P<point>[.,](?![\d.,]))?"
    r"(?P<tail>[^)]*)(?P<close>\))?",
    re.IGNORECASE | re.ASCII,
)
_POINT = re.compile(
    r"\d+(?:\.\d*)?|\.\d+|[1-9]\d{0,2}(?:([,' ’])\d{3})(?:\1\d{3})*(?:\.\d+)?|[1-9]\d?(?:,\d\d)+,\d{3}(?:\.\d+)?"
)
_COMMA = re.compile(r"\d+(?:,\d*)?|,\d+|[1-9]\d{0,2}(?:([.' ’])\d{3})(?:\1\d{3})*(?:,\d+)?")
_TAIL_MONEY = re.compile(rf"\s*(?P<money>{_CURRENCY})?\s*(?P<sign>-|cr|credit)?\s*\.?", re.IGNORECASE)
_MARK = re.compile(
    r"\s*[(\[]?\s*(?P<mark>e|est\.?|estimated?|a|act\.?|actual|c|customer)\s*\??\s*[)\]]?", re.IGNORECASE
)
_MARKED_UNIT = re.compile(
    r"(?P<unit>[A-Za-z]+)\s*(?:[(\[]\s*(?P<mark>e|est\.?|estimated?|a|act\.?|actual)\s*[)\]]|(?P<word>est\.?|estimated|actual))",
    re.IGNORECASE,
)
"""A unit with a mark behind it: ``kWh (E)``."""
_MARK_BEFORE = re.compile(
    r"[(\[]?\s*(?P<mark>est\.?|estimated|act\.?|actual)\s*[)\]]?\s*:?\s*(?=[\d$€£₹.])", re.IGNORECASE
)
_ABOUT = re.compile(
    r"(?:[~\N{ALMOST EQUAL TO}]|about|approx(?:\.|imately)?|around|circa|ca\.?)\s*(?=[\d$€£₹])", re.IGNORECASE
)
"""A sign or word before a rounded figure, which is the figure all the same; :func:`rounded` tells of it."""
_NO_CENTS = re.compile(r"(?<=\d)[.,][-\N{EN DASH}\N{EM DASH}]{1,2}(?![\d-])")
"""``121,-``: an amount without cents."""
_A_DAY = re.compile(r"\s*[(\[][^()\[\]]*\d[^()\[\]]*(?:/|\bper |\ba )\s*d(?:ay)?\b[^()\[\]]*[)\]]$", re.IGNORECASE)
"""The average of a day in brackets behind a figure, as portals show it."""
_POWER_OF_TEN = re.compile(r"[eE][+-]?\d")
_EXPONENT = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,4})?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Written:
    """A number taken apart: its plain digits, and what stood around them."""

    digits: str
    """Such as ``-1204.5``: a point for decimals, nothing between thousands."""
    tail: str = ""
    money: str | None = None
    """The sign or code of a currency, small; None where none stood there."""
    marked: str | None = None
    """A mark that stood before the number or behind its unit."""

    @property
    def mark(self) -> str | None:
        """A mark of an estimate or an actual reading beside the number, small."""
        if self.marked:
            return self.marked.rstrip(".").casefold()
        match = _MARK.fullmatch(self.tail) if self.tail else None
        return match["mark"].rstrip(".").casefold() if match else None


_FULL_WIDTH = {0x3000: " ", **{code: chr(code - 0xFEE0) for code in range(0xFF01, 0xFF5F)}}
"""Letters, digits and signs as wide as those of East Asian scripts, and what they are."""


def half_width(text: str) -> str:
    """Return text with wide letters, digits and signs as narrow ones.

    >>> half_width("\uff18\uff11\uff12 kWh")
    '812 kWh'
    """
    return text if text.isascii() else text.translate(_FULL_WIDTH)


_SPACE = re.compile("[\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}\N{FIGURE SPACE}\t\n]")
_MINUS = re.compile("[\N{MINUS SIGN}\N{EN DASH}](?=\\s*[\\d$€£₹.,])")


def tidy(text: str) -> str:
    """Return text with the many kinds of space and minus brought to one of each."""
    if text.isascii() and text.isprintable():
        return text.strip()
    return _MINUS.sub("-", _SPACE.sub(" ", text)).strip()


def plain(text: str) -> bool:
    """Whether text is a number in the plain form: 1234.5, -3, 1e3."""
    return len(text) <= LONGEST and _EXPONENT.fullmatch(text) is not None


def written(text: str, decimal: Decimal = ".") -> Written | None:
    """Take a number apart under one decimal sign; None where it is none under it.

    Examples
    --------
    >>> written("1.204,50 €", ",")
    Written(digits='1204.50', tail='', money='€', marked=None)
    >>> written("1.204,50") is None
    True
    """
    text = tidy(text)
    return None if len(text) > LONGEST else _taken_apart(text, decimal)


@lru_cache(maxsize=4096)
def _taken_apart(text: str, decimal: Decimal) -> Written | None:
    if plain(text) and (decimal == "." or "." not in text):
        return Written(text)
    before = _MARK_BEFORE.match(text)
    if before is not None:
        found = written(text[before.end() :], decimal)
        return None if found is None or found.mark else replace(found, marked=before["mark"])
    text = _NO_CENTS.sub("", _ABOUT.sub("", text, count=1) if _ABOUT.match(text) else text)
    match = _WRITTEN.fullmatch(_A_DAY.sub("", text) if text.endswith((")", "]")) else text)
    if match is None or (match["open"] and not match["close"]) or (match["sign"] and match["sign2"]):
        return None
    number = match["number"].rstrip(" '’")
    if not (_POINT if decimal == "." else _COMMA).fullmatch(number):
        return None
    digits = re.sub("[,' ’]" if decimal == "." else "[.' ’]", "", number).replace(",", ".")
    digits = f"0{digits}" if digits.startswith(".") else digits
    tail, money = match["tail"].strip(), match["money"]
    if _POWER_OF_TEN.match(tail):
        return None
    negative = "-" in (match["sign"], match["sign2"]) or bool(match["open"] and match["close"])
    if match["close"] and not match["open"]:
        tail += ")"
    after = _TAIL_MONEY.fullmatch(tail)
    if after and (after["money"] or after["sign"]) and not (money and after["money"]):
        money, tail = money or after["money"], ""
        negative = negative or bool(after["sign"])
    marked = _MARKED_UNIT.fullmatch(tail)
    if marked is not None:
        tail = marked["unit"]
    mark = (marked["mark"] or marked["word"]) if marked is not None else None
    return Written(f"-{digits}" if negative else digits, tail, money.casefold() if money else None, mark)


def figure(value: object, *signs: Decimal) -> float | None:
    """Return the number in a cell, of a text under one sign, or the first of both by which it is one.

    >>> figure("1.204,50 kWh"), figure(630), figure(True), figure("1.204,50", ".")
    (1204.5, 630.0, None, None)
    """
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    either: tuple[Decimal, ...] = (".", ",")
    found = (written(value, sign) for sign in signs or either) if isinstance(value, str) else ()
    return next((float(one.digits) for one in found if one is not None), None)


def rounded(value: object) -> bool:
    """Whether a cell says that its figure is a rounded one.

    >>> rounded("~500"), rounded("about 500 kWh"), rounded("500")
    (True, True, False)
    """
    return isinstance(value, str) and _ABOUT.match(tidy(value)) is not None


def is_open(text: str) -> bool:
    """Whether a number means two things under the two decimal signs.

    >>> is_open("1,204"), is_open("1.204 kWh"), is_open("630"), is_open("1,204.50")
    (True, True, False, False)
    """
    first, second = written(text, "."), written(text, ",")
    return first is not None and second is not None and float(first.digits) != float(second.digits)
