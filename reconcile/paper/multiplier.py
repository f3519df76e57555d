"""Wrong multipliers, by readings and by what is printed; and by the other bills (:mod:`~reconcile.paper.as_if`)."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from itertools import pairwise
from statistics import median
from typing import Any

from reconcile.facts import Aside, Finding
from reconcile.paper.as_if import (
    EXACT_WITHIN,
    FEWEST,
    FEWEST_BEFORE,
    FEWEST_READ,
    MAY_BE_USED,
    against_the_rest,
    by_its_season,
    usual_multiplier,
)
from reconcile.paper.ledger import Ledger, same_meter

ROUNDED = 0.5
"""A printed kWh is rounded by this much at most [kWh]."""
SHARP = 1.02
"""Bills tell a factor where rounding leaves it no more room than this (our choice)."""
FEWEST_ALIKE = 2
"""Bills that charge the same whole number times their readings before it is one multiplier, and no chance (our
choice)."""


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
    compared = [] if by_register or odd or ledger.house.generation else against_the_rest(ledger)
    findings = [*by_register, *odd, *compared] or by_its_season(ledger)
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
    """Find bills from some day on made without the multiplier that all bills before are made with.

    Whether a new meter came that day or not, the register then runs as before: either the multiplier belongs to the
    later bills too, or the earlier ones never needed it.
    """
    read = [i for i in ledger.live if (ledger.moved[i] or 0.0) > 0 and i not in ledger.spans]
    days = {x.period: x.day for x in ledger.exchanges}
    since = next((i for i in read if i > periods[-1]), None)
    if since is not None and not any(periods[0] < i <= since for i in days):
        days[since] = ledger.bills[since].start
    for first, day in days.items():
        before, after = [i for i in read if i < first], [i for i in read if i >= first]
        if before != list(periods) or len(after) < FEWEST_BEFORE or times <= 1.0:
            continue
        old, new = (median((ledger.moved[i] or 0.0) / ledger.days[i] for i in side) for side in (before, after))
        if MAY_BE_USED[0] <= new / old <= MAY_BE_USED[1]:
            less = sum(ledger.kwh[i] for i in after) * (times - 1.0)
            exchange = any(x.day == day for x in ledger.exchanges)
            figures = {"day": day, "used": times, "count": len(before), "less": less, "exchange": exchange}
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
    for group in same_meter(ledger):
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
