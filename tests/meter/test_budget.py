"""The budget engine against the uncertainties package, against draws, and against what must always hold."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from uncertainties import correlated_values, ufloat, umath

from reconcile.meter.budget import Input, correlation, coverage_factor, propagate, repeated, welch_satterthwaite
from reconcile.meter.montecarlo import agrees, simulate

numbers = st.floats(0.5, 200.0)
shares = st.floats(1e-6, 0.05)


@given(numbers, numbers, numbers, shares, shares, shares)
def test_same_as_uncertainties(a, b, c, ua, ub, uc):
    inputs = (Input("a", a, ua * a), Input("b", b, ub * b), Input("c", c, uc * c))
    ours = propagate(lambda q: q["a"] * q["b"] / q["c"] * np.cos(q["a"] / 300.0), inputs)
    x, y, z = ufloat(a, ua * a), ufloat(b, ub * b), ufloat(c, uc * c)
    theirs = x * y / z * umath.cos(x / 300.0)
    assert_allclose(ours.value, theirs.nominal_value, rtol=1e-12, atol=0)
    assert_allclose(ours.standard_uncertainty, theirs.std_dev, rtol=1e-9, atol=0)


@given(st.floats(-0.95, 0.95), shares, shares)
def test_same_as_uncertainties_when_correlated(r, ua, ub):
    covariance = [[(ua * 120.0) ** 2, r * ua * 120.0 * ub * 20.0], [r * ua * 120.0 * ub * 20.0, (ub * 20.0) ** 2]]
    v, i = correlated_values([120.0, 20.0], covariance)
    inputs = (Input("v", 120.0, ua * 120.0), Input("i", 20.0, ub * 20.0))
    ours = propagate(lambda q: q["v"] * q["i"], inputs, correlations={("v", "i"): r})
    assert_allclose(ours.standard_uncertainty, (v * i).std_dev, rtol=1e-9, atol=0)


@pytest.mark.parametrize(
    ("distribution", "divisor"), [("rectangular", 3.0), ("triangular", 6.0), ("arcsine", 2.0), ("normal", 1.0)]
)
def test_divisors_are_those_of_the_distributions(distribution, divisor):
    one = (Input("x", 0.0, 1.0, distribution),)
    assert_allclose(one[0].standard_uncertainty, 1.0 / math.sqrt(divisor), rtol=1e-12, atol=0)
    drawn = simulate(lambda q: q["x"], one, trials=100_000)
    assert_allclose(drawn.standard_uncertainty, 1.0 / math.sqrt(divisor), rtol=0.01, atol=0)


def test_shares_add_up_and_find_the_largest():
    budget = propagate(lambda q: q["x"] + 3.0 * q["y"], (Input("x", 0.0, 1.0), Input("y", 0.0, 1.0)))
    assert_allclose(sum(c.share for c in budget.components), 1.0, rtol=1e-12, atol=0)
    assert budget.component("y").share == pytest.approx(0.9, rel=1e-12, abs=0)
    with pytest.raises(KeyError):
        budget.component("z")


def test_a_certificate_with_its_coverage_factor():
    budget = propagate(lambda q: q["x"], (Input("x", 1.0, 0.2, "normal", 2.0),))
    assert budget.standard_uncertainty == pytest.approx(0.1, rel=1e-12, abs=0)
    drawn = simulate(lambda q: q["x"], (Input("x", 1.0, 0.2, "normal", 2.0),), trials=50_000)
    assert_allclose(drawn.standard_uncertainty, 0.1, rtol=0.02, atol=0)


def test_correlated_inputs_have_the_fewest_degrees_of_freedom_among_them():
    inputs = (Input("x", 1.0, 0.1, degrees_of_freedom=4), Input("y", 1.0, 0.1, degrees_of_freedom=40))
    budget = propagate(lambda q: q["x"] + q["y"], inputs, correlations={("x", "y"): 0.5})
    assert budget.degrees_of_freedom == pytest.approx(4.0, rel=1e-9, abs=0)


def test_impossible_correlations_are_refused():
    inputs = tuple(Input(name, 1.0, 1.0) for name in "abc")
    with pytest.raises(ValueError, match="no quantities"):
        propagate(
            lambda q: q["a"] + q["b"] + q["c"],
            inputs,
            correlations={("a", "b"): 0.99, ("b", "c"): 0.99, ("a", "c"): -0.99},
        )


def test_a_model_without_a_value_is_refused():
    with pytest.raises(ValueError, match="no finite"):
        propagate(lambda q: 1.0 / q["a"], (Input("a", 0.0, 1.0),))


def test_correlation_needs_the_same_inputs():
    one = propagate(lambda q: q["a"], (Input("a", 0.0, 1.0),))
    other = propagate(lambda q: q["b"], (Input("b", 0.0, 1.0),))
    with pytest.raises(ValueError, match="same inputs"):
        correlation(one, other)


@given(st.lists(st.tuples(st.floats(0.01, 10.0), st.integers(1, 60)), min_size=1, max_size=6))
def test_effective_degrees_of_freedom_lie_between_least_and_sum(parts):
    found = welch_satterthwaite([p for p, _ in parts], [n for _, n in parts])
    assert min(n for _, n in parts) * (1 - 1e-9) <= found <= sum(n for _, n in parts) * (1 + 1e-9)


def test_fewer_readings_want_a_larger_factor():
    factors = [coverage_factor(0.95, n) for n in (1, 2, 5, 20, math.inf)]
    assert factors == sorted(factors, reverse=True)
    assert factors[-1] == pytest.approx(1.959964, rel=0, abs=1e-6)


def test_type_a_of_few_readings_is_drawn_from_t():
    (mean,), _ = repeated({"x": [10.0, 10.2, 9.9, 10.1, 10.05]})
    budget = propagate(lambda q: q["x"], (mean,))
    drawn = simulate(lambda q: q["x"], (mean,), trials=200_000)
    assert_allclose(drawn.high - drawn.mean, budget.expanded_uncertainty, rtol=0.02, atol=0)


def test_draws_repeat_and_follow_their_seed():
    inputs = (Input("x", 1.0, 0.1), Input("y", 2.0, 0.1, "rectangular"))
    runs = [simulate(lambda q: q["x"] * q["y"], inputs, seed=seed) for seed in (1, 1, 2)]
    assert runs[0].low == runs[1].low
    assert runs[0].low != runs[2].low


def test_draws_of_correlated_inputs():
    inputs = (Input("x", 1.0, 0.1), Input("y", 1.0, 0.1))
    together = simulate(lambda q: q["x"] - q["y"], inputs, correlations={("x", "y"): 0.9}, trials=100_000)
    assert_allclose(together.standard_uncertainty, 0.1 * math.sqrt(0.2), rtol=0.02, atol=0)
    with pytest.raises(ValueError, match="normal"):
        simulate(lambda q: q["x"], (Input("x", 0.0, 1.0, "rectangular"), inputs[1]), correlations={("x", "y"): 0.5})


def test_where_the_budget_and_the_draws_part():
    wide = (Input("x", 1.0, 0.6, "rectangular"),)
    budget, drawn = propagate(lambda q: 1.0 / q["x"], wide), simulate(lambda q: 1.0 / q["x"], wide)
    assert not agrees(budget, drawn)
    narrow = (Input("x", 1.0, 0.001),)
    assert agrees(propagate(lambda q: 1.0 / q["x"], narrow), simulate(lambda q: 1.0 / q["x"], narrow))


def test_chance_within_counts_the_draws():
    drawn = simulate(lambda q: q["x"], (Input("x", 100.0, 1.0),), trials=50_000)
    assert_allclose(drawn.chance_within(98.0, 102.0), 0.9545, rtol=0, atol=0.005)
