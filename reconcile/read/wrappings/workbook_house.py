"""A house in a workbook: its sheets, and what lies beside it."""

from __future__ import annotations

from pathlib import Path

from reconcile.read.tables.cells import Section
from reconcile.read.tables.gate import WITHOUT_BILLS, Gate
from reconcile.read.wrappings.beside import read_beside
from reconcile.read.wrappings.sheetkeys import settings_from
from reconcile.read.wrappings.sources import IntervalFile, Sources
from reconcile.read.wrappings.workbook import grids


def find_in_workbook(path: Path, gate: Gate, *, own_folder: bool = False) -> Sources:
    """Read every sheet of a house's workbook into cells, and what lies beside it under the names of a house's files.

    ``own_folder`` says that the workbook's folder was given as the house.
    """
    file = path.name
    sources = Sources(path.stem, Section({}, file, sheet="house"))
    gate.settings_in = "sheet"
    known = grids(path, gate, sources)
    for name, grid in known.items():
        if name == "house":
            sources.settings = settings_from(grid, gate)
        elif name == "interval":
            sources.interval = [IntervalFile(file, grid=grid)]
        elif name == "field test":
            sources.field_test = grid
        else:
            sources.tables[name] = grid
    read_beside(path, sources, gate, own_folder=own_folder)
    if gate.bills_needed and "bills" not in sources.tables and (known or not gate.faults):
        gate.fault(
            "there are no bills", f"Add a sheet bills with the columns start, end and kwh. {WITHOUT_BILLS}", file=file
        )
    return sources
