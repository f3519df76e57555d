"""What is at stake: kilowatt-hours in money, for a finding or for a cause, with its limits."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import numpy as np

from reconcile.array_types import Floats
from reconcile.facts import Facts, Finding, only_moves
from reconcile.house import House
from reconcile.house.tariff import Charge
from reconcile.money.own_prices import OwnPrice, fixed_of
from reconcile.money.recompute import amount_of, decimal, use_of
from reconcile.money.tariff_lines import CannotPrice, Use, WindowKwh, cents, price_bill, sum_if_known, total
from reconcile.records import dataclass

PRICED = (
    *("estimated-read", "catch-up", "reading-mismatch", "reading-slip", "multiplier", "gap", "overlap"),
    *("long-period", "short-period", "stopped-register", "unit-price", "meter-test"),
)
"""Findings whose kWh are worth their price in money."""
MOVED_ONLY = ("estimated-read", "catch-up")
"""Findings whose energy is billed sooner or later, not too much."""
EITHER = ("unit-price",)
"""Findings of two figures of one bill of which either may be wrong: nothing is said to be charged too much by them."""


def cost_of(house: House, facts: Facts, period: int, kwh: float) -> Decimal | None:
    """Money that ``kwh`` of the period's energy cost: the bill less the bill without them.

    By the tariff as typed (blocks, riders and taxes included), else by the bill's own average price, its fixed money
    apart: printed lines, or what the bills' own money shows.

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
    whole = next((r.ours for r in facts.recomputed if r.period == period), None)
    return _cost(house, facts.own_prices, float(facts.paid_kwh[period]), period, float(kwh), whole)


def _cost(
    house: House, prices: Sequence[OwnPrice], billed: float, period: int, kwh: float, whole: Decimal | None = None
) -> Decimal | None:
    if not (math.isfinite(billed) and math.isfinite(kwh)):
        return None
    if kwh == 0.0 and (whole is not None or house.bills[period].amount is not None):
        return Decimal("0.00")
    if house.tariffs:
        by_tariff = marginal(house, period, billed, kwh, whole)
        if by_tariff is not None:
            return by_tariff
    amount = amount_of(house, period)
    if amount is None or not billed > 0:
        return None
    return cents((amount - fixed_of(house, prices, period)) * Decimal(repr(kwh)) / Decimal(repr(billed)))


def with_money(house: House, prices: Sequence[OwnPrice], billed_kwh: Sequence[float], finding: Finding) -> Finding:
    """Give a finding the money of its kWh, where that is known and it has none."""
    if finding.kwh is None or finding.amount is not None or finding.code not in PRICED or not finding.periods:
        return finding
    parts = _shares(billed_kwh, finding)
    amount = sum_if_known(_cost(house, prices, billed_kwh[i], i, share) for i, share in parts.items())
    return finding if amount is None else replace(finding, amount=amount)


def _shares(billed_kwh: Sequence[float], finding: Finding) -> dict[int, float]:
    """Share a finding's kWh among its periods, by their energy; a pair's belong to the larger bill."""
    kwh = finding.kwh or 0.0
    energies = {i: billed_kwh[i] for i in finding.periods if billed_kwh[i] > 0}
    if not energies or len(finding.periods) <= 2:
        return {max(finding.periods, key=lambda i: (billed_kwh[i] > 0, billed_kwh[i])): kwh}
    total = sum(energies.values())
    return {i: kwh * e / total for i, e in energies.items()}


@dataclass(frozen=True, slots=True)
class Suspicion:
    """A cause, as far as money is concerned.

    Attributes
    ----------
    code : str
    probability : float
    pattern_kwh : sequence of float
        Energy of each bill owed to the cause [kWh].
    low, high : float
        Limits of its size, as factors of the pattern.
    """

    code: str
    probability: float
    pattern_kwh: Sequence[float] | Floats
    low: float = 1.0
    high: float = 1.0


@dataclass(frozen=True, slots=True)
class Stake:
    """Energy and money that hang on one finding or one cause.

    Attributes
    ----------
    code : str
    probability : float or None
        Chance of the cause; None for a finding, which is a fact.
    periods : tuple of int
    kwh : float
        Energy [kWh]; too much billed is positive.
    amount : Decimal or None
        The same in money; None where a bill's price is not known.
    kwh_limits : tuple of float or None
    amount_limits : tuple of Decimal or None
        The same at the limits of the cause's size; None for a finding.
    """

    code: str
    probability: float | None
    periods: tuple[int, ...]
    kwh: float
    amount: Decimal | None
    kwh_limits: tuple[float, float] | None = None
    amount_limits: tuple[Decimal, Decimal] | None = None

    @property
    def billed_short(self) -> bool:
        """Whether a cause would have billed too little: nothing for the customer to dispute."""
        return self.probability is not None and self.kwh < 0.0

    @property
    def weight(self) -> tuple[float, float]:
        """Order of what is at stake: the money times its chance, a fact's in full; then the energy likewise."""
        chance = 1.0 if self.probability is None else self.probability
        return (chance * abs(float(self.amount or 0)), chance * abs(self.kwh))

    def to_dict(self) -> dict[str, Any]:
        """Return one entry of ``money.disputed``."""
        out: dict[str, Any] = {
            "rests_on": "finding" if self.probability is None else "cause",
            "probability": self.probability,
            "periods": list(self.periods),
            "kwh": self.kwh,
            "amount": None if self.amount is None else float(self.amount),
        }
        if self.kwh_limits is not None:
            out["kwh_low"], out["kwh_high"] = self.kwh_limits
            limits = self.amount_limits or (None, None)
            out["amount_low"], out["amount_high"] = (None if a is None else float(a) for a in limits)
        return out


def at_stake(stakes: Iterable[Stake]) -> tuple[Stake, ...]:
    """Put what is at stake in order, the most first: money times its chance, a fact's in full."""
    return tuple(sorted(stakes, key=lambda s: s.weight, reverse=True))


def of_cause(house: House, facts: Facts, cause: Suspicion) -> Stake:
    """Energy and money a cause would account for, with their limits."""
    middle = np.asarray(cause.pattern_kwh, dtype=float)
    periods = tuple(int(i) for i in np.flatnonzero(np.abs(middle) >= 0.5))
    low, high = sorted((cause.low, cause.high))
    ends = [_money(house, facts, periods, factor * middle) for factor in (low, high)]
    known = [a for a in ends if a is not None]
    total = float(middle.sum())
    total = total if abs(total) > 1e-6 else 0.0  # use moved between two bills is no energy, on neither side
    return Stake(
        code=cause.code,
        probability=cause.probability,
        periods=periods,
        kwh=total,
        amount=_money(house, facts, periods, middle),
        kwh_limits=(min(low * total, high * total), max(low * total, high * total)),
        amount_limits=(min(known), max(known)) if len(known) == 2 else None,
    )


def mean_of(several: Sequence[Stake]) -> Stake:
    """Return the mean of what causes that exclude one another would account for, each by its chance.

    Parameters
    ----------
    several : sequence of Stake
        At least one.

    Returns
    -------
    Stake
        Of the likeliest's code, with the outermost of their limits.

    Examples
    --------
    >>> one = Stake("meter-step", 0.75, (2,), 100.0, Decimal(20), (80.0, 120.0))
    >>> both = mean_of([one, Stake("meter-always", 0.25, (1, 2), 300.0, Decimal(60), (200.0, 400.0))])
    >>> both.kwh, both.amount, both.kwh_limits
    (150.0, Decimal('30.00'), (80.0, 400.0))
    """
    chances = [stake.probability or 0.0 for stake in several]
    total = sum(chances) or 1.0
    ends = [end for stake in several for end in stake.kwh_limits or (stake.kwh, stake.kwh)]
    return Stake(
        code=max(several, key=lambda stake: stake.probability or 0.0).code,
        probability=min(total, 1.0),
        periods=tuple(sorted({at for stake in several for at in stake.periods})),
        kwh=sum(chance / total * stake.kwh for chance, stake in zip(chances, several, strict=True)),
        amount=sum_if_known(
            None if stake.amount is None else Decimal(repr(chance / total)) * stake.amount
            for chance, stake in zip(chances, several, strict=True)
        ),
        kwh_limits=(min(ends), max(ends)),
    )


def _money(house: House, facts: Facts, periods: Sequence[int], kwh: Floats) -> Decimal | None:
    return sum_if_known(cost_of(house, facts, i, float(kwh[i])) for i in periods)


def of_findings(facts: Facts) -> list[Stake]:
    """Energy and money of the findings that by themselves can account for a high bill, one stake a code."""
    groups: dict[str, list[Finding]] = {}
    for f in facts.findings:
        no_stake = f.code in (*MOVED_ONLY, *EITHER) or only_moves(f)
        if f.settles and f.kwh is not None and not no_stake and f.figures.get("paid") != "other":
            groups.setdefault(f.code, []).append(f)
    out = []
    for code, group in groups.items():
        out.append(
            Stake(
                code=code,
                probability=None,
                periods=tuple(sorted({i for f in group for i in f.periods})),
                kwh=sum(f.kwh for f in group if f.kwh is not None),
                amount=sum_if_known(f.amount for f in group),
            )
        )
    return out


def marginal(house: House, i: int, billed: float, kwh: float, whole: Decimal | None = None) -> Decimal | None:
    """Money that ``kwh`` of a bill's ``billed`` kWh cost by the tariff as typed; ``whole`` is what all of them cost.

    Energy by time of day is taken out of every window in proportion. None where the tariff cannot be applied.
    """
    try:
        full = use_of(house, house.bills[i], billed)
        left = full.kwh - decimal(kwh)
        scaled = _scaled(full, left)
        rest = Use(full.start, full.end, left, full.bill_date, full.demand_kw, full.exported_kwh, scaled)
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
