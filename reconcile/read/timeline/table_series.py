"""A table of interval data as series of readings, whatever its layout."""

from __future__ import annotations

from datetime import tzinfo

from reconcile.errors import Fault
from reconcile.read.household.settings import IntervalSettings
from reconcile.read.layouts.apart_dates import with_whole_dates
from reconcile.read.layouts.cell_kinds import LayoutError, NoReadingsError
from reconcile.read.layouts.interval_channels import Assumptions
from reconcile.read.layouts.interval_layout import find_layout
from reconcile.read.layouts.raw_tables import LineError, RawTable
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.across_series import find_across, read_across
from reconcile.read.timeline.long_series import read_long
from reconcile.read.timeline.meter_records import are_meter_records, read_meter_records
from reconcile.read.timeline.series import Series
from reconcile.read.timeline.wide_series import read_wide


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

    Returns
    -------
    list of Series
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
        gate.fault(error.problem, error.remedy, file=table.file, sheet=table.sheet, row=error.row or _header_row(table))
    except LineError as error:
        gate.fault(error.problem, "Check its separators and quotes.", file=table.file, sheet=table.sheet, row=error.row)
    return []


def _header_row(table: RawTable) -> int | None:
    return table.head[0][0] if table.head else None
