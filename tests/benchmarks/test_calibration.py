"""Houses drawn from the priors themselves: chances come true, and true sizes rank evenly."""

from __future__ import annotations

from dataclasses import replace

import calibration
import numpy as np
import pytest
from reliability import NONE_KINDS, PRIORS, STANDS_FOR, chance_of, frequencies

from reconcile.kinds import KINDS
from reconcile.paper import examine
from reconcile.result import Cause
from reconcile.weigh.model import build


@pytest.fixture(scope="module")
def drawn():
    return list(calibration.run("drawn", 80, 71000))


def test_a_drawn_house_is_what_its_seed_says():
    one, again = calibration.draw(7), calibration.draw(7)
    assert one.house.bills == again.house.bills
    assert one.house.bills != calibration.draw(8).house.bills


def test_no_chance_is_far_off_what_comes_true(drawn):
    bins = calibration.bins_of(drawn)
    assert len(bins) > 20
    assert all(one.holds(1.0 - 0.001 / len(bins)) for one in bins)


def test_a_chance_that_lies_is_found_out(drawn):
    sure = [calibration.Weighed({**row.given, "constant-load": 0.95}, row.acted, row.ranks) for row in drawn]
    assert not all(one.holds(0.999) for one in calibration.bins_of(sure))


def test_ranks_of_true_sizes_reach_both_ends_and_no_further(drawn):
    ranks = np.array([rank for row in drawn for rank in row.ranks])
    assert ranks.size > 5
    assert np.mean((ranks > 0.005) & (ranks < 0.995)) > 0.6


def test_a_true_size_at_a_limit_ranks_there_whatever_its_sign():
    for size, low, high in ((30.0, 10.0, 40.0), (-30.0, -40.0, -10.0)):
        told = Cause("load-gone", 0.9, None, size, "W", size_low=low, size_high=high)
        far, near = (high, low) if size > 0.0 else (low, high)
        ranks = [calibration._rank(true, told) for true in (near, size, far)]
        np.testing.assert_allclose(ranks, [0.025, 0.5, 0.975], atol=1e-4, rtol=0)


def test_sizes_are_drawn_of_their_own_sign():
    rng = np.random.default_rng(3)
    assert all(calibration._size(mean, 0.2, rng) * mean > 0.0 for mean in (0.1, -0.1) for _ in range(40))


def test_houses_in_order_are_as_frequent_as_among_those_drawn(drawn):
    """Each cause by itself: more than the chances of all leave of one, which is a quarter."""
    chance = frequencies([*NONE_KINDS, *STANDS_FOR])
    in_order = sum(chance[kind] for kind in NONE_KINDS)
    assert sum(chance.values()) == pytest.approx(1.0, rel=1e-12)
    assert np.mean([row.acted == {"none"} for row in drawn]) == pytest.approx(in_order, abs=0.07)
    assert in_order > 0.15 + 1.0 - sum(chance_of(pattern) for pattern in PRIORS)


def test_every_kind_of_cause_that_bills_show_is_simulated():
    stand = {pattern for patterns in STANDS_FOR.values() for pattern in patterns}
    # short lists are told from what a house uses; a slow meter without an exchange is rare; two need what no house has
    rare = {"list-short", "unlisted-heating", "unlisted-cooling", "meter-low", "generation-fall", "clock-load"}
    rare |= {"meter-low-always", "meter-leg"}  # weighed beside a run at the meter alone, or the nights of interval data
    rare |= {"meter-drift", "meter-slowing"}  # by and by, over more bills than a simulated house has
    # events that take some bills on end and are over again: simulated ones take one bill, or last
    over = {"heating-spell", "cooling-spell", "absence", "catch-up", "trued-up"}
    assert stand == set(KINDS) - rare - over


def test_a_tub_that_came_was_not_there_before():
    for name, always in (("hot-tub", True), ("hot-tub that came", False)):
        assert all(("unlisted" in calibration.simulated(name, "plain", seed)[1]) is always for seed in range(3))


def test_a_list_that_falls_short_by_no_more_than_it_says_needs_no_cause():
    given = dict.fromkeys((*calibration.CODES, "none"), 0.2)
    row = calibration.Weighed(given, frozenset({"none"}), (), short=0.3)
    assert row.beside("unlisted")
    assert row.beside("none")
    short = replace(row, acted=frozenset({"unlisted"}))
    assert not short.beside("unlisted")
    house, acted, sizes, _ = calibration.simulated("healthy", "plain", 3)
    own = calibration.own_limit(house, examine(house))
    expected = float(build(house, examine(house)).mean.sum())
    assert own > calibration.SHORT
    for times, is_short in ((0.99, False), (1.01, True)):
        weighed = calibration.weighed(house, acted, sizes, expected * (1.0 + times * own))
        assert weighed is not None
        assert ("unlisted" in weighed.acted) is is_short
