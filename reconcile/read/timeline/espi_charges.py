"""Money in ESPI data (NAESB REQ.21): whole hundred-thousandths of the currency, and the kinds of a bill's
lines.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Literal

from reconcile.house import ChargeLine
from reconcile.money.tariff_lines import cents

ITEM_KINDS: dict[int, tuple[str, Literal["supply", "delivery", "other"]] | None] = {
    1: ("Generation fee", "supply"),
    2: ("Delivery fee", "delivery"),
    3: ("Usage fee", "other"),
    4: ("Administration fee", "other"),
    5: ("Tax", "other"),
    6: ("Credit", "other"),
    7: ("Credit", "other"),
    8: ("Credit", "other"),
    9: None,
    10: None,
}
"""``itemKind`` of a line (usage.xsd of REQ.21 3.3); payments (9) and information (10) are no charges."""


def espi_money(value: int) -> Decimal:
    """Return an ESPI amount in the currency itself.

    Examples
    --------
    >>> espi_money(17155000)
    Decimal('171.55000')
    """
    return Decimal(value).scaleb(-5)


def espi_charges(start: date, items: Iterable[tuple[int, int, str]]) -> tuple[ChargeLine, ...]:
    """Return charge lines from (itemKind, amount in 1e-5, note) of one bill, each rounded half up to the
    cent.

    Raises
    ------
    ValueError
        Where an item's kind is not in the schema.

    Examples
    --------
    >>> [(c.name, c.amount) for c in espi_charges(date(2025, 1, 1), [(2, 2612500, ""), (9, -100, "paid")])]
    [('Delivery fee', Decimal('26.13'))]
    """
    out = []
    for kind, amount, note in items:
        if kind not in ITEM_KINDS:
            raise ValueError(f"itemKind {kind} is not in the schema; it knows 1 to 10")
        known = ITEM_KINDS[kind]
        if known is not None:
            out.append(ChargeLine(start, note or known[0], cents(espi_money(amount)), part=known[1]))
    return tuple(out)
