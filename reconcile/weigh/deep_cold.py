"""Heat pumps in deep cold: what they deliver for a kilowatt-hour falls as it gets colder, and strip heat helps out.

A heating load is taken to use energy in proportion to degree-days. A heat pump does not: the coldest month of the year
stands above the straight line through the others, and is no event of its own.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reconcile.house import Load
from reconcile.loads.energy import HEATING_BALANCE_C, LoadEnergy
from reconcile.loads.handbook import find
from reconcile.weigh import constants as k

Floats = NDArray[np.float64]

HEAT_PUMP = "heat pump heating"
"""Name of the handbook's row."""


TUB = "hot tub"
"""Name of the handbook's row of what is kept warm, out of doors mostly."""

TUB_WATER_C = 38.0
"""Warmth of its water [degC] (common practice): what it loses goes by how far the air is below."""


def out_of_doors(loads: Sequence[Load], energy: LoadEnergy, days: Floats) -> Floats:
    """Return how each period's energy goes with whether what is kept warm stands out of doors [kWh].

    Such a load is listed round the clock, the same all the year. Out of doors it takes what the air takes from it,
    two or three times as much in the cold as in summer: no other heating is to be looked for.

    Returns
    -------
    ndarray, shape (n, 1)
        For a tub wholly out of doors; no column where none is listed.
    """
    tubs = np.array([load.follows == "always" and any(row.load == TUB for row in find(load.name)) for load in loads])
    if not tubs.any() or not (energy.degree_days > 0.0).any():
        return np.zeros((len(days), 0))
    heating, cooling = (energy.degree_days / days[:, None]).T
    below = np.maximum(TUB_WATER_C - HEATING_BALANCE_C + heating - cooling, 0.0)
    kwh = energy.kwh[:, tubs].sum(axis=1)
    there = kwh > 0.0
    usual = float(below[there] @ days[there] / days[there].sum()) if there.any() else 1.0
    column: Floats = kwh * (below / max(usual, 1.0) - 1.0)
    return column[:, None]


def deep_cold(loads: Sequence[Load], energy: LoadEnergy, days: Floats) -> Floats:
    """Return how each period's energy goes with the unknown fall of heat pumps' output in the cold [kWh].

    Returns
    -------
    ndarray, shape (n, 1)
        For one standard deviation of the fall; no column where no load heats.
    """
    fall = np.array([_fall(load) for load in loads])
    if not fall.any() or not (energy.degree_days[:, 0] > 0.0).any():
        return np.zeros((len(days), 0))
    depth = energy.degree_days[:, 0] / days
    kwh = energy.kwh
    usual = depth @ kwh / np.maximum(kwh.sum(axis=0), 1e-9)  # where most of each load's energy is used
    column: Floats = (kwh * (depth[:, None] - usual)) @ fall
    return column[:, None]


def _fall(load: Load) -> float:
    if load.follows != "heating":
        return 0.0
    return k.HEAT_PUMP_FALL if any(row.load == HEAT_PUMP for row in find(load.name)) else k.HEATING_FALL
