"""The steps of a plan, in order of hazard: codes and figures, with sentences in :mod:`..texts.field_plan_words`.

Looking, a plug-in meter, breakers with covers on, the utility, last a qualified person: nothing addressed to the
householder takes a cover off.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field
from typing import Any

from reconcile.decide.timer import Timer
from reconcile.house import House, Meter
from reconcile.house.registers import current_meter
from reconcile.kinds import Hazard
from reconcile.meter.count_constants import CLOSEST
from reconcile.meter.field_defaults import default
from reconcile.meter.forms import leg_volts
from reconcile.meter.legs import LEGS
from reconcile.meter.load_run import line_volts_of, outlet_volts
from reconcile.meter.main_off import SOUND_WATTS, listed_watts
from reconcile.meter.reference_load import Candidate, cycling
from reconcile.meter.registered import timed_watts, wait_seconds
from reconcile.meter.resolve import Resolution, planning_meter, register_hours, sag_volts
from reconcile.records import dataclass
from reconcile.texts.field.field_plan_words import Line, Who
from reconcile.texts.safety import Codes, Reader, cautions_for

REPEATS = 3
"""Runs of one test: enough to see that they agree; more help little beside what the instruments may be out."""
NIGHT_HOURS = 8.0
"""Between the evening's and the morning's reading [h] (common practice)."""
QUIET_MINUTES = 30
USUAL_CONSTANTS = 125.0
"""What a right meter seems to register where 1.25 Wh a flash is written for 1.0, both common [%] (from memory)."""
LONGEST_NAME = 32
"""Letters of a load's name that a sheet of one page has room for."""


@dataclass(frozen=True, slots=True)
class PlanStep:
    """One step."""

    code: str
    """Of the step, as the texts name it."""
    who: Who
    hazard: Hazard
    """Orders the steps."""
    minutes: float
    """How long it takes, all repeats together."""
    cautions: Codes
    """Codes of every caution that holds for it; a page prints each once."""
    do: tuple[Line, ...]
    expect: tuple[Line, ...]
    proves: tuple[Line, ...]
    """All: keys of sentences with their figures."""
    figures: Mapping[str, Any] = field(default_factory=dict)
    """What a sheet prints in its boxes and formulas."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What the steps of one plan have in common."""

    house: House
    meter: Meter
    """With a usual constant where its own is not written down."""
    reference: Candidate
    panel: Candidate | None
    """Both: loads of the plug-in run and of a qualified person's; the latter None where none is listed."""
    resolutions: Mapping[str, Resolution]
    """By test."""
    suspected_watts: float | None
    """Round-the-clock load that is sought [W]."""
    suspected_percent: float | None = None
    """Error of the meter that is suspected [%]."""
    timer: Timer | None = None
    """Hours in which interval data see the load run."""

    @property
    def size_wh(self) -> float:
        """Watt-hours of one count at the meter, multiplier included."""
        meter = self.meter
        return ((meter.disk_wh if meter.type == "disk" else meter.pulse_wh) or 0.0) * meter.multiplier

    @property
    def common(self) -> dict[str, Any]:
        """Figures that any sentence may name."""
        return {
            "disk": self.meter.type == "disk",
            "size": self.size_wh,
            "load": f"the {lower(self.reference.name)}" if self.reference.listed else self.reference.name,
            "load_watts": self.reference.watts,
            "repeats": REPEATS,
            "settle": default("settle_seconds"),
            "sought": None if not self.suspected_watts else abs(self.suspected_watts),
            "off": self.suspected_percent,
            "cycling": cycling_loads(self.house, self.reference.name),
            "number": current_meter(self.house).number,
        }

    def line(self, key: str, **figures: Any) -> Line:
        """Return a sentence of the plan with the figures it may name."""
        return Line(key, {**self.common, **figures})

    def lines(self, *keys: str, **figures: Any) -> tuple[Line, ...]:
        """Return several sentences with the same figures."""
        return tuple(self.line(key, **figures) for key in keys)


def lower(name: str) -> str:
    """Return a load's name as it stands inside a sentence, a long one cut.

    Examples
    --------
    >>> lower("Space heater"), lower("EV charger")
    ('space heater', 'EV charger')
    """
    short = name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1].rstrip()}…"
    return short[:1].lower() + short[1:] if short[1:2].islower() else short


def cycling_loads(house: House, but: str = "") -> tuple[str, ...]:
    """Return the names of listed loads that start and stop by themselves, the largest first, three at most.

    Examples
    --------
    >>> from reconcile.house import Load
    >>> cycling_loads(House("a", (), (Load("Kitchen refrigerator", watts=150.0), Load("Space heater", watts=1500.0))))
    ('kitchen refrigerator',)
    """
    return tuple(lower(load.name) for load in cycling(house.loads) if load.name != but)[:3]


def plan_steps(
    house: House,
    reference: Candidate,
    panel: Candidate | None,
    resolutions: tuple[Resolution, ...],
    watts: float | None,
    percent: float | None = None,
    timer: Timer | None = None,
) -> tuple[PlanStep, ...]:
    """Return every step of a plan in order of hazard.

    Parameters
    ----------
    reference, panel : Candidate
        Loads of the plug-in run and of a qualified person's.
    watts : float or None
        Round-the-clock load that is suspected [W].
    percent : float or None
        Error of the meter that is suspected [%].
    timer : Timer or None
        Hours in which interval data see the load run.
    """
    s = Setting(house, planning_meter(house), reference, panel, {r.test: r for r in resolutions}, watts, percent, timer)
    # no breaker shows a meter that counts too little: nobody is sent to the panel where nothing else is sought
    only_slow = (percent or 0.0) < 0.0 and not (watts or 0.0) > 0.0
    at_breakers = [] if only_slow else [_branches(s), _main_off(s)]
    steps = [_whose_meter(s), _quiet(s), _plug_in(s), *at_breakers, _utility(s)]
    if house.service in LEGS:
        steps.append(_legs(s))
    return tuple(steps)


def _whose_meter(s: Setting) -> PlanStep:
    every = wait_seconds(s.size_wh, s.reference.watts)
    return PlanStep(
        "whose-meter",
        Who.ANYONE,
        Hazard.LOOK,
        15,
        cautions_for(Hazard.LOOK, s.house),
        s.lines("whose-number", "whose-constant", "whose-follows", "whose-neighbor", every=every),
        s.lines("whose-expect", every=every),
        s.lines("whose-other", "whose-crossed"),
    )


def _quiet(s: Setting) -> PlanStep:
    sought = s.lines("quiet-sought", hours=NIGHT_HOURS, known=_known_at_night(s.house)) if _tells(s) else ()
    return PlanStep(
        "quiet",
        Who.ANYONE,
        Hazard.LOOK,
        QUIET_MINUTES,
        cautions_for(Hazard.LOOK, s.house),
        s.lines("quiet-off", "quiet-register", "quiet-count", minutes=QUIET_MINUTES),
        (*sought, s.line("quiet-expect", every=wait_seconds(s.size_wh, 100.0))),
        (*s.lines("quiet-load", "quiet-meter"), s.line("quiet-look", **_at_home(s.house))),
    )


def _at_home(house: House) -> dict[str, bool]:
    """Which of the usual round-the-clock troubles a home can have, by the names of its loads."""
    names = " ".join(load.name.casefold() for load in house.loads)
    return {"pump": "heat pump" in names, "heater": "water heater" in names or "hot water" in names}


def _tells(s: Setting) -> bool:
    """Whether a quiet reading tells anything apart that is suspected."""
    return bool(s.suspected_watts or s.suspected_percent)


def _known_at_night(house: House) -> float | None:
    """What the list gives the loads that run round the clock, on the average [W]."""
    return listed_watts(house, [load.name for load in house.loads if load.follows == "always"])


def _plug_in(s: Setting) -> PlanStep:
    told = s.resolutions.get("plug-in")
    seconds = told.seconds if told is not None and told.seconds else default("run_seconds")
    repeats = getattr(told, "repeats", None) or REPEATS
    volts, watts = outlet_volts(s.house), s.reference.watts
    amps = watts / volts
    figures = {
        "minutes": seconds / 60.0,
        "seconds": seconds,
        "repeats": repeats,
        "amps": amps,
        "volts": volts,
        "sag": max(amps * (default("service_ohms") + 2.0 * default("branch_ohms")), 1.5),
        "count": watts * seconds / 3600.0 / s.size_wh if s.size_wh else 0.0,
    }
    expect = s.lines("plug-volts", "plug-more", *(("plug-off-by",) if s.suspected_percent else ()), **figures)
    if told is not None:
        expect = (*expect, s.line("can-tell", told=told))
    light = (
        s.lines("plug-light", watts=0.1 * s.meter.test_amps * line_volts_of(s.house, s.house.service))
        if s.meter.test_amps is not None
        else ()
    )
    hours = s.resolutions.get("register")
    figures["hours"] = _hours_by_count(s) if hours is None else (hours.seconds or 0.0) / 3600.0
    keys = (
        *(("own-power",) if s.house.generation else ()),
        "plug-off", "plug-place", "plug-before", "plug-on", "plug-count",
        *(("plug-register",) if hours is not None else ()),
        "plug-watts", "plug-after", "plug-back",
    )  # fmt: skip
    return PlanStep(
        "plug-in",
        Who.ANYONE,
        Hazard.PLUG_IN,
        round((seconds + 2.0 * default("settle_seconds")) / 60.0 * repeats + 10.0),
        cautions_for(Hazard.PLUG_IN, s.house),
        s.lines(*keys, **figures),
        expect,
        (*s.lines("plug-registration", "plug-better" if hours is not None else "plug-kwh", **figures), *light),
        figures,
    )


def _hours_by_count(s: Setting) -> float:
    """For how long the load has to be on for the register to bear out a count that finds the meter far off [h]."""
    percent = 100.0 + (s.suspected_percent or 0.0)
    if 100.0 / CLOSEST < percent < 100.0 * CLOSEST:
        percent = USUAL_CONSTANTS
    return register_hours(current_meter(s.house), s.reference.watts * percent / 100.0, percent)


def _branches(s: Setting) -> PlanStep:
    return PlanStep(
        "branches",
        Who.ANYONE,
        Hazard.MAIN_BREAKER,
        45,
        cautions_for(Hazard.MAIN_BREAKER, s.house),
        (
            *(() if s.timer is None else s.lines("branch-when", timer=s.timer)),
            *s.lines("branch-ask", "branch-start", "branch-each"),
            s.line("branch-write", **({} if s.timer is None else {"sought": s.timer.watts})),
        ),
        s.lines("branch-sum"),
        s.lines("branch-found", "branch-none"),
    )


def wait_minutes(s: Setting) -> int:
    """Return how long to watch a meter with the main off [min]: a count at what is taken as nothing, ten at least."""
    return math.ceil(max(wait_seconds(s.size_wh, SOUND_WATTS), 600.0) / 60.0)


def _main_off(s: Setting) -> PlanStep:
    minutes = wait_minutes(s)
    least = timed_watts(s.size_wh, 1.0, 60.0 * minutes)
    do = [
        *(("main-generation",) if s.house.generation else ()),
        "main-ask",
        "main-branches",
        "main-watch",
        *(("main-coast",) if s.meter.type == "disk" else ()),
        "main-demand",
        "main-back",
    ]
    return PlanStep(
        "main-off",
        Who.ANYONE,
        Hazard.MAIN_BREAKER,
        minutes + 15,
        cautions_for(Hazard.MAIN_BREAKER, s.house, moves_main=True),
        s.lines(*do, minutes=minutes),
        s.lines("main-expect", minutes=minutes, least=least),
        s.lines("main-still", "main-counts"),
        {"minutes": minutes},
    )


def _utility(s: Setting) -> PlanStep:
    told = s.resolutions.get("utility")
    return PlanStep(
        "utility",
        Who.UTILITY,
        Hazard.UTILITY,
        0,
        (),
        s.lines("utility-ask", "utility-cost"),
        () if told is None else s.lines("utility-tells", told=told),
        s.lines("utility-settles"),
    )


def _legs(s: Setting) -> PlanStep:
    house, service = s.house, s.house.service
    told = s.resolutions.get("clamps")
    watts = s.panel.watts if s.panel is not None else 4500.0
    line = line_volts_of(house, service)
    volts = leg_volts(service, line)
    sag = sag_volts(house, watts)
    test_amps = s.meter.test_amps
    planned = default("run_seconds") if told is None or told.seconds is None else told.seconds
    seconds, repeats = planned, getattr(told, "repeats", None) or REPEATS
    root = math.sqrt(3.0) if service == "three-phase" else 1.0
    figures = {
        "panel": f"the {lower(s.panel.name)}" if s.panel is not None else None,
        "panel_watts": watts,
        "fit": s.panel.why if s.panel is not None else "",
        "volts": volts,
        "amps": watts / (root * line),
        "sag": sag,
        "sag_percent": 200.0 * sag / line,
        "legs": LEGS[service],
        "service": service,
        "test_amps": test_amps,
        "full_kw": None if test_amps is None else root * test_amps * line / 1000.0,
        "light_watts": None if test_amps is None else 0.1 * root * test_amps * line,
        "seconds": seconds,
        "repeats": repeats,
        "minutes": wait_minutes(s),
    }
    keys = (
        "legs-record", "legs-ask", "legs-zero", "legs-before", "legs-load", "legs-read", "legs-count", "legs-repeat",
        "legs-after", "legs-agree", "legs-close", "legs-main", "legs-end",
    )  # fmt: skip
    expect = s.lines("legs-expect", **figures)
    if told is not None:
        expect = (*expect, s.line("can-tell", told=told))
    if service == "network":
        expect = (*expect, s.line("legs-network"))
    return PlanStep(
        "legs",
        Who.QUALIFIED,
        Hazard.PANEL,
        round(2 * repeats * (seconds / 60.0 + 1.0) + wait_minutes(s) + 15.0),
        cautions_for(Hazard.PANEL, house, Reader.QUALIFIED),
        s.lines(*keys, **figures),
        expect,
        s.lines("legs-shows"),
        figures,
    )
