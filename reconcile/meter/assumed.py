"""What was taken in a run because nobody wrote it down, and what may not rest on it."""

from __future__ import annotations

from reconcile.house import House
from reconcile.house.site import FieldTest
from reconcile.meter.coherence import carrying
from reconcile.meter.combine import Combined
from reconcile.meter.field_defaults import default
from reconcile.meter.instruments import taken
from reconcile.meter.judged import Assumption
from reconcile.meter.load_run import Weighed, outlet_volts, service_of
from reconcile.meter.plug_in import load_watts, sag_known

LONG_OHMS = 0.5
"""Wires to the receptacle, out and back, with which a right meter is still not accused [ohm]: 12 A then lose 5 % of
120 V, the most that is asked of good wiring from the service to the farthest outlet (NEC, informational note; from
memory)."""


def assumptions(weighed: Weighed, house: House, test: FieldTest) -> list[Assumption]:
    """Return what was taken in one run because nobody wrote it down."""
    run, service, found = weighed.run, service_of(weighed.run, house), []
    for quantity in ("watts",) if weighed.kind == "plug-in" else ("volts", "amps"):
        instrument, typical = taken(test.instruments, quantity)
        meters_own = weighed.legs is not None and weighed.legs.source == "meter"
        if typical and not (quantity == "volts" and meters_own):
            figures = {
                "quantity": quantity,
                "name": instrument.name,
                "percent": instrument.percent_of_reading,
                "digits": instrument.digits,
            }
            found.append(Assumption("instrument", weighed.named, False, figures))
    ends = [run.background_w_before, run.background_w_after]
    if weighed.kind == "plug-in":
        if None in ends:
            found.append(Assumption("background-once", weighed.named, True))
        if not sag_known(run):
            most = _by_wires(weighed, house)
            figures = {"ohms": LONG_OHMS, "percent": most, "off": run.outlet_volts_off, "on": run.outlet_volts_on}
            found.append(Assumption("wires", weighed.named, True, figures))
        return found
    on = carrying(run)
    wye = service == "network" or (service == "three-phase" and len(on) == 2)
    if wye and run.connection is None and any(leg.leg_power_factor is None for leg in on):
        found.append(Assumption("connection", weighed.named, True, {"service": service}))
    if any(leg.power_factor is None and leg.leg_power_factor is None for leg in on):
        found.append(Assumption("power-factor", weighed.named, True))
    if weighed.legs is not None and weighed.legs.source in ("sag", "nominal"):
        found.append(Assumption(f"volts-{weighed.legs.source}", weighed.named, True))
    elif weighed.legs is not None and weighed.legs.source == "meter" and all(leg.volts for leg in run.legs):
        found.append(Assumption("volts-set-aside", weighed.named, True))
    if run.clamps == "load" and None in ends:
        found.append(
            Assumption("background-missing" if ends == [None, None] else "background-once", weighed.named, True)
        )
    if run.clamps is None and any(ends):
        found.append(Assumption("clamps", weighed.named, True))
    return found


def holds(assumed: Assumption, combined: Combined, tolerance_percent: float) -> bool:
    """Whether an assumption takes a result out of the verdict and out of the bills' weighing.

    Amps times volts are a nameplate maximum, so a power factor below one can only make a fast meter faster; and wires
    to the receptacle only make a meter look fast, so that they hold back what they could have made.

    Parameters
    ----------
    combined : Combined
        The result of all runs.
    tolerance_percent : float
        What the meter is allowed [%].
    """
    found = combined.decided(tolerance_percent)
    accused = found.zone == "outside" and combined.percent > 100.0
    if not assumed.holds_back or (assumed.code == "power-factor" and accused):
        return False
    if assumed.code == "wires":
        return accused and combined.low - float(assumed.figures["percent"]) <= found.high
    return True


def _by_wires(weighed: Weighed, house: House) -> float:
    """What a long branch circuit could add to the registration, beyond the usual one that is allowed for [%]."""
    amps = load_watts(weighed.run) / outlet_volts(house)
    return 100.0 * amps * amps * (LONG_OHMS - 2.0 * default("branch_ohms")) / weighed.expected_w
