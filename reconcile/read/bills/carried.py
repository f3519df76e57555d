"""Energy that only readings tell, held to what the service can carry."""

from __future__ import annotations

from reconcile.house import Bill, House
from reconcile.read.tables.bounds import most_watts
from reconcile.read.tables.cells import Table
from reconcile.read.tables.gate import Gate
from reconcile.several import energy_by_readings

REMEDY = "Check the figures and their dates; a larger service is told by service_amps under [house]."


def check_carried(house: House, bills: Table, readings: Table | None, gate: Gate) -> None:
    """Record a fault for each bill without kWh whose readings tell more than its service carries.

    Parameters
    ----------
    house : House
        With its bills, and its dated readings where there are any.
    bills, readings : Table, Table or None
        Where they stand.
    gate : Gate
    """
    for bill in house.bills:
        if bill.kwh is not None:
            continue
        most = most_watts(house) / 1000.0 * 24.0 * bill.days
        dated = energy_by_readings(house, bill) if house.readings else None
        kwh = _by_its_own(house, bill) if dated is None else dated
        if kwh is None or abs(kwh) <= most:
            continue
        where, row, column = bills, bill.row, "reading_end"
        if dated is not None and readings is not None:
            where, column = readings, "value"
            row = max((r for r in house.readings if bill.start <= r.day <= bill.closes), key=lambda r: r.value).row
        gate.fault(
            f"from {bill.start} to {bill.closes} the readings tell {kwh:,.0f} kWh, "
            f"and the service could carry at most {most:,.0f} kWh",
            REMEDY,
            file=where.file,
            sheet=where.sheet,
            row=row,
            column=column,
        )


def _by_its_own(house: House, bill: Bill) -> float | None:
    """Energy by a bill's own readings; None where one is missing, or the register went round or back."""
    if bill.reading_start is None or bill.reading_end is None or bill.reading_end < bill.reading_start:
        return None
    meter = house.meter_on(bill.closes, bill.meter)
    return (bill.reading_end - bill.reading_start) * (bill.multiplier or meter.multiplier)
