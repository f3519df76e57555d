"""How a house is spoken to: in its locale and currency, and of its interval data as they are."""

from __future__ import annotations

from reconcile.clock import DAY_SECONDS
from reconcile.house import House
from reconcile.say import Voice

EVERY = {900: "quarter-hourly", 1800: "half-hourly", DAY_SECONDS: "daily"}
"""How interval data of a step [s] are spoken of, where not as hourly ones."""


def voice_of(house: House) -> Voice:
    """Return the voice that a house is spoken to with."""
    step = 0 if house.interval is None else house.interval.step_seconds
    return Voice(house.locale, house.currency, EVERY.get(step, "hourly"))
