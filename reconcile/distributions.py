"""Student's t and chi-square, by scipy, which is loaded when the first of them is asked for."""

from __future__ import annotations

from functools import lru_cache


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

    Examples
    --------
    >>> round(student_beyond(2.12, 16.0), 3), student_beyond(0.0, 4.0)
    (0.05, 1.0)
    """
    from scipy.special import stdtr

    return 2.0 * float(stdtr(freedom, -abs(t)))


@lru_cache(maxsize=256)
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

    Returns
    -------
    float

    Examples
    --------
    >>> round(chi_square_limit(0.05, 2), 2), round(chi_square_limit(0.05, 5), 2)
    (5.99, 11.07)
    """
    from scipy.special import chdtri

    return float(chdtri(freedom, chance))
