"""Interval data: do they add up to the bills, what is the base load, and when did it step."""

from reconcile.interval.examined import examine
from reconcile.interval.found import IntervalResult
from reconcile.interval.mismatch import findings

__all__ = ["IntervalResult", "examine", "findings"]
