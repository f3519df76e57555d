"""How the findings write dates, energy and money until their sentences stand in :mod:`reconcile.texts`."""

from __future__ import annotations

from datetime import date
from decimal import ROUND_HALF_UP, Decimal

from reconcile.house import Bill
from reconcile.say import MONTHS, listed

__all__ = ["listed"]

CENT = Decimal("0.01")
_SIGNS = {"USD": "$", "CAD": "$", "AUD": "$", "NZD": "$", "EUR": "€", "GBP": "£"}


def cents(amount: Decimal) -> Decimal:
    """Round money half up to the cent, away from zero at the half.

    Examples
    --------
    >>> cents(Decimal("26.125"))
    Decimal('26.13')
    """
    return amount.quantize(CENT, ROUND_HALF_UP)


def money(amount: Decimal, currency: str = "USD") -> str:
    """Write an amount: ``$1,204.50``, ``-£3.00``, ``CHF 12.00``.

    Examples
    --------
    >>> money(Decimal("-1204.5"))
    '-$1,204.50'
    """
    sign = _SIGNS.get(currency, f"{currency} ")
    rounded = cents(amount)
    return f"{'-' if rounded < 0 else ''}{sign}{abs(rounded):,.2f}"


def day(value: date) -> str:
    """Write a date: ``7 March 2025``.

    Examples
    --------
    >>> day(date(2025, 3, 7))
    '7 March 2025'
    """
    return f"{value.day} {MONTHS[value.month - 1]} {value.year}"


def span(bill: Bill) -> str:
    """Write a bill's dates: ``the bill of 3 March to 2 April 2025``."""
    if bill.start.year == bill.end.year:
        return f"the bill of {bill.start.day} {MONTHS[bill.start.month - 1]} to {day(bill.end)}"
    return f"the bill of {day(bill.start)} to {day(bill.end)}"


def capital(text: str) -> str:
    """Begin a sentence with a capital letter."""
    return text[:1].upper() + text[1:]


def kwh(value: float) -> str:
    """Write an energy: ``1,110 kWh``; a decimal only where the whole number would lose it.

    Examples
    --------
    >>> kwh(1110.0), kwh(24.5)
    ('1,110 kWh', '24.5 kWh')
    """
    return f"{number(value)} kWh"


def number(value: float) -> str:
    """Write a number as short as it can be read: whole, or with one decimal."""
    return f"{value:,.0f}" if abs(value - round(value)) < 0.05 else f"{value:,.1f}"


def rate(value: float) -> str:
    """Write a daily use: ``31.4 kWh a day``."""
    return f"{value:,.1f} kWh a day"


def reading(value: float) -> str:
    """Write a register value without separators, as on the meter's face.

    Examples
    --------
    >>> reading(45382.0), reading(120.5)
    ('45382', '120.5')
    """
    return f"{value:.0f}" if float(value).is_integer() else f"{value:.10g}"


def days(count: int) -> str:
    """Write a number of days.

    Examples
    --------
    >>> days(1), days(30)
    ('1 day', '30 days')
    """
    return "1 day" if count == 1 else f"{count} days"
