"""What cannot be in interval data: found, left out where it is little, a fault with one question where it is much."""

from __future__ import annotations

import numpy as np

from reconcile.array_types import Flags, Floats, Ints
from reconcile.house import Action
from reconcile.read.layouts.interval_names import flow_of
from reconcile.read.tables.bounds import SHORT_TIME_FACTOR, most_watts
from reconcile.read.tables.collector import MOST_ALIKE
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.interval_parts import Part
from reconcile.read.timeline.series import ReadContext

FEW, FEW_SHARE = 5, 0.001
"""Impossible readings that are left out and named; more of them are a fault (our choice)."""
MOST_READINGS = 0.5
NAMED = 5
"""Rows that an action names."""
STUCK_SECONDS, STUCK_READINGS = 86_400, 24
"""A value above zero that repeats for so long is told (our choice: a house's fridge alone moves it)."""


def judge(part: Part, context: ReadContext, *, served: bool = True) -> list[Action]:
    """Take out what cannot be, or record the fault.

    Parameters
    ----------
    part : Part
        Its impossible values become NaN.
    served : bool
        Whether the house's service and generation are known, to hold readings against.
    """
    if part.series.unit == "V":
        part.kwh = np.where((part.kwh > 0.0) & (part.kwh < 1000.0), part.kwh, np.nan)
        return []
    gate, house = context.gate, context.house
    actions: list[Action] = []
    kwh = part.kwh
    most, least = float(np.fmax.reduce(kwh, initial=0.0)), float(np.fmin.reduce(kwh, initial=0.0))
    part.blanks = int(np.isnan(kwh).sum())
    name = part.series.value_name
    one_way = part.flow == "received" or flow_of(name) == "delivered"
    if one_way and most <= 0.0 and least < 0.0:
        part.kwh = kwh = -kwh
        most, least = -least, 0.0
        context.assumed.add("received-negative" if part.flow == "received" else "delivered-negative", name=name)
    if part.off_grid:
        off = np.zeros(len(kwh), dtype=bool)
        off[part.off_grid] = True
        problem = f"these times do not fall on the steps of {length(part.step)} of the others"
        actions += _out(part, off, gate, "off-grid", problem, "Write one row for each interval.", time=True)
    if not served:
        return actions
    limit = SHORT_TIME_FACTOR * most_watts(house) / 1000.0 * part.step / 3600.0
    if max(most, -least) > limit:
        actions += _out(
            part,
            np.abs(part.kwh) > limit,
            gate,
            "beyond-service",
            f"the service could not carry that in one interval (at most {limit:.4g} kWh)",
            "Check the figure and the unit under [interval].",
        )
    if part.flow is None and house.generation and least < 0.0:
        part.flow = "net"
    if part.flow != "net" and least < 0.0:
        actions += _out(
            part,
            part.kwh < 0.0,
            gate,
            "negative",
            "energy cannot be below zero where the house makes none",
            "Set generation = true under [house] if the house sends energy back; else check the sign.",
        )
    return actions


def _out(
    part: Part, which: Flags, gate: Gate, code: str, problem: str, remedy: str, *, time: bool = False
) -> list[Action]:
    places = np.flatnonzero(which & ~np.isnan(part.kwh))
    if len(places) == 0:
        return []
    full = np.count_nonzero(~np.isnan(part.kwh))
    if len(places) > max(FEW, FEW_SHARE * len(part.kwh)) or len(places) == full:
        # where most readings are so, the file is not what it was taken for: one question, not a list
        for index in places[: 1 if len(places) > MOST_READINGS * full else MOST_ALIKE + 1].tolist():
            part.series.wrong(gate, problem, remedy, index, time=time)
        return []
    spots = [part.series.spot(index) for index in places[:NAMED].tolist()]
    rows = [str(row) for file, _, row in spots if file == spots[0][0]]
    named = ", ".join(rows) + (" and more" if len(places) > NAMED else "")
    action = Action(code, len(places), float(part.kwh[places].sum()), {"rows": named, "file": spots[0][0]})
    part.left_out += len(places)
    part.kwh = part.kwh.copy()
    part.kwh[places] = np.nan
    return [action]


def length(step: int) -> str:
    """Return a step in words.

    Examples
    --------
    >>> length(900), length(3600), length(86_400)
    ('15 min', '1 h', '24 h')
    """
    if step % 3600 == 0:
        return f"{step // 3600} h"
    return f"{step // 60} min" if step % 60 == 0 else f"{step} s"


def told_of(kwh: Floats, steps: Ints | int) -> list[Action]:
    """Tell of values that stand still: kept as they are, but worth a look.

    Parameters
    ----------
    kwh : ndarray
        In order of time [kWh].
    steps : ndarray of int64 or int
        Length of each [s].
    """
    step = int(np.max(steps))
    least = max(STUCK_READINGS, STUCK_SECONDS // max(int(np.min(steps)), 1))
    if len(kwh) < least or step >= STUCK_SECONDS:
        return []
    half = least // 2  # a long run holds two neighbours of this distance, and what lies between them
    here = np.arange(0, len(kwh) - half, half)
    for distance in (half, half // 2, half // 4, 1):
        here = here[kwh[here] == kwh[here + distance]]
    if len(here) == 0:
        return []
    edges = np.flatnonzero(np.concatenate([[True], kwh[1:] != kwh[:-1], [True]]))
    runs = np.diff(edges)
    long = np.flatnonzero(runs >= least)
    if len(long) == 0:
        return []
    values, counts = kwh[edges[long]], runs[long]
    out = []
    for code, here in (("stuck", values != 0.0), ("zero", values == 0.0)):
        if here.any():
            out.append(Action(code, int(counts[here].sum()), float((values * counts)[here].sum())))
    return out
