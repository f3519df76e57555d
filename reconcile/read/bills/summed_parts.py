"""Energy in parts that make up the bill, as peak and off-peak or the steps of a tariff: added up, and told."""

from __future__ import annotations

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from reconcile.read.bills.bill_edges import with_habits
from reconcile.read.tables.cells import Cell, Row, Table
from reconcile.read.tables.columns import ENERGY, joined
from reconcile.read.tables.gate import Gate

_PART = re.compile(
    r"(?:on|off|mid|super|partial|part|semi)?(?:peak|offpeak)|shoulder|day|night|evening|weekend|weekday|normal|low|high|economy"
    r"|(?:tier|block|step|band|level)[1-9]|[1-9](?:st|nd|rd|th)(?:tier|block|step)|generaluse|controlledload|anytime|household"
    r"|first\d+|(?:over|above)\d+|remaining|remainder"
    r"|hp|hc|heurespleines|heurescreuses|ht|nt|hochtarif|niedertarif|punta|llano|valle|f[1-3]|dal|normaal|piek|summer|winter"
)
_ENERGY = re.compile(r"kwh|kilowatthours?|usage|used|use(?!hold)|energy|consumption|units?|electric(?:ity)?|total")
_OTHER = re.compile(r"[$€£¥%]|per|rate|price|cost|charge|amount|demand|kw(?!h)|last|prev|average|avg|/|mean|budget|tax")
_PLAIN = re.compile(r"\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+(?:\.\d+)?")


_DIAL = re.compile(r"(?:meter)?(?:readings?|registers?|index|kwhreading)|kwh|z\u00e4hlerstand|stand")
_SUPPLY = re.compile(r"(?:supply|supplier|generation|energysupply)(?:charges?|cost|amount)?")
_DELIVERY = re.compile(r"(?:delivery|distribution|transmission|network|utilitydelivery)(?:charges?|cost|amount)?")
_MONEY = re.compile(r"[$\u20ac\u00a3]?\s*(-?(?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d{1,2})?)")


def add_charges(table: Table) -> None:
    """Give a table without an amount the sum of its supply and its delivery charges, where both are there."""
    if any(table.has(name) for name in ("amount", "amount_due")):
        return
    named = set(table.header.values())
    free = [(at, joined(name)) for at, name in enumerate(table.names) if at not in named]
    parts = [at for at, name in free if _SUPPLY.fullmatch(name) or _DELIVERY.fullmatch(name)]
    both = any(_SUPPLY.fullmatch(name) for _, name in free) and any(_DELIVERY.fullmatch(name) for _, name in free)
    if not both:
        return
    sums = _sums(table, parts, _money)
    if sums is not None:
        _give(table, "amount", parts, sums)


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
    sums = _sums(table, parts, _number)
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
    dials = [
        at for at, name in enumerate(table.names) if at not in named and _PART.fullmatch(_DIAL.sub("", joined(name)))
    ]
    dials = [at for at in dials if _DIAL.search(joined(table.names[at]))]
    whole = makes_a_whole([_DIAL.sub("", joined(table.names[at])) for at in dials])
    filled = all(at < len(row.values) and not Cell(row.values[at], "", "").blank for row in table.rows for at in dials)
    sums = _sums(table, dials, _number) if len(dials) > 1 and whole and filled else None
    if sums is not None:
        _give(table, "reading_end", dials, sums)


def _sums(table: Table, parts: list[int], value_of: Callable[[Any], Any]) -> dict[int, Any] | None:
    """Return the sum of some columns in each row in which one is filled; None where a cell is no number."""
    sums: dict[int, Any] = {}
    for row in table.rows:
        cells = [row.values[at] if at < len(row.values) else None for at in parts]
        if all(Cell(cell, "", "").blank for cell in cells):
            continue
        values = [value_of(cell) for cell in cells]
        if None in values:
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


_REST = (
    *("offpeak", "night", "low", "economy", "hc", "heurescreuses"),
    *("nt", "niedertarif", "valle", "f3", "dal", "winter"),
)
"""Parts that take what the others leave: with one of them the parts are the whole."""


def makes_a_whole(parts: list[str]) -> bool:
    """Whether parts are all there are: what is left is among them, or they are steps counted from 1.

    >>> whole = makes_a_whole
    >>> whole(["peak", "offpeak"]), whole(["peak", "shoulder"]), whole(["tier1", "tier2"]), whole(["tier2"])
    (True, False, True, False)
    >>> whole(["first500", "over500"]), whole(["first500", "over800"]), whole(["household", "controlledload"])
    (True, False, True)
    """
    steps = sorted(int(found[0]) for part in parts if (found := re.search(r"[1-9]", part)) is not None)
    if "controlledload" in parts and {"household", "generaluse", "anytime"} & {*parts}:
        return True
    first = [part[5:] for part in parts if part.startswith("first")]
    if len(first) == 1 and len(parts) == 2:
        return any(part in (f"over{first[0]}", f"above{first[0]}", "remaining", "remainder") for part in parts)
    return any(part in _REST for part in parts) or (len(steps) == len(parts) and steps == [*range(1, len(parts) + 1)])


def is_name_of_part(name: str) -> bool:
    """Whether a word, small and without spaces, names a part of the energy by itself."""
    return bool(_PART.fullmatch(name))


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
    return bool(_PART.fullmatch(bare)) and (bare not in ("day", "low", "high", "normal", "dal") or bare != joined(name))


def _money(value: Any) -> Decimal | None:
    found = _MONEY.fullmatch(str(value).strip())
    return None if found is None else Decimal(found[1].replace(",", ""))


def _number(value: Any) -> float | None:
    if isinstance(value, int | float) and not isinstance(value, bool):
        return float(value)
    if value is None or (isinstance(value, str) and value.strip() in ("", "-")):
        return 0.0
    text = re.sub(r"\s*kwh$", "", str(value).strip(), flags=re.IGNORECASE)
    return float(text.replace(",", "")) if _PLAIN.fullmatch(text) else None
