"""Sizes told of a load that may stand out of doors or not: which of the two is likelier does not decide them."""

import pytest
import sizes
from simulate import simulate

import reconcile


@pytest.mark.parametrize("seed", [9102, 9104])
def test_limits_of_a_load_hold_it_where_one_that_is_warm_out_of_doors_is_as_likely(seed):
    """Bills of exactly what the list expects and 150 W more; these two houses were told 169 and 155 W at the least."""
    home = sizes.exact(simulate("healthy", "plain", seed).house)
    cause = sizes.told(sizes.stepped(home, 6 + seed % 7, watts=150), ("constant-load",))
    assert cause is not None
    assert cause.size_low < 150.0 < cause.size_high


def test_the_likeliest_day_lies_within_its_limits_however_unlikely_the_cause():
    causes = reconcile.reconcile(simulate("healthy", "plain", 64).house).causes
    dated = [cause for cause in causes if cause.since is not None]
    assert dated
    for cause in dated:
        assert cause.since_low <= cause.since <= cause.since_high, cause.code
