"""What is at stake: kilowatt-hours in money, for a finding or for a cause, with its limits."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reconcile.facts import Facts, Finding
from reconcile.house import House
from reconcile.ledger_words import cents
from reconcile.money.bridge import fixed_known
from reconcile.money.marginal import marginal
from reconcile.money.recompute import amount_of

PRICED = (
    "estimated-read",
    "catch-up",
    "reading-mismatch",
    "reading-slip",
    "multiplier",
    "gap",
    "overlap",
    "long-period",
    "short-period",
    "stopped-register",
    "unit-price",
)
"""Findings whose kWh are worth their price in money."""


def cost_of(house: House, facts: Facts, period: int, kwh: float) -> Decimal | None:
    """Money that ``kwh`` of the period's energy cost: the bill less the bill without them.

    By the tariff as typed (blocks, riders and taxes included), else by the bill's own average price, its
    printed fixed lines apart.

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
    return _cost(house, float(facts.billed_kwh[period]), period, float(kwh), whole)


def _cost(house: House, billed: float, period: int, kwh: float, whole: Decimal | None = None) -> Decimal | None:
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
    return cents((amount - fixed_known(house, period)) * Decimal(repr(kwh)) / Decimal(repr(billed)))


def with_money(house: House, billed_kwh: Sequence[float], finding: Finding) -> Finding:
    """Give a finding the money of its kWh, where that is known and it has none."""
    if finding.kwh is None or finding.amount is not None or finding.code not in PRICED or not finding.periods:
        return finding
    parts = _shares(billed_kwh, finding)
    costs = [_cost(house, billed_kwh[i], i, share) for i, share in parts.items()]
    known = [c for c in costs if c is not None]
    if len(known) < len(costs):
        return finding
    return replace(finding, amount=sum(known, start=Decimal(0)))


def _shares(billed_kwh: Sequence[float], finding: Finding) -> dict[int, float]:
    """Share a finding's kWh among its periods, by their energy; a pair's belong to the larger bill."""
    kwh = finding.kwh or 0.0
    energies = {i: billed_kwh[i] for i in finding.periods if billed_kwh[i] > 0}
    if not energies or len(finding.periods) <= 2:
        return {max(finding.periods, key=lambda i: (billed_kwh[i] > 0, billed_kwh[i])): kwh}
    total = sum(energies.values())
    return {i: kwh * e / total for i, e in energies.items()}


def disputed(
    house: House,
    facts: Facts,
    pattern_kwh: NDArray[np.float64] | Sequence[float],
    low: float | NDArray[np.float64],
    high: float | NDArray[np.float64],
) -> dict[str, Any]:
    """Energy and money a cause would account for, with their limits.

    Parameters
    ----------
    house : House
    facts : Facts
    pattern_kwh : array_like, shape (n,)
        Energy of each bill owed to the cause [kWh].
    low, high : float or ndarray, shape (n,)
        The same at the limits of its size: arrays [kWh], or factors of ``pattern_kwh``.

    Returns
    -------
    dict
        ``kwh``, ``kwh_low``, ``kwh_high``, ``amount``, ``amount_low``, ``amount_high`` (None where a bill's
        price is not known), and the ``periods`` it touches.
    """
    middle = np.asarray(pattern_kwh, dtype=float)
    ends = [e * middle if np.ndim(e) == 0 else np.asarray(e, dtype=float) for e in (low, high)]
    out: dict[str, Any] = {"periods": [int(i) for i in np.flatnonzero(np.abs(middle) >= 0.5)]}
    for suffix, energy in (("", middle), ("_low", ends[0]), ("_high", ends[1])):
        out[f"kwh{suffix}"] = float(energy.sum())
        amounts = [cost_of(house, facts, i, float(energy[i])) for i in out["periods"]]
        known = [a for a in amounts if a is not None]
        out[f"amount{suffix}"] = float(sum(known, start=Decimal(0))) if len(known) == len(amounts) else None
    return out
