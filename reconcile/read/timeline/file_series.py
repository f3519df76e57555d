"""Tables of every layout, and all files of them, as series of readings: what one leaves open, another may settle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import tzinfo
from pathlib import PurePosixPath
from zoneinfo import ZoneInfo

from reconcile.errors import Fault
from reconcile.house import Assumed
from reconcile.read.household.settings import IntervalSettings, to_zone
from reconcile.read.layouts.apart_dates import with_whole_dates
from reconcile.read.layouts.cell_kinds import LayoutError, NoReadingsError
from reconcile.read.layouts.interval_channels import Assumptions
from reconcile.read.layouts.interval_layout import find_layout
from reconcile.read.layouts.interval_names import flow_of
from reconcile.read.layouts.raw_tables import LineError, RawTable
from reconcile.read.layouts.time_columns import OPEN_DATE
from reconcile.read.tables.cells import plain_name
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.across_series import find_across, read_across
from reconcile.read.timeline.espi_series import Billed, read_feed
from reconcile.read.timeline.long_series import read_long
from reconcile.read.timeline.meter_records import are_meter_records, read_meter_records
from reconcile.read.timeline.series import Series, joined
from reconcile.read.timeline.wide_series import read_wide
from reconcile.read.wrappings.interval_files import Feed, open_files
from reconcile.read.wrappings.sources import IntervalFile

FORMATS = {"dmy": "DD/MM/YYYY", "mdy": "MM/DD/YYYY", "ymd": "YYYY/MM/DD"}


def series_of_files(
    files: Sequence[IntervalFile], gate: Gate, home: ZoneInfo, settings: IntervalSettings, assumed: Assumptions
) -> tuple[list[Series], Billed]:
    """Read all files.

    Parameters
    ----------
    files : sequence of IntervalFile
    gate : Gate
    home : ZoneInfo
        The house's clock.
    settings : IntervalSettings
    assumed : dict

    Returns
    -------
    series : list of Series
    billed : Billed
        Bills that feeds hold.
    """
    zone = (to_zone(settings.timezone) if settings.timezone != "house" else None) or home
    found: list[Series] = []
    billed = Billed()
    passed: list[Fault] = []
    later: list[tuple[RawTable, IntervalSettings]] = []
    for table in open_files(list(files), gate):
        if isinstance(table, Feed):
            read, bills = read_feed(table, gate, settings, home, assumed)
            found += read
            billed.bills += bills.bills
            billed.charges += bills.charges
            continue
        own = settings if len(files) < 2 else _of_file(table.file, settings)
        apart = gate.aside()
        read = read_series(table, apart, own, zone, assumed, passed)
        if apart.faults and all(fault.problem == OPEN_DATE for fault in apart.faults):
            later.append((table, own))
            continue
        gate.take(apart)
        found += read
    _settle_later(later, found, gate, zone, assumed, passed)
    _pass_over(passed, found, gate, assumed)
    _flows_of_files(found)
    return joined(found), billed


def _settle_later(
    later: list[tuple[RawTable, IntervalSettings]],
    found: list[Series],
    gate: Gate,
    zone: object,
    assumed: Assumptions,
    passed: list[Fault],
) -> None:
    """Read the files whose dates could be two days by what the other files settle; else ask once."""
    orders = {one.order for one in found if one.order}
    for table, own in later:
        apart = gate.aside()
        if len(orders) == 1:
            apart.date_format = FORMATS[next(iter(orders))]
        found += read_series(table, apart, own, zone, assumed, passed)  # type: ignore[arg-type]
        gate.take(apart)
        if len(orders) != 1:
            return


def _pass_over(passed: list[Fault], found: list[Series], gate: Gate, assumed: Assumptions) -> None:
    """Pass over tables without readings where others of the same file have some; else they are faults."""
    whole = {_container(one.table.file) for one in found}
    left = []
    for fault in passed:
        electric = bool(found) and "no electricity" in fault.problem
        if electric or _container(fault.file) in whole:
            left.append(fault.sheet or fault.file)
        else:
            gate.fault_in(fault, fault.problem, fault.remedy, row=fault.row)
    if left:
        assumed["passed-over"] = Assumed("passed-over", {"names": ", ".join(dict.fromkeys(left[:5]))})


def _container(file: str) -> str:
    """Return the archive or workbook that a table stands in, or its own file."""
    for ending in (".zip", ".xlsx"):
        head, mark, _ = file.partition(ending)
        if mark:
            return head
    return file


def _of_file(file: str, settings: IntervalSettings) -> IntervalSettings:
    """Return the settings for one of several files: a channel that names the file needs no column."""
    stem = PurePosixPath(file).name.partition(".")[0]
    if settings.channel is not None and plain_name(stem) == plain_name(settings.channel):
        return replace(settings, channel=None)
    return settings


def _flows_of_files(found: list[Series]) -> None:
    """Let the names of files say which register they hold, where their columns do not."""
    for file in {one.table.file for one in found}:  # tables one below the other, with their direction above them
        mine = [one for one in found if one.table.file == file and one.flow is None and one.unit != "V"]
        if len({one.above for one in mine}) > 1:
            for one in mine:
                one.flow = one.above
    for one in found:
        stem = PurePosixPath(one.table.file).name.partition(".")[0]
        if one.flow is None and plain_name(stem) != "interval":
            one.flow = flow_of(stem)
    if not any(one.flow in ("delivered", "net", None) and one.unit != "V" for one in found):
        for one in found:  # nothing but what is called generation: it is all there is to read
            one.flow = None if one.unit != "V" else one.flow


def read_series(
    table: RawTable, gate: Gate, settings: IntervalSettings, zone: tzinfo, assumed: Assumptions, passed: list[Fault]
) -> list[Series]:
    """Read one table, its oldest reading first; nothing where a fault was found.

    Parameters
    ----------
    table : RawTable
    gate : Gate
    settings : IntervalSettings
    zone : tzinfo
        Of times that carry no distance from UTC.
    assumed : dict
        Gathers what the file itself does not say.
    passed : list of Fault
        Gathers what is wrong with tables that hold no readings: nothing, where others beside them do.
    """
    try:
        if are_meter_records(table):
            return read_meter_records(table, gate, settings, zone, assumed)
        across = find_across(table)
        if across is not None:
            return read_across(table, across, gate, settings, zone, assumed)
        table = with_whole_dates(table)
        layout = find_layout(table)
        if layout.wide:
            return read_wide(table, layout, gate, settings, zone, assumed)
        return read_long(table, layout, gate, settings, zone, assumed)
    except NoReadingsError as error:
        row = error.row or _header_row(table)
        passed.append(Fault(table.file, error.problem, error.remedy, table.sheet, row))
    except LayoutError as error:
        gate.fault_in(table, error.problem, error.remedy, row=error.row or _header_row(table))
    except LineError as error:
        gate.fault_in(table, error.problem, "Check its separators and quotes.", row=error.row)
    return []


def _header_row(table: RawTable) -> int | None:
    return table.head[0][0] if table.head else None
