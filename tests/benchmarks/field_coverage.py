"""How often the stated limits of a whole field test hold the truth, and how often its verdict is wrong.

``python tests/benchmarks/field_coverage.py [tests a scenario]`` prints the table of docs/benches.md. The simulator
shares no formula with the budget. Scenarios: one run; three repeats; six labels at one receptacle; a refrigerator that
cycles; a supply that drifts; a motor.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from reconcile.house import House, Meter
from reconcile.house.registers import current_meter
from reconcile.house.site import Display, FieldTest, Instrument, Instruments, Leg, Registered, Run
from reconcile.meter.combine import combine
from reconcile.meter.lengths import Foreseen, foresee
from reconcile.meter.load_run import Weighed, weigh_run
from reconcile.meter.plausible import gate, sort_runs
from reconcile.meter.resolve import plug_in_resolution, plug_in_run, way_meter
from reconcile.meter.zone import decide

INSTRUMENTS = Instruments(
    volts=Instrument(0.7, digits=2, resolution=0.1),
    amps=Instrument(2.0, digits=5, resolution=0.01),
    watts=Instrument(1.0, digits=5, resolution=0.1),
)
HOUSE = House("coverage", (), service="split-phase", meters=(Meter(form="2S", pulse_wh=1.0),))
Floats = np.ndarray


@dataclass(frozen=True)
class Scenario:
    """How a test is made: loads under how many labels, how often each, and what moves meanwhile."""

    name: str
    labels: int = 1
    repeats: int = 1
    refrigerator: bool = False
    drift_percent: float = 0.5
    motor: bool = False
    seconds: float = 600.0
    watts: float | None = None


SCENARIOS = (
    Scenario("one run"),
    Scenario("three repeats", repeats=3),
    Scenario("six labels, one receptacle", labels=6),
    Scenario("cycling refrigerator, three repeats", repeats=3, refrigerator=True),
    Scenario("drifting volts, three repeats", repeats=3, drift_percent=2.0),
    Scenario("motor load", motor=True),
    Scenario("motor load, three repeats", motor=True, repeats=3),
)


def rounded(value: float, step: float) -> float:
    """A display's figure."""
    return round(round(value / step) * step, 6)


def limit(instrument: Instrument, reading: float) -> float:
    """Limit of error of an instrument at a reading."""
    return reading * instrument.percent_of_reading / 100.0 + instrument.digits * instrument.resolution


class Refrigerator:
    """A load that starts and stops by itself, wherever in its cycle the test meets it."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.on, self.off = rng.uniform(600.0, 1200.0), rng.uniform(1200.0, 2700.0)
        self.watts, self.phase = rng.uniform(90.0, 160.0), rng.uniform(0.0, self.on + self.off)

    def mean(self, start: float, end: float) -> float:
        """Mean watts between two moments."""
        times = np.linspace(start, end, 61)
        return float(np.mean((times + self.phase) % (self.on + self.off) < self.on)) * self.watts


def one_test(rng: np.random.Generator, scenario: Scenario, registration: float) -> tuple[Run, ...]:
    """The runs of one test of a meter that registers ``registration`` (1 is right)."""
    if scenario.motor:
        return _motor(rng, scenario, registration)
    out, ohms = rng.uniform(-1.0, 1.0), rng.uniform(0.0, 0.16)
    base = rng.uniform(80.0, 250.0)
    cold = Refrigerator(rng)
    plug = INSTRUMENTS.watts
    assert plug is not None
    runs, clock = [], 0.0
    for label in range(scenario.labels):
        watts = rng.uniform(900.0, 1480.0) if scenario.labels > 1 else rng.uniform(1300.0, 1480.0)
        watts = scenario.watts or watts
        for _ in range(scenario.repeats):
            levels = base * (1.0 + rng.normal(0.0, 0.05, 3))
            if scenario.refrigerator:
                spans = ((clock, clock + 60), (clock + 150, clock + 750), (clock + 810, clock + 870))
                levels = levels + np.array([cold.mean(*span) for span in spans])
            supply = watts * (1.0 + rng.uniform(-1.0, 1.0) * scenario.drift_percent / 100.0)
            lost = (watts / 120.0) ** 2 * ohms
            seen = rounded(watts - out * limit(plug, watts), 0.1)
            total = (supply + lost + levels[1]) * registration
            true_seconds = scenario.seconds + rng.uniform(-0.3, 0.3)
            pulses = float(np.floor(total * true_seconds / 3600.0 + rng.uniform()))
            runs.append(
                Run(
                    f"load {label}",
                    Registered(pulses=pulses, seconds=scenario.seconds),
                    connection="line-to-neutral",
                    reference_watts=seen,
                    background_w_before=levels[0] * registration + rng.uniform(-5.0, 5.0),
                    background_w_after=levels[2] * registration + rng.uniform(-5.0, 5.0),
                    outlet_volts_off=121.0,
                    outlet_volts_on=round(121.0 - watts / 120.0 * (ohms + 0.05), 1),
                )
            )
            clock += rng.uniform(900.0, 1500.0)
    return tuple(runs)


def _motor(rng: np.random.Generator, scenario: Scenario, registration: float) -> tuple[Run, ...]:
    """A pump between the legs: power factor read once to two places, clamp left where it hangs."""
    volts = rng.uniform(118.0, 122.0) + rng.uniform(-0.4, 0.4, 2)
    amps, factor = rng.uniform(9.0, 16.0), rng.uniform(0.72, 0.9)
    told = round(factor + rng.uniform(-0.03, 0.03), 2)
    out_volts, out_amps = rng.uniform(-1.0, 1.0, 2)
    places = rng.uniform(-0.01, 0.01, 2)
    voltmeter, clamp = INSTRUMENTS.volts, INSTRUMENTS.amps
    assert voltmeter is not None
    assert clamp is not None
    runs = []
    for _ in range(scenario.repeats):
        lost = 2.0 * amps**2 * rng.uniform(0.0, 0.006)
        supply = 1.0 + rng.uniform(-0.005, 0.005)
        true = (float(volts.sum()) * amps * factor * supply + lost) * registration
        legs = []
        for v, place in zip(volts, places, strict=True):
            seen = (amps - out_amps * limit(clamp, amps)) * (1.0 - place)
            legs.append(Leg(rounded(v - out_volts * limit(voltmeter, v), 0.1), rounded(seen, 0.01), told))
        pulses = float(np.floor(true * 600.0 / 3600.0 + rng.uniform()))
        runs.append(
            Run(
                "pump",
                Registered(pulses=pulses, seconds=600.0),
                tuple(legs),
                connection="line-to-line",
                meter_volts=round(float(volts.sum())),
            )
        )
    return tuple(runs)


def judged(runs: tuple[Run, ...], tolerance: float = 2.0) -> tuple[float, float, str]:
    """Limits and zone of a whole test, the gate included."""
    test = FieldTest(INSTRUMENTS, Display(0.01), runs)
    meter = current_meter(HOUSE)
    good = [w for run in runs if isinstance(w := weigh_run(run, HOUSE, test, meter), Weighed)]
    those = sort_runs(good, HOUSE, meter, test)
    together = combine(those.kept)
    found = gate(those, together, HOUSE, meter, test)
    zone = decide(together.percent, together.expanded, tolerance, interval=(together.low, together.high)).zone
    return together.low, together.high, "cannot-tell" if found.doubts else zone


def planned_and_found(error_percent: float, count: int, seed: int = 11) -> tuple[float, float, float, int, float]:
    """Plan a plug-in test that detects an error, and make it: what it reaches, and how often it finds the error.

    Returns
    -------
    seconds, planned, reached : float
        Length [s], expanded uncertainty planned and the median of those reached [%].
    repeats : int
    found : float
        Share of tests outside.
    """
    told = plug_in_resolution(HOUSE, INSTRUMENTS, 1400.0, error_percent)
    assert told is not None
    assert told.seconds is not None
    scenario = Scenario("planned", repeats=told.repeats, seconds=told.seconds, watts=1400.0)
    widths, found = [], 0
    for n in range(count):
        rng = np.random.default_rng([seed, n])
        sign = 1.0 if n % 2 else -1.0
        low, high, zone = judged(one_test(rng, scenario, 1.0 + sign * error_percent / 100.0))
        widths.append((high - low) / 2.0)
        found += zone == "outside"
    return told.seconds, told.expanded_percent, float(np.median(widths)), told.repeats, found / count


def foreseen(repeats: int, seconds: float) -> Foreseen:
    """A plug-in test as it is planned."""
    told = foresee(lambda s: plug_in_run(HOUSE, 1400.0, s), seconds, repeats, HOUSE, way_meter(HOUSE), INSTRUMENTS)
    assert told is not None
    return told


def found_of(planned: Foreseen, count: int, seed: int = 12, of: float = 1.0) -> float:
    """Share of tests outside, of meters that are out by (a part of) the error that a plan says it detects."""
    scenario = Scenario("planned", repeats=planned.repeats, seconds=planned.seconds, watts=1400.0)
    found = 0
    for n in range(count):
        rng = np.random.default_rng([seed, n])
        sign = 1.0 if n % 2 else -1.0
        made = one_test(rng, scenario, 1.0 + of * sign * planned.detects_percent / 100.0)
        found += judged(made)[2] == "outside"
    return found / count


@dataclass
class Told:
    """What a scenario shows."""

    coverage: float
    wrong: float
    outside_when_right: float
    decided: float


def scenario_score(
    scenario: Scenario, count: int, seed: int = 3, draw: Callable[[np.random.Generator], float] | None = None
) -> Told:
    """Simulate a scenario over meters from 94 to 106 %, or as ``draw`` says."""
    held = wrong = outside = decided = 0
    for n in range(count):
        rng = np.random.default_rng([seed, n])
        percent = rng.uniform(94.0, 106.0) if draw is None else draw(rng)
        low, high, zone = judged(one_test(rng, scenario, percent / 100.0))
        held += low <= percent <= high
        good = abs(percent - 100.0) <= 2.0
        wrong += (zone == "inside" and not good) or (zone == "outside" and good)
        outside += zone == "outside" and good
        decided += zone != "cannot-tell"
    return Told(held / count, wrong / count, outside / count, decided / count)


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    for error in (5.2, 5.6, 6.0, 8.0):
        seconds, planned, reached, repeats, found = planned_and_found(error, count // 2)
        print(
            f"error of {error} %: {repeats} runs of {seconds:.0f} s; uncertainty planned {planned:.2f} %, reached "
            f"{reached:.2f} %; found in {found:.3f}",
            flush=True,
        )
    for repeats in (1, 3):
        for length in (300.0, 600.0):
            made = foreseen(repeats, length)
            print(
                f"{repeats} of {length:.0f} s detects {made.detects_percent:.2f} %: found in "
                f"{found_of(made, count // 2):.3f}",
                flush=True,
            )
    for scenario in SCENARIOS:
        told = scenario_score(scenario, count)
        right = scenario_score(scenario, count // 4, seed=4, draw=lambda _: 100.0)
        print(
            f"{scenario.name:38s} coverage {told.coverage:.3f}  wrong {told.wrong:.4f}  decided {told.decided:.2f}  "
            f"right meter outside {right.outside_when_right:.4f}",
            flush=True,
        )
