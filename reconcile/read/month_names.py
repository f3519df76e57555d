"""Names of the months as people write them, in the languages of the bills that are read."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache

MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
OTHER_NAMES: tuple[tuple[str, ...], ...] = (
    ("januar", "jänner", "janvier", "enero", "gennaio", "januari", "janeiro"),
    ("februar", "février", "febrero", "febbraio", "februari", "fevereiro"),
    ("märz", "maerz", "mrz", "mars", "marzo", "maart", "mrt", "março"),
    ("avril", "abril", "aprile"),
    ("mai", "mayo", "maggio", "mei", "maj", "maio"),
    ("juni", "juin", "junio", "giugno", "junho"),
    ("juli", "juillet", "julio", "luglio", "julho"),
    ("août", "agosto", "augustus", "augusti"),
    ("septembre", "septiembre", "setiembre", "settembre", "setembro"),
    ("oktober", "octobre", "octubre", "ottobre", "outubro"),
    ("november", "novembre", "noviembre", "novembro"),
    ("dezember", "décembre", "diciembre", "dicembre", "dezembro"),
)
"""German, French, Spanish, Italian, Dutch, Swedish and Portuguese names; a beginning will do where it is of one
month."""

SHORTEST = 3
"""Letters of a month's name that tell it (Jan, Feb, ...)."""


def without_accents(text: str) -> str:
    """Return small text without the marks above and below its letters.

    >>> without_accents("Février")
    'fevrier'
    """
    parted = unicodedata.normalize("NFKD", text.casefold())
    return "".join(letter for letter in parted if not unicodedata.combining(letter))


_NAMES = tuple(
    tuple(without_accents(name) for name in (english, *others))
    for english, others in zip(MONTHS, OTHER_NAMES, strict=True)
)


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


_YEAR = re.compile(r"(?:year|jahr|año|anno|année|fy)?\s*((?:19|20)\d\d)\s*[:.]?", re.IGNORECASE | re.ASCII)


def lone_year(value: object) -> int | None:
    """Return the year that is all a cell says; None where it says more, or else.

    >>> lone_year("2024:"), lone_year("Year 2024"), lone_year(2024.0), lone_year("2024 kWh")
    (2024, 2024, 2024, None)
    """
    if isinstance(value, bool):
        return None
    if isinstance(value, int | float):
        return int(value) if float(value).is_integer() and 1950 <= value <= 2100 else None
    match = _YEAR.fullmatch(value.strip()) if isinstance(value, str) and len(value) < 40 else None
    return int(match[1]) if match and 1950 <= int(match[1]) <= 2100 else None
