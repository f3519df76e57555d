"""Whether a look at the heating or the cooling is worth ten minutes, and at which."""

from __future__ import annotations

from datetime import date

from reconcile.house import House
from reconcile.loads.handbook import find
from reconcile.plan.situation import Situation
from reconcile.plan.worth import State

LOOKED_AT = 0.1
"""Chance of more heating or cooling from which a look at it is asked for (our choice: it costs nothing)."""

OWN = ("heating-rise", "cooling-rise")
ALIKE = ("constant-load", "timed-load", "meter-step")
"""Causes that a heat pump on its backup heat is easily taken for."""


def _heating(house: House) -> str:
    """The look at a heat pump where one heats this home, or may; else at whatever heats it."""
    kinds = {kind.load for load in house.loads for kind in find(load.name)[:1]}
    other = house.heating_fuel not in (None, "electric") or any(load.follows == "heating" for load in house.loads)
    return "heater-look" if other and "heat pump heating" not in kinds else "heating-look"


def weather_look(situation: Situation) -> tuple[str, date | None] | None:
    """Return the code of the look, and the day on which what took more was over by the data; None for no look."""
    cause = situation.leading
    if cause is None or situation.weights.get(State.WEATHER, 0.0) < LOOKED_AT:
        return None
    if cause.code in OWN:
        return "cooling-look" if cause.code == "cooling-rise" else _heating(situation.house), cause.until
    heats = any(load.follows == "heating" for load in situation.house.loads)
    return (_heating(situation.house), None) if heats and cause.code in ALIKE else None
