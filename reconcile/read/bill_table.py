"""The table of bills."""

from __future__ import annotations

import math
from datetime import date
from typing import get_args

from reconcile.house import Bill, BillType, House, ReadType
from reconcile.read.bounds import LONGEST_PERIOD_DAYS, MOST_BILLS, SHORT_TIME_FACTOR, most_watts
from reconcile.read.cells import Row, Table
from reconcile.read.gate import Gate

COLUMNS = (
    "start",
    "end",
    "kwh",
    "amount",
    "amount_due",
    "budget_amount",
    "bill_date",
    "bill_type",
    "read_type",
    "read_type_start",
    "reading_start",
    "reading_end",
    "multiplier",
    "meter",
    "days",
    "delivered_kwh",
    "received_kwh",
    "demand_kw",
    "rate_code",
    "note",
)


def read_bills(
    table: Table, gate: Gate, house: House, *, inclusive: bool = False, has_readings: bool = False
) -> tuple[Bill, ...]:
    """Read the bills, in order of their start.

    Parameters
    ----------
    table : Table
    gate : Gate
    house : House
        Its settings: service and generation decide which kWh are possible.
    inclusive : bool
        Whether the printed first and last day both count.
    has_readings : bool
        Whether there is a table of readings, from which kWh may come.
    """
    if not gate.columns(table, COLUMNS, needed=("start", "end")) or not _filled(table, gate):
        return ()
    found = [_bill(row, gate, house, inclusive, has_readings) for row in table.rows]
    return tuple(sorted((bill for bill in found if bill is not None), key=lambda bill: (bill.start, bill.row or 0)))


def _filled(table: Table, gate: Gate) -> bool:
    if table.rows and len(table.rows) <= MOST_BILLS:
        return True
    problem = f"there are more than {MOST_BILLS} bills" if table.rows else "there is a header but no bill"
    gate.fault(problem, "Write one bill a row.", file=table.file, sheet=table.sheet, row=table.header_row)
    return False


def _bill(row: Row, gate: Gate, house: House, inclusive: bool, has_readings: bool) -> Bill | None:
    start, end = gate.day(row["start"], needed=True), gate.day(row["end"], needed=True)
    days = _days(row, gate, start, end, inclusive)
    most = math.inf if days is None else most_watts(house) / 1000.0 * 24.0 * days
    read_types: tuple[ReadType, ...] = get_args(ReadType)
    bill_types: tuple[BillType, ...] = get_args(BillType)
    printed_days = gate.number(row["days"], low=0.0, high=LONGEST_PERIOD_DAYS, whole=True)
    given = [not row[name].blank for name in ("kwh", "delivered_kwh", "reading_start", "reading_end")]
    if not (given[0] or given[1] or (given[2] and given[3]) or has_readings):
        gate.wrong(row["kwh"], "nothing is written here", "Write the billed kWh, or both readings.")
    bill = Bill(
        start=start or date.min,
        end=end or date.min,
        kwh=_energy(row, "kwh", gate, most, least=-most if house.generation else 0.0),
        amount=gate.money(row["amount"]),
        amount_due=gate.money(row["amount_due"]),
        budget_amount=gate.money(row["budget_amount"]),
        bill_date=gate.day(row["bill_date"]),
        bill_type=gate.choice(row["bill_type"], bill_types, default="regular"),
        read_type=gate.choice(row["read_type"], read_types, default="actual"),
        read_type_start=gate.choice(row["read_type_start"], read_types),
        reading_start=gate.number(row["reading_start"], low=0.0, high=1e10),
        reading_end=gate.number(row["reading_end"], low=0.0, high=1e10),
        multiplier=gate.number(row["multiplier"], above=0.0, high=100_000.0),
        meter=gate.text(row["meter"]),
        printed_days=None if printed_days is None else int(printed_days),
        delivered_kwh=_energy(row, "delivered_kwh", gate, most),
        received_kwh=_energy(row, "received_kwh", gate, most),
        demand_kw=gate.number(row["demand_kw"], low=0.0, high=SHORT_TIME_FACTOR * most_watts(house) / 1000.0),
        rate_code=gate.text(row["rate_code"]),
        note=gate.text(row["note"]) or "",
        inclusive=inclusive,
        row=row.number,
    )
    return None if days is None else bill


def _days(row: Row, gate: Gate, start: date | None, end: date | None, inclusive: bool) -> int | None:
    if start is None or end is None:
        return None
    days = (end - start).days + inclusive
    if days <= 0:
        gate.wrong(row["end"], "this period ends before it begins", "Check both dates.")
    elif days > LONGEST_PERIOD_DAYS:
        gate.wrong(row["end"], f"this period is {days} days long", "Check the years of both dates.")
    else:
        return days
    return None


def _energy(row: Row, column: str, gate: Gate, most: float, least: float = 0.0) -> float | None:
    cell = row[column]
    kwh = gate.number(cell)
    if kwh is None:
        return None
    if kwh < least and least == 0.0:
        gate.wrong(
            cell,
            "energy cannot be below zero where the house makes none",
            "Check the sign, or set generation = true under [house].",
        )
    elif not least <= kwh <= most:
        gate.wrong(
            cell,
            f"the service could not carry that in this period (at most {most:,.0f} kWh)",
            "Check the figure and both dates; a larger service is told by service_amps under [house].",
        )
    else:
        return kwh
    return None
