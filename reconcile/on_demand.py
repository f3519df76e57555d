"""Names of a package, looked up in its modules only when asked for: what a house does not need is not loaded."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from importlib import import_module
from typing import Any


def names_of(package: str, homes: Mapping[str, str]) -> Callable[[str], Any]:
    """Return the ``__getattr__`` of a package (PEP 562).

    Parameters
    ----------
    homes : mapping of str to str
        Each public name and the module it stands in; one that is the module's own is the module.

    Examples
    --------
    >>> names_of("reconcile", {"UnitError": "reconcile.errors"})("UnitError").__name__
    'UnitError'
    """

    def look_up(name: str) -> Any:
        if name not in homes:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        module = import_module(homes[name])
        return module if homes[name].endswith(f".{name}") else getattr(module, name)

    return look_up
