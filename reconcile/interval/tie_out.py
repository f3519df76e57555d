"""Whether interval data add up to the bills, in the way bills are made.

A sequence of steps, each from what the ones before it found: how the account is read and billed (:class:`Learnt`), how
it stands to its data as a whole (:class:`Explained`), how its readings were taken once that is taken out of the bills
(:class:`Taken`), what then is left of each group of bills (:class:`Left`), and a row for each bill.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise, product
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.clock import HOUR_SECONDS, local_instants
from reconcile.facts import Facts
from reconcile.house import House
from reconcile.interval.chain import Chain, chain_of
from reconcile.interval.explained import Explained, explain
from reconcile.interval.found import FOREIGN, OTHER_METER, RATIO, Ratio, TieOut
from reconcile.interval.left_over import (
    Left,
    by_hour,
    with_chain,
    with_cover,
    with_days_in_doubt,
    with_neighbors,
    with_parts,
)
from reconcile.interval.reads import MIDNIGHT, OFFSETS, Hour, Reads, group_bills, learn_hour, sum_up
from reconcile.interval.running import Floats, Running
from reconcile.records import dataclass

KW_AS_KWH = 0.01
WHOLE_RATIO = 0.01
"""How near a ratio comes to one of a known origin, as a share (our own judgement)."""


@dataclass(frozen=True, slots=True)
class Tied:
    """The tie-out of all bills and what was learnt on the way; ``foreign`` says that the data are of another meter."""

    rows: tuple[TieOut, ...]
    hour: Hour | None
    inclusive: bool
    ratio: Ratio | None
    foreign: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Learnt:
    """How an account is billed: its energies, the rows that are one bill, the days and, where one serves, the hour."""

    facts: Facts
    reads: Reads
    hour: Hour | None

    @property
    def inclusive(self) -> bool:
        """Whether the bills add up only where the printed last day counts too."""
        return self.reads.closing_days == 1 and self.hour is not None

    @property
    def merit(self) -> tuple[int, int, int]:
        """How well the data add up: bills at one hour; else whether days that both count let more add up at any."""
        if self.hour is not None:
            return self.hour.agreeing, 0, 0
        reached = self.reads.reachable() & self.reads.judged.any(axis=0)
        return 0, self.reads.closing_days, int(reached.sum())


@dataclass(frozen=True, slots=True, eq=False)
class Taken:
    """How an account's readings were taken, when what explains it as a whole is out of its bills."""

    reads: Reads
    hour: Hour | None
    chain: Chain | None
    """Where no one hour serves."""

    @property
    def at(self) -> int:
        """Place in OFFSETS of the usual time of reading."""
        return self.hour.index if self.hour is not None else MIDNIGHT if self.chain is None else self.chain.index


def tie_out(house: House, facts: Facts) -> Tied:
    """Add the intervals up to each bill, at the time of reading that serves most of them.

    Where the data hold what was sent back too, the bills are what was drawn or the difference of the two, and where
    they hold both registers what was drawn is held to the one of them: what makes more of them add up is taken.

    Parameters
    ----------
    house : House
        With interval data.
    """
    learnt = learn(house, facts)
    explained = explain(house, learnt.facts, learnt.reads)
    taken = _taken(house, learnt, explained)
    left = _left(house, learnt, explained, taken)
    rows = _rows(house, learnt, explained, taken, left)
    ratio = None if explained.case != RATIO else _ratio(house, learnt.reads, explained, rows)
    told = _told(rows, explained, ratio)
    return Tied(_every(house, facts, told), taken.hour, learnt.inclusive, ratio, explained.case == FOREIGN)


def learn(house: House, facts: Facts) -> Learnt:
    """Take the energies and dates that make most bills add up: at one time of reading, else at any of their own days.

    The energies are what was drawn, or what is left of both registers; the dates are as printed, or, where each bill
    begins the day after the last ended, days that both count.
    """

    def as_billed(running: Running, billed: Floats, days: int) -> Learnt:
        told = replace(facts, billed_kwh=billed)
        groups, prorated = group_bills(house, told, days)
        reads = replace(sum_up(house, told, running, groups, days), prorated=prorated)
        return Learnt(told, reads, learn_hour(reads))

    ways = product(_counted(house, facts), _closing_days(house))
    return max((as_billed(*counted, days) for counted, days in ways), key=lambda one: one.merit)


def _counted(house: House, facts: Facts) -> list[tuple[Running, Floats]]:
    """What the intervals count up to, with the energy of the bills that it is held to."""
    assert house.interval is not None
    drawn = Running.of(house.interval)
    delivered = [bill.delivered_kwh for bill in house.bills]
    told = [facts.billed_kwh[i] if kwh is None else kwh for i, kwh in enumerate(delivered)]
    both = [(drawn, np.where(np.isfinite(facts.billed_kwh), told, np.nan))]
    net = [] if house.interval.received_kwh is None else [Running.of(house.interval, net=True)]
    return [
        *(both if any(kwh is not None for kwh in delivered) else []),
        (drawn, facts.billed_kwh),
        *((running, facts.billed_kwh) for running in net),
    ]


def _closing_days(house: House) -> tuple[int, ...]:
    apart = [(b.start - a.closes).days for a, b in pairwise(house.bills)]
    return (0, 1) if apart and apart.count(1) > len(apart) / 2 else (0,)


def _taken(house: House, learnt: Learnt, explained: Explained) -> Taken:
    """Take a ratio, or the bills of another meter, out of the account, and learn how the rest was read."""
    scaled = learnt.reads.scaled(explained.factors) if explained.case == RATIO else learnt.reads
    reads = scaled.without(set(explained.groups.tolist())) if explained.case == OTHER_METER else scaled
    hour = learn_hour(reads) if explained.kept and explained.case != FOREIGN else None
    chain = None if hour is not None else _chain(house, learnt.reads, reads, explained, None)
    return Taken(reads, hour, chain)


def _chain(house: House, told: Reads, reads: Reads, explained: Explained, index: int | None) -> Chain | None:
    """Chain of the readings; where one ratio holds throughout, the register's steps are of its own size."""
    return chain_of(house, told, index, explained.ratio) if explained.whole else chain_of(house, reads, index)


def _left(house: House, learnt: Learnt, explained: Explained, taken: Taken) -> tuple[Left, ...]:
    """Judge each group by the hour that serves most, then by its neighbor, then by the chain of all readings."""
    reads, at, one_hour = taken.reads, taken.at, taken.hour is not None
    exchanged = {exchange.day for exchange in learnt.facts.exchanges}
    held = by_hour(reads, at)
    if one_hour or taken.chain is not None:
        held = with_neighbors(house, reads, at, held, exchanged, taken.chain)
    if reads.no_days:
        held = with_days_in_doubt(held)
    if any(one.open for one in held):
        chain = taken.chain or _chain(house, learnt.reads, reads, explained, at)
        held = with_chain(reads, held, chain, one_hour=one_hour)
    if one_hour and explained.case != RATIO and not house.generation:
        held = with_parts(reads, at, held)
    return with_cover(house, reads, at, held)


def _rows(house: House, learnt: Learnt, explained: Explained, taken: Taken, left: tuple[Left, ...]) -> list[TieOut]:
    """Give each bill its row, as billed."""
    of_other = explained.groups.tolist() if explained.case == OTHER_METER else []
    hours = None
    if taken.chain is not None:
        hours = taken.chain.low_seconds / HOUR_SECONDS, taken.chain.high_seconds / HOUR_SECONDS
    rows = []
    for g, (group, one) in enumerate(zip(learnt.reads.groups, left, strict=True)):
        own = [_row(learnt.reads, g, i, taken.at, one) for i in group]
        if len(group) > 1:
            own = _own_sums(house, learnt, g, taken.at, own)
        if one.within is False:
            own = [replace(row, read_between=hours) for row in own]
        rows += [_of_other(row) for row in own] if g in of_other and learnt.reads.judged[:, g].any() else own
    return rows


def _row(reads: Reads, g: int, i: int, at: int, left: Left) -> TieOut:
    billed, added = float(reads.billed_kwh[g]), float(reads.sums[at, g])
    whole = tuple(j for part in left.together or (g,) for j in reads.groups[part])
    return TieOut(
        period=i,
        billed_kwh=billed,
        interval_kwh=added,
        difference_percent=None if left.within is None else _percent(billed - added, added),
        within=left.within,
        missing_intervals=int(reads.missing[at, g]),
        slack_kwh=float(reads.slack[g]),
        tied_with=whole if len(whole) > 1 else (),
        why=left.why,
    )


def _own_sums(house: House, learnt: Learnt, g: int, at: int, rows: list[TieOut]) -> list[TieOut]:
    """Give each row of a group its own sum; an estimated reading between two bills is told by it."""
    reads = learnt.reads
    ends = local_instants([house.bills[i].closes for i in reads.groups[g][:-1]], ZoneInfo(house.timezone))
    inner = reads.running.kwh_at(ends + int(OFFSETS[at]))
    edges = np.concatenate([[reads.opening[at, g]], inner, [reads.closing[at, g]]])
    own = []
    for row, added in zip(rows, np.diff(edges).tolist(), strict=True):
        billed = float(learnt.facts.billed_kwh[row.period])
        apart = abs(billed - added) > row.slack_kwh
        estimated = g not in reads.prorated and row.within
        own.append(
            replace(
                row,
                billed_kwh=billed,
                interval_kwh=added,
                difference_percent=_percent(billed - added, added),
                within=not apart if estimated else row.within,
                why=("estimate" if apart else "") if estimated else row.why,
            )
        )
    return own


def _of_other(row: TieOut) -> TieOut:
    """Tell of a bill among those of another meter whether it adds up all the same."""
    apart = row.billed_kwh - row.interval_kwh
    within = abs(apart) <= row.slack_kwh
    return replace(row, within=within, difference_percent=_percent(apart, row.interval_kwh), why=OTHER_METER)


def _ratio(house: House, reads: Reads, explained: Explained, rows: list[TieOut]) -> Ratio:
    """Give a ratio all bills that stand in it."""
    held = [i for g in explained.groups.tolist() for i in reads.groups[g]]
    if explained.whole:
        held = [row.period for row in rows if row.within or row.period in held]
    value, doubt = explained.ratio, explained.standard_uncertainty
    return Ratio(value, doubt, tuple(held), _origin(value, doubt / value, house), in_a_row=not explained.whole)


def _origin(ratio: float, doubt: float, house: House) -> str:
    """What the ratio itself points to: a unit, power read as energy, a multiplier, or none of these."""
    assert house.interval is not None
    room = max(KW_AS_KWH, 2.0 * doubt)
    tens = math.log10(ratio)
    if abs(tens) > 2.5 and abs(tens - round(tens)) < room:
        return "unit"
    hours = house.interval.step_seconds / 3600.0
    if hours != 1.0 and min(abs(ratio / hours - 1.0), abs(ratio * hours - 1.0)) < room:
        return "power"
    whole = max(ratio, 1.0 / ratio)
    if whole >= 2.0 - WHOLE_RATIO and abs(whole / round(whole) - 1.0) < max(WHOLE_RATIO, 2.0 * doubt):
        return "multiplier"
    return "other-scope"


def _told(rows: list[TieOut], explained: Explained, ratio: Ratio | None) -> list[TieOut]:
    """Tell of bills in a ratio, and of all where the data are another meter's, that they do not add up.

    A file's unit is no matter of the bills.
    """
    if explained.case == FOREIGN:
        return [row if row.within is None else replace(row, within=False, why=FOREIGN) for row in rows]
    if ratio is None or ratio.points_to in ("unit", "power"):
        return rows
    held = [row.within is not None and row.period in ratio.periods for row in rows]
    return [replace(row, within=False, why=RATIO) if h else row for row, h in zip(rows, held, strict=True)]


def _every(house: House, facts: Facts, rows: list[TieOut]) -> tuple[TieOut, ...]:
    """Add the bills that were not asked for, unjudged, so that every period has its row."""
    known = {row.period: row for row in rows}
    return tuple(
        known.get(i) or TieOut(i, float(facts.billed_kwh[i]), 0.0, None, None, why="not-asked-for")
        for i in range(len(house.bills))
    )


def _percent(difference: float, of: float) -> float | None:
    percent = 100.0 * difference / of if of else math.nan
    return float(percent) if math.isfinite(percent) else None
