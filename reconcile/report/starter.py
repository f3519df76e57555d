"""A starter house: one workbook, or a folder of small files, with examples that are never read."""

from __future__ import annotations

import csv
import io
from importlib.resources import files
from pathlib import Path

from reconcile.report.save import save_new
from reconcile.report.workbooks.starter_rows import COLUMNS, rows_of
from reconcile.report.workbooks.starter_workbook import workbook_bytes

WORKBOOK = "house.xlsx"
TEXTS = ("house.toml", "READ ME.txt")
IN_FOLDER = ("bills", "loads", "events")


def write_starter(place: Path, next_command: str = "", *, folder: bool = False) -> tuple[Path, ...]:
    """Write the starter, a workbook or a folder of text files; folders are made where they are missing.

    Parameters
    ----------
    place : Path
        A folder, or the workbook itself where it ends in ``.xlsx``.
    next_command : str
        What to type afterwards, for the sheet ``read me``.
    folder : bool
        Write CSV and TOML files instead of the workbook.

    Raises
    ------
    OutputError
        Where one of the files is already there, or the folder cannot be written. Then nothing is changed.
    """
    if not folder:
        path = house_of(place)
        name = path.stem if path == place else place.resolve().name
        return save_new({path: workbook_bytes(name, next_command)})
    source = files("reconcile.report").joinpath("templates")
    texts = {place / name: source.joinpath(f"starter {name}").read_bytes() for name in TEXTS}
    tables = {place / f"{name}.csv": _csv(name) for name in IN_FOLDER}
    return save_new({**tables, **texts})


def house_of(place: Path, *, folder: bool = False) -> Path:
    """Return what is given to the other commands once the starter is filled in: its workbook, or its folder."""
    return place if folder or place.suffix.casefold() == ".xlsx" else place / WORKBOOK


def _csv(table: str) -> bytes:
    page = io.StringIO()
    writer = csv.DictWriter(page, COLUMNS[table], lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows_of(table))
    return page.getvalue().encode()
