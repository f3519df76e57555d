"""What was understood of the tables, shown back in a few notices."""

from __future__ import annotations

from reconcile.read.tables.cells import Table
from reconcile.read.tables.gate import Gate
from reconcile.read.values.numbers import CURRENCIES

MOST_TOLD = 12
"""Things of one kind that a notice lists before it only counts the rest."""


def tell_understood(table: Table, gate: Gate) -> None:
    """Say in at most two sentences how a table was read, and what of it was not."""
    if table.read_as:
        gate.notice(f"{table.place} is read as: {_list(table.read_as)}.")
    if table.left:
        gate.notice(f"{table.place}, not read: {_list(table.left)}.")


def _list(items: list[str]) -> str:
    more = len(items) - MOST_TOLD
    return "; ".join(items[:MOST_TOLD]) + (f"; and {more} more" if more > 0 else "")


def read_currency(gate: Gate, currency: str, given: bool) -> str:
    """Return the currency of the house, by its settings or by the signs beside the amounts."""
    codes = {code: cell for sign, cell in gate.currencies.items() if (code := CURRENCIES[sign]) is not None}
    strange = {code: cell for code, cell in codes.items() if code != currency}
    if given:
        for code, cell in strange.items():
            gate.wrong(cell, f"this is {code}, and the currency of the house is {currency}", "Correct one of the two.")
    elif len(codes) > 1:
        code, cell = list(codes.items())[-1]
        gate.wrong(cell, f"amounts of this house are in {' and '.join(codes)}", "Write them in one currency.")
    elif strange:
        currency = next(iter(strange))
        gate.notice(f"Amounts are read as {currency}, by the sign beside them.")
    return currency
