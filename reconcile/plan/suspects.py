"""What a load of unknown name may be: first what the household listed and may use more than listed, then kinds."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal

import numpy as np
from numpy.typing import NDArray

from reconcile.costs import Costs
from reconcile.decide.timer import Timer, timer_of
from reconcile.house import House, Load
from reconcile.interval.found import IntervalResult
from reconcile.loads.handbook import FITS_USUAL, ON_A_TIMER, RUNS_LONG, TypicalLoad, find, fits, on_a_timer
from reconcile.money import Money
from reconcile.plan.worth import likeliest
from reconcile.records import dataclass
from reconcile.result import Cause
from reconcile.weigh.measure import effort_of

Floats = NDArray[np.float64]

OWN_MORE = 1.5
"""Times its listed use by which a load of the list may exceed it and still be thought of (our choice)."""
OWN_TOLD = 2
LISTED_LOW = 2.5
"""Times by which a kind usually takes more than listed from which its line is doubted (our choice)."""
NEVER_OFF_WITHIN = 1.3
"""Factor within which a load that is never switched off must make what is seen (our choice)."""
GOOD_PART = 0.2
"""Part of what the list lacks that such a line must be able to make up (our choice)."""
SEASONS = {"heating": frozenset((10, 11, 12, 1, 2, 3, 4)), "cooling": frozenset((5, 6, 7, 8, 9))}
"""Months of use by the weather (common practice)."""
EVERYBODY_HAS = ("refrigerator",)
"""What a home without a list has for certain."""
MONTH_HOURS = 730.5
"""A twelfth of a year [h]."""


@dataclass(frozen=True, slots=True)
class Suspect:
    """A load of the household's own list that may use more than listed: its name, and how to measure it."""

    load: str
    how: str
    listed_watts: float | None = None
    usual_watts: float | None = None
    """What is listed and what is usual of its kind, where the line lies far below [W, day and night]."""
    never_off: bool = False
    """Whether it would use as much more as is seen, were it never switched off."""


MOSTLY_OUT = 0.75
"""Part of the months of a rise in which a load is listed to stand still, for it to be asked whether it was left on (our
choice)."""


@dataclass(frozen=True, slots=True)
class Suspects:
    """What a rise may be, and what it costs a month."""

    own: tuple[Suspect, ...] = ()
    kinds: tuple[str, ...] = ()
    per_month: Decimal | None = None
    timer: Timer | None = None
    """Hours of every day in which interval data saw it run."""
    heater: bool = False
    """Whether a portable heater may be it, by the season and the size."""
    left_on: str = ""
    """A load of the list whose listed months are others, and which takes as much when it runs."""
    weather: str = ""
    """``heating`` or ``cooling``, where it runs only in the months of it and the home has some of it by electricity."""


def suspects_of(
    house: House,
    parts_kwh: Floats,
    causes: Sequence[Cause],
    account: Money | None,
    costs: Costs,
    found: IntervalResult | None,
) -> Suspects:
    """What the likeliest round-the-clock or timed load may be."""
    cause = likeliest(causes, "constant-load", "timed-load")
    if cause is None or cause.size is None or cause.probability < costs.look_at:
        missing = likeliest(causes, "unlisted")
        lacks = missing is not None and missing.size is not None and missing.probability >= costs.likely
        return listed_low(house, parts_kwh, missing.size) if lacks and missing and missing.size else Suspects()
    stakes = () if account is None else account.stakes
    stake = next((one for one in stakes if one.code == cause.code and one.amount is not None and one.kwh > 0), None)
    price = None if stake is None or stake.amount is None else stake.amount / Decimal(repr(float(stake.kwh)))
    return suspects(house, parts_kwh, cause, price, timer_of(found, cause))


def suspects(
    house: House, parts_kwh: Floats, cause: Cause, price: Decimal | None = None, timer: Timer | None = None
) -> Suspects:
    """Name what a round-the-clock or timed load may be.

    Parameters
    ----------
    parts_kwh : ndarray, shape (n, loads or more)
        Expected energy of each bill and load [kWh].
    cause : Cause
        With a size in watts.
    price : Decimal or None
        Money of one kWh of it.
    timer : Timer or None
        Hours of every day in which interval data saw it run: kinds that run by the clock with as many watts are then
        named, and nothing that runs by itself.

    Returns
    -------
    Suspects
        Loads of the list first that need be off by the smallest part; kinds of the handbook that are in season all
        the while, those of which a home may have a second one marked so.
    """
    watts, months = abs(cause.size or 0.0), months_of(house, cause)
    per_month = None if price is None else price * Decimal(repr(round(watts * MONTH_HOURS / 1000.0, 3)))
    if timer is not None:
        months = months_of(house, cause, timer.rests)
        return Suspects(kinds=on_a_timer(timer.watts, months), per_month=per_month, timer=timer)
    acting = [i for i, kwh in enumerate(cause.pattern_kwh) if abs(kwh) > 1e-9]
    hours = 24.0 * sum(house.bills[i].days for i in acting)
    found = []
    for j, load in enumerate(house.loads):
        listed = 1000.0 * float(parts_kwh[acting, j].sum()) / hours if hours else 0.0
        if listed > 0 and watts <= OWN_MORE * listed and _may(load, listed + watts, months):
            found.append((watts / listed, Suspect(load.name, effort_of(load))))
    stuck = [Suspect(load.name, effort_of(load), never_off=True) for load in house.loads if _stuck(load, watts, months)]
    owned = {kinds[0].load for load in house.loads if (kinds := find(load.name))} or set(EVERYBODY_HAS)
    near = fits(watts, months, owned)
    return Suspects(
        own=tuple([*stuck, *(suspect for _, suspect in sorted(found, key=lambda one: one[0]))][:OWN_TOLD]),
        kinds=near,
        left_on=next((load.name for load in house.loads if _left_on(load, watts, months)), ""),
        heater=any("portable heater" in kind for kind in near),
        weather=_of_the_season(house, months),
        per_month=per_month,
    )


def listed_low(house: House, parts_kwh: Floats, watts: float) -> Suspects:
    """Name the lines of a list that lie far below what their kind usually takes, where the list lacks so much.

    Parameters
    ----------
    parts_kwh : ndarray, shape (n, loads or more)
        Expected energy of each bill and load [kWh].
    watts : float
        What the list lacks, day and night [W].
    """
    hours, found = 24.0 * sum(bill.days for bill in house.bills), []
    for j, load in enumerate(house.loads):
        kinds = find(load.name)
        if not kinds or kinds[0].run_hours is None or load.follows in ("heating", "cooling") or load.months:
            continue
        listed, usual = 1000.0 * float(parts_kwh[:, j].sum()) / hours, _usual_watts(kinds[0]) * load.count
        if usual >= LISTED_LOW * listed and usual - listed >= GOOD_PART * watts:
            found.append((listed - usual, Suspect(load.name, effort_of(load), listed, usual)))
    return Suspects(own=tuple(one for _, one in sorted(found, key=lambda pair: pair[0])[:OWN_TOLD]))


def _of_the_season(house: House, months: Sequence[int]) -> str:
    """The use by the weather that a load of some months may be, where the home has it by electricity or may have it."""
    follow = {load.follows for load in house.loads}
    for word, season in SEASONS.items():
        if set(months) <= season and (not follow or word in follow):
            return word
    return ""


def _may(load: Load, watts: float, months: Sequence[int]) -> bool:
    """Whether a load runs by itself, in these months, and may take so much day and night."""
    if load.follows in ("heating", "cooling") or (load.months and not set(months) <= set(load.months)):
        return False
    kinds = find(load.name)
    if not kinds:
        return load.follows == "always"
    kind = kinds[0]
    return _by_itself(kind) and watts <= FITS_USUAL * _usual_watts(kind)


def _stuck(load: Load, watts: float, months: Sequence[int]) -> bool:
    """Whether a load that a clock or a switch stops each day would use so much more, were it never stopped."""
    if load.months and not set(months) <= set(load.months):
        return False
    hours = load.run_hours or 0.0
    kinds = find(load.name)
    by_timer = bool(kinds) and (kinds[0].load in ON_A_TIMER or "pump" in kinds[0].load)
    if not by_timer or load.follows in ("heating", "cooling") or not 0.0 < hours < 24.0 or not load.watts:
        return False
    more = load.watts * load.count * load.share_on * (24.0 - hours) / 24.0
    return 1.0 / NEVER_OFF_WITHIN <= watts / more <= NEVER_OFF_WITHIN


def _left_on(load: Load, watts: float, months: Sequence[int]) -> bool:
    """Whether a load would use so much more, had it run on in months in which it is listed to stand still."""
    if not load.months or load.follows in ("heating", "cooling") or not load.watts or not load.run_hours:
        return False
    out, more = set(months) - set(load.months), load.watts * load.count * load.share_on * load.run_hours / 24.0
    return len(out) >= MOSTLY_OUT * len(months) and 1.0 / NEVER_OFF_WITHIN <= watts / more <= NEVER_OFF_WITHIN


def _by_itself(kind: TypicalLoad) -> bool:
    return kind.follows == "always" or (kind.run_hours or 0.0) >= RUNS_LONG or kind.part == "hot water"


def _usual_watts(kind: TypicalLoad) -> float:
    return kind.watts * (kind.run_hours or 0.0) * kind.share_on / 24.0


def months_of(house: House, cause: Cause, rests: Sequence[tuple[date, date]] = ()) -> tuple[int, ...]:
    """Months in which a cause acts, from its first day to its last, without the times in which it rests."""
    last = cause.until or max(bill.closes for bill in house.bills)
    first = cause.since or min(bill.start for bill in house.bills)
    days = max((last - first).days, 1)
    some = [first + timedelta(days=k) for k in range(0, days if rests else min(days, 366), 7)] + [_day_before(last)]
    return tuple(sorted({day.month for day in some if not any(begin <= day < end for begin, end in rests)}))


def _day_before(day: date) -> date:
    return day - timedelta(days=1)
