"""The columns of a table of interval data, read a piece at a time."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import field
from datetime import tzinfo
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reconcile.array_types import Flags, Floats, Ints, Places
from reconcile.read.layouts.cell_kinds import kind_of
from reconcile.read.layouts.interval_layout import Layout
from reconcile.read.layouts.raw_tables import Column, LineError, RawTable, as_bytes
from reconcile.read.layouts.time_columns import Timed, TimeParts, read_time_columns
from reconcile.read.tables.cells import shown
from reconcile.read.tables.gate import Gate
from reconcile.read.values.number_cells import OPEN_NUMBER, SAY_NUMBERS, find_marks, read_numbers
from reconcile.read.values.stamp_offsets import Words, offsets_of, summer_offsets
from reconcile.records import dataclass

UNITS_DIFFER = "the values of this column are in several units"
SAY_UNITS = "Write all of them in kWh, as plain numbers."

FEW_WORDS = 8
"""Words that mostly fill a column of them, looked for one by one (measured)."""


@dataclass(slots=True)
class Columns:
    """The columns of a table, read."""

    timed: Timed
    numbers: dict[int, Floats] = field(default_factory=dict)
    words: dict[int, Words] = field(default_factory=dict)
    marked: dict[int, Flags] = field(default_factory=dict)
    """Values with a mark behind them that says that they are estimates."""
    units: dict[int, str] = field(default_factory=dict)
    """The unit that stands behind the values of a column."""

    def beside(self, columns: Sequence[int]) -> Floats:
        """Return some columns of numbers beside one another, shape (rows, columns)."""
        return _side_by_side([self.numbers[at] for at in columns])


def _side_by_side(columns: Sequence[Any]) -> Floats:
    """Return columns as a table: the one that they are the columns of, where there is one."""
    first, rows, count = columns[0], len(columns[0]), len(columns)
    whole = first.base
    if isinstance(whole, np.ndarray) and whole.size == rows * count and whole.flags.c_contiguous:
        table: Floats = whole.reshape(rows, count)
        places = [column.__array_interface__["data"][0] - whole.ctypes.data for column in columns]
        if places == [whole.itemsize * at for at in range(count)] and first.strides == table[:, 0].strides:
            return table
    return np.stack(columns, axis=1)


def read_columns(table: RawTable, layout: Layout, numbers: Sequence[int], gate: Gate, zone: tzinfo) -> Columns | None:
    """Read the columns of a table, a piece at a time; None where a fault was found."""
    times = TimeParts(table, layout, zone)
    wanted = layout.times
    words = [at for at in (*layout.groups, layout.quality, layout.unit, wanted.offset, wanted.summer) if at is not None]
    texts = {at: _width(table, at) for at in dict.fromkeys((*times.columns, *words))}
    beyond = len(layout.names)
    texts[beyond] = 0
    rows, pieces, cells, more = [], [], [], []
    for numbered, columns in table.chunks(texts, numbers, layout.after):
        by_column = dict(zip((*texts, *numbers), columns, strict=False))
        rows.append(numbered)
        times.add(by_column)
        more.append(_full(by_column[beyond]))
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
    read = Columns(timed)
    bounds = np.cumsum([0, *(len(part) for part in rows)])
    if layout.wide and timed.kept is None and all(_are_floats(piece.values()) for piece in pieces):
        whole = np.concatenate([_side_by_side([piece[at] for at in numbers]) for piece in pieces])
        read.numbers = {at: whole[:, place] for place, at in enumerate(numbers)}
    for at in numbers if not read.numbers else ():
        column = _kept([piece[at] for piece in pieces], bounds, timed.kept)
        if not _numbers(table, layout, at, column, timed, read, gate):
            return None
    for at in dict.fromkeys(words):
        read.words[at] = _words(_kept([piece[at] for piece in cells], bounds, timed.kept))
    if timed.offsets is None and wanted.offset is not None:
        timed.offsets = offsets_of(read.words.pop(wanted.offset))
    elif timed.offsets is None and wanted.summer is not None:
        timed.offsets = summer_offsets(timed.labels, read.words.pop(wanted.summer), zone)
    return read


def _full(column: Column) -> Flags:
    """Return which cells hold anything."""
    cells = as_bytes(column)
    if cells.dtype.itemsize == 1:  # as numbers: texts compare slowly
        full: Flags = cells.view(np.uint8) != 0
        return full
    other: Flags = cells != b""
    return other


def _width(table: RawTable, at: int) -> int:
    return max((len(cells[at].encode()) for _, cells in (*table.head, *table.tail) if at < len(cells)), default=1)


def _kept(pieces: list[Column], bounds: Ints, kept: Places | None) -> list[Column]:
    if kept is None:
        return pieces
    places = np.searchsorted(kept, bounds)
    return [
        piece[kept[low:high] - begin]
        for piece, begin, low, high in zip(pieces, bounds, places, places[1:], strict=False)
    ]


def _are_floats(pieces: Iterable[Column]) -> bool:
    return all(piece.dtype.kind == "f" for piece in pieces)


def _numbers(
    table: RawTable, layout: Layout, at: int, pieces: list[Column], timed: Timed, read: Columns, gate: Gate
) -> bool:
    if _are_floats(pieces):
        floats = [piece.astype(np.float64, copy=False) for piece in pieces]
        read.numbers[at] = floats[0] if len(floats) == 1 else np.concatenate(floats)
        return True
    got = read_numbers(pieces, table.delimiter, gate.number_format)
    if got.marks.open is not None:  # other columns of the table may tell
        got = read_numbers(pieces, table.delimiter, _decimal_beside(table, layout, at))
    values, wrong, marks = got.values, got.wrong, got.marks
    name = layout.names[at] or f"number {at + 1}"
    if marks.open is not None:
        gate.fault_in(table, OPEN_NUMBER, SAY_NUMBERS, column=name, read=marks.open)
        return False
    if len(got.units) > 1:
        gate.fault_in(table, UNITS_DIFFER, SAY_UNITS, column=name, read=", ".join(got.units))
        return False
    if got.units:
        read.units[at] = got.units[0]
    begin = 0
    for piece, bad in zip(values, wrong, strict=True):
        for index in bad.tolist():
            row = int(timed.rows[begin + index])
            gate.fault_in(
                table,
                "this is text where a number is wanted",
                "Write a plain number, or leave it empty.",
                row=row,
                column=name,
                read=shown(table.cell(row, at)) if len(gate.faults) < 40 else None,
            )
        begin += len(piece)
    read.numbers[at] = values[0] if len(values) == 1 else np.concatenate(values)
    if any(len(places) for places in got.marked):
        flags = [np.isin(np.arange(len(piece)), places) for piece, places in zip(values, got.marked, strict=True)]
        read.marked[at] = np.concatenate(flags)
    return not any(len(bad) for bad in wrong)


def _decimal_beside(table: RawTable, layout: Layout, column: int) -> str | None:
    """Return the decimal sign of the other columns of numbers in a table's first rows, where they tell it."""
    others = [value.column for value in layout.values if value.column != column]
    cells = [cells[at] for number, cells in table.head if number > layout.after for at in others if at < len(cells)]
    with_sign = [cell for cell in cells if ("," in cell) != ("." in cell) and kind_of(cell) == "number"]
    marks = find_marks(with_sign, table.delimiter)
    return None if marks.open is not None or not with_sign else marks.decimal


def _words(pieces: list[Column]) -> Words:
    """Return the distinct texts of a column and the place of each cell's among them."""
    columns = [as_bytes(piece) for piece in pieces]
    column = columns[0] if len(columns) == 1 else np.concatenate(columns)
    if column.dtype.itemsize in (1, 2, 4, 8):  # as numbers: texts compare slowly
        numbers, place = _distinct(np.ascontiguousarray(column).view(f"u{column.dtype.itemsize}"))
        texts = numbers.view(column.dtype)
    else:
        texts, place = _distinct(column)
    return [text.decode("utf-8", "replace").strip() for text in texts.tolist()], place


def _distinct(cells: NDArray[Any]) -> tuple[NDArray[Any], Places]:
    """Return the distinct cells and the place of each among them; the first few are looked for before any sorting."""
    place = np.zeros(len(cells), dtype=np.intp)
    found: list[Any] = []
    todo = np.arange(len(cells))
    while len(todo) and len(found) < FEW_WORDS:
        found.append(cells[todo[0]])
        same = cells[todo] == found[-1]
        place[todo[same]] = len(found) - 1
        todo = todo[~same]
    distinct, where = np.unique(cells[todo], return_inverse=True)
    place[todo] = where + len(found)
    return np.concatenate([np.array(found, dtype=cells.dtype), distinct]), place
