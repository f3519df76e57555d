"""Daily outdoor temperatures, in a plain table or as NOAA's daily summaries are downloaded."""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from statistics import median_high
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.house import Bill, House, Weather
from reconcile.read.household.weather_doubts import exchanged, in_other_unit
from reconcile.read.tables.bounds import COLDEST_C, MOST_DAYS, WARMEST_C
from reconcile.read.tables.cells import Row, Table
from reconcile.read.tables.gate import Gate
from reconcile.read.tables.station_files import without_flag
from reconcile.read.values.dates import clock_of

ENOUGH = 0.75
"""Share of a day's usual readings from which their mean stands for the day (our choice: a night's six hours missing
move it by a kelvin or two, half a day's by several)."""


def read_weather(table: Table, gate: Gate, house: House, bills: tuple[Bill, ...]) -> Weather | None:
    """Read the weather as a calendar without gaps; None where something is wrong."""
    if table.has("station"):  # NOAA's daily summaries have many columns that are not weather to a house
        table.now_read(*table.unread)
    if not _has_needed(table, gate) or not _one_station(table, gate):
        return None
    faults_before = len(gate.faults)
    readings: dict[date, dict[int, float]] = {}
    columns = [name for name in ("mean", "tavg", "tmin", "tmax") if table.has(name)]
    flagged = [
        text for row in table.rows for name in columns if without_flag(text := str(row.value(name) or "")) != text
    ]
    if flagged:
        gate.notice(
            f"{table.place}: the sign behind a temperature is not read ({flagged[0].strip()}, {len(flagged)} in all)."
        )
    crossed = _crossed(table, gate, house)
    zone = _zone_of_hours(table, gate, house)
    for row in table.rows:
        if row.number not in crossed:
            _day(row, columns, gate, house, readings, zone)
    if len(gate.faults) > faults_before:
        return None
    means = _by_day(readings, table, gate)
    if not means:
        gate.fault_in(table, "no day has a temperature", "Fill it or take it away.", row=table.header_row)
        return None
    if not _fit_together(means, table, gate, house):
        return None
    if _by_month(means):
        means = {day: mean for first, mean in means.items() for day in _days_of_month(first)}
        gate.notice(
            f"{table.sheet or table.file}: there is one temperature a month. Each is taken for the mean of all days of "
            "its month. Daily temperatures say more."
        )
    first, last = min(means), max(means)
    days = (last - first).days + 1
    if days > MOST_DAYS:
        gate.fault_in(
            table, f"it spans {days} days", "Check the years of its dates.", row=table.header_row, column="date"
        )
        return None
    calendar = np.array([means.get(first + timedelta(days=n), np.nan) for n in range(days)])
    weather = Weather(first, calendar, int(np.isnan(calendar).sum()))
    if bills and all(np.isnan(weather.between(bill.start, bill.closes)).all() for bill in bills):
        gate.fault_in(
            table,
            f"it covers no billing period: it goes from {first} to {last}, "
            f"the bills from {bills[0].start} to {max(bill.end for bill in bills)}",
            "Take the weather of the bills' own days.",
        )
    return weather


FEWEST_MONTHS = 3
"""Months from which temperatures on the first, or on the last, day of each are told from single days (our choice)."""


def _by_month(means: Mapping[date, float]) -> bool:
    """Whether every temperature stands on the first day of a month, or every one on the last."""
    first = all(day.day == 1 for day in means)
    last = all((day + timedelta(days=1)).day == 1 for day in means)
    return len(means) >= FEWEST_MONTHS and (first or last)


def _days_of_month(day: date) -> list[date]:
    first = day.replace(day=1)
    return [first + timedelta(days=n) for n in range(monthrange(day.year, day.month)[1])]


def _fit_together(means: dict[date, float], table: Table, gate: Gate, house: House) -> bool:
    moved = exchanged(means)
    if moved is not None:
        gate.fault_in(
            table,
            f"temperatures of days up to the 12th fit their month only with day and month exchanged, as on {moved}",
            f"Write dates as year-month-day: {moved.year}-{moved.day:02d}-{moved.month:02d} where that day was meant.",
            row=table.header_row,
            column="date",
        )
    elif in_other_unit(means):
        unit, other = ("F", "C") if house.temperature_unit == "F" else ("C", "F")
        gate.fault_in(
            table,
            f"in degrees {unit} no place has such a year: {min(means.values()):.0f} to {max(means.values()):.0f} degC",
            f'If these are degrees {other}, set temperature_unit = "{other}" under [house].',
            row=table.header_row,
        )
    else:
        return True
    return False


def _has_needed(table: Table, gate: Gate) -> bool:
    both = table.has("tmin") and table.has("tmax")
    if not table.has("date"):
        problem, remedy = "the column date is missing", "Add a column headed date."
    elif not (table.has("mean") or table.has("tavg") or both):
        problem, remedy = "there is no column of temperatures", "Add a column mean, or tmin and tmax."
    elif table.has("mean") and table.has("tavg"):
        problem, remedy = "mean and tavg both give the daily mean", "Keep one of the two."
    else:
        return True
    gate.fault_in(table, problem, remedy, row=table.header_row)
    return False


def _one_station(table: Table, gate: Gate) -> bool:
    if not table.has("station"):
        return True
    stations = {str(row.value("station")).strip(): row for row in reversed(table.rows) if not row.blank("station")}
    if len(stations) <= 1:
        return True
    names = sorted(stations)
    gate.wrong(
        next(row for row in table.rows if str(row.value("station")).strip() == names[1])["station"],
        f"there is more than one station ({', '.join(names[:5])})",
        "Keep the rows of the station nearest to the house.",
    )
    return False


def _by_day(readings: dict[date, dict[int, float]], table: Table, gate: Gate) -> dict[date, float]:
    """Return the mean of each day's readings; of several a day, those of days that miss too many are left out."""
    usual = median_high(map(len, readings.values())) if readings else 0
    means = {day: sum(own.values()) / len(own) for day, own in readings.items() if len(own) >= ENOUGH * usual}
    if usual > 1:
        left = len(readings) - len(means)
        few = f"; {left} with fewer than three quarters of them {'was' if left == 1 else 'were'} left out"
        gate.notice(f"{table.place}: {usual} temperatures a day were averaged by days{few if left else ''}.")
    return means


FEW_CROSSED = 0.02
"""Part of the days whose lowest temperature may stand above the highest and be left out: a station's slip (ours)."""


def _crossed(table: Table, gate: Gate, house: House) -> frozenset[int]:
    """Rows whose lowest temperature is above the highest: a few are left out and told, more are faults."""
    if not (table.has("tmin") and table.has("tmax")):
        return frozenset()
    aside, rows = gate.aside(), []
    for row in table.rows:
        low, high = (_temperature(row, name, aside, house) for name in ("tmin", "tmax"))
        if low is not None and high is not None and low > high:
            rows.append(row)
    if len(rows) > FEW_CROSSED * len(table.rows):
        for row in rows:
            gate.wrong(row["tmin"], "the lowest temperature is above the highest", "Check tmin and tmax.")
    elif rows:
        days = "1 day" if len(rows) == 1 else f"{len(rows)} days"
        gate.notice(
            f"{table.place}: the lowest temperature is above the highest on {days}, the first in row {rows[0].number}; "
            "left out."
        )
    return frozenset(row.number for row in rows)


_UTC_STAMP = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d(?::\d\d(?:\.\d+)?)?(?:Z|[+]00:?00)")


def _zone_of_hours(table: Table, gate: Gate, house: House) -> ZoneInfo | None:
    """Return the house's zone where hours are written in UTC, which end the day elsewhere; None where they are not."""
    stamps = [str(row.value("date")).strip() for row in table.rows]
    if not stamps or not all(_UTC_STAMP.fullmatch(stamp) for stamp in stamps):
        return None
    if len({stamp[11:16] for stamp in stamps}) == 1:  # one temperature a day: the date is the day's name
        return None
    gate.notice(f"{table.place}: its hours are UTC and were put into the days of {house.timezone}.")
    return ZoneInfo(house.timezone)


def _day(
    row: Row,
    columns: Sequence[str],
    gate: Gate,
    house: House,
    readings: dict[date, dict[int, float]],
    zone: ZoneInfo | None,
) -> None:
    when = row["date"]
    if zone is not None:
        local = datetime.fromisoformat(re.sub("Z$", "+00:00", str(when.value).strip())).astimezone(zone)
        when = replace(when, value=f"{local:%Y-%m-%d %H:%M}")
    day = gate.day(when, needed=True)
    told = {name: _temperature(row, name, gate, house) for name in columns}
    mean, low, high = told.get("mean", told.get("tavg")), told.get("tmin"), told.get("tmax")
    if mean is None and low is not None and high is not None:
        mean = (low + high) / 2.0
    if day is None or mean is None:
        return
    own, clock = readings.setdefault(day, {}), clock_of(when.value)
    if clock:  # an hour may stand twice: in autumn the clock repeats one
        own[len(own) + 1] = mean
    elif own.setdefault(0, mean) != mean:
        gate.wrong(row["date"], "this day stands twice with different temperatures", "Keep one of the two.")


MISSING = re.compile(r"m|missing|none|null|nan|na|\?|-99+(?:\.[09]+)?|9999+(?:\.[09]+)?|999\.9+", re.IGNORECASE)
"""What stations and people write for a day without a temperature; no place has such a one."""


def _temperature(row: Row, column: str, gate: Gate, house: House) -> float | None:
    cell = row[column]
    if cell.blank or MISSING.fullmatch(str(cell.value).strip()):
        return None
    if isinstance(cell.value, str) and (bare := without_flag(cell.value.strip())) != cell.value:
        cell = replace(cell, value=bare)
    celsius, unit = gate.temperature(cell, house.temperature_unit)
    if celsius is None or COLDEST_C <= celsius <= WARMEST_C:
        return celsius
    other = "C" if unit == "F" else "F"
    gate.wrong(
        cell,
        f"it was never that cold or warm in degrees {unit}",
        f'If these are degrees {other}, set temperature_unit = "{other}" under [house]; '
        "tenths of a degree are to be divided by ten.",
    )
    return None
