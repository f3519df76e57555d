"""What is certain without statistics: readings, dates, estimates, exchange, tariff arithmetic, price."""

from reconcile.paperwork.bridge import Bridge, bridge
from reconcile.paperwork.examine import examine
from reconcile.paperwork.facts import Exchange, Facts, Finding
from reconcile.paperwork.money import Money, account
from reconcile.paperwork.stake import cost_of, disputed

__all__ = [
    "Bridge",
    "Exchange",
    "Facts",
    "Finding",
    "Money",
    "account",
    "bridge",
    "cost_of",
    "disputed",
    "examine",
]
