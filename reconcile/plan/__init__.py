"""What to do next, and how to test: steps, their order, and the plan of a field test."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.on_demand import names_of

if TYPE_CHECKING:
    from reconcile.plan.field_plan import plan_test

__getattr__ = names_of(
    __name__,
    {
        "plan_test": "reconcile.plan.field_plan",
    },
)

__all__ = ["plan_test"]
