"""The unit of values that no file names, or names wrongly: the one in which they add up to the bills."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import tzinfo

import numpy as np

from reconcile.clock import DAY_SECONDS, day_numbers, local_seconds
from reconcile.house import Bill
from reconcile.read.layouts.interval_names import KW_OF, KWH_OF, Unit
from reconcile.read.timeline.running_registers import is_running
from reconcile.read.timeline.series import ReadContext, Series
from reconcile.records import dataclass

WITHIN = 0.1
"""How far the middle one of the bills may miss a unit, as a share: readings are a day off at most, and two units of one
step differ twofold or more (our choice)."""
TOLD_WRONG = 1000.0
"""Factor by which a unit that the file names is off where its prefix was left out, or written twice."""
UNNAMED: tuple[Unit, ...] = ("kWh", "kW", "Wh", "W")


@dataclass(frozen=True, slots=True)
class _Sums:
    """Bills that a series covers: billed energy for each kWh of the sum of its values, taken as kWh and as kW."""

    by_kwh: float
    by_kw: float

    def fits(self, unit: Unit) -> bool:
        """Whether the values add up to the bills in this unit."""
        times = self.by_kwh / KWH_OF[unit] if unit in KWH_OF else self.by_kw / KW_OF[unit]
        return abs(times - 1.0) <= WITHIN


def settle_units(found: Sequence[Series], context: ReadContext) -> None:
    """Give each series the unit in which it adds up to the bills, where its file names none, or one 1,000 times off.

    Parameters
    ----------
    found : sequence of Series
        Their ``unit`` is set.
    """
    told: Unit | None = None
    for one in (*(s for s in found if s.flow != "received"), *(s for s in found if s.flow == "received")):
        if one.unit == "V" or one.unit_from == "household":
            continue
        sums = None if one.flow == "received" else _sums(one, context.house.bills, context.home)
        unit = told if one.flow == "received" and one.unit_from == "nothing" else _unit(one, sums)
        if unit is not None and unit != one.unit and not is_running(one):
            code = "unit-other" if one.unit_from == "file" else "unit-bills"
            context.assumed.add(code, unit=unit, told=one.unit)
            one.unit = told = unit
        elif one.unit_from == "nothing":
            context.assumed.add("unit", unit=one.unit)


def _unit(one: Series, sums: _Sums | None) -> Unit | None:
    if sums is None or sums.fits(one.unit):
        return None
    if one.unit_from == "nothing":
        return next((unit for unit in UNNAMED if sums.fits(unit)), None)
    of = KWH_OF if one.unit in KWH_OF else KW_OF
    off = (TOLD_WRONG * of[one.unit], of[one.unit] / TOLD_WRONG)
    return next((unit for unit in UNNAMED if of.get(unit) in off and sums.fits(unit)), None)


def _sums(one: Series, bills: Sequence[Bill], home: tzinfo) -> _Sums | None:
    """Hold the values of a series against the bills that it covers whole; None where it covers none."""
    if len(one.labels) < 2 or not bills:
        return None
    times = one.labels if one.offsets is None else local_seconds(one.instants(), home)
    steps = np.abs(np.diff(times)) if one.lengths is None else one.lengths
    step = float(steps[0] if (steps == steps[0]).all() else np.median(steps))  # millions mostly are alike
    first, last = int(times.min()), int(times.max()) + int(step)
    ratios = []
    for bill in bills:
        begin, end = (day_numbers([bill.start, bill.closes]) * DAY_SECONDS).tolist()
        if first > begin or last < end or not bill.kwh or bill.kwh <= 0.0:
            continue
        summed = float(np.nansum(one.values[(times >= begin) & (times < end)]))
        if summed > 0.0:
            ratios.append(bill.kwh / summed)
    if not ratios or step <= 0.0:
        return None
    middle = float(np.median(ratios))
    return _Sums(middle, middle * 3600.0 / step)
