"""A planned run read from the interval data: a heater on a plug-in meter for whole hours of a few quiet nights.

Its kWh and hours are typed in; what the intervals rose by while it was on, over what it took, is the registration,
with nobody at the meter. A hand switches some minutes off the time it writes down, and the meter's clock is off by
some more, so no edge is looked at: the intervals about both ends of a time on are added up, and hold all the energy
that those in between do not. How far a house's own nights stray from level is taken from its other nights: the same
hours, read in the same way, with no heater on.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import product
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

OFF_SECONDS = 600
"""The heater may be on so long before and after the times written down [s]: a hand and a glance at the clock within
five minutes, a meter's clock within as much (our own judgement)."""

HAND_SECONDS, HAND_COUNTS = 245.0, 2.0
"""Standard uncertainty of the time on between two switchings by a hand that is within five minutes at each, either way
alike [s], and as how many times on it counts beside those whose kWh show how steady the hand was (our own judgement).
"""

MARGIN_HOURS = 1.5
"""Time on either side of a night's first and last hour that shows the level without the heater, in whole intervals [h]
(of 1, 1.5 and 2 tried on two kinds of simulated homes and one real one)."""

NEAR_DAYS = 60
"""Other nights this near are read in the same way for the uncertainty [d]."""

LEAST_NIGHTS = 20
"""Other sets of nights below which nothing is judged (our own judgement)."""

HUBER = 1.5
"""What strays further than so many robust standard deviations counts less (P. J. Huber, Annals of Mathematical
Statistics 35(1), 1964, from memory)."""

SWEEPS, BIWEIGHT = 10, 4.7
"""Sweeps of the fit; in the later half what strays further than this many robust standard deviations does not count at
all (J. W. Tukey's biweight, from memory): a shower of electricity in one interval is no part of the level."""

LEAST_KWH = 1e-4
"""Least scatter that is reckoned with [kWh]: a tenth of the last digit of most meters."""

LEAST_WEIGHT = 1e-3
"""So that no night is left without any weight at all."""

PLUG_IN_PERCENT = 1.0
"""Limits of a plug-in energy meter where nothing else is said [%] (common practice without a source)."""

COVERAGE_FACTOR = 1.96
"""Of 95 % limits."""

PLANNED = (((2.0, 3.0), (3, 4, 5)), ((2.0, 3.0, 4.0), (6, 7)))
"""Times on that are tried, one in a night [h], with numbers of nights: an hour and more is surely on. Longer ones, and
more nights, keep somebody up only where the first do not tell enough. Several times on in a night need more of it
level: they told less in one real home and no more in simulated ones (our choice)."""

CHOSEN = 1.15
"""How many times the scatter of the plan chosen the scatter of its run will be: the best of several plans promises too
much (our judgement, of 580 plans in one real home and two kinds of simulated ones)."""

PLANNED_HOURS = (0.0, 1.0, 2.0, 3.0)
"""Local hours of switching on that are tried."""


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
    apart: tuple[int, ...] = ()
    """Nights without which the registration would be another by more than the house's other nights let it be, by their
    day: something else will have run, in these or, where they are many, in some."""


def read_run(
    interval: Interval, zone: ZoneInfo, runs: Sequence[IntervalRun], plug_in_percent: float = PLUG_IN_PERCENT
) -> RunRead | None:
    """Read a planned run from interval data.

    In each night the level is flat, beside how its hours usually differ. Intervals in which the heater surely was on
    rise by its power times the registration; those about the edges of a stretch, added up, by the rest of its energy
    times the same. The power is known as well as the hand kept to the hours. One registration serves all nights.

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
    if grid is None or sum(run.kwh for run in runs) <= 0.0:
        return None
    heater = _Heater.of(runs)
    nights = [(night, _Rows.of(night, grid.step), int(day_numbers([night[0].day])[0])) for night in _nights(runs)]
    own = {day for _, _, day in nights}
    # a night with a hole, or in which the clock changes, tells nothing; the others do
    held = [(night, rows, day, row) for night, rows, day in nights if (row := grid.window(rows, day)) is not None]
    usual = [_Usual.of(grid, rows, day, own) for _, rows, day, _ in held]
    known = [one for one in usual if one is not None]
    days = [day for _, _, day, _ in held]
    noise = _placebo(known, days, heater) if held and len(known) == len(held) else None
    if noise is None:
        return None
    rose = [(row - one.middle)[None] for one, (_, _, _, row) in zip(known, held, strict=True)]
    registration = float(_registration(known, rose, heater, np.zeros(1))[0])
    usual_sd = _scatter(noise, min(len(one.left) for one in known) // len(known))
    without = _without_each(known, rose, heater)
    strays = float(np.sum((without - registration) ** 2)) * (1.0 - 1.0 / len(known))
    # a spell of other weather, or guests, which the house's other nights know nothing of
    sd = max(usual_sd, math.sqrt((usual_sd**2 + strays) / 2.0))
    sd = math.hypot(sd, plug_in_percent / 100.0 / math.sqrt(3.0) * registration)
    reference = sum(run.kwh for night, _, _, _ in held for run in night)
    return RunRead(
        registration=registration,
        standard_uncertainty=sd,
        low=registration - COVERAGE_FACTOR * sd,
        high=registration + COVERAGE_FACTOR * sd,
        nights=len(held),
        hours=sum(run.hours for night, _, _, _ in held for run in night),
        reference_kwh=reference,
        read_kwh=registration * reference,
        first_day=min(days),
        end_day=max(days) + 2,
        apart=tuple(day for day, one in zip(days, without, strict=False) if abs(one - registration) > usual_sd),
    )


@dataclass(frozen=True, slots=True)
class RunPlan:
    """Hours and nights for a planned run, and what it would tell.

    ``from_hour`` is the local hour at which the heater is switched on, for ``on_hours`` on each of ``nights`` nights.
    """

    from_hour: float
    on_hours: float
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
    grid = _Grid.of(interval, zone)
    if grid is None:
        return None
    # switched in the middle of a long interval, the heater is surely off in those beside it
    middle = 0.5 * grid.step / HOUR_SECONDS if grid.step >= 2 * OFF_SECONDS else 0.0
    day = int(grid.local[-1] // DAY_SECONDS) - NEAR_DAYS // 2
    learned: dict[tuple[float, float], _Usual | None] = {}
    best: RunPlan | None = None

    def told(start: tuple[float, float], nights: int) -> RunPlan | None:
        if (known := learned[start]) is None:
            return None
        hour, on = start
        days = [day + further for further in range(nights)]
        heater = _Heater(kw, HAND_SECONDS / (on * HOUR_SECONDS) / math.sqrt(nights))
        noise = _placebo([known] * nights, days, heater)
        if noise is None:
            return None
        sd = math.hypot(CHOSEN * _scatter(noise, len(known.left) // nights), PLUG_IN_PERCENT / 100.0 / math.sqrt(3.0))
        return RunPlan(hour, on, nights, sd, sd <= wanted)

    for times_on, (fewest, *more) in PLANNED:
        for hour, on in product((hour + middle for hour in PLANNED_HOURS), times_on):
            if (hour, on) not in learned:
                rows = _Rows.of([IntervalRun(as_day(day), hour, on, kw * on)], grid.step)
                learned[hour, on] = _Usual.of(grid, rows, day, set())
        found = [plan for start in learned if (plan := told(start, fewest)) is not None]
        if best is not None:
            found.append(best)
        if not found:
            return None
        best = min(found, key=lambda plan: plan.standard_uncertainty)
        for nights in more:
            if best.reached:
                return best
            longer = told((best.from_hour, best.on_hours), nights)
            best = min([best, *([] if longer is None else [longer])], key=lambda plan: plan.standard_uncertainty)
    return best


def _without_each(usual: list[_Usual], rose: list[Floats], heater: _Heater) -> Floats:
    """Registration by all nights but one, for each of several: how far these stray shows how far all of them may (J. W.
    Tukey's jackknife, from memory).
    """
    nights = range(len(usual)) if len(usual) > 1 else ()
    return np.array(
        [_registration(usual[:i] + usual[i + 1 :], rose[:i] + rose[i + 1 :], heater, np.zeros(1))[0] for i in nights]
    )


def _scatter(noise: Floats, apart: int) -> float:
    """Half the width of the limits that hold 95 % of readings without a heater, as a standard uncertainty.

    Wider by as much as Student's t is for the few of them that share no night (the first term of its expansion, M.
    Abramowitz and I. A. Stegun, Handbook of Mathematical Functions, 26.7.5, from memory).
    """
    rank = min(len(noise) - 1, math.ceil(0.95 * (len(noise) + 1)) - 1)
    wider = 1.0 + (COVERAGE_FACTOR**2 + 1.0) / (4.0 * max(apart - 1, 1))
    return wider * float(np.sort(np.abs(noise))[rank]) / COVERAGE_FACTOR


def _nights(runs: Sequence[IntervalRun]) -> list[list[IntervalRun]]:
    """Stretches of one night together: those of one date."""
    days = sorted({run.day for run in runs})
    return [[run for run in runs if run.day == day] for day in days]


@dataclass(frozen=True, slots=True)
class _Heater:
    """The heater's mean power over the hours written down [kW], and its standard uncertainty as a part of it."""

    kw: float
    doubt: float

    @classmethod
    def of(cls, runs: Sequence[IntervalRun]) -> _Heater:
        """Take the doubt from how far the kWh stray from the hours, and from what a hand may do."""
        hours = sum(run.hours for run in runs)
        kw = sum(run.kwh for run in runs) / hours
        strays = sum((HOUR_SECONDS * (run.kwh / kw - run.hours)) ** 2 for run in runs)
        each = (strays + HAND_COUNTS * HAND_SECONDS**2) / (len(runs) - 1 + HAND_COUNTS)
        return cls(kw, math.sqrt(each * len(runs)) / (HOUR_SECONDS * hours))


@dataclass(frozen=True, slots=True, eq=False)
class _Rows:
    """A night's intervals, added up to what is looked at: those about a stretch's edges together, the others each.

    The heater's energy in a row is ``kwh``, and its power for ``hours`` [h].
    """

    begin: int
    """Seconds from local midnight to the first interval [s]."""
    of_interval: Ints
    """Row of each interval."""
    size: Floats
    """Intervals in each row."""
    kwh: Floats
    hours: Floats

    @classmethod
    def of(cls, night: list[IntervalRun], step: int) -> _Rows:
        stretches: list[tuple[int, int, list[int], float]] = []
        for run in sorted(night, key=lambda run: run.from_hour):
            on, off = run.from_hour * HOUR_SECONDS, (run.from_hour + run.hours) * HOUR_SECONDS
            first, end = math.floor((on - OFF_SECONDS) / step), math.ceil((off + OFF_SECONDS) / step)
            surely = list(range(math.ceil((on + OFF_SECONDS) / step), math.floor((off - OFF_SECONDS) / step)))
            kwh = run.kwh
            if stretches and first < stretches[-1][1]:  # two that share an interval are one
                before = stretches.pop()
                first, end, surely, kwh = before[0], max(end, before[1]), before[2] + surely, kwh + before[3]
            stretches.append((first, end, surely, kwh))
        margin = max(int(MARGIN_HOURS * HOUR_SECONDS / step), 1)
        first = stretches[0][0] - margin
        group = np.arange(stretches[-1][1] + margin - first)
        energy, hours, each = np.zeros(len(group)), np.zeros(len(group)), step / HOUR_SECONDS
        for begin, end, surely, kwh in stretches:
            on_all, at = np.array(surely, dtype=int) - first, begin - first
            edges = np.setdiff1d(np.arange(at, end - first), on_all)
            group[edges] = at
            energy[at], hours[at] = kwh, -each * len(on_all)
            hours[on_all] = each
        kept, row, size = np.unique(group, return_inverse=True, return_counts=True)
        return cls(first * step, row.ravel(), size.astype(float), energy[kept], hours[kept])

    def added(self, kwh: Floats) -> Floats:
        """Energy of each row."""
        return np.asarray(np.bincount(self.of_interval, weights=kwh), dtype=float)


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Energy by interval on the local clock."""

    local: Ints
    kwh: Floats
    step: int

    @classmethod
    def of(cls, interval: Interval, zone: ZoneInfo) -> _Grid | None:
        parts = [part for part in thinned(interval).segments if part.step_seconds <= HOUR_SECONDS and len(part.kwh)]
        if not parts:
            return None
        last = parts[-1]
        return cls(local_seconds(last.starts, zone), last.kwh, last.step_seconds)

    def window(self, rows: _Rows, day: int) -> Floats | None:
        """Energy of a night's rows, None where one is missing."""
        begin = day * DAY_SECONDS + rows.begin
        at = int(np.searchsorted(self.local, begin))
        held = self.local[at : at + len(rows.of_interval)]
        if (
            len(held) < len(rows.of_interval)
            or held[0] != begin
            or held[-1] != begin + (len(rows.of_interval) - 1) * self.step
        ):
            return None
        return rows.added(self.kwh[at : at + len(rows.of_interval)])


@dataclass(frozen=True, slots=True, eq=False)
class _Usual:
    """What a night's rows are without a heater, as the house's other nights show."""

    rows: _Rows
    middle: Floats
    scatter: Floats
    """Both: median and robust standard deviation of each row about its night's level [kWh]."""
    left: dict[int, Floats]
    """Other nights less the median, by their day [kWh]."""

    @classmethod
    def of(cls, grid: _Grid, rows: _Rows, day: int, own: set[int]) -> _Usual | None:
        first, last = int(grid.local[0] // DAY_SECONDS), int(grid.local[-1] // DAY_SECONDS)
        near = range(max(first, day - NEAR_DAYS), min(last, day + NEAR_DAYS) + 1)
        held = {other: grid.window(rows, other) for other in near if other not in own}
        known = {other: row for other, row in held.items() if row is not None}
        if len(known) < LEAST_NIGHTS:
            return None
        nights = np.stack(list(known.values()))
        middle = np.median(nights, axis=0)
        flat = nights - middle - _level((nights - middle) / rows.size) * rows.size
        middle += np.median(flat, axis=0)
        each = MEDIAN_TO_SD * np.median(np.abs(flat - np.median(flat, axis=0)), axis=0)
        # a row that seldom stirs may yet stir on the night asked for
        scatter = np.maximum(each, 0.5 * np.sqrt(rows.size) * np.median(each / np.sqrt(rows.size))) + LEAST_KWH
        return cls(rows, middle, scatter, dict(zip(known, nights - middle, strict=True)))


def _level(values: Floats) -> Floats:
    """Robust mean of each row of values (Huber's), as a column."""
    level = np.median(values, axis=1, keepdims=True)
    scale = MEDIAN_TO_SD * np.median(np.abs(values - level), axis=1, keepdims=True) + LEAST_KWH
    for _ in range(SWEEPS):
        weight = np.minimum(1.0, HUBER * scale / np.maximum(np.abs(values - level), LEAST_KWH))
        level = (weight * values).sum(axis=1, keepdims=True) / weight.sum(axis=1, keepdims=True)
    return level


def _registration(usual: list[_Usual], rose: list[Floats], heater: _Heater, off: Floats) -> Floats:
    """Registration that fits the nights of some runs, each night of shape (runs, rows), robustly.

    A row is its night's level, the registration times the heater's energy and, where only hours are known, its metered
    power times these. The metered power is the registration times the heater's, which is known but for its doubt.
    """
    sure = heater.doubt**-2.0 * np.array([[1.0, -1.0], [-1.0, 1.0]])
    robust = [np.ones_like(values) for values in rose]
    # of each row the heater's energy, its hours, and what the night's level is multiplied by
    shapes = [np.stack([one.rows.kwh, heater.kw * one.rows.hours, one.rows.size]) for one in usual]
    squares = [(shape[:, None] * shape).reshape(9, -1).T for shape in shapes]
    for sweep in range(SWEEPS):
        normal, right, levels = sure, off[:, None] * sure[1], []
        for one, values, weight, shape, square in zip(usual, rose, robust, shapes, squares, strict=True):
            inverse = weight / one.scatter**2
            product, heard = (inverse @ square).reshape(-1, 3, 3), (inverse * values) @ shape.T
            # of each unit of energy and of hours, and of what was heard, the part that is level
            level = np.column_stack([product[:, 2, :2], heard[:, 2]]) / product[:, 2, 2:]
            normal = normal + product[:, :2, :2] - level[:, :2, None] * product[:, 2:, :2]
            right = right + heard[:, :2] - level[:, 2:] * product[:, 2, :2]
            levels.append(level)
        solved = np.linalg.solve(normal, right[:, :, None])[:, :, 0]
        strays = []
        for one, values, shape, level in zip(usual, rose, shapes, levels, strict=True):
            night = level[:, 2:] - (solved * level[:, :2]).sum(axis=1, keepdims=True)
            strays.append(np.abs(values - np.column_stack([solved, night]) @ shape) / one.scatter)
        if sweep < SWEEPS // 2:
            robust = [np.minimum(1.0, HUBER / np.maximum(stray, LEAST_WEIGHT)) for stray in strays]
        else:
            robust = [np.maximum(1.0 - (stray / BIWEIGHT) ** 2, LEAST_WEIGHT) ** 2 for stray in strays]
    return np.asarray(solved[:, 0])


def _placebo(usual: list[_Usual], days: list[int], heater: _Heater) -> Floats | None:
    """Registrations read where there was no heater: the same hours of as many other nights, one date after another."""
    begin, end = min(min(one.left) for one in usual), max(max(one.left) for one in usual)
    moved = range(begin - days[0], end - days[0] + 1)
    usable = [m for m in moved if all(day + m in one.left for day, one in zip(days, usual, strict=True))]
    if len(usable) < LEAST_NIGHTS:
        return None
    drawn = [np.stack([one.left[day + m] for m in usable]) for day, one in zip(days, usual, strict=True)]
    off = heater.doubt * np.random.default_rng(0).standard_normal(len(usable))
    return _registration(usual, drawn, heater, off)
