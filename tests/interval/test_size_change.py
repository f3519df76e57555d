"""Windows of the house's own steps, where several dates matter."""

from types import SimpleNamespace

import numpy as np
import pytest

from reconcile.interval.gain import _windows
from reconcile.interval.size_change import Change

NOTHING = np.zeros(0)


def change(day, shift, about=()):
    return Change(day, day, day, shift, 0.01, 9.0, (), NOTHING, NOTHING, about=about)


@pytest.mark.parametrize(
    "changes",
    [
        [change(100, 0.05, (90, 95, 105, 130)), change(130, -0.05)],
        [change(100, 0.05), change(200, -0.05), change(300, 0.05)],
    ],
    ids=["one date among those about another", "one undone by two"],
)
def test_windows_between_changes_that_undo_each_other_are_of_some_noise(changes):
    """Their covariance had a direction of less than none, and the house was refused."""
    sides = SimpleNamespace(
        seen=SimpleNamespace(first=0), days=400, counted=np.ones((401, 1)), still=lambda cut, moved: 0.002
    )
    signal = _windows(sides, changes[0], (), {one.day: one for one in changes})
    assert np.linalg.eigvalsh(signal.covariance)[0] > 0.0
    steps = np.diff(signal.value)
    assert sorted(steps[np.abs(steps) > 0.04]) == pytest.approx(sorted(one.shift for one in changes))
