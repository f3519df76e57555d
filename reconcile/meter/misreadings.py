"""Which misread or keying error would explain a registration: every one that can happen, tried and ranked.

An error is tried by mending it: the run is changed back, its registration worked out again, and everything that must
agree is checked again (:mod:`reconcile.meter.coherence`). What makes the meter right and the set whole is the likelier,
the commoner the error. The spreads and the weights are our choice (common practice, no published source).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any, cast

from reconcile.house import House, Meter
from reconcile.meter.coherence import carrying, checks
from reconcile.meter.judged import Guess
from reconcile.meter.legs import LEGS
from reconcile.meter.load_run import Weighed, service_of, weigh_run
from reconcile.site import FieldTest, Registered, Run

RATIOS: tuple[tuple[float, str, float], ...] = (
    (10.0, "decimal", 0.0),
    (100.0, "decimal", 3.0),
    (1000.0, "thousand", 0.5),
    (2.0, "double", 1.5),
    (math.sqrt(3.0), "root-3", 3.0),
)
"""Written over true (and its inverse), the error's name, and how much rarer it is than a decimal point."""
LOOSE_PERCENT = 1.2
"""How near 100 % a mended registration is expected beside its own doubt, as a standard deviation: a sound meter."""
NEAR = 2.6
"""Standard deviations within which a mended registration counts as right."""
GENUINE = 8.0
"""Weight against a meter that really is so far out, beside one keying error (both rare)."""
GENUINE_PER_PERCENT = 0.10
"""The same for every per cent by which it is more than ten out: the farther, the rarer."""
AGAIN = 5.0
"""Weight against the same keying error in one more run, and against a wrong statement made once more."""
MISSED_WATTS = (60.0, 100.0, 150.0, 220.0, 330.0, 500.0, 750.0, 1100.0)
"""What else may have been on where nobody read it [W]."""
ONCE = {"service", "pulse_wh", "disk_wh", "multiplier"}
"""What is written once for all runs: repeats say nothing of it."""


@dataclass(frozen=True, slots=True)
class Mend:
    """One error undone: what the set would be without it, and how much rarer than a decimal point it is."""

    code: str
    field: str
    factor: float | None
    weight: float
    run: Run
    house: House
    meter: Meter


@dataclass(frozen=True, slots=True)
class Ranked:
    """A mend tried. ``score`` is a sum of squares: the smaller, the likelier."""

    guess: Guess
    score: float
    near: bool


@dataclass(frozen=True, slots=True)
class Case:
    """One run with the house and the test it belongs to."""

    run: Run
    house: House
    meter: Meter
    test: FieldTest


def strain(case: Case) -> float:
    """Return the sum of squares of every check on a run, each cut so that one alone does not drown the rest."""
    return math.fsum(min(check.z**2, 60.0) for check in checks(case.run, case.house, case.meter, case.test))


def ranked(case: Case, weighed: Weighed, target_percent: float = 100.0, repeats: int = 1) -> tuple[Ranked, ...]:
    """Return every error that brings the registration near its target, the likeliest first.

    Parameters
    ----------
    case : Case
    weighed : Weighed
        The run as it is written.
    target_percent : float
        What the meter is taken to register: 100, or what its other runs agree on [%].
    repeats : int
        Runs that say the same: a keying error would have to be made in each.
    """
    found = []
    for mend in mends(case):
        tried = weigh_run(mend.run, mend.house, case.test, mend.meter)
        if isinstance(tried, str):
            continue
        doubt = math.hypot(tried.budget.standard_uncertainty, LOOSE_PERCENT)
        z = (tried.percent - target_percent) / doubt
        again = repeats - 1 if mend.field not in ONCE else 0
        near = abs(z) < NEAR
        whole = strain(Case(mend.run, mend.house, mend.meter, case.test)) if near else 0.0
        score = z * z + 2.0 * math.log(doubt) + whole + mend.weight + AGAIN * again
        guess = Guess(mend.code, case.run.label, mend.field, mend.factor, weighed.percent, tried.percent)
        found.append(Ranked(guess, score, near))
    best: dict[tuple[str, str], Ranked] = {}
    for one in sorted(found, key=lambda r: r.score):
        best.setdefault((one.guess.field, one.guess.code), one)
    return tuple(best.values())


def genuine_score(case: Case, percent: float) -> float:
    """Return the score of the set as it is written, with a meter that really registers so."""
    off = abs(percent - 100.0)
    return strain(case) + GENUINE + GENUINE_PER_PERCENT * max(off - 10.0, 0.0)


def mends(case: Case) -> Iterator[Mend]:
    """Yield every error that can be undone in a run."""
    yield from _scaled(case)
    yield from _meter_once(case)
    yield from _way_of_wiring(case)
    yield from _legs(case)
    yield from _background(case)


def _mend(case: Case, code: str, field: str, factor: float | None, weight: float, **changed: Any) -> Mend:
    return Mend(code, field, factor, weight, replace(case.run, **changed), case.house, case.meter)


def _ratios() -> Iterator[tuple[float, str, float]]:
    for ratio, code, weight in RATIOS:
        yield ratio, code, weight
        yield 1.0 / ratio, "half" if code == "double" else code, weight


def _scaled(case: Case) -> Iterator[Mend]:
    """One figure of the run, written so many times too large or too small."""
    run, r = case.run, case.run.registered
    shown: dict[str, Callable[[float], Registered]] = {}
    if r.meter_kw:
        kw = r.meter_kw
        shown["meter_kw"] = lambda f: replace(r, meter_kw=kw / f, kw_repeats=tuple(k / f for k in r.kw_repeats))
    if r.pulses:
        pulses = r.pulses
        shown["pulses"] = lambda f: replace(r, pulses=pulses / f)
    if r.turns:
        turns = r.turns
        shown["turns"] = lambda f: replace(r, turns=turns / f)
    if r.seconds:
        seconds = r.seconds
        shown["seconds"] = lambda f: replace(
            r, seconds=seconds / f, seconds_repeats=tuple(s / f for s in r.seconds_repeats)
        )
    for field, made in shown.items():
        for ratio, code, weight in _ratios():
            yield _mend(case, code, field, ratio, weight, registered=made(ratio))
    if r.seconds:
        yield _mend(case, "minutes", "seconds", 1.0 / 60.0, 1.0, registered=shown["seconds"](1.0 / 60.0))
        yield _mend(case, "minutes", "seconds", 60.0, 4.0, registered=shown["seconds"](60.0))
        for field in ("pulses", "turns"):
            count = getattr(r, field)
            # a count that happens to be near the seconds explains any small error
            if count and abs(math.log(count) - math.log(r.seconds)) > 0.3:
                swapped = replace(r, **{field: r.seconds, "seconds": count}, seconds_repeats=())
                yield _mend(case, "swapped", field, None, 1.0, registered=swapped)
    if r.meter_kw is not None and r.meter_kw < 0.0:
        yield _mend(case, "export", "meter_kw", -1.0, -2.0, registered=shown["meter_kw"](-1.0))
    if r.register_start is not None and r.register_end is not None:
        turned = replace(r, register_start=r.register_end, register_end=r.register_start)
        yield _mend(case, "swapped", "register_end", None, 1.0, registered=turned)
        gone = r.register_end - r.register_start
        for ratio, code, weight in _ratios():
            end = replace(r, register_end=r.register_start + gone / ratio)
            yield _mend(case, code, "register_end", ratio, weight + 1.0, registered=end)
    for field in ("reference_watts", "reference_kwh"):
        value = getattr(run, field)
        if value:
            for ratio, code, weight in _ratios():
                yield _mend(case, code, field, ratio, weight, **{field: value / ratio})
    for field in ("outlet_volts_off", "outlet_volts_on"):
        value = getattr(run, field)
        if value:
            for ratio, code, weight in _ratios():
                yield _mend(case, code, field, ratio, weight + 0.5, **{field: value / ratio})
    watts, on = run.reference_watts, run.background_w_before
    if watts and on:
        yield _mend(case, "swapped", "reference_watts", None, 1.0, reference_watts=on, background_w_before=watts)


def _meter_once(case: Case) -> Iterator[Mend]:
    """A constant of the meter, written once for every run."""
    r, meter = case.run.registered, case.meter
    for field, used in (("pulse_wh", r.pulses), ("disk_wh", r.turns)):
        value = getattr(meter, field)
        if used is not None and value is not None:
            for ratio, code, weight in _ratios():
                changed = replace(meter, **{field: value / ratio})
                yield Mend(code, field, ratio, weight + 1.0, case.run, case.house, changed)
    for ratio in (10.0, 20.0, 40.0, 60.0, 80.0, 100.0, 120.0, 200.0):
        for factor in (ratio, 1.0 / ratio):
            if meter.multiplier == 1.0 and factor > 1.0:
                continue
            changed = replace(meter, multiplier=meter.multiplier / factor)
            yield Mend("multiplier", "multiplier", factor, 5.0, case.run, case.house, changed)


def _way_of_wiring(case: Case) -> Iterator[Mend]:
    """How the load, the clamps and the house are connected."""
    run, house = case.run, case.house
    if not run.legs:
        return
    assumed = run.connection is None
    if run.connection != "line-to-neutral":
        weight = -2.0 if assumed else 3.0
        yield _mend(case, "connection", "connection", None, weight, connection="line-to-neutral")
    else:
        yield _mend(case, "connection", "connection", None, 3.0, connection="line-to-line")
    service = service_of(run, house)
    for other in LEGS:
        if other != service and LEGS[other] == LEGS.get(service):
            elsewhere = replace(house, service=cast(Any, other), line_volts=None)
            moved = replace(run, service=None if run.service is None else other)
            yield Mend("service", "service", None, 3.0, moved, elsewhere, case.meter)
    stated = run.background_w_before is not None or run.background_w_after is not None
    if run.clamps == "load":
        missing = 0.0 if stated else -1.0
        yield _mend(case, "clamps", "clamps", None, 2.0 + missing, clamps="main")
    elif stated:
        yield _mend(case, "clamps", "clamps", None, 0.0 if run.clamps is None else 2.5, clamps="load")
    if not stated and run.clamps == "load":
        for watts in MISSED_WATTS:
            yield _mend(
                case, "background-missed", "background_w_before", None, -2.0,
                background_w_before=watts, background_w_after=watts,
            )  # fmt: skip


def _legs(case: Case) -> Iterator[Mend]:
    """Volts, amps and power factor of the legs, one by one and all together."""
    run = case.run
    legs = run.legs
    for n, leg in enumerate(legs):
        for ratio, code, weight in _ratios():
            if leg.amps:
                changed = (*legs[:n], replace(leg, amps=leg.amps / ratio), *legs[n + 1 :])
                yield _mend(case, code, f"amps_{n + 1}", ratio, weight, legs=changed)
            if leg.volts:
                changed = (*legs[:n], replace(leg, volts=leg.volts / ratio), *legs[n + 1 :])
                yield _mend(case, code, f"volts_{n + 1}", ratio, weight, legs=changed)
        on = carrying(run)
        if leg.amps == 0.0 and on and run.connection != "line-to-neutral":
            missed = (*legs[:n], replace(leg, amps=on[0].amps), *legs[n + 1 :])
            yield _mend(case, "leg-missed", f"amps_{n + 1}", 0.0, 0.5, legs=missed)
        if leg.volts and leg.amps:
            turned = (*legs[:n], replace(leg, volts=leg.amps, amps=leg.volts), *legs[n + 1 :])
            yield _mend(case, "swapped", f"volts_{n + 1}", None, 2.0, legs=turned)
    if len(legs) > 1:
        for ratio, code, weight in _ratios():
            every = tuple(replace(leg, amps=leg.amps / ratio) for leg in legs)
            yield _mend(case, code, "amps", ratio, weight + 2.0, legs=every)
            if all(leg.volts for leg in legs):
                every = tuple(replace(leg, volts=(leg.volts or 0.0) / ratio) for leg in legs)
                yield _mend(case, code, "volts", ratio, weight + 2.0, legs=every)
    yield from _power_factor(case)
    for field in ("meter_volts", "line_volts"):
        volts = getattr(run, field)
        if volts:
            for ratio, code, weight in _ratios():
                yield _mend(case, code, field, ratio, weight, **{field: volts / ratio})


def _power_factor(case: Case) -> Iterator[Mend]:
    """A power factor nobody read, or one written wrong; and amps that ran the other way."""
    run = case.run
    on = [leg for leg in run.legs if leg.amps]
    if on and all(leg.power_factor is None and leg.leg_power_factor is None for leg in on):
        for factor in (0.5, 0.6, 0.7, 0.75, 0.8, 0.85, 0.9, 0.95):
            every = tuple(replace(leg, power_factor=factor) for leg in run.legs)
            yield _mend(case, "power-factor", "power_factor", factor, -2.0, legs=every)
    for n, leg in enumerate(run.legs):
        key = "power_factor" if leg.power_factor is not None else "leg_power_factor"
        factor = getattr(leg, key)
        for ratio, code, weight in _ratios():
            if factor and 0.0 < factor / ratio <= 1.05:
                legs = (*run.legs[:n], replace(leg, **{key: min(factor / ratio, 1.0)}), *run.legs[n + 1 :])
                yield _mend(case, code, f"{key}_{n + 1}", ratio, weight + 0.5, legs=legs)
    if len(on) > 1 and all(leg.power_factor is not None for leg in on):
        for ratio, code, weight in _ratios():
            if all(0.0 < (leg.power_factor or 0.0) / ratio <= 1.05 for leg in on):
                every = tuple(replace(g, power_factor=min((g.power_factor or 0.0) / ratio, 1.0)) for g in run.legs)
                yield _mend(case, code, "power_factor", ratio, weight + 1.5, legs=every)


def _background(case: Case) -> Iterator[Mend]:
    """What else was on, written wrong in one of its two readings or in both."""
    run = case.run
    before, after = run.background_w_before, run.background_w_after
    if before is None and after is None:
        return
    for ratio, code, weight in _ratios():
        # only gross errors: a background halved or doubled explains any small error of a meter
        if before and after and code in ("decimal", "thousand"):
            yield _mend(
                case, code, "background_w", ratio, weight + 5.0,
                background_w_before=before / ratio, background_w_after=after / ratio, background_repeats=(),
            )  # fmt: skip
        if before and after and abs(before - after) > 0.25 * min(before, after):
            ends = (("background_w_before", before, after), ("background_w_after", after, before))
            for field, value, other in ends:
                if abs(math.log(value / ratio) - math.log(other)) < 0.25:
                    yield _mend(case, code, field, ratio, weight, **{field: value / ratio})
    if before and after and abs(before - after) > 60.0:
        for level in (max(before, after), min(before, after)):
            yield _mend(
                case, "background-switched", "background_w_after", None, 1.0,
                background_w_before=level, background_w_after=level, background_repeats=(),
            )  # fmt: skip


def merged(per_run: Sequence[Sequence[Ranked]]) -> tuple[Guess, ...]:
    """Return the guesses of all runs in one ranking, one a field and kind."""
    best: dict[tuple[str, str], Ranked] = {}
    for one in sorted((r for some in per_run for r in some), key=lambda r: (not r.near, r.score)):
        best.setdefault((one.guess.field, one.guess.code), one)
    return tuple(r.guess for r in best.values())
