"""``charges.csv``: the printed lines of the bills, of one company or of two."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from reconcile.house import Bill, ChargeLine
from reconcile.read.tables.cells import Row, Table
from reconcile.read.tables.columns import CHARGES
from reconcile.read.tables.gate import Gate

PARTS: tuple[Literal["supply", "delivery", "other"], ...] = ("supply", "delivery", "other")


def read_charges(table: Table, gate: Gate, bills: Sequence[Bill]) -> tuple[ChargeLine, ...]:
    """Read the lines in order of their bills; ``start`` is the first day of one of ``bills``."""
    if not gate.readable(table, CHARGES):
        return ()
    starts = {bill.start for bill in bills}
    found = [line for row in table.rows if (line := _line(row, gate)) is not None]
    for line in found:
        if starts and line.start not in starts:
            gate.fault_in(
                table,
                "no bill starts on this day",
                "Write the first day of the bill that the line stands on.",
                row=line.row,
                column="start",
                read=line.start.isoformat(),
            )
    return tuple(sorted(found, key=lambda line: (line.start, line.row or 0)))


def _line(row: Row, gate: Gate) -> ChargeLine | None:
    start = gate.day(row["start"], needed=True)
    name = gate.text(row["name"], needed=True)
    amount = gate.money(row["amount"], needed=True)
    part = gate.choice(row["part"], PARTS, default="other", words=CHARGES["part"])
    quantity, rate = gate.money(row["quantity"]), gate.money(row["rate"])
    company = gate.text(row["company"]) or ""
    if start is None or name is None or amount is None:
        return None
    return ChargeLine(start, name, amount, company, part, quantity, rate, row.number)
