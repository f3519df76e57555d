"""What is left of each bill beyond its intervals, and whether an hour of reading or its neighbor explains it."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import replace
from datetime import date
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, local_instants
from reconcile.house import House
from reconcile.interval.chain import LITTLE_SHARE, Chain
from reconcile.interval.found import DAYS_IN_DOUBT
from reconcile.interval.reads import BESIDE, OFFSETS, SPLIT_LONGER, Reads
from reconcile.records import dataclass

KEPT_HOURS = 4.0
"""How far from its usual hour a reading a day early or late may lie, where all others were at that hour [h] (our own
judgement: of what is left beyond that, a mistake in the bill is as likely)."""

NEIGHBOR_SHARE = 0.3
"""Part of the energy that moved by which two neighbors may fall short of making each other good (our own judgement)."""


@dataclass(frozen=True, slots=True)
class Left:
    """What is left of one group of bills."""

    kwh: float
    """Billed less intervals, beyond what the missing ones may have held [kWh]."""
    room_kwh: float
    """What readings in whole steps, rounding and the clock leave open either way [kWh]."""
    within: bool | None
    why: str = ""
    together: tuple[int, ...] = ()
    """Groups that add up as one, in order; empty where it stands by itself."""

    @property
    def open(self) -> bool:
        """It does not add up, and nothing explains it yet."""
        return self.within is False and self.why in ("", "split") and not self.together

    @property
    def unjudged(self) -> bool:
        """The data do not cover it, and nothing says why yet."""
        return self.within is None and self.why in ("", "split")


def by_hour(reads: Reads, at: int) -> tuple[Left, ...]:
    """Hold each group to one time of reading."""
    over, judged, room = reads.over()[at].tolist(), reads.judged[at].tolist(), reads.slack.tolist()
    return tuple(
        Left(over[g], room[g], abs(over[g]) <= room[g] if judged[g] else None, "split" if g in reads.prorated else "")
        for g in range(len(reads.groups))
    )


def with_neighbors(
    house: House, reads: Reads, at: int, left: tuple[Left, ...], exchanged: Set[date], chain: Chain | None
) -> tuple[Left, ...]:
    """Explain two neighbors that stand out by the same energy with opposite sign by the reading between them.

    Parameters
    ----------
    chain : Chain or None
        Of the account's readings; None where they were taken at one hour.
    """
    told = dict(enumerate(left))
    for a, b in _pairs(house, reads, left, exchanged):
        # whose readings all but this one were taken at one hour keeps to it
        keeps = chain is None and all(
            one.within for g, one in told.items() if one.within is not None and g not in (a, b)
        )
        case = _between(house, reads, a, b, at, left[a].kwh, keeps_hours=keeps)
        if case == "split" and house.bills[reads.groups[b][0]].start in exchanged:
            case = "other-hour"  # a meter is exchanged when somebody comes, not at the hour of reading
        if case == "moved" and chain is not None and a not in chain.misplaced and chain.wrong.isdisjoint((a, b)):
            continue  # the readings before and after them may have been at another hour too
        for g in (a, b):
            told[g] = replace(left[g], within=case != "moved", why=case, together=(a, b))
    return tuple(told.values())


def with_days_in_doubt(left: tuple[Left, ...]) -> tuple[Left, ...]:
    """Judge none: whether a bill is off or not, it may be of other days, and that tells nothing of it."""
    return tuple(replace(one, within=None, why=one.why if one.within is None else DAYS_IN_DOUBT) for one in left)


def with_chain(reads: Reads, left: tuple[Left, ...], chain: Chain | None, *, one_hour: bool) -> tuple[Left, ...]:
    """Explain what still stands out by the chain of all readings, or say which hours do not explain it."""
    misplaced = frozenset() if chain is None else chain.misplaced
    moved = {
        g: replace(left[g], within=False, why="moved", together=(a, a + 1))
        for a, one in enumerate(left)
        if one.open and a in misplaced
        for g in (a, a + 1)
    }
    return tuple(
        moved.get(g) or (_by_chain(reads, g, one, chain, one_hour=one_hour) if one.open else one)
        for g, one in enumerate(left)
    )


def _by_chain(reads: Reads, g: int, one: Left, chain: Chain | None, *, one_hour: bool) -> Left:
    days = float(np.ptp(reads.opening[:, g]) + np.ptp(reads.closing[:, g])) + one.room_kwh  # two about either reading
    in_chain = not one_hour and bool(reads.reachable()[g]) if chain is None else g not in chain.wrong
    explained = in_chain and abs(one.kwh) <= days
    if not explained:
        return replace(one, why=_not_hour(reads, g, chain))
    far = chain is not None and abs(one.kwh) > LITTLE_SHARE * reads.scale_kwh[g]
    ends = chain.ends_off.get(g) if chain is not None and far else None
    return replace(one, within=True, why=ends or ("other-hour" if one_hour else "any-hour"))


def with_parts(reads: Reads, at: int, left: tuple[Left, ...]) -> tuple[Left, ...]:
    """Tell of bills whose recorded part already exceeds them, though too much is missing to judge the rest."""
    exceeds = ~reads.judged[at] & (reads.billed_kwh < reads.sums[at] - reads.slack)
    return tuple(replace(one, within=False, why="part") if e else one for one, e in zip(left, exceeds, strict=True))


def with_cover(house: House, reads: Reads, at: int, left: tuple[Left, ...]) -> tuple[Left, ...]:
    """Say why the data do not cover a group."""
    return tuple(
        replace(one, why=_uncovered(house, reads, g, at)) if one.unjudged else one for g, one in enumerate(left)
    )


def _not_hour(reads: Reads, g: int, chain: Chain | None) -> str:
    """Which hours of reading do not explain a bill: any, those that the other bills need, or these in their order."""
    if not reads.reachable()[g]:
        return "no-hour"
    if chain is None or reads.reachable(chain.low_seconds, chain.high_seconds)[g]:
        return "chain"
    return "no-such-hour"


def _uncovered(house: House, reads: Reads, g: int, at: int) -> str:
    """Why the data do not cover a group: it lies outside them, they begin or end within it, or too many are missing."""
    zone = ZoneInfo(house.timezone)
    dates = [house.bills[reads.groups[g][0]].start, house.bills[reads.groups[g][-1]].closes]
    begin, end = (local_instants(dates, zone) + int(OFFSETS[at])).tolist()
    first, last = int(reads.running.seconds[0]), int(reads.running.seconds[-1])
    if end <= first or begin >= last:
        return "outside"
    return "partly" if begin < first - reads.running.step or end > last + reads.running.step else "gaps"


def _pairs(house: House, reads: Reads, left: tuple[Left, ...], exchanged: Set[date]) -> list[tuple[int, int]]:
    """Neighbors that stand out by the same energy with opposite sign: what lies at the reading between them.

    Beside an exchange, which has an hour of its own, one that stands out is enough: what is left of both may be as
    large as they have room for.
    """
    pairs: list[tuple[int, int]] = []
    for a, (one, next_) in enumerate(pairwise(left)):
        day = house.bills[reads.groups[a + 1][0]].start
        meet = day == house.bills[reads.groups[a][-1]].closes
        beside = day in exchanged and None not in (one.within, next_.within)
        apart = (one.within is False and next_.within is False) or (beside and one.within != next_.within)
        room = one.room_kwh + next_.room_kwh
        room = room if beside else min(room, NEIGHBOR_SHARE * abs(one.kwh))
        free = not pairs or a > pairs[-1][1]
        if free and meet and apart and one.kwh * next_.kwh < 0 and abs(one.kwh + next_.kwh) <= room:
            pairs.append((a, a + 1))
    return pairs


def _between(house: House, reads: Reads, a: int, b: int, at: int, moved_kwh: float, *, keeps_hours: bool) -> str:
    """What moved energy over the edge between two groups: a bill in two rows, another hour of reading, or more.

    A reader who keeps to one hour comes a day early or late at the most.
    """
    lengths = [sum(house.bills[i].days for i in group) for group in reads.groups]
    if lengths[a] + lengths[b] <= SPLIT_LONGER * float(np.quantile(lengths, 0.9)):
        return "split"
    read = local_instants([house.bills[reads.groups[b][0]].start], ZoneInfo(house.timezone))
    farthest = DAY_SECONDS + KEPT_HOURS * HOUR_SECONDS if keeps_hours else np.inf
    times = BESIDE[np.abs(BESIDE - OFFSETS[at]) <= farthest]
    from_it = reads.running.kwh_at(read + times) - reads.running.kwh_at(read + OFFSETS[at])
    room = float(reads.slack[a])
    return "other-hour" if from_it.min() - room <= moved_kwh <= from_it.max() + room else "moved"
