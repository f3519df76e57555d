"""The linear algebra holds where rounding would take it out of definiteness."""

from __future__ import annotations

import numpy as np
import pytest

from reconcile.weigh.gaussian import inverse_beside, whitening


def test_a_covariance_that_rounding_took_out_of_definiteness_is_whitened() -> None:
    dice = np.random.default_rng(3)
    wide = dice.normal(size=(12, 2)) * 1e9
    covariance = wide @ wide.T + np.eye(12)
    with pytest.raises(np.linalg.LinAlgError):
        np.linalg.cholesky(wide @ wide.T)
    half = whitening(wide @ wide.T + 1e-3 * np.eye(12))
    assert np.isfinite(half).all()
    calm = np.eye(12) + 0.5
    assert np.allclose(whitening(calm) @ calm @ whitening(calm).T, np.eye(12), rtol=0.0, atol=1e-12)
    assert np.isfinite(whitening(covariance)).all()


def test_what_is_not_definite_beyond_rounding_is_not_mended() -> None:
    with pytest.raises(np.linalg.LinAlgError):
        whitening(np.array([[1.0, 2.0], [2.0, 1.0]]))


def test_an_inverse_beside_a_weight() -> None:
    dice = np.random.default_rng(4)
    columns, weight = dice.normal(size=(9, 3)), np.array([0.5, 1.0, 4.0])
    gram = columns.T @ columns
    assert np.allclose(inverse_beside(gram, weight), np.linalg.inv(gram + np.diag(weight)), rtol=1e-10, atol=0.0)
    same = np.outer([1e12, 1e12], [1e12, 1e12])  # two columns alike, so large that the weight drowns
    inverse = inverse_beside(same, np.ones(2))
    assert np.allclose(inverse, [[0.5, -0.5], [-0.5, 0.5]], rtol=0.0, atol=1e-3)
