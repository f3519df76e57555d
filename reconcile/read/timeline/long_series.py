"""Tables with a row an interval, as series of readings."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal

import numpy as np

from reconcile.array_types import Flags, Floats, Ints
from reconcile.clock import DAY_SECONDS
from reconcile.read.layouts.cell_kinds import LayoutError
from reconcile.read.layouts.interval_channels import Register, choose, register_beside
from reconcile.read.layouts.interval_columns import Columns, read_columns
from reconcile.read.layouts.interval_layout import Layout
from reconcile.read.layouts.interval_names import is_estimated, is_missing, is_register
from reconcile.read.layouts.raw_tables import RawTable
from reconcile.read.layouts.time_columns import Timed
from reconcile.read.timeline.row_registers import by_words, with_unit
from reconcile.read.timeline.series import ReadContext, Series
from reconcile.read.values.dates import ORDER_FORMS
from reconcile.read.values.nameplate import times_of
from reconcile.read.values.stamp_offsets import Words

AGREES, FEW_UNITS = 0.9, 0.05
"""Share of the rows in which a register must rise by what stands beside it, and how far off for rounding, as a part of
the least value (our choice)."""
ADDS_WITHIN, MOST_OFF = 0.02, 0.1
"""How far parts may miss the whole beside them, and in how many rows, as shares (our choice)."""


def read_long(table: RawTable, layout: Layout, context: ReadContext) -> list[Series]:
    """Read a table with a row an interval."""
    gate, settings = context.gate, context.settings
    channel_of_rows = settings.channel is not None and any(
        settings.channel.casefold() == cells[at].casefold()
        for at in layout.groups
        for _, cells in (*table.head, *table.tail)
        if at < len(cells)
    )
    chosen = choose(layout.values, None if channel_of_rows else settings.channel, context.assumed)
    columns = sorted({part.column for one in chosen.registers for part in (*one.parts, *one.beside)})
    if chosen.volts is not None:
        columns.append(chosen.volts.column)
    register = None
    if len(chosen.registers) == 1 and settings.stamps is None and layout.times.stamps is None:
        register = register_beside(chosen.registers[0], layout.values)
        columns += [] if register is None else [register.column]
    faults_before = len(gate.faults)
    read = read_columns(table, layout, columns, gate, context.zone)
    if read is None or len(gate.faults) > faults_before:
        return []
    timed = read.timed
    if len(timed.labels) == 0:
        gate.fault_in(table, "there is no reading in it", "Fill it or take it away.")
        return []
    tell_beside(layout, timed, context)
    if register is not None and timed.stamps is None:
        used = read.numbers[chosen.registers[0].parts[0].column]
        timed.stamps = _by_register(used, read.numbers[register.column], timed.labels)
        if timed.stamps is not None:
            context.assumed.add("stamps-register", name=register.name, which=timed.stamps)
    made = [_one_series(table, layout, read, register, context) for register in chosen.registers]
    if chosen.volts is not None and made:
        volts = Register((chosen.volts,), None)
        made.append(replace(_one_series(table, layout, read, volts, context), unit="V"))
    return by_words(made, read.words, layout, context)


def _one_series(table: RawTable, layout: Layout, read: Columns, register: Register, context: ReadContext) -> Series:
    first = register.parts[0]
    values = read.numbers[first.column]
    for part in register.parts[1:]:
        values = _sum(values, read.numbers[part.column], first.part)
    if register.beside:
        _check_parts(values, register, read, layout)
    if (times := times_of(register.name)) > 1.0 or (times < 1.0 and _whole(values)):
        values = values * times
        context.assumed.add("heading-times", register.name, name=register.name, times=times)
    quality = None if layout.quality is None else read.words.get(layout.quality)
    estimated = None
    if quality is not None and layout.quality is not None:
        values, estimated = _judged(values, quality, layout.names[layout.quality])
    marked = read.marked.get(first.column)
    if marked is not None:
        estimated = marked if estimated is None else estimated | marked
    series = Series(
        table,
        layout.names[layout.times.date] or "time",
        register.name,
        first.column,
        "kWh",
        register.flow,
        context.settings.stamps or read.timed.stamps,
        read.timed.labels,
        read.timed.offsets,
        values,
        read.timed.rows,
        estimated=estimated,
        lengths=read.timed.lengths,
        register=is_register(register.name),
        order=read.timed.order,
        above=layout.preamble_flow,
        utc=layout.says_utc,
    )
    return with_unit(series, first, layout, read, context)


def _whole(values: Floats) -> bool:
    """Whether all are whole numbers: a part of a unit in the heading is then what each counts, else only their step."""
    known = values[np.isfinite(values)]
    return bool((known == np.round(known)).all())


def _by_register(used: Floats, register: Floats, labels: Ints) -> Literal["start", "end"] | None:
    """Return which end of an interval a time is, by a register that rises by what was used before it, or behind it.

    A sum of the column itself, which begins with its first energy, tells nothing. Neither does a register that rises by
    what its own row holds where the rows make whole days from midnight on: it may have been read when the interval was
    over.
    """
    if np.nanmean(np.diff(register)) < 0.0:
        used, register, labels = used[::-1], register[::-1], labels[::-1]
    rises = np.diff(register)
    least = FEW_UNITS * np.nanmin(np.abs(used[used != 0.0]), initial=1.0)
    within = np.abs(rises) * ADDS_WITHIN + least
    before, behind = (np.mean(np.abs(rises - part) <= within) for part in (used[1:], used[:-1]))
    if max(before, behind) < AGREES or min(before, behind) > AGREES / 2:
        return None
    if behind > before:
        return "start"
    summed = abs(register[0] - used[0]) <= least or bool((rises < -within).any())
    whole_days = labels[0] % DAY_SECONDS == 0 and (2 * labels[-1] - labels[-2]) % DAY_SECONDS == 0
    return None if summed or (whole_days and np.isfinite(used[0])) else "end"


def tell_beside(layout: Layout, timed: Timed, context: ReadContext) -> None:
    """Say how the days were read where only their order settled it, and of a multiplier that stands beside."""
    if timed.midnights:
        context.assumed.add("midnight-ends")
    if timed.evenly:
        context.assumed.add("day-order", order=ORDER_FORMS[timed.order])
    if layout.multiplier is not None:
        context.assumed.add("multiplier-beside", multiplier=layout.multiplier)


def _sum(values: Floats, more: Floats, part: str | None) -> Floats:
    """Add a part; of price periods, one that is blank is none."""
    if part is None or not part.startswith("price"):
        return values + more
    both = np.isnan(values) & np.isnan(more)
    return np.where(both, np.nan, np.nan_to_num(values) + np.nan_to_num(more))


def _check_parts(values: Floats, register: Register, read: Columns, layout: Layout) -> None:
    summed = np.zeros(len(values))
    for part in register.beside:
        summed = summed + np.nan_to_num(read.numbers[part.column])
    known = ~np.isnan(values)
    off = np.abs(summed - values)[known] > ADDS_WITHIN * np.abs(values[known]) + 0.011 * len(register.beside)
    if np.mean(off) > MOST_OFF if len(off) else False:
        names = ", ".join(part.name for part in register.beside)
        raise LayoutError(
            f"{names} do not add up to {register.name}",
            f"Set channel under [interval] to the one that is the house's, such as {register.name}.",
            layout.header,
        )


def _judged(values: Floats, quality: Words, name: str) -> tuple[Floats, Flags | None]:
    """Return the values without placeholders of what was not read, and which are estimates."""
    texts, place = quality
    missing = np.array([is_missing(text) for text in texts], dtype=bool)[place]
    flags = np.array([is_estimated(text, name) for text in texts], dtype=bool)[place]
    if missing.any():
        values = np.where(missing & (values == 0.0), np.nan, values)
    return values, flags if flags.any() else None
