"""Errors in what was read off the meter itself, undone: display, count, seconds, register."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

from reconcile.house.site import Registered

RATIOS: tuple[tuple[float, str, float], ...] = (
    (10.0, "decimal", 0.0),
    (100.0, "decimal", 3.0),
    (1000.0, "thousand", 0.5),
    (2.0, "double", 1.5),
    (math.sqrt(3.0), "root-3", 3.0),
)
"""Written over true (and its inverse), the error's name, and how much rarer it is than a decimal point."""

Undone = tuple[str, str, float | None, float, Registered]
"""Code, field, written over true, weight, and the reading without the error."""


def ratios() -> Iterator[tuple[float, str, float]]:
    """Yield every ratio and its inverse, with its name and weight."""
    for ratio, code, weight in RATIOS:
        yield ratio, code, weight
        yield 1.0 / ratio, "half" if code == "double" else code, weight


def counts(r: Registered) -> Iterator[Undone]:
    """Yield every error that can be undone in a reading of the meter."""
    yield from _scaled(r)
    yield from _times(r)
    yield from _registers(r)
    if r.meter_kw is not None and r.meter_kw < 0.0:
        positive = replace(r, meter_kw=-r.meter_kw, kw_repeats=tuple(-k for k in r.kw_repeats))
        yield "export", "meter_kw", -1.0, -2.0, positive


def _scaled(r: Registered) -> Iterator[Undone]:
    """One figure, written so many times too large or too small."""
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
        shown["seconds"] = lambda f: timed(r, 1.0 / f)
    for field, made in shown.items():
        for ratio, code, weight in ratios():
            yield code, field, ratio, weight, made(ratio)


def timed(r: Registered, times: float) -> Registered:
    """Return a reading whose seconds are so many times as long."""
    return replace(r, seconds=(r.seconds or 0.0) * times, seconds_repeats=tuple(s * times for s in r.seconds_repeats))


def _times(r: Registered) -> Iterator[Undone]:
    """Minutes or hours for seconds, minutes and seconds run together, a count for the time."""
    if not r.seconds:
        return
    yield "minutes", "seconds", 1.0 / 60.0, 1.0, timed(r, 60.0)
    yield "minutes", "seconds", 60.0, 4.0, timed(r, 1.0 / 60.0)
    yield "hours", "seconds", 1.0 / 3600.0, 2.0, timed(r, 3600.0)
    minutes, rest = divmod(r.seconds, 100.0)
    if minutes >= 1.0 and rest <= 60.0 and r.seconds < 10_000.0:
        # 1003 for ten minutes and three seconds
        right = (60.0 * minutes + rest) / r.seconds
        yield "clock", "seconds", 1.0 / right, 1.5, timed(r, right)
    whole = math.floor(r.seconds)
    rest = 100.0 * (r.seconds - whole)
    if whole >= 1.0 and rest < 60.0 and r.seconds < 200.0:
        # 10.03 for the same
        right = (60.0 * whole + rest) / r.seconds
        yield "clock", "seconds", 1.0 / right, 1.0, timed(r, right)
    for field in ("pulses", "turns"):
        count = getattr(r, field)
        # a count that happens to be near the seconds explains any small error
        if count and abs(math.log(count) - math.log(r.seconds)) > 0.1:
            yield "swapped", field, None, 1.0, replace(r, **{field: r.seconds, "seconds": count}, seconds_repeats=())


def _registers(r: Registered) -> Iterator[Undone]:
    """The register's two readings: exchanged, a decimal point off, or the last digits of one left out."""
    start, end = r.register_start, r.register_end
    if start is None or end is None:
        return
    yield "swapped", "register_end", None, 1.0, replace(r, register_start=end, register_end=start)
    gone = end - start
    for ratio, code, weight in ratios():
        yield code, "register_end", ratio, weight + 1.0, replace(r, register_end=start + gone / ratio)
    if float(end).is_integer() and not float(start).is_integer():
        for n in range(1, 10):
            yield "digits", "register_end", None, 0.0, replace(r, register_end=end + n / 10.0)
    elif float(start).is_integer() and not float(end).is_integer():
        for n in range(1, 10):
            yield "digits", "register_start", None, 0.0, replace(r, register_start=start + n / 10.0)
