"""Heating and cooling where nothing is known of the weather: the same reckoning in every kind of climate there is.

Each climate gives a typical year of days; their mean is what is expected, and how far each lies from it is what is not
known. All of a house's heating and cooling stand in one climate, so that where it heats more it cools less.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from reconcile.array_types import Floats
from reconcile.house import House, Weather
from reconcile.house.outdoors import COLDEST_DAY, DAY_SD_C, SOUTHERN, YEAR_DAYS
from reconcile.records import dataclass


@dataclass(frozen=True, slots=True)
class ClimateKind:
    """One kind of climate: its share of homes, the mean of its year and the half range of its months [degC]."""

    name: str
    share: float
    mean_c: float
    swing_c: float


CLIMATE_KINDS: tuple[ClimateKind, ...] = (
    ClimateKind("very cold", 0.10, 5.0, 15.0),
    ClimateKind("cold", 0.26, 9.5, 13.0),
    ClimateKind("mixed", 0.30, 14.0, 11.0),
    ClimateKind("hot and humid", 0.18, 21.0, 7.5),
    ClimateKind("hot and dry", 0.10, 19.5, 10.0),
    ClimateKind("mild coast", 0.06, 11.5, 6.0),
)
"""Shares of United States homes by climate as a national survey of homes groups them, and usual temperatures of such
places: both from memory, rounded."""

DAYS_OF_SCATTER = 14
"""Days over which a typical year shows the whole scatter of its days about their season (our choice)."""


@lru_cache(maxsize=64)
def typical_weather(kind: ClimateKind, first: date, days: int, southern: bool) -> Weather:
    """Return days of a climate: a yearly wave, and about it the scatter of days, each part of it as often as usual.

    Parameters
    ----------
    southern : bool
        Whether July is the coldest month.
    """
    at = first.toordinal() + np.arange(days)
    wave = np.cos(2.0 * np.pi * (at - COLDEST_DAY) / YEAR_DAYS) * (-1.0 if southern else 1.0)
    # steps of five of fourteen visit every part of the scatter once, warm days among cold ones
    place = (5 * at % DAYS_OF_SCATTER + 0.5) / DAYS_OF_SCATTER
    scatter = np.array([NormalDist().inv_cdf(p) for p in place[:DAYS_OF_SCATTER]])
    mean_c = kind.mean_c - kind.swing_c * wave + DAY_SD_C * scatter[np.arange(days) % len(scatter)]
    mean_c.setflags(write=False)
    return Weather(first, mean_c)


def in_every_climate(house: House, first: date, last: date) -> list[tuple[float, House, Floats]]:
    """Return the house in each kind of climate: its share of homes, the house there, and the days of the bills.

    Parameters
    ----------
    house : House
        Of whose weather nothing is known.
    first, last : date
        First day of the bills, and the day after their last.

    Returns
    -------
    list of tuple
        Share, house with a typical record of whole years, daily means from ``first`` on [degC].
    """
    southern = house.timezone.startswith(SOUTHERN)
    years = -(-(last - first).days // 365)
    opens = last - timedelta(days=365 * years)
    found = []
    for kind in CLIMATE_KINDS:
        weather = typical_weather(kind, opens, 365 * years, southern)
        found.append((kind.share, replace(house, weather=weather), weather.between(first, last)))
    return found
