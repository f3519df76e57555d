"""A load of a kilowatt or more that stood day and night between two days, and the data without it.

An element or a contactor that sticks adds the same to every hour from one hour to another. It would be taken for
heating of a cold month, for habits, or for nothing that lasts: what stands so plainly in the hours is told first, and
the rest is looked for beside it.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import DAY_SECONDS, day_numbers, local_seconds
from reconcile.house import House, Interval
from reconcile.interval.base_load import BaseLoad, BaseStep, base_load
from reconcile.interval.found import Evidence, Seen
from reconcile.interval.listed_hours import begins_then
from reconcile.interval.steps import floors
from reconcile.records import dataclass

LEAST_WATTS = 1000.0
"""Smallest such load [W]: what is less is told from the windows of the nights (our own judgement)."""

ALIKE_SHARE, SHARP_DAYS, FEW_SHARE, OTHERS_SHARE = 0.1, 3, 0.2, 0.5
"""How near its fall is to its rise, as a part of it; within how many days both are dated [d]; what other steps between
may be, as a part of it; and what those before and after it may be (our own judgement: a season's heating comes and goes
by and by; and nights that move so far at other times as well move by themselves, as those of a house with electric
heating do where no weather is known)."""

OWN_SD = 0.03
"""Doubt of what it draws, as a part of it, one standard deviation (our own judgement: volts, and a thermostat's rest).
"""

NEARLY = 0.97
"""Part of its power from which a reading may hold it."""


@dataclass(frozen=True, slots=True, eq=False)
class LargeLoad:
    """From which day it ran and the day after its last, what it drew [W], and its part of each day, shape (n,)."""

    day: date
    until: date
    watts: float
    days: NDArray[np.int64]
    """Ordinal, shape (n,)."""
    part: NDArray[np.float64]
    steps: tuple[BaseStep, BaseStep]

    def evidence(self) -> Evidence:
        """Bring it into the form of evidence: what it used a day, from its first day to its last [kWh/d]."""
        kwh = 0.024 * self.watts
        value, variance = np.array([kwh]), np.array([[(OWN_SD * kwh) ** 2]])
        seen = Seen(self.watts, True, self.days, self.part)
        return Evidence(
            "between", (self.day,), (self.until,), value, variance, 0.0, self.day, until=self.until, spell=seen
        )


def large_load(house: House, zone: ZoneInfo) -> tuple[LargeLoad | None, House]:
    """Find the largest load that stood day and night between two days, and the house without it.

    One that the list says came on that day is no news.
    """
    interval = house.interval
    if interval is None or house.generation:
        return None, house
    _, (_, lows) = floors(interval, zone)
    if len(lows) == 0 or np.quantile(lows, 1.0 - 7.0 / max(len(lows), 7)) - np.median(lows) < LEAST_WATTS / 2.0:
        return None, house
    base = base_load(house)
    pairs = [] if base is None else _pairs(base)
    for up, down in sorted(pairs, key=lambda pair: -pair[0].watts):
        watts = (up.watts - down.watts) / 2.0
        if not begins_then(house.loads, up.day, watts):
            on = _runs(interval, zone, up.day, down.day, watts)
            left = np.where(on, np.maximum(interval.kwh - watts * interval.lengths / 3.6e6, 0.0), interval.kwh)
            day = local_seconds(interval.starts, zone) // DAY_SECONDS
            place = day - day[0]
            seconds = np.bincount(place, weights=np.where(on, interval.lengths, 0.0))
            whole = np.maximum(np.bincount(place, weights=interval.lengths), 1.0)
            days = np.arange(len(seconds)) + int(day[0]) + date(1970, 1, 1).toordinal()
            load = LargeLoad(up.day, down.day, watts, days, seconds / whole, (up, down))
            return load, replace(house, interval=replace(interval, kwh=left))
    return None, house


def _pairs(base: BaseLoad) -> list[tuple[BaseStep, BaseStep]]:
    """Rises and the falls that undo them, both sharp, with nothing near their size between or at any other time."""
    steps, found = base.steps, []
    for at, up in enumerate(steps):
        if up.watts < LEAST_WATTS or (up.high - up.low).days > SHARP_DAYS:
            continue
        down = next((step for step in steps[at + 1 :] if abs(step.watts) > FEW_SHARE * up.watts), None)
        if down is None or (down.high - down.low).days > SHARP_DAYS:
            continue
        others = max((abs(step.watts) for step in steps if step is not up and step is not down), default=0.0)
        if abs(up.watts + down.watts) <= ALIKE_SHARE * up.watts and others < OTHERS_SHARE * up.watts:
            found.append((up, down))
    return found


def _runs(interval: Interval, zone: ZoneInfo, first: date, last: date, watts: float) -> NDArray[np.bool_]:
    """Mark the readings in which it ran: of its first day, and of its last, those beside it that could."""
    day = local_seconds(interval.starts, zone) // DAY_SECONDS
    begin, end = (int(each) for each in day_numbers([first, last]))
    holds = interval.kwh >= NEARLY * watts * interval.lengths / 3.6e6
    on = (day >= begin) & (day < end)
    edge = np.flatnonzero(day == begin)
    on[edge] = np.logical_and.accumulate(holds[edge][::-1])[::-1]
    edge = np.flatnonzero(day == end)
    on[edge] = np.logical_and.accumulate(holds[edge])
    return np.asarray(on, dtype=bool)
