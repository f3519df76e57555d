"""The standard dataclass, of whose methods only one is compiled for each class.

The standard decorator writes and compiles up to six methods of every class while a program loads: with the classes of
this package an eighth of its start. Here that is done for ``__init__`` alone; all other methods ask for the fields when
they are called. Classes do what they would do otherwise, and type checkers see the standard decorator.
"""

from __future__ import annotations

import dataclasses
from dataclasses import MISSING, FrozenInstanceError, fields
from operator import attrgetter
from reprlib import recursive_repr
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(*, frozen=False, eq=True, repr=True, **options):
        """Make a class a dataclass: the options are the standard decorator's, and mean the same."""

        def made(plain):
            cls = dataclasses.dataclass(init=False, eq=False, repr=False, **options)(plain)
            cls.__init__ = _init(cls, frozen)
            if repr and "__repr__" not in vars(plain):
                cls.__repr__ = _repr
            if eq:
                _compare(cls, frozen)
            if frozen:
                cls.__setattr__, cls.__delattr__ = _refuse_to_set, _refuse_to_delete
                cls.__getstate__, cls.__setstate__ = _state, _set_state
            return cls

        return made


_set = object.__setattr__


def _init(cls: type, frozen: bool) -> Any:
    """Compile the method that sets all fields."""
    scope: dict[str, Any] = {"_SET": _set, "_MADE": MISSING}
    arguments: dict[bool, list[str]] = {False: [], True: []}  # by whether they are given by name only
    lines = []
    for f in fields(cls):
        value, standing = f.name, f.name
        if f.default is not MISSING:
            scope[f"_{f.name}"] = f.default
            standing += f"=_{f.name}"
            value = f.name if f.init else f"_{f.name}"
        elif f.default_factory is not MISSING:
            scope[f"_{f.name}"] = f.default_factory
            standing += "=_MADE"
            value = f"_{f.name}() if {f.name} is _MADE else {f.name}" if f.init else f"_{f.name}()"
        elif not f.init:
            continue
        if f.init:
            arguments[f.kw_only is True].append(standing)
        lines.append(f'_SET(self,"{f.name}",{value})' if frozen else f"self.{f.name}={value}")
    if hasattr(cls, "__post_init__"):
        lines.append("self.__post_init__()")
    by_name = ["*", *arguments[True]] if arguments[True] else []
    text = ",".join(["self", *arguments[False], *by_name])
    exec(f"def __init__({text}):\n " + "\n ".join(lines or ["pass"]), scope)
    init = scope["__init__"]
    init.__annotations__ = {f.name: f.type for f in fields(cls) if f.init} | {"return": None}
    init.__qualname__ = f"{cls.__qualname__}.__init__"
    init.__module__ = cls.__module__
    return init


def _compare(cls: Any, frozen: bool) -> None:
    """Give a class its equality by value, and if it is frozen its hash."""
    names = [f.name for f in fields(cls) if f.compare]
    values = attrgetter(*names) if names else type

    def equal(one: Any, other: Any) -> Any:
        return values(one) == values(other) if other.__class__ is one.__class__ else NotImplemented

    def hashed(one: Any) -> int:
        return hash(values(one))

    cls.__eq__, cls.__hash__ = equal, hashed if frozen else None


@recursive_repr("...")
def _repr(one: Any) -> str:
    shown = ", ".join(f"{f.name}={getattr(one, f.name)!r}" for f in fields(one) if f.repr)
    return f"{type(one).__qualname__}({shown})"


def _refuse_to_set(_: Any, name: str, value: object) -> NoReturn:
    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _refuse_to_delete(_: Any, name: str) -> NoReturn:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


def _state(one: Any) -> list[Any]:
    return [getattr(one, f.name) for f in fields(one)]


def _set_state(one: Any, state: list[Any]) -> None:
    for f, value in zip(fields(one), state, strict=True):
        _set(one, f.name, value)
