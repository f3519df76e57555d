"""Files in, a :class:`~reconcile.house.House` out; nothing here ever writes to what it reads."""

from __future__ import annotations

from dataclasses import replace
from os import PathLike
from pathlib import Path

from reconcile.house import DANGERS, House
from reconcile.read.bills.bill_table import How, read_bills
from reconcile.read.bills.charge_table import read_charges
from reconcile.read.bills.register_table import bills_between, check_carried, read_registers
from reconcile.read.bills.tariff_tables import read_tariffs
from reconcile.read.household.danger_words import danger_first, read_dangers, said_in
from reconcile.read.household.events import read_events
from reconcile.read.household.load_table import leave_panels, read_loads
from reconcile.read.household.settings import Settings, read_settings
from reconcile.read.household.weather_doubts import settle_temperature_unit
from reconcile.read.household.weather_table import read_weather
from reconcile.read.on_site.field_checks import counted_by
from reconcile.read.on_site.site_readings_table import joined, read_field_test
from reconcile.read.tables.cells import Table
from reconcile.read.tables.columns import BILLS, TABLES
from reconcile.read.tables.gate import Gate
from reconcile.read.tables.headers import find_table
from reconcile.read.tables.settle import read_currency, settle, tell_understood
from reconcile.read.wrappings.sources import BOOKS, TEXT_TABLES, Sources

__all__ = ["assemble", "read_house"]

SETTINGS_FILES = ("house.toml", "field_test.toml")
AFTER_BILLS = ("loads", "events")
"""Tables of few dates, which take the order of day and month from the bills where they do not show their own."""


def read_house(path: str | PathLike[str], *, bills_needed: bool = True) -> House:
    """Read a house from its folder or its workbook.

    Parameters
    ----------
    path : path
        A folder that holds ``bills.csv`` and, beside it, what else is known; or one workbook (``.xlsx``, ``.ods``
        or ``.xls``) with the same tables as sheets. See the page on formats.
    bills_needed : bool
        Whether a house without bills is a fault; an estimate before the visit needs none.

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
    gate.bills_needed = bills_needed
    sources = _find(Path(path), gate)
    house = None if sources is None else assemble(sources, gate)
    gate.raise_if_any()
    assert house is not None
    return replace(house, notices=tuple(gate.notices)).through_gate()


def _find(path: Path, gate: Gate) -> Sources | None:
    file = path.name or str(path)
    try:
        is_folder, is_file = path.is_dir(), path.is_file()
    except (OSError, ValueError):  # a name too long for the file system, or one with a null character
        is_folder = is_file = False
    from reconcile.read.wrappings.folder import OTHER_TEXTS, find_in_file, find_in_folder, lone_workbook

    book = lone_workbook(path) if is_folder else None
    if book is not None:
        gate.notice(f"The house is read from {book.name}.")
        path, is_file = book, True
    elif is_folder:
        return find_in_folder(path, gate)
    if is_file and path.suffix.casefold() in BOOKS:
        from reconcile.read.wrappings.workbook_house import find_in_workbook

        return find_in_workbook(path, gate, own_folder=book is not None)
    if not is_file:
        gate.fault("there is no such folder or file", "Check how it is spelled and where it lies.", file=file)
    elif path.suffix.casefold() in (*TEXT_TABLES, *OTHER_TEXTS) and path.name not in SETTINGS_FILES:
        return find_in_file(path, gate)
    elif path.suffix.casefold() == ".pdf":
        gate.fault(
            "this is a printed bill, and what is found in one is confirmed by you before it is used",
            f"Run: reconcile printed {file}. It writes a table to look through.",
            file=file,
        )
    elif path.suffix.casefold() == ".toml":
        gate.fault("this is one file of a house", "Give the folder that holds it.", file=file)
    else:
        gate.fault(
            "this is neither a folder, nor a workbook, nor a .csv file of bills",
            "Give the folder that holds bills.csv, or save the workbook as .xlsx.",
            file=file,
        )
    return None


def _found(sources: Sources, gate: Gate) -> dict[str, Table]:
    """Find the tables that have rows, and settle how each writes its dates and numbers, those of few dates later."""
    tables = {}
    for name, grid in sources.tables.items():
        table = find_table(grid, TABLES[name], gate)
        if table is None:
            continue
        if table.header and not table.rows and (name != "bills" or not gate.bills_needed):
            if not table.examples:  # a header and no row of one's own is no table
                tell_understood(table, gate)
                gate.notice(f"{table.place} has a header and nothing below it.")
        elif name in ("bills", *AFTER_BILLS) or settle(table, TABLES[name], gate):
            tables[name] = table
    return tables


def _find_interval(house: House, sources: Sources, settings: Settings, gate: Gate) -> None:
    """Look for interval data in files of other names, and tell what was taken and what was not."""
    if sources.unnamed:
        from reconcile.read.timeline.unnamed_files import interval_by_content

        sources.interval = [*interval_by_content(sources.unnamed, house, settings.interval)]
        if sources.interval:
            files = " and ".join(file.name for file in sources.interval)
            gate.notice(f"The folder is read as: interval data in {files}.")
    if sources.tell_others is not None:
        sources.tell_others(gate, [file.name for file in sources.interval])


def _with_interval(house: House, sources: Sources, settings: Settings, gate: Gate) -> House:
    """Read the interval data, and take its billed summaries for bills where there are no others."""
    # much to load, and most houses have none
    from reconcile.read.timeline.interval_table import read_interval
    from reconcile.read.timeline.sent_back import sent_back

    given = settings.timezone_given
    interval, billed = read_interval(sources.interval, gate, house, settings.interval, zone_given=given)
    house = replace(house, interval=interval, timezone=billed.timezone or house.timezone)
    if interval is None and billed.timezone is not None:
        gate.notice(f"No time zone is set; by the midnights of the billed periods it is taken as {billed.timezone}.")
    house = sent_back(house, gate)
    if sources.tables.get("bills"):
        return house
    if not billed.bills:
        if not gate.faults and not house.bills:
            gate.fault("there are no bills", "Add bills.csv with the columns start, end and kwh.", file=sources.name)
        return house
    gate.notice(f"The {len(billed.bills)} bills are the billed periods in the interval data; no other bills are given.")
    return replace(house, bills=tuple(billed.bills), charges=house.charges or tuple(billed.charges))


def assemble(sources: Sources, gate: Gate) -> House:
    """Read a house from what was found of it; the faults stay with the gate.

    Parameters
    ----------
    sources : Sources
    gate : Gate

    Returns
    -------
    House
        With whatever could be read, where something is wrong.
    """
    settings = read_settings(sources.settings, gate, sources.name)
    house = replace(settings.house, tariffs=read_tariffs(sources.settings.sections("tariff", gate), gate))
    faults_before = len(gate.faults)
    tables = _found(sources, gate)
    house = settle_temperature_unit(house, settings.temperature_unit_given, settings.timezone_given, tables, gate)
    if "loads" in tables and leave_panels(tables["loads"], gate):
        house = replace(house, generation=True)
    more: list[Table] = []
    if "bills" in tables:
        more = [table for grid in sources.more_bills if (table := find_table(grid, BILLS, gate)) is not None]
        how = How(settings.inclusive, "readings" in tables)
        house = replace(house, bills=read_bills([tables["bills"], *more], gate, house, how))
        for table in more:
            tell_understood(table, gate)
        gate.bills_order = tables["bills"].habits.order or gate.bills_order
    for name in AFTER_BILLS:
        if name in tables and not settle(tables[name], TABLES[name], gate):
            del tables[name]
    # what must fit the bills is held against them only where all of them could be read
    known_bills = house.bills if len(gate.faults) == faults_before else ()
    if "loads" in tables:
        house = replace(house, loads=read_loads(tables["loads"], gate, house))
    if "events" in tables:
        house = replace(house, events=read_events(tables["events"], gate, house.loads))
    if "readings" in tables:
        house = replace(house, readings=read_registers(tables["readings"], gate))
        if gate.bills_needed and "bills" not in sources.tables and len(gate.faults) == faults_before:
            known_bills = bills_between(house.readings, tables["readings"], gate)
            house = replace(house, bills=known_bills)
    if known_bills and len(gate.faults) == faults_before:
        check_carried(house, tables.get("bills") or tables["readings"], tables.get("readings"), gate)
    if "charges" in tables:
        house = replace(house, charges=read_charges(tables["charges"], gate, known_bills))
    if "weather" in tables:
        if not settings.temperature_unit_given and not tables["weather"].units and house.temperature_unit == "C":
            gate.notice("No temperature unit is set; degrees Celsius were taken.")
        house = replace(house, weather=read_weather(tables["weather"], gate, house, known_bills))
        if known_bills and "bills" in tables and tables["bills"].has("month"):
            from reconcile.read.bills.late_months import of_the_month_before

            house = of_the_month_before(house, [tables["bills"], *more])
    _find_interval(house, sources, settings, gate)
    if sources.interval:
        house = _with_interval(house, sources, settings, gate)
    tests = [read_field_test(s, gate, house) for s in (sources.field_test, sources.electrician) if s is not None]
    if tests:
        house = replace(counted_by(house, joined(*tests).display), field_test=joined(*tests))
    # whatever else is wrong: people before bills
    told = read_dangers([*said_in([*tables.values(), *more]), *gate.said_on_site], settings.denied, gate)
    house = replace(
        house, dangers=tuple(name for name in DANGERS if name in {*house.dangers, *told, *gate.signs_on_site})
    )
    for table in tables.values():
        tell_understood(table, gate)
    if gate.faults and house.dangers:
        danger_first(house.dangers, gate, sources.name)
    return replace(house, currency=read_currency(gate, house.currency, settings.currency_given))
