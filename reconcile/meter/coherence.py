"""Whether the figures of one run hold together: every pair that must agree, and how plainly it does not.

Each :class:`Check` is a distance in standard deviations between two figures of one set, or between a figure and what
is usual. A hard check is a contradiction where it fails; a soft one only weighs one reading of a set against another.
All spreads here are our choice (common practice, no published source), chosen on sets with one error put in.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from reconcile.house import House, Meter
from reconcile.house.site import FieldTest, Leg, Run
from reconcile.meter.forms import form_of, leg_volts
from reconcile.meter.legs import LEGS
from reconcile.meter.load_run import line_volts_of, outlet_volts, service_of
from reconcile.meter.plug_in import load_watts
from reconcile.meter.registered import readings
from reconcile.meter.resolve import plug_limit_watts
from reconcile.records import dataclass

USUAL_BACKGROUND = (150.0, 0.9)
"""What else is on in a quiet house: median [W], and spread of its logarithm."""
LEAST_BACKGROUND = 5.0
"""Less than this, and not nothing, is no background of a house [W]: it is one in kW."""
USUAL_SECONDS = (600.0, 1.0)
USUAL_PLUG = (1300.0, 0.45)
USUAL_LEGS = (4000.0, 0.9)
USUAL_PULSE = (1.0, 1.2)
USUAL_DISK = (7.2, 0.8)
"""The same of the other figures [s, W, W, Wh, Wh]."""
CONTRADICTION = 3.5
"""Standard deviations from which a hard check is told as a contradiction."""


@dataclass(frozen=True, slots=True)
class Check:
    """One check: ``z`` standard deviations; ``one`` and ``other`` are the figures that should agree."""

    code: str
    z: float
    hard: bool = False
    one: float = 0.0
    other: float = 0.0

    @property
    def fails(self) -> bool:
        """Whether the two contradict each other."""
        return self.hard and abs(self.z) > CONTRADICTION


def checks(run: Run, house: House, meter: Meter, test: FieldTest) -> tuple[Check, ...]:
    """Return every check that the figures of a run allow."""
    found = [*_ways(run, meter, test), *_constants(run, meter)]
    if run.reference_watts is not None or run.reference_kwh is not None:
        found += _plug(run, house)
    if run.legs:
        found += _legs(run, house, meter)
    found += _background(run)
    found += _label(run, house)
    return tuple(found)


def _log_ratio(one: float, other: float) -> float:
    """Logarithm of a ratio of two positive figures, however absurd."""
    return math.log(one) - math.log(other)


def _log(code: str, value: float, usual: tuple[float, float]) -> Check:
    return _near(code, value, *usual, hard=False)


def _near(code: str, value: float, other: float, spread: float, *, hard: bool = True) -> Check:
    """Two figures that agree to a part; a figure of nothing agrees with none."""
    if value <= 0.0 or other <= 0.0:
        return Check(code, 8.0, hard, value, other)
    return Check(code, _log_ratio(value, other) / spread, hard, value, other)


def _ways(run: Run, meter: Meter, test: FieldTest) -> Iterator[Check]:
    """The meter's display, pulses, turns and register over one run."""
    every = readings(run.registered, meter, test.instruments, test.display)
    for other in every[1:]:
        one = every[0]
        size = max(abs(one.watts), abs(other.watts), 1.0)
        # what is on wanders between a look at the display and a count over minutes
        doubt = math.hypot(math.hypot(one.standard_uncertainty, other.standard_uncertainty), 0.01 * size)
        yield Check(f"ways-{one.way}-{other.way}", (one.watts - other.watts) / doubt, True, one.watts, other.watts)


def _constants(run: Run, meter: Meter) -> Iterator[Check]:
    r = run.registered
    if r.pulses is not None and meter.pulse_wh is not None:
        yield _log("pulse-constant", meter.pulse_wh, USUAL_PULSE)
    if r.turns is not None and meter.disk_wh is not None:
        yield _log("disk-constant", meter.disk_wh, USUAL_DISK)
    if r.seconds is not None and (r.pulses is not None or r.turns is not None):
        yield _log("seconds", r.seconds, USUAL_SECONDS)
        # people count for whole minutes, or until the first count after them
        minutes = r.seconds / 60.0
        apart = abs(minutes - max(round(minutes), 1.0)) / max(minutes, 1.0)
        yield Check("whole-minutes", 0.0 if apart < 0.02 else 1.2, False, r.seconds, 60.0 * round(minutes))


def _plug(run: Run, house: House) -> Iterator[Check]:
    watts = load_watts(run)
    if watts > 0.0:
        yield _log("plug-in-watts", watts, USUAL_PLUG)
        if watts > 1.35 * plug_limit_watts(house):
            yield Check("over-plug", 6.0, True, watts, plug_limit_watts(house))
    if run.reference_kwh is not None and run.reference_watts is not None and run.registered.seconds:
        yield _near("kwh-watts", watts, run.reference_watts, 0.02)
    off, on = run.outlet_volts_off, run.outlet_volts_on
    for volts in (off, on):
        if volts is not None:
            yield _near("outlet-volts", volts, outlet_volts(house), 0.06, hard=True)
    if off is not None and on is not None and on > off:
        yield Check("outlet-sag", (on - off) / 0.5, True, on, off)


def carrying(run: Run) -> list[Leg]:
    """Return the legs that carry something."""
    most = max((leg.amps for leg in run.legs), default=0.0)
    return [leg for leg in run.legs if leg.amps > 0.02 * most]


def _legs(run: Run, house: House, meter: Meter) -> Iterator[Check]:
    service = service_of(run, house)
    if service not in LEGS:
        return
    if len(run.legs) != LEGS[service]:
        yield Check("legs-count", 6.0, True, float(len(run.legs)), float(LEGS[service]))
    line = line_volts_of(house, service)
    volts = [leg.volts for leg in run.legs if leg.volts is not None]
    yield _log("leg-watts", sum((v or leg_volts(service, line)) * leg.amps for v, leg in _pairs(run)), USUAL_LEGS)
    if service != "three-phase" or house.line_volts is not None:
        for v in volts:
            yield _near("leg-volts", v, leg_volts(service, line), 0.06, hard=True)
    yield from _line(run, house, service, volts)
    yield from _sharing(run, service)
    yield from _own_factors(run, service)
    for leg in run.legs:
        factor = leg.power_factor if leg.power_factor is not None else leg.leg_power_factor
        if factor is not None and leg.amps > 0.0:
            usual = 0.866 if leg.leg_power_factor is not None and service == "network" else 1.0
            yield Check("power-factor", (factor - usual) / 0.2, False, factor, usual)
    most = 1.25 * (house.service_amps or 400.0)
    if max(leg.amps for leg in run.legs) > most:
        yield Check("over-service", 6.0, True, max(leg.amps for leg in run.legs), most)
    form = form_of(meter.form)
    if form is not None:
        fits = service in form.services and service == form.services[0]
        yield Check("form", 0.0 if fits else 2.0 if service in form.services else 4.0, False)


def _pairs(run: Run) -> Iterator[tuple[float | None, Leg]]:
    for leg in run.legs:
        yield leg.volts, leg


def _line(run: Run, house: House, service: str, volts: list[float]) -> Iterator[Check]:
    """Volts between the legs against the legs' own, and against what the house's file says."""
    for line in (run.meter_volts, run.line_volts):
        if line is None:
            continue
        wanted = leg_volts(service, line)
        # volts read without the load may stand some per cent higher
        loose = 0.02 if run.volts_were_loaded else 0.04
        for v in volts:
            yield _near("line-and-leg-volts", v, wanted, loose, hard=True)
        if house.line_volts is not None:
            yield _near("line-volts", line, house.line_volts, 0.05, hard=True)
        elif service != "three-phase":
            usual = line_volts_of(house, service)
            yield _near("line-volts", line, usual, 0.05, hard=True)


def _sharing(run: Run, service: str) -> Iterator[Check]:
    """What a load between two legs, or one on one leg, can draw from the legs."""
    legs = run.legs
    if len(legs) < 2:
        return
    on = carrying(run)
    low, high = min(leg.amps for leg in legs), max(leg.amps for leg in legs)
    if run.connection == "line-to-neutral" or (run.connection is None and service != "split-phase"):
        # nobody's two loads to neutral draw alike to the hundredth: it would be one load between the legs
        equal = len(on) == 2 and abs(_log_ratio(on[0].amps, on[1].amps)) < 0.02
        yield Check("alike", 1.7 if equal else 0.0, False, low, high)
    if run.connection != "line-to-neutral" and len(on) == 2:
        close = 0.03 if run.clamps == "load" else 0.2 if service == "split-phase" else 0.1
        yield _near("sharing", on[0].amps, on[1].amps, close, hard=run.connection is not None)
    if run.connection == "line-to-line" and len(on) < 2:
        yield Check("sharing", 8.0, True, low, high)
    if service == "three-phase" and len(on) == 3:
        alike = 0.12 if run.connection == "line-to-line" else 0.35
        yield _near("sharing", high, min(leg.amps for leg in on), alike, hard=False)
    values = [leg.volts for leg in legs if leg.volts is not None]
    if len(values) > 1 and min(values) > 0.0:
        yield _near("legs-volts", max(values), min(values), 0.02, hard=True)


def _own_factors(run: Run, service: str) -> Iterator[Check]:
    """Power factors of the legs' own volts and amps: of a load between two legs of a wye the two angles lie 60 degrees
    apart, whatever the load's own.
    """
    on = carrying(run)
    factors = [leg.leg_power_factor for leg in on if leg.leg_power_factor is not None]
    wye = service == "network" or service == "three-phase"
    if not wye or len(on) != 2 or len(factors) != 2 or run.connection == "line-to-neutral":
        return
    one, other = (math.degrees(math.acos(min(abs(f), 1.0))) for f in factors)
    off = min(abs(one + other - 60.0), abs(abs(one - other) - 60.0))
    yield Check("own-factors", off / 6.0, True, factors[0], factors[1])


def _background(run: Run) -> Iterator[Check]:
    before, after = run.background_w_before, run.background_w_after
    known = [b for b in (before, after) if b is not None]
    if not known:
        return
    mean = sum(known) / len(known)
    yield _log("background", max(mean, 0.5), USUAL_BACKGROUND)
    if any(0.0 < value < LEAST_BACKGROUND for value in known):
        yield Check("background-small", 4.0, True, min(known), USUAL_BACKGROUND[0])
    if len(known) == 2:
        yield Check("background-moved", abs(known[0] - known[1]) / (0.1 * mean + 12.0), True, known[0], known[1])


def _label(run: Run, house: House) -> Iterator[Check]:
    """The load's own watts in the list, where the run bears its name."""
    name = run.label.strip().casefold()
    for load in house.loads:
        if name and load.name.strip().casefold() == name and load.watts and load.count == 1:
            volts = {True: load_watts(run)}.get(run.reference_watts is not None or run.reference_kwh is not None)
            if volts:
                yield _near("listed-watts", volts, load.watts, 0.15, hard=False)
