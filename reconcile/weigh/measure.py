"""What to measure next: the loads that blur the meter most, in the order of gain for effort."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from reconcile.house import House, Load
from reconcile.loads.handbook import find
from reconcile.result import Measure
from reconcile.weigh import constants as k
from reconcile.weigh.model import Model
from reconcile.weigh.visible import doubt, gains, measured
from reconcile.weigh.weighed import Weighing

Floats = NDArray[np.float64]

CORD_WATTS = 1800.0
"""The most a cord on a 15 A, 120 V outlet carries: 15 A x 120 V; above it no household plug-in meter fits."""

WIRED = frozenset(
    (
        "pool pump", "well pump", "hot tub", "furnace fan", "boiler circulator", "whole-house fan", "ceiling fan",
        "bathroom fan", "ventilation fan", "dishwasher", "electric range", "electric clothes dryer",
        "electric water heater", "heat pump water heater", "heat tape", "central air conditioner", "heat pump heating",
        "strip heat", "electric furnace", "baseboard heater", "electric car",
    )
)  # fmt: skip
"""Kinds that are usually wired in, or stand out of doors by water: no plug-in meter fits (common practice)."""

MOST = 3

_PLUG_IN = "a plug-in meter for a week"
_LABEL = "read its nameplate, and log its hours for a week by a clock or its own counter"
_THERMOSTAT = "log its run hours for a week beside the day's temperature (many thermostats keep them)"
_WALK = "walk through the house and list what is plugged in"

EFFORT: dict[str, float] = {_PLUG_IN: 1.0, _LABEL: 1.5, _THERMOSTAT: 1.5, _WALK: 1.2}
"""Relative effort of each way, our own judgement: an evening or a week of looking now and then."""


def effort_of(load: Load | None) -> str:
    """Say how a load would be measured; None is the unlisted rest.

    Examples
    --------
    >>> effort_of(Load("lamp", watts=60.0, run_hours=4.0))
    'a plug-in meter for a week'
    """
    if load is None:
        return _WALK
    wired = (load.watts or 0.0) > CORD_WATTS or any(kind.load in WIRED for kind in find(load.name)[:1])
    if not wired:
        return _PLUG_IN
    return _THERMOSTAT if load.follows in ("heating", "cooling") else _LABEL


def shares_of_doubt(weighing: Weighing) -> Floats:
    """Share of the doubt about the meter that is each load's, the unlisted rest last; they sum to 1 at the most."""
    count = len(weighing.model.part_factors)
    own = weighing.model.factors[weighing.judged][:, :count]
    precision = weighing.bills.precision
    direction = weighing.model.mean[weighing.judged]
    left = gains(precision, own, _relative_sd(weighing), direction)
    won = np.maximum(doubt(precision, direction) ** 2 - left, 0.0)
    total = max(float(won.sum()), doubt(precision, direction) ** 2)
    result: Floats = won / total
    return result


def next_measures(house: House, weighing: Weighing | None) -> tuple[Measure, ...]:
    """Choose the best one, two and three loads to measure, and the doubt left after each.

    Returns
    -------
    tuple of Measure
        Empty where nothing was weighed or nothing is listed.
    """
    if weighing is None or not house.loads:
        return ()
    count = len(weighing.model.part_factors)
    own = weighing.model.factors[weighing.judged][:, :count]
    direction = weighing.model.mean[weighing.judged]
    precision = weighing.bills.precision
    relative = _relative_sd(weighing)
    ways = [effort_of(load) for load in house.loads] + [effort_of(None)]
    names = [load.name for load in house.loads] + ["what is not on the list"]
    effort = np.array([EFFORT[way] for way in ways])
    scale = np.sqrt(weighing.bills.scale)
    chosen: list[Measure] = []
    taken = np.zeros(count, dtype=bool)
    for _ in range(min(MOST, count)):
        before = doubt(precision, direction) ** 2
        won = (before - gains(precision, own, relative, direction)) / effort
        won[taken] = -np.inf
        best = int(np.argmax(won))
        if not won[best] > 0:
            break
        taken[best] = True
        precision = measured(precision, own[:, best], float(relative[best]))
        after = float(196.0 * scale * doubt(precision, direction))
        chosen.append(Measure(names[best], ways[best], after, float(196.0 * scale * np.sqrt(before))))
    return tuple(chosen)


VAGUEST = 2


def says_less(by_list: Model, by_reference: Callable[[], Model]) -> bool:
    """Whether a list foretells a bill less well than the reference of whole houses does, which needs no list.

    A list of bare names may hold a heating or cooling whose size could be anything. Knowing more cannot mean knowing
    less: such a list is then left out of the weighing.

    Parameters
    ----------
    by_reference : callable
        Makes the model of the same bills without the list: seldom wanted, since its level alone leaves more doubt than
        most lists do.
    """
    doubt = _relative_doubt(by_list)
    return doubt > LEAST_OF_REFERENCE and doubt > _relative_doubt(by_reference())


LEAST_OF_REFERENCE = float(np.sqrt(np.expm1((k.BARE_LEVEL_PERCENT / 196.0) ** 2)))
"""Relative doubt of every bill where only the reference is known, at the least."""


def _relative_doubt(model: Model) -> float:
    with np.errstate(divide="ignore", invalid="ignore"):
        return float(np.nanmean(np.sqrt(np.diag(model.covariance)) / model.mean))


def vaguest(house: House, model: Model) -> tuple[str, ...]:
    """Names of the loads that leave the most doubt of a list, the worst first."""
    spread = np.abs(model.factors[:, : len(house.loads)]).sum(axis=0)
    return tuple(house.loads[j].name for j in np.argsort(-spread)[:VAGUEST])


def _relative_sd(weighing: Weighing) -> Floats:
    parts = weighing.model.parts
    own = weighing.model.factors[:, weighing.model.part_factors]
    size = np.sqrt((parts**2).sum(axis=0))
    result: Floats = np.sqrt((own**2).sum(axis=0)) / np.maximum(size, 1e-9)
    return result
