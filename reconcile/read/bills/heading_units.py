"""Figures that are each of so many, of a hundredth, or of a month, as a heading or the words behind them say."""

from __future__ import annotations

import re

from reconcile.read.tables.cells import Table, plain_name
from reconcile.read.tables.columns import joined, tokens
from reconcile.read.values import numbers
from reconcile.read.values.nameplate import times_of

HUNDREDTHS = ("cents", "pence", "cent", "ct", "p")


def hundredths(table: Table) -> None:
    """Take a column headed by the hundredths of a currency for the charges, where there are no others."""
    own = table.header.get("amount")
    if own is not None and not {*tokens(table.names[own])}.isdisjoint(HUNDREDTHS[:3]):
        figures = {row.number: numbers.figure(row.value("amount"), table.habits.decimal) for row in table.rows}
        table.fill("amount", {number: f"{value:g} cents" for number, value in figures.items() if value is not None})
        return table.read_as.append(f"amount is a hundredth of the column {table.names[own]}, as its heading says")
    free = [at for at, name in enumerate(table.names) if joined(name) in HUNDREDTHS and at not in table.header.values()]
    if len(free) != 1 or table.has("amount") or table.has("amount_due"):
        return
    values = {row.number: row.values[free[0]] for row in table.rows if free[0] < len(row.values)}
    table.add_column(
        "amount", {number: f"{value} cents" for number, value in values.items() if str(value or "").strip()}
    )
    table.now_read(table.names[free[0]])
    table.read_as.append(f"amount is the column {table.names[free[0]]}, a hundredth of each")


def of_several(table: Table) -> None:
    """Multiply the kWh and the readings whose heading says that each is of so many; a multiplier beside goes first."""
    for column in ("kwh", *(() if table.has("multiplier") else ("reading_start", "reading_end"))):
        index = table.header.get(plain_name(column))
        name = "" if index is None else table.names[index]
        if (times := times_of(name)) == 1.0:
            continue
        figures = {row.number: numbers.figure(row.value(column)) for row in table.rows}
        table.fill(
            column, {number: f"{figure * times:.10g}" for number, figure in figures.items() if figure is not None}
        )
        table.read_as = [line for line in table.read_as if line != f"{column} is the column {name}"]
        table.read_as.append(f"{column} is {times:g} times the column {name}, as its heading says")


_A_BILL = re.compile(r"(.*\d\s*kwh)\s*(?:/|per|a)\s*(?:mo(?:nth)?|bill(?:ing period)?|period|cycle)\.?", re.IGNORECASE)


def of_a_bill(table: Table) -> None:
    """Take ``812 kWh/month`` for the energy of a bill that is of a month."""
    for at, row in enumerate(table.rows if table.has("kwh") else ()):
        value = row.value("kwh")
        found = _A_BILL.fullmatch(value.strip()) if isinstance(value, str) and len(value) < 60 else None
        if found is not None and (table.has("month") or not found[0].casefold().rstrip(".").endswith(("mo", "month"))):
            table.rows[at] = row.with_value("kwh", found[1])
