"""The grammar of a date, a clock time and a distance from UTC in one cell, asked once for every shape."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping
from datetime import datetime, timedelta, tzinfo
from functools import lru_cache
from typing import NamedTuple

from reconcile.read.values.month_names import month_number

SETTLED, UNSETTLED, SHORT_YEAR = 1, 2, 3
"""Kinds of a date: year, month and day are known; day and month may change places; the year has two digits."""
DATE_KIND = 100_000_000
"""What the kind of a date is counted by in a number that also holds its year, month and day."""
NO_OFFSET = -(2**31)
"""Stands for a time that carries no distance from UTC."""


def folded(cell: bytes) -> str:
    """Return a cell's text with one letter a byte: an accent is left out, and ``~`` fills its place.

    Examples
    --------
    >>> folded("Mär".encode()), folded("2025年3月".encode())
    ('Ma~r', '2025-~~3-~~')
    """
    text = cell.rstrip(b"\0").decode("utf-8", "replace")
    if text.isascii():
        return text
    out = []
    for letter in text:
        size = len(letter.encode())
        plain = "-" if letter in "年月–" else unicodedata.normalize("NFKD", letter)[0]
        plain = plain if plain.isascii() and not plain.isdigit() else "~"
        out.append(plain + "~" * (size - 1) if size > 1 else letter)
    made = "".join(out)
    return made if len(made) == len(cell.rstrip(b"\0")) else cell.rstrip(b"\0").decode("latin-1")


ZONES: dict[str, float] = {
    name: hours
    for hours, names in {
        -10: "hst", -9: "akst", -8: "pst akdt", -7: "mst pdt", -6: "cst mdt", -5: "est cdt", -4: "ast edt", -3.5: "nst",
        -3: "adt", -2.5: "ndt", 0: "utc gmt z wet", 1: "west cet mez bst", 2: "cest mesz eet sast", 3: "eest",
        8: "awst hkt", 9: "jst kst", 9.5: "acst", 10: "aest", 10.5: "acdt", 11: "aedt", 12: "nzst", 13: "nzdt",
    }.items()
    for name in names.split()
}  # fmt: skip
"""Letters of clocks, in hours from UTC (common practice); those of the house's own clock come first."""

_WEEKDAY = (
    "mon|tue|wed|thu|fri|sat|sun|mo|di|mi|do|fr|sa|so|lun|mar|mer|jeu|ven|sam|dim|jue|vie|dom|gio"
    "|seg|ter|qua|qui|sex|zo"
)
_MONTH = r"(?P<name{}>[a-z~]{{3,12}})\.?"
_NTH = r"(?:(?:st|nd|rd|th|er)(?![a-z]))?"
_DATE = "|".join(
    (
        r"(?P<y1>\d{4})[-/.]~* ?(?P<m1>\d{1,2})[-/.]~* ?(?P<d1>\d{1,2})[~.]*",
        r"(?P<a>\d{1,2})(?P<sep>[-/.]) ?(?P<b>\d{1,2})(?P=sep) ?(?P<y2>\d{4}|\d{2})",
        rf"(?P<d3>\d{{1,2}}){_NTH}(?: (?:de|di|of) |[-/ .]{{0,2}}){_MONTH.format('')}"
        rf"(?: (?:de|di) |[-/ .,]{{0,2}}'?)(?P<y3>\d{{4}}|\d{{2}})",
        rf"{_MONTH.format('2')}[-/ ]{{0,2}}(?P<d4>\d{{1,2}}){_NTH}[-,/ ]{{1,2}}'?(?P<y4>\d{{4}}|\d{{2}})",
        r"(?P<y5>(?:19|20)\d{2})(?P<m5>\d{2})(?P<d5>\d{2})(?=$|[T _-]|\d{4}(?:\d{2})?(?:\D|$))",
        rf"(?P<y6>\d{{4}})[-/ .]{_MONTH.format('3')}[-/ .]{{1,2}}(?P<d6>\d{{1,2}})",
    )
)
_DAY = rf"(?:(?:{_WEEKDAY})[a-z~]{{0,9}}\.?,?\s+)?(?:{_DATE})"
_DAY_CELL = re.compile(_DAY, re.IGNORECASE | re.ASCII)
_CLOCK = (
    r"(?P<H>\d{1,2})[AB]?[:.](?P<M>\d{2})(?:[:.](?P<S>\d{2})(?:[.,]\d{1,9})?)?"
    r"|(?P<H3>\d{1,2})(?= ?[ap]\.? ?m)|(?P<H2>\d{2})(?P<M2>\d{2})(?P<S2>\d{2})?|(?P<H4>\d{1,2})h(?P<M4>\d{2})"
    r"|(?<=[T ])(?P<H5>\d{2})(?=$|[-+Z])"
)
_OFFSET = r"(?:UTC|GMT)?(?P<sign>[+-])(?P<oh>\d{1,2})(?::?(?P<om>\d{2}))?|(?P<zone>[a-z]{1,5})"
_HALF = r"(?P<pm>[ap](?=\.?[ ]?m|(?![a-z]))|(?:midnight|noon)(?![a-z]))"
_DATE_CELL = re.compile(
    rf"\s*{_DAY}"
    rf"(?:[T ,:_-]*(?:{_CLOCK})(?:\s?{_HALF}(?:\.?\s?m\.?)?)?\s?"
    r"\(?(?:" + _OFFSET + r")?\)?(?: ?UTC|\[[A-Za-z_/]+\])?)?"
    r"(?P<until>\s?(?:-~*|to)\s.*)?\s*",
    re.IGNORECASE | re.ASCII,
)


class Found(NamedTuple):
    """A date that was found in a cell: what of the grammar stands there, and the month that a name says."""

    match: re.Match[str]
    month: int | None

    def span(self, *names: str) -> tuple[int, int] | None:
        """Return where the first of some groups stands that does."""
        return next((self.match.span(name) for name in names if self.match[name] is not None), None)

    def text(self, *names: str) -> str:
        """Return what it says there."""
        return next((self.match[name] for name in names if self.match[name] is not None), "")


YEARS, MONTHS, DAYS = ("y1", "y2", "y3", "y4", "y5", "y6"), ("m1", "a", "m5"), ("d1", "b", "d3", "d4", "d5", "d6")
"""Groups of the grammar: the year, then month and day, which may change places where they are ``a`` and ``b``."""


def find_date(cell: bytes, *, clock: bool = True) -> Found | None:
    """Return the date in a cell, with whatever stands behind it of a clock; None where it is none.

    >>> find_date("Sa, 9. März 2024".encode()).month, find_date(b"12 kWh 2024"), find_date(b"9 Mar 24 7 h")
    (3, None, None)
    """
    match = (_DATE_CELL if clock else _DAY_CELL).fullmatch(folded(cell))
    if match is None:
        return None
    name = match["name"] or match["name2"] or match["name3"]
    month = month_number(name.replace("~", "")) if name else None
    return Found(match, month) if month is not None or not name else None


class Shape(NamedTuple):
    """Where the digits of a shape stand: (first, after) of each number, None where it has none."""

    kind: int
    year: tuple[int, int]
    first: tuple[int, int] | int
    """The month, or the first of two numbers that may be day and month; a number where a name says it."""
    second: tuple[int, int]
    clock: tuple[tuple[int, int] | None, ...]
    """Hour, minute, second."""
    half: int | None
    """0 in the morning, 12 in the afternoon."""
    sign: int
    """Of the distance from UTC; 0 where it is ``fixed``."""
    offset: tuple[tuple[int, int] | None, ...]
    fixed: int
    until: bool


@lru_cache(maxsize=64)
def letters_of(zone: tzinfo | None) -> Mapping[str, int]:
    """Return the letters of clocks with their distance from UTC [s]; a zone's own before those of others.

    Examples
    --------
    >>> from zoneinfo import ZoneInfo
    >>> letters_of(None)["cst"], letters_of(ZoneInfo("Asia/Shanghai"))["cst"]
    (-21600, 28800)
    """
    letters = {name: round(3600 * hours) for name, hours in ZONES.items()}
    for month in (1, 7) if zone is not None else ():
        at = datetime(2025, month, 1, tzinfo=zone)
        name, away = at.tzname(), at.utcoffset() or timedelta(0)
        if name is not None and name.isalpha():
            letters[name.casefold()] = round(away.total_seconds())
    return letters


def shape_of(cell: bytes, letters: Mapping[str, int]) -> Shape | None:
    """Return where the digits of a cell stand; None where it is no date.

    Parameters
    ----------
    letters : mapping
        Letters of clocks and their distance from UTC [s].
    """
    there = find_date(cell)
    if there is None:
        return None
    found, span = there.match, there.span
    year, second = span(*YEARS), span(*DAYS)
    first = there.month or span(*MONTHS)
    assert year is not None
    assert second is not None
    assert first is not None
    kind = SETTLED
    if year[1] - year[0] == 2:
        kind = SETTLED if there.month else SHORT_YEAR
    elif found["a"] is not None:
        kind = UNSETTLED
    fixed = NO_OFFSET
    if found["zone"]:
        fixed = letters.get(found["zone"].casefold(), NO_OFFSET)
        if fixed == NO_OFFSET:
            return None
    sign = {None: 0, "+": 1, "-": -1}[found["sign"]]
    half = None if found["pm"] is None else 12 * (found["pm"].casefold() in ("p", "noon"))
    clock = (span("H", "H2", "H3", "H4", "H5"), span("M", "M2", "M4"), span("S", "S2"))
    offset = (span("oh"), span("om"))
    return Shape(kind, year, first, second, clock, half, sign, offset, fixed, found["until"] is not None)
