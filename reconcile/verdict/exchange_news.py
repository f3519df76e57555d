"""What an exchange of meters means here: whether its readings are asked for, and the news that the two disagree."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from typing import Any

from reconcile.costs import Costs
from reconcile.decide.rules import Chances
from reconcile.facts import Finding
from reconcile.kinds import Flag
from reconcile.result import Cause, Period

ONE_NEWS = timedelta(days=62)
"""Days within which two readings of a change of meter are one: two monthly bills (our choice)."""
OPEN = ("multiplier", "meter-number", "meter-work")
"""Findings beside which the readings of an exchange may tell whose meter, or which multiplier, the bills are of."""


def exchanges_asked(
    findings: Sequence[Finding], rows: Sequence[Period], odds: Chances | None, costs: Costs
) -> tuple[Finding, ...]:
    """Ask nothing of an exchange of which the bills say nothing.

    Returns
    -------
    tuple of Finding
        An exchange keeps what it asks where a meter may be wrong, where whose meter it is stands open, or where its
        own bill stands out or cannot be judged.
    """
    if odds is None or odds.wrong >= costs.open_at or any(finding.code in OPEN for finding in findings):
        return tuple(findings)
    return tuple(
        replace(finding, asks=())
        if finding.code == "meter-exchange" and all(rows[i].flag is Flag.WITHIN for i in finding.periods)
        else finding
        for finding in findings
    )


def exchange_news(causes: Sequence[Cause], exchange: float, fast: float, costs: Costs) -> dict[str, Any] | None:
    """Return the figures of the news, where it is likely and both readings of it still stand.

    Parameters
    ----------
    exchange, fast : float
        Chances that the two meters disagree, and that the new one is fast.

    Returns
    -------
    dict or None
        ``chance``, ``percent`` (how much more the new one counts), ``since``, ``fast``, ``slow``.
    """
    new = next((c for c in causes if c.code == "meter-step"), None)
    old = next((c for c in causes if c.code == "old-meter-slow"), None)
    if new is None or old is None or old.turn is None:
        return None
    if new.since is not None and abs(new.since - old.turn) <= ONE_NEWS:
        # a day apart or a bill: it is one change, whichever end of a bill it is dated from
        exchange = max(exchange, new.probability + old.probability)
    if exchange < costs.likely:
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


def may_be_doubled(causes: Sequence[Cause], costs: Costs) -> bool:
    """Whether two meters may disagree by a factor of two, which another multiplier makes as well as either meter."""
    for cause in causes:
        if cause.code not in ("meter-step", "old-meter-slow") or cause.unit != "%" or cause.probability < costs.open_at:
            continue
        low, high = (abs(size) if size is not None else 0.0 for size in (cause.size_low, cause.size_high))
        # an old meter that counted half of what the new one does is 50 % low
        doubled = 100.0 if cause.code == "meter-step" else 50.0
        if (cause.size or 0.0) > 0.0 and min(low, high) <= doubled <= max(low, high):
            return True
    return False
