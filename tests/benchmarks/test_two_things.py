"""A small run of the benches of two events at once and of houses with panels."""

import pytest
from kinds import TWO_EVENTS
from own_panels import with_panels
from power import run

from reconcile import reconcile

SEEDS = 3


def test_two_things_at_once_are_told_apart():
    judged = run([(kind, "plain", 8000 + k, False) for kind in TWO_EVENTS for k in range(SEEDS)], 1)
    assert sum(j.good for j in judged) >= len(judged) - 1
    assert not any(j.final.tests for j in judged if j.kind != "estimate-fast")


@pytest.mark.parametrize("seed", range(8100, 8103))
def test_panels_are_named_when_half_of_them_fail_and_only_then(seed):
    halved = reconcile(with_panels(seed, "plain", halved=6 + seed % 7))
    assert max(halved.causes, key=lambda cause: cause.probability).code == "generation-fall"
    calm = reconcile(with_panels(seed, "plain", halved=None))
    assert calm.verdict.decision == "explained"
    assert all(cause.probability < 0.05 for cause in calm.causes if cause.code == "generation-fall")


def test_bills_of_what_is_left_are_said_to_tell_less():
    said = reconcile(with_panels(8104, "plain", halved=None, net=True))
    assert any("two registers" in notice for notice in said.notices)
    assert not said.verdict.field_test_warranted
