"""Sentences of the plan of a field test, keyed; :mod:`reconcile.plan` gives the keys and the figures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from reconcile.say import Voice, listed
from reconcile.texts import Figures, Sentence, tell
from reconcile.texts.plan_answer import ANSWERS


class Who(StrEnum):
    """Who does a step."""

    ANYONE = "anyone"
    UTILITY = "the utility"
    QUALIFIED = "a qualified person"


@dataclass(frozen=True, slots=True)
class Line:
    """One sentence: its key in :data:`LINES` and the figures it may name."""

    key: str
    figures: Mapping[str, Any]


TITLES: dict[str, str] = {
    "whose-meter": "Is it this home's meter, and does it follow this home only?",
    "quiet": "What the home uses when all is quiet",
    "plug-in": "One known steady load through a plug-in meter: off, on, off",
    "branches": "Breaker by breaker at the meter, the main on",
    "main-off": "Main breaker off, covers on",
    "utility": "The utility's test against a reference standard",
    "legs": "Last, and only if still open: readings at the legs",
}
TESTS: dict[str, str] = {
    "plug-in": "A known load through a plug-in meter",
    "register": "Only the kWh of the register: the load on for hours through a plug-in meter that adds up kWh",
    "clamps": "Readings at the legs by a qualified person",
    "utility": "The utility's test against a reference standard",
}


def counts(figures: Figures) -> str:
    """Return what is counted at this meter, in the plural."""
    return "turns" if figures["disk"] else "flashes"


def one_count(figures: Figures) -> str:
    """Return the same in the singular."""
    return "turn" if figures["disk"] else "flash"


def _whose_number(voice: Voice, f: Figures) -> str:
    by_file = f" ({f['number']} by your file)" if f["number"] else ""
    return f"Write the meter's number and the number on the bill{by_file}; photograph both from where you stand."


def _whose_follows(voice: Voice, f: Figures) -> str:
    return (
        "One person switches a large load (such as the oven) on and off; the other watches whether the meter follows."
    )


def _whose_expect(voice: Voice, f: Figures) -> str:
    return f"With {voice.number(f['load_watts'])} W more, a {one_count(f)} more goes by about every {_s(voice, f)} s."


def _s(voice: Voice, f: Figures) -> str:
    return voice.number(f["every"], 0.1 if f["every"] < 20.0 else 1.0)


def _what(f: Figures) -> str:
    return "turns of the disk (its mark passing)" if f["disk"] else "flashes of the meter's light"


def _quiet_count(voice: Voice, f: Figures) -> str:
    return (
        f"Or count {_what(f)} for {f['minutes']} minutes late in the evening. Start the watch at a {one_count(f)} "
        "and call "
        "it 0; stop it at another."
    )


def _quiet_sought(voice: Voice, f: Figures) -> str:
    kwh = f["sought"] * f["hours"] / 1000.0
    return (
        f"If a new load is behind the bills, expect about {voice.watts(f['sought'])} more round the clock: "
        f"{voice.number(kwh, 0.1)} kWh more in {f['hours']:.0f} hours. If the meter is, only its percentage of what "
        "runs at night."
    )


def _quiet_expect(voice: Voice, f: Figures) -> str:
    return f"At 100 W a {one_count(f)} goes by every {_s(voice, f)} s."


def _plug_off(voice: Voice, f: Figures) -> str:
    named = f" ({listed(f['cycling'])})" if f["cycling"] else ", such as a refrigerator or a heat pump"
    return (
        f"Ask everyone; then switch off what starts by itself{named}, where a switch or thermostat needs no cover "
        "opened. The rest, and what cannot wait, stays on; write it down."
    )


def _plug_place(voice: Voice, f: Figures) -> str:
    return (
        f"Plug {f['load']} (listed by a testing laboratory) through the plug-in meter into an outlet near the "
        "panel: set to high, thermostat at its highest setting, still off."
    )


def _plug_before(voice: Voice, f: Figures) -> str:
    return (
        "Load off: for three minutes read what the house draws (the meter's kW, or a count). Write its watts, and the "
        "outlet's volts."
    )


def _plug_on(voice: Voice, f: Figures) -> str:
    return f"Load on: wait {f['settle']:.0f} s until it has settled. After two minutes feel the plug."


def _plug_count(voice: Voice, f: Figures) -> str:
    return (
        f"Start the watch at a {one_count(f)} and call that one 0. Count for {_minutes(voice, f)}, stop at a "
        f"{one_count(f)}, write count and seconds."
    )


def _minutes(voice: Voice, f: Figures) -> str:
    return f"{voice.number(f['minutes'])} minutes"


def _plug_watts(voice: Voice, f: Figures) -> str:
    return (
        "Meanwhile a second person stays at the load, reads the plug-in meter's watts every minute, and writes their "
        "mean and the volts."
    )


def _plug_after(voice: Voice, f: Figures) -> str:
    return f"Load off: read what the house draws again. Do all this {f['repeats']} times."


def _plug_volts(voice: Voice, f: Figures) -> str:
    return (
        f"About {voice.number(f['amps'], 0.1)} A at {voice.number(f['volts'])} V; the outlet's volts drop by 1 to "
        f"{voice.number(f['sag'])} V."
    )


def _plug_more(voice: Voice, f: Figures) -> str:
    return (
        f"The meter counts {voice.number(f['load_watts'])} W more than before: a display in kW rises by "
        f"{voice.number(f['load_watts'] / 1000.0, 0.01)}, and about {voice.number(f['count'])} more {counts(f)} go "
        "by in "
        f"{_minutes(voice, f)}."
    )


def _can_tell(voice: Voice, f: Figures) -> str:
    told = f["told"]
    return (
        f"The result is then good to {voice.number(told.expanded_percent, 0.1)} % (95 %), most of it from "
        f"{told.largest}. "
        f"It detects a meter error of {voice.number(told.smallest_error_percent, 0.1)} % or more. Test uncertainty "
        "ratio: "
        f"{voice.number(told.test_uncertainty_ratio, 0.01)}."
    )


def _plug_light(voice: Voice, f: Figures) -> str:
    return f"A run on a low setting, near {voice.number(f['watts'])} W, is the meter's light load by its test amps."


def _branch_write(voice: Voice, f: Figures) -> str:
    sought = f"of about {voice.watts(f['sought'])}" if f["sought"] else "that stands out"
    return (
        f"Write each label and the watts with it off; look for a fall {sought}. At the end set "
        "clocks and check that freezer, pump and alarms run."
    )


def _branch_start(voice: Voice, f: Figures) -> str:
    seconds = voice.number(3600.0 * f["size"])
    return (
        "Leave the main on. One person at the panel, one at the meter. All on: read the watts (the meter's kW x 1,000, "
        f"or {seconds} / seconds from one {one_count(f)} to the next)."
    )


def _main_watch(voice: Voice, f: Figures) -> str:
    return (
        f"Watch the meter for {_minutes(voice, f)}: {counts(f)}, display, last digit of the kWh. Write the count, also "
        "a 0."
    )


def _main_expect(voice: Voice, f: Figures) -> str:
    return f"No {one_count(f)} in {_minutes(voice, f)} proves only that less than {voice.number(f['least'])} W flows."


def _utility_tells(voice: Voice, f: Figures) -> str:
    return f"Good to about {voice.number(f['told'].expanded_percent, 0.1)} %: it detects any error that matters."


def _panel(voice: Voice, f: Figures) -> str:
    return f["panel"] or "a large resistive load between the legs"


def _legs_before(voice: Voice, f: Figures) -> str:
    return (
        f"With {_panel(voice, f)} off, and nothing else that starts by itself, take row 'before': volts and amps of "
        "every "
        f"leg, the meter's kW and volts, and {counts(f)} over three minutes."
    )


def _legs_load(voice: Voice, f: Figures) -> str:
    return (
        f"Run {_panel(voice, f)} alone for {f['settle']:.0f} s before the first reading. A thermostat behind a cover "
        "stays as it is: let hot water run so that a water heater keeps heating. A load that switches itself off, or has "
        "a motor, is not fit: take another one, or leave this test out."
    )


def _legs_read(voice: Voice, f: Figures) -> str:
    legs = "the leg" if f["legs"] == 1 else f"each of the {f['legs']} legs, always in one order"
    return (
        f"On a count given aloud read at one moment: volts to neutral under load and amps of {legs}, where the "
        "clamp sits; a second person at the meter reads its kW and volts. Never use volts read without the load."
    )


def _legs_count(voice: Voice, f: Figures) -> str:
    return (
        f"Beside each reading count {counts(f)} for {voice.number(f['seconds'] / 60.0)} minutes: start the watch at a "
        f"{one_count(f)} and call that one 0, stop it at a {one_count(f)}."
    )


def _legs_repeat(voice: Voice, f: Figures) -> str:
    if f["test_amps"] is None:
        full, light = "near the test amps (TA) of the nameplate", "near a tenth of them"
    else:
        full = f"near {voice.exact(f['test_amps'])} A, {voice.number(f['full_kw'], 0.1)} kW"
        light = f"near {voice.exact(0.1 * f['test_amps'])} A, {voice.number(f['light_watts'])} W"
    return (
        f"{f['repeats']} readings at full load ({full}), {f['repeats']} at light load (another, {light}). "
        "At other currents the result is indicative."
    )


def _legs_main(voice: Voice, f: Figures) -> str:
    return (
        "Then, the cover on, main off, if nobody needs the power and nothing feeds back: branch breakers one by one, the "
        "main last, never under "
        f"load. Watch the meter for {_minutes(voice, f)}; write the count, also a 0. Main on first, then the branches."
    )


def _legs_expect(voice: Voice, f: Figures) -> str:
    return (
        f"{voice.capital(_panel(voice, f))}: about {voice.number(f['amps'], 0.1)} A a leg at "
        f"{voice.number(f['volts'])} V to neutral, {voice.number(f['panel_watts'] / 1000.0, 0.01)} kW; the volts sag "
        "by "
        f"about {voice.number(f['sag'])} V, and the power by {voice.number(f['sag_percent'])} %."
    )


LINES: dict[str, Sentence] = {
    **ANSWERS,
    "whose-number": _whose_number,
    "whose-follows": _whose_follows,
    "whose-neighbor": "Then watch ten minutes: does it speed up with nothing switched on here?",
    "whose-expect": _whose_expect,
    "whose-other": "Another number: the bills are for another meter. Stop here and call the billing desk.",
    "whose-crossed": "It does not follow the home, or follows a neighbor: crossed or shared meters, the utility's to "
    "settle.",
    "quiet-off": "In the evening switch off what may be off: nothing that somebody depends on, no freezer, pump or "
    "heating "
    "in frost. Write what stays on.",
    "quiet-register": "Write the meter's kWh and the time; in the morning, before any use, again.",
    "quiet-count": _quiet_count,
    "quiet-sought": _quiet_sought,
    "quiet-expect": _quiet_expect,
    "quiet-load": "A load that runs round the clock shows in full at night.",
    "quiet-meter": "A fast meter shows at night only its percentage of very little: a low base load points to the "
    "meter or "
    "to day use.",
    "plug-off": _plug_off,
    "plug-place": _plug_place,
    "plug-before": _plug_before,
    "plug-on": _plug_on,
    "plug-count": _plug_count,
    "plug-register": (
        "No light to count: read the kWh of both meters over {hours:number} hours; the house's own in as many before "
        "and after."
    ),
    "plug-watts": _plug_watts,
    "plug-after": _plug_after,
    "plug-back": "Unplug the load; switch everything on again, the refrigerator first.",
    "plug-volts": _plug_volts,
    "plug-more": _plug_more,
    "plug-registration": "Counted energy less the house's own, over the plug-in meter's, is the meter's registration: "
    "100 % is right.",
    "plug-better": "It is often the better test, and nothing is opened.",
    "plug-light": _plug_light,
    "can-tell": _can_tell,
    "branch-ask": "Ask what cannot wait (freezer, pump, heating in frost): its breaker stays on.",
    "branch-start": _branch_start,
    "branch-each": "Switch one breaker off (never the main), wait a minute, read the watts, switch it on again; then "
    "the next.",
    "branch-write": _branch_write,
    "branch-sum": "The falls add up to the whole rate, but for what has no breaker there.",
    "branch-found": "The circuit whose fall is the watts sought feeds the load.",
    "branch-none": "If no breaker lowers it, it sits ahead of the panel, or is the meter's own.",
    "main-generation": "Own generation, battery and car charging off.",
    "main-ask": "The cautions of the step before hold here too. Ask again who and what depends on power (medical "
    "equipment, stair lift, alarms, pump, freezer): if anyone does, leave this out. Say when it will be back.",
    "main-branches": "All other breakers off one by one, the main last.",
    "main-watch": _main_watch,
    "main-coast": "A disk may coast up to a turn: wait until it stands, then time.",
    "main-demand": "Do not go by a kW display alone: it may show an average.",
    "main-back": "Main on first, then the others one by one. Set clocks; check that freezer, pump and alarms run "
    "again.",
    "main-expect": _main_expect,
    "main-still": "Standing still: nothing acts ahead of the main, and the meter does not creep.",
    "main-counts": "Still counting: type it in to see what it can mean; if the service wires run underground, stop and "
    "call the utility.",
    "utility-ask": "Ask for it in writing, with the readings above; ask to be present, and that the seal be broken "
    "only "
    "then.",
    "utility-cost": "Ask what it costs, whether that is paid back if the meter is out, and what a correction would "
    "cover. "
    "A slow meter can mean a bill for the past. Check your local rule.",
    "utility-tells": _utility_tells,
    "utility-settles": "Registration at light and full load, which settles it.",
    "legs-record": "Write person, license, and each instrument's serial number, calibration date and category. Read "
    "the "
    "category beside the jacks: below what the caution asks, stop.",
    "legs-zero": "Zero the clamp away from conductors. Close it fully round one leg only, in its middle, arrow "
    "toward the "
    "load, where all the house's current passes, so that clamp and meter count the same.",
    "legs-agree": "Before you close up work out V x A and the percentage: readings of one load more than 1 % apart are "
    "taken again.",
    "legs-ask": "Before anything is switched off ask who and what depends on power (medical equipment, stair lift, "
    "alarms, "
    "sump pump, well, freezer, computers, heating in frost); agree on the time.",
    "legs-before": _legs_before,
    "legs-load": _legs_load,
    "legs-read": _legs_read,
    "legs-count": _legs_count,
    "legs-repeat": _legs_repeat,
    "legs-after": "Load off: take row 'after' as you took row 'before'.",
    "legs-main": _legs_main,
    "legs-close": "Close and screw the cover before any breaker is moved.",
    "legs-end": "Set back what was changed, switch every breaker on, check that freezer, pump and alarms run, write the time, sign, leave the household a copy.",
    "legs-expect": _legs_expect,
    "legs-network": "On a 120/208 V network V x I of two legs is 1.155 times the power of a load between them.",
    "legs-shows": "Power of each leg summed, against the meter's, with the uncertainty of both.",
}  # fmt: skip
"""Every sentence of a step by its key."""


@dataclass(frozen=True, slots=True)
class StepWords:
    """One step of a plan in words."""

    title: str
    who: str
    do: tuple[str, ...]
    expect: tuple[str, ...]
    proves: tuple[str, ...]


def step_words(step: Any, voice: Voice) -> StepWords:
    """Say a step.

    Parameters
    ----------
    step : PlanStep
    voice : Voice

    Returns
    -------
    StepWords
    """
    return StepWords(
        TITLES[step.code], str(step.who), lines(step.do, voice), lines(step.expect, voice), lines(step.proves, voice)
    )


def lines(said: Iterable[Line], voice: Voice) -> tuple[str, ...]:
    """Say several sentences."""
    return tuple(tell(voice, LINES, line.key, line.figures) for line in said)
