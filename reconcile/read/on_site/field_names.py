"""Names of the field test's keys as people write them, brought to the keys; what an unknown one may have meant."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from reconcile.read.tables.cells import Grid, Row, Section, Table, nearest, plain_name, shown
from reconcile.read.tables.gate import Gate
from reconcile.texts.field.field_keys import TABLES, key_of, leg_column, path_of, words_of

PLACES = {
    "run": "[[run]]",
    "quiet": "[[quiet]]",
    "main_off": "[[main_off]]",
    "interval_run": "[[interval_run]]",
    "branch": "[[branch]]",
    "run.legs": "legs = [{...}] of [[run]]",
}
ROWS = ("run", "quiet", "main_off", "interval_run", "branch")
"""Tables whose items are rows of a sheet."""


def in_keys(section: Section, table: str) -> Section:
    """Return a table of keys with the sheets' words and other names taken for the keys they mean."""
    values: dict[str, Any] = {}
    for written, value in section.values.items():
        known = key_of(table, written)
        name = known if known is not None and known not in section.values else written
        values[name if name not in values else written] = value
    return replace(section, values=values)


def check_keys(section: Section, table: str, gate: Gate) -> None:
    """Report keys that a table does not have: columns of legs as the list they make, keys of another table by its name.

    Parameters
    ----------
    section : Section
        After :func:`in_keys`.
    table : str
        One of :data:`reconcile.texts.field.field_keys.TABLES`.
    """
    known = tuple(key.name for key in TABLES[table])
    legs = {key: leg_column(key) for key in section if key not in known and table == "run"}
    told = False
    for key in section:
        if key in known:
            continue
        if legs.get(key) is not None:
            if not told:
                _as_legs(section, {k: v for k, v in legs.items() if v is not None}, gate)
            told = True
            continue
        at = section[key]
        if isinstance(section.values[key], Mapping | list) and key in ROWS:
            remedy = f"Write it as a table of its own, [[{key}]]."
        else:
            remedy = _remedy(key, table, known)
        gate.fault_in(at, f"the key {shown(key)} is not known", remedy, row=at.row, column=at.column)


def _remedy(key: str, table: str, known: Sequence[str]) -> str:
    elsewhere = [
        (where, name)
        for where in TABLES
        if where != table and (name := key_of(where, key)) is not None and name not in known
    ]
    if elsewhere:
        where, name = elsewhere[0]
        return f"{name} belongs to {PLACES.get(where, f'[{where}]')}. Move it there."
    near = nearest(key, [*known, *(key.words for key in TABLES[table])])
    near = None if near is None else key_of(table, near)
    guess = f"Did you mean {near}?" if near else f"Known here: {', '.join(known)}."
    return f"{guess} Rename it or take it out."


def _as_legs(section: Section, legs: Mapping[str, tuple[str, int]], gate: Gate) -> None:
    """One fault for all keys such as ``amps_1``: the list of legs that they make, with the values as written."""
    made: dict[int, dict[str, Any]] = {}
    for written, (name, number) in legs.items():
        made.setdefault(number, {})[name] = section.values[written]
    each = ", ".join(
        "{" + ", ".join(f"{name} = {shown(value)}" for name, value in sorted(leg.items(), reverse=True)) + "}"
        for _, leg in sorted(made.items())
    )
    at = section[next(iter(legs))]
    names = " and ".join(list(legs)[:2]) + (" ..." if len(legs) > 2 else "")
    gate.fault_in(
        at,
        f"readings of the legs stand as {shown(names)}, and a run has one list of them",
        f"Write legs = [{each}] in their place.",
        row=at.row,
        column=at.column,
    )


def called(cells: Any, key: str) -> str:
    """Return what a value is called where it is written: the head of its column on a sheet, else the key."""
    if not isinstance(cells, Row):
        return key
    if cells.table.has(key):
        return cells[key].column
    return words_of(next(name for name in ROWS if any(one.name == key for one in TABLES[name])), key)


def head_in_keys(table: Table) -> list[str]:
    """Take the words at the head of a sheet's columns for the keys they mean.

    Parameters
    ----------
    table : Table
        Its names and header are changed in place.

    Returns
    -------
    list of str
        The heads as written, by which faults call the columns.
    """
    as_written = list(table.names)
    for index, written in enumerate(as_written):
        name = column_of(written)
        if name is None or plain_name(name) in table.header:
            continue
        del table.header[plain_name(written)]
        table.names[index] = name
        table.header[plain_name(name)] = index
    return as_written


def column_of(written: str) -> str | None:
    """Return the column that a name at the head of a sheet means, None where it means none.

    Examples
    --------
    >>> column_of("leg 1 A"), column_of("house W before"), column_of("left on"), column_of("colour")
    ('amps_1', 'background_w_before', 'on', None)
    """
    leg = leg_column(written)
    if leg is not None:
        return f"{leg[0]}_{leg[1]}"
    return next((name for table in ROWS if (name := key_of(table, written)) is not None), None)


def above_in_keys(grid: Grid) -> Grid:
    """Return the rows above the runs of a sheet with the workbook's words taken for the paths they mean."""
    rows = []
    for number, values in grid.rows:
        path = path_of(values[0]) if values and isinstance(values[0], str) else None
        rows.append((number, values if path is None else [path, *values[1:]]))
    return replace(grid, rows=rows)
