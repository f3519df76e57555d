"""One run with a known load: the meter's registration in percent, with its full budget."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any, Literal

import numpy as np

from reconcile.house import House, Meter
from reconcile.house.registers import current_meter
from reconcile.house.site import FieldTest, Run
from reconcile.meter.budget import Budget, Input, Model, propagate
from reconcile.meter.forms import VOLTS, Form, form_of, leg_volts
from reconcile.meter.legs import LEGS, Legs, legs_of, shared_line_volts
from reconcile.meter.plug_in import background, load_watts, reference_inputs
from reconcile.meter.registered import Shown, best, readings
from reconcile.records import dataclass

LEAST_WATTS = 1.0
"""Below this there is no load to judge by [W]."""

MOST = 1e9
"""Figures beyond this are no reading of a house [W or %]."""

Kind = Literal["plug-in", "clamps"]


@dataclass(frozen=True, slots=True, eq=False)
class Weighed:
    """A run reduced to a registration."""

    run: Run
    kind: Kind
    shown: Shown
    """What the meter registered, the background still in it for a plug-in run."""
    legs: Legs | None
    measured_w: float
    """True power of the load by the instruments [W]."""
    meter_w: float
    """What the meter registered of it [W]."""
    expected_w: float
    """What a sound meter of its form would register of it [W]."""
    budget: Budget
    """Of the registration [%]."""
    inputs: tuple[Input, ...]
    model: Model
    """Both: of the registration, for a Monte Carlo."""
    other_way_percent: tuple[float, float] | None = None
    """Registration and its standard uncertainty [%] by the load's other instrument, where both were used."""
    ways: int = 1
    """In how many ways the meter itself was read."""
    name: str = ""
    """What the run is called where several carry one label."""

    @property
    def named(self) -> str:
        """What the run is called, apart from every other."""
        return self.name or self.run.label

    @property
    def percent(self) -> float:
        """Registration [%]; 100 is right, above is fast."""
        return self.budget.value


def outlet_volts(house: House) -> float:
    """Return the nominal volts of a receptacle [V].

    Examples
    --------
    >>> outlet_volts(House("a", (), service="network")), outlet_volts(House("a", (), service="two-wire"))
    (120.0, 230.0)
    """
    if house.service in ("split-phase", "network", "unknown"):
        return 120.0
    line = house.line_volts or VOLTS[house.service]
    return float(round(leg_volts(house.service, line)))


def service_of(run: Run, house: House) -> str:
    """Return the service a run was made on: its own, else the house's."""
    return run.service or house.service


def line_volts_of(house: House, service: str) -> float:
    """Return the volts between legs [V] to expect of a service."""
    return house.line_volts or VOLTS.get(service, 240.0)


def weigh_run(
    run: Run, house: House, test: FieldTest, meter: Meter | None = None, *, sketch: bool = False
) -> Weighed | str:
    """Reduce a run to the meter's registration.

    Parameters
    ----------
    house : House
        For its meter, service and volts.
    test : FieldTest
        For the instruments and the display.
    meter : Meter, optional
        The meter that hangs on the wall now by default.
    sketch : bool
        Leave the budget out, for the registration alone.

    Returns
    -------
    Weighed or str
        A code of :data:`reconcile.texts.field.field_remarks.REMARKS` says why the run cannot be judged.
    """
    meter = meter or current_meter(house)
    shown = best(run.registered, meter, test.instruments, test.display)
    if shown is None:
        if meter.display == "kW demand" and run.registered.meter_kw is not None:
            return "demand-display"
        return "no-meter-reading"
    tried = [_sure(f, run, shown, house, test, meter, sketch) for f in (_by_plug, _by_clamps) if _has(f, run)]
    done = [weighed for weighed in tried if isinstance(weighed, Weighed)]
    if done:
        done.sort(key=lambda weighed: weighed.budget.standard_uncertainty)
        other = (done[1].percent, done[1].budget.standard_uncertainty) if len(done) > 1 else None
        ways = len(readings(run.registered, meter, test.instruments, test.display))
        return replace(done[0], other_way_percent=other, ways=ways)
    return next((why for why in tried if isinstance(why, str)), "no-load-measured")


def _has(way: Any, run: Run) -> bool:
    known_load = run.reference_watts is not None or run.reference_kwh is not None
    return known_load if way is _by_plug else bool(run.legs)


def _sure(way: Any, *what: Any) -> Weighed | str:
    try:
        with np.errstate(all="ignore"):  # what is not finite is refused below
            done: Weighed | str = way(*what)
    except (ValueError, ZeroDivisionError, OverflowError):
        return "no-power"
    if isinstance(done, Weighed):
        figures = (done.percent, done.budget.expanded_uncertainty, done.measured_w, done.meter_w, done.expected_w)
        if not all(abs(figure) < MOST for figure in figures):
            return "no-power"
    return done


def _by_plug(
    run: Run, shown: Shown, house: House, test: FieldTest, meter: Meter, sketch: bool = False
) -> Weighed | str:
    if run.reference_watts is None and not run.registered.seconds:
        return "no-seconds"
    if load_watts(run) < LEAST_WATTS:
        return "no-plug-in-load"
    if run.background_w_before is None and run.background_w_after is None:
        return "no-background"
    wanted, load = reference_inputs(run, test.instruments, outlet_volts(house))
    rest, idle = background(run, test.display.step_kw)
    return _made(run, shown, None, [*wanted, *rest], load, idle, test, sketch)


def _by_clamps(
    run: Run, shown: Shown, house: House, test: FieldTest, meter: Meter, sketch: bool = False
) -> Weighed | str:
    service = service_of(run, house)
    if service not in LEGS:
        return "no-service"
    form = form_of(meter.form)
    legs = clamped_legs(run, service, form, test, line_volts_of(house, service))
    if legs.total_watts < LEAST_WATTS:
        return "no-legs-power"
    rest: list[Input] = []
    idle: Model | None = None
    if run.clamps == "load" and (run.background_w_before is not None or run.background_w_after is not None):
        rest, idle = background(run, test.display.step_kw)
    return _made(run, shown, legs, [*legs.inputs, *rest], legs.model, idle, test, sketch)


def clamped_legs(run: Run, service: str, form: Form | None, test: FieldTest, nominal: float | None = None) -> Legs:
    """Return the legs with volts that can be trusted: their own, unless they were read without the load.

    ``nominal`` [V between legs] stands where nobody read any.
    """
    own = run.volts_were_loaded and all(leg.volts is not None for leg in run.legs)
    if own and unloaded_by_mistake(run, service, form, test):
        own = False
    return legs_of(run, service, form, test.instruments, test.display, own_volts=own, nominal_line_volts=nominal)


MOST_UNLOADED = 0.08
"""By how much legs read without the load may stand over those with it before one of the figures is taken for misread
(common practice: a heavy load pulls a house's volts down by three per cent or so, a weak service by twice that)."""


def unloaded_by_mistake(run: Run, service: str, form: Form | None, test: FieldTest) -> bool:
    """Return whether the legs' volts exceed the meter's loaded line volts by more than both can be wrong.

    Wires only lose volts from the meter to the panel; legs that add up to clearly more were read without the
    load.
    """
    line = shared_line_volts(run)
    if line is None or line[1] != "meter" or any(leg.volts is None for leg in run.legs):
        return False
    own = legs_of(run, service, form, test.instruments, test.display, own_volts=True)
    theirs = legs_of(run, service, form, test.instruments, test.display, own_volts=False)
    count = len(own.readings)
    excess = sum(r.volts for r in own.readings) / count - theirs.readings[0].volts
    doubt = (own.readings[0].volts_limit ** 2 / 3.0 + theirs.readings[0].volts_limit ** 2 / 3.0) ** 0.5
    return bool(2.0 * doubt < excess <= MOST_UNLOADED * theirs.readings[0].volts)


def _made(
    run: Run,
    shown: Shown,
    legs: Legs | None,
    inputs: Sequence[Input],
    load: Model,
    idle: Model | None,
    test: FieldTest,
    sketch: bool,
) -> Weighed:
    inputs = unique([*shown.inputs, *inputs])
    if run.reference_kwh is not None and not any(q.name == "timing" for q in inputs):
        seconds = run.registered.seconds or 0.0
        inputs.append(Input("timing", seconds, test.instruments.time_seconds, "rectangular", unit="s"))
    at_best = {q.name: q.value for q in inputs}

    def registered(q: Mapping[str, Any]) -> Any:
        return shown.model(q) - (0.0 if idle is None else idle(q))

    def percent(q: Mapping[str, Any]) -> Any:
        return 100.0 * registered(q) / load(q)

    expected = float(load(at_best))
    at_the_plug = {**at_best, "wires to the receptacle": 0.0}
    measured = legs.total_watts if legs is not None else float(load(at_the_plug))
    return Weighed(
        run,
        "plug-in" if legs is None else "clamps",
        shown,
        legs,
        measured,
        float(registered(at_best)),
        expected,
        Budget(float(percent(at_best)), 0.0, (), math.inf, 0.95, 2.0) if sketch else propagate(percent, inputs),
        tuple(inputs),
        percent,
    )


def unique(inputs: Sequence[Input]) -> list[Input]:
    """Return the inputs, the first of each name."""
    return list({q.name: q for q in reversed(inputs)}.values())[::-1]
