"""Months that name the bill, not the use: ``Nov`` on a bill made out on 1 November holds October's kWh."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from reconcile.house import Bill, House, Weather
from reconcile.read.tables.cells import Table
from reconcile.read.tables.columns import tokens

BALANCE_C = 18.3
"""Where heating and cooling begin for this comparison alone (65 degF, the base of published degree-days)."""
FEWEST_BILLS = 10
"""Bills from which the weather may tell (our choice: most of a year)."""
FAR_BETTER = 0.4
"""Part of the squares left over by the months as they stand below which the month before is taken (our choice: on
houses whose bills follow the weather at all a month too late leaves several times as much), and of their spread."""
LEAST_KNOWN = 0.8
"""Part of a bill's days whose temperature must be known (our choice: a week may be missing)."""
_OF_USE = frozenset(("usage", "use", "used", "service", "consumption"))


def of_the_month_before(house: House, tables: Sequence[Table]) -> House:
    """Return the house with each bill a month earlier, where its kWh follow that month's weather far better.

    Parameters
    ----------
    house : House
        With its weather.
    tables : sequence of Table
        Of its bills; told of it. A month headed as that of the use stays.
    """
    bills, weather = house.bills, house.weather
    named = [table.names[table.header["month"]] for table in tables if table.has("month")]
    if weather is None or len(named) < len(tables) or any(_OF_USE & {*tokens(name)} for name in named):
        return house
    if len(bills) < FEWEST_BILLS or any(bill.end != _after(bill.start) or bill.start.day != 1 for bill in bills):
        return house
    earlier = [replace(bill, start=_before(bill.start), end=bill.start) for bill in bills]
    now, then = ([_degrees(bill, weather) for bill in some] for some in (bills, earlier))
    known = [n for n, bill in enumerate(bills) if None not in (bill.kwh, now[n], then[n])]
    if len(known) < FEWEST_BILLS:
        return house
    a_day = [
        np.array([(some[n].kwh or 0.0) / (some[n].end - some[n].start).days for n in known])
        for some in (bills, earlier)
    ]
    spread = float(np.sum((a_day[1] - a_day[1].mean()) ** 2))
    left = [_left_over(use, np.array([some[n] for n in known])) for use, some in zip(a_day, (now, then), strict=True)]
    if left[1] >= FAR_BETTER * min(left[0], spread):
        return house
    tables[0].read_as.append(
        "the month is the bill's, and its kWh are of the month before (the first bill's are of "
        f"{earlier[0].start:%B %Y}): so they follow the temperatures far better; if not, head the column usage month"
    )
    return replace(house, bills=tuple(earlier))


def _after(day: date) -> date:
    return (day + timedelta(days=31)).replace(day=1)


def _before(day: date) -> date:
    return (day - timedelta(days=1)).replace(day=1)


def _degrees(bill: Bill, weather: Weather) -> tuple[float, float] | None:
    """Return the degrees a day below and above the balance; None where the weather does not cover the bill."""
    first = (bill.start - weather.first).days
    last = (bill.end - weather.first).days
    days = weather.mean_c[max(first, 0) : max(last, 0)]
    days = days[np.isfinite(days)]
    if len(days) < LEAST_KNOWN * (last - first):
        return None
    return float(np.maximum(BALANCE_C - days, 0.0).mean()), float(np.maximum(days - BALANCE_C, 0.0).mean())


def _left_over(a_day: NDArray[np.float64], degrees: NDArray[np.float64]) -> float:
    """Return the squares that a line in the degrees leaves over [kWh^2 a day^2]."""
    columns = np.column_stack([np.ones(len(a_day)), degrees])
    fitted = columns @ np.linalg.lstsq(columns, a_day, rcond=None)[0]
    return float(np.sum((a_day - fitted) ** 2))
