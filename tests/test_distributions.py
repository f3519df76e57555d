"""Student's t and chi-square against what can be written down."""

import math

import numpy as np
import pytest
from scipy import stats

from reconcile.distributions import chi_square_limit, coverage_factors, student_below, student_quantile


def test_what_can_be_written_down():
    np.testing.assert_allclose(student_quantile(0.975, 1.0), math.tan(0.475 * math.pi), rtol=1e-12)
    np.testing.assert_allclose(student_quantile(0.95, 2.0), 0.9 / math.sqrt(2.0 * 0.95 * 0.05), rtol=1e-12)
    assert student_quantile(0.5, 3.0) == 0.0
    np.testing.assert_allclose(student_below(np.array([0.5]), 1.0), 0.5 + math.atan(0.5) / math.pi, rtol=1e-12)
    np.testing.assert_allclose(
        student_below(np.array([-2.0]), 5.0), 1.0 - student_below(np.array([2.0]), 5.0), rtol=1e-12
    )
    np.testing.assert_allclose(chi_square_limit(0.05, 2), -2.0 * math.log(0.05), rtol=1e-12)


def test_the_normal_is_the_limit():
    np.testing.assert_allclose(student_quantile(0.975, math.inf), stats.norm.ppf(0.975), rtol=1e-12)


def test_factors_of_many_degrees_of_freedom_hold_to_five_figures():
    freedom = np.floor(np.geomspace(1.0, 1e8, 4000))
    np.testing.assert_allclose(coverage_factors(freedom), stats.t.ppf(0.975, freedom), rtol=5e-6)


@pytest.mark.parametrize("freedom", [6.0, 7.0, 12.0, 24.0, 25.0, 66.0, 91.0, 200.0])
def test_many_chances_at_once_hold_to_ten_figures_in_both_tails(freedom):
    t = np.concatenate([np.linspace(-40.0, 40.0, 2001), [-1e4, 1e4, np.inf, -np.inf]])
    exact = np.concatenate([[student_below(one, freedom)] for one in t.reshape(-1, 1)]).ravel()  # few go by scipy
    many = student_below(t, freedom)
    told = exact > 1e-200
    np.testing.assert_allclose(many[told], exact[told], rtol=1e-10)
    np.testing.assert_allclose(many, exact, rtol=0.0, atol=1e-11)
