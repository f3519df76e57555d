"""Money by arithmetic: tariff lines to the cent, why the money changed, what is at stake, refunds by rule."""

from reconcile.money.account import Money, account
from reconcile.money.bridge import Bridge, bridge
from reconcile.money.stake import cost_of, disputed

__all__ = ["Bridge", "Money", "account", "bridge", "cost_of", "disputed"]
