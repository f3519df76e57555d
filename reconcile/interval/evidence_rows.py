"""The signals of interval data as evidence for the weighing: windows, values, and what is known of their noise."""

from __future__ import annotations

import numpy as np

from reconcile.clock import as_day
from reconcile.interval.base_load import BaseLoad
from reconcile.interval.found import Evidence
from reconcile.interval.gain import GainSignal

KWH_PER_DAY = 0.024
"""Energy of a watt in a day [kWh/(W d)]."""


def evidence_of(gain: GainSignal | None, base: BaseLoad | None) -> tuple[Evidence, ...]:
    """Bring the signals into one form.

    Parameters
    ----------
    gain : GainSignal or None
    base : BaseLoad or None

    Returns
    -------
    tuple of Evidence
        Of signals with at least two windows.
    """
    found = []
    if gain is not None and len(gain.value) > 1:
        change = gain.change
        days = [as_day(day) if change.found else None for day in (change.day, change.low, change.high)]
        found.append(
            Evidence(
                "gain",
                tuple(as_day(int(day)) for day in gain.begins),
                tuple(as_day(int(day)) for day in gain.ends),
                gain.value,
                gain.covariance,
                0.0,
                *days,
            )
        )
    if base is not None and len(base.value) > 1:
        onset = base.onset
        found.append(
            Evidence(
                "base-load",
                tuple(as_day(int(day)) for day in base.begins),
                tuple(as_day(int(day)) for day in base.ends),
                KWH_PER_DAY * base.value,
                KWH_PER_DAY**2 * base.covariance,
                KWH_PER_DAY * float(np.median(base.watts)),
                *((None, None, None) if onset is None else (onset.day, onset.low, onset.high)),
            )
        )
    return tuple(found)
