"""Whether temperatures without a unit are degrees Celsius or Fahrenheit: told by what they would be, else asked."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Literal

from reconcile.house import House
from reconcile.read.household.weather_doubts import COLD_SUMMER_C, WARM_WINTER_C, YEAR_DAYS
from reconcile.read.tables.bounds import WARMEST_PERIOD_C
from reconcile.read.tables.cells import Cell, Table
from reconcile.read.tables.gate import Gate

Unit = Literal["C", "F"]

COLDEST_PERIOD_C = -45.0
"""No inhabited place has a colder month (from memory: the coldest towns have -45 to -48 degC in January)."""
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
    tables : dict of str to Table
    gate : Gate
        Told what was taken; asked where two readings are possible.

    Returns
    -------
    House
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
            gate.fault(
                f"in degrees {own} no place has {low:g} to {high:g} as the averages of its bills",
                f'If these are degrees {other}, set temperature_unit = "{other}" under [house].',
                file=bills[0].cell.file,
                sheet=bills[0].cell.sheet,
                column=bills[0].cell.column,
            )
        return house
    if fits["C"] != fits["F"]:
        unit: Unit = "C" if fits["C"] else "F"
    elif not fits["C"] or sum(map(_as_fahrenheit, found)) / len(found) < RARELY_C:
        unit = "C"
    else:
        one = max(found, key=lambda each: each.value)
        gate.fault(
            f"no unit of temperature is set: {one.value:g} may be degrees F ({_as_fahrenheit(one):.0f} C) or "
            f"degrees C ({one.value * 1.8 + 32.0:.0f} F)",
            'Set temperature_unit = "F" under [house] (or "C").',
            file=one.cell.file,
            sheet=one.cell.sheet,
            row=one.cell.row,
            column=one.cell.column,
            read=one.cell.read,
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


def _as_fahrenheit(one: Degrees) -> float:
    return (one.value - 32.0) / 1.8


def _fits(found: Sequence[Degrees], unit: Unit, north: bool) -> bool:
    """Whether temperatures read in a unit are those of some place (of the north, where it is known to be there)."""
    values = [one.value if unit == "C" else _as_fahrenheit(one) for one in found]
    for one, value in zip(found, values, strict=True):
        wander = 0.0 if one.days > 1 else DAYS_WANDER_C
        low, high = COLDEST_PERIOD_C, WARMEST_PERIOD_C
        if north and one.day is not None:
            middle = one.day.toordinal() - one.days // 2
            low, high = MONTHS_C[date.fromordinal(max(middle, 1)).month - 1]
        if not low - wander <= value <= high + wander:
            return False
    return sum(one.days for one in found) < YEAR_DAYS or (max(values) >= COLD_SUMMER_C and min(values) <= WARM_WINTER_C)
