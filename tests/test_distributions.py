"""Student's t and chi-square against scipy, and against what can be written down."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import special

from reconcile.distributions import chi_square_limit, student_beyond, student_quantile

FREEDOMS = [0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 7.3, 16.0, 23.0, 40.0, 99.0, 200.0, 201.0, 333.3, 1e4, 1e6]


@pytest.mark.parametrize("freedom", FREEDOMS)
@pytest.mark.parametrize("t", [0.001, 0.1, 0.5, 1.0, 2.0, 3.0, 5.0, 8.0, 20.0])
def test_the_tail_of_students_t_is_that_of_scipy(freedom, t):
    np.testing.assert_allclose(student_beyond(t, freedom), 2.0 * special.stdtr(freedom, -t), rtol=5e-11)
    assert student_beyond(-t, freedom) == student_beyond(t, freedom)


@pytest.mark.parametrize("freedom", FREEDOMS)
@pytest.mark.parametrize("probability", [0.025, 0.6, 0.75, 0.9, 0.975, 0.999, 1.0 - 1e-6, 1.0 - 1e-10])
def test_the_quantile_of_students_t_is_that_of_scipy(freedom, probability):
    np.testing.assert_allclose(
        student_quantile(probability, freedom), special.stdtrit(freedom, probability), rtol=5e-11
    )


@given(st.floats(0.5001, 0.999999), st.floats(0.5, 1e7))
def test_the_quantile_is_where_its_tail_is_left(probability, freedom):
    t = student_quantile(probability, freedom)
    np.testing.assert_allclose(student_beyond(t, freedom), 2.0 * (1.0 - probability), rtol=1e-9)


@given(st.floats(0.0, 30.0), st.floats(1.0, 1e9))
def test_the_tail_falls_with_t_and_is_never_under_the_normals(t, freedom):
    assert student_beyond(t + 0.01, freedom) < student_beyond(t, freedom) <= 1.0
    assert student_beyond(t, freedom) >= math.erfc(t / math.sqrt(2.0)) * (1.0 - 1e-10)


def test_what_can_be_written_down():
    np.testing.assert_allclose(student_quantile(0.975, 1.0), math.tan(0.475 * math.pi), rtol=1e-12)
    np.testing.assert_allclose(student_quantile(0.95, 2.0), 0.9 / math.sqrt(2.0 * 0.95 * 0.05), rtol=1e-12)
    assert student_quantile(0.5, 3.0) == 0.0
    assert student_beyond(1.5, math.inf) == math.erfc(1.5 / math.sqrt(2.0))
    np.testing.assert_allclose(chi_square_limit(0.05, 2), -2.0 * math.log(0.05), rtol=1e-12)


@pytest.mark.parametrize("freedom", range(1, 60))
@pytest.mark.parametrize("chance", [0.001, 0.05, 0.5, 0.99])
def test_what_chi_square_exceeds_is_that_of_scipy(freedom, chance):
    np.testing.assert_allclose(chi_square_limit(chance, freedom), special.chdtri(freedom, chance), rtol=1e-12)
