"""Whether interval data add up to the bills, period by period."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import local_instants
from reconcile.facts import Facts, Finding
from reconcile.house import Bill, House, Interval
from reconcile.interval.found import IntervalResult, TieOut
from reconcile.interval.steps import base_load

STEPS_ALLOWED = 2.0
"""A register is read in whole steps at both ends of a period, and interval values are rounded too."""

AGREEING_SHARE = 0.75
LEAST_AGREEING = 3
"""Share and number of the judged periods that must tie out at one hour of the day before that hour is taken
for the hour of reading and the others are held to it (our own judgement)."""

ONE_RATIO_SPREAD = 0.02
"""Ratios of billed to interval energy this close together, as a share, are one ratio (our own judgement)."""

MOST_MISSING_SHARE = 0.05
"""A period with more of its intervals missing is not judged (our own judgement)."""


def examine(house: House, facts: Facts) -> IntervalResult | None:
    """Add interval data up to each billed period and look at the base load.

    A bill gives the date of a reading, not its hour. Periods first run from local midnight to local
    midnight. If three quarters of the bills tie out within two register steps at midnight, or else at
    another whole hour, that is the hour of reading and every bill is held to it. If no hour serves, a bill
    ties out where any pair of hours on its two reading days could give it.

    Parameters
    ----------
    house : House
        With or without interval data.
    facts : Facts
        The billed energy.

    Returns
    -------
    IntervalResult or None
        None where the house has no interval data.
    """
    interval = house.interval
    if interval is None or len(interval.kwh) == 0:
        return None
    zone = ZoneInfo(house.timezone)
    running = _Running.of(interval)
    sums = _Sums.of(house, facts, running, zone)
    hour = sums.reading_hour()
    floor_watts, onset = base_load(house)
    return IntervalResult(
        kwh=float(np.nansum(interval.kwh)),
        readings=len(interval.kwh),
        start=datetime.fromtimestamp(int(running.seconds[0]), UTC).astimezone(zone),
        end=datetime.fromtimestamp(int(running.seconds[-1]), UTC).astimezone(zone),
        step_minutes=interval.step_seconds / 60.0,
        assumed=interval.assumed,
        actions=interval.actions,
        tie_out=sums.tie_out(hour),
        floor_watts=floor_watts,
        onset=onset,
        reading_hour=hour,
    )


@dataclass(frozen=True, slots=True)
class _Running:
    """Energy and covered time counted up, at the start and the end of every interval."""

    seconds: NDArray[np.int64]
    kwh: NDArray[np.float64]
    covered: NDArray[np.float64]

    @classmethod
    def of(cls, interval: Interval) -> _Running:
        begin = interval.starts.astype("datetime64[s]").astype(np.int64)
        known = np.isfinite(interval.kwh)
        begin, values = begin[known], interval.kwh[known]
        seconds = np.repeat(begin, 2)
        seconds[1::2] += interval.lengths[known]
        kwh = np.repeat(np.cumsum(values), 2)
        kwh[::2] -= values
        lengths = interval.lengths[known].astype(np.float64)
        covered = np.repeat(np.cumsum(lengths), 2)
        covered[::2] -= lengths
        return cls(seconds, kwh, covered)

    def kwh_at(self, instants: NDArray[np.int64]) -> NDArray[np.float64]:
        counted: NDArray[np.float64] = np.interp(instants, self.seconds, self.kwh)
        return counted

    def covered_at(self, instants: NDArray[np.int64]) -> NDArray[np.float64]:
        counted: NDArray[np.float64] = np.interp(instants, self.seconds, self.covered)
        return counted


@dataclass(frozen=True, slots=True)
class _Sums:
    """Interval sums of each period at each hour of reading, and what they are held to."""

    billed_kwh: NDArray[np.float64]
    by_hour: NDArray[np.float64]
    least: NDArray[np.float64]
    most: NDArray[np.float64]
    allowed: NDArray[np.float64]
    missing: NDArray[np.int64]
    missing_kwh: NDArray[np.float64]
    """Most that the missing intervals could have held [kWh]."""
    judged: NDArray[np.bool_]

    @classmethod
    def of(cls, house: House, facts: Facts, running: _Running, zone: ZoneInfo) -> _Sums:
        interval = house.interval
        assert interval is not None
        starts = [bill.start for bill in house.bills]
        ends = [bill.closes for bill in house.bills]
        opening = np.array([running.kwh_at(local_instants(starts, zone, hour)) for hour in range(24)])
        closing = np.array([running.kwh_at(local_instants(ends, zone, hour)) for hour in range(24)])
        a, b = local_instants(starts, zone), local_instants(ends, zone)
        covered = running.covered_at(b) - running.covered_at(a)
        length = (b - a).astype(np.float64)
        missing = np.round((length - covered) / interval.step_seconds).astype(np.int64)
        largest = float(np.nanmax(interval.kwh))
        allowed = np.array([STEPS_ALLOWED * _step_kwh(house, bill) for bill in house.bills])
        return cls(
            billed_kwh=facts.billed_kwh,
            by_hour=closing - opening,
            least=closing.min(axis=0) - opening.max(axis=0),
            most=closing.max(axis=0) - opening.min(axis=0),
            allowed=allowed,
            missing=missing,
            missing_kwh=missing.astype(np.float64) * largest,
            judged=np.isfinite(facts.billed_kwh) & (length - covered <= MOST_MISSING_SHARE * length),
        )

    def agrees_at(self, hour: int) -> NDArray[np.bool_]:
        """Whether each period ties out with readings at one hour; what is missing can only have added."""
        over = self.billed_kwh - self.by_hour[hour]
        agrees: NDArray[np.bool_] = (over >= -self.allowed) & (over <= self.allowed + self.missing_kwh)
        return agrees & self.judged

    def reading_hour(self) -> int | None:
        """Hour of the day at which the bills tie out, midnight first; None where no hour serves."""
        counts = np.array([self.agrees_at(hour).sum() for hour in range(24)])
        needed = max(LEAST_AGREEING, AGREEING_SHARE * self.judged.sum())
        if counts[0] >= needed:
            return 0
        hour = int(np.argmax(counts))
        return hour if counts[hour] >= needed else None

    def tie_out(self, hour: int | None) -> tuple[TieOut, ...]:
        sums = self.by_hour[hour or 0]
        if hour is None:
            low, high = self.least - self.allowed, self.most + self.allowed + self.missing_kwh
            within = (self.billed_kwh >= low) & (self.billed_kwh <= high)
        else:
            within = self.agrees_at(hour)
        return tuple(
            TieOut(
                period=i,
                billed_kwh=float(self.billed_kwh[i]),
                interval_kwh=float(sums[i]),
                difference_percent=_percent(self.billed_kwh[i] - sums[i], sums[i]),
                within=bool(within[i]) if self.judged[i] else None,
                missing_intervals=int(self.missing[i]),
            )
            for i in range(len(sums))
        )


def findings(result: IntervalResult, house: House) -> tuple[Finding, ...]:
    """Bills that the interval data contradict.

    Parameters
    ----------
    result : IntervalResult
        From :func:`examine`.
    house : House
        The same house.

    Returns
    -------
    tuple of Finding
        One ``interval-mismatch`` a period, or one for all where every bill is off by the same ratio.
    """
    off = [tie for tie in result.tie_out if tie.within is False]
    judged = [tie for tie in result.tie_out if tie.within is not None]
    if len(off) == len(judged) >= LEAST_AGREEING:
        ratios = np.array([tie.billed_kwh / tie.interval_kwh if tie.interval_kwh else np.inf for tie in off])
        middle = float(np.median(ratios))
        if math.isfinite(middle) and float(np.ptp(ratios)) <= ONE_RATIO_SPREAD * abs(middle):
            return (_one_ratio(off, middle),)
    return tuple(_mismatch(tie, house.bills[tie.period], result.reading_hour) for tie in off)


def _one_ratio(off: list[TieOut], ratio: float) -> Finding:
    return Finding(
        code="interval-mismatch",
        periods=tuple(tie.period for tie in off),
        kwh=sum(tie.billed_kwh - tie.interval_kwh for tie in off),
        amount=None,
        text=f"Every bill is {ratio:.3g} times what the interval data add up to. One ratio throughout points "
        "to a multiplier, a unit, or data from another channel or meter, and not to any one bill.",
        do="Look in the interval file for its unit and channel, and on the meter and the bill for "
        "a multiplier. If it is in kWh from this meter, ask the utility which of the two figures is right.",
    )


def _mismatch(tie: TieOut, bill: Bill, hour: int | None) -> Finding:
    over = tie.billed_kwh - tie.interval_kwh
    text = (
        f"The bill of {_dates(bill)} says {tie.billed_kwh:.0f} kWh; the interval data of the "
        f"same days add up to {tie.interval_kwh:.0f} kWh, {abs(over):.0f} kWh "
        f"{'less' if over > 0 else 'more'}, "
    )
    if hour is None:
        text += "more than any hour of reading could explain."
    else:
        text += f"with the readings at {'midnight' if hour == 0 else f'{hour}:00'}, as the other bills have it."
    if _digits_swapped(tie):
        text += " Two neighbouring digits that changed places would explain it."
    if bill.read_type == "estimated":
        text += " The closing reading was an estimate, which may be all of it."
    return Finding(
        code="interval-mismatch",
        periods=(tie.period,),
        kwh=over,
        amount=None,
        text=text,
        do="Look first whether the bill's figure was typed here as it is printed. If it was, send the "
        "utility's billing desk both figures and ask which register readings the bill rests on.",
        settles=True,
    )


def _dates(bill: Bill) -> str:
    year = f" {bill.start:%Y}" if bill.start.year != bill.end.year else ""
    return f"{bill.start.day} {bill.start:%B}{year} to {bill.end.day} {bill.end:%B %Y}"


def _digits_swapped(tie: TieOut) -> bool:
    digits = f"{abs(tie.billed_kwh):.0f}"
    other = (digits[:i] + digits[i + 1] + digits[i] + digits[i + 2 :] for i in range(len(digits) - 1))
    return any(abs(float(text) - abs(tie.interval_kwh)) <= STEPS_ALLOWED for text in other)


def _step_kwh(house: House, bill: Bill) -> float:
    meter = house.meter_on(bill.start, bill.meter)
    return meter.step_kwh * (meter.multiplier if bill.multiplier is None else bill.multiplier)


def _percent(difference: float, of: float) -> float | None:
    percent = 100.0 * difference / of if of else math.nan
    return float(percent) if math.isfinite(percent) else None
