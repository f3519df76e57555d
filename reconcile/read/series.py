"""A file of interval data as columns: which one holds times, which values, and what they read."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from reconcile.house import Assumed
from reconcile.read.cells import Cell, Grid, plain_name, shown
from reconcile.read.gate import Gate
from reconcile.read.settings import IntervalSettings

DAY = 86_400
LONGEST_BLOCK = 60
"""Lines above a table in which its header is looked for."""

_TIME_NAME = re.compile(
    r"(?:interval|period|read|reading|usage|local|meter)*"
    r"(?:datetime|timestamp|date|and|time|start|end|begin|beginning|ending|from|until|to)+(?:local|utc)?"
)
_UNIT = re.compile(r"(?<![a-z])(kwh|wh|kw)(?![a-z])")
_CLOCK = re.compile(
    r"(\d{1,2}):(\d{2})(?::(\d{2})(?:\.\d{1,9})?)?\s*([AaPp][Mm])?\s*(Z|UTC|GMT|[+-]\d{2}(?::?\d{2})?)?", re.ASCII
)
_NUMBERS = re.compile(r"(?:[+-]?\d{1,15}(?:\.\d{0,15})?(?:\n|\Z))+", re.ASCII)
_BLANKS = frozenset(("", "nan", "null", "none", "na", "n/a", "-"))
_UNITS: dict[str, Literal["kWh", "Wh", "kW"]] = {"kwh": "kWh", "wh": "Wh", "kw": "kW"}

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(slots=True)
class Series:
    """One file's readings: labels [s of its clock], offsets from UTC [s] where written, values, row numbers."""

    grid: Grid
    time_name: str
    value_name: str
    unit: Literal["kWh", "Wh", "kW"]
    stamps: Literal["start", "end"]
    labels: Ints = field(default_factory=lambda: np.empty(0, np.int64))
    offsets: Ints | None = None
    values: Floats = field(default_factory=lambda: np.empty(0))
    rows: Ints = field(default_factory=lambda: np.empty(0, np.int64))

    def wrong(
        self,
        gate: Gate,
        problem: str,
        remedy: str,
        index: int | None = None,
        column: str | None = None,
        read: str | None = None,
    ) -> None:
        """Record a fault of the file, or of the reading at ``index``, whose value is shown unless ``read`` is."""
        row = None if index is None else int(self.rows[index])
        if index is not None and read is None:
            read = shown(float(self.values[index]))
        gate.fault(problem, remedy, file=self.grid.file, sheet=self.grid.sheet, row=row, column=column, read=read)


Faulter = Callable[[str, str, int | None], None]


def read_series(grid: Grid, gate: Gate, settings: IntervalSettings, assumed: dict[str, Assumed]) -> Series | None:
    """Read one file, its oldest reading first; None where its layout is not the plain one.

    ``assumed`` gathers sentences about what the file itself does not say.
    """
    layout = _layout(grid, gate, settings, assumed)
    if layout is None:
        return None
    series, time_at, value_at = layout
    body = grid.rows[1:]
    width = max(time_at, value_at)
    full = [row if len(row) > width else [*row, *[None] * (width + 1 - len(row))] for _, row in body]
    series.rows = np.array([number for number, _ in body], dtype=np.int64)
    _read_times(series, [row[time_at] for row in full], gate)
    series.values = _read_values(series, [row[value_at] for row in full], gate)
    if len(series.rows) < 2:
        series.wrong(gate, "there are fewer than two readings", "Fill it or take it away.")
        return None
    if len(series.labels) == len(series.rows) and np.sum(np.diff(series.labels) < 0) > len(series.labels) / 2:
        for name in ("labels", "values", "rows", "offsets"):  # the newest first: turn it round
            column = getattr(series, name)
            setattr(series, name, None if column is None else column[::-1].copy())
    return series


def _layout(
    grid: Grid, gate: Gate, settings: IntervalSettings, assumed: dict[str, Assumed]
) -> tuple[Series, int, int] | None:
    """Find the column of times and the one of values."""

    def fault(problem: str, remedy: str, row: int | None) -> None:
        gate.fault(problem, remedy, file=grid.file, sheet=grid.sheet, row=row)

    if not grid.rows:
        fault("there is nothing in it", "Fill it or take it away.", None)
        return None
    names = ["" if cell is None else shown(cell) for cell in grid.rows[0][1]]
    times = [i for i, name in enumerate(names) if _is_time(name)]
    if not times:
        _no_header(grid, fault)
        return None
    stamps = settings.stamps
    named = {i: "end" if re.search("end|until|to$", plain_name(names[i])) else "start" for i in times}
    if len(times) == 2 and sorted(named.values()) == ["end", "start"]:
        wanted = stamps or "start"
        times = [i for i in times if named[i] == wanted]
        stamps = "end" if wanted == "end" else "start"
    if len(times) > 1:
        fault(
            "there is more than one column of times",
            "Keep one, with date and time in one cell, as 2025-03-07 14:00.",
            grid.rows[0][0],
        )
        return None
    if stamps is None:
        stamps = "end" if named[times[0]] == "end" else "start"
        assumed["stamps"] = Assumed("stamps", {"which": stamps})
    value = _value_column(names, named, settings, fault, grid.rows[0][0])
    if value is None:
        return None
    others = [name for i, name in enumerate(names) if name and i not in (value, *named)]
    if others:
        assumed["one-column"] = Assumed("one-column", {"read": names[value], "others": ", ".join(others[:5])})
    unit_named = _UNIT.search(names[value].casefold())
    unit = settings.unit or _UNITS[unit_named[1] if unit_named else "kwh"]
    if settings.unit is None and unit_named is None:
        assumed["unit"] = Assumed("unit")
    return Series(grid, names[times[0]], names[value], unit, stamps), times[0], value


def _is_time(name: str) -> bool:
    return bool(_TIME_NAME.fullmatch(re.sub(r"[^a-z]+", "", name.casefold())))


def _no_header(grid: Grid, fault: Faulter) -> None:
    for number, cells in grid.rows[1:LONGEST_BLOCK]:
        if any(isinstance(cell, str) and _is_time(cell) for cell in cells):
            fault(
                f"lines stand above the table, which begins in row {number}; this layout is not read yet",
                f"Delete the lines above row {number}.",
                grid.rows[0][0],
            )
            return
    fault(
        "no column of times is named in the first row",
        "Write time,kwh in the first row, and one interval a row below.",
        grid.rows[0][0],
    )


def _value_column(
    names: list[str], times: dict[int, str], settings: IntervalSettings, fault: Faulter, row: int
) -> int | None:
    candidates = [i for i, name in enumerate(names) if name and i not in times]
    if settings.channel is not None:
        wanted = [i for i in candidates if plain_name(names[i]) == plain_name(settings.channel)]
        if wanted:
            return wanted[0]
        listed = ", ".join(names[i] for i in candidates) or "none"
        fault(f"there is no column {settings.channel}", f"Set channel under [interval] to one of: {listed}.", row)
        return None
    with_unit = [i for i in candidates if _UNIT.search(names[i].casefold())]
    chosen = with_unit if len(with_unit) == 1 else candidates
    if len(chosen) == 1:
        return chosen[0]
    if chosen:
        listed = ", ".join(names[i] for i in chosen)
        fault("there is more than one column of values", f"Set channel under [interval] to one of: {listed}.", row)
    else:
        fault("there is no column of values", "Add a column kwh.", row)
    return None


def _cell(series: Series, column: str, index: int, value: Any) -> Cell:
    return Cell(value, series.grid.file, column, int(series.rows[index]), series.grid.sheet)


def _read_values(series: Series, column: list[Any], gate: Gate) -> Floats:
    try:
        if _NUMBERS.fullmatch("\n".join(column)):
            return np.array(column, dtype=float)
    except (TypeError, ValueError):  # a workbook's cells, or a text that is no number: cell by cell below
        pass
    blank = [v is None or (isinstance(v, str) and v.strip().casefold() in _BLANKS) for v in column]
    try:
        if any((isinstance(v, str) and "_" in v) or isinstance(v, bool | date | time) for v in column):
            raise ValueError
        values = np.array([math.nan if b else float(v) for v, b in zip(column, blank, strict=True)])
        if np.isinf(values).any() or int(np.isnan(values).sum()) != sum(blank):
            raise ValueError
    except (ValueError, TypeError, OverflowError):
        read = [
            None if b else gate.number(_cell(series, series.value_name, i, v))
            for i, (v, b) in enumerate(zip(column, blank, strict=True))
        ]
        values = np.array([math.nan if v is None else v for v in read], dtype=float)
    return values


def _read_times(series: Series, column: list[Any], gate: Gate) -> None:
    """Read each distinct day and each distinct clock time once."""
    days: dict[Any, int | None] = {}
    clocks: dict[str, tuple[int, int | None] | None] = {}
    labels = np.zeros(len(column), dtype=np.int64)
    offsets = np.zeros(len(column), dtype=np.int64)
    with_offset = 0
    for i, value in enumerate(column):
        if isinstance(value, datetime) and value.tzinfo is None:
            rounded = (value - datetime(1970, 1, 1)).total_seconds()
            labels[i] = round(rounded)
            continue
        text = value.strip() if isinstance(value, str) else value
        day_text, clock_text = text, ""
        if isinstance(text, str):
            day_text, _, clock_text = text.partition(" " if " " in text else "T")
        if day_text not in days:
            day = gate.day(_cell(series, series.time_name, i, day_text), needed=True)
            days[day_text] = None if day is None else (day - date(1970, 1, 1)).days * DAY
        if clock_text not in clocks:
            clocks[clock_text] = _clock(clock_text)
        start, at = days[day_text], clocks[clock_text]
        if at is None:
            gate.wrong(
                _cell(series, series.time_name, i, value),
                "this is not a date and a time",
                "Write it as 2025-03-07 14:00.",
            )
        elif start is not None:
            labels[i] = start + at[0]
            if at[1] is not None:
                offsets[i] = at[1]
                with_offset += 1
    series.labels = labels
    if with_offset == len(column):
        series.offsets = offsets
    elif with_offset:
        series.wrong(
            gate,
            f"{with_offset} of {len(column)} times carry their distance from UTC, the others none",
            "Write all of them in one way.",
            column=series.time_name,
        )


def _clock(text: str) -> tuple[int, int | None] | None:
    """Return the second of the day and the offset from UTC, where there is one.

    >>> _clock("2:15 PM"), _clock("14:15:00-05:00"), _clock("25:00")
    ((51300, None), (51300, -18000), None)
    """
    if not text:
        return 0, None
    found = _CLOCK.fullmatch(text.strip())
    if not found:
        return None
    hour, minute, second = int(found[1]), int(found[2]), int(found[3] or 0)
    if found[4]:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if found[4].casefold() == "pm" else 0)
    if minute > 59 or second > 59 or hour * 3600 + minute * 60 + second > DAY:
        return None
    offset = None
    if found[5]:
        digits = found[5][1:].replace(":", "") if found[5][0] in "+-" else ""
        size = int(digits[:2] or 0) * 3600 + int(digits[2:] or 0) * 60
        if size > 14 * 3600:
            return None
        offset = -size if found[5][0] == "-" else size
    return hour * 3600 + minute * 60 + second, offset
