"""Prices by the bills' own money, where no tariff is typed: a fixed charge, so much a kWh, and when that changed.

Two bills of one price that differ in use tell the fixed charge whatever the price is: the line through both meets zero
use there. The middle of all such pairs is taken, so that a few odd bills do not move it (after [1]_); the price of a
run of bills is then the middle of what is left, a kWh. Where one price does not serve, near bills tell what stays, the
fixed charge or else the price of a kWh, and the other changes where two bills in a row leave the one before. Whether a
single bill leaves all the others is told by one line through them (:func:`price_line`), whose limits one odd bill
cannot move either.

References
----------
.. [1] P. K. Sen, "Estimates of the regression coefficient based on Kendall's tau", JASA 63, 1968 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import pairwise
from typing import Any

import numpy as np

from reconcile.array_types import Flags, Floats, Places
from reconcile.house import House
from reconcile.money.exact_lines import CENTS, exact_lines, in_blocks
from reconcile.money.recompute import amount_of, fixed_known
from reconcile.records import dataclass

Pairs = tuple[Places, Places]

FEWEST = 5
"""Bills, and pairs of them that differ in use, needed for prices of their own (our choice)."""
APART = 0.1
"""Two bills tell the fixed charge only where their use differs by this part of the middle one (our choice)."""
CLOSE = 0.03
"""Where nine bills in ten lie this near to one price, it is taken: riders move a price from month to month (our
choice)."""
EXACT = 0.01
"""Nearness that several prices one after the other must reach, all bills or else nine in ten (our choice): more prices
fit anything a little."""
MOST_CHANGES = 4
"""Changes of price over the bills; with more, the price is not understood (our choice)."""
NEARER = 0.5
"""One price with another fixed charge is believed rather than another price where the bills stand off it by less than
this part as much (our choice)."""
LEAST_PRICE = 1e-9
"""Stands for a price of nothing [money/kWh], so that prices can be compared as ratios."""
MONTH_DAYS = 30.0
"""Length of a bill at which fixed charges by the bill and by the day are compared [d]."""
NEIGHBORS = 3
"""Bills this far apart in the row mostly have one price (our choice)."""


@dataclass(frozen=True, slots=True)
class OwnPrice:
    """Prices that a run of bills follows."""

    periods: tuple[int, ...]
    """Bills that follow it."""
    per_bill: float
    per_day: float
    """Both: fixed charge, in one of the two ways [money/bill, money/d]."""
    per_kwh: float
    """Price [money/kWh]."""

    def fixed(self, days: float) -> float:
        """Money that does not hang on use."""
        return self.per_bill + self.per_day * days

    def to_dict(self) -> dict[str, Any]:
        """Return one entry of ``money.own_prices`` in ``result.json``."""
        return {
            "periods": list(self.periods),
            "per_bill": round(self.per_bill, 2),
            "per_day": round(self.per_day, 4),
            "per_kwh": round(self.per_kwh, 5),
        }


@dataclass(frozen=True, slots=True)
class _Fit:
    """The fixed charge and the price of each run of bills."""

    fixed: tuple[float, ...]
    starts: tuple[int, ...]
    prices: tuple[float, ...]
    off: Floats
    """Part of its money by which each bill stands off."""

    @property
    def scatter(self) -> float:
        """Part of its money by which nine bills in ten stand off at most."""
        return float(np.quantile(self.off, 0.9, method="lower"))


def own_prices(house: House, billed_kwh: Sequence[float] | Floats, leave: Mapping[int, object]) -> tuple[OwnPrice, ...]:
    """Read the prices out of the bills, where their money follows from their kWh.

    Parameters
    ----------
    billed_kwh : sequence of float, length n
        Energy of each bill [kWh].
    leave : mapping of int
        Bills not to be used.

    Returns
    -------
    tuple of OwnPrice
        In the order of the bills; empty where a tariff is typed, and where no price serves: neither where the line
        that does asks less than nothing for no use, as one through the upper block of a price by the block does.
    """
    if house.tariffs:
        return ()
    rows = [
        (i, float(bill.days), float(billed_kwh[i]), float(asked - fixed_known(house, i)))
        for i, bill in enumerate(house.bills)
        if i not in leave and bill.days > 0 and (asked := amount_of(house, i)) is not None
    ]
    rows = _above_the_least(rows)
    taken = [row for row in rows if row[2] > 0]
    if len(taken) < FEWEST or any(in_blocks(*_columns(taken, by_day=by_day)) for by_day in (False, True)):
        return ()
    exact = _to_the_cent(rows) or _to_the_cent(taken)
    if exact:  # a credit may take one price below nothing, and what the others ask shows it
        return exact if any(price.fixed(MONTH_DAYS) >= -CENTS for price in exact) else ()
    prices = _by_the_middle(taken)
    return prices if all(price.fixed(MONTH_DAYS) >= -CENTS for price in prices) else ()


Row = tuple[int, float, float, float]
"""Place, days, kWh and money of a bill."""


def _above_the_least(rows: Sequence[Row]) -> list[Row]:
    """Leave out the bills of a minimum: they ask for the same whatever their use, and none asks for less."""
    least = min((money for *_, money in rows), default=0.0)
    used = {kwh for _, _, kwh, money in rows if money == least}
    return [row for row in rows if row[3] != least or len(used) < 2]


def _columns(rows: Sequence[Row], *, by_day: bool) -> tuple[Floats, Floats, Floats]:
    """What the fixed charge is asked for, the kWh and the money of the bills."""
    _, days, kwh, amount = (np.array(column, dtype=float) for column in zip(*rows, strict=True))
    return days if by_day else np.ones(len(rows)), kwh, amount


def _to_the_cent(rows: Sequence[Row]) -> tuple[OwnPrice, ...]:
    """Prices that the bills follow to the cent."""
    periods, days, kwh, amount = (np.array(column) for column in zip(*rows, strict=True))
    if not np.all(np.isfinite(kwh)):
        return ()
    found = [
        (lines, way)
        for way, unit in enumerate((np.ones(len(rows)), days))
        if (lines := exact_lines(unit, kwh, amount, MOST_CHANGES + 1))
    ]
    if not found:
        return ()
    lines, way = min(found, key=lambda one: (len(one[0]), one[1]))
    prices = tuple(_own(periods[line.start : line.stop], line.fixed, line.price, by_day=bool(way)) for line in lines)
    return _gone_back(_gone_back(prices, rows[-1])[::-1], rows[0])[::-1]


def _gone_back(prices: tuple[OwnPrice, ...], end: Row) -> tuple[OwnPrice, ...]:
    """Give the last bill a price of its own where it lies to the cent on one that the bills before it had left.

    The first bill where the prices are given from the last one on.
    """
    period, days, kwh, amount = end
    if len(prices) < 2 or len(prices[-1].periods) < 2 or period not in prices[-1].periods:
        return prices
    on = [abs(price.fixed(days) + price.per_kwh * kwh - amount) <= CENTS for price in prices]
    if on[-1] or not any(on):
        return prices
    again = replace(prices[on.index(True)], periods=(period,))
    rest = tuple(i for i in prices[-1].periods if i != period)
    return *prices[:-1], replace(prices[-1], periods=rest), again


def _own(periods: Places, fixed: float, price: float, *, by_day: bool) -> OwnPrice:
    return OwnPrice(
        tuple(int(i) for i in periods), 0.0 if by_day else float(fixed), float(fixed) if by_day else 0.0, float(price)
    )


def _by_the_middle(rows: Sequence[Row]) -> tuple[OwnPrice, ...]:
    """Prices that the bills follow more or less, by the middle of what pairs of them tell."""
    periods, days, kwh, amount = (np.array(column) for column in zip(*rows, strict=True))
    units = (np.ones(len(rows)), days)
    pairs = [_that_tell(kwh / unit) for unit in units]
    if any(len(a) < FEWEST for a, _ in pairs):
        return ()
    fits = [_fit(unit, kwh, amount, apart) for unit, apart in zip(units, pairs, strict=True)]
    known = [(float(fit.off.mean()), way, fit) for way, fit in enumerate(fits) if fit is not None]
    if not known:
        return ()
    _, way, fit = min(known, key=lambda row: row[:2])
    ends = (*fit.starts[1:], len(rows))
    return tuple(
        _own(periods[a:b], fixed, price, by_day=bool(way))
        for a, b, fixed, price in zip(fit.starts, ends, fit.fixed, fit.prices, strict=True)
    )


def own_price_of(prices: Sequence[OwnPrice], period: int) -> OwnPrice | None:
    """Return the prices that a bill follows; None where they are not known."""
    return next((price for price in prices if period in price.periods), None)


def fixed_of(house: House, prices: Sequence[OwnPrice], period: int) -> Decimal:
    """Money of a bill that does not hang on use: its printed fixed lines, and what the bills' own money shows."""
    price = own_price_of(prices, period)
    own = Decimal(0) if price is None else Decimal(f"{price.fixed(house.bills[period].days):.4f}")
    return fixed_known(house, period) + own


def _that_tell(use: Floats) -> Pairs:
    """Pairs of bills that differ in use, by the bill or by the day."""
    a, b = np.triu_indices(len(use), 1)
    far = np.abs(use[b] - use[a]) > APART * abs(float(np.median(use)))
    return a[far], b[far]


def _fit(unit: Floats, kwh: Floats, amount: Floats, pairs: Pairs) -> _Fit | None:
    """Fit as few prices as serve: one, or several with one fixed charge, or one with several fixed charges."""
    a, b = pairs
    use, cost = kwh / unit, amount / unit
    meets = (cost[a] * use[b] - cost[b] * use[a]) / (use[b] - use[a])
    rises = (cost[b] - cost[a]) / (use[b] - use[a])

    def fitted(starts: Sequence[int], fixed: Floats, prices: Floats) -> _Fit:
        run = _runs(starts, len(kwh))
        off = np.abs(amount - fixed[run] * unit - prices[run] * kwh) / np.maximum(np.abs(amount), 1e-9)
        return _Fit(tuple(fixed.tolist()), tuple(starts), tuple(prices.tolist()), off)

    def dearer(starts: Sequence[int], telling: Flags) -> _Fit | None:
        fixed = float(np.median(meets[telling]))
        prices = _middles((amount - fixed * unit) / kwh, starts)
        return fitted(starts, np.full(len(starts), fixed), prices) if fixed >= 0.0 and min(prices) > 0.0 else None

    def charged(starts: Sequence[int], telling: Flags) -> _Fit | None:
        price = float(np.median(rises[telling]))
        fixed = _middles(cost - price * use, starts)
        return fitted(starts, fixed, np.full(len(starts), price)) if price > 0.0 else None

    one = dearer((0,), np.ones(len(a), dtype=bool))
    if one is not None and one.off.max() <= EXACT:
        return one
    near = b - a <= NEIGHBORS
    several = None
    if np.count_nonzero(near) >= FEWEST:
        priced = np.maximum((amount - float(np.median(meets[near])) * unit) / kwh, LEAST_PRICE)
        fixed = cost - float(np.median(rises[near])) * use
        by_price = _several(dearer, _starts(priced, EXACT * priced), pairs)
        by_charge = _several(charged, _starts(fixed, EXACT * cost), pairs)
        several = by_price or by_charge
        if by_price is not None and by_charge is not None and by_charge.off.mean() < NEARER * by_price.off.mean():
            several = by_charge
    return several or (one if one is not None and one.scatter <= CLOSE else None)


def _several(fit: Callable[[Sequence[int], Flags], _Fit | None], starts: Sequence[int], pairs: Pairs) -> _Fit | None:
    """Fit runs of bills by the pairs within them; None where they are too many, or do not serve."""
    run = _runs(starts, int(pairs[1].max()) + 1)
    same = run[pairs[0]] == run[pairs[1]]
    if not 1 < len(starts) <= MOST_CHANGES + 1 or np.count_nonzero(same) < FEWEST:
        return None
    found = fit(starts, same)
    return found if found is not None and found.scatter <= EXACT else None


def _middles(values: Floats, starts: Sequence[int]) -> Floats:
    run = _runs(starts, len(values))
    return np.array([np.median(values[run == k]) for k in range(len(starts))])


def _runs(starts: Sequence[int], n: int) -> Places:
    return np.searchsorted(np.array(starts), np.arange(n), side="right") - 1


def _starts(values: Floats, near: Floats) -> list[int]:
    """Where another value begins: two bills in a row that agree with one another and not with the value until then."""
    starts, since = [0], 0
    for k in range(1, len(values) - 1):
        before = float(np.median(values[since:k]))
        if abs(values[k] - before) > near[k] and abs(values[k + 1] - values[k]) <= near[k]:
            starts = [0] if k == 1 else [*starts, k]  # the first bill alone is no price of its own
            since = k
    return starts


CHANGE = 0.03
"""Part by which a price must move to be told as a change (our choice)."""


def changes(prices: Sequence[OwnPrice]) -> tuple[tuple[OwnPrice, OwnPrice], ...]:
    """Return each two prices in a row of which the later is clearly another.

    Examples
    --------
    >>> changes([OwnPrice((0, 1), 12.0, 0.0, 0.13), OwnPrice((2, 3), 12.0, 0.0, 0.17)])[-1][1].per_kwh
    0.17
    >>> changes([OwnPrice((0, 1), 12.0, 0.0, 0.13), OwnPrice((2, 3), 27.0, 0.0, 0.13)])[-1][1].per_bill
    27.0
    >>> changes([OwnPrice((0, 1), 12.0, 0.0, 0.13)])
    ()
    """
    return tuple(
        (before, after)
        for before, after in pairwise(prices)
        if abs(math.log(after.per_kwh / before.per_kwh)) >= CHANGE
        or abs(before.fixed(MONTH_DAYS) - after.fixed(MONTH_DAYS)) > CENTS
    )


@dataclass(frozen=True, slots=True)
class PriceLine:
    """Money of a bill as so much a day and so much a kWh."""

    per_day: float
    per_kwh: float
    """Both: prices [money/d, money/kWh]."""
    scatter: float
    """Part of its money by which nine bills in ten stand off the line at most."""
    middle_use: float
    """Daily use of the middle bill [kWh/d]."""
    least_per_kwh: float
    most_per_kwh: float
    """Both: limits of the price between two bills, for half of the pairs: one odd bill cannot move them."""

    def between(self, days: float, kwh: float) -> tuple[float, float]:
        """Limits of a bill's money: the line turned about its middle to the slopes of half of the pairs."""
        middle = self.per_day + self.per_kwh * self.middle_use
        ends = sorted(
            days * (middle + slope * (kwh / days - self.middle_use))
            for slope in (self.least_per_kwh, self.most_per_kwh)
        )
        return ends[0], ends[1]

    def cost(self, days: float, kwh: float) -> float:
        """Money of a bill by the line."""
        return self.per_day * days + self.per_kwh * kwh


def slopes(days: Sequence[float], kwh: Sequence[float], amount: Sequence[float]) -> Floats:
    """Price a kWh between every two bills whose daily use differs [money/kWh], in order of size.

    Parameters
    ----------
    days, kwh, amount : sequence of float
        Of each bill; days above zero.
    """
    length = np.asarray(days, dtype=float)
    use, cost = np.asarray(kwh, dtype=float) / length, np.asarray(amount, dtype=float) / length
    a, b = _that_tell(use)
    return np.sort((cost[b] - cost[a]) / (use[b] - use[a]))


def price_line(days: Sequence[float], kwh: Sequence[float], amount: Sequence[float]) -> PriceLine | None:
    """Draw the line that most bills stand near: the middle slope of all pairs, so that a few odd bills do not move it.

    Parameters
    ----------
    days, kwh, amount : sequence of float
        Of each bill; days above zero.

    Returns
    -------
    PriceLine or None
        None where the bills are too few or too alike.

    Examples
    --------
    >>> line = price_line([30.0] * 6, [300, 500, 400, 900, 700, 600], [42, 66, 54, 114, 90, 78])
    >>> round(line.per_day, 3), round(line.per_kwh, 3), round(line.scatter, 3)
    (0.2, 0.12, 0.0)
    """
    found = slopes(days, kwh, amount)
    if len(kwh) < FEWEST or len(found) < FEWEST:
        return None
    length = np.asarray(days, dtype=float)
    use, cost = np.asarray(kwh, dtype=float), np.asarray(amount, dtype=float)
    per_kwh = float(np.median(found))
    per_day = float(np.median((cost - per_kwh * use) / length))
    by_line = per_day * length + per_kwh * use
    off = np.abs(cost - by_line) / np.maximum(np.maximum(np.abs(cost), np.abs(by_line)), 1e-9)
    least, most = (float(x) for x in np.quantile(found, (0.25, 0.75)))
    scatter = float(np.quantile(off, 0.9, method="lower"))
    return PriceLine(per_day, per_kwh, scatter, float(np.median(use / length)), least, most)
