"""A house in a workbook: its sheets, and what lies beside it."""

from __future__ import annotations

from pathlib import Path

from reconcile.read.tables.by_content import not_understood
from reconcile.read.tables.cells import Grid, Section
from reconcile.read.tables.columns import TABLES as DECLARED
from reconcile.read.tables.gate import WITHOUT_BILLS, Gate
from reconcile.read.tables.headers import find_table
from reconcile.read.values.numbers import figure
from reconcile.read.wrappings.folder import (
    ELECTRICIANS_SHEET,
    FIELD_SHEETS,
    FIELD_TEST,
    INTERVAL,
    SETTINGS,
    entries_of,
    find_by_content,
    interval_of,
    is_house_book,
    look_through_others,
    read_form,
    table_of,
)
from reconcile.read.wrappings.setting_keys import read_toml, settings_from
from reconcile.read.wrappings.sources import BOOKS, TABLES, TEXT_TABLES, IntervalFile, Sources
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
    if gate.bills_needed and not {"bills", "readings"} & {*sources.tables} and (known or not gate.faults):
        wanted = f"Add a sheet bills with the columns start, end and kwh. {WITHOUT_BILLS}"
        gate.fault("there are no bills", wanted + not_understood(sources.other), file=file)
    return sources


def read_beside(book: Path, sources: Sources, gate: Gate, *, own_folder: bool) -> None:
    """Add what lies beside a workbook of a house to what it holds.

    Parameters
    ----------
    sources : Sources
        What the workbook holds; changed in place.
    gate : Gate
        Told which files were read, and which were not.
    own_folder : bool
        Whether the folder was given as the house, so that all in it belongs to it.
    """
    entries = entries_of(book.parent, gate, quiet=not own_folder)
    ours = _of_a_house(entries)
    rivals = [path.name for path in entries.values() if is_house_book(path) and path.name != book.name]
    if rivals and ours and not own_folder:
        gate.notice(
            f"Beside {book.name} lie {', '.join(ours)}, and another workbook, {rivals[0]}. Whose they are is not told, "
            "so they were not read. Put each house into a folder of its own."
        )
        return
    read: list[str] = []
    for name in TABLES:
        _table(name, entries, sources, gate, read)
    _settings(entries, sources, gate, read)
    _interval(entries, sources, gate, read, book)
    _field_test(entries, sources, gate, read)
    others = {name: path for name, path in entries.items() if own_folder and path.name != book.name}
    by_content = find_by_content(others, sources, gate, bills=False)
    if read:
        gate.notice(
            f"Beside {book.name}, {' and '.join(read) if len(read) < 3 else ', '.join(read)} "
            f"{'was' if len(read) == 1 else 'were'} read too."
        )
    if own_folder:
        look_through_others(entries, {*read, *by_content, *ours, book.name}, sources)


def _of_a_house(entries: dict[str, Path]) -> list[str]:
    """Return the names that files of a house have."""
    named = {SETTINGS, FIELD_TEST, *FIELD_SHEETS, ELECTRICIANS_SHEET}
    named |= {f"{name}{kind}" for name in TABLES for kind in TEXT_TABLES}
    return [
        path.name
        for name, path in entries.items()
        if name in named or (name.partition(".")[0] == INTERVAL and not name.endswith(".answer"))
    ]


def _table(name: str, entries: dict[str, Path], sources: Sources, gate: Gate, read: list[str]) -> None:
    if not any(f"{name}{kind}" in entries for kind in (*TEXT_TABLES, *(BOOKS if name != "bills" else ()))):
        return
    own = sources.tables.get(name)
    if own is not None and _has_rows(own, name):
        file = next(path.name for key, path in entries.items() if key.partition(".")[0] == name)
        gate.notice(f"{file} was not read: the workbook's own sheet {own.sheet} is filled in.")
        return
    grid = table_of(name, entries, gate)
    if grid is not None:
        sources.tables[name] = grid
        read.append(grid.file)


def _has_rows(grid: Grid, name: str) -> bool:
    """Whether a sheet holds anything of one's own, beside its header, the starter's examples and counts of 0."""
    table = find_table(grid, DECLARED[name], Gate()) if grid.rows else None
    return table is not None and any(figure(row.value("count")) != 0.0 for row in table.rows)


def _settings(entries: dict[str, Path], sources: Sources, gate: Gate, read: list[str]) -> None:
    if SETTINGS not in entries:
        return
    if sources.settings.values:
        gate.notice(f"{SETTINGS} was not read: the workbook's own sheet house is filled in.")
        return
    settings = read_toml(entries[SETTINGS], SETTINGS, gate)
    if settings is not None:
        sources.settings = settings
        gate.settings_in = "file"
        read.append(SETTINGS)


def _interval(entries: dict[str, Path], sources: Sources, gate: Gate, read: list[str], book: Path) -> None:
    found: list[IntervalFile] = interval_of(entries, gate)
    if not found:
        return
    if sources.interval:
        gate.fault(
            f"there is a sheet interval in {book.name} and {found[0].name} beside it",
            "Keep one of the two.",
            file=found[0].name,
        )
        return
    sources.interval = found
    read.append(found[0].name if len(found) == 1 else f"{len(found)} files of {INTERVAL}/")


def _field_test(entries: dict[str, Path], sources: Sources, gate: Gate, read: list[str]) -> None:
    for name in (FIELD_TEST, *FIELD_SHEETS):
        if name not in entries:
            continue
        if sources.field_test is not None:
            gate.fault("there is another field test beside it", "Keep one of the two.", file=entries[name].name)
            continue
        if name == FIELD_TEST:
            sources.field_test = read_toml(entries[name], name, gate)
        else:
            sources.field_test = read_form(name, entries, gate)
        read.append(entries[name].name)
    if ELECTRICIANS_SHEET in entries:
        sources.electrician = read_form(ELECTRICIANS_SHEET, entries, gate)
        read.append(entries[ELECTRICIANS_SHEET].name)
