"""What the household's diary says of appliances replaced: the chance that one is another since a date."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from reconcile.house import Event
from reconcile.interval.resized import GONE

REPLACED, NOTHING_REPLACED = "replaced", "nothing-replaced"
"""Kinds of lines of the diary."""

NEAR = timedelta(days=15)
"""Days on either side of a line's own within which it speaks of a change (our own judgement)."""

TOLD = 0.3
"""Chance that an appliance is the one that was replaced, where the diary tells of one about the date (our own
judgement)."""

DENIED = 0.1
"""By what the chance is multiplied where the diary says that nothing was: people forget (our own judgement)."""


def gone_at(events: Sequence[Event], day: date) -> float:
    """Chance that an appliance changed at a date just when another of about its size came.

    Parameters
    ----------
    events : sequence of Event
    day : date

    Returns
    -------
    float

    Examples
    --------
    >>> when = date(2025, 3, 4)
    >>> gone_at([Event(when, "nothing-replaced")], when) < gone_at([], when) < gone_at([Event(when, "replaced")], when)
    True
    """
    if any(event.kind == REPLACED and _about(event, day) for event in events):
        return TOLD
    return GONE * DENIED if kept_all(events, day) else GONE


def kept_all(events: Sequence[Event], day: date) -> bool:
    """Whether the diary says that no appliance was replaced about a date."""
    return any(event.kind == NOTHING_REPLACED and _about(event, day) for event in events)


def told_of(events: Sequence[Event], low: date, high: date) -> bool:
    """Whether the diary tells of an appliance replaced about some days."""
    return any(event.kind == REPLACED and low - NEAR <= event.day <= high + NEAR for event in events)


def _about(event: Event, day: date) -> bool:
    return event.day - NEAR <= day <= (event.until or event.day) + NEAR
