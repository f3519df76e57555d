"""How large a lasting rise could hide in bills that show nothing, and when that is worth saying."""

from __future__ import annotations

import math
from collections.abc import Sequence

from reconcile.decide.rules import Case
from reconcile.house import House
from reconcile.result_parts import HiddenWeather

HIDES_PERCENT = 25.0
"""Smallest visible lasting rise [%] from which an all-clear says that a smaller one could hide, and what would show it:
a bill a quarter higher is what people come with (our choice)."""

HIDES_WITH_HOURS_PERCENT = 20.0
"""The same beside interval data: who has hours expects a fifth to show (our choice)."""

BLIND_PERCENT = 50.0
"""The same from which no all-clear is given at all: these bills would look alike with a bill half as high again (our
choice)."""

SEASON_HIDES_PERCENT = 25.0
"""How much more heating or cooling could take, as a part of all use in its season [%], from which bills are not said to
be what they should be: as of a lasting rise (our choice)."""

YEAR_DAYS = 330
"""Days of bills from which they show a whole year's seasons."""


def less_than_a_year(house: House, *, listed: bool) -> bool:
    """Whether less than a year of bills stands alone, with neither temperatures nor a list: a season hides a change."""
    bills = house.bills
    covered = (max(b.closes for b in bills) - min(b.start for b in bills)).days if bills else 0
    return not listed and house.weather is None and house.interval is None and covered < YEAR_DAYS


def hidden_percent(house: House, case: Case, visible_percent: float | None) -> float | None:
    """Return the lasting rise [%] that could hide in these bills, where it is worth saying.

    Parameters
    ----------
    visible_percent : float or None
        Smallest meter error that the bills would have shown; None where none would.

    Returns
    -------
    float or None
        Infinite where any rise could; None where only a small one could, where no bill was judged, or where a known
        load says more than the bills.
    """
    if case.odds is None or case.site.run == "inside":
        return None
    hidden = math.inf if visible_percent is None or less_than_a_year(house, listed=case.listed) else visible_percent
    return hidden if hidden >= (HIDES_PERCENT if house.interval is None else HIDES_WITH_HOURS_PERCENT) else None


def season_hides(case: Case, hidden: Sequence[HiddenWeather]) -> tuple[HiddenWeather, ...]:
    """Return of heating and cooling what takes so much in its season that it is worth saying how much could hide.

    Hours are no surer of it than bills: a season that took more from its first day is as usual to both.
    """
    if case.odds is None:
        return ()
    least = SEASON_HIDES_PERCENT
    return tuple(one for one in hidden if one.of_use_percent is None or one.of_use_percent >= least)
