"""Rows that carry the name of their register or their unit: what the words of a table say of its values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from reconcile.array_types import Floats, Ints
from reconcile.read.household.settings import IntervalSettings
from reconcile.read.layouts.cell_kinds import LayoutError
from reconcile.read.layouts.interval_channels import choose
from reconcile.read.layouts.interval_columns import Columns
from reconcile.read.layouts.interval_layout import Layout, Values
from reconcile.read.layouts.interval_names import Flow, Unit, flow_of, is_miswritten, part_of, says_power, unit_of
from reconcile.read.timeline.series import ReadContext, Series, oldest_first
from reconcile.read.values.stamp_offsets import Words

MANY_REPEATS = 0.02
"""Share of the readings that stand at a time already taken, from which a column of words is looked for that tells
them apart (our choice: a clock change repeats at most one hour in a thousand)."""

LETTERED: dict[frozenset[str], dict[str, Flow]] = {
    frozenset(pair): {pair[0]: "delivered", pair[1]: "received"} for pair in (("d", "r"), ("e1", "b1"))
}
"""Letters that name a direction beside one another only: delivered and received, and the registers E1 and B1 of
Australian meters (from memory)."""


def by_words(made: list[Series], words: dict[int, Words], layout: Layout, context: ReadContext) -> list[Series]:
    """Divide series whose rows carry the name of their register; turn the newest first round."""
    if len(made) == 1 and words:
        divided = _by_rows(made[0], words, layout, context)
        if divided:
            made = divided
    return [oldest_first(one) for one in made]


def with_unit(series: Series, value: Values, layout: Layout, read: Columns, context: ReadContext) -> Series:
    """Return the series in its unit: as set, as its column, its cells or a line above says, or as is usual."""
    if context.settings.unit is not None:
        return replace(series, unit=context.settings.unit, unit_from="household")
    told = _told_unit(value, layout, read, context)
    usual: Unit = "kW" if says_power(value.name) else "kWh"
    return replace(series, unit=told or usual, unit_from="nothing" if told is None else "file")


def _told_unit(value: Values, layout: Layout, read: Columns, context: ReadContext) -> Unit | None:
    words = read.words
    if is_miswritten(value.name) or (layout.unit in words and any(map(is_miswritten, words[layout.unit][0]))):
        raise LayoutError(
            "kW/h is no unit of energy, nor of power", 'Set unit = "kWh" (or "kW") under [interval].', layout.header
        )
    if value.unit is not None:
        return value.unit
    if value.column in read.units:
        return unit_of(read.units[value.column])
    if layout.unit is not None and layout.unit in words:
        told = {unit for word in words[layout.unit][0] if (unit := unit_of(word)) is not None}
        if len(told) == 1:
            return told.pop()
    if layout.preamble_unit is not None:
        context.assumed.add("unit-above", unit=layout.preamble_unit)
        return layout.preamble_unit
    return None


def _by_rows(series: Series, words: dict[int, Words], layout: Layout, context: ReadContext) -> list[Series]:
    """Divide a series by the column of words that names the register of each row; empty where there is none."""
    at = _channel_column(series, words, layout, context.settings)
    if at is None:
        return []
    texts, place = words[at]
    full = [i for i, text in enumerate(texts) if text]
    pair = LETTERED.get(frozenset(texts[i].casefold() for i in full), {})
    values = [
        Values(
            i,
            texts[i],
            unit_of(texts[i]) or series.unit,
            pair.get(texts[i].casefold()) or flow_of(texts[i]),
            part_of(texts[i]),
        )
        for i in full
    ]
    chosen = choose(values, context.settings.channel, context.assumed, f"{layout.names[at] or 'channel'}")
    made = []
    for register in chosen.registers:
        parts = [series.part(place == value.column) for value in register.parts]
        unit = context.settings.unit or register.parts[0].unit or series.unit
        source = "file" if unit_of(register.parts[0].name) and context.settings.unit is None else series.unit_from
        one = replace(parts[0], flow=register.flow, unit=unit, unit_from=source, value_name=register.name)
        made.append(added(one, parts[1:], (register.parts[0].part or "").partition(" ")[0]))
    if chosen.volts is not None:
        made.append(replace(series.part(place == chosen.volts.column), unit="V", flow=None))
    return made


def added(first: Series, others: Sequence[Series], family: str) -> Series:
    """Add phases, or price periods, that stand in rows of their own, time by time.

    Parameters
    ----------
    family : str
        ``price`` where a part without a row at a time is none.

    Raises
    ------
    LayoutError
        Where their times differ.
    """
    if all(np.array_equal(first.labels, other.labels) for other in others):
        for other in others:
            first = replace(first, values=first.values + other.values)
        return first
    every = (first, *others)
    if family != "price" or any(len(np.unique(one.instants())) < len(one.labels) for one in every):
        raise LayoutError("its parts have not the same times", "Write the sum of the parts, one row an interval.", None)
    values = np.concatenate([one.values for one in every])
    keys = np.concatenate([one.instants() for one in every])
    _, at, place = np.unique(keys, return_index=True, return_inverse=True)  # a price period without a row is 0
    summed: Floats = np.bincount(place, weights=np.nan_to_num(values)).astype(np.float64)
    summed[np.bincount(place, weights=~np.isnan(values)) == 0] = np.nan
    labels = np.concatenate([one.labels for one in every])[at]
    rows = np.concatenate([one.rows for one in every])[at]
    offsets = None
    if first.offsets is not None:
        offsets = np.concatenate([one.offsets for one in every if one.offsets is not None])[at]
    return replace(
        first, labels=labels, values=summed, rows=rows, offsets=offsets, estimated=None, lengths=None, columns=None
    )


def _channel_column(series: Series, words: dict[int, Words], layout: Layout, settings: IntervalSettings) -> int | None:
    several = [at for at in layout.groups if at in words and len([text for text in words[at][0] if text]) > 1]
    for at in several:
        if settings.channel is not None and settings.channel.casefold() in (text.casefold() for text in words[at][0]):
            return at
    for at in several:
        if frozenset(text.casefold() for text in words[at][0] if text) in LETTERED:
            return at
        flows = {flow_of(text) for text in words[at][0]}
        if {"delivered", "received"} <= flows:
            return at
    key = series.instants()
    if several and series.lengths is not None and bool((series.lengths < 0).any()):  # cells that a day has not
        has = series.lengths >= 0
        key, words = key[has], {at: (texts, place[has]) for at, (texts, place) in words.items()}
    repeats = _repeats(key) if several else 0
    if repeats <= MANY_REPEATS * len(key):
        return None
    for at in several:
        place = words[at][1]
        left = len(key) - len(np.unique(np.stack([key, place]), axis=1)[0])
        if left <= MANY_REPEATS * len(key):
            return at
    return None


def _repeats(key: Ints) -> int:
    """Return how many readings stand at a time already taken."""
    if bool((key[1:] > key[:-1]).all()):  # much quicker than looking for them, and mostly so
        return 0
    ordered = np.sort(key)
    return int(np.count_nonzero(ordered[1:] == ordered[:-1]))
