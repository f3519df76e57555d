"""Power from volts, amps and power factor of each leg, summed as Blondel's theorem asks.

The meter's form decides what a sound meter registers of it. What two legs share (one voltmeter, one clamp)
is one input of the model, so that it is correlated in the budget exactly.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from reconcile.house.site import Display, Instrument, Instruments, Leg, Run
from reconcile.meter.budget import Input, Model
from reconcile.meter.field_defaults import default
from reconcile.meter.forms import COS_30, Form, form_2s_watts, leg_volts
from reconcile.meter.instruments import limit, taken
from reconcile.records import dataclass

LEGS = {"split-phase": 2, "network": 2, "two-wire": 1, "three-phase": 3}
"""Legs of each service."""


@dataclass(frozen=True, slots=True)
class LegReading:
    """One leg as it enters the sum. ``volts_limit`` and ``amps_limit`` are shared, the others its own."""

    volts: float
    amps: float
    factor: float
    factor_within: float
    angle: float
    """Factor of the angle between the leg's volts and the load's, 1 or cos 30 degrees."""
    volts_limit: float
    amps_limit: float
    below_range: bool


@dataclass(frozen=True, slots=True, eq=False)
class Legs:
    """The legs of one run, with the inputs and the model of what a sound meter registers."""

    readings: tuple[LegReading, ...]
    watts: tuple[float, ...]
    """Of each leg [W]."""
    source: str
    """Where the volts came from: ``read``, ``line``, ``meter``, ``sag`` (read without the load) or ``nominal`` (not
    read at all)."""
    inputs: tuple[Input, ...]
    model: Model
    """Watts [W] a sound meter of this form registers."""
    form_watts: float
    """What the form registers more than the true power at these readings [W], nothing broken."""

    @property
    def total_watts(self) -> float:
        """True power of all legs [W], as the readings have it."""
        return math.fsum(self.watts)


def angle_factor(run: Run, service: str) -> float:
    """Return the factor that a load between two legs of a wye brings into each leg, else 1.

    On a wye each leg's volts stand 30 degrees off the load's: V x I of the legs counts too much.
    """
    carrying = sum(1 for leg in run.legs if leg.amps > 0)
    wye = service == "network" or (service == "three-phase" and carrying == 2)
    return COS_30 if wye and run.connection != "line-to-neutral" else 1.0


def shared_line_volts(run: Run) -> tuple[float, str] | None:
    """Return the volts between the legs under load [V] and who read them: the meter, or the person."""
    if run.meter_volts is not None:
        return run.meter_volts, "meter"
    if run.line_volts is not None and run.volts_were_loaded:
        return run.line_volts, "line"
    return None


def legs_of(
    run: Run,
    service: str,
    form: Form | None,
    instruments: Instruments,
    display: Display,
    *,
    own_volts: bool,
    nominal_line_volts: float | None = None,
) -> Legs:
    """Return the legs of a run as a model of what the meter should register.

    Parameters
    ----------
    run : Run
        With legs.
    service : str
        One of :data:`LEGS`.
    own_volts : bool
        Whether each leg's own volts are used; else the line volts that were read under load stand for them.
    nominal_line_volts : float, optional
        Volts between legs [V] that stand for those nobody read.
    """
    voltmeter, _ = taken(instruments, "volts")
    clamp, _ = taken(instruments, "amps")
    line = shared_line_volts(run)
    if own_volts and all(leg.volts is not None for leg in run.legs):
        source, volts = "read", [leg.volts or 0.0 for leg in run.legs]
    elif line is not None:
        source, volts = line[1], [leg_volts(service, line[0])] * len(run.legs)
    else:
        sag = 1.0 - default("unloaded_sag_percent") / 100.0
        # unloaded line volts stand for a leg that has none of its own, less the sag
        spare = 0.0 if run.line_volts is None else leg_volts(service, run.line_volts)
        source, volts = "sag", [sag * (leg.volts or spare) for leg in run.legs]
        if not all(volts) and nominal_line_volts:
            source, volts = "nominal", [leg_volts(service, nominal_line_volts)] * len(run.legs)
    volts_percent = default("meter_volts_percent")
    readings = tuple(
        _leg(
            leg,
            v,
            run,
            service,
            clamp,
            volts_percent / 100.0 * v if source == "meter" else limit(voltmeter, v),
        )
        for leg, v in zip(run.legs, volts, strict=True)
    )
    share = _form_share(form, service, len(readings))
    inputs = _inputs(readings, source, share, run, voltmeter, clamp, display)
    model = _model(readings, service)
    watts = tuple(r.volts * r.amps * r.factor * r.angle for r in readings)
    return Legs(readings, watts, source, inputs, model, _form_watts(readings) if share[0] else 0.0)


def _leg(leg: Leg, volts: float, run: Run, service: str, clamp: Instrument, volts_limit: float) -> LegReading:
    below = clamp.min_amps is not None and 0 < leg.amps < clamp.min_amps
    wide = leg.amps * default("low_current_percent") / 100.0
    within = limit(clamp, leg.amps)
    if leg.leg_power_factor is not None:
        factor, angle = leg.leg_power_factor, 1.0
    else:
        factor, angle = (1.0 if leg.power_factor is None else leg.power_factor), angle_factor(run, service)
    doubt = default("motor_power_factor_within" if abs(factor) < 0.99 else "power_factor_within")
    return LegReading(volts, leg.amps, factor, doubt, angle, volts_limit, max(within, wide) if below else within, below)


def _form_share(form: Form | None, service: str, legs: int) -> tuple[float, float]:
    """Share of the form's own bias that a sound meter shows, and its half-width: half and half if unknown."""
    if service != "split-phase" or legs != 2:
        return 0.0, 0.0
    if form is None:
        return 0.5, 0.5
    return (1.0, 0.0) if form.line_volts_times_mean_amps else (0.0, 0.0)


def _form_watts(readings: tuple[LegReading, ...]) -> float:
    one, two = readings
    taken_by_form = form_2s_watts(
        (one.volts, two.volts),
        (one.amps * one.factor * one.angle, two.amps * two.factor * two.angle),
    )
    return taken_by_form - math.fsum(r.volts * r.amps * r.factor * r.angle for r in readings)


def _inputs(
    readings: tuple[LegReading, ...],
    source: str,
    share: tuple[float, float],
    run: Run,
    voltmeter: Instrument,
    clamp: Instrument,
    display: Display,
) -> tuple[Input, ...]:
    position = default("clamp_position_percent") / 100.0
    who = "meter's volts" if source == "meter" else "voltmeter"
    volts_step = (display.step_volts or 1.0) if source == "meter" else voltmeter.resolution
    inputs = [
        Input("volts", 0.0, 1.0, "rectangular", source=f"{who}, limit shared by the legs"),
        Input("clamp", 0.0, 1.0, "rectangular", source=f"{clamp.name}, limit shared by the legs"),
        Input("readings not together", 0.0, default("not_together_percent") / 100.0, "rectangular"),
        Input("wires", 0.0, default(_wire(run)), "rectangular", unit="ohm"),
    ]
    if source == "read":
        inputs += [
            Input(f"volts step {n}", 0.0, volts_step / 2.0, "rectangular", unit="V")
            for n in range(1, len(readings) + 1)
        ]
    else:
        inputs.append(Input("volts step", 0.0, volts_step / 2.0 / _parts(readings), "rectangular", unit="V"))
        unequal = default("legs_unequal_percent") / 100.0 * readings[0].volts
        inputs.append(Input("legs unequal", 0.0, unequal if len(readings) > 1 else 0.0, "rectangular", unit="V"))
    if source in ("sag", "nominal"):
        wide = default("unloaded_sag_percent" if source == "sag" else "nominal_volts_percent") / 100.0
        inputs.append(Input("sag", 0.0, wide, "rectangular"))
    for n, r in enumerate(readings, start=1):
        inputs += [
            Input(f"amps step {n}", 0.0, clamp.resolution / 2.0, "rectangular", unit="A"),
            Input(f"clamp position {n}", 0.0, position, "rectangular"),
        ]
        if n == 1 or r.factor_within != readings[0].factor_within:
            inputs.append(Input(f"power factor {n}", 0.0, r.factor_within, "rectangular"))
    if share[0]:
        inputs.append(Input("meter form", share[0], share[1], "rectangular"))
    known = [w for w in (run.background_w_before, run.background_w_after) if w]
    if known and run.clamps != "load" and any(r.angle == COS_30 for r in readings):
        # What else is on stands between a leg and neutral, at no angle: the load's angle takes too much off it.
        most = (1.0 - COS_30) * sum(known) / len(known)
        inputs.append(Input("background's angle", most / 2.0, most / 2.0, "rectangular", unit="W"))
    return tuple(inputs)


def _wire(run: Run) -> str:
    return "branch_ohms" if run.clamps == "load" else "main_ohms"


def _parts(readings: tuple[LegReading, ...]) -> float:
    return float(len(readings)) if len(readings) == 2 else 1.0


def _model(readings: tuple[LegReading, ...], service: str) -> Model:
    def watts(q: Mapping[str, Any]) -> Any:
        volts, currents = [], []
        for n, r in enumerate(readings, start=1):
            sign = 1.0 if n == 1 else -1.0 / max(len(readings) - 1, 1)
            v = r.volts + q["volts"] * r.volts_limit + q.get(f"volts step {n}", q.get("volts step", 0.0))
            volts.append(v * (1.0 + q.get("sag", 0.0)) + sign * q.get("legs unequal", 0.0))
            amps = r.amps + q["clamp"] * r.amps_limit + q[f"amps step {n}"]
            factor = r.factor + q.get(f"power factor {n}", q["power factor 1"])
            currents.append(amps * (1.0 + q[f"clamp position {n}"]) * factor * r.angle)
        total = sum(v * i for v, i in zip(volts, currents, strict=True))
        lost = sum(r.amps**2 for r in readings) * q["wires"]
        bias = 0.0
        if "meter form" in q:
            bias = q["meter form"] * (form_2s_watts((volts[0], volts[1]), (currents[0], currents[1])) - total)
        return (total + bias + q.get("background's angle", 0.0)) * (1.0 + q["readings not together"]) + lost

    return watts
