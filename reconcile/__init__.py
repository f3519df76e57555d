"""Weigh a year of electric bills against the loads of the house, and say what to do before anyone opens a panel.

The public face is small and lazy: importing the package imports nothing heavy.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.on_demand import names_of

if TYPE_CHECKING:
    from reconcile import figures as figures
    from reconcile import frames as frames
    from reconcile.answer import reconcile
    from reconcile.contract import schema
    from reconcile.costs import Costs
    from reconcile.errors import CrashError, Fault, InputError, OutputError, ReconcileError, UnitError
    from reconcile.house import Band, Bill, ChargeLine, Event, House, Load, Meter, RegisterReading
    from reconcile.house.measured import Interval, Weather
    from reconcile.many import reconcile_many
    from reconcile.meter import judge_test
    from reconcile.plan import plan_test
    from reconcile.previsit import Estimate, estimate
    from reconcile.prior_odds import priors
    from reconcile.read import read_house
    from reconcile.result import Reconciliation

__version__ = "0.1.0"

_HOME = {
    "Band": "reconcile.house",
    "Bill": "reconcile.house",
    "ChargeLine": "reconcile.house",
    "Costs": "reconcile.costs",
    "CrashError": "reconcile.errors",
    "Estimate": "reconcile.previsit",
    "Event": "reconcile.house",
    "Fault": "reconcile.errors",
    "House": "reconcile.house",
    "InputError": "reconcile.errors",
    "Interval": "reconcile.house.measured",
    "Load": "reconcile.house",
    "Meter": "reconcile.house",
    "OutputError": "reconcile.errors",
    "Reconciliation": "reconcile.result",
    "ReconcileError": "reconcile.errors",
    "RegisterReading": "reconcile.house",
    "UnitError": "reconcile.errors",
    "Weather": "reconcile.house.measured",
    "estimate": "reconcile.previsit",
    "figures": "reconcile.figures",
    "frames": "reconcile.frames",
    "judge_test": "reconcile.meter",
    "plan_test": "reconcile.plan",
    "priors": "reconcile.prior_odds",
    "read_house": "reconcile.read",
    "reconcile": "reconcile.answer",
    "reconcile_many": "reconcile.many",
    "schema": "reconcile.contract",
}
"""Where each public name stands; ``figures`` and ``frames`` are modules."""

__all__ = [
    "Band",
    "Bill",
    "ChargeLine",
    "Costs",
    "CrashError",
    "Estimate",
    "Event",
    "Fault",
    "House",
    "InputError",
    "Interval",
    "Load",
    "Meter",
    "OutputError",
    "ReconcileError",
    "Reconciliation",
    "RegisterReading",
    "UnitError",
    "Weather",
    "estimate",
    "judge_test",
    "plan_test",
    "priors",
    "read_house",
    "reconcile",
    "reconcile_many",
    "schema",
]


__getattr__ = names_of(__name__, _HOME)


def __dir__() -> list[str]:
    return [*_HOME, "__version__"]
