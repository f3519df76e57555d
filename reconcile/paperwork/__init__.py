"""What is certain without statistics: readings, dates, estimates, exchange, tariff arithmetic, price."""

from reconcile.paperwork.examine import examine
from reconcile.paperwork.facts import Exchange, Facts, Finding
from reconcile.paperwork.money import cost_of

__all__ = ["Exchange", "Facts", "Finding", "cost_of", "examine"]
