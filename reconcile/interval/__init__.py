"""Interval data: do they add up to the bills, what is the base load, and when did it step."""

from __future__ import annotations

from typing import TYPE_CHECKING

from reconcile.on_demand import names_of

if TYPE_CHECKING:
    from reconcile.interval.examined import examine
    from reconcile.interval.found import IntervalResult
    from reconcile.interval.mismatch import edges_told, findings
    from reconcile.interval.own_power import with_own_power

__getattr__ = names_of(
    __name__,
    {
        "examine": "reconcile.interval.examined",
        "IntervalResult": "reconcile.interval.found",
        "edges_told": "reconcile.interval.mismatch",
        "findings": "reconcile.interval.mismatch",
        "with_own_power": "reconcile.interval.own_power",
    },
)

__all__ = ["IntervalResult", "edges_told", "examine", "findings", "with_own_power"]
