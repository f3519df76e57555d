"""The signals of interval data as evidence for the weighing: windows, values, and what is known of their noise."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from reconcile.array_types import Floats, Ints
from reconcile.clock import as_day, day_numbers
from reconcile.interval.around_clock import LEAST_PART, ByDay, Fall, StepsByDay, largest_rise, lasting_falls
from reconcile.interval.base_load import WANDER_DAYS, BaseLoad
from reconcile.interval.by_degree import ByDegree, Spell
from reconcile.interval.clock_load import ClockLoad
from reconcile.interval.daily import DailyUse
from reconcile.interval.found import Evidence, Seen
from reconcile.interval.known_load import KnownLoad
from reconcile.interval.night_weather import LEARNT_SHARE
from reconcile.interval.planned_run import RunRead
from reconcile.interval.short_peaks import ShortPeaks
from reconcile.interval.size_change import GainSignal
from reconcile.interval.steps import NIGHT_HOURS, NIGHT_QUANTILE
from reconcile.interval.windows import LEVEL_SD, drift

OWN_SD = 0.01
"""What each stretch of a known load adds of its own (our own judgement)."""

SEASON_SIZES_SD, SEASON_SIZES_DAYS = 0.08, 90.0
"""How far the sizes of steps wander with the seasons where no appliance stands out among them, and over how many days
[d] (our own judgement: in a house with strip heat hourly sizes fell by 9 % as a meter turned 12 % fast)."""

RUNS_SHARE = 0.2
"""How far what goes on and off in the night is from its mean of all hours, as a part of its rise, one standard
deviation (our own judgement: water that runs off asks for as much heat by night, but a few runs of an element fill a
night)."""

RUNS_LIFT = 0.3
"""Part of what goes on and off in the night that may stand in its floor in hourly data, one standard deviation (our own
judgement: an element's runs fall into most hours); of a quarter of an hour, a quarter of it, as most hold no run.
"""
RUNS_WANDER = 0.25
"""How far it wanders by itself where it is least, as a part of it, one standard deviation (our own judgement: hands and
thermostats are less steady than what never rests).
"""

HALF = 0.5
"""Part of what runs at 240 V that a dead element of a meter leaves uncounted."""

MOST_ON_A_LEG = 0.75
"""Most of the base load that one of two legs may hold (our own judgement: circuits are spread over both)."""

KWH_PER_DAY = 0.024
"""Energy of a watt in a day [kWh/(W d)]."""


def seen_of(side: ByDegree, spell: Spell) -> Seen:
    """Bring a spell into the form of evidence."""
    days = side.days + date(1970, 1, 1).toordinal()
    return Seen(spell.size, spell.sure, days, side.more, spell.lead)


def times_apart(daily: DailyUse) -> tuple[Evidence, ...]:
    """Bring times with nobody at home, or with guests, into the form of evidence: no rows, but the part that each day
    lacks; below nothing where it has more.
    """
    found = []
    days = daily.days + date(1970, 1, 1).toordinal()
    lacks = np.clip(1.0 - daily.kwh / np.maximum(daily.expected_kwh, 1e-9), -1.0, 1.0)
    for first, last in (*daily.empty, *daily.guests):
        inside = (days >= first.toordinal()) & (days <= last.toordinal())
        seen = Seen(1.0, True, days, np.where(inside, lacks, 0.0))
        until = last + timedelta(days=1)
        found.append(Evidence("away", (), (), np.zeros(0), np.zeros((0, 0)), onset=first, until=until, spell=seen))
    return tuple(found)


def _days(ordinals: Ints) -> tuple[date, ...]:
    return tuple(as_day(int(day)) for day in ordinals)


def _of_gain(gain: GainSignal) -> Evidence:
    change = gain.change
    # a meter's error multiplies: as a part of what the first window shows
    moved = gain.value - gain.value[0]
    scale = np.exp(moved)
    # as far from no change, in its own uncertainty, as the logarithm is
    chord = np.divide(scale - 1.0, moved, out=np.ones_like(moved), where=moved != 0.0)
    covariance = (gain.covariance - LEVEL_SD**2) * np.outer(chord, chord) + LEVEL_SD**2
    if not change.clusters:
        # no appliance of its own size stands out: what the season switches moves the sizes of all as well
        middle = np.array((gain.begins + gain.ends) / 2.0, dtype=float)
        covariance += drift(middle, SEASON_SIZES_SD, SEASON_SIZES_DAYS)
    day, low, high = (as_day(at) if change.cuts else None for at in (change.day, change.low, change.high))
    return Evidence("gain", _days(gain.begins), _days(gain.ends), scale - 1.0, covariance, 0.0, day, low, high)


def _of_base(base: BaseLoad, steps: StepsByDay | None) -> Evidence:
    working = None if steps is None else steps.rise
    onset = base.onset if working is None else largest_rise(base)
    falls = lasting_falls(base)
    # with those that the hours by day do not bear out people may have gone
    borne_out = None if steps is None else {fall.day for fall in steps.falls if not fall.went}
    stayed = [
        fall for fall in falls if borne_out is None or fall.fell < LEAST_PART * fall.stood or fall.day in borne_out
    ]
    return Evidence(
        "base-load",
        _days(base.begins),
        _days(base.ends),
        KWH_PER_DAY * base.value,
        KWH_PER_DAY**2 * (base.covariance + _left_for(base, [fall for fall in falls if fall not in stayed])),
        # a meter's error multiplies what is left without the weather, and what the list holds of it too
        KWH_PER_DAY * max(base.usual_watts + base.listed_watts, 0.0),
        None if onset is None else onset.day,
        None if onset is None else onset.low,
        None if onset is None else onset.high,
        clock_hours=None if working is None else working.clock_hours,
        weather_kwh_per_day=KWH_PER_DAY * base.weather,
        falls=tuple((fall.step.day, _spared(fall)) for fall in stayed if fall.fell <= MOST_ON_A_LEG * fall.stood),
        fell=tuple(fall.step.day for fall in falls if fall.told),
    )


def _spared(fall: Fall) -> float:
    """What an element that died then spares of the base load [kWh/d].

    A dead element takes half of what runs at 240 V; of the base load, at 120 V, as much as hangs on its leg.
    """
    return KWH_PER_DAY * (fall.stood - fall.fell / HALF)


def _left_for(base: BaseLoad, left: Sequence[Fall]) -> Floats:
    """Covariance of the windows by what people who went switched off until something came, shape (m, m) [W^2]."""
    doubt = np.zeros_like(base.covariance)
    rises = [int(day_numbers([step.day])[0]) for step in base.steps if step.watts > 0.0]
    for fall in left:
        again = min((day for day in rises if day > fall.day), default=int(base.ends[-1]))
        held = np.minimum(base.ends, again) - np.maximum(base.begins, fall.day)
        inside = np.clip(held / (base.ends - base.begins), 0.0, 1.0)
        doubt += fall.step.watts**2 * np.outer(inside, inside)
    return doubt


def _of_runs(runs: BaseLoad) -> Evidence:
    rise, onset = runs.value - runs.value.min(), runs.onset
    middle = np.array((runs.begins + runs.ends) / 2.0, dtype=float)
    wander = drift(middle, RUNS_WANDER * max(runs.usual_watts + float(runs.value.min()), 0.0), WANDER_DAYS)
    return Evidence(
        "night-runs",
        _days(runs.begins),
        _days(runs.ends),
        KWH_PER_DAY * runs.value,
        # the night's part of what a thermostat's load takes is no surer than so
        KWH_PER_DAY**2 * (runs.covariance + RUNS_SHARE**2 * np.outer(rise, rise) + wander),
        KWH_PER_DAY * max(runs.usual_watts, 0.0),
        None if onset is None else onset.day,
        None if onset is None else onset.low,
        None if onset is None else onset.high,
        weather_kwh_per_day=KWH_PER_DAY * runs.weather,
        lifts=RUNS_LIFT * runs.step_hours,
    )


def _of_peaks(peaks: ShortPeaks) -> Evidence:
    return Evidence("peaks", _days(peaks.begins), _days(peaks.ends), peaks.value, peaks.covariance)


def _of_working_day(working: ByDay) -> Evidence:
    level = LEVEL_SD * max(working.usual_watts + float(working.weather_watts[0].sum()), 100.0)
    # how much the weather adds at all is learnt from the same hours, as in the nights
    free = LEARNT_SHARE**2 * working.weather_watts @ working.weather_watts.T
    own = 0.5 * working.standard_uncertainty**2
    return Evidence(
        "by-day",
        (as_day(working.first), as_day(working.day)),
        (as_day(working.day), as_day(working.last)),
        KWH_PER_DAY * np.array([0.0, working.watts]),
        KWH_PER_DAY**2 * (level**2 + free + own * np.eye(2)),
        KWH_PER_DAY * working.usual_watts,
        weather_kwh_per_day=KWH_PER_DAY * working.weather_watts,
    )


def _of_clock(clock: ClockLoad) -> Evidence:
    per_day = clock.hours * clock.share_of_days / 1000.0
    return Evidence(
        "clock",
        _days(clock.begins),
        _days(clock.ends),
        per_day * clock.value,
        per_day**2 * clock.covariance,
        per_day * clock.usual_watts,
        clock.day,
        clock.low,
        clock.high,
        clock.steady_share,
        clock.until,
        rests=clock.rests,
    )


def _without_timer(signal: Evidence, clock: ClockLoad, timed: Evidence) -> Evidence:
    """The nights of a signal in as much more doubt as what was taken out of them is, where a timer fills them."""
    filled = ((np.arange(*NIGHT_HOURS) + 0.5 - clock.start_hour) % 24.0 < clock.hours).mean()
    if signal.kind not in ("base-load", "night-runs") or filled <= NIGHT_QUANTILE:
        return signal
    begins, ends = (np.array([float(day.toordinal()) for day in days]) for days in (signal.begins, signal.ends))
    there = timed.there(begins, ends)
    doubt = (KWH_PER_DAY * clock.standard_uncertainty) ** 2 * np.outer(there, there)
    return replace(signal, covariance=signal.covariance + doubt)


def _of_known(known: Sequence[KnownLoad]) -> Evidence:
    sd = np.array([one.standard_uncertainty for one in known])
    return Evidence(
        "registration",
        tuple(as_day(one.first_day) for one in known),
        tuple(as_day(one.end_day) for one in known),
        np.array([one.registration - 1.0 for one in known]),
        np.outer(sd, sd) + np.diag(np.full(len(sd), OWN_SD**2)),
    )


def _of_degrees(side: ByDegree) -> Evidence:
    spell = side.spell
    until = None if spell is None or spell.end is None else as_day(spell.end)
    day, low, high = (None,) * 3 if spell is None else (as_day(at) for at in (spell.begin, spell.low, spell.high))
    seen = None if spell is None else seen_of(side, spell)
    begins, ends = _days(side.begins), _days(side.ends)
    return Evidence(side.side, begins, ends, side.value, side.covariance, 0.0, day, low, high, until=until, spell=seen)


def of_run(run: RunRead) -> Evidence:
    """Bring a run that was read in the data into the form of evidence."""
    variance = np.array([[run.standard_uncertainty**2]])
    value = np.array([run.registration - 1.0])
    return Evidence("registration", (as_day(run.first_day),), (as_day(run.end_day),), value, variance)


def evidence_of(
    gain: GainSignal | None,
    base: BaseLoad | None,
    known: Sequence[KnownLoad] = (),
    clock: ClockLoad | None = None,
    steps: StepsByDay | None = None,
    degrees: Sequence[ByDegree] = (),
    runs: BaseLoad | None = None,
    peaks: ShortPeaks | None = None,
) -> tuple[Evidence, ...]:
    """Bring the signals into one form.

    Parameters
    ----------
    known : sequence of KnownLoad
        Stretches of the same load: its watts are wrong in all of them alike.
    steps : StepsByDay or None
        How the hours of the working day moved with the base load; with falls that are not among them people may have
        gone. None where nobody asked.
    degrees : sequence of ByDegree
        What heating and cooling took for the same weather.
    runs : BaseLoad or None
        What the nights hold above their floor.
    peaks : ShortPeaks or None
        Size of the largest short peaks.

    Returns
    -------
    tuple of Evidence
        Changes only of signals with at least two windows.
    """
    found = []
    if gain is not None and len(gain.value) > 1:
        found.append(_of_gain(gain))
    if peaks is not None:
        found.append(_of_peaks(peaks))
    if base is not None and len(base.value) > 1:
        found.append(_of_base(base, steps))
    if runs is not None and runs.steps:  # where nothing came or went no cause is looked for there
        found.append(_of_runs(runs))
    if steps is not None:
        rise = [] if steps.rise is None else [steps.rise]
        found += [_of_working_day(one) for one in (*rise, *(fell for fell in steps.falls if not fell.went))]
    if clock is not None and len(clock.value) > 1:
        timed = _of_clock(clock)
        found = [*(_without_timer(one, clock, timed) for one in found), timed]
    if known and len({one.name for one in known}) == 1:
        found.append(_of_known(known))
    found += [_of_degrees(side) for side in degrees]
    return tuple(found)
