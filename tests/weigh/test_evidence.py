"""Evidence, posterior and sizes against brute force: every model's density by scipy, one by one."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from orthants import chance_above
from scipy import stats

from reconcile.weigh.evidence import possible, quick_totals, sizes, weigh, weigh_under
from reconcile.weigh.gaussian import fit
from reconcile.weigh.pairs import KEPT, Candidates, parts_under

FREEDOM = 6.0


@pytest.fixture(params=["one sign", "either sign"])
def case(request):
    rng = np.random.default_rng(11)
    n, patterns = 10, 8
    root = rng.standard_normal((n, n))
    covariance = root @ root.T / 5.0 + np.eye(n)
    columns = rng.standard_normal((n, patterns)) * rng.uniform(0.5, 3.0, patterns)
    candidates = Candidates(
        columns=columns,
        shift=rng.uniform(-2, 2, patterns) * (request.param == "one sign"),
        log_prior=rng.uniform(-4, -1, patterns),
        group=np.array([0, 0, 1, 2, 3, 3, 4, 5]),
        kind=np.array([0, 1, 2, 3, 4, 5, 6, 7]),
        persistent=5,
        opens=np.array([0, 0, 0, 0, 0, 2, 3, 6]),
        closes=np.array([9, 9, 9, 9, 9, 4, 5, 8]),
    )
    residual = columns[:, 3] * 1.2 + root @ rng.standard_normal(n) / 2.0
    return residual, covariance, candidates


def nearly(candidates):
    """Of sizes of one sign, what they have together is integrated to a millionth."""
    return {"rtol": 3e-6, "atol": 3e-6} if candidates.shift.any() else {"rtol": 1e-9, "atol": 1e-15}


def log_density(residual, covariance, candidates, members):
    """y ~ t(m + sum shift v, S + sum v v'), the prior odds of the members, and that every size has its mean's sign."""
    v, shift = candidates.columns[:, list(members)], candidates.shift[list(members)]
    shape = covariance + v @ v.T
    prior = candidates.log_prior[list(members)].sum()
    usual = stats.multivariate_t(loc=v @ shift, shape=shape, df=FREEDOM).logpdf(residual) + prior
    if not shift.any():
        return usual
    gain = v.T @ np.linalg.inv(shape)
    left = residual - v @ shift
    scale = (FREEDOM + left @ np.linalg.solve(shape, left)) / (FREEDOM + len(residual))
    size, spread = shift + gain @ left, scale * (np.eye(len(members)) - gain @ v)
    turn = np.sign(shift)
    here = chance_above(turn * size, np.outer(turn, turn) * spread, FREEDOM + len(residual))
    return usual + np.log(here) - np.log(chance_above(np.abs(shift), np.eye(len(members)), FREEDOM))


@pytest.fixture
def strong(case):
    residual, covariance, candidates = case
    return residual + candidates.columns[:, [2, 6]] @ np.array([2.5, 2.5]), covariance, candidates


def all_models(candidates, sizes_wanted):
    for size in sizes_wanted:
        for members in itertools.combinations(range(len(candidates.shift)), size):
            codes = candidates.group[list(members)]
            if len(set(codes)) < size or {5, 6} <= set(members):
                continue
            yield members


def test_posterior_of_singles_and_pairs_agrees(case):
    residual, covariance, candidates = case
    said = weigh(fit(residual, covariance, FREEDOM), candidates)
    models = list(all_models(candidates, (0, 1, 2)))
    logs = np.array([log_density(residual, covariance, candidates, m) for m in models])
    share = np.exp(logs - logs.max())
    share /= share.sum()
    brute = dict(zip(models, share, strict=True))
    np.testing.assert_allclose(said.none, brute[()], **nearly(candidates))
    for k in range(8):
        np.testing.assert_allclose(said.single[k], brute[(k,)], **nearly(candidates))
    pairs = dict(zip(map(tuple, said.pairs.tolist()), said.pair, strict=True))
    assert set(pairs) == {m for m in brute if len(m) == 2 and brute[m] > share.max() * np.exp(-KEPT)}
    for members, value in pairs.items():
        np.testing.assert_allclose(value, brute[members], **nearly(candidates))
    for first, second in itertools.combinations(range(8), 2):  # each pattern is of a kind of its own
        both = brute.get((first, second), 0.0)
        np.testing.assert_allclose(said.kind_pair[first, second], both, **nearly(candidates))
    for k in range(8):
        acts = sum(v for m, v in brute.items() if k in m)
        np.testing.assert_allclose(said.acts[k], acts, **nearly(candidates))


def test_log_total_is_the_evidence_ratio(case):
    residual, covariance, candidates = case
    said = weigh(fit(residual, covariance, FREEDOM), candidates)
    logs = [log_density(residual, covariance, candidates, m) for m in all_models(candidates, (0, 1, 2))]
    total = np.logaddexp.reduce(logs) - log_density(residual, covariance, candidates, ())
    np.testing.assert_allclose(said.log_total, total, **nearly(candidates))


def test_triples_kept_have_their_exact_weight(strong):
    residual, covariance, candidates = strong
    said = weigh(fit(residual, covariance, FREEDOM), candidates, triples_of=40)
    assert len(said.triples)
    null = log_density(residual, covariance, candidates, ())
    for members, weight in zip(said.triples, said.triple, strict=True):
        assert len(set(candidates.group[members])) == 3
        exact = np.exp(log_density(residual, covariance, candidates, members) - null - said.log_total)
        within = nearly(candidates)
        rtol = 1e-4 if candidates.shift.any() else within["rtol"]
        np.testing.assert_allclose(weight, exact, rtol=rtol, atol=within["atol"])
    total = said.none + said.single.sum() + said.kind_pair.sum() + said.triple.sum()
    np.testing.assert_allclose(total, 1.0, rtol=1e-12, atol=0)
    assert len({tuple(m) for m in said.triples}) == len(said.triples)


def test_chance_of_any_is_the_sum_over_models(strong):
    residual, covariance, candidates = strong
    said = weigh(fit(residual, covariance, FREEDOM), candidates, triples_of=40)
    wanted = np.zeros(8, dtype=bool)
    wanted[[3, 6]] = True
    models = list(all_models(candidates, (0, 1, 2))) + [tuple(int(i) for i in m) for m in said.triples]
    logs = np.array([log_density(residual, covariance, candidates, m) for m in models])
    share = np.exp(logs - logs.max()) / np.exp(logs - logs.max()).sum()
    exact = sum(s for m, s in zip(models, share, strict=True) if wanted[list(m)].any())
    np.testing.assert_allclose(said.chance_of_any(wanted), exact, **nearly(candidates))
    assert said.chance_of_any(np.zeros(8, dtype=bool)) == pytest.approx(0.0, abs=1e-12)
    both = said.chance_of_any(np.stack([wanted, np.zeros(8, dtype=bool)]))
    np.testing.assert_allclose(both, [said.chance_of_any(wanted), 0.0], rtol=0, atol=1e-12)


def test_sizes_agree_with_ridge_by_lstsq(case):
    residual, covariance, candidates = case
    members = (1, 3)
    mean, sd, misfit = sizes(fit(residual, covariance, FREEDOM), candidates, members)
    half = np.linalg.inv(np.linalg.cholesky(covariance))
    stacked = np.vstack([half @ candidates.columns[:, list(members)], np.eye(2)])
    target = np.concatenate([half @ residual, candidates.shift[list(members)]])
    solved, rest, *_ = np.linalg.lstsq(stacked, target, rcond=None)
    np.testing.assert_allclose(mean, solved, rtol=1e-9, atol=0)
    np.testing.assert_allclose(misfit, rest[0], rtol=1e-9, atol=0)
    scale = (FREEDOM + rest[0]) / (FREEDOM + len(residual))
    np.testing.assert_allclose(sd, np.sqrt(np.diagonal(np.linalg.inv(stacked.T @ stacked)) * scale), rtol=1e-9, atol=0)


def test_posterior_agrees_with_drawing(case):
    """JCGM 101 style: average the likelihood over sizes drawn from the prior and over the unknown scale."""
    residual, covariance, candidates = case
    rng = np.random.default_rng(2)
    draws = 400_000
    scale2 = 1.0 / rng.gamma(FREEDOM / 2, 2.0 / FREEDOM, draws)
    shift = candidates.shift[3]
    size = shift + np.sqrt(scale2) * rng.standard_normal(draws)
    right = (size * shift >= 0.0).nonzero()  # of the one sign, or of either
    usual = scale2
    size, scale2, draws = size[right], scale2[right], len(right[0])
    half = np.linalg.inv(np.linalg.cholesky(covariance))
    white, column = half @ residual, half @ candidates.columns[:, 3]
    left = white[None, :] - size[:, None] * column
    n = len(residual)
    like = np.exp(-0.5 * (left**2).sum(axis=1) / scale2) * scale2 ** (-n / 2)
    null = np.exp(-0.5 * (white @ white) / usual) * usual ** (-n / 2)
    ratio = like.mean() / null.mean()
    error = ratio * np.hypot(like.std() / like.mean(), null.std() / null.mean()) / np.sqrt(draws)
    said = weigh(fit(residual, covariance, FREEDOM), candidates)
    ours = said.single[3] / said.none / np.exp(candidates.log_prior[3])
    assert abs(ours - ratio) < 4 * error
    assert error < 0.05 * ratio


def test_several_covariances_weigh_as_all_of_them_added_up(case):
    """Each model's density under each covariance, by its chance: of the models and of the covariances."""
    residual, covariance, candidates = case
    several = [(0.6, covariance), (0.4, 3.0 * covariance + np.eye(len(residual)))]
    said, shares = weigh_under([(c, fit(residual, wide, FREEDOM)) for c, wide in several], candidates)
    models = list(all_models(candidates, (0, 1, 2)))
    logs = np.array([[np.log(c) + log_density(residual, wide, candidates, m) for m in models] for c, wide in several])
    weight = np.exp(logs - logs.max())
    weight /= weight.sum()
    # pairs are weighed in single precision, and the likeliest once more in double: under all ways together
    near = nearly(candidates)
    np.testing.assert_allclose(shares, weight.sum(axis=1), **{**near, "rtol": max(1e-8, near["rtol"])})
    brute = dict(zip(models, weight.sum(axis=0), strict=True))
    np.testing.assert_allclose(said.none, brute[()], **nearly(candidates))
    np.testing.assert_allclose(said.single, [brute[(i,)] for i in range(8)], **nearly(candidates))
    np.testing.assert_allclose(
        said.acts, [sum(v for m, v in brute.items() if i in m) for i in range(8)], **nearly(candidates)
    )
    total = np.logaddexp.reduce(logs.ravel())
    none = np.logaddexp.reduce(logs[:, models.index(())])
    np.testing.assert_allclose(said.log_total, total - none, **nearly(candidates))


def test_pairs_that_outweigh_all_else_beyond_any_number_are_weighed(case):
    """Bills that two patterns explain exactly, many times what none and each alone leave."""
    candidates = case[2]
    huge = replace(candidates, columns=1e9 * candidates.columns)
    exact = huge.columns[:, [3, 6]] @ np.where(candidates.shift[[3, 6]] < 0.0, [-1.0, -2.0], [1.0, 2.0])
    several = np.tile(np.eye(len(exact)), (60, 1)), np.eye(60 * len(exact))
    many = replace(huge, columns=several[0] @ huge.columns)
    said = weigh(fit(several[0] @ exact, several[1], FREEDOM), many)
    best = int(np.argmax(said.pair))
    assert tuple(said.pairs[best]) == (3, 6)
    np.testing.assert_allclose(said.pair[best], 1.0, rtol=1e-9, atol=0)
    np.testing.assert_allclose(said.acts[[3, 6]], 1.0, rtol=1e-9, atol=0)


def test_with_every_pattern_a_leader_the_ways_are_judged_by_all_pairs(case):
    residual, covariance, candidates = case
    ways = [(0.7, fit(residual, covariance, FREEDOM)), (0.3, fit(residual, 2.0 * covariance, FREEDOM))]
    parts = parts_under(ways, candidates)
    quick = quick_totals(parts, candidates, len(candidates.shift))
    for way, none, total in zip(ways, parts.none, quick, strict=True):
        posterior, _ = weigh_under([way], candidates)
        # of sizes of one sign each is weighed by itself, and to a thousandth
        within = 0.05 if candidates.shift.any() else 1e-9
        np.testing.assert_allclose(total, posterior.log_total + none, rtol=0.0, atol=within)


def test_models_of_a_size_that_cannot_be_are_left_out(case):
    """A slow meter was told as 116 % of one, where the nights of an empty house fell by more than a meter makes."""
    residual, covariance, candidates = case
    data = fit(residual, covariance, FREEDOM)
    posterior = weigh(data, candidates, triples_of=4)
    free = np.full(8, np.inf)
    mean = float(sizes(data, candidates, (3,))[0][0])
    same = possible(posterior, data, candidates, -free, np.where(np.arange(8) == 3, mean + 3.0, np.inf))
    assert same is posterior
    left = possible(posterior, data, candidates, -free, np.where(np.arange(8) == 3, mean - 0.01, np.inf))
    assert posterior.single[3] > 0.1
    assert left.single[3] == 0.0
    others = np.arange(8) != 3
    np.testing.assert_allclose(
        left.single[others] / left.none, posterior.single[others] / posterior.none, rtol=1e-12, atol=0
    )
    total = left.none + left.single.sum() + left.pair.sum() + left.triple.sum()
    assert total == pytest.approx(1.0)
    for models, weight in ((left.pairs, left.pair), (left.triples, left.triple)):
        for at in np.flatnonzero((models == 3).any(axis=1) & (weight > 1e-5)):
            members = tuple(models[at].tolist())
            assert sizes(data, candidates, members)[0][members.index(3)] < mean - 0.01


def test_where_nothing_that_can_be_is_left_nothing_acts(case):
    residual, covariance, candidates = case
    data = fit(1e3 * residual, 1e-4 * covariance, FREEDOM)
    posterior = weigh(data, candidates)
    left = possible(posterior, data, candidates, np.full(8, 1e9), np.full(8, 2e9))
    assert left.none == pytest.approx(1.0, abs=1e-4)
