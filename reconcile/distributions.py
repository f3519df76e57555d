"""Student's t and chi-square, by scipy, which is loaded when the first of them is asked for."""

from __future__ import annotations

from functools import cache, lru_cache
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", bound="np.floating[Any]")

MEDIAN_TO_SD = 1.4826
"""Standard deviation of a normal quantity over the median of its absolute value (1 / 0.6745)."""


def middle(values: NDArray[np.float64]) -> float:
    """Return the median of some finite numbers, in a fifth of the time of numpy's, which looks for others first.

    Examples
    --------
    >>> middle(np.array([3.0, 1.0, 2.0, 9.0]))
    2.5
    """
    ordered, count = np.sort(values), len(values)
    return 0.5 * float(ordered[(count - 1) // 2] + ordered[count // 2])


def mode(values: NDArray[np.int64]) -> tuple[int, float]:
    """Return the commonest of some numbers and its share; without sorting them where the first is more than half.

    Examples
    --------
    >>> mode(np.array([900, 900, 1800, 900]))
    (900, 0.75)
    """
    first = int(values[0])
    share = float(np.count_nonzero(values == first)) / len(values)
    if share > 0.5:
        return first, share
    distinct, counts = np.unique(values, return_counts=True)
    return int(distinct[np.argmax(counts)]), float(counts.max() / len(values))


AT_ONCE = 1 << 17
"""Numbers of a long array that are looked at together: what comes of them stays in the processor's cache."""


def mode_of_phases(values: NDArray[np.int64], step: int) -> tuple[int, float]:
    """Return the commonest remainder of some numbers by a step and its share, as :func:`mode` does.

    Examples
    --------
    >>> mode_of_phases(np.array([900, 1800, 2701, 3600]), 900)
    (0, 0.75)
    """
    first = int(values[0]) % step
    alike = sum(
        int(np.count_nonzero(values[low : low + AT_ONCE] % step == first)) for low in range(0, len(values), AT_ONCE)
    )
    return (first, alike / len(values)) if 2 * alike > len(values) else mode(values % step)


def steady(rising: NDArray[np.int64], step: int) -> bool:
    """Whether each of some numbers is a step above the one before.

    Examples
    --------
    >>> steady(np.array([0, 900, 1800]), 900), steady(np.array([0, 900, 2700]), 900)
    (True, False)
    """
    return all(
        bool((rising[low + 1 : low + AT_ONCE + 1] - rising[low : low + AT_ONCE][: len(rising) - 1 - low] == step).all())
        for low in range(0, len(rising) - 1, AT_ONCE)
    )


def quantile_of_known(table: NDArray[np.float64], part: float) -> NDArray[np.float64]:
    """Return a quantile of each column's numbers, those that are missing left out: all columns at once.

    Parameters
    ----------
    table : ndarray, shape (n, m)
        NaN where a number is missing.
    part : float
        From 0 to 1.

    Returns
    -------
    ndarray, shape (m,)
        NaN where a column has no number.

    Examples
    --------
    >>> quantile_of_known(np.array([[3.0, np.nan], [1.0, 4.0], [2.0, 8.0]]), 0.25).tolist()
    [1.5, 5.0]
    """
    rising = np.sort(table, axis=0)  # what is missing comes last
    at = part * np.maximum(np.isfinite(rising).sum(axis=0) - 1, 0)
    low, high = (np.take_along_axis(rising, end(at).astype(int)[None], axis=0)[0] for end in (np.floor, np.ceil))
    return np.asarray(low + (at - np.floor(at)) * (high - low))


def raised(values: NDArray[Number], power: float) -> NDArray[Number]:
    """Raise positive numbers to a power above nothing, in place where it is a half or whole one.

    By products of squares: the logarithm of a number costs as much as twenty of these. What is beyond all numbers is
    infinite.

    Examples
    --------
    >>> raised(np.array([4.0, 9.0]), 2.5).tolist()
    [32.0, 243.0]
    """
    whole = int(power)
    if power - whole not in (0.0, 0.5):
        return np.asarray(values**power, dtype=values.dtype)
    with np.errstate(over="ignore", under="ignore"):
        out = np.sqrt(values) if power > whole else None
        while whole:
            if whole % 2:
                out = values.copy() if out is None else np.multiply(out, values, out=out)
            whole //= 2
            if whole:
                values *= values
    return values if out is None else out


def student_below(t: NDArray[np.float64], freedom: float) -> NDArray[np.float64]:
    """Return the chance that Student's t lies below each of some values, to ten figures in either tail.

    Parameters
    ----------
    freedom : float
        Degrees of freedom, above 0; infinite for the normal.

    Notes
    -----
    The chance beyond a value is the density there times a ratio that
    changes little (Mills's); over x = t / (t + 3) a polynomial follows it, which is found once for each freedom.

    Examples
    --------
    >>> student_below(np.array([-2.12, 0.0]), 16.0).round(3).tolist()
    [0.025, 0.5]
    """
    if np.isinf(freedom):
        from scipy.special import ndtr

        return np.asarray(ndtr(t))
    if freedom < LEAST_FREEDOM or t.size < FEW:
        from scipy.special import stdtr

        return np.asarray(stdtr(freedom, t))
    coefficients, furthest = _mills(freedom)
    size = np.minimum(np.abs(t), 1e12)
    near = size + NEAR
    x = np.minimum(size / near * (2.0 / furthest), 2.0) - 1.0
    chance = np.full_like(x, coefficients[-1])
    for coefficient in coefficients[-2::-1]:
        chance *= x
        chance += coefficient
    size *= size / freedom
    size += 1.0
    chance /= raised(size, 0.5 * (freedom - 1.0))
    chance /= near
    return np.where(t < 0.0, chance, 1.0 - chance)


NEAR, DEGREE, LEAST_FREEDOM = 3.0, 20, 6.0
"""Where the middle of the polynomial lies, in t, its degree, and the freedom from which ten figures are right."""

FEW = 150
"""Values from which the polynomial is faster."""


@lru_cache(maxsize=256)
def _mills(freedom: float) -> tuple[list[float], float]:
    """Coefficients of the polynomial, rising powers of x from -1 to 1, and where 1 stands for."""
    from scipy.special import stdtr

    far = np.sqrt(freedom) * np.sinh(min(600.0 / freedom, 25.0))  # beyond it no chance is left to be told
    furthest = float(far / (far + NEAR))
    x = np.cos(np.pi * (np.arange(DEGREE + 1) + 0.5) / (DEGREE + 1))
    share = 0.5 * furthest * (1.0 + x)
    t = NEAR * share / (1.0 - share)
    ratio = stdtr(freedom, -t) * (t + NEAR) * (1.0 + t * t / freedom) ** (0.5 * (freedom - 1.0))
    return np.linalg.solve(np.vander(x, increasing=True), ratio).tolist(), furthest


@lru_cache(maxsize=256)
def student_quantile(probability: float, freedom: float) -> float:
    """Return the quantile of Student's t.

    Parameters
    ----------
    probability : float
        Between 0 and 1, both left out.
    freedom : float
        Degrees of freedom, above 0; infinite for the normal.

    Examples
    --------
    >>> round(student_quantile(0.975, 16.0), 2)
    2.12
    """
    from scipy.special import stdtrit

    return float(stdtrit(freedom, probability))


def chi_square_limit(chance: float, freedom: int) -> float:
    """Return what a chi-square exceeds with some chance.

    Parameters
    ----------
    chance : float
        Between 0 and 1, both left out.
    freedom : int
        Degrees of freedom, at least 1.

    Examples
    --------
    >>> round(chi_square_limit(0.05, 2), 2), round(chi_square_limit(0.05, 5), 2)
    (5.99, 11.07)
    """
    from scipy.special import chdtri

    return float(chdtri(freedom, chance))


def coverage_factors(freedom: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return Student's t at 97.5 % for many degrees of freedom at once, to five figures.

    Parameters
    ----------
    freedom : ndarray
        Degrees of freedom, at least 1.

    Returns
    -------
    ndarray
        Between exact values, as straight lines over one by the degrees of freedom.

    Examples
    --------
    >>> coverage_factors(np.array([1.0, 4.0, 1e5])).round(3).tolist()
    [12.706, 2.776, 1.96]
    """
    inverse, factors = _factors()
    return np.asarray(np.interp(1.0 / freedom, inverse, factors))


@cache
def _factors() -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """One by some degrees of freedom, rising, and the factor of each."""
    freedom = np.concatenate([[np.inf], np.geomspace(1e6, 61.0, 60), np.arange(60.0, 0.0, -1.0)])
    return 1.0 / freedom, np.array([student_quantile(0.975, float(one)) for one in freedom])
