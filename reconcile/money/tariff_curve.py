"""A bill's prices as a function of its days and its use, for asking what if.

Taxes and riders in percent multiply the lines below them, so a bill is a sum of terms, each with one weight.
Nothing is rounded here: :mod:`reconcile.money.tariff_lines` makes the bill to the cent.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from reconcile.house.tariff import Tariff
from reconcile.money.tariff_lines import Use, price_bill
from reconcile.money.tariff_parts import Part, parts_of
from reconcile.records import dataclass

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Drawn:
    """What one bill is charged for: its length and its use."""

    days: Decimal
    kwh: Decimal
    kw: Decimal = ZERO
    exported_kwh: Decimal = ZERO


@dataclass(frozen=True, slots=True)
class _Blocks:
    """Prices by block in one part of the bill, ``share`` of its days."""

    weight: Decimal
    share: Decimal
    per_day: bool
    limits: tuple[tuple[Decimal | None, Decimal], ...]

    def cost(self, drawn: Drawn) -> Decimal:
        kwh = drawn.kwh * self.share
        size = drawn.days * self.share if self.per_day else self.share
        below, out = ZERO, ZERO
        for limit, price in self.limits:
            top = kwh if limit is None else min(kwh, limit * size)
            out += (top - below) * price
            if limit is None or kwh <= limit * size:
                break
            below = top
        return out * self.weight


@dataclass(frozen=True, slots=True)
class Curve:
    """Prices of one bill: fixed money, and money for use."""

    per_bill: Decimal = ZERO
    per_day: Decimal = ZERO
    per_kwh: Decimal = ZERO
    per_kw: Decimal = ZERO
    per_exported_kwh: Decimal = ZERO
    blocks: tuple[_Blocks, ...] = ()

    def fixed(self, days: Decimal) -> Decimal:
        """Money that does not hang on use."""
        return self.per_bill + self.per_day * days

    def energy(self, drawn: Drawn) -> Decimal:
        """Money for use."""
        return (
            self.per_kwh * drawn.kwh
            + self.per_kw * drawn.kw
            + self.per_exported_kwh * drawn.exported_kwh
            + sum((b.cost(drawn) for b in self.blocks), start=ZERO)
        )


def curve_of(tariffs: Sequence[Tariff], use: Use) -> Curve | None:
    """Return the prices of one bill as typed; None where no tariff holds.

    Raises
    ------
    CannotPrice
        Where it charges for what is not known.
    """
    charges = parts_of(tariffs, use.start, use.end, use.bill_date)
    if not charges:
        return None
    weights = _weights(charges)
    sums = {"per_bill": ZERO, "per_day": ZERO, "per_kwh": ZERO, "per_kw": ZERO, "export_credit_per_kwh": ZERO}
    blocks: list[_Blocks] = []
    for parts in charges:
        for part in parts:
            charge = part.charge
            weight = weights[charge.name]
            share = Decimal(1) if part.whole else Decimal(part.days) / use.days
            if charge.basis == "blocks":
                limits = tuple((b.up_to, b.price) for b in charge.blocks)
                blocks.append(_Blocks(weight, share, charge.blocks_per == "day", limits))
            elif charge.basis == "windows":
                sums["per_kwh"] += weight * _mean_price(part, use)
            elif charge.basis != "percent":
                sign = -1 if charge.basis == "export_credit_per_kwh" else 1
                sums[charge.basis] += sign * weight * share * (part.price or ZERO)
    return Curve(
        sums["per_bill"],
        sums["per_day"],
        sums["per_kwh"],
        sums["per_kw"],
        sums["export_credit_per_kwh"],
        tuple(blocks),
    )


def _weights(charges: list[list[Part]]) -> dict[str, Decimal]:
    """By how much percentages multiply each line: one and its own percentages, and theirs in turn."""
    weights: dict[str, Decimal] = {}
    for k in range(len(charges) - 1, -1, -1):
        name = charges[k][0].charge.name
        weight = Decimal(1)
        for later in charges[k + 1 :]:
            if later[0].charge.basis == "percent":
                weight += _mean_percent(later, name) * weights[later[0].charge.name]
        weights[name] = weight
    return weights


def _mean_percent(parts: list[Part], name: str) -> Decimal:
    days = sum(p.days for p in parts)
    return sum(
        (
            (p.price or ZERO) / 100 * p.days / days
            for p in parts
            if p.charge.on is None or name.casefold() in {n.casefold() for n in p.charge.on}
        ),
        start=ZERO,
    )


def _mean_price(part: Part, use: Use) -> Decimal:
    """Price a kWh of the whole bill at the bill's own division among the windows."""
    lines = price_bill(
        [Tariff(part.start, (part.charge,), None)],
        Use(part.start, part.end, use.kwh, window_kwh=use.window_kwh),
    )
    if not use.kwh:
        return ZERO
    return sum((line.quantity * line.rate for line in lines), start=ZERO) / use.kwh
