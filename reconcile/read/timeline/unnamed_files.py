"""Interval data in files of another name: told by what stands in them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import PurePosixPath

import numpy as np

from reconcile.clock import DAY_SECONDS
from reconcile.house import House
from reconcile.read.household.settings import IntervalSettings
from reconcile.read.layouts.interval_names import flow_of, no_electricity, not_energy
from reconcile.read.tables.gate import Gate
from reconcile.read.timeline.file_series import series_of_files
from reconcile.read.timeline.series import ReadContext, Series
from reconcile.read.wrappings.sources import IntervalFile

FEWEST_READINGS = 60
"""Readings from which a file is one of interval data: two months of days (our choice)."""


def interval_by_content(
    files: Sequence[IntervalFile], house: House, settings: IntervalSettings
) -> tuple[IntervalFile, ...]:
    """Return those of a house's other files that plainly hold what was drawn in a row of hours, minutes or days.

    Parameters
    ----------
    files : sequence of IntervalFile
        Files whose names say nothing.
    house : House
        Its clock, by which times are read.

    Returns
    -------
    tuple of IntervalFile
        Of use alone: what a name calls solar, sent out, gas or water is left.
    """
    return tuple(one for one in files if _is_of_use(one, house, settings))


def _is_of_use(one: IntervalFile, house: House, settings: IntervalSettings) -> bool:
    name = PurePosixPath(one.name).stem
    if not_energy(name) or no_electricity(name) or flow_of(name) == "received":
        return False
    gate = Gate()
    found, _ = series_of_files([one], ReadContext(gate, house, settings))
    drawn = [series for series in found if series.unit != "V" and series.flow != "received"]
    return not gate.faults and any(map(_runs_on, drawn))


def _runs_on(series: Series) -> bool:
    """Whether readings follow one another by a day at the most."""
    steps = np.abs(np.diff(series.instants()))
    return len(series.values) >= FEWEST_READINGS and bool(np.median(steps) <= DAY_SECONDS)
