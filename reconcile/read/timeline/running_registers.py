"""Running registers, and counters that begin again: told by their values, and turned into the energy between."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reconcile.array_types import Floats, Ints
from reconcile.clock import DAY_SECONDS
from reconcile.read.timeline.series import Series

LEAST_RISING = 25
"""Readings that hardly ever fall before they are taken for a running register: no house draws so."""
SMALL_RISE = 0.2
"""A running register moves by less than this part of its value from one reading to the next."""
MOST_FALLS = 0.005
"""Share of a register's readings that may fall: exchanges and rollovers."""
FEW_RISES = 0.3
"""Share of the readings of a register that are higher than the one before, below which it is in doubt."""
ENOUGH = 40_000
"""Readings from which a register is told: a year of quarters."""
RISING = 0.6
"""Share of the readings of a counter that are higher than the one before."""
LEAST_CYCLES, LEAST_A_CYCLE = 2, 6
"""Times that a counter begins again, and readings between, before it is taken for one."""


def _some(values: Floats) -> Floats:
    """Return the first readings that have a value: what a register is, they show."""
    first = values[:ENOUGH]
    return first[~np.isnan(first)]


def is_running(series: Series) -> bool:
    """Whether the values hardly ever fall: no house draws so."""
    values = _some(series.values)
    if len(values) < 2:
        return False
    rises = np.diff(values)
    if series.register and series.flow == "net":  # it turns both ways
        return bool(np.abs(rises).mean() < SMALL_RISE * abs(float(np.median(values))))
    falls = np.count_nonzero(rises < 0.0)
    if falls > max(1, MOST_FALLS * len(rises)) or not (rises > 0.0).any():
        return False
    if falls > 1 or (falls and len(rises) < 4 * LEAST_RISING):
        jumps = rises[rises < 0.0]
        if not series.register and np.abs(jumps).min() < 0.5 * float(np.median(values)):
            return False
    middle = float(np.median(values))
    small = float(rises[rises >= 0.0].mean()) < SMALL_RISE * middle
    return small and (len(values) >= LEAST_RISING or (series.register and falls == 0))


def could_be_either(series: Series, most: float) -> bool:
    """Whether values that hardly ever fall could as well be the energy of a house in which nothing happens.

    Parameters
    ----------
    series : Series
        Whose values hardly ever fall.
    most : float
        What the service can carry in one interval, in the unit of the values.
    """
    values = series.values[~np.isnan(series.values)]
    few = np.mean(np.diff(values) > 0.0) < FEW_RISES
    return bool(few and values.max() <= most and not series.register)


def begins_again(series: Series) -> bool:
    """Whether the values rise on and on and then fall back, again and again: no house draws so."""
    values = _some(series.values)
    rises = np.diff(values)
    falls = np.flatnonzero(rises < 0.0)
    if len(falls) == 0 or len(values) < LEAST_RISING or len(values) < 2 * LEAST_A_CYCLE * len(falls):
        return False
    return bool(np.mean(rises > 0.0) > RISING and np.median(-rises[falls]) > 5.0 * np.median(rises[rises > 0.0]))


def as_running(series: Series, clock: Ints) -> Series | None:
    """Return a counter that begins again every day as a register that runs on; None where it is no such counter.

    Parameters
    ----------
    series : Series
        In order of time.
    clock : ndarray of int64
        Seconds of the house's clock of each reading [s].
    """
    known = np.flatnonzero(~np.isnan(series.values))
    values, labels = series.values[known], clock[known]
    if len(values) < 2 * LEAST_A_CYCLE or np.count_nonzero(np.diff(labels) <= 0) > MOST_FALLS * len(labels) + 2:
        return None
    falls = np.flatnonzero(values[1:] < values[:-1]) + 1
    days = (labels - 1) // DAY_SECONDS  # midnight is the end of the day before
    if len(falls) < LEAST_CYCLES or not (days[falls] > days[falls - 1]).all():
        return None
    edges = np.flatnonzero(np.diff(days)) + 1
    cycles = np.diff(np.concatenate([[0], edges, [len(values)]]))
    if np.median(cycles) < LEAST_A_CYCLE or len(falls) < 0.9 * len(edges):
        return None
    step = int(np.median(np.diff(labels)))
    if (values[falls] > 0.0).any() and np.median(values[falls] / np.maximum(values[falls - 1], 1e-9)) > 0.5:
        return None
    before = np.zeros(len(values))
    before[falls] = values[falls - 1]
    running = values + np.cumsum(before)
    made = series.part(known)
    made = replace(made, values=running, register=True, stamps="end")
    if int(labels[0]) % DAY_SECONDS == step:  # the first reading counts from midnight on
        made = made.part(np.concatenate([[0], np.arange(len(values))]))
        made.labels[0] -= step
        made.values[0] = 0.0
    return made
