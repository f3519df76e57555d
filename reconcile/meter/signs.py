"""Signs of danger in the readings themselves, beside those in the house's file. Any of them stops every verb."""

from __future__ import annotations

from reconcile.house import House
from reconcile.house.registers import current_meter
from reconcile.house.site import FieldTest, Run
from reconcile.meter.forms import leg_volts
from reconcile.meter.legs import LEGS
from reconcile.meter.load_run import line_volts_of, service_of
from reconcile.meter.main_off import judge_main_off
from reconcile.meter.plug_in import MOST_SAG, sag_share

LOOSE_NEUTRAL_PERCENT = 5.0
"""Difference of two legs' volts over their mean at which to stop [%] (common practice, no published source)."""
STILL_VOLTS = 0.08
"""How far the mean of the legs may lie from what the service gives before one of them is taken for misread instead: a
lost neutral moves the legs apart, and leaves their mean where it was."""

GOOD_SAG = 0.05
"""Part of its volts that a sound outlet loses at most under load (NEC 210.19(A) and 215.2(A), informational notes: 5
per cent from the service to the farthest outlet; from memory). Beyond it the wires are long or a joint is poor."""
BURNING_SAG = 0.1
"""Part from which on a poor joint is taken for a danger (our choice: twice what long wires explain; with a heater of
12 A on 120 V some 70 W or more then heat one joint, as much as a soldering iron)."""


def poor_joint(run: Run, least: float = GOOD_SAG) -> bool:
    """Return whether a receptacle lost more of its volts under load than sound wires lose."""
    return least < sag_share(run) <= MOST_SAG


def dangers_of(house: House, test: FieldTest | None = None) -> tuple[str, ...]:
    """Return the code of every sign of danger that a house's file and its readings hold.

    Parameters
    ----------
    house : House
    test : FieldTest, optional
        In place of the house's own.

    Returns
    -------
    tuple of str
        Names of :data:`reconcile.house.DANGERS`, ``loose-neutral``, ``poor-joint``, ``buried-line``.

    Examples
    --------
    >>> dangers_of(House("a", (), dangers=("buzzing",)))
    ('buzzing',)
    """
    test = test or house.field_test or FieldTest()
    found = list(house.dangers)
    if any(neutral_volts(run, house) is not None for run in test.runs):
        found.append("loose-neutral")
    if any(poor_joint(run, BURNING_SAG) for run in test.runs):
        found.append("poor-joint")
    meter = current_meter(house)
    for reading in test.main_off:
        if reading.service_underground and judge_main_off(reading, house, meter, test).zone == "outside":
            found.append("buried-line")
    return tuple(dict.fromkeys(found))


def neutral_volts(run: Run, house: House) -> tuple[float, float] | None:
    """Return the legs' least and most volts [V] where they lie apart as with a loose neutral, else None."""
    service = service_of(run, house)
    volts = [leg.volts for leg in run.legs if leg.volts]
    if service not in LEGS or len(volts) < 2 or len(volts) < len(run.legs):
        return None
    mean = sum(volts) / len(volts)
    if 100.0 * (max(volts) - min(volts)) / mean <= LOOSE_NEUTRAL_PERCENT:
        return None
    wanted = [leg_volts(service, line) for line in (run.meter_volts, run.line_volts) if line]
    if not wanted and service != "three-phase":
        wanted = [leg_volts(service, line_volts_of(house, service))]
    if any(abs(mean - value) > STILL_VOLTS * value for value in wanted):
        return None
    return min(volts), max(volts)
