"""Printed lines that are not this period's electricity."""

from __future__ import annotations

from decimal import Decimal

from reconcile.house import ChargeLine, House

NOT_THIS_PERIOD = (
    "arrears",
    "previous balance",
    "balance forward",
    "past due",
    "deposit",
    "late",
    "reconnect",
    "budget",
    "instalment",
    "installment",
    "settlement",
    "water",
    "sewer",
    "trash",
    "refuse",
    "internet",
    "donation",
    "protection plan",
)
"""Words in a charge's name that tell of money which is not this period's electricity (our list, no
source)."""


def is_apart(line: ChargeLine) -> bool:
    """Whether a printed line is not this period's electricity, by its name."""
    name = line.name.casefold()
    return any(word in name for word in NOT_THIS_PERIOD)


def fixed_known(house: House, i: int) -> Decimal:
    """Money of a bill that its printed lines show not to hang on use: those without kWh, taxes apart."""
    return sum(
        (
            line.amount
            for line in house.charges
            if line.start == house.bills[i].start
            and line.quantity is None
            and not is_apart(line)
            and not _is_tax(line.name)
        ),
        start=Decimal(0),
    )


def _is_tax(name: str) -> bool:
    return any(word in name.casefold() for word in ("tax", "vat", "%"))
