"""What a load can use at the most: no more than was billed. A load that is known by its name alone may be anything up to
that, and what it is taken to use before a bill is weighed is held below it.
"""

from __future__ import annotations

from dataclasses import replace
from math import erfc, exp, log, log1p, sqrt

import numpy as np
from numpy.typing import NDArray

from reconcile.loads.energy import LoadEnergy

Floats = NDArray[np.float64]

VAGUE_LOG_SD = 0.35
"""Standard uncertainty of a load's logarithm from which its size is held below what was billed: 95 % limits of a factor
of two. One that is known better speaks against the bills, and is heard (our choice)."""


def within_bills(energy: LoadEnergy, billed_kwh: Floats) -> LoadEnergy:
    """Hold every load of which little is known below what was billed.

    Parameters
    ----------
    energy : LoadEnergy
        Of J loads in n periods.
    billed_kwh : ndarray, shape (n,)
        NaN where a period has no energy of its own [kWh].

    Returns
    -------
    LoadEnergy
        Its energies, slopes and doubts those of a lognormal factor that is cut off at the whole bill.
    """
    known = np.isfinite(billed_kwh)
    most = float(np.maximum(billed_kwh[known], 0.0).sum())
    nominal = energy.kwh[known].sum(axis=0)
    part, log_sd = np.ones(len(nominal)), energy.log_sd.copy()
    for j in np.flatnonzero((nominal > 0.0) & (log_sd >= VAGUE_LOG_SD)) if most > 0.0 else ():
        part[j], log_sd[j] = cut_off(most / float(nominal[j]), float(log_sd[j]))
    return replace(
        energy,
        kwh=energy.kwh * part,
        balance_slope=energy.balance_slope * part,
        log_sd=log_sd,
        base_watts=energy.base_watts * part,
        climate=energy.climate * part[:, None],
    )


def cut_off(most: float, log_sd: float) -> tuple[float, float]:
    """Mean of a lognormal factor of mean 1 that is known to be no larger than ``most``, and its new logarithmic doubt.

    Parameters
    ----------
    most : float
        Above zero.
    log_sd : float
        Standard uncertainty of its logarithm.

    Returns
    -------
    mean, log_sd : float

    Notes
    -----
    With z = (ln most + s^2 / 2) / s: E x = Phi(z - s) / Phi(z), E x^2 = exp(s^2) Phi(z - 2 s) / Phi(z).

    Examples
    --------
    >>> cut_off(1e6, 0.6)
    (1.0, 0.6)
    >>> mean, doubt = cut_off(0.5, 0.6)
    >>> bool(0.3 < mean < 0.5) and bool(doubt < 0.6)
    True
    """
    z = (log(most) + 0.5 * log_sd**2) / log_sd
    inside = _below(z)
    if inside > 1.0 - 1e-9:
        return 1.0, log_sd
    if inside < 1e-100:  # beyond all doubt: it is the whole bill, or nearly
        return most, 0.1 * log_sd
    mean = _below(z - log_sd) / inside
    square = exp(log_sd**2) * _below(z - 2.0 * log_sd) / inside
    return mean, sqrt(max(log1p(max(square / mean**2 - 1.0, 0.0)), 1e-4))


def _below(z: float) -> float:
    return 0.5 * erfc(-z / sqrt(2.0))
