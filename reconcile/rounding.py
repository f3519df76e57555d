"""How far a number is rounded: to its doubt, to two figures, to a step, to the smallest part of a currency."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal, localcontext
from functools import cache


def step_of(doubt: float | None) -> float:
    """Return the power of ten to which a number with this doubt is rounded: at most half the doubt.

    Parameters
    ----------
    doubt : float or None
        Half the width of the limits, in the number's own unit; None or not positive is taken as exact to one.

    Examples
    --------
    >>> step_of(83.0), step_of(15.0), step_of(150.0), step_of(None)
    (10.0, 1.0, 10.0, 1.0)
    """
    if doubt is None or not (math.isfinite(doubt) and doubt > 0):
        return 1.0
    return float(10.0 ** math.floor(math.log10(doubt / 2.0)))


def limits_step(half_width: float) -> float:
    """Return the step to which limits are rounded: at most a tenth of half their distance, or 1 where that is enough.

    A bill beside a limit is flagged by what is printed: limits moved by a quarter of their distance would flag bills in
    order. Each step is a multiple of the finer ones.

    Parameters
    ----------
    half_width : float
        Half the distance between the limits, in their own unit; above 0.

    Examples
    --------
    >>> limits_step(240.0), limits_step(83.0), limits_step(15.0), limits_step(3.0), limits_step(0.6)
    (10.0, 5.0, 1.0, 1.0, 0.1)
    """
    if not (math.isfinite(half_width) and half_width > 0):
        return 1.0
    tenth = half_width / 10.0
    power = float(10.0 ** math.floor(math.log10(tenth)))
    return max(5.0 * power if tenth >= 5.0 * power else power, min(step_of(half_width), 1.0))


def limits_shown(low: float, high: float) -> tuple[float, float]:
    """Round limits as they are printed; rounded again they stay as they are.

    Examples
    --------
    >>> limits_shown(693.7, 1093.2), limits_shown(10.2, 109.8)
    ((690.0, 1090.0), (10.0, 110.0))
    """
    step = 0.0
    while (wider := limits_step((high - low) / 2.0)) > step:
        step = wider
        low, high = to_step(low, step), to_step(high, step)
    return low, high


def two_figure_step(value: float) -> float:
    """Return the step that leaves two figures of a rough number.

    Examples
    --------
    >>> two_figure_step(317.0), two_figure_step(4.63)
    (10.0, 0.1)
    """
    if not math.isfinite(value) or value == 0:
        return 1.0
    step = float(10.0 ** (math.floor(math.log10(abs(value))) - 1))
    return float(f"{step:.0e}")


def to_step(value: float, step: float) -> float:
    """Round a number to a step, halves to even.

    Examples
    --------
    >>> to_step(1237.0, 10.0), to_step(0.128, 0.01)
    (1240.0, 0.13)
    """
    places = max(0, -math.floor(math.log10(step)))
    return round(round(value / step) * step, places) + 0.0


def half_up(amount: Decimal | float, places: int) -> Decimal:
    """Round money half up, away from zero at the half.

    Examples
    --------
    >>> half_up(26.125, 2), half_up(Decimal("-0.5"), 0)
    (Decimal('26.13'), Decimal('-1'))
    """
    with localcontext(prec=400):  # any float has its place
        return Decimal(str(amount)).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)


@cache
def currency_places(currency: str) -> int:
    """Return the decimals of a currency's smallest part: two for most, none for the yen.

    Examples
    --------
    >>> currency_places("USD"), currency_places("JPY"), currency_places("KWD")
    (2, 0, 3)
    """
    if currency == "USD":  # as nearly all: Babel's table of them is read for the others
        return 2
    from babel.numbers import get_currency_precision

    return int(get_currency_precision(currency))


def as_parts(whole: float, fast: float, slow: float) -> tuple[float, float]:
    """Return the chance that two meters disagree and that the new one is fast so that they add up as they are printed.

    Where the fast meter's own chance [0 to 1], which the page tells too, is the difference but for the last digit, the
    whole gives way; else the part of it that began at the exchange is told.

    Examples
    --------
    >>> as_parts(0.8333, 0.7656, 0.0742), as_parts(0.62, 0.71, 0.2)
    ((0.84, 0.7656), (0.62, 0.42))
    """
    sure = whole > 0.99
    all_, new, old = 100 if sure else round(100.0 * whole), round(100.0 * fast), round(100.0 * slow)
    if abs(all_ - new - old) > 1:
        return whole, (all_ - old) / 100.0
    return whole if sure else min((new + old) / 100.0, 0.99), fast
