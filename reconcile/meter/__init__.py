"""The field test's numbers: what site readings say, with their doubt, and the zone they fall in."""

from reconcile.meter.judge import judge_test
from reconcile.meter.judged import FieldTestResult
from reconcile.meter.observation import Observation
from reconcile.meter.signs import dangers_of
from reconcile.meter.site_readings import observations

__all__ = ["FieldTestResult", "Observation", "dangers_of", "judge_test", "observations"]
