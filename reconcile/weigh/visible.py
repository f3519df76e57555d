"""What these bills could have shown, and which loads blur the view (method page, eq. 16 to 19)."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reconcile.weigh.evidence import Candidates
from reconcile.weigh.gaussian import Fit

Floats = NDArray[np.float64]

NINETY_PERCENT = 1.2816
"""Quantile of the normal distribution: the size is exceeded by its estimate with 90 % probability."""

CLEAR = 4.8
"""A cause some standard uncertainties wide is seen; where the search begins."""

LARGEST = 4.0
"""Sizes above this many times the unit are called invisible."""

MEASURED_SD = 0.05
"""Relative standard uncertainty left of a load's energy after a week of measuring it (common practice)."""


def smallest_visible(
    data: Fit, candidates: Candidates, effect: Floats, suspects: NDArray[np.bool_], threshold: float
) -> Floats:
    """Smallest size of an effect that the bills would have shown with 90 % probability.

    Parameters
    ----------
    data : Fit
        For its precision and learnt scale; its residual plays no part.
    candidates : Candidates
        All patterns weighed; rows beyond the bills' play no part.
    effect : ndarray, shape (N, m)
        One column an effect, kWh per unit of size.
    suspects : ndarray of bool, shape (K,)
        Patterns whose joint probability makes the effect seen.
    threshold : float
        Probability at which it is.

    Returns
    -------
    ndarray, shape (m,)
        Sizes; NaN where even :data:`LARGEST` would stay unseen.

    Notes
    -----
    The bills are put at the tenth percentile along the direction that tells of the effect, the rest of their scatter
    at its mean, and the single-cause posterior is solved for the size by bisection.
    """
    white = data.half @ candidates.columns[: len(data.residual)]
    seen = data.half @ effect
    unit = np.sqrt(np.maximum(np.einsum("ij,ij->j", seen, seen), 1e-12))
    across = seen.T @ white
    one = 1.0 + np.einsum("ij,ij->j", white, white)
    n, nu = len(data.residual), data.freedom
    noise = np.sqrt(data.scale)
    scatter = (n - 1) * data.scale
    half = 0.5 * (nu + n)
    constant = candidates.log_prior - 0.5 * np.log(one)
    loss = candidates.shift**2

    def probability(size: Floats) -> Floats:
        along = size - NINETY_PERCENT * noise / unit
        misfit = (along * unit) ** 2 + scatter
        pull = along[:, None] * across + candidates.shift
        ratio = (nu + misfit[:, None] + loss - pull**2 / one) / (nu + misfit[:, None])
        weight = np.exp(np.minimum(constant - half * np.log(ratio), 600.0))
        chance: Floats = weight[:, suspects].sum(axis=1) / (1.0 + weight.sum(axis=1))
        return chance

    # A first guess from what a single clear cause needs saves half of the bisections.
    guess = np.minimum(CLEAR * noise / unit, LARGEST / 2.0)
    above = probability(guess) >= threshold
    low, high = np.where(above, 0.3 * guess, guess), np.where(above, guess, np.minimum(2.5 * guess, LARGEST))
    high = np.where(probability(high) >= threshold, high, LARGEST)
    unseen = probability(high) < threshold
    for _ in range(7):
        middle = 0.5 * (low + high)
        enough = probability(middle) >= threshold
        high = np.where(enough, middle, high)
        low = np.where(enough, low, middle)
    return np.where(unseen, np.nan, high)


def doubt(precision: Floats, direction: Floats) -> float:
    """Standard uncertainty of the size of an effect that the bills alone would settle.

    Examples
    --------
    >>> doubt(np.eye(4), np.ones(4))
    0.5
    """
    return float(1.0 / np.sqrt(max(float(direction @ precision @ direction), 1e-300)))


def gains(precision: Floats, own: Floats, relative_sd: Floats, direction: Floats) -> Floats:
    """Variance of an effect's size once each load alone has been measured, closed form.

    Parameters
    ----------
    precision : ndarray, shape (n, n)
    own : ndarray, shape (n, q)
        Factor columns of the loads, scaled to one standard deviation.
    relative_sd : ndarray, shape (q,)
        Their relative standard uncertainties.
    direction : ndarray, shape (n,)
        The effect per unit of size.

    Returns
    -------
    ndarray, shape (q,)
    """
    removed = np.maximum(1.0 - (MEASURED_SD / np.maximum(relative_sd, MEASURED_SD)) ** 2, 0.0)
    pulled = precision @ direction
    inner = np.einsum("ij,ij->j", own, precision @ own)
    across = own.T @ pulled
    information = float(direction @ pulled) + removed * across**2 / np.maximum(1.0 - removed * inner, 1e-9)
    result: Floats = 1.0 / np.maximum(information, 1e-300)
    return result


def measured(precision: Floats, column: Floats, relative_sd: float) -> Floats:
    """Precision once one load has been measured: a rank-one update."""
    removed = max(1.0 - (MEASURED_SD / max(relative_sd, MEASURED_SD)) ** 2, 0.0)
    pulled = precision @ column
    updated: Floats = precision + np.outer(pulled, pulled) * (
        removed / max(1.0 - removed * float(column @ pulled), 1e-9)
    )
    return updated
