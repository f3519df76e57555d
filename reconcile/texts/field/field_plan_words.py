"""Sentences of the plan of a field test, keyed; :mod:`reconcile.plan` gives the keys and the figures."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import StrEnum
from typing import Any

from reconcile.records import dataclass
from reconcile.say import Voice, listed
from reconcile.texts import Figures, Sentence, tell
from reconcile.texts.components import spoken_component
from reconcile.texts.field.field_legs_words import LEGS, counts, minutes, one_count
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
    """What the meter shows at night with a right meter, with a new load, and with a meter that is out."""
    known, sought, off = f["known"], f["sought"], f["off"]
    load = "" if not sought else f"with a new load about {voice.number((known or 0.0) + sought)} W"
    if known is None:
        full = f"A new load shows in full, about {voice.number(sought)} W more than before. " if sought else ""
        share = "its percentage" if off is None else f"{voice.number(abs(off))} %"
        side = "fast adds" if off is None or off > 0.0 else "slow leaves out"
        return f"{full}A meter that is {side} only {share} of the little that runs at night."
    out = "" if off is None else f"with a meter {_out(voice, off)} about {voice.number(known * (1.0 + off / 100.0))} W"
    told = " and ".join(part for part in (out, load) if part)
    return (
        f"What runs round the clock by the list is about {voice.number(known)} W on the average: that with a right meter "
        f"and nothing new, {told}."
    )


def _out(voice: Voice, percent: float) -> str:
    return f"{voice.number(abs(percent))} % {'fast' if percent > 0.0 else 'slow'}"


def _quiet_expect(voice: Voice, f: Figures) -> str:
    return f"At 100 W a {one_count(f)} goes by every {_s(voice, f)} s."


def _quiet_meter(_: Voice, f: Figures) -> str:
    if (f["off"] or 0.0) < 0.0:
        return "A slow meter leaves out at night only its percentage of very little: that alone does not show it."
    return "A fast meter adds at night only its percentage of very little: a low base load points to the meter or to day use."


def _quiet_look(voice: Voice, f: Figures) -> str:
    """Where to look first for what runs round the clock, by what the home has."""
    told = [
        *(["auxiliary or emergency heat shown on the heat pump's thermostat"] if f["pump"] else []),
        *(["a water heater's valve that drips, or its hot pipe warm with every tap closed"] if f["heater"] else []),
        "a pump that never stops",
    ]
    return f"More than the list says: look first, touching nothing, for {'; '.join(told)}."


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
        f"Start the watch at a {one_count(f)} and call that one 0. Count for {minutes(voice, f)}, stop at a "
        f"{one_count(f)}, write count and seconds; the kW too, where the display shows those of now."
    )


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
        f"{minutes(voice, f)}."
    )


def _can_tell(voice: Voice, f: Figures) -> str:
    told = f["told"]
    return (
        f"The result is then good to {voice.number(told.expanded_percent, 0.1)} % (95 %), most of the uncertainty "
        f"from {spoken_component(told.largest)}. "
        f"It detects a meter error of {voice.number(told.smallest_error_percent, 0.1)} % or more. Test uncertainty "
        "ratio: "
        f"{voice.number(told.test_uncertainty_ratio, 0.01)}."
    )


def _plug_off_by(voice: Voice, f: Figures) -> str:
    count, off = f["count"], f["off"]
    return (
        f"So for the load alone a right meter counts about {voice.number(count)} {counts(f)}, one {_out(voice, off)} about "
        f"{voice.number(count * (1.0 + off / 100.0))}."
    )


def _plug_light(voice: Voice, f: Figures) -> str:
    return f"A run on a low setting, near {voice.number(f['watts'])} W, is the meter's light load by its test amps."


def _branch_write(voice: Voice, f: Figures) -> str:
    sought = f"of about {voice.watts(f['sought'])}, if a load is the cause" if f["sought"] else "that stands out"
    return (
        f"Write each label and the watts with it off; look for a fall {sought}. At the end set "
        "clocks and check that freezer, pump and alarms run."
    )


def _branch_when(voice: Voice, f: Figures) -> str:
    timer = f["timer"]
    often = "every day" if timer.days_a_week is None else f"on about {voice.number(timer.days_a_week)} days a week"
    return (
        f"Do this between {timer.begins} and {timer.ends}: by the hourly readings about {voice.watts(timer.watts)} more run then "
        f"{often}. At other hours it rests, and no breaker shows it."
    )


def _branch_start(voice: Voice, f: Figures) -> str:
    seconds = voice.number(3600.0 * f["size"])
    return (
        "Leave the main on. One person at the panel, one at the meter. All on: read the watts (the meter's kW x 1,000, "
        f"or {seconds} / seconds from one {one_count(f)} to the next)."
    )


def _main_watch(voice: Voice, f: Figures) -> str:
    return (
        f"Watch the meter for {minutes(voice, f)}: {counts(f)}, display, last digit of the kWh. Write the count, also "
        "a 0."
    )


def _main_expect(voice: Voice, f: Figures) -> str:
    return f"No {one_count(f)} in {minutes(voice, f)} proves only that less than {voice.number(f['least'])} W flows."


def _utility_tells(voice: Voice, f: Figures) -> str:
    return f"Good to about {voice.number(f['told'].expanded_percent, 0.1)} %: it detects any error that matters."


def _whose_constant(voice: Voice, f: Figures) -> str:
    if f["disk"]:
        return "Off the nameplate, without touching, write Kh (Wh a turn), the form, the multiplier if there is one."
    return (
        "Find what to count, touching nothing: a light that flashes, or is infrared (a telephone's camera may show it), or "
        "blocks that move on the display. Write what one is worth (Kt, Kh or imp/kWh on the nameplate; else count how many "
        "make 1 kWh), the form and a multiplier."
    )


LINES: dict[str, Sentence] = {
    **ANSWERS,
    "whose-number": _whose_number,
    "whose-constant": _whose_constant,
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
    "quiet-meter": _quiet_meter,
    "quiet-look": _quiet_look,
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
    "plug-kwh": (
        "Far off? {hours:number} hours more, one of you in the room: the meter's kWh before and after need no Wh a flash."
    ),
    "plug-back": "Unplug the load; switch everything on again, the refrigerator first.",
    "plug-volts": _plug_volts,
    "plug-more": _plug_more,
    "plug-off-by": _plug_off_by,
    "plug-registration": "Counted energy less the house's own, over the plug-in meter's, is the meter's registration: "
    "100 % is right.",
    "plug-better": "It is often the better test, and nothing is opened.",
    "plug-light": _plug_light,
    "can-tell": _can_tell,
    "own-power": "Own generation off by its own switch, or wait for dark.",
    "branch-ask": "Ask what cannot wait (freezer, pump, heating in frost): its breaker stays on.",
    "branch-when": _branch_when,
    "branch-start": _branch_start,
    "branch-each": "Switch one breaker off (never the main), wait a minute, read the watts, switch it on again; then "
    "the next.",
    "branch-write": _branch_write,
    "branch-sum": "The falls add up to the whole rate, but for what has no breaker there.",
    "branch-found": "The circuit whose fall is the watts sought feeds the load.",
    "branch-none": "If no breaker lowers it, it sits ahead of the panel, or is the meter's own.",
    "main-generation": "Own generation, battery and car charging off.",
    "main-ask": "All cautions of step 4 hold here too. Ask again who and what depends on power; if anyone does, leave "
    "this out. Say when it will be back.",
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
    **LEGS,
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
    """Say a step."""
    return StepWords(
        TITLES[step.code], str(step.who), lines(step.do, voice), lines(step.expect, voice), lines(step.proves, voice)
    )


def lines(said: Iterable[Line], voice: Voice) -> tuple[str, ...]:
    """Say several sentences."""
    return tuple(tell(voice, LINES, line.key, line.figures) for line in said)
