"""How far off a load's watts and hours may be, by how they were obtained: 95 % limits in percent.

A householder's own ``watts_within_percent`` and ``hours_within_percent`` always go first. None of the
defaults is a published figure: each is common practice or our own judgement, with the reason beside it in
:data:`LIMITS`.
"""

from __future__ import annotations

from dataclasses import dataclass

from reconcile.house import Load, Source


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
