"""Refunds and back-bills by a rule the user picks: arithmetic, never legal advice.

The rules are data (``refund_rules.csv``): copies of published texts of 2022 to 2025, some numbers from
memory, each with its source and status. Local rules differ and change: every answer says so.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from importlib import resources
from typing import Any

from reconcile.facts import OUT, Facts
from reconcile.house import House
from reconcile.money.stake import cost_of
from reconcile.money.tariff_lines import sum_if_known
from reconcile.records import dataclass


@dataclass(frozen=True, slots=True)
class Rule:
    """How a meter's error is turned into energy owed. Shares are of the time since the last test.

    ``months`` limit how far back it goes; None is no limit. ``drift`` takes the error to have grown evenly
    from nothing at the last test.
    """

    code: str
    place: str
    tolerance_percent: float = 2.0
    light_weight: float = 1.0
    heavy_weight: float = 4.0
    fast_share: float = 1.0
    fast_months: int | None = None
    slow_share: float = 1.0
    slow_months: int | None = None
    drift: bool = False
    least_amount: Decimal | None = None
    says: str = ""
    source: str = "the user's own rule"
    status: str = "as given"
    date_read: str = ""

    def average(self, light_percent: float, heavy_percent: float) -> float:
        """Average registration [%] from light and heavy load.

        Examples
        --------
        >>> Rule("own", "here").average(98.0, 101.0)
        100.4
        """
        weights = self.light_weight + self.heavy_weight
        return (self.light_weight * light_percent + self.heavy_weight * heavy_percent) / weights


@cache
def rules() -> Mapping[str, Rule]:
    """Return the published rules, by their code."""
    text = resources.files("reconcile.money").joinpath("refund_rules.csv").read_text(encoding="utf-8")
    return {row["code"]: _rule(row) for row in csv.DictReader(text.splitlines())}


def _rule(row: Mapping[str, str]) -> Rule:
    def months(key: str) -> int | None:
        return int(row[key]) if row[key] else None

    return Rule(
        code=row["code"],
        place=row["place"],
        tolerance_percent=float(row["tolerance_percent"]),
        light_weight=float(row["light_weight"]),
        heavy_weight=float(row["heavy_weight"]),
        fast_share=float(row["fast_share"]),
        fast_months=months("fast_months"),
        slow_share=float(row["slow_share"]),
        slow_months=months("slow_months"),
        drift=row["drift"] == "yes",
        least_amount=Decimal(row["least_amount"]) if row["least_amount"] else None,
        says=row["says"],
        source=row["source"],
        status=row["status"],
        date_read=row["date_read"],
    )


@dataclass(frozen=True, slots=True)
class MeterError:
    """What a meter test found.

    Attributes
    ----------
    registration_percent : float
        Average registration found by the test [%]; 100 is right, above is fast.
    found : date
        Day of the test.
    last_test : date or None
        Day of the test before, or of installation; None where it is not known: then the first bill's first day.
    since : date or None
        First day of the error where it is known; it then takes the place of the rule's share of time.
    """

    registration_percent: float
    found: date
    last_test: date | None = None
    since: date | None = None


@dataclass(frozen=True, slots=True)
class Overcharge:
    """What the billing records show to be charged too much: energy of each bill [kWh], negative where too little."""

    kwh: Mapping[int, float]


@dataclass(frozen=True, slots=True)
class Refund:
    """What a rule gives: positive is owed to the customer, negative by the customer.

    Attributes
    ----------
    rule : Rule
    start, end : date
        Days for which it reckons.
    kwh : float
    amount : Decimal or None
        None where a bill's price is not known.
    uncovered_days : int
        Days of the rule's period for which no bill is here.
    registration_percent : float or None
        As tested; None for an overcharge.
    within_tolerance : bool
        Whether nothing is owed because the meter is right enough.
    since_known : bool
    """

    rule: Rule
    start: date
    end: date
    kwh: float
    amount: Decimal | None
    uncovered_days: int = 0
    registration_percent: float | None = None
    within_tolerance: bool = False
    since_known: bool = False

    def to_dict(self) -> dict[str, Any]:
        """Return one entry of ``money.refunds``."""
        return {
            "rule": self.rule.code,
            "place": self.rule.place,
            "source": self.rule.source,
            "status": self.rule.status,
            "start": self.start.isoformat(),
            "end": self.end.isoformat(),
            "kwh": self.kwh,
            "amount": None if self.amount is None else float(self.amount),
        }


def refund(house: House, facts: Facts, rule: Rule | str, error: MeterError | Overcharge) -> Refund:
    """Compute what is owed under a rule: for a meter found wrong, or for energy the records show to be overcharged.

    Parameters
    ----------
    house : House
    facts : Facts
    rule : Rule or str
        A rule, or the code of a published one (:func:`rules`).
    error : MeterError or Overcharge
        An overcharge is not a meter's error: all of it is reckoned, and how far back it is corrected is for the
        local rule to say.

    Returns
    -------
    Refund

    Raises
    ------
    KeyError
        Where no published rule has the code.
    ValueError
        Where the days are out of order, the registration is not above zero or there is nothing to reckon with.
    """
    rule = rules()[rule] if isinstance(rule, str) else rule
    if isinstance(error, Overcharge):
        return _overcharge(house, facts, rule, error)
    last_test = min(b.start for b in house.bills) if error.last_test is None else error.last_test
    if not error.registration_percent > 0:
        raise ValueError("a registration is a percentage above zero")
    if not last_test < error.found or (error.since is not None and not error.since < error.found):
        raise ValueError("the last test and the start of the error lie before the day the error was found")
    percent = error.registration_percent - 100.0
    known = error.since is not None
    start = error.since if error.since is not None else reaches_back(rule, percent > 0, last_test, error.found)
    made = Refund(rule, start, error.found, 0.0, Decimal(0), 0, error.registration_percent, False, known)
    if abs(percent) <= rule.tolerance_percent:
        return replace(made, within_tolerance=True)
    ramp = last_test if rule.drift and not known else None
    kwh, amount, uncovered = _over_bills(house, facts, (start, error.found), percent / 100.0, ramp)
    return replace(made, kwh=kwh, amount=_unless_small(rule, amount), uncovered_days=uncovered)


def refunds(house: House, facts: Facts, error: MeterError) -> tuple[Refund, ...]:
    """Compute what each published rule would give, the least first: rules differ, and the user's own may be another.

    Parameters
    ----------
    house : House
    facts : Facts
    error : MeterError

    Returns
    -------
    tuple of Refund
    """
    made = [refund(house, facts, code, error) for code in rules()]
    return tuple(sorted(made, key=lambda r: (abs(r.kwh), r.rule.code)))


def _overcharge(house: House, facts: Facts, rule: Rule, error: Overcharge) -> Refund:
    periods = sorted(error.kwh)
    if not periods:
        raise ValueError("an overcharge names at least one bill")
    amount = sum_if_known(cost_of(house, facts, i, error.kwh[i]) for i in periods)
    start, end = house.bills[periods[0]].start, house.bills[periods[-1]].closes
    return Refund(rule, start, end, sum(error.kwh.values()), amount)


def reaches_back(rule: Rule, fast: bool, last_test: date, found: date) -> date:
    """First day of the rule's period: its share of the time since the last test, within its months."""
    share, months = (rule.fast_share, rule.fast_months) if fast else (rule.slow_share, rule.slow_months)
    start = found - timedelta(days=round(share * (found - last_test).days))
    return start if months is None else max(start, months_before(found, months))


def months_before(day: date, months: int) -> date:
    """Same day so many calendar months earlier, or the last of that month.

    Examples
    --------
    >>> months_before(date(2025, 5, 31), 3)
    datetime.date(2025, 2, 28)
    """
    place = day.year * 12 + day.month - 1 - months
    first = date(place // 12, place % 12 + 1, 1)
    last = (first + timedelta(days=32)).replace(day=1) - timedelta(days=1)
    return first.replace(day=min(day.day, last.day))


def _spread(house: House, facts: Facts, start: date, end: date) -> dict[int, int]:
    """Days of every bill that counts within a period."""
    replaced = {i for i, why in (facts.set_aside or {}).items() if why in OUT}
    out = {}
    for i, bill in enumerate(house.bills):
        days = (min(bill.closes, end) - max(bill.start, start)).days
        if days > 0 and i not in replaced and math.isfinite(facts.billed_kwh[i]):
            out[i] = days
    return out


def _over_bills(
    house: House, facts: Facts, days_of: tuple[date, date], error: float, ramp_from: date | None
) -> tuple[float, Decimal | None, int]:
    start, end = days_of
    spread = _spread(house, facts, start, end)
    kwh = 0.0
    amount: Decimal | None = Decimal(0) if spread else None
    for i, days in spread.items():
        bill = house.bills[i]
        billed = float(facts.billed_kwh[i]) * days / bill.days
        if ramp_from is None:
            excess = billed * error / (1.0 + error)
        else:
            first = max(bill.start, start)
            excess = billed * _ramp_share(error, ramp_from, end, first, first + timedelta(days=days))
        kwh += excess
        cost = cost_of(house, facts, i, excess)
        amount = None if cost is None or amount is None else amount + cost
    return kwh, amount, (end - start).days - sum(spread.values())


def _ramp_share(error: float, ramp_from: date, ramp_to: date, first: date, last: date) -> float:
    """Share of billed energy that is error between two days, as the error grows evenly from 0 to ``error``.

    With e(t) = error t / T the share of billed energy is e / (1 + e); its mean from a to b is
    1 - T / (error (b - a)) ln((1 + e(b)) / (1 + e(a))).
    """
    span = (ramp_to - ramp_from).days
    a, b = ((d - ramp_from).days / span for d in (first, last))
    return 1.0 - math.log((1.0 + error * b) / (1.0 + error * a)) / (error * (b - a))


def _unless_small(rule: Rule, amount: Decimal | None) -> Decimal | None:
    if amount is None or rule.least_amount is None or abs(amount) > rule.least_amount:
        return amount
    return Decimal(0)
