"""Interval data: do they add up to the bills, what is the base load, and when did it step."""

from reconcile.interval.found import IntervalResult
from reconcile.interval.tie_out import examine, findings

__all__ = ["IntervalResult", "examine", "findings"]
