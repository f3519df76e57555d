"""A load that runs by the clock: the same hours of every day stand higher from one date on, and those beside do not.

A timer switches at the same minute of every day, whatever the weather and whoever is at home. So the power in its
hours, less the power in the hours on either side of them, steps once and stays: what people do moves the hours beside
as well, a load round the clock moves all of them, and a meter's error moves this difference by its own small part.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, as_day, local_seconds
from reconcile.house import Interval
from reconcile.interval.steps import dated_changes, night_weights
from reconcile.interval.windows import LEVEL_SD, drift, edges_of, scatter, slow

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SPAN_DAYS, EVERY_DAYS = 28, 7
"""Days on either side of a date whose usual days are compared, and how far the dates tried are apart [d]."""

LEAST_DAYS = 14
"""Days on either side, at the least, and how long such a load runs [d] (our own judgement)."""

MOST_HOURS = 12
"""Longest run of hours looked for [h]; what runs longer is nearly round the clock."""

BESIDE_HOURS = 2
"""Hours on either side, one hour away, that are compared [h]: the hour between may hold a part of the run."""

LEAST_WATTS, LEAST_SDS = 150.0, 5.0
"""Smaller steps, in watts and in standard uncertainties, are not looked at (our own judgement; the best of some
thousand places is taken)."""

MORE_DAYS = 0.5
"""Share of the days above half the step after the date, less that share before it, at the least (our own judgement: a
timer skips no day, people do)."""

LOW_DAYS, HELD_SHARE = 0.1, 0.75
"""Quantile of the days by the least power in these hours, which must rise too, and by this part of the step (our own
judgement): the load itself draws at any moment, whatever else rests; a habit has days off, and pauses."""

RETURN_DAYS = 60
"""A level that stood in some two weeks of so many days before is a return, as from an absence [d]."""

MOST_TRIED = 4
"""Places looked at closely, the likeliest first."""

NEAR_DAYS = 60
"""Days on either side from which the size of the step is told: farther away the season tells as well [d]."""

LEAST_NOISE_WATTS = 20.0
"""No hour of the day is steadier than this from one day to the next (our own judgement)."""

FLAT_SHARE = 0.5
"""Part of the step that each of its hours must show, and that no hour beside may (our own judgement)."""

WANDER_WATTS, WANDER_SHARE, WANDER_DAYS = 20.0, 0.3, 60.0
"""Slow wandering of the difference as evenings lengthen and habits change: its standard deviation [W] and as a part of
the usual power in these hours, over so many days [d] (our own judgement)."""

WINDOW_DAYS, LEAST_HELD = 28, 4
"""Shortest windows of the evidence, and days below which one says nothing [d]."""


@dataclass(frozen=True, slots=True, eq=False)
class ClockLoad:
    """A load that runs by the clock.

    Attributes
    ----------
    day, low, high : date
        From which day on, with 95 % limits.
    until : date or None
        From which day on no more; None where it still runs when the data end.
    start_hour, hours : float
        Local clock hour at which it switches on, and for how long [h], to the data's own step.
    watts, standard_uncertainty : float
        While it runs [W].
    usual_watts : float
        What the windows held before it [W], which a meter's gain would multiply.
    steady_share : float
        Part of a load round the clock that the windows hold: none where the hours beside are taken off.
    begins, ends : ndarray of int64, shape (m,)
        Windows, days since 1970-01-01 [d].
    value : ndarray, shape (m,)
        Mean power in these hours [W], where it is steadier so less that in the hours beside.
    covariance : ndarray, shape (m, m)
        [W^2]
    """

    day: date
    low: date
    high: date
    until: date | None
    start_hour: float
    hours: float
    watts: float
    standard_uncertainty: float
    usual_watts: float
    steady_share: float
    begins: Ints
    ends: Ints
    value: Floats
    covariance: Floats

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain values."""
        return {
            "since": self.day.isoformat(),
            "since_low": self.low.isoformat(),
            "since_high": self.high.isoformat(),
            "until": None if self.until is None else self.until.isoformat(),
            "start_hour": self.start_hour,
            "hours": self.hours,
            "watts": self.watts,
            "standard_uncertainty_watts": self.standard_uncertainty,
        }


def clock_load(interval: Interval, zone: ZoneInfo) -> ClockLoad | None:
    """Look for the largest load that began to run by the clock.

    Parameters
    ----------
    interval : Interval
    zone : ZoneInfo
        The house's zone.

    Returns
    -------
    ClockLoad or None
        None where there is none, or where the intervals are longer than an hour.
    """
    first, fine = _by_day(interval, zone)
    if len(fine) < 2 * LEAST_DAYS:
        return None
    per_hour = fine.shape[1] // 24
    for at, begin, hours in _likeliest(fine.reshape(len(fine), 24, per_hour).mean(axis=2)):
        run = _run(fine, at, begin * per_hour, hours * per_hour)
        step = None if run is None else _step(fine, at, *run)
        if run is None or step is None:
            continue
        day = int(step.days[step.change])
        again = _run(fine, day, *run)  # about its own day the hours stand out more sharply
        sharper = None if again is None else _step(fine, day, *again)
        if again is not None and sharper is not None:
            run, step = again, sharper
        return _told(fine, first, run, step)
    return None


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """Where the power in some hours of the day steps: places among the days that have it."""

    days: Ints
    here: Floats
    weights: Floats
    alone: bool
    change: int
    low: int
    high: int
    end: int
    watts: float
    sd: float


def _step(fine: Floats, at: int, begin: int, length: int) -> _Step | None:
    """Date and size the step of a run's hours; None where it is not one that a timer makes."""
    inside, beside = _slots(begin, length, fine.shape[1] // 24)
    power = fine[:, inside].mean(axis=1)
    less = power - fine[:, beside].mean(axis=1)
    alone = _unsteady(power) <= _unsteady(less)  # by night nobody is up, and the evening beside it only adds noise
    series = power if alone else less
    days = np.flatnonzero(np.isfinite(series))
    here = series[days]
    change = int(np.searchsorted(days, at))
    if not LEAST_DAYS <= change <= len(days) - LEAST_DAYS:
        return None
    steady = np.clip(here, *np.quantile(here, [0.02, 0.98]))
    weights = night_weights(steady, np.zeros(len(steady)))
    change, low, high = dated_changes(steady, weights, [change])[0]
    end = _end(here, change)
    near = slice(max(change - NEAR_DAYS, 0), change), slice(change, min(end, change + NEAR_DAYS))
    before, after = (here[part] for part in near)
    if min(len(before), len(after)) < LEAST_DAYS:
        return None
    watts, sides = _rises(fine, int(days[change]), inside, beside)
    sd = math.sqrt(_variance(before) + _variance(after))
    if watts < max(LEAST_WATTS, LEAST_SDS * sd) or max(sides) > (1.0 - FLAT_SHARE) * watts:
        return None
    half = float(np.median(before)) + watts / 2.0
    more_days = float(np.mean(here[change:end] > half) - np.mean(here[:change] > half))
    whole = inside[1:-1] if length > 2 else inside  # the first and the last may hold a part of it
    least = fine[:, whole].min(axis=1)
    lows = [float(np.quantile(least[days[part]], LOW_DAYS)) for part in near]
    if more_days < MORE_DAYS or lows[1] - max(lows[0], 0.0) < HELD_SHARE * watts or _returns(here, change, half):
        return None
    return _Step(days, here, weights, alone, change, low, high, end, watts, sd)


def _told(fine: Floats, first: int, run: tuple[int, int], step: _Step) -> ClockLoad:
    per_hour = fine.shape[1] // 24
    inside, _ = _slots(*run, per_hour)
    day, low, high = (int(step.days[place]) + first for place in (step.change, step.low, step.high))
    until = None if step.end == len(step.here) else int(step.days[step.end]) + first
    usual = float(np.median(fine[step.days[: step.change]][:, inside]))
    cuts = [day, *([] if until is None else [until])]
    return ClockLoad(
        as_day(day),
        as_day(low),
        as_day(high),
        None if until is None else as_day(until),
        run[0] / per_hour,
        run[1] / per_hour,
        step.watts,
        step.sd,
        float(np.median(step.here[: step.change])),
        run[1] / per_hour / 24.0 if step.alone else 0.0,
        *_windows(step.days + first, step.here, step.weights, cuts, usual),
    )


def without(load: ClockLoad, interval: Interval, zone: ZoneInfo) -> Interval:
    """Return interval data without what a load that runs by the clock took, so that it is no base load by night."""
    local = local_seconds(interval.starts, zone)
    first = (load.day - date(1970, 1, 1)).days
    last = math.inf if load.until is None else (load.until - date(1970, 1, 1)).days
    since = local - round(load.start_hour * HOUR_SECONDS)
    day = since // DAY_SECONDS
    on = (day >= first) & (day < last) & (since % DAY_SECONDS < load.hours * HOUR_SECONDS)
    taken = load.watts * interval.lengths / 3.6e6
    return replace(interval, kwh=np.where(on, np.maximum(interval.kwh - taken, 0.0), interval.kwh))


def _by_day(interval: Interval, zone: ZoneInfo) -> tuple[int, Floats]:
    """First day since 1970-01-01 [d], and mean power by slot of each day [W]; NaN where readings are missing."""
    step = interval.step_seconds
    if step > HOUR_SECONDS or HOUR_SECONDS % step:
        return 0, np.empty((0, 24))
    slot = max(step, 900) if 900 % step == 0 or step > 900 else HOUR_SECONDS
    local = local_seconds(interval.starts, zone)
    first, last = int(local[0] // DAY_SECONDS), int(local[-1] // DAY_SECONDS)
    cell = (local - first * DAY_SECONDS) // slot
    cells = (last - first + 1) * (DAY_SECONDS // slot)
    inside = (cell >= 0) & (cell < cells) & np.isfinite(interval.kwh)
    kwh = np.bincount(cell[inside], weights=interval.kwh[inside], minlength=cells)
    held = np.bincount(cell[inside], weights=interval.lengths[inside], minlength=cells)
    watts = np.where(held >= slot, kwh * 3.6e6 / np.maximum(held, 1.0), np.nan)
    return first, watts.reshape(-1, DAY_SECONDS // slot)


def _usual(days: Floats) -> Floats:
    """Middle day of some, by slot [W]."""
    whole = days[np.isfinite(days).all(axis=1)]
    return np.median(whole, axis=0) if len(whole) else np.full(days.shape[1], np.nan)


def _slots(begin: int, length: int, per_hour: int) -> tuple[Ints, Ints]:
    """Slots of a run, and those of the hours beside it, one hour away."""
    slots = 24 * per_hour
    before = np.arange(begin - (1 + BESIDE_HOURS) * per_hour, begin - per_hour)
    after = np.arange(begin + length + per_hour, begin + length + (1 + BESIDE_HOURS) * per_hour)
    return np.arange(begin, begin + length) % slots, np.concatenate([before, after]) % slots


def _unsteady(series: Floats) -> float:
    """How much a series of days moves from one day to the next [W]."""
    return float(np.nanmedian(np.abs(np.diff(series))))


def _rises(fine: Floats, at: int, inside: Ints, beside: Ints) -> tuple[float, list[float]]:
    """How far the hours of a run rose, and the hours before and after it [W].

    Of either side the hour next to it counts or those beyond, whichever rose less: people get up.
    """
    per_hour = fine.shape[1] // 24
    rise = _usual(fine[at : at + SPAN_DAYS]) - _usual(fine[max(at - SPAN_DAYS, 0) : at])
    before = inside[0] - 1 - np.arange(per_hour), beside[: len(beside) // 2]
    after = inside[-1] + 1 + np.arange(per_hour), beside[len(beside) // 2 :]
    sides = [min(float(np.mean(rise[part % len(rise)])) for part in side) for side in (before, after)]
    return float(np.median(rise[inside])), sides


def _returns(here: Floats, change: int, half: float) -> bool:
    """Whether the level stood as high in some weeks before: after an absence the old level returns."""
    weeks = [here[end - LEAST_DAYS : end] for end in range(change, max(change - RETURN_DAYS, LEAST_DAYS), -LEAST_DAYS)]
    return any(float(np.median(week)) > half for week in weeks)


def _likeliest(hourly: Floats) -> list[tuple[int, int, int]]:
    """Day, first hour and number of hours of the steps that stand out most from the hours on either side of them."""
    dates = range(LEAST_DAYS, len(hourly) - LEAST_DAYS + 1, EVERY_DAYS)
    rises = np.stack(
        [_usual(hourly[at : at + SPAN_DAYS]) - _usual(hourly[max(at - SPAN_DAYS, 0) : at]) for at in dates]
    )
    change = np.abs(np.diff(hourly, axis=0))
    noise = (1.4826 * np.nanmedian(change, axis=0)) ** 2 + LEAST_NOISE_WATTS**2
    thrice, of = np.tile(rises, 3), np.cumsum(np.concatenate([[0.0], np.tile(noise, 3)]))
    total = np.cumsum(np.concatenate([np.zeros((len(rises), 1)), thrice], axis=1), axis=1)
    starts = np.arange(24, 48)
    least = np.full((len(rises), 24), np.inf)
    found: list[tuple[float, int, int, int]] = []
    for hours in range(1, MOST_HOURS + 1):
        least = np.minimum(least, thrice[:, starts + hours - 1])
        before = (total[:, starts - 1] - total[:, starts - 1 - BESIDE_HOURS]) / BESIDE_HOURS
        after = (total[:, starts + hours + 1 + BESIDE_HOURS] - total[:, starts + hours + 1]) / BESIDE_HOURS
        rise = least - np.maximum(np.maximum(before, after), 0.0)
        around = of[starts - 1] - of[starts - 1 - BESIDE_HOURS]
        around += of[starts + hours + 1 + BESIDE_HOURS] - of[starts + hours + 1]
        inside = (of[starts + hours] - of[starts]) / hours**2
        score = np.where(rise >= 0.5 * LEAST_WATTS, rise / np.sqrt(inside + around / (2 * BESIDE_HOURS) ** 2), -np.inf)
        score[~np.isfinite(score)] = -np.inf
        place = np.unravel_index(int(np.argmax(score)), score.shape)
        found.append((float(score[place]), dates[int(place[0])], int(place[1]), hours))
    best = sorted((one for one in found if np.isfinite(one[0])), reverse=True)
    return list(dict.fromkeys(one[1:] for one in best[:MOST_TRIED]))


def _end(here: Floats, change: int) -> int:
    """Day after the last on which the step stands; all of them where it stands when the data end."""
    level = float(np.median(here[:change]))
    half = level + (float(np.median(here[change : change + SPAN_DAYS])) - level) / 2.0
    if float(np.median(here[-LEAST_DAYS:])) > half:
        return len(here)
    on = np.cumsum(np.where(here[change:] > half, 1.0, -1.0))
    return change + int(np.argmax(on)) + 1


def _variance(values: Floats) -> float:
    """Variance of the median of days, of which two neighbours are taken for one [W^2]."""
    spread = 1.4826 * float(np.median(np.abs(values - np.median(values))))
    return 1.57 * spread**2 * 2.0 / len(values)


def _run(fine: Floats, at: int, begin: int, length: int) -> tuple[int, int] | None:
    """First slot and number of slots of the run that begins at a day, as far as half its step stands; None if it is no
    block.
    """
    shape = _usual(fine[at : at + SPAN_DAYS]) - _usual(fine[max(at - SPAN_DAYS, 0) : at])
    slots = len(shape)
    per_hour = slots // 24
    inside = shape[np.arange(begin, begin + length) % slots]
    beside = [shape[(begin - per_hour - 1) % slots], shape[(begin + length + per_hour) % slots]]
    base = float(min(beside))
    high = shape - base >= FLAT_SHARE * (float(np.median(inside)) - base)
    low = last = begin + length // 2
    if not high[low % slots]:
        return None
    while last - low < slots and high[(low - 1) % slots]:
        low -= 1
    while last - low < slots and high[(last + 1) % slots]:
        last += 1
    count = last - low + 1
    return None if count > MOST_HOURS * per_hour else (low % slots, count)


def _windows(
    days: Ints, here: Floats, weights: Floats, cuts: list[int], usual: float
) -> tuple[Ints, Ints, Floats, Floats]:
    """Mean difference of windows cut where it steps, with their covariance."""
    edges = edges_of(int(days[0]), int(days[-1]) + 1, cuts, WINDOW_DAYS)
    place = np.searchsorted(edges, days, side="right") - 1
    held = [at for at in range(len(edges) - 1) if np.count_nonzero(place == at) >= LEAST_HELD]
    begins, ends = edges[:-1][held], edges[1:][held]
    value = np.array([float(np.median(here[place == at])) for at in held])
    variance = np.array([1.57 / float(weights[place == at].sum()) for at in held])
    middle = (begins + ends) / 2.0
    own = np.diag(variance * scatter(value, variance, np.searchsorted(cuts, middle, side="right")))
    wander = math.hypot(WANDER_WATTS, WANDER_SHARE * max(usual, 0.0))
    own += 0.5 * (drift(middle, wander, WANDER_DAYS) + wander**2 * slow(middle, WANDER_DAYS))
    level = (LEVEL_SD * max(usual, 100.0)) ** 2
    return begins, ends, value - float(np.mean(value)), own + level
