"""Loads of one season: what runs while it is cold, or while it is warm, and is off again in spring or in fall.

A load between two dates may run at any time of the year; most that do are heaters in winter, and window units, pumps
and dehumidifiers in summer. They seldom begin or end on the day of a reading: these windows open and close inside bills
too.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from reconcile.house import House
from reconcile.house.outdoors import COLDEST_DAY, SOUTHERN, YEAR_DAYS, climate_of

Floats = NDArray[np.float64]

SHORTEST_DAYS, LONGEST_DAYS = 40.0, 160.0
"""How long a load of one season runs [d] (our choice: from six weeks to the whole heating season)."""

ASIDE_DAYS = 45.0
"""How far its middle is from the coldest, or the warmest, day of the year at the most [d] (our choice)."""

SHORTEST_SPELL_DAYS, LONGEST_SPELL_DAYS, SPELL_ASIDE_DAYS = 25.0, 215.0, 60.0
"""The same of heating or cooling that takes more for a time: from one bill to a whole season and its shoulders [d]."""

LEAST_KNOWN = 0.8
"""Part of the days whose temperature must be known for that: a cold winter is no cause (our choice)."""

FLAT_C = 2.0
"""Amplitude of the year below which a site has no winter [K] (our choice)."""

MOST_HALVED = 26
"""Bills up to which such a load may begin or end in the middle of one; of more bills, at readings only."""


def season_windows(house: House, opens: Floats, closes: Floats) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    """Lay out every time for which a load of one season may have run: of winter, and of summer.

    Parameters
    ----------
    opens, closes : ndarray, shape (n,)
        First day of each bill, and the day after its last (ordinal).

    Returns
    -------
    winter, summer : tuple of ndarray, shapes (w, n) and (w,)
        Part of each bill in which each runs, and the day (ordinal) on which it starts.
    """
    coldest = _coldest_day(house)
    if coldest is None:
        nothing = np.zeros((0, len(opens))), np.zeros(0)
        return nothing, nothing
    middles = 0.5 * (opens + closes) if len(opens) <= MOST_HALVED else np.zeros(0)
    dates = np.unique(np.concatenate([opens, middles, closes[-1:]]))
    begin, end = (side.ravel() for side in np.meshgrid(dates[1:], dates, indexing="ij"))
    fits = (end - begin >= SHORTEST_DAYS) & (end - begin <= LONGEST_DAYS)
    begin, end = begin[fits], end[fits]
    on = np.minimum(closes, end[:, None]) - np.maximum(opens, begin[:, None])
    mask = np.clip(on / np.maximum(closes - opens, 1.0), 0.0, 1.0)
    return _by_season(mask, begin, end, coldest, ASIDE_DAYS)


def weather_spells(house: House, opens: Floats, closes: Floats) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    """Lay out every time, from reading to reading, for which heating or cooling may have taken more and then no more.

    Parameters
    ----------
    opens, closes : ndarray, shape (n,)
        First day of each bill, and the day after its last (ordinal).

    Returns
    -------
    heating, cooling : tuple of ndarray, shapes (w, n) and (w,)
        Part of each bill in which each acts, and the day (ordinal) on which it starts.
    """
    coldest = _coldest_day(house)
    known = house.weather is not None and bool(np.isfinite(house.weather.mean_c).mean() >= LEAST_KNOWN)
    if coldest is None or not known or len(opens) > MOST_HALVED:
        nothing = np.zeros((0, len(opens))), np.zeros(0)
        return nothing, nothing
    begin, end = (side.ravel() for side in np.meshgrid(opens[1:], opens[1:], indexing="ij"))
    fits = (end - begin >= SHORTEST_SPELL_DAYS) & (end - begin <= LONGEST_SPELL_DAYS)
    begin, end = begin[fits], end[fits]
    mask = ((opens >= begin[:, None]) & (opens < end[:, None])).astype(float)
    return _by_season(mask, begin, end, coldest, SPELL_ASIDE_DAYS)


def _by_season(
    mask: Floats, begin: Floats, end: Floats, coldest: float, aside_days: float
) -> tuple[tuple[Floats, Floats], tuple[Floats, Floats]]:
    """Keep the times whose middle lies near the coldest day of the year, and those near the opposite one."""
    away = np.abs((0.5 * (begin + end) - coldest + YEAR_DAYS / 2.0) % YEAR_DAYS - YEAR_DAYS / 2.0)
    cold, warm = away <= aside_days, away >= YEAR_DAYS / 2.0 - aside_days
    return (mask[cold], begin[cold]), (mask[warm], begin[warm])


def _coldest_day(house: House) -> float | None:
    """Day of the year about which it is coldest at the site; None where the year has no winter."""
    climate = climate_of(house)
    if climate is None:
        return COLDEST_DAY + (YEAR_DAYS / 2.0 if house.timezone.startswith(SOUTHERN) else 0.0)
    if np.hypot(climate.cosine_c, climate.sine_c) < FLAT_C:
        return None
    return float(np.arctan2(-climate.sine_c, -climate.cosine_c) / (2.0 * np.pi) * YEAR_DAYS)
