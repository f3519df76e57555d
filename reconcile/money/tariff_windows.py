"""Energy by time of day: from registers named like the tariff's windows, or from interval data."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.array_types import Flags, Floats, Ints
from reconcile.clock import DAY_SECONDS, local_seconds
from reconcile.house import Bill, House, Interval
from reconcile.house.registers import register_energies
from reconcile.house.tariff import Charge, Window
from reconcile.money.tariff_lines import WindowKwh
from reconcile.records import dataclass

COVERED = 0.99
"""Share of a bill's intervals that must be there for its energy to be divided by them (our choice)."""
_EPOCH = date(1970, 1, 1).toordinal()


def window_kwh(house: House, bill: Bill, kwh: float) -> WindowKwh | None:
    """Return the function that divides a bill's energy among the windows of a charge.

    Printed registers come first. Interval data divide the billed kWh in proportion, so that the windows add
    up to what was billed. None where neither is there.
    """
    printed = register_energies(house, bill) if house.readings else {}
    clock = _clock(house) if house.interval is not None and len(house.interval.kwh) else None
    if not printed and clock is None:
        return None

    def divide(charge: Charge, start: date, end: date) -> Sequence[Decimal] | None:
        if all(w.name.casefold() in printed for w in charge.windows):
            return _by_registers(charge.windows, printed, bill, start, end)
        return None if clock is None else _by_intervals(charge.windows, clock, bill, kwh, start, end)

    return divide


def _by_registers(
    windows: Sequence[Window], printed: dict[str, float], bill: Bill, start: date, end: date
) -> list[Decimal]:
    """Share each register by days; where one name has several windows, by the days of their months."""
    out = []
    told: set[tuple[str, frozenset[int] | None]] = set()
    for window in windows:
        name = window.name.casefold()
        days = sum(
            window.months is None or (start + timedelta(n)).month in window.months for n in range((end - start).days)
        )
        kwh = Decimal(0)
        if (name, window.months) not in told:
            kwh = Decimal(repr(printed[name])) * days / bill.days
        told.add((name, window.months))
        out.append(kwh)
    return out


@dataclass(frozen=True, slots=True)
class _Clock:
    """Interval data by the local clock: day number, weekday, hour and month of each interval's start."""

    interval: Interval
    timezone: str
    day: Ints
    hour: Floats
    weekday: Ints
    month: Ints


_last_clock: list[_Clock] = []


def _clock(house: House) -> _Clock:
    """Local clock of the interval data; the last one made is kept, since every bill of a house asks for
    it.
    """
    assert house.interval is not None
    if _last_clock and _last_clock[0].interval is house.interval and _last_clock[0].timezone == house.timezone:
        return _last_clock[0]
    local = local_seconds(house.interval.starts, ZoneInfo(house.timezone))
    day = local // DAY_SECONDS
    made = _Clock(
        house.interval,
        house.timezone,
        day,
        (local - day * DAY_SECONDS) / 3600.0,
        (day + 3) % 7,
        local.astype("datetime64[s]").astype("datetime64[M]").astype(np.int64) % 12 + 1,
    )
    _last_clock[:] = [made]
    return made


def _by_intervals(
    windows: Sequence[Window], clock: _Clock, bill: Bill, kwh: float, start: date, end: date
) -> list[Decimal] | None:
    here = _slice(clock, bill.start, bill.closes)
    energy = clock.interval.kwh[here]
    known = np.isfinite(energy)
    total = float(energy[known].sum())
    covered = int(clock.interval.lengths[here][known].sum())
    if covered < COVERED * bill.days * DAY_SECONDS or not total > 0:
        return None
    part = _slice(clock, start, end)
    energy = np.nan_to_num(clock.interval.kwh[part])
    free = np.ones(len(energy), dtype=np.bool_)
    out = []
    for window in windows:
        mine = free & _matches(window, clock, part)
        free &= ~mine
        out.append(Decimal(repr(round(float(energy[mine].sum()) * kwh / total, 6))))
    return out


def _slice(clock: _Clock, start: date, end: date) -> slice:
    """Intervals of ``start`` <= local day < ``end``."""
    first, last = np.searchsorted(clock.day, [start.toordinal() - _EPOCH, end.toordinal() - _EPOCH])
    return slice(int(first), int(last))


def _matches(window: Window, clock: _Clock, part: slice) -> Flags:
    hour = clock.hour[part]
    mask = np.ones(len(hour), dtype=np.bool_)
    if window.months is not None:
        mask &= _among(window.months)[clock.month[part]]
    if window.weekdays is not None:
        mask &= _among(window.weekdays)[clock.weekday[part]]
    if window.hours is not None:
        since, until = window.hours
        if since < until:
            mask &= (hour >= since) & (hour < until)
        else:
            mask &= (hour >= since) | (hour < until)
    return mask


def _among(numbers: frozenset[int]) -> Flags:
    """Table of months or weekdays: whether each is one of ``numbers``."""
    table = np.zeros(13, dtype=np.bool_)
    table[list(numbers)] = True
    return table
