"""``readings.csv``: dated register values, and their energy held to what the service can carry."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from statistics import median

from reconcile.house import Bill, House, ReadType, RegisterReading
from reconcile.house.registers import energy_by_readings
from reconcile.read.tables.bounds import most_watts
from reconcile.read.tables.cells import Row, Table
from reconcile.read.tables.columns import READINGS
from reconcile.read.tables.gate import WITHOUT_BILLS, Gate

TYPES: tuple[ReadType, ...] = ("actual", "estimated", "customer")
EVENTS = READINGS["event"].codes
LARGEST_READING = 1e9


def read_registers(table: Table, gate: Gate) -> tuple[RegisterReading, ...]:
    """Read the register values in order of their days; ``register`` is ``total`` where nothing is written.

    ``event`` is ``removed`` for an old meter's last reading, ``installed`` for a new one's first,
    ``exchange`` for a row that only tells of the day, ``check`` for a reading taken between bills.
    """
    if not gate.readable(table, READINGS):
        return ()
    found = [r for row in table.rows if (r := _reading(row, gate)) is not None]
    seen: dict[tuple[object, ...], RegisterReading] = {}
    for r in found:
        first = seen.setdefault((r.day, r.meter, r.register.casefold(), r.event), r)
        if first.value != r.value:
            gate.fault_in(
                table,
                f"this register has another value on the same day in row {first.row}",
                "Keep the right one; for an exchange write the two meters' numbers.",
                row=r.row,
                column="value",
                read=f"{r.value:g}",
            )
    return tuple(sorted(found, key=lambda r: (r.day, r.event == "installed", r.row or 0)))


def _reading(row: Row, gate: Gate) -> RegisterReading | None:
    day = gate.day(row["date"], needed=True)
    value = gate.number(row["value"], unit="kWh", low=0.0, high=LARGEST_READING, needed=True)
    kind = gate.choice(row["type"], TYPES, default="actual", words=READINGS["type"])
    event = gate.choice(row["event"], EVENTS, words=READINGS["event"])
    meter, register = gate.text(row["meter"]), gate.text(row["register"]) or "total"
    if day is None or value is None:
        return None
    return RegisterReading(day, value, meter, register, kind, event, row.number)


FEWEST_DAYS, SHORTEST_DAYS = 14, 26
"""Readings that stand closer than the one are rather of every week; so far apart those are taken that part bills then
(our choice: months are the shortest periods that are billed)."""


def bills_between(readings: Sequence[RegisterReading], table: Table, gate: Gate) -> tuple[Bill, ...]:
    """Let the time from one reading to the next stand for a bill where there are none; the kWh are the readings'."""
    plain = [reading for reading in readings if reading.event is None]
    meters = sorted({one.meter for one in plain if one.meter})
    both = [one for one in meters if any(_beside(one, other, plain) for other in meters)]
    if both:
        problem = f"the meters {' and '.join(both[:2])} are read on the same days"
        remedy = "Keep the readings of one, or write bills with the sum of both where both serve this house."
        gate.fault_in(table, problem, remedy, column="meter")
        return ()
    days = sorted({reading.day for reading in readings if reading.event is None})
    if len(days) < 2:
        gate.fault_in(
            table, "there are no bills, and fewer than two readings", f"Add bills, or readings. {WITHOUT_BILLS}"
        )
        return ()
    edges = days[:1]
    close = median((after - before).days for before, after in pairwise(days)) < FEWEST_DAYS
    for day in days[1:]:
        if not close or (day - edges[-1]).days >= SHORTEST_DAYS:
            edges.append(day)
    apart = f", {SHORTEST_DAYS} days apart or more," if close else ""
    gate.notice(f"No bills are given: what {table.place} counts from one reading to the next{apart} stands for them.")
    return tuple(Bill(start, end, None) for start, end in pairwise(edges))


def _beside(meter: str, other: str, readings: Sequence[RegisterReading]) -> bool:
    """Whether two meters were read on several same days: one did not follow the other."""
    days = [{one.day for one in readings if one.meter == name} for name in (meter, other)]
    return meter != other and len(days[0] & days[1]) > 1


REMEDY = "Check the figures and their dates; a larger service is told by service_amps under [house]."


def check_carried(house: House, bills: Table, readings: Table | None, gate: Gate) -> None:
    """Record a fault for each bill without kWh whose readings tell more than its service carries.

    Parameters
    ----------
    house : House
        With its bills, and its dated readings where there are any.
    bills, readings : Table, Table or None
        Where they stand.
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
        gate.fault_in(
            where,
            f"from {bill.start} to {bill.closes} the readings tell {kwh:,.0f} kWh, "
            f"and the service could carry at most {most:,.0f} kWh",
            REMEDY,
            row=row,
            column=column,
        )


def _by_its_own(house: House, bill: Bill) -> float | None:
    """Energy by a bill's own readings; None where one is missing, or the register went round or back."""
    if bill.reading_start is None or bill.reading_end is None or bill.reading_end < bill.reading_start:
        return None
    meter = house.meter_on(bill.closes, bill.meter)
    return (bill.reading_end - bill.reading_start) * (bill.multiplier or meter.multiplier)
