"""The public face: what ``__all__`` names is there, sorted, and importable without effort."""

import importlib
import pkgutil
from pathlib import Path

import pytest

import reconcile

ROOT = Path(__file__).parents[1]
PARTS = [name for _, name, is_package in pkgutil.iter_modules(reconcile.__path__, "reconcile.") if is_package]


def test_the_face_is_sorted_and_complete():
    assert sorted(set(reconcile.__all__)) == reconcile.__all__
    for name in reconcile.__all__:
        assert getattr(reconcile, name) is not None
        assert name in dir(reconcile)
    assert reconcile.__version__


def test_an_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        reconcile.nothing  # noqa: B018


@pytest.mark.parametrize("part", PARTS)
def test_parts_name_what_they_have(part):
    place = importlib.import_module(part)
    names = list(getattr(place, "__all__", ()))
    assert names == sorted(set(names))
    for name in names:
        assert hasattr(place, name)


def test_star_import_gives_the_face():
    given = {}
    exec("from reconcile import *", given)
    assert set(reconcile.__all__) <= set(given)


def test_the_odds_of_causes_can_be_set_for_houses_that_were_chosen():
    """What was rare before any bill was seen stays rarer after; a factor of 1 changes nothing."""
    house = reconcile.read_house(ROOT / "sample_bills" / "fast_meter")

    def fast(**given):
        answer = reconcile.reconcile(house, **given)
        return sum(c.probability for c in answer.causes if c.code == "meter-step")

    usual, rare = fast(), fast(odds={"meter-step": 0.02})
    assert rare < 0.25 * usual < usual < fast(odds={"meter-step": 5.0})
    assert fast(odds={"meter-step": 1.0}) == usual
    for wrong in ({"ghost": 2.0}, {"meter-step": 0.0}):
        with pytest.raises(ValueError, match=r"^odds: .*The codes are "):
            reconcile.reconcile(house, odds=wrong)


def test_costs_can_be_given_and_are_told():
    """Where a look costs more than it can save, less is done; no chance moves."""
    house = reconcile.read_house(ROOT / "sample_bills" / "fast_meter")
    usual, dear = reconcile.reconcile(house), reconcile.reconcile(house, costs=reconcile.Costs(wasted_look=5000.0))
    assert usual.to_dict()["costs"] is None
    assert dear.to_dict()["costs"]["wasted_look"] == 5000.0
    assert reconcile.reconcile(house, costs=reconcile.Costs()).to_dict()["costs"] is None
    assert [(c.code, c.probability) for c in usual.causes] == [(c.code, c.probability) for c in dear.causes]
    steps = [{step.code for step in answer.verdict.next_steps} for answer in (usual, dear)]
    assert steps[1] < steps[0] or usual.verdict.decision != dear.verdict.decision
