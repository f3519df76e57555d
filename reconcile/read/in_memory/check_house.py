"""A house built in memory passes the gate that files pass: each part is laid out as its table and read again."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from datetime import date
from itertools import pairwise
from operator import attrgetter, is_
from typing import Any

import numpy as np

from reconcile.house import Bill, ChargeLine, Event, House, Interval, Load, RegisterReading, Weather
from reconcile.read.bills.bill_table import How, read_bills
from reconcile.read.bills.charge_table import read_charges
from reconcile.read.bills.register_table import read_registers
from reconcile.read.bills.tariff_tables import read_tariffs
from reconcile.read.household.events import read_events
from reconcile.read.household.load_table import read_loads
from reconcile.read.household.settings import BAND, HOUSE, METER, read_settings
from reconcile.read.in_memory.field_kinds import other_kinds
from reconcile.read.in_memory.laid_out import check_field_test, tariff_tables
from reconcile.read.tables.bounds import COLDEST_C, LINE_VOLTS, MOST_DAYS, SHORT_TIME_FACTOR, WARMEST_C, most_watts
from reconcile.read.tables.cells import Cell, Row, Section, Table, plain_name, shown
from reconcile.read.tables.columns import TABLES
from reconcile.read.tables.gate import Gate

Names = Mapping[str, str]
"""Columns of a table to the fields of what its rows are."""


def _names(table: str, kind: type[Any], **renamed: str) -> Names:
    """Return the columns of a table that its rows hold, and in which field."""
    held = {f.name for f in fields(kind)}
    fields_of = {column: renamed.get(column, column) for column in TABLES[table].names}
    return {column: field for column, field in fields_of.items() if field in held}


BILL = _names("bills", Bill, days="printed_days", mean_temperature="mean_temperature_c")
LOAD = _names("loads", Load, load="name", balance_temperature="balance_c", **{"from": "arrives", "until": "leaves"})
LOAD = {column: field for column, field in LOAD.items() if column != "efficiency"}  # the watts are kept after it
EVENT, READING = _names("events", Event, date="day"), _names("readings", RegisterReading, date="day")
CHARGE = _names("charges", ChargeLine)
_ROW = re.compile(r"(bills|loads|events|readings|charges)\[(\d+)\]\.(\w+)")
MONTHS = ("coldest_month", "warmest_month")

NEEDED = frozenset({"start", "end", "kwh", "load", "date", "kind", "value"})
"""Columns that a table has also where nothing stands in them."""


def check_house(house: Any) -> None:
    """Hold a house against everything that its files would be held against.

    Parameters
    ----------
    house : House
        Built in memory; one that was read from files passes unchanged.

    Raises
    ------
    InputError
        With every fault; the row of a fault counts from 1 in the house's own tuple.
    """
    if isinstance(house, House) and house.passed:
        return
    gate = Gate()
    gate.settings_in = "arguments"
    if not isinstance(house, House):
        gate.fault("this is no House", "Build it with House(...), read_house or House.from_frames.", file="house")
        gate.raise_if_any()
    _of_their_kinds(house, gate)
    gate.raise_if_any()  # of what is of another kind nothing else can be asked
    _settings(house, gate)
    if house.service not in LINE_VOLTS:  # which is told
        house = replace(house, service="unknown")
    base = replace(house, temperature_unit="C", bills=(), loads=(), events=(), notices=())
    bills = _bills(house, base, gate)
    _same(house.loads, "loads", LOAD, gate, lambda table: read_loads(table, gate, base))
    for at, load in enumerate(house.loads, start=1):
        cell = Cell(load.efficiency, "loads", "efficiency", at)
        gate.number(cell, low=0.02, high=1.0)
    _same(house.events, "events", EVENT, gate, lambda table: read_events(table, gate, house.loads))
    _same(house.readings, "readings", READING, gate, lambda table: read_registers(table, gate))
    _same(house.charges, "charges", CHARGE, gate, lambda table: read_charges(table, gate, bills))
    read_tariffs(tariff_tables(house.tariffs), gate)
    if house.weather is not None:
        check_weather(house.weather, bills, gate)
    if house.interval is not None:
        check_interval(house.interval, house, gate)
    if house.field_test is not None:
        check_field_test(house.field_test, house, gate)
    gate.raise_if_any()


def _of_their_kinds(house: House, gate: Gate) -> None:
    for other in other_kinds(house):
        place = _ROW.fullmatch(other.path)
        file, row, column = place.groups() if place is not None else ("settings", None, other.path)
        gate.fault(
            "this is not how a house keeps it",
            f"Give {other.wanted}.",
            file=file,
            row=None if row is None else int(row),
            column=column,
            read=shown(other.value),
        )


def _table(items: Sequence[Any], name: str, names: Names) -> Table:
    """Lay things out as the table of their file: the columns in which anything stands, one row each."""
    filled = {}
    for column, field in names.items():
        values = [getattr(item, field) for item in items]
        if column not in NEEDED and not any(value is not None for value in values):
            continue
        cells = [_cell(value) for value in values]
        if column in NEEDED or any(cell is not None for cell in cells):
            filled[column] = cells
    texts = frozenset(column.name for column in TABLES[name] if column.kind == "text")
    header = {plain_name(column): index for index, column in enumerate(filled)}
    table = Table(name, None, list(filled), header, header_row=0, texts=texts)
    table.rows = [Row(table, number, values) for number, values in enumerate(zip(*filled.values(), strict=True), 1)]
    return table


SEVERAL = (frozenset, set, tuple)


def _cell(value: Any) -> Any:
    if value is None or isinstance(value, str):
        return value or None
    if isinstance(value, np.generic):
        return value.item()
    return sorted(value, key=str) if isinstance(value, SEVERAL) else value


def _same(items: Sequence[Any], name: str, names: Names, gate: Gate, read: Any) -> None:
    """Read things again through their table, and hold what comes out against them."""
    if not items:
        return
    before = len(gate.faults)
    read_again = list(read(_table(items, name, names)))
    if len(gate.faults) == before:
        _compare(items, read_again, name, names, gate)


def _compare(items: Sequence[Any], again: Sequence[Any], name: str, names: Names, gate: Gate) -> None:
    by_row, held = {item.row: item for item in again}, attrgetter(*names.values())
    for number, item in enumerate(items, start=1):
        other = by_row.get(number)
        if other is None:
            continue
        all_was, all_now = held(item), held(other)
        if all_was == all_now and all(map(is_, map(type, all_was), map(type, all_now))):
            continue
        for (column, field), was, now in zip(names.items(), all_was, all_now, strict=True):
            if was is now or _equal(was, now):
                continue
            gate.fault(
                "this is not how a house keeps it",
                f"Write {field}={now!r}." if now is not None else f"Leave {field} out.",
                file=name,
                row=number,
                column=column,
                read=shown(was),
            )


def _equal(was: Any, now: Any) -> bool:
    if was is None:
        return now is None
    if isinstance(was, np.generic):
        was = was.item()
    if isinstance(was, float) and isinstance(now, float):
        return math.isclose(was, now, rel_tol=1e-9)
    return bool(type(was) is type(now) or isinstance(was, int | float)) and bool(was == now)


def _bills(house: House, base: House, gate: Gate) -> tuple[Bill, ...]:
    found = house.bills
    if not found:
        gate.fault("there are no bills", "Give at least one Bill.", file="bills")
        return ()
    before = len(gate.faults)
    for number, bill in enumerate(found, start=1):
        doubt = Cell(bill.edge_doubt_days, "bills", "edge_doubt_days", number)
        gate.number(doubt, low=0.0, high=31.0)
    if len(gate.faults) > before:
        return ()
    again: list[Bill] = []
    for inclusive in sorted({bill.inclusive for bill in found}):
        table = _table(found, "bills", BILL)
        table.rows = [row for row, bill in zip(table.rows, found, strict=True) if bill.inclusive is inclusive]
        again += read_bills([table], gate, base, How(inclusive, has_readings=bool(house.readings)))
    if len(gate.faults) > before:
        return ()
    _compare(found, again, "bills", BILL, gate)
    for number, (bill, later) in enumerate(pairwise(found), start=2):
        if later.start < bill.start:
            gate.fault(
                "the bills do not stand in order of their start",
                "Sort them: bills=tuple(sorted(bills, key=lambda bill: bill.start)).",
                file="bills",
                row=number,
                column="start",
                read=later.start.isoformat(),
            )
            break
    return found


def _settings(house: House, gate: Gate) -> None:
    values: dict[str, Any] = {
        "house": {
            **{name: _cell(getattr(house, name)) for name in HOUSE if name != "floor_area"},
            "floor_area": _cell(house.floor_area_m2),
        },
        "site": {f"{name}_mean": _degrees(getattr(house, f"{name}_c"), house.temperature_unit) for name in MONTHS},
        "danger": {str(name): True for name in house.dangers},
        "meter": [{key: _cell(getattr(m, field)) for key, field in METER.items()} for m in house.meters],
        "band": {name: _cell(getattr(house.band, name)) for name in BAND},
    }
    if not house.meters:
        gate.fault("a house has at least one Meter", "Write meters=(Meter(),).", file="settings", column="meter")
    before = len(gate.faults)
    again = read_settings(Section(values, "settings"), gate, house.name if isinstance(house.name, str) else "").house
    if len(gate.faults) > before:
        return
    held = [name.replace("floor_area", "floor_area_m2") for name in HOUSE]
    for name in (*held, "dangers", *(f"{month}_c" for month in MONTHS)):
        was, now = getattr(house, name), getattr(again, name)
        if not (_equal(was, now) or (name == "dangers" and set(was) == set(now))):
            gate.fault(
                "this is not how a house keeps it",
                f"Write {name}={now!r}.",
                file="settings",
                column=name,
                read=shown(was),
            )


def _degrees(celsius: Any, unit: str) -> Any:
    """A temperature as the settings of a house in that unit hold it."""
    known = isinstance(celsius, int | float) and not isinstance(celsius, bool)
    return celsius * 1.8 + 32.0 if known and unit == "F" else _cell(celsius)


def check_weather(weather: Weather, bills: Sequence[Bill], gate: Gate) -> None:
    """Check daily means: a plain array of temperatures in degrees Celsius that reaches some of the bills."""
    file, means = "weather", weather.mean_c
    if not isinstance(means, np.ndarray) or means.ndim != 1 or means.dtype.kind != "f" or not len(means):
        gate.fault(
            "its temperatures are not one array of numbers", "Use Weather.from_series.", file=file, column="mean"
        )
        return
    if type(weather.first) is not date:
        gate.fault("its first day is not a date", "Write first=date(2025, 1, 7).", file=file, column="date")
        return
    if len(means) > MOST_DAYS:
        gate.fault(f"it spans {len(means)} days", "Check the years of its dates.", file=file)
    wrong = np.flatnonzero(~np.isnan(means) & ~((means >= COLDEST_C) & (means <= WARMEST_C)))
    for at in wrong[:20].tolist():
        gate.fault(
            "it was never that cold or warm in degrees C",
            "A house keeps degrees Celsius: (F - 32) / 1.8, or Weather.from_series(..., temperature_unit='F').",
            file=file,
            row=at + 1,
            column="mean",
            read=shown(float(means[at])),
        )
    if bills and all(np.isnan(weather.between(bill.start, bill.closes)).all() for bill in bills):
        gate.fault(
            f"it covers no billing period: it goes from {weather.first} to {weather.last}, "
            f"the bills from {bills[0].start} to {max(bill.end for bill in bills)}",
            "Take the weather of the bills' own days.",
            file=file,
        )


def check_interval(interval: Interval, house: House, gate: Gate) -> None:
    """Check interval data: rising instants, as many energies, none that the service could not carry.

    Parameters
    ----------
    gate : Gate
        Told each fault; its row counts readings from 1.
    """
    file, starts, kwh = "interval", interval.starts, interval.kwh
    if not (isinstance(starts, np.ndarray) and isinstance(kwh, np.ndarray) and starts.ndim == kwh.ndim == 1):
        gate.fault("its times and energies are not two arrays", "Use Interval.from_series.", file=file)
        return
    if starts.dtype.kind != "M" or kwh.dtype.kind != "f" or len(starts) != len(kwh) or not len(kwh):
        gate.fault("its times and energies do not fit each other", "Use Interval.from_series.", file=file)
        return
    step = interval.step_seconds
    if isinstance(step, bool) or not isinstance(step, int | np.integer) or not 0 < step <= 86_400:
        problem = "its step is not a number of seconds up to a day"
        gate.fault(problem, "Write step_seconds=3600.", file=file, read=shown(step))
        return
    seconds = interval.seconds
    if seconds is not None and (len(seconds) != len(kwh) or not (np.asarray(seconds) > 0).all()):
        gate.fault("its lengths do not fit its readings", "Give one number of seconds for each.", file=file)
        return
    if np.isnat(starts).any() or (np.diff(starts.astype("datetime64[s]").astype(np.int64)) <= 0).any():
        gate.fault("its times do not rise", "Sort them, and keep each once.", file=file)
    hours = (np.full(len(kwh), step) if seconds is None else np.asarray(seconds)) / 3600.0
    most = SHORT_TIME_FACTOR * most_watts(house) / 1000.0 * hours
    too_much = f"the service could not carry that in one interval (at most {most.max():.4g} kWh)"
    over = np.isfinite(kwh) & (np.abs(kwh) > most)
    in_wh = bool(over.mean() > 0.5 and (np.abs(kwh) <= 1000.0 * most).all())
    check = "Are these Wh? Then Interval.from_series(..., unit='Wh')." if in_wh else "Check the figure and its unit."
    for bad, problem, remedy in (
        (~np.isfinite(kwh), "this is not a finite number", "Leave missing intervals out."),
        (over, too_much, check),
        (
            (kwh < 0.0) & (not (house.generation or interval.net)),
            "energy cannot be below zero where the house makes none",
            "Check the sign, or set generation=True.",
        ),
    ):
        for at in np.flatnonzero(bad)[:20].tolist():
            gate.fault(problem, remedy, file=file, row=at + 1, column="kwh", read=shown(float(kwh[at])))
