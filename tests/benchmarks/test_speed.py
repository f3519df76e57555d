"""An answer and the signals of interval data take no longer than they did, in yardsticks of the same run."""

from __future__ import annotations

import speed
from interval_signals import looked_at, simulated

import reconcile

MOST_OF_A_HOUSE, MOST_OF_A_YEAR = 20.0, 80.0
"""A fifth to a third above what the bench measures, 15 and 60: beside other tests the measurement moves."""


def test_a_house_made_by_hand_is_answered_in_some_yardsticks() -> None:
    house = speed.with_loads(15).house
    _, ratio = speed.beside_yardstick(lambda: reconcile.reconcile(house), 15)
    assert ratio <= MOST_OF_A_HOUSE, f"{ratio:.1f} yardsticks"


def test_a_year_of_quarter_hours_is_examined_in_some_yardsticks() -> None:
    house, *_ = next(simulated("load 200", 15, 1))
    _, ratio = speed.beside_yardstick(lambda: looked_at(house), 7)
    assert ratio <= MOST_OF_A_YEAR, f"{ratio:.1f} yardsticks"
