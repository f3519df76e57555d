"""What some of a bill's kilowatt-hours cost: the bill less the bill without them, by the tariff as typed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal

from reconcile.house import House
from reconcile.money.recompute import decimal, use_of
from reconcile.money.tariff_lines import CannotPrice, Use, WindowKwh, price_bill, total
from reconcile.tariff import Charge


def marginal(house: House, i: int, billed: float, kwh: float, whole: Decimal | None = None) -> Decimal | None:
    """Money that ``kwh`` of a bill's ``billed`` kWh cost by the tariff as typed; ``whole`` is what all of them cost.

    Energy by time of day is taken out of every window in proportion. None where the tariff cannot be applied.
    """
    try:
        full = use_of(house, house.bills[i], billed)
        left = full.kwh - decimal(kwh)
        rest = replace(full, kwh=left, window_kwh=_scaled(full, left))
        whole = total(price_bill(house.tariffs, full)) if whole is None else whole
        return whole - total(price_bill(house.tariffs, rest))
    except CannotPrice:
        return None


def _scaled(use: Use, kwh: Decimal) -> WindowKwh | None:
    whole = use.window_kwh
    if whole is None or use.kwh == 0:
        return whole

    def divide(charge: Charge, start: date, end: date) -> Sequence[Decimal] | None:
        energies = whole(charge, start, end)
        return None if energies is None else [e * kwh / use.kwh for e in energies]

    return divide
