"""Tables with a row an interval, as series of readings."""

from __future__ import annotations

from dataclasses import replace
from datetime import tzinfo

import numpy as np
from numpy.typing import NDArray

from reconcile.read.gate import Gate
from reconcile.read.interval_channels import Assumptions, Register, choose
from reconcile.read.interval_columns import Columns, read_columns
from reconcile.read.interval_layout import Layout
from reconcile.read.interval_names import is_estimated, is_register
from reconcile.read.raw_tables import RawTable
from reconcile.read.row_registers import by_words, unit_for
from reconcile.read.series import Series
from reconcile.read.settings import IntervalSettings


def read_long(
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
    read = read_columns(table, layout, columns, gate, zone)
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


def _one_series(
    table: RawTable,
    layout: Layout,
    read: Columns,
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


def _estimated(layout: Layout, words: dict[int, tuple[list[str], NDArray[np.intp]]]) -> NDArray[np.bool_] | None:
    if layout.quality is None or layout.quality not in words:
        return None
    texts, place = words[layout.quality]
    flags = np.array([is_estimated(text) for text in texts], dtype=bool)
    return flags[place] if flags.any() else None
