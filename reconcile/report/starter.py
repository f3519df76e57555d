"""A starter house: one workbook, or a folder of small files, with examples that are never read."""

from __future__ import annotations

import csv
import io
from importlib.resources import files
from pathlib import Path

from reconcile.loads.handbook import find
from reconcile.read.examples import EXAMPLES, MARK
from reconcile.report.save import save_new
from reconcile.texts.starter import GROUPS, typical

WORKBOOK = "house.xlsx"
TEXTS = ("house.toml", "READ ME.txt")
COLUMNS: dict[str, tuple[str, ...]] = {
    "bills": (
        *("start", "end", "kwh", "amount", "read_type", "reading_start", "reading_end", "bill_type", "days"),
        *("mean_temperature", "note"),
    ),
    "loads": (
        *("load", "count", "note", "watts", "run_hours", "share_on", "standby_watts", "kwh_per_year", "follows"),
        *("months", "from", "until", "source"),
    ),
    "weather": ("date", "mean", "tmin", "tmax", "note"),
    "readings": ("date", "value", "type", "event", "meter", "note"),
}
"""Columns that the starter offers, of those declared; the others may be added."""
IN_FOLDER = ("bills", "loads")


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

    Returns
    -------
    tuple of Path

    Raises
    ------
    OutputError
        Where one of the files is already there, or the folder cannot be written. Then nothing is changed.
    """
    if not folder:
        from reconcile.report.starter_workbook import workbook_bytes

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


def rows_of(table: str) -> list[dict[str, str]]:
    """Return the rows the starter puts below the heading of a table: examples, and kinds of load to count."""
    rows = [{**example, "note": MARK} for example in EXAMPLES[table]]
    if table == "loads":
        for group, kinds in GROUPS.items():
            for name in kinds:
                kind = next(found for found in find(name) if found.load == name)
                usual = typical(
                    kind.watts_low, kind.watts, kind.watts_high, kind.run_hours, kind.share_on, kind.follows
                )
                rows.append({"load": name, "count": "0", "note": f"{group}; {usual}"})
    return rows


def _csv(table: str) -> bytes:
    page = io.StringIO()
    writer = csv.DictWriter(page, COLUMNS[table], lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows_of(table))
    return page.getvalue().encode()
