"""A known load through a plug-in meter: no cover removed, so the first test with a load that anybody may
make.

The plug-in meter and the house's meter see the same load, the house's meter besides it the background and
what the wires to the receptacle use up, which it rightly counts.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from reconcile.house.site import Instruments, Run
from reconcile.meter.budget import Input, Model
from reconcile.meter.field_defaults import default
from reconcile.meter.instruments import limit, taken


def reference_inputs(run: Run, instruments: Instruments, outlet_volts: float) -> tuple[list[Input], Model]:
    """Return the inputs and the model of the watts [W] that the meter should have counted for the load.

    Parameters
    ----------
    run : Run
        With ``reference_watts``, or ``reference_kwh`` and the seconds it took.
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
        inputs += [Input("plug-in watts", watts, plug.resolution / 2.0, "rectangular", unit="W"), _wander(run)]

    def model(q: Mapping[str, Any]) -> Any:
        load = 3.6e6 * q["plug-in kWh"] / q["timing"] if timed else q["plug-in watts"] * (1.0 + q[WANDER])
        amps = load / outlet_volts
        return load * (1.0 + q["plug-in meter"]) + amps * amps * q["wires to the receptacle"]

    return inputs, model


WANDER = "readings not together"


def _wander(run: Run) -> Input:
    """What the load's watts were over the whole run, where they were read at some moments of it."""
    several = run.watts_repeats
    if len(several) < 2:
        return Input(WANDER, 0.0, default("not_together_percent") / 100.0, "rectangular")
    mean = math.fsum(several) / len(several)
    spread = math.sqrt(math.fsum((w / mean - 1.0) ** 2 for w in several) / (len(several) - 1))
    why = f"{len(several)} readings"
    return Input(WANDER, 0.0, spread / math.sqrt(len(several)), "normal", 1.0, len(several) - 1, source=why)


def load_watts(run: Run) -> float:
    """Return the load's power by the plug-in meter [W]: its energy over the seconds where both are known."""
    if run.reference_kwh is not None and run.registered.seconds:
        return 3.6e6 * run.reference_kwh / run.registered.seconds
    return run.reference_watts or 0.0


def _wire(run: Run, amps: float) -> Input:
    most = 2.0 * default("branch_ohms")
    why = "typical wires to a receptacle"
    if sag_known(run) and amps > 0:
        # The sag at the receptacle is an upper bound: part of it lies ahead of the meter.
        sag = (run.outlet_volts_off or 0.0) - (run.outlet_volts_on or 0.0)
        most, why = sag / amps, f"sag of {sag:.1f} V at the receptacle"
    return Input("wires to the receptacle", most / 2.0, most / 2.0, "rectangular", unit="ohm", source=why)


def sag_known(run: Run) -> bool:
    """Return whether the receptacle's volts were read off and on, and fell as volts can fall."""
    return 0.0 <= sag_share(run) <= MOST_SAG


def sag_share(run: Run) -> float:
    """Return the part of its volts that a receptacle lost under load; NaN where they were not read off and on.

    Examples
    --------
    >>> from reconcile.house.site import Registered
    >>> sag_share(Run("heater", Registered(), outlet_volts_off=120.0, outlet_volts_on=90.0))
    0.25
    """
    off, on = run.outlet_volts_off, run.outlet_volts_on
    return 1.0 - on / off if off and on else math.nan


MOST_SAG = 0.5
"""Part of its volts that a receptacle may lose before the figures are taken for misread (our choice: below half its
volts a heater makes a quarter of its heat, and hardly a plug-in meter still works)."""
BACKGROUND_DRIFT = "background drift"
PRIOR_FREEDOM = 6.0
"""How many readings the usual wander of a background is worth beside those that were made."""


def background(run: Run, step_kw: float | None) -> tuple[list[Input], Model]:
    """Return the inputs and the model of the background watts [W] under the load, from before and after it.

    Two readings are two samples of something that wanders: what it was in between is known no better than they agree,
    and that they agree once proves little. So their scatter is joined with the usual one, which counts as
    :data:`PRIOR_FREEDOM` readings more, and carries as many degrees of freedom.
    """
    ends = [b for b in (run.background_w_before, run.background_w_after) if b is not None]
    known = list(run.background_repeats) or ends
    mean = math.fsum(ends) / len(ends)
    reading = max((step_kw or 0.0) * 500.0, default("background_watts"))
    if len(ends) > 1:
        count = len(known)
        centre = math.fsum(known) / count
        spread = math.fsum((b - centre) ** 2 for b in known)
        usual = default("background_wander_percent") / 100.0 * mean
        freedom = PRIOR_FREEDOM + count - 1
        # what it was in between is one more of them, set against their mean
        doubt = math.sqrt((PRIOR_FREEDOM * usual**2 + spread) / freedom * (1.0 + 1.0 / count))
        drift = Input(BACKGROUND_DRIFT, 0.0, doubt, "normal", 1.0, freedom, "W", f"{count} readings")
    else:
        once = mean * default("background_drift_percent") / 100.0
        drift = Input(BACKGROUND_DRIFT, 0.0, once, "rectangular", unit="W")
    inputs = [Input("background reading", 0.0, reading / math.sqrt(len(known)), "rectangular", unit="W"), drift]

    def model(q: Mapping[str, Any]) -> Any:
        return mean + q["background reading"] + q[BACKGROUND_DRIFT]

    return inputs, model
