"""The account of a house in money: bills recomputed, why the money changed, and what is at stake."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from statistics import median
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reconcile.facts import Facts
from reconcile.house import House
from reconcile.money.bridge import Bridge, bridge
from reconcile.money.recompute import Recomputed, amount_of, printed_lines, recompute
from reconcile.money.stake import cost_of, disputed

Suspicion = tuple[str, Sequence[float], "float | NDArray[np.float64]", "float | NDArray[np.float64]"]
__all__ = ["Money", "account", "bridge", "cost_of", "disputed"]

CLEARLY_OVER = 0.15
"""Part of its usual energy from which a bill stands out clearly enough to ask why its money changed."""

SAME_SEASON_DAYS = 20
"""A bill is the same one of the year before if their middles are this close [d] (our choice)."""
MOVED_ONLY = ("estimated-read", "catch-up")
"""Findings whose energy is billed sooner or later, not too much."""
YEAR_DAYS = (345, 385)
"""Days that a year of bills may hold (our choice: reading days wander)."""


@dataclass(frozen=True, slots=True)
class Money:
    """Everything the answer says in money."""

    house: House
    recomputed: tuple[Recomputed, ...]
    bridge: Bridge | None
    disputed: dict[str, dict[str, Any]] = field(default_factory=dict)
    """By finding or cause: kWh and money at stake; see :func:`disputed`."""

    @property
    def notes(self) -> tuple[str, ...]:
        """Say why bills could not be recomputed."""
        reasons = Counter(r.why_not for r in self.recomputed if r.why_not)
        return tuple(
            f"{count} {'bill was' if count == 1 else 'bills were'} not recomputed: {why}."
            for why, count in reasons.items()
        )

    def disputing(self, facts: Facts, causes: Iterable[Suspicion]) -> Money:
        """Return the account with what each cause puts in dispute.

        Parameters
        ----------
        facts : Facts
        causes : iterable of (code, pattern_kwh, low, high)
            As :func:`disputed` takes them; a cause without a pattern is left out.
        """
        found = {
            code: disputed(self.house, facts, pattern, low, high) for code, pattern, low, high in causes if len(pattern)
        }
        return replace(self, disputed={**self.disputed, **found})

    def to_dict(self) -> dict[str, Any]:
        """Return the ``money`` part of ``result.json``."""
        return {
            "recomputed": [self._row(r) for r in self.recomputed if r.why_not is None],
            "bridge": None if self.bridge is None else self.bridge.to_dict(),
            "disputed": self.disputed,
            "notes": list(self.notes),
        }

    def _row(self, r: Recomputed) -> dict[str, Any]:
        return {
            "period": r.period,
            "billed": None if r.billed is None else float(r.billed),
            "ours": None if r.ours is None else float(r.ours),
            "difference": None if r.difference is None else float(r.difference),
            "lines": r.beside(printed_lines(self.house, self.house.bills[r.period])),
        }


def account(
    house: House,
    facts: Facts,
    weather_kwh: NDArray[np.float64] | None = None,
    usual_kwh: NDArray[np.float64] | None = None,
) -> Money | None:
    """Account for the money: recomputed bills, why the money changed, and what the findings put in dispute.

    Parameters
    ----------
    house : House
    facts : Facts
    weather_kwh : ndarray, shape (n,), optional
        Energy of each bill owed to heating and cooling [kWh].
    usual_kwh : ndarray, shape (n,), optional
        Usual energy of each bill [kWh], to pick the one that stands out.

    Returns
    -------
    Money or None
        None where neither an amount nor a tariff is given.
    """
    if not house.tariffs and all(amount_of(house, i) is None for i in range(len(house.bills))):
        return None
    recomputed = facts.recomputed
    if not recomputed and house.tariffs:
        recomputed = tuple(recompute(house, range(len(house.bills)), facts.billed_kwh.tolist()))
    pair = compared(house, facts, usual_kwh)
    made = None if pair is None else bridge(house, facts, *pair, weather_kwh)
    return Money(house, recomputed, made, _by_findings(facts))


def compared(
    house: House, facts: Facts, usual_kwh: NDArray[np.float64] | None = None
) -> tuple[list[int], list[int]] | None:
    """Choose the bills to compare.

    The latest year with the year before, where two years are there; else the bill that stands clearly out, or the one
    that rose most in a year, or the last one, with the same bill of the year before, or else with the one before it.
    """
    aside = facts.set_aside or {}
    usable = [
        i
        for i in range(len(house.bills))
        if i not in aside and np.isfinite(facts.billed_kwh[i]) and amount_of(house, i) is not None
    ]
    if len(usable) < 2:
        return None
    years = _two_years(house, usable)
    if years is not None:
        return years
    clear = _clearly_over(facts, usable, usual_kwh)
    apart = max(clear, key=lambda i: clear[i]) if clear else _rose_most(house, usable)
    return [_before(house, usable, apart, frozenset(clear))], [apart]


def _two_years(house: House, usable: Sequence[int]) -> tuple[list[int], list[int]] | None:
    days = [house.bills[i].days for i in usable]
    count = round(365.25 / median(days)) if median(days) > 0 else 0
    if count < 1 or len(usable) < 2 * count:
        return None
    earlier, later = list(usable[-2 * count : -count]), list(usable[-count:])
    lengths = [sum(house.bills[i].days for i in group) for group in (earlier, later)]
    return (earlier, later) if all(YEAR_DAYS[0] <= n <= YEAR_DAYS[1] for n in lengths) else None


def _clearly_over(facts: Facts, usable: Sequence[int], usual_kwh: NDArray[np.float64] | None) -> dict[int, float]:
    """Excess of the bills that stand clearly above their usual energy [kWh]."""
    if usual_kwh is None:
        return {}
    excess = {i: float(facts.billed_kwh[i] - usual_kwh[i]) for i in usable[1:] if np.isfinite(usual_kwh[i])}
    return {i: kwh for i, kwh in excess.items() if kwh > CLEARLY_OVER * usual_kwh[i]}


def _rose_most(house: House, usable: Sequence[int]) -> int:
    rises = {}
    for i in usable:
        before = _year_before(house, usable, i)
        here, there = amount_of(house, i), None if before is None else amount_of(house, before)
        if here is not None and there is not None:
            rises[i] = here - there
    return max(rises, key=lambda i: rises[i]) if rises else usable[-1]


def _year_before(house: House, usable: Sequence[int], i: int) -> int | None:
    bill = house.bills[i]
    middle = bill.start.toordinal() + bill.days / 2 - 365.25
    last_year = [
        j
        for j in usable
        if abs(house.bills[j].start.toordinal() + house.bills[j].days / 2 - middle) <= SAME_SEASON_DAYS
    ]
    return last_year[-1] if last_year else None


def _before(house: House, usable: Sequence[int], i: int, clear: frozenset[int]) -> int:
    """The same bill of the year before, else the last one before it that does not stand out itself."""
    last_year = _year_before(house, usable, i)
    if last_year is not None and last_year not in clear:
        return last_year
    earlier = [j for j in usable if j < i]
    calm = [j for j in earlier if j not in clear]
    return calm[-1] if calm else earlier[-1] if earlier else usable[1]


def _by_findings(facts: Facts) -> dict[str, dict[str, Any]]:
    """Energy and money of the findings that by themselves can account for a high bill, one entry a code."""
    out: dict[str, dict[str, Any]] = {}
    for f in facts.findings:
        if not f.settles or f.kwh is None or f.code in MOVED_ONLY:
            continue
        entry = out.setdefault(f.code, {"periods": [], "kwh": 0.0, "amount": 0.0})
        entry["periods"] = sorted({*entry["periods"], *f.periods})
        entry["kwh"] += f.kwh
        known = entry["amount"] is not None and f.amount is not None
        entry["amount"] = round(entry["amount"] + float(f.amount or 0), 2) if known else None
    return out
