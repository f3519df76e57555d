"""What the billing records prove without statistics: dates, readings, estimates, meter exchanges, prices."""

from reconcile.paper.examine import examine
from reconcile.paper.instalments import as_instalments
from reconcile.paper.paid_for import by_amount, setting_aside

__all__ = ["as_instalments", "by_amount", "examine", "setting_aside"]
