"""Energy in parts that make up the bill, as peak and off-peak or the steps of a tariff: added up, and told."""

from __future__ import annotations

import re
from typing import Any

from reconcile.read.bills.bill_edges import with_habits
from reconcile.read.tables.cells import Cell, Row, Table
from reconcile.read.tables.columns import ENERGY, joined
from reconcile.read.tables.gate import Gate
from reconcile.read.values import numbers
from reconcile.read.values.price_parts import ALSO_OTHER, is_part, makes_a_whole

_ENERGY = re.compile(r"kwh|kilowatthours?|usage|used|use(?!hold)|energy|consumption|units?|electric(?:ity)?|total")
_OTHER = re.compile(r"[$€£¥%]|per|rate|price|cost|charge|amount|demand|kw(?!h)|last|prev|average|avg|/|mean|budget|tax")


_DIAL = re.compile(r"(?:meter)?(?:readings?|registers?|index|kwhreading)|kwh|z\u00e4hlerstand|stand")
_SUPPLY = re.compile(r"(?:supply|supplier|generation|energysupply)(?:charges?|cost|amount)?")
_DELIVERY = re.compile(r"(?:delivery|distribution|transmission|network|utilitydelivery)(?:charges?|cost|amount)?")
_BESIDE = re.compile(
    r"(?:(?:sales|state|local|city|utility|other)?tax(?:es)?|vat|gst|hst|surcharges?|fees?|taxes(?:and|&)?fees"
    r"|(?:basic|customer|service|fixed|standing)charge|other(?:charges?)?)(?:amount|charges?)?"
)
"""Charges that stand beside those two, and are of the same bill."""


def add_charges(table: Table) -> None:
    """Give a table without an amount the sum of its supply, its delivery and what is beside them, where both are."""
    if any(table.has(name) for name in ("amount", "amount_due")):
        return
    named = set(table.header.values())
    free = [(at, joined(name)) for at, name in enumerate(table.names) if at not in named]
    parts = [at for at, name in free if _SUPPLY.fullmatch(name) or _DELIVERY.fullmatch(name) or _BESIDE.fullmatch(name)]
    both = any(_SUPPLY.fullmatch(name) for _, name in free) and any(_DELIVERY.fullmatch(name) for _, name in free)
    if not both:
        return
    sums = _sums(table, parts, money=True)
    if sums is not None:
        _give(table, "amount", parts, {number: f"{sum_of:.2f}" for number, sum_of in sums.items()})


def add_parts(table: Table) -> None:
    """Give a table without a column of energy the sum of the columns that are its parts.

    Parameters
    ----------
    table : Table
        Changed in place: a column ``kwh`` more.
    """
    if any(table.has(name) for name in ("kwh", "delivered_kwh", "reading_end")):
        return
    named = set(table.header.values())
    parts = [at for at, name in enumerate(table.names) if at not in named and _is_part(name)]
    if len(parts) < 2 or not makes_a_whole([_bare(table.names[at]) for at in parts]):
        return
    sums = _sums(table, parts)
    if sums is not None:
        sums = {number: round(kwh, 6) for number, kwh in sums.items()}
        _without_sum(table, sums)
        _give(table, "kwh", parts, sums)


def add_products(table: Table) -> None:
    """Give a table without energy its average a day times the days, where it tells both; what rounding does is told."""
    if any(table.has(name) for name in ENERGY):
        return
    named = set(table.header.values())
    gone = [at for at, name in enumerate(table.names) if at not in named and _GONE.fullmatch(joined(name))]
    if len(gone) == 1 and table.has("multiplier"):
        return _multiplied(table, gone[0])
    averages = [at for at, name in enumerate(table.names) if at not in named and _is_daily(name)]
    if len(averages) != 1:
        return
    made: dict[int, float] = {}
    doubt = 0.0
    for row in table.rows:
        text = str(row.values[averages[0]] if averages[0] < len(row.values) else "").strip()
        daily, days = _number(text), _days(row)
        if not text or daily is None or days is None:
            return
        made[row.number] = round(daily * days, 6)
        doubt = max(doubt, days * 0.5 * 10.0 ** -len(text.partition(".")[2].partition(" ")[0]))
    name = table.names[averages[0]]
    table.add_column("kwh", made)
    table.now_read(name)
    table.read_as.append(f"kwh is {name} times the days, which its rounding leaves within {doubt:.1f} kWh")


_GONE = re.compile(r"(?:meter|reading|read|register)?(?:diff|difference)(?:ofreadings)?")


def _multiplied(table: Table, at: int) -> None:
    """Give a table the difference of its readings times the multiplier for its energy, where both are there."""
    made: dict[int, float] = {}
    for row in table.rows:
        gone, factor = (_number(value) for value in (row.values[at], row.value("multiplier")))
        if gone is None or not factor:
            return
        made[row.number] = round(gone * factor, 6)
    name = table.names[at]
    table.add_column("kwh", made)
    table.now_read(name)
    table.read_as.append(f"kwh is {name} times {table.names[table.header['multiplier']]}")


_NOT_USE = re.compile(r"[$€£]|cost|charge|temp|price|last|prev|prior|ago|budget|target|sent|export|solar")


def _is_daily(name: str) -> bool:
    """Whether a header names the energy of a day on the average.

    >>> _is_daily("Avg kWh per day"), _is_daily("Daily usage"), _is_daily("Cost per day"), _is_daily("Days")
    (True, True, False, False)
    """
    a_day = re.search(r"per ?day|/ ?d(?:ay)?\b|daily|a day", name.casefold())
    energy = re.search(r"kwh|usage|\buse|energy|consumption", name.casefold())
    return bool(a_day and energy) and not _NOT_USE.search(name.casefold())


def _days(row: Row) -> float | None:
    """The days of a row: as they are printed, else between its two dates."""
    if not row.blank("days"):
        return _number(row.value("days"))
    start, end = (with_habits(row[name], Gate()) for name in ("start", "end"))
    return None if start is None or end is None else float((end - start).days)


def add_dials(table: Table) -> None:
    """Give a table without energy the sum of its registers, such as day and night, where they are all there."""
    if any(table.has(name) for name in ("kwh", "delivered_kwh", "reading_end", "reading_start")):
        return
    named = set(table.header.values())
    dials = [at for at, name in enumerate(table.names) if at not in named and is_part(_DIAL.sub("", joined(name)))]
    dials = [at for at in dials if _DIAL.search(joined(table.names[at]))]
    whole = makes_a_whole([_DIAL.sub("", joined(table.names[at])) for at in dials])
    filled = all(at < len(row.values) and not Cell(row.values[at], "", "").blank for row in table.rows for at in dials)
    sums = _sums(table, dials) if len(dials) > 1 and whole and filled else None
    if sums is not None:
        _give(table, "reading_end", dials, sums)


def _sums(table: Table, parts: list[int], *, money: bool = False) -> dict[int, float] | None:
    """Return the sum of some columns in each row in which one is filled; None where a cell is no number."""
    sums: dict[int, float] = {}
    for row in table.rows:
        cells = [row.values[at] if at < len(row.values) else None for at in parts]
        if all(Cell(cell, "", "").blank for cell in cells):
            continue
        values = [value for cell in cells if (value := _number(cell, money=money)) is not None]
        if len(values) < len(cells):
            return None
        sums[row.number] = sum(values)
    return sums


def _give(table: Table, column: str, parts: list[int], sums: dict[int, Any]) -> None:
    """Give a table a column of sums, and tell of what."""
    names = [table.names[at] for at in parts]
    table.add_column(column, sums)
    table.now_read(*names)
    table.read_as.append(f"{column} is the sum of {' and '.join(names) if len(names) < 3 else ', '.join(names)}")


def _without_sum(table: Table, sums: dict[int, Any]) -> None:
    """Leave a column ``Total`` that is the sum of the parts: it is energy, no money."""
    at = table.header.get("amount")
    if at is None:
        return
    totals = [(number, row.values[at]) for row in table.rows for number in [row.number] if at < len(row.values)]
    if sums and all(number in sums and _number(value) == sums[number] for number, value in totals):
        del table.header["amount"]
        told = f"amount is the column {table.names[at]}"
        table.read_as = [line for line in table.read_as if line != told]
        table.read_as.append(f"the column {table.names[at]} is the same sum")


def _bare(name: str) -> str:
    return _ENERGY.sub("", joined(name))


def _is_part(name: str) -> bool:
    """Whether a header names a part of the energy.

    >>> _is_part("Off-peak kWh"), _is_part("Tier 2 usage"), _is_part("Peak demand kW"), _is_part("kWh per day")
    (True, True, False, False)
    """
    if _OTHER.search(name.casefold()):
        return False
    bare = _bare(name)
    return is_part(bare) and (bare not in ALSO_OTHER or bare != joined(name))


def _number(value: Any, *, money: bool = False) -> float | None:
    """The figure of a part in kWh or in money: 0 where nothing stands, None where it is anything else."""
    if value is None or (isinstance(value, str) and value.strip() in ("", "-")):
        return 0.0
    if not isinstance(value, str):
        return numbers.figure(value)
    found = numbers.written(value, ".")
    if found is None or found.tail.casefold() not in (("",) if money else ("", "kwh")) or (found.money and not money):
        return None
    return float(found.digits)
