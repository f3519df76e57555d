"""What the billing records prove without statistics: dates, readings, estimates, meter exchanges, prices."""

from reconcile.paper.examine import examine

__all__ = ["examine"]
