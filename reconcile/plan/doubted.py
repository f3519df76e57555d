"""Which bills' readings are asked about: one answer for the steps, the letter and the call."""

from __future__ import annotations

from collections.abc import Sequence

from reconcile.kinds import Flag
from reconcile.result import Cause, Period

OF_READINGS = ("single-period", "swap", "swap-back", "catch-up")
"""Causes that lie in the reading of a bill or two."""
PART_OF_IT = 0.1
"""Part of the most that a cause makes of one bill from which another is its own too (our choice)."""


def doubted(rows: Sequence[Period], causes: Sequence[Cause], rule: str) -> tuple[int, ...]:
    """Return the bills whose readings may be off: the high ones, else the low ones; or those between which use moved.

    Parameters
    ----------
    rule : str
        Name of the rule that decided.
    """
    over, under = ({i for i, row in enumerate(rows) if row.flag is flag} for flag in (Flag.OVER, Flag.UNDER))
    marked = over or under
    odd = [cause for cause in causes if cause.code in OF_READINGS and any(cause.pattern_kwh)]
    if odd and (not marked or rule == "moved"):
        pattern = max(odd, key=lambda cause: cause.probability).pattern_kwh
        least = PART_OF_IT * max(abs(kwh) for kwh in pattern)
        marked |= {i for i, row in enumerate(rows) if abs(pattern[i]) > least and row.excess_kwh is not None}
    return tuple(sorted(marked))
