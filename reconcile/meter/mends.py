"""Every ordinary misread or keying error of a field test, undone: what the set would be without it.

The weights say how much rarer than a decimal point an error is. They and the lists of usual constants are our choice
(common practice, no published source).
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Any, cast

from reconcile.house import House, Meter
from reconcile.house.site import FieldTest, Leg, Run
from reconcile.meter.coherence import carrying
from reconcile.meter.legs import LEGS
from reconcile.meter.load_run import service_of
from reconcile.meter.mend_counts import counts, ratios
from reconcile.records import dataclass

MISSED_WATTS = (60.0, 100.0, 150.0, 220.0, 330.0, 500.0, 750.0, 1100.0)
"""What else may have been on where nobody read it [W]."""
SMALL_BACKGROUND = 30.0
"""Below this hardly a house draws anything with its refrigerator and clocks on [W]."""
HEATER = re.compile(r"\b(?:heater|element|kettle|baseboard|oven|range|stove|toaster|immersion|incandescent|halogen)")
"""Words in a run's label that promise a power factor of one."""
NEXT_TO_NOTHING = 0.12
"""Part of the other leg's amps below which a leg between two looks like one that was missed, or like the neutral."""


@dataclass(frozen=True, slots=True)
class Mend:
    """One error undone: what the set would be without it, and how much rarer than a decimal point it is.

    ``names_only``: worth naming where nothing else explains a figure, but never an explanation by itself.
    """

    code: str
    field: str
    factor: float | None
    weight: float
    run: Run
    house: House
    meter: Meter
    names_only: bool = False


@dataclass(frozen=True, slots=True)
class Case:
    """One run with the house and the test it belongs to.

    ``percent`` is the registration as written [%], ``target`` what it is taken to be: 100, or what other runs agree on.
    """

    run: Run
    house: House
    meter: Meter
    test: FieldTest
    percent: float = 100.0
    target: float = 100.0
    load_w: float = 0.0
    """What a sound meter would register of the load as it is written [W]."""


def mends(case: Case) -> Iterator[Mend]:
    """Yield every error that can be undone in a run."""
    energy = case.run.reference_kwh is not None
    for code, field, factor, weight, registered in counts(case.run.registered):
        # where the load's energy was read over the same seconds these hardly matter, and would explain any small error
        slight = energy and field == "seconds" and code in ("double", "half", "root-3")
        yield mend(case, code, field, factor, weight + (8.0 if slight else 0.0), registered=registered)
    yield from _plugged(case)
    yield from _constants(case)
    yield from _way_of_wiring(case)
    yield from _legs(case)
    yield from _power_factor(case)
    yield from _background(case)
    yield from _cycled(case)
    yield from _misread(case)


def mend(case: Case, code: str, field: str, factor: float | None, weight: float, **changed: Any) -> Mend:
    """Return the run with something changed in it."""
    return Mend(code, field, factor, weight, replace(case.run, **changed), case.house, case.meter)


def _plugged(case: Case) -> Iterator[Mend]:
    """The plug-in meter's figures."""
    run = case.run
    for field, extra in (
        ("reference_watts", 0.0),
        ("reference_kwh", 0.0),
        ("outlet_volts_off", 0.5),
        ("outlet_volts_on", 0.5),
    ):
        value = getattr(run, field)
        if not value:
            continue
        for ratio, code, weight in ratios():
            if field == "reference_watts":
                changed = {field: value / ratio, "watts_repeats": ()}
            else:
                changed = {field: value / ratio}
            yield mend(case, code, field, ratio, weight + extra, **changed)
    watts, on = run.reference_watts, run.background_w_before
    if watts and on:
        yield mend(case, "swapped", "reference_watts", None, 1.0, reference_watts=on, background_w_before=watts)


PULSE_WH = (0.1, 0.2, 0.25, 0.3, 0.3125, 0.5, 0.6, 0.625, 1.0, 1.2, 1.25, 1.5625, 1.8, 2.0, 2.5, 3.6, 6.0, 7.2, 10.0)
DISK_WH = (0.6, 1.0, 1.2, 1.8, 2.0, 2.4, 2.6667, 3.6, 4.1667, 5.0, 6.0, 7.2, 8.0, 10.0, 12.0, 14.4, 21.6, 24.0)
"""Watt-hours a pulse and a disk turn that nameplates bear (from memory); 4.1667 is 240 turns a kilowatt-hour."""
MULTIPLIERS = (10.0, 20.0, 40.0, 60.0, 80.0, 100.0, 120.0, 200.0)
"""Ratios of instrument transformers (from memory)."""


def _constants(case: Case) -> Iterator[Mend]:
    """A constant of the meter, written once for every run."""
    r, meter = case.run.registered, case.meter
    for field, used, usual in (("pulse_wh", r.pulses, PULSE_WH), ("disk_wh", r.turns, DISK_WH)):
        value = getattr(meter, field)
        if used is None or value is None:
            continue
        for ratio, code, weight in ratios():
            yield from _counted(case, code, field, ratio, weight + 1.0, **{field: value / ratio})
        yield from _counted(case, "inverse", field, value * value / 1000.0, 1.0, **{field: 1000.0 / value})
        for other in usual:
            # a constant close to the one written explains any small error
            if not 0.75 < value / other < 1.34:
                yield from _counted(case, "constant", field, value / other, 3.0, **{field: other})
    own = meter.multiplier
    for ratio in MULTIPLIERS:
        for factor in (ratio, 1.0 / ratio):
            if own == 1.0 and factor > 1.0:
                continue
            yield _metered(case, "multiplier", "multiplier", factor, 4.0, multiplier=own / factor)
    if own != 1.0:
        for factor in (2.0, 0.5, 1.5, 2.0 / 3.0):
            yield _metered(case, "multiplier", "multiplier", factor, 0.5, multiplier=own / factor)


def _metered(case: Case, code: str, field: str, factor: float, weight: float, **changed: Any) -> Mend:
    return Mend(code, field, factor, weight, case.run, case.house, replace(case.meter, **changed))


def _counted(case: Case, code: str, field: str, factor: float, weight: float, **changed: Any) -> Iterator[Mend]:
    """A constant, and the same where what else was on was worked out from the count with it too."""
    yield _metered(case, code, field, factor, weight, **changed)
    run = case.run
    ends: dict[str, Any] = {key: getattr(run, key) for key in ("background_w_before", "background_w_after")}
    if any(ends.values()):
        less: dict[str, Any] = {key: None if watts is None else watts / factor for key, watts in ends.items()}
        counted = replace(run, **less, background_repeats=tuple(w / factor for w in run.background_repeats))
        yield replace(_metered(case, code, field, factor, weight, **changed), run=counted)


def _way_of_wiring(case: Case) -> Iterator[Mend]:
    """How the load, the clamps and the house are connected."""
    run, house = case.run, case.house
    if not run.legs:
        return
    assumed = run.connection is None
    if run.connection != "line-to-neutral":
        weight = -2.0 if assumed else 3.0
        yield mend(case, "connection", "connection", None, weight, connection="line-to-neutral")
    else:
        yield mend(case, "connection", "connection", None, 3.0, connection="line-to-line")
    service = service_of(run, house)
    fits = LEGS.get(service) == len(run.legs)
    for other in LEGS:
        if other != service and LEGS[other] == len(run.legs):
            elsewhere = replace(house, service=cast(Any, other), line_volts=None)
            moved = replace(run, service=None if run.service is None else other)
            yield Mend("service", "service", None, 3.0 if fits else -1.0, moved, elsewhere, case.meter)
    stated = run.background_w_before is not None or run.background_w_after is not None
    if run.clamps == "load":
        yield mend(case, "clamps", "clamps", None, 2.0 if stated else 1.0, clamps="main")
    elif stated:
        yield mend(case, "clamps", "clamps", None, 0.0 if run.clamps is None else 1.0, clamps="load")


def _changed_leg(run: Run, n: int, **changed: Any) -> tuple[Leg, ...]:
    return (*run.legs[:n], replace(run.legs[n], **changed), *run.legs[n + 1 :])


def _legs(case: Case) -> Iterator[Mend]:
    """Volts and amps of the legs, one by one and all together."""
    run, legs = case.run, case.run.legs
    on = carrying(run)
    for n, leg in enumerate(legs):
        for ratio, code, weight in ratios():
            if leg.amps:
                yield mend(case, code, f"amps_{n + 1}", ratio, weight, legs=_changed_leg(run, n, amps=leg.amps / ratio))
            if leg.volts:
                less = _changed_leg(run, n, volts=leg.volts / ratio)
                yield mend(case, code, f"volts_{n + 1}", ratio, weight, legs=less)
        most = max(other.amps for other in legs)
        several = len(legs) == 3 and len(on) == 2
        if 0.0 <= leg.amps < NEXT_TO_NOTHING * most and on and (run.connection != "line-to-neutral" or several):
            for share in (1.0, 0.9, 0.8) if several else (1.0,):
                missed = _changed_leg(run, n, amps=share * most)
                yield mend(case, "leg-missed", f"amps_{n + 1}", leg.amps / most, 0.5, legs=missed)
        if leg.volts and leg.amps:
            turned = _changed_leg(run, n, volts=leg.amps, amps=leg.volts)
            yield mend(case, "swapped", f"volts_{n + 1}", None, 2.0, legs=turned)
    if any(leg.amps < 0.0 for leg in legs):
        upright = tuple(replace(leg, amps=abs(leg.amps)) for leg in legs)
        first = next(n for n, leg in enumerate(legs) if leg.amps < 0.0)
        yield mend(case, "sign", f"amps_{first + 1}", -1.0, -2.0, legs=upright)
    wanted = LEGS.get(service_of(run, case.house), 0)
    if legs and len(legs) < wanted:
        yield mend(
            case, "leg-missed", f"amps_{len(legs) + 1}", 0.0, -1.0, legs=(*legs, *legs[:1] * (wanted - len(legs)))
        )
    elif legs and len(legs) > wanted > 0:
        yield mend(case, "leg-added", f"amps_{len(legs)}", None, -1.0, legs=legs[:wanted])
    if len(legs) > 1:
        for ratio, code, weight in ratios():
            every = tuple(replace(leg, amps=leg.amps / ratio) for leg in legs)
            yield mend(case, code, "amps", ratio, weight + 2.0, legs=every)
            if all(leg.volts for leg in legs):
                every = tuple(replace(leg, volts=(leg.volts or 0.0) / ratio) for leg in legs)
                yield mend(case, code, "volts", ratio, weight + 2.0, legs=every)
    for field in ("meter_volts", "line_volts"):
        volts = getattr(run, field)
        if volts:
            for ratio, code, weight in ratios():
                yield mend(case, code, field, ratio, weight, **{field: volts / ratio})


def _power_factor(case: Case) -> Iterator[Mend]:
    """A power factor nobody read, or one written wrong or in the other's place."""
    run = case.run
    on = [leg for leg in run.legs if leg.amps]
    unread = [leg for leg in on if leg.power_factor is None and leg.leg_power_factor is None]
    one = all(leg.power_factor == 1.0 for leg in on) and not HEATER.search(run.label.casefold())
    if on and (len(unread) == len(on) or one):
        for factor in (0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9, *((0.95,) if unread else ())):
            every = tuple(replace(leg, power_factor=factor) for leg in run.legs)
            yield mend(case, "power-factor", "power_factor", factor, -2.0 if unread else 1.0, legs=every)
    if on and all(leg.leg_power_factor is not None for leg in on):
        every = tuple(replace(leg, power_factor=leg.leg_power_factor, leg_power_factor=None) for leg in run.legs)
        yield mend(case, "swapped", "leg_power_factor", None, 0.0, legs=every)
    elif on and all(leg.power_factor is not None and leg.power_factor < 1.0 for leg in on):
        every = tuple(replace(leg, leg_power_factor=leg.power_factor, power_factor=None) for leg in run.legs)
        yield mend(case, "swapped", "power_factor", None, 0.5, legs=every)
    for n, leg in enumerate(run.legs):
        key = "power_factor" if leg.power_factor is not None else "leg_power_factor"
        factor = getattr(leg, key)
        for ratio, code, weight in ratios():
            if factor and 0.0 < factor / ratio <= 1.05 and factor / ratio > LEAST_FACTOR:
                legs = _changed_leg(run, n, **{key: min(factor / ratio, 1.0)})
                yield mend(case, code, f"{key}_{n + 1}", ratio, weight + 0.5, legs=legs)
    if len(on) > 1 and all(leg.power_factor is not None for leg in on):
        for ratio, code, weight in ratios():
            if all(LEAST_FACTOR < (leg.power_factor or 0.0) / ratio <= 1.05 for leg in on):
                every = tuple(replace(g, power_factor=min((g.power_factor or 0.0) / ratio, 1.0)) for g in run.legs)
                yield mend(case, code, "power_factor", ratio, weight + 1.5, legs=every)


LEAST_FACTOR = 0.2
"""No load that anybody tests with has a lower power factor."""


def _background(case: Case) -> Iterator[Mend]:
    """What else was on: left out, written wrong in one of its two readings or in both, or read with the load on."""
    run = case.run
    before, after = run.background_w_before, run.background_w_after
    if before is None and after is None:
        if run.clamps == "load":
            for watts in MISSED_WATTS:
                yield _levels(case, "background-missed", "background_w_before", None, -2.0, (watts, watts))
        return
    for field, value in (("background_w_before", before), ("background_w_after", after)):
        if value is not None and value < 0.0:
            yield mend(case, "sign", field, -1.0, -1.0, **{field: -value}, background_repeats=())
    if before is None or after is None:
        return
    yield from _small_background(case, before, after)
    yield from _load_left_on(case, before, after)
    for ratio, code, weight in ratios():
        # only gross errors: a background halved or doubled explains any small error of a meter
        if code in ("decimal", "thousand"):
            yield _levels(case, code, "background_w", ratio, weight + 5.0, (before / ratio, after / ratio))
        if min(before, after) > 0.0 and abs(before - after) > 0.25 * min(before, after):
            ends = (("background_w_before", before, after), ("background_w_after", after, before))
            for field, value, other in ends:
                if abs(math.log(value / ratio) - math.log(other)) < 0.25:
                    yield mend(case, code, field, ratio, weight, **{field: value / ratio}, background_repeats=())
    if min(before, after) >= 0.0 and abs(before - after) > 60.0:
        for level in (max(before, after), min(before, after)):
            yield _levels(case, "background-switched", "background_w_after", None, 1.0, (level, level))
    excess = (case.percent - case.target) / 100.0 * case.load_w
    if excess > MISSED_WATTS[0] and min(before, after) >= 0.0:
        level = (before + after) / 2.0 + excess
        switched = _levels(case, "background-switched", "background_w_after", None, 8.0, (level, level))
        yield replace(switched, names_only=True)


def _levels(
    case: Case, code: str, field: str, factor: float | None, weight: float, levels: tuple[float, float]
) -> Mend:
    return mend(
        case, code, field, factor, weight,
        background_w_before=levels[0], background_w_after=levels[1], background_repeats=(),
    )  # fmt: skip


def _small_background(case: Case, before: float, after: float) -> Iterator[Mend]:
    """Nothing, or next to nothing, written for what else was on."""
    ends = (("background_w_before", before, after), ("background_w_after", after, before))
    for field, value, other in ends:
        if 0.0 <= value < 0.2 * other:
            yield mend(case, "background-missed", field, None, 0.0, **{field: other}, background_repeats=())
    if 0.0 <= before < SMALL_BACKGROUND and 0.0 <= after < SMALL_BACKGROUND:
        for watts in MISSED_WATTS:
            yield _levels(case, "background-missed", "background_w", None, -1.0, (watts, watts))


def _load_left_on(case: Case, before: float, after: float) -> Iterator[Mend]:
    """What else was on, read while the load was on."""
    load = case.load_w
    over = [value > 0.6 * load > 0.0 for value in (before, after)]
    if all(over) and min(before, after) > load:
        yield _levels(case, "load-on", "background_w", None, 0.0, (before - load, after - load))
    for field, value, high in (("background_w_before", before, over[0]), ("background_w_after", after, over[1])):
        if high and value > load and not all(over):
            yield mend(case, "load-on", field, None, 0.0, **{field: value - load}, background_repeats=())


def _cycled(case: Case) -> Iterator[Mend]:
    """The load was off for a part of a count, and its watts were read while it was on."""
    run, r = case.run, case.run.registered
    counted = r.pulses is not None or r.turns is not None or r.register_end is not None
    if not counted or run.reference_kwh is not None or len(run.watts_repeats) > 1:
        return
    if r.meter_kw is not None:
        # the display was read with the load on: it shows what the count does not
        shown = replace(r, pulses=None, turns=None, register_start=None, register_end=None)
        yield mend(case, "cycled", "pulses" if r.turns is None else "turns", None, 0.0, registered=shown)
        return
    share = case.percent / case.target
    if not LEAST_SHARE < share < MOST_SHARE:
        return
    if run.reference_watts:
        yield mend(case, "cycled", "reference_watts", 1.0 / share, 4.0, reference_watts=run.reference_watts * share)
    elif run.legs:
        less = tuple(replace(leg, amps=leg.amps * share) for leg in run.legs)
        yield mend(case, "cycled", "amps", 1.0 / share, 4.0, legs=less)


LEAST_SHARE, MOST_SHARE = 0.2, 0.92
"""Part of a count for which a load that cycled is on: off for longer it would have been seen, and a thermostat that
opens at all stays open for a minute of ten."""


def _misread(case: Case) -> Iterator[Mend]:
    """Any one figure that is simply another's, or of another load: named where nothing better explains a result."""
    run, r = case.run, case.run.registered
    factor = case.percent / case.target
    if factor > 0.0:
        if run.reference_watts and len(run.watts_repeats) < 2:  # what was read several times alike is no slip
            yield _named(case, "reference_watts", 1.0 / factor, reference_watts=run.reference_watts * factor)
        if run.reference_kwh:
            yield _named(case, "reference_kwh", 1.0 / factor, reference_kwh=run.reference_kwh * factor)
        if run.legs:
            every = tuple(replace(leg, amps=leg.amps * factor) for leg in run.legs)
            yield _named(case, "amps", 1.0 / factor, legs=every)
    on = case.load_w * case.target / 100.0
    if on <= 0.0:
        return
    ends = [b for b in (run.background_w_before, run.background_w_after) if b is not None]
    total = on + (sum(ends) / len(ends) if ends and run.clamps != "main" else 0.0)
    for field, size in (("pulses", case.meter.pulse_wh), ("turns", case.meter.disk_wh)):
        value = getattr(r, field)
        if value is not None and size and r.seconds:
            right = total * r.seconds / 3600.0 / size / case.meter.multiplier
            counted: dict[str, Any] = {field: right}
            yield _named(case, field, value / right if right else None, registered=replace(r, **counted))
            yield from _one_digit(case, r.seconds * value / right if right and len(r.seconds_repeats) < 2 else 0.0)
    if r.register_start is not None and r.register_end is not None and r.seconds:
        right = total * r.seconds / 3.6e6 / case.meter.multiplier
        gone = r.register_end - r.register_start
        moved = replace(r, register_end=r.register_start + right)
        yield _named(case, "register_end", gone / right if right else None, registered=moved)
    if r.meter_kw is not None:
        kw = total / 1000.0 / case.meter.multiplier
        yield _named(case, "meter_kw", r.meter_kw / kw, registered=replace(r, meter_kw=kw, kw_repeats=()))


def _one_digit(case: Case, right: float) -> Iterator[Mend]:
    """Seconds that one digit, or two beside one another that changed places, would put right."""
    r = case.run.registered
    near = one_digit_off(r.seconds or 0.0, right)
    if near is not None:
        read = replace(r, seconds=near, seconds_repeats=())
        yield replace(_named(case, "seconds", (r.seconds or 0.0) / near, registered=read), weight=ONE_DIGIT)


ONE_DIGIT, NEAR = 7.0, 0.006
"""How much rarer one wrong digit is than a decimal point: less rare than a figure that is another's altogether. And how
near to the right figure it has to come, as a part: the reading of a stop watch."""


def one_digit_off(written: float, right: float) -> float | None:
    """Return what a figure is with one digit read right, or two neighbors exchanged, where that comes near to another.

    Examples
    --------
    >>> one_digit_off(360.6, 300.9), one_digit_off(513.0, 531.9), one_digit_off(360.6, 450.0)
    (300.6, 531.0, None)
    """
    text = f"{written:g}"
    places = [n for n, sign in enumerate(text) if sign.isdigit()]
    tried = [f"{text[:n]}{digit}{text[n + 1 :]}" for n in places for digit in "0123456789"]
    tried += [f"{text[:n]}{text[n + 1]}{text[n]}{text[n + 2 :]}" for n in places if n + 1 in places]
    best = min((float(one) for one in tried if one != text), key=lambda value: abs(value - right), default=0.0)
    return best if best > 0.0 and abs(best - right) < NEAR * right else None


def _named(case: Case, field: str, factor: float | None, **changed: Any) -> Mend:
    return replace(mend(case, "misread", field, factor, 9.0, watts_repeats=(), **changed), names_only=True)
