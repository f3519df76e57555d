"""Refunds and back-bills by a rule the user picks: arithmetic, never legal advice.

The rules are data (``refund_rules.csv``): copies of published texts of 2022 to 2025, some numbers from
memory, each with its source and status. Local rules differ and change: every answer says so.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from functools import cache
from importlib import resources

from reconcile import ledger_words as words
from reconcile.facts import OUT, Facts
from reconcile.house import House
from reconcile.money.stake import cost_of

CHECK = "Check your local rule; this is arithmetic, not legal advice."


@dataclass(frozen=True, slots=True)
class Rule:
    """How a meter's error is turned into energy owed. Shares are of the time since the last test.

    ``months`` limit how far back it goes; None is no limit. ``drift`` takes the error to have grown evenly
    from nothing at the last test; ``creep_share`` is the part of the time a creep is taken to have acted.
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
    creep_share: float | None = None
    creep_seconds: float | None = None
    """A full turn of the disk in this time or less, with nothing connected, is creep [s]; None: any turn."""
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
    def number(key: str) -> float | None:
        return float(row[key]) if row[key] else None

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
        creep_share=number("creep_share"),
        creep_seconds=number("creep_seconds"),
        least_amount=Decimal(row["least_amount"]) if row["least_amount"] else None,
        says=row["says"],
        source=row["source"],
        status=row["status"],
        date_read=row["date_read"],
    )


@dataclass(frozen=True, slots=True)
class Refund:
    """What a rule gives: positive is owed to the customer, negative by the customer."""

    rule: Rule
    start: date
    end: date
    kwh: float
    amount: Decimal | None
    uncovered_days: int
    """Days of the rule's period for which no bill is here."""
    text: str


def creep_watts(disk_wh: float, seconds: float) -> float:
    """Power that one turn of the disk in ``seconds`` stands for [W]: P = 3600 Kh / t.

    Examples
    --------
    >>> round(creep_watts(7.2, 300), 1)
    86.4
    """
    return 3600.0 * disk_wh / seconds


def correction_factor(registration_percent: float) -> float:
    """Factor that turns billed into true energy: 1 / (1 + P) (Fla. Admin. Code 25-6.103).

    Examples
    --------
    >>> round(correction_factor(102.0), 5)
    0.98039
    """
    return 100.0 / registration_percent


def refund(
    house: House,
    facts: Facts,
    rule: Rule,
    registration_percent: float,
    last_test: date,
    found: date,
    since: date | None = None,
) -> Refund:
    """Compute what a meter that registers ``registration_percent`` makes owed under a rule.

    Parameters
    ----------
    house : House
    facts : Facts
    rule : Rule
    registration_percent : float
        Average registration found by the test [%]; 100 is right, above is fast.
    last_test : date
        Day of the last test, or of installation.
    found : date
        Day of the test that found the error.
    since : date or None
        First day of the error where it is known; it then takes the place of the rule's share of time.

    Returns
    -------
    Refund

    Raises
    ------
    ValueError
        Where the days are out of order or the registration is not above zero.
    """
    if not registration_percent > 0:
        raise ValueError("a registration is a percentage above zero")
    if not last_test < found or (since is not None and not since < found):
        raise ValueError("the last test and the start of the error lie before the day the error was found")
    error = registration_percent - 100.0
    start = since if since is not None else reaches_back(rule, error > 0, last_test, found)
    if abs(error) <= rule.tolerance_percent:
        text = (
            f"The meter registers {registration_percent:.2f} %, within {rule.tolerance_percent:g} % of right: by "
            f"{_named(rule)} nothing is owed. {CHECK}"
        )
        return Refund(rule, start, found, 0.0, Decimal(0), 0, text)
    ramp = last_test if rule.drift and since is None else None
    kwh, amount, uncovered = _over_bills(house, facts, start, found, error / 100.0, ramp)
    amount = _unless_small(rule, amount)
    who = "to the customer" if kwh > 0 else "by the customer"
    money = "" if amount is None else f", {words.money(abs(amount), house.currency)},"
    text = (
        f"By {_named(rule)}, from {words.day(start)} to {words.day(found)}, {words.kwh(abs(kwh))}{money} would be owed "
        f"{who}: the meter registers {registration_percent:.2f} %{_how(rule, since)}.{_missing(uncovered)} {CHECK}"
    )
    return Refund(rule, start, found, kwh, amount, uncovered, text)


def refund_creep(
    house: House, facts: Facts, rule: Rule, disk_wh: float, seconds: float, last_test: date, found: date
) -> Refund:
    """Compute what a creep, one turn of the disk in ``seconds`` with nothing connected, makes owed.

    Where the rule gives no share of time for creep, it is taken to have acted all of the rule's time for a
    fast meter.

    Raises
    ------
    ValueError
        Where the days are out of order or the time is not above zero.
    """
    if not seconds > 0 or not last_test < found:
        raise ValueError("a turn takes time, and the last test lies before the day the creep was found")
    watts = creep_watts(disk_wh, seconds)
    start = last_test if rule.creep_share is not None else reaches_back(rule, True, last_test, found)
    if rule.creep_seconds is not None and seconds > rule.creep_seconds:
        text = (
            f"One turn in {seconds:g} s is slower than the {rule.creep_seconds:g} s that {_named(rule)} calls creep. "
            f"{CHECK}"
        )
        return Refund(rule, start, found, 0.0, Decimal(0), 0, text)
    share = 1.0 if rule.creep_share is None else rule.creep_share
    daily = watts * 24.0 / 1000.0 * share
    kwh = daily * (found - start).days
    spread = _spread(house, facts, start, found)
    costs = [cost_of(house, facts, i, daily * days) for i, days in spread.items()]
    known = [c for c in costs if c is not None]
    uncovered = (found - start).days - sum(spread.values())
    priced = bool(costs) and len(known) == len(costs)
    amount = _unless_small(rule, sum(known, start=Decimal(0)) if priced else None)
    money = "" if amount is None else f", {words.money(amount, house.currency)} on the bills here,"
    text = (
        f"A creep of {watts:.1f} W, taken to have acted {share * 100:g} % of the time from {words.day(start)} to "
        f"{words.day(found)}, is {words.kwh(kwh)}{money} by {_named(rule)}.{_missing(uncovered)} {CHECK}"
    )
    return Refund(rule, start, found, kwh, amount, uncovered, text)


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
    house: House, facts: Facts, start: date, end: date, error: float, ramp_from: date | None
) -> tuple[float, Decimal | None, int]:
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


def _named(rule: Rule) -> str:
    return f"the rule of {rule.place} ({rule.source})"


def _how(rule: Rule, since: date | None) -> str:
    if since is not None:
        return ", and since when is known"
    return ", taken to have grown evenly since the last test" if rule.drift else ""


def _missing(days: int) -> str:
    return "" if days <= 0 else f" For {words.days(days)} of that no bill is here."
