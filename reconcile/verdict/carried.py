"""What of the bills marked high is accounted for: the causes an answer tells must carry the energy that it tells."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from reconcile.facts import Finding
from reconcile.kinds import Flag
from reconcile.result import Cause, Period

CARRIES = 0.5
"""Part of what the bills marked high are over from which a cause is said to be why (our choice: most of it)."""


def carried(cause: Cause, rows: Sequence[Period]) -> float:
    """Return what a cause has on the bills marked high [kWh]."""
    return sum(kwh for kwh, row in zip(cause.pattern_kwh, rows, strict=False) if row.flag is Flag.OVER)


def made_good(findings: Sequence[Finding], rows: Sequence[Period]) -> float:
    """Return what bills marked high hold of estimates before them that were too low [kWh]."""
    late = [f for f in findings if f.code == "catch-up" and (f.kwh or 0.0) > 0.0]
    return sum(f.kwh or 0.0 for f in late if any(rows[i].flag is Flag.OVER for i in f.periods))


def causes_of(leading: Cause, likely: Sequence[Cause], rows: Sequence[Period], least: float) -> list[Cause]:
    """Return the causes that an answer tells: the leading one, after another that carries more where it has little.

    Parameters
    ----------
    likely : sequence of Cause
        Those likely enough to be told.
    least : float
        What of the bills marked high is to be carried [kWh].
    """
    own = carried(leading, rows)
    if own >= least:
        return [leading]
    others = [cause for cause in likely if cause.code not in ("none", leading.code)]
    most = max(others, key=lambda cause: carried(cause, rows), default=leading)
    return [most, leading] if carried(most, rows) > max(own, 0.0) else [leading]


def accounted(
    leading: Cause | None, likely: Sequence[Cause], findings: Sequence[Finding], rows: Sequence[Period]
) -> Mapping[str, Any]:
    """Return what an answer tells of why bills are high, in figures.

    Returns
    -------
    dict
        ``told`` (the causes), ``made_good`` (of estimates before [kWh], or None) and ``makes`` (what of the bills
        marked high the causes make, where that is little of it [kWh], or None).
    """
    over = sum(row.excess_kwh or 0.0 for row in rows if row.flag is Flag.OVER)
    late = made_good(findings, rows)
    least = CARRIES * max(over - late, 0.0)
    told = [] if leading is None else causes_of(leading, likely, rows, least)
    makes = sum(carried(cause, rows) for cause in told)
    little = bool(told) and 0.0 < makes < CARRIES * over
    return {"told": told, "made_good": late or None, "makes": makes if little else None}
