"""The step of a series of readings, or of each stretch of it."""

from __future__ import annotations

from typing import Literal

import numpy as np

from reconcile.array_types import Ints
from reconcile.clock import DAY_SECONDS
from reconcile.distributions import mode
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.series import Series

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
LEAST_STRETCH = 8
"""Readings of another step, one after another, that are a stretch of their own and no gaps (our choice)."""
BETTER_STRETCH = 0.95
"""Share of the distances that two stretches must account for before a file is divided."""


def steps_of(series: Series, gate: Gate) -> int | Ints | None:
    """Return the step of all readings, or of each; None, with a fault, where there is none."""
    if series.lengths is not None:
        usual, share = mode(series.lengths)
        if share > 1.0 - NEAR_STEP:
            return _not_longer(series, usual, gate)
    labels = series.instants()
    distances = labels[1:] - labels[:-1]
    forward = distances if len(distances) == 0 or distances.min() > 0 else distances[distances > 0]
    if len(forward) > MOST * len(distances):
        step, share = mode(forward)
        if share >= BETTER_STRETCH:
            return _not_longer(series, step, gate)
    if len(forward) < len(distances):
        labels = np.unique(labels)
        distances = np.diff(labels)
    if len(distances) == 0:
        if len(series.labels) < 2:
            series.wrong(gate, "there are fewer than two readings", "Fill it or take it away.")
        else:
            series.wrong(gate, "all readings have the same time", "Write the time of each.")
        return None
    step, share = mode(distances)
    if share < BETTER_STRETCH:
        divided = _stretches(distances)
        if divided is not None:
            return _step_of_each(series, labels, divided)
    if share < MOST:
        middle = float(np.median(distances))
        step = min(USUAL_STEPS, key=lambda usual: abs(usual - middle))
        share = float(np.mean(np.abs(distances - step) <= NEAR_STEP * step))
    if step <= DAY_SECONDS and share < MOST:
        series.wrong(gate, "its readings are not a constant step apart", "Write one row for each interval.")
        return None
    return _not_longer(series, step, gate)


def _not_longer(series: Series, step: int, gate: Gate) -> int | None:
    if step <= DAY_SECONDS:
        return step
    series.wrong(
        gate,
        f"its readings are {step / DAY_SECONDS:g} days apart",
        "Readings further apart than a day belong into bills.csv or readings.csv.",
    )
    return None


def _stretches(distances: Ints) -> list[tuple[int, int]] | None:
    """Return (first distance, step) of the stretches of a file whose step changes; None where it does not."""
    known = [step for step in USUAL_STEPS if np.count_nonzero(distances == step) >= LEAST_STRETCH]
    if len(known) < 2:
        return None
    cuts: list[tuple[int, int]] = []

    def divide(low: int, high: int) -> None:
        here = distances[low:high]
        hits = {step: np.concatenate([[0], np.cumsum(here == step)]) for step in known}
        single = max(known, key=lambda step: hits[step][-1])
        best, at, pair = hits[single][-1], 0, (single, single)
        for before in known:
            for after in known:
                if before != after:
                    total = hits[before] + (hits[after][-1] - hits[after])
                    cut = int(np.argmax(total))
                    if total[cut] > best:
                        best, at, pair = total[cut], cut, (before, after)
        sizes = [hits[pair[0]][at], hits[pair[1]][-1] - hits[pair[1]][at]]
        if at == 0 or min(sizes) < LEAST_STRETCH or best - hits[single][-1] < LEAST_STRETCH:
            cuts.append((low, single))
            return
        divide(low, low + at)
        divide(low + at, high)

    divide(0, len(distances))
    merged = [cut for i, cut in enumerate(cuts) if i == 0 or cut[1] != cuts[i - 1][1]]
    if len(merged) < 2:
        return None
    ends = [*(first for first, _ in merged[1:]), len(distances)]
    hit = sum(np.count_nonzero(distances[a:b] == step) for (a, step), b in zip(merged, ends, strict=True))
    return merged if hit >= MOST * len(distances) else None


def _step_of_each(series: Series, labels: Ints, stretches: list[tuple[int, int]]) -> Ints:
    """Return the step of each reading: of the distance after it where times begin intervals, else before it."""
    own = series.instants()
    edges = labels[[first for first, _ in stretches[1:]]]
    side: Literal["left", "right"] = "left" if series.stamps == "end" else "right"
    which = np.searchsorted(edges, own, side=side)
    each: Ints = np.array([step for _, step in stretches], dtype=np.int64)[which]
    return each
