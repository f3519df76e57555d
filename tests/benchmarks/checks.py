"""Stage two: what a householder reads with every cover on, as ``field_test.toml`` would hold it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from simulate import Case, streams

from reconcile.house import House
from reconcile.site import FieldTest, Instrument, Instruments, MainOff, Quiet, Registered, Run

PULSE_WH = 1.0


def with_checks(case: Case) -> House:
    """The same house with quiet readings, a reading with the main off and runs of a known load entered.

    Watts are those truly there, times the meter's factor, read by timed pulses of 1 Wh: whole pulses, a
    third of a second of the hand on the watch. The plug-in meter is out by up to 1.5 % of its reading the
    whole day long.
    """
    (rng,) = streams(f"checks of {case.truth.kind.name}", case.truth.world, case.truth.seed, 1)
    site, unkind = case.site, case.truth.world == "unkind"
    gain = 1.0 + float(rng.uniform(-0.015, 0.015))
    instruments = Instruments(
        watts=Instrument(percent_of_reading=1.5, digits=2, resolution=1.0, name="plug-in meter"),
        time_seconds=0.3,
    )
    quiet = tuple(_quiet(case, rng) for _ in range(2 if unkind else 1))
    base = _quiet_watts(case, rng, minutes=30)
    runs = tuple(_run(rng, f"heater, run {i + 1}", base, gain, site.factor) for i in range(3))
    off = MainOff(Registered(seconds=float(rng.integers(600, 1200)), pulses=0.0), True, True, day=site.day)
    return replace(case.house, field_test=FieldTest(instruments, runs=runs, quiet=quiet, main_off=(off,)))


def _quiet_watts(case: Case, rng: np.random.Generator, minutes: float) -> float:
    """Watts truly drawn on the average of some minutes at night with hands off everything."""
    site = case.site
    total = sum(site.always_watts.values()) + site.unlisted_watts * float(rng.uniform(0.85, 1.05))
    cycles = max(minutes / 40.0, 0.25)  # a box starts about every forty minutes
    for watts in site.box_watts.values():
        total += watts * max(1.0 + float(rng.normal(0, 0.35)) / np.sqrt(cycles), 0.0)
    rogue = site.rogue_watts
    if site.rogue_cycles:
        rogue *= max(1.0 + float(rng.normal(0, 0.25)) / np.sqrt(cycles), 0.0)
    return total + rogue


def _timed(rng: np.random.Generator, watts: float, seconds: float) -> Registered:
    """Whole pulses counted over about so many seconds, stopped on a pulse, with the hand's own error."""
    pulses = max(np.floor(watts * seconds / 3600 / PULSE_WH), 1.0)
    exact = pulses * PULSE_WH * 3600 / max(watts, 1.0)
    return Registered(seconds=round(exact + float(rng.uniform(-0.3, 0.3)), 1), pulses=float(pulses))


def _quiet(case: Case, rng: np.random.Generator) -> Quiet:
    minutes = float(rng.uniform(30, 60))
    watts = _quiet_watts(case, rng, minutes) * case.site.factor
    on = (*case.site.always_watts, *case.site.box_watts)
    return Quiet(_timed(rng, watts, 60 * minutes), on=on, day=case.site.day)


def _run(rng: np.random.Generator, label: str, base: float, gain: float, factor: float) -> Run:
    """Off, on, off: a 1.5 kW heater on a plug-in meter, the house's own watts before and after."""
    load = float(rng.uniform(1380, 1520))
    drift = [base * (1 + float(rng.normal(0, 0.01))) for _ in range(3)]
    seen = round(load * gain + float(rng.uniform(-1, 1)))
    registered = _timed(rng, (load + drift[1]) * factor, 300.0)
    return Run(
        label,
        registered,
        connection="line-to-neutral",
        reference_watts=float(seen),
        background_w_before=round(drift[0] * factor, 1),
        background_w_after=round(drift[2] * factor, 1),
    )
