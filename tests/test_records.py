"""Classes made by ``reconcile.records`` beside the same classes made by the standard decorator."""

from __future__ import annotations

import copy
import dataclasses
import inspect
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import reconcile
from reconcile import records

ROOT = Path(reconcile.__file__).parent


def pair_of(dataclass: Callable[..., Any], frozen: bool, eq: bool) -> type:
    @dataclass(frozen=frozen, slots=True, eq=eq)
    class Pair:
        """Two things and what goes with them."""

        first: int
        second: list[int] = dataclasses.field(default_factory=list)
        third: str = "x"
        set: int = 1
        made: tuple[int, ...] = ()
        beside: float = dataclasses.field(default=0.0, compare=False, repr=False)
        summed: int = dataclasses.field(default=0, init=False)
        named: str = dataclasses.field(default="n", kw_only=True)

        def __post_init__(self) -> None:
            object.__setattr__(self, "summed", self.first + sum(self.second))

    return Pair


@pytest.fixture(params=[(True, True), (True, False), (False, True), (False, False)])
def both(request: pytest.FixtureRequest) -> tuple[Any, Any]:
    return pair_of(records.dataclass, *request.param), pair_of(dataclasses.dataclass, *request.param)


def test_a_call_is_the_standard_one(both: tuple[Any, Any]) -> None:
    ours, standard = both
    for arguments, named in [((1,), {}), ((1, [2], "y", 3, (4,), 5.0), {"named": "m"}), ((), {"first": 4})]:
        made, wanted = ours(*arguments, **named), standard(*arguments, **named)
        assert dataclasses.asdict(made) == dataclasses.asdict(wanted)
        assert repr(made) == repr(wanted)
    assert ours(1).second is not ours(1).second
    for arguments, named in [
        ((), {}),
        ((1, [], "", 1, (), 0.0, "by place"), {}),
        ((1,), {"none": 1}),
        ((1,), {"summed": 2}),
    ]:
        for cls in both:
            with pytest.raises(TypeError):
                cls(*arguments, **named)
    assert list(inspect.signature(ours).parameters) == list(inspect.signature(standard).parameters)
    assert ours.__match_args__ == standard.__match_args__


def test_equality_and_hash_are_the_standard_ones(both: tuple[Any, Any]) -> None:
    def said(cls: Any) -> list[Any]:
        one, same, beside, other = cls(1, third="a"), cls(1, third="a"), cls(1, [], "a", beside=9.0), cls(2, third="a")
        equal = [one == one, one == same, one == beside, one == other, one == 1, one != same]
        return [*equal, cls.__hash__ is None]

    ours, standard = both
    assert said(ours) == said(standard)
    assert ours(1) != standard(1)


def test_what_is_frozen_stays_and_what_is_not_can_be_set(both: tuple[Any, Any]) -> None:
    def said(cls: Any) -> list[Any]:
        made = cls(1)
        refused = [_refuses(setattr, made, "first", 2), made.first, _refuses(delattr, made, "first")]
        return [*refused, _refuses(getattr, made, "first")]

    ours, standard = both
    assert said(ours) == said(standard)


def _refuses(change: Callable[..., Any], *arguments: Any) -> str:
    try:
        change(*arguments)
    except AttributeError as refused:  # FrozenInstanceError is one
        return type(refused).__name__
    return ""


@records.dataclass(frozen=True, slots=True)
class Kept:
    """One that can be found by its name."""

    first: int
    second: tuple[int, ...] = ()


def test_one_can_be_copied_replaced_and_kept_in_a_file() -> None:
    kept = Kept(1, (2, 3))
    assert pickle.loads(pickle.dumps(kept)) == kept == copy.deepcopy(kept) == copy.copy(kept)
    assert dataclasses.replace(kept, first=5) == Kept(5, (2, 3))
    assert hash(kept) == hash(Kept(1, (2, 3)))
    assert {kept: 1}[Kept(1, (2, 3))] == 1


def test_one_that_holds_itself_can_be_shown() -> None:
    @records.dataclass(slots=True)
    class Ring:
        """One that may hold itself."""

        inner: Any = None

    ring = Ring()
    ring.inner = ring
    assert repr(ring).endswith("Ring(inner=...)")


def test_all_classes_of_the_package_are_made_so() -> None:
    standard = [path.name for path in ROOT.rglob("*.py") if "from dataclasses import dataclass" in path.read_text()]
    assert standard == ["records.py"]
