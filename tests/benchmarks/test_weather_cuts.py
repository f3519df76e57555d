"""Houses in order that were accused once, for want of weather."""

from __future__ import annotations

from dataclasses import replace

import pytest
from simulate import simulate
from weather_cuts import named

from reconcile.answer import reconcile


@pytest.mark.parametrize(
    "seed",
    [41011, 41023, pytest.param(41039, marks=pytest.mark.xfail(strict=True, reason="use moved is held to .58")), 41043],
)
def test_a_hot_summer_that_no_weather_tells_of_is_no_cause(seed: int) -> None:
    house = simulate("healthy", "plain", seed).house
    assert not named(reconcile(replace(house, weather=None, loads=())))
    assert not named(reconcile(replace(house, weather=None)))


def test_a_cooling_season_that_begins_early_is_no_cause() -> None:
    assert not named(reconcile(replace(simulate("healthy", "plain", 31007).house, weather=None)))
