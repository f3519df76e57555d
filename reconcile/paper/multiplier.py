"""Wrong multipliers: a bill, or all bills after an exchange, out by 10, 20, 40 ... times."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from statistics import median, pvariance
from typing import Any

from reconcile.facts import Aside, Finding
from reconcile.paper.ledger import Ledger, by_season

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
MAY_BE_USED = (0.5, 2.0)
"""Times as much as before that a household may use for once (our choice)."""
BY_SEASON_WITHIN, MOST = 0.15, 0.75
"""The middle bill of a new meter is this near to such a number of times that of the same season before; and this part
of them are nearer to it than to one (our choice)."""
FAR_BETTER = 4.0
"""Times less that is left over, squared, where one account of the bills fits far better than another (our choice)."""
LAST = 2
"""Bills before an exchange that tell whether what changed had changed before it (our choice: one may be odd)."""
FEWEST_READ = 3
"""Bills with readings needed to speak of one factor for all (our choice)."""
ROUNDED = 0.5
"""A printed kWh is rounded by this much at most [kWh]."""
SHARP = 1.02
"""Bills tell a factor where rounding leaves it no more room than this (our choice)."""
FEWEST_ALIKE = 2
"""Bills that charge the same whole number times their readings before it is one multiplier, and no chance (our
choice)."""
JUMP = 5.0
"""Times as much from one bill to the next from which a run of bills until the last is held against a multiplier that
nobody told of: the least is 10, and the first bill may hold both (our choice)."""
LIVED_IN = 8.0
"""Use of a home that is lived in [kWh/d]; an empty one that is moved into may well use ten times as much (our
choice)."""
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


def examine_factor(ledger: Ledger, off: Collection[int]) -> Finding | None:
    """Find one factor between the kWh of every bill and the difference of its readings.

    Which of the two is right nobody can tell from the bills: a multiplier may be missing from the file, or be wrong on
    the bills. Either way the bills stay comparable with one another.

    Parameters
    ----------
    off : collection of int
        Bills whose kWh are not the difference of their readings.
    """
    read = [i for i in ledger.live if (ledger.moved[i] or 0.0) > 0 and ledger.kwh[i] > 0 and i not in ledger.spans]
    if len(read) < FEWEST_READ or not set(read) <= set(off):
        return None
    factors = [ledger.kwh[i] / (ledger.moved[i] or 1.0) for i in read]
    factor = median(factors)
    given = {ledger.multipliers[i] for i in read}
    steps = [max(1.0, ledger.meters[i].step_kwh) * ledger.multipliers[i] / (ledger.moved[i] or 1.0) for i in read]
    apart = (abs(f / factor - 1.0) - EXACT_WITHIN - step for f, step in zip(factors, steps, strict=True))
    if len(given) > 1 or max(apart) > 0:
        return None
    (multiplier,) = given
    used = usual_multiplier(factor * multiplier, multiplier) or factor * multiplier
    return Finding(
        "multiplier",
        tuple(read),
        settles=True,
        case="every-bill",
        figures={"used": used, "given": multiplier},
        asks=("multiplier",),
        household=("look-for-multiplier",),
    )


def shared_factors(ledger: Ledger, off: Collection[int]) -> dict[int, float]:
    """Find bills that charge one and the same number of times their readings, as those of a new meter may all do.

    Two bills are enough for a whole number; for any other, three whose rounding leaves little room.

    Parameters
    ----------
    off : collection of int
        Bills whose kWh are not the difference of their readings.

    Returns
    -------
    dict of int to float
        Each such bill, with the number its register difference is multiplied by.
    """
    factors = {i: limits for i in sorted(off) if (limits := _factor_limits(ledger, i)) is not None}
    whole = {i: round(math.sqrt(low * high)) for i, (low, high) in factors.items()}
    within = {i for i, n in whole.items() if n > 1 and abs(math.sqrt(math.prod(factors[i])) / n - 1.0) <= EXACT_WITHIN}
    counts = Counter(whole[i] for i in within)
    alike = {i: float(whole[i]) for i in within if counts[whole[i]] >= FEWEST_ALIKE}
    left = {i: limits for i, limits in factors.items() if i not in alike}
    while left:
        groups = [[i for i, (low, high) in left.items() if low <= at <= high] for at, _ in left.values()]
        group = max(groups, key=len)
        if sum(left[i][1] <= left[i][0] * SHARP for i in group) < FEWEST_READ:
            break
        alike |= dict.fromkeys(group, _shared_by(ledger, group, left))
        left = {i: limits for i, limits in left.items() if i not in group}
    return alike


def _shared_by(ledger: Ledger, group: Sequence[int], limits: Mapping[int, tuple[float, float]]) -> float:
    """The plainest number that all bills of a group may charge their readings times."""
    low, high = max(limits[i][0] for i in group), min(limits[i][1] for i in group)
    together = _factor_limits(ledger, *group)  # from the first reading to the last only two are rounded
    if together is not None and together[0] <= high and low <= together[1]:
        low, high = max(low, together[0]), min(high, together[1])
    return plainest(low, high)


def _factor_limits(ledger: Ledger, *group: int) -> tuple[float, float] | None:
    """Between what numbers of times their readings bills may charge: kWh, and the readings of each run, are rounded."""
    runs = sum(b - a > 1 for a, b in pairwise(group)) + 1
    times = ledger.multipliers[group[0]]
    step = runs * max(1.0, *(ledger.meters[i].step_kwh for i in group)) * times
    moved, kwh = sum(ledger.moved[i] or 0.0 for i in group), sum(ledger.kwh[i] for i in group)
    rounded = ROUNDED * len(group)
    if moved <= step or not kwh > rounded or not ledger.spans.isdisjoint(group):
        return None
    return times * (kwh - rounded) / (moved + step), times * (kwh + rounded) / (moved - step)


def plainest(low: float, high: float) -> float:
    """Return the number between two that is written with the fewest decimals.

    Examples
    --------
    >>> plainest(1.1987, 1.2009)
    1.2
    """
    middle = math.sqrt(low * high)
    return next((value for places in range(9) if low <= (value := round(middle, places)) <= high), middle)


def examine_multipliers(ledger: Ledger, ratios: dict[int, float]) -> tuple[list[Finding], dict[int, Aside]]:
    """Find bills whose kWh are a usual multiple of what they should be.

    Parameters
    ----------
    ratios : dict of int to float
        Bills whose kWh are a usual multiple of their register difference, with that multiple.
    """
    by_register = _against_readings(ledger, ratios)
    odd = _changed_without_exchange(ledger)
    compared = [] if by_register or odd or ledger.house.generation else _against_the_rest(ledger)
    findings = [*by_register, *odd, *compared] or _as_if_by_season(ledger)
    aside = {i for f in findings for i in f.periods if f.settles}
    # the bill within which a meter came is made with its multiplier too
    aside |= {x.period for x in ledger.exchanges if x.period in ledger.spans and x.period + 1 in aside}
    return findings, dict.fromkeys(sorted(aside), Aside.MULTIPLIER)


def _against_readings(ledger: Ledger, ratios: dict[int, float]) -> list[Finding]:
    groups: dict[tuple[int | float, float], list[int]] = {}
    for i, ratio in sorted(ratios.items()):
        used = usual_multiplier(ratio, ledger.multipliers[i]) or ratio
        groups.setdefault((used, ledger.multipliers[i]), []).append(i)
    out = []
    for (used, given), periods in groups.items():
        if (lost := _lost(ledger, periods, used / given)) is not None:
            out.append(lost)
            continue
        too_much = sum(ledger.kwh[i] - (ledger.moved[i] or 0.0) for i in periods)
        out.append(
            Finding(
                "multiplier",
                tuple(periods),
                too_much,
                settles=True,
                case="readings",
                figures={
                    **ledger.which(periods),
                    "used": used,
                    "given": given,
                    **_begins_with(ledger, periods),
                    "since": _since(ledger, periods),
                    "more": too_much,
                    "read": tuple(ledger.moved[i] for i in periods),
                },
                asks=("multiplier",),
            )
        )
    return out


def _lost(ledger: Ledger, periods: Sequence[int], times: float) -> Finding | None:
    """Find bills since an exchange made without the multiplier that all bills before it are made with.

    Both registers then run alike: either the new meter needs that multiplier too, or the old one never had it.
    """
    read = [i for i in ledger.live if (ledger.moved[i] or 0.0) > 0 and i not in ledger.spans]
    for x in ledger.exchanges:
        before, after = [i for i in read if i < x.period], [i for i in read if i >= x.period]
        if before != list(periods) or len(after) < FEWEST_BEFORE or times <= 1.0:
            continue
        old, new = (median((ledger.moved[i] or 0.0) / ledger.days[i] for i in side) for side in (before, after))
        if MAY_BE_USED[0] <= new / old <= MAY_BE_USED[1]:
            less = sum(ledger.kwh[i] for i in after) * (times - 1.0)
            figures = {"day": x.day, "used": times, "count": len(before), "less": less}
            asks = ("multiplier-of-both",)
            return Finding("multiplier", tuple(after), settles=True, case="lost", figures=figures, asks=asks)
    return None


def _since(ledger: Ledger, periods: Sequence[int]) -> bool:
    """Whether these are all the bills with readings from one of several on, and those before charge what was read."""
    read = [i for i in ledger.live if ledger.moved[i] is not None and i not in ledger.spans]
    first = read.index(periods[0])
    return len(periods) > 1 and first > 0 and read[first:] == list(periods)


def _begins_with(ledger: Ledger, periods: Sequence[int]) -> dict[str, Any]:
    """Whether these are all the bills of a meter that came by an exchange, and that meter's number."""
    for x in ledger.exchanges:
        later = min((y.period for y in ledger.exchanges if y.period > x.period), default=len(ledger.bills))
        own = {i for i in ledger.live if x.period <= i < later and i not in ledger.spans}
        if own == set(periods):
            return {"begins": True, "meter": x.new}
    return {"begins": False, "meter": None}


def _changed_without_exchange(ledger: Ledger) -> list[Finding]:
    """Find bills whose printed multiplier differs from that of the same meter's other bills."""
    out = []
    for group in _same_meter(ledger):
        counts = Counter(ledger.multipliers[i] for i in group)
        if len(counts) < 2 or len(group) < FEWEST:
            continue
        usual = counts.most_common(1)[0][0]
        odd = [i for i in group if ledger.multipliers[i] != usual]
        too_much = sum(ledger.kwh[i] * (1 - usual / ledger.multipliers[i]) for i in odd)
        out.append(
            Finding(
                "multiplier",
                tuple(odd),
                too_much,
                settles=True,
                case="changed",
                figures={**ledger.which(odd), "used": ledger.multipliers[odd[0]], "usual": usual},
                asks=("multiplier",),
            )
        )
    return out


def _as_if_by_season(ledger: Ledger) -> list[Finding]:
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


def _same_meter(ledger: Ledger) -> list[list[int]]:
    starts = {x.period for x in ledger.exchanges}
    groups: list[list[int]] = [[]]
    for i in ledger.live:
        if i in starts:
            groups.append([])
        if i not in ledger.spans:
            groups[-1].append(i)
    return groups


def _against_the_rest(ledger: Ledger) -> list[Finding]:
    """Find one bill, or all of one meter, that is near a usual multiple of the others a day."""
    rates = {i: ledger.per_day[i] for i in ledger.live if ledger.per_day[i] > 0}
    if not rates:
        return []
    middle = median(rates.values())
    groups = [[i for i in g if i in rates] for g in _same_meter(ledger)]
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
