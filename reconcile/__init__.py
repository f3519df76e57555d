"""Weigh a year of electric bills against the loads of the house, and say what to do before anyone opens a panel.

The public face is small and lazy: importing the package imports nothing heavy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.on_demand import names_of

if TYPE_CHECKING:
    from reconcile.answer import reconcile
    from reconcile.contract import schema
    from reconcile.costs import Costs
    from reconcile.errors import Fault, InputError, OutputError, ReconcileError, UnitError
    from reconcile.house import House
    from reconcile.meter import judge_test
    from reconcile.plan import plan_test
    from reconcile.previsit import Estimate, estimate
    from reconcile.read import read_house
    from reconcile.result import Reconciliation

__version__ = "0.1.0"

_HOME = {
    "Costs": "reconcile.costs",
    "Estimate": "reconcile.previsit",
    "Fault": "reconcile.errors",
    "House": "reconcile.house",
    "InputError": "reconcile.errors",
    "OutputError": "reconcile.errors",
    "Reconciliation": "reconcile.result",
    "ReconcileError": "reconcile.errors",
    "UnitError": "reconcile.errors",
    "estimate": "reconcile.previsit",
    "judge_test": "reconcile.meter",
    "plan_test": "reconcile.plan",
    "read_house": "reconcile.read",
    "reconcile": "reconcile.answer",
    "schema": "reconcile.contract",
}

__all__ = [
    "Costs",
    "Estimate",
    "Fault",
    "House",
    "InputError",
    "OutputError",
    "ReconcileError",
    "Reconciliation",
    "UnitError",
    "estimate",
    "judge_test",
    "plan_test",
    "read_house",
    "reconcile",
    "schema",
]


__getattr__ = names_of(__name__, _HOME)


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
