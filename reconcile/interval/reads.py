"""When the meter was read: the hour and the day of reading that make an account's bills add up to its own intervals.

A bill prints the date of a reading, not its hour, and some print the last day that counts instead of the day of the
closing reading. Both are the same for most bills of an account, so both can be learnt.
"""

from __future__ import annotations

from collections.abc import Set
from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, local_instants
from reconcile.facts import OUT, Facts
from reconcile.house import Bill, House
from reconcile.interval.running import Floats, Ints, Running
from reconcile.records import dataclass

OFFSET_STEP_SECONDS = 900
OFFSETS: Ints = np.arange(-DAY_SECONDS, DAY_SECONDS + 1, OFFSET_STEP_SECONDS, dtype=np.int64)
"""Times of reading looked at, from the midnight that begins the printed day: a day before to a day after [s]."""

BESIDE: Ints = np.arange(-DAY_SECONDS, 2 * DAY_SECONDS + 1, OFFSET_STEP_SECONDS, dtype=np.int64)
"""Times at which one reading may have been taken: on the printed day, the day before or the day after [s]."""

RATIO_SPREAD = 0.005
"""Room for each bill about one ratio, as a share of it: what is scaled is rounded too (our own judgement)."""

MIDNIGHT = int(np.flatnonzero(OFFSETS == 0)[0])

PRINTED_KWH = 1.0
"""How far a bill may be off by its own rounding, and that of the interval values [kWh] (our own judgement)."""

EDGE_HOURS = 0.25
"""A reading falls between two of the times looked at, at either end: the energy of so many mean hours [h]."""

ROUNDING_SDS = 3.0
"""Rounding of the intervals' own values, in its standard deviations."""

AGREEING_SHARE = 0.75
LEAST_AGREEING = 3
"""Share and number of the bills that must add up at one time of reading before the others are held to it (our own
judgement)."""

MOST_MISSING_SHARE = 0.05
"""A period with more of its intervals missing is not judged (our own judgement)."""

UNSEEN = 2.0
"""How many times what the data held in as many intervals one after another those before or after them may have held
(our choice: a day on which people cook and wash for guests)."""

SPLIT_LONGER = 1.3
"""Rows that make up one bill are together no longer than so many times the long bills of the account (our own
judgement)."""

ALIKE_KWH = 0.5
"""Each row's kWh is rounded to the whole: rows split by days differ in kWh a day by no more than this [kWh]."""


@dataclass(frozen=True, slots=True, eq=False)
class Reads:
    """Groups of bills between two actual readings, and what their intervals add up to at every time of reading."""

    groups: tuple[tuple[int, ...], ...]
    """Bills of each group, g of them; most hold one."""
    prorated: frozenset[int]
    """Groups whose rows are one bill, split by days."""
    billed_kwh: Floats
    """Shape (g,)."""
    sums: Floats
    """Interval sums at each of :data:`OFFSETS` [kWh], shape (o, g)."""
    slack: Floats
    """What readings in whole steps, rounding and the clock leave open either way [kWh], shape (g,)."""
    least: Floats
    most: Floats
    """Both: what the missing intervals will have held [kWh], shape (o, g)."""
    judged: NDArray[np.bool_]
    """Enough of the period is recorded, shape (o, g)."""
    missing: Ints
    """Shape (o, g)."""
    opening: Floats
    closing: Floats
    """Both: register as counted from the intervals at either end [kWh], shape (o, g)."""
    running: Running
    rounding: Floats
    """What rounding of the intervals' own values leaves open either way [kWh], shape (g,)."""
    drawn_kwh: Floats
    """What was drawn, by the intervals, where the register falls too; nought where it only rises, shape (g,)."""
    closing_days: int
    """Days from the printed closing date to the closing reading."""
    no_days: bool = False
    """The days of most readings are in doubt: no hour, and no chain of hours, can be learnt from them."""

    @property
    def scale_kwh(self) -> Floats:
        """Energy by which a difference is large or small [kWh], shape (g,): a net bill may be next to nothing."""
        return np.asarray(np.maximum(np.abs(self.billed_kwh), self.drawn_kwh))

    def over(self, ratio: float | Floats = 1.0) -> Floats:
        """Billed less intervals beyond what is missing [kWh], shape (o, g): zero where that can be the difference."""
        above = self.billed_kwh - ratio * (self.sums + self.most)
        below = self.billed_kwh - ratio * (self.sums + self.least)
        return np.where(above > 0, above, np.where(below < 0, below, 0.0))

    def agrees(self) -> NDArray[np.bool_]:
        """Whether each group adds up at each time of reading, shape (o, g)."""
        agrees: NDArray[np.bool_] = (np.abs(self.over()) <= self.slack) & self.judged
        return agrees

    def without(self, groups: Set[int]) -> Reads:
        """Judge all but some groups."""
        return replace(self, judged=self.judged & ~np.isin(np.arange(len(self.groups)), list(groups)))

    def scaled(self, factors: Floats) -> Reads:
        """Take the ratio of billed to interval energy out of each group's bills; what is scaled is rounded too."""
        billed = self.billed_kwh / factors
        spread = np.where(factors != 1.0, RATIO_SPREAD, 0.0) * np.abs(billed)
        return replace(
            self,
            billed_kwh=billed,
            slack=self.slack * np.maximum(factors, 1.0) / factors + spread,
            rounding=self.rounding + ROUNDING_SDS * spread / 2.0,
        )

    def reachable(self, low: int = -DAY_SECONDS, high: int = DAY_SECONDS) -> NDArray[np.bool_]:
        """Whether any pair of times between two [s] makes each group add up, shape (g,)."""
        near = (low <= OFFSETS) & (high >= OFFSETS)
        opening, closing = self.opening[near], self.closing[near]
        least = closing.min(axis=0, initial=np.inf) - opening.max(axis=0, initial=-np.inf)
        most = closing.max(axis=0, initial=-np.inf) - opening.min(axis=0, initial=np.inf)
        room = self.slack + self.most[near].max(axis=0, initial=0.0)
        reach: NDArray[np.bool_] = (self.billed_kwh >= least - self.slack) & (self.billed_kwh <= most + room)
        return reach


@dataclass(frozen=True, slots=True)
class Hour:
    """A time of reading, in seconds from the midnight that begins the printed day, and the times as good as it."""

    index: int
    low_seconds: int
    high_seconds: int
    agreeing: int

    @property
    def seconds(self) -> int:
        """Time of reading [s]."""
        return int(OFFSETS[self.index])


def group_bills(house: House, facts: Facts, closing_days: int) -> tuple[tuple[tuple[int, ...], ...], frozenset[int]]:
    """Put together the rows between two actual readings: rows of one bill split by days, and bills on an estimate.

    Parameters
    ----------
    closing_days : int
        Days from the printed closing date to the closing reading.

    Returns
    -------
    groups : tuple of tuple of int
        Bills asked for, in order; cancelled, replaced and repeated ones are left out.
    prorated : frozenset of int
        Groups that are one bill.
    """
    out = facts.set_aside or {}
    used = [i for i in range(len(house.bills)) if out.get(i) not in OUT and np.isfinite(facts.billed_kwh[i])]
    long_days = float(np.quantile([house.bills[i].days for i in used], 0.9)) if used else 0.0
    groups: list[list[int]] = []
    prorated: set[int] = set()
    for i in used:
        before = groups[-1][-1] if groups else None
        if before is not None and _meet(house.bills[before], house.bills[i], closing_days):
            days = sum(house.bills[j].days for j in groups[-1]) + house.bills[i].days
            if before in facts.loose_edges and len(groups[-1]) < len(used) - 1:
                groups[-1].append(i)
                continue
            if days <= SPLIT_LONGER * long_days and _split_by_days(house, facts, before, i):
                groups[-1].append(i)
                prorated.add(len(groups) - 1)
                continue
        groups.append([i])
    return tuple(tuple(group) for group in groups), frozenset(prorated)


def _meet(before: Bill, after: Bill, closing_days: int) -> bool:
    return (after.start - before.closes).days == closing_days


def _split_by_days(house: House, facts: Facts, before: int, after: int) -> bool:
    a, b = house.bills[before], house.bills[after]
    if min(a.days, b.days) <= 0 or b.reading_start is not None:
        return False
    rates = facts.billed_kwh[before] / a.days, facts.billed_kwh[after] / b.days
    return bool(abs(rates[0] - rates[1]) <= ALIKE_KWH * (1.0 / a.days + 1.0 / b.days))


def sum_up(
    house: House, facts: Facts, running: Running, groups: tuple[tuple[int, ...], ...], closing_days: int
) -> Reads:
    """Add the intervals of each group up, at every time of reading.

    Parameters
    ----------
    house : House
        With interval data.
    closing_days : int
        Days from the printed closing date to the closing reading.

    Returns
    -------
    Reads
        With no group marked as prorated.
    """
    zone = ZoneInfo(house.timezone)
    bills = house.bills
    a = local_instants([bills[g[0]].start for g in groups], zone)
    b = local_instants([bills[g[-1]].closes for g in groups], zone) + closing_days * DAY_SECONDS
    start, end = OFFSETS[:, None] + a, OFFSETS[:, None] + b
    opening, closing = running.kwh_at(start), running.kwh_at(end)
    sums = closing - opening
    missing = running.missing_between(start, end)
    judged = missing * running.step <= MOST_MISSING_SHARE * (b - a)
    least, most = running.held_by(np.where(judged, missing, 0))
    least = np.minimum(least, 0.0) if house.generation else least
    # what came before the data and after them may be more than they ever held
    most = np.where((start < running.seconds[0]) | (end > running.seconds[-1]), UNSEEN * most, most)
    hours = np.maximum((b - a) / HOUR_SECONDS, 1.0)
    billed = np.array([facts.billed_kwh[list(g)].sum() for g in groups])
    printed = np.stack([a, b])
    drawn = np.diff(running.drawn_at(printed), axis=0)[0] if running.falls else np.zeros(len(groups))
    hour_kwh = np.maximum(np.abs(billed), drawn) / hours
    changes = (b - a) % DAY_SECONDS != 0  # the clock changes between: some meters keep standard time
    # two readings in whole steps differ from what passed between them by less than one step
    slack = np.array([max(step_kwh(house, bills[i]) for i in g) + PRINTED_KWH for g in groups])
    rounding = _rounding(running, hours)
    in_doubt = np.array([max(bills[i].edge_doubt_days for i in g) for g in groups])
    slack += hour_kwh * (2.0 * (EDGE_HOURS + in_doubt * DAY_SECONDS / HOUR_SECONDS) + changes) + rounding
    return Reads(
        groups=groups,
        prorated=frozenset(),
        billed_kwh=billed,
        sums=sums,
        slack=slack,
        least=least,
        most=most,
        judged=judged & (b > a),
        missing=missing,
        opening=opening,
        closing=closing,
        running=running,
        rounding=rounding,
        drawn_kwh=drawn,
        closing_days=closing_days,
        no_days=bool(np.count_nonzero(in_doubt) > len(groups) / 2.0),
    )


def _rounding(running: Running, hours: Floats) -> Floats:
    values = np.diff(running.kwh[: 2 * 3000])[::2]
    step = resolution_of(values)
    rounding: Floats = ROUNDING_SDS * step * np.sqrt(hours * HOUR_SECONDS / running.step / 12.0)
    return rounding


def resolution_of(values: Floats) -> float:
    """Step in which some energies are written [kWh]: the largest power of ten times 1, 2 or 5 that they all share.

    Examples
    --------
    >>> resolution_of(np.array([0.12, 0.46, 1.02])), resolution_of(np.array([0.5, 1.5, 2.0]))
    (0.02, 0.5)
    """
    for power in range(1, -5, -1):
        for digit in (5, 2, 1):
            step = digit * 10.0**power
            parts = values / step
            if np.all(np.abs(parts - np.round(parts)) < 1e-6) and np.any(values):
                return step
    return 0.0


def step_kwh(house: House, bill: Bill) -> float:
    """Step of the register behind a bill [kWh]."""
    meter = house.meter_on(bill.start, bill.meter)
    return meter.step_kwh * (meter.multiplier if bill.multiplier is None else bill.multiplier)


def learn_hour(reads: Reads) -> Hour | None:
    """Find the time of reading at which most groups add up; None where no time serves, or the days are in doubt.

    Midnight is taken only where no other time makes more bills add up. Of the times that serve equally well, the
    middle one of the longest run is taken.
    """
    if reads.no_days:
        return None
    counts = reads.agrees().sum(axis=1)
    judged = int(reads.judged.any(axis=0).sum())
    best = int(counts.max(initial=0))
    if best < max(LEAST_AGREEING, AGREEING_SHARE * judged):
        return None
    good = counts == best
    edges = np.flatnonzero(np.diff(np.concatenate([[False], good, [False]]).astype(np.int8)))
    runs = [(int(a), int(b) - 1) for a, b in zip(edges[::2], edges[1::2], strict=True)]
    low, high = max(runs, key=lambda run: (run[0] <= MIDNIGHT <= run[1], run[1] - run[0]))
    index = MIDNIGHT if low <= MIDNIGHT <= high else _middle(reads, low, high)
    return Hour(index, int(OFFSETS[low]), int(OFFSETS[high]), best)


def _middle(reads: Reads, low: int, high: int) -> int:
    """Of equally good times the one with the least left over, in a run from ``low`` to ``high``."""
    over = np.abs(reads.over()[low : high + 1])
    left = np.where(reads.judged[low : high + 1], np.minimum(over, reads.slack), 0.0).sum(axis=1)
    return low + int(np.argmin(left))
