"""The kinds of house that are simulated, and what is true of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

World = Literal["plain", "unkind"]
WORLDS: tuple[World, ...] = ("plain", "unkind")


@dataclass(frozen=True)
class Kind:
    """A kind of house.

    ``meter_right``: whether the meter now on the wall registers truly, so that a field test would be for
    nothing. ``codes``: causes that rightly describe it (``none`` where no cause acts).
    ``needs_conditioning``: only told of a house heated or cooled by electricity. ``percent``: error of the
    meter, low and high, where it has one.
    """

    name: str
    meter_right: bool
    codes: frozenset[str]
    exchange: bool = False
    needs_conditioning: bool = False
    percent: tuple[float, float] | None = None


def _kind(name: str, *codes: str, right: bool = True, **more: object) -> Kind:
    return Kind(name, right, frozenset(codes), **more)  # type: ignore[arg-type]


_ALL = (
    _kind("healthy", "none"),
    _kind("healthy-exchange", "none", exchange=True),
    _kind("occupant", "habit-step"),
    _kind("thermostat", "heating-rise", "cooling-rise", needs_conditioning=True),
    _kind("spells", "none", needs_conditioning=True),
    _kind("long-period", "none"),
    _kind("price-rise", "none"),
    _kind("vacation", "single-period"),
    _kind("estimate", "none"),
    _kind("slip", "none", "swap"),
    _kind("meter-10-exchange", "meter-step", right=False, exchange=True, percent=(10, 10)),
    _kind("meter-20-exchange", "meter-step", right=False, exchange=True, percent=(20, 20)),
    _kind("meter-50-exchange", "meter-step", right=False, exchange=True, percent=(50, 50)),
    _kind("meter-20", "meter-step", right=False, percent=(20, 20)),
    _kind("meter-50", "meter-step", right=False, percent=(50, 50)),
    _kind("meter-30-always", "meter-always", right=False, percent=(30, 30)),
    _kind("slow-new", "meter-low", right=False, exchange=True, percent=(-35, -15)),
    _kind("slow-old", "old-meter-slow", exchange=True, percent=(-35, -15)),
    _kind("constant", "constant-load"),
    _kind("constant-exchange", "constant-load", exchange=True),
    _kind("drift", "constant-load"),
    _kind("seasonal-heater", "timed-load", "heating-rise"),
    _kind("hot-tub", "constant-load", "unlisted"),
    _kind("listed-gone", "load-gone"),
    _kind("leak-vacation", "constant-load", "single-period"),
    _kind("estimate-fast", "meter-step", right=False, exchange=True, percent=(20, 50)),
)
KINDS: dict[str, Kind] = {kind.name: kind for kind in _ALL}

_TWO = (
    _kind("two-empty", "single-period"),
    _kind("two-guests", "single-period", "timed-load"),
    _kind("guests-leak", "constant-load", "single-period"),
    _kind("leak-exchange", "constant-load", exchange=True),
)
TWO_EVENTS: dict[str, Kind] = {**{kind.name: kind for kind in _TWO}, "estimate-fast": KINDS["estimate-fast"]}
"""Two things at once: weighed by a bench of their own (``two_events.py``)."""

_OTHERS = (
    _kind("fewer", "habit-step"),
    _kind("left", "habit-step"),
    _kind("guests", "single-period"),
    _kind("stuck", "timed-load"),
    _kind("hot-water-leak", "constant-load"),
    _kind("thermostat-back", "heating-fall", "cooling-fall", needs_conditioning=True),
)
OTHERS: dict[str, Kind] = {kind.name: kind for kind in _OTHERS}
"""Somebody leaves, a full house for a month, an element that sticks until it is found, hot water that runs off, a
thermostat set lower: no kinds of the power bench, but causes of the table."""

EVERY: dict[str, Kind] = {**KINDS, **TWO_EVENTS, **OTHERS}
"""All kinds that can be simulated."""
