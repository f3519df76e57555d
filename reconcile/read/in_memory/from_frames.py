"""Frames and series of pandas in place of files: the same tables, the same gate, the same faults."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from os import PathLike
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from reconcile.errors import Fault, InputError
from reconcile.house import House, Interval, Weather
from reconcile.read.household.settings import BILLS as BILLS_KEYS
from reconcile.read.household.settings import HOUSE as HOUSE_KEYS
from reconcile.read.household.settings import TABLES as SETTINGS
from reconcile.read.household.settings import to_zone
from reconcile.read.in_memory.check_house import check_interval, check_weather
from reconcile.read.in_memory.frame_series import Given, interval_of_frame
from reconcile.read.in_memory.frame_values import columns_of, is_frame, is_series, on_clock, plain, settled, shaped
from reconcile.read.tables.cells import Grid, Section
from reconcile.read.tables.gate import Gate
from reconcile.read.wrappings.sources import TABLES, Sources

if TYPE_CHECKING:
    import pandas as pd

_OTHER_ROW = re.compile(r"\bin row (\d+)\b")

Labels = dict[str, dict[int, Any]]


def house_from_frames(frames: Mapping[str, Any], interval: Any, settings: Mapping[str, Any]) -> House:
    """Read a house from frames; see :meth:`reconcile.house.House.from_frames`.

    Parameters
    ----------
    frames : mapping of str to DataFrame
        By the names of the tables, with the columns that the files may have.
    interval : Interval, Series or DataFrame, optional
        Energy by instants.
    settings : mapping
        Keys of ``[house]`` and ``[bills]`` by their names; other tables of the settings as mappings.

    Raises
    ------
    InputError
        With every fault, each with its frame, the label of its row and its column.
    """
    from reconcile.read import assemble

    gate, labels = Gate(), Labels()
    gate.settings_in = "arguments"
    ready: Weather | None = None
    try:
        laid = _settings(settings)
    except RecursionError:
        gate.fault("a setting holds itself", "Give plain tables of keys.", file="settings")
        laid = {}
    sources = Sources("house", Section(laid, "settings"))
    zone = to_zone(str(laid.get("house", {}).get("timezone")))
    for name, given in frames.items():
        if isinstance(given, Weather):
            ready = given
        elif given is not None:
            grid = _table(name, given, zone if isinstance(zone, ZoneInfo) else None, gate, labels)
            if grid is not None:
                sources.tables[name] = grid
    if frames.get("bills") is None:
        gate.fault("there are no bills", "Give bills, a frame with the columns start, end and kwh.", file="bills frame")
    house = assemble(sources, gate)
    if ready is not None:
        house = replace(house, weather=ready)
        check_weather(ready, house.bills, gate)
    if isinstance(interval, Interval):
        house = replace(house, interval=interval)
        check_interval(interval, house, gate)
    elif interval is not None:
        house = replace(house, interval=interval_of_frame(interval, None, gate, house))
    _raise(gate, labels)
    return replace(house, notices=tuple(gate.notices)).through_gate()


def _raise(gate: Gate, labels: Labels) -> None:
    """Raise all faults, each row by its label in the frame."""
    try:
        gate.raise_if_any()
    except InputError as error:
        raise InputError(_labelled(fault, labels) for fault in error.faults) from None


def _labelled(fault: Fault, labels: Labels) -> Fault:
    own = labels.get(fault.file)
    if own is None or not isinstance(fault.row, int):
        return fault
    # a problem that names another row of the frame names it by its label too
    problem = _OTHER_ROW.sub(lambda found: f"in row {own.get(int(found[1]), found[1])}", fault.problem)
    also = tuple(own.get(row, row) for row in fault.also_in if isinstance(row, int))
    return replace(fault, row=own.get(fault.row), problem=problem, also_in=also)


def _settings(settings: Mapping[str, Any]) -> dict[str, Any]:
    """Lay keyword arguments out as the settings file has them."""
    made: dict[str, Any] = {}
    for key, given in settings.items():
        value = settled(given)
        if value is None:
            continue
        if key in HOUSE_KEYS:
            made.setdefault("house", {})[key] = value
        elif key in BILLS_KEYS:
            made.setdefault("bills", {})[key] = value
        elif key == "dangers":
            signs = value if isinstance(value, list) else [value]
            made["danger"] = value if isinstance(value, Mapping) else {str(sign): True for sign in signs}
        elif key in (*SETTINGS, "tariff") and key not in ("house", "bills"):
            made[key] = value
        else:
            made.setdefault("house", {})[key] = value  # told as an unknown key with its nearest neighbour
    return made


def _table(name: str, given: Any, zone: ZoneInfo | None, gate: Gate, labels: Labels) -> Grid | None:
    """Return what was given for a table as the cells of a file; None, with a fault, where it is no table."""
    file = f"{name} frame"
    if name not in TABLES:
        gate.fault("there is no such table", f"Known are {', '.join(TABLES)}.", file=name)
        return None
    if isinstance(given, str | bytes | PathLike):
        gate.fault("this is a path", "Give a frame; reconcile.read_house reads files.", file=file, read=str(given))
        return None
    before = len(gate.faults)
    given = shaped(given, file, gate)
    if len(gate.faults) > before:
        return None
    if name == "weather" and is_frame(given) and hasattr(given.index, "asi8") and given.shape[1] == 1:
        given = given.iloc[:, 0]
    if name == "weather" and is_series(given):
        return _days(given, file, zone, gate, labels)
    if is_frame(given):
        return _laid(file, *columns_of(name, given, gate), list(given.index), zone, gate, labels)
    also = ", a Series of temperatures by days or a Weather" if name == "weather" else " or a list of dicts"
    gate.fault("this is no frame", f"Give a DataFrame{also}.", file=file)
    return None


def _days(series: pd.Series[float], file: str, zone: ZoneInfo | None, gate: Gate, labels: Labels) -> Grid:
    """Return temperatures by days as the cells of a file."""
    return _laid(file, ["date", "mean"], [list(series.index), list(series)], list(series.index), zone, gate, labels)


def _laid(
    file: str,
    header: list[str],
    columns: list[list[Any]],
    index: list[Any],
    zone: ZoneInfo | None,
    gate: Gate,
    labels: Labels,
) -> Grid:
    cells = [
        list(map(plain, on_clock(column, zone, gate, file, name))) for name, column in zip(header, columns, strict=True)
    ]
    rows = zip(*cells, strict=True) if cells else ()
    labels[file] = {1: None, **dict(enumerate(_labels(index), start=2))}
    return Grid(file, None, [(1, header), *enumerate(rows, start=2)])


def _labels(index: list[Any]) -> list[int | str]:
    """Labels of rows as a fault tells them; one that several rows have, with its place from the top."""
    own = [
        x if isinstance(x, int) else ", ".join(str(plain(one)) for one in (x if isinstance(x, tuple) else (x,)))
        for x in index
    ]
    times = Counter(own)
    return [x if times[x] == 1 else f"{x} (number {n} from the top)" for n, x in enumerate(own, start=1)]


def weather_from_series(series: pd.Series[float], temperature_unit: str = "C") -> Weather:
    """Read daily mean temperatures by their days; see :meth:`reconcile.house.Weather.from_series`."""
    from reconcile.read.household.weather_table import read_weather
    from reconcile.read.tables.columns import WEATHER
    from reconcile.read.tables.headers import find_table

    gate, labels, file = Gate(), Labels(), "weather series"
    gate.settings_in = "arguments"
    if not is_series(series):
        gate.fault("this is no series", "Give a Series of temperatures by days.", file=file)
        gate.raise_if_any()
    grid = _days(series, file, None, gate, labels)
    if temperature_unit not in ("C", "F"):
        gate.fault("this is no unit of temperature", 'Write "C" or "F".', file=file, read=str(temperature_unit))
    unit: Any = "F" if temperature_unit == "F" else "C"
    table = find_table(grid, WEATHER, gate)
    weather = read_weather(table, gate, House("house", (), temperature_unit=unit), ()) if table is not None else None
    _raise(gate, labels)
    assert weather is not None
    return weather


def interval_from_series(data: Any, unit: Given | None = None) -> Interval:
    """Read energy by instants; see :meth:`reconcile.house.Interval.from_series`."""
    gate = Gate()
    gate.settings_in = "arguments"
    interval = interval_of_frame(data, unit, gate, None)
    gate.raise_if_any()
    assert interval is not None
    return interval
