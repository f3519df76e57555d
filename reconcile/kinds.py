"""The one table of what an answer may be made of: decisions, flags, zones, hazards, services, and the kinds of cause.

A *kind* is a pattern the bills are weighed against; several kinds may carry one *code*, the cause a person is told.
Chances are per house over about a year and a half of bills. None is a published rate: they are what an experienced
troubleshooter would say before seeing the bills, checked for calibration on simulated houses.
"""

from __future__ import annotations

from enum import IntEnum, StrEnum
from typing import Literal, TypeAlias

from reconcile.records import dataclass

CauseCode: TypeAlias = Literal[
    "meter-step",
    "old-meter-slow",
    "meter-always",
    "meter-low",
    "constant-load",
    "habit-step",
    "heating-rise",
    "cooling-rise",
    "heating-fall",
    "cooling-fall",
    "generation-fall",
    "unlisted",
    "load-gone",
    "timed-load",
    "single-period",
    "swap",
]
"""Codes of the causes an answer may hold, as :func:`reconcile.priors` lists them; beside them there is ``none``."""
OWN_METER: tuple[CauseCode, ...] = ("meter-step", "meter-always", "meter-low")
"""Those that are an error of the meter now on the wall."""


class Decision(StrEnum):
    """What to do about the bills."""

    URGENT = "urgent"
    EXPLAINED = "explained"
    PAPERWORK = "paperwork"
    INVENTORY = "inventory"
    OUTSIDE_CHECK = "outside-check"
    FIELD_TEST = "field-test"
    NOT_ENOUGH_DATA = "not-enough-data"


class Flag(StrEnum):
    """One reading of a bill against its band."""

    WITHIN = "within"
    OVER = "over"
    UNDER = "under"
    NOT_JUDGED = "not-judged"


class Hazard(IntEnum):
    """How near a step comes to live parts; steps stand in this order."""

    PAPER = 0
    LOOK = 1
    PLUG_IN = 2
    MAIN_BREAKER = 3
    UTILITY = 4
    PANEL = 5


class Family(StrEnum):
    """What a cause is about: causes of one family ask for the same act."""

    NONE = "none"
    METER = "meter"
    LOAD = "load"
    HABIT = "habit"
    WEATHER = "weather"
    BILL = "bill"
    LIST = "list"
    GENERATION = "generation"


class Lasts(StrEnum):
    """How long a cause acts once it has begun."""

    ALWAYS = "always"
    ONWARD = "onward"
    UNTIL = "until"
    WINDOW = "window"
    ONE_BILL = "one-bill"


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of cause."""

    name: str
    """Of the pattern."""
    code: CauseCode | Literal["none"]
    """Of the cause told, as in ``result.json``."""
    family: Family
    lasts: Lasts
    chance: float
    """Prior chance."""
    size_mean: float
    size_sd: float
    """Both: prior of its size as a part of the use it acts on (all use, habits, heating, cooling); a fall is
    negative."""
    unit: str
    """Unit of the size told: ``%``, ``W`` or ``kWh``."""
    reason: str
    """Why this chance."""
    large_chance: float = 0.0
    """Prior chance that it acts with a size of another order (:attr:`large_size`): a wrong multiplier, a heater stuck
    on in a small house, a house lived in for a season; a meter that counts half, or hardly at all."""

    @property
    def large_size(self) -> tuple[float, float]:
        """Mean and standard deviation of that size."""
        return (LARGE_MEAN, LARGE_SD) if self.size_mean > 0.0 else (LARGE_FALL_MEAN, LARGE_FALL_SD)


LARGE_MEAN, LARGE_SD = 0.9, 0.4
"""Size of a cause of another order, as a part of the use it acts on."""

LARGE_FALL_MEAN, LARGE_FALL_SD = -0.65, 0.2
"""The same of one that takes: from a third of it, a phase lost of three, and a half, a dead element of two, to a meter
that stands still for most of the time (our choice)."""

STUCK_KWH = 50.0
"""What a load that sticks uses, whatever the house, which its size is a part of [kWh/d]: 2.1 kW round the clock, from a
window unit to a whole element or a central compressor (elements of 3.5 to 5.5 kW and compressors of 1.5 to 3.5 kW by
their plates, from memory; our choice)."""

_ROWS = (
    Kind(
        "meter-exchange", "meter-step", Family.METER, Lasts.ONWARD, 0.03, 0.25, 0.15, "%",
        "a wrong multiplier, a wrong program or a faulty new meter come with an exchange", 0.006,
    ),
    Kind(
        "meter-step", "meter-step", Family.METER, Lasts.ONWARD, 0.004, 0.25, 0.15, "%",
        "a meter in service seldom turns fast by itself", 0.0008,
    ),
    Kind(
        "meter-drift", "meter-step", Family.METER, Lasts.ONWARD, 0.003, 0.25, 0.15, "%",
        "a meter that turns fast by and by, up to the last bill",
    ),
    Kind(
        "old-meter-slow", "old-meter-slow", Family.METER, Lasts.UNTIL, 0.03, 0.25, 0.15, "%",
        "old disk meters slow with wear, and are exchanged for it",
    ),
    Kind(
        "meter-always", "meter-always", Family.METER, Lasts.ALWAYS, 0.006, 0.25, 0.15, "%",
        "a meter fast since before the first bill", 0.001,
    ),
    Kind(
        "meter-low", "meter-low", Family.METER, Lasts.ONWARD, 0.003, -0.25, 0.15, "%",
        "a dead element of an electronic meter, a disk that rubs", 0.0015,
    ),
    Kind(
        "meter-slowing", "meter-low", Family.METER, Lasts.ONWARD, 0.003, -0.25, 0.15, "%",
        "a disk meter that wears slows by and by, up to the last bill",
    ),
    Kind(
        "meter-leg", "meter-low", Family.METER, Lasts.ONWARD, 0.002, -0.5, 0.07, "%",
        "one of two elements dead: half of what runs at 240 V is counted, of the rest all or nothing; looked for only "
        "where interval data show on which day the nights fell, and by how much",
    ),
    Kind(
        "meter-low-always", "meter-low", Family.METER, Lasts.ALWAYS, 0.003, -0.25, 0.15, "%",
        "a meter slow since before the first bill; looked for only where a run was read, as bills alone do not tell it",
    ),
    Kind(
        "meter-low-exchange", "meter-low", Family.METER, Lasts.ONWARD, 0.008, -0.25, 0.15, "%",
        "the same, with a new meter", 0.0015,
    ),
    Kind(
        "constant-load", "constant-load", Family.LOAD, Lasts.ONWARD, 0.05, 0.25, 0.15, "W",
        "a leak, a stuck element or relay, a pump that runs on", 0.008,
    ),
    Kind(
        "cold-load", "constant-load", Family.LOAD, Lasts.ONWARD, 0.015, 0.25, 0.15, "W",
        "a hot tub, heat tape or pump out of doors: round the clock, more in the cold",
    ),
    Kind(
        "hot-water-leak", "constant-load", Family.LOAD, Lasts.ONWARD, 0.015, 0.25, 0.15, "W",
        "hot water that runs off day and night, the mains being colder in winter; only where electricity heats the "
        "water", 0.004,
    ),
    Kind(
        "drift", "constant-load", Family.LOAD, Lasts.ONWARD, 0.015, 0.25, 0.15, "W",
        "a refrigerator that fails slowly, a leak that grows",
    ),
    Kind(
        "habit-step", "habit-step", Family.HABIT, Lasts.ONWARD, 0.05, 0.3, 0.15, "%",
        "a person more, work from home",
    ),
    Kind("habit-fall", "habit-step", Family.HABIT, Lasts.ONWARD, 0.02, -0.25, 0.15, "%", "a person fewer"),
    Kind(
        "house-left", "habit-step", Family.HABIT, Lasts.ONWARD, 0.015, -0.9, 0.12, "%",
        "nobody any more: a house for a season, or to let",
    ),
    Kind(
        "heating-rise", "heating-rise", Family.WEATHER, Lasts.ONWARD, 0.02, 0.3, 0.2, "%",
        "strip heat cutting in, lost refrigerant, a higher setting; a heat pump on auxiliary heat alone", 0.004,
    ),
    Kind(
        "cooling-rise", "cooling-rise", Family.WEATHER, Lasts.ONWARD, 0.02, 0.3, 0.2, "%",
        "a dirty coil, lost refrigerant, a lower setting",
    ),
    Kind(
        "heating-setting", "heating-rise", Family.WEATHER, Lasts.ONWARD, 0.02, 0.3, 0.2, "%",
        "a thermostat set higher: as much more on every cold day",
    ),
    Kind(
        "cooling-setting", "cooling-rise", Family.WEATHER, Lasts.ONWARD, 0.02, 0.3, 0.2, "%",
        "a thermostat set lower: as much more on every hot day",
    ),
    Kind(
        "heating-fall", "heating-fall", Family.WEATHER, Lasts.ONWARD, 0.01, -0.25, 0.15, "%",
        "a repair, a lower setting, another fuel beside it",
    ),
    Kind(
        "cooling-fall", "cooling-fall", Family.WEATHER, Lasts.ONWARD, 0.01, -0.25, 0.15, "%",
        "a repair, a higher setting",
    ),
    Kind(
        "generation-fall", "generation-fall", Family.GENERATION, Lasts.ONWARD, 0.04, 0.5, 0.25, "%",
        "a string, an inverter or its breaker out, new shade; only of a house that makes electricity",
    ),
    Kind(
        "unlisted", "unlisted", Family.LIST, Lasts.ALWAYS, 0.08, 0.25, 0.15, "W",
        "a load that was there all the time and is not on the list",
    ),
    Kind(
        "list-short", "unlisted", Family.LIST, Lasts.ALWAYS, 0.04, 0.25, 0.15, "W",
        "watts and hours stated too low throughout; bills alone cannot tell it from a fast meter", 0.004,
    ),
    Kind(
        "unlisted-heating", "unlisted", Family.LIST, Lasts.ALWAYS, 0.02, 0.25, 0.15, "W",
        "electric heat that is not on the list: backup strips, space heaters, a second system; or hours stated too low",
        0.004,
    ),
    Kind(
        "unlisted-cooling", "unlisted", Family.LIST, Lasts.ALWAYS, 0.01, 0.25, 0.15, "W",
        "window units, or a second system, that are not on the list; or hours stated too low",
    ),
    Kind(
        "load-gone", "load-gone", Family.LOAD, Lasts.ONWARD, 0.04, -0.2, 0.12, "W",
        "a load that left, or is no longer used",
    ),
    Kind(
        "timed-load", "timed-load", Family.LOAD, Lasts.WINDOW, 0.03, 0.3, 0.2, "W",
        "a heater, a hot tub, a dehumidifier for some months; or people, in a house that is empty otherwise", 0.015,
    ),
    Kind(
        "winter-load", "timed-load", Family.LOAD, Lasts.WINDOW, 0.03, 0.3, 0.2, "W",
        "a space heater, heat tape or an engine heater while it is cold",
    ),
    Kind(
        "summer-load", "timed-load", Family.LOAD, Lasts.WINDOW, 0.015, 0.3, 0.2, "W",
        "a window unit, a pump or a dehumidifier while it is warm",
    ),
    Kind(
        "stuck-load", "timed-load", Family.LOAD, Lasts.WINDOW, 0.01, 1.0, 0.6, "W",
        "an element, a relay or a contactor that sticks until it is found: kilowatts, whatever the house; "
        "looked for only where bills on end stand far out",
    ),
    Kind(
        "heating-spell", "heating-rise", Family.WEATHER, Lasts.WINDOW, 0.003, 0.3, 0.2, "%",
        "the same, mended again or over with the winter: auxiliary heat, a second heater", 0.004,
    ),
    Kind(
        "cooling-spell", "cooling-rise", Family.WEATHER, Lasts.WINDOW, 0.004, 0.3, 0.2, "%",
        "lost refrigerant until it was filled, a summer's setting",
    ),
    Kind(
        "clock-load", "timed-load", Family.LOAD, Lasts.ONWARD, 0.03, 0.25, 0.15, "W",
        "a heater or a pump on a timer, a car that is charged; looked for only where interval data show when it runs",
        0.01,
    ),
    Kind(
        "single-high", "single-period", Family.BILL, Lasts.ONE_BILL, 0.05, 0.35, 0.25, "kWh",
        "guests, an event, a slip nobody noticed",
    ),
    Kind(
        "single-low", "single-period", Family.BILL, Lasts.ONE_BILL, 0.05, -0.35, 0.25, "kWh",
        "an empty house, a slip nobody noticed",
    ),
    Kind(
        "absence", "single-period", Family.BILL, Lasts.WINDOW, 0.02, -0.7, 0.25, "kWh",
        "an empty house for two or three bills on end",
    ),
    Kind(
        "swap", "swap", Family.BILL, Lasts.ONE_BILL, 0.04, 0.25, 0.2, "kWh",
        "a reading a few days off, an unmarked estimate: high, then low",
    ),
    Kind(
        "catch-up", "swap", Family.BILL, Lasts.WINDOW, 0.003, 0.35, 0.15, "kWh",
        "two or three estimates that nobody marked, each too low, and the actual reading after them",
    ),
    Kind(
        "trued-up", "swap", Family.BILL, Lasts.WINDOW, 0.0015, -0.35, 0.15, "kWh", "the same with estimates too high"
    ),
    Kind("swap-back", "swap", Family.BILL, Lasts.ONE_BILL, 0.04, -0.25, 0.2, "kWh", "the same the other way"),
)  # fmt: skip

KINDS: dict[str, Kind] = {row.name: row for row in _ROWS}
"""Every kind of cause by its name, in the order in which patterns are laid out."""

OF_BILLS = tuple(name for name, kind in KINDS.items() if kind.family is Family.BILL)
"""Kinds of one bill or of a few on end: each place has a size of its own, and none says anything of the others."""

ODD = Kind(
    "odd-bill", "none", Family.BILL, Lasts.ONE_BILL, 0.15, 0.0, 0.1, "kWh",
    "a month that differs as months do: friends for a week, more baths, a long weekend away",
)  # fmt: skip
"""A bill that scatters more than the others, and is no cause of anything: the scatter of bills has heavy tails."""

LATE = Kind(
    "late-reading", "none", Family.BILL, Lasts.ONE_BILL, 0.3, 0.0, 0.04, "kWh",
    "a meter read a day or two before or after the day that is printed",
)  # fmt: skip
"""What the bill before a reading lacks and the one after it holds, or the other way round, as readings have it: no
cause of anything either. A day or two are some 5 % of a month; one reading in fifty or sixty (our judgement)."""

SCATTER = (ODD.name, LATE.name)
"""Kinds of what bills scatter by without any cause."""

PATTERNS: dict[str, Kind] = {**KINDS, ODD.name: ODD, LATE.name: LATE}
"""Every kind of pattern that is weighed: those of causes, and what may be in a bill without any."""
