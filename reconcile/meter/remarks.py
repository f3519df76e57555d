"""What a person must be told of one run: where the volts came from, legs, power factor, form, display, load point."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from reconcile.house import Meter
from reconcile.meter.forms import COS_30, ELEMENTS_NEEDED, Form, form_of, leg_volts
from reconcile.meter.instruments import limit, taken
from reconcile.meter.legs import Legs, legs_of, shared_line_volts
from reconcile.meter.load_run import Weighed
from reconcile.meter.registered import WORDS, readings
from reconcile.site import FieldTest

FORM_WORTH_SAYING_PERCENT = 0.2
"""Share of the power that a form's own way must reach before it is mentioned [%]."""
RANGE_A = (0.95, 1.05)
"""Service volts over nominal: 114-126 V on 120 (ANSI C84.1 Range A, the same numbers read in COMAR 20.50.07.02)."""
LOOSE_NEUTRAL_PERCENT = 5.0
"""Difference of two legs' volts over their mean at which to stop [%] (common practice, no published source)."""


def remarks(weighed: Weighed, service: str, meter: Meter, test: FieldTest) -> tuple[str, ...]:
    """Return every remark on one run, the weightiest first.

    Parameters
    ----------
    weighed : Weighed
    service : str
    meter : Meter
    test : FieldTest

    Returns
    -------
    tuple of str
        Plain sentences with their numbers.
    """
    said: list[str] = []
    if weighed.legs is not None:
        form = form_of(meter.form)
        said += _volts(weighed, weighed.legs, service, form, test)
        said += _legs(weighed, weighed.legs, service, test)
        said += _form(weighed, weighed.legs, service, meter, form)
        said += _currents(weighed, weighed.legs, service, test)
        if weighed.run.clamps != "load" and weighed.run.background_w_before is not None:
            said.append(
                "The clamps were on the service, so what else was on is in both readings: the background "
                "was not "
                'taken off. If they were on the load\'s own wires, write clamps = "load".'
            )
    else:
        said += _plug(weighed)
    said += _meter(weighed, meter, test)
    said += _assumed(weighed, test)
    return tuple(said)


def loose_neutral(weighed: Weighed) -> str | None:
    """Return why to stop, where two legs' volts differ clearly under load; None where they do not."""
    legs = weighed.legs
    if legs is None or legs.source != "read" or len(legs.readings) < 2:
        return None
    volts = [r.volts for r in legs.readings]
    mean = sum(volts) / len(volts)
    if 100.0 * (max(volts) - min(volts)) / mean <= LOOSE_NEUTRAL_PERCENT:
        return None
    return (
        f"The legs' volts to neutral lie {max(volts) - min(volts):.1f} V apart under load "
        f"({min(volts):.1f} and "
        f"{max(volts):.1f} V). That can be a loose or broken neutral: stop, and call the utility's "
        f"emergency line."
    )


def _volts(weighed: Weighed, legs: Legs, service: str, form: Form | None, test: FieldTest) -> Iterator[str]:
    run, line = weighed.run, shared_line_volts(weighed.run)
    if legs.source == "sag":
        yield (
            "The volts were read without the load, and nobody read them with it: they are taken 1.5 % "
            "lower, give or "
            "take as much."
        )
        return
    if line is None:
        return
    known = all(leg.volts is not None for leg in run.legs)
    other = legs_of(run, service, form, test.instruments, test.display, own_volts=False)
    share = leg_volts(service, line[0])
    part = {"split-phase": "half of ", "two-wire": ""}.get(service, "1/1.732 of ")
    whose = "the meter's own" if line[1] == "meter" else "the loaded"
    off = other.total_watts - weighed.meter_w
    at_line = (
        f"With {part}{whose} {line[0]:g} V ({share:.1f} V a leg) the same currents make "
        f"{other.total_watts:,.1f} W: "
        f"{abs(off):,.1f} W ({abs(off) / weighed.expected_w * 100.0:.2f} %) from the meter's "
        f"{weighed.meter_w:,.0f} W."
    )
    if legs.source != "read":
        if known:
            yield (
                "The legs' volts were read without the load, or are higher than the meter's loaded volts "
                "allow: they "
                "are set aside, since a heavy load pulls the volts down."
            )
        yield at_line
        if line[1] == "meter":
            yield "So the meter's own volts are taken on trust; what this run tests is its amps and its arithmetic."
        return
    yield at_line
    own = legs.total_watts
    gap = 100.0 * abs(own - other.total_watts) / own
    doubt = weighed.budget.expanded_uncertainty
    if gap < doubt:
        like = ", as a form like this takes them," if form and form.line_volts_times_mean_amps else ""
        yield (
            f"So volts read under load{like} explain {gap:.1f} % of difference. That is inside the instruments' doubt "
            f"(about {doubt:.0f} %): the readings are consistent, and do not tell which volts are right."
        )


def _legs(weighed: Weighed, legs: Legs, service: str, test: FieldTest) -> Iterator[str]:
    parts = [
        f"{r.volts:g} V x {r.amps:g} A"
        + (f" x {r.factor * r.angle:.3f}" if abs(r.factor * r.angle - 1.0) > 5e-4 else "")
        + f" = {w:,.2f} W"
        for r, w in zip(legs.readings, legs.watts, strict=True)
    ]
    yield f"Legs: {'; '.join(parts)}; {legs.total_watts:,.2f} W in all."
    if legs.source == "read" and len(legs.readings) > 1:
        yield from _balance(weighed, legs, service, test)
    amps = [r.amps for r in legs.readings]
    if service in ("split-phase", "network") and len(amps) == 2 and max(amps) > 0:
        neutral = abs(amps[0] - amps[1])
        if service == "network":
            neutral = math.sqrt(amps[0] ** 2 + amps[1] ** 2 - amps[0] * amps[1])
            if weighed.run.connection == "line-to-line":
                neutral = abs(amps[0] - amps[1])
        clamp, _ = taken(test.instruments, "amps")
        if neutral > 2.0 * clamp.resolution + limit(clamp, 0.0) + 0.02 * max(amps):
            yield (
                f"The legs carry {amps[0]:g} and {amps[1]:g} A, so about {neutral:.1f} A runs in the "
                f"neutral: "
                "something on one leg only was on beside a load between the legs."
            )


def _balance(weighed: Weighed, legs: Legs, service: str, test: FieldTest) -> Iterator[str]:
    volts = [r.volts for r in legs.readings]
    meter, _ = taken(test.instruments, "volts")
    own = 2.0 * (meter.digits * meter.resolution + meter.resolution / 2.0) + 0.1
    apart = max(volts) - min(volts)
    if apart > own:
        yield f"The legs' volts differ by {apart:.1f} V, more than one voltmeter differs with itself ({own:.1f} V)."
    line = shared_line_volts(weighed.run)
    if line is None:
        return
    wanted = leg_volts(service, line[0])
    off = sum(volts) / len(volts) - wanted
    doubt = math.hypot(legs.readings[0].volts_limit, 0.005 * wanted)
    if abs(off) > doubt:
        sense = "higher" if off > 0 else "lower"
        yield (
            f"The legs' volts are {abs(off):.1f} V {sense} than {line[0]:g} V between the legs allows "
            f"({wanted:.1f} V each), beyond what the voltmeter may be out ({doubt:.1f} V)."
        )


def _form(weighed: Weighed, legs: Legs, service: str, meter: Meter, form: Form | None) -> Iterator[str]:
    share = 100.0 * legs.form_watts / legs.total_watts
    if abs(share) > FORM_WORTH_SAYING_PERCENT:
        more = "more" if legs.form_watts > 0 else "less"
        known = (
            f"A form {meter.form} takes the volts between the legs times the mean of their amps, so here it registers"
            if form is not None
            else "If the meter is of form 2S (volts between the legs times the mean of the amps), here it registers"
        )
        yield (
            f"{known} {abs(legs.form_watts):,.0f} W ({abs(share):.1f} %) {more} than flows, with nothing "
            f"broken: a "
            "load on both legs alike avoids it."
        )
    if form is not None and service not in form.services:
        yield f"A meter of form {form.name} does not belong on this service ({service}): read its nameplate again."
    elif form is not None and form.elements < ELEMENTS_NEEDED[service] and not form.line_volts_times_mean_amps:
        yield f"A form {form.name} has fewer elements than this service needs, so unequal legs are out by a little."
    if any(r.angle == COS_30 for r in legs.readings):
        yield (
            "On a wye a load between two legs stands 30 degrees off each leg's volts: V x I of the legs, "
            f"{sum(r.volts * r.amps for r in legs.readings):,.0f} VA, is 2/sqrt(3) = 1.155 times the true "
            f"power."
        )


def _currents(weighed: Weighed, legs: Legs, service: str, test: FieldTest) -> Iterator[str]:
    clamp, _ = taken(test.instruments, "amps")
    for n, r in enumerate(legs.readings, start=1):
        if r.below_range:
            yield (
                f"Leg {n} carries {r.amps:g} A, below the {clamp.min_amps:g} A from which the clamp's "
                f"limits hold: "
                "use a larger load, or pass the wire through the jaws several times and divide."
            )
        if r.angle == 1.0 and abs(r.factor) < 0.95 and weighed.run.legs[n - 1].leg_power_factor is None:
            yield (
                f"Leg {n} has a power factor of {r.factor:.2f}: amps times volts alone would count "
                f"{r.volts * r.amps:,.0f} VA for {r.volts * r.amps * r.factor:,.0f} W."
            )
        nominal = {"split-phase": 120.0, "network": 120.0, "two-wire": 230.0}.get(service)
        if nominal and not RANGE_A[0] * nominal <= r.volts <= RANGE_A[1] * nominal and legs.source != "sag":
            yield (
                f"Leg {n} stands at {r.volts:.1f} V, outside the usual {RANGE_A[0] * nominal:.0f} to "
                f"{RANGE_A[1] * nominal:.0f} V: tell the utility."
            )


def _plug(weighed: Weighed) -> Iterator[str]:
    lost = weighed.expected_w - weighed.measured_w
    known = weighed.run.outlet_volts_off is not None and weighed.run.outlet_volts_on is not None
    how = "from the sag read there" if known else "typical wires; an outlet near the panel makes it small"
    yield (
        f"The wires to the receptacle use about {lost:.0f} W (give or take {lost:.0f}) that the meter "
        f"rightly counts "
        f"({how})."
    )
    before, after = weighed.run.background_w_before, weighed.run.background_w_after
    if before is None or after is None:
        yield "What else was on was read only before or after the run, so a fifth of it is taken as doubt."
    elif abs(after - before) > 0.02 * weighed.measured_w:
        yield (
            f"What else was on went from {before:.0f} to {after:.0f} W during the run: something "
            f"switched. Repeat the "
            "run when the house is quiet."
        )


def _meter(weighed: Weighed, meter: Meter, test: FieldTest) -> Iterator[str]:
    run = weighed.run
    every = readings(run.registered, meter, test.instruments, test.display)
    for one, other in pairwise(every):
        gap = one.watts - other.watts
        doubt = math.hypot(one.standard_uncertainty, other.standard_uncertainty)
        if abs(gap) > 3.0 * doubt and {one.way, other.way} & {"display"} and run.registered.seconds:
            yield (
                f"{WORDS[one.way].capitalize()} gives {one.watts:,.0f} W and {WORDS[other.way]} "
                f"{other.watts:,.0f} W "
                "over the run: the load switched off and on (a thermostat?), or the display lags. Time "
                "the energy "
                "while the load is steady."
            )
    if run.reference_watts is not None and run.reference_kwh is not None and run.registered.seconds:
        mean = 3.6e6 * run.reference_kwh / run.registered.seconds
        if abs(mean - run.reference_watts) > 0.03 * run.reference_watts:
            yield (
                f"The load drew {mean:,.0f} W on the average of the run against "
                f"{run.reference_watts:,.0f} W while on: "
                "a thermostat cycled. The kilowatt-hours are what counts here."
            )
    step = next((c for c in weighed.budget.components if c.name in ("display", "count")), None)
    if step is not None and step.share > 0.25:
        longer = "a longer run" if step.name == "count" else "a larger load, or timed pulses,"
        yield (
            f"A good part of the doubt ({100.0 * step.share:.0f} %) is the step of {WORDS[weighed.shown.way]}: "
            f"{longer} shrinks it."
        )
    if meter.multiplier != 1.0:
        yield f"The meter's reading was multiplied by {meter.multiplier:g}."


def _assumed(weighed: Weighed, test: FieldTest) -> Iterator[str]:
    wanted = ("watts",) if weighed.kind == "plug-in" else ("volts", "amps")
    for quantity in wanted:
        instrument, assumed = taken(test.instruments, quantity)
        meters_own = weighed.legs is not None and weighed.legs.source == "meter"
        if assumed and not (quantity == "volts" and meters_own):
            yield (
                f"No limits are written for the instrument for {quantity}: those of a {instrument.name} "
                f"were taken "
                f"({instrument.percent_of_reading:g} % + {instrument.digits:g} digits; common practice)."
            )
