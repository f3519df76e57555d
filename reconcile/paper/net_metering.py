"""How a utility bills a month in which a house sent out more than it drew, told from the amounts of all the bills.

A tariff of one price gives such a month a negative charge. Hardly any plan pays it out: the kWh are carried over to
later bills, or credited at another price, or all are settled once a year, or the month's credit stays in money (the
ways of net metering and net billing as they are common, from memory). Each way says how many kWh every bill charges;
the one whose kWh make the amounts what the prices give, to the cent, is taken.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import field, replace
from typing import Any

import numpy as np

from reconcile.array_types import Flags, Floats
from reconcile.facts import Finding
from reconcile.money.exact_lines import CENTS, exact_lines
from reconcile.money.recompute import Recomputed, amount_of
from reconcile.paper.ledger import Ledger
from reconcile.paper.other_charges import both_registers
from reconcile.paper.price_checks import rounding_can_do
from reconcile.paper.unit_checks import cost_by_tariff
from reconcile.records import dataclass

FEW_OFF = 0.1
"""Part of the bills that may ask another sum than a way of billing gives (our choice: a fee, a correction)."""
A_YEAR_APART = 330
"""Days between two yearly settlements at least (our choice: reading days wander)."""
SLOPE_KWH = 1000.0
"""kWh over which the price of one more is taken, so that cents do not blur it [kWh]."""


@dataclass(frozen=True, slots=True)
class Net:
    """A way of billing: the kWh it charges, in the order of the bills looked at."""

    case: str
    charged: Floats
    free: int = 0
    """Figures of it that were fitted to the amounts."""
    figures: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Bills:
    """The bills whose amount and prices are known, in order."""

    ledger: Ledger
    periods: tuple[int, ...]
    kwh: Floats
    amount: Floats
    room: Floats
    """Cents that rounding can make of each."""

    @property
    def below(self) -> Flags:
        """The bills of more sent out than drawn."""
        return self.kwh < 0.0

    def cost(self, charged: Floats) -> Floats:
        """Money of the bills by the tariff with other kWh; NaN where it cannot be applied."""
        costs = (cost_by_tariff(self.ledger, i, float(q)) for i, q in zip(self.periods, charged, strict=True))
        return np.array([np.nan if cost is None else cost for cost in costs])

    def off(self, charged: Floats) -> Flags:
        """The bills that ask another sum than so many kWh cost: by the tariff, else on no line of their own."""
        if self.ledger.house.tariffs:
            return np.abs(self.cost(charged) - self.amount) > self.room + 1e-6
        lines = exact_lines(np.ones(len(charged)), charged, self.amount, 1)
        if not lines:
            return np.ones(len(charged), dtype=bool)
        return np.abs(lines[0].fixed + lines[0].price * charged - self.amount) > 2.0 * CENTS


def examine_net_metering(ledger: Ledger, recomputed: Sequence[Recomputed]) -> tuple[list[Finding], Ledger]:
    """Find how months of more sent out than drawn are billed, where the amounts are not those of their own kWh.

    Returns
    -------
    findings : list of Finding
    charged : Ledger
        The ledger with the kWh that each bill charges in place of its own: what its money is to be held against.
    """
    bills = _bills(ledger, recomputed) if ledger.house.generation else None
    if bills is None or not bills.below.any():
        return [], ledger
    plain = bills.off(bills.kwh)
    if not plain.any():
        return [], ledger
    allowed = FEW_OFF * len(bills.kwh)
    ways = [(way, bills.off(way.charged)) for way in _ways(bills, plain)]
    fitting = [
        (int(off.sum()), way.free, k)
        for k, (way, off) in enumerate(ways)
        if off.sum() <= allowed and (plain & ~off).sum() > way.free
    ]
    if not fitting:
        return _unclear(bills, plain), ledger
    way = ways[min(fitting)[2]][0]
    if way.case == "month" and np.array_equal(way.charged, _carried(bills.kwh)):
        way = Net("floor", way.charged)
    kwh = list(ledger.kwh)
    for i, charged in zip(bills.periods, way.charged, strict=True):
        kwh[i] = float(charged)
    return [_finding(bills, way)], replace(ledger, kwh=tuple(kwh))


def _bills(ledger: Ledger, recomputed: Sequence[Recomputed]) -> _Bills | None:
    room = {r.period: float(rounding_can_do(len(r.lines))) for r in recomputed if r.why_not is None}
    known = [
        (i, ledger.kwh[i], float(amount), room.get(i, CENTS))
        for i in ledger.live
        if np.isfinite(ledger.kwh[i])
        and (amount := amount_of(ledger.house, i)) is not None
        and (i in room or not ledger.house.tariffs)
    ]
    if not known:
        return None
    periods, *columns = zip(*known, strict=True)
    return _Bills(ledger, periods, *(np.array(column, dtype=float) for column in columns))


def _ways(bills: _Bills, plain: Flags) -> Iterator[Net]:
    """The ways of billing to try, the simplest first."""
    kwh = bills.kwh
    yield Net("month", np.maximum(kwh, 0.0))
    yield Net("carried", _carried(kwh))
    tariff = bool(bills.ledger.house.tariffs)
    if tariff:
        yield from _by_money(bills, plain)
    starts = [bills.ledger.bills[i].start for i in bills.periods]
    for month in range(1, 13):
        clears = np.array([k > 0 and day.month == month for k, day in enumerate(starts)])
        if clears.any():
            yield Net("carried", _carried(kwh, clears), 1, {"month": month})
    before = _brought_in(bills) if tariff else 0.0
    if before > 0.0:
        yield Net("carried", _carried(kwh, before=before), 1, {"before": before})


def _by_money(bills: _Bills, plain: Flags) -> Iterator[Net]:
    """The ways of billing that need the price of a kWh."""
    kwh, below = bills.kwh, bills.below
    fixed = bills.cost(np.zeros(len(kwh)))
    price = (bills.cost(kwh + SLOPE_KWH) - bills.cost(kwh)) / SLOPE_KWH
    if not np.all(price > 0.0):
        return
    paid = (bills.amount - fixed) / price
    yield from _once_a_year(bills, fixed, paid)
    due = _credit_kept(bills.cost(kwh))
    if not np.any(np.abs(due - bills.amount)[plain] > bills.room[plain]):
        yield Net("money", kwh + (bills.amount - bills.cost(kwh)) / price)
    part = float(paid[below] @ kwh[below] / (kwh[below] @ kwh[below]))
    if part > 0.0:
        each = float(np.median(price[below]))
        yield Net("price", np.where(below, part * kwh, kwh), 1, {"credit": part * each, "price": each})


def _once_a_year(bills: _Bills, fixed: Floats, paid: Floats) -> Iterator[Net]:
    """Every bill asks what does not hang on use, and one a year the kWh since the one before it."""
    asks = bills.amount - fixed > bills.room + 1e-6
    settled = np.flatnonzero(asks)
    days = [bills.ledger.bills[bills.periods[k]].closes.toordinal() for k in settled]
    if np.any(np.diff(days) < A_YEAR_APART) or not np.any((bills.kwh > 0.0) & ~asks):
        return
    charged, last = np.zeros(len(bills.kwh)), None
    for k in settled:
        since = float(bills.kwh[0 if last is None else last + 1 : k + 1].sum())
        # what the first settlement holds of the time before these bills is not known
        charged[k] = paid[k] if last is None else max(since, 0.0)
        last = int(k)
    yield Net("year", charged, min(len(settled), 1))


def _carried(kwh: Floats, clears: Flags | None = None, before: float = 0.0) -> Floats:
    """Take what was sent out beyond use off later bills; ``clears`` marks those that begin with nothing brought over.

    Examples
    --------
    >>> _carried(np.array([-100.0, 60.0, 70.0, 50.0])).tolist()
    [0.0, 0.0, 30.0, 50.0]
    >>> _carried(np.array([-100.0, 60.0, 70.0]), np.array([False, False, True])).tolist()
    [0.0, 0.0, 70.0]
    """
    out, kept = np.zeros(len(kwh)), before
    for k, net in enumerate(kwh):
        kept = 0.0 if clears is not None and clears[k] else kept
        left = float(net) - kept
        out[k], kept = max(left, 0.0), max(-left, 0.0)
    return out


def _credit_kept(cost: Floats) -> Floats:
    """What each bill asks where a credit in money is taken off the next ones."""
    out, kept = np.zeros(len(cost)), 0.0
    for k, asked in enumerate(cost):
        left = float(asked) + kept
        out[k], kept = max(left, 0.0), min(left, 0.0)
    return out


def _brought_in(bills: _Bills) -> float:
    """KWh carried over from before the first bill: what the first bills left unpaid until one paid for some."""
    fixed = bills.cost(np.zeros(len(bills.kwh)))
    paying = np.flatnonzero(bills.amount - fixed > bills.room)
    if not len(paying):
        return 0.0
    k = int(paying[0])
    one = bills.cost(np.full(len(bills.kwh), SLOPE_KWH))[k] - fixed[k]
    return float(round(bills.kwh[: k + 1].sum() - (bills.amount[k] - fixed[k]) / one * SLOPE_KWH))


def _finding(bills: _Bills, way: Net) -> Finding:
    below = tuple(i for i, sent in zip(bills.periods, bills.below, strict=True) if sent)
    figures = {**bills.ledger.which(below), **way.figures, "kwh": -float(bills.kwh[bills.below].sum())}
    terms = ("net-terms",) if way.case in ("month", "floor") else ()
    asks = (*terms, *both_registers(bills.ledger, below))
    return Finding("net-metering", below, case=way.case, figures=figures, household=asks)


def _unclear(bills: _Bills, plain: Flags) -> list[Finding]:
    """Amounts that the carrying over of credits likely explains, though in no way known here."""
    more = bills.amount > bills.cost(bills.kwh) if bills.ledger.house.tariffs else bills.below
    after = np.cumsum(bills.below) > 0
    likely = plain & np.where(bills.below, more, after & ~more)
    if not np.array_equal(likely, plain) or not np.any(plain & bills.below):
        return []
    periods = tuple(i for i, off in zip(bills.periods, plain, strict=True) if off)
    figures = {**bills.ledger.which(periods), "below": int(bills.below.sum())}
    return [Finding("net-metering", periods, case="unclear", figures=figures, household=("net-terms",))]
