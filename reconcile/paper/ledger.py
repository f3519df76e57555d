"""The bills laid out for examination: energy, order, and which of them count."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date
from typing import Any

from reconcile.facts import Exchange
from reconcile.house import Bill, House, Meter, registers
from reconcile.house.registers import energy_by_readings
from reconcile.records import dataclass

LIKE_THE_REST = 5.0
"""A pass of the register through zero is believed up to this many times the middle daily use of the other
bills; a lower reading that would need more is a wrong reading (our choice, no source: seasons swing less, and
a wrong reading needs nearly the whole register)."""
MOST_KWH_PER_DAY = 1152.0
"""24 hours at 200 A and 240 V: the most a house service carries, where no other bill says more [kWh/d]."""

AS_PRINTED_KWH, AS_PRINTED = 1.5, 0.005
"""The difference of two readings is a printed kWh where it is this near to it: both are rounded [kWh], and a part of it
for a multiplier's rounding (our choice)."""

SAME_SEASON_DAYS = 46
"""Bills whose first days lie this near in the year are of one season: the month itself and those beside it [d] (our
choice)."""


@dataclass(frozen=True, slots=True)
class Ledger:
    """What every examiner looks at. Lists run over the house's bills."""

    house: House
    bills: tuple[Bill, ...]
    meters: tuple[Meter, ...]
    multipliers: tuple[float, ...]
    kwh: tuple[float, ...]
    """Billed energy [kWh]; NaN where nothing is known."""
    moved: tuple[float | None, ...]
    """Register difference x multiplier [kWh] as it stands: negative where the second reading is lower, None
    without readings."""
    live: tuple[int, ...]
    """Bills that count, in order: not cancelled, repeated or replaced."""
    joins: frozenset[int]
    """Positions k of ``live`` whose bill ends on the day the next one starts."""
    exchanges: tuple[Exchange, ...]
    spans: frozenset[int]
    """Bills with an exchange between their two readings: the difference of the two says nothing."""
    days: tuple[int, ...]
    per_day: tuple[float, ...]
    """Daily use of every bill [kWh/d]."""

    def dates(self, i: int) -> tuple[date, date]:
        """First and last date of bill i as printed."""
        return self.bills[i].start, self.bills[i].end

    def which(self, periods: Sequence[int]) -> dict[str, Any]:
        """Figures by which a sentence names one bill, or several: their count and the dates of the first."""
        return {"count": len(periods), "bill": self.dates(periods[0])}

    def other_rates(self, *apart: int) -> list[float]:
        """Daily use of the live bills other than ``apart`` [kWh/d], those that have one."""
        return [self.per_day[i] for i in self.live if i not in apart and self.per_day[i] > 0]


def multiplier_of(bill: Bill, meter: Meter) -> float:
    """Return the bill's own multiplier, else its meter's."""
    return bill.multiplier if bill.multiplier is not None else meter.multiplier


def lay_out(house: House, live: tuple[int, ...], exchanges: tuple[Exchange, ...]) -> Ledger:
    """Make the ledger of the bills that count, ``live``."""
    bills = house.bills
    meters = tuple(house.meter_on(b.start, b.meter) for b in bills)
    multipliers = tuple(multiplier_of(b, m) for b, m in zip(bills, meters, strict=True))
    moved = _less_sent_back(bills, meters, tuple(_moved(b, m) for b, m in zip(bills, multipliers, strict=True)))
    spans = _spans(bills, live, exchanges)
    energy = _energies(house, meters, moved, multipliers, spans)
    joins = frozenset(k for k in range(len(live) - 1) if bills[live[k]].closes == bills[live[k + 1]].start)
    days = tuple(b.days for b in bills)
    per_day = tuple(e / d if d > 0 else math.nan for e, d in zip(energy, days, strict=True))
    return Ledger(house, bills, meters, multipliers, energy, moved, live, joins, exchanges, spans, days, per_day)


def _spans(bills: tuple[Bill, ...], live: tuple[int, ...], exchanges: tuple[Exchange, ...]) -> frozenset[int]:
    out = set()
    for x in exchanges:
        bill, k = bills[x.period], live.index(x.period)
        if bill.start < x.day < bill.closes:
            out.add(x.period)
        elif k and bill.reading_start is not None and bill.reading_start == bills[live[k - 1]].reading_end:
            # it opens with the old meter's reading, so the exchange fell inside it whatever date was told
            out.add(x.period)
    return frozenset(out)


def season_apart(ledger: Ledger, i: int, k: int) -> float:
    """How far apart in the year two bills begin [d], at most half a year."""
    days = abs((ledger.bills[i].start - ledger.bills[k].start).days) % 365.25
    return min(days, 365.25 - days)


def by_season(ledger: Ledger, before: Sequence[int], after: Sequence[int]) -> list[tuple[float, float]]:
    """Each later bill's use a day, and that of the earlier bill that is nearest in the year, where one is near.

    Parameters
    ----------
    before, after : sequence of int
        Bills.

    Returns
    -------
    list of tuple of float
        Of the later bills with an earlier one of their season; both with some use [kWh/d].
    """
    known = [k for k in before if ledger.per_day[k] > 0]
    nearest = {i: min(known, key=lambda k: season_apart(ledger, i, k)) for i in after if known}
    return [
        (ledger.per_day[i], ledger.per_day[k])
        for i, k in nearest.items()
        if ledger.per_day[i] > 0 and season_apart(ledger, i, k) <= SAME_SEASON_DAYS
    ]


def same_meter(ledger: Ledger) -> list[list[int]]:
    """Bills of one meter each, in order, without those within which it was exchanged."""
    starts = {x.period for x in ledger.exchanges}
    groups: list[list[int]] = [[]]
    for i in ledger.live:
        if i in starts:
            groups.append([])
        if i not in ledger.spans:
            groups[-1].append(i)
    return groups


def _moved(bill: Bill, multiplier: float) -> float | None:
    if bill.reading_start is None or bill.reading_end is None:
        return None
    return (bill.reading_end - bill.reading_start) * multiplier


def _less_sent_back(
    bills: tuple[Bill, ...], meters: tuple[Meter, ...], moved: tuple[float | None, ...]
) -> tuple[float | None, ...]:
    """Take what was sent back from the differences of readings that are the delivered register's, in most bills.

    That register never runs backwards: where its second reading is lower, it went past its last number.
    """
    drawn: dict[int, float] = {}
    apart = sent = 0
    for i, (bill, step) in enumerate(zip(bills, moved, strict=True)):
        if step is None or bill.delivered_kwh is None or bill.received_kwh is None:
            continue
        if step < 0 and bill.reading_start is not None and bill.reading_end is not None:
            past = registers.difference(bill.reading_start, bill.reading_end, meters[i].digits)
            step = past * multiplier_of(bill, meters[i])
        drawn[i] = step
        near = AS_PRINTED_KWH + AS_PRINTED * bill.delivered_kwh
        sent += bill.received_kwh > near
        apart += abs(step - bill.delivered_kwh) <= near < bill.received_kwh
    if apart <= sent / 2:
        return moved
    return tuple(
        drawn[i] - (bill.received_kwh or 0.0) if i in drawn else step
        for i, (bill, step) in enumerate(zip(bills, moved, strict=True))
    )


def _energies(
    house: House,
    meters: tuple[Meter, ...],
    moved: tuple[float | None, ...],
    multipliers: tuple[float, ...],
    spans: frozenset[int],
) -> tuple[float, ...]:
    out: list[float] = []
    lower: list[int] = []
    for i, bill in enumerate(house.bills):
        step = None if i in spans else moved[i]
        by_registers = None
        if bill.kwh is None and (house.readings or step is None):
            by_registers = energy_by_readings(house, bill)
        if bill.kwh is not None:
            value = bill.kwh
        elif by_registers is not None:
            value = by_registers
        elif step is not None:
            value = step
            if step < 0:
                lower.append(i)
        elif bill.delivered_kwh is not None:
            value = bill.delivered_kwh - (bill.received_kwh or 0.0)
        else:
            value = math.nan
        out.append(value)
    for i in lower:
        wrapped = passed_zero(house, i, meters[i], multipliers[i], out)
        if wrapped is not None:
            out[i] = wrapped
    return tuple(out)


def passed_zero(
    house: House, i: int, meter: Meter, multiplier: float, energy: list[float] | tuple[float, ...]
) -> float | None:
    """Energy of bill i [kWh] if its register went past its last number; None where that cannot be.

    A register with generation behind it may simply have run backwards; and where a pass would mean far more
    than this house ever uses, the lower reading is a wrong reading.
    """
    bill = house.bills[i]
    if house.generation or bill.reading_start is None or bill.reading_end is None or bill.days <= 0:
        return None
    value = registers.difference(bill.reading_start, bill.reading_end, meter.digits) * multiplier
    others = sorted(e / b.days for k, (e, b) in enumerate(zip(energy, house.bills, strict=True)) if k != i and e > 0)
    middle = others[len(others) // 2] if len(others) > 1 else math.nan
    limit = LIKE_THE_REST * middle if middle > 0 else MOST_KWH_PER_DAY * max(multiplier, 1.0)
    return value if value / bill.days <= limit else None
