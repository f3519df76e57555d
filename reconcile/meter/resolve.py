"""What a test would be able to tell, before anyone starts: the budget of a run that has not been made yet."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Literal

from reconcile.house import House, Meter
from reconcile.house.registers import current_meter
from reconcile.house.site import Instruments, Leg, Registered, Run
from reconcile.meter.field_defaults import default
from reconcile.meter.forms import leg_volts
from reconcile.meter.instruments import typical
from reconcile.meter.legs import LEGS
from reconcile.meter.lengths import REPEATS, Foreseen, shortest
from reconcile.meter.load_run import line_volts_of, outlet_volts
from reconcile.records import dataclass

USUAL_REPEATS = (3,)
"""Runs of one test: enough to see that they agree (common practice)."""
BACKGROUND_WATTS = 200.0
"""What is taken to be on beside the load in a quiet house [W] (common practice)."""
PLANNED_DRIFT = 0.035
"""Part of the background by which its two readings are taken to lie from their mean: those of a house that wanders by
five per cent, a little more than the usual four, so that a plan keeps what it promises."""
PULSE_WH, DISK_WH = 1.0, 7.2
"""Taken for planning where the nameplate's constant is not written down: 1 Wh from memory, 7.2 Wh most US house
disks (standby.lbl.gov/measure/in-home/electrometer/). The nameplate governs."""


@dataclass(frozen=True, slots=True)
class Resolution:
    """What one test could tell."""

    test: Literal["plug-in", "register", "clamps", "utility"]
    load_watts: float | None
    seconds: float | None
    """Both: [W], [s]"""
    counts: float | None
    """Pulses or turns to expect."""
    standard_percent: float
    expanded_percent: float
    """Both: of the registration [%]."""
    test_uncertainty_ratio: float
    """Tolerance over expanded uncertainty."""
    smallest_error_percent: float
    """Least error of a meter that is found outside nine times in ten [%]."""
    resolves: bool | None
    """Whether the suspected error would be; None where none is suspected."""
    largest: str = ""
    """Component that makes most of the doubt; a key of :data:`reconcile.texts.components.COMPONENTS`."""
    repeats: int = 1
    """Runs of the test."""
    way: str = ""
    """How the meter is read: ``pulses``, ``turns``, ``display`` or ``register``."""


def planning_meter(house: House) -> Meter:
    """Return the meter on the wall, with a usual constant where its own is not written down."""
    meter = current_meter(house)
    if meter.type == "disk" and meter.disk_wh is None:
        return replace(meter, disk_wh=DISK_WH)
    if meter.type == "electronic" and meter.pulse_wh is None:
        return replace(meter, pulse_wh=PULSE_WH)
    return meter


def way_meter(house: House) -> Meter:
    """Return the meter as it can be read: by its pulses or disk where their constant is known, by its display of kW
    where it is not; else a usual constant is taken, to be read off its face.
    """
    meter = current_meter(house)
    if meter.pulse_wh is None and meter.disk_wh is None and meter.display == "kW now":
        return meter
    return planning_meter(house)


def plug_in_run(house: House, watts: float, seconds: float) -> Run:
    """Return the run that a plug-in test would make with a sound meter."""
    meter = way_meter(house)
    energy = (watts + BACKGROUND_WATTS) * seconds / 3600.0
    timed = _counted(meter, energy, seconds)
    drift = PLANNED_DRIFT * BACKGROUND_WATTS
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
    meter, service = way_meter(house), house.service
    count = LEGS[service]
    volts = leg_volts(service, line_volts_of(house, service))
    amps = watts / volts / count
    if service in ("network",):
        amps = watts / line_volts_of(house, service)
    timed = _counted(meter, watts * seconds / 3600.0, seconds)
    legs = tuple(Leg(volts, amps, 1.0) for _ in range(count))
    return Run("planned", timed, legs, connection="line-to-line", clamps="main")


def _counted(meter: Meter, watt_hours: float, seconds: float) -> Registered:
    if meter.pulse_wh is None and meter.disk_wh is None:  # by its display of kW: see way_meter
        return Registered(meter_kw=round(watt_hours / seconds * 3.6 / meter.multiplier, 2))
    if meter.disk_wh is not None and meter.type == "disk":
        return Registered(seconds=seconds, turns=watt_hours / meter.disk_wh / meter.multiplier)
    size = (meter.pulse_wh or PULSE_WH) * meter.multiplier
    return Registered(seconds=seconds, pulses=watt_hours / size, counted="in-a-time")


def plug_in_resolution(
    house: House, instruments: Instruments, watts: float, suspected: float | None, wanted: float | None = None
) -> Resolution | None:
    """Return what a plug-in test of a load would tell: the shortest that detects the suspected error, else the best.

    Where the meter's constant is not known, its display of kW or its register is read in place of its pulses.
    """
    meter = way_meter(house)
    found = shortest(
        lambda seconds: plug_in_run(house, watts, seconds), house, meter, instruments,
        detect_percent=None if wanted else suspected, expanded_percent=wanted,
        repeats=USUAL_REPEATS if suspected is None and wanted is None else REPEATS,
    )  # fmt: skip
    return None if found is None else _resolution("plug-in", house, found, suspected)


def register_resolution(
    house: House, instruments: Instruments, watts: float, suspected: float | None, wanted: float | None = None
) -> Resolution | None:
    """Return what the register alone would tell: a load that runs for hours through a plug-in meter that adds up kWh.

    The way for a meter that shows kWh and nothing else: no light to count, no disk, no kW. The house's own use is read
    off the register in the same number of hours before and after. None where the meter can be read in a better way.
    """
    meter = current_meter(house)
    known = meter.disk_wh if meter.type == "disk" else meter.pulse_wh
    if known is not None or meter.display != "kWh":
        return None
    found = shortest(
        lambda seconds: register_run(meter, watts, seconds), house, meter, instruments,
        detect_percent=None if wanted else suspected, expanded_percent=wanted, repeats=REGISTER_REPEATS,
        lengths=REGISTER_LENGTHS,
    )  # fmt: skip
    return None if found is None else _resolution("register", house, found, suspected)


REGISTER_STEPS = 2.5
"""How many steps of the register a right meter and one so far out must end apart (our choice: two readings of
it scatter by two fifths of a step, one standard deviation)."""


def register_hours(meter: Meter, watts: float, percent: float) -> float:
    """Return for how many hours a load has to be on for the register alone to tell a meter so far out from a right one.

    Parameters
    ----------
    watts : float
        What the meter counts of the load [W].
    percent : float
        Its registration [%].

    Examples
    --------
    >>> register_hours(Meter(), 2550.0, 170.0), register_hours(Meter(step_kwh=0.01), 2550.0, 170.0)
    (3.0, 1.0)
    """
    apart = watts * abs(1.0 - 100.0 / max(percent, 1.0)) / 1000.0  # kW between the two
    step = meter.step_kwh * meter.multiplier
    return float(max(math.ceil(REGISTER_STEPS * step / max(apart, 1e-9) - 0.01), 1.0)) if apart else 1.0


REGISTER_LENGTHS = (7200.0, 10800.0, 14400.0, 21600.0, 28800.0)
REGISTER_REPEATS = (1, 2, 3)
"""Hours of one run [s], with somebody at home beside the load, and how often: the evening and the night of a day each
(common practice)."""


def register_run(meter: Meter, watts: float, seconds: float) -> Run:
    """Return the run of hours that is read off the register alone, the house's own use read off it too."""
    hours = seconds / 3600.0
    # a step of the register at either end of the hours before, and of those after
    apart = 1000.0 * meter.step_kwh * meter.multiplier / hours / 2.0
    own = max(BACKGROUND_WATTS - apart, 0.0), BACKGROUND_WATTS + apart
    energy = (watts + BACKGROUND_WATTS) * hours / 1000.0 / meter.multiplier
    return Run(
        "planned",
        Registered(seconds=seconds, register_start=0.0, register_end=energy),
        connection="line-to-neutral",
        reference_kwh=watts * hours / 1000.0,
        background_w_before=own[0],
        background_w_after=own[1],
    )


def clamp_resolution(
    house: House, instruments: Instruments, watts: float, suspected: float | None, wanted: float | None = None
) -> Resolution | None:
    """Return what a qualified person's readings at the legs would tell; None where the service is not known."""
    if house.service not in LEGS:
        return None
    found = shortest(
        lambda seconds: clamp_run(house, watts, seconds), house, way_meter(house), instruments,
        detect_percent=None if wanted else suspected, expanded_percent=wanted,
        repeats=USUAL_REPEATS if suspected is None and wanted is None else REPEATS,
    )  # fmt: skip
    return None if found is None else _resolution("clamps", house, found, suspected)


def utility_resolution(house: House, suspected: float | None) -> Resolution:
    """Return what the utility's portable standard tells: within 0.10 % (Fla. Admin. Code 25-6.055(1), read)."""
    standard = typical()["utility's portable standard"].instrument.percent_of_reading
    doubt = standard / 3.0**0.5
    # rectangular limits: 95 % of them is the expanded uncertainty, and one reading in ten is lower by 80 % of them
    expanded = 0.95 * standard
    tolerance = current_meter(house).tolerance_percent
    return Resolution(
        "utility",
        None,
        None,
        None,
        doubt,
        expanded,
        tolerance / expanded,
        tolerance + expanded + 0.8 * standard,
        None if suspected is None else abs(suspected) >= tolerance + expanded + 0.8 * standard,
        "reference standard",
    )


def _resolution(
    test: Literal["plug-in", "register", "clamps"], house: House, told: Foreseen, suspected: float | None
) -> Resolution:
    tolerance = current_meter(house).tolerance_percent
    largest = max(told.combined.budget.components, key=lambda c: c.share)
    registered = told.weighed.run.registered
    return Resolution(
        test,
        told.weighed.measured_w,
        told.seconds,
        registered.turns if registered.turns is not None else registered.pulses,
        told.combined.standard_percent,
        told.expanded_percent,
        tolerance / told.expanded_percent,
        told.detects_percent,
        None if suspected is None else abs(suspected) >= told.detects_percent,
        largest.name,
        told.repeats,
        told.weighed.shown.way,
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
