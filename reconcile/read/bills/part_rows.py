"""Bills whose energy stands in a row for each part of it, such as peak and off-peak: one row a bill, and told."""

from __future__ import annotations

from collections import Counter

from reconcile.read.tables.cells import Row, Table, shown
from reconcile.read.tables.columns import DAYS, joined
from reconcile.read.values import numbers
from reconcile.read.values.price_parts import TOTALS, is_part, makes_a_whole

ROUNDED = 1.0
"""Parts are rounded each by itself: their sum may be off by so much [kWh]."""


def fold_parts(table: Table) -> None:
    """Make one row of those of a bill's parts, where a column names them and they are all there.

    The row of the total stands where there is one and the parts add up to it; else their sum.

    Parameters
    ----------
    table : Table
        Changed in place.
    """
    days = [name for name in DAYS if table.has(name)]
    at = _column_of_parts(table)
    if at is None or not days or not table.has("kwh"):
        return
    bills: dict[tuple[str, ...], list[Row]] = {}
    for row in table.rows:
        bills.setdefault(tuple(shown(row.value(name) or "") for name in days), []).append(row)
    made = [_one(rows, at) for rows in bills.values()]
    kinds = Counter(frozenset(_name(row, at) for row in rows) for rows in bills.values())
    if len(bills) < 2 or len(kinds) > 1 or None in made:
        return
    table.rows[:] = [row for row in made if row is not None]
    parts = [shown(row.values[at]) for row in next(iter(bills.values()))]
    table.now_read(table.names[at])
    table.read_as.append(f"the rows {', '.join(parts)} of the same days are one bill")


def _column_of_parts(table: Table) -> int | None:
    """The one column that holds nothing but names of parts, each bill's more than one."""
    width = min((len(row.values) for row in table.rows), default=0)
    found = [
        at
        for at in range(width)
        if all(is_part(_name(row, at)) or _name(row, at) in TOTALS for row in table.rows)
        and len({_name(row, at) for row in table.rows}) > 1
    ]
    return found[0] if len(found) == 1 else None


def _name(row: Row, at: int) -> str:
    return joined(shown(row.values[at] or ""))


def _one(rows: list[Row], at: int) -> Row | None:
    """One row of a bill's; None where they are not all its parts, or do not make its total."""
    total = [row for row in rows if _name(row, at) in TOTALS]
    parts = [row for row in rows if row not in total]
    names = [_name(row, at) for row in parts]
    energies = [numbers.figure(row.value("kwh"), ".") for row in rows]
    if len(total) > 1 or len(set(names)) < len(names) or len(parts) < 2 or None in energies:
        return None
    kwh = {row.number: float(value) for row, value in zip(rows, energies, strict=True) if value is not None}
    used = sum(kwh[row.number] for row in parts)
    if total:
        return total[0] if abs(kwh[total[0].number] - used) <= ROUNDED else None
    if not makes_a_whole(names):
        return None
    whole = rows[0].with_value("kwh", f"{used:.10g}")
    if not rows[0].table.has("amount"):
        return whole
    asked = [row for row in rows if not row.blank("amount")]
    if len(asked) == 1:  # once for the bill
        return whole.with_value("amount", asked[0].value("amount"))
    money = [numbers.figure(shown(row.value("amount") or "").lstrip("$€£ "), ".") for row in rows]
    if len(asked) < len(rows) or None in money:
        return None
    return whole.with_value("amount", f"{sum(float(value) for value in money if value is not None):.2f}")
