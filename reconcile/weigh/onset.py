"""The day inside a bill from which all use is another, where the bills tell it from the days of readings.

Onsets are tried at readings. A meter that turns twice as fast from the middle of a bill on is then no step at all: the
bill between the two levels fits neither, and something else is found to make up for it. So with a load of kilowatts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reconcile.facts import Facts
from reconcile.weigh.gaussian import Fit
from reconcile.weigh.model import Model
from reconcile.weigh.places import NOWHEN
from reconcile.weigh.spans import MOST_ONSETS

Floats = NDArray[np.float64]

TENTHS = np.arange(10) / 10.0
"""Days tried in each bill, as parts of it: its reading, and nine within (every third day of a month)."""

STEP_SD, LOAD_SD = 0.5, 1.0
"""Size of the step, one standard deviation: all that a meter may be off by, and of a load as much as the home uses by
day in the middle (our choice)."""

FEWEST = 6
"""Bills from which such a day is sought: of fewer, one between two levels says little (our choice)."""

LEAST_GAIN = 2.0
"""What a day within must fit better than the best reading does [nat] (our choice: one in seven)."""


def day_within(model: Model, bills: Fit, facts: Facts, judged: NDArray[np.bool_]) -> Floats:
    """Return the day (ordinal) inside a bill from which all use, or a load, steps far better than at a reading.

    Parameters
    ----------
    model : Model
    bills : Fit
        The judged bills under it, with no pattern in.
    facts : Facts
        Exchanges have days of their own.
    judged : ndarray of bool, shape (n,)

    Returns
    -------
    ndarray, shape (1,) or (0,)
    """
    n = len(judged)
    if judged.sum() < FEWEST or n > MOST_ONSETS:
        return NOWHEN
    use = model.mean + model.factors @ (model.factors[judged].T @ (bills.half.T @ bills.white))
    onsets = model.starts[1:, None] + TENTHS * model.days[1:, None]
    for exchange in facts.exchanges:
        onsets[max(exchange.period - 1, 0), 1:] = np.nan
    onsets = np.round(onsets).ravel()
    on = np.clip((model.starts + model.days - onsets[:, None]) / model.days, 0.0, 1.0)
    level = model.days * float(np.median(model.mean / model.days))
    half, found = 0.5 * (bills.freedom + len(bills.residual)), []
    for shape, sd in ((np.maximum(use, 0.2 * model.mean), STEP_SD), (level, LOAD_SD)):
        seen = bills.half @ (on * shape)[:, judged].T
        with np.errstate(invalid="ignore"):
            gain = (bills.white @ seen) ** 2 / (sd**-2 + np.einsum("ij,ij->j", seen, seen))
            left = np.log(bills.freedom + np.maximum(bills.misfit - gain, 0.0))
        fits = np.where(np.isnan(onsets), -np.inf, -half * left).reshape(n - 1, -1)
        best = int(np.argmax(fits))
        found.append((float(fits.max()), best, float(fits.max() - fits[:, 0].max())))
    _, best, better = max(found)
    return onsets[best : best + 1] if better >= LEAST_GAIN else NOWHEN
