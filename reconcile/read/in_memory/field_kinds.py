"""Whether what stands in the fields of a house made by hand is of the kind that its classes declare."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from functools import cache
from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

import numpy as np

from reconcile.records import dataclass

NUMBERS: dict[type[Any], tuple[type[Any], ...]] = {
    float: (int, float, np.integer, np.floating),
    int: (int, float, np.integer, np.floating),
    bool: (bool, np.bool_),
}
"""What may stand for a number, or a truth: whether one is whole is for the gate to say."""


@dataclass(frozen=True, slots=True)
class OtherKind:
    """A value that is not of its field's kind."""

    path: str
    """As ``meters[1].digits``, counted from 1."""
    value: Any
    wanted: str
    """The kind, as the class declares it."""


def other_kinds(item: Any, path: str = "") -> Iterator[OtherKind]:
    """Give every field of a dataclass, and of those it holds, in which something of another kind stands."""
    for name, wanted, hint, plain in _declared(item.__class__):
        value = getattr(item, name)
        if type(value) in plain:
            continue
        place = f"{path}.{name}".lstrip(".")
        if not _is_of(value, hint):
            yield OtherKind(place, value, wanted)
        elif isinstance(value, tuple):
            for number, one in enumerate(value, start=1):
                if is_dataclass(one):
                    yield from other_kinds(one, f"{place}[{number}]")
        elif is_dataclass(value):
            yield from other_kinds(value, place)


@cache
def _declared(kind: type[Any]) -> tuple[tuple[str, str, Any, frozenset[type[Any]]], ...]:
    """Name of each field, its kind as written and as meant, and the types that need no other look; of a class once, for
    to work them out takes longer than a house.
    """
    hints = get_type_hints(kind)
    return tuple((field.name, str(field.type), hints[field.name], _plain(hints[field.name])) for field in fields(kind))


def _origin(hint: Any) -> Any:
    """What a kind with parameters is made of; newer numpy names arrays by an alias that has to be looked through."""
    origin = get_origin(hint)
    alias = getattr(origin, "__value__", None)
    return origin if alias is None else get_origin(alias) or alias


def _plain(hint: Any) -> frozenset[type[Any]]:
    """Types of which anything will do and holds nothing more."""
    origin = _origin(hint)
    if origin in (Union, UnionType):
        return frozenset().union(*map(_plain, get_args(hint)))
    if origin is Literal:
        return frozenset({str})
    if origin is not None or is_dataclass(hint):
        return frozenset()
    return frozenset({int, float} if hint in (int, float) else {hint})


def _is_of(value: Any, hint: Any) -> bool:
    origin, inner = _origin(hint), get_args(hint)
    if origin in (Union, UnionType):
        return any(_is_of(value, one) for one in inner)
    if origin is Literal:
        return isinstance(value, str) or any(value is one for one in inner)
    if origin in (tuple, frozenset):
        many = origin is frozenset or inner[-1] is Ellipsis
        each = inner[:1] * len(value) if many and isinstance(value, origin) else inner
        return isinstance(value, origin) and len(value) == len(each) and all(map(_is_of, value, each))
    if hint in NUMBERS:
        return isinstance(value, NUMBERS[hint]) and isinstance(value, bool | np.bool_) == (hint is bool)
    return isinstance(value, origin or hint)
