"""Field tests that never took place: true powers, then readings as instruments, displays and hands would give them.

It shares no formula with the budget: pulses are counted in whole numbers from any phase, displays round, one voltmeter
and one clamp are out by one amount all day, wires lose volts, the supply wanders between one reading and the next, and
what else is on wanders too, so that it was never quite what was read before and after.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reconcile.house import House, Meter
from reconcile.house.site import Display, FieldTest, Instrument, Instruments, Leg, Registered, Run

PLAIN = Instruments(
    volts=Instrument(percent_of_reading=1.0, digits=3, resolution=0.1),
    amps=Instrument(percent_of_reading=2.0, digits=5, resolution=0.01),
    watts=Instrument(percent_of_reading=2.0, digits=5, resolution=0.1),
)
GOOD = Instruments(
    volts=Instrument(percent_of_reading=0.2, digits=1, resolution=0.01),
    amps=Instrument(percent_of_reading=0.3, digits=1, resolution=0.01),
    watts=Instrument(percent_of_reading=0.5, digits=2, resolution=0.1),
)


@dataclass(frozen=True)
class Design:
    name: str
    house: House
    instruments: Instruments
    legs: int
    """0 for a plug-in run."""
    display: bool


def house(service: str = "split-phase", form: str | None = "2S") -> House:
    return House("simulated", (), service=service, meters=(Meter(form=form, pulse_wh=1.0),))  # type: ignore[arg-type]


DESIGNS = (
    Design("plug-in, pulses", house(), PLAIN, 0, False),
    Design("good plug-in, pulses", house(), GOOD, 0, False),
    Design("legs, display", house(), PLAIN, 2, True),
    Design("good clamps on a network, pulses", house("network", "12S"), GOOD, 2, False),
)


def limit(instrument: Instrument, reading: float) -> float:
    return reading * instrument.percent_of_reading / 100.0 + instrument.digits * instrument.resolution


def rounded(value: float, step: float) -> float:
    return round(value / step) * step


def counted(rng: np.random.Generator, watts: float, seconds: float) -> Registered:
    """Pulses of 1 Wh in a window that starts anywhere; the watch is out by up to 0.3 s."""
    true_seconds = seconds + rng.uniform(-0.3, 0.3)
    pulses = np.floor(watts * true_seconds / 3600.0 + rng.uniform())
    return Registered(pulses=float(pulses), seconds=seconds)


def one(rng: np.random.Generator, design: Design, percent: float) -> FieldTest:
    """One test of a meter that registers ``percent``."""
    run = legs_run(rng, design, percent / 100.0) if design.legs else plug_run(rng, design, percent / 100.0)
    return FieldTest(design.instruments, Display(step_kw=0.01), (run,))


def plug_run(rng: np.random.Generator, design: Design, factor: float) -> Run:
    watts = rng.uniform(1350.0, 1500.0)
    plug = design.instruments.watts
    assert plug is not None
    lost = (watts / 120.0) ** 2 * rng.uniform(0.0, 0.16)
    before, during, after = rng.uniform(80.0, 250.0) * (1.0 + rng.normal(0.0, 0.05, 3))
    supply = 1.0 + rng.uniform(-0.005, 0.005)
    seen = rounded(watts - rng.uniform(-1.0, 1.0) * limit(plug, watts), plug.resolution)
    return Run(
        "run",
        counted(rng, (watts * supply + lost + during) * factor, 600.0),
        reference_watts=seen,
        background_w_before=before * factor + rng.uniform(-5.0, 5.0),
        background_w_after=after * factor + rng.uniform(-5.0, 5.0),
    )


def legs_run(rng: np.random.Generator, design: Design, factor: float) -> Run:
    volts = rng.uniform(117.0, 122.0) + rng.uniform(-0.4, 0.4, design.legs)
    amps = rng.uniform(17.0, 24.0) + rng.uniform(-0.3, 0.3, design.legs)
    angle = np.sqrt(3.0) / 2.0 if design.house.service == "network" else 1.0
    true = float(np.sum(volts * amps)) * angle * rng.uniform(0.995, 1.0)
    lost = float(np.sum(amps**2)) * rng.uniform(0.0, 0.006)
    voltmeter, clamp = design.instruments.volts, design.instruments.amps
    assert voltmeter is not None
    assert clamp is not None
    out_volts, out_amps = rng.uniform(-1.0, 1.0, 2)
    legs = []
    for v, i in zip(volts, amps, strict=True):
        seen_v = rounded(v - out_volts * limit(voltmeter, v), voltmeter.resolution)
        seen_i = rounded((i - out_amps * limit(clamp, i)) * (1.0 - rng.uniform(-0.01, 0.01)), clamp.resolution)
        legs.append(Leg(seen_v, seen_i, 1.0))
    supply = 1.0 + rng.uniform(-0.005, 0.005)
    meter_watts = (true * supply + lost) * factor
    shown = (
        Registered(meter_kw=rounded(meter_watts / 1000.0, 0.01)) if design.display else counted(rng, meter_watts, 600.0)
    )
    line = rounded(float(volts.sum() if design.house.service == "split-phase" else volts.mean() * np.sqrt(3.0)), 1.0)
    return Run("run", shown, tuple(legs), meter_volts=line, connection="line-to-line")
