"""Chances that several sizes have their signs, by nested sums over Student's densities: nothing of the program's."""

from __future__ import annotations

import numpy as np
from scipy.special import gammaln, stdtr

POINTS, WEIGHTS = np.polynomial.legendre.leggauss(60)
"""Of Gauss and Legendre, for each stretch of the integral."""

REACH = (-60.0, -12.0, -6.0, -3.0, -1.0, 1.0, 3.0, 6.0, 12.0, 60.0, 1000.0)
"""Ends of the stretches, in scales about the location."""


def density(at, freedom):
    """Density of Student's t."""
    log_unit = gammaln((freedom + 1.0) / 2.0) - gammaln(freedom / 2.0) - 0.5 * np.log(freedom * np.pi)
    return np.exp(log_unit - 0.5 * (freedom + 1.0) * np.log1p(at**2 / freedom))


def chance_above(size, spread, freedom):
    """Chance that all of a few Student's t sizes, of location and scale matrix given, are above nothing."""
    size, spread = np.asarray(size, float), np.asarray(spread, float)
    if not len(size):
        return 1.0
    sd = float(np.sqrt(spread[0, 0]))
    if len(size) == 1:
        return float(stdtr(freedom, size[0] / sd))
    edges = np.maximum(np.array(REACH), -size[0] / sd)
    low, high = edges[:-1], edges[1:]
    away = (0.5 * (high - low)[:, None] * POINTS + 0.5 * (high + low)[:, None]).ravel()
    weights = (0.5 * (high - low)[:, None] * WEIGHTS).ravel()
    away, weights = away[weights > 0.0], weights[weights > 0.0]
    slope = spread[1:, 0] / sd
    left = spread[1:, 1:] - np.outer(slope, slope)
    given = size[1:] + away[:, None] * slope
    wider = (freedom + away**2) / (freedom + 1.0)
    if len(size) == 2:
        rest = stdtr(freedom + 1.0, given[:, 0] / np.sqrt(wider * left[0, 0]))
    else:
        rest = [chance_above(one, w * left, freedom + 1.0) for one, w in zip(given, wider, strict=True)]
    return float(weights @ (density(away, freedom) * rest))
