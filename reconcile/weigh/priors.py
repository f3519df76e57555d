"""Prior chances and sizes of the causes: one table, with the reason of each, and what the diary does to them.

The chances are per house over about a year and a half of bills. None is a published rate: they are what an
experienced troubleshooter would say before seeing the bills, checked for calibration on simulated houses.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Prior:
    """Prior of one kind of pattern.

    ``size_mean`` and ``size_sd`` are of the pattern's size as a part of the use it acts on (all use, habits,
    heating, cooling); a negative mean is a fall.
    """

    code: str
    chance: float
    size_mean: float
    size_sd: float
    reason: str


PRIORS: dict[str, Prior] = {
    "meter-step": Prior("meter-step", 0.004, 0.25, 0.15, "a meter in service seldom turns fast by itself"),
    "meter-exchange": Prior(
        "meter-step",
        0.03,
        0.25,
        0.15,
        "a wrong multiplier, a wrong programme or a faulty new meter come with an exchange",
    ),
    "old-meter-slow": Prior(
        "old-meter-slow", 0.03, 0.25, 0.15, "old disk meters slow with wear, and are exchanged for it"
    ),
    "meter-always": Prior("meter-always", 0.006, 0.25, 0.15, "a meter fast since before the first bill"),
    "meter-low": Prior("meter-low", 0.003, -0.25, 0.15, "a worn disk meter; a dead element of an electronic one"),
    "meter-low-exchange": Prior("meter-low", 0.008, -0.25, 0.15, "the same, with a new meter"),
    "constant-load": Prior("constant-load", 0.05, 0.25, 0.15, "a leak, a stuck element or relay, a pump that runs on"),
    "cold-load": Prior(
        "constant-load",
        0.015,
        0.25,
        0.15,
        "a hot tub, heat tape or pump out of doors: round the clock, more in the cold",
    ),
    "drift": Prior("constant-load", 0.015, 0.25, 0.15, "a refrigerator that fails slowly, a leak that grows"),
    "timed-load": Prior("timed-load", 0.05, 0.3, 0.2, "a heater, a hot tub, a dehumidifier for some months"),
    "habit-step": Prior("habit-step", 0.05, 0.3, 0.15, "a person more, work from home"),
    "habit-fall": Prior("habit-step", 0.02, -0.25, 0.15, "a person fewer"),
    "heating-rise": Prior("heating-rise", 0.02, 0.3, 0.2, "strip heat cutting in, lost refrigerant, a higher setting"),
    "cooling-rise": Prior("cooling-rise", 0.02, 0.3, 0.2, "a dirty coil, lost refrigerant, a lower setting"),
    "heating-setting": Prior("heating-rise", 0.02, 0.3, 0.2, "a thermostat set higher: as much more on every cold day"),
    "cooling-setting": Prior("cooling-rise", 0.02, 0.3, 0.2, "a thermostat set lower: as much more on every hot day"),
    "heating-fall": Prior("heating-fall", 0.01, -0.25, 0.15, "a repair, a lower setting, another fuel beside it"),
    "cooling-fall": Prior("cooling-fall", 0.01, -0.25, 0.15, "a repair, a higher setting"),
    "single-high": Prior("single-period", 0.05, 0.35, 0.25, "guests, an event, a slip nobody noticed"),
    "single-low": Prior("single-period", 0.05, -0.35, 0.25, "an empty house, a slip nobody noticed"),
    "swap": Prior("swap", 0.04, 0.25, 0.2, "a reading a few days off, an unmarked estimate: high, then low"),
    "swap-back": Prior("swap", 0.04, -0.25, 0.2, "the same the other way: low, then high"),
    "unlisted": Prior("unlisted", 0.08, 0.25, 0.15, "a load that was there all the time and is not on the list"),
    "list-short": Prior(
        "unlisted",
        0.04,
        0.25,
        0.15,
        "watts and hours stated too low throughout; bills alone cannot tell it from a fast meter",
    ),
    "load-gone": Prior("load-gone", 0.04, -0.2, 0.12, "a load that left, or is no longer used"),
}

EVENT_CODES: dict[str, tuple[str, ...]] = {
    "new-load": ("constant-load", "timed-load", "habit-step"),
    "removed-load": ("load-gone",),
    "repair": ("constant-load", "heating-rise", "cooling-rise", "load-gone"),
    "away": ("single-period",),
    "guests": ("single-period", "timed-load"),
    "occupants": ("habit-step",),
    "thermostat": ("heating-rise", "cooling-rise"),
    "outage": ("constant-load", "heating-rise"),
    "other": ("constant-load", "timed-load", "habit-step"),
}
"""Which causes a line of the diary makes likelier near its date."""

EVENT_LIFT = 8.0
"""By how much a diary line multiplies the chance of such an onset within :data:`EVENT_DAYS` of it."""

EVENT_DAYS = 35.0
