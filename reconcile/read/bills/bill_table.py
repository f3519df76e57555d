"""The table of bills."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from datetime import date
from typing import Any, get_args

from reconcile.house import Bill, BillType, House, ReadType
from reconcile.read.bills.bill_edges import (
    Edges,
    ask_wrong_years,
    complete,
    inclusive_by_itself,
    period_days,
    read_edges,
    sound,
    with_habits,
)
from reconcile.read.bills.bill_rows import make_whole, open_by_day, open_by_readings, suggested
from reconcile.read.bills.how_read import says_estimate
from reconcile.read.bills.stated_money import paid_for, without_stated
from reconcile.read.bills.taken_back import refuse_below_zero, without_taken_back
from reconcile.read.tables.bounds import (
    COLDEST_C,
    LONGEST_PERIOD_DAYS,
    SHORT_TIME_FACTOR,
    WARMEST_PERIOD_C,
    most_watts,
)
from reconcile.read.tables.cells import Cell, Row, Table, or_list, shown
from reconcile.read.tables.columns import BILLS, DAYS, ENERGY, is_another, tokens
from reconcile.read.tables.examples import refuse_example_bills
from reconcile.read.tables.gate import WITHOUT_BILLS, Gate
from reconcile.read.tables.pasted_text import WANTED
from reconcile.read.tables.settle import settle
from reconcile.read.tables.told_days import days_told
from reconcile.read.values import dates, numbers
from reconcile.records import dataclass

MOST_KWH_A_DAY = 7000.0
"""More than any household service carries, 400 A at 400 V and three phases; for telling numbers apart."""

READ_TYPES: tuple[ReadType, ...] = get_args(ReadType)
BILL_TYPES: tuple[BillType, ...] = get_args(BillType)


@dataclass(frozen=True, slots=True)
class How:
    """How bills are to be read: what the settings say, and what stands beside them."""

    inclusive: bool | None = None
    """Whether the printed first and last day both count; None where the settings do not say."""
    has_readings: bool = False
    """Whether there is a table of readings, from which kWh may come."""


def read_bills(tables: Sequence[Table], gate: Gate, house: House, how: How | None = None) -> tuple[Bill, ...]:
    """Read the bills, in order of their start.

    Parameters
    ----------
    tables : sequence of Table
        Usually one; a workbook may have a sheet for each year.
    house : House
        Its settings: service and generation decide which kWh are possible.
    """
    how = how or How()
    by_size = sorted(tables, key=lambda table: -len(table.rows))  # a short one takes the order of days from a long one
    if sum(make_whole(table, gate) for table in by_size) < len(tables):
        return ()
    # each is asked before the first is left, so that all faults come out
    if sum(_has_needed(table, gate, how) and _filled(table, gate) for table in tables) < len(tables):
        return ()
    if not _one_home(tables, gate):
        return ()
    if sum(settle(t, BILLS, gate, lambda t: _sound(t, gate), lambda row: _told(row, gate)) for t in tables) < len(
        tables
    ):
        return ()
    for one in tables:
        open_by_readings(one, gate)
        open_by_day(one, gate)
        _tell_noted_estimates(one)
        about = [row["kwh"] for row in one.rows if numbers.rounded(row.value("kwh"))]
        if about:
            one.read_as.append(f"the kWh of {len(about)} rows are rounded ({about[0].read}), and taken as they stand")
    table = tables[0]
    edges = [read_edges(row, gate) for one in tables for row in one.rows]
    for one in tables:
        if any(dates.clock_of(row.value(name)) for row in one.rows for name in ("start", "end")):
            one.read_as.append("days, without the times of day beside them")
    inclusive = how.inclusive
    if inclusive is None:
        inclusive = inclusive_by_itself(edges)
        if inclusive:
            table.read_as.append(
                "the first and the last day of each bill both count, since the next begins a day later"
            )
    ask_wrong_years(edges, gate)
    complete(edges, gate, table, inclusive)
    if not how.has_readings:
        edges = _without_gaps(edges)
    found = [_bill(edge, gate, house, inclusive, how.has_readings) for edge in edges]
    bills = sorted((bill for bill in found if bill is not None), key=lambda bill: (bill.start, bill.row or 0))
    if not house.generation:
        edges, found, bills = without_taken_back(edges, found, bills)
        refuse_below_zero(edges, found, bills, gate)
    refuse_example_bills(bills, table, gate)
    _one_at_a_time(bills, tables, gate)
    return tuple(without_stated(paid_for(bills, table), table) if len(tables) == 1 else paid_for(bills, table))


MOST_LOST = 0.25
"""Part of the bills whose kWh may be lost: where more are, it is rather the column that is wrong (our choice)."""


def _without_gaps(edges: Sequence[Edges]) -> list[Edges]:
    """Leave bills that are lost, of which only days or money are written: their time is a gap in the records."""
    empty = [edge for edge in edges if all(edge.row.blank(name) for name in ENERGY_GIVEN)]
    if not empty or len(empty) > MOST_LOST * len(edges):
        return list(edges)
    for edge in empty:
        days = "" if edge.start is None or edge.end is None else f" ({edge.start} to {edge.end})"
        edge.row.table.left.append(f"row {edge.row.number}{days}, which has no kWh: its time is a gap")
    return [edge for edge in edges if edge not in empty]


ENERGY_GIVEN = ("kwh", "delivered_kwh", "reading_start", "reading_end")


def _tell_noted_estimates(table: Table) -> None:
    """Tell of notes that seem to say that a reading is an estimate: a note is the household's text and is not read."""
    if not table.has("note"):
        return
    rows = [
        str(row.number)
        for row in table.rows
        if isinstance(row.value("note"), str) and says_estimate(row.value("note")[:200]) and row.blank("read_type")
    ]
    if rows:
        table.read_as.append(
            f"a note beside row {', '.join(rows)} may tell of an estimated reading, but notes are not read: "
            "if so, write estimated in a column read_type"
        )


FEWEST_PARALLEL, MOST_PARALLEL = 2, 6
"""Periods in which two meters stand side by side before it is taken for more than a bill made twice, and names of
meters or accounts that one house may have (our choice)."""
_WHOSE = frozenset(
    ("meter", "account", "acct", "premise", "property", "address", "site", "location", "service", "unit")
)
"""Words over a column that tells whose each row is."""


def _one_at_a_time(bills: list[Bill], tables: Sequence[Table], gate: Gate) -> None:
    """Ask where two meters or accounts stand side by side: neither may be dropped, nor added, in silence."""
    for table in tables:
        rows = {row.number: row for row in table.rows}
        periods: dict[tuple[date, date], list[Row]] = {}
        for bill in bills:
            if bill.bill_type != "cancelled" and bill.row in rows:
                periods.setdefault((bill.start, bill.end), []).append(rows[bill.row])
        parallel = [found for found in periods.values() if len(found) > 1]
        read = {at for name, at in table.header.items() if name != "meter"}
        for at, name in enumerate(table.names):
            told = [["" if at >= len(row.values) else shown(row.values[at]) for row in found] for found in parallel]
            apart = [names for names in told if len(set(names)) == len(names) and all(map(str.strip, names))]
            whose = at not in read and not _WHOSE.isdisjoint(tokens(name))
            if (
                whose
                and len(apart) >= FEWEST_PARALLEL
                and len({name for names in told for name in names}) <= MOST_PARALLEL
            ):
                first, second = sorted(apart[0])[:2]
                gate.fault_in(
                    table,
                    f"{first} and {second} stand side by side in the same periods",
                    "If both serve this house, write one row a period with the sum of their kWh and of their amounts; "
                    "else keep the rows of one, and put the other into a house of its own.",
                    row=next(row.number for row in parallel[told.index(apart[0])] if shown(row.values[at]) == second),
                    column=name,
                    read=second,
                )
                return
        if len(parallel) >= max(FEWEST_LISTS, MOSTLY_TWICE * len(periods)) and not table.has("bill_type"):
            one, other = parallel[0][:2]
            gate.fault_in(
                table,
                f"two lists of bills are of the same periods: row {one.number} and row {other.number}",
                "If both serve this house, write one row a period with the sum of their kWh and of their amounts; "
                "else keep the rows of one, and put the other into a house of its own.",
                row=other.number,
            )
            return


FEWEST_LISTS, MOSTLY_TWICE = 3, 0.8
"""Periods, and their share, that stand twice before it is no bill made twice but a second list (our choice)."""
_WHERE = frozenset(("address", "premise", "property"))
"""Words over a column that tells in which home each row's energy was used."""


def _one_home(tables: Sequence[Table], gate: Gate) -> bool:
    """Ask where the bills are of several homes by a column of addresses: one home's use says nothing of another's."""
    for table in tables:
        read = {*table.header.values()}
        for at, name in enumerate(table.names):
            if at in read or _WHERE.isdisjoint(tokens(name)) or name.casefold().startswith("other"):
                continue
            homes = [(row, shown(row.values[at])) for row in table.rows if at < len(row.values)]
            homes = [(row, home) for row, home in homes if home.strip()]
            apart = next((pair for pair in homes if tokens(pair[1]) != tokens(homes[0][1])), None)
            if apart is not None:
                gate.fault_in(
                    table,
                    f"the bills are of {homes[0][1]} and of {apart[1]}",
                    "Keep the rows of the home in question, and put the other into a house of its own; where both are "
                    f"one home, write them alike, or head the column other {name.casefold()}.",
                    row=apart[0].number,
                    column=name,
                    read=apart[1],
                )
                return False
    return True


def _has_needed(table: Table, gate: Gate, how: How) -> bool:
    days = any(table.has(name) for name in DAYS)
    energy = how.has_readings or any(table.has(name) for name in ENERGY)
    if days and energy:
        if not (table.has("start") and not table.has("end") and len(table.rows) == 1 and not table.has("days")):
            return True
        days = False
    missing = [name for name, there in (("end", days), ("kwh", energy)) if not there]
    parts = [name for name in table.unread if is_another(name) and re.search("kwh|unit", name, re.IGNORECASE)]
    unread = [name for name in table.unread if not is_another(name)]
    headed = bool(table.header) or gate.settings_in == "arguments"  # a frame has names, if not known ones
    header = suggested(table)
    if not headed and not (set(header) & set(DAYS) and "kwh" in header):
        gate.fault_in(
            table,
            "this is neither a table of bills nor lines copied off bills that tell their days and kWh",
            WANTED,
            row=table.header_row,
        )
        return False
    if not headed:
        gate.fault_in(
            table,
            "nothing stands above the columns that says what they are",
            f"If the first row is a bill already, write this line above it: {','.join(header)}.",
            row=table.header_row,
        )
        return False
    for name in missing:
        of_days = [one for one in unread if days_told(_cells(table, one)) is not None]
        likely = [one for one in unread if (one in of_days) == (name == "end") and "due" not in tokens(one)]
        guess = f" Is it {or_list(likely[:6])}? Then head that {name}." if likely else ""
        more = " (or start and days, month, period or bill_date)" if name == "end" else ""
        if name == "kwh" and len(likely) > 1:
            guess = f"{guess} Where the bill's kWh are their sum, add a column kwh with it instead."
        if name == "kwh" and parts:
            daily = next((part for part in parts if re.search("day|daily", part, re.IGNORECASE)), None)
            guess = f" Is it the sum of {' and '.join(parts[:3])}? Then write that in it." if len(parts) > 1 else ""
            guess = f" The {daily} times the days is near it: write what the bill prints, or that." if daily else guess
        gate.fault_in(
            table,
            f"the column {name} is missing",
            f"Add a column headed {name}{more}.{guess}".rstrip(),
            row=table.header_row,
        )
    return False


def _cells(table: Table, name: str) -> list[Any]:
    at = table.names.index(name)
    return [row.values[at] for row in table.rows if at < len(row.values)]


def _filled(table: Table, gate: Gate) -> bool:
    if table.rows and len(table.rows) <= BILLS.most_rows:
        return True
    problem = f"there are more than {BILLS.most_rows} bills" if table.rows else "there is a header but no bill"
    remedy = BILLS.if_more
    if table.examples and not table.rows:
        problem, remedy = (
            "only the starter's examples are there",
            f"Write your own bills below them, one a row. {WITHOUT_BILLS}",
        )
    gate.fault_in(table, problem, remedy, row=table.header_row)
    return False


def _pair(row: Row, gate: Gate) -> tuple[date, date] | None:
    cell = row["period"]
    if cell.blank:
        return None
    try:
        found = period_days(cell, gate)
    except dates.DateError:
        return None
    return None if found is None or found[2] else found[:2]


def _sound(table: Table, gate: Gate) -> float:
    """How well the table agrees with itself under its habits: its periods, its sizes, its readings and its kWh."""
    decimal = table.habits.decimal

    for row in table.rows:
        kwh, opened, closed = (
            numbers.figure(row.value(column), decimal) for column in ("kwh", "reading_start", "reading_end")
        )
        if kwh is not None and abs(kwh) > MOST_KWH_A_DAY * 100:
            return 0.0
        if None not in (kwh, opened, closed) and row.blank("multiplier"):
            gone = closed - opened  # type: ignore[operator]
            if gone > 0 and abs(gone - kwh) > 0.5 * abs(kwh) + 2.0:  # type: ignore[operator, arg-type]
                return 0.0
    return sound(table, lambda cell: with_habits(cell, gate), lambda row: _pair(row, gate))


def _told(row: Row, gate: Gate) -> str:
    """Say what a bill is under the habits of its table."""
    pair = _pair(row, gate)
    start, end = pair or (with_habits(row["start"], gate), with_habits(row["end"], gate))
    if start is not None and end is not None:
        days = (end - start).days
        return f"a bill from {start} to {end}" + (f", {days} days" if days > 0 else ", which ends before it begins")
    day = start or end or with_habits(row["bill_date"], gate)
    return f"the day {day}" if day is not None else "no date"


def _bill(edge: Edges, gate: Gate, house: House, inclusive: bool, has_readings: bool) -> Bill | None:
    row, start, end = edge.row, edge.start, edge.end
    days = _days(edge, gate, inclusive)
    most = math.inf if days is None else most_watts(house) / 1000.0 * 24.0 * days
    given = [not row.blank(name) for name in ("kwh", "delivered_kwh", "reading_start", "reading_end")]
    if not (given[0] or given[1] or (given[2] and given[3]) or has_readings):
        gate.wrong(row["kwh"], "nothing is written here", "Write the billed kWh, or both readings.")
    if not row.blank("confirmed") and not gate.flag(row["confirmed"], default=True):
        gate.wrong(row["confirmed"], "this row is not confirmed", "Compare it with the printed bill, then write yes.")
    bill = Bill(
        start=start or date.min,
        end=end or date.min,
        kwh=_energy(row, "kwh", gate, most, least=0.0 if days is None and not house.generation else -most),
        amount=gate.money(row["amount"]),
        amount_due=gate.money(row["amount_due"]),
        budget_amount=gate.money(row["budget_amount"]),
        bill_date=edge.bill_date,
        bill_type=gate.choice(row["bill_type"], BILL_TYPES, default="regular", words=BILLS["bill_type"]),
        read_type=_read_type(row, gate),
        read_type_start=gate.choice(row["read_type_start"], READ_TYPES, words=BILLS["read_type_start"]),
        reading_start=_shown(row["reading_start"], gate, house),
        reading_end=_shown(row["reading_end"], gate, house),
        multiplier=gate.number(row["multiplier"], above=0.0, high=100_000.0),
        meter=gate.text(row["meter"]),
        printed_days=edge.days if not edge.doubt_days else None,
        delivered_kwh=_energy(row, "delivered_kwh", gate, most),
        received_kwh=_energy(row, "received_kwh", gate, most),
        expected_generation_kwh=_energy(row, "expected_generation_kwh", gate, most),
        demand_kw=gate.number(
            row["demand_kw"], unit="kW", low=0.0, high=SHORT_TIME_FACTOR * most_watts(house) / 1000.0
        ),
        rate_code=gate.text(row["rate_code"]),
        note=gate.text(row["note"]) or "",
        inclusive=inclusive,
        row=row.number,
        edge_doubt_days=edge.doubt_days,
        mean_temperature_c=_temperature(row["mean_temperature"], gate, house),
    )
    return None if days is None else bill


def _shown(cell: Cell, gate: Gate, house: House) -> float | None:
    """Read what a register showed, which is no more than its digits can."""
    shown_there = gate.number(cell, unit="kWh", low=0.0, high=1e10)
    digits = house.meters[0].digits if len(house.meters) == 1 else None
    if shown_there is not None and digits is not None and shown_there >= 10.0**digits:
        remedy = "Check the reading, and digits under [meter] in house.toml."
        gate.wrong(cell, f"a register of {digits} digits cannot show that", remedy)
    return shown_there


def _days(edge: Edges, gate: Gate, inclusive: bool) -> int | None:
    if edge.start is None or edge.end is None:
        return None
    days = (edge.end - edge.start).days + inclusive
    cell = edge.row["end"] if not edge.row.blank("end") else edge.cell
    if days <= 0:
        gate.wrong(cell, "this period ends before it begins", "Check both dates.")
    elif days > LONGEST_PERIOD_DAYS:
        gate.wrong(cell, f"this period is {days} days long", "Check the years of both dates.")
    else:
        return days
    return None


def _read_type(row: Row, gate: Gate) -> ReadType:
    """Read who made the closing reading: its own column, or a mark behind a number."""
    if not row.blank("read_type"):
        cell = row["read_type"]
        if isinstance(cell.value, bool):
            return "estimated" if cell.value else "actual"
        return gate.choice(cell, READ_TYPES, default="actual", words=BILLS["read_type"])
    for column in ("reading_end", "kwh"):
        value = row.value(column)
        written = numbers.written(value, row.table.habits.decimal) if isinstance(value, str) else None
        code = BILLS["read_type"].code(written.mark) if written is not None and written.mark else None
        if code is not None:
            return next(option for option in READ_TYPES if option == code)
    return "actual"


def _energy(row: Row, column: str, gate: Gate, most: float, least: float = 0.0) -> float | None:
    cell = row[column]
    kwh = gate.number(cell, unit="kWh")
    if kwh is None:
        return None
    if kwh < least and least == 0.0:
        gate.wrong(cell, "this cannot be below zero", "Check the sign.")
    elif not least <= kwh <= most:
        gate.wrong(
            cell,
            f"the service could not carry that in this period (at most {most:,.0f} kWh)",
            "Check the figure and both dates; a larger service is told by service_amps under [house]. If the bill "
            "prints just that, the bill is wrong: ask the utility's billing desk for its multiplier, and leave the "
            "bill out here.",
        )
    else:
        return kwh
    return None


def _temperature(cell: Cell, gate: Gate, house: House) -> float | None:
    celsius, unit = gate.temperature(cell, house.temperature_unit)
    if celsius is None or COLDEST_C <= celsius <= WARMEST_PERIOD_C:
        return celsius
    other = "C" if unit == "F" else "F"
    gate.wrong(
        cell,
        f"no month was ever that cold or warm in degrees {unit}",
        f'If it is degrees {other}, set temperature_unit = "{other}" under [house], or write the unit in the header as '
        f"temperature ({other}).",
    )
    return None
