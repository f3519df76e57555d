"""Daily totals of interval data against weather, weekday and season; days away."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from itertools import product
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, as_day, day_numbers, local_seconds
from reconcile.distributions import MEDIAN_TO_SD
from reconcile.house import House, Interval
from reconcile.interval.by_degree import ByDegree, Spell
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

BALANCE_HEATING_C, BALANCE_COOLING_C = (10.0, 13.0, 16.0, 18.0), (18.0, 20.0, 22.0, 24.0)
"""Outdoor temperatures tried as those at which heating and cooling begin [degC] (our own choice of grid)."""

LEAST_DAYS = 30
WHOLE_DAY = 0.98
"""Fewest days for a model, and the part of a day that must be recorded (our own judgement)."""

AWAY_SHARE, AWAY_SDS, AWAY_NIGHTS = 0.4, 2.0, 2
"""A day is one away where what people do, beyond what never rests and the weather, is less than this part of the usual,
and the day so many standard errors below what the model expects, and so are its neighbors, for at least so many days
(our own judgement): heating and cooling may go on."""

AWAY_WEEK, AWAY_WEEK_SDS = 7, 3.0
"""The same of the mean of so many days in a row, where single ones scatter too much, in its own standard errors (our
own judgement)."""

EVEN_DAYS, EVEN_SHARE = 4, 0.08
"""Days in a row that differ by no more than this part of them: so alike are days on which nobody is up (our own
judgement); what the list holds round the clock is then taken for what never rests, too."""

MOST_AWAY = 0.2
"""Where more than this part of all days looks so, it is the model that is off, and none is told (our own judgement)."""

EMPTY_DAYS, EMPTY_GAP, MOST_EMPTY = 5, 5, 6
"""Days away from which a bill may show them, days between two stretches that are taken for one, and most of them that
are weighed, the longest first (our own judgement)."""

EDGE_DAYS, EDGE_SHARE, ABOUT_DAYS = 4, 0.6, 28
"""Days beside such a stretch, and the part of what people do by which they stand above as many within it; less where
its days are more alike than those of so many before and after. An absence begins and ends at once, and nobody's days
are alike, while the days before something rose are low, were so before, and differ as ever (our own judgement)."""

LEAST_PEOPLE_SDS = 1.5
"""What people do, in standard errors of a day, below which a stretch that looks empty is as well the model's (our own
judgement)."""

EVENING, NIGHT = (18, 23), 6
"""Hours at which somebody at home is up, and that by which a night ends [h] (our own judgement)."""

EVENING_SHARE = 0.45
"""A stretch is lived in where its evenings stand above the least of their night, as a mean, by more than this part of
what they do in the middle: lights and a meal go on where a cooler at its full size, or a car that is not charged, make
a day look low (our own judgement: stretches of homes that were never empty stood at half of it and more, absences with
pump and cooler running on at two fifths and less)."""

BUSY_SHARE, BUSY_SDS, BUSY_DAYS = 1.5, 3.0, 3
"""A stretch of at least so many days is one of guests, or of something that ran, where each takes more than this many
times what the model expects, and more than so many standard errors above it (our own judgement)."""


@dataclass(frozen=True, slots=True)
class Lift:
    """Energy a day from one day to another, since 1970-01-01 [d]; below zero where something ended [kWh/d]."""

    begin: float
    end: float
    kwh_a_day: float


@dataclass(frozen=True, slots=True, eq=False)
class DailyUse:
    """Totals by day, and what weather and weekday lead to expect."""

    days: Ints
    """Days since 1970-01-01 [d], shape (n,)."""
    kwh: Floats
    """Shape (n,)."""
    mean_c: Floats
    """Outdoor temperature, NaN where unknown [degC], shape (n,)."""
    expected_kwh: Floats
    """Shape (n,)."""
    heating_kwh_per_degree: float
    cooling_kwh_per_degree: float
    """Both: per degree and day [kWh/(K d)]; zero without weather."""
    balance_heating_c: float
    balance_cooling_c: float
    """Both: [degC]"""
    standard_error_kwh: float
    """Of one day about the model."""
    away: tuple[tuple[date, date], ...]
    busy: tuple[tuple[date, date], ...]
    """Both: first and last day of each stretch that looks like nobody at home, or like guests."""
    lift_kwh: Floats
    """Part of what is expected that came with steps of the base load or a timer, since their dates [kWh], shape
    (n,)."""

    guests: tuple[tuple[date, date], ...] = ()
    """First and last day of times of more use that is as well guests' as heating or cooling."""

    def with_guests(self, guests: Sequence[Spell]) -> DailyUse:
        """Return the same with such times, which are among the busy ones."""
        visits = tuple((as_day(one.begin), as_day(one.end - 1)) for one in guests if one.end is not None)
        apart = [span for span in self.busy if not any(a <= span[1] and span[0] <= b for a, b in visits)]
        return replace(self, busy=tuple(sorted([*apart, *visits])), guests=visits)

    @property
    def empty(self) -> tuple[tuple[date, date], ...]:
        """First and last day of each time away that is long enough for a bill to show it."""
        long = [span for span in _joined(self.away) if (span[1] - span[0]).days + 1 >= EMPTY_DAYS]
        return tuple(sorted(sorted(long, key=lambda span: span[0] - span[1])[:MOST_EMPTY]))

    def to_dict(self) -> dict[str, Any]:
        """Return what it tells as plain values."""
        return {
            "heating_kwh_per_degree": self.heating_kwh_per_degree,
            "cooling_kwh_per_degree": self.cooling_kwh_per_degree,
            "balance_heating_c": self.balance_heating_c if self.heating_kwh_per_degree > 0.0 else None,
            "balance_cooling_c": self.balance_cooling_c if self.cooling_kwh_per_degree > 0.0 else None,
            "standard_error_kwh": self.standard_error_kwh,
            "away": [[first.isoformat(), last.isoformat()] for first, last in self.away],
            "empty": [[first.isoformat(), last.isoformat()] for first, last in self.empty],
            "busy": [[first.isoformat(), last.isoformat()] for first, last in self.busy],
        }


def daily_use(
    house: House,
    lifts: Sequence[Lift] = (),
    floor_watts: tuple[float, float] = (0.0, 0.0),
    spells: Sequence[ByDegree] = (),
) -> DailyUse | None:
    """Add the intervals up by day and set them against the weather and the weekday.

    Parameters
    ----------
    house : House
        With interval data.
    lifts : sequence of Lift
        What is known to have begun or ended: so that it is neither weather nor guests.
    floor_watts : tuple of float
        What never rests, before any of it: beside what the list holds round the clock, and with that [W].
    spells : sequence of ByDegree
        More heating or cooling for the same weather, likewise.

    Returns
    -------
    DailyUse or None
        None with fewer than 30 whole days.
    """
    interval = house.interval
    if interval is None or len(interval.kwh) == 0:
        return None
    zone = ZoneInfo(house.timezone)
    local = local_seconds(interval.starts, zone)
    day = local // DAY_SECONDS
    place = day - day[0]
    count = int(place[-1]) + 1
    total = np.bincount(place, weights=interval.kwh, minlength=count)
    covered = np.bincount(place, weights=interval.lengths, minlength=count)
    whole = np.flatnonzero(covered >= WHOLE_DAY * (DAY_SECONDS - HOUR_SECONDS))
    if len(whole) < LEAST_DAYS:
        return None
    days = (whole + day[0]).astype(np.int64)
    kwh: Floats = np.asarray(total[whole], dtype=np.float64)
    mean_c = np.full(len(days), np.nan)
    if house.weather is not None:
        first = as_day(int(days[0]))
        mean_c = house.weather.between(first, as_day(int(days[-1]) + 1))[days - days[0]]
    lift = np.zeros(len(days))
    for one in lifts:
        lift += one.kwh_a_day * ((days >= one.begin) & (days < one.end))
    for side in spells:
        lift += 0.024 * np.interp(days, side.days, side.more)
    fitted = _fit(days, kwh - lift, mean_c)
    expected, slopes, balances = fitted[0] + lift, fitted[1], fitted[2]
    left = kwh - expected
    error = float(MEDIAN_TO_SD * np.median(np.abs(left - np.median(left))))
    people = fitted[0] - _by_weather(mean_c, slopes, balances)
    away = _away(days, people - 0.024 * floor_watts[0], left, error)
    away |= _even(days, kwh, people - 0.024 * floor_watts[1], left, error)
    away &= away.mean() <= MOST_AWAY
    away = _with_ends(days, away, people - 0.024 * floor_watts[0], left, error)
    away &= ~_lived_in(interval, local, days, away)
    much = np.maximum(BUSY_SHARE * expected, expected + BUSY_SDS * error)
    return DailyUse(
        days,
        kwh,
        mean_c,
        expected,
        slopes[0],
        slopes[1],
        balances[0],
        balances[1],
        error,
        _stretches(days, away, AWAY_NIGHTS),
        _stretches(days, kwh > much, BUSY_DAYS),
        lift,
    )


def _fit(days: Ints, kwh: Floats, mean_c: Floats) -> tuple[Floats, tuple[float, float], tuple[float, float]]:
    """Weekend, degree-days at the balances that fit best, slopes not below zero; odd days count less."""
    weekend = ((days + 3) % 7 >= 5).astype(float)
    plain = np.column_stack([np.ones(len(days)), weekend])
    known = np.isfinite(mean_c)
    if known.mean() <= 0.9:
        return plain @ _robust(plain, kwh), (0.0, 0.0), (np.nan, np.nan)
    filled = np.where(known, mean_c, np.nanmean(mean_c))
    balances = list(product(BALANCE_HEATING_C, BALANCE_COOLING_C))
    degrees = [(np.maximum(heating - filled, 0.0), np.maximum(filled - cooling, 0.0)) for heating, cooling in balances]
    design = np.stack([np.column_stack([plain, *each]) for each in degrees])
    solved = _robust(design, kwh)
    falls = (solved[:, 2:] < 0.0).any(axis=1)
    if falls.any():
        design[falls, :, 2:] *= solved[falls, None, 2:] > 0.0
        solved[falls] = _robust(design[falls], kwh)
    expected = (design @ solved[..., None])[..., 0]
    best = int(np.abs(kwh - expected).sum(axis=1).argmin())
    heating, cooling = np.maximum(solved[best, 2:], 0.0).tolist()
    return expected[best], (heating, cooling), balances[best]


def _away(days: Ints, people: Floats, left: Floats, error: float) -> NDArray[np.bool_]:
    """Days with nobody at home, by themselves or with the days about them."""
    by_itself = (people + left < AWAY_SHARE * people) & (left < -AWAY_SDS * error) & (people > AWAY_SDS * error)
    away: NDArray[np.bool_] = by_itself & (np.append(by_itself[1:], False) | np.append(False, by_itself[:-1]))
    if len(days) < AWAY_WEEK:
        return away
    week = np.lib.stride_tricks.sliding_window_view
    mean_left, usual = (week(part, AWAY_WEEK).mean(axis=1) for part in (left, people))
    sd = AWAY_WEEK_SDS * error / math.sqrt(AWAY_WEEK)
    empty = (usual + mean_left < AWAY_SHARE * usual) & (mean_left < -sd) & (usual > sd)
    empty &= days[AWAY_WEEK - 1 :] - days[: 1 - AWAY_WEEK] == AWAY_WEEK - 1
    low = people + left < people / 2.0
    for at in np.flatnonzero(empty):
        held = at + np.flatnonzero(low[at : at + AWAY_WEEK])
        away[held[0] : held[-1] + 1] = True
    return away


def _even(days: Ints, kwh: Floats, people: Floats, left: Floats, error: float) -> NDArray[np.bool_]:
    """Days with nobody at home, by how alike they are."""
    away = np.zeros(len(days), dtype=bool)
    if len(days) < EVEN_DAYS:
        return away
    each, mean_left, usual = (np.lib.stride_tricks.sliding_window_view(part, EVEN_DAYS) for part in (kwh, left, people))
    mean_left, usual = mean_left.mean(axis=1), usual.mean(axis=1)
    sd = AWAY_WEEK_SDS * error / math.sqrt(EVEN_DAYS)
    empty = np.ptp(each, axis=1) <= EVEN_SHARE * each.mean(axis=1)
    empty &= (usual + mean_left < AWAY_SHARE * usual) & (mean_left < -sd) & (usual > sd)
    empty &= days[EVEN_DAYS - 1 :] - days[: 1 - EVEN_DAYS] == EVEN_DAYS - 1
    for at in np.flatnonzero(empty):
        away[at : at + EVEN_DAYS] = True
    return away


def _with_ends(days: Ints, away: NDArray[np.bool_], people: Floats, left: Floats, error: float) -> NDArray[np.bool_]:
    """Leave out long stretches that do not begin and end at once, or may as well be the model's."""
    kept = away.copy()
    for first, last in _joined(_stretches(days, away, AWAY_NIGHTS)):
        if (last - first).days + 1 < EMPTY_DAYS:
            continue
        a, b = np.searchsorted(days, day_numbers([first, last])).tolist()
        before, within, after = left[max(a - ABOUT_DAYS, 0) : a], left[a : b + 1], left[b + 1 : b + 1 + ABOUT_DAYS]
        beside = [(before[-EDGE_DAYS:], within[:EDGE_DAYS]), (after[:EDGE_DAYS], within[-EDGE_DAYS:])]
        edges = [np.median(out) - np.median(inner) for out, inner in beside if len(out) == EDGE_DAYS]
        lived_in = [np.abs(np.diff(part)).mean() for part in (before, after) if len(part) >= EDGE_DAYS]
        unlike = min(np.abs(np.diff(within)).mean() / max(np.mean(lived_in), 1e-9), 1.0) if lived_in else 1.0
        usual = people[a : b + 1].mean()
        if usual < LEAST_PEOPLE_SDS * error or min(edges, default=math.inf) < EDGE_SHARE * unlike * usual:
            kept[a : b + 1] = False
    return kept


def _lived_in(interval: Interval, local: Ints, days: Ints, away: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Stretches of days away whose evenings show somebody at home; none where the data tell no hours."""
    lived = np.zeros(len(days), dtype=bool)
    if not away.any() or interval.step_seconds > HOUR_SECONDS:
        return lived
    hour = local // HOUR_SECONDS - days[0] * 24
    shape = (int(days[-1] - days[0]) + 1, 24)
    here = (hour >= 0) & (hour < shape[0] * shape[1])
    by_hour = np.bincount(hour[here], weights=interval.kwh[here], minlength=shape[0] * shape[1]).reshape(shape)
    by_hour = by_hour[days - days[0]]
    evening = by_hour[:, EVENING[0] : EVENING[1]].mean(axis=1)
    dark = np.concatenate([by_hour[:, :NIGHT], by_hour[:, EVENING[0] :]], axis=1)  # panels send back by day
    above = evening - dark.min(axis=1)
    usual = float(np.median(above[~away]))
    edges = np.flatnonzero(np.diff(np.concatenate([[False], away, [False]]).astype(np.int8)))
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        lived[a:b] = above[a:b].mean() > EVENING_SHARE * usual
    return lived


def _joined(spans: Sequence[tuple[date, date]]) -> list[tuple[date, date]]:
    """Take stretches that are few days apart for one."""
    joined: list[tuple[date, date]] = []
    for first, last in spans:
        if joined and (first - joined[-1][1]).days <= EMPTY_GAP + 1:
            first = joined.pop()[0]
        joined.append((first, last))
    return joined


def _by_weather(mean_c: Floats, slopes: tuple[float, float], balances: tuple[float, float]) -> Floats:
    """Heating and cooling of each day; none where the weather is unknown [kWh]."""
    heating, cooling = np.maximum(balances[0] - mean_c, 0.0), np.maximum(mean_c - balances[1], 0.0)
    return np.nan_to_num(slopes[0] * heating + slopes[1] * cooling)


def _robust(design: Floats, kwh: Floats) -> Floats:
    """Fit the days by one design (n, k) or by each of several (m, n, k); days farther off count less."""
    weight = np.ones(design.shape[:-1])
    solved: Floats = np.zeros(0)
    ridge = 1e-9 * np.eye(design.shape[-1])
    for _ in range(4):
        turned = np.swapaxes(design * weight[..., None], -1, -2)
        solved = np.asarray(np.linalg.solve(turned @ design + ridge, (turned @ kwh)[..., None]), dtype=np.float64)
        left = np.abs(kwh - (design @ solved)[..., 0])
        scale = MEDIAN_TO_SD * np.median(left, axis=-1, keepdims=True) + 1e-9
        weight = np.minimum(1.0, 1.5 * scale / np.maximum(left, 1e-12))
    return solved[..., 0]


def _stretches(days: Ints, odd: NDArray[np.bool_], least: int) -> tuple[tuple[date, date], ...]:
    """First and last of odd days one after another, so many at the least."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], odd, [False]]).astype(np.int8)))
    stretches = [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    return tuple((as_day(int(days[a])), as_day(int(days[b]))) for a, b in stretches if days[b] - days[a] + 1 >= least)
