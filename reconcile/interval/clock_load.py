"""A load that runs by the clock: the same hours of every day stand higher from one date on, and those beside do not.

A timer switches at the same minute of every day, whatever the weather and whoever is at home. So the power in its
hours, less the power in the hours on either side of them, steps once and stays: what people do moves the hours beside
as well, a load round the clock moves all of them, and a meter's error moves this difference by its own small part. What
it takes may differ from day to day, as of a car that is charged for its day's miles: then its hours alone tell it.
"""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import date
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import as_day, standard_time, summer_hours
from reconcile.distributions import quantile_of_known
from reconcile.house import House, Interval
from reconcile.interval.clock_signs import (
    ADDED_SCATTER,
    BOTH,
    EDGED_SCATTER,
    NO_SEASON_DAYS,
    at_a_clock_change,
    by_thermostat,
    edges,
    of_one_season,
    own_scatter,
    returns,
    stands_daily,
    stretches,
    unsteady,
)
from reconcile.interval.clock_size import size_of, slots_of, told_size
from reconcile.interval.hour_blocks import FLAT_SHARE, LEAST_DAYS, LEAST_WATTS, SPANS_DAYS, Block, Hours
from reconcile.interval.steps import dated_changes, night_weights
from reconcile.interval.weather_hours import HELD_SHARE
from reconcile.interval.windows import LEVEL_SD, added_scatter, drift, edges_of, scatter, slow, swing, wandering
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MORE_DAYS = 0.5
"""Share of the days above half the step after the date, less that share before it, at the least (our own judgement: a
timer skips no day, people do)."""

LOW_DAYS, HELD_SHARE_OF_STEP = 0.1, 0.5
"""Quantile of the days by the least power in these hours, which must rise too, by this part of the step (our own
judgement): the load itself draws at any moment, whatever else rests; a habit has days off, and pauses."""

LONG_HOURS, OUTSIDE_SHARE, QUIET_DAYS = (8, 12), 0.3, 0.25
"""A run this long, or so long where weather was taken out of the hours [h], runs round the clock where the least power
of the others rose by this part of its step, by this quantile of the days (our judgement; timers: under 0.02)."""

PAUSE_SHARE = 0.25
"""Part of the step below which the quieter days of a slot show that the run pauses in it (our own judgement)."""

NEAR_DAYS = 60
"""Days on either side from which the size of the step is told: farther away the season tells as well [d]."""

WANDER_WATTS, WANDER_SHARE, WANDER_DAYS = 20.0, 0.3, 60.0
"""Slow wandering of the difference as evenings lengthen and habits change: its standard deviation [W] and as a part of
the usual power in these hours, over so many days [d] (our own judgement)."""

WINDOW_DAYS, LEAST_HELD = 28, 4
"""Shortest windows of the evidence, and days below which one says nothing [d]."""


@dataclass(frozen=True, slots=True, eq=False)
class ClockLoad:
    """A load that runs by the clock."""

    day: date
    low: date
    high: date
    """All: from which day on, with 95 % limits."""
    until: date | None
    """From which day on no more; None where it still runs when the data end."""
    start_hour: float
    hours: float
    """Both: local clock hour at which it switches on, and for how long [h], to the data's own step."""
    watts: float
    standard_uncertainty: float
    """Both: while it runs [W]."""
    usual_watts: float
    """What the windows held before it [W], which a meter's gain would multiply."""
    steady_share: float
    """Part of a load round the clock that the windows hold: none where the hours beside are taken off."""
    begins: Ints
    ends: Ints
    """Both: windows, days since 1970-01-01 [d], shape (m,)."""
    value: Floats
    """Mean power in these hours [W], less that beside where it is steadier so, above what it rests at, shape (m,)."""
    covariance: Floats
    """[W^2], shape (m, m)"""
    by_standard_time: bool = False
    """The hours are those of standard time all year: an hour later on the clock in summer."""
    varies: bool = False
    """What it takes differs from day to day, in the same hours; the watts are those of the mean day."""
    days_a_week: float | None = None
    """On how many days it comes; None where on every one. The hours are then those of a mean run, and the watts what it
    draws in them."""
    rests: tuple[tuple[date, date], ...] = ()
    """From and to which it rested between, as a pump of the summer does in winter."""

    @property
    def share_of_days(self) -> float:
        """Part of the days on which it runs."""
        return 1.0 if self.days_a_week is None else self.days_a_week / 7.0

    @property
    def kwh_a_day(self) -> float:
        """Energy of the mean day [kWh]."""
        return self.watts * self.hours * self.share_of_days / 1000.0

    def to_dict(self) -> dict[str, Any]:
        """Return it as plain values."""
        return {
            "since": self.day.isoformat(),
            "since_low": self.low.isoformat(),
            "since_high": self.high.isoformat(),
            "until": None if self.until is None else self.until.isoformat(),
            "rests": [[begin.isoformat(), end.isoformat()] for begin, end in self.rests],
            "start_hour": self.start_hour,
            "hours": self.hours,
            "by_standard_time": self.by_standard_time,
            "varies": self.varies,
            "days_a_week": self.days_a_week,
            "watts": self.watts,
            "standard_uncertainty_watts": self.standard_uncertainty,
        }


def clock_load(interval: Interval, zone: ZoneInfo, house: House | None = None) -> ClockLoad | None:
    """Look for the largest load that began to run by the clock.

    Parameters
    ----------
    zone : ZoneInfo
        The house's zone.
    house : House or None
        Whose weather is taken out of the hours; with none, as they are.

    Returns
    -------
    ClockLoad or None
        None where there is none, or where the intervals are longer than an hour.
    """
    hours = Hours.of(interval, zone, house)
    if len(hours.raw) < 2 * LEAST_DAYS:
        return None
    standard: Hours | None = None
    for block in hours.likeliest():
        found, layout = _sharpest(hours, block), hours
        run = block if found is None else found[0]
        if _goes_by_standard_time(hours, run, zone):
            standard = standard or Hours.of(interval, standard_time(zone, hours.first), house)
            later = round(summer_hours(zone, run.at + hours.first) * hours.per_hour)
            begin = (run.begin - later) % (24 * hours.per_hour)
            again = _sharpest(standard, replace(run, begin=begin, at=run.at + hours.first - standard.first))
            if again is not None and _goes_by_standard_time(hours, run, zone, again[1].days_on + standard.first):
                found, layout = again, standard
        if found is None:
            continue
        step = found[1]
        days = step.days + layout.first
        cuts = [at + layout.first for at in step.cuts]
        at_change = at_a_clock_change(int(days[step.low]), int(days[step.high]), cuts, zone)
        if not at_change and not (step.varies and of_one_season(house, days, step.on, step.watts)):
            return _told(layout, *found, by_standard_time=layout is not hours)
    return None


def _sharpest(hours: Hours, block: Block) -> tuple[Block, _Step] | None:
    """The hours of a block to its slots, and its step; None where it is not one that a timer makes."""
    run = _sharper(hours, block)
    step = _step(hours, run)
    if step is None:
        return None
    # about its own day the hours stand out more sharply
    again = _sharper(hours, replace(run, at=int(step.days[step.change])))
    sharper = _step(hours, again)
    found = (run, step) if sharper is None else (again, sharper)
    return None if found[1].thermostat else found


def _goes_by_standard_time(hours: Hours, run: Block, zone: ZoneInfo, days_on: Ints | None = None) -> bool:
    """Whether a run stands an hour from its own hours wherever the clock does: a timer that nobody sets to summer time.

    On those days, as long as it runs, the hour that it would reach is held against the hour that it would leave. Some
    weeks tell.
    """
    ahead = np.array([summer_hours(zone, hours.first + day) for day in range(len(hours.fine))])
    moved = ahead - ahead[min(run.at, len(ahead) - 1)]
    days = np.arange(len(moved))
    runs = (days >= run.at) & (True if days_on is None else np.isin(days + hours.first, days_on))
    turned = np.flatnonzero((moved != 0.0) & runs)[:NEAR_DAYS]
    if len(turned) < LEAST_DAYS:
        return False
    slots, hour = 24 * hours.per_hour, hours.per_hour
    first, last = run.begin, run.begin + run.length
    by_clock, beyond = (first, last) if moved[turned[0]] > 0.0 else (last - hour, first - hour)
    reached, left = (np.arange(begin, begin + hour) % slots for begin in (beyond, by_clock))
    more = hours.fine[:, reached].mean(axis=1) - hours.fine[:, left].mean(axis=1)
    return bool(np.nanmedian(more[turned]) > np.nanmedian(more[max(run.at - NEAR_DAYS, 0) : run.at]))


def _sharper(hours: Hours, block: Block) -> Block:
    rise = hours.rise(block.at, SPANS_DAYS[0])
    return block if rise is None else _kept_daily(hours, rise.ends(block))


def _kept_daily(hours: Hours, block: Block) -> Block:
    """The longest part of a run in which the quieter days rose too: a timer skips no day, people do."""
    span, slots = SPANS_DAYS[0], 24 * hours.per_hour
    sides = (hours.fine[part] for part in (slice(max(block.at - span, 0), block.at), slice(block.at, block.at + span)))
    was, now = (quantile_of_known(side, QUIET_DAYS) for side in sides)
    inside = np.arange(block.begin, block.begin + block.length) % slots
    kept = now[inside] - was[inside]
    if np.median(kept) < LEAST_WATTS:
        return block
    rose = np.concatenate([[False], kept >= PAUSE_SHARE * float(np.median(kept)), [False]])
    first, last = np.flatnonzero(rose[1:] != rose[:-1]).reshape(-1, 2).T
    longest = int(np.argmax(last - first))
    held = np.flatnonzero(kept >= FLAT_SHARE * float(np.median(kept)))
    held = held[(held >= first[longest]) & (held < last[longest])]
    begin, length = int(held[0]), int(held[-1] - held[0]) + 1
    return replace(block, begin=(block.begin + begin) % slots, length=length)


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
    runs: tuple[tuple[int, int], ...]
    """Places from and to which it stands; whatever lies between is a rest."""
    watts: float
    sd: float
    varies: bool
    thermostat: bool
    """Heating or cooling may make it, which differs from day to day as they do."""

    @property
    def on(self) -> Ints:
        """Places of the days on which it stands."""
        return np.concatenate([np.arange(begin, end) for begin, end in self.runs])

    @property
    def days_on(self) -> Ints:
        return self.days[self.on]

    @property
    def cuts(self) -> list[int]:
        """Days on which it begins or ends, but for the end of the data."""
        places = [place for run in self.runs for place in run]
        return [int(self.days[place]) for place in places if place < len(self.days)]


def _step(hours: Hours, run: Block) -> _Step | None:
    """Date and size the step of a run's hours; None where it is not one that a timer makes."""
    fine, rise = hours.fine, hours.rise(run.at, SPANS_DAYS[0])
    if rise is None:
        return None
    inside, beside = slots_of(run.begin, run.length, hours.per_hour)
    # the quiet hours of the run tell its day and its pauses, in the others people are up
    steadier = (1.0 / rise.variance[inside]) / float((1.0 / rise.variance[inside]).sum())
    power = fine[:, inside] @ steadier
    less = power - fine[:, beside].mean(axis=1)
    alone = unsteady(power) <= unsteady(less)  # by night nobody is up, and the evening beside it only adds noise
    series = power if alone else less
    days = np.flatnonzero(np.isfinite(series))
    here = series[days]
    change = int(np.searchsorted(days, run.at))
    if not LEAST_DAYS <= change <= len(days) - LEAST_DAYS:
        return None
    steady = np.clip(here, *np.quantile(here, [0.02, 0.98]))
    weights = night_weights(steady, np.zeros(len(steady)))
    change, low, high = dated_changes(steady, weights, [change])[0]
    runs = stretches(less[days], change)  # what came to all hours since is no part of it
    if not runs:
        return None
    on = np.concatenate([np.arange(begin, end) for begin, end in runs])
    near = slice(max(change - NEAR_DAYS, 0), change), slice(change, min(runs[0][1], change + NEAR_DAYS))
    before, after = (here[part] for part in near)
    if min(len(before), len(after)) < LEAST_DAYS:
        return None
    if (sized := size_of(hours, int(days[change]), inside, beside)) is None:
        return None
    watts, sd = sized
    half = float(np.median(before)) + watts / 2.0
    more_days = float(np.mean(here[on] > half) - np.mean(here[:change] > half))
    if more_days < MORE_DAYS or returns(here, change, half, no_weather=hours.weather_taken):
        return None
    quiet = inside[rise.variance[inside] <= np.median(rise.variance[inside])]
    lows = [float(np.quantile(fine[days[part]][:, quiet].min(axis=1), LOW_DAYS)) for part in near]
    varies = lows[1] - max(lows[0], 0.0) < HELD_SHARE_OF_STEP * watts
    added = added_scatter(before, after)
    sharp, steady = edges(rise.watts, inside), added <= ADDED_SCATTER * watts
    may_be_season = hours.blind and max(end - begin for begin, end in runs) < NO_SEASON_DAYS
    if may_be_season and (varies or not ((sharp and steady) or (sharp == BOTH and hours.per_hour > 1))):
        return None
    there = fine[days][:, beside].mean(axis=1)
    own = own_scatter(added, there[near[0]], there[near[1]])
    alike = varies or own <= (EDGED_SCATTER if sharp == BOTH else ADDED_SCATTER) * watts
    taken = (hours.heat + hours.cool)[days[on]][:, inside].mean(axis=1)
    thermostat = by_thermostat(taken, here[on], watts, alike=alike)
    if varies:
        # a night of more or less is no other day of its beginning
        half_full = np.minimum(here, half)
        own = float(np.concatenate([part - np.median(part) for part in (half_full[:change], half_full[change:])]).var())
        change, low, high = dated_changes(half_full, np.full(len(here), 0.5 / max(own, 1.0)), [change])[0]
        runs = ((change, runs[0][1]), *runs[1:])
        near = slice(max(change - NEAR_DAYS, 0), change), slice(change, min(runs[0][1], change + NEAR_DAYS))
        before, after = (here[part] for part in near)
        # by these hours themselves: what ends in those beside is no load here
        if not (sharp and stands_daily(power[days[near[0]]], power[days[on]])):
            return None
        watts = float(after.mean() - before.mean())
        # neighboring days are alike: two count for one
        sd = math.hypot(*(math.sqrt(2.0 * part.var() / len(part)) for part in (before, after)))
    if run.length >= LONG_HOURS[hours.weather_taken] * hours.per_hour:
        outside = np.setdiff1d(np.arange(fine.shape[1]), inside)
        month = SPANS_DAYS[0]  # farther away the season moves the least power as well
        floors = [
            float(np.nanquantile(np.nanmin(fine[days[part]][:, outside], axis=1), QUIET_DAYS))
            for part in (slice(max(change - month, 0), change), slice(change, min(runs[0][1], change + month)))
        ]
        if floors[1] - floors[0] >= OUTSIDE_SHARE * watts:
            return None
    return _Step(days, here, weights, alone, change, low, high, runs, watts, sd, varies, thermostat)


def _told(hours: Hours, run: Block, step: _Step, *, by_standard_time: bool) -> ClockLoad:
    inside, beside = slots_of(run.begin, run.length, hours.per_hour)
    day, low, high = (int(step.days[place]) + hours.first for place in (step.change, step.low, step.high))
    cuts = [at + hours.first for at in step.cuts]
    usual = float(np.median(hours.raw[step.days[: step.change]][:, inside]))
    sized = told_size(hours, step.cuts[0], inside, (step.days_on, step.watts), step.cuts, usual)
    if sized is not None:
        watts, sd = sized
        step = replace(step, sd=max(step.sd, sd)) if step.varies else replace(step, watts=watts, sd=sd)
    weather = (hours.heat + hours.cool)[step.days]
    taken = weather[:, inside].mean(axis=1) - (0.0 if step.alone else weather[:, beside].mean(axis=1))
    return ClockLoad(
        as_day(day),
        as_day(low),
        as_day(high),
        as_day(cuts[-1]) if len(cuts) % 2 == 0 else None,
        run.begin / hours.per_hour,
        run.length / hours.per_hour,
        step.watts,
        step.sd,
        float(np.median(step.here[: step.change])),
        run.length / hours.per_hour / 24.0 if step.alone else 0.0,
        *_windows(step, hours.first, cuts, usual, HELD_SHARE * taken),
        by_standard_time,
        step.varies,
        rests=tuple((as_day(end), as_day(again)) for end, again in zip(cuts[1::2], cuts[2::2], strict=False)),
    )


def _windows(
    step: _Step, first: int, cuts: list[int], usual: float, doubt: Floats
) -> tuple[Ints, Ints, Floats, Floats]:
    """Mean difference of windows cut where it steps, with their covariance.

    What people and the weather may do from month to month is taken as wide as any house has it; how far these hours
    stepped, and how well that is known, as both sides of the step tell it: far from there the season moves them too.
    """
    days, here, weights = step.days + first, step.here, step.weights
    edges = edges_of(int(days[0]), int(days[-1]) + 1, cuts, WINDOW_DAYS)
    place = np.searchsorted(edges, days, side="right") - 1
    held = np.flatnonzero(np.bincount(place, minlength=len(edges) - 1) >= LEAST_HELD)
    begins, ends = edges[:-1][held], edges[1:][held]
    # the middle day of a load that differs from day to day is not its mean, which the bills hold
    usually_of, doubt_of = (np.mean, 1.0) if step.varies else (np.median, 1.57)
    value = np.array([float(usually_of(here[place == at])) for at in held])
    variance = np.array([doubt_of / float(weights[place == at].sum()) for at in held])
    middle = (begins + ends) / 2.0
    own = np.diag(variance * scatter(value, variance, np.searchsorted(cuts, middle, side="right")))
    wander = wandering(value, middle, math.hypot(WANDER_WATTS, WANDER_SHARE * max(usual, 0.0)), WANDER_DAYS)
    own += 0.5 * (drift(middle, wander, WANDER_DAYS) + wander**2 * slow(middle, WANDER_DAYS))
    weather = np.array([float(doubt[place == at].mean()) for at in held])
    own += np.outer(weather, weather) * (slow(middle, WANDER_DAYS) + swing(middle))
    acts = np.clip((ends - np.maximum(begins, np.array(cuts)[:, None])) / (ends - begins), 0.0, 1.0)
    since: Floats = (-1.0) ** np.arange(len(cuts)) @ acts
    precision = np.linalg.inv(own)
    rest = precision.sum(axis=0) / float(precision.sum())
    if not step.varies:
        pull = (precision - np.outer(precision.sum(axis=0), rest)) @ since
        value += since * (step.watts - float(pull @ value) / float(pull @ since))
        # the step as well as it is known, and what the windows are from season to season as it is
        along = own @ pull
        own += (step.sd**2 - 1.0 / float(pull @ since)) * np.outer(along, along)
    value -= float(rest @ (value - step.watts * since))
    return begins, ends, value, own + (LEVEL_SD * max(usual, 100.0)) ** 2
