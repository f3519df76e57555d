"""Interval data: do they add up to the bills, what is the base load, and when did it step."""

from reconcile.interval.examine import examine, findings
from reconcile.interval.result import IntervalResult

__all__ = ["IntervalResult", "examine", "findings"]
