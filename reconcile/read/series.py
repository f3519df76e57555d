"""A table of interval data as series of readings: times, values, and where each stands in the file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import tzinfo
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from reconcile.house import Assumed
from reconcile.read.cells import shown
from reconcile.read.gate import Gate
from reconcile.read.interval_channels import Assumptions, Register, choose
from reconcile.read.interval_layout import Layout, LayoutError, Values, find_layout
from reconcile.read.interval_names import Flow, Unit, flow_of, is_estimated, is_register, phase_of, unit_of
from reconcile.read.number_cells import read_numbers
from reconcile.read.raw_tables import Column, LineError, Place, RawTable, as_bytes
from reconcile.read.settings import IntervalSettings
from reconcile.read.time_columns import Timed, TimeParts, read_time_columns

Ints = NDArray[np.int64]
Floats = NDArray[np.float64]
Rows = NDArray[np.int32]

MANY_REPEATS = 0.02
"""Share of the readings that stand at a time already taken, from which a column of words is looked for that tells
them apart (our choice: a clock change repeats at most one hour in a thousand)."""

FEW_WORDS = 40


@dataclass(slots=True)
class Series:
    """Readings of one register from one file.

    Attributes
    ----------
    table : Place
    time_name, value_name : str
    value_column : int
    unit : Unit
    flow : Flow or None
    stamps : {'start', 'end'} or None
        None where neither the file nor the household says it.
    labels : ndarray of int64
        Seconds of the file's own clock.
    offsets : ndarray of int64 or None
        Distance from UTC of each [s]; None where none is written.
    values : ndarray
        As written, in ``unit``; NaN where blank.
    rows : ndarray of int32
    columns : ndarray of int16 or None
        Column of each reading, in a table with a row a day.
    estimated : ndarray of bool or None
    lengths : ndarray of int64 or None
        Length of each reading where the file gives it [s].
    register : bool
        Whether its name speaks of a running register.
    """

    table: Place
    time_name: str
    value_name: str
    value_column: int
    unit: Unit
    flow: Flow | None
    stamps: Literal["start", "end"] | None
    labels: Ints
    offsets: Ints | None
    values: Floats
    rows: Rows
    columns: NDArray[np.int16] | None = None
    estimated: NDArray[np.bool_] | None = None
    lengths: Ints | None = None
    register: bool = False

    def wrong(
        self,
        gate: Gate,
        problem: str,
        remedy: str,
        index: int | None = None,
        *,
        time: bool = False,
        column: str | None = None,
    ) -> None:
        """Record a fault of the file, or of the reading at ``index``, whose cell is quoted as it stands."""
        row = read = None
        if index is not None:
            row = int(self.rows[index])
            at = self.value_column if self.columns is None else int(self.columns[index])
            column = self.time_name if time else self.value_name
            read = None if time else shown(self.table.cell(row, at))
            if time:
                read = str(self.labels[index].astype("datetime64[s]")).replace("T", " ")
        gate.fault(problem, remedy, file=self.table.file, sheet=self.table.sheet, row=row, column=column, read=read)

    def part(self, keep: NDArray[np.bool_] | NDArray[np.intp]) -> Series:
        """Return some of the readings."""

        def cut(values: Any) -> Any:
            return None if values is None else values[keep]

        arrays = ("labels", "offsets", "values", "rows", "columns", "estimated", "lengths")
        return replace(self, **{name: cut(getattr(self, name)) for name in arrays})


@dataclass(slots=True)
class _Read:
    """The columns of a table, read."""

    timed: Timed
    numbers: dict[int, Floats] = field(default_factory=dict)
    words: dict[int, tuple[list[str], NDArray[np.intp]]] = field(default_factory=dict)


def read_series(
    table: RawTable, gate: Gate, settings: IntervalSettings, zone: tzinfo, assumed: Assumptions
) -> list[Series]:
    """Read one table, its oldest reading first; nothing where a fault was found.

    Parameters
    ----------
    table : RawTable
    gate : Gate
    settings : IntervalSettings
    zone : tzinfo
        Of times that carry no distance from UTC.
    assumed : dict
        Gathers what the file itself does not say.

    Returns
    -------
    list of Series
    """
    try:
        layout = find_layout(table)
        if layout.wide:
            from reconcile.read.wide_series import read_wide

            return read_wide(table, layout, gate, settings, zone, assumed)
        return _read_long(table, layout, gate, settings, zone, assumed)
    except LayoutError as error:
        gate.fault(error.problem, error.remedy, file=table.file, sheet=table.sheet, row=error.row or _header_row(table))
    except LineError as error:
        gate.fault(error.problem, "Check its separators and quotes.", file=table.file, sheet=table.sheet, row=error.row)
    return []


def _header_row(table: RawTable) -> int | None:
    return table.head[0][0] if table.head else None


def _read_long(
    table: RawTable, layout: Layout, gate: Gate, settings: IntervalSettings, zone: tzinfo, assumed: Assumptions
) -> list[Series]:
    channel_of_rows = settings.channel is not None and any(
        settings.channel.casefold() == cells[at].casefold()
        for at in layout.groups
        for _, cells in (*table.head, *table.tail)
        if at < len(cells)
    )
    chosen = choose(layout.values, None if channel_of_rows else settings.channel, assumed)
    columns = sorted({part.column for register in chosen.registers for part in register.parts})
    if chosen.volts is not None:
        columns.append(chosen.volts.column)
    faults_before = len(gate.faults)
    read = _columns(table, layout, columns, gate, zone)
    if read is None or len(gate.faults) > faults_before:
        return []
    timed = read.timed
    if len(timed.labels) < 2:
        gate.fault("there are fewer than two readings", "Fill it or take it away.", file=table.file, sheet=table.sheet)
        return []
    made = [_one_series(table, layout, read, register, settings, assumed) for register in chosen.registers]
    if chosen.volts is not None and made:
        volts = Register((chosen.volts,), None)
        made.append(replace(_one_series(table, layout, read, volts, settings, assumed), unit="V"))
    return by_words(made, read.words, layout, settings, assumed)


def by_words(
    made: list[Series],
    words: dict[int, tuple[list[str], NDArray[np.intp]]],
    layout: Layout,
    settings: IntervalSettings,
    assumed: Assumptions,
) -> list[Series]:
    """Divide series whose rows carry the name of their register; turn the newest first round."""
    if len(made) == 1 and words:
        divided = _by_rows(made[0], words, layout, settings, assumed)
        if divided:
            made = divided
    return [oldest_first(one) for one in made]


def oldest_first(series: Series) -> Series:
    """Return the series with its oldest reading first."""
    falls = np.count_nonzero(series.labels[1:] < series.labels[:-1])
    return series.part(np.arange(len(series.labels))[::-1]) if falls > len(series.labels) / 2 else series


def _one_series(
    table: RawTable,
    layout: Layout,
    read: _Read,
    register: Register,
    settings: IntervalSettings,
    assumed: Assumptions,
) -> Series:
    first = register.parts[0]
    values = read.numbers[first.column]
    for part in register.parts[1:]:
        values = values + read.numbers[part.column]
    return Series(
        table,
        layout.names[layout.times.date] or "time",
        register.name,
        first.column,
        unit_for(first, layout, read.words, settings, assumed),
        register.flow,
        settings.stamps or read.timed.stamps,
        read.timed.labels,
        read.timed.offsets,
        values,
        read.timed.rows,
        estimated=_estimated(layout, read.words),
        lengths=read.timed.lengths,
        register=is_register(register.name),
    )


def unit_for(
    value: Values,
    layout: Layout,
    words: dict[int, tuple[list[str], NDArray[np.intp]]],
    settings: IntervalSettings,
    assumed: Assumptions,
) -> Unit:
    """Return the unit: as set, as the column's name says, as a column of units says, as a line above says, or kWh."""
    if settings.unit is not None:
        return settings.unit
    if value.unit is not None:
        return value.unit
    if layout.unit is not None and layout.unit in words:
        told = {unit for word in words[layout.unit][0] if (unit := unit_of(word)) is not None}
        if len(told) == 1:
            return told.pop()
    if layout.preamble_unit is not None:
        assumed["unit-above"] = Assumed("unit-above", {"unit": layout.preamble_unit})
        return layout.preamble_unit
    assumed["unit"] = Assumed("unit")
    return "kWh"


def _estimated(layout: Layout, words: dict[int, tuple[list[str], NDArray[np.intp]]]) -> NDArray[np.bool_] | None:
    if layout.quality is None or layout.quality not in words:
        return None
    texts, place = words[layout.quality]
    flags = np.array([is_estimated(text) for text in texts], dtype=bool)
    return flags[place] if flags.any() else None


def _columns(table: RawTable, layout: Layout, numbers: Sequence[int], gate: Gate, zone: tzinfo) -> _Read | None:
    """Read the columns of a table, a piece at a time; None where a fault was found."""
    times = TimeParts(table, layout)
    words = [at for at in (*layout.groups, layout.quality, layout.unit) if at is not None]
    texts = {at: _width(table, at) for at in dict.fromkeys((*times.columns, *words))}
    beyond = len(layout.names)
    texts[beyond] = 0
    rows, pieces, cells, more = [], [], [], []
    for numbered, columns in table.chunks(texts, numbers, layout.after):
        by_column = dict(zip((*texts, *numbers), columns, strict=False))
        rows.append(numbered)
        times.add(by_column)
        more.append(as_bytes(by_column[beyond]) != b"")
        cells.append({at: by_column[at] for at in words})
        pieces.append(dict(zip(numbers, columns[len(texts) :], strict=True)))
    timed = read_time_columns(times, np.concatenate(rows), gate, zone)
    if timed is None:
        return None
    wide = np.concatenate(more)
    if wide.any():
        wide = wide if timed.kept is None else wide[timed.kept]
        if wide.any():
            raise LineError(int(timed.rows[np.flatnonzero(wide)[0]]), "it has more columns than the others")
    read = _Read(timed)
    bounds = np.cumsum([0, *(len(part) for part in rows)])
    for at in numbers:
        column = _kept([piece[at] for piece in pieces], bounds, timed.kept)
        if not _numbers(table, layout, at, column, timed, read, gate):
            return None
    for at in dict.fromkeys(words):
        read.words[at] = _words(_kept([piece[at] for piece in cells], bounds, timed.kept))
    return read


def _width(table: RawTable, at: int) -> int:
    return max((len(cells[at].encode()) for _, cells in (*table.head, *table.tail) if at < len(cells)), default=1)


def _kept(pieces: list[Column], bounds: NDArray[np.int64], kept: NDArray[np.intp] | None) -> list[Column]:
    if kept is None:
        return pieces
    places = np.searchsorted(kept, bounds)
    return [
        piece[kept[low:high] - begin]
        for piece, begin, low, high in zip(pieces, bounds, places, places[1:], strict=False)
    ]


def _numbers(
    table: RawTable, layout: Layout, at: int, pieces: list[Column], timed: Timed, read: _Read, gate: Gate
) -> bool:
    values, wrong, marks = read_numbers(pieces, table.delimiter)
    name = layout.names[at] or f"number {at + 1}"
    if marks.open is not None:
        gate.fault(
            "a comma in these numbers can be read two ways",
            "Save it with a point for decimals and nothing between thousands.",
            file=table.file,
            sheet=table.sheet,
            column=name,
            read=marks.open,
        )
        return False
    begin = 0
    for piece, bad in zip(values, wrong, strict=True):
        for index in bad.tolist():
            row = int(timed.rows[begin + index])
            gate.fault(
                "this is text where a number is wanted",
                "Write a plain number, or leave it empty.",
                file=table.file,
                sheet=table.sheet,
                row=row,
                column=name,
                read=shown(table.cell(row, at)) if len(gate.faults) < 40 else None,
            )
        begin += len(piece)
    read.numbers[at] = values[0] if len(values) == 1 else np.concatenate(values)
    return not any(len(bad) for bad in wrong)


def _words(pieces: list[Column]) -> tuple[list[str], NDArray[np.intp]]:
    """Return the distinct texts of a column and the place of each cell's among them."""
    columns = [as_bytes(piece) for piece in pieces]
    column = columns[0] if len(columns) == 1 else np.concatenate(columns)
    place = np.zeros(len(column), dtype=np.intp)
    texts: list[bytes] = []
    todo = np.arange(len(column))
    while len(todo) and len(texts) < FEW_WORDS:  # quicker than sorting, where a few words fill a long column
        texts.append(column[todo[0]])
        same = column[todo] == texts[-1]
        place[todo[same]] = len(texts) - 1
        todo = todo[~same]
    if len(todo):
        distinct, where = np.unique(column[todo], return_inverse=True)
        place[todo] = where + len(texts)
        texts += distinct.tolist()
    return [text.decode("utf-8", "replace").strip() for text in texts], place


def _by_rows(
    series: Series,
    words: dict[int, tuple[list[str], NDArray[np.intp]]],
    layout: Layout,
    settings: IntervalSettings,
    assumed: Assumptions,
) -> list[Series]:
    """Divide a series by the column of words that names the register of each row; empty where there is none."""
    at = _channel_column(series, words, layout, settings)
    if at is None:
        return []
    texts, place = words[at]
    full = [i for i, text in enumerate(texts) if text]
    values = [
        Values(i, texts[i], unit_of(texts[i]) or series.unit, flow_of(texts[i]), phase_of(texts[i])) for i in full
    ]
    chosen = choose(values, settings.channel, assumed, f"{layout.names[at] or 'channel'}")
    made = []
    for register in chosen.registers:
        parts = [series.part(place == value.column) for value in register.parts]
        unit = settings.unit or register.parts[0].unit or series.unit
        one = replace(parts[0], flow=register.flow, unit=unit, value_name=register.name)
        made.append(_added(one, parts[1:]))
    if chosen.volts is not None:
        made.append(replace(series.part(place == chosen.volts.column), unit="V", flow=None))
    return made


def _added(first: Series, others: Sequence[Series]) -> Series:
    """Add phases that stand in rows of their own, time by time."""
    for other in others:
        if not np.array_equal(first.labels, other.labels):
            raise LayoutError(
                "its phases have not the same times", "Write the sum of the phases, one row an interval.", None
            )
        first = replace(first, values=first.values + other.values)
    return first


def _channel_column(
    series: Series,
    words: dict[int, tuple[list[str], NDArray[np.intp]]],
    layout: Layout,
    settings: IntervalSettings,
) -> int | None:
    several = [at for at in layout.groups if at in words and len([text for text in words[at][0] if text]) > 1]
    for at in several:
        if settings.channel is not None and settings.channel.casefold() in (text.casefold() for text in words[at][0]):
            return at
    for at in several:
        flows = {flow_of(text) for text in words[at][0]}
        if {"delivered", "received"} <= flows:
            return at
    key = series.labels if series.offsets is None else series.labels - series.offsets
    repeats = len(key) - len(np.unique(key)) if several else 0
    if repeats <= MANY_REPEATS * len(key):
        return None
    for at in several:
        place = words[at][1]
        left = len(key) - len(np.unique(np.stack([key, place]), axis=1)[0])
        if left <= MANY_REPEATS * len(key):
            return at
    return None
