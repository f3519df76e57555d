"""Bills of another meter than the data's, and data of another meter than the bills'."""

from __future__ import annotations

from collections.abc import Sequence, Set

import numpy as np
from numpy.typing import NDArray

from reconcile.facts import OTHERS, Facts
from reconcile.house import House
from reconcile.interval.chain import Chain, chain_of
from reconcile.interval.found import TieOut
from reconcile.interval.reads import AGREEING_SHARE, LEAST_AGREEING, MIDNIGHT, OFFSETS, Hour, Reads
from reconcile.interval.running import Floats, Ints
from reconcile.records import dataclass

Mask = NDArray[np.bool_]


FOREIGN_SHARE, FOREIGN_MOST = 1.0 / 3.0, 0.6
"""Part of the bills that no likely hours explain, from which the data are of another meter; and that part where the
data add up over all bills together, as those of another meter seldom do, or counted with readings a day off (our own
judgement)."""

END_DAYS = 2.0
"""Days' energy by which all bills together may differ from the data: the first and the last reading may each have been
a day off [d]."""

OTHER_HOME = 0.3
"""How far the use of two homes in a month lies apart, as a part of it, one standard deviation (our own judgement)."""

BY_CHANCE = 1e-4
"""Chance that bills of another home would add up to these data, below which they are this home's (our choice: many
times are tried, and several ways in which bills may lie)."""


@dataclass(frozen=True, slots=True)
class Split:
    """Groups of bills that are of another meter than the data, and how the others were read."""

    groups: frozenset[int]
    hour: Hour | None
    chain: Chain | None
    """Of the others, where no one hour serves them."""


def of_another(house: House, facts: Facts, reads: Reads, hour: Hour | None) -> Split | None:
    """Find the bills one after another that the data do not add up to, where they add up to all others.

    Those that the records know to be of another register are taken as one.
    """
    agrees, reach, judged = reads.agrees(), reads.reachable(), reads.judged.any(axis=0)
    found = []
    odd = reads.judged & ~agrees
    long = np.flatnonzero(np.count_nonzero(odd & ~reach, axis=1) >= LEAST_AGREEING)  # at few hours, mostly at none
    for at in long.tolist() if hour is None else [hour.index]:
        run = _run(house, reads, at, odd[at], ~reach)
        own = np.setdiff1d(np.flatnonzero(agrees[at]), run)
        if len(run) and len(own) >= LEAST_AGREEING and _by_chance(reads, own, 2.0 * reads.slack) <= BY_CHANCE:
            found.append((len(own), at, run))
    if found:
        most = max(found, key=lambda one: one[0])[0]
        best = [(at, run) for count, at, run in found if count == most]
        at, run = best[len(best) // 2]
        hour = hour or Hour(at, int(OFFSETS[best[0][0]]), int(OFFSETS[best[-1][0]]), most)
        return Split(frozenset(_as_known(facts, reads, run).tolist()), hour, None)
    if hour is not None:
        return None
    run = _as_known(facts, reads, _run(house, reads, MIDNIGHT, judged & ~reach, ~reach))
    own = np.setdiff1d(np.flatnonzero(judged), run)
    chain = chain_of(house, reads.without(frozenset(run.tolist())), None) if len(run) and len(own) else None
    if chain is None or not chain.whole:
        return None
    near = (chain.low_seconds <= OFFSETS) & (chain.high_seconds >= OFFSETS)
    wide = np.ptp(reads.opening[near], axis=0) + np.ptp(reads.closing[near], axis=0) + 2.0 * reads.slack
    return Split(frozenset(run.tolist()), None, chain) if _by_chance(reads, own, wide) <= BY_CHANCE else None


def _run(house: House, reads: Reads, at: int, odd: Mask, unreached: Mask) -> Ints:
    """Groups one after another, most of which no hours explain, from the first such to the last; none where more than
    one beside them is odd, or where they add up together, as estimates do.
    """
    judged, far = reads.judged[at], np.flatnonzero(odd & unreached)
    if len(far) < LEAST_AGREEING:
        return far[:0]
    run: Ints = np.arange(far[0], far[-1] + 1)
    run = run[judged[run]]
    days = sum(house.bills[i].days for g in run for i in reads.groups[g])
    added, billed = float(reads.sums[at, run].sum()), float(reads.billed_kwh[run].sum())
    together = abs(billed - added) * days <= END_DAYS * abs(added)
    beside = len(np.setdiff1d(np.flatnonzero(odd), run))
    return far[:0] if together or beside > 1 or 2 * len(far) <= len(run) else run


def _as_known(facts: Facts, reads: Reads, run: Ints) -> Ints:
    """Extend a run to all bills that the records know to be of the other register."""
    known = {i for finding in facts.findings if finding.key in OTHERS for i in finding.periods}
    every = np.array([g for g, group in enumerate(reads.groups) if known.issuperset(group)], dtype=np.int64)
    return every if len(run) and np.isin(run, every).all() else run


def _by_chance(reads: Reads, groups: Ints, width: Floats) -> float:
    """Chance that another home's bills would all add up, each within a width [kWh]."""
    near = width / np.maximum(np.sqrt(2.0 * np.pi) * OTHER_HOME * np.abs(reads.billed_kwh), 1e-9)
    return float(np.prod(np.minimum(near[groups], 1.0)))


def foreign(house: House, rows: Sequence[TieOut], unexplained: int) -> bool:
    """Whether so many bills do not add up, estimates aside, that the data are of another meter.

    ``unexplained`` is what their chain leaves so, or takes for readings a day off.
    """
    asked = [row for row in rows if row.within is not None]
    odd = sum(row.within is False and row.why != "estimate" for row in asked)
    days = sum(house.bills[row.period].days for row in asked)
    added, billed = sum(row.interval_kwh for row in asked), sum(row.billed_kwh for row in asked)
    together = abs(billed - added) * max(days, 1) <= END_DAYS * abs(added)
    least = max(LEAST_AGREEING, (FOREIGN_MOST if together else FOREIGN_SHARE) * len(asked))
    return odd >= least or unexplained >= max(LEAST_AGREEING, FOREIGN_MOST * len(asked))


def made_good(reads: Reads, misplaced: Set[int]) -> bool:
    """Whether one time of reading serves most bills, where one whose closing reading is misplaced and the next are one.

    As where every other bill is an estimate that nobody marked: another meter's bills add up so no better in twos.
    """
    starts = [g for g in range(len(reads.groups)) if g - 1 not in misplaced]
    over = np.add.reduceat(reads.over(), starts, axis=1)
    judged = np.logical_and.reduceat(reads.judged, starts, axis=1)
    counts = (judged & (np.abs(over) <= np.add.reduceat(reads.slack, starts))).sum(axis=1)
    return bool(counts.max() >= max(LEAST_AGREEING, AGREEING_SHARE * judged.any(axis=0).sum()))
