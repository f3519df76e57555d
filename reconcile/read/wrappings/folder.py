"""A house as a folder of small files."""

from __future__ import annotations

from collections.abc import Collection
from functools import partial
from pathlib import Path

from reconcile.read.tables.by_content import KINDS, by_content, is_of_more_than_readings, not_understood, twice
from reconcile.read.tables.cells import Grid, Section, nearest
from reconcile.read.tables.columns import TABLES as DECLARED
from reconcile.read.tables.columns import Columns
from reconcile.read.tables.gate import WITHOUT_BILLS, Gate
from reconcile.read.tables.headers import is_of_bills
from reconcile.read.wrappings.files import WRAPPED, kind_of_file, read_csv
from reconcile.read.wrappings.setting_keys import read_toml
from reconcile.read.wrappings.sources import BOOKS, ENDINGS, TABLES, TEXT_TABLES, IntervalFile, Sources

SETTINGS, FIELD_TEST, INTERVAL = "house.toml", "field_test.toml", "interval"
FIELD_SHEETS = ("field_test.xlsx", "field-test.xlsx")
"""Names of the fill-in workbook of a field test, which may stand in place of the TOML file."""
ELECTRICIANS_SHEET = "field-test-electrician.xlsx"
"""The electrician's workbook, which may stand beside the householder's readings."""
OWN_WORKBOOK = "reconciliation.xlsx"
"""What the program itself writes."""
KNOWN = (SETTINGS, FIELD_TEST, "interval.csv", *(f"{name}.csv" for name in TABLES))
RESERVED = (*KNOWN, *FIELD_SHEETS, ELECTRICIANS_SHEET, OWN_WORKBOOK)
"""Names of files that are not looked into for anything else."""

DOCUMENTS = (".rtf", ".docx")
"""Endings of what word processors write."""
OTHER_TEXTS = (".md", *WRAPPED, *DOCUMENTS)
"""Endings of texts that are read where they bear the name of a table."""

UNNAMED = (".csv", ".tsv", ".xml", ".xlsx", ".gz", ".zip", ".parquet")
"""Endings of files of any name that are looked into for interval data."""
LARGEST_BY_CONTENT = 2_000_000
"""Bytes of a file of another name up to which it is looked into: twenty years of days (a guard)."""
MOST_INTERVAL_FILES = 400
"""Files of ``interval/``: a year of one a day, and some (a guard, common practice)."""


def find_in_folder(folder: Path, gate: Gate) -> Sources:
    """Read every file of a house's folder into cells."""
    entries = entries_of(folder, gate)
    sources = Sources(folder.resolve().name, Section({}, SETTINGS))
    if SETTINGS in entries:
        sources.settings = read_toml(entries[SETTINGS], SETTINGS, gate) or sources.settings
    for name in TABLES:
        grid = table_of(name, entries, gate)
        if grid is not None:
            sources.tables[name] = grid
    sources.interval = interval_of(entries, gate)
    if FIELD_TEST in entries:
        sources.field_test = read_toml(entries[FIELD_TEST], FIELD_TEST, gate)
    for name in FIELD_SHEETS:
        if name in entries:
            _field_sheet(name, entries, sources, gate)
    if ELECTRICIANS_SHEET in entries:
        sources.electrician = read_form(ELECTRICIANS_SHEET, entries, gate)
    feeds = any(file.name.casefold().endswith((".xml", ".zip", ".xml.gz")) for file in sources.interval)
    named = "bills" in sources.tables or any(
        f"bills{kind}" in map(_unpacked_name, entries) for kind in (*TEXT_TABLES, *OTHER_TEXTS)
    )
    find_by_content(entries, sources, gate, bills=not named)
    if not named and not {"bills", "readings"} & {*sources.tables} and not feeds and gate.bills_needed:
        books = [path.name for path in entries.values() if is_house_book(path)]
        several = f"; of the workbooks {', '.join(books)} name the one that holds the bills" if books else ""
        held = "The interval data beside are read with them, not without. " if sources.interval else ""
        gate.fault(
            "there are no bills",
            f"Add bills.csv with the columns start, end and kwh{several}. {held}{WITHOUT_BILLS}"
            + not_understood(sources.other),
            file=sources.name,
        )
    look_through_others(entries, {grid.file for grid in (*sources.tables.values(), *sources.more_bills)}, sources)
    return sources


def _unpacked_name(name: str) -> str:
    return name.removesuffix(".gz")


def look_through_others(entries: dict[str, Path], taken: Collection[str], sources: Sources) -> None:
    """Keep the files that are left: some may hold interval data where none is called so, and the rest is told."""
    sources.unnamed = [
        IntervalFile(path.name, path)
        for name, path in entries.items()
        if name.endswith(UNNAMED) and path.is_file() and not name.startswith((".", "~$"))
        if name not in RESERVED and path.name not in taken and name.partition(".")[0] not in TABLES
        if not sources.interval
    ]
    sources.tell_others = partial(tell_others, entries, taken)


def is_house_book(path: Path) -> bool:
    """Whether a file may be the workbook of a house by its name: no form to fill in, no other table, no answer."""
    name = path.name.casefold()
    stem = path.stem.casefold()
    other = name in (*FIELD_SHEETS, ELECTRICIANS_SHEET, OWN_WORKBOOK) or stem in (INTERVAL, *TABLES[1:])
    hidden = name.startswith((".", "~$"))
    return path.suffix.casefold() in BOOKS and not other and not hidden and path.is_file()


def lone_workbook(folder: Path) -> Path | None:
    """Return the one workbook of a folder whose bills are in no other file; None where it is not so."""
    try:
        paths = [path for path in folder.iterdir() if not path.name.startswith((".", "~$"))]
    except OSError:
        return None
    books = [path for path in paths if is_house_book(path)]
    texts = [path for path in paths if path.suffix.casefold() in TEXT_TABLES and path.is_file()]
    named = any(path.stem.casefold() == "bills" and path.suffix.casefold() in OTHER_TEXTS for path in paths)
    if not books or named or any(path.stem.casefold() == "bills" for path in texts):
        return None
    if len(books) > 1:
        from reconcile.read.wrappings.workbook import holds_bills

        books = [path for path in books if holds_bills(path)]
        if len(books) != 1:
            return None
    grids = [_grid_of_bills(path) for path in texts if path.name.casefold() not in KNOWN]
    return None if any(grid is not None and is_of_more_than_readings(grid) for grid in grids) else books[0]


def find_in_file(path: Path, gate: Gate) -> Sources:
    """Read a house that is one file of bills; ``house.toml`` beside it gives the settings."""
    file = path.name
    sources = Sources(path.stem, Section({}, SETTINGS))
    own = [name for name in TABLES if name == path.stem.casefold() and name != "bills"]
    if own or path.stem.casefold() == "interval":
        gate.fault("this is one file of a house", "Give the folder that holds it.", file=file)
        return sources
    beside = path.with_name(SETTINGS)
    if beside.is_file():
        settings = read_toml(beside, SETTINGS, gate)
        if settings is not None:
            sources.settings = settings
            gate.notice(f"The settings are read from {SETTINGS} beside {file}.")
    grid = read_csv(path, file, gate, DECLARED["bills"])
    if grid is not None:
        sources.tables["bills"] = grid
    others = [name for name in KNOWN if name != SETTINGS and name != file and path.with_name(name).is_file()]
    if others:
        gate.notice(f"Only {file} is read; give its folder to read {', '.join(others)} too.")
    return sources


def find_by_content(entries: dict[str, Path], sources: Sources, gate: Gate, *, bills: bool = True) -> list[str]:
    """Find tables in files of another name, by what their columns are called; their names are given back.

    ``bills`` says whether bills are looked for too.
    """
    things = []
    for name, path in entries.items():
        stem, kind = name.partition(".")[0], kind_of_file(name)
        if name in RESERVED or stem in (INTERVAL, *TABLES):
            continue
        if kind in (*TEXT_TABLES, *BOOKS, *DOCUMENTS) and not name.startswith((".", "~$")) and path.is_file():
            things.append((path.name, partial(_quiet, path)))
    wanted = [name for name in KINDS if name not in sources.tables and (bills or name != "bills")]
    found = by_content(things, wanted)
    for name, pairs in found.items():
        sources.tables[name] = pairs[0][1]
        if name == "bills":
            sources.more_bills = [grid for _, grid in pairs[1:]]
        elif len(pairs) > 1:
            twice(name, [file for file, _ in pairs], pairs[0][0], gate)
    if found:
        parts = [f"{name} in {' and '.join(file for file, _ in pairs)}" for name, pairs in found.items()]
        gate.notice(f"The folder is read as: {'; '.join(parts)}.")
    files = [file for pairs in found.values() for file, _ in pairs]
    if bills and "bills" not in found and gate.bills_needed:
        left = [read(DECLARED["bills"]) for file, read in things if file not in files]
        sources.other = [grid for grid in left if grid is not None and len(grid.rows) > 1]
    return files


def _quiet(path: Path, spec: Columns) -> Grid | None:
    """Read a file of another name as suits one kind of table; None where anything is wrong with it."""
    gate = Gate()
    if path.stat().st_size > LARGEST_BY_CONTENT:
        return None
    if kind_of_file(path.name) in (*TEXT_TABLES, *DOCUMENTS):
        grid = read_csv(path, path.name, gate, spec)
    elif spec.table == "bills":  # a workbook of bills is a house of its own
        return None
    else:
        from reconcile.read.wrappings.workbook import lone_grid

        grid = lone_grid(path, spec.table, gate)
    return None if gate.faults else grid


def _grid_of_bills(path: Path) -> Grid | None:
    quiet = Gate()
    grid = read_csv(path, path.name, quiet, DECLARED["bills"])
    return grid if grid is not None and not quiet.faults and is_of_bills(grid) else None


def table_of(name: str, entries: dict[str, Path], gate: Gate) -> Grid | None:
    """Read one table of a house from the file that is named after it: text, or a workbook of one sheet."""
    texts = (*TEXT_TABLES, *OTHER_TEXTS)
    kinds = (*texts, *(f"{kind}.gz" for kind in texts), *(() if name == "bills" else BOOKS))
    found = [f"{name}{kind}" for kind in kinds if f"{name}{kind}" in entries]
    for other in found[1:]:
        gate.fault(f"{found[0]} stands beside it", "Keep one of the two.", file=other)
    if not found:
        return None
    if found[0].endswith(BOOKS):
        from reconcile.read.wrappings.workbook import lone_grid

        return lone_grid(entries[found[0]], name, gate)
    return read_csv(entries[found[0]], found[0], gate, DECLARED[name])


def _field_sheet(name: str, entries: dict[str, Path], sources: Sources, gate: Gate) -> None:
    if sources.field_test is not None:
        gate.fault("there is another field test beside it", "Keep one of the two.", file=name)
        return
    sources.field_test = read_form(name, entries, gate)


def read_form(name: str, entries: dict[str, Path], gate: Gate) -> Grid | None:
    """Read the sheet of a fill-in workbook of a field test."""
    from reconcile.read.wrappings.workbook import grids

    form = grids(entries[name], gate).get("field test")
    if form is None:
        gate.fault("this workbook has no sheet field test", "Use the one that the plan writes.", file=name)
    return form


def entries_of(folder: Path, gate: Gate, *, quiet: bool = False) -> dict[str, Path]:
    """Return what lies in a folder, by small names; ``quiet`` where it is not the folder of a house."""
    found: dict[str, Path] = {}
    try:
        paths = sorted(folder.iterdir())
    except OSError as error:
        if quiet:
            return found
        gate.fault(
            f"the folder cannot be read ({error.strerror})",
            "Check its permissions.",
            file=folder.name or str(folder),
        )
        return found
    for path in paths:
        name = path.name.casefold()
        if name in found and name in KNOWN and not quiet:
            gate.fault(
                f"{found[name].name} and {path.name} differ only in capitals",
                "Keep one of the two.",
                file=path.name,
            )
        found[name] = path
    return found


def interval_of(entries: dict[str, Path], gate: Gate) -> list[IntervalFile]:
    """Find interval data beside the bills (``interval.csv``, ``interval.xlsx``, ...) and in the folder ``interval``."""
    files = [
        IntervalFile(path.name, path)
        for name, path in entries.items()
        if name.partition(".")[0] == INTERVAL and name.endswith(ENDINGS) and not path.is_dir()
    ]
    place = entries.get(INTERVAL)
    if place is None or not place.is_dir():
        return files
    if files:
        gate.fault(
            f"there is a file {files[0].name} and a folder interval/", "Keep one of the two.", file=files[0].name
        )
        return []
    inside = entries_of(place, gate)
    files = [
        IntervalFile(f"{INTERVAL}/{path.name}", path)
        for name, path in inside.items()
        if name.endswith(ENDINGS) and not path.is_dir() and not name.startswith((".", "read me", "readme"))
    ]
    if not files:
        gate.fault("this folder holds no interval data", "Put the downloaded files in it, or delete it.", file=INTERVAL)
    if len(files) > MOST_INTERVAL_FILES:
        gate.fault(f"there are more than {MOST_INTERVAL_FILES} files", "Join some of them.", file=INTERVAL)
        return []
    return files


def tell_others(entries: dict[str, Path], taken: Collection[str], gate: Gate, more: Collection[str] = ()) -> None:
    """Tell of files that are not read: a misspelled name is a fault, a foreign file a notice."""
    here = {name: path for name, path in entries.items() if path.name not in (*taken, *more)}
    for name, path in here.items():
        kind = path.suffix.casefold()
        if name in RESERVED or kind not in (".csv", ".toml", ".xml", *BOOKS, ".numbers") or path.is_dir():
            continue
        if name.partition(".")[0] == INTERVAL or name.startswith((".", "~$")):
            continue
        near = nearest(path.stem, [k.rpartition(".")[0] for k in KNOWN if k not in entries and k.endswith(kind)])
        if near is None:
            gate.notice(f"{path.name} is not a file of a house and was not read.")
        else:
            gate.fault(
                "this file is not known",
                f"Did you mean {near}{kind}? Rename it, or move it elsewhere.",
                file=path.name,
            )
