"""Whether a step of the base load stands by day as well: a light or a heater on a timer is read by night, too.

The nights alone cannot tell what runs round the clock from what runs in the dark. The hours of the working day can:
how far they rose at the same date, with the weather and what people do allowed for, is one more thing heard.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import day_numbers
from reconcile.distributions import MEDIAN_TO_SD
from reconcile.house import House
from reconcile.interval.base_load import BaseLoad, BaseStep, Onset
from reconcile.interval.hour_blocks import LEAST_DAYS, LEAST_NOISE_WATTS, PEOPLE_SHARE, SPANS_DAYS, Hours, Rise
from reconcile.interval.moves import as_moved
from reconcile.records import dataclass

Floats = NDArray[np.float64]

WORKING = (np.arange(24) >= 9) & (np.arange(24) < 17)
ASLEEP = np.arange(24) < 5
"""Clock hours in which no lamp need burn, and those in which the base load is read (our own choice)."""

TWICE_HEARD = 1.4
"""More doubt of the hours by day, which the bills hold as well (our own choice)."""

LEAST_STEP_WATTS = 300.0
"""Smaller rises of the base load are lost in what people do by day [W] (our own judgement: with smaller ones heard,
loads of 100 and 200 W were named less often, and nothing else better)."""

LEAST_HOURS, MOST_HOURS = 5.0, 15.0
"""Hours for which a load that the nights show may run by the clock [h]."""

BEFORE_DAYS, LEAST_FALL = 60, 0.25
"""Nights before a fall by which what stood is told [d], and the part of it that must be no season's end (our own
judgement)."""

LEAST_PART = 0.2
"""Part of what stood that must have fallen for the hours by day to be asked whether they fell with it (our own
judgement: a lesser one is lost in what people do)."""

WENT = 0.5
"""Part of what is left of the nights that is left of the hours by day, below which people went (our own judgement: of
meters in simulated and real homes 0.65 and more is left, of houses that were left for a season 0.1 to 0.45)."""

WITH_NIGHTS = 0.5
"""Part of the watts that the nights lost, from which the hours by day fell with them: only then may other months of the
home have done as much. Hours that stayed speak against a meter by the noise of their days (our judgement: that people
used as much more from just that day on as a meter counted less is a second event)."""

ALL_DAY_SHARE, LIKELY_SDS = 0.75, 0.5
"""A step may run by the clock where its hours by day rose by less than this part of it, so many standard uncertainties
added (our own judgement: what begins and lasts runs round the clock more often than by night)."""


@dataclass(frozen=True, slots=True, eq=False)
class ByDay:
    """How far the hours of the working day rose with a step of the base load."""

    first: int
    day: int
    last: int
    """All: days since 1970-01-01: from the first to the day of the step, and from that to the last [d]."""
    watts: float
    standard_uncertainty: float
    """Both: [W]"""
    usual_watts: float
    """What these hours held before, less what the weather is taken to have added [W]."""
    weather_watts: Floats
    """Heating and cooling taken out of them before and after, shape (2, 2) [W]."""
    clock_hours: float | None
    """For how many hours it may run by the clock [h/d]; None where it seems to run by day as well."""
    left: float
    """Part of what these hours held, with the weather's part, that they hold since."""
    went: bool = False
    """They lost more by far than the nights did: people went, and what they left on runs on."""


@dataclass(frozen=True, slots=True, eq=False)
class StepsByDay:
    """How the hours of the working day moved with the steps of a base load."""

    rise: ByDay | None = None
    """With its largest rise; None without one, or with too few days on either side of it."""
    falls: tuple[ByDay, ...] = ()
    """With its lasting falls: all hours fall where a meter counts less, some do not where the heating ends or people
    leave."""


@dataclass(frozen=True, slots=True)
class Fall:
    """A step down of the base load that ends nothing that had come."""

    step: BaseStep
    day: int
    """Since 1970-01-01 [d]."""
    stood: float
    fell: float
    """Both: what stood before, and what of it fell [W]."""
    told: bool
    """Enough fell, of what enough nights tell, for the hours by day to be asked whether they fell with it."""


def largest_rise(base: BaseLoad) -> Onset | BaseStep | None:
    """The lasting rise of a base load, else its largest step up; None where it is too small to be seen by day."""
    if base.onset is not None:
        return base.onset if base.onset.watts >= LEAST_STEP_WATTS else None
    rises = [step for step in base.steps if step.watts >= LEAST_STEP_WATTS and not step.passed]
    return max(rises, key=lambda step: step.watts, default=None)


def lasting_falls(base: BaseLoad) -> list[Fall]:
    """Steps down of a base load that end nothing that had come."""
    found = []
    for step in base.steps:
        day = int(day_numbers([step.day])[0])
        before = (base.days < day) & (base.days >= day - BEFORE_DAYS)
        stood = float(np.median(base.level[before])) + base.listed_watts - step.ended if before.any() else 0.0
        fell = -step.watts - step.ended
        if stood > 0.0 and fell > LEAST_FALL * -step.watts > 0.0 and not step.passed:
            told = before.sum() >= LEAST_DAYS and fell >= LEAST_PART * stood
            found.append(Fall(step, day, stood, fell, bool(told)))
    return found


def by_day(house: House, zone: ZoneInfo, base: BaseLoad | None) -> StepsByDay:
    """Compare the hours of the working day before and after the largest rise of the base load, and each of its falls.

    Parameters
    ----------
    house : House
        With interval data.
    """
    if base is None or house.interval is None:
        return StepsByDay()
    rise = largest_rise(base)
    falls = [fall for fall in lasting_falls(base) if fall.told]
    if rise is None and not falls:
        return StepsByDay()
    hours = Hours.of(house.interval, zone, house)
    if len(hours.raw) < 2 * LEAST_DAYS:
        return StepsByDay()
    season = hours.blind and any(step.passed for step in base.steps if rise is not None and step.day == rise.day)
    hours = hours.by_hour()
    # a season may have raised the hours by day with the nights
    rose = None if rise is None or season else _risen(hours, rise)
    fell = [(_fallen(hours, fall.step), 1.0 - fall.fell / fall.stood) for fall in falls]
    told = (replace(one, went=one.left < WENT * by_night) for one, by_night in fell if one is not None)
    return StepsByDay(rose, tuple(told))


class _Compared(NamedTuple):
    """The hours of the working day before and after a day, by the span that tells the surest."""

    at: int
    places: Sequence[int]
    """Other dates of the record, which say how far the same hours move by themselves."""
    moves: Floats
    """By how much they rose there [W]."""
    sides: tuple[slice, slice]
    watts: float
    standard_uncertainty: float
    """Both: of their rise [W]."""
    rise: Rise
    weather: Floats
    """Heating and cooling taken out before and after, shape (2, 2) [W]."""


def _compared(hours: Hours, step: Onset | BaseStep, risen: Callable[[Rise], tuple[float, float]]) -> _Compared | None:
    day = int(day_numbers([step.day])[0])
    at = day - hours.first
    if not LEAST_DAYS <= at <= len(hours.raw) - LEAST_DAYS:
        return None
    found = [(*risen(rise), span, rise) for span in SPANS_DAYS if (rise := hours.rise(at, span)) is not None]
    if not found:
        return None
    watts, sd, span, rise = min(found, key=lambda one: one[1])
    places = hours.others(at, span)
    moves = np.array([risen(other)[0] for place in places if (other := hours.rise(place, span))])
    sides = slice(max(at - span, 0), at), slice(at, min(at + span, len(hours.raw)))
    weather = np.array([[part[side][:, WORKING].mean() for part in (hours.heat, hours.cool)] for side in sides])
    return _Compared(at, places, moves, sides, watts, sd, rise, weather)


def _risen(hours: Hours, step: Onset | BaseStep) -> ByDay | None:
    """How far these hours rose beyond what moved all others with them, and whether it may run by the clock."""
    found = _compared(hours, step, lambda rise: rise.split(WORKING)[:2])
    if found is None:
        return None
    watts, rise = found.watts, found.rise
    sd = as_moved(found.standard_uncertainty, found.standard_uncertainty, found.moves)
    held = np.array([np.nanmedian(hours.raw[side][:, WORKING]) for side in found.sides])
    night = max(float(np.median(rise.watts[ASLEEP])), 1.0)
    least = None
    if watts + LIKELY_SDS * sd < ALL_DAY_SHARE * night and not hours.weather_taken:
        # people may be up less on the days since: what is on at any moment of these hours tells more
        least = _least_rise(hours, found.at)
    usual = None
    if least is not None:
        again = [_least_rise(hours, place) for place in found.places]
        moves = np.array([one[0] for one in again if one is not None])
        least_sd = as_moved(least[1], least[1], moves)
        if least_sd < sd:
            watts, sd, usual = least[0], least_sd, least[2]
    all_day = watts + LIKELY_SDS * sd >= ALL_DAY_SHARE * night
    runs = float(np.clip(rise.watts[~WORKING] / night, 0.0, 1.0).sum())
    clock_hours = None if all_day else min(max(runs, LEAST_HOURS), MOST_HOURS)
    return _told(hours, found._replace(watts=watts, standard_uncertainty=sd), held, usual, clock_hours)


def _fallen(hours: Hours, step: BaseStep) -> ByDay | None:
    """How far these hours fell: what the others did then is what is asked, and not to be taken out."""
    found = _compared(hours, step, lambda rise: rise.mean(WORKING))
    if found is None:
        return None
    if found.watts <= WITH_NIGHTS * step.watts:  # that they stayed needs no other month to be believed
        sd = found.standard_uncertainty
        found = found._replace(standard_uncertainty=as_moved(sd, sd, found.moves))
    weather = found.weather.sum(axis=1)
    before = float(found.rise.before[WORKING].mean()) + weather[0]
    return _told(hours, found, np.array([before, max(before + found.watts + weather[1] - weather[0], 0.0)]))


def _told(
    hours: Hours, found: _Compared, held: Floats, usual: float | None = None, clock_hours: float | None = None
) -> ByDay:
    """Bring it into its form, from what the hours held before and after [W]."""
    taken = found.weather.sum(axis=1)
    # what is taken out beyond all that these hours held was not there
    beyond = float(np.maximum(taken - held, 0.0).max())
    weather = found.weather * np.clip(held / np.maximum(taken, 1e-9), 0.0, 1.0)[:, None]
    return ByDay(
        hours.first + found.sides[0].start,
        hours.first + found.at,
        hours.first + found.sides[1].stop,
        found.watts,
        math.hypot(TWICE_HEARD * found.standard_uncertainty, beyond),
        float(held[0] - weather[0].sum()) if usual is None else usual,
        weather,
        clock_hours,
        float(held[1] / max(held[0], 1e-9)),
    )


def _least_rise(hours: Hours, at: int) -> tuple[float, float, float] | None:
    """How far the least of these hours of a day rose, its standard uncertainty, and what it was before [W].

    What people do passes over it on most days; what runs round the clock does not. None with too few whole days.
    """
    span, least = SPANS_DAYS[0], hours.fine[:, WORKING].min(axis=1)
    was, now = (part[np.isfinite(part)] for part in (least[max(at - span, 0) : at], least[at : at + span]))
    if min(len(was), len(now)) < LEAST_DAYS:
        return None
    usual, watts = float(np.median(was)), float(np.median(now) - np.median(was))
    # a middle is known to 1.25 standard deviations by the root of its days; neighbors are alike: two count for one
    own = (np.median(np.abs(part - np.median(part))) / math.sqrt(len(part) / 2.0) for part in (was, now))
    noise = 1.25 * MEDIAN_TO_SD * math.hypot(*own)
    return watts, math.hypot(noise, PEOPLE_SHARE * usual, LEAST_NOISE_WATTS), usual
