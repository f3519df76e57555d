"""How far off a load's watts and hours may be, by how they were obtained: 95 % limits in percent.

A householder's own ``watts_within_percent`` and ``hours_within_percent`` always go first. None of the
defaults is a published figure: each is common practice or our own judgement, with the reason beside it in
:data:`LIMITS`.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import fields
from math import hypot, log
from operator import attrgetter
from statistics import NormalDist

from reconcile.house import Load, Source
from reconcile.records import dataclass


@dataclass(frozen=True, slots=True)
class Limits:
    """Default 95 % limits of one way of obtaining a value, with the reason."""

    watts_percent: float
    hours_percent: float
    reason: str


LIMITS: dict[Source, Limits] = {
    "measured": Limits(
        3.0,
        10.0,
        "a plug-in or clamp meter is good to 1-2 % of power and the supply sags a little (its square "
        "counts); a week of hours stands for a year only roughly",
    ),
    "label": Limits(
        15.0,
        20.0,
        "a yearly label follows a standard test; a kitchen is warmer, a door opens more often, a set is watched longer",
    ),
    "nameplate": Limits(
        20.0,
        30.0,
        "a nameplate gives the rated or the most power, seldom what is drawn; hours are the household's own estimate",
    ),
    "guessed": Limits(
        50.0,
        60.0,
        "a value typical of the kind: one model may draw twice another",
    ),
}

APPARENT_WATTS_PERCENT = 35.0
"""Amps x volts on a nameplate is what the wires must carry, a maximum; the mean is well below (our own
judgement)."""

WEATHER_HOURS_PERCENT = 35.0
"""Hours a degree-day stated by hand also hold the house's own heat balance (our own judgement)."""

CYCLE_PERCENT = 25.0
"""Cycles a week as a household remembers them (our own judgement)."""

CERTAIN_HOURS_PERCENT = 1.0
"""Of a load that is on round the clock only short outages and unplugging are in doubt (our own judgement)."""


USUAL_RANGE_COVERAGE = 0.80
"""Part of a kind's loads that its usual range of watts holds (our own judgement: it is called usual, not whole)."""

MET_NEED_PERCENT = 60.0
"""95 % limit of how much of a house's heating or cooling a unit known by its name alone does: one may serve a room or
the house, beside another fuel or by itself (our own judgement)."""

HOUSEHOLD_HOURS_PERCENT = 75.0
"""95 % limit of how long a household runs a thing of which only the name is known: households of one size differ by
about two to one either way (our own judgement; of the whole-house reference we take 80)."""


def by_name_percent(low_watts: float, high_watts: float, within_percent: float, *, weather: bool) -> float:
    """95 % limit of the watts that are taken for a load because of its name alone.

    Heating and cooling of one name come in sizes of four to one and more, and their hours are taken from that size:
    their limit follows the kind's usual range. Of other kinds the usual range tells nameplates, not what is drawn,
    and the handbook's own limit stands.

    Parameters
    ----------
    low_watts, high_watts : float
        Usual range of the kind [W].
    within_percent : float
        The handbook's limit of its middle [%].
    weather : bool
        Whether the load follows heating or cooling.

    Returns
    -------
    float
        [%]

    Examples
    --------
    >>> round(by_name_percent(1500.0, 6000.0, 25.0, weather=True))
    122
    """
    if not weather:
        return within_percent
    reach = NormalDist().inv_cdf(0.975) / NormalDist().inv_cdf(0.5 + USUAL_RANGE_COVERAGE / 2.0)
    size = 50.0 * log(high_watts / low_watts) * reach
    return max(within_percent, hypot(size, MET_NEED_PERCENT))


def limits(load: Load) -> tuple[float, float]:
    """95 % limits of a load's power and of its running time.

    Parameters
    ----------
    load : Load
        A line of the inventory.

    Returns
    -------
    watts_percent : float
        Limit of the power, or of the yearly or cycle energy where that is given [%].
    hours_percent : float
        Limit of the running time [%]; 0 where a yearly energy leaves no hours to doubt.

    See Also
    --------
    reconcile.loads.handbook.find : typical watts and hours where nothing is known.

    Examples
    --------
    >>> from reconcile.house import Load
    >>> limits(Load("lamp", watts=60.0, run_hours=4.0))
    (20.0, 30.0)
    >>> limits(Load("lamp", watts=60.0, run_hours=4.0, source="measured", hours_within_percent=5.0))
    (3.0, 5.0)
    """
    default = LIMITS[load.source]
    watts, hours = default.watts_percent, default.hours_percent
    if load.apparent:
        watts = max(watts, APPARENT_WATTS_PERCENT)
    if load.kwh_per_year is not None:
        watts, hours = float((watts**2 + hours**2) ** 0.5), 0.0
    elif load.kwh_per_cycle is not None:
        hours = max(hours, CYCLE_PERCENT) if load.source != "measured" else hours
    elif load.follows == "always" and load.share_on == 1.0:
        hours = CERTAIN_HOURS_PERCENT
    elif load.follows in ("heating", "cooling"):
        hours = max(hours, WEATHER_HOURS_PERCENT)
    return (
        watts if load.watts_within_percent is None else load.watts_within_percent,
        hours if load.hours_within_percent is None else load.hours_within_percent,
    )


def alike_lines(loads: Sequence[Load]) -> list[list[int]]:
    """Lines that are one load written in several: of one kind by its name, run alike, from one source.

    What is wrong in one of them is wrong in all: they differ in their number and size alone.

    Returns
    -------
    list of list of int
        Places in the list of each group of at least two.
    """
    run: dict[tuple[object, ...], list[int]] = {}
    for j, load in enumerate(loads):
        run.setdefault((_RUN(load), *(size is not None for size in _SIZES(load))), []).append(j)
    groups: dict[tuple[object, ...], list[int]] = {}
    for key, j in ((key, j) for key, group in run.items() if len(group) > 1 for j in group):
        words = re.findall(r"[^\W_]+", loads[j].name.casefold())
        kind = tuple(word for word in words if not _COUNTING.fullmatch(word)) or tuple(words)
        groups.setdefault((kind, key), []).append(j)
    return sorted(group for group in groups.values() if len(group) > 1)


_COUNTING = re.compile(
    r"\d+|[a-z]|i+|one|two|three|four|first|second|third|fourth|half|part|rest|other|another|again|more|extra|additional"
    r"|same|continued|of|the|it|copy"
)
"""Words of a name that tell one line from the next and not what the load is."""

_SIZED = ("watts", "kwh_per_year", "kwh_per_cycle")
_APART = (*_SIZED, "name", "count", "note", "row", "standby_watts")
_SIZES = attrgetter(*_SIZED)
_RUN = attrgetter(*(field.name for field in fields(Load) if field.name not in _APART))
"""What two lines of one load have in common."""
