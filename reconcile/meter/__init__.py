"""The field test's numbers: what site readings say, with their doubt, and the zone they fall in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.on_demand import names_of

if TYPE_CHECKING:
    from reconcile.meter.judge import judge_test
    from reconcile.meter.judged import FieldTestResult
    from reconcile.meter.observation import Observation
    from reconcile.meter.signs import dangers_of
    from reconcile.meter.site_readings import observations
    from reconcile.meter.told_test import told_registration

__getattr__ = names_of(
    __name__,
    {
        "judge_test": "reconcile.meter.judge",
        "FieldTestResult": "reconcile.meter.judged",
        "Observation": "reconcile.meter.observation",
        "dangers_of": "reconcile.meter.signs",
        "observations": "reconcile.meter.site_readings",
        "told_registration": "reconcile.meter.told_test",
    },
)

__all__ = ["FieldTestResult", "Observation", "dangers_of", "judge_test", "observations", "told_registration"]
