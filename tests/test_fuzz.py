"""Fixed seeds of the fuzzing command; more by hand: ``python tests/fuzz.py --seconds 600``."""

from __future__ import annotations

import fuzz
import pytest


@pytest.mark.parametrize("first", [0, 1000])
def test_torn_houses_are_read_or_refused_with_their_place(first: int) -> None:
    tally = fuzz.run(range(first, first + 120), 120.0, ("torn",), weigh_share=0.02)
    assert not tally.failures
    assert not tally.faults_without_place
    assert {"torn: read", "torn: refused"} <= tally.outcomes.keys()


def test_torn_interval_data_are_read_or_refused_with_their_place() -> None:
    tally = fuzz.run(range(800_000, 800_080), 120.0, ("intervals",))
    assert not tally.failures
    assert not tally.faults_without_place
    assert {"intervals: read", "intervals: refused"} <= tally.outcomes.keys()


def test_changes_without_meaning_do_not_move_the_answer() -> None:
    tally = fuzz.run(range(5000, 5040), 120.0, ("same",))
    assert not tally.failures
    assert tally.outcomes.keys() == {"same: unmoved"}


def test_changes_with_meaning_do_not_pass_in_silence() -> None:
    tally = fuzz.run(range(6000, 6040), 120.0, ("meaning",))
    assert not tally.failures
