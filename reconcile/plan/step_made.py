"""One step of what to do next, made: its words, how near it comes to live parts, its cautions, its worth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from reconcile.house import House
from reconcile.kinds import Hazard
from reconcile.meter.branches import circuit_found
from reconcile.plan.situation import Situation
from reconcile.plan.worth import HAZARD, MINUTES, Check, State, worth
from reconcile.result import Cause, Outcome, Step
from reconcile.say import quoted
from reconcile.texts import safety
from reconcile.texts.cause_words import kwh_a_day, size_told
from reconcile.texts.requests import request, which_bills
from reconcile.texts.step_words import CHECKS, NAMED, NOT_AT_NIGHT, READ_TODAY

OWN_MINUTES = {
    READ_TODAY: 10, "confirm": 5,
    "compare": 5, "diary": 5, "ended": 10, "lived-in": 2, NAMED: 10, "standing-meter": 10, "walk-through": 30,
    "measure": 20,
    "keep-reading": 0, "complete-list": 30,
    "underground": 5, "run-again": 60, "which-rate": 10, "ahead": 10, "inverter": 5, "more-bills": 20, "more-loads": 60,
    "older-bills": 20, "register-run": 240,
    "sharper-loads": 30, "more-weather": 10, "two-as-one": 5,
    "backup-heat": 10, "panels": 10, "done": 10,
}  # fmt: skip
REQUEST_MINUTES = 10

_HAZARD = {
    "compare": Hazard.LOOK,
    "ahead": Hazard.LOOK,
    "standing-meter": Hazard.LOOK,
    "inverter": Hazard.LOOK,
    "leave-off": Hazard.LOOK,
    "one-circuit": Hazard.LOOK,
    "walk-through": Hazard.LOOK,
    "run-again": Hazard.PLUG_IN,
    "register-run": Hazard.PLUG_IN,
}
_AT_HOME = (
    "inverter",
    "leave-off",
    "one-circuit",
    "heating-look",
    "heater-look",
    "cooling-look",
    "hot-water-look",
    "walk-through",
    "measure",
    "measure-list",
    "listed-low",
    "measure-own",
    "never-off",
)
"""Steps in the home: looking there comes near no meter, and needs no caution about one."""


BEGINS_AT_HOME = ("constant-load", "timed-load", "habit-step", "heating-rise", "cooling-rise")
"""Causes of which the household may know what began."""


def asking(key: str, hazard: Hazard = Hazard.PAPER, for_cause: str | None = None) -> Step:
    """A request that a rule makes, not a finding."""
    return Step(request(key).step, hazard, code=key, minutes=REQUEST_MINUTES, for_cause=for_cause, asks=key)


def check_reading(situation: Situation, key: str) -> Step:
    """The request that readings be checked, with the bills that it is about."""
    which = which_bills([situation.voice.span(row.start, row.end) for row in situation.doubted])
    return replace(asking(key), text=situation.voice.fill(request(key).step, {"which": which}))


def weathered(house: House) -> bool:
    """Whether any temperature is known, of days or as the bills print it."""
    return house.weather is not None or any(bill.mean_temperature_c is not None for bill in house.bills)


def worth_here(situation: Situation, check: Check) -> float:
    """What a check is worth with the chances of this house."""
    return worth(check, situation.weights, situation.sizes, situation.costs)


def plain(situation: Situation, code: str) -> Step:
    """A step that needs no figures."""
    return made(situation, code, {}, _HAZARD.get(code, Hazard.PAPER))


def check_step(situation: Situation, check: Check) -> Step:
    """A check with what it is worth here."""
    cause = situation.leading
    named = cause is not None and cause.code in BEGINS_AT_HOME
    found = situation.suspects
    figures: dict[str, Any] = {
        "size": "",
        "fits": found.kinds,
        "own": tuple(one.load for one in found.own if not one.never_off),
        "heater": found.heater,
        "never_off": next((one.load for one in found.own if one.never_off), ""),
        "left_on": found.left_on,
        "timer": found.timer,
        "hours": situation.house.hours_known,
        "warm_or_cold": found.weather,
        "else": NOT_AT_NIGHT["meter" if _rather_meter(situation) else "day"],
    }
    figures |= noted(situation)
    if cause is not None and named and cause.size is not None:
        limits = (cause.size_low, cause.size_high)
        a_day = kwh_a_day(cause.size, limits) if cause.unit == "W" else None
        figures |= {"size": size_of(situation, cause), "cause": cause.code, "since": cause.since, "a_day": a_day}
        figures["until"] = cause.until
    code = "download-less" if check is Check.DOWNLOAD and situation.less else check.value
    step = made(situation, _began(figures) if check is Check.BEGAN else code, figures, HAZARD[check])
    return Step(
        step.text, step.hazard, step.cautions, check.value, MINUTES[check], belongs(situation, check), step.would_show,
        worth=worth_here(situation, check) if situation.weights else 0.0,
    )  # fmt: skip


def _began(figures: Mapping[str, Any]) -> str:
    """Which words ask what began: of what is over nothing can be left off, and a heating is set, not left off."""
    if figures.get("until") and not (figures["timer"] or figures["noted"]):
        return "ran"
    if figures["timer"] and not figures.get("until"):
        return "runs-then"  # by the clock: no matter of people
    return "set-otherwise" if figures.get("cause") in ("heating-rise", "cooling-rise") else Check.BEGAN.value


def noted(situation: Situation) -> dict[str, Any]:
    """What the diary says of that time, as it was written, and when."""
    event = situation.named
    own = "" if event is None or situation.meter_work else event.note or event.load or ""
    told = quoted(own)
    return {"noted": told, "day": None if event is None else event.day}


def size_of(situation: Situation, cause: Cause) -> str:
    """A cause's size as it is told."""
    return size_told(cause.size or 0.0, cause.unit, (cause.size_low, cause.size_high), situation.voice)


def _rather_meter(situation: Situation) -> bool:
    """Whether a wrong meter is likelier than a load or a habit that rests at night."""
    of = situation.weights
    return sum(of.get(s, 0.0) for s in (State.FAST, State.SLOW)) > sum(
        of.get(s, 0.0) for s in (State.TIMED, State.HABIT)
    )


def belongs(situation: Situation, check: Check) -> str | None:
    """Code of the cause that a check tells of."""
    if check in (Check.KNOWN_LOAD, Check.UTILITY_TEST, Check.PANEL):
        odds = situation.case.odds
        return "meter-low" if odds is not None and odds.slow > odds.fast else "meter-step"
    if check in (Check.QUIET, Check.BREAKERS, Check.MAIN_OFF):
        return "constant-load"
    return situation.leading.code if situation.leading is not None else None


def at_the_circuit(situation: Situation) -> list[Step]:
    """What to do at the circuit that was found breaker by breaker, if one was."""
    test = situation.house.field_test
    found = None if test is None else circuit_found(test.branches)
    if found is None:
        return []
    figures = {"circuit": found.circuit, "watts": found.fell_watts}
    return [made(situation, "leave-off" if found.unplugged else "one-circuit", figures, Hazard.LOOK)]


def made(
    situation: Situation, code: str, figures: Mapping[str, Any], hazard: Hazard, *, optional: bool = False
) -> Step:
    """A step by its code: its words filled, its cautions, what its outcomes mean."""
    text, voice = CHECKS[code], situation.voice
    said = voice.fill(text.do, figures) if isinstance(text.do, str) else text.do(voice, figures)
    return Step(
        said, hazard, cautions(situation, code, hazard), code, OWN_MINUTES.get(code, 0), None,
        tuple(Outcome(voice.fill(a, figures), voice.fill(then, figures)) for a, then in text.outcomes), optional,
    )  # fmt: skip


def cautions(situation: Situation, code: str, hazard: Hazard) -> tuple[str, ...]:
    """Cautions that stand before a step of a hazard; none before a look in the home, far from the meter."""
    if hazard is Hazard.LOOK and code in _AT_HOME:
        return ()
    return safety.said(safety.cautions_for(hazard, situation.house, moves_main=code == Check.MAIN_OFF))
