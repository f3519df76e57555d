"""Whether all hours of the day rose by one part of what they held at a date, as with a meter that counts more.

A load that came adds its watts, most to the hours that held least; more of what people do leaves the nights as they
were. Only where the hours tell one part from both, each by itself, is anything said.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import day_numbers
from reconcile.house import House
from reconcile.interval.alignment import BIN
from reconcile.interval.base_load import BaseLoad
from reconcile.interval.hour_blocks import LEAST_DAYS, SPANS_DAYS, Hours, Rise
from reconcile.interval.resized import NEAR

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

ROSE, BETTER = 30.0, 12.0
"""By how much one part must fit the hours of the day better than that they kept still, and better than one power in all
of them and than more of what people do (in chi-square, at the scatter that is left; our own judgement: at doubled
meters of simulated homes 60 and 16 or more in nearly all, at loads that came 3 at the most against one power)."""


def beyond_sizes(house: House, zone: ZoneInfo, base: BaseLoad | None, found: float = 0.0) -> bool:
    """Whether all hours rose by one part with the largest rise of the base load, farther than sizes are looked for.

    That the sizes of appliances' steps did not move, as far as they were looked for, then says nothing; nor does a
    shift that was found (logarithm) and comes to less than half of it: other appliances lie there.
    """
    if base is None or base.onset is None or house.interval is None:
        return False
    hours = Hours.of(house.interval, zone, house)
    if len(hours.raw) < 2 * LEAST_DAYS:
        return False
    part = rose_by_one_part(hours.by_hour(), int(day_numbers([base.onset.day])[0]) - hours.first)
    return part is not None and math.log1p(part) > max(NEAR * BIN, 2.0 * found)


def in_proportion(hours: Hours, at: int, slots: Bools, least: float = 0.0) -> float:
    """By how much it fits some slots of the day better that they all rose by one part at a day than that they kept
    still (in chi-square), from the span that says it more surely; none where they rose by less than some part, fell, or
    too few days are whole.
    """
    found = [0.0]
    for rise, held in _compared(hours, at):
        part, better = _fitted(rise, slots, held)
        if part >= least:
            found.append(better)
    return max(found)


def rose_by_one_part(hours: Hours, at: int) -> float | None:
    """By which part all hours rose at a day; None where something else fits them as well.

    Parameters
    ----------
    hours : Hours
        Slots are hours.
    at : int
        Place of the day.
    """
    for rise, held in _compared(hours, at):
        every, people = np.ones(len(held), dtype=bool), np.maximum(held - held.min(), 1.0)
        part, best = _fitted(rise, every, held)
        constant, habit = (_fitted(rise, every, shape)[1] for shape in (np.ones(len(held)), people))
        scale = max(1.0, (float(rise.watts @ rise.precision @ rise.watts) - best) / (len(held) - 1.0))
        if best >= ROSE * scale and best - max(constant, habit) >= BETTER * scale:
            return part
    return None


def _compared(hours: Hours, at: int) -> Iterator[tuple[Rise, Floats]]:
    """How far the slots rose at a day, and what they held before with the weather's part, by the span.

    More of what people do is one of the answers here, and no noise.
    """
    for span in SPANS_DAYS:
        if (found := hours.rise_of_held(at, span)) is not None:
            rise, held = found
            yield replace(rise, shapes=rise.shapes[:, 1:]), held


def _fitted(rise: Rise, slots: Bools, shape: Floats) -> tuple[float, float]:
    """How many times some shape fits the rise of some slots, and what it explains (in chi-square); none by a fall."""
    precision = rise.precision if slots.all() else np.linalg.inv(rise.covariance[np.ix_(slots, slots)])
    part = shape[slots]
    pull, length = float(part @ precision @ rise.watts[slots]), float(part @ precision @ part)
    length = max(length, 1e-12)
    return pull / length, max(pull, 0.0) ** 2 / length
