"""What panels lost is told of what they make, not of what is sent out, which falls by more."""

import pytest
from own_panels import with_panels

from reconcile import reconcile


@pytest.mark.parametrize("left", [0.7, 0.5])
@pytest.mark.parametrize("seed", [5000, 5001])
def test_the_part_lost_lies_within_its_limits(left, seed):
    said = reconcile(with_panels(seed, "unkind", halved=6 + seed % 7, left=left))
    cause = next(cause for cause in said.causes if cause.code == "generation-fall")
    assert cause.probability > 0.9
    assert cause.size == pytest.approx(-100.0 * (1.0 - left), abs=7.0)
    assert cause.size_low < -100.0 * (1.0 - left) < cause.size_high


def test_panels_of_which_a_fifth_is_left_are_named_though_little_is_sent_out_any_more():
    said = reconcile(with_panels(5003, "unkind", halved=9, left=0.2))
    cause = next(cause for cause in said.causes if cause.code == "generation-fall")
    assert cause.probability > 0.9
    assert cause.size_low <= -80.0 < cause.size_high
