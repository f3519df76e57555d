"""How long a quiet reading took, from the clock times in the evening and in the morning."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from reconcile.clock import DAY_SECONDS
from reconcile.house.site import Registered
from reconcile.read.on_site.field_names import called
from reconcile.read.tables.cells import Cell, Cells
from reconcile.read.tables.gate import Gate
from reconcile.read.values.clock_cells import read_clock

TIMES = ("time_start", "time_end")
LEAST_BY_CLOCK = 3600.0
"""Below this [s] a clock's minutes are too coarse: a minute off is nearly 2 % of an hour (our choice)."""
AGREES_SECONDS = 120.0
"""Clock times and seconds of one reading may differ by so much: a minute each (our choice)."""


def timed_by_clock(
    registered: Registered, cells: Cells, gate: Gate, day: date | None, timezone: str | None
) -> Registered:
    """Give a quiet reading the seconds from its evening's clock time to its morning's, where they are written.

    Parameters
    ----------
    day : date or None
        The evening's date, where it is written: a clock set forward or back in that night counts.
    """
    seconds = _seconds(cells, gate, day, timezone)
    if seconds is None or registered.seconds is None:
        return registered if seconds is None else replace(registered, seconds=seconds)
    if abs(registered.seconds - seconds) > AGREES_SECONDS:
        gate.wrong(
            cells["seconds"],
            f"the two times are {seconds:.0f} s apart",
            "Keep the times or the seconds, whichever is right.",
        )
    return registered


def _seconds(cells: Cells, gate: Gate, day: date | None, timezone: str | None) -> float | None:
    at = [_second(cells[key], gate) for key in TIMES]
    missing = [key for key in TIMES if cells[key].blank]
    if len(missing) == 1:
        other = called(cells, TIMES[1 - TIMES.index(missing[0])])
        gate.wrong(
            cells[missing[0]],
            f"{other} alone tells no length",
            f"Write {called(cells, missing[0])} too, as {'22:40' if missing[0] == TIMES[0] else '06:55'}.",
        )
    if at[0] is None or at[1] is None:
        return None
    seconds = _elapsed(at[0], at[1], day, timezone)
    if seconds < LEAST_BY_CLOCK:
        gate.wrong(
            cells["time_end"],
            f"{seconds / 60.0:.0f} min are too short to be timed by a clock's minutes",
            f"Time it with a watch and write {called(cells, 'seconds')}.",
        )
        return None
    return seconds


def _second(cell: Cell, gate: Gate) -> int | None:
    """Read a time of day: text, a cell that a spreadsheet holds as a time, or its part of a day."""
    if cell.blank:
        return None
    value = cell.value
    if isinstance(value, datetime):
        value = value.time()
    if isinstance(value, time):
        return value.hour * 3600 + value.minute * 60 + value.second
    if isinstance(value, timedelta) and 0.0 <= value.total_seconds() < DAY_SECONDS:
        return int(value.total_seconds())
    if isinstance(value, float) and 0.0 < value < 1.0:
        return round(value * DAY_SECONDS)
    clock = read_clock(value.strip().replace(".", ":", 1)) if isinstance(value, str) else None
    clock = clock or (read_clock(value) if isinstance(value, str) else None)
    if clock is None or clock.second is None or clock.span or clock.second >= DAY_SECONDS:
        gate.wrong(cell, "this is no time of day", "Write it as 22:40 or 10:40 pm.")
        return None
    return clock.second


def _elapsed(start: int, end: int, day: date | None, timezone: str | None) -> float:
    """Return the time from one clock time to the next of the other [s]."""
    past_midnight = end <= start
    if day is not None and timezone is not None:
        try:
            zone = ZoneInfo(timezone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            zone = None
        if zone is not None:
            midnight = datetime(day.year, day.month, day.day)
            first = (midnight + timedelta(seconds=start)).replace(tzinfo=zone)
            second = (midnight + timedelta(days=int(past_midnight), seconds=end)).replace(tzinfo=zone)
            return second.timestamp() - first.timestamp()
    return float((end - start) % DAY_SECONDS or DAY_SECONDS)
