"""Tables of every layout, and all files of them, as series of readings: what one leaves open, another may settle."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import PurePosixPath

from reconcile.errors import Fault
from reconcile.read.layouts.apart_dates import with_whole_dates
from reconcile.read.layouts.cell_kinds import LayoutError, NoReadingsError
from reconcile.read.layouts.interval_layout import find_layout
from reconcile.read.layouts.interval_names import flow_of
from reconcile.read.layouts.raw_tables import LineError, RawTable
from reconcile.read.layouts.time_columns import OPEN_DATE
from reconcile.read.tables.cells import plain_name
from reconcile.read.timeline.across_series import find_across, read_across
from reconcile.read.timeline.espi_series import Billed, read_feed
from reconcile.read.timeline.long_series import read_long
from reconcile.read.timeline.meter_records import are_meter_records, read_meter_records
from reconcile.read.timeline.series import ReadContext, Series, joined
from reconcile.read.timeline.wide_series import read_wide
from reconcile.read.values.dates import ORDER_FORMS
from reconcile.read.wrappings.interval_files import Feed, open_files
from reconcile.read.wrappings.sources import IntervalFile


def series_of_files(files: Sequence[IntervalFile], context: ReadContext) -> tuple[list[Series], Billed]:
    """Read all files.

    Returns
    -------
    series : list of Series
    billed : Billed
        Bills that feeds hold.
    """
    found: list[Series] = []
    billed = Billed()
    passed: list[Fault] = []
    later: list[tuple[RawTable, ReadContext]] = []
    channel = context.settings.channel
    named = [file for file in files if channel is not None and _stem(file.name) == plain_name(channel)]
    for table in open_files(named or list(files), context.gate):
        if isinstance(table, Feed):
            read, bills = read_feed(table, context)
            found += read
            billed.bills += bills.bills
            billed.charges += bills.charges
            billed.timezone = billed.timezone or bills.timezone
            continue
        own = context if len(files) < 2 else _of_file(table.file, context)
        apart = replace(own, gate=context.gate.aside())
        read = read_series(table, apart, passed)
        if apart.gate.faults and all(fault.problem == OPEN_DATE for fault in apart.gate.faults):
            later.append((table, own))
            continue
        context.gate.take(apart.gate)
        found += read
    _settle_later(later, found, passed)
    _pass_over(passed, found, context)
    _flows_of_files(found, context)
    return joined(found), billed


def _settle_later(later: list[tuple[RawTable, ReadContext]], found: list[Series], passed: list[Fault]) -> None:
    """Read the files whose dates could be two days by what the other files settle; else ask once."""
    orders = {one.order for one in found if one.order}
    for table, context in later:
        apart = context.gate.aside()
        if len(orders) == 1:
            apart.date_format = ORDER_FORMS[next(iter(orders))]
        found += read_series(table, replace(context, gate=apart), passed)
        context.gate.take(apart)
        if len(orders) != 1:
            return


def _pass_over(passed: list[Fault], found: list[Series], context: ReadContext) -> None:
    """Pass over tables without readings where others of the same file have some; else they are faults."""
    whole = {_container(one.table.file) for one in found}
    left = []
    for fault in passed:
        electric = bool(found) and "no electricity" in fault.problem
        if electric or _container(fault.file) in whole:
            left.append(fault.sheet or fault.file)
        else:
            context.gate.fault_in(fault, fault.problem, fault.remedy, row=fault.row)
    if left:
        context.assumed.add("passed-over", names=", ".join(dict.fromkeys(left[:5])))


def _container(file: str) -> str:
    """Return the archive or workbook that a table stands in, or its own file."""
    for ending in (".zip", ".xlsx"):
        head, mark, _ = file.partition(ending)
        if mark:
            return head
    return file


def _of_file(file: str, context: ReadContext) -> ReadContext:
    """Return the context for one of several files: a channel that names the file needs no column."""
    settings = context.settings
    if settings.channel is not None and _stem(file) == plain_name(settings.channel):
        return replace(context, settings=replace(settings, channel=None))
    return context


def _stem(file: str) -> str:
    return plain_name(PurePosixPath(file).name.partition(".")[0])


def _flows_of_files(found: list[Series], context: ReadContext) -> None:
    """Let the names of files say which register they hold, where their columns do not."""
    mine = [one for one in found if one.flow is None and one.unit != "V"]
    if len({one.above for one in mine}) > 1:  # tables, or files, with their direction above them
        for one in mine:
            one.flow = one.above
    for one in found:
        stem = PurePosixPath(one.table.file).name.partition(".")[0]
        if one.flow is None and plain_name(stem) != "interval":
            one.flow = flow_of(stem)
    if not any(one.flow in ("delivered", "net", None) and one.unit != "V" for one in found):
        if any(one.flow == "received" for one in found):
            context.assumed.add("received-alone")
        for one in found:  # nothing but what is called generation: it is all there is to read
            one.flow = None if one.unit != "V" else one.flow


def read_series(table: RawTable, context: ReadContext, passed: list[Fault]) -> list[Series]:
    """Read one table, its oldest reading first; nothing where a fault was found.

    Parameters
    ----------
    passed : list of Fault
        Gathers what is wrong with tables that hold no readings: nothing, where others beside them do.
    """
    try:
        if are_meter_records(table):
            return read_meter_records(table, context)
        across = find_across(table)
        if across is not None:
            return read_across(table, across, context)
        table = with_whole_dates(table)
        layout = find_layout(table)
        if layout.wide:
            return read_wide(table, layout, context)
        return read_long(table, layout, context)
    except NoReadingsError as error:
        row = error.row or _header_row(table)
        passed.append(Fault(table.file, error.problem, error.remedy, table.sheet, row))
    except LayoutError as error:
        context.gate.fault_in(table, error.problem, error.remedy, row=error.row or _header_row(table))
    except LineError as error:
        context.gate.fault_in(table, error.problem, "Check its separators and quotes.", row=error.row)
    return []


def _header_row(table: RawTable) -> int | None:
    return table.head[0][0] if table.head else None
