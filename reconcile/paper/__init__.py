"""What the billing records prove without statistics: dates, readings, estimates, meter exchanges, prices."""

from reconcile.paper.examine import examine
from reconcile.paper.paid_for import by_amount, setting_aside

__all__ = ["by_amount", "examine", "setting_aside"]
