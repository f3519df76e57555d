"""What explains an account's bills: one likelihood over how it may stand to its interval data.

The bills add up as they are; or those of a stretch do in one ratio; or those of a stretch, or all, are another home's.
What the hours of reading leave open is learnt at the same time: one hour for all, or hours that scatter by so much. The
energy between the usual hour and its own is what a bill is then off; a ratio moves every bill by one part of it. Any
bill may be wrong besides, by any part, and every account is measured by how much likelier it is than if all were.
"""

from __future__ import annotations

import math
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import HOUR_SECONDS
from reconcile.facts import OTHERS, Facts
from reconcile.house import House
from reconcile.interval.chain import DAY_OFF_HOURS, DAY_SHARE, MISPLACED, ODD_SHARE, WRONG
from reconcile.interval.found import FOREIGN, OTHER_METER, RATIO, CaseCode
from reconcile.interval.reads import AGREEING_SHARE, LEAST_AGREEING, OFFSETS, RATIO_SPREAD, Reads
from reconcile.interval.running import Floats, Ints
from reconcile.records import dataclass

Mask = NDArray[np.bool_]

AS_BILLED: Final = ""

COMMON: Ints = np.arange(0, len(OFFSETS), 16)
"""Common times of readings that scatter, places in OFFSETS: every four hours, which hardly move a whole bill."""

HOURS = (0.5, 2.0, 4.0, 6.0, 9.0)
"""Scatters of an account's hours of reading, one standard deviation, in hours of mean use: at any hour of the day it is
7, and more where evenings take more than the mean (our own judgement) [h]."""

NO_HOURS = (18.0, 36.0, 72.0)
"""Scatters beyond any hours: bills that the data are not of, some of which come near one ratio by chance (our own
judgement) [h]."""

ODD_HOURS, DAY_HOURS = 6.0, DAY_OFF_HOURS / math.sqrt(3.0)
"""How far from the usual hour a single reading may lie on its day and a day off, one standard deviation (our own
judgement) [h]."""

NARROW_HOURS = 0.25
"""Scatter below which an hour counts as kept in looking up what the register showed beside it [h]."""

LEAST_KWH = 1e-6
"""Energy below which a sum of intervals is none, and no ratio to it means anything [kWh] (common practice)."""

OTHER_HOME = 0.3
"""How far the use of two homes in a month lies apart, as a part of it, one standard deviation (our own judgement)."""

WITHIN_SDS = 3.0
"""A bill agrees within so many standard deviations of what its hours of reading leave open (our own judgement)."""

COST = -math.log(WRONG)
"""By how much a ratio or another home must make the bills likelier, beside the number of stretches tried, in logarithms
of odds: either is about as rare as a wrong bill (our own judgement)."""

BY_CHANCE = 1e-4
"""How likely another home's bills must be to add up as those do that stay, at the most (our choice: the data are heard
as this home's for their sake)."""

AT_EDGE = 0.1
"""Chance that a ratio began or ended within its first or last bill rather than with it (our own judgement)."""

FEW = 2
"""Bills that may share a ratio where others tell how far the hours scatter (our own judgement)."""

END_DAYS = 2.0
"""Days' energy by which bills together may differ from the data: the first and the last reading may each have been a
day off (our own judgement) [d]."""

MOST_BILLS = 36
"""Of longer accounts only stretches that begin with the first bill or end with the last are tried (a guard of time, our
choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Explained:
    """How an account stands to its data."""

    case: CaseCode
    groups: Ints
    """Groups of bills in the ratio, or of another meter."""
    factors: Floats
    """Ratio of billed to interval energy of every group; of one within which it began or ended, its own, shape (g,)."""
    ratio: float = 1.0
    standard_uncertainty: float = 0.0
    whole: bool = False
    """The ratio holds for all bills."""
    kept: bool = True
    """One hour of reading serves better than hours that scatter."""


@dataclass(frozen=True, slots=True, eq=False)
class _Bills:
    """Groups of bills that can be judged, g of them, under h habits of reading."""

    groups: Ints
    scatter: Floats
    """Of the hours of each habit, nought where one hour is kept, shape (h,) [h]."""
    days: Floats
    billed: Floats
    slack: Floats
    """All three: shape (g,)."""
    scale: Floats
    """Energy by which a difference is large or small [kWh], shape (g,)."""
    added: Floats
    """Intervals [kWh], shape (h, g)."""
    low: Floats
    high: Floats
    """Both: the same with the least, and the most, that the missing ones will have held [kWh], shape (h, g)."""
    judged: Mask
    """Shape (h, g)."""
    moved: Floats
    """What hours of reading leave open of each bill at each habit, with an odd hour besides, and with a day off, one
    standard deviation [kWh], shape (3, h, g)."""

    @classmethod
    def of(cls, house: House, reads: Reads) -> _Bills:
        use = np.flatnonzero(
            reads.judged.any(axis=0) & (reads.billed_kwh > LEAST_KWH) & (reads.sums > LEAST_KWH).all(axis=0)
        )
        hours = HOURS + NO_HOURS
        at = np.concatenate([np.arange(len(OFFSETS)), np.repeat(COMMON, len(hours))])
        scatter = np.concatenate([np.zeros(len(OFFSETS)), np.tile(hours, len(COMMON))])
        days = np.array([sum(house.bills[i].days for i in reads.groups[g]) for g in use], dtype=float)
        every = (reads.sums, reads.sums + reads.least, reads.sums + reads.most, reads.judged)
        added, low, high, judged = (table[at[:, None], use] for table in every)
        each = (scatter, np.hypot(scatter, ODD_HOURS), np.hypot(scatter, DAY_HOURS))
        if house.generation:
            moved = [_by_register(reads, at, one, days, use) for one in each]
        else:
            moved = [math.sqrt(2.0) * one[:, None] * added / (24.0 * days) for one in each]
        billed, slack, scale = reads.billed_kwh[use], reads.slack[use], reads.scale_kwh[use]
        return cls(use, scatter, days, billed, slack, scale, added, low, high, judged, np.stack(moved))

    def __getitem__(self, part: slice) -> _Bills:
        return _Bills(
            self.groups[part], self.scatter, self.days[part], self.billed[part], self.slack[part],
            self.scale[part], self.added[:, part], self.low[:, part], self.high[:, part], self.judged[:, part],
            self.moved[:, :, part],
        )  # fmt: skip

    @property
    def wrong(self) -> Floats:
        """Log likelihood of a bill that is wrong by any part of it, shape (g,)."""
        return np.asarray(math.log(WRONG) - np.log(self.scale))

    def over(self, ratio: Floats) -> Floats:
        """Billed less intervals at a ratio for each habit, beyond what is missing [kWh], shape (h, g)."""
        held = np.minimum(np.maximum(self.billed, ratio[:, None] * self.low), ratio[:, None] * self.high)
        return np.asarray(self.billed - held)

    def sd(self, ratio: Floats, odd: int = 0) -> Floats:
        """What hours of reading, whole steps and rounding leave open of each bill [kWh], shape (h, g)."""
        slack = np.maximum(ratio, 1.0)[:, None] * self.slack / 2.0
        scaled = (ratio != 1.0)[:, None] * RATIO_SPREAD / 2.0 * self.billed
        return np.asarray(np.hypot(ratio[:, None] * self.moved[odd], slack + scaled))

    def lead(self, ratio: Floats) -> Floats:
        """By how much each bill is likelier at a ratio than if it is wrong, in logarithms, shape (h, g)."""
        over, sd = self.over(ratio), self.sd(ratio)
        likely = np.logaddexp(_normal(over, sd) + math.log(1.0 - ODD_SHARE - DAY_SHARE), self.wrong)
        for odd, share in ((1, ODD_SHARE), (2, DAY_SHARE)):
            likely = np.logaddexp(likely, _normal(over, self.sd(ratio, odd)) + math.log(share))
        return np.where(self.judged, likely - self.wrong, 0.0)

    def lead_of_another(self) -> Floats:
        """The same where the bill is another home's."""
        apart = _normal(self.billed - self.added, OTHER_HOME * np.maximum(self.scale, self.added))
        return np.where(self.judged, np.maximum(apart - self.wrong, 0.0), 0.0)

    def lead_of_pairs(self) -> Floats:
        """The same of each bill and the next where the reading between them is misplaced, shape (h, g - 1)."""
        ones = np.ones(len(self.scatter))
        over, sd = self.over(ones), self.sd(ones)
        near = _normal(over[:, :-1] + over[:, 1:], np.hypot(sd[:, :-1], sd[:, 1:]))
        lead = near + math.log(MISPLACED) - np.log(self.scale[:-1]) - self.wrong[:-1] - self.wrong[1:]
        return np.where(self.judged[:, :-1] & self.judged[:, 1:] & (np.diff(self.groups) == 1), lead, -np.inf)

    def lead_from_within(self, ratio: Floats) -> Floats:
        """The same where the ratio began or ended within the bill."""
        part = math.log(AT_EDGE) - np.log(np.abs(ratio - 1.0)[:, None] * self.added + LEAST_KWH)
        return np.where(self.judged & self.between(ratio), part - self.wrong, -np.inf)

    def between(self, ratio: Floats) -> Mask:
        """Whether each bill lies between its intervals and the ratio of them, by more than a day's use of it."""
        more = self.billed - self.added
        far = np.abs(more) * self.days > self.scale
        return np.asarray(far & (more * (ratio[:, None] * self.added - self.billed) > 0.0))

    def agree(self, ratio: Floats) -> Mask:
        """Whether each bill agrees with a ratio, shape (h, g)."""
        room = WITHIN_SDS * self.sd(ratio) + (ratio != 1.0)[:, None] * RATIO_SPREAD * self.billed
        return np.asarray(np.abs(self.over(ratio)) <= room)

    def ratio(self) -> Floats:
        """Billed of added energy of a stretch, by the bills within which it neither began nor ended, shape (h,).

        Bills far from the middle one are wrong besides, and do not count.
        """
        inner = self[1:-1] if len(self.groups) > LEAST_AGREEING else self
        added = inner.added
        near = inner.judged & inner.agree(np.median(inner.billed / added, axis=1))
        sums = (near * added).sum(axis=1)
        return np.where(near.any(axis=1), (near * inner.billed).sum(axis=1) / np.maximum(sums, LEAST_KWH), 1.0)

    def stands_out(self, ratio: Floats) -> Mask:
        """Whether a stretch at a ratio is off by more than readings at its ends explain, shape (h,)."""
        slack = self.slack[[0, -1]].sum() / 2.0
        ends = (self.scatter > 0.0) * (END_DAYS * self.scale.sum() / self.days.sum() + slack)
        apart = np.abs(ratio - 1.0)
        return np.asarray((apart > RATIO_SPREAD) & (apart * self.billed.sum() > ends))

    def together(self) -> Mask:
        """Whether all add up, as estimates do, though none may by itself, shape (h,)."""
        added = self.added.sum(axis=1)
        return np.asarray(np.abs(self.billed.sum() - added) * self.days.sum() <= END_DAYS * added)


@dataclass(frozen=True, slots=True, eq=False)
class _Case:
    """An explanation of a stretch of bills from ``a`` to before ``b``, and of all beside it as they are."""

    lead: float
    """By how much all bills are likelier than if every one were wrong, less what the explanation costs."""
    case: CaseCode
    a: int = 0
    b: int = 0
    habit: int = 0
    ratio: float = 1.0

    @property
    def kept(self) -> bool:
        """Whether one hour serves better than hours that scatter."""
        return self.habit < len(OFFSETS)


def explain(house: House, facts: Facts, reads: Reads) -> Explained:
    """Find what makes the bills likeliest: as they are, one ratio, or another meter, for a stretch of them or for all.

    Parameters
    ----------
    house : House
        With interval data.
    facts : Facts
    reads : Reads
    """
    bills = _Bills.of(house, reads)
    as_billed = Explained(AS_BILLED, np.arange(0), np.ones(len(reads.groups)))
    if len(bills.groups) < LEAST_AGREEING:
        return as_billed
    best = _likeliest(
        _cases(bills, reads.reachable()[bills.groups], known_days=not reads.no_days, generation=house.generation)
    )
    if best.case == RATIO:
        return _in_ratio(bills, best, len(reads.groups))
    run = bills.groups[best.a : best.b]
    groups = _as_known(facts, reads, run) if best.case == OTHER_METER else run
    return Explained(best.case, groups, as_billed.factors, kept=best.kept)


def _by_register(reads: Reads, at: Ints, scatter: Floats, days: Floats, use: Ints) -> Floats:
    """What hours that scatter about a common one leave open, by what the register shows at them [kWh], shape (h, g).

    Panels send back by day alone, so that hours of mean use say nothing of it; beyond the days beside they do.
    """
    apart = (OFFSETS - OFFSETS[at][:, None]) / HOUR_SECONDS
    weight = np.exp(-0.5 * (apart / np.maximum(scatter, NARROW_HOURS)[:, None]) ** 2)
    weight *= (scatter > 0.0)[:, None] / weight.sum(axis=1, keepdims=True)
    square = np.zeros((len(at), len(use)))
    for shown in (reads.opening[:, use], reads.closing[:, use]):
        square += weight @ shown**2 - 2.0 * shown[at] * (weight @ shown) + weight.sum(axis=1)[:, None] * shown[at] ** 2
    far = (
        math.sqrt(2.0) * np.maximum(scatter - DAY_OFF_HOURS / 2.0, 0.0)[:, None] * reads.scale_kwh[use] / (24.0 * days)
    )
    return np.asarray(np.sqrt(np.maximum(square, 0.0) + far**2))


def _likeliest(cases: list[_Case]) -> _Case:
    """Return the likeliest case; a ratio only where bills that scatter beyond any hours serve less well, at no cost."""
    scattered = max((one.lead + COST for one in cases if one.case == FOREIGN), default=-np.inf)
    return max((one for one in cases if one.case != RATIO or one.lead > scattered), key=lambda one: one.lead)


def _cases(bills: _Bills, reached: Mask, *, known_days: bool, generation: bool) -> list[_Case]:
    """Every explanation that these bills allow; ``reached`` are those that the readings' own hours do."""
    count = len(bills.groups)
    ones = np.ones(len(bills.scatter))
    other, agree = bills.lead_of_another(), bills.agree(ones) & bills.judged
    before, after = _as_billed(bills.lead(ones), bills.lead_of_pairs())
    hours = bills.scatter < min(NO_HOURS)
    wide = ~hours & known_days
    stretches = [(a, b) for a, b in combinations(range(count + 1), 2) if b - a >= FEW]
    if count > MOST_BILLS:
        stretches = [(a, b) for a, b in stretches if a == 0 or b == count]
    tried = COST + math.log(len(stretches))
    another, unreached = known_days and not generation, ~reached
    enough = np.maximum(LEAST_AGREEING, AGREEING_SHARE * bills.judged.sum(axis=1))
    cases = [
        _best(np.where(hours, before[:, -1], -np.inf), AS_BILLED),
        _best(np.where(wide, before[:, -1] - COST, -np.inf), FOREIGN),
        *([_best(other.sum(axis=1) - COST, FOREIGN)] if known_days else []),
    ]
    for a, b in stretches:
        part, beside = bills[a:b], before[:, a] + after[:, b]
        of_beside = agree.sum(axis=1) - agree[:, a:b].sum(axis=1)
        ratio = part.ratio()
        near = part.agree(ratio) & part.judged
        most = near.sum(axis=1) >= np.maximum(FEW, AGREEING_SHARE * (b - a))
        held = part.stands_out(ratio) & (known_days or b - a == count)
        scattered = -np.inf
        if held.any():
            lead = part.lead(ratio)
            if b - a > LEAST_AGREEING:
                lead[:, [0, -1]] = np.maximum(lead, part.lead_from_within(ratio))[:, [0, -1]]
            scattered = float(lead.sum(axis=1)[held & wide].max(initial=-np.inf))
            total = np.where(held, beside + lead.sum(axis=1) - tried, -np.inf)
            most = held & hours & most & (near.sum(axis=1) + of_beside >= enough)
            cases.append(_best(np.where(most, total, -np.inf), RATIO, a, b, ratio))
            cases.append(_best(np.where(wide, total - COST, -np.inf), FOREIGN))
        if another and unreached[a] and unreached[b - 1] and LEAST_AGREEING <= b - a < count:
            others = other[:, a:b].sum(axis=1)
            sure = beside - (other.sum(axis=1) - others) >= -math.log(BY_CHANCE)
            held = hours & ~part.together() & sure & (of_beside >= LEAST_AGREEING)
            # in proportion to this home by chance, as the months of two homes may be
            total = beside + np.maximum(others, scattered - COST) - tried
            cases.append(_best(np.where(held, total, -np.inf), OTHER_METER, a, b))
    return cases


def _as_billed(one: Floats, pair: Floats) -> tuple[Floats, Floats]:
    """Lead of the bills before each and from each on, where each adds up, two together do, or it is wrong, both of
    shape (h, g + 1).
    """

    def up_to(one: Floats, pair: Floats) -> Floats:
        lead = np.zeros((len(one), one.shape[1] + 1))
        for g in range(one.shape[1]):
            lead[:, g + 1] = lead[:, g] + one[:, g]
            if g:
                lead[:, g + 1] = np.maximum(lead[:, g + 1], lead[:, g - 1] + pair[:, g - 1])
        return lead

    return up_to(one, pair), up_to(one[:, ::-1], pair[:, ::-1])[:, ::-1]


def _best(lead: Floats, case: CaseCode, a: int = 0, b: int = 0, ratio: Floats | None = None) -> _Case:
    habit = int(np.argmax(lead))
    return _Case(
        float(lead[habit]),
        case,
        a,
        b,
        habit,
        1.0 if ratio is None else float(ratio[habit]),
    )


def _in_ratio(bills: _Bills, best: _Case, count: int) -> Explained:
    """Ratio of a stretch over the bills that agree with it, of ``count``, and those within which it began or ended."""
    part, every = bills[best.a : best.b], np.full(len(bills.scatter), best.ratio)
    near = (part.agree(every) & part.judged)[best.habit]
    began = part.between(every) & part.judged
    between = began[best.habit] & np.isin(np.arange(len(near)), (0, len(near) - 1))
    added, billed, sd = part.added[best.habit], part.billed, part.sd(every)[best.habit]
    ratio = float(billed[near].sum() / added[near].sum())
    factors = np.ones(count)
    whole = len(near) == len(bills.groups)
    if whole:
        factors[:] = ratio
    factors[part.groups] = np.where(near, ratio, np.where(between, billed / added, factors[part.groups]))
    doubt = math.hypot(sd[near][0], sd[near][-1]) / math.sqrt(2.0) / float(added[near].sum())
    return Explained(RATIO, part.groups[near | between], factors, ratio, doubt, whole, best.kept)


def _as_known(facts: Facts, reads: Reads, run: Ints) -> Ints:
    """Extend a run to all bills that the records know to be of the other register."""
    known = {i for finding in facts.findings if finding.key in OTHERS for i in finding.periods}
    every = np.array([g for g, group in enumerate(reads.groups) if known.issuperset(group)], dtype=np.int64)
    return every if np.isin(run, every).all() else run


def _normal(over: Floats, sd: Floats) -> Floats:
    return np.asarray(-0.5 * (over / sd) ** 2 - np.log(math.sqrt(2.0 * math.pi) * sd))
