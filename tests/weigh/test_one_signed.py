"""Sizes of one sign: evidence, mean and limits against adding up over sizes and scales, point by point."""

from __future__ import annotations

import numpy as np
import pytest
from orthants import chance_above
from scipy import stats

from reconcile.weigh.causes import _limits
from reconcile.weigh.evidence import weigh
from reconcile.weigh.gaussian import fit
from reconcile.weigh.one_sign import all_sides, both_sides
from reconcile.weigh.pairs import Candidates
from reconcile.weigh.refit import Best, Sizes

FREEDOM = 6.0


def test_evidence_of_a_load_is_the_sum_over_all_sizes_above_nothing_and_all_scales():
    """Bills that fell speak against a load that came: no size of it is below nothing."""
    rng = np.random.default_rng(4)
    residual, column, shift = rng.normal(-0.5, 1.0, 7), np.full(7, 0.8), 1.6
    candidates = Candidates(
        columns=column[:, None],
        shift=np.array([shift]),
        log_prior=np.array([0.0]),
        group=np.zeros(1, dtype=np.int64),
        kind=np.zeros(1, dtype=np.int64),
        persistent=1,
        opens=np.zeros(1, dtype=np.int64),
        closes=np.full(1, 7),
    )
    said = weigh(fit(residual, np.eye(7), FREEDOM), candidates)

    log_scale, of_scale = between(-5.0, 9.0, 200)
    size, of_size = between(0.0, 60.0, 2000)
    scale, sizes = np.exp(log_scale)[:, None], size[None]
    prior = stats.invgamma(FREEDOM / 2, scale=FREEDOM / 2).pdf(scale) * scale
    left = ((residual[:, None] - size * column[:, None]) ** 2).sum(axis=0)
    usual = (2 * np.pi * scale) ** (-3.5) * np.exp(-0.5 * left / scale)
    unheard = prior * stats.norm.pdf(sizes, shift, np.sqrt(scale))
    heard, before = (of_scale @ every @ of_size for every in (unheard * usual, unheard))
    none = stats.multivariate_t(shape=np.eye(7), df=FREEDOM).pdf(residual)
    np.testing.assert_allclose(said.single[0] / said.none, heard / before / none, rtol=2e-5, atol=0)


def between(low, high, count):
    """Points and weights of Gauss and Legendre."""
    points, weights = np.polynomial.legendre.leggauss(count)
    return low + 0.5 * (high - low) * (points + 1.0), 0.5 * (high - low) * weights


@pytest.mark.parametrize("freedom", [6.0, 24.0, np.inf])
@pytest.mark.parametrize("most", [0.5, 0.95, 0.999])
def test_two_and_three_sizes_above_nothing(freedom, most):
    rng = np.random.default_rng(7)
    at = min(freedom, 1e8)
    for _ in range(6):
        size, correlation = rng.normal(0.7, 1.5, 2), float(rng.uniform(-most, most))
        wanted = chance_above(size, [[1.0, correlation], [correlation, 1.0]], at)
        said = both_sides(size[:1], size[1:], np.array([correlation]), freedom)[0]
        np.testing.assert_allclose(said, wanted, rtol=0, atol=3e-6)
    root = rng.standard_normal((3, 4))
    spread = root @ root.T
    sd, size = np.sqrt(np.diagonal(spread)), rng.normal(0.7, 1.2, 3)
    said = all_sides(size[None], (spread / np.outer(sd, sd))[None], freedom)[0]
    np.testing.assert_allclose(said, chance_above(size, spread / np.outer(sd, sd), at), rtol=0, atol=3e-5)


@pytest.mark.parametrize("location", [[2.5, 0.1], [0.2, -0.4], [-1.0, 3.0]])
def test_mean_and_limits_of_two_sizes_that_lean_on_each_other(location):
    """Against the density of both on a grid of points above nothing."""
    spread, freedom = np.array([[0.36, -0.45], [-0.45, 1.0]]), 24.0
    fitted = Sizes(np.array([location]), spread[None], freedom, np.zeros((1, 2), dtype=bool))
    axes = [np.linspace(0.0, max(m, 0.0) + 14.0 * s, 2801)[:-1] for m, s in zip(location, (0.6, 1.0), strict=True)]
    axes = [axis + 0.5 * (axis[1] - axis[0]) for axis in axes]
    both = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    density = stats.multivariate_t(loc=location, shape=spread, df=freedom).pdf(both)
    mean, sd = (told[0] for told in fitted.told())
    for at, axis in enumerate(axes):
        one = density.sum(axis=1 - at)
        one /= one.sum()
        np.testing.assert_allclose(mean[at], one @ axis, rtol=1e-4)
        spread_of = np.sqrt(one @ axis**2 - (one @ axis) ** 2)
        np.testing.assert_allclose(sd[at] / np.sqrt(1.0 - 2.0 / freedom), spread_of, rtol=2e-3)
        best = Best((0, 1), mean, sd, 0.0, np.zeros((1, 2)), np.zeros((1, 2)), fitted)
        below = np.cumsum(one)
        wanted = np.interp([0.025, 0.975], below, axis + 0.5 * (axis[1] - axis[0]))
        np.testing.assert_allclose(_limits([(1.0, best, at)]), wanted, rtol=2e-3, atol=2e-4)


def test_a_size_of_either_sign_is_told_with_its_own_and_moves_no_other():
    """An odd bill that is low is none that is high by nothing, and a load beside it is not told by that."""
    spread, alone = np.array([[0.01, -0.004], [-0.004, 0.01]]), np.array([0.3])
    both = Sizes(np.array([[*alone, -0.6]]), spread[None], 24.0, np.array([[False, True]]))
    mean, sd = (told[0] for told in both.told())
    expected, width = Sizes(alone[None], spread[None, :1, :1], 24.0, np.zeros((1, 1), dtype=bool)).told()
    assert mean[1] == -0.6
    np.testing.assert_allclose([mean[0], sd[0]], [expected[0, 0], width[0, 0]], rtol=1e-6)
