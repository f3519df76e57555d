"""Temperatures that are each possible and together are not: another unit, or days and months exchanged."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Literal

import numpy as np

from reconcile.house import House
from reconcile.read.tables.bounds import WARMEST_PERIOD_C
from reconcile.read.tables.cells import Cell, Table
from reconcile.read.tables.gate import Gate
from reconcile.records import dataclass
from reconcile.units import celsius

UNTOUCHED_FROM = 13
"""Days of the month from here on cannot be taken for months."""

FEWEST_MOVED = 40
"""Days whose month and day may have changed places that are needed to tell (our choice)."""

FITS_BETTER = 0.6
"""Departure from the rest of the month, with day and month exchanged over as they stand, that tells (our choice): in
order it is about 2, exchanged about a half."""

YEAR_DAYS = 300
"""Days of record that hold a summer and a winter (our choice)."""

COLD_SUMMER_C, WARM_WINTER_C = 8.0, 26.0
"""No town's days stay all year below the one or above the other (from memory: days of Arctic towns reach 10 degC in
summer; the mildest days of the hottest towns are about 24)."""


def exchanged(means: Mapping[date, float]) -> date | None:
    """Return a day whose month and day have changed places, as most of those have that can; None where none has.

    Parameters
    ----------
    means : mapping of date to float
        Daily means [degC].
    """
    sure: dict[tuple[int, int], list[float]] = {}
    for day, value in means.items():
        if day.day >= UNTOUCHED_FROM:
            sure.setdefault((day.year, day.month), []).append(value)
    months = {month: float(np.mean(values)) for month, values in sure.items() if len(values) >= 5}
    as_it_stands, other_way, first, count = 0.0, 0.0, None, 0
    for day, value in means.items():
        if day.day >= UNTOUCHED_FROM or day.day == day.month:
            continue
        here, there = months.get((day.year, day.month)), months.get((day.year, day.day))
        if here is None or there is None:
            continue
        as_it_stands += abs(value - here)
        other_way += abs(value - there)
        first = day if first is None else min(first, day)
        count += 1
    return first if count >= FEWEST_MOVED and other_way < FITS_BETTER * as_it_stands else None


def in_other_unit(means: Mapping[date, float]) -> bool:
    """Whether a year's days are all too cold, or all too warm, for anywhere.

    Parameters
    ----------
    means : mapping of date to float
        Daily means [degC].
    """
    values = np.array(list(means.values()))
    if len(values) < YEAR_DAYS:
        return False
    return bool(values.max() < COLD_SUMMER_C or values.min() > WARM_WINTER_C)


Unit = Literal["C", "F"]

COLDEST_PERIOD_C = -45.0
"""No inhabited place has a colder month (from memory: the coldest towns have -45 to -48 degC in January)."""
COLD_MONTH_C = 4.0
"""No town's warmest month is colder (from memory: July has 5 degC in Utqiagvik, 6 degC in Longyearbyen)."""
DAYS_WANDER_C = 12.0
"""So far a day may lie beyond what a month can be [K] (our choice)."""
RARELY_C = -10.0
"""A record that would be colder than this on the average as Fahrenheit is taken as Celsius (our choice)."""
NORTH = ("America/", "US/", "Canada/", "Europe/")
SOUTH = ("Argentina", "Sao_Paulo", "Santiago", "Montevideo", "Asuncion", "Lima", "La_Paz", "Bogota", "Guayaquil")
"""Cities of America that are not in the north's seasons."""
MONTHS_C = (
    *((-35.0, 25.0),) * 2, (-30.0, 29.0), (-20.0, 33.0), (-8.0, 38.0), *((3.0, WARMEST_PERIOD_C),) * 3,
    (-8.0, 38.0), (-20.0, 33.0), (-30.0, 29.0), (-35.0, 25.0),
)  # fmt: skip
"""Means that a month of the north may have, January first [degC] (from memory: wide of any town's records)."""
BILL_DAYS = 30

_NUMBER = re.compile(r"\s*([-+]?\d+(?:[.,]\d+)?)\s*[°º]?\s*")


@dataclass(frozen=True, slots=True)
class Degrees:
    """One temperature without a unit, and the day or the period's last day on which it stands."""

    cell: Cell
    value: float
    day: date | None
    days: int
    """Days it is the mean of [d]."""


def settle_temperature_unit(house: House, given: bool, zone_given: bool, tables: dict[str, Table], gate: Gate) -> House:
    """Return the house with the unit that its temperatures are in.

    Parameters
    ----------
    house : House
        Its settings.
    given : bool
        Whether the settings say the unit.
    zone_given : bool
        Whether they say the time zone, which tells the season.
    gate : Gate
        Told what was taken; asked where two readings are possible.
    """
    found = _bare(tables.get("bills"), ("mean_temperature",), "end", BILL_DAYS, gate)
    if not given:  # else the daily ones are held against their months where they are read
        found += _bare(tables.get("weather"), ("mean", "tavg", "tmin", "tmax"), "date", 1, gate)
    if not found or len({one.value for one in found}) < 2:
        return house
    north = zone_given and house.timezone.startswith(NORTH) and not any(city in house.timezone for city in SOUTH)
    fits: dict[Unit, bool] = {"C": _fits(found, "C", north), "F": _fits(found, "F", north)}
    if given:
        own: Unit = house.temperature_unit
        other: Unit = "C" if own == "F" else "F"
        bills = [one for one in found if one.days > 1]
        if bills and not _fits(bills, own, north) and _fits(bills, other, north):
            low, high = min(one.value for one in bills), max(one.value for one in bills)
            gate.fault_in(
                bills[0].cell,
                f"in degrees {own} no place has {low:g} to {high:g} as the averages of its bills",
                f'If these are degrees {other}, set temperature_unit = "{other}" under [house].',
                column=bills[0].cell.column,
            )
        return house
    if fits["C"] != fits["F"]:
        unit: Unit = "C" if fits["C"] else "F"
    elif not fits["C"] or sum(celsius(one.value, "F") for one in found) / len(found) < RARELY_C:
        unit = "C"
    else:
        one = max(found, key=lambda each: each.value)
        gate.wrong(
            one.cell,
            f"no unit of temperature is set: {one.value:g} may be degrees F ({celsius(one.value, 'F'):.0f} C) or "
            f"degrees C ({one.value * 1.8 + 32.0:.0f} F)",
            'Set temperature_unit = "F" under [house] (or "C").',
        )
        return house
    if unit == "F":
        gate.notice(
            "No temperature unit is set; the temperatures were taken as degrees Fahrenheit, since in Celsius no place "
            "has them."
        )
    elif any(one.days > 1 for one in found):
        gate.notice("No temperature unit is set; degrees Celsius were taken.")
    return replace(house, temperature_unit=unit)


def _bare(table: Table | None, columns: Sequence[str], day: str, days: int, gate: Gate) -> list[Degrees]:
    """Return the temperatures of a table that carry no unit, neither behind them nor in their header."""
    if table is None:
        return []
    own = [column for column in columns if table.has(column) and column not in table.units]
    quiet = gate.aside()
    found = []
    for row in table.rows:
        for column in own:
            cell = row[column]
            text = _NUMBER.fullmatch(str(cell.value)) if not cell.blank and not isinstance(cell.value, bool) else None
            if text is not None:
                on = quiet.day(row[day]) if table.has(day) else None
                found.append(Degrees(cell, float(text[1].replace(",", ".")), on, days))
    return found


def _fits(found: Sequence[Degrees], unit: Unit, north: bool) -> bool:
    """Whether temperatures read in a unit are those of some place (of the north, where it is known to be there)."""
    values = [celsius(one.value, unit) for one in found]
    for one, value in zip(found, values, strict=True):
        wander = 0.0 if one.days > 1 else DAYS_WANDER_C
        low, high = COLDEST_PERIOD_C, WARMEST_PERIOD_C
        if north and one.day is not None:
            middle = one.day.toordinal() - one.days // 2
            low, high = MONTHS_C[date.fromordinal(max(middle, 1)).month - 1]
        if not low - wander <= value <= high + wander:
            return False
    if sum(one.days for one in found) < YEAR_DAYS:
        return True
    months: dict[tuple[int, int], list[float]] = {}
    for one, value in zip(found, values, strict=True):
        if one.day is not None:
            months.setdefault((one.day.year, one.day.month), []).append(value)
    warmest = max((sum(month) / len(month) for month in months.values()), default=COLD_MONTH_C)
    return max(values) >= COLD_SUMMER_C and min(values) <= WARM_WINTER_C and warmest >= COLD_MONTH_C
