"""Printed lines that are not this period's electricity."""

from __future__ import annotations

from reconcile.house import ChargeLine

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
