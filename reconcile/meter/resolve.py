"""What a test would be able to tell, before anyone starts: the budget of a run that has not been made yet."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from reconcile.house import House, Meter
from reconcile.meter.field_defaults import default
from reconcile.meter.forms import leg_volts
from reconcile.meter.instruments import typical
from reconcile.meter.legs import LEGS
from reconcile.meter.load_run import Weighed, current_meter, line_volts_of, outlet_volts, weigh_run
from reconcile.meter.montecarlo import simulate
from reconcile.meter.zone import can_resolve, decide
from reconcile.site import Display, FieldTest, Instruments, Leg, Registered, Run
from reconcile.texts.components import spoken_component

RUN_LENGTHS = (300.0, 600.0, 900.0, 1800.0, 3600.0, 7200.0)
"""Lengths of a run that are tried [s]."""
WORTH_WAITING = 1.1
"""A longer run is asked for only while it narrows the expanded uncertainty by more than this factor."""
BACKGROUND_WATTS = 150.0
"""What is taken to be on beside the load in a quiet house [W] (common practice)."""
PULSE_WH, DISK_WH = 1.0, 7.2
"""Taken for planning where the nameplate's constant is not written down: 1 Wh from memory, 7.2 Wh most US house
disks (standby.lbl.gov/measure/in-home/electrometer/). The nameplate governs."""


@dataclass(frozen=True, slots=True)
class Resolution:
    """What one test could tell.

    Attributes
    ----------
    test : {'plug-in', 'clamps', 'utility'}
    title : str
    load_watts, seconds : float or None
        [W], [s]
    counts : float or None
        Pulses or turns to expect.
    standard_percent, expanded_percent : float
        Of the registration [%].
    test_uncertainty_ratio : float
        Tolerance over expanded uncertainty.
    smallest_error_percent : float
        Least error of a meter that would most likely be found outside [%].
    resolves : bool or None
        Whether the suspected error would be; None where none is suspected.
    largest : str
        Component that makes most of the doubt.
    largest_share : float
    """

    test: Literal["plug-in", "clamps", "utility"]
    title: str
    load_watts: float | None
    seconds: float | None
    counts: float | None
    standard_percent: float
    expanded_percent: float
    test_uncertainty_ratio: float
    smallest_error_percent: float
    resolves: bool | None
    largest: str = ""
    largest_share: float = 0.0


def planning_meter(house: House) -> Meter:
    """Return the meter on the wall, with a usual constant where its own is not written down."""
    meter = current_meter(house)
    if meter.type == "disk" and meter.disk_wh is None:
        return replace(meter, disk_wh=DISK_WH)
    if meter.type == "electronic" and meter.pulse_wh is None:
        return replace(meter, pulse_wh=PULSE_WH)
    return meter


def plug_in_run(house: House, watts: float, seconds: float) -> Run:
    """Return the run that a plug-in test would make with a sound meter."""
    meter = planning_meter(house)
    energy = (watts + BACKGROUND_WATTS) * seconds / 3600.0
    timed = _counted(meter, energy, seconds)
    drift = 0.02 * BACKGROUND_WATTS
    return Run(
        "planned",
        timed,
        connection="line-to-neutral",
        reference_watts=watts,
        background_w_before=BACKGROUND_WATTS - drift,
        background_w_after=BACKGROUND_WATTS + drift,
    )


def clamp_run(house: House, watts: float, seconds: float) -> Run:
    """Return the run that a qualified person's readings at the legs would make with a sound meter."""
    meter, service = planning_meter(house), house.service
    count = LEGS[service]
    volts = leg_volts(service, line_volts_of(house, service))
    amps = watts / volts / count
    if service in ("network",):
        amps = watts / line_volts_of(house, service)
    timed = _counted(meter, watts * seconds / 3600.0, seconds)
    return Run("planned", timed, tuple(Leg(volts, amps) for _ in range(count)))


def _counted(meter: Meter, watt_hours: float, seconds: float) -> Registered:
    if meter.display == "kW now" and meter.pulse_wh is None and meter.disk_wh is None:
        return Registered(meter_kw=watt_hours / seconds * 3.6 / meter.multiplier)
    if meter.disk_wh is not None and meter.type == "disk":
        return Registered(seconds=seconds, turns=watt_hours / meter.disk_wh / meter.multiplier)
    size = (meter.pulse_wh or PULSE_WH) * meter.multiplier
    return Registered(seconds=seconds, pulses=watt_hours / size, counted="pulse-to-pulse")


def foresee(
    run: Run, house: House, instruments: Instruments, display: Display | None = None
) -> tuple[Weighed, float] | None:
    """Return a planned run weighed, and its expanded uncertainty [%]; None where it could not be judged."""
    weighed = weigh_run(run, house, FieldTest(instruments, display or Display()), planning_meter(house))
    if isinstance(weighed, str):
        return None
    drawn = simulate(weighed.model, weighed.inputs)
    return weighed, (drawn.high - drawn.low) / 2.0


def plug_in_resolution(
    house: House, instruments: Instruments, watts: float, suspected: float | None
) -> Resolution | None:
    """Return what a plug-in run of a load would tell, long enough that more time would not help much."""
    tries = [(s, foresee(plug_in_run(house, watts, s), house, instruments)) for s in RUN_LENGTHS]
    known = [(seconds, found) for seconds, found in tries if found is not None]
    if not known:
        return None
    least = known[-1][1][1]
    seconds, (weighed, expanded) = next(k for k in known if k[1][1] <= WORTH_WAITING * least)
    return _resolution("plug-in", "A known load through a plug-in meter", house, weighed, expanded, seconds, suspected)


def clamp_resolution(
    house: House, instruments: Instruments, watts: float, suspected: float | None
) -> Resolution | None:
    """Return what a qualified person's readings at the legs would tell; None where the service is not known."""
    if house.service not in LEGS:
        return None
    seconds = default("run_seconds")
    found = foresee(clamp_run(house, watts, seconds), house, instruments)
    if found is None:
        return None
    return _resolution("clamps", "Readings at the legs by a qualified person", house, *found, seconds, suspected)


def utility_resolution(house: House, suspected: float | None) -> Resolution:
    """Return what the utility's portable standard tells: within 0.10 % (Fla. Admin. Code 25-6.055(1), read)."""
    standard = typical()["utility's portable standard"].instrument.percent_of_reading
    doubt = standard / 3.0**0.5
    expanded = 0.95 * standard
    tolerance = current_meter(house).tolerance_percent
    return Resolution(
        "utility",
        "The utility's test against a reference standard",
        None,
        None,
        None,
        doubt,
        expanded,
        tolerance / expanded,
        tolerance + expanded,
        None if suspected is None else can_resolve(suspected, expanded, tolerance),
        "reference standard",
        1.0,
    )


def _resolution(
    test: Literal["plug-in", "clamps"],
    title: str,
    house: House,
    weighed: Weighed,
    expanded: float,
    seconds: float,
    suspected: float | None,
) -> Resolution:
    tolerance = current_meter(house).tolerance_percent
    largest = max(weighed.budget.components, key=lambda c: c.share)
    registered = weighed.run.registered
    return Resolution(
        test,
        title,
        weighed.measured_w,
        seconds,
        registered.turns if registered.turns is not None else registered.pulses,
        weighed.budget.standard_uncertainty,
        expanded,
        decide(100.0, expanded, tolerance).test_uncertainty_ratio,
        tolerance + expanded,
        None if suspected is None else can_resolve(suspected, expanded, tolerance),
        spoken_component(largest.name),
        largest.share,
    )


def sag_volts(house: House, watts: float) -> float:
    """Return by how many volts a load pulls its own supply down [V], with a usual service."""
    volts = outlet_volts(house) if watts <= plug_limit_watts(house) else line_volts_of(house, house.service)
    return watts / volts * default("service_ohms")


def plug_limit_watts(house: House) -> float:
    """Return the largest load a receptacle should carry for a while [W]: 12.5 A of 15 A, at 230 V 10 A of 13 or 16 A.

    The usual portable heater of 1,500 W at 120 V is just allowed (common practice, no published source).
    """
    volts = outlet_volts(house)
    return 12.5 * volts if volts < 150.0 else 10.0 * volts
