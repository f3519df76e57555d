"""What the people of an invented house do: habits, weekends, visitors, holidays, a household that grows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from climate import Floats, ar1


@dataclass(frozen=True)
class Household:
    """Factors of each day, shape (days,), on what people use (all 1 is a house at home with even habits).

    ``home`` is 0 on days away. ``shared`` moves everything people use together; ``scatter`` is the slow
    drift of each appliance by itself (one standard deviation).
    """

    home: Floats
    shared: Floats
    scatter: float = 0.0

    def factor(self, rng: np.random.Generator) -> Floats:
        """Factor of each day for one appliance."""
        own = np.ones(len(self.home))
        if self.scatter > 0:
            own = np.exp(self.scatter * heavy_ar1(rng, len(own), 0.97))
        return np.asarray(self.home * self.shared * own)


def heavy_ar1(rng: np.random.Generator, days: int, persistence: float) -> Floats:
    """A slow wander of unit variance whose shocks have heavy tails: Student's t, 4 degrees of freedom."""
    shocks = np.clip(rng.standard_t(4, days) / np.sqrt(2.0), -6, 6)
    return np.clip(ar1(shocks, persistence), -4, 4)


def even_household(rng: np.random.Generator, days: int, readings: tuple[int, ...]) -> Household:
    """The plain world: nobody away, habits differ by 5 % from one billing period to the next."""
    period = np.searchsorted(np.array(readings), np.arange(days), side="right")
    return Household(np.ones(days), np.exp(0.05 * rng.standard_normal(len(readings) + 1))[period])


def real_household(rng: np.random.Generator, days: int, first_ordinal: int) -> Household:
    """Habits that persist and have heavy tails, weekends, visitors, a night or two away."""
    shared = np.exp(0.07 * heavy_ar1(rng, days, 0.975))
    weekday = (np.arange(days) + first_ordinal) % 7
    weekend = 1.0 + rng.uniform(0.0, 0.35)
    week = np.where(weekday < 2, weekend, 1.0)
    shared = shared * week / week.mean()
    for _ in range(int(rng.poisson(days / 150))):
        start, stay = int(rng.integers(0, days)), int(rng.integers(2, 12))
        shared[start : start + stay] *= 1.0 + rng.uniform(0.2, 0.6)
    home = np.ones(days)
    for _ in range(int(rng.poisson(days / 90))):
        start, away = int(rng.integers(0, days)), int(rng.integers(1, 4))
        home[start : start + away] = 0.15
    return Household(home, shared, scatter=0.08)


def away(household: Household, start: int, length: int) -> Household:
    """The same household with the house empty for some days: standby and boxes go on, hands do not."""
    home = household.home.copy()
    home[start : start + length] = 0.03
    return Household(home, household.shared, household.scatter)


def grown(household: Household, start: int, more: float) -> Household:
    """The same household with everything people use raised by a part from a day on."""
    shared = household.shared.copy()
    shared[start:] *= 1.0 + more
    return Household(household.home, shared, household.scatter)


def joined(household: Household, start: int, length: int, more: float) -> Household:
    """The same household with guests for some days: everything people use is raised by a part."""
    shared = household.shared.copy()
    shared[start : start + length] *= 1.0 + more
    return Household(household.home, shared, household.scatter)
