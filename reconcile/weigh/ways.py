"""Ways of households: how one departs from its list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from reconcile.weigh import constants as k

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Ways:
    """How a household departs from its list: each a square, so that a mixture of ways is their mean.

    Attributes
    ----------
    limits : float
        By what the variance of the stated limits is multiplied.
    habits : float
        Variance of ways of the household's own, as a part of the use, squared.
    season : float
        The same of their yearly and half-yearly swing.
    weather : float
        Variance of what follows the weather from period to period, as a part of it, squared.
    unlisted : float
        The same of what follows the weather and is not listed, as a part of all use.
    """

    limits: float = 1.0
    habits: float = 0.0
    season: float = 0.0
    weather: float = k.WAYS[0][4] ** 2
    unlisted: float = k.WAYS[0][5] ** 2

    @classmethod
    def of(cls, limits: float, *sizes: float) -> Ways:
        """Return those of a row of :data:`reconcile.weigh.constants.WAYS`, its chance left out."""
        return cls(limits**2, *(size**2 for size in sizes))

    @classmethod
    def mean(cls, several: Sequence[Ways], chance: Floats) -> Ways:
        """Return the mean of several, each by its chance."""
        return cls(*(float(chance @ [getattr(one, field.name) for one in several]) for field in fields(cls)))
