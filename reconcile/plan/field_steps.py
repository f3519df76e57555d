"""The steps of a plan, in order of hazard, cautions first in each.

Looking, a plug-in meter, breakers with covers on, the utility, last a qualified person: nothing addressed to the
householder opens anything.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from reconcile.house import House, Meter
from reconcile.kinds import Hazard
from reconcile.meter.field_defaults import default
from reconcile.meter.forms import leg_volts
from reconcile.meter.instruments import category_warnings
from reconcile.meter.legs import LEGS
from reconcile.meter.load_run import line_volts_of, outlet_volts
from reconcile.meter.main_off import SOUND_WATTS
from reconcile.meter.reference_load import Candidate
from reconcile.meter.registered import timed_watts, wait_seconds
from reconcile.meter.resolve import Resolution, planning_meter, sag_volts
from reconcile.site import Instruments
from reconcile.texts import safety

LOOK, PLUG, MAIN, UTILITY, QUALIFIED = 1, 2, 3, 4, 5
ANYONE, UTILITY_PEOPLE, QUALIFIED_PERSON = "anyone", "the utility", "a qualified person"
REPEATS = 3
"""Runs of one test: enough to see that they agree; more help little beside what the instruments may be out."""


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One step. ``hazard`` orders them as the verdict's steps are; ``form`` names what is written down."""

    title: str
    who: str
    hazard: int
    minutes: float
    cautions: tuple[str, ...]
    do: tuple[str, ...]
    expect: tuple[str, ...]
    proves: tuple[str, ...]
    form: tuple[str, ...] = ()


def plan_steps(
    house: House,
    meter: Meter,
    instruments: Instruments,
    reference: Candidate,
    panel: Candidate | None,
    resolutions: tuple[Resolution, ...],
    watts: float | None,
) -> tuple[PlanStep, ...]:
    """Return every step of a plan in order of hazard.

    Parameters
    ----------
    house : House
    meter : Meter
        As it stands in the house's file.
    instruments : Instruments
    reference, panel : Candidate
        Loads of the plug-in run and of a qualified person's.
    resolutions : tuple of Resolution
    watts : float or None
        Round-the-clock load that is suspected [W].
    """
    by = {r.test: r for r in resolutions}
    steps = [
        _whose_meter(house, meter, reference),
        _base_load(house, watts),
        _plug_in(house, reference, by.get("plug-in")),
        _elimination(house, watts),
        _main_off(house),
        _utility(by.get("utility")),
    ]
    if house.service in LEGS:
        steps.append(_at_the_legs(house, meter, instruments, panel, by.get("clamps")))
    return tuple(steps)


def _size(house: House) -> tuple[str, float]:
    """What is counted at the meter, and its watt-hours, multiplier included."""
    meter = planning_meter(house)
    if meter.type == "disk":
        return "turns of the disk", (meter.disk_wh or 0.0) * meter.multiplier
    return "pulses", (meter.pulse_wh or 0.0) * meter.multiplier


def _one(what: str) -> str:
    return {"pulses": "pulse"}.get(what, "turn of the disk")


def _whose_meter(house: House, meter: Meter, reference: Candidate) -> PlanStep:
    what, size = _size(house)
    every = wait_seconds(size, reference.watts)
    number = f" ({meter.number} by the file)" if meter.number else ""
    return PlanStep(
        "Is it this home's meter, and does it follow this home only?",
        ANYONE,
        LOOK,
        15,
        safety.said(safety.cautions_for(Hazard.LOOK, house)),
        (
            f"Write down the meter's number and compare it with the bill's{number}; photograph both.",
            f"Have somebody switch {reference.name} on and off while you watch the meter.",
            "With things quiet at home, watch for ten minutes whether it jumps when a neighbour's loads would.",
        ),
        (f"With {reference.watts:,.0f} W more, a {_one(what)} more goes by about every {every:.1f} s.",),
        (
            "Another number: the bills are for another meter. Stop here and call the billing desk.",
            "It does not follow the home, or follows a neighbour: crossed or shared meters, the utility's to settle.",
        ),
        ("meter number", "number on the bill", "follows this home (yes/no)"),
    )


def _base_load(house: House, watts: float | None) -> PlanStep:
    what, size = _size(house)
    expect = []
    if watts:
        expect.append(
            f"The bills point to about {round(watts, -1):.0f} W more round the clock: "
            f"{watts * 0.008:.1f} kWh more in eight hours."
        )
    expect.append(f"At 100 W a {_one(what)} goes by every {wait_seconds(size, 100.0):.0f} s.")
    return PlanStep(
        "Base load overnight",
        ANYONE,
        LOOK,
        30,
        safety.said(safety.cautions_for(Hazard.LOOK, house)),
        (
            "In the evening switch off or unplug what can be; write down what stays on.",
            "Read the register, the date and the hour; read it again in the morning before anything is used.",
            f"Or count the {what} over half an hour late in the evening, by a watch.",
        ),
        tuple(expect),
        (
            "A load that runs round the clock shows in full at night.",
            "A fast meter shows at night only its percentage of very little: a low base load points to the meter or "
            "to day use.",
        ),
        ("register and hour, evening", "register and hour, morning", f"{what} and seconds", "what was on"),
    )


def _plug_in(house: House, reference: Candidate, told: Resolution | None) -> PlanStep:
    what, size = _size(house)
    seconds = told.seconds if told is not None and told.seconds else default("run_seconds")
    volts = outlet_volts(house)
    amps = reference.watts / volts
    sag = amps * (default("service_ohms") + 2.0 * default("branch_ohms"))
    count = reference.watts * seconds / 3600.0 / size
    expect = [
        f"About {amps:.1f} A at {volts:.0f} V; the receptacle's volts drop by 1 to {max(sag, 1.5):.0f} V.",
        f"The meter counts {reference.watts:,.0f} W more than before: a display in kW rises by "
        f"{reference.watts / 1000.0:.2f}, "
        f"and about {count:.0f} more {what} go by in {seconds / 60.0:.0f} minutes.",
    ]
    if told is not None:
        expect.append(
            f"The result is then good to {told.expanded_percent:.1f} % (95 %), most of it from {told.largest}; "
            f"tolerance over doubt is {told.test_uncertainty_ratio:.2f}. It tells an error of "
            f"{told.smallest_error_percent:.1f} % and more."
        )
    settle = default("settle_seconds")
    return PlanStep(
        "One known steady load through a plug-in meter: off, on, off",
        ANYONE,
        PLUG,
        round((seconds + 2.0 * settle) / 60.0 * REPEATS + 10.0),
        safety.said(safety.cautions_for(Hazard.PLUG_IN, house)),
        (
            "Switch off what starts by itself where you safely can from its own switch or thermostat.",
            f"Plug {reference.name} through the plug-in meter into a receptacle near the panel; the load still off.",
            "Load off: read what the house draws at the meter (the display's kW, or a timed count) for three minutes.",
            f"Load on, on high, no thermostat: wait {settle:.0f} s until it has settled.",
            f"Start the watch on a count, count {what} for {seconds / 60.0:.0f} minutes, stop on a count. Meanwhile a "
            "second person reads the plug-in meter's watts every minute: write down their mean.",
            "Note the plug-in meter's volts with the load off and on: they tell what the wires use up.",
            f"Load off again: read what the house draws once more. Do this {REPEATS} times.",
        ),
        tuple(expect),
        (
            "Counted energy less the house's own, over the plug-in meter's, is the meter's registration: 100 % is "
            "right.",
            "It is often the better test, and nothing is opened.",
            *_light(house),
        ),
        (
            "background W before",
            "plug-in W (mean)",
            f"{what} and seconds",
            "receptacle volts off / on",
            "background W after",
        ),
    )


def _light(house: House) -> tuple[str, ...]:
    meter = planning_meter(house)
    if meter.test_amps is None:
        return ()
    watts = 0.1 * meter.test_amps * line_volts_of(house, house.service)
    return (f"A run on a low setting, near {watts:,.0f} W, is the meter's light load by its test amps.",)


def _elimination(house: House, watts: float | None) -> PlanStep:
    sought = f"by about {round(watts, -1):.0f} W" if watts else "clearly"
    return PlanStep(
        "Breaker by breaker at the meter, covers on",
        ANYONE,
        MAIN,
        45,
        safety.said(safety.cautions_for(Hazard.MAIN_BREAKER, house)),
        (
            "One person at the panel's closed cover, one at the meter. All branches on; read the meter's rate.",
            "Switch one branch breaker off, wait a minute, read the rate, switch it on again; then the next.",
            f"Write down what each is labelled and how far the rate fell; look for the one that makes it fall "
            f"{sought}.",
        ),
        ("The falls add up to the whole rate, but for what has no breaker there.",),
        (
            "The circuit whose fall is the watts sought feeds the load.",
            "If no breaker lowers it, it sits ahead of the panel, or is the meter's own.",
        ),
        ("breaker", "label", "rate before W", "rate with it off W"),
    )


def _main_off(house: House) -> PlanStep:
    meter = planning_meter(house)
    what, size = _size(house)
    wait = max(wait_seconds(size, SOUND_WATTS), 600.0)
    proves = timed_watts(size, 1.0, wait)
    disk = ["A disk may coast up to a turn: wait until it stands before you time it."] if meter.type == "disk" else []
    do = [
        "Branch breakers off one by one, then the main. Leave every cover on.",
        f"Watch the meter for {math.ceil(wait / 60.0)} minutes: {what}, the display, the last digit of the kWh.",
        *disk,
        "A display in kW may show demand, an average of many minutes: do not go by it alone.",
        "Main on first, then the branches one by one.",
    ]
    if house.generation:
        do.insert(0, "Own generation and battery off first, as their makers say; if unsure, leave this step out.")
    return PlanStep(
        "Main breaker off, covers on",
        ANYONE,
        MAIN,
        math.ceil(wait / 60.0) + 15,
        safety.said(safety.cautions_for(Hazard.MAIN_BREAKER, house, moves_main=True)),
        tuple(do),
        (f"No {_one(what)} in {math.ceil(wait / 60.0)} minutes proves only that less than {proves:.0f} W flows.",),
        (
            "Standing still: nothing acts ahead of the main, and the meter does not creep.",
            "Still counting: see what it can mean; if the service wires run underground, stop and call the utility.",
        ),
        (
            f"{what} and seconds",
            "display",
            "all disconnects off (yes/no)",
            "own generation off (yes/no)",
            "wires underground (yes/no)",
        ),
    )


def _utility(told: Resolution | None) -> PlanStep:
    expect = () if told is None else (f"Good to about {told.expanded_percent:.1f} %: it tells any error that matters.",)
    return PlanStep(
        "The utility's test against a reference standard",
        UTILITY_PEOPLE,
        UTILITY,
        0,
        (),
        (
            "Ask for it in writing, with the readings above; ask to be present, and that the seal be broken only then.",
            "Ask what it costs, whether that is paid back if the meter is out, and what a correction would cover. A "
            "slow "
            "meter can mean a bill for the past. Check your local rule.",
        ),
        expect,
        ("Registration at light and full load, which settles it.",),
        ("date asked", "date of the test", "light load %", "full load %"),
    )


def _at_the_legs(
    house: House, meter: Meter, instruments: Instruments, panel: Candidate | None, told: Resolution | None
) -> PlanStep:
    service = house.service
    watts = panel.watts if panel is not None else 4500.0
    name = panel.name if panel is not None else "a large resistive load between the legs"
    line = line_volts_of(house, service)
    leg = leg_volts(service, line)
    amps = watts / line if service != "three-phase" else watts / (3.0 * leg)
    sag = sag_volts(house, watts)
    settle = default("settle_seconds")
    do = [
        f"For the electrician: run {name} alone, settled for {settle - 15:.0f} to {settle:.0f} s, with no motor or "
        f"thermostat "
        "cycling in the run.",
        f"Read at one moment, on a count given aloud: volts of each leg to neutral under load, amps of each leg "
        f"({LEGS[service]} "
        "legs), and another person the meter's display or pulses.",
        f"Five readings a minute apart at full load, five at light load ({_points(meter, line)}).",
        "Note the same once without the load; never use volts read without it.",
    ]
    expect = [
        f"{name}: about {amps:.1f} A a leg at {leg:.0f} V to neutral, {watts / 1000.0:.2f} kW; the volts sag by about "
        f"{sag:.0f} V, and the power by {200.0 * sag / line:.0f} %.",
    ]
    if told is not None:
        expect.append(
            f"The result is then good to {told.expanded_percent:.1f} %, most of it from {told.largest}; it tells an "
            f"error of {told.smallest_error_percent:.1f} % and more."
        )
    if service == "network":
        expect.append("On a 120/208 V network V x I of two legs is 1.155 times the power of a load between them.")
    return PlanStep(
        "Last, and only if still open: readings at the legs",
        QUALIFIED_PERSON,
        QUALIFIED,
        60,
        (
            *safety.said(safety.cautions_for(Hazard.PANEL, house, safety.Reader.QUALIFIED)),
            *category_warnings(instruments),
        ),
        tuple(do),
        tuple(expect),
        ("Power of each leg summed, against the meter's, with the doubt of both.",),
        (
            "load (full, light)",
            *(f"leg {n} {what}" for n in range(1, LEGS[service] + 1) for what in ("V", "A")),
            "power factor",
            "meter kW",
            "meter V",
            "pulses or turns",
            "seconds",
        ),
    )


def _points(meter: Meter, line: float) -> str:
    if meter.test_amps is None:
        return "about a tenth and the whole of the test amps (TA) on the nameplate"
    light, full = 0.1 * meter.test_amps, meter.test_amps
    return (
        f"full near {full:g} A, {full * line / 1000.0:.1f} kW; light near {light:g} A, {light * line:,.0f} W; at other "
        "currents the result is indicative"
    )
