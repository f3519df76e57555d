"""Sizes of one sign: how much of a size's distribution lies on its own side of nothing.

A load uses, a fast meter adds, an empty house saves: the size of nearly every cause has a sign by its name. Its prior,
together with the unknown scale a Student t, is cut off at nothing. All stays in closed form: the evidence of a model
is the one without the cut, times the chance of the right signs once the data are heard, over the same chance
beforehand. Chances are of one, two or three sizes that are Student's t together.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from numpy.typing import NDArray

from reconcile.distributions import raised, student_below

Floats = NDArray[np.float64]

NODES = 28
"""Points of Gauss and Legendre over the correlation of two sizes: two millionths off, whatever the correlation."""

NODES_GIVEN = 16
"""The same over the third of three sizes."""

SURE = 1e8
"""Standard deviations that stand for certainty."""

LEAST = 1e-300
"""Chance that stands for none at all."""


def one_side(size: Floats, freedom: float) -> Floats:
    """Return the chance that a size is above nothing.

    Parameters
    ----------
    size : ndarray
        Its location over its scale.
    freedom : float
        Of Student's t; infinite for the normal.

    Examples
    --------
    >>> one_side(np.array([0.0, 2.12]), 16.0).round(3).tolist()
    [0.5, 0.975]
    """
    return np.maximum(student_below(size, freedom), LEAST)


def both_sides(first: Floats, second: Floats, correlation: Floats, freedom: float) -> Floats:
    """Return the chance that two sizes are both above nothing.

    Parameters
    ----------
    first, second : ndarray
        Location over scale of each.
    correlation : ndarray
        Between -1 and 1; of a shape that broadcasts to theirs: what hangs on it alone is worked out once.
    freedom : float
        Of Student's t of both together; infinite for the normal.

    Notes
    -----
    What the correlation adds to the chance goes by the density at the corner, to be integrated over the angle from a
    correlation of 1 or -1, where the chance is that of one size alone (Plackett 1954; for Student's t Genz 2004,
    Statistics and Computing 14, 251; from memory). No double integral is needed.

    Examples
    --------
    >>> zero = np.zeros(2)
    >>> both_sides(zero, zero, np.array([0.0, 0.5]), 24.0).round(6).tolist()
    [0.25, 0.333333]
    """
    first, second = np.clip(first, -SURE, SURE), np.clip(second, -SURE, SURE)
    towards = np.where(correlation > 0.0, 1.0, -1.0)
    one, two = one_side(first, freedom), one_side(second, freedom)
    alone = np.where(towards > 0.0, np.minimum(one, two), np.maximum(one + two - 1.0, 0.0))
    points, weights = legendre(NODES)
    # the angle counted from the end at which the two are one; its square near it, where the density rises steepest
    reach = np.sqrt(np.arccos(np.abs(correlation)))
    root = reach[..., None] * points
    cosine, sine = np.cos(root**2), np.sin(root**2)
    a, b = first[..., None], (towards * second)[..., None]
    apart = (a**2 + b**2 - 2.0 * cosine * a * b) / np.maximum(sine**2, 1e-30)
    if np.isinf(freedom):
        density = np.exp(-0.5 * apart)
    else:
        density = 1.0 / raised(1.0 + apart / freedom, 0.5 * freedom)
    area = reach * ((2.0 * root * density) @ weights) / (2.0 * np.pi)
    return np.asarray(np.clip(alone - towards * area, LEAST, np.minimum(one, two)))


def all_sides(size: Floats, correlation: Floats, freedom: float) -> Floats:
    """Return the chance that up to three sizes are all above nothing.

    Parameters
    ----------
    size : ndarray, shape (..., k)
        Location over scale of each.
    correlation : ndarray, shape (..., k, k)
        As of :func:`both_sides`.

    Notes
    -----
    Of three: given one of them, the other two are a Student's t with one degree of freedom more (Kotz and Nadarajah
    2004, from memory); that one is integrated over the part of its distribution that is above nothing.
    """
    *several, count = size.shape
    if count == 1:
        return one_side(size[..., 0], freedom)
    if count == 2:
        return both_sides(size[..., 0], size[..., 1], correlation[..., 0, 1], freedom)
    if not size.size:
        return np.zeros(several)
    correlation = np.broadcast_to(correlation, (*several, 3, 3)).reshape(-1, 3, 3)
    size = size.reshape(-1, 3)
    # given the surest of its side: the integrand is then nearly flat
    order = np.argsort(-size, axis=1)
    size, rows = np.take_along_axis(size, order, axis=1), np.arange(len(size))[:, None, None]
    correlation = correlation[rows, order[:, :, None], order[:, None, :]]
    given, (x, y) = np.clip(size[:, 0], -SURE, SURE), size[:, 1:].T
    given, which = np.unique(given, return_inverse=True)  # mostly it is one for many: another is asked where it lies
    above = one_side(given, freedom)
    points, weights = legendre(NODES_GIVEN)
    # how far it lies above its location, in its scale; most points where that is far
    drawn = -_quantile(above[:, None] * points**2, freedom)
    above, drawn = above[which], drawn[which]
    wider = 1.0 if np.isinf(freedom) else np.sqrt((freedom + drawn**2) / (freedom + 1.0))
    a, b, c = (correlation[:, i, j, None] for i, j in ((0, 1), (0, 2), (1, 2)))
    root_a, root_b = (np.sqrt(np.maximum(1.0 - one**2, 1e-15)) for one in (a, b))
    left = np.clip((c - a * b) / (root_a * root_b), -1.0, 1.0)
    first = (x[:, None] + a * drawn) / (root_a * wider)
    second = (y[:, None] + b * drawn) / (root_b * wider)
    together = both_sides(first, second, left, freedom + 1.0)
    return np.asarray(np.maximum(above * (together @ (2.0 * points * weights)), LEAST).reshape(several))


def _quantile(chance: Floats, freedom: float) -> Floats:
    from scipy.special import ndtri, stdtrit

    found: Floats = ndtri(chance) if np.isinf(freedom) else stdtrit(freedom, chance)
    return found


def beforehand(shift: Floats, freedom: float) -> Floats:
    """Return the logarithm of the chance that sizes have their sign before any data are heard.

    Parameters
    ----------
    shift : ndarray, shape (m, k)
        Prior mean over prior standard deviation of each, apart but for the scale; infinite where either sign will do.
    """
    count = shift.shape[1]
    # of the same kinds it is the same; two that differ do so in this sum, too
    key = np.minimum(shift, SURE) @ np.sqrt([2.0, 3.0, 5.0][:count])
    _, places, which = np.unique(key, return_index=True, return_inverse=True)
    chance = all_sides(shift[places], np.eye(count)[None], freedom)
    return np.asarray(np.log(chance)[which])


@cache
def logistic(freedom: float) -> tuple[float, float]:
    """Return a and b for which 1 / (1 + exp(-z (a + b z^2))) is Student's distribution function, to a thousandth.

    Examples
    --------
    >>> a, b = logistic(24.0)
    >>> abs(1.0 / (1.0 + np.exp(-2.0 * (a + 4.0 * b))) - one_side(np.array([2.0]), 24.0)[0]) < 5e-4
    np.True_
    """
    at = np.array([0.8, 2.2])
    chance = one_side(at, freedom)
    slope = np.log(chance / (1.0 - chance)) / at
    cubic = float((slope[1] - slope[0]) / (at[1] ** 2 - at[0] ** 2))
    return float(slope[0]) - cubic * float(at[0]) ** 2, cubic


@cache
def legendre(count: int) -> tuple[Floats, Floats]:
    """Points and weights of Gauss and Legendre on 0 to 1."""
    points, weights = np.polynomial.legendre.leggauss(count)
    return 0.5 * (points + 1.0), 0.5 * weights
