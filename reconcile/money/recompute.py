"""Every bill recomputed by the tariff as typed, beside what the utility asks."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field
from decimal import Decimal
from typing import Any

from reconcile.house import Bill, ChargeLine, House
from reconcile.money.tariff_lines import CannotPrice, Line, Missing, Use, price_bill, total
from reconcile.money.tariff_windows import window_kwh
from reconcile.records import dataclass


@dataclass(frozen=True, slots=True)
class Recomputed:
    """One bill by the tariff as typed. ``lines`` is empty where ``why_not`` says what is missing, else ``ours`` their
    total.
    """

    period: int
    lines: tuple[Line, ...]
    billed: Decimal | None
    why_not: Missing | None = None
    ours: Decimal | None = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "ours", None if self.why_not else total(self.lines))

    @property
    def difference(self) -> Decimal | None:
        """What the utility asks less ours."""
        ours = self.ours
        return None if ours is None or self.billed is None else self.billed - ours

    def beside(self, printed: dict[str, Decimal]) -> list[dict[str, Any]]:
        """Our lines beside the printed ones of the same name (``printed``, by name in lower case)."""
        rows: list[dict[str, Any]] = []
        for charge in dict.fromkeys(line.charge for line in self.lines):
            own = [line for line in self.lines if line.charge == charge]
            theirs = printed.get(charge.casefold())
            for line in own:
                rows.append(
                    {
                        "name": line.name,
                        "kind": line.kind,
                        "quantity": float(line.quantity),
                        "unit": line.unit,
                        "rate": float(line.rate),
                        "ours": float(line.amount),
                        "billed": float(theirs) if theirs is not None and len(own) == 1 else None,
                    }
                )
            if theirs is not None and len(own) > 1:
                ours = float(total(own))
                rows.append(
                    {
                        "name": f"{charge}, together",
                        "kind": "sum",
                        "quantity": None,
                        "unit": "",
                        "rate": None,
                        "ours": ours,
                        "billed": float(theirs),
                    }
                )
        return rows


def amount_of(house: House, i: int) -> Decimal | None:
    """Money of a bill's electricity: its ``amount``, else the sum of its printed lines, other money apart."""
    bill = house.bills[i]
    if bill.amount is not None:
        return bill.amount
    lines = [line.amount for line in house.charges if line.start == bill.start and not is_apart(line)]
    return sum(lines, start=Decimal(0)) if lines else None


def decimal(value: float) -> Decimal:
    """Return a float as the Decimal that is typed for it."""
    return Decimal(repr(value))


def use_of(house: House, bill: Bill, kwh: float) -> Use:
    """Return what a bill charges for: what came in and what went out apart where a tariff credits it."""
    bases = {charge.basis for tariff in house.tariffs for charge in tariff.charges}
    exported = bill.received_kwh
    drawn = bill.delivered_kwh if "export_credit_per_kwh" in bases and bill.delivered_kwh is not None else kwh
    return Use(
        start=bill.start,
        end=bill.closes,
        kwh=decimal(drawn),
        bill_date=bill.bill_date,
        demand_kw=None if bill.demand_kw is None else decimal(bill.demand_kw),
        exported_kwh=None if exported is None else decimal(exported),
        window_kwh=window_kwh(house, bill, drawn) if "windows" in bases else None,
    )


def recompute(house: House, periods: Sequence[int], kwh: Sequence[float]) -> list[Recomputed]:
    """Recompute the bills ``periods``; ``kwh`` runs over all bills."""
    if not house.tariffs:
        return []
    out = []
    for i in periods:
        bill = house.bills[i]
        if math.isnan(kwh[i]):
            out.append(Recomputed(i, (), amount_of(house, i), Missing("no-energy")))
            continue
        try:
            out.append(Recomputed(i, price_bill(house.tariffs, use_of(house, bill, kwh[i])), amount_of(house, i)))
        except CannotPrice as reason:
            out.append(Recomputed(i, (), amount_of(house, i), reason.missing))
    return out


def printed_lines(house: House, bill: Bill) -> dict[str, Decimal]:
    """Return the printed charge lines of a bill, by name in lower case."""
    out: dict[str, Decimal] = {}
    for line in house.charges:
        if line.start == bill.start:
            key = line.name.casefold()
            out[key] = out.get(key, Decimal(0)) + line.amount
    return out


NOT_THIS_PERIOD = (
    *("arrears", "previous balance", "balance forward", "past due", "deposit", "late", "reconnect"),
    *("budget", "instalment", "installment", "settlement", "donation", "protection plan"),
    *("water", "sewer", "trash", "refuse", "internet"),
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
