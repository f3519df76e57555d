"""Why the money changed: price, fixed charges, days, weather and the rest of use, adding up to the cent.

Five things differ between two bills, and what each is worth depends on which is changed first. The split
here does not: each part is the mean of what it adds over all 120 orders of changing them (the Shapley value,
[1]_). Fixed money only hangs on the prices of fixed lines and on the days, money for use on the prices of
energy, the days, the weather and the rest of use, so the two are split apart.

Rounding: every part is rounded half up to the cent. The cents then missing, with those that the rounding of
the bills' own lines makes, go to the part that is largest in size (the first in the order price, fixed, days,
weather, use where two are equal).

References
----------
.. [1] L. S. Shapley, "A value for n-person games", Contributions to the Theory of Games II, 1953 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cache
from math import factorial
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reconcile import ledger_words as words
from reconcile.facts import Facts
from reconcile.house import House
from reconcile.ledger_words import cents
from reconcile.money.apart import is_apart
from reconcile.money.recompute import amount_of, decimal, use_of
from reconcile.money.tariff_curve import Curve, Drawn, curve_of
from reconcile.money.tariff_lines import CannotPrice

ZERO, ONE = Decimal(0), Decimal(1)
ROUNDING = Decimal("0.05")
"""Difference between a bill and its prices that rounding of ten lines can make; more is told as price."""
PARTS = ("price", "fixed", "days", "weather", "use")
NAMES = {
    "price": "price",
    "fixed": "fixed charges",
    "days": "the length of the bills",
    "weather": "weather",
    "use": "other use",
}


@dataclass(frozen=True, slots=True)
class Bridge:
    """The change in money from one group of bills to another, in parts that add up to it."""

    from_periods: tuple[int, ...]
    to_periods: tuple[int, ...]
    label_from: str
    label_to: str
    from_amount: Decimal
    to_amount: Decimal
    parts: dict[str, Decimal]
    weather_known: bool
    by_tariff: bool
    """Whether prices come from a tariff; else from the bills' own average price."""
    currency: str

    @property
    def total(self) -> Decimal:
        """Change in money."""
        return self.to_amount - self.from_amount

    @property
    def sentence(self) -> str:
        """The change in one sentence: ``$41.00 of the $63.00 rise is price``."""
        order = sorted((p for p in PARTS if self.parts[p]), key=lambda p: -abs(self.parts[p]))
        if self.total == 0:
            return f"The bills ask for the same{f': {self._each(order)}' if order else ''}."
        way = "rise" if self.total > 0 else "fall"
        size = words.money(abs(self.total), self.currency)
        along = [p for p in order if (self.parts[p] > 0) == (self.total > 0)]
        if not along or abs(self.parts[along[0]]) > abs(self.total):
            return f"A {way} of {size} in all: {self._each(order)}."
        first = along[0]
        text = f"{words.money(abs(self.parts[first]), self.currency)} of the {size} {way} is {self._name(first)}"
        rest = [p for p in order if p != first]
        return f"{text}; the rest is {self._each(rest)}." if rest else f"{text}."

    def _each(self, parts: Sequence[str]) -> str:
        return words.listed(
            [
                f"{words.money(abs(self.parts[p]), self.currency)} {'more' if self.parts[p] > 0 else 'less'} for "
                f"{self._name(p)}"
                for p in parts
            ]
        )

    def _name(self, part: str) -> str:
        if part == "use" and not self.weather_known:
            return "use, weather included"
        return NAMES[part]

    def to_dict(self) -> dict[str, Any]:
        """Return the ``bridge`` part of ``result.json``."""
        return {
            "from": self.label_from,
            "to": self.label_to,
            "parts": {part: float(self.parts[part]) for part in PARTS},
            "total": float(self.total),
            "from_amount": float(self.from_amount),
            "to_amount": float(self.to_amount),
            "from_periods": list(self.from_periods),
            "to_periods": list(self.to_periods),
            "weather_known": self.weather_known,
            "by_tariff": self.by_tariff,
            "sentence": self.sentence,
        }


@dataclass(frozen=True, slots=True)
class Side:
    """One bill taken apart: its prices, its days, and its use a day."""

    curve: Curve
    beyond: Decimal
    """What the bill asks beyond the tariff as typed; it goes with the price."""
    days: Decimal
    weather: Decimal
    """Energy owed to weather [kWh/d]."""
    other: Drawn
    """The rest of use: energy and energy sent out a day, and the demand in kW."""

    @property
    def amount(self) -> Decimal:
        """What the bill asks for."""
        return self.curve.fixed(self.days) + _energy(self, self, self, self)


def _energy(price: Side, days: Side, weather: Side, use: Side) -> Decimal:
    """Money for use with each of the four taken from a side."""
    length = days.days
    drawn = Drawn(length, length * (weather.weather + use.other.kwh), use.other.kw, length * use.other.exported_kwh)
    return price.curve.energy(drawn) + price.beyond


@cache
def _weights(n: int) -> tuple[tuple[int, int, Decimal], ...]:
    """Weigh what each of n players adds to each group of the others: (player, group as bits, weight)."""
    out = []
    for k in range(n):
        for group in range(1 << n):
            if not group >> k & 1:
                size = group.bit_count()
                out.append((k, group, Decimal(factorial(size) * factorial(n - size - 1)) / factorial(n)))
    return tuple(out)


def _shapley(names: Sequence[str], a: Side, b: Side, worth: Callable[..., Decimal]) -> dict[str, Decimal]:
    """Split ``worth(b, ..., b) - worth(a, ..., a)`` among its arguments, whatever the order."""
    differ = [k for k, name in enumerate(names) if name == "price" or _differs(name, a, b)]
    places = {k: 1 << bit for bit, k in enumerate(differ)}
    value = [
        worth(*(b if places.get(k, 0) & group else a for k in range(len(names)))) for group in range(1 << len(differ))
    ]
    out = dict.fromkeys(names, ZERO)
    for player, group, weight in _weights(len(differ)):
        out[names[differ[player]]] += weight * (value[group | 1 << player] - value[group])
    return out


def _differs(name: str, a: Side, b: Side) -> bool:
    if name == "fixed":
        return (a.curve.per_bill, a.curve.per_day) != (b.curve.per_bill, b.curve.per_day)
    if name == "use":
        return a.other != b.other
    return bool(getattr(a, name) != getattr(b, name))


def split(a: Side, b: Side) -> dict[str, Decimal]:
    """Split the change from bill ``a`` to bill ``b`` into the five parts, not yet rounded."""
    out = dict.fromkeys(PARTS, ZERO)
    for group, worth in (
        (("price", "days", "weather", "use"), _energy),
        (("fixed", "days"), lambda prices, days: prices.curve.fixed(days.days)),
    ):
        for name, value in _shapley(group, a, b, worth).items():
            out[name] += value
    return out


def to_the_cent(parts: dict[str, Decimal], total: Decimal) -> dict[str, Decimal]:
    """Round the parts half up and give the cents then missing to the largest one.

    Examples
    --------
    >>> third = Decimal(10) / 3
    >>> to_the_cent({"price": third, "days": third, "use": third}, Decimal(10))
    {'price': Decimal('3.34'), 'days': Decimal('3.33'), 'use': Decimal('3.33')}
    """
    out = {name: cents(value) for name, value in parts.items()}
    largest = max(out, key=lambda name: abs(parts[name]))
    out[largest] += total - sum(out.values(), start=ZERO)
    return out


def bridge(
    house: House,
    facts: Facts,
    a: Sequence[int],
    b: Sequence[int],
    weather_kwh: NDArray[np.float64] | None = None,
) -> Bridge | None:
    """Take apart the change in money from bills ``a`` to bills ``b``.

    Where both are as many, the first of one is compared with the first of the other and so on; else each
    group is compared as one long bill at its average price of energy.

    Parameters
    ----------
    house : House
    facts : Facts
    a, b : sequence of int
        Indices of bills.
    weather_kwh : ndarray, shape (n,), optional
        Energy of each bill owed to heating and cooling [kWh].

    Returns
    -------
    Bridge or None
        None where money or energy of a bill is not known.

    Raises
    ------
    ValueError
        Where a group is empty.
    """
    if not a or not b:
        raise ValueError("a bridge needs at least one bill on each side")
    pairwise = len(a) == len(b)
    curves = _curves(house, facts, (*a, *b)) if pairwise else {}
    sides = {i: _side(house, facts, i, weather_kwh, curves.get(i)) for i in (*a, *b)}
    known_a, known_b = ([s for i in group if (s := sides[i]) is not None] for group in (a, b))
    if len(known_a) < len(a) or len(known_b) < len(b):
        return None
    if not pairwise:
        known_a, known_b = [_as_one(known_a)], [_as_one(known_b)]
    parts = dict.fromkeys(PARTS, ZERO)
    for x, y in zip(known_a, known_b, strict=True):
        for name, value in split(x, y).items():
            parts[name] += value
    before, after = (cents(sum((amount_of(house, i) or ZERO for i in group), start=ZERO)) for group in (a, b))
    return Bridge(
        tuple(a),
        tuple(b),
        _label(house, a),
        _label(house, b),
        before,
        after,
        to_the_cent(parts, after - before),
        weather_kwh is not None,
        bool(curves),
        house.currency,
    )


def _label(house: House, periods: Sequence[int]) -> str:
    return f"{house.bills[periods[0]].start.isoformat()} to {house.bills[periods[-1]].end.isoformat()}"


def _curves(house: House, facts: Facts, periods: Sequence[int]) -> dict[int, Curve]:
    """Prices of the bills by the tariff as typed; none at all where one of them cannot be priced by it."""
    out: dict[int, Curve] = {}
    for i in periods:
        kwh = float(facts.billed_kwh[i])
        try:
            curve = None if math.isnan(kwh) else curve_of(house.tariffs, use_of(house, house.bills[i], kwh))
        except CannotPrice:
            curve = None
        if curve is None:
            return {}
        out[i] = curve
    return out


def _side(
    house: House, facts: Facts, i: int, weather_kwh: NDArray[np.float64] | None, curve: Curve | None
) -> Side | None:
    bill, kwh = house.bills[i], float(facts.billed_kwh[i])
    amount = amount_of(house, i)
    if amount is None or math.isnan(kwh) or bill.days <= 0:
        return None
    days = Decimal(bill.days)
    weather = 0.0 if weather_kwh is None or math.isnan(weather_kwh[i]) else float(weather_kwh[i])
    use = use_of(house, bill, kwh)
    if curve is None:
        curve = _average(house, i, amount, decimal(kwh))
    per_day = decimal(weather) / days
    other = Drawn(ONE, use.kwh / days - per_day, use.demand_kw or ZERO, (use.exported_kwh or ZERO) / days)
    side = Side(curve, ZERO, days, per_day, other)
    beyond = amount - side.amount
    return side if abs(beyond) <= ROUNDING else replace(side, beyond=beyond)


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
        start=ZERO,
    )


def _is_tax(name: str) -> bool:
    return any(word in name.casefold() for word in ("tax", "vat", "%"))


def _average(house: House, i: int, amount: Decimal, kwh: Decimal) -> Curve:
    """Prices without a tariff: the fixed lines that are printed, and the rest over the kWh."""
    fixed = fixed_known(house, i)
    rest = amount - fixed
    return Curve(per_bill=fixed, per_kwh=rest / kwh if kwh > 0 else ZERO)


def _as_one(sides: Sequence[Side]) -> Side:
    """Several bills as one long one, at its average price."""
    days = sum((s.days for s in sides), start=ZERO)
    weather = sum((s.weather * s.days for s in sides), start=ZERO)
    other = sum((s.other.kwh * s.days for s in sides), start=ZERO)
    fixed = sum((s.curve.fixed(s.days) for s in sides), start=ZERO)
    amount = sum((s.amount for s in sides), start=ZERO)
    kwh = weather + other
    curve = Curve(per_day=fixed / days, per_kwh=(amount - fixed) / kwh if kwh > 0 else ZERO)
    one = Side(curve, ZERO, days, weather / days, Drawn(ONE, other / days))
    return replace(one, beyond=amount - one.amount)
