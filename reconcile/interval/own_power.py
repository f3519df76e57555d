"""A house whose interval data show panels of its own: by what they sent back, or by what is drawn.

Where the drawn register alone is there, by day the house draws next to nothing, by night what it did.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, as_day, day_numbers, local_seconds
from reconcile.facts import Finding
from reconcile.house import Bill, House, Interval
from reconcile.interval.found import OWN_POWER
from reconcile.records import dataclass

SUN_HOURS, DARK_HOURS = (10, 16), (0, 4)
"""Local clock hours in which the sun is high on every day of the year, and in which it is down (our own judgement; some
hours of daylight are left out on either side for the clock and the place in its zone)."""

EATEN_PART, EATEN_KW = 0.1, 0.015
"""Hourly mean up to which panels carry all that runs: as a part of the least of the nights, and [kW] (our own
judgement: what is on round the clock is on at noon too, and no house that is lived in does with less)."""

DARK_QUANTILE, LEAST_DARK_KW, QUANTA = 0.05, 0.03, 3.0
"""Of the nights' least hours, what is on round the clock, and the least from which it tells anything [kW]; in steps of
the data's own resolution too (our own judgement)."""

LEAST_DAYS, LEAST_PART, STRAY_PART = 8, 0.1, 0.02
"""Days that show panels, and their part of all since the first, from which they are told; and the part of the days
before that may look so by a gap or an outage (our own judgement: one day in ten is bright in a dull winter)."""

DARK_PART = 0.1
"""Part of the nights that may fall to half of the usual: a house that is empty or off draws nothing by night as well
(our own judgement)."""

SINCE_EVER_DAYS = 21
"""Days from the first on within which panels count as there before the data [d] (our own judgement)."""


SENDS_BACK = 0.01
"""Part of what is drawn from which what is sent back tells of own generation (our choice): a motor that brakes gives
back less."""

COVERED = 0.98
"""Part of a bill's time that both registers must cover to stand for it (our choice)."""


@dataclass(frozen=True, slots=True)
class Panels:
    """What the days tell of panels."""

    since: date | None
    """First day that shows them; None where they were there before the data."""
    days: int
    """Days that show them."""
    dark_watts: float
    """What is on round the clock, by the nights [W]."""


def panels_seen(interval: Interval, zone: ZoneInfo) -> Panels | None:
    """Look for panels in a register that counts only what is drawn.

    A meter that counts too little does so by night too, and no habit takes a refrigerator off the wall at noon alone.

    Parameters
    ----------
    interval : Interval
    zone : ZoneInfo
        The house's zone.

    Returns
    -------
    Panels or None
        None where the data hold what is sent back, or show none.
    """
    if interval.net or interval.received_kwh is not None or interval.step_seconds > HOUR_SECONDS:
        return None
    by_hour, first = _by_hour(interval, zone)
    noon, dark = (by_hour[:, begin:end].min(axis=1) for begin, end in (SUN_HOURS, DARK_HOURS))
    known = np.isfinite(noon) & np.isfinite(dark)
    day, noon, dark = np.flatnonzero(known), noon[known], dark[known]
    if len(day) < LEAST_DAYS:
        return None
    usual = float(np.quantile(dark, DARK_QUANTILE))
    eaten = noon <= min(EATEN_PART * usual, EATEN_KW)
    if usual < LEAST_DARK_KW or eaten.sum() < LEAST_DAYS or usual < QUANTA * _resolution(interval):
        return None
    at = _first_of(eaten)
    tells = eaten[at:].sum() >= LEAST_DAYS and eaten[at:].mean() >= LEAST_PART and eaten[:at].sum() <= STRAY_PART * at
    if not tells or np.mean(dark[at:] < 0.5 * usual) > DARK_PART:
        return None
    since = None if day[at] < SINCE_EVER_DAYS else as_day(first + int(day[at]))
    return Panels(since, int(eaten[at:].sum()), 1000.0 * usual)


def with_both_registers(house: House) -> House:
    """Take the house for one that makes its own, where its interval data say so, and give its bills both registers.

    What the house used is what it drew and a part of what it made: a bill that gives only the one is told the other by
    the data of its own days.

    Parameters
    ----------
    house : House

    Returns
    -------
    House
        The same where its data hold no register of what is sent back, or next to nothing in it.
    """
    interval = house.interval
    if interval is None or interval.received_kwh is None:
        return house
    registers = (interval.kwh, interval.received_kwh)
    drawn, sent = (float(np.nansum(kwh)) for kwh in registers)
    if not house.generation and sent <= SENDS_BACK * drawn:
        return house
    times = local_seconds(interval.starts, ZoneInfo(house.timezone))
    lengths = np.where(np.isnan(interval.received_kwh), 0, interval.lengths)

    def told(bill: Bill) -> Bill:
        if bill.received_kwh is not None or bill.delivered_kwh is not None:
            return bill
        begin, end = (day_numbers([bill.start, bill.closes]) * DAY_SECONDS).tolist()
        within = (times >= begin) & (times < end)
        if lengths[within].sum() < COVERED * (end - begin):
            return bill
        delivered, received = (round(float(np.nansum(kwh[within])), 3) for kwh in registers)
        return replace(bill, delivered_kwh=delivered, received_kwh=received)

    return replace(house, generation=True, bills=tuple(map(told, house.bills)))


def with_own_power(house: House) -> tuple[House, tuple[Finding, ...]]:
    """Take the house for one that makes its own, where its interval data show it.

    Bills before the panels are all that was used; what a later one leaves out passes no register.

    Parameters
    ----------
    house : House

    Returns
    -------
    house : House
        The same where nothing shows panels.
    findings : tuple of Finding
        ``own-power``, where something does.
    """
    house = with_both_registers(house)
    interval = house.interval
    if interval is None or any(bill.received_kwh is not None for bill in house.bills):
        return house, ()
    panels = panels_seen(interval, ZoneInfo(house.timezone))
    if panels is None:
        return house, ()
    since = panels.since
    behind = tuple(i for i, bill in enumerate(house.bills) if since is None or bill.closes > since)
    if since is not None and behind:
        bills = enumerate(house.bills)
        house = replace(house, bills=tuple(b if i in behind else replace(b, received_kwh=0.0) for i, b in bills))
    told = {"since": since, "days": panels.days, "watts": panels.dark_watts, "said": house.generation}
    case = "always" if since is None else "since"
    finding = Finding(OWN_POWER, behind, case=case, figures=told, household=("both-registers",))
    return replace(house, generation=True), (finding,)


def _by_hour(interval: Interval, zone: ZoneInfo) -> tuple[NDArray[np.float64], int]:
    """Mean power of each clock hour of each day [kW], NaN where it is not covered whole, and the first day."""
    local = local_seconds(interval.starts, zone)
    hour = local // HOUR_SECONDS
    first = int(local[0] // DAY_SECONDS)
    cell = hour - 24 * first
    cells = 24 * (int(local[-1] // DAY_SECONDS) - first + 1)
    kwh = np.bincount(cell, weights=interval.kwh, minlength=cells)[:cells]
    covered = np.bincount(cell, weights=interval.lengths, minlength=cells)[:cells]
    return np.where(covered >= HOUR_SECONDS, kwh, np.nan).reshape(-1, 24), first


def _first_of(eaten: NDArray[np.bool_]) -> int:
    """Place of the day that shows panels from which on, likeliest of all, others do and before which hardly one did."""
    place = np.arange(len(eaten))
    after = np.cumsum(eaten[::-1])[::-1]
    strays, others = after[0] - after, len(eaten) - place - after
    part = np.clip(after / (len(eaten) - place), STRAY_PART, 1.0 - STRAY_PART)
    onward = after * np.log(part) + others * np.log(1.0 - part)
    before = strays * np.log(STRAY_PART) + (place - strays) * np.log(1.0 - STRAY_PART)
    return int(np.argmax(np.where(eaten, before + onward, -np.inf)))


def _resolution(interval: Interval) -> float:
    """Least difference between two energies [kWh]."""
    values = np.unique(np.round(interval.kwh[:2000], 4))
    return float(np.diff(values).min()) if len(values) > 1 else np.inf
