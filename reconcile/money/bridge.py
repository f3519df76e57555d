"""Why the money changed: price, fixed charges, days, weather and the rest of use, adding up to the cent.

Five things differ between two bills, and what each is worth depends on which is changed first. The split
here does not: each part is the mean of what it adds over all 120 orders of changing them (the Shapley value,
[1]_). Fixed money only hangs on the prices of fixed lines and on the days, money for use on the prices of
energy, the days, the weather and the rest of use, so the two are split apart.

Rounding: every part is rounded half up to the cent. The cents then missing, with those that the rounding of
the bills' own lines makes, go to the part that is largest in size (the first in the order price, fixed, days,
weather, use where two are equal).

What the answer calls over or under usual stands apart, at the money it has in the table of bills: it is taken out of
both sides first, and the five parts are of the usual use alone.

References
----------
.. [1] L. S. Shapley, "A value for n-person games", Contributions to the Theory of Games II, 1953 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import cache
from math import factorial
from typing import Any, Self

import numpy as np

from reconcile.array_types import Floats
from reconcile.facts import Facts
from reconcile.house import House
from reconcile.money.own_prices import OwnPrice, own_price_of
from reconcile.money.recompute import amount_of, decimal, fixed_known, use_of
from reconcile.money.stake import cost_of
from reconcile.money.tariff_curve import Curve, Drawn, curve_of
from reconcile.money.tariff_lines import CannotPrice, cents, rounded
from reconcile.records import dataclass
from reconcile.rounding import currency_places

ZERO, ONE = Decimal(0), Decimal(1)
ROUNDING = Decimal("0.05")
"""Difference between a bill and its prices that rounding of ten lines can make; more is told as price."""
KWH_ROUNDED = Decimal("0.003")
"""Part of a bill by which whole kWh may stand off the prices that the bills' own money shows; more is told as price
(our choice)."""
NEARLY, AS_MUCH = 0.03, 0.9
"""Part by which another bill may ask less a kWh, and part of the use that it must have, to bear a price out (ours)."""
PARTS = ("price", "fixed", "days", "weather", "use", "beyond", "excess")
"""What a change in money is made of; ``beyond`` is what bills ask that the tariff as typed does not give, ``excess``
what the answer calls over or under usual, at the same money."""


@dataclass(frozen=True, slots=True)
class Bridge:
    """The change in money from one group of bills to another, in parts that add up to it."""

    from_periods: tuple[int, ...]
    to_periods: tuple[int, ...]
    from_dates: tuple[date, date]
    to_dates: tuple[date, date]
    from_amount: Decimal
    to_amount: Decimal
    parts: dict[str, Decimal]
    weather_known: bool
    by_tariff: bool
    """Whether prices come from a tariff; else from the bills' own average price."""
    price_is_average: bool = False
    """Whether fixed charges that nobody typed are inside the price."""
    price_seen_again: bool = False
    """Whether another bill of about as much use, or more, asks for as much a kWh as the later ones."""
    generates: bool = False
    """Whether the home makes electricity of its own: what it used and what it made stand in one part."""

    @property
    def total(self) -> Decimal:
        """Change in money."""
        return self.to_amount - self.from_amount

    def to_dict(self) -> dict[str, Any]:
        """Return the ``bridge`` part of ``result.json``."""
        return {
            "from": _label(self.from_dates),
            "to": _label(self.to_dates),
            "parts": {part: float(self.parts[part]) for part in PARTS},
            "total": float(self.total),
            "from_amount": float(self.from_amount),
            "to_amount": float(self.to_amount),
            "from_periods": list(self.from_periods),
            "to_periods": list(self.to_periods),
            "weather_known": self.weather_known,
            "by_tariff": self.by_tariff,
            "price_is_average": self.price_is_average,
        }


@dataclass(frozen=True, slots=True)
class Side:
    """One bill taken apart: its prices, its days, and its use a day."""

    curve: Curve
    beyond: Decimal
    """What the bill asks beyond the tariff as typed; without one it goes with the price."""
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


def to_the_cent(parts: dict[str, Decimal], total: Decimal, places: int = 2) -> dict[str, Decimal]:
    """Round the parts half up to the currency's smallest part and give what is then missing to the largest one.

    Examples
    --------
    >>> third = Decimal(10) / 3
    >>> to_the_cent({"price": third, "days": third, "use": third}, Decimal(10))
    {'price': Decimal('3.34'), 'days': Decimal('3.33'), 'use': Decimal('3.33')}
    """
    out = {name: rounded(value, places) for name, value in parts.items()}
    largest = max((name for name in out if name != "excess" or len(out) == 1), key=lambda name: abs(parts[name]))
    out[largest] += total - sum(out.values(), start=ZERO)
    return out


@dataclass(frozen=True, slots=True)
class _Bills:
    """The bills compared, what the answer calls their excess taken out."""

    house: House
    kwh: dict[int, float]
    amount: dict[int, Decimal]
    excess: dict[int, Decimal]
    """Money of the excess, as the table of bills has it."""
    weather_kwh: Floats | None
    prices: tuple[OwnPrice, ...]

    @classmethod
    def of(
        cls, house: House, facts: Facts, periods: Sequence[int], weather: Floats | None, excess: Floats | None
    ) -> Self:
        """Take the excess out of every bill whose price is known."""
        kwh, amount, money = {}, {}, {}
        for i in periods:
            asked, over = amount_of(house, i), 0.0 if excess is None else float(excess[i])
            cost = cost_of(house, facts, i, over) if math.isfinite(over) and over else None
            money[i] = cents(cost) if cost is not None else ZERO
            kwh[i] = float(facts.paid_kwh[i]) - (over if cost is not None else 0.0)
            if asked is not None:
                amount[i] = asked - money[i]
        return cls(house, kwh, amount, money, weather, facts.own_prices)

    def fixed_told(self, i: int) -> bool:
        """Whether a bill's fixed charges are known, so that its price is not an average with them in it."""
        return own_price_of(self.prices, i) is not None or bool(fixed_known(self.house, i))


def bridge(
    house: House,
    facts: Facts,
    a: Sequence[int],
    b: Sequence[int],
    weather_kwh: Floats | None = None,
    excess_kwh: Floats | None = None,
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
    excess_kwh : ndarray, shape (n,), optional
        What the answer says of each bill that it calls over or under: billed less usual [kWh]; 0 for the others. Its
        money is a part of its own, the same as in the table of bills, and the other parts are of the usual use alone.

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
    bills = _Bills.of(house, facts, (*a, *b), weather_kwh, excess_kwh)
    pairwise = len(a) == len(b)
    curves = _curves(bills) if pairwise else {}
    sides = {i: _side(bills, i, curves.get(i)) for i in (*a, *b)}
    known_a, known_b = ([s for i in group if (s := sides[i]) is not None] for group in (a, b))
    if len(known_a) < len(a) or len(known_b) < len(b):
        return None
    if not pairwise:
        known_a, known_b = [_as_one(known_a)], [_as_one(known_b)]
    parts = dict.fromkeys(PARTS, ZERO)
    for x, y in zip(known_a, known_b, strict=True):
        for name, value in split(x, y).items():
            parts[name] += value
        if curves:  # no price: the tariff has those
            parts["beyond"] += y.beyond - x.beyond
            parts["price"] -= y.beyond - x.beyond
    parts["excess"] = sum((bills.excess[i] for i in b), start=ZERO) - sum((bills.excess[i] for i in a), start=ZERO)
    places = currency_places(house.currency)
    before, after = (rounded(sum((amount_of(house, i) or ZERO for i in group), start=ZERO), places) for group in (a, b))
    return Bridge(
        tuple(a),
        tuple(b),
        (house.bills[a[0]].start, house.bills[a[-1]].end),
        (house.bills[b[0]].start, house.bills[b[-1]].end),
        before,
        after,
        to_the_cent(parts, after - before, places),
        weather_kwh is not None,
        bool(curves),
        price_is_average=not curves and not all(bills.fixed_told(i) for i in (*a, *b)),
        price_seen_again=_seen_again(house, facts, b),
        generates=bool(house.generation),
    )


def _seen_again(house: House, facts: Facts, b: Sequence[int]) -> bool:
    """Whether a bill beside ``b`` of no clearly less use asks for as much a kWh: its price is no slip of one bill."""
    n = range(len(house.bills))
    kwh = np.asarray(facts.paid_kwh, dtype=float)
    money = np.array([np.nan if (asked := amount_of(house, i)) is None else float(asked) for i in n])
    price = np.divide(money, kwh, out=np.full(len(kwh), np.nan), where=kwh > 0.0)
    others = np.array([i not in b for i in n])
    as_dear = price >= (1.0 - NEARLY) * np.nanmin(price[list(b)], initial=np.inf)
    return bool(np.any(others & as_dear & (kwh >= AS_MUCH * np.nanmin(kwh[list(b)], initial=np.inf))))


def _label(dates: tuple[date, date]) -> str:
    return f"{dates[0].isoformat()} to {dates[1].isoformat()}"


def _curves(bills: _Bills) -> dict[int, Curve]:
    """Prices of the bills by the tariff as typed; none at all where one of them cannot be priced by it."""
    out: dict[int, Curve] = {}
    for i, kwh in bills.kwh.items():
        try:
            use = None if math.isnan(kwh) else use_of(bills.house, bills.house.bills[i], kwh)
            curve = None if use is None else curve_of(bills.house.tariffs, use)
        except CannotPrice:
            curve = None
        if curve is None:
            return {}
        out[i] = curve
    return out


def _side(bills: _Bills, i: int, curve: Curve | None) -> Side | None:
    bill, kwh, amount = bills.house.bills[i], bills.kwh[i], bills.amount.get(i)
    if amount is None or math.isnan(kwh) or bill.days <= 0:
        return None
    days = Decimal(bill.days)
    known = bills.weather_kwh is not None and not math.isnan(bills.weather_kwh[i])
    weather = float(bills.weather_kwh[i]) if bills.weather_kwh is not None and known else 0.0
    use = use_of(bills.house, bill, kwh)
    within = ROUNDING
    if curve is None:
        curve = _average(bills, i, amount, decimal(kwh))
        within = max(ROUNDING, KWH_ROUNDED * abs(amount))
    per_day = decimal(weather) / days
    other = Drawn(ONE, use.kwh / days - per_day, use.demand_kw or ZERO, (use.exported_kwh or ZERO) / days)
    side = Side(curve, ZERO, days, per_day, other)
    beyond = amount - side.amount
    return side if abs(beyond) <= within else replace(side, beyond=beyond)


def _average(bills: _Bills, i: int, amount: Decimal, kwh: Decimal) -> Curve:
    """Prices without a tariff: by the bills' own money, else the fixed lines that are printed and the rest a kWh."""
    fixed, own = fixed_known(bills.house, i), own_price_of(bills.prices, i)
    if own is not None:
        per_bill, per_day, per_kwh = (Decimal(f"{x:.6f}") for x in (own.per_bill, own.per_day, own.per_kwh))
        return Curve(per_bill=fixed + per_bill, per_day=per_day, per_kwh=per_kwh)
    return Curve(per_bill=fixed, per_kwh=(amount - fixed) / kwh if kwh > 0 else ZERO)


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
