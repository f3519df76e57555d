"""Ways of households: how one departs from its list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

import numpy as np
from numpy.typing import NDArray

from reconcile.records import dataclass
from reconcile.weigh import constants as k

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Ways:
    """How a household departs from its list: each a square, so that a mixture of ways is their mean."""

    limits: float = 1.0
    """By what the variance of the stated limits is multiplied."""
    habits: float = 0.0
    """Variance of ways of the household's own, as a part of the use, squared."""
    season: float = 0.0
    """The same of their yearly and half-yearly swing."""
    weather: float = k.WAYS[0][4] ** 2
    """Variance of what follows the weather from period to period, as a part of it, squared."""
    unlisted: float = k.WAYS[0][5] ** 2
    """The same of what follows the weather and is not listed, as a part of all use."""

    @classmethod
    def of(cls, limits: float, *sizes: float) -> Ways:
        """Return those of a row of :data:`reconcile.weigh.constants.WAYS`, its chance left out."""
        return cls(limits**2, *(size**2 for size in sizes))

    @classmethod
    def mean(cls, several: Sequence[Ways], chance: Floats) -> Ways:
        """Return the mean of several, each by its chance."""
        return cls(*(float(chance @ [getattr(one, field.name) for one in several]) for field in fields(cls)))


def remembered(middle: Floats, memory: float) -> Floats:
    """How much of what lasts two periods share, by their middles and its memory [d], shape (n, n)."""
    together: Floats = np.exp(-np.abs(middle[:, None] - middle) / memory)
    return together


def lasting_ways(middle: Floats) -> Floats:
    """Ways of the household that the calendar does not hold: partly of the month, partly lasting some months."""
    lasting = k.LASTING_HABITS * remembered(middle, k.HABIT_DAYS)
    return lasting + (1.0 - k.LASTING_HABITS) * np.eye(len(middle))


def stated_ways(middle: Floats, *, lasting: bool) -> Floats:
    """What people switch otherwise from month to month, as stated: drawn anew, and beside it what may last."""
    anew = np.eye(len(middle))
    return anew + k.HANDS_LAST**2 * lasting_ways(middle) if lasting else anew


def yearly_swing(middle: Floats, days: Floats, per_day: float, *, level: bool) -> Floats:
    """A yearly and a half-yearly swing of unknown size and phase; with ``level``, of unknown mean too."""
    turn = 2.0 * np.pi * middle / 365.25
    waves = [np.cos(turn), np.sin(turn), np.cos(2 * turn), np.sin(2 * turn)]
    if level:
        waves.append(np.ones(len(days)))
    swing: Floats = per_day * days[:, None] * np.column_stack(waves)
    return swing
