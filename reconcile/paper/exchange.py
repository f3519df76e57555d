"""Meter exchanges, and the number on the bill against the one on the wall."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from itertools import pairwise
from statistics import median

from reconcile.facts import Exchange, Finding
from reconcile.house import Bill, House
from reconcile.paper.ledger import Ledger, by_season

EXCHANGED = ("removed", "installed", "exchange")
"""Words in the ``event`` column of ``readings.csv`` that tell of an exchange."""


def find_exchanges(house: House, live: tuple[int, ...]) -> tuple[Exchange, ...]:
    """Find every exchange that readings, diary, meter list or bills tell of, each once, in order.

    Where several sources tell of one exchange the most exact date stands: dated readings, then the diary,
    then the meter list, then the first bill with the new number.
    """
    if not live:
        return ()
    dated = [*_by_readings(house), *_by_diary(house), *_by_list(house)]
    told = [*((*one, True) for one in dated), *((*one, False) for one in _by_bills(house, live))]
    out: list[Exchange] = []
    for day, old, new, known_day in told:
        period = _first_period(house, live, day)
        if period is None:
            continue
        known = next((k for k, x in enumerate(out) if abs(_place(live, x) - live.index(period)) <= 1), None)
        if known is None:
            out.append(Exchange(day, period, old, new, known_day))
        else:
            x = out[known]
            out[known] = Exchange(x.day, x.period, x.old or old, x.new or new, x.dated)
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
    changed = [(a, b) for a, b in pairwise(numbered) if a.meter != b.meter]
    return [(b.start, a.meter, b.meter) for a, b in changed if plain(a.meter) != plain(b.meter)]


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
        figures = {
            "day": x.day,
            "old": x.old,
            "new": x.new,
            "bill": ledger.dates(x.period),
            "inside": is_inside(ledger.bills[x.period], x),
            "dated": x.dated,
        }
        asks = () if _readings_known(ledger, x) else ("exchange-readings",)
        findings.append(Finding("meter-exchange", (x.period,), figures=figures, asks=asks))
    return findings + _other_meter(ledger)


def _readings_known(ledger: Ledger, x: Exchange) -> bool:
    """Whether the old meter's last and the new one's first reading are both here."""
    dated = [r for r in ledger.house.readings if r.day == x.day]
    if {"removed", "installed"} <= {r.event for r in dated} or len({r.meter for r in dated if r.meter}) > 1:
        return True
    k = ledger.live.index(x.period)
    before = ledger.bills[ledger.live[k - 1]] if k and k - 1 in ledger.joins else None
    closing = None if before is None else before.reading_end
    opening = ledger.bills[x.period].reading_start
    # both stand on bills only where the exchange fell on a reading day and the two figures differ
    return x.period not in ledger.spans and closing is not None and opening is not None and closing != opening


def _other_meter(ledger: Ledger) -> list[Finding]:
    on_the_wall = {plain(m.number): m.number for m in ledger.house.meters if m.number}
    on_bills = {i: ledger.bills[i].meter for i in ledger.live if ledger.bills[i].meter}
    if not on_bills:
        return []
    if not on_the_wall or any(plain(n) in on_the_wall for n in on_bills.values()):
        return _other_meter_since(ledger, on_bills)
    figures = {
        "billed": tuple(sorted({str(n) for n in on_bills.values()})),
        "listed": tuple(str(n) for n in on_the_wall.values()),
    }
    return [
        Finding(
            "meter-number",
            tuple(on_bills),
            settles=True,
            figures=figures,
            asks=("which-meter",),
            household=("compare-number",),
        )
    ]


def _other_meter_since(ledger: Ledger, on_bills: Mapping[int, str | None]) -> list[Finding]:
    """Find bills that go over to another meter while the household's own is still said to be the one before."""
    house, last = ledger.house, max(on_bills)
    since = next((x for x in reversed(ledger.exchanges) if x.new and plain(x.new) == plain(on_bills[last])), None)
    if since is None or plain(since.old) == plain(since.new):
        return []
    own = [m for m in house.meters if m.ends is None and m.number and plain(m.number) == plain(since.old)]
    only = len(house.meters) == 1 and not since.dated
    read = [r.day for r in house.readings if r.day > since.day and plain(r.meter) == plain(since.old)]
    if not (own and only) and not read:
        return []
    figures = {
        "billed": str(since.new),
        "listed": str(since.old),
        "bill": ledger.dates(since.period),
        "read": max(read, default=None),
    }
    after = tuple(i for i in on_bills if i >= since.period)
    return [
        Finding(
            "meter-number",
            after,
            settles=True,
            case="since",
            figures=figures,
            asks=("which-meter",),
            household=() if read else ("compare-number",),
        )
    ]


SEVERAL = re.compile(r"\bmeters\b", re.IGNORECASE)
"""Words of an exchange that tell of more than one meter."""
METER_WORK = re.compile(
    r"\bmeters\b|\bmeter (?:room|box|socket|base|bank|panel|work)\b|\bworked on (?:the|our|my) meter\b", re.I
)
"""Words of a diary line that tell of work at the meters."""
STEP_TIMES = 1.5
"""Times by which use a day has changed since then, for good, where a mixed-up meter is thought of (our choice)."""
FEWEST_BESIDE = 2
"""Bills before and after, for that."""


def examine_meter_work(ledger: Ledger) -> list[Finding]:
    """Find work at the meters in the diary from which on all bills are far higher, or lower, than all before."""
    out = []
    for event in ledger.house.events:
        words = SEVERAL if event.kind == "meter-exchange" else METER_WORK
        if not words.search(f"{event.load or ''} {event.note or ''}"):
            continue
        known = [i for i in ledger.live if ledger.per_day[i] > 0]
        earlier = [i for i in known if ledger.bills[i].closes <= event.day]
        before = [ledger.per_day[i] for i in earlier]
        after = [i for i in known if ledger.bills[i].start >= event.day]
        rates = [ledger.per_day[i] for i in after]
        if min(len(before), len(after)) < FEWEST_BESIDE:
            continue
        times = [later / usual for later, usual in by_season(ledger, earlier, after)]
        if len(times) < FEWEST_BESIDE:
            times = [min(rates) / max(before), max(rates) / min(before)]
        if min(times) < STEP_TIMES and max(times) * STEP_TIMES > 1.0:
            continue
        figures = {"day": event.day, "before": median(before), "after": median(rates)}
        out.append(
            Finding("meter-work", tuple(after), figures=figures, asks=("which-home",), household=("meter-follows",))
        )
    return out
