"""The field test: what site readings say, a plan that starts with closed covers, a verdict with its doubt."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

from reconcile.fieldtest.observe import observations

if TYPE_CHECKING:
    from reconcile.fieldtest.judge import judge_test
    from reconcile.fieldtest.plan import plan_test

__all__ = ["judge_test", "observations", "plan_test"]

_HOME = {"judge_test": "reconcile.fieldtest.judge", "plan_test": "reconcile.fieldtest.plan"}


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'reconcile.fieldtest' has no attribute {name!r}")
    return getattr(import_module(_HOME[name]), name)
