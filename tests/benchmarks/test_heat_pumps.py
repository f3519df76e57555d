"""Houses with heat pumps: those in order stay so, and auxiliary heat is no load round the clock."""

from __future__ import annotations

from datetime import timedelta

import heat_pumps
import pytest

import reconcile
from reconcile.decide.rules import Decision


def told(made: heat_pumps.Pumped) -> dict[str, reconcile.Cause]:
    return {cause.code: cause for cause in reconcile.reconcile(made.house).causes}


@pytest.mark.parametrize("kind", ["healthy", "colder"])
@pytest.mark.parametrize("minutes", [0, 60])
def test_a_heat_pump_in_order_is_no_cause(kind: str, minutes: int) -> None:
    for seed in range(3):
        causes = told(heat_pumps.house(kind, seed, minutes))
        assert all(one.probability < 0.5 for code, one in causes.items() if code not in ("none", "unlisted"))


@pytest.mark.parametrize(("kind", "seed"), [("aux 3 months", 0), ("aux 3 months", 2), ("aux 3 weeks", 2)])
def test_auxiliary_heat_is_told_with_its_begin_and_end(kind: str, seed: int) -> None:
    made = heat_pumps.house(kind, seed, 60)
    answer = reconcile.reconcile(made.house)
    causes = {cause.code: cause for cause in answer.causes}
    heating = causes["heating-rise"]
    assert heating.probability > 0.9
    assert "constant-load" not in causes or causes["constant-load"].probability < 0.3
    assert made.begin is not None
    assert made.end is not None
    assert heating.since is not None
    assert heating.until is not None
    assert heating.kwh is not None
    assert abs(heating.since - made.begin) <= timedelta(days=4)
    assert abs(heating.until - made.end) <= timedelta(days=4)
    assert abs(heating.kwh - made.kwh) < 0.12 * made.kwh
    assert answer.verdict.decision is Decision.INVENTORY
    assert any(step.code == "heating-look" for step in answer.verdict.next_steps)


def test_a_load_round_the_clock_in_such_a_house_is_no_heating() -> None:
    causes = told(heat_pumps.house("constant", 2, 60))
    assert causes["constant-load"].probability > 0.5
    assert "heating-rise" not in causes or causes["heating-rise"].probability < 0.3
