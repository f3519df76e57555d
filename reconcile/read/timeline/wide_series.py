"""Tables with a row a day and a column an interval, as series of readings."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reconcile.array_types import Flags, Floats, Ints
from reconcile.clock import DAY_SECONDS
from reconcile.read.layouts.cell_kinds import LayoutError
from reconcile.read.layouts.interval_columns import Columns, read_columns
from reconcile.read.layouts.interval_layout import Layout, Values, places_of
from reconcile.read.layouts.interval_names import flow_of, part_of, spaced, unit_of
from reconcile.read.layouts.raw_tables import RawTable
from reconcile.read.timeline.long_series import tell_beside
from reconcile.read.timeline.row_registers import by_words, with_unit
from reconcile.read.timeline.series import ReadContext, Series, oldest_first
from reconcile.read.values.clock_cells import read_clock
from reconcile.read.values.local_stamps import shifted_hours
from reconcile.read.values.stamp_offsets import Words

STEPS = {23: 3600, 24: 3600, 25: 3600, 46: 1800, 47: 1800, 48: 1800, 49: 1800, 50: 1800}
"""Step by the number of columns [s]; the rest are quarters of an hour, or 288 of five minutes."""
TOTAL_WITHIN = 0.02
"""How far the columns of a day may miss the total beside them, for rounding, as a share of it (our choice)."""
MOST_WRONG_TOTALS = 0.1


def read_wide(table: RawTable, layout: Layout, context: ReadContext) -> list[Series]:
    """Read a table with a row a day."""
    numbers = [*layout.wide, *([] if layout.total is None else [layout.total])]
    faults_before = len(context.gate.faults)
    read = read_columns(table, layout, numbers, context.gate, context.zone)
    if read is None or len(context.gate.faults) > faults_before:
        return []
    tell_beside(layout, read.timed, context)
    step = STEPS.get(len(layout.wide), 300 if len(layout.wide) > 200 else 900)
    begins, counted = _begins(layout, step)
    order = np.argsort(begins, kind="stable")  # an hour that comes twice may stand behind all others
    layout.wide, begins = [layout.wide[at] for at in order.tolist()], begins[order]
    values = read.beside(layout.wide)
    _check_totals(table, layout, read, values)
    context.assumed.add("wide", columns=len(layout.wide), minutes=step // 60)
    days = read.timed.labels // DAY_SECONDS
    full = cells_of_days(values, begins, counted, step)
    labels = (days * DAY_SECONDS)[:, None] + begins[None, :]
    flat = Series(
        table,
        layout.names[layout.times.date] or "date",
        "",
        layout.wide[0],
        "kWh",
        flow_of(" ".join(layout.names[at] for at in layout.wide[:1])),
        "start",
        labels.reshape(-1),
        None,
        values.reshape(-1),
        np.repeat(read.timed.rows, len(layout.wide)),
        columns=np.tile(np.array(layout.wide, dtype=np.int16), len(days)),
        lengths=np.broadcast_to(np.int64(step), labels.size),
        utc=layout.says_utc,
    )
    flat.value_name = "values"
    flat = with_unit(flat, _named(layout), layout, read, context)
    words = {at: (texts, np.repeat(place, len(layout.wide))) for at, (texts, place) in read.words.items()}
    begin_of = np.zeros(max(layout.wide) + 1, dtype=np.int64)
    begin_of[layout.wide] = begins
    made = []
    for here in _divided(flat, words, layout, context, full.reshape(-1)):
        if counted:
            assert here.columns is not None
            begin = begin_of[here.columns]
            day = (here.labels - begin) // DAY_SECONDS
            here = oldest_first(replace(here, labels=shifted_hours(here.labels, day, begin + step, context.zone)))
        made.append(here)
    return made


def _divided(
    flat: Series,
    words: dict[int, Words],
    layout: Layout,
    context: ReadContext,
    full: Flags,
) -> list[Series]:
    """Divide by the words of the rows, each with the cells that belong to a day that has them."""
    if full.all():
        return by_words([flat], words, layout, context)
    assert flat.lengths is not None
    out = []
    for one in by_words([replace(flat, lengths=np.where(full, flat.lengths, -1))], words, layout, context):
        assert one.lengths is not None
        out.append(one.part(one.lengths > 0))
    return out


def _named(layout: Layout) -> Values:
    name = layout.names[layout.wide[0]]
    shared = unit_of(name) if len({unit_of(layout.names[at]) for at in layout.wide}) == 1 else None
    return Values(layout.wide[0], name, shared, flow_of(name), part_of(name))


def _begins(layout: Layout, step: int) -> tuple[Ints, bool]:
    """Return the second of the day at which each column begins, and whether they are counted on."""
    names = [layout.names[at] for at in layout.wide]
    clocks = [_second(name) for name in names]
    n = len(names)
    if all(second is not None for second in clocks) and n * step <= DAY_SECONDS:
        seconds = np.array([second or 0 for second in clocks], dtype=np.int64)
        ending = seconds[0] == step and seconds[-1] in (0, DAY_SECONDS)
        if ending:
            seconds = np.where(seconds == 0, DAY_SECONDS, seconds) - step
        if len(np.unique(seconds)) == n:
            return seconds, False
    if n * step > DAY_SECONDS and all(second is not None for second in clocks[: DAY_SECONDS // step]):
        base = DAY_SECONDS // step
        seconds = np.array([second or 0 for second in clocks], dtype=np.int64)
        if len(np.unique(seconds[:base])) == base and seconds[:base].max() < DAY_SECONDS:
            return seconds, False  # the extra columns name again the hour that the clock repeats
    numbers = places_of(names)
    if (
        None not in numbers and len(set(numbers)) == DAY_SECONDS // step < n
    ):  # HE02 and HE02X: the hour that comes twice
        again = np.array(numbers, dtype=np.int64)
        return (again - again.min()) * step, False
    if all(number is not None for number in numbers):
        placed = np.array([number or 0 for number in numbers], dtype=np.int64)
        if len(np.unique(placed)) == n and placed.max() - placed.min() == n - 1:
            return (placed - placed.min()) * step, True
    if any(name for name in names) and not all(name.startswith("number") or not name for name in names):
        raise LayoutError(
            "the columns of its days do not follow one another",
            "Name them by their hours (00:00, 01:00, ...) or number them from 1.",
            layout.header,
        )
    return np.arange(n, dtype=np.int64) * step, True


def _second(name: str) -> int | None:
    import re

    stripped = re.sub(r"\b(?:k ?)?wh?\b|[()\[\]*]", " ", spaced(name), flags=re.IGNORECASE).strip()
    clock = read_clock(stripped)
    if clock is None:
        found = re.search(r"\d{1,2}:\d{2}(?: ?[ap]\.?m)?", stripped, re.IGNORECASE)
        clock = read_clock(found[0]) if found else None
    return None if clock is None else clock.second


def cells_of_days(values: Floats, begins: Ints, counted: bool, step: int) -> Flags:
    """Return the cells that each day has: the extra columns of autumn are blank, or zero, on any other day."""
    full = np.ones(values.shape, dtype=bool)
    base = DAY_SECONDS // step
    if values.shape[1] > base:
        again = np.concatenate([[False], begins[1:] == begins[:-1]])
        extra = np.flatnonzero(again) if again.any() else np.arange(base, values.shape[1])
        nothing = (np.isnan(values[:, extra]) | (values[:, extra] == 0.0)).all(axis=1)
        full[np.ix_(nothing, extra)] = False
    if counted:  # a day of 23 hours leaves its last columns blank
        for row in np.flatnonzero(np.isnan(values).any(axis=1)).tolist():
            blank = np.isnan(values[row])
            tail = np.flatnonzero(~blank)
            if len(tail) and tail[-1] + 1 == base - 3600 // step and not blank[: tail[-1] + 1].any():
                full[row, tail[-1] + 1 :] = False
    return full


def _check_totals(table: RawTable, layout: Layout, read: Columns, values: Floats) -> None:
    """Hold the columns against the total that stands beside them.

    Raises
    ------
    LayoutError
        Where they do not add up.
    """
    if layout.total is None:
        return
    total, summed = read.numbers[layout.total], np.nansum(values, axis=1)
    off = np.abs(total - summed) > TOTAL_WITHIN * np.abs(total) + 0.011 * values.shape[1]
    if np.count_nonzero(off) > MOST_WRONG_TOTALS * len(total):
        row = int(read.timed.rows[np.flatnonzero(off)[0]])
        raise LayoutError(
            f"the columns of its days do not add up to {layout.names[layout.total]}",
            "Take the columns that are no part of the day out, or write one row an interval.",
            row,
        )
