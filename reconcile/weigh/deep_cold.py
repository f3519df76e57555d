"""Heat pumps in deep cold: what they deliver for a kilowatt-hour falls as it gets colder, and strip heat helps out.

A heating load is taken to use energy in proportion to degree-days. A heat pump does not: the coldest month of the year
stands above the straight line through the others, and is no event of its own.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reconcile.house import Load
from reconcile.loads.energy import LoadEnergy
from reconcile.loads.handbook import find
from reconcile.weigh import constants as k

Floats = NDArray[np.float64]

HEAT_PUMP = "heat pump heating"
"""Name of the handbook's row."""


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
