"""The one way to write a number, an amount of money, a date or a chance, in the house's currency and locale.

Sentences are American English; the locale decides how numbers, money and dates look in them. Sentences themselves
stand in :mod:`reconcile.texts`, as templates whose places name what they hold and how it is written:
``"{excess:kwh} ({cost:about_money}) over"``; :meth:`Voice.fill` fills them.
"""

from __future__ import annotations

import math
import re
import string
import textwrap
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Any

from reconcile import local_forms
from reconcile.local_forms import digits
from reconcile.records import dataclass
from reconcile.rounding import currency_places, half_up, limits_shown, limits_step, step_of, to_step, two_figure_step

_HOURLY = re.compile(r"(?<![-\w])hourly(?= (?:readings|data|sums)\b)")
MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
          "December")  # fmt: skip
"""Sentences are English whatever the process's own locale is set to, which strftime would follow."""
SHORT_MONTHS = tuple(month[:3] for month in MONTHS)
NOTHING = "–"
"""What stands where a figure is not known."""

CHANCE_WORDS = (
    (0.95, "very likely"),
    (0.75, "likely"),
    (0.55, "more likely than not"),
    (0.45, "as likely as not"),
    (0.2, "possible"),
    (0.05, "unlikely"),
    (0.0, "very unlikely"),
)
"""Words for a chance, from this probability up (our choice)."""


@dataclass(frozen=True, slots=True)
class Voice:
    """How a house is spoken to.

    Examples
    --------
    >>> us = Voice()
    >>> us.kwh(1237.4, doubt=80.0), us.money(Decimal("31.40")), us.about_money(31.4), us.day(date(2025, 3, 7))
    ('1,240 kWh', '$31.40', '$31', 'March 7, 2025')
    >>> Voice("de_DE", "EUR").money(Decimal("1204.5")).split()
    ['1.204,50', '€']
    """

    locale: str = "en_US"
    """As Babel names it: ``en_US``, ``de_DE``."""
    currency: str = "USD"
    """ISO 4217 code."""
    every: str = "hourly"
    """How often the house's interval data count: ``daily``, ``hourly``, ``quarter-hourly``."""

    def of_readings(self, text: str) -> str:
        """Speak of interval data as they are, where a sentence has them hourly."""
        return text if self.every == "hourly" else _HOURLY.sub(self.every, text)

    def number(self, value: float | None, step: float = 1.0, *, sign: bool = False) -> str:
        """Write a number to a step, thousands apart; ``sign`` writes a plus too.

        Examples
        --------
        >>> Voice().number(1234.6), Voice().number(-31.0, 10.0), Voice().number(212.0, sign=True), Voice().number(None)
        ('1,235', '−30', '+212', '–')
        """
        if value is None or not math.isfinite(value):
            return NOTHING
        rounded = to_step(value, step)
        places = max(0, -math.floor(math.log10(step)))
        text = digits(abs(rounded), places, self.locale)
        return f"{'−' if rounded < 0 else '+' if sign and rounded > 0 else ''}{text}"

    def figure(self, value: float | None) -> str:
        """Write a rough number to two figures, without an idle nought.

        Examples
        --------
        >>> [Voice().figure(x) for x in (9.04, 4.63, 317.0, -0.021)]
        ['9', '4.6', '320', '−0.021']
        """
        if value is None or not math.isfinite(value):
            return NOTHING
        step = two_figure_step(value)
        rounded = to_step(value, step)
        return self.number(rounded, 1.0 if rounded == round(rounded) else step)

    def exact(self, value: float | None) -> str:
        """Write a number as it was read: no rounding beyond a hundredth, no idle noughts.

        Examples
        --------
        >>> Voice().exact(812.0), Voice().exact(1812.25)
        ('812', '1,812.25')
        """
        if value is None or not math.isfinite(value):
            return NOTHING
        rounded = round(value, 2)
        places = 0 if rounded == round(rounded) else 1 if round(rounded, 1) == rounded else 2
        return self.number(rounded, 10.0**-places)

    def kwh(self, value: float | None, *, doubt: float | None = None, sign: bool = False) -> str:
        """Write an energy, rounded to its doubt where it has one."""
        if value is None or not math.isfinite(value):
            return NOTHING
        text = self.exact(value) if doubt is None and not sign else self.number(value, step_of(doubt), sign=sign)
        return f"{text} kWh"

    def per_day(self, value: float | None) -> str:
        """Write a daily use: ``31.4 kWh a day``."""
        return f"{self.number(value, 0.1)} kWh a day"

    def reading(self, value: float | None) -> str:
        """Write a register value without separators, as on the meter's face.

        Examples
        --------
        >>> Voice().reading(45382.0), Voice().reading(120.5)
        ('45382', '120.5')
        """
        return NOTHING if value is None else f"{value:.10g}"

    def days(self, count: float) -> str:
        """Write a number of days: ``1 day``, ``30 days``."""
        return f"{self.number(count)} {'day' if round(count) == 1 else 'days'}"

    def watts(self, value: float | None, *, doubt: float | None = None) -> str:
        """Write a power: to two figures, or to its doubt."""
        return f"{self.figure(value) if doubt is None else self.number(value, step_of(doubt))} W"

    def percent(self, value: float | None, *, doubt: float | None = None) -> str:
        """Write a percentage: to two figures, or to its doubt."""
        return f"{self.figure(value) if doubt is None else self.number(value, step_of(doubt))} %"

    def money(self, amount: Decimal | float | None, *, sign: bool = False) -> str:
        """Write an amount to the cent (or the currency's own smallest part), half up.

        Examples
        --------
        >>> Voice().money(Decimal("1131.255")), Voice("en_US", "CAD").money(-3, sign=True)
        ('$1,131.26', '−CA$3.00')
        """
        return self._money(amount, None, sign)

    def smallest(self, amount: Decimal | float) -> Decimal:
        """Round an amount to the currency's smallest part, as :meth:`money` writes it.

        Examples
        --------
        >>> Voice().smallest(26.125), Voice("ja_JP", "JPY").smallest(1204.5)
        (Decimal('26.13'), Decimal('1205'))
        """
        return half_up(amount, currency_places(self.currency))

    def price(self, per_kwh: float | None) -> str:
        """Write a price of energy to two figures.

        Examples
        --------
        >>> Voice().price(0.1483), Voice().price(0.0231)
        ('$0.15 a kWh', '$0.023 a kWh')
        """
        if per_kwh is None or not math.isfinite(per_kwh) or per_kwh == 0:
            return NOTHING
        places = max(0, -math.floor(math.log10(two_figure_step(per_kwh))))
        return f"{self._money(per_kwh, places, False)} a kWh"

    def rate(self, per_kwh: float) -> str:
        """Write a price of energy as a bill does, to three figures, without its unit.

        Examples
        --------
        >>> Voice().rate(0.17784)
        '$0.178'
        """
        return self._money(per_kwh, max(0, 1 - math.floor(math.log10(two_figure_step(per_kwh)))), False)

    def about_money(self, amount: Decimal | float | None, *, sign: bool = False) -> str:
        """Write an inferred amount without its cents.

        Examples
        --------
        >>> Voice("en_US", "EUR").about_money(269.7)
        '€270'
        """
        return self._money(amount, 0, sign)

    def _money(self, amount: Decimal | float | None, places: int | None, sign: bool) -> str:
        if amount is None or not math.isfinite(amount):
            return NOTHING
        places = currency_places(self.currency) if places is None else places
        exact = half_up(amount, places)
        text = local_forms.money(abs(exact), places, self.locale, self.currency)
        return f"{'−' if exact < 0 else '+' if sign and exact > 0 else ''}{text}"

    def day(self, when: date | None) -> str:
        """Write a date that nobody can read two ways: the month in letters."""
        return self._date(when, MONTHS)

    def short_day(self, when: date | None) -> str:
        """Write a date for a table.

        Examples
        --------
        >>> Voice().short_day(date(2025, 3, 7)), Voice("en_GB").short_day(date(2025, 3, 7))
        ('Mar 7, 2025', '7 Mar 2025')
        """
        return self._date(when, SHORT_MONTHS)

    def month(self, when: date | None) -> str:
        """Write a month and its year.

        Examples
        --------
        >>> Voice().month(date(2025, 3, 7))
        'March 2025'
        """
        return NOTHING if when is None else f"{MONTHS[when.month - 1]} {when.year}"

    def _date(self, when: date | None, months: Sequence[str], *, year: bool = True) -> str:
        if when is None:
            return NOTHING
        # sentences are English, so are the months in them; the locale decides their order
        month = months[when.month - 1]
        if self.locale in MONTH_FIRST:
            return f"{month} {when.day}" + (f", {when.year}" if year else "")
        return f"{when.day} {month}" + (f" {when.year}" if year else "")

    def span(self, start: date, end: date) -> str:
        """Write the two dates of a period, the year once where one will do.

        Examples
        --------
        >>> Voice().span(date(2025, 3, 7), date(2025, 4, 6)), Voice().span(date(2024, 12, 8), date(2025, 1, 7))
        ('Mar 7 – Apr 6, 2025', 'Dec 8, 2024 – Jan 7, 2025')
        """
        if start.year != end.year:
            return f"{self.short_day(start)} – {self.short_day(end)}"
        return f"{self._date(start, SHORT_MONTHS, year=False)} – {self.short_day(end)}"

    def chance(self, probability: float | None) -> str:
        """Say a chance in words and number.

        Examples
        --------
        >>> Voice().chance(0.8), Voice().chance(0.004)
        ('likely (about 80 %)', 'very unlikely (under 1 %)')
        >>> Voice().chance(0.0496) == Voice().chance(0.0504)
        True
        """
        if probability is None:
            return NOTHING
        shown = round(100 * probability) / 100 if 0.01 <= probability <= 0.99 else probability
        word = next(word for limit, word in CHANCE_WORDS if shown >= limit)
        return f"{word} ({self.chance_percent(probability)})"

    def chance_percent(self, probability: float | None) -> str:
        """Write a chance as a number: ``about 80 %``."""
        if probability is None:
            return NOTHING
        if probability > 0.99:
            return "over 99 %"
        return "under 1 %" if probability < 0.01 else f"about {round(100 * probability)} %"

    def between(self, low: float | None, high: float | None, unit: str = "", *, step: float = 0.0) -> str:
        """Write limits, rounded to their own width, and no finer than a step: that of the figure they stand beside.

        Examples
        --------
        >>> Voice().between(611.2, 778.9, "kWh")
        '610 to 780 kWh'
        >>> Voice().between(1211.6, 1308.4), Voice().between(1211.6, 1308.4, step=10.0)
        ('1,212 to 1,308', '1,210 to 1,310')
        """
        if low is None or high is None or not (math.isfinite(low) and math.isfinite(high)):
            return NOTHING
        low, high = limits_shown(low, high)
        step = max(limits_step((high - low) / 2.0), step)
        return f"{self.number(low, step)} to {self.number(high, step)}{' ' + unit if unit else ''}"

    def fill(self, template: str, figures: Mapping[str, Any]) -> str:
        """Fill a sentence: every place names a figure and, after the colon, the method of this class that writes it.

        Parameters
        ----------
        template : str
            ``"{excess:kwh} since {onset:day}"``; a place without a colon takes text as it is.
        figures : mapping of str to float, Decimal, date, str, or tuple
            A tuple holds the arguments of the method, in order: ``(start, end)`` for ``span``.

        Raises
        ------
        KeyError
            Where the sentence names a figure that is not given.

        Examples
        --------
        >>> Voice().fill("{size:watts} since {onset:day}", {"size": 412.0, "onset": date(2025, 10, 9)})
        '410 W since October 9, 2025'
        """
        return "".join(
            text if name is None else f"{text}{self._write(figures[name], how)}"
            for text, name, how in _places(self.of_readings(template))
        )

    def _write(self, value: Any, how: str) -> str:
        if not how:
            return str(value)
        write = getattr(self, how)
        return str(write(*value) if isinstance(value, tuple) else write(value))

    def capital(self, text: str) -> str:
        """Begin a sentence with a capital letter, unless with a unit."""
        return text if text.startswith("kWh") else text[:1].upper() + text[1:]


MONTH_FIRST = ("en_US", "en_CA", "en_PH")
"""Locales whose dates name the month before the day."""


@lru_cache(maxsize=4096)
def _places(template: str) -> tuple[tuple[str, str | None, str], ...]:
    """Text before each place of a template, the place's name, and the method that writes it."""
    return tuple((text, name, how or "") for text, name, how, _ in string.Formatter().parse(template))


def clean(value: Any) -> Any:
    r"""Drop what can steer a terminal or reorder a line from a text; anything else passes unchanged.

    Control characters (escape sequences among them) and direction overrides become spaces.

    Examples
    --------
    >>> clean("red \x1b[31m alarm")
    'red  [31m alarm'
    """
    if type(value) is not str or value.isprintable():  # as nothing is that would be dropped
        return value
    return "".join(
        " " if unicodedata.category(letter) in ("Cc", "Cf", "Cs", "Zl", "Zp") and letter != "\u00ad" else letter
        for letter in value
    )


LINE = 120
"""Letters of a line of the diary that is an answer by itself: it is hardly ever cut."""


def quoted(text: str, letters: int = 60) -> str:
    """Write words of the household on one line, cut at a word where they are long.

    Examples
    --------
    >>> quoted("put  in the pond out back", 16)
    'put in the …'
    """
    return textwrap.shorten(text, letters, placeholder=" …")


def listed(items: Iterable[str], last: str = "and") -> str:
    """Join words as a sentence does.

    Examples
    --------
    >>> listed(["a", "b", "c"])
    'a, b and c'
    >>> listed(["a", "b", "c"], "or")
    'a, b or c'
    """
    every = list(items)
    return every[0] if len(every) == 1 else f"{', '.join(every[:-1])} {last} {every[-1]}" if every else ""
