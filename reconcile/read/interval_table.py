"""Interval data: files laid end to end on one grid of steps; whatever is dropped, kept or moved is counted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from reconcile.house import Action, Assumed, House, Interval
from reconcile.read import local_stamps as clock
from reconcile.read.bounds import SHORT_TIME_FACTOR, most_watts
from reconcile.read.cells import Grid
from reconcile.read.gate import Gate
from reconcile.read.series import DAY, Floats, Ints, Series, read_series
from reconcile.read.settings import IntervalSettings, to_zone

NEAR_STEP = 0.1
"""Part of a step by which a time may miss its place and still be meant (common practice: clocks drift)."""
MOST = 0.5
"""Share of the readings that must keep to a step for it to be the step."""
USUAL_STEPS = (
    1,
    5,
    10,
    15,
    30,
    *(60 * m for m in (1, 2, 3, 5, 6, 10, 15, 20, 30)),
    *(3600 * h for h in (1, 2, 3, 4, 6, 8, 12, 24)),
)
"""Steps in use [s]."""
LEAST_RISING = 25
"""Readings that never fall before they are taken for a running register: no house draws so."""
SMALL_RISE = 0.2
"""A running register moves by less than this part of its value from one reading to the next."""


@dataclass(slots=True)
class Placed:
    """One file's readings with their starts on the ruler: UTC seconds, or local ones where a step is a day."""

    series: Series
    ruler: Ints
    skipped: NDArray[np.bool_]
    back_twice: int = 0
    back_once: int = 0
    moved: int = 0


def read_interval(grids: Sequence[Grid], gate: Gate, house: House, settings: IntervalSettings) -> Interval | None:
    """Read interval data.

    Parameters
    ----------
    grids : sequence of Grid
        One or several files of the same meter and step, or a sheet.
    gate : Gate
    house : House
        Its clock, its service and whether it generates.
    settings : IntervalSettings

    Returns
    -------
    Interval or None
        None where something is wrong.
    """
    faults_before = len(gate.faults)
    assumed: dict[str, Assumed] = {}
    read = [read_series(grid, gate, settings, assumed) for grid in grids]
    series = [one for one in read if one is not None]
    steps = [] if len(gate.faults) > faults_before else [_step(one, gate) for one in series]
    if not steps or steps[0] is None or None in steps:
        return None
    step = steps[0]
    for one, own in zip(series, steps, strict=True):
        if own != step:
            one.wrong(gate, "its steps have another length than those of the first file", "Keep files of one step.")
    placed = [_place(one, step, house, settings, assumed) for one in series]
    phase, share = _mode(placed[0].ruler % step)
    if share < MOST:
        phase = 0
    for file in placed:
        _to_kwh(file.series, step)
        _judge(file.series, gate, house, step)
        _on_grid(file, gate, step, phase)
    if len(gate.faults) > faults_before:
        return None
    return _joined(placed, gate, house, step, assumed)


def _mode(values: Ints) -> tuple[int, float]:
    """Return the commonest value and its share."""
    distinct, counts = np.unique(values, return_counts=True)
    return int(distinct[np.argmax(counts)]), float(counts.max() / len(values))


def _step(series: Series, gate: Gate) -> int | None:
    """Return the length of a step [s]: the commonest distance, or the usual one that most come near to."""
    labels = np.unique(series.labels)
    distances = labels[1:] - labels[:-1]
    if len(distances) == 0:
        series.wrong(gate, "all readings have the same time", "Write the time of each.")
        return None
    step, share = _mode(distances)
    if share < MOST:
        middle = float(np.median(distances))
        step = min(USUAL_STEPS, key=lambda usual: abs(usual - middle))
        share = float(np.mean(np.abs(distances - step) <= NEAR_STEP * step))
    if step > DAY:
        series.wrong(
            gate,
            f"its readings are {step / DAY:g} days apart",
            "Readings further apart than a day belong into bills.csv or readings.csv.",
        )
    elif share < MOST:
        series.wrong(gate, "its readings are not a constant step apart", "Write one row for each interval.")
    else:
        return step
    return None


def _place(series: Series, step: int, house: House, settings: IntervalSettings, assumed: dict[str, Assumed]) -> Placed:
    home = ZoneInfo(house.timezone)
    name = house.timezone if settings.timezone == "house" else settings.timezone
    if settings.timezone == "house" and "utc" in series.time_name.casefold():
        name = "UTC"
    zone = to_zone(name) or home
    shift = step if series.stamps == "end" else 0
    placed = Placed(series, series.labels - shift, np.zeros(len(series.labels), dtype=bool))
    if series.offsets is None:
        assumed[f"clock {name}"] = Assumed("clock", {"zone": name})
    if step == DAY:
        if series.offsets is None and name != house.timezone:
            placed.ruler = _local(series.labels, zone, home) - shift
        elif series.offsets is not None and len(np.unique(series.labels % DAY)) > 1:
            placed.ruler = _home_clock(series.labels - series.offsets, home) - shift
        return placed
    if series.offsets is not None:
        placed.ruler = series.labels - series.offsets - shift
        return placed
    at = clock.place(series.labels, zone, series.stamps, series.values > 0.0)
    placed.ruler = at.instants - shift
    placed.skipped, placed.back_twice, placed.back_once = at.skipped, at.back_twice, at.back_once
    if at.standard_time:
        assumed["standard-time"] = Assumed("standard-time", {"zone": name})
    return placed


def _local(labels: Ints, zone: tzinfo, home: tzinfo) -> Ints:
    nothing = np.zeros(len(labels), dtype=bool)
    return _home_clock(clock.place(labels, zone, "start", nothing).instants, home)


def _home_clock(instants: Ints, home: tzinfo) -> Ints:
    """Return instants as seconds of the house's clock; for daily data, which are few."""
    offsets = [datetime.fromtimestamp(at, UTC).astimezone(home).utcoffset() for at in instants.tolist()]
    return instants + np.array([0 if o is None else int(o.total_seconds()) for o in offsets], dtype=np.int64)


def _to_kwh(series: Series, step: int) -> None:
    series.values = series.values * {"kWh": 1.0, "Wh": 1e-3, "kW": step / 3600.0}[series.unit]


def _judge(series: Series, gate: Gate, house: House, step: int) -> None:
    """Find values that cannot be: a running register, energy below zero, more than the service carries."""
    values = series.values
    rising = values[~np.isnan(values)]
    rises = np.diff(rising)
    if (
        len(rising) >= LEAST_RISING
        and bool((rises >= 0.0).all())
        and 0.0 < rises.mean() < SMALL_RISE * float(np.median(rising))
    ):
        series.wrong(
            gate,
            "its values never fall: this is a running register, which is not read yet",
            "Write the kWh of each interval, the difference of two readings.",
            column=series.value_name,
        )
        return
    most = SHORT_TIME_FACTOR * most_watts(house) / 1000.0 * step / 3600.0
    for index in np.flatnonzero(np.abs(values) > most).tolist():
        series.wrong(
            gate,
            f"the service could not carry that in one interval (at most {most:.4g} kWh)",
            "Check the figure and the unit under [interval].",
            index,
            series.value_name,
        )
    if not house.generation:
        for index in np.flatnonzero(values < 0.0).tolist():
            series.wrong(
                gate,
                "energy cannot be below zero where the house makes none",
                "Check the sign, or set generation = true under [house].",
                index,
                series.value_name,
            )


def _on_grid(placed: Placed, gate: Gate, step: int, phase: int) -> None:
    off = (placed.ruler - phase + step // 2) % step - step // 2
    for index in np.flatnonzero(np.abs(off) > NEAR_STEP * step).tolist():
        placed.series.wrong(
            gate,
            f"this time does not fall on the steps of {_length(step)} of the others",
            "Write one row for each interval.",
            index,
            placed.series.time_name,
            str(placed.series.labels[index].astype("datetime64[s]")).replace("T", " "),
        )
    placed.moved = int(np.count_nonzero(off))
    placed.ruler = placed.ruler - off


def _length(step: int) -> str:
    if step % 3600 == 0:
        return f"{step // 3600} h"
    return f"{step // 60} min" if step % 60 == 0 else f"{step} s"


def _joined(placed: list[Placed], gate: Gate, house: House, step: int, assumed: dict[str, Assumed]) -> Interval | None:
    ruler = np.concatenate([one.ruler for one in placed])
    kwh = np.concatenate([one.series.values for one in placed])
    skipped = np.concatenate([one.skipped for one in placed])
    with_row = np.unique(ruler)
    gaps = int((with_row[-1] - with_row[0]) // step + 1 - len(with_row))
    blank = np.isnan(kwh)
    twice = skipped & ~blank & np.isin(ruler, ruler[~skipped & ~blank])
    keep = ~blank & ~twice
    if not keep.any():
        placed[0].series.wrong(gate, "it holds no value", "Fill it or take it away.")
        return None
    actions = [
        Action("blank", int(blank.sum()), 0.0),
        Action("gap", gaps, 0.0),
        Action("clock-forward", int((skipped & ~blank).sum()), _sum(kwh[twice])),
        Action("clock-back", sum(one.back_twice for one in placed), 0.0),
        Action("clock-back-once", sum(one.back_once for one in placed), 0.0),
        Action("off-step", sum(one.moved for one in placed), 0.0, {"step": _length(step)}),
    ]
    starts, energy, repeats = _without_repeats(ruler[keep], kwh[keep])
    if step == DAY:
        starts = clock.place(starts, ZoneInfo(house.timezone), "start", np.zeros(len(starts), dtype=bool)).instants
    return Interval(
        starts=starts.astype("datetime64[s]"),
        kwh=energy,
        step_seconds=step,
        assumed=tuple(assumed.values()),
        actions=tuple(action for action in (*actions, *repeats) if action.count),
    )


def _without_repeats(ruler: Ints, kwh: Floats) -> tuple[Ints, Floats, tuple[Action, Action]]:
    """Keep the largest of the readings of one interval: a smaller one is more often a part or a placeholder."""
    order = np.lexsort((-kwh, ruler))
    ruler, kwh = ruler[order], kwh[order]
    first = np.concatenate([[True], np.diff(ruler) > 0])
    kept = kwh[first][np.cumsum(first) - 1]
    same = ~first & (kwh == kept)
    other = ~first & ~same
    return (
        ruler[first],
        kwh[first],
        (
            Action("repeat", int(same.sum()), _sum(kwh[same])),
            Action("conflict", int(other.sum()), _sum(kwh[other])),
        ),
    )


def _sum(kwh: Floats) -> float:
    return float(kwh.sum())
