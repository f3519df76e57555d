"""How far something in a home moves by itself: read at other dates of its record, as it is where something began."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from reconcile.distributions import MEDIAN_TO_SD
from reconcile.interval.hour_blocks import EVERY_DAYS, SPANS_DAYS
from reconcile.interval.windows import MOST_STRAY

Floats = NDArray[np.float64]

PRIOR_MOVES = 2.0
"""As how many moves what is taken for likely beforehand counts beside those of the home's own (our judgement)."""

APART = EVERY_DAYS / (2.0 * SPANS_DAYS[0])
"""Each move for as many as share no days with others."""


def as_moved(sd: float, beforehand: float, moves: Floats) -> float:
    """Standard uncertainty of a change where the same moved so far at other dates.

    Parameters
    ----------
    sd : float
        By the noise of days alone, at the least.
    beforehand : float
        What is taken for likely before the home is asked.
    moves : ndarray, shape (n,)
        At every seventh day of its record.

    Examples
    --------
    >>> round(as_moved(5.0, 10.0, np.full(32, 30.0)), 1), as_moved(5.0, 10.0, np.zeros(0))
    (25.2, 10.0)
    """
    counted = APART * len(moves)
    own = PRIOR_MOVES * beforehand**2 + counted * root_mean_square(moves) ** 2
    return max(sd, math.sqrt(own / (PRIOR_MOVES + counted)))


def root_mean_square(moves: Floats) -> float:
    """Of some moves, odd ones drawn in."""
    if not len(moves):
        return 0.0
    most = MOST_STRAY * MEDIAN_TO_SD * float(np.median(np.abs(moves)))
    return float(np.sqrt(np.mean(np.minimum(np.abs(moves), most) ** 2)))
