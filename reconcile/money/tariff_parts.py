"""Which prices hold on which days of a bill: price changes, seasons and values that change by date."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from itertools import pairwise

from reconcile.house.tariff import Charge, Tariff
from reconcile.records import dataclass


@dataclass(frozen=True, slots=True)
class Part:
    """One charge at one price over some days of the bill, ``start`` <= day < ``end``."""

    charge: Charge
    tariff: Tariff
    start: date
    end: date
    price: Decimal | None
    whole: bool
    """Whether it stands for the whole bill: the only price of its days, or set by one date (``applies``)."""

    @property
    def days(self) -> int:
        """Days of the part [d]."""
        return (self.end - self.start).days


def segments(tariffs: Sequence[Tariff], start: date, end: date) -> list[tuple[Tariff, date, date]]:
    """Split ``start`` <= day < ``end`` where one tariff follows the other.

    Empty where no tariff holds on the first day.

    Examples
    --------
    >>> old, new = Tariff(date(2025, 1, 1), ()), Tariff(date(2025, 3, 10), ())
    >>> [(a.day, b.day) for _, a, b in segments([old, new], date(2025, 3, 1), date(2025, 3, 31))]
    [(1, 10), (10, 31)]
    """
    out: list[tuple[Tariff, date, date]] = []
    for k, tariff in enumerate(tariffs):
        until = tariffs[k + 1].valid_from if k + 1 < len(tariffs) else date.max
        a, b = max(start, tariff.valid_from), min(end, until)
        if a < b:
            out.append((tariff, a, b))
    if not out or out[0][1] > start:
        return []
    return out


def in_force(tariffs: Sequence[Tariff], day: date) -> Tariff | None:
    """Return the tariff valid on a day."""
    return next((t for t in reversed(tariffs) if t.valid_from <= day), None)


def parts_of(tariffs: Sequence[Tariff], start: date, end: date, bill_date: date | None) -> list[list[Part]]:
    """List the parts of every charge of a bill, one list a charge name, in the order of the tariff.

    Parameters
    ----------
    tariffs : sequence of Tariff
        In order of ``valid_from``.
    start, end : date
        Opening and closing reading.
    bill_date : date or None
        None takes the closing reading's.

    Returns
    -------
    list of list of Part
        Empty where no tariff holds on the first day.
    """
    spans = segments(tariffs, start, end)
    if not spans:
        return []
    if len(spans) == 1 and all(_is_plain(c) for c in spans[0][0].charges):
        tariff = spans[0][0]
        return [[Part(c, tariff, start, end, c.price, whole=True)] for c in tariff.charges]
    found: dict[str, list[Part]] = {}
    order: list[str] = []
    for tariff, a, b in spans:
        _put_in_order(order, [c.name for c in tariff.charges])
        for charge in tariff.charges:
            if charge.applies == "service":
                found.setdefault(charge.name, []).extend(_by_days(charge, tariff, a, b, (start, end)))
    for applies, day in (("read_date", end), ("bill_date", bill_date or end)):
        tariff = in_force(tariffs, day) or spans[-1][0]
        dated = [c for c in tariff.charges if c.applies == applies]
        if dated:
            _put_in_order(order, [c.name for c in tariff.charges])
        for charge in dated:
            if charge.months is None or day.month in charge.months:
                part = Part(charge, tariff, start, end, _price_on(charge, day), whole=True)
                found.setdefault(charge.name, []).append(part)
    return [found[name] for name in order if found.get(name)]


def _is_plain(charge: Charge) -> bool:
    return not charge.values and charge.months is None and charge.applies == "service"


def _put_in_order(order: list[str], names: Sequence[str]) -> None:
    """Merge names into the order: a new one comes after the one it follows in its own tariff."""
    place = 0
    for name in names:
        if name in order:
            place = order.index(name) + 1
        else:
            order.insert(place, name)
            place += 1


def _price_on(charge: Charge, day: date) -> Decimal | None:
    if not charge.values:
        return charge.price
    return next((v for since, v in reversed(charge.values) if since <= day), charge.values[0][1])


def _by_days(charge: Charge, tariff: Tariff, a: date, b: date, bill: tuple[date, date]) -> list[Part]:
    if _is_plain(charge):
        return [Part(charge, tariff, a, b, charge.price, whole=(a, b) == bill)]
    cuts = {a, b, *(since for since, _ in charge.values if a < since < b)}
    if charge.months is not None:
        cuts.update(_month_starts(a, b))
    days = sorted(cuts)
    out: list[Part] = []
    for x, y in pairwise(days):
        if charge.months is not None and x.month not in charge.months:
            continue
        price = _price_on(charge, x)
        if out and out[-1].end == x and out[-1].price == price:
            x = out.pop().start
        out.append(Part(charge, tariff, x, y, price, whole=(x, y) == bill))
    return out


def _month_starts(a: date, b: date) -> list[date]:
    out = []
    day = a.replace(day=1)
    while day < b:
        if day > a:
            out.append(day)
        day = (day + timedelta(days=32)).replace(day=1)
    return out
