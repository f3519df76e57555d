"""The chain of an account's readings: whether hours of reading explain what its bills are off, and which they do not.

The closing reading of a bill is the opening reading of the next. So the energy of all bills up to a reading places the
register at that reading, but for one number that all readings share. A reader who comes at another hour every time
moves single readings about their place; a bill that is wrong moves all readings after it, and stays. The likeliest
chain of hours, wrong bills and misplaced readings is found by dynamic programming over that shared number.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, local_instants
from reconcile.house import House
from reconcile.interval.reads import BESIDE, MIDNIGHT, OFFSETS, RATIO_SPREAD, ROUNDING_SDS, Reads, step_kwh
from reconcile.interval.running import Floats, Ints
from reconcile.records import dataclass

SPREADS_HOURS = (0.5, 2.0, 4.0, 6.0)
"""How far the hours of an account's readings may scatter about their common hour, one standard deviation: a route or a
clock, a working day, any hour (our own judgement) [h]."""

ODD_SHARE, ODD_HOURS = 0.03, 3.0
"""Part of readings at another hour than usual, and how far that lies from it, one standard deviation [h] (our own
judgement)."""

DAY_SHARE, DAY_OFF_HOURS = 0.01, 36.0
"""Part of readings a day off, and how far from the usual hour they may lie [h] (our choice: a reader who came a day
early or late is commoner than a bill that is wrong by no more than a day's use, and a day's use is no reason to write
to a utility)."""

WRONG, MISPLACED = 1.0 / 300.0, 1.0 / 1000.0
"""Chance that a bill is wrong, and that a reading is which the next one makes good; either by any part of the bill (our
own judgement)."""

NEVER = 50.0
"""Cost of a misplaced reading at the end of a chain, where none makes it good: the bill is wrong then."""

LITTLE_SHARE = 0.015
"""A bill that is off by no more than this part may have been read at another hour in any account (our own judgement:
one percent is no reason to write to a utility)."""

SURE = 0.7
"""By how much a chain with a wrong bill must be likelier than the best without, in logarithms of odds."""

EVERY_SECONDS = 5400
"""Common hours tried where none is known [s]."""

ROUNDED = 0.25
"""Bills that are rounded one by one drift from the register by this part of its step, one standard deviation."""
MOST_SDS = 4.0

NO_RISE_KWH = 1e-12
"""A register that rises by less stands still [kWh]."""

STATES_PER_DAY = 64
MOST_STATES = 4000
"""Steps of the shared number, for each day's mean energy, and how many there may be."""


@dataclass(frozen=True, slots=True, eq=False)
class Chain:
    """What the readings of an account say of its bills together."""

    index: int
    """Place of the common hour in :data:`reconcile.interval.reads.OFFSETS`."""
    wrong: frozenset[int]
    """Groups of bills that no likely hours explain."""
    misplaced: frozenset[int]
    """Groups whose closing reading lies on none of its days, and the next bill makes it good."""
    whole: bool
    """Hours explain every bill, however little one is off."""
    odd: int
    """Bills that the likeliest chain leaves unexplained, whichever they are, and readings it takes for a day off."""
    ends_off: Mapping[int, str]
    """Groups whose own end of the chain, which no other bill holds in place, it takes for a day off: ``opened-off`` or
    ``closed-off``."""
    low_seconds: int
    high_seconds: int
    """Both: earliest and latest time of reading that the other bills need, from the midnight that begins the printed
    date [s]."""


@dataclass(frozen=True, slots=True, eq=False)
class _Edges:
    """Readings in order, n of them, and the s values that the number they share may have."""

    low: Floats
    """Earliest hour at which the register shows it, shape (n, k, s) [h]; beyond the data's reach NaN. A register that
    falls too, as what is sent back is taken off, may show it k times; times that are fewer are filled up, without
    length.
    """
    high: Floats
    apart: np.ndarray
    """Whether no time of the printed day or the days beside it gives it, shape (n, s)."""
    ends: np.ndarray
    """Whether a reading is the first or the last of its chain, shape (n,)."""
    group: Ints
    """Group of bills that closes with each reading; none at the first of a chain: -1."""
    free: np.ndarray
    """Whether that group says nothing, shape (n,)."""
    missing: Floats
    """Least and most that a group's missing intervals held, by which the number falls, in states, shape (n, 2)."""
    wrong: Floats
    """What it costs that a group is wrong, in logarithms of odds, shape (n,)."""
    little: Floats
    """Change of the number, in states, below which a group is not told as wrong, shape (n,)."""
    drift: Floats
    """How far the number drifts over each group, one standard deviation, in states, shape (n,)."""
    states: Ints
    """Whole numbers, ascending, shape (s,)."""


def chain_of(house: House, reads: Reads, index: int | None, ratio: float = 1.0) -> Chain | None:
    """Find the likeliest chain of hours, and the bills that are wrong in it.

    Parameters
    ----------
    house : House
        With interval data.
    index : int or None
        Common time of reading, a place in OFFSETS, where it is known.
    ratio : float
        Of billed to interval energy.

    Returns
    -------
    Chain or None
        None where no bill can be judged, where they lie too far from the data, or the days are in doubt.
    """
    edges = None if reads.no_days else _edges(house, reads, ratio)
    if edges is None:
        return None
    every = np.arange(0, len(OFFSETS), EVERY_SECONDS // int(OFFSETS[1] - OFFSETS[0]))
    indices = every if index is None else np.array([index])
    common = np.repeat(OFFSETS[indices] / HOUR_SECONDS, len(SPREADS_HOURS))
    spread = np.tile(SPREADS_HOURS, len(indices))
    costs = _costs(edges, common, spread)
    forward = _through(edges, costs)
    near = np.flatnonzero(forward[-1].min(axis=1) <= forward[-1].min() + NEVER / 2.0)
    costs, forward = costs[:, near], forward[:, near]
    backward = _through(_reversed(edges), costs[::-1])[::-1]
    least = forward[-1].min(axis=1)
    best = int(np.argmin(least))
    path = np.argmin(forward[:, best] + backward[:, best] - costs[:, best], axis=1)
    wrong = set()
    for n, g in enumerate(edges.group.tolist()):
        if g < 0 or edges.free[n] or abs(edges.states[path[n]] - edges.states[path[n - 1]]) < edges.little[n]:
            continue
        changed = float((forward[n - 1].min(axis=1) + backward[n].min(axis=1)).min()) + edges.wrong[n]
        kept = float((_moved(forward[n - 1], edges, n) + backward[n]).min())
        if changed + SURE <= kept and changed <= least[best] + 1e-6:
            wrong.add(g)
    at = int(indices[near[best] // len(SPREADS_HOURS)])
    usual = OFFSETS[at] / HOUR_SECONDS
    row = np.arange(len(path))
    hours = _nearest(usual, edges.low[row, :, path], edges.high[row, :, path])
    hours = hours[np.isfinite(hours) & ~edges.apart[row, path]]
    if len(hours) == 0:
        return None
    misplaced = frozenset(edges.group[edges.apart[row, path] & ~edges.ends].tolist())
    room = MOST_SDS * edges.drift[1:] + np.abs(edges.missing[1:]).max(axis=1) + 1.0
    broken = ~edges.free[1:] & (np.abs(np.diff(edges.states[path])) > room)
    low, high = float(hours.min()), float(hours.max())
    odd = int(broken.sum()) + len(misplaced) + int((np.abs(hours - usual) > DAY_OFF_HOURS / 2.0).sum())
    whole = not misplaced and not broken.any()
    off = _ends_off(edges, path, usual, float(spread[near[best]]))
    return Chain(at, frozenset(wrong), misplaced, whole, odd, off, int(low * HOUR_SECONDS), int(high * HOUR_SECONDS))


def _ends_off(edges: _Edges, path: Ints, usual: float, spread: float) -> dict[int, str]:
    """Groups whose first or last reading, at an end of a chain, is likelier a day off than near the usual hour."""
    row = np.arange(len(path))
    low, high = edges.low[row, :, path, None], edges.high[row, :, path, None]
    at_hours, day_off = (each.sum(axis=1) for each in _chances(low, high, np.array([usual]), np.array([spread])))
    off = edges.ends & ~edges.apart[row, path] & (day_off > at_hours)[:, 0]
    opens = {int(edges.group[n + 1]): "opened-off" for n in np.flatnonzero(off[:-1] & (edges.group[:-1] < 0))}
    return opens | {int(edges.group[n]): "closed-off" for n in np.flatnonzero(off & (edges.group >= 0))}


def _edges(house: House, reads: Reads, ratio: float) -> _Edges | None:
    """Place every reading; the number that readings share counts on through bills that do not meet."""
    zone = ZoneInfo(house.timezone)
    usable = reads.judged.any(axis=0)
    if not usable.any():
        return None
    opens = local_instants([house.bills[group[0]].start for group in reads.groups], zone)
    closes = local_instants([house.bills[group[-1]].closes for group in reads.groups], zone)
    closes = closes + reads.closing_days * DAY_SECONDS
    instants: list[int] = []
    group: list[int] = []
    billed: list[float] = []
    for g in np.flatnonzero(usable).tolist():
        if not instants or instants[-1] != opens[g]:
            instants.append(int(opens[g]))
            group.append(-1)
            billed.append(0.0)
        instants.append(int(closes[g]))
        group.append(g)
        billed.append(float(reads.billed_kwh[g]))
    closing = np.array(group)
    at = np.array(instants)[:, None] + BESIDE[None]
    running = reads.running
    rate = float(running.kwh[-1] / max(running.covered[-1], 1.0))  # kWh/s
    first, last = int(running.seconds[0]), int(running.seconds[-1])
    beyond = np.minimum(at - first, 0) + np.maximum(at - last, 0)
    shown = ratio * (running.kwh_at(at) + rate * beyond)
    known = (np.abs(beyond) < DAY_SECONDS).any(axis=1)
    used = float(running.drawn_at(running.seconds[-1:])[0])
    day_kwh = ratio * used / max(running.covered[-1], 1.0) * DAY_SECONDS
    step = max(step_kwh(house, house.bills[i]) for members in reads.groups for i in members)
    unit = max(step / 2.0, day_kwh / STATES_PER_DAY, 1e-9)
    place = shown - _counted(np.array(billed), shown, closing)[:, None]
    lowest, highest = place.min(axis=1), place.max(axis=1)
    states = _states(lowest[known] - step, highest[known], unit)
    if states is None:
        return None
    value, room = states * unit, unit / 2.0
    low, high = _times(place, known, value - room, value + step + room)
    within = (value + step + room >= lowest[:, None]) & (value - room <= highest[:, None])
    apart = known[:, None] & ~within
    missing, (wrong, little, drift) = np.zeros((len(place), 2)), np.ones((3, len(place)))
    outside = np.abs(beyond[:, : len(OFFSETS)]) / running.step
    for n, g in enumerate(group):
        if g >= 0:
            # before and after the data the register is taken to go on as it does in them: only gaps within are missing
            counts = np.round(reads.missing[:, g] - outside[n - 1] - outside[n]).astype(np.int64)
            (least, _), (_, most) = np.transpose(running.held_by(np.clip([counts.min(), counts.max()], 0, None)))
            held = np.array([min(least, 0.0) if house.generation else least, most])
            scaled, scale = RATIO_SPREAD / 2.0 * abs(billed[n]) if ratio != 1.0 else 0.0, float(reads.scale_kwh[g])
            missing[n] = ratio * held / unit
            wrong[n] = -math.log(WRONG) + math.log1p(scale / (step + unit))
            little[n] = LITTLE_SHARE * scale / unit
            drift[n] = math.hypot(ROUNDED * step, float(reads.rounding[g]) / ROUNDING_SDS, scaled) / unit
    starts = closing < 0
    ends = starts | np.append(starts[1:], True)
    return _Edges(low, high, apart, ends, closing, starts, missing, wrong, little, drift, states)


def _times(place: Floats, known: np.ndarray, least: Floats, most: Floats) -> tuple[Floats, Floats]:
    """When each register shows what lies between two energies: earliest and latest hours, both of shape (n, k, s)."""
    rows = np.flatnonzero(known).tolist()
    hours = BESIDE / HOUR_SECONDS
    times = {n: _often(place[n], least, most) if np.any(np.diff(place[n]) < 0.0) else None for n in rows}
    often = max((len(one[0]) for one in times.values() if one is not None), default=1)
    low, high = np.full((2, len(place), often, len(least)), np.nan)
    for n, one in times.items():
        if one is None:
            # a register that only rises shows it once, and stands still for none of what no hour gives
            one = np.interp(least, place[n], hours)[None], np.interp(most, place[n], hours)[None]
        low[n], high[n] = hours[0], hours[0]
        low[n, : len(one[0])], high[n, : len(one[1])] = one
    return low, high


def _often(place: Floats, least: Floats, most: Floats) -> tuple[Floats, Floats]:
    """All times at which a register that rises and falls lies between two energies, both of shape (k, s)."""
    hours = BESIDE / HOUR_SECONDS
    before, rise = place[:-1], np.diff(place)
    still = np.abs(rise) < NO_RISE_KWH
    rise = np.where(still, NO_RISE_KWH, rise)
    a, b = (least[:, None] - before) / rise, (most[:, None] - before) / rise
    begin, end = np.clip(np.minimum(a, b), 0.0, 1.0), np.clip(np.maximum(a, b), 0.0, 1.0)
    there = end > begin
    # what lasts to the end of a stretch goes on in the next
    goes_on = there[:, :-1] & there[:, 1:] & (end[:, :-1] == 1.0) & (begin[:, 1:] == 0.0)
    begins = there & ~np.pad(goes_on, ((0, 0), (1, 0)))
    number = np.cumsum(begins, axis=1) - 1
    low = np.full((max(int(begins.sum(axis=1).max(initial=0)), 1), len(least)), hours[0])
    high = low.copy()
    state, at = np.nonzero(there)
    width = hours[1] - hours[0]
    np.maximum.at(high, (number[state, at], state), hours[at] + end[state, at] * width)
    state, at = np.nonzero(begins)
    low[number[state, at], state] = hours[at] + begin[state, at] * width
    return low, high


def _nearest(usual: float, low: Floats, high: Floats) -> Floats:
    """Of the times at which each reading may have been taken, both of shape (n, k), the one nearest to the usual."""
    times = np.where((high > low) | (np.arange(low.shape[1]) == 0), np.clip(usual, low, high), np.nan)
    apart = np.where(np.isnan(times), np.inf, np.abs(times - usual))
    return np.asarray(times[np.arange(len(times)), apart.argmin(axis=1)])


def _counted(billed: Floats, shown: Floats, group: Ints) -> Floats:
    """Billed energy up to each reading; where a chain begins anew it begins with what the intervals show."""
    counted = np.empty(len(billed))
    middle = shown[:, MIDNIGHT]
    for n, g in enumerate(group.tolist()):
        counted[n] = middle[n] if g < 0 else counted[n - 1] + billed[n]
    return counted


def _states(lowest: Floats, highest: Floats, unit: float) -> Ints | None:
    spans = [np.arange(math.floor(a / unit), math.ceil(b / unit) + 1) for a, b in zip(lowest, highest, strict=True)]
    states = np.unique(np.concatenate(spans))
    return states if len(states) <= MOST_STATES else None


def _costs(edges: _Edges, common: Floats, spread: Floats) -> Floats:
    """What each reading costs at each value of the shared number, by common hour and scatter, shape (n, c, s)."""
    least = 1e-12  # no chance is nought, so that its logarithm is a number
    cost = np.full((len(edges.low), len(common), len(edges.states)), -math.log(least))
    # most values lie beyond what a reading could show: no hours give them, and there is nothing to work out
    row, time, column = np.nonzero(edges.high > edges.low)
    low, high = edges.low[row, time, column], edges.high[row, time, column]
    chance = np.add(*_chances(low[:, None], high[:, None], common, spread))
    if edges.low.shape[1] > 1:
        chance, row, column = _summed(chance, row, column)
    cost[row, :, column] = -np.log(chance + least)
    misplaced = np.where(edges.ends, NEVER, edges.wrong + math.log(WRONG / MISPLACED))
    cost = np.where(edges.apart[:, None], misplaced[:, None, None], cost)
    return np.asarray(np.where(np.isnan(edges.low[:, :1]), 0.0, cost))


def _summed(chance: Floats, row: Ints, column: Ints) -> tuple[Floats, Ints, Ints]:
    """Add up the chances of all times at which a reading shows one value."""
    order = np.lexsort((column, row))
    row, column = row[order], column[order]
    first = np.flatnonzero(np.diff(row, prepend=-1) | np.diff(column, prepend=-1))
    return np.add.reduceat(chance[order], first), row[first], column[first]


def _chances(low: Floats, high: Floats, about: Floats, spread: Floats) -> tuple[Floats, Floats]:
    """Chances of a reading between two hours, shape (m, 1): near the common ones, shape (c,), and a day off."""
    from scipy.special import ndtr  # loaded only where it is needed

    def within(about: Floats, spread: Floats | float) -> Floats:
        return np.asarray(ndtr((high - about) / spread) - ndtr((low - about) / spread))

    usual, narrow = within(about, spread), spread < ODD_HOURS
    odd = usual.copy()
    odd[..., narrow] = within(about[narrow], ODD_HOURS)
    near = (1.0 - ODD_SHARE - DAY_SHARE) * usual + ODD_SHARE * odd
    beside = np.minimum(high, about + DAY_OFF_HOURS) - np.maximum(low, about - DAY_OFF_HOURS)
    return near, DAY_SHARE * np.maximum(beside, 0.0) / (2.0 * DAY_OFF_HOURS)


def _through(edges: _Edges, costs: Floats) -> Floats:
    """Least cost of all readings up to each, by the value of the shared number there, shape (n, c, s)."""
    total = np.empty_like(costs)
    total[0] = costs[0]
    for n in range(1, len(costs)):
        before = total[n - 1]
        anew = before.min(axis=1, keepdims=True)
        if edges.free[n]:
            total[n] = anew + costs[n]
        else:
            total[n] = np.minimum(_moved(before, edges, n), anew + edges.wrong[n]) + costs[n]
    return total


def _moved(before: Floats, edges: _Edges, n: int) -> Floats:
    """Least cost before a group of those values that its own doubt leads to each value after it."""
    states, (held, most), drift = edges.states, edges.missing[n], edges.drift[n]
    low, high = math.floor(-most - MOST_SDS * drift), math.ceil(-held + MOST_SDS * drift)
    least = np.full_like(before, np.inf)
    for shift in range(low, high + 1):
        source, after = _so_far_apart(states, shift)
        beyond = max(shift + held, -most - shift, 0.0) / drift
        least[:, after] = np.minimum(least[:, after], before[:, source] + 0.5 * beyond**2)
    return least


def _so_far_apart(states: Ints, shift: int) -> tuple[slice | Ints, slice | Ints]:
    """Places of values that others are a shift above, and of those others."""
    count = len(states)
    if states[-1] - states[0] == count - 1:  # one after another
        left = max(count - abs(shift), 0)
        return slice(max(-shift, 0), max(-shift, 0) + left), slice(max(shift, 0), max(shift, 0) + left)
    source = np.minimum(np.searchsorted(states, states - shift), count - 1)
    there = states[source] == states - shift
    return source[there], np.flatnonzero(there)


def _reversed(edges: _Edges) -> _Edges:
    """The same readings from the last to the first."""
    back = slice(None, None, -1)
    return _Edges(
        edges.low[back],
        edges.high[back],
        edges.apart[back],
        edges.ends[back],
        np.roll(edges.group[back], 1),
        np.roll(edges.free[back], 1),
        np.roll(-edges.missing[back, ::-1], 1, axis=0),
        np.roll(edges.wrong[back], 1),
        np.roll(edges.little[back], 1),
        np.roll(edges.drift[back], 1),
        edges.states,
    )
