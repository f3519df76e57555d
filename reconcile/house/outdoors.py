"""Outdoor temperatures of every day of the bills, where days are missing too, and what a normal year of the site is.

A missing day is filled from the bill's own printed mean, else from the site's normal course of the year, else from its
neighbors. A period that rests on too few days, with long gaps between, can neither accuse nor vouch.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import lru_cache
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

from reconcile.house import Bill, House, Weather
from reconcile.records import dataclass

Floats = NDArray[np.float64]

YEAR_DAYS = 365.2425
"""Mean year of the calendar [d]: day numbers count from the year 1, and 365.25 would be a fortnight late by now."""

COLDEST_DAY = 20.0
"""Day of the year about which it is coldest north of the tropics: some weeks after the shortest day."""

MONTH_MEANS_TO_WAVE = 1.012
"""Amplitude of a yearly wave over that of its monthly means: (pi / 12) / sin(pi / 12)."""

ANOMALY_C = 4.0
"""How far a month's mean may be from its normal, one standard deviation [K]: 2 is common, twice that in spells."""

NO_CLIMATE_C = 8.0
"""The same where nothing is known of the site's year."""

MOST_UNKNOWN = 0.5
"""Part of the days without a temperature from which, without a climate, the record says nothing of the weather."""

THIN_PERIOD = 0.2
"""Part of a period's days in long gaps from which its weather is thin (our choice)."""

MOST_THIN = 2 / 3
"""Part of the periods with thin weather above which the record is not used: without any, all of them are judged (our
choice: nine months of weather still tell of eighteen)."""

DAY_SD_C = 4.0
"""Scatter of a day about the normal course of the year where no record says [K]; common in temperate climates."""

GOLDEN = 0.5 * (5.0**0.5 - 1.0)
"""Part of a turn by which one after the other falls as far from all others as can be."""

SHORT_GAP_DAYS = 14
"""Gaps up to so long are drawn straight between their neighbors, with the doubt of :func:`gap_variance`; longer ones
follow the year: by then the neighbors say no more than the season (our choice)."""

DAY_TO_DAY = 0.7
"""Correlation of a day's departure from the season with that of the day before (common in temperate climates)."""

FEWEST_DAYS = 120
"""Days of record from which the course of a year is fitted, counted in weeks that have one (our choice)."""

YEAR_PRIOR_SD_C = 12.0
"""Standard deviation over sites of the amplitude of the year [K]; holds a fit to half a year's record."""

SOUTHERN = (
    "Australia/",
    "Antarctica/",
    "Pacific/Auckland",
    "America/Argentina",
    "America/Santiago",
    "Africa/Johannesburg",
)
"""Time zones south of the tropics: there it is coldest in July."""


@dataclass(frozen=True, slots=True, eq=False)
class Climate:
    """Normal course of a year: mean, waves of cosine and sine [degC], and the scatter of a day about it [K]."""

    mean_c: float
    cosine_c: float
    sine_c: float
    sd_c: float
    doubt: Floats | None = None
    """Covariance of the three."""

    def doubt_at(self, ordinals: Floats) -> Floats:
        """How far a month may be from the normal course as it stands here [K]: its weather, and the fit's own doubt."""
        if self.doubt is None:
            return np.full(len(ordinals), ANOMALY_C)
        design = _course(ordinals)
        own = np.einsum("ij,jk,ik->i", design, self.doubt, design)
        return np.asarray(np.sqrt(ANOMALY_C**2 + own), float)

    def at(self, ordinals: Floats) -> Floats:
        """Normal temperature of days given by their ordinal numbers [degC]."""
        turn = 2.0 * np.pi * ordinals / YEAR_DAYS
        normal: Floats = self.mean_c + self.cosine_c * np.cos(turn) + self.sine_c * np.sin(turn)
        return normal


@dataclass(frozen=True, slots=True, eq=False)
class Outdoors:
    """Daily means from the first day of the bills [degC], and which of them nobody knows (1.0 where missing).

    ``missing`` counts neither days for which the bill prints its own mean nor those of short gaps. ``doubt_c`` is how
    far the mean of a period full of missing days may be from what stands here, one standard deviation [K];
    ``short_c2`` is what a day in a short gap adds to the variance of the sum over its period [K^2]. ``spread_c`` is the
    scatter of a day of which only a mean is known about it [K].
    """

    mean_c: Floats
    missing: Floats
    doubt_c: Floats
    short_c2: Floats
    spread_c: Floats

    @property
    def days_c(self) -> Floats:
        """The same, with days of which only a mean is known as days are: degree-days are not those of the mean."""
        return self.mean_c + self.spread_c * _as_days_do(len(self.mean_c))


def climate_of(house: House) -> Climate | None:
    """Return the site's normal year: from its own record, else from its coldest and warmest months, else None."""
    south = house.timezone.startswith(SOUTHERN)
    return _climate(house.weather, house.coldest_month_c, house.warmest_month_c, south)


def _told(coldest: float | None, warmest: float | None, south: bool) -> Climate | None:
    """Return the wave through the means of the coldest and the warmest month; None where they are not told."""
    if coldest is None or warmest is None:
        return None
    swing = 0.5 * (warmest - coldest) * MONTH_MEANS_TO_WAVE
    sign = 1.0 if south else -1.0
    # ordinal 1 is the first of January
    phase = 2.0 * np.pi * COLDEST_DAY / YEAR_DAYS
    return Climate(0.5 * (coldest + warmest), sign * swing * np.cos(phase), sign * swing * np.sin(phase), DAY_SD_C)


@lru_cache(maxsize=16)
def _climate(weather: Weather | None, coldest: float | None, warmest: float | None, south: bool) -> Climate | None:
    stated = _told(coldest, warmest, south)
    if weather is None:
        return stated
    known = np.isfinite(weather.mean_c)
    ordinals = weather.first.toordinal() + np.flatnonzero(known).astype(float)
    if 7 * len(np.unique(ordinals // 7)) < FEWEST_DAYS:  # one day a week says nearly what seven do
        return stated
    design = _course(ordinals)
    centre = np.zeros(3) if stated is None else np.array([stated.mean_c, stated.cosine_c, stated.sine_c])
    # a day says little that its neighbours do not: about one independent value a week
    weight = 7.0 * DAY_SD_C**2 * np.array([1e-6, YEAR_PRIOR_SD_C**-2, YEAR_PRIOR_SD_C**-2])
    if stated is not None:
        weight = 7.0 * np.ones(3) * DAY_SD_C**2
    normal = design.T @ design + np.diag(weight)
    fitted = np.linalg.solve(normal, design.T @ weather.mean_c[known] + weight * centre)
    left = weather.mean_c[known] - design @ fitted
    sd = float(max(left.std(), 1.0))
    return Climate(
        float(fitted[0]), float(fitted[1]), float(fitted[2]), sd, np.linalg.inv(normal) * 7.0 * max(sd, DAY_SD_C) ** 2
    )


def outdoors(house: House, bills: Sequence[Bill], first: date, last: date) -> Outdoors | None:
    """Return daily means over the bills; None where neither a record, a printed mean nor a climate is there.

    Parameters
    ----------
    first, last : date
        First day of the bills, and the day after their last.
    """
    days = (last - first).days
    mean_c = np.full(days, np.nan) if house.weather is None else house.weather.between(first, last)
    printed = [bill for bill in bills if getattr(bill, "mean_temperature_c", None) is not None]
    climate = climate_of(house)
    known = np.isfinite(mean_c)
    if not known.any() and not printed and climate is None:
        return None
    missing = ~known
    short = _short(missing)
    far = missing & (short == 0)
    if climate is None and not printed and far.mean() > MOST_UNKNOWN:
        return None
    stated = house.coldest_month_c is not None and house.warmest_month_c is not None
    if known.any() and not printed and not stated and _mostly_thin(far, bills, first):
        return None
    ordinals = first.toordinal() + np.arange(days, dtype=float)
    at = np.arange(days)
    filled = np.interp(at, at[known], mean_c[known]) if known.any() else np.full(days, np.nan)
    if climate is None and printed:
        climate = _of_printed(printed)
    lengths, which = np.unique(short, return_inverse=True)
    short_c2 = np.array([gap_variance(int(length)) / max(length, 1) for length in lengths])[which]
    doubt = np.where(far, NO_CLIMATE_C, 0.0)
    spread = np.where(far, 0.0 if climate is None else climate.sd_c, 0.0)
    if climate is not None:
        filled[far] = climate.at(ordinals[far])
        doubt[far] = climate.doubt_at(ordinals[far])
    for bill in printed:
        span = slice((bill.start - first).days, (bill.closes - first).days)
        gap = missing[span]
        if gap.any():
            told = float(bill.mean_temperature_c or 0.0)
            off = (told * len(gap) - filled[span].sum()) / int(gap.sum())
            filled[span] += np.where(gap, off, 0.0)
            missing[span] = far[span] = False
            doubt[span], short_c2[span] = 0.0, 0.0
    return Outdoors(filled, far.astype(float), doubt, short_c2, spread)


@lru_cache(maxsize=16)
def _as_days_do(days: int) -> Floats:
    """Normal values of unit variance, any few of them in a row as even as can be."""
    place = np.modf((np.arange(days) + 0.5) * GOLDEN)[0]
    return np.array([NormalDist().inv_cdf(value) for value in place.tolist()])


def _mostly_thin(far: NDArray[np.bool_], bills: Sequence[Bill], first: date) -> bool:
    so_far = [0, *np.cumsum(far).tolist()]
    spans = [((bill.start - first).days, (bill.closes - first).days) for bill in bills]
    thin = [so_far[end] - so_far[begin] > THIN_PERIOD * (end - begin) for begin, end in spans if end > begin]
    return len(thin) > 0 and sum(thin) > MOST_THIN * len(thin)


def known_days(house: House) -> tuple[int, int]:
    """Return how many days of the bills have a temperature, of their own or of the bill they are in; and all days."""
    if not house.bills:
        return 0, 0
    first, last = min(bill.start for bill in house.bills), max(bill.closes for bill in house.bills)
    every = np.zeros((last - first).days, dtype=bool)
    known = np.zeros_like(every)
    recorded = known if house.weather is None else np.isfinite(house.weather.between(first, last))
    for bill in house.bills:
        span = slice((bill.start - first).days, (bill.closes - first).days)
        every[span] = True
        known[span] |= recorded[span] if bill.mean_temperature_c is None else True
    return int(known.sum()), int(every.sum())


def _course(ordinals: Floats) -> NDArray[Any]:
    """Return the three columns of a yearly course: its mean, its cosine, its sine."""
    turn = 2.0 * np.pi * ordinals / YEAR_DAYS
    return np.column_stack([np.ones(len(turn)), np.cos(turn), np.sin(turn)])


def _of_printed(printed: Sequence[Bill]) -> Climate:
    """Course of the year through the means that bills print, or their level where they are few."""
    middle = np.array([bill.start.toordinal() + bill.days / 2.0 for bill in printed])
    means = np.array([bill.mean_temperature_c for bill in printed], dtype=float)
    design = _course(middle)
    weight = np.diag([1e-6, 4.0 / YEAR_PRIOR_SD_C**2, 4.0 / YEAR_PRIOR_SD_C**2])
    fitted = np.linalg.solve(design.T @ design + weight, design.T @ means)
    return Climate(float(fitted[0]), float(fitted[1]), float(fitted[2]), DAY_SD_C)


def _short(missing: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Length of the short gap that each day stands in; 0 on days that are known or in a longer one."""
    out = np.zeros(len(missing), dtype=np.int64)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], missing.astype(np.int8), [0]])))
    for begin, end in zip(edges[::2], edges[1::2], strict=True):
        if end - begin <= SHORT_GAP_DAYS and begin > 0 and end < len(missing):
            out[begin:end] = end - begin
    return out


@lru_cache(maxsize=64)
def gap_variance(days: int) -> float:
    """Variance of the sum of a gap's days that are drawn straight between the days beside it [K^2].

    Days depart from their season by :data:`DAY_SD_C`, and from day to day keep :data:`DAY_TO_DAY` of it.

    Parameters
    ----------
    days : int
        Length of the gap.

    Examples
    --------
    >>> [round(gap_variance(days) ** 0.5 / days, 1) for days in (1, 4, 14)]
    [2.3, 2.5, 2.8]
    """
    if days == 0:
        return 0.0
    at = np.arange(days + 2)
    alike = DAY_SD_C**2 * DAY_TO_DAY ** np.abs(at[:, None] - at)
    off = np.ones(days + 2)
    off[0] = off[-1] = -days / 2.0
    return float(off @ alike @ off)


def normal_year_degree_days(house: House, balance_c: float, *, cooling: bool = False) -> float | None:
    """Degree-days of a normal year of the site [K d]; None where nothing says what its year is like.

    Each month's mean over the record; months that the record lacks follow the course of the year fitted to it, with
    the scatter of its days: E max(0, x) of a normal x. Where the coldest and the warmest month are told, each month is
    between the two, by how far a season of the record and the wave through a table may be off, and those that the
    record lacks follow that wave: one cold winter is no normal year, and tells of no summer.

    Parameters
    ----------
    balance_c : float
        Balance temperature [degC].
    cooling : bool
        Count warmth above it.
    """
    sign = -1.0 if cooling else 1.0
    by_month: dict[int, float] = {}
    years: dict[int, float] = {}
    if house.weather is not None:
        stamps = np.datetime64(house.weather.first, "D") + np.arange(len(house.weather.mean_c))
        month = stamps.astype("datetime64[M]").astype(np.int64) % 12
        depth = np.maximum(sign * (balance_c - house.weather.mean_c), 0.0)
        for m in range(12):
            mine = depth[(month == m) & np.isfinite(depth)]
            if mine.size >= MONTH_KNOWN_DAYS:
                by_month[m], years[m] = float(mine.mean()), mine.size / MONTH_DAYS[m]
    climate = climate_of(house)
    told = _told(house.coldest_month_c, house.warmest_month_c, house.timezone.startswith(SOUTHERN))
    if climate is None and len(by_month) < 12:
        return None
    total = 0.0
    for m, length in enumerate(MONTH_DAYS):
        own = length * by_month.get(m, 0.0)
        normal = told or (None if m in by_month else climate)
        if climate is None or normal is None:
            total += own
            continue
        day = date(2001, m + 1, 1).toordinal() + np.arange(length, dtype=float)
        usual = float(_expected_excess(sign * (balance_c - normal.at(day)), climate.sd_c).sum())
        seasons = years.get(m, 0.0) * (TABLE_SD_C / SEASON_C) ** 2
        total += (seasons * own + usual) / (seasons + 1.0)
    return total


SEASON_C = 1.4
"""How far the mean of a winter or a summer is from that of a normal one, one standard deviation [K]: a winter by 1 K by
the sea to 2 K inland, a summer by about 1 K (from memory)."""

TABLE_SD_C = 0.7
"""How far the wave through the coldest and the warmest month of a table is from a site's normal year, one standard
deviation [K]: springs are late by the sea, the place of the table lies elsewhere (our choice)."""


MONTH_DAYS = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
MONTH_KNOWN_DAYS = 20
"""Days of a month of the record from which its own mean stands for it."""


def _expected_excess(mean: Floats, sd: float) -> Floats:
    """Mean of max(0, x) for x normal."""
    from math import erf

    z = mean / sd
    below = 0.5 * (1.0 + np.array([erf(value / np.sqrt(2.0)) for value in z]))
    excess: Floats = mean * below + sd * np.exp(-0.5 * z * z) / np.sqrt(2.0 * np.pi)
    return excess
