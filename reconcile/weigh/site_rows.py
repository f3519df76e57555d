"""Stage two: readings taken on site become rows of the same model (method page, eq. 14 and 15)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reconcile.house import House
from reconcile.meter.observation import Observation
from reconcile.weigh import constants as k
from reconcile.weigh.model import Model
from reconcile.weigh.patterns import Patterns, Shape, kinds_mask

Floats = NDArray[np.float64]

METER_KINDS = ("meter-step", "meter-exchange", "meter-always", "meter-low", "meter-low-exchange")
CONSTANT_KINDS = ("constant-load", "cold-load", "drift", "load-gone")


@dataclass(frozen=True, slots=True, eq=False)
class SiteRows:
    """o site readings as rows beside the n bills.

    Attributes
    ----------
    residual : ndarray, shape (o,)
    factors : ndarray, shape (o, q)
        On the model's shared unknowns.
    noise : ndarray, shape (o,)
        Variances of their own.
    effect : ndarray, shape (o, K)
        Of each pattern, per unit of size.
    """

    residual: Floats
    factors: Floats
    noise: Floats
    effect: Floats


def site_rows(
    house: House, model: Model, found: Patterns, shape: Shape, observations: Sequence[Observation]
) -> SiteRows:
    """Turn site readings into rows.

    A registration says the size of a meter pattern that acts on its day; a quiet reading, in kWh a day, holds the base
    loads there are, the unlisted part that never sleeps, and a constant load if there is one. A reading with the main
    off is judged by itself, not here: what it counts is not the house's loads.

    Parameters
    ----------
    house : House
    model : Model
    found : Patterns
    shape : Shape
    observations : sequence of Observation

    Returns
    -------
    SiteRows
    """
    used = [o for o in observations if o.kind != "main-off"]
    rows, q = len(used), model.factors.shape[1]
    meter = kinds_mask(*METER_KINDS)[found.kind_index]
    constant = kinds_mask(*CONSTANT_KINDS)[found.kind_index]
    always = np.isnan(found.start)
    residual, noise = np.zeros(rows), np.zeros(rows)
    factors, effect = np.zeros((rows, q)), np.zeros((rows, len(found.kind)))
    end = max(bill.closes for bill in house.bills)
    for row, reading in enumerate(used):
        active = always | (found.start <= (reading.day or end).toordinal())
        if reading.kind == "registration":
            residual[row] = reading.value - 1.0
            noise[row] = reading.standard_uncertainty**2 + k.HEALTHY_METER_SD**2
            effect[row] = np.where(meter & active, 1.0, 0.0)
            continue
        base, own, own_noise = _quiet_base(house, model, reading)
        residual[row] = reading.value * 0.024 - base
        noise[row] = (reading.standard_uncertainty * 0.024) ** 2 + own_noise
        factors[row, model.part_factors] = own
        effect[row] = np.where(meter & active, base, 0.0) + np.where(constant & active, shape.per_day, 0.0)
    return SiteRows(residual, factors, noise, effect)


def _quiet_base(house: House, model: Model, reading: Observation) -> tuple[float, Floats, float]:
    """Expected quiet use [kWh/d], its columns on the loads' own factors, and the variance no factor holds."""
    base = model.base_kwh_per_day.copy()
    noise = 0.0
    if reading.on:
        named = {name.strip().lower() for name in reading.on}
        for j, load in enumerate(house.loads):
            if load.name.strip().lower() not in named:
                base[j] = 0.0
            elif base[j] == 0.0 and load.watts:
                base[j] = load.count * load.watts * load.share_on * 0.024
                noise += (0.3 * base[j]) ** 2
    rest = base[-1] / k.QUIET_UNLISTED_SHARE
    noise += (k.QUIET_UNLISTED_SD * rest) ** 2
    sds = np.sqrt(np.sum(model.factors[:, model.part_factors] ** 2, axis=0)) / np.maximum(
        np.sqrt(np.sum(model.parts**2, axis=0)), 1e-9
    )
    return float(base.sum()), base * sds, noise
