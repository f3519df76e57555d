"""Bills that are so many times the others, as if a multiplier or a decimal place were wrong."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import pairwise
from statistics import median, pvariance

from reconcile.facts import Finding
from reconcile.paper.ledger import Ledger, by_season, same_meter

USUAL = (10, 20, 30, 40, 50, 60, 80, 100, 120, 160, 200, 240, 300, 400)
"""Multipliers of instrument transformers (current ratio to 5 A, such as 200:5 = 40), and 10 and 100, which also
stand for a lost decimal place (common practice)."""
EXACT_WITHIN = 0.005
"""A ratio of billed kWh to register difference is this close to a multiplier, or is not one."""
NEAR_WITHIN = 0.25
"""A ratio of one bill to the others is only near: use differs from month to month (our choice)."""
BEGINS_WITHIN = 0.4
"""The same where a printed multiplier begins with a meter, and the register alone would be as before (our choice)."""
STEADY = 3.0
"""Bills are compared with each other only where the others differ by no more than this factor: a holiday
house, empty and then lived in, is no case of a wrong multiplier (our choice)."""
SMALL = (2.0, 3.0, 4.0, 5.0, 0.5, 1 / 3, 0.25)
"""Numbers of times that a new meter's bills may be multiplied, too near to one to be told without their season (our
choice)."""
LEFT_OUT = tuple(1.0 / times for times in USUAL)
"""The same where a new meter's multiplier is left out."""
BY_SEASON_WITHIN, MOST = 0.15, 0.75
"""The middle bill of a new meter is this near to such a number of times that of the same season before; and this part
of them are nearer to it than to one (our choice)."""
FAR_BETTER = 4.0
"""Times less that is left over, squared, where one account of the bills fits far better than another (our choice)."""
LAST = 2
"""Bills before an exchange that tell whether what changed had changed before it (our choice: one may be odd)."""
JUMP = 5.0
"""Times as much from one bill to the next from which a run of bills until the last is held against a multiplier that
nobody told of: the least is 10, and the first bill may hold both (our choice)."""
LIVED_IN = 8.0
"""Use of a home that is lived in [kWh/d]; an empty one that is moved into may well use ten times as much (our
choice)."""
MAY_BE_USED = (0.5, 2.0)
"""Times as much as before that a household may use for once (our choice)."""
FEWEST_READ = 3
"""Bills with readings needed to speak of one factor for all (our choice)."""
FEWEST = 4
"""Bills needed on the other side of a comparison (our choice)."""
FEWEST_BEFORE = 2
"""The same where bills are as many times as much as :data:`JUMP`: no season makes that (our choice)."""


def usual_multiplier(ratio: float, given: float, within: float = EXACT_WITHIN) -> float | None:
    """Return the usual multiplier (or 1, or a part of the given one) that ``ratio`` is close to.

    Examples
    --------
    >>> usual_multiplier(40.01, 1.0)
    40
    >>> usual_multiplier(1.0, 40.0)
    1
    >>> usual_multiplier(1.7, 1.0) is None
    True
    """
    candidates = [m for m in (*USUAL, *((1,) if given != 1 else ())) if m != given]
    return next((m for m in candidates if abs(ratio / m - 1) <= within), None)


def against_the_rest(ledger: Ledger) -> list[Finding]:
    """Find one bill, or all of one meter, that is near a usual multiple of the others a day."""
    rates = {i: ledger.per_day[i] for i in ledger.live if ledger.per_day[i] > 0}
    if not rates:
        return []
    middle = median(rates.values())
    groups = [[i for i in g if i in rates] for g in same_meter(ledger)]
    later = [g for g in (*groups[1:], _since_a_jump(rates)) if g]
    candidates = [*later]
    candidates += [
        [i]
        for i, rate in rates.items()
        if not 1 / STEADY < rate / middle < STEADY and ledger.moved[i] is None and ledger.bills[i].kwh is not None
    ]
    out: list[Finding] = []
    told: set[int] = set()
    for group in candidates:
        rest = [i for i in rates if i not in group and i not in ledger.spans]
        of_a_meter = group in groups[1:]
        ratio = _times_the_rest(ledger, group, rest, of_a_meter=of_a_meter)
        if told & set(group) or ratio is None:
            continue
        near = usual_multiplier(ratio, 1.0, NEAR_WITHIN)
        own = ledger.multipliers[group[0]]
        fell = ratio < 1 and own > 1 and abs(ratio * own - 1) <= NEAR_WITHIN
        before = {ledger.multipliers[i] for i in rates if i < group[0] and i not in ledger.spans}
        came = own not in before and any(abs(ratio * m / own - 1) <= BEGINS_WITHIN for m in before)
        leapt = of_a_meter and _leapt([rates[i] for i in rest if i < group[0]], [rates[i] for i in group])
        if near is None and not fell and not came and not leapt:
            continue
        if group in later and not fell and not came and _load(ledger, group, rest, ratio):
            continue
        told.update(group)
        single = not fell and group not in later  # a digit too many in the file is the nearest thing
        if of_a_meter:  # the bill within which the meter came is made with its multiplier too
            within = [x.period for x in ledger.exchanges if x.period == group[0] - 1 and x.period in ledger.spans]
            group = [*within, *group]
        usual = median(rates[i] for i in rest)
        excess = sum((rates[i] - usual) * ledger.days[i] for i in group if i in rates)
        out.append(
            Finding(
                "multiplier",
                tuple(group),
                excess,
                settles=True,
                case="as-if",
                figures={
                    **ledger.which(group),
                    "ratio": ratio,
                    "left_out": own if fell else None,
                    "begins": own if came else None,
                },
                asks=() if single else ("multiplier",),
                household=("kwh-typed",) if single else (),
            )
        )
    return out


def _times_the_rest(ledger: Ledger, group: Sequence[int], rest: Sequence[int], *, of_a_meter: bool) -> float | None:
    """Return how many times the rest's use a day a group's is, each bill beside that of its season where there are any.

    None where there are too few of the rest, or they are not like each other.
    """
    rates = ledger.per_day
    pairs = by_season(ledger, [i for i in rest if i < group[0]], group) if of_a_meter else []
    if len(pairs) >= FEWEST:
        return median(later / usual for later, usual in pairs)
    ratio = median(rates[i] for i in group) / median(rates[i] for i in rest) if rest else 0.0
    alike = bool(rest) and max(rates[i] for i in rest) <= STEADY * min(rates[i] for i in rest)
    leaps = of_a_meter and ratio >= JUMP and median(rates[i] for i in rest) >= LIVED_IN
    fewest = FEWEST_BEFORE if leaps else FEWEST
    return ratio if alike and len(rest) >= fewest else None


def _load(ledger: Ledger, group: Sequence[int], rest: Sequence[int], ratio: float) -> bool:
    """Whether many times as much since a bill is rather a load, as much more a day in all seasons, or began before.

    A multiplier makes the differences of the bills so many times as large too; a load leaves them as they were.
    """
    before = [i for i in rest if i < group[0]]
    pairs = by_season(ledger, before, group)
    if len(pairs) >= FEWEST:
        return _rather_added(pairs, ratio) or _earlier(ledger, pairs, group[0])
    sides = [[ledger.per_day[i] for i in side if ledger.per_day[i] > 0] for side in (before, group)]
    if min(map(len, sides)) < FEWEST_READ or ratio <= 1.0:
        return False
    then, now = map(pvariance, sides)
    return now < ratio * then  # nearer, in proportion, to as they were than to its square times


def _leapt(before: Sequence[float], after: Sequence[float]) -> bool:
    """Whether bills are so many times those before, each of them, that no home uses it."""
    return (
        bool(before)
        and len(after) > 1
        and median(after) >= JUMP * median(before)
        and min(after) > STEADY / 2.0 * max(before)
        and median(before) >= LIVED_IN
    )


def _since_a_jump(rates: Mapping[int, float]) -> list[int]:
    """Return the last bills since one many times the bill before it, where none of them is like any of those before."""
    order = [*rates]
    jumps = [rates[b] / rates[a] for a, b in pairwise(order)]
    if not jumps or max(jumps) < JUMP:
        return []
    at = jumps.index(max(jumps)) + 1
    before, after = [rates[i] for i in order[:at]], [rates[i] for i in order[at:]]
    apart = len(after) > 1 and min(after) > STEADY / 2.0 * max(before) and median(before) >= LIVED_IN
    return order[at:] if apart else []


def by_its_season(ledger: Ledger) -> list[Finding]:
    """Find bills of a new meter that are a small whole number of times, or such a part of, those of the season before.

    Twice or half as much may have been used: that settles nothing. No household and no meter goes beyond that alone,
    but a load may in a small one: it adds as much in every season.
    """
    for x in ledger.exchanges:
        after = [i for i in ledger.live if i >= x.period]
        own = [i for i in after if i not in ledger.spans]
        pairs = by_season(ledger, [i for i in ledger.live if i < x.period], own)
        ratios = [later / earlier for later, earlier in pairs]
        if len(ratios) < FEWEST or len({ledger.multipliers[i] for i in ledger.live}) > 1:
            continue
        ratio = median(ratios)
        times = min((*SMALL, *LEFT_OUT), key=lambda n: abs(math.log(ratio / n)))
        nearer = [abs(math.log(r / times)) < abs(math.log(r)) for r in ratios]
        if times in LEFT_OUT and _as_alike_themselves(pairs):
            continue
        if abs(ratio / times - 1.0) <= BY_SEASON_WITHIN and sum(nearer) >= MOST * len(nearer):
            settles = not (
                MAY_BE_USED[0] <= times <= MAY_BE_USED[1]
                or _rather_added(pairs, times)
                or _earlier(ledger, pairs, x.period)
            )
            figures = {"day": x.day, "percent": 100.0 * ratio, "times": times}
            return [
                Finding(
                    "multiplier",
                    tuple(after),
                    sum(ledger.kwh[i] * (1.0 - 1.0 / times) for i in own) if settles else None,
                    settles=settles,
                    case="perhaps",
                    figures=figures,
                    asks=("multiplier-times",),
                )
            ]
    return []


def _rather_added(pairs: Sequence[tuple[float, float]], times: float) -> bool:
    """Whether as much more a day, whatever the season, fits bills far better than so many times as much: a load."""
    more = median(later - earlier for later, earlier in pairs)
    added = sum((later - earlier - more) ** 2 for later, earlier in pairs)
    return FAR_BETTER * added < sum((later - times * earlier) ** 2 for later, earlier in pairs)


def _as_alike_themselves(pairs: Sequence[tuple[float, float]]) -> bool:
    """Whether later bills are as like each other as they are in proportion to their season's: of an emptied home."""
    later, ratios = zip(*((math.log(after), math.log(after / before)) for after, before in pairs), strict=True)
    return bool(pvariance(later) <= pvariance(ratios))


def _earlier(ledger: Ledger, pairs: Sequence[tuple[float, float]], exchange: int) -> bool:
    """Whether the last two whole bills of the old meter are already nearer to the later bills than to the earlier."""
    last = [ledger.per_day[i] for i in ledger.live if i < exchange and ledger.per_day[i] > 0][-LAST:]
    then, now = (median(side) for side in zip(*((math.log(b), math.log(a)) for a, b in pairs), strict=True))
    return all(abs(math.log(rate) - now) < abs(math.log(rate) - then) for rate in last)
