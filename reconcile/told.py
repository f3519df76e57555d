"""What the household's diary accounts for: a line that names what came settles a rise only where it could be it."""

from __future__ import annotations

import numpy as np

from reconcile.decide import LASTING_KINDS, WEATHER_KINDS
from reconcile.house import Event, House
from reconcile.loads.handbook import find, most_kwh_per_day, never_off_kwh_per_day
from reconcile.result import Cause
from reconcile.weigh.constants import EVENT_DAYS
from reconcile.weigh.evidence import sizes
from reconcile.weigh.weighing import Weighing

ACCOUNTS_FOR: dict[str, tuple[str, ...]] = {
    "new-load": ("constant-load", "timed-load", "habit-step"),
    "guests": ("single-period", "timed-load"),
    "occupants": ("habit-step",),
    "thermostat": ("heating-rise", "cooling-rise"),
}
"""Causes that a line of the diary is enough to account for. Others make a cause likelier near their date, and leave it
open: an outage draws nothing, and a repair may have gone wrong."""

AT_MOST = 2.0
"""How many times its usual energy a thing that the diary names may take (our choice)."""


def diary_tells(house: House, weighing: Weighing | None) -> Event | None:
    """Return the diary's line that tells of the likeliest rise: the household knows what came, and when.

    Parameters
    ----------
    house : House
    weighing : Weighing or None

    Returns
    -------
    Event or None
        None where no line does, or where what it names is too small for the rise by the handbook.
    """
    return _told(house, weighing, by_usual=True)


def diary_names(house: House, weighing: Weighing | None) -> Event | None:
    """Return the diary's line whose thing could be the likeliest rise if it ran longer than its kind usually does.

    Parameters
    ----------
    house : House
    weighing : Weighing or None

    Returns
    -------
    Event or None
        To be asked about first; it ends no question.
    """
    return _told(house, weighing, by_usual=False)


NO_RISE = ("away", "outage", "removed-load", "meter-exchange", "price-plan", "nothing-replaced")
NO_FALL = ("new-load", "guests", "meter-exchange", "price-plan", "nothing-replaced")
"""Kinds of a diary line that say nothing of a rise, or of a fall."""
NOT_OF_THE_HOME = ("meter-step", "meter-always", "meter-low", "old-meter-slow", "swap", "unlisted", "none")
"""Causes of which the home's own diary says nothing."""


def diary_of_then(house: House, cause: Cause | None) -> Event | None:
    """Return the diary's own line nearest to the day on which a cause likely began, whatever its kind.

    Parameters
    ----------
    house : House
    cause : Cause or None

    Returns
    -------
    Event or None
        To be asked about, and quoted; it ends no question.
    """
    if cause is None or cause.since is None or cause.code in NOT_OF_THE_HOME:
        return None
    no, since = NO_RISE if (cause.kwh or 0.0) > 0.0 else NO_FALL, cause.since
    near = [
        event
        for event in house.events
        if event.kind not in no and (event.load or event.note) and abs((event.day - since).days) <= EVENT_DAYS
        if not _far_too_small(event, cause)
    ]
    return min(near, key=lambda event: abs((event.day - since).days), default=None)


def _far_too_small(event: Event, cause: Cause) -> bool:
    """Whether a line names a new thing that, never switched off, takes far less than what is seen."""
    most = never_off_kwh_per_day(event.load or event.note) if event.kind == "new-load" else None
    return most is not None and cause.unit == "W" and 0.024 * (cause.size or 0.0) > most


def _told(house: House, weighing: Weighing | None, *, by_usual: bool) -> Event | None:
    if weighing is None or not house.events:
        return None
    rises = (*LASTING_KINDS, *WEATHER_KINDS, "single-high")
    acts = np.where(weighing.kinds(*rises), weighing.posterior.acts, 0.0)
    if not acts.size or not acts.any():
        return None
    likeliest = int(np.argmax(acts))
    code, start = weighing.found.code(likeliest), weighing.found.start[likeliest]
    for event in house.events:
        near = abs(event.day.toordinal() - start) <= EVENT_DAYS
        if not near or code not in ACCOUNTS_FOR.get(event.kind, ()):
            continue
        if _large_enough(event, house, weighing, likeliest, by_usual=by_usual):
            return event
    return None


def _large_enough(event: Event, house: House, weighing: Weighing, which: int, *, by_usual: bool) -> bool:
    """Whether what a line names could take what the rise takes; a thing nobody knows could, and ends no question."""
    if event.kind != "new-load" or any(load.name == event.load for load in house.loads):
        return True
    name = event.load or event.note
    most = most_kwh_per_day(name) if by_usual else never_off_kwh_per_day(name)
    if most is None:
        return not (by_usual and name) or bool(find(name))
    mean, _, _ = sizes(weighing.data, weighing.candidates, (which,))
    added = weighing.candidates.columns[: int(weighing.judged.sum()), which] * float(mean[0])
    days = weighing.model.days[weighing.judged][np.abs(added) > 0.0]
    return float(added.sum()) <= (AT_MOST if by_usual else 1.0) * most * max(float(days.sum()), 1.0)
