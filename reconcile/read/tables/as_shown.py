"""Cells typed as a nameplate, a stopwatch or a plug shows them, in the form that the keys have."""

from __future__ import annotations

from dataclasses import replace

from reconcile.read.tables.cells import Cell, plain_name
from reconcile.read.values.nameplate import stopwatch_seconds, wh_of_one

PLUGGED = frozenset(plain_name(word) for word in ("plug-in", "plug", "plugged in", "outlet", "receptacle", "socket"))
"""Words for how a load is wired that plugs into an outlet."""


def of_one(cell: Cell) -> Cell:
    """Return a cell in which a nameplate's imp/kWh is in watt-hours of one."""
    return replace(cell, value=wh_of_one(cell.value))


def timed(cell: Cell) -> Cell:
    """Return a cell of seconds in which minutes and seconds of a stopwatch are counted in seconds."""
    if isinstance(cell.value, list):
        return replace(cell, value=[stopwatch_seconds(one) for one in cell.value])
    return replace(cell, value=stopwatch_seconds(cell.value))


def wired(cell: Cell) -> Cell:
    """Return a cell in which what plugs into an outlet is from a leg to the neutral."""
    plugged = isinstance(cell.value, str) and plain_name(cell.value) in PLUGGED
    return replace(cell, value="line-to-neutral") if plugged else cell
