"""Runs of about one power that stand out of the readings for an hour or more, whatever makes them."""

from __future__ import annotations

import math
from zoneinfo import ZoneInfo

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from reconcile.clock import DAY_SECONDS, HOUR_SECONDS, local_seconds
from reconcile.house import Interval
from reconcile.records import dataclass

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SLOT_SECONDS, WHOLE_DAY = 900, 0.8
"""Shortest slots looked at [s], and the part of a day's that must be known (our own judgement)."""

REACH_HOURS, REST_QUANTILE = 10, 0.25
"""Hours on either side of each whose low power is what the house takes without a run, and the quantile of them (our own
judgement: longer than most runs, shorter than a spell of cold)."""

LEAST_KW, MOST_KW, RATIO = 1.0, 11.0, 1.35
"""Powers above that rest at which runs are cut out, each so many times the one before [kW]: a portable heater to the
largest charger at home (our own judgement: 1.4 to 11 kW)."""

ABOVE = 1.25
"""A run counts at the power that it exceeds by so much, up to the next one's."""

FLAT, FLAT_SHARE = 0.2, 0.75
"""Part of its height within which this part of a run's slots stay, without the first and the last (our judgement)."""


@dataclass(frozen=True, slots=True, eq=False)
class Slots:
    """The readings in slots of a quarter of an hour to an hour."""

    excess: Floats
    """Power above that of the quiet hours about each, not below zero [kW]."""
    day: Ints
    """Place of each slot's local day among the days with data; -1 for the others."""
    hour: Ints
    """Local clock hour of each."""
    days: Ints
    """Days with data, since 1970-01-01 [d]."""
    per_hour: int
    seconds: int
    """Length of a slot [s]."""


@dataclass(frozen=True, slots=True, eq=False)
class Runs:
    """Runs of about one power each: first slot, slots, power [kW], energy [kWh], and place of their day."""

    first: Ints
    length: Ints
    kw: Floats
    kwh: Floats
    day: Ints


def slots_of(interval: Interval, zone: ZoneInfo) -> Slots | None:
    """Bring the readings into slots; None where they are longer than an hour, of several lengths, or net."""
    slot = max(interval.step_seconds, SLOT_SECONDS)
    if interval.net or interval.seconds is not None or len(interval.kwh) == 0:
        return None
    if slot % interval.step_seconds or slot > HOUR_SECONDS or HOUR_SECONDS % slot:
        return None
    per_hour, place = HOUR_SECONDS // slot, place_of(interval, slot)
    whole = np.bincount(place) == slot // interval.step_seconds
    kw = np.where(whole, np.bincount(place, interval.kwh), np.nan) * per_hour
    first = int(interval.starts[0].astype("datetime64[s]").astype(np.int64)) // slot * slot
    local = local_seconds(first + slot * np.arange(len(kw)), zone)
    day = local // DAY_SECONDS - local[0] // DAY_SECONDS
    held = np.flatnonzero(np.bincount(day[np.isfinite(kw)], minlength=int(day[-1]) + 1) >= WHOLE_DAY * 24 * per_hour)
    ordinal = np.full(int(day[-1]) + 1, -1)
    ordinal[held] = np.arange(len(held))
    excess = np.nan_to_num(np.maximum(kw - _rest(kw, per_hour), 0.0))
    return Slots(
        excess, ordinal[day], local % DAY_SECONDS // HOUR_SECONDS, held + local[0] // DAY_SECONDS, per_hour, slot
    )


def place_of(interval: Interval, slot: int) -> Ints:
    """Slot of each reading, from the first one's."""
    begin = interval.starts.astype("datetime64[s]").astype(np.int64)
    place: Ints = begin // slot - begin[0] // slot
    return place


def _rest(kw: Floats, per_hour: int) -> Floats:
    """Low power of the hours about each slot [kW]."""
    count = -(-len(kw) // per_hour)
    whole = np.full(count * per_hour, np.nan)
    whole[: len(kw)] = kw
    nothing = np.full(REACH_HOURS, np.inf)
    hourly = np.nan_to_num(whole.reshape(count, per_hour).mean(axis=1), nan=np.inf, posinf=np.inf)
    about = sliding_window_view(np.concatenate([nothing, hourly, nothing]), 2 * REACH_HOURS + 1)
    rank = int(REST_QUANTILE * 2 * REACH_HOURS)
    rest = np.partition(about, rank, axis=1)[:, rank]
    return np.repeat(np.where(np.isfinite(rest), rest, 0.0), per_hour)[: len(kw)]


def runs_of(slots: Slots) -> Runs:
    """All runs of an hour or more, at whatever power, that stand flat above what is about them."""
    excess, least = slots.excess, slots.per_hour
    upto = np.concatenate([[0.0], np.cumsum(excess)])
    beside = np.concatenate([[0.0], excess, [0.0]])
    found = []
    for power in LEAST_KW * RATIO ** np.arange(math.ceil(math.log(MOST_KW / LEAST_KW) / math.log(RATIO)) + 1):
        on = np.concatenate([[False], excess >= power, [False]])
        begin, end = np.flatnonzero(on[1:] != on[:-1]).reshape(-1, 2).T
        kept = end - begin >= least
        begin, end = begin[kept], end[kept]
        if not len(begin):
            continue
        long = end - begin > 3
        most = np.maximum.reduceat(np.append(excess, 0.0), np.column_stack([begin, end]).ravel())[::2]
        kw = np.where(long, (upto[end - 1] - upto[begin + 1]) / np.maximum(end - begin - 2, 1), most)
        near = (kw >= ABOVE * power) & (kw < ABOVE * RATIO * power)
        begin, end, kw, long = begin[near], end[near], kw[near], long[near]
        flat = ~long
        for at in np.flatnonzero(long):
            inner = excess[begin[at] + 1 : end[at] - 1]
            flat[at] = np.mean(np.abs(inner - kw[at]) <= FLAT * kw[at]) >= FLAT_SHARE
        begin, end, kw = begin[flat], end[flat], kw[flat]
        partly = np.minimum(beside[begin], kw) + np.minimum(beside[end + 1], kw)
        kwh = (upto[end] - upto[begin] + partly) / slots.per_hour
        held = (kwh >= kw) & (slots.day[begin] >= 0)
        found.append((begin[held], (end - begin)[held], kw[held], kwh[held], slots.day[begin][held]))
    empty = np.zeros(0, dtype=np.int64)
    parts = list(zip(*found, strict=True)) if found else [(empty,)] * 5
    return Runs(*(np.concatenate(part) for part in parts))
