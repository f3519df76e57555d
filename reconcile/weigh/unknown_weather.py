"""What is not known of the weather of each bill [kWh], and how the bills themselves tell what a kelvin uses.

A house whose temperatures nobody knows tells by its seasons how much it heats and cools. A July hotter than others then
takes more, and only where it cools: that is no cause, and each bill is as doubtful as its own season makes it.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reconcile.house import Load
from reconcile.loads.energy import BALANCE_SD_C, LoadEnergy
from reconcile.records import dataclass
from reconcile.weigh import constants as k
from reconcile.weigh.ways import remembered, yearly_swing

Floats = NDArray[np.float64]


def spells(thin: Floats, middle: Floats) -> Floats:
    """Return the covariance of what is not known of the weather [kWh^2]: a cold winter is cold in all its months.

    Parameters
    ----------
    thin : ndarray, shape (n, s)
        One standard deviation of each period, of each of some kinds that go apart [kWh].
    middle : ndarray, shape (n,)
        Day (ordinal) in the middle of each.
    """
    together = k.LASTING_SPELLS * remembered(middle, k.SPELL_DAYS) + (1.0 - k.LASTING_SPELLS) * np.eye(len(middle))
    out: Floats = (thin @ thin.T) * together
    return out


def thin_weather(parts: Floats, weather: NDArray[np.bool_], energy: LoadEnergy, days: Floats) -> Floats:
    """Return the doubt of each period [kWh] whose days of weather are filled: by what a kelvin more or less would use.

    What follows the weather and is not listed is taken to be its usual part of all use.
    """
    mean = parts.sum(axis=1)
    a_kelvin = np.abs(energy.balance_slope).sum(axis=1) / BALANCE_SD_C
    listed = parts[:, weather].sum()
    depth = energy.degree_days.sum()
    if depth > 0.0:
        part = k.UNLISTED_WEATHER_SD if listed > 0.0 or parts.shape[1] > 1 else k.BARE_WEATHER_SD / 2.0
        a_kelvin = np.hypot(a_kelvin, part * mean.sum() / depth * days)
    thin: Floats = energy.doubt_c * a_kelvin + np.where(energy.weather_gap > k.MOST_MISSING, k.THIN_WEATHER * mean, 0.0)
    return np.where(energy.weather_gap < 1.0, thin, energy.doubt_c * a_kelvin)


def off_the_station(loads: Sequence[Load], energy: LoadEnergy, middle: Floats) -> Floats:
    """Return how each period's energy goes with a wave of the year between the weather that a house feels and that of
    its station, for one standard deviation of its cosine and of its sine [kWh].

    Returns
    -------
    ndarray, shape (n, 2)
        No column where no weather is known.
    """
    if not loads or energy.weather_gap.min() >= 1.0:
        return np.zeros((len(middle), 0))
    a_kelvin = energy.balance_slope @ (1.0 / energy.balance_sd_c)
    turn = 2.0 * np.pi * middle / 365.25
    wave: Floats = k.STATION_WAVE_C * np.column_stack([a_kelvin * np.cos(turn), a_kelvin * np.sin(turn)])
    return wave


def above_the_least(billed_kwh: Floats, days: Floats, middle: Floats) -> Floats:
    """Return what may follow the weather where nothing is known of it [kWh]: use above the least of the year, as the
    bills of the same season show it, each but for itself.
    """
    rates = billed_kwh / days
    known = np.isfinite(rates)
    if not known.any():
        return np.zeros(len(days))
    apart = np.abs((middle[:, None] - middle + 182.625) % 365.25 - 182.625)
    near = (apart < k.SAME_SEASON_DAYS) & known & ~np.eye(len(days), dtype=bool)
    above = np.maximum(np.where(known, rates, 0.0) - float(np.quantile(rates[known], k.LEAST_OF_YEAR)), 0.0)
    follows: Floats = days * (near @ above) / np.maximum(near.sum(axis=1), 1)
    return follows


@dataclass(frozen=True, slots=True, eq=False)
class OwnSeasons:
    """What n bills say of the seasons of a house of which neither the weather nor a list is known."""

    least: Floats
    """How much each counts for the least of the year: those of the least use a day, each alike, shape (n,)."""
    depth: Floats
    """Degree-days of each, of all kinds of climate, by how much of either kind the house has, shape (n, 2)."""


def own_seasons(energy: LoadEnergy, days: Floats, billed_kwh: Floats) -> OwnSeasons:
    """Tell the least of the year, and whether what stands above it goes with the cold, the heat or both.

    Degree-days of each kind are scaled by what a least-squares fit to the use above the least, neither below nothing,
    gives for one of them.
    """
    rates = billed_kwh / days
    known = np.isfinite(rates)
    if not known.any():
        return OwnSeasons(np.full(len(days), 1.0 / len(days)), energy.about_balances.sum(axis=2))
    low = float(np.quantile(rates[known], k.LEAST_OF_YEAR))
    least = (known & (np.nan_to_num(rates, nan=np.inf) <= low)).astype(float)
    depth = energy.about_balances.sum(axis=2)
    heard = depth[known] / days[known, None]
    above = np.maximum(rates[known] - low, 0.0)
    part = np.linalg.lstsq(heard, above)[0]
    if part.min() < 0.0:
        pull = heard.T @ above
        alone = pull / np.maximum((heard**2).sum(axis=0), 1e-9)
        part = np.where(alone * pull == (alone * pull).max(), alone, 0.0)
    return OwnSeasons(least / least.sum(), depth * part if part.any() else depth)


def by_kind(depth: Floats) -> Floats:
    """Part of heating and of cooling in what follows the weather in each period, shape (2, n, 1)."""
    part: Floats = (depth.T / np.maximum(depth.sum(axis=1), 1e-9))[:, :, None]
    return part


def by_degree_days(energy: LoadEnergy, days: Floats, per_day: float) -> tuple[Floats, Floats]:
    """Return heating and cooling of an unknown size, in proportion to degree-days, and what an odd month adds to each.

    They may have any of some balance temperatures, or stand in any of some climates, each as likely: the columns have
    the covariance of an unknown size times the degree-days about an unknown balance.

    Returns
    -------
    columns, an_odd_month : ndarray, shapes (n, 2, b) and (n, 2, b)
        [kWh] for a size as large as all use at the mean season; a month off by one standard deviation.
    """
    depth = energy.about_balances
    # A degree-day of a mild climate must not count for more than one of a harsh one: 2 K d a day at the least.
    rate = np.maximum(depth.sum(axis=0) / days.sum(), k.LEAST_RATE) * depth.shape[2] ** 0.5
    height = (depth / days[:, None, None]).max(axis=0)
    heating, cooling = depth.sum(axis=2).T
    winter, summer = k.MONTH_SD_C
    odd_c = summer + (winter - summer) * heating / np.maximum(heating + cooling, 1e-9)
    milder = np.minimum(height / np.array(k.HARSH_C)[:, None], 1.0)
    return per_day * depth / rate, per_day * odd_c[:, None, None] * milder * energy.beyond / rate


def untold(energy: LoadEnergy, days: Floats, middle: Floats, billed_kwh: Floats, odd: Floats | float = 0.0) -> Floats:
    """Return the covariance of what the weather may have done where neither it nor any list is known [kWh^2].

    Parameters
    ----------
    middle : ndarray, shape (n,)
        Day (ordinal) in the middle of each period.
    billed_kwh : ndarray, shape (n,)
        Less any cause that was found; NaN where a period has no energy of its own, or is set aside.
    odd : ndarray, shape (n,)
        Variance that an event of a bill alone may hold [kWh^2]: such a bill tells little of a kelvin.
    """
    return spells(an_odd_month(energy, days, middle, billed_kwh, odd), middle)


def an_odd_month(
    energy: LoadEnergy, days: Floats, middle: Floats, billed_kwh: Floats, odd: Floats | float = 0.0
) -> Floats:
    """Return what a cold month, and a hot one, add to each period as all the others tell it [kWh], shape (n, 2).

    The parameters are those of :func:`untold`.
    """
    known = np.isfinite(billed_kwh)
    if not known.any():
        return np.zeros((len(days), 2))
    per_day = max(float(np.median((billed_kwh / days)[known])), 0.1)
    level = per_day * days
    columns, more = by_degree_days(energy, days, per_day)
    sized = k.BARE_WEATHER_SD * columns.reshape(len(days), -1)
    swing = k.SEASON_SD * yearly_swing(middle, days, per_day, level=False)
    shared = np.column_stack([k.BARE_LEVEL_PERCENT / 196.0 * level, swing, sized])
    scatter = (k.SEEN_SCATTER * level) ** 2 + odd + np.where(known, 0.0, 1e6 * level**2)
    # what a house uses may have moved and stayed: a lasting cause, which is no kelvin's work
    since = (middle - middle[0]) / max(middle[-1] - middle[0], 1.0)
    moved = k.MOVED_SD**2 * np.outer(level, level) * np.minimum(since[:, None], since)
    precision = np.linalg.inv(shared @ shared.T + moved + np.diag(scatter))
    pull = precision @ np.where(known, billed_kwh - level, 0.0)
    alone = pull[:, None] - precision * (pull / np.diagonal(precision))  # each column without its own bill
    sizes = k.BARE_WEATHER_SD * (sized.T @ alone).T.reshape(columns.shape)
    out: Floats = np.maximum((more * sizes).sum(axis=2), 0.0)
    return out
