"""How a place writes numbers and amounts of money, as Babel has it."""

from __future__ import annotations

from decimal import Decimal, localcontext
from functools import lru_cache
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from babel import Locale

NO_BREAK = "\N{NO-BREAK SPACE}"
PLAIN, DOLLARS = "en_US", "USD"
"""How most houses are spoken to, as Babel has it too: read from its tables it would take a thirtieth of all the time of
one answer."""


def digits(value: float | Decimal, places: int, name: str) -> str:
    """Write a number that is not below zero with so many places behind the point.

    Examples
    --------
    >>> digits(1204.5, 2, "en_US"), digits(1204.5, 2, "de_DE")
    ('1,204.50', '1.204,50')
    """
    whole, _, rest = f"{Decimal(str(value)):.{places}f}".partition(".")
    grouped = _groups(name, len(whole)).format(*whole)
    return f"{grouped}{_point(name)}{rest}" if rest else grouped


def money(amount: Decimal, places: int, name: str, currency: str) -> str:
    """Write an amount that is not below zero in a currency.

    Examples
    --------
    >>> money(Decimal("1204.5"), 2, "en_US", "EUR")
    '€1,204.50'
    """
    around = _around(name, currency)
    if around is None:  # figures stand in other groups than three and three
        return _in_full(amount, places, name, currency)
    return digits(amount, places, name).join(around)


@lru_cache(maxsize=16)
def _locale(name: str) -> Locale:
    from babel import Locale

    return Locale.parse(name)


@lru_cache(maxsize=256)
def _groups(name: str, digits: int) -> str:
    """How a locale writes a whole number of so many digits, with a place for each: not all part thousands alike."""
    if name == PLAIN:
        return f"{int('1' * digits):,}".replace("1", "{}")
    from babel.numbers import format_decimal

    with localcontext() as context:
        context.prec = max(context.prec, digits + 1)
        ones: str = format_decimal(Decimal("1" * digits), format="#,##0", locale=_locale(name))
    return ones.replace("\u202f", NO_BREAK).replace("1", "{}")


@lru_cache(maxsize=16)
def _point(name: str) -> str:
    if name == PLAIN:
        return "."
    from babel.numbers import get_decimal_symbol

    return get_decimal_symbol(_locale(name))


@lru_cache(maxsize=64)
def _around(name: str, currency: str) -> tuple[str, str] | None:
    """What stands before and after an amount of money; None where its figures do not stand three and three."""
    if (name, currency) == (PLAIN, DOLLARS):
        return "$", ""
    plain = _in_full(Decimal(1), 0, name, currency).split("1")
    many = _in_full(Decimal(1111111), 0, name, currency)
    if len(plain) != 2 or many != digits(Decimal(1111111), 0, name).join(plain):
        return None
    return plain[0], plain[1]


def _in_full(amount: Decimal, places: int, name: str, currency: str) -> str:
    from babel.numbers import format_currency

    whole = "#,##0" + ("." + "0" * places if places else "")
    pattern = str(_locale(name).currency_formats["standard"].pattern).split(";")[0]
    return format_currency(
        amount, currency, locale=_locale(name), decimal_quantization=False, currency_digits=False,
        format=pattern.replace("#,##0.00", whole).replace("#,##0.###", whole),
    ).replace("\u202f", NO_BREAK)  # fmt: skip
