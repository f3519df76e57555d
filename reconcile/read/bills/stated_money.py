"""Money of a bill that is not this period's, where the file itself says what it is: columns beside it, or a note."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import combinations, product

from reconcile.house import Bill
from reconcile.read.tables.cells import Table
from reconcile.read.tables.columns import tokens
from reconcile.read.values import numbers

PENNY = Decimal("0.01")
"""What sums of printed amounts may be off: less than this."""
MOST_COLUMNS, MOST_TAKEN = 12, 3
"""Columns that are tried for what is asked beside the charges, and how many may make it up (our choice: an earlier
balance, what was paid of it, and a fee)."""
_DERIVED = frozenset(("difference", "diff", "change", "running", "cumulative"))
"""Words of columns that only work out what stands in others, and explain nothing."""

_HOLDS = re.compile(
    r"\b(?:incl\w*|inkl\w*|inc|contains?|with)\b[^\d$€£₹]{0,20}(?P<sum>[$€£₹]\s?\d[\d.,]*|\d[\d.,]*[.,]\d\d\b|\d[\d.,]*\s?(?:[$€£₹]|dollars?|euros?|usd|eur|gbp)(?!\w))",
    re.IGNORECASE,
)
_IS_OTHER = re.compile(
    r"\b(?:deposit|kaution|fees?|arrears|balance|past due|unpaid|penalty|donation|"
    r"(?:re)?connection|last (?:month|bill)|previous (?:month|bill))\b",
    re.IGNORECASE,
)


def without_stated(bills: Sequence[Bill], table: Table) -> list[Bill]:
    """Take money that the file itself says is not this period's out of the bills, and tell of it."""
    return [_without_noted(bill, table) for bill in _without_columns(bills, table)]


def _without_columns(bills: Sequence[Bill], table: Table) -> list[Bill]:
    """Leave out what is due where other columns say to the cent what is asked beside the charges."""
    apart = {
        bill.row: bill.amount_due - bill.amount
        for bill in bills
        if bill.amount_due is not None and bill.amount is not None
    }
    if not any(apart.values()) or any(bill.budget_amount is not None for bill in bills):
        return list(bills)
    rows = [row for row in table.rows if row.number in apart]
    columns: dict[str, list[Decimal]] = {}
    for name in table.unread[:MOST_COLUMNS]:
        at = table.names.index(name)
        cells = [row.values[at] if at < len(row.values) else None for row in rows]
        found = [0.0 if cell in (None, "", "-") else numbers.figure(cell, table.habits.decimal) for cell in cells]
        if any(found) and None not in found and not _DERIVED & set(tokens(name)):
            columns[name] = [Decimal(str(value)) for value in found]
    wanted = [apart[row.number] for row in rows]
    names = next((names for names, sums in _sums(columns) if _alike(sums, wanted)), None)
    if names is None:
        return list(bills)
    table.now_read(*names)
    table.read_as.append(f"what is asked beside the charges is {' and '.join(names)}, and nothing is to be settled")
    return [replace(bill, amount_due=None) if bill.row in apart else bill for bill in bills]


def _sums(columns: dict[str, list[Decimal]]) -> Iterator[tuple[tuple[str, ...], list[Decimal]]]:
    """Yield the sums of one to three columns, each added or taken away."""
    for many in range(1, MOST_TAKEN + 1):
        for names in combinations(columns, many):
            for signs in product((1, -1), repeat=many):
                yield (
                    names,
                    [
                        sum((sign * value for sign, value in zip(signs, values, strict=True)), Decimal(0))
                        for values in zip(*(columns[name] for name in names), strict=True)
                    ],
                )


def _alike(sums: Sequence[Decimal], wanted: Sequence[Decimal]) -> bool:
    return len(sums) == len(wanted) and all(abs(a - b) < PENNY for a, b in zip(sums, wanted, strict=True))


def _without_noted(bill: Bill, table: Table) -> Bill:
    """Take what the note says a bill holds beside electricity, as ``incl $150 deposit``, out of its amount."""
    found = _HOLDS.search(bill.note)
    if found is None or bill.amount is None or not _IS_OTHER.search(bill.note[found.start() :]):
        return bill
    value = numbers.figure(found["sum"].strip().rstrip(".,"), table.habits.decimal)
    held = Decimal(str(value or 0)).quantize(PENNY)
    due = bill.amount if bill.amount_due is None else bill.amount_due
    beside = due - bill.amount
    if not 0 < held < due or beside not in (0, held):
        return bill
    table.read_as.append(
        f"by the note of row {bill.row} ({bill.note[:60]}), {held} of it is not this period's electricity"
    )
    return replace(bill, amount=due - held, amount_due=None)


FEWEST_PAID = 3
"""Bills from which charges that are all below zero are rather payments than credits (our choice)."""


def paid_for(bills: list[Bill], table: Table) -> list[Bill]:
    """Turn charges that are below zero on every bill, and leave out what is due where it is nothing on every bill."""
    charged = [bill.amount for bill in bills if bill.amount is not None]
    used = all((bill.kwh or 0.0) >= 0.0 for bill in bills) and not table.has("received_kwh")
    if len(charged) >= FEWEST_PAID and max(charged) < 0 and used:
        table.read_as.append("amount is below zero on every bill: it is what was paid, and stands for the charges")
        return [replace(bill, amount=None if bill.amount is None else -bill.amount) for bill in bills]
    due = {bill.amount_due for bill in bills} - {None}
    if due != {Decimal(0)} or not any(bill.amount for bill in bills):
        return bills
    table.read_as.append("amount_due is nothing on every bill: they are paid, and it is left out")
    return [replace(bill, amount_due=None) for bill in bills]
