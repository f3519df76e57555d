"""Money by arithmetic: tariff lines to the cent, why the money changed, what is at stake, refunds by rule."""

from reconcile.money.account import Money, account
from reconcile.money.bridge import Bridge, bridge
from reconcile.money.refund import MeterError, Overcharge, Refund, refund, refunds
from reconcile.money.stake import Stake, Suspicion, cost_of

__all__ = [
    "Bridge",
    "MeterError",
    "Money",
    "Overcharge",
    "Refund",
    "Stake",
    "Suspicion",
    "account",
    "bridge",
    "cost_of",
    "refund",
    "refunds",
]
