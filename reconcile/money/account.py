"""The account of a house in money: bills recomputed, why the money changed, and what is at stake."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from statistics import median
from typing import TYPE_CHECKING, Any

import numpy as np

from reconcile.array_types import Floats
from reconcile.facts import Facts
from reconcile.house import House
from reconcile.money.bridge import Bridge, bridge
from reconcile.money.own_prices import OwnPrice
from reconcile.money.recompute import Recomputed, amount_of, printed_lines, recompute
from reconcile.money.refund import MeterError, Refund, refunds
from reconcile.money.stake import Stake, Suspicion, at_stake, of_cause, of_findings
from reconcile.records import dataclass

if TYPE_CHECKING:
    from reconcile.say import Voice


SAME_SEASON_DAYS = 25
"""A bill is the same one of the year before if their middles are this close [d] (our choice)."""
GOOD_PART = Decimal("0.5")
"""Part of the largest rise in a year from which the dearer bill is the one to compare (our choice)."""
OTHER_MONEY = (
    "other-charge/arrears", "other-charge/off-line", "other-charge/within", "unit-mismatch",
    "unit-price/double", "unit-price/half", "unit-price/kwh", "unit-price/amount",
)  # fmt: skip
"""Findings of single bills whose money is not what their kWh cost: beside others they would pass for another price."""
YEAR_DAYS = (345, 385)
"""Days that a year of bills may hold (our choice: reading days wander)."""


@dataclass(frozen=True, slots=True)
class Money:
    """Everything the answer says in money."""

    house: House
    recomputed: tuple[Recomputed, ...]
    bridge: Bridge | None
    stakes: tuple[Stake, ...] = ()
    """What hangs on each finding and cause, the most first (:func:`reconcile.money.stake.at_stake`)."""

    refunds: tuple[Refund, ...] = ()
    """What published rules would give for a meter that a test found wrong, the least first."""

    supposed: tuple[Refund, ...] = ()
    """The same, were a test to find what the bills suggest."""

    own_prices: tuple[OwnPrice, ...] = ()
    """Without a tariff, the prices that the bills' own money shows."""

    def __repr__(self) -> str:
        told = f"{len(self.recomputed)} bills recomputed, {len(self.stakes)} amounts at issue"
        return f"<Money of {self.house.name!r}: {told}, {len(self.refunds)} refunds>"

    def refunding(self, facts: Facts, registration_percent: float) -> Money:
        """Return the account with what rules would give for a meter that a test found wrong.

        The time since the last test is not known here: it is taken to begin with the meter, where an exchange is
        known, else with the bills; and the day of the test is taken as the end of the bills.

        Parameters
        ----------
        registration_percent : float
            As tested [%]; 100 is right, above is fast.
        """
        begins = [x.day for x in facts.exchanges] or [min(b.start for b in self.house.bills)]
        ends = max(b.closes for b in self.house.bills)
        if not begins[-1] < ends or not registration_percent > 0:
            return self
        error = MeterError(registration_percent, ends, last_test=begins[-1])
        return replace(self, refunds=refunds(self.house, facts, error))

    def disputing(self, facts: Facts, causes: Iterable[Suspicion]) -> Money:
        """Return the account with what hangs on each cause; a cause without a pattern is left out."""
        found = [of_cause(self.house, facts, cause) for cause in causes if any(cause.pattern_kwh)]
        return replace(self, stakes=at_stake([*self.stakes, *found]))

    def supposing(self, facts: Facts, percent: float | None) -> Money:
        """Return the account with what rules would give if a test found the meter to register so, as the bills suggest.

        Parameters
        ----------
        percent : float or None
            Supposed registration [%]; None where the bills suggest none.
        """
        return replace(self, supposed=() if percent is None else self.refunding(facts, percent).refunds)

    def to_dict(self, voice: Voice) -> dict[str, Any]:
        """Return the ``money`` part of ``result.json``."""
        from reconcile.texts.money import bridge_sentence, notes, refunds_text

        told = None
        if self.bridge is not None:
            told = {**self.bridge.to_dict(), "sentence": bridge_sentence(self.bridge, voice)}
        return {
            "recomputed": [self._row(r) for r in self.recomputed if r.why_not is None],
            "bridge": told,
            "own_prices": [price.to_dict() for price in self.own_prices],
            "disputed": {stake.code: stake.to_dict() for stake in self.stakes if not stake.billed_short},
            "short": {stake.code: stake.to_dict() for stake in self.stakes if stake.billed_short},
            "refunds": [one.to_dict() for one in self.refunds],
            "supposed": [one.to_dict() for one in self.supposed],
            "notes": [text for text in (*notes(self.recomputed), refunds_text(self.refunds, voice)) if text],
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
    house: House, facts: Facts, weather_kwh: Floats | None = None, excess_kwh: Floats | None = None
) -> Money | None:
    """Account for the money: recomputed bills, why the money changed, and what hangs on the findings.

    Parameters
    ----------
    house : House
    facts : Facts
    weather_kwh : ndarray, shape (n,), optional
        Energy of each bill owed to heating and cooling [kWh].
    excess_kwh : ndarray, shape (n,), optional
        Billed less usual energy of the bills that the answer calls over or under, 0 for the others [kWh].

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
    pair = compared(house, facts, excess_kwh)
    made = None if pair is None else bridge(house, facts, *pair, weather_kwh, excess_kwh)
    return Money(house, recomputed, made, at_stake(of_findings(facts)), own_prices=facts.own_prices)


def compared(house: House, facts: Facts, excess_kwh: Floats | None = None) -> tuple[list[int], list[int]] | None:
    """Choose the bills to compare.

    The latest year with the year before, where two years are there; else the bill that is most over, or the dearest
    one that rose by a good part of the most that any rose in a year, or the last one, with the same bill of the year
    before, or else with the one before it.
    """
    aside = {*(facts.set_aside or {}), *(i for f in facts.findings if f.key in OTHER_MONEY for i in f.periods)}
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
    over = {} if excess_kwh is None else {i: float(excess_kwh[i]) for i in usable[1:] if excess_kwh[i] > 0}
    same_season = _year_before(house, usable)
    apart = _over_most(house, same_season, over) if over else _rose_most(house, same_season)
    return [_before(same_season, apart, over)], [apart]


def _over_most(house: House, same_season: dict[int, int | None], over: dict[int, float]) -> int:
    """The bill most over among those dearer than what they are compared with, of the same season where one can be."""
    dearer = [
        i for i in over if (amount_of(house, i) or 0) > (amount_of(house, _before(same_season, i, over)) or 0)
    ]  # fmt: skip
    in_season = [i for i in dearer if same_season[i] not in (None, *over)]
    return max(in_season or dearer or over, key=lambda i: over[i])


def _two_years(house: House, usable: Sequence[int]) -> tuple[list[int], list[int]] | None:
    days = [house.bills[i].days for i in usable]
    count = round(365.25 / median(days)) if median(days) > 0 else 0
    if count < 1 or len(usable) < 2 * count:
        return None
    earlier, later = list(usable[-2 * count : -count]), list(usable[-count:])
    lengths = [sum(house.bills[i].days for i in group) for group in (earlier, later)]
    return (earlier, later) if all(YEAR_DAYS[0] <= n <= YEAR_DAYS[1] for n in lengths) else None


def _rose_most(house: House, same_season: dict[int, int | None]) -> int:
    """The dearest bill among those that rose by a good part of the most that any rose: the one people ask about."""
    rises, asked = {}, {}
    for i, before in same_season.items():
        here, there = amount_of(house, i), None if before is None else amount_of(house, before)
        if here is not None and there is not None:
            rises[i], asked[i] = here - there, here
    if not rises:
        return max(same_season)
    most = max(rises.values())
    rose = [i for i, rise in rises.items() if rise == most or (most > 0 and rise >= GOOD_PART * most)]
    return max(rose, key=lambda i: asked[i])


def _year_before(house: House, usable: Sequence[int]) -> dict[int, int | None]:
    """For each bill the one of the same season a year before it, where there is one."""
    middle = np.array([house.bills[i].start.toordinal() + house.bills[i].days / 2 for i in usable])
    apart = np.abs(middle - (middle[:, None] - 365.25))
    nearest = apart.argmin(axis=1)
    near = apart.min(axis=1) <= SAME_SEASON_DAYS
    return {i: usable[at] if there else None for i, at, there in zip(usable, nearest, near, strict=True)}


def _before(same_season: dict[int, int | None], i: int, over: Collection[int]) -> int:
    """The same bill of the year before, else the last one before it that is not over itself."""
    last_year, usable = same_season[i], list(same_season)
    if last_year is not None and last_year not in over:
        return last_year
    earlier = [j for j in usable if j < i]
    calm = [j for j in earlier if j not in over]
    return calm[-1] if calm else earlier[-1] if earlier else usable[1]
