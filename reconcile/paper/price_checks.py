"""Prices: changes of the tariff, bills prorated across one, and bills that are not what the tariff gives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import ROUND_DOWN, Decimal
from itertools import pairwise

from reconcile.facts import Finding
from reconcile.house import House
from reconcile.house.tariff import Charge, Tariff
from reconcile.money.exact_lines import KNOWN_TO
from reconcile.money.own_prices import OwnPrice, changes
from reconcile.money.recompute import Recomputed, printed_lines, use_of
from reconcile.money.tariff_lines import CannotPrice, cents, price_bill, total
from reconcile.money.tariff_parts import segments
from reconcile.paper.ledger import Ledger

MOST_CHANGES_TOLD = 2
"""A charge whose value changes more often than this over the bills is told of once, not change by change."""
ASKED_FROM = Decimal("0.002")
"""Part of a bill by which its amount must differ before anybody is asked about it: a cent or two more than rounding can
do is told, and brings back less than the asking costs (our choice)."""
HALF_CENT = Decimal("0.005")
SAME_PRICE = 0.01
"""Part by which a price may stand off an earlier one that it comes back to (our choice)."""


def examine_prices(
    ledger: Ledger, recomputed: Sequence[Recomputed], own_prices: Sequence[OwnPrice] = ()
) -> list[Finding]:
    """Find price changes, prorated bills, and amounts that the tariff as typed does not give.

    Without a tariff, a change of price that the bills' own money shows.
    """
    if not ledger.live:
        return []
    if not ledger.house.tariffs:
        return _own_change(ledger, own_prices)
    return [*_tariff_changes(ledger), *_value_changes(ledger), *_amounts(ledger, recomputed)]


def _tariff_changes(ledger: Ledger) -> list[Finding]:
    house = ledger.house
    findings: list[Finding] = []
    for before, after in pairwise(house.tariffs):
        if _same_prices(before, after):
            continue
        i = _period_of(ledger, after.valid_from)
        if i is not None:
            findings += _change(ledger, i, after.valid_from, before, after)
    return findings


def _own_change(ledger: Ledger, own_prices: Sequence[OwnPrice]) -> list[Finding]:
    """Tell each change of price that the bills' own money shows; prices that come back are those of a season."""
    pairs = changes(own_prices)
    if not pairs:
        return []
    before, after = pairs[-1]
    earlier = [price.per_kwh for price in own_prices if price.periods < before.periods]
    if before.per_kwh != after.per_kwh and any(abs(after.per_kwh / price - 1.0) < SAME_PRICE for price in earlier):
        least, most = sorted((before.per_kwh, after.per_kwh))
        figures = {"least": least, "most": most, **ledger.which(after.periods)}
        return [Finding("price-change", after.periods, case="seasons", figures=figures)]
    told: list[Finding] = []
    for before, after in pairs:
        since = tuple(i for price in own_prices if price.periods >= after.periods for i in price.periods)
        if before.per_kwh == after.per_kwh:
            told.append(_own_charge(ledger, before, after, since))
            continue
        rises = tuple((f.figures["day"], f.figures["part"], f.figures["more"]) for f in told if f.case == "own")
        used = sum(ledger.kwh[i] for i in since)
        beside = sum(after.fixed(days) - before.fixed(days) for days in (float(ledger.bills[i].days) for i in since))
        more = used * (after.per_kwh - before.per_kwh) + beside
        # a price known to a part leaves the charge beside it known to that part of what the kWh cost
        sure = abs(beside) > 2.0 * KNOWN_TO * before.per_kwh * used
        figures = {
            "day": ledger.bills[after.periods[0]].start,
            "old": before.per_kwh,
            "new": after.per_kwh,
            "part": after.per_kwh / before.per_kwh - 1.0,
            "more": cents(Decimal(repr(more))),
            "each": cents(Decimal(repr(beside / len(since) if sure else 0.0))),
            "earlier": rises,
            **ledger.which(since),
        }
        told.append(Finding("price-change", since, amount=figures["more"], case="own", figures=figures))
    return told


def _own_charge(ledger: Ledger, before: OwnPrice, after: OwnPrice, since: tuple[int, ...]) -> Finding:
    """Tell a change of what a bill asks whatever its kWh: a fixed charge, a fee, or a credit that ended."""
    days = [float(ledger.bills[i].days) for i in since]
    more = sum(after.fixed(d) - before.fixed(d) for d in days)
    cost = sum(before.fixed(d) + before.per_kwh * ledger.kwh[i] for d, i in zip(days, since, strict=True))
    figures = {
        "day": ledger.bills[after.periods[0]].start,
        "each": cents(Decimal(repr(more / len(days)))),
        "price": after.per_kwh,
        "part": more / cost,
        "more": cents(Decimal(repr(more))),
        **ledger.which(since),
    }
    return Finding("price-change", since, amount=figures["more"], case="own-fixed", figures=figures)


def _same_prices(before: Tariff, after: Tariff) -> bool:
    return (before.charges, before.minimum_per_bill) == (after.charges, after.minimum_per_bill)


def _period_of(ledger: Ledger, day: date) -> int | None:
    """First live bill with days under prices from ``day``, unless all the bills are."""
    if day <= ledger.bills[ledger.live[0]].start:
        return None
    return next((i for i in ledger.live if ledger.bills[i].closes > day), None)


def _change(ledger: Ledger, i: int, day: date, before: Tariff, after: Tariff) -> list[Finding]:
    house, bill = ledger.house, ledger.bills[i]
    dearer = _dearer(house, i, ledger.kwh[i], before, after)
    figures = {
        "day": day,
        "changed": _changed_charges(before, after),
        "bill": ledger.dates(i),
        "dearer": dearer,
    }
    findings = [Finding("price-change", (i,), amount=dearer, figures=figures)]
    if bill.start < day < bill.closes:
        findings.append(_proration(ledger, i, day))
    return findings


def _proration(ledger: Ledger, i: int, day: date, name: str | None = None) -> Finding:
    bill = ledger.bills[i]
    figures = {"bill": ledger.dates(i), "old_days": (day - bill.start).days, "days": bill.days, "name": name}
    return Finding("proration", (i,), figures=figures, case="value" if name else "")


def _dearer(house: House, i: int, kwh: float, before: Tariff, after: Tariff) -> Decimal | None:
    """Cost of the bill's use at the later prices less its cost at the earlier ones."""
    if kwh != kwh:
        return None
    use = use_of(house, house.bills[i], kwh)
    try:
        cost = [total(price_bill([replace(t, valid_from=date.min)], use)) for t in (before, after)]
    except CannotPrice:
        return None
    return cost[1] - cost[0]


def _changed_charges(before: Tariff, after: Tariff) -> tuple[tuple[str, Decimal, Decimal], ...]:
    """Name and two prices of the charges that changed, where they are few."""
    old = {c.name: c.price for c in before.charges if c.price is not None}
    told = tuple(
        (c.name, old[c.name], c.price)
        for c in after.charges
        if c.name in old and c.price is not None and old[c.name] != c.price
    )
    return told if len(told) <= MOST_CHANGES_TOLD + 1 else ()


def _value_changes(ledger: Ledger) -> list[Finding]:
    findings: list[Finding] = []
    tariffs = ledger.house.tariffs
    ends = [*(t.valid_from for t in tariffs[1:]), date.max]
    for tariff, end in zip(tariffs, ends, strict=True):
        for charge in tariff.charges:
            changes = [
                (day, old, new, i)
                for (_, old), (day, new) in pairwise(charge.values)
                if old != new and tariff.valid_from < day < end and (i := _period_of(ledger, day)) is not None
            ]
            if 0 < len(changes) <= MOST_CHANGES_TOLD:
                for change in changes:
                    findings += _one_value(ledger, charge, change)
            elif changes:
                findings.append(_many_values(charge, changes))
    return findings


Change = tuple[date, Decimal, Decimal, int]
"""Day of a change, the value before and after it, and the first bill with days under it."""


def _one_value(ledger: Ledger, charge: Charge, change: Change) -> list[Finding]:
    day, old, new, i = change
    bill = ledger.bills[i]
    figures = {"name": charge.name, "day": day, "old": old, "new": new}
    out = [Finding("price-change", (i,), case="value", figures=figures)]
    if charge.applies == "service" and bill.start < day < bill.closes:
        out.append(_proration(ledger, i, day, charge.name))
    return out


def _many_values(charge: Charge, changes: Sequence[Change]) -> Finding:
    values = [changes[0][1], *(new for _, _, new, _ in changes)]
    figures = {"name": charge.name, "times": len(changes), "least": min(values), "most": max(values)}
    periods = tuple(dict.fromkeys(i for _, _, _, i in changes))
    return Finding("price-change", periods, case="values", figures=figures)


def rounding_can_do(lines: int) -> Decimal:
    """Most that rounding each line otherwise could change a bill: half a cent a line, in whole cents.

    Examples
    --------
    >>> rounding_can_do(2), rounding_can_do(7)
    (Decimal('0.01'), Decimal('0.03'))
    """
    return (HALF_CENT * lines).quantize(Decimal("0.01"), ROUND_DOWN)


def _amounts(ledger: Ledger, recomputed: Sequence[Recomputed]) -> list[Finding]:
    # no tariff says what kWh below nothing cost where nothing is sent out
    live = {i for i in ledger.live if ledger.house.generation or not ledger.kwh[i] < 0}
    judged = [r for r in recomputed if r.period in live and r.difference is not None]
    off = [r for r in judged if r.difference is not None and abs(r.difference) > rounding_can_do(len(r.lines))]
    if not off:
        return []
    since = _since(off, judged)
    if len(off) > 2 and (len(off) * 2 > len(judged) or (since and not ledger.house.charges)):
        return [_all_in_one(ledger, off, len(judged), since=since)]
    return [_differs(ledger, r) for r in off]


def _since(off: Sequence[Recomputed], judged: Sequence[Recomputed]) -> bool:
    """Whether every bill since one, and none before, asks for more: prices have changed, or bills are wrong since."""
    more = all(r.difference is not None and r.difference > 0 for r in off)
    return more and len(off) < len(judged) and list(off) == list(judged[-len(off) :])


def _all_in_one(ledger: Ledger, off: Sequence[Recomputed], judged: int, *, since: bool) -> Finding:
    sums = [r.difference for r in off if r.difference is not None]
    periods = tuple(r.period for r in off)
    first, last = ledger.bills[periods[0]], ledger.bills[periods[-1]]
    return Finding(
        "amount-mismatch",
        periods,
        amount=sum(sums, start=Decimal(0)),
        case="since" if since else "most",
        figures={
            "count": len(off), "judged": judged, "least": min(sums), "most": max(sums),
            "first": first.start, "last": last.end, "amount": sum(sums, start=Decimal(0)), "way": "more",
        },
        asks=("line-by-line",) if since else (),
        household=("compare-tariff",),
    )  # fmt: skip


def _differs(ledger: Ledger, r: Recomputed) -> Finding:
    house, bill = ledger.house, ledger.bills[r.period]
    ours, billed = r.ours or Decimal(0), r.billed or Decimal(0)
    printed = printed_lines(house, bill)
    own: dict[str, Decimal] = {}
    for line in r.lines:
        own[line.charge] = own.get(line.charge, Decimal(0)) + line.amount
    apart = tuple(
        (name, printed[name.casefold()], value)
        for name, value in own.items()
        if name.casefold() in printed and printed[name.casefold()] != value
    )
    worth = abs(billed - ours) > ASKED_FROM * abs(billed)
    return Finding(
        "amount-mismatch",
        (r.period,),
        amount=billed - ours,
        figures={
            "bill": ledger.dates(r.period),
            "billed": billed,
            "ours": ours,
            "lines": apart,
            "all_at": _all_at_one_price(house, ledger.kwh[r.period], r),
        },
        asks=("line-by-line",) if worth else (),
        household=("compare-tariff",) if worth else (),
    )


def _all_at_one_price(house: House, kwh: float, r: Recomputed) -> str | None:
    """Return ``old`` or ``new`` where a bill across a price change asks these prices for all its days."""
    bill = house.bills[r.period]
    spans = segments(house.tariffs, bill.start, bill.closes)
    if len(spans) < 2 or r.billed is None:
        return None
    for which, tariff in (("old", spans[0][0]), ("new", spans[-1][0])):
        lines = price_bill([replace(tariff, valid_from=date.min)], use_of(house, bill, kwh))
        if abs(total(lines) - r.billed) <= rounding_can_do(len(lines)):
            return which
    return None
