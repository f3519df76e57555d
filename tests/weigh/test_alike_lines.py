"""One line of the list or two halves of it: nothing that is shown moves."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import reconcile
from reconcile.house import House
from reconcile.paper import examine
from reconcile.read import read_house
from reconcile.weigh.model import build

SAMPLES = Path(__file__).parents[2] / "sample_bills"


def halved(home: House, name: str, second: str = "{} 2") -> House:
    at = next(j for j, load in enumerate(home.loads) if load.name == name)
    load = home.loads[at]
    half = replace(load, watts=load.watts / 2.0, standby_watts=load.standby_watts / 2.0, row=None)
    two = (half, replace(half, name=second.format(name)))
    return replace(home, loads=(*home.loads[:at], *two, *home.loads[at + 1 :]))


@pytest.mark.parametrize(
    ("sample", "load"),
    [
        ("fast_meter", "Water heater"),
        ("fast_meter", "Central air"),
        ("fast_meter", "Clothes dryer"),
        ("cold_winter", "Strip heat"),
        ("new_load_in_may", "Dehumidifier"),
    ],
)
def test_a_line_in_two_halves_is_the_same_load(sample: str, load: str):
    home = read_house(SAMPLES / sample)
    assert_same(home, halved(home, load))


@pytest.mark.parametrize(
    "second", ["{} again", "Another {}", "{} (more of it)", "{}, continued", "Extra {}", "Same {}", "Fourth {}"]
)
def test_words_that_only_count_name_no_other_load(second: str):
    home = read_house(SAMPLES / "fast_meter")
    assert_same(home, halved(home, "Water heater", second))


def assert_same(home: House, parted: House) -> None:
    once, twice = reconcile.reconcile(home), reconcile.reconcile(parted)
    for one, two in zip(once.rows, twice.rows, strict=True):
        shown = ("flag", "usual_low_kwh", "usual_high_kwh")
        assert [getattr(one, name) for name in shown] == [getattr(two, name) for name in shown]
        assert (two.low_kwh, two.high_kwh) == pytest.approx((one.low_kwh, one.high_kwh), rel=1e-6)
    assert once.verdict.decision == twice.verdict.decision
    chances = [{c.code: c.probability for c in answer.causes} for answer in (once, twice)]
    assert chances[0] == pytest.approx(chances[1], rel=0, abs=1e-6)


def test_loads_of_another_kind_or_use_keep_doubts_of_their_own():
    home = read_house(SAMPLES / "fast_meter")
    facts = examine(home)
    lamp = replace(home.loads[0], name="Lamp", watts=60.0, kwh_per_year=None, follows="clock", run_hours=4.0, row=None)
    together = build(replace(home, loads=(lamp, replace(lamp, name="Lamp 2"))), facts)
    for other in (replace(lamp, name="Stove"), replace(lamp, name="Lamp 2", run_hours=3.0)):
        apart = build(replace(home, loads=(lamp, other)), facts)
        assert len(apart.kin) == 3
    assert len(together.kin) == 4
    own = together.factors[:, [0, 1, 3]]
    np.testing.assert_allclose(own @ own.T, 4.0 * np.outer(own[:, 0], own[:, 0]), rtol=1e-9, atol=0)
