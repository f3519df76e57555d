"""Files in, a :class:`~reconcile.house.House` out; nothing here ever writes to what it reads."""

from __future__ import annotations

from dataclasses import replace
from os import PathLike
from pathlib import Path

from reconcile.house import House, Weather
from reconcile.read.bills import read_bills
from reconcile.read.cells import Table
from reconcile.read.events import read_events
from reconcile.read.gate import Gate
from reconcile.read.interval import read_interval
from reconcile.read.loads import read_loads
from reconcile.read.settings import Settings, read_settings
from reconcile.read.sources import Sources
from reconcile.read.weather import read_weather

__all__ = ["read_house"]


def read_house(path: str | PathLike[str]) -> House:
    """Read a house from its folder or its workbook.

    Parameters
    ----------
    path : path
        A folder that holds ``bills.csv`` and, beside it, what else is known; or one ``.xlsx`` workbook with
        the same tables as sheets. See the page on formats.

    Returns
    -------
    House
        The same whichever of the two forms it was read from.

    Raises
    ------
    InputError
        With every fault of every file, each with its place and its remedy.
    """
    gate = Gate()
    sources = _find(Path(path), gate)
    house = None if sources is None else _assemble(sources, gate)
    gate.raise_if_any()
    assert house is not None
    return replace(house, notices=tuple(gate.notices))


def _find(path: Path, gate: Gate) -> Sources | None:
    file = path.name or str(path)
    try:
        is_folder, is_file = path.is_dir(), path.is_file()
    except (OSError, ValueError):  # a name too long for the file system, or one with a null character
        is_folder = is_file = False
    if is_folder:
        from reconcile.read.folder import find_in_folder

        return find_in_folder(path, gate)
    if is_file and path.suffix.casefold() == ".xlsx":
        from reconcile.read.workbook import find_in_workbook

        return find_in_workbook(path, gate)
    if not is_file:
        gate.fault("there is no such folder or file", "Check how it is spelled and where it lies.", file=file)
    elif path.suffix.casefold() in (".csv", ".toml"):
        gate.fault("this is one file of a house", "Give the folder that holds it.", file=file)
    else:
        gate.fault(
            "this is neither a folder nor an .xlsx workbook",
            "Give the folder that holds bills.csv, or save the workbook as .xlsx.",
            file=file,
        )
    return None


def _assemble(sources: Sources, gate: Gate) -> House:
    settings = read_settings(sources.settings, gate, sources.name)
    house = settings.house
    tables = {name: table for name, grid in sources.tables.items() if (table := grid.table(gate)) is not None}
    if "bills" not in sources.tables:
        gate.fault(
            "there are no bills",
            "Add bills.csv (in a workbook: a sheet bills) with the columns start, end and kwh.",
            file=sources.settings.file if sources.settings.sheet else sources.name,
        )
    if "bills" in tables:
        bills = read_bills(
            tables["bills"], gate, house, inclusive=settings.inclusive, has_readings="readings" in tables
        )
        house = replace(house, bills=bills)
    if "loads" in tables:
        house = replace(house, loads=read_loads(tables["loads"], gate, house))
    if "events" in tables:
        house = replace(house, events=read_events(tables["events"], gate, house.loads))
    if "weather" in tables:
        house = replace(house, weather=_weather(tables["weather"], gate, house, settings))
    if sources.interval:
        house = replace(house, interval=read_interval(sources.interval, gate, house, settings.interval))
    for name, there in (
        ("The tariff", "tariff" in sources.settings),
        ("The table of readings", "readings" in tables),
        ("The table of charges", "charges" in tables),
        ("The field test", sources.field_test is not None),
    ):
        if there:
            gate.notice(f"{name} is not read yet; nothing of it enters this answer.")
    return house


def _weather(table: Table, gate: Gate, house: House, settings: Settings) -> Weather | None:
    if not settings.temperature_unit_given:
        gate.notice("No temperature unit is set; degrees Celsius were taken.")
    return read_weather(table, gate, house, house.bills)
