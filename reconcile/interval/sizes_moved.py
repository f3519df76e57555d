"""What is said of the sizes of the house's own steps where they moved: by how much, of which appliances, since when."""

from __future__ import annotations

import math

import numpy as np

from reconcile.clock import as_day
from reconcile.facts import Finding
from reconcile.house import House
from reconcile.interval.clusters import Cluster
from reconcile.interval.diary import VOLTS_CHANGED, kept_all, same_volts, told_of
from reconcile.interval.found import STEP_SIZES
from reconcile.interval.size_change import Change

TOGETHER = 0.03
"""Distance of one appliance's shift from that of all, in the logarithm, within which it moved with them (our own
judgement)."""

MOST_NAMED = 3


def sizes_moved(change: Change, house: House) -> Finding | None:
    """Say that the house's own steps are another size since a date, whatever it was.

    Parameters
    ----------
    house : House
        Its diary may already say what the household is asked.

    Returns
    -------
    Finding or None
        ``step-sizes``, in the cases ``one`` and ``several`` by the number of appliances that moved; it settles nothing.
        None where the sizes did not move beyond what chance gives.
    """
    moved = that_moved(change)
    if not moved:
        return None
    day = as_day(change.day)
    low, high = as_day(change.low), as_day(change.high)
    kept, told = kept_all(house.events, day), told_of(house.events, low, high)
    other = told_of(house.events, low, high, VOLTS_CHANGED)
    even = change.volts or same_volts(house.events, day)
    return Finding(
        code=STEP_SIZES,
        periods=(),
        case="several" if len(moved) > 1 else "one",
        figures={
            "percent": 100.0 * math.expm1(change.shift),
            "expanded": 200.0 * change.standard_uncertainty,
            "day": day,
            "from": low,
            "to": high,
            "watts": tuple(1000.0 * one.kw for one in moved[:MOST_NAMED]),
            "moved": len(moved),
            "volts": even,
            "other_volts": other,
            "kept": kept,
            # more power, and nobody said that an appliance is another one: a meter that counts too much would do it
            "open": change.shift > 0.0 and not told,
        },
        # data without volts leave a change of the supply's volts open: the utility knows of one
        asks=() if even or other else ("volts-then",),
        household=() if kept or told else ("was-it-replaced",),
    )


def that_moved(change: Change) -> tuple[Cluster, ...]:
    """Appliances that moved as the change says, the most used first; none where it is not said at all."""
    moved = [one for one in change.clusters if change.said and _moved(one, change.shift)]
    return tuple(sorted(moved, key=lambda one: -one.steps_before))


def _moved(one: Cluster, shift: float) -> bool:
    """Whether an appliance moved with the others, as far as its own uncertainty goes."""
    apart = abs(one.shift - shift)
    return apart <= max(TOGETHER, one.standard_uncertainty) and bool(np.sign(one.shift) == np.sign(shift))
