"""Tables with a column a day and a row an hour, as series of readings."""

from __future__ import annotations

import re

import numpy as np

from reconcile.array_types import Floats, Ints
from reconcile.clock import DAY_SECONDS
from reconcile.read.layouts.cell_kinds import LayoutError, kind_of
from reconcile.read.layouts.clock_column import HOUR, ClockColumn
from reconcile.read.layouts.interval_names import flow_of, unit_of
from reconcile.read.layouts.raw_tables import Column, RawTable, Rows
from reconcile.read.layouts.time_columns import OPEN_DATE, SAY_ORDER
from reconcile.read.tables.cells import shown
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.series import ReadContext, Series, oldest_first
from reconcile.read.timeline.wide_series import cells_of_days
from reconcile.read.values.calendar_order import day_numbers, settle
from reconcile.read.values.dates import order_of
from reconcile.read.values.local_stamps import shifted_hours
from reconcile.read.values.number_cells import OPEN_NUMBER, SAY_NUMBERS, read_numbers
from reconcile.read.values.time_cells import read_times
from reconcile.records import dataclass

MOST_DATES = 0.6
"""Share of a row's cells that are dates, from which it is a header of days (our choice)."""
FEWEST_ROWS = 12

_NO_HOUR = re.compile(r"total|sum|average|mean|min|max|gesamt|summe|media", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Across:
    """Where the days stand: the row of dates, its columns, and the column of hours."""

    header: int
    days: list[int]
    hours: int
    names: list[str]


def find_across(table: RawTable) -> Across | None:
    """Return where the days of a table stand, if they stand side by side."""
    for at, (number, written) in enumerate(table.head):
        cells = [cell.removesuffix(" 00:00:00") for cell in written]  # a workbook writes the midnight of a day
        days = [i for i, cell in enumerate(cells) if kind_of(cell) == "date"]
        full = [cell for cell in cells if cell]
        if len(days) < 2 or len(days) < MOST_DATES * len(full) or days[0] == 0:
            continue
        below = [row for _, row in table.head[at + 1 :]]
        dated = any(kind_of(cell) in ("date", "datetime") for row in below for cell in row)
        rows = [row for row in below if sum(map(bool, row)) > 1]  # a line of text below says nothing of the hours
        hours = [i for i in range(days[0]) if _are_hours([row[i] for row in rows if i < len(row)])]
        if len(rows) >= FEWEST_ROWS and not dated and hours:
            return Across(number, days, hours[-1], cells)
    return None


def _are_hours(cells: list[str]) -> bool:
    column = ClockColumn()
    column.add(np.array([cell.encode() for cell in cells if not _NO_HOUR.search(cell)] or [b"-"], dtype=np.bytes_))
    return not column.read().bad.any()


def read_across(table: RawTable, found: Across, context: ReadContext) -> list[Series]:
    """Read a table with a column a day.

    Raises
    ------
    LayoutError
        Where its days or hours cannot be read.
    """
    pieces = list(table.chunks({found.hours: 12}, found.days, found.header))
    rows = np.concatenate([numbered for numbered, _ in pieces])
    column = ClockColumn()
    for _, columns in pieces:
        column.add(columns[0])
    clock = column.read()
    named = np.array([bool(_NO_HOUR.search(column.texts[at])) or not column.texts[at] for at in _places(column)])
    days = _days(found, context.gate, table)
    values = _values(table, found, pieces, context.gate)
    if values is None or days is None:
        return []
    named |= np.isnan(values).all(axis=1)  # a line of text below the table
    wrong = np.flatnonzero(clock.bad & ~named)
    if len(wrong):
        row = int(rows[wrong[0]])
        raise LayoutError(f"this is no hour: {shown(table.cell(row, found.hours))}", "Write it as 14:00.", row)
    keep = np.flatnonzero(~clock.bad & ~named)
    begins, counted, step = _begins(clock.seconds[keep].astype(np.int64), clock.counted[keep].astype(np.int64))
    values = values[keep].T
    full = cells_of_days(values, begins, counted, step)
    labels = (days * DAY_SECONDS)[:, None] + begins[None, :]
    if counted:
        shape = labels.shape
        day = np.repeat(days, len(begins))
        labels = shifted_hours(labels.reshape(-1), day, np.tile(begins + step, len(days)), context.zone).reshape(shape)
    above = [
        cell for number, cells in table.head if number <= found.header for cell in cells if kind_of(cell) == "text"
    ]
    units = {unit for cell in above if (unit := unit_of(cell)) is not None}
    told = units.pop() if len(units) == 1 else None
    flows = {flow for cell in above if len(cell) <= 30 and (flow := flow_of(cell)) is not None}
    context.assumed.add("days-across", minutes=step // 60)
    series = Series(
        table,
        "days",
        "values",
        found.days[0],
        context.settings.unit or told or "kWh",
        flows.pop() if len(flows) == 1 else None,
        "start",
        labels.reshape(-1),
        None,
        values.reshape(-1),
        np.tile(rows[keep], len(days)).astype(np.int32),
        columns=np.repeat(np.array(found.days, dtype=np.int16), len(begins)),
        lengths=np.full(labels.size, step, dtype=np.int64),
        unit_from="household" if context.settings.unit else "file" if told else "nothing",
    )
    series = series.part(np.flatnonzero(full.reshape(-1)))
    return [oldest_first(series.part(np.argsort(series.labels, kind="stable")))]


def _places(column: ClockColumn) -> list[int]:
    return [int(at) for at in np.concatenate(column.places)]


def _days(found: Across, gate: Gate, table: RawTable) -> Ints | None:
    times = read_times(np.array([found.names[at].encode() for at in found.days], dtype=np.bytes_))
    calendar = settle(times.dates, order_of(gate.date_format))
    days, bad = day_numbers(times.dates, calendar.order)
    if calendar.open is not None or calendar.clash:
        gate.fault_in(table, OPEN_DATE, SAY_ORDER, row=found.header)
        return None
    if bad.any() or len(np.unique(days)) < len(days):
        raise LayoutError("its columns of days are no days, or one stands twice", "Write each once.", found.header)
    return days.astype(np.int64)


def _values(table: RawTable, found: Across, pieces: list[tuple[Rows, list[Column]]], gate: Gate) -> Floats | None:
    columns = [column for _, parts in pieces for column in parts[1:]]
    got = read_numbers(columns, table.delimiter, gate.number_format)
    if got.marks.open is not None:
        gate.fault_in(table, OPEN_NUMBER, SAY_NUMBERS, read=got.marks.open)
        return None
    n = len(found.days)
    for at, bad in enumerate(got.wrong):
        for index in bad[:5].tolist():
            row, column = int(pieces[at // n][0][index]), found.days[at % n]
            gate.fault_in(
                table,
                "this is text where a number is wanted",
                "Write a plain number, or leave it empty.",
                row=row,
                column=found.names[column],
                read=shown(table.cell(row, column)),
            )
    if any(len(bad) for bad in got.wrong):
        return None
    blocks = [np.stack(got.values[i : i + n], axis=1) for i in range(0, len(got.values), n)]
    return np.concatenate(blocks)


def _begins(seconds: Ints, counted: Ints) -> tuple[Ints, bool, int]:
    """Return the second of the day at which each row begins, whether rows are counted on, and the step [s]."""
    distances = np.diff(seconds)
    forward = distances[distances > 0]
    if len(forward) == 0:
        raise LayoutError("its hours do not follow one another", "Write one hour a row.", None)
    step = int(np.bincount(forward).argmax())
    if counted.any():
        ends = counted if counted.all() else counted + HOUR
        return ends - step, True, step
    last = int(seconds[-1])
    if int(seconds[0]) == step and last in (0, DAY_SECONDS):
        seconds = np.where(seconds == 0, DAY_SECONDS, seconds) - step
    return seconds, False, step
