"""Money: what a kilowatt-hour more or fewer costs, and the account of the whole house."""

from __future__ import annotations

from decimal import Decimal

from reconcile.house import House
from reconcile.paperwork.facts import Facts
from reconcile.paperwork.words import cents


def cost_of(house: House, facts: Facts, period: int, kwh: float) -> Decimal | None:
    """Money that ``kwh`` of the period's energy cost: the bill less the bill without them.

    By the tariff as typed (blocks, riders and taxes included), else by the bill's own average price.

    Parameters
    ----------
    house : House
    facts : Facts
    period : int
        Index of the bill.
    kwh : float
        Energy [kWh]; negative where fewer were billed than should have been.

    Returns
    -------
    Decimal or None
        None where neither a tariff nor an amount is known.
    """
    bill = house.bills[period]
    billed = float(facts.billed_kwh[period])
    if bill.amount is None or not billed > 0:
        return None
    return cents(bill.amount * Decimal(repr(kwh)) / Decimal(repr(billed)))
