"""A known-load run read from the interval data, judged as one read at the meter is."""

from __future__ import annotations

from dataclasses import dataclass

from reconcile.house import House
from reconcile.interval.found import IntervalResult
from reconcile.meter.load_run import current_meter
from reconcile.meter.zone import Zone, decide


@dataclass(frozen=True, slots=True)
class DataRun:
    """Registration read from the data, its expanded uncertainty [%], and its zone."""

    percent: float
    expanded: float
    zone: Zone


def from_data(found: IntervalResult | None, house: House) -> DataRun | None:
    """Judge the planned run in the data.

    A listed load seen among the steps is weighed beside the bills and not judged here: its watts go by the volts that
    it gets, which no list states.

    Parameters
    ----------
    found : IntervalResult or None
    house : House

    Returns
    -------
    DataRun or None
        None where the data hold no such run.
    """
    if found is None or found.run is None:
        return None
    run = found.run
    percent, low, high = (100.0 * value for value in (run.registration, run.low, run.high))
    expanded = 0.5 * (high - low)
    decided = decide(percent, expanded, current_meter(house).tolerance_percent, interval=(low, high))
    return DataRun(percent, expanded, decided.zone)
