"""Student-t linear algebra: likelihood, conditional prediction, leaving one out. Pure numpy, any model.

All quantities are of y ~ t(m, S) with ``freedom`` degrees of freedom: Gaussian with covariance s^2 S given one
unknown scale s^2, inverse-gamma distributed with shape and rate ``freedom`` / 2.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from reconcile.records import dataclass

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A t model with its data taken in: whitened residual and precision."""

    residual: Floats
    """y - m, shape (n,)."""
    half: Floats
    """Inverse of the lower Cholesky factor of S: ``half @ S @ half.T`` is the identity, shape (n, n)."""
    white: Floats
    """``half @ residual``, shape (n,)."""
    misfit: float
    """r' S^-1 r."""
    freedom: float

    @property
    def precision(self) -> Floats:
        """P = S^-1, shape (n, n)."""
        return self.half.T @ self.half

    @property
    def scale(self) -> float:
        """Mean of the unknown scale s^2 once the data are heard, as the t predictive uses it."""
        n = len(self.residual)
        return (self.freedom + self.misfit) / (self.freedom + n)


def whitening(covariance: Floats) -> Floats:
    """Return the inverse of the lower Cholesky factor of a covariance, shape (n, n), or of each of several.

    Rounding alone can take a covariance whose parts differ by many powers of ten out of definiteness; then its diagonal
    is raised by the smallest part of itself that mends it.

    Raises
    ------
    numpy.linalg.LinAlgError
        Where it is not positive definite beyond rounding.
    """
    if covariance.ndim > 2:
        try:
            return _inverse_of_lower(np.linalg.cholesky(covariance))
        except np.linalg.LinAlgError:
            return np.stack([whitening(one) for one in covariance])
    for part in (0.0, 1e-12, 1e-10):
        try:
            raised = covariance + np.diag(part * np.diagonal(covariance)) if part else covariance
            return _inverse_of_lower(np.linalg.cholesky(raised))
        except np.linalg.LinAlgError:
            continue
    return _inverse_of_lower(np.linalg.cholesky(covariance + np.diag(1e-8 * np.diagonal(covariance))))


WHOLE = 32
"""Rows up to which a triangular matrix is inverted as any other."""


def _inverse_of_lower(lower: NDArray[np.floating[Any]]) -> Floats:
    """Inverse of lower triangular matrices, shape (..., n, n): large ones by halves, in half of the time."""
    half = lower.shape[-1] // 2
    if 2 * half <= WHOLE:
        return np.asarray(np.linalg.inv(lower))
    out = np.zeros_like(lower)
    first, last = (_inverse_of_lower(lower[..., part, part]) for part in (slice(0, half), slice(half, None)))
    out[..., :half, :half], out[..., half:, half:] = first, last
    out[..., half:, :half] = -last @ (lower[..., half:, :half] @ first)
    return out


def inverse_beside(gram: Floats, weight: Floats) -> Floats:
    """Return the inverse of ``gram + diag(weight)``, also where ``gram`` drowns the weight in rounding.

    Parameters
    ----------
    gram : ndarray, shape (..., k, k)
        Of the form W'W.
    weight : ndarray, shape (..., k)
        Positive.
    """
    root = np.sqrt(weight)
    both = root[..., None] * root[..., None, :]
    values, vectors = np.linalg.eigh(gram / both)
    inner = (vectors / (1.0 + np.maximum(values, 0.0))[..., None, :]) @ np.swapaxes(vectors, -1, -2)
    return np.asarray(inner / both)


def fit(residual: Floats, covariance: Floats, freedom: float) -> Fit:
    """Take the data in.

    Parameters
    ----------
    residual : ndarray, shape (n,)
        y - m.
    covariance : ndarray, shape (n, n)
        S, positive definite.
    freedom : float
        Degrees of freedom of the scale.

    Raises
    ------
    numpy.linalg.LinAlgError
        Where S is not positive definite.
    """
    return fits(residual, covariance[None], freedom)[0]


def fits(residual: Floats, covariances: Floats, freedom: float) -> list[Fit]:
    """Take the same data in under each of several covariances, shape (W, n, n): as :func:`fit`."""
    half = whitening(covariances)
    white = half @ residual
    return [Fit(residual, one, seen, float(seen @ seen), freedom) for one, seen in zip(half, white, strict=True)]


@dataclass(frozen=True, slots=True, eq=False)
class Prediction:
    """A Student-t prediction: mean, scale (not standard deviation) and degrees of freedom."""

    mean: Floats
    scale: Floats
    freedom: Floats


def predict(data: Fit, mean: Floats, cross: Floats, variance: Floats) -> Prediction:
    """Predict new values given the data.

    Parameters
    ----------
    data : Fit
        n values heard.
    mean : ndarray, shape (k,)
        Their prior mean.
    cross : ndarray, shape (k, n)
        Covariance of the new values with the n heard.
    variance : ndarray, shape (k,)
        Prior variances of the new values.

    Returns
    -------
    Prediction
        With ``freedom`` + n degrees of freedom.

    Notes
    -----
    Rasmussen and Williams 2006, eq. 2.19, with the scale of the t predictive: (v + q) / (v + n).
    """
    gain = cross @ data.half.T
    left = np.maximum(variance - np.einsum("ij,ij->i", gain, gain), 0.0)
    n = len(data.residual)
    freedom = np.full(len(mean), data.freedom + n)
    return Prediction(mean + gain @ data.white, np.sqrt(left * data.scale), freedom)


def leave_one_out(data: Fit) -> Prediction:
    """Predict each value from all the others: residual, scale and degrees of freedom.

    Returns
    -------
    Prediction
        ``mean`` is of the *residual* (add m), shape (n,).

    Notes
    -----
    Rasmussen and Williams 2006, eq. 5.12: mean y_i - [P r]_i / P_ii, variance 1 / P_ii; the scale is heard from the
    others alone: q without i is q - [P r]_i^2 / P_ii.
    """
    precision = data.precision
    pull = data.half.T @ data.white
    diagonal = np.diagonal(precision)
    n = len(data.residual)
    others = np.maximum(data.misfit - pull**2 / diagonal, 0.0)
    freedom = data.freedom + n - 1
    scale = np.sqrt((data.freedom + others) / freedom / diagonal)
    return Prediction(data.residual - pull / diagonal, scale, np.full(n, freedom))
