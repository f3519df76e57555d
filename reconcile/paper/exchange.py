"""Meter exchanges, and the number on the bill against the one on the wall."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

from reconcile import ledger_words as words
from reconcile.facts import Exchange, Finding
from reconcile.house import Bill, House
from reconcile.paper.ledger import Ledger

EXCHANGED = ("removed", "installed", "exchange")
"""Words in the ``event`` column of ``readings.csv`` that tell of an exchange."""


def find_exchanges(house: House, live: tuple[int, ...]) -> tuple[Exchange, ...]:
    """Find every exchange that readings, diary, meter list or bills tell of, each once, in order.

    Where several sources tell of one exchange the most exact date stands: dated readings, then the diary,
    then the meter list, then the first bill with the new number.
    """
    if not live:
        return ()
    told = [*_by_readings(house), *_by_diary(house), *_by_list(house), *_by_bills(house, live)]
    out: list[Exchange] = []
    for day, old, new in told:
        period = _first_period(house, live, day)
        if period is None:
            continue
        known = next((k for k, x in enumerate(out) if abs(_place(live, x) - live.index(period)) <= 1), None)
        if known is None:
            out.append(Exchange(day, period, old, new))
        else:
            x = out[known]
            out[known] = Exchange(x.day, x.period, x.old or old, x.new or new)
    return tuple(sorted(out, key=lambda x: x.day))


def _place(live: tuple[int, ...], exchange: Exchange) -> int:
    return live.index(exchange.period)


def _first_period(house: House, live: tuple[int, ...], day: date) -> int | None:
    if day <= house.bills[live[0]].start:
        return None
    return next((i for i in live if house.bills[i].closes > day), None)


def _by_readings(house: House) -> list[tuple[date, str | None, str | None]]:
    rows = sorted(house.readings, key=lambda r: r.day)
    out = []
    named = [r for r in rows if r.meter is not None]
    for before, after in pairwise(named):
        new_is_new = not any(r.meter == after.meter for r in named if r.day < after.day)
        old_is_gone = not any(r.meter == before.meter for r in named if r.day > after.day)
        if before.meter != after.meter and new_is_new and old_is_gone:
            out.append((after.day, before.meter, after.meter))
    out += [(r.day, None, None) for r in rows if r.event in EXCHANGED]
    return out


def _by_diary(house: House) -> list[tuple[date, str | None, str | None]]:
    return [(e.day, None, None) for e in house.events if e.kind == "meter-exchange"]


def _by_list(house: House) -> list[tuple[date, str | None, str | None]]:
    listed = sorted(house.meters, key=lambda m: m.begins or date.min)
    out = []
    for before, after in pairwise(listed):
        begins = after.begins or before.ends
        if begins is not None:
            out.append((begins, before.number, after.number))
    return out


def _by_bills(house: House, live: tuple[int, ...]) -> list[tuple[date, str | None, str | None]]:
    numbered = [house.bills[i] for i in live if house.bills[i].meter is not None]
    return [(b.start, a.meter, b.meter) for a, b in pairwise(numbered) if plain(a.meter) != plain(b.meter)]


def plain(number: str | None) -> str:
    """Write a meter's number without what differs between bill and nameplate: spaces, hyphens, leading
    zeros.
    """
    return "".join(c for c in (number or "").casefold() if c.isalnum()).lstrip("0")


def is_inside(bill: Bill, exchange: Exchange) -> bool:
    """Whether the exchange fell after the opening and before the closing reading of the bill."""
    return bill.start < exchange.day < bill.closes


def examine_exchanges(ledger: Ledger) -> list[Finding]:
    """Tell of every exchange, and of a meter number that no listed meter has."""
    findings = []
    for x in ledger.exchanges:
        numbers = f" ({x.old or 'the old one'} out, {x.new or 'the new one'} in)" if x.old or x.new else ""
        if is_inside(ledger.bills[x.period], x):
            where = f"within {words.span(ledger.bills[x.period])}"
        else:
            where = f"and {words.span(ledger.bills[x.period])} is the first from the new one"
        findings.append(
            Finding(
                "meter-exchange",
                (x.period,),
                None,
                None,
                f"The meter was exchanged on {words.day(x.day)}{numbers}, {where}.",
                "Ask for the old meter's final and the new one's first reading, and compare the bills before and "
                "after.",
            )
        )
    return findings + _other_meter(ledger)


def _other_meter(ledger: Ledger) -> list[Finding]:
    on_the_wall = {plain(m.number): m.number for m in ledger.house.meters if m.number}
    on_bills = {i: ledger.bills[i].meter for i in ledger.live if ledger.bills[i].meter}
    if not on_the_wall or not on_bills or any(plain(n) in on_the_wall for n in on_bills.values()):
        return []
    shown = words.listed(sorted({str(n) for n in on_bills.values()}))
    return [
        Finding(
            "meter-number",
            tuple(on_bills),
            None,
            None,
            f"The bills are for meter {shown}; the meter listed for this house is "
            f"{words.listed([str(n) for n in on_the_wall.values()])}. They may be another meter's bills.",
            "Compare the number on the meter's face with the bill, and tell the billing desk if they differ.",
            settles=True,
        )
    ]
