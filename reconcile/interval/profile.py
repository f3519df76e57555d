"""The usual day of a house: mean power by hour of the day, for weekdays and weekends of each quarter of the year."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, local_seconds
from reconcile.house import Interval
from reconcile.records import dataclass

QUARTERS = ((12, 1, 2), (3, 4, 5), (6, 7, 8), (9, 10, 11))
"""Months of each quarter, as weather services count seasons (common practice)."""

LEAST_DAYS = 5
"""Days of a kind below which no mean is told (our own judgement)."""


@dataclass(frozen=True, slots=True, eq=False)
class DayProfile:
    """Mean power of each hour of one kind of day."""

    months: tuple[int, ...]
    weekend: bool
    """Saturdays and Sundays, or the other days."""
    days: int
    """Days behind it."""
    watts: NDArray[np.float64]
    """By local clock hour [W], shape (24,)."""

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain values."""
        return {
            "months": list(self.months),
            "weekend": self.weekend,
            "days": self.days,
            "watts": [float(watts) for watts in self.watts],
        }


def day_profiles(interval: Interval, zone: ZoneInfo) -> tuple[DayProfile, ...]:
    """Average the hours of the day, by quarter of the year and for weekdays and weekends.

    Parameters
    ----------
    zone : ZoneInfo
        The house's zone.

    Returns
    -------
    tuple of DayProfile
        Those with days enough in every hour; none where the intervals are longer than an hour.
    """
    known = np.isfinite(interval.kwh) & (interval.lengths <= HOUR_SECONDS)
    if not known.any():
        return ()
    local = local_seconds(interval.starts[known], zone)
    day, hour = local // DAY_SECONDS, local % DAY_SECONDS // HOUR_SECONDS
    months = day.astype("datetime64[D]").astype("datetime64[M]").astype(np.int64) % 12 + 1
    quarter = months % 12 // 3
    weekend = (day + 3) % 7 >= 5  # 1970-01-01 was a Thursday
    kind = 2 * quarter + weekend
    cell = kind * 24 + hour
    cells = 2 * len(QUARTERS) * 24
    kwh = np.bincount(cell, weights=interval.kwh[known], minlength=cells).reshape(-1, 24)
    hours = np.bincount(cell, weights=interval.lengths[known], minlength=cells).reshape(-1, 24) / HOUR_SECONDS
    days = np.bincount(kind[np.unique(day, return_index=True)[1]], minlength=2 * len(QUARTERS))
    return tuple(
        DayProfile(QUARTERS[place // 2], bool(place % 2), int(days[place]), 1000.0 * kwh[place] / hours[place])
        for place in range(2 * len(QUARTERS))
        if days[place] >= LEAST_DAYS and hours[place].min() >= LEAST_DAYS
    )
