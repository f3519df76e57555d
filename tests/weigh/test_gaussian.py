"""The t algebra against brute force: conditioning written out, and scipy's own multivariate t."""

import numpy as np
import pytest
from scipy import stats

from reconcile.weigh.gaussian import fit, leave_one_out, predict


@pytest.fixture
def case():
    rng = np.random.default_rng(5)
    n = 9
    root = rng.standard_normal((n, n + 3))
    covariance = root @ root.T / 4.0 + np.diag(rng.uniform(0.2, 2.0, n))
    residual = 3.0 * rng.standard_normal(n)
    return residual, covariance, 6.0


def condition(residual, covariance, freedom, asked, given):
    """Textbook conditioning of a multivariate t (Kotz and Nadarajah 2004): location, scale matrix, freedom."""
    block = covariance[np.ix_(given, given)]
    cross = covariance[np.ix_(asked, given)]
    solved = np.linalg.solve(block, residual[given])
    location = cross @ solved
    left = covariance[np.ix_(asked, asked)] - cross @ np.linalg.solve(block, cross.T)
    n = len(given)
    return location, left * (freedom + residual[given] @ solved) / (freedom + n), freedom + n


def test_leaving_one_out_is_refitting_without_it(case):
    residual, covariance, freedom = case
    said = leave_one_out(fit(residual, covariance, freedom))
    for i in range(len(residual)):
        others = [j for j in range(len(residual)) if j != i]
        location, scale, dof = condition(residual, covariance, freedom, [i], others)
        np.testing.assert_allclose(said.mean[i], location[0], rtol=1e-9, atol=0)
        np.testing.assert_allclose(said.scale[i], np.sqrt(scale[0, 0]), rtol=1e-9, atol=0)
        assert said.freedom[i] == dof


def test_prediction_is_the_conditional(case):
    residual, covariance, freedom = case
    given, asked = np.arange(6), np.array([6, 7, 8])
    data = fit(residual[given], covariance[np.ix_(given, given)], freedom)
    said = predict(data, np.zeros(3), covariance[np.ix_(asked, given)], np.diagonal(covariance)[asked])
    location, scale, dof = condition(residual, covariance, freedom, asked, given)
    np.testing.assert_allclose(said.mean, location, rtol=1e-9, atol=0)
    np.testing.assert_allclose(said.scale, np.sqrt(np.diagonal(scale)), rtol=1e-9, atol=0)
    assert (said.freedom == dof).all()


def test_prediction_agrees_with_drawing(case):
    """JCGM 101 style: draw from the joint t, keep what lies near the data, and look at the rest."""
    _, covariance, freedom = case
    two = covariance[:2, :2]
    draws = stats.multivariate_t(shape=two, df=freedom, seed=3).rvs(2_000_000)
    near = np.abs(draws[:, 0] - 2.0) < 0.05
    data = fit(np.array([2.0]), two[:1, :1], freedom)
    said = predict(data, np.zeros(1), two[1:, :1], two[1:, 1])
    kept = draws[near, 1]
    quantiles = said.mean[0] + said.scale[0] * stats.t(said.freedom[0]).ppf([0.025, 0.5, 0.975])
    share = np.array([(kept < q).mean() for q in quantiles])
    error = 4 * np.sqrt(np.array([0.025, 0.5, 0.975]) * np.array([0.975, 0.5, 0.025]) / len(kept))
    assert (np.abs(share - [0.025, 0.5, 0.975]) < error).all()


def test_a_covariance_that_is_none_is_refused():
    with pytest.raises(np.linalg.LinAlgError):
        fit(np.zeros(2), np.array([[1.0, 2.0], [2.0, 1.0]]), 6.0)
