"""A planned run read from the interval data: a heater on a plug-in meter for whole hours of a few quiet nights.

Its kWh and hours are typed in; what the intervals rose by while it was on, over what it took, is the registration,
with nobody at the meter. How far a house's own nights stray from level is taken from its other nights: the same hours,
read in the same way, with no heater on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, as_day, day_numbers, local_seconds
from reconcile.distributions import MEDIAN_TO_SD
from reconcile.house import Interval
from reconcile.house.site import IntervalRun
from reconcile.interval.switching import thinned
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

MARGIN_HOURS = 1.0
"""Time on either side of a night's first and last hour that shows the level without the heater [h]."""

NEAR_DAYS = 60
"""Other nights this near are read in the same way for the uncertainty [d]."""

LEAST_NIGHTS = 20
"""Other sets of nights below which nothing is judged (our own judgement)."""

HUBER = 1.5
"""Intervals that stray further than so many robust standard deviations count less (P. J. Huber, Annals of Mathematical
Statistics 35(1), 1964, from memory)."""

SWEEPS, BIWEIGHT = 10, 4.7
"""Sweeps of the fit; in the later half intervals further than this many robust standard deviations do not count at all
(J. W. Tukey's biweight, from memory): a shower of electricity in one interval is no part of the level."""

LATE_SECONDS = 300
LATE_STEP_SECONDS = 60
LATE_AT_STEPS = 2.0
LATE_BETTERS = 0.9
"""The household's clock may differ from the meter's by this much [s]. The difference that fits best is taken where a
time on holds at least so many intervals, so that it shows, and where it leaves less than this part of the misfit."""

TIMING_SECONDS = 20.0
"""Standard uncertainty of the household's switching against the meter's clock where it does not show [s] (our own
judgement: a telephone's time, a hand or a timer)."""

PLUG_IN_PERCENT = 1.0
"""Limits of a plug-in energy meter where nothing else is said [%] (common practice without a source)."""

COVERAGE_FACTOR = 1.96
"""Of 95 % limits."""

SHORTEST_ON_HOURS = 0.5
TIMES_HOURLY, TIMES_SHORT = 3, 5
"""Shortest time on [h], and times on in one night for hourly and shorter intervals (tried on one real home)."""

PLANNED_NIGHTS = (3, 4, 5, 7)
PLANNED_HOURS = (0.0, 1.0, 2.0, 3.0)
"""Numbers of nights and local hours of the first switching on that are tried."""

PLANNED_SETS = 40
"""Sets of other nights read for one plan."""

LATENESS = np.arange(-LATE_SECONDS, LATE_SECONDS + 1, LATE_STEP_SECONDS)
ON_TIME = int(np.flatnonzero(LATENESS == 0)[0])


@dataclass(frozen=True, slots=True)
class RunRead:
    """Registration from a planned run."""

    registration: float
    """Ratio, 1 is right."""
    standard_uncertainty: float
    low: float
    high: float
    """Both: 95 % limits."""
    nights: int
    hours: float
    """Both: nights and hours with the heater on."""
    reference_kwh: float
    read_kwh: float
    """Both: what the plug-in meter counted, and what the intervals rose by [kWh]."""
    first_day: int
    end_day: int
    """Both: days since 1970-01-01; the last is not among them [d]."""
    late_seconds: int = 0
    """The household's clock behind the meter's [s]."""


def read_run(
    interval: Interval, zone: ZoneInfo, runs: Sequence[IntervalRun], plug_in_percent: float = PLUG_IN_PERCENT
) -> RunRead | None:
    """Read a planned run from interval data.

    In each night the level is a straight line, and the heater's power times the registration stands on it while it is
    on; one registration serves all nights.

    Parameters
    ----------
    interval : Interval
        In steps of an hour or less.
    zone : ZoneInfo
        The house's zone.
    runs : sequence of IntervalRun
        Stretches with the heater on, in any order; several of one night are read together.
    plug_in_percent : float
        Limits of the plug-in meter's reading [%].

    Returns
    -------
    RunRead or None
        None where the data cover none of the nights or too few other nights are there to learn from.
    """
    grid = _Grid.of(interval, zone)
    nights = _nights(runs)
    if grid is None or not nights:
        return None
    # a night with a hole, or in which the clock changes, tells nothing; the others do
    planned = [_Shape.of(night, grid.step) for night in nights]
    held = [(night, shape, grid.window(shape, shape.day)) for night, shape in zip(nights, planned, strict=True)]
    shapes = [shape for _, shape, row in held if row is not None]
    values = [row for _, _, row in held if row is not None]
    runs = [run for night, _, row in held if row is not None for run in night]
    if not shapes:
        return None
    shown = min(run.hours for run in runs) * HOUR_SECONDS >= LATE_AT_STEPS * grid.step
    late, registration = _best(shapes, values, shown)
    own = {shape.day for shape in planned}
    noise = _placebo(grid, shapes, own, late)
    if noise is None:
        return None
    plug_in = plug_in_percent / 100.0 / math.sqrt(3.0) * registration
    if not shown:
        usual = float(np.median([run.hours for run in runs])) * HOUR_SECONDS
        plug_in = math.hypot(plug_in, 2.0 * TIMING_SECONDS / usual * registration)
    sd = math.hypot(_scatter(noise), plug_in)
    reference = sum(run.kwh for run in runs)
    return RunRead(
        registration=registration,
        standard_uncertainty=sd,
        low=registration - COVERAGE_FACTOR * sd,
        high=registration + COVERAGE_FACTOR * sd,
        nights=len(shapes),
        hours=sum(run.hours for run in runs),
        reference_kwh=reference,
        read_kwh=registration * reference,
        first_day=min(shape.day for shape in shapes),
        end_day=max(shape.day for shape in shapes) + 2,
        late_seconds=late,
    )


@dataclass(frozen=True, slots=True)
class RunPlan:
    """Hours and nights for a planned run, and what it would tell.

    ``from_hour`` is the local hour at which the heater is first switched on; then it is on and off in turn, an interval
    or an hour at a time, ``times`` times on each of ``nights`` nights.
    """

    from_hour: float
    on_hours: float
    times: int
    nights: int
    standard_uncertainty: float
    reached: bool


def plan_run(interval: Interval, zone: ZoneInfo, kw: float, wanted: float) -> RunPlan | None:
    """Choose the quietest hours and the number of nights for a wanted uncertainty.

    Parameters
    ----------
    interval : Interval
        The house's own data.
    kw : float
        Power of the heater [kW].
    wanted : float
        Standard uncertainty of the registration.

    Returns
    -------
    RunPlan or None
        The fewest nights that give it, or the most that are worth planning; None where too little data are there.
    """
    grid = _Grid.of(thinned(interval), zone)
    if grid is None:
        return None
    on_hours = min(1.0, max(LATE_AT_STEPS * grid.step / HOUR_SECONDS, SHORTEST_ON_HOURS))
    times = TIMES_HOURLY if on_hours >= 1.0 else TIMES_SHORT
    day = int(grid.local[-1] // DAY_SECONDS) - NEAR_DAYS // 2

    def told(nights: int, hour: float) -> RunPlan | None:
        shapes = [_Shape.of(night, grid.step) for night in _nights(_pattern(day, nights, hour, on_hours, times, kw))]
        noise = _placebo(grid, shapes, set(), 0, PLANNED_SETS)
        if noise is None:
            return None
        sd = math.hypot(_scatter(noise), PLUG_IN_PERCENT / 100.0 / math.sqrt(3.0))
        return RunPlan(hour, on_hours, times, nights, sd, sd <= wanted)

    fewest, *more = PLANNED_NIGHTS
    found = [plan for plan in (told(fewest, hour) for hour in PLANNED_HOURS) if plan is not None]
    best = min(found, key=lambda plan: plan.standard_uncertainty, default=None)
    for nights in more if best is not None else ():
        if best is not None and not best.reached:
            longer = told(nights, best.from_hour)
            best = longer if longer is not None and longer.standard_uncertainty < best.standard_uncertainty else best
    return best


def _pattern(day: int, nights: int, hour: float, on_hours: float, times: int, kw: float) -> list[IntervalRun]:
    return [
        IntervalRun(as_day(day + night), hour + 2.0 * on_hours * turn, on_hours, kw * on_hours)
        for night in range(nights)
        for turn in range(times)
    ]


def _scatter(noise: Floats) -> float:
    """Half the width of the limits that hold 95 % of readings without a heater, as a standard uncertainty."""
    rank = min(len(noise) - 1, math.ceil(0.95 * (len(noise) + 1)) - 1)
    return float(np.sort(np.abs(noise))[rank]) / COVERAGE_FACTOR


def _nights(runs: Sequence[IntervalRun]) -> list[list[IntervalRun]]:
    """Stretches of one night together: those of one date."""
    days = sorted({run.day for run in runs})
    return [[run for run in runs if run.day == day] for day in days]


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Energy by interval on the local clock."""

    local: Ints
    kwh: Floats
    step: int

    @classmethod
    def of(cls, interval: Interval, zone: ZoneInfo) -> _Grid | None:
        parts = [part for part in interval.segments if part.step_seconds <= HOUR_SECONDS and len(part.kwh)]
        if not parts:
            return None
        last = parts[-1]
        return cls(local_seconds(last.starts, zone), last.kwh, last.step_seconds)

    def window(self, shape: _Shape, day: int) -> Floats | None:
        """Energy of a night's intervals, None where one is missing."""
        begin = day * DAY_SECONDS + shape.begin
        at = int(np.searchsorted(self.local, begin))
        held = self.local[at : at + shape.count]
        if len(held) < shape.count or held[0] != begin or held[-1] != begin + (shape.count - 1) * self.step:
            return None
        return self.kwh[at : at + shape.count]


@dataclass(frozen=True, slots=True, eq=False)
class _Shape:
    """A night's intervals: seconds from local midnight to the first, their number, and the heater's energy in each for
    every lateness of the household's clock.
    """

    day: int
    begin: int
    count: int
    kwh: Floats
    """Shape (lateness, count) [kWh]."""

    @classmethod
    def of(cls, night: list[IntervalRun], step: int) -> _Shape:
        on = [(run.from_hour * HOUR_SECONDS, (run.from_hour + run.hours) * HOUR_SECONDS, run.kwh) for run in night]
        margin = max(MARGIN_HOURS * HOUR_SECONDS, step)
        begin = math.floor((min(a for a, _, _ in on) - margin) / step) * step
        end = math.ceil((max(b for _, b, _ in on) + margin) / step) * step
        edges = np.arange(begin, end + 1, step, dtype=float)
        kwh = np.zeros((len(LATENESS), len(edges) - 1))
        for row, late in enumerate(LATENESS):
            for a, b, energy in on:
                share = np.clip(np.minimum(edges[1:], b + late) - np.maximum(edges[:-1], a + late), 0.0, None)
                kwh[row] += energy * share / (b - a)
        return cls(int(day_numbers([night[0].day])[0]), begin, len(edges) - 1, kwh)


def _best(shapes: list[_Shape], values: list[Floats], shown: bool) -> tuple[int, float]:
    """Lateness at which the robust fit leaves least, where it shows, and the registration there."""
    if not shown:
        on_time = _fit([shape.kwh[ON_TIME] for shape in shapes], np.concatenate(values)[None])
        return 0, float(on_time[0][0])
    fits = [_fit([shape.kwh[row] for shape in shapes], np.concatenate(values)[None]) for row in range(len(LATENESS))]
    left = np.array([float(fit[1][0]) for fit in fits])
    row = ON_TIME if left.min() > LATE_BETTERS * left[ON_TIME] else int(left.argmin())
    return int(LATENESS[row]), float(fits[row][0][0])


def _fit(heater: list[Floats], values: Floats) -> tuple[Floats, Floats]:
    """Registration, and the robust misfit, of rows of values of all nights one after another."""
    total = sum(len(part) for part in heater)
    levels = np.zeros((total, 2 * len(heater)))
    at = 0
    for night, part in enumerate(heater):
        here = slice(at, at + len(part))
        levels[here, 2 * night] = 1.0
        levels[here, 2 * night + 1] = np.linspace(-1.0, 1.0, len(part))
        at += len(part)
    design = np.column_stack([np.concatenate(heater), levels])
    weight = np.ones_like(values)
    ridge = 1e-9 * np.eye(design.shape[1])
    for sweep in range(SWEEPS):
        normal = np.einsum("ri,ij,ik->rjk", weight, design, design) + ridge
        right = np.einsum("ri,ij,ri->rj", weight, design, values)
        solved = np.linalg.solve(normal, right[:, :, None])[:, :, 0]
        left = values - solved @ design.T
        scale = MEDIAN_TO_SD * np.median(np.abs(left), axis=1, keepdims=True) + 1e-9
        if sweep < SWEEPS // 2:
            weight = np.minimum(1.0, HUBER * scale / np.maximum(np.abs(left), 1e-12))
        else:
            weight = np.maximum(1.0 - (left / (BIWEIGHT * scale)) ** 2, 0.0) ** 2
    misfit = np.sum(np.minimum(left**2, (HUBER * scale.min()) * np.abs(left)), axis=1)
    return solved[:, 0], misfit


def _placebo(grid: _Grid, shapes: list[_Shape], own: set[int], late: int, most: int | None = None) -> Floats | None:
    """Registrations read where there was no heater: the same hours of as many other nights, one date after another."""
    row = int(np.flatnonzero(late == LATENESS)[0])
    first, last = int(grid.local[0] // DAY_SECONDS), int(grid.local[-1] // DAY_SECONDS)
    begin, end = max(first, min(s.day for s in shapes) - NEAR_DAYS), min(last, max(s.day for s in shapes) + NEAR_DAYS)
    known: list[dict[int, Floats]] = []
    for shape in shapes:
        found = ((day, grid.window(shape, day)) for day in range(begin, end + 1) if day not in own)
        known.append({day: values for day, values in found if values is not None})
    moved = range(begin - shapes[0].day, end - shapes[0].day + 1)
    usable = [m for m in moved if all(shape.day + m in nights for shape, nights in zip(shapes, known, strict=True))]
    if len(usable) < LEAST_NIGHTS:
        return None
    usable = usable[:: max(1, len(usable) // most)] if most is not None else usable
    drawn = [np.stack([nights[shape.day + m] for m in usable]) for shape, nights in zip(shapes, known, strict=True)]
    read, _ = _fit([shape.kwh[row] for shape in shapes], np.concatenate(drawn, axis=1))
    return read
