"""Use so large that no people at home cause it: what draws so much may be a danger, and is looked for first."""

from __future__ import annotations

from collections.abc import Sequence

from reconcile.kinds import Flag
from reconcile.result import Cause, Period
from reconcile.texts.cause_words import PEOPLE_KWH_A_DAY

OF_A_LOAD = ("timed-load", "constant-load")


def beyond_people(rows: Sequence[Period], leading: Cause | None) -> float | None:
    """Return what a load, or the high bills together, take more a day where it is more than people do [kWh/d].

    Nothing where another cause is named: more heating of a cold month takes as much, and a single reading may be wrong.
    """
    high = [row for row in rows if row.flag is Flag.OVER and row.excess_kwh is not None]
    days = sum((row.end - row.start).days for row in high)
    if not days or (leading is not None and leading.code not in OF_A_LOAD):
        return None
    a_day = sum(row.excess_kwh or 0.0 for row in high) / days
    if leading is not None:
        a_day = 0.024 * (leading.size or 0.0)
    return a_day if a_day >= PEOPLE_KWH_A_DAY else None
