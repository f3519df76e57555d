"""Prices: changes of the tariff, bills prorated across one, and bills that are not what the tariff gives."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from decimal import ROUND_DOWN, Decimal
from itertools import pairwise

from reconcile import ledger_words as words
from reconcile.facts import Finding
from reconcile.house import House
from reconcile.money.recompute import Recomputed, printed_lines, use_of
from reconcile.money.tariff_lines import CannotPrice, price_bill, total
from reconcile.money.tariff_parts import segments
from reconcile.paper.ledger import Ledger
from reconcile.tariff import Charge, Tariff

MOST_CHANGES_TOLD = 2
"""A charge whose value changes more often than this over the bills is told of once, not change by change."""
HALF_CENT = Decimal("0.005")


def examine_prices(ledger: Ledger, recomputed: Sequence[Recomputed]) -> list[Finding]:
    """Find price changes, prorated bills, and amounts that the tariff as typed does not give."""
    if not ledger.house.tariffs or not ledger.live:
        return []
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
    text = f"Prices change on {words.day(day)}"
    changed = _changed_charges(before, after)
    if changed:
        text += f": {changed}"
    if dearer is not None:
        more = "more" if dearer >= 0 else "less"
        text += (
            f". {words.capital(words.span(bill))} would cost {words.money(abs(dearer), house.currency)} {more} at the "
            "new prices than at the old"
        )
    findings = [
        Finding(
            "price-change", (i,), None, dearer, f"{text}.", "See the money section for what is price and what is use."
        )
    ]
    if bill.start < day < bill.closes:
        old_days = (day - bill.start).days
        findings.append(
            Finding(
                "proration",
                (i,),
                None,
                None,
                f"The change falls inside {words.span(bill)}: its kWh are split by days ({old_days} of {bill.days} at "
                "the old prices), whatever was used when.",
                "A reading of your own near the day of a change would show the true split.",
            )
        )
    return findings


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


def _changed_charges(before: Tariff, after: Tariff) -> str:
    old = {c.name: c for c in before.charges}
    told = [
        f"{c.name} from {old[c.name].price:f} to {c.price:f}"
        for c in after.charges
        if c.name in old and c.price is not None and old[c.name].price is not None and old[c.name].price != c.price
    ]
    return words.listed(told) if 0 < len(told) <= MOST_CHANGES_TOLD + 1 else ""


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
                for day, old, new, i in changes:
                    findings += _one_value(ledger, charge, day, old, new, i)
            elif changes:
                findings.append(_many_values(ledger, charge, changes))
    return findings


def _one_value(ledger: Ledger, charge: Charge, day: date, old: Decimal, new: Decimal, i: int) -> list[Finding]:
    bill = ledger.bills[i]
    inside = charge.applies == "service" and bill.start < day < bill.closes
    out = [
        Finding(
            "price-change",
            (i,),
            None,
            None,
            f"{charge.name} changes on {words.day(day)} from {old:f} to {new:f}.",
            "See the money section for what is price and what is use.",
        )
    ]
    if inside:
        out.append(
            Finding(
                "proration",
                (i,),
                None,
                None,
                f"{charge.name} changes inside {words.span(bill)}: it is split by days, {(day - bill.start).days} of "
                f"{bill.days} at the old value.",
                "A reading of your own near the day of a change would show the true split.",
            )
        )
    return out


def _many_values(ledger: Ledger, charge: Charge, changes: Sequence[tuple[date, Decimal, Decimal, int]]) -> Finding:
    values = [changes[0][1], *(new for _, _, new, _ in changes)]
    return Finding(
        "price-change",
        tuple(dict.fromkeys(i for _, _, _, i in changes)),
        None,
        None,
        f"{charge.name} changes {len(changes)} times over these bills, between {min(values):f} and {max(values):f}.",
        "See the money section for what is price and what is use.",
    )


def rounding_can_do(lines: int) -> Decimal:
    """Most that rounding each line otherwise could change a bill: half a cent a line, in whole cents.

    Examples
    --------
    >>> rounding_can_do(2), rounding_can_do(7)
    (Decimal('0.01'), Decimal('0.03'))
    """
    return (HALF_CENT * lines).quantize(Decimal("0.01"), ROUND_DOWN)


def _amounts(ledger: Ledger, recomputed: Sequence[Recomputed]) -> list[Finding]:
    live = set(ledger.live)
    judged = [r for r in recomputed if r.period in live and r.difference is not None]
    off = [r for r in judged if r.difference is not None and abs(r.difference) > rounding_can_do(len(r.lines))]
    if not off:
        return []
    if len(off) > 2 and len(off) * 2 > len(judged):
        return [_most_differ(ledger, off, len(judged))]
    return [_differs(ledger, r) for r in off]


def _most_differ(ledger: Ledger, off: Sequence[Recomputed], judged: int) -> Finding:
    sums = [r.difference for r in off if r.difference is not None]
    currency = ledger.house.currency
    return Finding(
        "amount-mismatch",
        tuple(r.period for r in off),
        None,
        sum(sums, start=Decimal(0)),
        f"The tariff as typed does not give {len(off)} of {judged} bills (from {words.money(min(sums), currency)} to "
        f"{words.money(max(sums), currency)} a bill). Most likely it is typed differently from what applies.",
        "Compare the lines of one bill with the tariff; the money section shows ours.",
    )


def _differs(ledger: Ledger, r: Recomputed) -> Finding:
    house, bill = ledger.house, ledger.bills[r.period]
    currency = house.currency
    ours, billed = r.ours or Decimal(0), r.billed or Decimal(0)
    text = (
        f"{words.capital(words.span(bill))} asks for {words.money(billed, currency)}; the tariff as typed gives "
        f"{words.money(ours, currency)}, {words.money(abs(billed - ours), currency)} "
        f"{'less' if billed > ours else 'more'}"
    )
    printed = printed_lines(house, bill)
    own: dict[str, Decimal] = {}
    for line in r.lines:
        own[line.charge] = own.get(line.charge, Decimal(0)) + line.amount
    apart = [
        f"{name} {words.money(printed[name.casefold()], currency)} beside ours {words.money(value, currency)}"
        for name, value in own.items()
        if name.casefold() in printed and printed[name.casefold()] != value
    ]
    if apart:
        text += f": {words.listed(apart)}"
    text += _all_at_one_price(house, ledger.kwh[r.period], r)
    return Finding(
        "amount-mismatch",
        (r.period,),
        None,
        billed - ours,
        f"{text}.",
        "Compare line by line: either the tariff is typed otherwise than it stands, or the bill is to be corrected.",
    )


def _all_at_one_price(house: House, kwh: float, r: Recomputed) -> str:
    """Say so where a bill across a price change asks the old or the new prices for all its days."""
    bill = house.bills[r.period]
    spans = segments(house.tariffs, bill.start, bill.closes)
    if len(spans) < 2 or r.billed is None:
        return ""
    for which, tariff in (("old", spans[0][0]), ("new", spans[-1][0])):
        lines = price_bill([replace(tariff, valid_from=date.min)], use_of(house, bill, kwh))
        if abs(total(lines) - r.billed) <= rounding_can_do(len(lines)):
            return f"; it is what all its days at the {which} prices cost"
    return ""
