"""Running registers read at odd hours, by a person or by a box that writes when it likes: brought to even steps."""

from __future__ import annotations

from dataclasses import replace
from datetime import tzinfo

import numpy as np

from reconcile.array_types import Ints
from reconcile.clock import DAY_SECONDS, local_seconds
from reconcile.distributions import mode
from reconcile.read.layouts.interval_names import KWH_OF
from reconcile.read.timeline.interval_steps import MOST
from reconcile.read.timeline.running_registers import is_running
from reconcile.read.timeline.series import ReadContext, Series
from reconcile.read.values import local_stamps

QUARTER, HOUR = 900, 3600
FINE, MIDDLING, COARSE = 1200, 3 * HOUR, 36 * HOUR
"""Usual times between readings up to which quarters of an hour, hours and days are told [s] (our own choice)."""
WIDE = 1.5
"""Steps between two readings from which what lies between is marked as estimated."""


def evened(series: Series, zone: tzinfo, context: ReadContext) -> Series | None:
    """Bring a register that was read at odd hours to even steps, on a straight line between its readings.

    Parameters
    ----------
    zone : tzinfo
        Of its labels.

    Returns
    -------
    Series or None
        The series itself where it is no such register; None where its readings are too far apart, a fault.
    """
    if series.unit not in KWH_OF or series.lengths is not None or series.columns is not None:
        return series
    if not is_running(series):  # asked first: it looks at the first readings alone
        return series
    known = np.flatnonzero(~np.isnan(series.values))
    if len(known) < 3:
        return series
    labels = series.labels[known]
    if series.offsets is not None:
        instants = labels - series.offsets[known]
    else:
        instants = local_stamps.place(labels, zone, "start", np.zeros(len(labels), dtype=bool)).instants
    times, at = np.unique(instants, return_index=True)
    values = series.values[known][at]
    distances = np.diff(times)
    if len(distances) < 2 or mode(distances)[1] >= MOST or (np.diff(values) < 0.0).any():
        return series
    usual = float(np.median(distances))
    if usual > COARSE:
        series.wrong(
            context.gate,
            f"its readings are {usual / DAY_SECONDS:.1f} days apart",
            "Readings further apart than a day belong into readings.csv.",
        )
        return None
    step = QUARTER if usual <= FINE else HOUR if usual <= MIDDLING else DAY_SECONDS
    edges, starts = _edges(times, step, context.home)
    if len(edges) < 2:
        return series
    shown = np.interp(edges, times, values)
    after = np.clip(np.searchsorted(times, edges[1:]), 1, len(times) - 1)
    lost = float(values[-1] - values[0] - (shown[-1] - shown[0])) * KWH_OF[series.unit]
    context.assumed.add("odd-hours", series.value_name, name=series.value_name, minutes=step // 60, lost=lost)
    return replace(
        series,
        stamps="start",
        labels=starts,
        offsets=np.zeros(len(starts), dtype=np.int64),
        values=np.diff(shown),
        rows=series.rows[known][at][after],
        estimated=np.diff(times)[after - 1] > WIDE * step,
        lengths=np.full(len(starts), step, dtype=np.int64),
        register=False,
        value_name="interval kWh",
    )


def _edges(times: Ints, step: int, home: tzinfo) -> tuple[Ints, Ints]:
    """Return the edges of the whole steps between the first and the last reading, and the label of each step."""
    if step < DAY_SECONDS:
        edges = np.arange(-(-int(times[0]) // step) * step, int(times[-1]) + 1, step, dtype=np.int64)
        return edges, edges[:-1]
    first, last = (int(second) // DAY_SECONDS for second in local_seconds(times[[0, -1]], home))
    midnights = np.arange(first, last + 2, dtype=np.int64) * DAY_SECONDS
    edges = local_stamps.place(midnights, home, "start", np.zeros(len(midnights), dtype=bool)).instants
    inside = (edges >= times[0]) & (edges <= times[-1])
    return edges[inside], midnights[inside][:-1]
