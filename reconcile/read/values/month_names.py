"""Names of the months as people write them, in the languages of the bills that are read."""

from __future__ import annotations

import re
import unicodedata
from datetime import date
from functools import lru_cache
from typing import Any

MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
OTHER_NAMES: tuple[tuple[str, ...], ...] = (
    ("januar", "jänner", "janvier", "enero", "gennaio", "januari", "janeiro"),
    ("februar", "février", "febrero", "febbraio", "februari", "fevereiro"),
    ("märz", "maerz", "mrz", "mars", "marts", "marzo", "maart", "mrt", "março"),
    ("avril", "abril", "aprile"),
    ("mai", "mayo", "maggio", "mei", "maj", "maio"),
    ("juni", "juin", "junio", "giugno", "junho"),
    ("juli", "juillet", "julio", "luglio", "julho"),
    ("août", "agosto", "augustus", "augusti"),
    ("septembre", "septiembre", "setiembre", "settembre", "setembro"),
    ("oktober", "octobre", "octubre", "ottobre", "outubro"),
    ("november", "novembre", "noviembre", "novembro"),
    ("dezember", "décembre", "diciembre", "dicembre", "dezembro", "desember"),
)
"""German, French, Spanish, Italian, Dutch, Portuguese and Scandinavian names; a beginning will do where it is of one
month."""
NAMES = tuple((english, *others) for english, others in zip(MONTHS, OTHER_NAMES, strict=True))
"""All names of each month."""

SHORTEST = 3
"""Letters of a month's name that tell it (Jan, Feb, ...)."""


def without_accents(text: str) -> str:
    """Return small text without the marks above and below its letters.

    >>> without_accents("Février")
    'fevrier'
    """
    parted = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in parted if not unicodedata.combining(letter))


_NAMES = tuple(tuple(map(without_accents, names)) for names in NAMES)


@lru_cache(maxsize=1024)
def month_number(word: str) -> int | None:
    """Return the number of a month by its name or the first letters of it; None where they are of none or of two.

    >>> month_number("Sept"), month_number("Mar"), month_number("Market"), month_number("août"), month_number("jui")
    (9, 3, None, 8, None)
    """
    plain = without_accents(word)
    if len(plain) < SHORTEST:
        return None
    found = {n for n, names in enumerate(_NAMES, start=1) if any(name.startswith(plain) for name in names)}
    exact = {n for n, names in enumerate(_NAMES, start=1) if plain in names}
    chosen = exact if len(exact) == 1 else found
    return next(iter(chosen)) if len(chosen) == 1 else None


_YEAR = re.compile(r"(?:year|jahr|jaar|år|año|ano|anno|année|fy)?\s*((?:19|20)\d\d)\s*[:.]?", re.IGNORECASE | re.ASCII)


def lone_year(value: object) -> int | None:
    """Return the year that is all a cell says; None where it says more, or else.

    >>> lone_year("2024:"), lone_year("Year 2024"), lone_year(2024.0), lone_year("2024 kWh")
    (2024, 2024, 2024, None)
    """
    if isinstance(value, bool):
        return None
    if isinstance(value, int | float):
        return int(value) if 1950 <= value <= 2100 and value == int(value) else None
    match = _YEAR.fullmatch(value.strip()) if isinstance(value, str) and len(value) < 40 else None
    return int(match[1]) if match and 1950 <= int(match[1]) <= 2100 else None


SEASONS: dict[str, tuple[int, int]] = {
    "winter": (11, 3),
    "heating season": (11, 3),
    "cold months": (11, 3),
    "summer": (5, 9),
    "cooling season": (5, 9),
    "warm months": (5, 9),
    "spring": (3, 5),
    "fall": (9, 11),
    "autumn": (9, 11),
}
"""First and last month of a season north of the equator, as heaters and fans are used in it (our choice; winter and
summer are the handbook's months of a portable heater and of a fan)."""
SHORT_NAMES = tuple(name[:3].title() for name in MONTHS)

_ALL_YEAR = re.compile(
    r"(?:all|any|every|whole|the whole|entire)[ -]?(?:year|months?|time|seasons?)?(?:[ -](?:round|long))?|"
    r"year[ -]?(?:round|long)|12 months|always"
)
_TO = re.compile(r"\s*(?:[-\N{EN DASH}\N{EM DASH}]|\b(?:to|thru|through|until|till)\b)\s*")
_AND = re.compile(r"\s*(?:[,;&+/]|\band\b|\bor\b)\s*")
_FILLERS = re.compile(
    r"\b(?:only|just|mostly|mainly|in|during|the|from|of|for|on|months?|season|time|use|used|uses|using|run|runs|running|it|is|"
    r"when)\b|[.:()\[\]]"
)
_NOT = re.compile(r"(?:(?P<all>.*?)\s*\b(?:except|but not|without|excluding)|not|never|off|no use|unused)\b")


def months_written(text: str, southern: bool | None = None) -> frozenset[int] | None:
    """Return months of the year by their numbers, names or seasons, over the new year too; None where they are none.

    Parameters
    ----------
    southern : bool or None
        Whether the house lies south of the equator; None where seasons are not to be read, as in a tariff that has
        its own.

    Examples
    --------
    >>> sorted(months_written("Nov to Feb")), sorted(months_written("not in summer", False))
    ([1, 2, 11, 12], [1, 2, 3, 4, 10, 11, 12])
    >>> months_written("bought last winter", False) is None
    True
    """
    plain = " ".join(text[:100].casefold().replace("wintertime", "winter").replace("summertime", "summer").split())
    without = _NOT.search(plain)
    if without is not None and not plain[: without.start()].strip():
        first = (without["all"] or "all").strip()
        every, gone = months_written(first, southern), months_written(plain[without.end() :], southern)
        return None if every is None or not gone or every <= gone else every - gone
    if _ALL_YEAR.fullmatch(plain):
        return frozenset(range(1, 13))
    found: set[int] = set()
    for season in ("heating season", "cooling season", "cold months", "warm months"):
        plain = plain.replace(season, season.replace(" ", "_"))
    plain = _FILLERS.sub(" ", plain)
    parts = [part.strip() for part in _AND.split(plain) if part.strip()]
    if len(parts) == 1 and not _TO.search(parts[0]):
        parts = parts[0].split()
    for part in parts:
        ends = [_ends(end.strip(), southern) for end in _TO.split(part)]
        if not 1 <= len(ends) <= 2 or any(end is None for end in ends):
            return None
        first, last = ends[0][0], ends[-1][1]  # type: ignore[index]
        found.update((first - 1 + step) % 12 + 1 for step in range((last - first) % 12 + 1))
    return frozenset(found) or None


def months(value: Any, southern: bool | None = None) -> frozenset[int]:
    """Read months of the year, over the new year too; ``southern`` is for :func:`months_written`.

    Raises
    ------
    ValueError
        With the problem as its text.

    Examples
    --------
    >>> sorted(months("11-2")) == sorted(months("Nov-Feb"))
    True
    """
    if isinstance(value, date):
        raise ValueError("the workbook has turned this into a date; format the cell as text")
    if isinstance(value, list):
        value = ",".join(str(item) for item in value)
    if isinstance(value, float) and value.is_integer():
        value = int(value)
    text = str(value)[:100]
    found = months_written(text, southern)
    if found is None:
        figures = [int(number) for number in re.findall(r"\d+", text[:40])]
        outside = re.fullmatch(r"[\d\s,\-\N{EN DASH}]+", text) is not None and any(not 1 <= n <= 12 for n in figures)
        raise ValueError("months go from 1 to 12" if outside else "these are not months")
    return found


def _ends(word: str, southern: bool | None) -> tuple[int, int] | None:
    """Return the first and the last month that a word means."""
    if word.isascii() and word.isdigit():
        return (int(word), int(word)) if 1 <= int(word) <= 12 else None
    season = SEASONS.get(word.replace("_", " ").removesuffix("s")) or SEASONS.get(word.replace("_", " "))
    if season is not None:
        return None if southern is None else season if not southern else (turned(season[0]), turned(season[1]))
    month = month_number(word.rstrip("."))
    return None if month is None else (month, month)


def turned(month: int) -> int:
    """Return the month of the same season on the other half of the earth."""
    return (month + 5) % 12 + 1


def months_named(months: frozenset[int]) -> str:
    """Return months as a short text.

    >>> months_named(frozenset({11, 12, 1, 2})), months_named(frozenset({3, 7, 8})), months_named(frozenset({5}))
    ('Nov-Feb', 'Mar, Jul-Aug', 'May')
    """
    if len(months) == 12:
        return "all months"
    first = [month for month in sorted(months) if (month - 2) % 12 + 1 not in months]
    spans = []
    for month in first:
        last = month
        while last % 12 + 1 in months:
            last = last % 12 + 1
        spans.append(SHORT_NAMES[month - 1] + ("" if last == month else f"-{SHORT_NAMES[last - 1]}"))
    return ", ".join(spans)
