"""Tables under another name: what a sheet or a file is by its columns and by what stands in them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import TypeVar

from reconcile.loads.handbook import find
from reconcile.read.tables.cells import Grid, or_list, shown
from reconcile.read.tables.columns import DAYS, ENERGY, TABLES, Columns
from reconcile.read.tables.gate import Gate
from reconcile.read.tables.headers import find_table, header_index, is_of_bills, names_of
from reconcile.read.values.numbers import figure

FEWEST_ROWS = 2
"""Rows from which a list is one (our choice)."""
MOSTLY = 0.8
"""Share of the cells that must be what their column says: the header alone would do for other lists (our choice)."""
FEWEST_DAYS = 20
"""Rows from which a table of days and temperatures is one of weather (our choice)."""

MORE_THAN_READINGS = {"kwh", "delivered_kwh", "reading_start", "amount", "start", "period", "month", "days"}
"""Columns that a table of readings alone does not have."""

MOST_TOLD = 3
"""Files or sheets of which it is told why they are no bills (our choice)."""

T = TypeVar("T")
Read = Callable[[Columns], Grid | None]
"""Reads the cells as suits one kind of table: a text's columns are told by the names they may have."""


def by_content(things: Sequence[tuple[T, Read]], wanted: Sequence[str]) -> dict[str, list[tuple[T, Grid]]]:
    """Return the sheets or files that plainly are tables of a house, each with its cells, by the names of the tables.

    Parameters
    ----------
    things : sequence of (object, callable)
        Each with what reads its cells.
    wanted : sequence of str
        Names of :data:`~reconcile.read.wrappings.sources.TABLES` that are not there yet.
    """
    found: dict[str, list[tuple[T, Grid]]] = {}
    for thing, read in things:
        for name in [kind for kind in _IS if kind in wanted]:
            grid = read(TABLES[name])
            if grid is not None and grid.rows and _IS[name](grid):
                found.setdefault(name, []).append((thing, grid))
                break
    alone = [pair for pair in found.get("bills", []) if not is_of_more_than_readings(pair[1])]
    if len(alone) < len(found.get("bills", [])) and "readings" in wanted:  # beside bills, readings are no bills
        alone = [pair for pair in alone if _is_of_readings(pair[1])]
        found["bills"] = [pair for pair in found["bills"] if pair not in alone]
        found |= {"readings": [*found.get("readings", []), *alone]} if alone else {}
    return found


def is_of_more_than_readings(grid: Grid) -> bool:
    """Whether bills tell more than what a register showed on some days, which also an own list of readings does."""
    return bool(names_of(grid, TABLES["bills"]) & MORE_THAN_READINGS) or not _is_of_readings(grid)


def not_understood(grids: Sequence[Grid]) -> str:
    """Say of files or sheets that were looked at for bills what their columns do not tell."""
    spec, told = TABLES["bills"], ""
    for grid in grids[:MOST_TOLD]:
        names = [shown(value) for value in grid.rows[header_index(grid, spec)][1] if value is not None][:6]
        table = find_table(grid, spec, Gate())
        found = set() if table is None else {name for name in spec.names if table.has(name)}
        wanted = [
            what
            for columns, what in ((DAYS, "its days"), (ENERGY, "its kWh or what the meter showed"))
            if found.isdisjoint(columns)
        ]
        place = f"sheet {grid.sheet}" if grid.sheet else f"file {grid.file}"
        told += (
            f" The {place} was looked at: of its columns ({', '.join(names)}) none is known to tell {or_list(wanted)}."
        )
    return told


def _is_of_loads(grid: Grid) -> bool:
    names = names_of(grid, TABLES["loads"])
    table = find_table(grid, TABLES["loads"], Gate()) if "load" in names else None
    if table is None or len(table.rows) < FEWEST_ROWS or is_of_bills(grid):
        return False
    known = sum(bool(find(str(row.value("load")))) for row in table.rows)
    told = [name for name in ("watts", "kwh_per_year", "kwh_per_cycle") if name in names]
    figures = sum(any(figure(_sure(row.value(name)), ".") for name in told) for row in table.rows)
    return known >= MOSTLY * len(table.rows) or (2 * known >= len(table.rows) and figures + known >= len(table.rows))


def _is_of_weather(grid: Grid) -> bool:
    names = names_of(grid, TABLES["weather"])
    degrees = {"mean", "tavg"} & names or {"tmin", "tmax"} <= names
    return "date" in names and bool(degrees) and len(grid.rows) > FEWEST_DAYS and not is_of_bills(grid)


def _is_of_events(grid: Grid) -> bool:
    if not {"date", "kind"} <= names_of(grid, TABLES["events"]):
        return False
    table = find_table(grid, TABLES["events"], Gate())
    kinds = [] if table is None else [str(row.value("kind")) for row in table.rows if not row.blank("kind")]
    known = sum(TABLES["events"]["kind"].code(kind) is not None for kind in kinds)
    return len(kinds) > 0 and known >= MOSTLY * len(kinds)


def _is_of_readings(grid: Grid) -> bool:
    if names_of(grid, TABLES["readings"]) < {"date", "value"}:
        return False
    table = find_table(grid, TABLES["readings"], Gate())
    values = [] if table is None else [figure(_sure(row.value("value")), ".") for row in table.rows]
    told = [value for value in values if value is not None]
    rising = all(a <= b for a, b in pairwise(told)) or all(a >= b for a, b in pairwise(told))
    return len(told) >= FEWEST_ROWS and len(told) == len(values) and rising


def _sure(value: object) -> object:
    """A value without the sign of a guess before it."""
    return value.lstrip("~ ") if isinstance(value, str) else value


_IS: dict[str, Callable[[Grid], bool]] = {
    "bills": is_of_bills,
    "loads": _is_of_loads,
    "weather": _is_of_weather,
    "events": _is_of_events,
    "readings": _is_of_readings,
}
KINDS = tuple(_IS)


def twice(name: str, places: Sequence[str], file: str, gate: Gate, sheet: str | None = None) -> None:
    """Tell that two sheets or files may each be the one table of a kind."""
    gate.fault(
        f"{places[0]} and {places[1]} may each be the {name} of this house",
        f"Call the right one {name}, and take the other out.",
        file=file,
        sheet=sheet,
    )
