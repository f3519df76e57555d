"""The news that the meters before and after an exchange disagree, whichever of the two is wrong."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from reconcile.costs import Costs
from reconcile.result import Cause


def exchange_news(causes: Sequence[Cause], exchange: float, fast: float, costs: Costs) -> dict[str, Any] | None:
    """Return the figures of the news, where it is likely and both readings of it still stand.

    Parameters
    ----------
    causes : sequence of Cause
    exchange, fast : float
        Chances that the two meters disagree, and that the new one is fast.
    costs : Costs

    Returns
    -------
    dict or None
        ``chance``, ``percent`` (how much more the new one counts), ``since``, ``fast``, ``slow``.
    """
    new = next((c for c in causes if c.code == "meter-step"), None)
    old = next((c for c in causes if c.code == "old-meter-slow"), None)
    if exchange < costs.likely or new is None or old is None or old.turn is None:
        return None
    if min(new.probability, old.probability) < costs.open_at or new.size is None or old.size is None:
        return None
    if max(new.probability, old.probability) >= 1.0 - costs.desk_at:
        return None
    percent = new.size if new.probability >= old.probability else 100.0 * old.size / max(100.0 - old.size, 1.0)
    return {
        "chance": min(exchange, 1.0), "percent": abs(percent), "since": old.turn,
        "fast": min(fast, 1.0), "slow": old.probability,
    }  # fmt: skip
