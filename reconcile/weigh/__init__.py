"""The model: expected and usual use, bands, causes, the decision, and what to measure next."""

from reconcile.weigh.assemble import reconcile
from reconcile.weigh.result import Reconciliation

__all__ = ["Reconciliation", "reconcile"]
