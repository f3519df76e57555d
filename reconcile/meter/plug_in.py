"""A known load through a plug-in meter: no cover removed, so the first test with a load that anybody may
make.

The plug-in meter and the house's meter see the same load, the house's meter besides it the background and
what the wires to the receptacle use up, which it rightly counts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from reconcile.meter.budget import Input, Model
from reconcile.meter.field_defaults import default
from reconcile.meter.instruments import limit, taken
from reconcile.site import Instruments, Run


def reference_inputs(run: Run, instruments: Instruments, outlet_volts: float) -> tuple[list[Input], Model]:
    """Return the inputs and the model of the watts [W] that the meter should have counted for the load.

    Parameters
    ----------
    run : Run
        With ``reference_watts``, or ``reference_kwh`` and the seconds it took.
    instruments : Instruments
    outlet_volts : float
        Nominal volts of the receptacle [V].

    Returns
    -------
    inputs : list of Input
        Besides ``timing``, which the meter's reading shares, so that it cancels where both were timed
        together.
    model : callable
    """
    plug, _ = taken(instruments, "watts")
    seconds = run.registered.seconds
    timed = run.reference_kwh is not None and seconds is not None
    watts = load_watts(run)
    inputs = [
        Input("plug-in meter", 0.0, limit(plug, watts) / watts, "rectangular", source=plug.name),
        _wire(run, watts / outlet_volts),
    ]
    if timed:
        step = plug.resolution_kwh or default("plug_in_step_kwh")
        inputs.append(Input("plug-in kWh", run.reference_kwh or 0.0, step, "triangular", unit="kWh"))
    else:
        inputs.append(Input("plug-in watts", watts, plug.resolution / 2.0, "rectangular", unit="W"))

    def model(q: Mapping[str, Any]) -> Any:
        load = 3.6e6 * q["plug-in kWh"] / q["timing"] if timed else q["plug-in watts"]
        amps = load / outlet_volts
        return load * (1.0 + q["plug-in meter"]) + amps * amps * q["wires to the receptacle"]

    return inputs, model


def load_watts(run: Run) -> float:
    """Return the load's power by the plug-in meter [W]: its energy over the seconds where both are known."""
    if run.reference_kwh is not None and run.registered.seconds:
        return 3.6e6 * run.reference_kwh / run.registered.seconds
    return run.reference_watts or 0.0


def _wire(run: Run, amps: float) -> Input:
    most = 2.0 * default("branch_ohms")
    why = "typical wires to a receptacle"
    if run.outlet_volts_off is not None and run.outlet_volts_on is not None and amps > 0:
        # The sag at the receptacle is an upper bound: part of it lies ahead of the meter.
        sag = max(run.outlet_volts_off - run.outlet_volts_on, 0.0)
        most, why = sag / amps, f"sag of {sag:.1f} V at the receptacle"
    return Input("wires to the receptacle", most / 2.0, most / 2.0, "rectangular", unit="ohm", source=why)


def background(run: Run, step_kw: float | None) -> tuple[list[Input], Model]:
    """Return the inputs and the model of the background watts [W] under the load, from before and after it.

    ``background`` is their mean, ``background drift`` what may have moved between them.
    """
    before, after = run.background_w_before, run.background_w_after
    known = [b for b in (before, after) if b is not None]
    mean = math.fsum(known) / len(known)
    reading = max((step_kw or 0.0) * 500.0, default("background_watts"))
    if before is not None and after is not None:
        drift = abs(after - before) / 2.0
    else:
        drift = mean * default("background_drift_percent") / 100.0
    inputs = [
        Input("background reading", 0.0, reading / math.sqrt(len(known)), "rectangular", unit="W"),
        Input("background drift", 0.0, drift, "rectangular", unit="W"),
    ]

    def model(q: Mapping[str, Any]) -> Any:
        return mean + q["background reading"] + q["background drift"]

    return inputs, model
