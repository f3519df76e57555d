"""What a meter showed over one observation, as watts with their doubt, or as a bound where it did not move.

A timed count of pulses or disk turns is P = 3600 w N / t, with w the watt-hours a count, N the counts and t
the seconds (the time for turns: standby.lbl.gov/measure/in-home/electrometer/). Zero counts prove only P <
3600 w / t.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache
from typing import Any, Literal

from reconcile.house import Meter
from reconcile.house.site import Display, FieldTest, Instruments, MainOff, Quiet, Registered, Run
from reconcile.meter.budget import Budget, Input, Model, propagate
from reconcile.meter.field_defaults import default
from reconcile.records import dataclass

LEAST_SECONDS = 1.0
"""A shorter time is no timing."""

Way = Literal["display", "pulses", "turns", "register"]


@dataclass(frozen=True, slots=True, eq=False)
class Shown:
    """Watts by one way of reading the meter."""

    way: Way
    watts: float
    """Best estimate [W]."""
    standard_uncertainty: float
    """[W]"""
    at_most_watts: float
    """Upper bound that the reading proves [W]."""
    counts: float | None
    """Pulses, turns or register steps counted; None for a display."""
    inputs: tuple[Input, ...]
    model: Model
    """Watts from the inputs."""

    @property
    def nothing(self) -> bool:
        """Whether the meter did not move."""
        return self.watts == 0.0


def timed_watts(watt_hours: float, counts: float, seconds: float) -> float:
    """Return the mean power [W] of ``counts`` pulses or turns of ``watt_hours`` [Wh] each in ``seconds`` [s].

    Examples
    --------
    >>> round(timed_watts(7.2, 1, 600), 1)
    43.2
    """
    return 3600.0 * watt_hours * counts / seconds


def wait_seconds(watt_hours: float, watts: float) -> float:
    """Return the time [s] in which one count of ``watt_hours`` [Wh] goes by at ``watts`` [W].

    Examples
    --------
    >>> wait_seconds(1.0, 10.0)
    360.0
    """
    return 3600.0 * watt_hours / watts


@lru_cache(maxsize=1024)
def readings(registered: Registered, meter: Meter, instruments: Instruments, display: Display) -> tuple[Shown, ...]:
    """Return every way in which the meter was read, the surest first.

    Parameters
    ----------
    meter : Meter
        Its constants and multiplier.
    instruments : Instruments
        For the doubt of a timing.
    display : Display
        Step of the displayed kW.

    Returns
    -------
    tuple of Shown
        Empty where the meter was not read in any usable way; a display of demand is no reading of now.
    """
    found: list[Shown] = []
    r = registered
    if r.meter_kw is not None and meter.display != "kW demand":
        found.append(_display(r, meter, display))
    if r.seconds is not None and r.seconds >= LEAST_SECONDS:
        timing = Input("timing", r.seconds, instruments.time_seconds, "rectangular", unit="s")
        if r.pulses is not None and meter.pulse_wh is not None:
            found.append(_timed("pulses", r.pulses, meter.pulse_wh * meter.multiplier, r, timing))
        if r.turns is not None and meter.disk_wh is not None:
            found.append(_timed("turns", r.turns, meter.disk_wh * meter.multiplier, r, timing))
        if r.register_start is not None and r.register_end is not None:
            steps = _advance(r, meter) / meter.step_kwh
            found.append(_timed("register", steps, 1000.0 * meter.step_kwh * meter.multiplier, r, timing))
    return tuple(sorted(found, key=lambda s: s.at_most_watts if s.nothing else s.standard_uncertainty))


def best(registered: Registered, meter: Meter, instruments: Instruments, display: Display) -> Shown | None:
    """Return the surest reading: one that moved before one that did not; None where there is none."""
    found = readings(registered, meter, instruments, display)
    moved = [shown for shown in found if not shown.nothing]
    return moved[0] if moved else found[0] if found else None


def display_step(display: Display, shown_kw: float) -> float:
    """Return the step of the displayed kW: as given, else two decimals, or more where more were written.

    Examples
    --------
    >>> display_step(Display(), 5.4), display_step(Display(), 5.381), display_step(Display(step_kw=0.1), 5.4)
    (0.01, 0.001, 0.1)
    """
    if display.step_kw is not None:
        return display.step_kw
    return min(default("display_step_kw"), 10.0 ** -_decimals(shown_kw))


def as_shown(test: FieldTest) -> FieldTest:
    """Return a test whose display has the step of its kW as they were written, where nobody said which it has.

    A display of one decimal that cuts off takes up to 6 % of 1.6 kW. One reading of several with two decimals is
    enough, since a last 0 is often left out.

    Examples
    --------
    >>> runs = [Run("a", Registered(meter_kw=kw)) for kw in (1.6, 1.63)]
    >>> [as_shown(FieldTest(runs=tuple(some))).display.step_kw for some in (runs, runs[:1])]
    [0.01, 0.1]
    """
    rows: tuple[Run | Quiet | MainOff, ...] = (*test.runs, *test.quiet, *test.main_off)
    every = [one.registered for one in rows]
    shown = [kw for r in every for kw in (r.meter_kw, *r.kw_repeats) if kw]
    if test.display.step_kw is not None or not shown:
        return test
    return replace(test, display=replace(test.display, step_kw=10.0 ** -max(map(_decimals, shown))))


def as_read(meter: Meter, test: FieldTest) -> Meter:
    """Return a meter whose register has the step in which it was read, where that is coarser than what it can show.

    Whole kWh written down of a register with decimals may each hide almost one kWh.

    Examples
    --------
    >>> runs = [Run("a", Registered(register_start=start, register_end=start + 2.0)) for start in (5.0, 7.12)]
    >>> [as_read(Meter(step_kwh=0.01), FieldTest(runs=tuple(some))).step_kwh for some in (runs, runs[:1])]
    [0.01, 1.0]
    """
    rows: tuple[Run | Quiet | MainOff, ...] = (*test.runs, *test.quiet, *test.main_off)
    ends = [kwh for row in rows for kwh in (row.registered.register_start, row.registered.register_end)]
    read = [kwh for kwh in ends if kwh is not None]
    step = min((10.0 ** -_decimals(kwh) for kwh in read), default=0.0)
    return replace(meter, step_kwh=step) if step > meter.step_kwh else meter


def _decimals(shown: float) -> int:
    return len(f"{shown:.4f}".rstrip("0").partition(".")[2])


def _display(r: Registered, meter: Meter, display: Display) -> Shown:
    kw = r.meter_kw or 0.0
    scale = 1000.0 * meter.multiplier
    step = display_step(display, max(r.kw_repeats, default=kw, key=lambda v: len(f"{v:g}")))
    inputs = [Input("display", kw, step / 2.0, "rectangular", unit="kW")]
    if len(r.kw_repeats) > 1:
        inputs.append(_scatter("display scatter", r.kw_repeats, "kW"))

    def watts(q: Mapping[str, Any]) -> Any:
        return scale * (q["display"] + q.get("display scatter", 0.0))

    budget = propagate(watts, inputs)
    # A display may cut off rather than round, so a zero can hide almost a whole step.
    bound = scale * step if kw == 0.0 else budget.value + scale * step
    return _made("display", budget, bound, None, inputs, watts)


def _timed(way: Way, counts: float, watt_hours: float, r: Registered, timing: Input) -> Shown:
    fixed_time = way == "register" or (r.counted or _usual(way, r)) == "in-a-time"
    # A window that starts and ends anywhere holds one count more or less; the error is triangular.
    counting = Input("count", counts, 1.0 if fixed_time else 0.0, "triangular")
    inputs = [counting, timing]
    if len(r.seconds_repeats) > 1 and counts:
        rates = [1.0 / s for s in r.seconds_repeats]
        mean = sum(rates) / len(rates)
        inputs[1] = Input("timing", 1.0 / mean, timing.limit, "rectangular", unit="s")
        inputs.append(_scatter("timing scatter", [rate / mean for rate in rates], ""))

    def watts(q: Mapping[str, Any]) -> Any:
        return 3600.0 * watt_hours * q["count"] / q["timing"] * (1.0 + q.get("timing scatter", 0.0))

    budget = propagate(watts, inputs)
    bound = timed_watts(watt_hours, counts + 1.0, inputs[1].value)
    return _made(way, budget, bound, counts, inputs, watts)


def _usual(way: Way, r: Registered) -> str:
    """How a count was timed where nobody said: turns by their mark; pulses on one if to the tenth of a second."""
    on_a_count = way == "turns" or not float(r.seconds or 0.0).is_integer()
    return "pulse-to-pulse" if on_a_count else "in-a-time"


def _made(way: Way, budget: Budget, bound: float, counts: float | None, inputs: list[Input], model: Model) -> Shown:
    return Shown(way, budget.value, budget.standard_uncertainty, bound, counts, tuple(inputs), model)


def _scatter(name: str, values: tuple[float, ...] | list[float], unit: str) -> Input:
    count = len(values)
    mean = sum(values) / count
    spread = math.sqrt(sum((v - mean) ** 2 for v in values) / (count - 1))
    return Input(name, 0.0, spread / math.sqrt(count), "normal", 1.0, count - 1, unit, f"{count} readings")


def _advance(r: Registered, meter: Meter) -> float:
    start, end = r.register_start or 0.0, r.register_end or 0.0
    if end < start and meter.digits is not None:
        end += 10.0**meter.digits
    return end - start
