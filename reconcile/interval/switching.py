"""The house's own appliances as they switch: every clear step of the power, with its size and its day.

A kettle, an element, a dryer is the same resistor before and after any date, so the sizes of its steps tell what the
meter makes of it, whatever the habits, the weather or the list.
"""

from __future__ import annotations

from dataclasses import field
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.clock import DAY_SECONDS, local_seconds
from reconcile.house import Interval
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

LEAST_KW, MOST_KW = 0.06, 18.0
"""Steps looked at: a refrigerator is the smallest that runs the year round, and a car's charger, on a meter half as
fast again, the largest [kW] (our own judgement: chargers at home draw 7 to 12 kW; what the upper limit cuts off on one
side of a change alone would look as if it had been replaced)."""

SHORT_STEP_SECONDS, LEAST_KW_LONG = 900.0, 0.4
"""Length of intervals up to which the small ones are heard [s], and the least step heard in longer ones [kW]: the mean
of many homes, in which nothing switches, has hourly steps of a few hundred watts (a standard load profile)."""

ALIKE, LOOSELY_ALIKE = 0.06, 0.1
ENOUGH_A_DAY = 8.0
"""Two samples are one level where they differ by no more than so many kW, or this part of the step. The wider limits
hold where the narrow ones leave fewer steps a day (tried on one real home's minutes, thinned to 5, 15, 30 and 60 min:
at 5 min the wider ones blur its appliances, from 15 min on the narrow ones lose too many steps)."""

ALIKE_PART = 0.15
"""The same for small steps, as a part of them (our own judgement): a refrigerator is heard in a quiet night alone."""

RUN_SAMPLES = 7
PARTLY = 0.15
"""Samples looked at about a run with one full sample, and least part of its power in the two about that one (our own
judgement)."""

ALONE_PARTLY, ALONE_LEAST_KW = 0.04, 0.6
"""Least part of a run's power in the samples about its one full one, where the run is looked at beside one sample
before and after alone, and the least such run [kW] (our own judgement: a run of one and a half samples shows)."""

SWING_KW, QUIET_PART, QUIET_TIMES = 1.0, 0.2, 2.0
"""Change between two samples that is a swing [kW]; short runs are looked at in days with no more than so many times
the swings of a day at this part of all: where a furnace goes on and off all day its bursts look like runs of any size
(our own judgement)."""

QUANTA = 8.0
"""A step is heard where it is at least so many steps of the data's own resolution (our own judgement)."""

GOLDEN = 0.6180339887498949
"""Multiples of it fill the part behind the point evenly."""

THIN_SECONDS = 900
"""Intervals in which the steps of long runs stand out from those of short ones [s]."""

LONGEST_STEP_SECONDS = 3600
"""Appliances do not show in longer intervals [s]."""


@dataclass(frozen=True, slots=True, eq=False)
class Switching:
    """Steps of the power, in order of time."""

    day: Ints
    """Day in the house's zone, counted since 1970-01-01 [d], shape (n,)."""
    log_kw: Floats
    """Logarithm of the size of each [ln kW], at the usual volts where the data carry volts, shape (n,)."""
    sign: Ints
    """1 switched on, -1 off, shape (n,)."""
    resolution_kw: float
    """Step in which the data write power [kW]."""
    least_kw: float
    """Smallest size heard [kW]."""
    volts: bool
    """Whether the sizes are brought to one voltage."""
    first: int
    last: int
    """Both: first and last day of the data [d]."""
    log_volts: Floats = field(default_factory=lambda: np.zeros(0))
    """Logarithm of each day's mean volts, NaN where unknown, shape (last - first + 1,); empty where the data carry
    none."""
    run_day: Ints = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    """Day of each short run that stands alone: one full sample between two partly on, shape (m,)."""
    run_log_kw: Floats = field(default_factory=lambda: np.zeros(0))
    """Logarithm of its size [ln kW], shape (m,)."""
    sharp: bool = False
    """Whether the narrow limits of one level (:data:`ALIKE`) leave enough steps."""


def switching(interval: Interval, zone: ZoneInfo) -> Switching | None:
    """Find the steps of the power when appliances switch.

    A step is two samples alike, one sample between in which it happens, and two samples alike again; or a run with one
    full sample between two in which it begins and ends.

    Parameters
    ----------
    interval : Interval
        One step throughout, or several: each stretch is looked at by itself.
    zone : ZoneInfo
        The house's zone.

    Returns
    -------
    Switching or None
        None where the intervals are longer than an hour, or the house sends energy back in the same figure.

    References
    ----------
    The idea of telling appliances by the size of their steps: G. W. Hart, Nonintrusive appliance load monitoring,
    Proceedings of the IEEE 80(12), 1992, doi:10.1109/5.192069 (from memory). Here no appliance has to be named.
    """
    if len(interval.kwh) == 0 or interval.net:
        return None
    parts = [_of_one_step(part) for part in interval.segments if part.step_seconds <= LONGEST_STEP_SECONDS]
    if not parts:
        return None
    at = np.concatenate([part[0] for part in parts])
    size = np.concatenate([part[1] for part in parts])
    run_at, run_kw = np.concatenate([part[4] for part in parts]), np.concatenate([part[5] for part in parts])
    ends = local_seconds(np.array([interval.starts[0], interval.ends[-1]]), zone) // DAY_SECONDS
    volts = all(part[3] for part in parts)
    return Switching(
        day=local_seconds(at, zone) // DAY_SECONDS,
        log_kw=np.log(np.abs(size)),
        sign=np.sign(size).astype(np.int64),
        resolution_kw=max(part[2] for part in parts),
        least_kw=max(
            max(
                _least_kw(part.step_seconds) for part in interval.segments if part.step_seconds <= LONGEST_STEP_SECONDS
            ),
            QUANTA * max(part[2] for part in parts),
        ),
        volts=volts,
        first=int(ends[0]),
        last=int(ends[1]),
        log_volts=_daily_volts(interval, int(ends[1] - ends[0]) + 1) if volts else np.zeros(0),
        run_day=local_seconds(run_at, zone) // DAY_SECONDS,
        run_log_kw=np.log(run_kw),
        sharp=all(part[6] for part in parts),
    )


def _daily_volts(interval: Interval, days: int) -> Floats:
    """Logarithm of the mean volts of each day, to within an hour or two of its midnights."""
    if interval.volts is None:
        return np.zeros(0)
    day = (interval.starts - interval.starts[0]).astype("timedelta64[D]").astype(np.int64)
    known = interval.volts > 0.0
    total = np.bincount(day[known], weights=interval.volts[known], minlength=days)[:days]
    count = np.bincount(day[known], minlength=days)[:days]
    with np.errstate(divide="ignore", invalid="ignore"):
        found: Floats = np.where(count > 0, np.log(total / count), np.nan)
    return found


def thinned(interval: Interval, seconds: int = THIN_SECONDS) -> Interval:
    """Add the intervals up to longer ones, in which only long runs still show as steps.

    Parameters
    ----------
    seconds : int
        Length wanted [s].

    Returns
    -------
    Interval
        The same where its intervals are as long already, or several lengths follow one another.
    """
    step = interval.step_seconds
    if interval.seconds is not None or step >= seconds or seconds % step:
        return interval
    begin = interval.starts.astype("datetime64[s]").astype(np.int64)
    place = (begin - begin[0] // seconds * seconds) // seconds
    count = np.bincount(place)
    kwh = np.bincount(place, weights=interval.kwh)
    whole = count == seconds // step
    volts = None
    if interval.volts is not None:
        volts = np.bincount(place, weights=np.nan_to_num(interval.volts)) / np.maximum(count, 1)
        volts = np.where(np.bincount(place, weights=np.isnan(interval.volts)) > 0, np.nan, volts)[whole]
    starts = (begin[0] // seconds * seconds + np.flatnonzero(whole) * seconds).astype("datetime64[s]")
    return Interval(starts, kwh[whole], seconds, volts=volts)


def _least_kw(step_seconds: float) -> float:
    """Return the least step heard [kW]: in half-hours and hours small appliances only seem to switch."""
    return LEAST_KW if step_seconds <= SHORT_STEP_SECONDS else LEAST_KW_LONG


def _of_one_step(
    part: Interval,
) -> tuple[NDArray[np.datetime64], Floats, float, bool, NDArray[np.datetime64], Floats, bool]:
    hours = part.step_seconds / 3600.0
    kw = part.kwh / hours
    resolution = _resolution(part.kwh) / hours
    volts = part.volts
    known = volts is not None and bool(np.mean(np.isfinite(volts)) > 0.9)
    if volts is not None and known:
        usual = float(np.nanmedian(volts))
        with np.errstate(invalid="ignore"):
            kw = kw * (usual / np.where(volts > 0.5 * usual, volts, usual)) ** 2
    least = max(_least_kw(part.step_seconds), QUANTA * resolution)
    steady = np.diff(part.starts).astype(np.int64) == part.step_seconds
    days = len(kw) * part.step_seconds / DAY_SECONDS
    for alike in (ALIKE, LOOSELY_ALIKE):
        found = (_steps(kw, steady, least, alike), _runs(kw, steady, least, alike))
        place, size = (np.concatenate(both) for both in zip(*found, strict=True))
        enough = len(place) >= ENOUGH_A_DAY * days
        if enough:
            break
    order = np.argsort(place, kind="stable")
    place, size = place[order], size[order]
    size = size + np.sign(size) * _spread(len(size), resolution)
    alone, run_kw = _alone(kw, steady, part.step_seconds)
    return part.starts[place], size, resolution, known, part.starts[alone], run_kw, enough and alike == ALIKE


def _steps(kw: Floats, steady: NDArray[np.bool_], least: float, alike: float) -> tuple[Ints, Floats]:
    """Place and size [kW] of clear steps: two samples alike, one mixed, two alike."""
    before, last, mixed, first, after = kw[:-4], kw[1:-3], kw[2:-2], kw[3:-1], kw[4:]
    size = (first + after - before - last) / 2.0
    large = np.abs(size)
    room = _room(large, alike)
    clear = (large >= least) & (large <= MOST_KW)
    clear &= (np.abs(last - before) <= room) & (np.abs(after - first) <= room)
    clear &= (mixed >= np.minimum(last, first) - room) & (mixed <= np.maximum(last, first) + room)
    clear &= steady[:-3] & steady[1:-2] & steady[2:-1] & steady[3:]
    found = np.flatnonzero(clear)
    # a step on the edge of two samples is seen twice
    found = found[np.diff(found, prepend=-2) > 1]
    return found + 2, size[found]


def _room(size: Floats, alike: float) -> Floats:
    """How far two samples of one level lie apart beside a step of some size [kW]."""
    room: Floats = np.where(size < 1.0, np.minimum(ALIKE_PART * size, alike), alike * size)
    return room


def _runs(kw: Floats, steady: NDArray[np.bool_], least: float, alike: float) -> tuple[Ints, Floats]:
    """Place and size [kW] of short runs: one full sample between two partly on, two samples alike on either side.

    A run that is partly on in both samples about one is on throughout that one.
    """
    if len(kw) < RUN_SAMPLES:
        return np.zeros(0, dtype=np.int64), np.zeros(0)
    samples = [kw[at : len(kw) - RUN_SAMPLES + 1 + at] for at in range(RUN_SAMPLES)]
    size = samples[3] - (samples[0] + samples[1] + samples[5] + samples[6]) / 4.0
    clear = np.flatnonzero((size >= least) & (size <= MOST_KW))
    early, earlier, rising, full, falling, later, late = (one[clear] for one in samples)
    size = size[clear]
    room = _room(size, alike)
    unbroken = np.lib.stride_tricks.sliding_window_view(steady, RUN_SAMPLES - 1)[clear]
    whole = np.asarray(unbroken.all(axis=1), dtype=bool)
    whole &= (np.abs(early - earlier) <= room) & (np.abs(later - late) <= room)
    whole &= np.abs(early + earlier - later - late) <= 2.0 * room
    for partly in (rising, falling):
        whole &= (partly >= full - (1.0 - PARTLY) * size) & (partly <= full + room)
    found, size = clear[whole], size[whole]
    once = np.diff(found, prepend=-2) > 1
    return found[once] + 3, size[once]


def _alone(kw: Floats, steady: NDArray[np.bool_], step_seconds: float) -> tuple[Ints, Floats]:
    """Place and size [kW] of short runs with one full sample between two partly on, and one sample on either side.

    A long run that goes on and off and is seen by its mean has no such shape, and steps of two samples alike hold it.
    """
    if len(kw) < 5:
        return np.zeros(0, dtype=np.int64), np.zeros(0)
    before, rising, full, falling, after = kw[:-4], kw[1:-3], kw[2:-2], kw[3:-1], kw[4:]
    base = (before + after) / 2.0
    size = full - base
    room = ALIKE * size
    clear = (size >= ALONE_LEAST_KW) & (size <= MOST_KW) & (np.abs(before - after) <= 2.0 * room)
    for partly in (rising, falling):
        clear &= (partly >= base + ALONE_PARTLY * size) & (partly <= full + room)
    clear &= steady[:-3] & steady[1:-2] & steady[2:-1] & steady[3:]
    day = np.arange(len(kw)) // max(round(DAY_SECONDS / step_seconds), 1)
    swings = np.bincount(day, np.abs(np.diff(kw, prepend=kw[0])) >= SWING_KW)
    clear &= (swings <= QUIET_TIMES * np.quantile(swings, QUIET_PART))[day[2:-2]]
    found = np.flatnonzero(clear)
    return found + 2, size[found]


def _spread(count: int, resolution: float) -> Floats:
    """What is added to sizes so that they fill the gaps between those that whole steps of the register leave [kW].

    Else small ones stand at the same few sizes whatever the meter's gain.
    """
    even: Floats = np.mod(GOLDEN * np.arange(count, dtype=np.float64), 1.0)
    return 0.5 * resolution * (even - 0.5)


def _resolution(kwh: Floats) -> float:
    """Step in which some energies are written: the commonest small difference between the values there are [kWh]."""
    values = np.unique(np.round(kwh[:200_000], 6))
    if len(values) < 2:
        return 0.0
    return float(np.quantile(np.diff(values), 0.05))
