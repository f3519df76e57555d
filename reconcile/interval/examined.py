"""Everything interval data prove of a house, in one pass."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.clock import day_numbers
from reconcile.facts import Facts
from reconcile.house import House, Interval
from reconcile.interval.around_clock import by_day
from reconcile.interval.base_load import BaseLoad, base_load
from reconcile.interval.by_degree import by_degree
from reconcile.interval.clock_load import ClockLoad, clock_load
from reconcile.interval.clock_taken import without
from reconcile.interval.daily import DailyUse, Lift, daily_use
from reconcile.interval.evidence_rows import KWH_PER_DAY, evidence_of, of_run, times_apart
from reconcile.interval.found import IntervalResult
from reconcile.interval.gain import gain_signal
from reconcile.interval.known_load import KnownLoad, known_load, plated_load
from reconcile.interval.large_load import large_load
from reconcile.interval.listed_hours import begins_then, runs_longer
from reconcile.interval.long_runs import long_runs
from reconcile.interval.night_runs import night_runs
from reconcile.interval.one_part import beyond_sizes
from reconcile.interval.planned_run import PLUG_IN_PERCENT, RunRead, read_run
from reconcile.interval.profile import day_profiles
from reconcile.interval.short_peaks import short_peaks
from reconcile.interval.size_change import GainSignal
from reconcile.interval.switching import Switching, switching, thinned
from reconcile.interval.tie_out import Tied, tie_out

MOST_LISTED = 2
"""Seasons of listed loads on a timer that are passed over, as a pool pump's of two years."""

NETWORKS = ("network", "three-phase")
"""Services of 208 V between two legs, or that may be."""

LEAST_OF_USE = 0.05
"""Part of all use below which what runs by the clock is no cause of bills (our choice: what people switch moves a bill
by as much from month to month). It is told among the signals."""

SAME_DAYS = 14
"""Runs of some days and a load on a timer that begin within so many days are one [d] (our own judgement)."""

EDGE_DAYS = 5
"""How near its ends a step of the nights may go with a time with nobody at home [d] (our choice)."""

MOST_ESTIMATED = 0.2
"""Share of estimated intervals from which the data say nothing of single appliances (our own judgement)."""


def examine(house: House, facts: Facts) -> IntervalResult | None:
    """Add interval data up to each billed period and look at the base load.

    A bill gives the date of a reading, not its hour: the one time of reading, from a day before to a day after the
    midnight that begins the printed date, at which most bills add up is learnt, and every bill is held to it. Where
    no time serves, a bill ties out where any pair of times on its two reading days could give it.

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
    if interval is None or len(interval.kwh) == 0 or not np.isfinite(interval.kwh).any():
        return None
    zone = ZoneInfo(house.timezone)
    tied = tie_out(house, facts)
    result = bills_tied(house, tied, zone)
    # another meter's appliances say nothing of this house's bills
    return result if tied.foreign else _with_signals(result, house, facts, zone)


def bills_tied(house: House, tied: Tied, zone: ZoneInfo) -> IntervalResult:
    """Give what the data hold and how the bills add up, with no signal looked at."""
    interval = house.interval
    assert interval is not None
    hour = tied.hour if tied.hour is not None and tied.hour.agreeing else None
    return IntervalResult(
        kwh=float(np.nansum(interval.kwh)),
        readings=len(interval.kwh),
        start=datetime.fromtimestamp(int(interval.starts[0].astype(np.int64)), UTC).astimezone(zone),
        end=datetime.fromtimestamp(int(interval.ends[-1].astype(np.int64)), UTC).astimezone(zone),
        step_minutes=interval.step_seconds / 60.0,
        assumed=interval.assumed,
        actions=interval.actions,
        tie_out=tied.rows,
        floor_watts=None,
        reading_hour=None if hour is None else hour.seconds / 3600.0,
        reading_hours=None if hour is None else (hour.low_seconds / 3600.0, hour.high_seconds / 3600.0),
        inclusive_dates=tied.inclusive,
        ratio=tied.ratio,
        foreign=tied.foreign,
    )


def run_in_data(house: House) -> RunRead | None:
    """Read the run that was planned in the house's interval data; None where none was made or none can be read."""
    test = house.field_test
    if house.interval is None or test is None or not test.interval_runs:
        return None
    plug_in = PLUG_IN_PERCENT
    if test.instruments.watts is not None:
        plug_in = test.instruments.watts.percent_of_reading or plug_in
    return read_run(house.interval, ZoneInfo(house.timezone), test.interval_runs, plug_in)


def _with_signals(result: IntervalResult, house: House, facts: Facts, zone: ZoneInfo) -> IntervalResult:
    """Look at the base load, what runs by the clock, the sizes of steps and the use by day."""
    interval = house.interval
    assert interval is not None
    exchanges = tuple(int(day_numbers([exchange.day])[0]) for exchange in facts.exchanges)
    # what was spread between two readings says nothing of how appliances switch
    spread = interval.estimated is not None and float(interval.estimated.mean()) > MOST_ESTIMATED
    seen = None if house.generation or spread else switching(interval, zone)
    gain = None if seen is None else gain_signal(seen, exchanges, house.events)
    known, plated = _known_loads(house, zone, seen, gain)
    run = run_in_data(house)
    large, still = (None, house) if spread else large_load(house, zone)
    clock, quiet = (None, still) if house.generation or spread else _clock(still, zone)
    degrees = () if house.generation else by_degree(quiet, zone)
    cuts = (*exchanges, *([gain.change.day] if gain is not None and gain.change.cuts else []))
    spells = [side.spell for side in degrees if side.spell is not None]
    base = base_load(quiet, cuts, spells)
    daily = daily_use(still, _lifts(base, clock), _never_rests(base), degrees)
    if daily is not None and daily.empty and base is not None and any(step.passed for step in base.steps):
        base = base_load(quiet, cuts, spells, daily.empty)
    steps = None if house.generation else by_day(quiet, zone, _while_lived_in(base, daily))
    runs = (
        None if house.generation else night_runs(quiet, zone, base, cuts, spells, () if daily is None else daily.empty)
    )
    if daily is not None and daily.empty and not house.generation:
        degrees = by_degree(quiet, zone, daily.empty)
    if daily is not None:
        daily = daily.with_guests([side.guests for side in degrees if side.guests is not None])
    # sizes that are not found to have moved so far say nothing where all hours rose farther than they are looked for
    moved = gain.change.shift if gain is not None and gain.change.found else 0.0
    heard = gain if gain is None or not beyond_sizes(quiet, zone, base, moved) else None
    shown = base
    if base is not None and large is not None:
        shown = replace(base, steps=tuple(sorted((*base.steps, *large.steps), key=lambda step: step.day)))
    return replace(
        result,
        floor_watts=None if base is None else base.floor_watts,
        onset=None if base is None else base.onset,
        base=shown,
        clock_load=clock,
        gain=gain,
        known_loads=known,
        plated_load=plated,
        run=run,
        daily=daily,
        profiles=day_profiles(interval, zone),
        degrees=degrees,
        evidence=(
            *evidence_of(
                heard,
                base,
                known or ((plated,) if plated else ()),
                _counts(clock, interval),
                steps,
                degrees,
                runs,
                None if house.generation else short_peaks(quiet, zone, base, cuts),
            ),
            *(() if run is None else (of_run(run),)),
            *(() if large is None else (large.evidence(),)),
            *(() if daily is None or house.generation else times_apart(daily)),
        ),
    )


def _while_lived_in(base: BaseLoad | None, daily: DailyUse | None) -> BaseLoad | None:
    """Return the base load without the steps with which a time with nobody at home began or ended.

    Its hours by day fall and rise with the nights because people went and came back.
    """
    if base is None or daily is None:
        return base
    edges = [day for span in daily.empty for day in span]
    steps = tuple(step for step in base.steps if all(abs((step.day - day).days) > EDGE_DAYS for day in edges))
    return replace(base, steps=steps)


def _clock(house: House, zone: ZoneInfo) -> tuple[ClockLoad | None, House]:
    """Return the load that comes on some days or runs by a timer and that the list does not hold, and the house without
    it.
    """
    quiet = house
    for _ in range(MOST_LISTED + 1):
        assert quiet.interval is not None
        runs = long_runs(quiet.interval, zone, quiet)
        if runs is None or _is_a_timer(runs[0], clock_load(quiet.interval, zone, quiet)):
            break
        quiet = replace(quiet, interval=runs[1])
        if not begins_then(house.loads, runs[0].day, runs[0].watts):
            return runs[0], quiet
    for _ in range(MOST_LISTED + 1):
        assert quiet.interval is not None
        clock = clock_load(quiet.interval, zone, quiet)
        if clock is None:
            break
        quiet = replace(quiet, interval=without(clock, quiet.interval, zone))
        longer = clock.until is not None and not clock.varies and runs_longer(house.loads, clock.watts)
        if not (longer or begins_then(house.loads, clock.day, clock.watts)):
            return clock, quiet
    return None, quiet


def _is_a_timer(runs: ClockLoad, clock: ClockLoad | None) -> bool:
    """Whether what came as runs on some days, by what stands out of each, takes the same in the same hours of all."""
    return clock is not None and not clock.varies and abs((clock.day - runs.day).days) <= SAME_DAYS


def _counts(clock: ClockLoad | None, interval: Interval) -> ClockLoad | None:
    """Return what runs by the clock if bills could show it: lights of dark mornings are no cause of any bill."""
    mean_watts = 3.6e6 * float(interval.kwh.mean()) / interval.step_seconds
    return clock if clock is not None and 1000.0 * clock.kwh_a_day / 24.0 >= LEAST_OF_USE * mean_watts else None


def _never_rests(base: BaseLoad | None) -> tuple[float, float]:
    """Power of the nights without the weather before any step of it [W], less what the list holds round the clock and
    all of it.
    """
    if base is None:
        return 0.0, 0.0
    before = base.days < min((int(day_numbers([step.day])[0]) for step in base.steps), default=int(base.days[-1]) + 1)
    level = float(np.median(base.level[before])) if before.any() else 0.0
    return max(level, 0.0), max(level + base.listed_watts, 0.0)


def _lifts(base: BaseLoad | None, clock: ClockLoad | None) -> list[Lift]:
    """What a day takes more since a step of the base load, or while a timer runs."""
    steps = () if base is None else base.steps
    lifts = [Lift(float(day_numbers([step.day])[0]), math.inf, KWH_PER_DAY * step.watts) for step in steps]
    if clock is not None:
        end = math.inf if clock.until is None else float(day_numbers([clock.until])[0])
        lifts.append(Lift(float(day_numbers([clock.day])[0]), end, clock.kwh_a_day))
    return lifts


def _known_loads(
    house: House, zone: ZoneInfo, seen: Switching | None, gain: GainSignal | None
) -> tuple[tuple[KnownLoad, ...], KnownLoad | None]:
    """Look for a listed load of known watts on either side of a change that was found, and for one on its plate."""
    if seen is None or house.interval is None:
        return (), None
    longer = thinned(house.interval)
    seen = seen if longer is house.interval else switching(longer, zone)
    if seen is None:
        return (), None
    inner = [gain.change.day] if gain is not None and gain.change.found else []
    edges = [seen.first, *inner, seen.last + 1]
    loads = house.loads
    if house.service in NETWORKS:  # its elements may run at fewer volts than their plates state
        loads = tuple(replace(load, source="guessed") if load.source == "nameplate" else load for load in loads)
    found = (known_load(loads, seen, begin, end) for begin, end in pairwise(edges))
    plated = None if inner else plated_load(loads, seen, seen.first, seen.last + 1)
    return tuple(one for one in found if one is not None), plated
