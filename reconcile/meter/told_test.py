"""A test of the meter that the utility or a laboratory made, as the diary tells it, judged like a run of one's own."""

from __future__ import annotations

import math

from reconcile.house import Event, House
from reconcile.house.registers import current_meter
from reconcile.meter.observation import Observation
from reconcile.meter.zone import Zone

STANDARD_PERCENT = 0.5
"""Standard uncertainty of such a test [%] (our choice): reference standards of test boards are held within 1 % and
better (Utah R746-310-3 as read), and the house's own mix of loads is none of its few load points."""


def meter_test_of(house: House) -> Event | None:
    """Return the last line of the diary that gives the result of such a test."""
    told = [event for event in house.events if event.kind == "meter-test" and event.percent is not None]
    return max(told, key=lambda event: event.day, default=None)


def zone_of(percent: float, tolerance_percent: float) -> Zone:
    """Whether a test found the meter inside its limits: who makes it also says so, and leaves nothing between.

    Examples
    --------
    >>> zone_of(100.1, 2.0), zone_of(97.0, 2.0)
    ('inside', 'outside')
    """
    return "inside" if abs(percent - 100.0) <= tolerance_percent else "outside"


def told_registration(house: House) -> Observation | None:
    """Return the registration that the utility's test gave, as an observation of the weighing.

    Parameters
    ----------
    house : House
        With its diary.

    Returns
    -------
    Observation or None
        None where the diary gives no result of such a test.
    """
    event = meter_test_of(house)
    if event is None or event.percent is None:
        return None
    tolerance = current_meter(house).tolerance_percent
    beyond = (abs(event.percent - 100.0) - tolerance) / STANDARD_PERCENT
    zone = zone_of(event.percent, tolerance)
    chance = 0.5 * math.erfc(-beyond / math.sqrt(2.0)) if zone == "outside" else 0.0
    # its sentence is that of the finding
    return Observation(
        "registration", event.percent / 100.0, STANDARD_PERCENT / 100.0, day=event.day, zone=zone, chance=chance
    )
