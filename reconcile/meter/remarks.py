"""What a person must be told of one run: where the volts came from, legs, power factor, form, display, load point."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from reconcile.house import Meter
from reconcile.house.site import FieldTest, Run
from reconcile.meter.forms import COS_30, ELEMENTS_NEEDED, Form, form_of, leg_volts, network_overstatement
from reconcile.meter.instruments import limit, taken
from reconcile.meter.judged import Remark
from reconcile.meter.legs import Legs, legs_of, shared_line_volts
from reconcile.meter.load_run import Weighed
from reconcile.meter.plug_in import sag_known
from reconcile.meter.reference_load import unfit_in_note, unfit_load
from reconcile.meter.registered import readings
from reconcile.meter.signs import GOOD_SAG, poor_joint

FORM_WORTH_SAYING_PERCENT = 0.2
"""Share of the power that a form's own way must reach before it is mentioned [%]."""
RANGE_A = (0.95, 1.05)
"""Service volts over nominal: 114-126 V on 120 (ANSI C84.1 Range A, the same numbers read in COMAR 20.50.07.02)."""


def remarks(weighed: Weighed, service: str, meter: Meter, test: FieldTest) -> tuple[Remark, ...]:
    """Return every remark on one run, the weightiest first."""
    said: list[Remark] = []
    if weighed.legs is not None:
        form = form_of(meter.form)
        said += _volts(weighed, weighed.legs, service, form, test)
        said += _legs(weighed, weighed.legs, service, test)
        said += _form(weighed.legs, service, meter, form)
        said += _currents(weighed, weighed.legs, service, test)
        if weighed.run.clamps != "load" and weighed.run.background_w_before is not None:
            said.append(Remark("background-in-both"))
    else:
        said += _plug(weighed)
    why, by_note = unfit_load(weighed.run.label), unfit_in_note(weighed.run.note)
    if why is not None:
        said.append(Remark("unfit-load", {"load": weighed.run.label, "why": why}))
    elif by_note is not None:
        said.append(Remark("unfit-in-note", {"note": weighed.run.note, "why": by_note}))
    said += _meter(weighed, meter, test)
    return tuple(said)


def _volts(weighed: Weighed, legs: Legs, service: str, form: Form | None, test: FieldTest) -> Iterator[Remark]:
    run, line = weighed.run, shared_line_volts(weighed.run)
    if legs.source in ("sag", "nominal"):
        yield Remark(f"volts-{legs.source}")
        return
    if line is None:
        return
    known = all(leg.volts is not None for leg in run.legs)
    other = legs_of(run, service, form, test.instruments, test.display, own_volts=False)
    at_line = Remark(
        "at-line-volts",
        {
            "service": service,
            "whose": line[1],
            "line": line[0],
            "share": leg_volts(service, line[0]),
            "watts": other.total_watts,
            "off": other.total_watts - weighed.meter_w,
            "percent": abs(other.total_watts - weighed.meter_w) / weighed.expected_w * 100.0,
            "meter": weighed.meter_w,
        },
    )
    if legs.source != "read":
        if known:
            yield Remark("volts-set-aside")
        yield at_line
        if line[1] == "meter":
            yield Remark("volts-on-trust")
        return
    yield at_line
    gap = 100.0 * abs(legs.total_watts - other.total_watts) / legs.total_watts
    doubt = weighed.budget.expanded_uncertainty
    if gap < doubt:
        like = bool(form and form.line_volts_times_mean_amps)
        yield Remark("volts-consistent", {"gap": gap, "doubt": doubt, "form_takes_line": like})


def _legs(weighed: Weighed, legs: Legs, service: str, test: FieldTest) -> Iterator[Remark]:
    parts = [(r.volts, r.amps, r.factor * r.angle, w) for r, w in zip(legs.readings, legs.watts, strict=True)]
    yield Remark("legs", {"parts": parts, "total": legs.total_watts})
    if legs.source == "read" and len(legs.readings) > 1:
        yield from _balance(weighed, legs, service, test)
    amps = [r.amps for r in legs.readings]
    if service in ("split-phase", "network") and len(amps) == 2 and max(amps) > 0:
        neutral = abs(amps[0] - amps[1])
        if service == "network" and weighed.run.connection == "line-to-neutral":
            neutral = math.sqrt(amps[0] ** 2 + amps[1] ** 2 - amps[0] * amps[1])
        clamp, _ = taken(test.instruments, "amps")
        if neutral > 2.0 * clamp.resolution + limit(clamp, 0.0) + 0.02 * max(amps):
            yield Remark("neutral-current", {"one": amps[0], "other": amps[1], "neutral": neutral})


def _balance(weighed: Weighed, legs: Legs, service: str, test: FieldTest) -> Iterator[Remark]:
    volts = [r.volts for r in legs.readings]
    meter, _ = taken(test.instruments, "volts")
    own = 2.0 * (meter.digits * meter.resolution + meter.resolution / 2.0) + 0.1
    apart = max(volts) - min(volts)
    if apart > own:
        yield Remark("legs-apart", {"apart": apart, "own": own})
    line = shared_line_volts(weighed.run)
    if line is None:
        return
    wanted = leg_volts(service, line[0])
    off = sum(volts) / len(volts) - wanted
    doubt = math.hypot(legs.readings[0].volts_limit, 0.005 * wanted)
    if abs(off) > doubt:
        yield Remark("legs-and-line", {"off": off, "line": line[0], "wanted": wanted, "doubt": doubt})


def _form(legs: Legs, service: str, meter: Meter, form: Form | None) -> Iterator[Remark]:
    share = 100.0 * legs.form_watts / legs.total_watts
    if abs(share) > FORM_WORTH_SAYING_PERCENT:
        known = meter.form if form is not None else None
        yield Remark("form-registers", {"form": known, "watts": legs.form_watts, "percent": abs(share)})
    if form is not None and service not in form.services:
        yield Remark("form-not-of-service", {"form": form.name, "service": service})
    elif form is not None and form.elements < ELEMENTS_NEEDED[service] and not form.line_volts_times_mean_amps:
        yield Remark("form-too-few-elements", {"form": form.name})
    if any(r.angle == COS_30 for r in legs.readings):
        apparent = sum(r.volts * r.amps for r in legs.readings)
        yield Remark("thirty-degrees", {"apparent": apparent, "factor": network_overstatement()})


def _currents(weighed: Weighed, legs: Legs, service: str, test: FieldTest) -> Iterator[Remark]:
    clamp, _ = taken(test.instruments, "amps")
    for n, r in enumerate(legs.readings, start=1):
        if r.below_range:
            yield Remark("leg-below-range", {"leg": n, "amps": r.amps, "least": clamp.min_amps})
        if r.angle == 1.0 and abs(r.factor) < 0.95 and weighed.run.legs[n - 1].leg_power_factor is None:
            apparent = r.volts * r.amps
            yield Remark(
                "leg-power-factor", {"leg": n, "factor": r.factor, "apparent": apparent, "true": apparent * r.factor}
            )
        nominal = {"split-phase": 120.0, "network": 120.0, "two-wire": 230.0}.get(service)
        if nominal and not RANGE_A[0] * nominal <= r.volts <= RANGE_A[1] * nominal and legs.source in ("read", "line"):
            low, high = (share * nominal for share in RANGE_A)
            yield Remark("outside-range-a", {"leg": n, "volts": r.volts, "low": low, "high": high})


def _plug(weighed: Weighed) -> Iterator[Remark]:
    lost = weighed.expected_w - weighed.measured_w
    yield Remark("wires-to-receptacle", {"watts": lost, "sag_read": sag_known(weighed.run)})
    before, after = weighed.run.background_w_before, weighed.run.background_w_after
    if before is not None and after is not None and abs(after - before) > 0.02 * weighed.measured_w:
        yield Remark("background-went", {"before": before, "after": after})


def sag_remarks(run: Run) -> tuple[Remark, ...]:
    """Tell of an outlet whose volts fell under load by more than sound wires make them."""
    if not poor_joint(run):
        return ()
    return (Remark("outlet-sag", {"off": run.outlet_volts_off, "on": run.outlet_volts_on, "most": 100.0 * GOOD_SAG}),)


def _meter(weighed: Weighed, meter: Meter, test: FieldTest) -> Iterator[Remark]:
    run = weighed.run
    every = readings(run.registered, meter, test.instruments, test.display)
    for one, other in pairwise(every):
        doubt = math.hypot(one.standard_uncertainty, other.standard_uncertainty)
        if abs(one.watts - other.watts) > 3.0 * doubt and {one.way, other.way} & {"display"} and run.registered.seconds:
            figures = {"one": one.way, "watts": one.watts, "other": other.way, "others": other.watts}
            yield Remark("ways-differ", figures)
    seconds = run.registered.seconds or 0.0
    if run.reference_watts is not None and run.reference_kwh is not None and seconds >= 1.0:
        mean = 3.6e6 * run.reference_kwh / seconds
        if abs(mean - run.reference_watts) > 0.03 * run.reference_watts:
            yield Remark("thermostat-cycled", {"mean": mean, "watts": run.reference_watts})
    step = next((c for c in weighed.budget.components if c.name in ("display", "count")), None)
    if step is not None and step.share > 0.25:
        yield Remark("step-outweighs", {"share": 100.0 * step.share, "way": weighed.shown.way, "what": step.name})
    if meter.multiplier != 1.0:
        yield Remark("multiplied", {"multiplier": meter.multiplier})
