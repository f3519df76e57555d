"""Series of one file as stretches of one step on one ruler, their energy in kWh, a running register differenced."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import field
from datetime import tzinfo
from typing import Literal

import numpy as np

from reconcile.array_types import Flags, Floats, Ints
from reconcile.clock import DAY_SECONDS, local_seconds
from reconcile.distributions import mode, mode_of_phases, steady
from reconcile.read.household.settings import to_zone
from reconcile.read.layouts.interval_channels import Assumptions
from reconcile.read.layouts.interval_names import KW_OF, KWH_OF, Flow, says_interval
from reconcile.read.tables.bounds import SHORT_TIME_FACTOR, most_watts
from reconcile.read.timeline.interval_steps import MOST, NEAR_STEP, steps_of
from reconcile.read.timeline.odd_hours import evened
from reconcile.read.timeline.running_registers import as_running, begins_again, could_be_either, is_running
from reconcile.read.timeline.series import ReadContext, Series
from reconcile.read.values import local_stamps
from reconcile.read.values.stamp_offsets import names_standard_time
from reconcile.records import dataclass

MOST_CHANGES = 20
"""Changes of the clock in ten years, up to which steps of two kinds are no times written at random (our choice)."""
WHOLE_MINUTES = 0.9
"""Share of the times that must miss the step by the same second or minute (our choice)."""


@dataclass(slots=True)
class Part:
    """A stretch of readings of one step."""

    series: Series
    """Where its readings stand in the file."""
    step: int
    """[s]."""
    starts: Ints
    """UTC [s]; where the step is a day, seconds of the house's clock."""
    kwh: Floats
    """NaN where blank; volts where the series holds volts."""
    flow: Flow | None
    skipped: Flags | None = None
    estimated: Flags | None = None
    spread: int = 0
    spread_kwh: float = 0.0
    resets: int = 0
    moved: int = 0
    back_twice: int = 0
    back_once: int = 0
    off_grid: list[int] = field(default_factory=list)
    blanks: int = 0
    left_out: int = 0


def parts_of(series: Series, context: ReadContext) -> list[Part]:
    """Place a series on the ruler and divide it where its step changes.

    Returns
    -------
    list of Part
        Nothing where a fault was found.
    """
    gate, home, assumed = context.gate, context.home, context.assumed
    name, zone = zone_of(series, context)
    local = series.offsets is None
    even = evened(series, zone, context)
    steps = None if even is None else steps_of(even, gate)
    if even is None or steps is None:
        return []
    series = even
    _whole_minutes(series, steps, assumed)
    series.stamps = series.stamps or _stamps(series, steps, assumed)
    if local:
        assumed.add("clock", name, zone=name)
    placed = _placed(series, steps, zone, name, assumed)
    register = counter = False
    if series.unit in KWH_OF:
        again = begins_again(series)
        running = as_running(series, local_seconds(placed.instants, home)) if again and isinstance(steps, int) else None
        if running is not None:
            series, counter = running, True
            placed = _placed(series, steps, zone, name, assumed)
        register = counter or is_running(series)
        most = (
            SHORT_TIME_FACTOR * most_watts(context.house) / 1000.0 * int(np.min(steps)) / 3600.0 / KWH_OF[series.unit]
        )
        if register and not counter and could_be_either(series, most):
            register = False
            if not (series.intervals or says_interval(series.value_name)):
                series.wrong(
                    gate,
                    "these values may be a running register, or the energy of intervals in which little happens",
                    "Name the column register, or interval kWh.",
                    column=series.value_name,
                )
                return []
        if again and not register:
            series.wrong(
                gate,
                "these values rise and begin again, as those of a counter do",
                "Download the energy of each interval, or the register without its resets.",
            )
            return []
    if register:
        code = "counter" if counter else "register"
        assumed.add(code, series.value_name, name=series.value_name)
    out = []
    for step in np.unique(steps).tolist() if isinstance(steps, np.ndarray) else [steps]:
        chosen = steps == step if isinstance(steps, np.ndarray) else None
        part = _part(series, step, chosen, placed, zone, home)
        part = _differenced(part) if register else part
        if not register:
            _to_energy(part)
        _on_grid(part)
        out.append(part)
    return out


def share_standard_time(found: Sequence[Series], context: ReadContext) -> None:
    """Let all files of one clock be on standard time where one of them is: the others may hold no spring.

    Those without a distance from UTC are given one.
    """
    if len(found) < 2:
        return
    clocks: dict[str, list[tuple[Series, local_stamps.Placed]]] = {}
    for one in found:
        if one.offsets is None and len(one.labels) and (one.labels % DAY_SECONDS).any():  # days tell nothing of an hour
            name, zone = zone_of(one, context)
            at = local_stamps.place(one.labels, zone, one.stamps or "start", one.values > 0.0)
            clocks.setdefault(name, []).append((one, at))
    for name, placed in clocks.items():
        standard = [(one, at) for one, at in placed if at.standard_time]
        if standard and not any(at.back_twice for _, at in placed):
            one, at = standard[0]
            offset = int(one.labels[0] - at.instants[0])
            context.assumed.add("standard-time", zone=name)
            for other, _ in placed:
                if len(other.labels) < 2 or int(other.labels[1] - other.labels[0]) < DAY_SECONDS:
                    other.offsets = np.full(len(other.labels), offset, dtype=np.int64)


def zone_of(series: Series, context: ReadContext) -> tuple[str, tzinfo]:
    """Return the clock of a file's times, where they carry no distance from UTC."""
    name, home = context.settings.timezone, context.home
    if name == "house" and (series.utc or any(word in series.time_name.casefold() for word in ("utc", "gmt"))):
        name = "UTC"
    return (str(home), home) if name == "house" else (name, to_zone(name) or home)


def _whole_minutes(series: Series, steps: int | Ints, assumed: Assumptions) -> None:
    """Bring times that end a second or a minute early, as 00:59, or begin one late, to the step that they mean."""
    if not isinstance(steps, int) or steps < 300:
        return
    phase, share = mode_of_phases(series.labels, steps)
    if share < WHOLE_MINUTES:
        return
    for size in (1, 60):
        if phase == steps - size and series.stamps != "start":
            series.labels = series.labels + size
            series.stamps = "end"
            assumed.add("ends-early", seconds=size)
        elif phase == size and series.stamps != "end":
            series.labels = series.labels - size
            series.stamps = "start"
            assumed.add("begins-late", seconds=size)


def _stamps(series: Series, steps: int | Ints, assumed: Assumptions) -> Literal["start", "end"]:
    """Take times for the beginnings of their intervals, unless whole days of ends are there."""
    stamps: Literal["start", "end"] = "start"
    if isinstance(steps, int) and steps < DAY_SECONDS and len(series.labels) * steps >= DAY_SECONDS:
        first, last = int(series.labels[0]) % DAY_SECONDS, int(series.labels[-1]) % DAY_SECONDS
        if first == steps and last == 0:
            stamps = "end"
            assumed.add("stamps-days")
            return stamps
    assumed.add("stamps", which=stamps)
    return stamps


@dataclass(slots=True)
class _Whole:
    instants: Ints
    skipped: Flags | None
    back_twice: int = 0
    back_once: int = 0


def _placed(series: Series, steps: int | Ints, zone: tzinfo, name: str, assumed: Assumptions) -> _Whole:
    """Return the instants that the labels name; for daily data alone, the labels."""
    if isinstance(steps, int) and steps == DAY_SECONDS:
        return _Whole(series.labels, None)
    if series.offsets is not None:
        return _Whole(series.labels - series.offsets, None)
    named = names_standard_time(series.time_name, zone)
    loaded = series.values > 0.0
    at = local_stamps.place(series.labels, zone, series.stamps or "start", loaded, named_standard=named)
    if at.standard_time:
        assumed.add("standard-time", zone=name)
    return _Whole(at.instants, at.skipped if at.skipped.any() else None, at.back_twice, at.back_once)


def _part(series: Series, step: int, chosen: Flags | None, placed: _Whole, zone: tzinfo, home: tzinfo) -> Part:
    mine = series if chosen is None else series.part(chosen)
    shift = step if mine.stamps == "end" else 0
    if step == DAY_SECONDS:
        starts = _days(mine, zone, home) - shift
        return Part(mine, step, starts, mine.values, mine.flow, None, mine.estimated)
    instants = placed.instants if chosen is None else placed.instants[chosen]
    skipped = placed.skipped if chosen is None or placed.skipped is None else placed.skipped[chosen]
    return Part(
        mine,
        step,
        instants - shift if shift else instants,
        mine.values,
        mine.flow,
        skipped,
        mine.estimated,
        back_twice=placed.back_twice if chosen is None or chosen[-1] else 0,
        back_once=placed.back_once if chosen is None or chosen[-1] else 0,
    )


def _days(series: Series, zone: tzinfo, home: tzinfo) -> Ints:
    """Return daily labels as seconds of the house's clock."""
    if series.offsets is not None:
        if len(np.unique(series.labels % DAY_SECONDS)) == 1:
            return series.labels
        return local_seconds(series.labels - series.offsets, home)
    if zone is home or str(zone) == str(home):
        return series.labels
    nothing = np.zeros(len(series.labels), dtype=bool)
    return local_seconds(local_stamps.place(series.labels, zone, "start", nothing).instants, home)


def _to_energy(part: Part) -> None:
    unit = part.series.unit
    if unit in KW_OF:
        part.kwh = part.kwh * (KW_OF[unit] * part.step / 3600.0)
    elif unit != "V" and KWH_OF[unit] != 1.0:
        part.kwh = part.kwh * KWH_OF[unit]


def _differenced(part: Part) -> Part:
    """Turn a register's readings into the energy between them; what spans several steps is spread over them."""
    known = np.flatnonzero(~np.isnan(part.kwh))
    factor = KWH_OF[part.series.unit]
    shift = part.step if part.series.stamps == "end" else 0
    times, at = np.unique(part.starts[known] + shift, return_index=True)
    values = part.kwh[known][at]
    energy, lengths = np.diff(values), np.diff(times)
    rolled = energy < 0.0
    if rolled.any():
        size = 10.0 ** np.floor(np.log10(np.maximum(values[:-1], 1.0)) + 1.0)  # the dials of what it showed
        over = rolled & (part.flow != "net") & (values[:-1] > 0.9 * size) & (values[1:] < 0.1 * size)
        energy = np.where(over, energy + size, energy)
        rolled &= ~over & (part.flow != "net")
    counts = np.maximum(np.round(lengths / part.step).astype(np.int64), 1)
    part.resets = int(rolled.sum())
    keep = ~rolled
    many = (counts > 1) & keep
    part.spread, part.spread_kwh = int(counts[many].sum()), float(energy[many].sum() * factor)
    counts, energy, begins = counts[keep], energy[keep] * factor, times[:-1][keep]
    index = np.repeat(np.arange(len(counts)), counts)
    within = np.arange(len(index)) - np.repeat(np.cumsum(counts) - counts, counts)
    part.starts = begins[index] + within * part.step
    part.kwh = (energy / counts)[index]
    rows = known[at][1:][keep][index]
    flags = counts[index] > 1
    if part.estimated is not None:
        flags = flags | part.estimated[rows]
    part.estimated = flags if flags.any() else None
    part.series = part.series.part(rows)
    part.skipped = None
    return part


def _on_grid(part: Part) -> None:
    """Put times that miss their step a little on it; what misses it by more is left out and named."""
    step = part.step
    if len(part.starts) == 0 or steady(part.starts, step):
        return
    phases = part.starts % step
    phase, share = mode(phases)
    if share == 1.0 or _moved_by_the_clock(phases, step):
        return
    if share < MOST:
        phase = 0
    off = (part.starts - phase + step // 2) % step - step // 2
    part.off_grid = np.flatnonzero(np.abs(off) > NEAR_STEP * step).tolist()
    part.moved = int(np.count_nonzero(off)) - len(part.off_grid)
    part.starts = part.starts - off


def _moved_by_the_clock(phases: Ints, step: int) -> bool:
    """Whether whole steps of a local clock are moved by half a step for a season, as half an hour moves hours."""
    switches = np.flatnonzero(np.diff(phases))
    kinds = np.unique(phases)
    return len(kinds) == 2 and int(kinds[1] - kinds[0]) * 2 == step and len(switches) <= MOST_CHANGES
