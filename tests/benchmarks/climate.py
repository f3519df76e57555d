"""Weather of invented places: a season, days that hang together, hot and cold spells, hours of the day.

All figures here are plain guesses of what such climates do, from memory; nothing is fitted to a real station.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Climate:
    """A place [degC]; ``swing_c`` is half the distance from the night's low to the day's high."""

    name: str
    mean_c: float
    season_c: float
    day_sd_c: float
    swing_c: float


CLIMATES = (
    Climate("cold continental", 7.5, 14.5, 4.6, 5.0),
    Climate("temperate", 12.0, 11.5, 4.0, 5.0),
    Climate("hot and humid", 20.5, 8.5, 3.2, 4.5),
    Climate("mild coast", 11.0, 6.5, 2.8, 3.5),
    Climate("hot and dry", 19.0, 11.0, 3.2, 7.5),
)


@dataclass(frozen=True)
class Sky:
    """The weather at the house: daily means, shape (days,), and hourly values, shape (days, 24) [degC]."""

    daily_c: Floats
    hourly_c: Floats
    climate: Climate


def day_of_year(first_ordinal: int, days: int) -> Floats:
    """Days since the turn of a year, near enough for a season."""
    return np.asarray((np.arange(days) + first_ordinal) % 365.25, dtype=float)


def make_sky(rng: np.random.Generator, climate: Climate, first_ordinal: int, days: int) -> Sky:
    """Draw the weather: coldest in late January, days that hang together, years that differ a little."""
    phase = 2 * np.pi * (day_of_year(first_ordinal, days) - 200.0) / 365.25
    season = climate.mean_c + climate.season_c * np.cos(phase)
    winter = 1.0 - 0.30 * np.cos(phase)  # winters are more restless than summers
    shocks = rng.standard_normal(days)
    anomaly = ar1(shocks, 0.72)
    slow = ar1(rng.standard_normal(days), 0.985)  # months that are warm or cold as a whole
    daily = season + climate.day_sd_c * winter * (0.92 * anomaly + 0.25 * slow) + float(rng.normal(0, 0.4))
    swing = climate.swing_c * rng.uniform(0.5, 1.4, days)
    hours = np.cos(2 * np.pi * (np.arange(24) - 15.0) / 24.0)
    return Sky(daily, daily[:, None] + swing[:, None] * hours, climate)


def with_spells(rng: np.random.Generator, sky: Sky, low: int, high: int) -> Sky:
    """Add two to four spells of 8 to 16 days, 6 to 11 K out of the season, between two days."""
    extra = np.zeros(len(sky.daily_c))
    for _ in range(int(rng.integers(2, 5))):
        start, length = int(rng.integers(low, max(high - 16, low + 1))), int(rng.integers(8, 17))
        out_of_season = rng.uniform(6.0, 11.0)
        warm_half = sky.daily_c[start] > sky.climate.mean_c
        # mostly what costs most: cold in winter, heat in summer; now and then the mild opposite
        sign = (1.0 if warm_half else -1.0) * (1.0 if rng.random() < 0.75 else -1.0)
        extra[start : start + length] += sign * out_of_season
    return Sky(sky.daily_c + extra, sky.hourly_c + extra[:, None], sky.climate)


def ar1(shocks: Floats, persistence: float) -> Floats:
    """First-order autoregression of unit variance from unit shocks."""
    from scipy.signal import lfilter

    scale = float(np.sqrt(1.0 - persistence**2))
    driven = scale * shocks
    driven[0] = shocks[0]
    out: Floats = lfilter([1.0], [1.0, -persistence], driven)
    return out


def station(rng: np.random.Generator, daily_c: Floats, *, distant: bool) -> Floats:
    """What the weather file says: the house's own days, or those of a station that is not the house."""
    seen = daily_c.copy()
    if distant:
        n = len(seen)
        season = np.sin(2 * np.pi * np.arange(n) / 365.25 + rng.uniform(0, 2 * np.pi))
        seen = seen + rng.normal(0, 1.2) + 0.7 * season + 0.9 * rng.standard_normal(n)
    return np.asarray(np.round(seen, 1))
