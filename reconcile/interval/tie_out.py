"""Whether interval data add up to the bills, in the way bills are made."""

from __future__ import annotations

import math
from collections.abc import Set
from dataclasses import replace
from datetime import date
from itertools import pairwise, product
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, local_instants
from reconcile.facts import Facts
from reconcile.house import House
from reconcile.interval.chain import LITTLE_SHARE, Chain, chain_of
from reconcile.interval.found import DAYS_IN_DOUBT, FOREIGN, OTHER_METER, RATIO, Ratio, TieOut
from reconcile.interval.other_meter import foreign as is_foreign
from reconcile.interval.other_meter import made_good, of_another
from reconcile.interval.reads import (
    AGREEING_SHARE,
    BESIDE,
    LEAST_AGREEING,
    MIDNIGHT,
    OFFSETS,
    RATIO_SPREAD,
    SPLIT_LONGER,
    Hour,
    Reads,
    group_bills,
    learn_hour,
    sum_up,
)
from reconcile.interval.running import Floats, Ints, Running
from reconcile.interval.shared_ratio import Shared, shared_ratio
from reconcile.records import dataclass

LEAST_RATIO_PERCENT = 0.5
"""A ratio of billed to interval energy nearer to one than this is not told as one [%] (our own judgement)."""

KEPT_HOURS = 4.0
"""How far from its usual hour a reading a day early or late may lie, where all others were at that hour [h] (our own
judgement: of what is left beyond that, a mistake in the bill is as likely)."""

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


def tie_out(house: House, facts: Facts) -> Tied:
    """Add the intervals up to each bill, at the time of reading that serves most of them.

    Where the data hold what was sent back too, the bills are what was drawn or the difference of the two, and where
    they hold both registers what was drawn is held to the one of them: what makes more of them add up is taken.

    Parameters
    ----------
    house : House
        With interval data.
    """
    facts, reads, hour = _learn(house, facts)
    ratio, inclusive = None, reads.closing_days == 1 and hour is not None
    chain = None if hour is not None else chain_of(house, reads, None)
    fits = hour is None and chain is not None and chain.whole
    shared = None if fits or house.generation else shared_ratio(house, reads)
    if hour is None and not fits and not reads.no_days:
        ratio, hour = _one_ratio(house, reads) or (None, None)
    if hour is not None and ratio is not None and shared is not None and shared.whole:
        ratio, hour = (ratio, hour) if hour.agreeing >= len(shared.run) else (None, None)
    if ratio is None and not reads.no_days and (since := _ratio_in_a_row(house, reads, hour)) is not None:
        ratio, hour = since
    others = None if ratio is not None or house.generation or reads.no_days else of_another(house, facts, reads, hour)
    if ratio is None and shared is not None and (others is None or others.groups <= set(shared.run.tolist())):
        others, ratio = None, _told(house, reads, shared)
    at = MIDNIGHT if hour is None else hour.index
    told, reads = reads, reads if ratio is None else reads.scaled(_factors(reads, ratio, at))
    if ratio is not None and hour is None:
        hour = learn_hour(reads)
        chain = None if hour is not None else _chain(house, told, reads, None, ratio)
    of_other: set[int] = set()
    if others is not None:  # what they add up to says nothing of the bills beside them
        of_other = {i for g in others.groups if reads.judged[:, g].any() for i in reads.groups[g]}
        reads, hour, chain = reads.without(others.groups), others.hour, others.chain
    rows = _rows(house, facts, told, reads, hour, ratio, None if hour is not None else chain)
    rows = [_of_other(row) if row.period in of_other else row for row in rows]
    ratio, rows = (None, rows) if ratio is None else _in_ratio(ratio, rows)
    foreign = hour is None and ratio is None and is_foreign(house, rows, 0 if chain is None else chain.odd)
    foreign = foreign and not (chain is not None and made_good(reads, chain.misplaced))
    if foreign:
        rows = [row if row.within is None else replace(row, within=False, why=FOREIGN) for row in rows]
    return Tied(_ones_left_out(house, facts, rows), hour, inclusive, ratio, foreign)


def _told(house: House, reads: Reads, shared: Shared) -> Ratio:
    periods = tuple(i for g in shared.run.tolist() for i in reads.groups[g])
    case = _origin(shared.ratio, shared.uncertainty / shared.ratio, reads, house)
    return Ratio(shared.ratio, shared.uncertainty, periods, case, in_a_row=not shared.whole)


def _in_ratio(ratio: Ratio, rows: list[TieOut]) -> tuple[Ratio, list[TieOut]]:
    """Give a ratio all bills that stand in it, and tell of them that they do not add up; a file's unit is no matter of
    the bills.
    """
    if not ratio.in_a_row:
        ratio = replace(ratio, periods=tuple(row.period for row in rows if row.within or row.period in ratio.periods))
    if ratio.points_to in ("unit", "power"):
        return ratio, rows
    held = [row.within is not None and row.period in ratio.periods for row in rows]
    return ratio, [replace(row, within=False, why=RATIO) if h else row for row, h in zip(rows, held, strict=True)]


def _chain(house: House, told: Reads, scaled: Reads, index: int | None, ratio: Ratio | None) -> Chain | None:
    """Chain of the readings; where one ratio holds throughout, the register's steps are of its own size."""
    if ratio is None or ratio.in_a_row:
        return chain_of(house, scaled, index)
    return chain_of(house, told, index, ratio.value)


def _of_other(row: TieOut) -> TieOut:
    """Tell of a bill among those of another meter whether it adds up all the same."""
    apart = row.billed_kwh - row.interval_kwh
    within = abs(apart) <= row.slack_kwh
    return replace(row, within=within, difference_percent=_percent(apart, row.interval_kwh), why=OTHER_METER)


def _learn(house: House, facts: Facts) -> tuple[Facts, Reads, Hour | None]:
    """Take the energies and dates that make most bills add up: at one time of reading, else at any of their own days.

    The energies are what was drawn, or what is left of both registers; the dates are as printed, or, where each bill
    begins the day after the last ended, days that both count.
    """
    found = []
    for (running, billed), days in product(_counted(house, facts), _closing_days(house)):
        told = replace(facts, billed_kwh=billed)
        groups, prorated = group_bills(house, told, days)
        reads = replace(sum_up(house, told, running, groups, days), prorated=prorated)
        hour = learn_hour(reads)
        reached = int((reads.reachable() & reads.judged.any(axis=0)).sum())
        found.append(((0, days, reached) if hour is None else (hour.agreeing, 0, 0), told, reads, hour))
    _, told, reads, hour = max(found, key=lambda one: one[0])
    return told, reads, hour


def _counted(house: House, facts: Facts) -> list[tuple[Running, Floats]]:
    """What the intervals count up to, with the energy of the bills that it is held to."""
    assert house.interval is not None
    drawn = Running.of(house.interval)
    counted = [(drawn, facts.billed_kwh)]
    if house.interval.received_kwh is not None:
        counted.append((Running.of(house.interval, net=True), facts.billed_kwh))
    delivered = [bill.delivered_kwh for bill in house.bills]
    if any(kwh is not None for kwh in delivered):
        told = [facts.billed_kwh[i] if kwh is None else kwh for i, kwh in enumerate(delivered)]
        counted.insert(0, (drawn, np.where(np.isfinite(facts.billed_kwh), told, np.nan)))
    return counted


LEAST_KWH = 1e-6
"""Energy below which a sum of intervals is none, and no ratio to it means anything [kWh] (common practice)."""


def _closing_days(house: House) -> tuple[int, ...]:
    apart = [(b.start - a.closes).days for a, b in pairwise(house.bills)]
    return (0, 1) if apart and apart.count(1) > len(apart) / 2 else (0,)


def _one_ratio(house: House, reads: Reads) -> tuple[Ratio, Hour] | None:
    """Find one ratio of billed to interval energy that serves most bills at one time of reading."""
    usable = reads.judged & (reads.sums > LEAST_KWH) & (reads.billed_kwh > 0)
    if not usable.any():
        return None
    ratios = np.where(usable, reads.billed_kwh / np.where(usable, reads.sums, 1.0), np.nan)
    enough = np.flatnonzero(usable.sum(axis=1) >= LEAST_AGREEING)
    if len(enough) == 0:
        return None
    middle = np.nanmedian(ratios[enough], axis=1)
    spread = np.nanmedian(np.abs(ratios[enough] / middle[:, None] - 1.0), axis=1)
    best = enough[int(np.argmin(spread))]
    ratio = float(np.nanmedian(ratios[best]))
    if abs(ratio - 1.0) <= LEAST_RATIO_PERCENT / 100.0:
        return None
    off = np.abs(ratios[best] / ratio - 1.0)
    room = RATIO_SPREAD + reads.slack / np.where(reads.billed_kwh > 0, reads.billed_kwh, 1.0)
    agreeing = np.flatnonzero(off <= room)
    if len(agreeing) < max(LEAST_AGREEING, AGREEING_SHARE * usable[best].sum()):
        return None
    near = ratios[best][agreeing]
    doubt = float(np.std(near) / math.sqrt(len(near)))
    periods = tuple(i for g in agreeing for i in reads.groups[g])
    case = _origin(ratio, doubt / ratio, reads, house)
    return Ratio(ratio, doubt, periods, case), Hour(int(best), int(OFFSETS[best]), int(OFFSETS[best]), len(near))


def _ratio_in_a_row(house: House, reads: Reads, hour: Hour | None) -> tuple[Ratio, Hour] | None:
    """Find bills one after another that stand in one ratio to their intervals at a time at which the others add up.

    A bill before or after them that stands between the two counts as one of them: the ratio began or ended within it.
    """
    agrees, tried = reads.agrees(), np.arange(len(OFFSETS)) if hour is None else np.array([hour.index])
    tried = tried[agrees[tried].sum(axis=1) >= LEAST_AGREEING]  # fewer tell no time
    # where the hours vary, a few small differences in a row are theirs
    by_hours = reads.reachable() if hour is None else np.zeros(len(reads.groups), dtype=bool)
    found = []
    for at in tried.tolist():
        odd = np.flatnonzero(reads.judged[at] & ~agrees[at])
        for run in np.split(odd, np.flatnonzero(np.diff(odd) > 1) + 1):
            near = None if len(run) < LEAST_AGREEING or by_hours[run].any() else _in_one_ratio(reads, at, run)
            if near is not None:
                held = int(agrees[at].sum()) + len(near)
                if held >= AGREEING_SHARE * reads.judged[at].sum():
                    found.append((held, -float(np.ptp(near)), at, run, near))
    if not found:
        return None
    held, _, at, run, near = max(found, key=lambda one: one[:2])
    ratio, doubt = float(np.median(near)), float(np.std(near) / math.sqrt(len(near)))
    periods = tuple(i for g in run.tolist() for i in reads.groups[g])
    told = Ratio(ratio, doubt, periods, _origin(ratio, doubt / ratio, reads, house), in_a_row=True)
    return told, hour or Hour(at, int(OFFSETS[at]), int(OFFSETS[at]), held)


def _in_one_ratio(reads: Reads, at: int, run: Ints) -> Floats | None:
    """Ratios of billed to interval energy of some bills, without those within which it began or ended; None where they
    are not one.
    """
    billed, sums = reads.billed_kwh[run], reads.sums[at, run]
    if sums.min() <= LEAST_KWH or np.abs(billed).min() <= LEAST_KWH:
        return None
    ratios = billed / sums
    ratio = float(np.median(ratios))
    near = np.abs(ratios / ratio - 1.0) <= RATIO_SPREAD + reads.slack[run] * max(ratio, 1.0) / np.abs(billed)
    between = (ratios - 1.0) * (ratio - ratios) > 0.0
    whole = bool(near[1:-1].all() and (near | between)[[0, -1]].all() and near.sum() >= LEAST_AGREEING)
    return ratios[near] if whole and abs(ratio - 1.0) > LEAST_RATIO_PERCENT / 100.0 else None


def _factors(reads: Reads, ratio: Ratio | None, at: int) -> Floats:
    """Ratio of billed to interval energy by group of bills; of one within which it began or ended, its own."""
    factors = np.ones(len(reads.groups))
    if ratio is None:
        return factors
    if not ratio.in_a_row:
        return np.full(len(reads.groups), ratio.value)
    for g, group in enumerate(reads.groups):
        if group[0] in ratio.periods:
            own = float(reads.billed_kwh[g] / reads.sums[at, g])
            factors[g] = own if (own - 1.0) * (ratio.value - own) > 0.0 else ratio.value
    return factors


def _origin(ratio: float, doubt: float, reads: Reads, house: House) -> str:
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


def _rows(
    house: House,
    facts: Facts,
    told: Reads,
    reads: Reads,
    hour: Hour | None,
    ratio: Ratio | None,
    chain: Chain | None,
) -> list[TieOut]:
    """Judge each group by the hour that serves most, then those that stand out by the chain of all readings.

    Bills that stand in a ratio are judged without it, as they are in ``reads``, and ``told`` as they are.
    """
    at = hour.index if hour is not None else chain.index if chain is not None else MIDNIGHT
    over, judged, room = reads.over()[at], reads.judged[at], reads.slack
    agrees = np.abs(over) <= room
    within: list[bool | None] = [None if not j else bool(a) for j, a in zip(judged, agrees, strict=True)]
    why = ["split" if g in reads.prorated else "" for g in range(len(within))]
    together: list[tuple[int, ...]] = [(g,) for g in range(len(within))]
    if hour is not None or chain is not None:
        changed = {exchange.day for exchange in facts.exchanges}
        for a, b in _pairs(house, reads, within, over, room, changed):
            # whose readings all but this one were taken at one hour keeps to it
            keeps = hour is not None and all(w for g, w in enumerate(within) if w is not None and g not in (a, b))
            case = _between(house, reads, a, b, at, float(over[a]), keeps_hours=keeps)
            if case == "split" and house.bills[reads.groups[b][0]].start in changed:
                case = "other-hour"  # a meter is exchanged when somebody comes, not at the hour of reading
            within[a] = within[b] = case != "moved"
            why[a] = why[b] = case
            together[a] = together[b] = (a, b)
    if reads.no_days:  # whether a bill is off or not, it may be of other days: that tells nothing of it
        why = [y if w is None else DAYS_IN_DOUBT for w, y in zip(within, why, strict=True)]
        within = [None] * len(within)
    left = [g for g in range(len(within)) if within[g] is False and why[g] in ("", "split") and len(together[g]) == 1]
    if left and chain is None:
        chain = _chain(house, told, reads, at, ratio)
    misplaced = frozenset() if chain is None else chain.misplaced
    for a, b in ((g, g + 1) for g in left if g in misplaced):
        within[a] = within[b] = False
        why[a] = why[b] = "moved"
        together[a] = together[b] = (a, b)
    for g in (g for g in left if why[g] != "moved"):
        if chain is None:
            within[g] = hour is None and bool(reads.reachable()[g])
        else:
            within[g] = g not in chain.wrong
        why[g] = _not_hour(reads, g, chain) if not within[g] else "other-hour" if hour is not None else "any-hour"
        if within[g] and chain is not None and abs(over[g]) > LITTLE_SHARE * abs(reads.billed_kwh[g]):
            why[g] = chain.ends_off.get(g, why[g])
    if hour is not None and ratio is None and not house.generation:
        for g in np.flatnonzero(~judged & (reads.billed_kwh < reads.sums[at] - room)).tolist():
            within[g], why[g] = False, "part"
    for g in (g for g in range(len(within)) if within[g] is None and why[g] in ("", "split")):
        why[g] = _uncovered(house, reads, g, at)
    hours = None if chain is None else (chain.low_seconds / HOUR_SECONDS, chain.high_seconds / HOUR_SECONDS)
    rows = []
    for g, group in enumerate(reads.groups):
        whole = tuple(i for part in together[g] for i in reads.groups[part])
        own = [_row(told, g, i, at, within[g], why[g], whole if len(whole) > 1 else ()) for i in group]
        if within[g] is False:
            own = [replace(row, read_between=hours) for row in own]
        rows += own if len(group) == 1 else _own_sums(house, facts, told, g, at, own)
    return rows


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


def _row(reads: Reads, g: int, i: int, at: int, within: bool | None, why: str, together: tuple[int, ...]) -> TieOut:
    billed, added = float(reads.billed_kwh[g]), float(reads.sums[at, g])
    missing = int(reads.missing[at, g])
    return TieOut(
        period=i,
        billed_kwh=billed,
        interval_kwh=added,
        difference_percent=None if within is None else _percent(billed - added, added),
        within=within,
        missing_intervals=missing,
        slack_kwh=float(reads.slack[g]),
        tied_with=together,
        why=why,
    )


def _own_sums(house: House, facts: Facts, reads: Reads, g: int, at: int, rows: list[TieOut]) -> list[TieOut]:
    """Give each row of a group its own sum; an estimated reading between two bills is told by it."""
    ends = local_instants([house.bills[i].closes for i in reads.groups[g][:-1]], ZoneInfo(house.timezone))
    inner = reads.running.kwh_at(ends + int(OFFSETS[at]))
    edges = np.concatenate([[reads.opening[at, g]], inner, [reads.closing[at, g]]])
    own = []
    for row, added in zip(rows, np.diff(edges), strict=True):
        billed = float(facts.billed_kwh[row.period])
        apart = abs(billed - added) > row.slack_kwh
        estimated = g not in reads.prorated
        own.append(
            replace(
                row,
                billed_kwh=billed,
                interval_kwh=float(added),
                difference_percent=_percent(billed - float(added), float(added)),
                within=not apart if estimated and row.within else row.within,
                why=("estimate" if apart else "") if estimated and row.within else row.why,
            )
        )
    return own


def _pairs(
    house: House, reads: Reads, within: list[bool | None], over: Floats, room: Floats, changed: Set[date]
) -> list[tuple[int, int]]:
    """Neighbours that stand out by the same energy with opposite sign: what lies at the reading between them.

    Beside an exchange, which has an hour of its own, one that stands out is enough: what is left of both may be as
    large as they have room for.
    """
    pairs, taken = [], -1
    for a in range(len(reads.groups) - 1):
        b = a + 1
        meet = house.bills[reads.groups[b][0]].start == house.bills[reads.groups[a][-1]].closes
        exchanged = house.bills[reads.groups[b][0]].start in changed and within[a] is not None and within[b] is not None
        apart = (within[a] is False and within[b] is False) or (exchanged and within[a] != within[b])
        left = room[a] + room[b] if exchanged else min(room[a] + room[b], 0.3 * abs(over[a]))
        if a > taken and meet and apart and over[a] * over[b] < 0 and abs(over[a] + over[b]) <= left:
            pairs.append((a, b))
            taken = b
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


def _ones_left_out(house: House, facts: Facts, rows: list[TieOut]) -> tuple[TieOut, ...]:
    """Add the bills that were not asked for, unjudged, so that every period has its row."""
    known = {row.period: row for row in rows}
    return tuple(
        known.get(i) or TieOut(i, float(facts.billed_kwh[i]), 0.0, None, None, why="not-asked-for")
        for i in range(len(house.bills))
    )


def _percent(difference: float, of: float) -> float | None:
    percent = 100.0 * difference / of if of else math.nan
    return float(percent) if math.isfinite(percent) else None
