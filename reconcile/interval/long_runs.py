"""A load that comes on some days and then runs for an hour or more at one power, as a car that is charged does.

No timer need switch it and no two of its days are alike, but its runs stand in the data plainly: from one date on there
are runs of a power of which there were none before, as often on cold days as on mild ones, and what ran before runs on.
Their energy is counted run by run, before that date and since. A meter that turned fast makes no runs beside those
that were there: it makes all of them larger, and the old ones are gone.
"""

from __future__ import annotations

import math
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import as_day
from reconcile.house import House, Interval
from reconcile.interval.clock_load import ClockLoad
from reconcile.interval.clock_signs import MILD_C, MILD_DAYS, NO_SEASON_DAYS
from reconcile.interval.hour_blocks import Hours
from reconcile.interval.one_part import in_proportion
from reconcile.interval.runs_cut import ABOVE, LEAST_KW, MOST_KW, Runs, Slots, place_of, runs_of, slots_of
from reconcile.interval.weather_hours import days_of
from reconcile.interval.windows import LEVEL_SD, drift, edges_of
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NARROW, GRID, SETTLES = 0.14, 0.07, 5
"""Runs of one load lie within so much of its power, in the logarithm; how far apart the powers tried are, and how often
each is moved to the middle of the runs about it (our own judgement: volts, and what else is on)."""

LEAST_LEAD, DATE_LEAD = 15.0, 1.92
"""Log likelihood by which a date must part the days with runs from those without, and how near to the best those of its
limits come: 15 is far beyond what the best of some thousand dates and powers reaches by chance (our own judgement);
1.92 is half of the chi-square of 95 %."""

LEAST_DAYS, LEAST_RUNS = 28, 8
"""Shortest time on either side of the date [d], and fewest runs (our own judgement)."""

BEFORE, BEFORE_ANY = 0.15, 0.3
"""Part of the days since with a run, below which that of the days before must lie, and that of any quarter of them by
how cold they were: heating and cooling ran so on some days of another year (our own judgement)."""

SINCE_ANY, MONTH_ANY = 0.4, 0.3
"""Part of it that any such quarter of the days since must reach, and any four weeks (our own judgement)."""

BY_WEATHER = 0.12
"""Part of how its days since differ that their weather may account for (our own judgement; a car's miles and cold
battery in simulated homes up to 0.05, auxiliary heat from 0.3 on)."""

A_DAY, HALF_DAY, HALF_DAY_SHARE = 1.5, 12, 0.9
"""Most runs on a day that has any, and the part of all that lies in the same half of the day [h]: what a thermostat
switches comes back all day (our own judgement; cars in simulated homes up to 1.1, or 1.4 about midnight, and from 0.93
on)."""

GONE_APART, GONE_NEAR, GONE_SHARE, GONE_LONG = (0.13, 1.0), 60, 0.4, 2.0
"""How much smaller runs are that a meter's error could have made larger, in the logarithm; in so many days on either
side [d]; the part of the new ones that must have gone for that, in these or in days as warm; and by how many times
longer or shorter they may be (our own judgement: a meter that doubles all it counts makes runs of a new size)."""

ALL_ROSE, LEAST_ROSE, LEAST_BESIDE, ABOUT = 10.0, 0.3, 6, (-14, -7, 0, 7, 14)
"""By how much it fits the other hours of the day better that they rose, all by one part of what they held, than that
they kept still (in chi-square), and the part, from which no load came; the fewest such hours that tell; and the days
about the date on which they may have risen, since large runs are rare [d] (our own judgement: a meter that counts more
makes runs of new sizes, with 35 % from 15 on and 60 % from 68 on; beside cars of simulated homes up to 5, or up to 59
where a season raised them by a fifth)."""

TAKEN, HOURS_SHARE, SHORTEST = 0.6, 0.02, 2
"""What stands above this part of its power, in hours of the day that hold more than this part of what the fullest one
holds of its runs, and for this part of an hour, is taken for it (our own judgement): shorter runs than those that found
it, too."""

MORE_BY_OTHERS = 0.6
"""Part of what is counted so since, below which that of the days before must lie (our own judgement): else other runs
of about that power fill those hours."""

READ_SHARE, OWN_SHARE, WANDER_SHARE, WANDER_DAYS = 0.04, 0.1, 0.05, 60.0
"""How well the energy of its runs is read, what each window has of its own at the least, as of a car's miles, and what
it wanders, all as a part of it, and over how many days [d] (our own judgement; on simulated cars the first was 1 to
4 %)."""

WINDOW_DAYS = 28
"""Windows of the evidence [d]."""


@dataclass(frozen=True, slots=True, eq=False)
class _New:
    """Runs of one power that there are since a date: places among the days with data."""

    lead: float
    since: int
    low: int
    high: int
    until: int
    kw: float
    mine: Ints


def long_runs(interval: Interval, zone: ZoneInfo, house: House) -> tuple[ClockLoad, Interval] | None:
    """Look for a load that began to run on some days for an hour or more.

    Parameters
    ----------
    interval : Interval
        Readings in steps of an hour or less.
    zone : ZoneInfo
        The house's zone.
    house : House
        Whose weather such a load must not follow.

    Returns
    -------
    tuple of ClockLoad and Interval, or None
        The load, whose ``days_a_week`` say how often it comes, and the readings without it. None where there is none.
    """
    slots = slots_of(interval, zone)
    if slots is None or len(slots.days) < 2 * LEAST_DAYS:
        return None
    runs = runs_of(slots)
    weather = days_of(house, int(slots.days[0]), int(slots.days[-1]))
    mean_c = None if weather is None else weather.mean_c[slots.days - slots.days[0]]
    centers = np.arange(math.log(LEAST_KW * ABOVE), math.log(MOST_KW * ABOVE), GRID)
    found = [new for center in centers if (new := _new(runs, slots, mean_c, float(center))) is not None]
    for new in sorted(found, key=lambda one: -one.lead):
        taken = _taken(new, runs, slots)
        by_day = np.bincount(slots.day[slots.day >= 0], taken[slots.day >= 0], len(slots.days))
        before, since = by_day[: new.since].mean(), by_day[new.since : new.until].mean()
        if before < MORE_BY_OTHERS * since:
            if _all_rose(new, runs, slots, Hours.of(interval, zone, house).by_hour()):
                return None
            left = _without(interval, taken * (1.0 - before / since), slots, new)
            return _told(new, runs, slots, by_day.astype(np.float64), mean_c), left
    return None


def _new(runs: Runs, slots: Slots, mean_c: Floats | None, center: float) -> _New | None:
    """Runs of about one power that there are since a date and were not before; None where a season, a thermostat or a
    meter's error may have brought them.
    """
    size = np.log(runs.kw)
    for _ in range(SETTLES):  # to where they lie closest, lest the edge of an older load's runs is taken for new ones
        mine = np.flatnonzero(np.abs(size - center) <= NARROW)
        if len(mine) < LEAST_RUNS:
            return None
        center = float(np.median(size[mine]))
    days = len(slots.days)
    on = np.zeros(days)
    on[runs.day[mine]] = 1.0
    until = _until(on)
    lead = _leads(on[:until])
    if not len(lead) or lead.max() < LEAST_LEAD:
        return None
    at = LEAST_DAYS + np.flatnonzero(lead >= lead.max() - DATE_LEAD)
    since = LEAST_DAYS + int(np.argmax(lead))
    before, often = float(on[:since].mean()), float(on[since:until].mean())
    mine = mine[(runs.day[mine] >= since) & (runs.day[mine] < until)]
    months = [part.mean() for part in np.array_split(on[since:until], max((until - since) // WINDOW_DAYS, 1))]
    if before > BEFORE * often or min(months) < MONTH_ANY * often or len(mine) > A_DAY * on[since:until].sum():
        return None
    if mean_c is None and until - since < NO_SEASON_DAYS:
        return None
    if mean_c is not None:
        if not _beyond_season(on, mean_c, since, until):
            return None
        kwh = np.bincount(runs.day[mine], runs.kwh[mine], days)[since:until].astype(np.float64)
        quarters = _quarters(on[:since], mean_c[:since]), _quarters(on[since:until], mean_c[since:until])
        if max(quarters[0]) > BEFORE_ANY * often or min(quarters[1]) < SINCE_ANY * often:
            return None
        if _by_weather(kwh, mean_c[since:until]) > BY_WEATHER:
            return None
    held = _hours(runs, mine, slots)
    fullest = max(float(np.roll(held, -hour)[:HALF_DAY].sum()) for hour in range(24))
    kw = float(np.median(runs.kw[mine]))
    if fullest < HALF_DAY_SHARE * held.sum() or _was_smaller(runs, slots, held, kw, (since, until), mean_c):
        return None
    return _New(float(lead.max()), since, int(at.min()), int(at.max()), until, kw, mine)


def _until(on: Floats) -> int:
    """Place of the day after the last run, or after the last day where runs may yet come."""
    last, often = int(np.flatnonzero(on)[-1]), float(on.mean())
    return last + 1 if len(on) - 1 - last > max(LEAST_DAYS, 3.0 / often) else len(on)


def _leads(on: Floats) -> Floats:
    """By how much each date makes the days likelier than none, where there are more days with runs since."""
    count = len(on)
    before = np.arange(LEAST_DAYS, count - LEAST_DAYS + 1)
    if not len(before):
        return np.zeros(0)
    runs = np.cumsum(on)[before - 1]
    every = float(on.sum())

    def likelihood(k: Floats | float, n: Ints | int) -> Floats:
        part = np.clip(np.asarray(k) / n, 1e-9, 1.0 - 1e-9)
        out: Floats = k * np.log(part) + (n - k) * np.log(1.0 - part)
        return out

    lead = likelihood(runs, before) + likelihood(every - runs, count - before) - likelihood(every, count)
    return np.where((every - runs) / (count - before) > runs / before, lead, 0.0)


def _quarters(on: Floats, mean_c: Floats) -> list[float]:
    """Part of the days with a run, of each quarter of them by how cold they were."""
    return [float(part.mean()) for part in np.array_split(on[np.argsort(mean_c, kind="stable")], 4)]


def _design(mean_c: Floats) -> Floats:
    return np.column_stack([np.ones(len(mean_c)), np.maximum(15.0 - mean_c, 0.0), np.maximum(mean_c - 20.0, 0.0)])


def _by_weather(kwh: Floats, mean_c: Floats) -> float:
    """Part of how the days' energy differs that their weather accounts for."""
    design = _design(mean_c)
    left = float(np.sum((kwh - design @ np.linalg.lstsq(design, kwh, rcond=None)[0]) ** 2))
    return 1.0 - left / max(float(np.sum((kwh - kwh.mean()) ** 2)), 1e-9)


def _hours(runs: Runs, mine: Ints, slots: Slots) -> Floats:
    """Slots of these runs by the clock hour, shape (24,)."""
    held = np.concatenate([np.arange(a, a + n) for a, n in zip(runs.first[mine], runs.length[mine], strict=True)])
    return np.bincount(slots.hour[held], minlength=24).astype(float)


def _beyond_season(on: Floats, mean_c: Floats, since: int, until: int) -> bool:
    """Whether it runs on mild days too, or did not on days before as cold, or as hot."""
    often, here = float(on[since:until].mean()), mean_c[since:until]
    mild = (here >= MILD_C[0]) & (here <= MILD_C[1])
    if mild.sum() >= MILD_DAYS:
        return bool(on[since:until][mild].mean() >= SINCE_ANY * often)
    if until < len(on):  # what came and went with the cold or the heat is a season's
        return False
    middle = float(np.median(here))
    alike = mean_c[:since] <= middle if middle < MILD_C[0] else mean_c[:since] >= middle
    return bool(alike.sum() >= LEAST_DAYS and on[:since][alike].mean() <= BEFORE * often)


def _was_smaller(
    runs: Runs, slots: Slots, held: Floats, kw: float, span: tuple[int, int], mean_c: Floats | None
) -> bool:
    """Whether runs of some smaller power, about as long and in the same hours, went as these came."""
    since, until = span
    new = (runs.day >= since) & (np.abs(np.log(runs.kw / kw)) <= NARROW)
    on = np.zeros(len(slots.days), dtype=bool)
    on[runs.day[new]] = True
    often = float(on[since:until].mean())
    as_long = np.abs(np.log(runs.length / np.median(runs.length[new]))) <= math.log(GONE_LONG)
    beside = as_long & (held[slots.hour[runs.first]] > HOURS_SHARE * held.max())
    # on days with a new run it may hide the others
    without = np.flatnonzero(~on[since:until]) + since
    pairs = [(np.arange(max(since - GONE_NEAR, 0), since), without[without < since + GONE_NEAR])]
    if mean_c is not None and len(without):  # days before as warm as those since
        order = np.argsort(mean_c[:since], kind="stable")
        at = np.minimum(np.searchsorted(mean_c[order], mean_c[without]), since - 1)
        pairs.append((order[at], without))
    for apart in np.arange(*GONE_APART, GRID):
        its = beside & (np.abs(np.log(kw / runs.kw) - apart) <= NARROW) & (runs.kw < kw * (1.0 - NARROW / 2.0))
        days = np.zeros(len(slots.days))
        days[runs.day[its]] = 1.0
        for before, after in pairs:
            was, now = days[before].mean(), days[after].mean() if len(after) else 0.0
            if was - now >= GONE_SHARE * often and now <= GONE_SHARE * was:
                return True
    return False


def _all_rose(new: _New, runs: Runs, slots: Slots, hours: Hours) -> bool:
    """Whether the hours without such runs rose as they came."""
    held = _hours(runs, new.mine, slots)
    beside = held <= HOURS_SHARE * held.max()
    at = int(slots.days[new.since]) - hours.first
    if beside.sum() < LEAST_BESIDE:
        return False
    return max(in_proportion(hours, at + near, beside, LEAST_ROSE) for near in ABOUT) >= ALL_ROSE


def _taken(new: _New, runs: Runs, slots: Slots) -> Floats:
    """Energy of each slot that its runs, of whatever length, may hold [kWh]."""
    held = _hours(runs, new.mine, slots)
    mine = (held > HOURS_SHARE * held.max())[slots.hour]
    full = np.concatenate([[False], mine & (slots.excess >= TAKEN * new.kw), [False]])
    begin, end = np.flatnonzero(full[1:] != full[:-1]).reshape(-1, 2).T
    on = np.zeros(len(slots.excess) + 2)
    for a, b in zip(begin, end, strict=True):
        if (b - a) * SHORTEST >= slots.per_hour:
            on[a : b + 2] = 1.0  # the slot before and the one after hold a part of a run
    return on[1:-1] * np.minimum(slots.excess, new.kw) / slots.per_hour


def _told(new: _New, runs: Runs, slots: Slots, by_day: Floats, mean_c: Floats | None) -> ClockLoad:
    days, since, until = slots.days, new.since, new.until
    here = ((np.arange(len(days)) >= since) & (np.arange(len(days)) < until)).astype(float)
    kwh = by_day
    if mean_c is not None:  # what other runs take in those hours goes by the weather, as it did before
        slopes = np.linalg.lstsq(_design(mean_c[:since]), by_day[:since], rcond=None)[0][1:]
        kwh = by_day - _design(mean_c)[:, 1:] @ np.maximum(slopes, 0.0)
    before, after = kwh[:since], kwh[since:until]
    more = float(after.mean() - before.mean())
    sd = math.hypot(math.sqrt(before.var() / len(before) + after.var() / len(after)), READ_SHARE * more)
    began = int(days[since])
    stopped = until < len(days)
    cuts = [began, *([int(days[until - 1]) + 1] if stopped else [])]
    edges = edges_of(int(days[0]), int(days[-1]) + 1, cuts, WINDOW_DAYS)
    place = np.searchsorted(edges, days, side="right") - 1
    held = [at for at in range(len(edges) - 1) if np.count_nonzero(place == at) >= LEAST_DAYS // 4]
    begins, ends = edges[:-1][held], edges[1:][held]
    value = np.array([float(kwh[place == at].mean()) for at in held])
    acts = np.array([float(here[place == at].mean()) for at in held])
    counts = np.array([np.count_nonzero(place == at) for at in held])
    apart = max(OWN_SHARE * more, float(np.std(value[acts == 1.0])) if (acts == 1.0).any() else 0.0)
    own = np.diag(before.var() / counts + (apart * acts) ** 2)
    middle = (begins + ends) / 2.0
    own += np.outer(acts, acts) * (drift(middle, WANDER_SHARE * more, WANDER_DAYS) + (READ_SHARE * more) ** 2)
    own += (LEVEL_SD * max(more, float(before.mean()))) ** 2
    share = float(np.unique(runs.day[new.mine]).size / (until - since))
    hours = min(more / (new.kw * share), 24.0)
    per_day = hours * share / 1000.0
    # by noon the runs of one night lie side by side
    start = float(np.median((slots.hour[runs.first[new.mine]] - 12) % 24)) + 12.0
    return ClockLoad(
        as_day(began),
        as_day(int(days[new.low])),
        as_day(int(days[new.high])),
        as_day(cuts[1]) if stopped else None,
        start % 24.0,
        hours,
        1000.0 * new.kw,
        sd / per_day,
        float(before.mean()) / per_day,
        0.0,
        begins,
        ends,
        (value - float(value.mean())) / per_day,
        own / per_day**2,
        varies=True,
        days_a_week=7.0 * share,
    )


def _without(interval: Interval, taken: Floats, slots: Slots, new: _New) -> Interval:
    """Return the readings without the runs since their date, less the part that others took in those hours before."""
    acts = (slots.day >= new.since) & (slots.day < new.until)
    kwh = np.where(acts, taken, 0.0)[place_of(interval, slots.seconds)] * interval.step_seconds / slots.seconds
    return replace(interval, kwh=np.maximum(interval.kwh - kwh, 0.0))
