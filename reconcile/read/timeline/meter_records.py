"""Records of a meter data file in which a line announces a register and the lines below it hold a day each.

The layout is that of the open standard for interval meter data of the Australian market, from memory: a line that
begins with 200 announces the register (suffix, serial number, unit, minutes), one with 300 holds a day's values and
their quality, one with 400 the quality of some of the day's intervals. Suffixes that begin with E count what was
drawn, with B what was sent back. Times are those of the market, UTC+10 all year; in the west UTC+8.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import field
from datetime import date, datetime, timedelta, tzinfo

import numpy as np

from reconcile.clock import DAY_SECONDS
from reconcile.read.household.settings import IntervalSettings
from reconcile.read.layouts.cell_kinds import LayoutError, NoReadingsError
from reconcile.read.layouts.interval_names import Flow, unit_of
from reconcile.read.layouts.raw_tables import NumberedRow, RawTable, TextTable
from reconcile.read.tables.cells import plain_name, shown
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.row_registers import added
from reconcile.read.timeline.series import ReadContext, Series
from reconcile.read.values.number_cells import Marks, as_float
from reconcile.records import dataclass

STEPS = (5, 15, 30, 60)
"""Minutes of an interval."""
MARKET_SECONDS = 10 * 3600
ESTIMATES = ("E", "F", "S")
"""Letters of quality that are estimates or substitutes; N is no reading, V is told by lines of 400."""


@dataclass(slots=True)
class _Register:
    point: str
    suffix: str
    unit: str
    minutes: int
    days: list[int] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    values: list[list[float]] = field(default_factory=list)
    flags: list[list[bool]] = field(default_factory=list)


def are_meter_records(table: RawTable) -> bool:
    """Whether a table is made of such records."""
    first = [cells[0] for _, cells in table.head if cells]
    longest = max((len(cells) for _, cells in table.head if cells and cells[0] == "300"), default=0)
    return first[:1] == ["100"] and "200" in first and longest > 24


def read_meter_records(table: RawTable, context: ReadContext) -> list[Series]:
    """Read a file of records; the channel of the settings names a suffix or a point of supply.

    Raises
    ------
    LayoutError
        Where a record cannot be read, or there are several points of supply.
    """
    registers = _registers(_rows(table), table, context.gate)
    if registers is None:
        return []
    settings = context.settings
    energy = [one for one in registers if one.days and one.suffix[:1] in ("E", "B") and unit_of(one.unit)]
    if settings.channel is not None:
        wanted = plain_name(settings.channel)
        energy = [one for one in energy if wanted in (plain_name(one.suffix), plain_name(one.point))]
    if not energy:
        raise NoReadingsError("no energy is in its records", "Download the interval data of the meter.", None)
    points = list(dict.fromkeys(one.point for one in energy))
    if len(points) > 1:
        raise LayoutError(
            f"there are {len(points)} points of supply in it",
            f"Set channel under [interval] to one of: {', '.join(points)}.",
            None,
        )
    offset = _offset(settings, context.zone)
    context.assumed.add("market-time", hours=offset / 3600.0)
    made = []
    alone = settings.channel is not None and len({one.suffix for one in energy}) == 1
    flows: tuple[tuple[str, Flow], ...] = (("E", "delivered"), ("B", "received"))
    for letter, flow in flows:
        suffixes = list(dict.fromkeys(one.suffix for one in energy if one.suffix.startswith(letter)))
        parts = [_series(table, [one for one in energy if one.suffix == s], offset, flow) for s in suffixes]
        if not parts:
            continue
        if len(parts) > 1:
            context.assumed.add("phases", letter, names=" + ".join(suffixes))
        whole = added(parts[0], parts[1:], "price")
        whole.flow = "delivered" if alone else flow
        made.append(whole)
    return made


def _offset(settings: IntervalSettings, zone: tzinfo) -> int:
    """Return the distance of the market's clock from UTC [s]; in the west of Australia it is another one."""
    if settings.timezone != "house":
        away = datetime(2025, 6, 1, tzinfo=zone).utcoffset() or timedelta(0)
        return int(away.total_seconds())
    west = str(zone) in ("Australia/Perth", "Australia/West")
    return MARKET_SECONDS - (7200 if west else 0)


def _rows(table: RawTable) -> Sequence[NumberedRow]:
    if not isinstance(table, TextTable):
        return getattr(table, "rows", table.head)
    reader = csv.reader(io.StringIO(table.data.decode("utf-8", "replace"), newline=""), delimiter=table.delimiter)
    try:
        return [(reader.line_num, [cell.strip() for cell in cells]) for cells in reader]
    except csv.Error as error:
        raise LayoutError(f"this line is not proper CSV ({error})", "Download it anew.", reader.line_num) from None


def _registers(rows: Sequence[NumberedRow], table: RawTable, gate: Gate) -> list[_Register] | None:
    out: list[_Register] = []
    faults_before = len(gate.faults)

    def wrong(row: int, problem: str, read: str) -> None:
        gate.fault_in(table, problem, "Download it anew.", row=row, read=shown(read))

    for number, cells in rows:
        kind = cells[0] if cells else ""
        if kind == "200":
            minutes = cells[8] if len(cells) > 8 else ""
            if len(cells) < 9 or not minutes.isdigit() or int(minutes) not in STEPS:
                raise LayoutError("this record does not say how long its intervals are", "Download it anew.", number)
            out.append(_Register(cells[1], cells[4].upper(), cells[7], int(minutes)))
        elif kind == "300":
            if not out:
                raise LayoutError("this day stands before any register", "Download it anew.", number)
            _day(out[-1], number, cells, wrong)
        elif kind == "400" and out and out[-1].values:
            _qualities(out[-1], cells)
        elif kind == "250":
            raise NoReadingsError(
                "these records are readings of months, no intervals", "Put them into bills.csv or readings.csv.", number
            )
        elif kind not in ("100", "500", "900", ""):
            wrong(number, "this is no record of meter data", kind)
        if len(gate.faults) > faults_before + 40:
            break
    return out if len(gate.faults) == faults_before else None


def _day(register: _Register, number: int, cells: Sequence[str], wrong: object) -> None:
    assert callable(wrong)
    count = 1440 // register.minutes
    try:
        day = date(int(cells[1][:4]), int(cells[1][4:6]), int(cells[1][6:8])) if len(cells[1]) == 8 else None
    except (ValueError, IndexError):
        day = None
    if day is None:
        wrong(number, "there is no such day", cells[1] if len(cells) > 1 else "")
        return
    texts = list(cells[2 : 2 + count])
    values = [as_float(text, Marks()) for text in texts]
    if len(texts) < count or None in values:
        bad = next((text for text, value in zip(texts, values, strict=True) if value is None), str(len(texts)))
        wrong(number, f"this day has not {count} values", bad)
        return
    quality = cells[2 + count][:1].upper() if len(cells) > 2 + count else "A"
    register.days.append((day - date(1970, 1, 1)).days)
    register.rows.append(number)
    register.values.append([float("nan") if quality == "N" or value is None else value for value in values])
    register.flags.append([quality in ESTIMATES] * count)


def _qualities(register: _Register, cells: Sequence[str]) -> None:
    """Take in a line of 400: intervals from and to, counted from 1, and their quality."""
    if len(cells) < 4 or not (cells[1].isdigit() and cells[2].isdigit()):
        return
    letter = cells[3][:1].upper()
    for at in range(max(int(cells[1]) - 1, 0), min(int(cells[2]), len(register.values[-1]))):
        register.flags[-1][at] = letter in ESTIMATES
        if letter == "N":
            register.values[-1][at] = float("nan")


def _series(table: RawTable, registers: Sequence[_Register], offset: int, flow: Flow) -> Series:
    unit = unit_of(registers[0].unit) or "kWh"
    labels, values, rows, columns, flags, lengths = [], [], [], [], [], []
    for one in registers:
        step = 60 * one.minutes
        count = DAY_SECONDS // step
        labels.append((np.array(one.days, dtype=np.int64)[:, None] * DAY_SECONDS + step * np.arange(count)).reshape(-1))
        values.append(np.array(one.values, dtype=np.float64).reshape(-1))
        flags.append(np.array(one.flags, dtype=bool).reshape(-1))
        rows.append(np.repeat(np.array(one.rows, dtype=np.int32), count))
        columns.append(np.tile(np.arange(2, 2 + count, dtype=np.int16), len(one.days)))
        lengths.append(np.full(count * len(one.days), step, dtype=np.int64))
    every = np.concatenate(labels)
    order = np.argsort(every, kind="stable")
    estimated = np.concatenate(flags)[order]
    return Series(
        table,
        "date",
        registers[0].suffix,
        2,
        unit,
        flow,
        "start",
        every[order],
        np.full(len(every), offset, dtype=np.int64),
        np.concatenate(values)[order],
        np.concatenate(rows)[order],
        columns=np.concatenate(columns)[order],
        estimated=estimated if estimated.any() else None,
        lengths=np.concatenate(lengths)[order],
    )
