"""Which listed load makes the best reference: steady, resistive, large, and nothing that starts and stops by itself."""

from __future__ import annotations

import re
from collections.abc import Iterable

from reconcile.house import House, Load
from reconcile.meter.resolve import plug_limit_watts
from reconcile.records import dataclass

LEAST_WATTS = 400.0
"""Below this a load is lost in what else a house draws [W] (common practice)."""

KINDS: tuple[tuple[tuple[str, ...], float, str], ...] = (
    (("portable heater", "space heater", "fan heater", "radiant", "panel heater"), 1.0, "resistive and steady on high"),
    (
        ("pump", "compressor", "freezer", "refrigerator", "fridge", "air condition", "fan", "washer", "dishwasher"),
        0.15,
        "a motor: power factor below one, and it cycles",
    ),
    (("car charger", "ev charger", "electric car", "vehicle", "evse"), 0.95, "steady for hours, near power factor one"),
    (("water heater", "hot water", "immersion", "tankless"), 0.9, "resistive; steady while hot water runs"),
    (("baseboard", "electric heater", "heater"), 0.85, "resistive; steady until its room is warm"),
    (("hair dryer", "hairdryer", "blow dryer", "heat gun"), 0.2, "a motor beside its element, and a thermostat"),
    (("kettle", "toaster", "coffee"), 0.3, "resistive, but it switches itself off within minutes"),
    (("iron", "griddle", "hot plate", "hotplate"), 0.3, "resistive, but its thermostat cycles"),
    (("oven", "range", "stove", "cooktop", "hob"), 0.5, "resistive, but its thermostat cycles"),
    (("dryer",), 0.45, "an element with a thermostat and a motor"),
    (("hot tub", "spa", "sauna"), 0.45, "an element with a thermostat, often with a pump"),
    (("incandescent", "halogen", "floodlight", "lamp"), 0.6, "resistive and steady"),
    (("led", "light"), 0.3, "steady, but with electronics"),
    (("microwave",), 0.2, "pulses on and off, power factor below one"),
    (("computer", "television", "tv", "server", "router", "printer"), 0.15, "electronics, not steady"),
)
"""Words in a name (the first that fits), how good a reference it is (0 to 1), and why (common practice)."""


FIT = 0.5
"""Score above which a load stays on, and steady, for a whole run: what has a motor, or a thermostat that cycles, does
not (common practice)."""


def unfit_load(name: str) -> str | None:
    """Return why a load is no reference, by its name; None where it is one, or is not known.

    Examples
    --------
    >>> unfit_load("hair dryer"), unfit_load("ceramic heater"), unfit_load("run 2")
    ('a motor beside its element, and a thermostat', None, None)
    """
    for words, value, reason in KINDS:
        if any(re.search(rf"\b{word}", name.casefold()) for word in words):
            return reason if value <= FIT else None
    return None


def unfit_in_note(note: str) -> str | None:
    """Return why the load that a note says was used is no reference.

    Examples
    --------
    >>> unfit_in_note("used the hair dryer"), unfit_in_note("hair dryer unplugged")
    ('a motor beside its element, and a thermostat', None)
    """
    used = re.search(r"\bus(?:ed|ing)\b(.*)", note.casefold())
    return unfit_load(used[1]) if used else None


CYCLING = (
    "refrigerator", "fridge", "freezer", "heat pump", "air condition", "water heater", "hot water", "furnace", "boiler",
    "pump", "dehumidifier", "baseboard", "hot tub", r"spas?\b",
)  # fmt: skip
"""Beginnings of words in the names of loads that a thermostat or a float starts (common practice); a spa is no space
heater."""


def cycling(loads: Iterable[Load]) -> tuple[Load, ...]:
    """Return the loads that start and stop by themselves, the largest first.

    Examples
    --------
    >>> [load.name for load in cycling((Load("Kitchen refrigerator", watts=150.0), Load("Space heater", watts=1500.0)))]
    ['Kitchen refrigerator']
    """
    found = [
        load for load in loads if load.share_on < 1.0 or re.search(rf"\b(?:{'|'.join(CYCLING)})", load.name.casefold())
    ]
    return tuple(sorted(found, key=lambda load: -(load.watts or 0.0)))


@dataclass(frozen=True, slots=True)
class Candidate:
    """A load as a reference. ``plug_in``: whether it can run through a plug-in meter; ``score`` 0 to 1."""

    name: str
    watts: float
    plug_in: bool
    score: float
    why: str
    listed: bool = True


def candidates(house: House) -> tuple[Candidate, ...]:
    """Return the listed loads that could serve as a reference, the best first.

    Examples
    --------
    >>> best = candidates(House("a", (), (Load("Space heater", watts=1500.0), Load("Well pump", watts=1100.0))))[0]
    >>> best.name, best.plug_in
    ('Space heater', True)
    """
    limit = plug_limit_watts(house)
    found = [_candidate(load, limit) for load in house.loads if load.watts and load.watts >= LEAST_WATTS]
    found = [c for c in found if c.score >= 0.15]
    return tuple(sorted(found, key=lambda c: -c.score))


def plug_in_reference(house: House, found: tuple[Candidate, ...]) -> Candidate:
    """Return the best load for a plug-in run: a listed one, else a portable heater to borrow."""
    listed = [c for c in found if c.plug_in and c.score > FIT]
    if listed:
        return listed[0]
    watts = 1500.0 if plug_limit_watts(house) < 2000.0 else 2000.0
    return Candidate("a portable heater", watts, True, 0.9, "to borrow or buy", listed=False)


def panel_reference(found: tuple[Candidate, ...], limit: float) -> Candidate | None:
    """Return the best load for readings at the legs: large, and on for the whole of a run; None where none is."""
    large = [c for c in found if c.watts > limit and c.score > FIT]
    return max(large, key=lambda c: c.score * min(c.watts, 6000.0), default=None)


def _candidate(load: Load, limit: float) -> Candidate:
    name, watts = load.name.casefold(), load.watts or 0.0
    score, why = 0.35, "not known to be steady or resistive"
    for words, value, reason in KINDS:
        if any(re.search(rf"\b{word}", name) for word in words):
            score, why = value, reason
            break
    faults = []
    if load.follows in ("heating", "cooling") and score < 0.85:
        score *= 0.5
        faults.append("it follows the weather")
    if load.share_on < 1.0:
        score *= 0.7
        faults.append(f"it is on for {100.0 * load.share_on:.0f} % of its hours")
    if load.power_factor is not None and load.power_factor < 0.95:
        score *= 0.6
        faults.append(f"power factor {load.power_factor:g}")
    score *= min(1.0, (watts / 1500.0) ** 0.5)
    return Candidate(load.name, watts, watts <= limit, round(score, 3), "; ".join([why, *faults]))
