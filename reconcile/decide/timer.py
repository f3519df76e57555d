"""A cause whose hours of the day interval data know: told with them wherever it is named."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from reconcile.records import dataclass
from reconcile.result import Cause

if TYPE_CHECKING:
    from reconcile.interval.clock_load import ClockLoad
    from reconcile.interval.found import IntervalResult

NEAR_DAYS = 14
"""Days within which a load that runs by the clock and a cause of the bills are one (our choice)."""
ALIKE = 1.7
"""Factor within which their average power agrees (our choice)."""


@dataclass(frozen=True, slots=True)
class Timer:
    """Hours of every day and power of a load that runs by the clock; by standard time all year, or as clocks go.

    ``varies``: the watts are those of the mean day. ``days_a_week``: how often it comes; the hours are then those of a
    mean run, and it begins most often at about that time. ``rests``: from and to which days it does not. ``day``: the
    first on which it does.
    """

    watts: float
    begins: str
    ends: str
    hours: float
    by_standard_time: bool = False
    varies: bool = False
    days_a_week: float | None = None
    rests: tuple[tuple[date, date], ...] = ()
    day: date | None = None


def timer_of(found: IntervalResult | None, cause: Cause | None) -> Timer | None:
    """Return the hours of the day in which a cause acts, where interval data saw it run by the clock."""
    clock = None if found is None else found.clock_load
    if clock is None or cause is None or cause.code not in ("constant-load", "timed-load") or not cause.size:
        return None
    average = 1000.0 * clock.kwh_a_day / 24.0
    near = cause.since is not None and abs((cause.since - clock.day).days) <= NEAR_DAYS
    if not near or not 1.0 / ALIKE <= average / abs(cause.size) <= ALIKE:
        return None
    return as_timer(clock)


def as_timer(clock: ClockLoad) -> Timer:
    """Return when a load that interval data saw runs."""
    begins, ends = _hour(clock.start_hour), _hour(_end(clock))
    how = clock.by_standard_time, clock.varies, clock.days_a_week, clock.rests, clock.day
    return Timer(clock.watts, begins, ends, clock.hours, *how)


def _end(clock: ClockLoad) -> float:
    return clock.start_hour + clock.hours


def _hour(hour: float) -> str:
    minutes = round(60.0 * hour) % 1440
    return f"{minutes // 60}:{minutes % 60:02d}"
