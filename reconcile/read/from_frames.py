"""Frames and series of pandas in place of files: the same tables, the same gate, the same faults."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, tzinfo
from typing import TYPE_CHECKING, Any

import numpy as np

from reconcile.errors import Fault, InputError
from reconcile.house import Action, House, Interval, Weather
from reconcile.read.cells import Grid, Section
from reconcile.read.check_house import check_interval, check_weather, interval_label
from reconcile.read.gate import Gate
from reconcile.read.settings import BILLS as BILLS_KEYS
from reconcile.read.settings import HOUSE as HOUSE_KEYS
from reconcile.read.settings import TABLES as SETTINGS
from reconcile.read.sources import TABLES, Sources

if TYPE_CHECKING:
    import pandas as pd

_OTHER_ROW = re.compile(r"\bin row (\d+)\b")

Labels = dict[str, dict[int, Any]]


def house_from_frames(
    frames: Mapping[str, Any], interval: Interval | pd.Series[float] | None, settings: Mapping[str, Any]
) -> House:
    """Read a house from frames; see :meth:`reconcile.house.House.from_frames`.

    Parameters
    ----------
    frames : mapping of str to DataFrame
        By the names of the tables, with the columns that the files may have.
    interval : Interval or Series, optional
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
    sources = Sources("house", Section(_settings(settings), "settings"))
    for name, frame in frames.items():
        if frame is None:
            continue
        if name not in TABLES:
            gate.fault("there is no such table", f"Known are {', '.join(TABLES)}.", file=name)
            continue
        if name == "weather" and isinstance(frame, Weather):
            ready = frame
            continue
        if name == "weather" and _is_series(frame):
            frame = frame.rename("mean").rename_axis("date").reset_index()
        if not _is_frame(frame):
            also = ", a Series of temperatures by days or a Weather" if name == "weather" else ""
            gate.fault("this is no frame", f"Give a DataFrame{also}.", file=f"{name} frame")
            continue
        sources.tables[name] = _grid(frame, f"{name} frame", labels)
    if frames.get("bills") is None:
        gate.fault("there are no bills", "Give bills, a frame with the columns start, end and kwh.", file="bills frame")
    house = assemble(sources, gate)
    if ready is not None:
        house = replace(house, weather=ready)
        check_weather(ready, house.bills, gate)
    if interval is not None:
        made = interval if isinstance(interval, Interval) else _guarded(lambda: interval_from_series(interval), gate)
        if made is not None:
            zone = None
            if isinstance(interval, Interval):
                made = interval
            else:
                zone = interval.index.tz  # type: ignore[attr-defined]
                made = _without_few(made, house, gate, zone)
            house = replace(house, interval=made)
            check_interval(made, house, gate, zone)
    _raise(gate, labels)
    return replace(house, notices=tuple(gate.notices)).through_gate()


FEW_BELOW_ZERO = 5
"""Negative readings of a house that makes nothing which are left out, as of a file; more are a fault."""


def _without_few(interval: Interval, house: House, gate: Gate, zone: tzinfo) -> Interval:
    """Leave out a few negative readings of a house that makes nothing, and tell of them."""
    below = np.flatnonzero(interval.kwh < 0.0)
    if house.generation or not 0 < len(below) <= FEW_BELOW_ZERO or len(below) == len(interval.kwh):
        return interval
    keep = np.ones(len(interval.kwh), dtype=bool)
    keep[below] = False
    named = ", ".join(str(interval_label(interval, int(at), zone)) for at in below)
    readings = "one reading below zero was" if len(below) == 1 else f"{len(below)} readings below zero were"
    gate.notice(f"Interval series: {readings} left out ({named}).")
    action = Action(
        "negative", len(below), float(interval.kwh[below].sum()), {"rows": named, "file": "interval series"}
    )
    return replace(interval, starts=interval.starts[keep], kwh=interval.kwh[keep], actions=(*interval.actions, action))


def _guarded(make: Any, gate: Gate) -> Any:
    try:
        return make()
    except InputError as error:
        gate.faults.extend(error.faults)
        return None


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
    return replace(fault, row=own.get(fault.row), problem=problem)


def _settings(settings: Mapping[str, Any]) -> dict[str, Any]:
    """Lay keyword arguments out as the settings file has them."""
    made: dict[str, Any] = {}
    for key, value in settings.items():
        if value is None:
            continue
        if key in HOUSE_KEYS:
            made.setdefault("house", {})[key] = value
        elif key in BILLS_KEYS:
            made.setdefault("bills", {})[key] = value
        elif key == "dangers":
            made["danger"] = dict.fromkeys(value, True) if not isinstance(value, str) else {value: True}
        elif key in (*SETTINGS, "tariff") and key not in ("house", "bills"):
            made[key] = value
        else:
            made.setdefault("house", {})[key] = value  # told as an unknown key with its nearest neighbour
    return made


def _is_series(frame: Any) -> bool:
    return hasattr(frame, "items") and hasattr(frame, "index") and hasattr(frame, "rename_axis") and frame.ndim == 1


def _is_frame(frame: Any) -> bool:
    return hasattr(frame, "columns") and hasattr(frame, "itertuples") and hasattr(frame, "index")


def _grid(frame: pd.DataFrame, file: str, labels: Labels) -> Grid:
    """Return a frame as the cells of a file: its header in row 1, its rows from 2."""
    named = frame.index.name is not None and not any(str(c) == str(frame.index.name) for c in frame.columns)
    header = [*([str(frame.index.name)] if named else []), *(str(column) for column in frame.columns)]
    grid = Grid(file, None, [(1, header)])
    labels[file] = {1: None}
    for number, (label, values) in enumerate(
        zip(frame.index.tolist(), frame.itertuples(index=False, name=None), strict=True), start=2
    ):
        cells = [plain(value) for value in ((label, *values) if named else values)]
        labels[file][number] = label if isinstance(label, int) else str(label)
        grid.rows.append((number, cells))
    return grid


def plain(value: Any) -> Any:
    """Return a value of pandas or numpy as the readers know it; None where it is missing.

    >>> plain(np.float64(3.0)), plain(float("nan")), plain(np.datetime64("2025-03-07"))
    (3.0, None, datetime.date(2025, 3, 7))
    """
    if value is None or type(value).__name__ in ("NAType", "NaTType"):
        return None
    if isinstance(value, np.datetime64):
        value = value.astype("datetime64[s]").item()
    elif isinstance(value, np.generic):
        value = value.item()
    elif hasattr(value, "to_pydatetime"):
        value = value.to_pydatetime()
    elif hasattr(value, "to_timestamp"):  # a pandas Period: its text is a month or a day
        return str(value)
    if isinstance(value, float) and np.isnan(value):
        return None
    if isinstance(value, datetime):
        midnight = value.replace(tzinfo=None)
        return midnight.date() if midnight.time() == datetime.min.time() else midnight
    return value


def weather_from_series(series: pd.Series[float], temperature_unit: str = "C") -> Weather:
    """Read daily mean temperatures by their days; see :meth:`reconcile.house.Weather.from_series`."""
    from reconcile.read.declared import WEATHER
    from reconcile.read.headers import find_table
    from reconcile.read.weather_table import read_weather

    gate, labels = Gate(), Labels()
    if not hasattr(series, "items") or not hasattr(series, "index"):
        gate.fault("this is no series", "Give a Series of temperatures by days.", file="weather series")
        gate.raise_if_any()
    file = "weather series"
    grid = Grid(file, None, [(1, ["date", "mean"])])
    labels[file] = {1: None}
    for number, (label, value) in enumerate(series.items(), start=2):
        grid.rows.append((number, [plain(label), plain(value)]))
        labels[file][number] = str(label)
    if temperature_unit not in ("C", "F"):
        gate.fault("this is no unit of temperature", 'Write "C" or "F".', file=file, read=str(temperature_unit))
    unit: Any = "F" if temperature_unit == "F" else "C"
    table = find_table(grid, WEATHER, gate)
    weather = read_weather(table, gate, House("house", (), temperature_unit=unit), ()) if table is not None else None
    _raise(gate, labels)
    assert weather is not None
    return weather


def interval_from_series(series: pd.Series[float], unit: str = "kWh") -> Interval:
    """Read energy by instants; see :meth:`reconcile.house.Interval.from_series`."""
    gate, file = Gate(), "interval series"
    index = getattr(series, "index", None)
    zone = getattr(index, "tz", None)
    if index is None or not hasattr(index, "asi8"):
        gate.fault("its index holds no times", "Give a Series with a DatetimeIndex.", file=file)
    elif zone is None:
        gate.fault(
            "its times do not say of which zone they are",
            'Localize the index first: series.tz_localize("America/Chicago").',
            file=file,
        )
    if unit not in ("kWh", "Wh", "kW"):
        gate.fault("this is no unit of interval data", 'Write "kWh", "Wh" or "kW".', file=file, read=str(unit))
    gate.raise_if_any()
    assert index is not None
    starts = index.tz_convert("UTC").tz_localize(None).to_numpy().astype("datetime64[s]")
    values = np.asarray(series, dtype=object)
    kwh = np.array([np.nan if (v := plain(value)) is None else v for value in values])
    steps = np.diff(starts.astype(np.int64))
    if len(starts) < 2:
        gate.fault("there are fewer than two readings", "Give more, or none.", file=file)
    elif kwh.dtype.kind not in "if":
        gate.fault("its values are not numbers", "Give numbers.", file=file)
    elif (steps <= 0).any():
        label = str(index[int(np.argmax(steps <= 0)) + 1])
        gate.fault("its times do not rise", "Sort them, and keep each once.", file=file, row=label)
    else:
        step = int(np.unique(steps)[np.argmax(np.unique(steps, return_counts=True)[1])])
        for at in np.flatnonzero(steps % step)[:5].tolist():
            gate.fault(
                f"this time does not fall on the steps of {step} s of the others",
                "Give one value for each interval.",
                file=file,
                row=str(index[at + 1]),
            )
        if step > 86_400:
            gate.fault("its readings are more than a day apart", "Give them as bills or readings.", file=file)
    gate.raise_if_any()
    keep = ~np.isnan(kwh)
    factor = {"kWh": 1.0, "Wh": 1e-3, "kW": step / 3600.0}[unit]
    return Interval(starts[keep], kwh[keep].astype(float) * factor, step)
