"""Numbers, money and dates against Babel's own writing of them, in every locale it knows."""

from datetime import date
from decimal import Decimal

import pytest
from babel import Locale, localedata
from babel.dates import format_date
from babel.numbers import format_currency, format_decimal, get_currency_precision
from hypothesis import example, given
from hypothesis import strategies as st

from reconcile.local_forms import NO_BREAK
from reconcile.rounding import currency_places, limits_shown
from reconcile.say import Voice

LOCALES = sorted(localedata.locale_identifiers())
AMOUNTS = st.decimals(Decimal(0), Decimal(10) ** 12, places=2)


def bare(text: str) -> str:
    return text.replace("\u202f", NO_BREAK)


@given(st.sampled_from(LOCALES), AMOUNTS)
@example("en_US", Decimal("1234567.89"))
def test_numbers_are_as_babel_writes_them(name, value):
    expected = format_decimal(value, format="#,##0.00", locale=Locale.parse(name))
    assert Voice(name).number(float(value), 0.01) == bare(expected)


@given(st.sampled_from(LOCALES), st.sampled_from(["USD", "EUR", "INR", "CHF", "CAD"]), AMOUNTS)
@example("en_US", "USD", Decimal("1234567.89"))
def test_money_is_as_babel_writes_it(name, currency, amount):
    pattern = str(Locale.parse(name).currency_formats["standard"].pattern).split(";")[0].replace("0.###", "0.00")
    expected = format_currency(amount, currency, format=pattern, locale=Locale.parse(name), currency_digits=False)
    assert Voice(name, currency).money(amount) == bare(expected)


def test_dollars_have_as_many_places_as_babel_gives_them():
    assert Voice("en_US", "USD").money(Decimal("31.456")) == "$31.46"
    assert currency_places("USD") == get_currency_precision("USD")


@pytest.mark.parametrize(("name", "form"), [("en_US", "MMMM d, y"), ("en_GB", "d MMMM y"), ("de_DE", "d MMMM y")])
def test_days_have_english_months_in_the_order_of_the_locale(name, form):
    for month in range(1, 13):
        day = date(2025, month, 9)
        assert Voice(name).day(day) == format_date(day, form, locale="en_US")
        assert Voice(name).short_day(day) == format_date(day, form.replace("MMMM", "MMM"), locale="en_US")


def test_a_number_of_any_length_is_written():
    assert Voice().number(1e91, 1.0).count(",") == 30
    assert Voice().number(12.0, 1.0) == "12"


def test_limits_are_printed_as_they_flag() -> None:
    """Rounded once more, limits stay as they were: a bill of 705 is not under a range printed from 700."""
    assert Voice().between(*limits_shown(706.0, 1105.4)) == "710 to 1,110"
    for low in range(0, 900, 7):
        for width in (3.3, 19.96, 99.7, 199.7, 999.4, 1996.0):
            shown = limits_shown(float(low), low + width)
            assert limits_shown(*shown) == shown
            assert max(abs(shown[0] - low), abs(shown[1] - low - width)) <= max(0.055 * width, 0.5)
