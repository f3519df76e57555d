"""The columns of times of a table: brought together, settled by the whole file, and what is no reading left out."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import tzinfo
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from reconcile.array_types import Bytes, Flags, Ints, Places
from reconcile.clock import DAY_SECONDS
from reconcile.distributions import mode, steady
from reconcile.read.layouts.cell_kinds import kind_of
from reconcile.read.layouts.clock_column import HOUR, ClockColumn
from reconcile.read.layouts.interval_layout import Layout
from reconcile.read.layouts.raw_tables import Column, RawTable, as_bytes
from reconcile.read.tables.cells import shown
from reconcile.read.tables.gate import Gate
from reconcile.read.values.calendar_order import Calendar, day_numbers, settle
from reconcile.read.values.clock_cells import runs_round_twice, second_of_day
from reconcile.read.values.dates import order_of
from reconcile.read.values.local_stamps import late_midnights, shifted_hours
from reconcile.read.values.number_cells import as_count
from reconcile.read.values.plain_blocks import whole_numbers
from reconcile.read.values.time_cells import FARTHEST, Shapes, Times, joined, read_times
from reconcile.read.values.time_grammar import DATE_KIND, NO_OFFSET, letters_of
from reconcile.records import dataclass

OPEN_DATE = "this can be read as two different days, and no row of the file settles it"
SAY_ORDER = 'Set date_format = "DD/MM/YYYY" (or "MM/DD/YYYY") under [bills], or write the dates as 2025-03-07.'
NOT_A_TIME = "this is not a date and a time"
HALF_OPEN = "the clock runs from 1 to 12 twice a day, and nothing tells morning from afternoon"
SAY_HALF = "Write AM or PM behind the times, or count the hours from 0 to 23."
SERIAL_1970 = 25_569
"""1970-01-01 as a spreadsheet counts days [d]."""
_TOTAL = re.compile(
    r"(?:(?:sub|grand) ?)?total|sum(?:me)?(?![a-z])|gesamt|daily total|mean(?![a-z])|average|min(?:imum)?(?![a-z])"
    r"|max(?:imum)?(?![a-z])",
    re.IGNORECASE,
)
MOST_OFFSETS = 4
"""Distances from UTC of one clock in one file, at the most."""
FEW_OFFSETS = 0.5
"""Share of the times that carry a distance from UTC from which one without it is the fault."""


@dataclass(slots=True)
class Timed:
    """The times of a table's readings."""

    labels: Ints
    """Seconds of the file's clock."""
    offsets: Ints | None
    """Distance from UTC [s]."""
    rows: NDArray[np.int32]
    kept: Places | None = None
    """Places of the readings among the rows that were given; None where all are."""
    lengths: Ints | None = None
    """Length of each [s] where both ends stand."""
    stamps: Literal["start", "end"] | None = None
    order: str = ""
    evenly: bool = False
    """Whether the order of day and month was settled by the days following one another."""
    below: int = 0
    """Rows below the readings that were left out."""
    midnights: bool = False
    """Whether midnights stood behind the last hour of their day, and were moved to its end."""


class TimeParts:
    """Gathers a table's columns of times, a piece at a time."""

    def __init__(self, table: RawTable, layout: Layout, zone: tzinfo) -> None:
        self.table, self.layout, self.shapes = table, layout, Shapes(letters_of(zone))
        wanted = layout.times
        self.columns = wanted.columns
        self.dates: dict[int, list[Times]] = {at: [] for at in (wanted.date, wanted.end_date) if at is not None}
        self.clocks: dict[int, ClockColumn] = {
            at: ClockColumn() for at in (wanted.clock, wanted.end_clock) if at is not None
        }
        self.goes_on: list[bool] = []
        """Of each piece, whether its readings end when the next one begins: then its last end alone is kept."""

    def add(self, columns: Mapping[int, Column]) -> None:
        """Add a piece of every column."""
        wanted = self.layout.times
        for at, parts in self.dates.items():
            cells = as_bytes(columns[at])
            if at == wanted.date and wanted.clock is not None:
                cells = _days_filled(cells, as_bytes(columns[wanted.clock]))
            if wanted.counts:
                parts.append(_counted(cells, wanted.counts))
            else:
                goes_on = at == wanted.end_date and self._go_on(columns)
                parts.append(read_times(cells[-1:] if goes_on else cells, self.shapes))
                if at == wanted.end_date:
                    self.goes_on.append(goes_on)
        for at, clocks in self.clocks.items():
            clocks.add(columns[at])

    def ends(self) -> Times:
        """Return the column of the ends, whole."""
        wanted = self.layout.times
        assert wanted.end_date is not None
        begins, ends = self.dates[wanted.date], self.dates[wanted.end_date]
        on = self.goes_on or [False] * len(ends)
        whole = zip(begins, ends, on, strict=True)
        return joined([joined([begin.behind_first(), end]) if goes_on else end for begin, end, goes_on in whole])

    def _go_on(self, columns: Mapping[int, Column]) -> bool:
        """Whether every reading of a piece ends when the next one begins, by the same text."""
        wanted = self.layout.times
        if wanted.date is None or wanted.end_date is None or wanted.clock is not None:
            return False
        return _are_next(as_bytes(columns[wanted.end_date]), as_bytes(columns[wanted.date]))


def _are_next(ends: Bytes, begins: Bytes) -> bool:
    """Whether each cell is the one that stands a row lower in another column."""
    if ends.dtype != begins.dtype or ends.dtype.itemsize % 8 or len(ends) < 2:
        return False
    words, others = (np.ascontiguousarray(part).view(np.uint64).reshape(len(part), -1) for part in (ends, begins))
    return bool((words[:-1] == others[1:]).all())


def _days_filled(cells: Bytes, clocks: Bytes) -> Bytes:
    """Return dates of which most stand once a day, beside its first clock time, in every row of it."""
    if len(cells) == 0 or 0 in (cells.dtype.itemsize, clocks.dtype.itemsize):
        return cells
    empty, told = (part.view(np.uint8).reshape(len(part), -1)[:, 0] == 0 for part in (cells, clocks))
    if empty[0] or np.count_nonzero(empty & ~told) * 2 <= len(cells):
        return cells
    above = np.maximum.accumulate(np.where(empty & ~told, 0, np.arange(len(cells))))
    return cells[above]


def _counted(cells: Bytes, counts: str) -> Times:
    """Read seconds since 1970 as dates of the clock of UTC, or days of a spreadsheet as dates of the file's clock."""
    whole = whole_numbers(cells) if counts == "epoch" else None
    if whole is not None and int(whole.min()) > 0 and int(whole.max()) < 5_000_000_000:
        return _epoch(whole)
    try:
        numbers = cells.astype(np.float64)
    except ValueError:
        distinct, place = np.unique(cells, return_inverse=True)
        read = [as_count(cell.decode("utf-8", "replace").strip()) for cell in distinct.tolist()]
        numbers = np.array([np.nan if value is None else value for value in read])[place]
    if counts == "serial":
        seconds = (numbers - SERIAL_1970) * DAY_SECONDS
    else:
        seconds = numbers / np.select([numbers > size * 1e9 for size in (1e9, 1e6, 1e3)], (1e9, 1e6, 1e3), 1.0)
    ok = (seconds > 0) & (seconds < 5e9)
    whole = np.where(ok, np.round(np.nan_to_num(seconds)), 0).astype(np.int64)
    made = _epoch(whole)
    return Times(
        made.dates if bool(ok.all()) else np.where(ok, made.dates, 0).astype(np.int32),
        made.seconds,
        made.offsets if counts == "epoch" else None,
        clock=True,
    )


def _epoch(whole: Ints) -> Times:
    """Return seconds since 1970 as dates, which mostly stand in runs, and clock times."""
    days = whole // DAY_SECONDS
    heads = np.flatnonzero(np.concatenate([[True], days[1:] != days[:-1]]))
    runs = days[heads].astype("datetime64[D]")
    months = runs.astype("datetime64[M]")
    month = months.astype(np.int64)
    numbers = (month // 12 + 1970) * 10_000 + (month % 12 + 1) * 100 + (runs - months).astype(np.int64) + 1
    dates = np.repeat((DATE_KIND + numbers).astype(np.int32), np.diff(np.append(heads, len(whole))))
    return Times(dates, (whole - days * DAY_SECONDS).astype(np.int32), np.zeros(len(whole), np.int32), clock=True)


def read_time_columns(parts: TimeParts, rows: NDArray[np.int32], gate: Gate, zone: tzinfo) -> Timed | None:
    """Bring a table's times together; None where a fault was found.

    Parameters
    ----------
    rows : ndarray of int32
        Row of each.
    gate : Gate
        Its ``date_format`` settles the order of day and month, where it is set.
    zone : tzinfo
        Whose clock changes tell how hours are counted on.
    """
    wanted = parts.layout.times
    times = _without_spans(joined(parts.dates[wanted.date]))
    bad = times.bad
    seconds = times.seconds
    ending = spans = False
    hours = None
    if wanted.clock is not None:
        clock = parts.clocks[wanted.clock].read()
        seconds, hours, ending, spans = clock.seconds, clock.counted, clock.ending, clock.spans
        bad = bad | clock.bad
    faults_before = len(gate.faults)
    kept, below = _readings(parts, bad, rows, gate) if bad.any() else (None, 0)
    if kept is not None:
        offsets = None if times.offsets is None else times.offsets[kept]
        times = Times(times.dates[kept], seconds[kept], offsets, times.clock, times.until)
        seconds, rows = times.seconds, rows[kept]
        hours = None if hours is None else hours[kept]
    calendar = settle(times.dates, order_of(gate.date_format))
    if not _settled(parts, calendar, times, rows, gate):
        return None
    labels, wrong = day_numbers(times.dates, calendar.order, DAY_SECONDS)
    if times.offsets is None and (hours is None or not hours.any()) and runs_round_twice(labels, seconds):
        told = second_of_day(labels // DAY_SECONDS, seconds)
        if told is None:
            where = parts.layout.names[wanted.date if wanted.clock is None else wanted.clock] or "time"
            gate.fault_in(parts.table, HALF_OPEN, SAY_HALF, column=where)
            return None
        seconds = told
    for index in np.flatnonzero(wrong).tolist():
        _fault(parts, int(rows[index]), gate, "there is no such day", "Check day and month; write it as 2025-03-07.")
    distances = _offsets(parts, times, rows, gate)
    if len(gate.faults) > faults_before:
        return None
    days = labels // DAY_SECONDS if hours is not None and hours.any() else None
    labels += seconds
    late = None if days is not None or times.offsets is not None or wanted.stamps == "start" else late_midnights(labels)
    if late is not None:
        labels, ending = late, True
    if hours is not None and days is not None:
        ends = hours.astype(np.int64) + (HOUR if not spans and not hours.all() else 0)  # hours counted from 0 begin
        labels = shifted_hours(labels, days, ends, zone)
    made = Timed(
        labels,
        distances,
        rows,
        kept,
        order=calendar.order if calendar.told else "",
        evenly=calendar.evenly,
        below=below,
        midnights=late is not None,
    )
    made.stamps = wanted.stamps or ("end" if ending else None)
    if times.until or spans:
        made.stamps = "start"
    elif made.stamps is None and len(seconds) >= 24 and int(seconds.max()) == DAY_SECONDS:
        made.stamps = "end"  # 24:00 begins no interval
    as_written = late is None and days is None and seconds is times.seconds
    made.lengths = _lengths(parts, made, calendar.order, as_written=as_written)
    return made


def _without_spans(times: Times) -> Times:
    """Take ``13:00-14:00`` for a span and not for a distance from UTC: no clock has so many, or so far ones."""
    if times.offsets is None or len(times.offsets) == 0:
        return times
    heads = np.concatenate([[True], times.offsets[1:] != times.offsets[:-1]])  # mostly they stand in runs
    told = np.unique(times.offsets[heads])
    told = told[told != NO_OFFSET]
    if len(told) > MOST_OFFSETS:
        return Times(times.dates, times.seconds, None, times.clock, until=True)
    if len(told) == 0 or max(int(told[-1]), -int(told[0])) <= FARTHEST:
        return times
    far = np.abs(times.offsets.astype(np.int64)) > FARTHEST
    far &= times.offsets != NO_OFFSET
    return Times(np.where(far, 0, times.dates), times.seconds, times.offsets, times.clock, times.until)


def _fault(parts: TimeParts, row: int, gate: Gate, problem: str, remedy: str) -> None:
    """Record a fault of a row's time, quoted as it stands."""
    table, wanted = parts.table, parts.layout.times
    cells = [wanted.date] if wanted.clock is None else [wanted.date, wanted.clock]
    read = " ".join(table.cell(row, at) for at in cells) if len(gate.faults) < 40 else None
    name = parts.layout.names[wanted.date] or "time"
    gate.fault_in(table, problem, remedy, row=row, column=name, read=None if read is None else shown(read))


def _readings(parts: TimeParts, bad: Flags, rows: NDArray[np.int32], gate: Gate) -> tuple[Places, int]:
    """Leave out blank rows, headers that stand again, and what stands below the table; the rest are faults."""
    table, wanted = parts.table, parts.layout.times
    good = np.flatnonzero(~bad)
    last = int(good[-1]) if len(good) else -1
    header = parts.layout.names[wanted.date].casefold()
    below = 0
    for index in np.flatnonzero(bad).tolist():
        row = int(rows[index])
        text = table.cell(row, wanted.date)
        clock = "" if wanted.clock is None else table.cell(row, wanted.clock)
        alone = index > last and sum(bool(table.cell(row, at)) for at in range(len(parts.layout.names))) < 2
        begins = next((cell for at in range(len(parts.layout.names)) if (cell := table.cell(row, at))), "")
        if alone or _TOTAL.match(text) or _TOTAL.match(clock):
            below += index > last
            continue
        if _TOTAL.match(begins) and kind_of(text) in ("number", "blank"):  # a sum that stands in the column of times
            below += index > last
            continue
        if not text and (index > last or _blank(parts, row)):
            below += index > last
            continue
        if (header and text.casefold() == header) or (index > last and text and not text[0].isdigit()):
            below += index > last
            continue
        if not text:
            _fault(parts, row, gate, "nothing is written here", "Write the time, or delete the row.")
        else:
            write = "Write it as 2025-03-07 14:00." if not clock else "Write them as 2025-03-07 and 14:00."
            _fault(parts, row, gate, NOT_A_TIME, write)
        if len(gate.faults) > 200:
            break
    return good, below


def _blank(parts: TimeParts, row: int) -> bool:
    return not any(parts.table.cell(row, at) for at in range(len(parts.layout.names)))


def _settled(parts: TimeParts, calendar: Calendar, times: Times, rows: NDArray[np.int32], gate: Gate) -> bool:
    if calendar.open is not None:
        row = int(rows[np.flatnonzero(times.dates == calendar.open)[0]])
        _fault(parts, row, gate, OPEN_DATE, SAY_ORDER)
    elif calendar.clash:
        for date in calendar.clash:
            where = np.flatnonzero(times.dates == date)
            if date and len(where):
                _fault(
                    parts,
                    int(rows[where[0]]),
                    gate,
                    "other dates of this file have day and month the other way round",
                    "Write dates as 2025-03-07.",
                )
                return False
    return calendar.open is None and not calendar.clash


def _offsets(parts: TimeParts, times: Times, rows: NDArray[np.int32], gate: Gate) -> Ints | None:
    if times.offsets is None:
        return None
    lacking = times.offsets == NO_OFFSET
    count = int(np.count_nonzero(lacking))
    if count == len(lacking):
        return None
    if count:
        few = lacking if count < FEW_OFFSETS * len(lacking) else ~lacking
        has = "no distance from UTC, the others do" if few is lacking else "a distance from UTC, the others none"
        for index in np.flatnonzero(few)[:20].tolist():
            _fault(parts, int(rows[index]), gate, f"this time carries {has}", "Write all of them in one way.")
        return None
    return times.offsets.astype(np.int64)


def _step_by_goes_on(parts: TimeParts, labels: Ints, order: str) -> int | None:
    """Return how far all ends lie from their beginnings, where each is the next reading's beginning; else None."""
    wanted = parts.layout.times
    if wanted.end_date is None or wanted.end_clock is not None or len(labels) < 2 or not all(parts.goes_on or [False]):
        return None
    step = int(labels[1] - labels[0])
    last = joined(parts.dates[wanted.end_date])
    days, wrong = day_numbers(last.dates, order, DAY_SECONDS)
    places = np.cumsum([len(piece.dates) for piece in parts.dates[wanted.date]]) - 1
    whole = not wrong.any() and bool((days + last.seconds - labels[places] == step).all())
    return step if whole and steady(labels, step) else None


def _lacking(length: int) -> int:
    """Return what a length lacks, where its end is its last minute or second: 00:00 to 00:14, or to 00:14:59."""
    return next((missing for missing in (60, 1) if length % 300 and (length + missing) % 300 == 0), 0)


def _lengths(parts: TimeParts, made: Timed, order: str, *, as_written: bool) -> Ints | None:
    """Return the length of each interval where both its ends stand; where they agree on none, None.

    ``as_written`` says that the labels are the times as they stand, of all rows.
    """
    wanted = parts.layout.times
    if wanted.end_date is None and wanted.end_clock is None:
        return None
    begin = made.labels
    step = _step_by_goes_on(parts, begin, order) if as_written and made.kept is None else None
    if step is not None and 0 < step <= DAY_SECONDS:
        return np.broadcast_to(np.int64(step + _lacking(step)), begin.shape)
    if wanted.end_date is not None:
        times = parts.ends()
        days, wrong = day_numbers(times.dates, order)
        end = days.astype(np.int64) * DAY_SECONDS + times.seconds
    else:
        end, wrong = np.zeros(0, np.int64), np.zeros(0, bool)
    if wanted.end_clock is not None:
        clock = parts.clocks[wanted.end_clock].read()
        if wanted.end_date is not None:
            end, wrong = end - times.seconds + clock.seconds, wrong | clock.bad
        else:
            end, wrong = clock.seconds.astype(np.int64), clock.bad
    if made.kept is not None:
        end, wrong = end[made.kept], wrong[made.kept]
    lengths = end - begin if wanted.end_date is not None else (end - begin) % DAY_SECONDS
    if np.count_nonzero(lengths == 0) > 0.5 * len(lengths) and np.count_nonzero(np.abs(np.diff(begin)) < DAY_SECONDS):
        return None  # minutes whose last one is named beside the first say nothing
    lengths[lengths == 0] = DAY_SECONDS if wanted.end_date is None else 0
    if wrong.all():
        return None
    usual, share = mode(lengths[~wrong] if wrong.any() else lengths)
    if missing := _lacking(usual):
        lengths = lengths + missing
        usual += missing
    if usual <= 0 or usual > DAY_SECONDS or share * np.count_nonzero(~wrong) < 0.5 * len(lengths):
        return None
    return lengths
