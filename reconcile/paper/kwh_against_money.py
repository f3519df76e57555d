"""One bill's energy against its own money: kWh that its amount does not pay for, by the price of all the others."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from decimal import Decimal
from statistics import median

from reconcile.facts import Aside, Finding
from reconcile.house import registers
from reconcile.money.own_prices import OwnPrice, PriceLine, price_line
from reconcile.money.recompute import Recomputed, amount_of
from reconcile.money.tariff_lines import cents
from reconcile.paper.ledger import SAME_SEASON_DAYS, Ledger, season_apart
from reconcile.paper.other_charges import LATE_SUM, PENNY, Unpaid, lines_of, unpaid_before
from reconcile.paper.reading_checks import agrees
from reconcile.paper.unit_checks import READINGS, Pair, by_the_tariff, cost_by_tariff, pairs_of
from reconcile.records import dataclass

FEWEST = 6
"""Bills needed for a price of their own (our choice)."""
BY_TARIFF, BY_LINE = 0.08, 0.2
"""Part of its money by which a bill stands off the tariff, or the other bills' price, before it is told: a rider may
move one month's price by a tenth (our choice)."""
SCATTERS = 5.0
"""And this many times what nine of ten bills do (our choice)."""
MOST_SINGLE = 0.2
"""Where more than this part of the bills stand off, it is the price that is not understood (our choice)."""
TIMES = {"double": 2.0, "half": 0.5}
"""A bill that charges its energy twice, or half of it."""
EXACTLY = 0.01
"""Part of its money within which a proposed reading of a bill's figures is believed on its own (our choice)."""
ALIKE = 1.9
"""Unless it changes the figures by less than this factor: then chance may do it (our choice)."""
CLEARLY_NEARER = math.log(1.5)
"""The kWh that the amount pays for are nearer to the house's usual use by this factor (our choice)."""

ON_LINE = 0.001
"""Part of its amount, and two hundredths of the money's unit beside it, within which a bill lies on the line of the
others (our choice: amounts are rounded)."""
MOSTLY = 0.75
"""Part of the bills that must lie on it (our choice: riders move other houses' bills each month)."""
FEWEST_OF_BLOCK = 2
"""Bills off the line from which they may be those of a block of its own price: of twenty bills any one is the lowest by
chance once in twenty, two are the two lowest once in two hundred (our choice). A single one has to show more."""
ORDINARY = 1.2
"""kWh that an amount pays for are an ordinary month's within this factor of the other bills' (our choice)."""
MOST_TIMES = 16.0
"""Times the kWh typed up to which those are looked for that an amount pays for (our choice)."""
ROUNDED_TO_KWH = 0.002
"""Part of its amount within which whole kWh make it by the tariff (our choice)."""
OFF_LINE = 0.01
"""Part of its amount from which a bill stands off the line (our choice)."""

Cost = Callable[[Pair, float], float | None]
Limits = Callable[[Pair, float], tuple[float, float] | None]


@dataclass(frozen=True, slots=True)
class Priced:
    """How the bills' money follows from their kWh."""

    cost: Cost
    limits: Limits
    within: float
    """Part of its money up to which a bill may stand off."""
    fits: float
    """The same for a proposed reading of its figures."""
    by_tariff: bool


def examine_own_prices(ledger: Ledger, recomputed: Sequence[Recomputed]) -> tuple[list[Finding], dict[int, Aside]]:
    """Find single bills whose kWh and amount contradict one another.

    Where the tariff is known and nothing speaks against the kWh, an odd amount is left to the tariff's own finding.

    Returns
    -------
    findings : list of Finding
    aside : dict of int to Aside
        Bills whose kWh are in another unit or column.
    """
    pairs = pairs_of(ledger)
    priced = _priced(ledger, pairs, recomputed)
    if priced is None:
        return [], {}
    off = [p for p in pairs if _apart(priced, p) > priced.within]
    if len(off) > max(1.0, MOST_SINGLE * len(pairs)):
        return [], {}
    if not priced.by_tariff:
        off = [p for p in off if _own_price_apart(p, [q for q in pairs if q not in off])]
    findings = [f for p in off if (f := _finding(ledger, priced, p, _usual(ledger, p, pairs))) is not None]
    if priced.by_tariff:  # without one, the line that the other bills follow tells
        nothing = [i for i in ledger.live if ledger.kwh[i] == 0 and ledger.days[i] > 0]
        findings += [f for i in nothing if (f := _left_out(ledger, priced, i)) is not None]
    unknown = [f for f in findings if f.code == "unit-mismatch" and f.figures["meant"][0]["name"] != "cents"]
    return findings, {f.periods[0]: Aside.UNIT for f in unknown}


def _left_out(ledger: Ledger, priced: Priced, i: int) -> Finding | None:
    """Find that a bill of no kWh asks by the tariff for those of an ordinary month."""
    amount, rates = amount_of(ledger.house, i), ledger.other_rates(i)
    if amount is None or not rates:
        return None
    p = Pair(i, ledger.days[i], 0.0, float(amount))
    paid = round(_paid_for(priced, p, ORDINARY * max(rates) * p.days) or 0.0)
    cost = priced.cost(p, paid)
    if cost is None or paid < min(rates) * p.days / ORDINARY or abs(cost - p.amount) > ROUNDED_TO_KWH * cost:
        return None
    return _contradiction(p, "kwh", -paid, _pays_for(ledger, p, paid, by_tariff=True))


def _pays_for(ledger: Ledger, p: Pair, paid: float, *, by_tariff: bool) -> dict[str, object]:
    slips = registers.misreads_of(p.kwh, registers.dials_of(max(p.kwh, paid)))
    return {
        **ledger.which((p.period,)),
        "kwh": p.kwh,
        "amount": amount_as_typed(ledger, p),
        "by_tariff": by_tariff,
        "paid_kwh": paid,
        "exactly": True,
        "how": slips.get(float(paid)) if p.kwh else None,
    }


def _priced(ledger: Ledger, pairs: Sequence[Pair], recomputed: Sequence[Recomputed]) -> Priced | None:
    ours, agree = by_the_tariff(pairs, recomputed)
    if len(agree) >= 3 and len(agree) >= 0.6 * len(pairs):

        def by_tariff(p: Pair, kwh: float) -> float | None:
            if kwh == p.kwh and p.period in ours:
                return ours[p.period]
            return cost_by_tariff(ledger, p.period, kwh)

        def exact(p: Pair, kwh: float) -> tuple[float, float] | None:
            cost = by_tariff(p, kwh)
            return None if cost is None else (cost, cost)

        return Priced(by_tariff, exact, BY_TARIFF, 0.02, by_tariff=True)
    if len(pairs) < FEWEST:
        return None
    line = _line(pairs)
    if line is None:
        return None
    apart = {p.period: _line([q for q in pairs if q is not p]) or line for p in pairs}
    return Priced(
        lambda p, kwh: apart[p.period].cost(p.days, kwh),
        lambda p, kwh: apart[p.period].between(p.days, kwh),
        max(BY_LINE, SCATTERS * line.scatter),
        max(0.03, 2 * line.scatter),
        by_tariff=False,
    )


def _line(pairs: Sequence[Pair]) -> PriceLine | None:
    line = price_line([p.days for p in pairs], [p.kwh for p in pairs], [p.amount for p in pairs])
    return None if line is None or line.per_kwh <= 0 or line.per_day < 0 else line


def _fits(priced: Priced, p: Pair, meant: tuple[float, float], usual: float) -> bool:
    """Whether a bill's price becomes ordinary with other figures: to the hundredth, or so that its use does as well."""
    cost = priced.cost(p, meant[0])
    if cost is None:
        return False
    apart = abs(cost - meant[1]) / max(abs(cost), abs(meant[1]), 1e-9)
    factor = max(meant[0] / p.kwh, p.kwh / meant[0], p.amount / meant[1])
    exactly = apart <= EXACTLY and factor >= ALIKE
    return exactly or (apart <= priced.fits and _nearer(p, meant[0], usual))


def _own_price_apart(p: Pair, others: Sequence[Pair]) -> bool:
    """Whether a bill's average price lies outside all the others': a line drawn through bills of two seasons or
    several blocks is not to be trusted beyond its ends.
    """
    prices = [q.amount / q.kwh for q in others]
    return not min(prices) * (1.0 - BY_LINE) <= p.amount / p.kwh <= max(prices) * (1.0 + BY_LINE)


def _usual(ledger: Ledger, p: Pair, pairs: Sequence[Pair]) -> float:
    """Daily use of the other bills of the same season, of whatever year [kWh/d]; of all of them where none is."""
    others = [q for q in pairs if q is not p]
    same = [q for q in others if season_apart(ledger, p.period, q.period) <= SAME_SEASON_DAYS]
    return median(q.kwh / q.days for q in same or others or [p])


def _apart(priced: Priced, p: Pair) -> float:
    """Part of the larger of the two by which an amount stands off its kWh's cost."""
    limits = priced.limits(p, p.kwh)
    if limits is None:
        return 0.0
    nearest = min(max(p.amount, limits[0]), limits[1])
    return abs(nearest - p.amount) / max(abs(nearest), p.amount, 1e-9)


def _finding(ledger: Ledger, priced: Priced, p: Pair, usual: float) -> Finding | None:
    figures = {
        **ledger.which((p.period,)),
        "kwh": p.kwh,
        "amount": amount_as_typed(ledger, p),
        "cost": priced.cost(p, p.kwh),
        "by_tariff": priced.by_tariff,
        "price": p.amount / p.kwh,
        "currency": ledger.house.currency,
    }
    for name, read in READINGS.items():
        kwh, amount = read(p.kwh, p.amount)
        if _fits(priced, p, (kwh, amount), usual):
            figures["meant"] = ({"name": name, "price": amount / kwh},)
            return Finding("unit-mismatch", (p.period,), settles=True, figures=figures, household=("units-typed",))
    moved = ledger.moved[p.period]
    if moved is not None and p.period not in ledger.spans and agrees(ledger, p.period, p.kwh, moved):
        return _odd_amount(ledger, priced, p, figures)
    paid = _paid_for(priced, p, MOST_TIMES * p.kwh)
    if paid is None or not _nearer(p, paid, usual):
        arrears = _arrears(ledger, priced, p, figures)
        if arrears is not None:
            return arrears
    for case, times in TIMES.items():
        if _fits(priced, p, (p.kwh / times, p.amount), usual):
            return _contradiction(p, case, p.kwh - p.kwh / times, figures)
    if paid is not None and paid > 0 and _nearer(p, paid, usual):
        return _contradiction(p, "kwh", p.kwh - paid, {**figures, "paid_kwh": paid, "exactly": False})
    return _odd_amount(ledger, priced, p, figures)


def _odd_amount(ledger: Ledger, priced: Priced, p: Pair, figures: dict[str, object]) -> Finding | None:
    """An amount that is odd beside kWh that are not: a balance carried over; with a tariff, the rest is its finding."""
    arrears = _arrears(ledger, priced, p, figures)
    if arrears is not None or priced.by_tariff:
        return arrears
    return _contradiction(p, "amount", None, figures)


def _arrears(ledger: Ledger, priced: Priced, p: Pair, figures: dict[str, object]) -> Finding | None:
    """Find that what a bill asks beyond its kWh is what the bills just before it asked, and a late fee at most."""
    cost = priced.cost(p, p.kwh)
    if cost is None:
        return None
    within = priced.fits * cost
    unpaid = unpaid_before(ledger, p.period, p.amount - cost, within)
    return None if unpaid is None else _carried_over(p.period, p.amount - cost, unpaid, {**figures, "fee_told": within})


def _carried_over(period: int, more: float, unpaid: Unpaid, figures: dict[str, object]) -> Finding:
    return Finding(
        "other-charge",
        (period,),
        amount=cents(Decimal(repr(more))),
        case="arrears",
        figures={**figures, "unpaid": unpaid.asked, "bills": unpaid.bills, "fee": unpaid.fee},
        asks=("what-for",),
        household=("look-for-other-charges", "take-out-other-charges"),
    )


def beside_the_line(ledger: Ledger, prices: Sequence[OwnPrice]) -> list[Finding]:
    """Find single bills that ask for another sum than their kWh cost, where the others lie on one line to the cent.

    The bills beside a change of price may hold both prices, and tell nothing.

    Parameters
    ----------
    prices : sequence of OwnPrice
        What the bills' own money shows (:func:`reconcile.money.own_prices.own_prices`).
    """
    changes = {p.periods[0] for p in prices[1:]} | {p.periods[-1] for p in prices[:-1]}
    on_line, off_line = 0, []
    for price in prices:
        for i in price.periods:
            amount = float(amount_of(ledger.house, i) or 0)
            fixed = price.fixed(ledger.bills[i].days)
            cost = fixed + price.per_kwh * ledger.kwh[i]
            apart = abs(amount - cost)
            if _is_part(ledger, i) and abs(amount + fixed - cost) <= 2 * float(PENNY):
                continue
            on_line += apart <= ON_LINE * abs(amount) + 2 * float(PENNY)
            if apart >= OFF_LINE * abs(cost) + 2 * float(PENNY) and i not in changes:
                off_line.append((i, amount, cost))
    bills = sum(len(p.periods) for p in prices)
    if on_line < max(FEWEST, MOSTLY * bills) or len(off_line) > max(1.0, MOST_SINGLE * bills):
        return []
    mistyped = [f for i, amount, _ in off_line if (f := _mistyped(ledger, i, amount, prices)) is not None]
    off_line = [row for row in off_line if (row[0],) not in {f.periods for f in mistyped}]
    if not off_line or _of_blocks([(ledger.kwh[i], amount - cost) for i, amount, cost in off_line], ledger.kwh, prices):
        return mistyped
    printed = lines_of(ledger)
    return mistyped + [_off_line(ledger, i, amount, cost) for i, amount, cost in off_line if i not in printed]


def _is_part(ledger: Ledger, i: int) -> bool:
    """Whether a bill begins or ends with a meter: a month billed in two parts asks its fixed charge once."""
    return any(x.day in (ledger.bills[i].start, ledger.bills[i].closes) for x in ledger.exchanges)


def on_own_price(ledger: Ledger, prices: Sequence[OwnPrice], i: int) -> bool:
    """Whether a bill asks to the cent for its kWh at the price that the bills' own money shows."""
    amount, price = amount_of(ledger.house, i), next((p for p in prices if i in p.periods), None)
    if amount is None or price is None:
        return False
    return abs(price.fixed(ledger.days[i]) + price.per_kwh * ledger.kwh[i] - float(amount)) <= 2 * float(PENNY)


def _mistyped(ledger: Ledger, i: int, amount: float, prices: Sequence[OwnPrice]) -> Finding | None:
    """Find that a bill's amount pays to the cent for other whole kWh, of which those typed are one slip, or left out.

    None where the bill's readings bear its kWh out.
    """
    price = next(price for price in prices if i in price.periods)
    days, kwh, moved = ledger.days[i], ledger.kwh[i], ledger.moved[i]
    if price.per_kwh <= 0 or (moved is not None and agrees(ledger, i, kwh, moved)):
        return None
    fixed = price.fixed(days)
    paid = round((amount - fixed) / price.per_kwh)
    rates = ledger.other_rates(i)
    if paid <= 0 or abs(fixed + price.per_kwh * paid - amount) > 2 * float(PENNY) or not rates:
        return None
    p = Pair(i, days, kwh, amount)
    figures = _pays_for(ledger, p, paid, by_tariff=False)
    left_out = kwh == 0 and min(rates) / ORDINARY <= paid / days <= max(rates) * ORDINARY
    more = amount - fixed - price.per_kwh * kwh
    slip = figures["how"] is not None and abs(more - round(more)) > 2 * float(PENNY)  # a round sum is rather a fee
    return _contradiction(p, "kwh", kwh - paid, figures) if slip or left_out else None


def _of_blocks(off: Sequence[tuple[float, float]], kwh: Sequence[float], prices: Sequence[OwnPrice]) -> bool:
    """Whether the bills off the line are all those of least or of most use: kWh have another price there.

    A single one only where another price of the kWh that part it from the rest may make its money, and that is no
    round sum, as fees are.

    Parameters
    ----------
    off : sequence of tuple
        kWh and money beside the line of each.
    """
    if len({more > 0 for _, more in off}) != 1:
        return False
    used = sorted(kwh[i] for price in prices for i in price.periods)
    mine = sorted(use for use, _ in off)
    if mine not in (used[: len(off)], used[-len(off) :]):
        return False
    if len(off) >= FEWEST_OF_BLOCK:
        return True
    (use, more), nearest = off[0], used[1] if mine == used[:1] else used[-2]
    at_most = abs(use - nearest) * max(price.per_kwh for price in prices)
    return abs(more) <= at_most and abs(more - round(more)) > 2 * float(PENNY)


def _off_line(ledger: Ledger, i: int, amount: float, cost: float) -> Finding:
    more = amount - cost
    if abs(more - round(more)) <= 2 * float(PENNY):
        more = float(round(more))  # the line itself is known to a cent or two
    figures: dict[str, object] = {
        **ledger.which((i,)),
        "amount": ledger.bills[i].amount,
        "cost": cost,
        "by_tariff": False,
        "more": more,
        "last": i == ledger.live[-1],
    }
    unpaid = unpaid_before(ledger, i, more, 2 * float(PENNY), LATE_SUM)
    if unpaid is not None:
        return _carried_over(i, more, unpaid, {**figures, "fee_told": float(PENNY)})
    return Finding(
        "other-charge",
        (i,),
        amount=cents(Decimal(repr(more))),
        case="off-line",
        figures=figures,
        asks=("what-for",) if more > 0 else (),
        household=("look-for-other-charges", "take-out-other-charges"),
    )


def amount_as_typed(ledger: Ledger, p: Pair) -> object:
    """Return the bill's money as typed, else the sum of its lines."""
    return ledger.bills[p.period].amount if ledger.bills[p.period].amount is not None else p.amount


def _contradiction(p: Pair, case: str, kwh: float | None, figures: dict[str, object]) -> Finding:
    return Finding(
        "unit-price",
        (p.period,),
        kwh,
        settles=case != "amount",
        case=case,
        figures=figures,
        asks=("kwh-and-amount",),
        household=("kwh-and-amount-typed",),
    )


def _paid_for(priced: Priced, p: Pair, most: float) -> float | None:
    """The kWh that the amount pays for, by halving."""
    low, high = 0.0, most
    ends = priced.cost(p, low), priced.cost(p, high)
    if ends[0] is None or ends[1] is None or not ends[0] <= p.amount <= ends[1]:
        return None
    for _ in range(40):
        middle = (low + high) / 2.0
        cost = priced.cost(p, middle)
        if cost is None:
            return None
        low, high = (middle, high) if cost < p.amount else (low, middle)
    return (low + high) / 2.0


def _nearer(p: Pair, paid: float, usual: float) -> bool:
    """Whether the kWh the amount pays for are clearly nearer to the house's usual use than those charged."""
    charged, by_money = (abs(math.log(kwh / p.days / usual)) for kwh in (p.kwh, paid))
    return charged > by_money + CLEARLY_NEARER
