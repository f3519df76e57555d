"""Bills of unknown scale beside readings of known doubt: against adding up over a thousand scales by brute force."""

import itertools

import numpy as np
import pytest
from orthants import chance_above
from scipy import stats

from reconcile.weigh.evidence import weigh, weigh_under
from reconcile.weigh.mixture import Reading, Rows, reweigh
from reconcile.weigh.pairs import Candidates

FREEDOM = 6.0


@pytest.fixture
def case():
    rng = np.random.default_rng(5)
    bills, patterns = 8, 5
    factors = rng.standard_normal((bills + 1, 3))
    scaled = factors @ factors.T
    scaled[:bills, :bills] += np.eye(bills)
    scaled[bills, :] = scaled[:, bills] = 0.0  # a registration does not go by the loads
    known = np.zeros((bills + 1, bills + 1))
    known[bills, bills] = 0.02**2
    columns = rng.standard_normal((bills + 1, patterns))
    columns[bills] = [0.2, 0.0, 0.0, 0.0, 0.0]
    candidates = Candidates(
        columns=columns,
        shift=np.array([1.5, 1.0, -1.0, 0.5, 2.0]),
        log_prior=np.full(patterns, -2.0),
        group=np.arange(patterns),
        kind=np.arange(patterns),
        persistent=4,
        opens=np.zeros(patterns, dtype=np.int64),
        closes=np.full(patterns, bills),
    )
    residual = np.concatenate([3.0 * rng.standard_normal(bills), [0.05]])
    return Rows(residual, scaled, known, FREEDOM), candidates


def test_models_have_the_weight_of_adding_up_over_the_scale(case):
    rows, candidates = case
    scale = rows.at(1.0).scale
    said, _ = reweigh([Reading(1.0, rows, scale)], candidates, weigh(rows.at(scale), candidates))
    grid = np.linspace(-5, 7, 4000)

    scales = np.exp(grid)
    priors = stats.invgamma(FREEDOM / 2, scale=FREEDOM / 2).logpdf(scales) + grid

    def log_density(members):
        v, shift = candidates.columns[:, list(members)], candidates.shift[list(members)]
        covariance = scales[:, None, None] * (rows.scaled + v @ v.T) + rows.known
        left = rows.residual - v @ shift
        misfit = np.linalg.solve(covariance, np.broadcast_to(left[:, None], (len(grid), len(left), 1)))[..., 0] @ left
        normal = -0.5 * (misfit + np.linalg.slogdet(2.0 * np.pi * covariance)[1])
        if len(members):  # every size has its mean's sign
            turn, m = np.sign(shift), len(members)
            gain = scales[:, None, None] * np.linalg.solve(covariance, np.broadcast_to(v, (len(grid), *v.shape)))
            size, spread = turn * (shift + gain.transpose(0, 2, 1) @ left), np.outer(turn, turn) * scales[:, None, None]
            spread = spread * (np.eye(m) - v.T @ gain)
            sides = [chance_above(*one, 1e7) for one in zip(size[::40], spread[::40], strict=True)]
            normal = normal + np.interp(grid, grid[::40], np.log(sides))
            normal = normal - np.log(chance_above(np.abs(shift), np.eye(m), FREEDOM))
        return np.logaddexp.reduce(priors + normal) + candidates.log_prior[list(members)].sum()

    models = [m for size in (0, 1, 2) for m in itertools.combinations(range(5), size)]
    logs = np.array([log_density(m) for m in models])
    share = np.exp(logs - logs.max()) / np.exp(logs - logs.max()).sum()
    brute = dict(zip(models, share, strict=True))
    np.testing.assert_allclose(said.none, brute[()], rtol=0.01, atol=0)
    for member in range(5):
        np.testing.assert_allclose(said.single[member], brute[(member,)], rtol=0.01, atol=0)
    for members, weight in zip(map(tuple, said.pairs.tolist()), said.pair, strict=True):
        np.testing.assert_allclose(weight, brute[members], rtol=0.01, atol=0)


def test_a_reading_no_cause_explains_says_the_same_however_the_bills_scatter(case):
    """What the reading does to a model without a meter cause is its own normal density, and nothing of the bills."""
    rows, candidates = case
    ratios = []
    for spread in (0.2, 1.0, 5.0):
        none = []
        for registered in (0.0, 0.05):
            residual = np.concatenate([spread * rows.residual[:-1], [registered]])
            heard = Rows(residual, rows.scaled, rows.known, FREEDOM)
            scale = max(spread**2 * 9.0, 0.3)
            said, _ = reweigh([Reading(1.0, heard, scale)], candidates, weigh(heard.at(scale), candidates))
            none.append(np.log(said.none) + said.log_total)
        ratios.append(none[0] - none[1])
    np.testing.assert_allclose(ratios, 0.5 * (0.05 / 0.02) ** 2, rtol=1e-6, atol=0)


def test_rows_read_in_two_ways_weigh_as_both_together(case):
    """Each reading of the rows by itself, added up by its chance and what it makes of what was heard."""
    rows, candidates = case
    wider = Rows(rows.residual, rows.scaled, 9.0 * rows.known, FREEDOM)
    scale = rows.at(1.0).scale

    def alone(heard):
        return reweigh([Reading(1.0, heard, scale)], candidates, weigh(heard.at(scale), candidates))[0]

    screened, _ = weigh_under([(0.7, rows.at(scale)), (0.3, wider.at(scale))], candidates)
    said, chances = reweigh([Reading(0.7, rows, scale), Reading(0.3, wider, scale)], candidates, screened)
    logs = np.array([np.log(0.7) + alone(rows).log_total, np.log(0.3) + alone(wider).log_total])
    share = np.exp(logs - logs.max()) / np.exp(logs - logs.max()).sum()
    np.testing.assert_allclose(chances, share, rtol=1e-3, atol=0)
    np.testing.assert_allclose(said.single, share[0] * alone(rows).single + share[1] * alone(wider).single, rtol=1e-3)
