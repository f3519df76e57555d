"""Student's t and chi-square as far as they are needed, so that neither the wait nor the size of a library is paid."""

from __future__ import annotations

import math
from functools import lru_cache
from statistics import NormalDist

_CLOSE = 1e-15
"""Relative change at which a continued fraction or a halved root counts as found."""
_LAST_STEP = 1e-9
"""Relative step after which Newton's root is exact: the next would be its square."""
_MOST_TERMS = 500
_SUMMED_TO = 200
"""Whole degrees of freedom up to which the finite sum is the faster way."""
_FAR = 1e-4
"""Chance below which the finite sum, taken from one, has too few figures left."""
_MOST_STEPS = 60
_LARGE = 50.0
_NEARLY_NORMAL = 1e6


def student_beyond(t: float, freedom: float) -> float:
    """Return the chance that Student's t lies ``t`` or more from zero, on both sides together.

    Parameters
    ----------
    t : float
    freedom : float
        Degrees of freedom, above 0; infinite for the normal.

    Returns
    -------
    float

    Notes
    -----
    The incomplete beta ratio I_x(freedom/2, 1/2) at x = freedom / (freedom + t^2) (DLMF 8.17,
    https://dlmf.nist.gov/8.17); for few whole degrees of freedom its finite sum (Abramowitz and Stegun, 26.7.3 and
    26.7.4).

    Examples
    --------
    >>> round(student_beyond(2.12, 16.0), 3), student_beyond(0.0, 4.0)
    (0.05, 1.0)
    """
    square = t * t
    if freedom > _NEARLY_NORMAL:
        density = math.exp(-0.5 * square) / math.sqrt(2.0 * math.pi)
        return math.erfc(abs(t) / math.sqrt(2.0)) + density * abs(t) * (square + 1.0) / (2.0 * freedom)
    if square == 0.0:
        return 1.0
    if freedom <= _SUMMED_TO and freedom == int(freedom):
        summed = 1.0 - _within(square, int(freedom))
        if summed > _FAR:
            return summed
    # both x and 1 - x are formed from t: what is far in the tail keeps its figures
    within, x = square / (freedom + square), freedom / (freedom + square)
    a = 0.5 * freedom
    front = math.exp(0.5 * math.log(within) - a * math.log1p(square / freedom) - _log_beta_half(a))
    if x < (a + 1.0) / (a + 2.5):
        return front * _fraction(x, a, 0.5) / a
    return 1.0 - front * _fraction(within, 0.5, a) / 0.5


def student_quantile(probability: float, freedom: float) -> float:
    """Return the quantile of Student's t.

    Parameters
    ----------
    probability : float
        Between 0 and 1, both left out.
    freedom : float
        Degrees of freedom, above 0; infinite for the normal.

    Returns
    -------
    float

    Examples
    --------
    >>> round(student_quantile(0.975, 16.0), 2), round(student_quantile(0.025, math.inf), 2)
    (2.12, -1.96)
    """
    if math.isinf(freedom):
        return NormalDist().inv_cdf(probability)
    if probability == 0.5:
        return 0.0
    if probability < 0.5:
        return -student_quantile(1.0 - probability, freedom)
    wanted = 2.0 * (1.0 - probability)
    t = NormalDist().inv_cdf(probability)
    log_density = -_log_beta_half(0.5 * freedom) - 0.5 * math.log(freedom)
    for _ in range(_MOST_STEPS):
        # Newton's step in the logarithms, where the tail is concave: it comes from one side after the first step
        beyond = student_beyond(t, freedom)
        density = math.exp(log_density - 0.5 * (freedom + 1.0) * math.log1p(t * t / freedom))
        step = math.log(beyond / wanted) * beyond / (2.0 * density * t)
        t *= math.exp(step)
        if abs(step) < _LAST_STEP:
            break
    return t


def chi_square_limit(chance: float, freedom: int) -> float:
    """Return what a chi-square exceeds with some chance.

    Parameters
    ----------
    chance : float
        Between 0 and 1, both left out.
    freedom : int
        Degrees of freedom, at least 1.

    Returns
    -------
    float

    Notes
    -----
    The tail of whole degrees of freedom is a finite sum (Abramowitz and Stegun, 26.4.4 and 26.4.5).

    Examples
    --------
    >>> round(chi_square_limit(0.05, 2), 2), round(chi_square_limit(0.05, 5), 2)
    (5.99, 11.07)
    """
    low, high = 0.0, float(freedom)
    while _chi_square_beyond(high, freedom) > chance:
        low, high = high, 2.0 * high
    while high - low > _CLOSE * high:
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        low, high = (middle, high) if _chi_square_beyond(middle, freedom) > chance else (low, middle)
    return high


def _chi_square_beyond(square: float, freedom: int) -> float:
    half = 0.5 * square
    if freedom % 2:
        total, term, at = math.erfc(math.sqrt(half)), math.sqrt(half) / math.gamma(1.5) * math.exp(-half), 1.5
    else:
        total, term, at = 0.0, math.exp(-half), 1.0
    for _ in range(freedom // 2):
        total += term
        term *= half / at
        at += 1.0
    return total


def _within(square: float, freedom: int) -> float:
    """Chance that Student's t lies nearer to zero than the root of ``square``, for whole degrees of freedom."""
    cosine2 = freedom / (freedom + square)
    sine = math.sqrt(square / (freedom + square))
    odd = freedom % 2
    term = total = math.sqrt(cosine2) if odd else 1.0
    for k in range(2 + odd, freedom - 1, 2):
        term *= cosine2 * (k - 1) / k
        total += term
    if not odd:
        return sine * total
    angle = math.asin(sine) if sine < 0.7 else math.acos(math.sqrt(cosine2))
    return 2.0 / math.pi * (angle + (sine * total if freedom > 1 else 0.0))


@lru_cache(maxsize=256)
def _log_beta_half(a: float) -> float:
    """Logarithm of the beta function B(a, 1/2); of large ``a`` by its series (DLMF 5.11.13), where gammas cancel."""
    if a < _LARGE:
        return math.lgamma(a) + math.lgamma(0.5) - math.lgamma(a + 0.5)
    ratio = 1.0 - 1 / (8 * a) + 1 / (128 * a**2) + 5 / (1024 * a**3) - 21 / (32768 * a**4) - 399 / (262144 * a**5)
    return 0.5 * math.log(math.pi / a) - math.log(ratio)


def _fraction(x: float, a: float, b: float) -> float:
    """Continued fraction of the incomplete beta function, from the front (DLMF 8.17.22), by Lentz's method."""
    upper, lower = 1.0, 1.0 / (1.0 - (a + b) * x / (a + 1.0))
    found = lower
    for m in range(1, _MOST_TERMS):
        even = m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0))
        lower, upper = 1.0 / (1.0 + even * lower), 1.0 + even / upper
        found *= lower * upper
        lower, upper = 1.0 / (1.0 + odd * lower), 1.0 + odd / upper
        change = lower * upper
        found *= change
        if abs(change - 1.0) < _CLOSE:
            break
    return found
