"""What a kWh costs by the bills themselves: money against energy, bill by bill."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FEWEST = 5
"""Bills needed to draw a line through (our choice)."""
APART = 0.1
"""Two bills tell a price only where their daily use differs by this part of the middle one (our choice)."""


@dataclass(frozen=True, slots=True)
class PriceLine:
    """Money of a bill as so much a day and so much a kWh.

    Attributes
    ----------
    per_day, per_kwh : float
        Prices [money/d, money/kWh].
    scatter : float
        Part of its money by which nine bills in ten stand off the line at most.
    middle_use : float
        Daily use of the middle bill [kWh/d].
    least_per_kwh, most_per_kwh : float
        Limits of the price between two bills, for half of the pairs: one odd bill cannot move them.
    """

    per_day: float
    per_kwh: float
    scatter: float
    middle_use: float
    least_per_kwh: float
    most_per_kwh: float

    def between(self, days: float, kwh: float) -> tuple[float, float]:
        """Limits of a bill's money: the line turned about its middle to the slopes of half of the pairs."""
        middle = self.per_day + self.per_kwh * self.middle_use
        ends = sorted(
            days * (middle + slope * (kwh / days - self.middle_use))
            for slope in (self.least_per_kwh, self.most_per_kwh)
        )
        return ends[0], ends[1]

    def cost(self, days: float, kwh: float) -> float:
        """Money of a bill by the line."""
        return self.per_day * days + self.per_kwh * kwh


def slopes(days: Sequence[float], kwh: Sequence[float], amount: Sequence[float]) -> Floats:
    """Price a kWh between every two bills whose daily use differs [money/kWh], in order of size.

    Parameters
    ----------
    days, kwh, amount : sequence of float
        Of each bill; days above zero.

    Returns
    -------
    ndarray
    """
    length = np.asarray(days, dtype=float)
    use, cost = np.asarray(kwh, dtype=float) / length, np.asarray(amount, dtype=float) / length
    a, b = np.triu_indices(len(use), 1)
    far = np.abs(use[b] - use[a]) > APART * abs(float(np.median(use)))
    return np.sort((cost[b] - cost[a])[far] / (use[b] - use[a])[far])


def price_line(days: Sequence[float], kwh: Sequence[float], amount: Sequence[float]) -> PriceLine | None:
    """Draw the line that most bills stand near: the middle slope of all pairs, so that a few odd bills do not move it.

    Parameters
    ----------
    days, kwh, amount : sequence of float
        Of each bill; days above zero.

    Returns
    -------
    PriceLine or None
        None where the bills are too few or too alike.

    References
    ----------
    P. K. Sen, "Estimates of the regression coefficient based on Kendall's tau", JASA 63, 1968 (from memory).

    Examples
    --------
    >>> line = price_line([30.0] * 6, [300, 500, 400, 900, 700, 600], [42, 66, 54, 114, 90, 78])
    >>> round(line.per_day, 3), round(line.per_kwh, 3), round(line.scatter, 3)
    (0.2, 0.12, 0.0)
    """
    found = slopes(days, kwh, amount)
    if len(kwh) < FEWEST or len(found) < FEWEST:
        return None
    length = np.asarray(days, dtype=float)
    use, cost = np.asarray(kwh, dtype=float), np.asarray(amount, dtype=float)
    per_kwh = float(np.median(found))
    per_day = float(np.median((cost - per_kwh * use) / length))
    by_line = per_day * length + per_kwh * use
    off = np.abs(cost - by_line) / np.maximum(np.maximum(np.abs(cost), np.abs(by_line)), 1e-9)
    least, most = (float(x) for x in np.quantile(found, (0.25, 0.75)))
    scatter = float(np.quantile(off, 0.9, method="lower"))
    return PriceLine(per_day, per_kwh, scatter, float(np.median(use / length)), least, most)
