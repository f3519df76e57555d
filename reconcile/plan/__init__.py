"""What to do next, and how to test: steps, their order, and the plan of a field test."""

from reconcile.plan.field_plan import plan_test

__all__ = ["plan_test"]
