"""Energy against money: a price a kWh that no tariff charges, and units or columns exchanged.

Two ways. By the tariff as typed, where it gives the bills' money only with the kWh or the amounts read otherwise; and
without it, where the bills' own price a kWh is one that nobody charges.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from statistics import median

from reconcile.facts import Aside, Finding
from reconcile.money.own_prices import price_line, slopes
from reconcile.money.recompute import Recomputed, amount_of, use_of
from reconcile.money.tariff_lines import CannotPrice, price_bill, total
from reconcile.paper.ledger import Ledger
from reconcile.records import dataclass


@dataclass(frozen=True, slots=True)
class Prices:
    """What a kWh may cost a household [money/kWh], everything in it, and what may be asked a day without any use."""

    least: float
    usual: float
    most: float
    fixed_per_day: float


PRICES: dict[str, Prices] = {
    "USD": Prices(0.025, 0.16, 1.0, 4.0),
    "CAD": Prices(0.03, 0.13, 1.0, 5.0),
    "EUR": Prices(0.05, 0.28, 1.5, 4.0),
    "GBP": Prices(0.05, 0.27, 1.5, 4.0),
    "AUD": Prices(0.06, 0.30, 1.8, 6.0),
    "NZD": Prices(0.06, 0.30, 1.8, 6.0),
    "CHF": Prices(0.05, 0.27, 1.5, 4.0),
}
"""Prices by currency. The United States' states averaged 0.11 to 0.42 in 2023 (EIA Electric Power Annual,
eia.gov/electricity/annual/secrev-map.php); the other usual prices are from memory. Least and most leave a factor of
four or more beyond them (our choice), for the cheapest towns and the dearest hours."""
MANY_KWH_PER_DAY, LOW_FOR_MANY = 100.0, 1.5
"""Use, three times an ordinary home's, from which a price below this many times the least is not believed either (our
choice)."""
FEWEST_SLOPES = 10
"""Pairs of bills, those of five, needed to speak of the price between bills (our choice)."""
LIVED_IN = (1.0, 300.0)
"""Daily use that a proposed unit must lead to [kWh/d] (our choice)."""
NEAR_USUAL = 2.5
"""A proposed unit leads to the usual price within this factor (our choice)."""
FITS_WITHIN = 0.01
"""A bill is what the tariff gives, but for rounding of its kWh, within this part (our choice)."""
MOST = 0.8
"""Part of the bills that must agree on one proposal (our choice)."""

COLUMNS = {"registers": "kwh-are-readings", "running": "kwh-are-a-sum", "daily": "kwh-are-a-day"}
"""What a column may hold in place of each bill's kWh, and what is asked of the household then."""
FIRST_OF_A_SUM = 1.5
"""The first of sums that run through a year is one bill's kWh: at most this many times the largest (our choice)."""
FEWEST_OF_COLUMN = 5
"""Bills needed for that (our choice)."""
FAR_BETTER, ALIKE = 0.5, 0.1
"""Part of what bills stand off as typed, and of their money, within which they follow one price then (our choice)."""
FAR_OFF, EXACT = 0.1, 0.01
"""The same where the price as typed may be one: at least and at most (our choice)."""

Reading = Callable[[float, float], tuple[float, float]]

READINGS: dict[str, Reading] = {
    "exchanged": lambda kwh, amount: (amount, kwh),
    "wh": lambda kwh, amount: (kwh / 1000.0, amount),
    "mwh": lambda kwh, amount: (kwh * 1000.0, amount),
    "ten": lambda kwh, amount: (kwh / 10.0, amount),
    "tenth": lambda kwh, amount: (kwh * 10.0, amount),
    "cents": lambda kwh, amount: (kwh, amount / 100.0),
    "hundred": lambda kwh, amount: (kwh / 100.0, amount),
    "hundredth": lambda kwh, amount: (kwh * 100.0, amount),
}
"""How the two figures of a bill may have been meant."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Energy and money of one bill."""

    period: int
    days: int
    kwh: float
    amount: float


def pairs_of(ledger: Ledger) -> list[Pair]:
    """Energy and money of every bill that gives both, above zero; none of a house that generates."""
    if ledger.house.generation:
        return []
    out = []
    for i in ledger.live:
        amount = amount_of(ledger.house, i)
        if amount is not None and amount > 0 and ledger.kwh[i] > 0 and ledger.days[i] > 0:
            out.append(Pair(i, ledger.days[i], ledger.kwh[i], float(amount)))
    return out


def examine_units(ledger: Ledger, recomputed: Sequence[Recomputed]) -> tuple[list[Finding], dict[int, Aside]]:
    """Find a unit or a column that is not what it is taken for, on all bills together.

    Returns
    -------
    findings : list of Finding
        One at most.
    aside : dict of int to Aside
        Bills whose energy is then not known.
    """
    pairs = pairs_of(ledger)
    if not pairs:
        return [], {}
    ours, agree = by_the_tariff(pairs, recomputed)
    if len(agree) * 2 >= len(pairs):
        return [], {}
    price = median(p.amount / p.kwh for p in pairs)
    meant = [_by_tariff(ledger, pairs)] if len(ours) * 2 >= len(pairs) else []
    names = [name for name in meant if name is not None]
    believable = _believable(ledger, pairs, price)
    column = None if names else _by_column(ledger, pairs, believable=believable)
    if column is not None:
        return [_of_column(ledger, pairs, price, *column)], {p.period: Aside.UNIT for p in pairs}
    if not names and believable:
        return [], {}
    names = names or _by_price(ledger, pairs)
    finding = _finding(ledger, pairs, price, names)
    only_money = names == ["cents"]
    return [finding], {} if only_money else {p.period: Aside.UNIT for p in pairs}


def by_the_tariff(pairs: Sequence[Pair], recomputed: Sequence[Recomputed]) -> tuple[dict[int, float], list[Pair]]:
    """Money of the bills by the tariff as typed, and the bills that ask for just that."""
    ours = {r.period: float(r.ours) for r in recomputed if r.ours is not None}
    return ours, [p for p in pairs if p.period in ours and near(ours[p.period], p.amount)]


def near(one: float, other: float, within: float = FITS_WITHIN) -> bool:
    """Whether two amounts are the same but for a rounding of the kWh between them."""
    return abs(one - other) <= within * max(abs(one), abs(other)) + 0.02


def cost_by_tariff(ledger: Ledger, period: int, kwh: float) -> float | None:
    """Money of a bill by the tariff as typed, with other kWh."""
    try:
        return float(total(price_bill(ledger.house.tariffs, use_of(ledger.house, ledger.bills[period], kwh))))
    except CannotPrice:
        return None


def _by_tariff(ledger: Ledger, pairs: Sequence[Pair]) -> str | None:
    for name, read in READINGS.items():
        fits = 0
        for p in pairs:
            kwh, amount = read(p.kwh, p.amount)
            cost = cost_by_tariff(ledger, p.period, kwh)
            fits += cost is not None and near(cost, amount)
        if fits >= MOST * len(pairs):
            return name
    return None


def _believable(ledger: Ledger, pairs: Sequence[Pair], price: float) -> bool:
    known = PRICES.get(ledger.house.currency)
    if known is None:
        return True
    use = median(p.kwh / p.days for p in pairs)
    if price < known.least or (price < LOW_FOR_MANY * known.least and use > MANY_KWH_PER_DAY):
        return False
    beyond_fixed = median((p.amount - known.fixed_per_day * p.days) / p.kwh for p in pairs)
    if beyond_fixed > known.most:
        return False
    found = slopes([p.days for p in pairs], [p.kwh for p in pairs], [p.amount for p in pairs])
    if price <= known.most or len(found) < FEWEST_SLOPES:
        return True
    quarter, middle = (float(found[len(found) // n]) for n in (4, 2))
    return middle <= known.most or quarter <= known.most / 2.0


def _by_price(ledger: Ledger, pairs: Sequence[Pair]) -> list[str]:
    """Readings of the two columns that lead to an ordinary price and use, the nearest first."""
    return [name for _, name in _offs(ledger, pairs)][:2]


def _offs(ledger: Ledger, pairs: Sequence[Pair]) -> list[tuple[float, str]]:
    """The same, each with how far its price is from the usual one, in the logarithm."""
    usual = PRICES[ledger.house.currency].usual
    found = []
    for name, read in READINGS.items():
        meant = [(p.days, *read(p.kwh, p.amount)) for p in pairs]
        price = median(amount / kwh for _, kwh, amount in meant)
        use = median(kwh / days for days, kwh, _ in meant)
        off = abs(math.log(price / usual))
        if LIVED_IN[0] <= use <= LIVED_IN[1] and off <= math.log(NEAR_USUAL):
            found.append((off, name))
    return sorted(found)


def _by_column(ledger: Ledger, pairs: Sequence[Pair], *, believable: bool) -> tuple[str, float] | None:
    """Tell a column of another quantity by the money: what it would make of the kWh follows one price far better.

    Parameters
    ----------
    believable : bool
        Whether the price as typed may be one: then only kWh that follow another almost exactly are believed.

    Returns
    -------
    tuple or None
        A key of :data:`COLUMNS`, and the middle price by it [money/kWh].
    """
    steps = [(p, p.kwh - q.kwh if p.kwh >= q.kwh else p.kwh) for q, p in pairwise(pairs)]
    as_typed = _scatter([(p, p.kwh) for p in pairs])
    fell = sum(p.kwh < q.kwh for q, p in pairwise(pairs))
    if believable and (fell > len(pairs) / 4.0 or as_typed < FAR_OFF or ledger.house.currency not in PRICES):
        return None
    within = EXACT if believable else ALIKE
    years = sum(p.days for p in pairs) / 365.25
    first = pairs[0].kwh <= FIRST_OF_A_SUM * max((kwh for _, kwh in steps), default=0.0)
    rises = "running" if first else "registers"
    ways = {rises: steps} | ({} if believable else {"daily": [(p, p.kwh * p.days) for p in pairs]})
    if fell > (years + 1.0 if first else 0.0):
        del ways[rises]
    nearest = min((off for off, _ in _offs(ledger, pairs)), default=math.inf)
    for name, meant in ways.items():
        used = [(p, kwh) for p, kwh in meant if kwh > 0]
        if len(used) < max(FEWEST_OF_COLUMN, MOST * len(meant)):
            continue
        price = median(p.amount / kwh for p, kwh in used)
        use = median(kwh / p.days for p, kwh in used)
        off = abs(math.log(price / PRICES[ledger.house.currency].usual))
        if off > math.log(NEAR_USUAL) or not LIVED_IN[0] <= use <= LIVED_IN[1]:
            continue
        # an average is as good a line as the kWh it is made of, so the price alone tells it
        follows = off < nearest if name == "daily" else _scatter(used) <= FAR_BETTER * as_typed
        if follows and _scatter(used) <= within:
            return name, price
    return None


def _scatter(meant: Sequence[tuple[Pair, float]]) -> float:
    """Part of its money by which a bill stands off the one price of all, where that asks no less than nothing."""
    line = price_line([p.days for p, _ in meant], [kwh for _, kwh in meant], [p.amount for p, _ in meant])
    return math.inf if line is None or line.per_kwh <= 0 or line.per_day < 0 else line.scatter


def _of_column(ledger: Ledger, pairs: Sequence[Pair], price: float, name: str, meant: float) -> Finding:
    periods = tuple(p.period for p in pairs)
    figures = {
        **ledger.which(periods),
        "price": price,
        "currency": ledger.house.currency,
        "meant": ({"name": name, "price": meant},),
    }
    return Finding("unit-mismatch", periods, settles=True, figures=figures, household=(COLUMNS[name],))


def _finding(ledger: Ledger, pairs: Sequence[Pair], price: float, names: Sequence[str]) -> Finding:
    periods = tuple(p.period for p in pairs)
    figures = {
        **ledger.which(periods),
        "price": price,
        "currency": ledger.house.currency,
        "meant": tuple(
            {"name": name, "price": median(a / k for k, a in (READINGS[name](p.kwh, p.amount) for p in pairs))}
            for name in names
        ),
    }
    if not names:
        return Finding("unit-price", periods, settles=True, figures=figures, household=("kwh-and-amount-typed",))
    return Finding("unit-mismatch", periods, settles=True, figures=figures, household=("units-typed",))
