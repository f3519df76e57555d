"""What interval data prove: their total, their quality, and whether they add up to the bills."""

from __future__ import annotations

import math
from dataclasses import field
from datetime import date, datetime
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import as_day
from reconcile.house import Action, Assumed
from reconcile.records import dataclass
from reconcile.say import Voice
from reconcile.texts.interval import action_text, assumed_text

ABOVE_PLATE = "above-plate"
"""Code of the finding that a listed load switches more than its plate leaves room for."""

STEP_SIZES = "step-sizes"
"""Code of the finding that the house's own appliances switch another size since a date."""

OWN_POWER = "own-power"
"""Code of the finding that the drawn register shows panels of the house's own."""

FOREIGN: Final = "foreign"
"""Case of the finding that the data are of another meter, and why a bill does not add up then."""

RATIO: Final = "ratio"
"""Case of the finding that bills stand in one ratio to the data, and why such a bill does not add up."""

DAYS_IN_DOUBT = "days-in-doubt"
"""Why no bill is held to the data where the days of most readings are in doubt, as where months stand for dates."""

OTHER_METER: Final = "other-meter"
"""Why a bill is not held to data that add up to all bills before and after it, and not to it and those beside it."""

CaseCode = Literal["", "ratio", "other-meter", "foreign"]
"""How an account stands to its data as a whole."""

if TYPE_CHECKING:
    from reconcile.interval.base_load import BaseLoad, Onset
    from reconcile.interval.by_degree import ByDegree, Spell
    from reconcile.interval.clock_load import ClockLoad
    from reconcile.interval.daily import DailyUse
    from reconcile.interval.known_load import KnownLoad
    from reconcile.interval.planned_run import RunRead
    from reconcile.interval.profile import DayProfile
    from reconcile.interval.size_change import GainSignal


@dataclass(frozen=True, slots=True)
class TieOut:
    """Interval sum against one billed period."""

    period: int
    """Index into the house's bills, from 0."""
    billed_kwh: float
    interval_kwh: float
    """Both: [kWh]"""
    difference_percent: float | None
    """Billed less interval, of the interval sum; None where the data do not cover the period, or hold nothing."""
    within: bool | None
    """None where the data do not cover the period."""
    missing_intervals: int = 0
    slack_kwh: float = 0.0
    """What readings in whole steps leave open [kWh]."""
    tied_with: tuple[int, ...] = ()
    """Periods that add up as one, this one included; empty where it is judged by itself."""
    why: str = ""
    """``split`` (rows of one bill), ``estimate`` (the reading between two bills was none), ``other-hour`` (one reading
    at another time of its day, or on the day beside), ``any-hour`` (no one time of reading serves the account),
    ``opened-off`` and ``closed-off`` (its first or last reading, which no other bill holds in place, as if a day off:
    it may as well be wrong), ``moved`` (energy moved between two bills), ``part`` (the part that is covered already
    exceeds the bill), ``not-asked-for``; of a bill that is not within ``no-hour`` (no pair of times within a day of the
    printed dates gives it), ``no-such-hour`` (none of those that the other bills need), ``chain`` (the readings beside
    it leave no room) or ``foreign`` (so many do not add up that the data are of another meter); of one among bills
    that the data do not add up to, where they do to all others, ``other-meter``; of one that stands with others in one
    ratio to them ``ratio``; of a bill that is not covered
    ``outside`` (it lies before or after the data), ``partly`` (they begin or end within it) or ``gaps`` (too much of it
    is missing), and ``days-in-doubt`` where the days of most readings are not known; empty where nothing is to be
    said."""
    read_between: tuple[float, float] | None = None
    """Earliest and latest time of reading that the other bills of its account need, from the midnight that begins
    the printed date; None where a bill is not told by them [h]."""


@dataclass(frozen=True, slots=True)
class Ratio:
    """One ratio of billed to interval energy, of all bills or of some one after another (``in_a_row``).

    ``points_to`` says what the ratio itself fits: ``unit`` (a power of ten), ``power`` (mean power taken for energy or
    the other way round), ``multiplier`` (a whole number), ``other-scope`` (none of these).
    """

    value: float
    standard_uncertainty: float
    periods: tuple[int, ...]
    points_to: str
    in_a_row: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class Seen:
    """A time in which heating or cooling took more for the same weather, or nobody was at home, day by day."""

    size: float
    """As a part of the usual."""
    sure: bool
    """The days tell it from a load that is the same every day."""
    days: NDArray[np.int64]
    """Ordinal days, of all the data, shape (n,)."""
    more: NDArray[np.float64]
    """What came on top of the usual in each [W], shape (n,); of times with nobody at home, the part of it that was
    lacking."""
    lead: float = 0.0
    """Log likelihood by which the days say so, against a load that is the same every day."""


@dataclass(frozen=True, slots=True, eq=False)
class Evidence:
    """What one signal says of causes, in m windows of days, with its known uncertainty."""

    kind: Literal[
        "gain",
        "peaks",
        "registration",
        "base-load",
        "night-runs",
        "clock",
        "by-day",
        "heating",
        "cooling",
        "away",
        "between",
    ]
    """``gain``: logarithm of the size of the house's own appliance steps. ``peaks``: size of the
    largest short peaks, as a part of the usual less 1. ``registration``: registration less 1.
    ``base-load``: low power of the nights [kWh/d]. ``night-runs``: what they hold above it
    [kWh/d]. ``clock``: energy in the hours of a load that runs by the clock
    [kWh/d]. ``by-day``: power in the hours of the working day, before and after a step of the nights [kWh/d].
    ``heating``, ``cooling``: use for the same weather, as a part of the usual less 1, from how days within a window
    differ with their weather. ``away``: nobody at home; no value, but in ``spell`` what each day lacks, as a part.
    ``between``: a large load between two days [kWh/d], in ``spell`` its part of each day."""
    begins: tuple[date, ...]
    ends: tuple[date, ...]
    """Both: first day of each window, and the day after its last."""
    value: NDArray[np.float64]
    """Shape (m,)."""
    covariance: NDArray[np.float64]
    """Known. Where a signal tells changes only, the unknown level is in it: a constant on every entry, shape (m, m)."""
    base_kwh_per_day: float = 0.0
    """Base load that a value of nothing stands for, or usual energy in those hours, which a meter's gain multiplies
    [kWh/d]."""
    onset: date | None = None
    low: date | None = None
    high: date | None = None
    """All: the one change this signal finds by itself, with 95 % limits."""
    steady_share: float = 1.0
    """Part of a load round the clock that the value holds."""
    until: date | None = None
    """When the change ended, if it did."""
    rests: tuple[tuple[date, date], ...] = ()
    """From and to which what began rested."""
    clock_hours: float | None = None
    """Hours for which the change of a base load may run by the clock instead of all day [h/d]."""
    spell: Seen | None = None
    """A time in which heating or cooling took more for the same weather."""
    weather_kwh_per_day: NDArray[np.float64] = field(default_factory=lambda: np.zeros((0, 2)))
    """Heating and cooling that were taken out of each window [kWh/d], shape (m, 2), or (0, 2) for none."""
    falls: tuple[tuple[date, float], ...] = ()
    """Days on which the nights fell for good, and how much more of the base load a dead element of the meter left than
    half, for each part that it took of all else [kWh/d]."""
    fell: tuple[date, ...] = ()
    """Days on which what it shows fell for good, whatever did it."""
    lifts: float = 0.0
    """Part of what goes on and off in the night that may stand in its floor, one standard deviation."""
    chance: float = 0.0
    """Of a run judged outside the meter's limits: that the meter is so, on the side on which it reads."""

    def there(self, begins: NDArray[np.float64], ends: NDArray[np.float64]) -> NDArray[np.float64]:
        """Part of some stretches of days (ordinals) in which what began is there."""
        if self.onset is None:
            return np.zeros(np.broadcast(begins, ends).shape)
        spans = [(self.onset.toordinal(), math.inf if self.until is None else self.until.toordinal())]
        spans += [(begin.toordinal(), end.toordinal()) for begin, end in self.rests]
        held = [np.clip((np.minimum(ends, b) - np.maximum(begins, a)) / (ends - begins), 0.0, 1.0) for a, b in spans]
        return np.asarray(held[0] - sum(held[1:]))


@dataclass(frozen=True, slots=True)
class IntervalResult:
    """Interval data, examined."""

    kwh: float
    readings: int
    start: datetime
    end: datetime
    step_minutes: float
    assumed: tuple[Assumed, ...]
    actions: tuple[Action, ...]
    tie_out: tuple[TieOut, ...]
    floor_watts: float | None
    onset: Onset | None = None
    reading_hour: float | None = None
    """Time of reading at which the bills tie out, in hours from the midnight that begins the printed date, -24 to 24;
    None where no one time serves and any pair of times within a day of the printed dates is allowed [h]."""
    reading_hours: tuple[float, float] | None = None
    """The earliest and latest time that serves as well [h]."""
    inclusive_dates: bool = False
    """Whether the bills add up only where the printed last day counts too."""
    ratio: Ratio | None = None
    foreign: bool = False
    """Whether hardly a bill adds up: the data are of another meter, and their signals are not looked at."""
    base: BaseLoad | None = None
    clock_load: ClockLoad | None = None
    """A load that began to run by the clock."""
    gain: GainSignal | None = None
    known_loads: tuple[KnownLoad, ...] = ()
    """A listed load of known watts seen switching, once for each stretch between changes of the gain."""
    plated_load: KnownLoad | None = None
    """A listed water heater whose watts stand on its plate, seen switching."""
    run: RunRead | None = None
    """Registration from a planned run with a heater on a plug-in meter."""
    degrees: tuple[ByDegree, ...] = ()
    """Use for the same weather, day by day, with the time in which it was higher."""
    daily: DailyUse | None = None
    """Use by day against weather and weekday, with the days away and those of guests."""
    profiles: tuple[DayProfile, ...] = ()
    """The usual day, by quarter of the year, for weekdays and weekends."""
    evidence: tuple[Evidence, ...] = ()
    """What the signals say of causes; see :class:`Evidence`."""

    def __repr__(self) -> str:
        span = f"{self.start:%Y-%m-%d} to {self.end:%Y-%m-%d}"
        return f"<IntervalResult: {self.readings} readings, {span}, {self.kwh:.0f} kWh; {len(self.tie_out)} bills tied>"

    def to_dict(self, voice: Voice | None = None) -> dict[str, Any]:
        """Return the ``interval`` part of ``result.json``."""
        voice = voice or Voice()
        return {
            "kwh": self.kwh,
            "readings": self.readings,
            "start": self.start.isoformat(),
            "end": self.end.isoformat(),
            "step_minutes": self.step_minutes,
            "assumed": [assumed_text(one, voice) for one in self.assumed],
            "actions": [
                {"code": a.code, "count": a.count, "kwh": a.kwh, "text": action_text(a, voice)} for a in self.actions
            ],
            "tie_out": [
                {
                    "period": t.period,
                    "billed_kwh": t.billed_kwh if math.isfinite(t.billed_kwh) else None,
                    "interval_kwh": t.interval_kwh,
                    "difference_percent": t.difference_percent,
                    "within": t.within,
                    "missing_intervals": t.missing_intervals,
                    "tied_with": list(t.tied_with),
                    "why": t.why,
                }
                for t in self.tie_out
            ],
            "reading_hour": self.reading_hour,
            "reading_hours": None if self.reading_hours is None else list(self.reading_hours),
            "inclusive_dates": self.inclusive_dates,
            "ratio": None if self.ratio is None else self.ratio.value,
            "floor_watts": self.floor_watts,
            "onset": None
            if self.onset is None
            else {
                "date": self.onset.day.isoformat(),
                "low": self.onset.low.isoformat(),
                "high": self.onset.high.isoformat(),
                "cause": self.onset.cause,
            },
            "base_steps": []
            if self.base is None
            else [
                {
                    "date": step.day.isoformat(),
                    "low": step.low.isoformat(),
                    "high": step.high.isoformat(),
                    "watts": step.watts,
                    "fits": list(step.fits),
                }
                for step in self.base.steps
            ],
            "clock_load": None if self.clock_load is None else self.clock_load.to_dict(),
            "gain": None if self.gain is None else self.gain.to_dict(),
            "planned_run": None
            if self.run is None
            else {
                "registration_percent": 100.0 * self.run.registration,
                "expanded_percent": 50.0 * (self.run.high - self.run.low),
                "nights": self.run.nights,
                "hours": self.run.hours,
                "reference_kwh": self.run.reference_kwh,
                "read_kwh": self.run.read_kwh,
            },
            "known_loads": [
                {
                    "load": known.name,
                    "listed_watts": known.listed_watts,
                    "seen_watts": known.seen_watts,
                    "registration_percent": 100.0 * known.registration,
                    "standard_uncertainty_percent": 100.0 * known.standard_uncertainty,
                    "from": as_day(known.first_day).isoformat(),
                    "until": as_day(known.end_day).isoformat(),
                }
                for known in self.known_loads
            ],
            "weather_spells": [_spell(side.side, side.spell) for side in self.degrees if side.spell is not None],
            "daily": None if self.daily is None else self.daily.to_dict(),
            "profiles": [profile.to_dict() for profile in self.profiles],
        }


def _spell(side: str, spell: Spell) -> dict[str, Any]:
    """Return a time in which heating or cooling took more for the same weather as plain values."""
    begin, low, high = (as_day(day).isoformat() for day in (spell.begin, spell.low, spell.high))
    until = None if spell.end is None else as_day(spell.end).isoformat()
    dates = {"since": begin, "since_low": low, "since_high": high, "until": until}
    return {"side": side, **dates, "percent": 100.0 * spell.size, "told_from_a_load": spell.sure}
