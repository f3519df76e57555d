"""Known loads read in the interval data, a planned run or a listed appliance, judged as a run at the meter is."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from reconcile.costs import COSTS
from reconcile.distributions import student_below
from reconcile.house import House
from reconcile.interval.found import Evidence, IntervalResult
from reconcile.interval.planned_run import RunRead
from reconcile.meter.zone import Zone, decide
from reconcile.plan.night_run import WORTH_PLANNING
from reconcile.records import dataclass
from reconcile.result_parts import HiddenError

if TYPE_CHECKING:
    from reconcile.interval.known_load import KnownLoad


@dataclass(frozen=True, slots=True)
class DataRun:
    """Registration read from the data, its expanded uncertainty [%], and its zone."""

    percent: float
    expanded: float
    zone: Zone
    load: KnownLoad | None = None
    """The listed load it was read from, by its listed watts: no run, and nobody held a plug-in meter."""


BLUNT_TIMES = 2.0
"""A run known no better than one that would be planned says that a meter is wrong where so many times its limits say
it: what stirs so in those nights is larger than the heater, and its rare hours are rarer than a run's nights show (our
judgement: of 700 runs by hand in homes that cycle by night two lay 3.9 and 4 standard uncertainties off, both of such
runs)."""

VOLTS_PERCENT = 3.0
"""Standard uncertainty of a heating element's power [%] for the volts it gets, which no plate states: it goes with
their square (our own judgement)."""


def from_data(
    found: IntervalResult | None, house: House, wrong: float = 1.0, likely: float = COSTS.likely
) -> DataRun | None:
    """Judge the planned run in the data, else a listed load of known watts seen among the steps.

    A listed load never clears a meter, and speaks only where it and the bills together make a wrong meter more likely
    than not: its watts are the list's, and go by volts that no list states.

    Parameters
    ----------
    wrong : float
        Chance that the meter now on the wall is fast or slow, all weighed together.
    likely : float
        Chance from which that is more likely than not (:attr:`reconcile.costs.Costs.likely`).

    Returns
    -------
    DataRun or None
        None where the data hold neither.
    """
    if found is None:
        return None
    if found.run is not None:
        return judged_run(found.run, house)
    if not found.known_loads or wrong < likely:
        return None
    load = found.known_loads[-1]
    percent = 100.0 * load.registration
    measured = any(one.name == load.name and one.source == "measured" for one in house.loads)
    doubt = 100.0 * load.standard_uncertainty
    expanded = 1.96 * (doubt if measured else math.hypot(doubt, VOLTS_PERCENT * load.registration))
    judged = _judged(percent, percent - expanded, percent + expanded, house)
    return replace(judged, load=load) if judged.zone != "inside" else None


def evidence_of(found: IntervalResult | None, house: House) -> tuple[Evidence, ...]:
    """Return what interval data say of causes; a planned run that shows the meter outside its limits, by how sure."""
    if found is None or found.run is None:
        return () if found is None else found.evidence
    run, limit, times, chance = found.run, current_tolerance(house) / 100.0, _times(found.run), 0.0
    if judged_run(run, house).zone == "outside":
        beyond = (abs(run.registration - 1.0) - limit) / (times * run.standard_uncertainty)
        chance = float(student_below(np.array([beyond]), np.inf)[0])
    at = max(i for i, one in enumerate(found.evidence) if one.kind == "registration")  # the run's stands last of these
    read = replace(found.evidence[at], chance=chance, covariance=times**2 * found.evidence[at].covariance)
    return (*found.evidence[:at], read, *found.evidence[at + 1 :])


NINE_IN_TEN = 1.28
"""Standard uncertainties beyond its limit at which a change is found nine times in ten."""


def could_hide(bills: float | None, run: DataRun | None, found: IntervalResult | None, house: House) -> HiddenError:
    """Return the largest error of the meter that may be there unseen, by whatever leaves the least.

    Of an error that began before the first bill only a run says how large it may be.

    Parameters
    ----------
    bills : float or None
        What these bills would have shown [%]; None where they would have shown none.
    run : DataRun or None
        A run with a known load that does not show the meter outside its limits.
    found : IntervalResult or None
        Its appliances' steps tell a change of the meter where they kept their size, and the data reach back past the
        middle of the bills.
    """
    left = [] if bills is None else [HiddenError(bills, "bills")]
    if run is not None and run.load is None:
        read = max(current_tolerance(house), abs(run.percent - 100.0))
        left.append(HiddenError(read + run.expanded, "run"))
    change = None if found is None or found.gain is None else found.gain.change
    if change is not None and change.cuts and change.shift > 0.0:
        change = None  # they may well switch more than before
    middle = house.bills[len(house.bills) // 2].start
    if change is not None and found is not None and found.start.date() < middle:
        from reconcile.interval.gain import COMMON_SD, COMMON_SD_WITH_VOLTS
        from reconcile.interval.size_change import FOUND_AT, LEAST_WITHOUT_VOLTS

        seen = math.sqrt(2.0 * FOUND_AT) + NINE_IN_TEN
        doubt = math.hypot(change.standard_uncertainty, COMMON_SD_WITH_VOLTS if change.volts else COMMON_SD)
        within = max(LEAST_WITHOUT_VOLTS, abs(change.shift) + seen * doubt)
        left.append(HiddenError(100.0 * within, "steps"))
    return min(left, key=lambda one: one.percent or 0.0, default=HiddenError(None, "bills"))


def judged_run(run: RunRead, house: House) -> DataRun:
    """Judge a run that was planned in the data, as one at the meter is."""
    percent, expanded = 100.0 * run.registration, 50.0 * (run.high - run.low)
    beyond = _times(run) * expanded
    return replace(_judged(percent, percent - beyond, percent + beyond, house), expanded=expanded)


def _times(run: RunRead) -> float:
    """By how many times its limits a run speaks against a meter."""
    return BLUNT_TIMES if run.standard_uncertainty > WORTH_PLANNING else 1.0


def _judged(percent: float, low: float, high: float, house: House) -> DataRun:
    expanded = 0.5 * (high - low)
    decided = decide(percent, expanded, current_tolerance(house), interval=(low, high))
    return DataRun(percent, expanded, decided.zone)


def current_tolerance(house: House) -> float:
    """Return the tolerance of the meter that hangs on the wall now [%]."""
    from reconcile.house.registers import current_meter

    return current_meter(house).tolerance_percent
