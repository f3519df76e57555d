"""What the household's diary says of appliances replaced and of the supply's volts: the chance of each at a date."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from reconcile.house import Event
from reconcile.interval.resized import GONE

REPLACED, NOTHING_REPLACED = "replaced", "nothing-replaced"
VOLTS_CHANGED, SAME_VOLTS = "volts-changed", "same-volts"
"""Kinds of lines of the diary."""

NEAR = timedelta(days=15)
"""Days on either side of a line's own within which it speaks of a change (our own judgement)."""

TOLD = 0.3
"""Chance that an appliance is the one that was replaced, where the diary tells of one about the date (our own
judgement)."""

DENIED = 0.1
"""By what the chance is multiplied where the diary says that nothing was: people forget (our own judgement)."""

VOLTS_SHARE, VOLTS_TOLD = 0.04, 0.5
"""Chance in one month of a lasting change of the supply's volts: once in some two years; and where the diary tells of
one about the date (our own judgement)."""


def gone_at(events: Sequence[Event], day: date) -> float:
    """Chance that an appliance changed at a date just when another of about its size came.

    Examples
    --------
    >>> when = date(2025, 3, 4)
    >>> gone_at([Event(when, "nothing-replaced")], when) < gone_at([], when) < gone_at([Event(when, "replaced")], when)
    True
    """
    if _says(events, REPLACED, day):
        return TOLD
    return GONE * DENIED if kept_all(events, day) else GONE


def volts_share_at(events: Sequence[Event], day: date) -> float:
    """Chance that the supply's volts changed for good at a date, where the data carry none.

    Examples
    --------
    >>> when = date(2025, 3, 4)
    >>> [volts_share_at([Event(when, kind)], when) for kind in ("volts-changed", "other", "same-volts")]
    [0.5, 0.04, 0.004]
    """
    if _says(events, VOLTS_CHANGED, day):
        return VOLTS_TOLD
    return VOLTS_SHARE * DENIED if same_volts(events, day) else VOLTS_SHARE


def kept_all(events: Sequence[Event], day: date) -> bool:
    """Whether the diary says that no appliance was replaced about a date."""
    return _says(events, NOTHING_REPLACED, day)


def same_volts(events: Sequence[Event], day: date) -> bool:
    """Whether the diary says that the supply's volts stayed the same about a date."""
    return _says(events, SAME_VOLTS, day)


def told_of(events: Sequence[Event], low: date, high: date, kind: str = REPLACED) -> bool:
    """Whether the diary tells of an appliance replaced, or of other volts, about some days."""
    return any(event.kind == kind and low - NEAR <= event.day <= high + NEAR for event in events)


def _says(events: Sequence[Event], kind: str, day: date) -> bool:
    return any(event.kind == kind and _about(event, day) for event in events)


def _about(event: Event, day: date) -> bool:
    return event.day - NEAR <= day <= (event.until or event.day) + NEAR
