"""The public face has docstrings that numpydoc accepts whole; nothing public is without one that is true."""

import importlib
import inspect
import pkgutil

import pytest
from numpydoc.validate import validate

import reconcile

IGNORED = {
    "GL01": "the summary stands on the line of the quotes",
    "GL02": "and a one-line docstring ends on it",
    "GL03": "ruff sees to blank lines",
    "ES01": "an extended summary where there is something to add",
    "SA01": "see-also where it helps",
    "EX01": "an example where it helps; the doctests run",
    "SS05": "the mood of the first verb is a matter of taste",
    "PR07": "a type whose class says what it is needs no second description",
    "RT03": "a type whose class says what it is needs no second description",
}

CHECKED_INSIDE = {
    "GL08": "there is none",
    "PR02": "it documents a parameter that is not there",
    "PR03": "its parameters stand in another order",
    "PR10": "a parameter lacks the space before its colon",
    "SS01": "it has no summary",
}


def modules():
    for module in pkgutil.walk_packages(reconcile.__path__, "reconcile."):
        if not module.name.endswith("__main__"):
            yield importlib.import_module(module.name)


def with_methods(name, item):
    yield name
    if inspect.isclass(item):
        for method, value in vars(item).items():
            if not method.startswith("_") and (inspect.isfunction(value) or isinstance(value, classmethod)):
                yield f"{name}.{method}"


def face():
    """What ``__all__`` of the package names, with its methods, and of its parts, by the module that defines it."""
    for name in reconcile.__all__:
        item = getattr(reconcile, name)
        yield from with_methods(f"{item.__module__}.{item.__qualname__}", item)
    for place in modules():
        for name in getattr(place, "__all__", ()) if hasattr(place, "__path__") else ():
            item = getattr(place, name)
            if inspect.isfunction(item) or inspect.isclass(item):
                yield f"{item.__module__}.{item.__qualname__}"


def inside():
    """Every function, class and method that a module defines under a public name."""
    for place in modules():
        for name, item in vars(place).items():
            here = not name.startswith("_") and getattr(item, "__module__", None) == place.__name__
            if here and (inspect.isfunction(item) or inspect.isclass(item)):
                yield from with_methods(f"{place.__name__}.{name}", item)


def is_dataclass_name(name):
    module, _, last = name.rpartition(".")
    try:
        item = getattr(importlib.import_module(module), last)
    except (ImportError, AttributeError):
        return False
    return hasattr(item, "__dataclass_fields__")


@pytest.mark.parametrize("name", sorted(set(face())))
def test_public_face(name):
    ignored = set(IGNORED)
    if is_dataclass_name(name):
        ignored.add("PR01")  # its fields say it, each with its own docstring or under Attributes
    assert [f"{code}: {text}" for code, text in validate(name)["errors"] if code not in ignored] == []


def test_everything_public_is_described_and_truly():
    names = sorted(set(inside()))
    assert len(names) > 100
    faults = [
        f"{name}: {code} {text}" for name in names for code, text in validate(name)["errors"] if code in CHECKED_INSIDE
    ]
    assert faults == []
