"""What a load can use at the most: no more than was billed. One that is known by its name alone may be anything up to
that, so that what it is taken to use before a bill is weighed is held below it.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reconcile.loads.energy import LoadEnergy

Floats = NDArray[np.float64]

VAGUE_LOG_SD = 0.35
"""Standard uncertainty of a load's logarithm from which its size is held below what was billed: 95 % limits of a factor
of two. One that is known better speaks against the bills, and is heard (our choice)."""

UPPER = 1.645
"""Standard normal quantile that 5 % lie above."""


def within_bills(energy: LoadEnergy, billed_kwh: Floats) -> LoadEnergy:
    """Hold the upper 95 % limit of every load of which little is known at what was billed in all.

    Parameters
    ----------
    energy : LoadEnergy
        Of J loads in n periods.
    billed_kwh : ndarray, shape (n,)
        NaN where a period has no energy of its own [kWh].

    Returns
    -------
    LoadEnergy
        Smaller where it must be, as doubtful as before.

    Notes
    -----
    Of a lognormal of mean a and logarithmic standard uncertainty s that limit is a exp(1.645 s - s^2 / 2).
    """
    known = np.isfinite(billed_kwh)
    billed = float(np.maximum(billed_kwh[known], 0.0).sum())
    if billed <= 0.0:
        return energy
    nominal, s = energy.kwh[known].sum(axis=0), energy.log_sd
    most = billed * np.exp(s**2 / 2.0 - UPPER * s)
    part = np.where((s >= VAGUE_LOG_SD) & (nominal > most), most / np.maximum(nominal, 1e-9), 1.0)
    return replace(
        energy,
        kwh=energy.kwh * part,
        balance_slope=energy.balance_slope * part,
        base_watts=energy.base_watts * part,
        climate=energy.climate * part[:, None],
    )
