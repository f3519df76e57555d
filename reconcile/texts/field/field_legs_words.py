"""Sentences of the plan for readings at the legs, a qualified person's, and of what is counted at a meter."""

from __future__ import annotations

from reconcile.say import Voice
from reconcile.texts import Figures, Sentence


def counts(figures: Figures) -> str:
    """Return what is counted at this meter, in the plural."""
    return "turns" if figures["disk"] else "flashes"


def one_count(figures: Figures) -> str:
    """Return the same in the singular."""
    return "turn" if figures["disk"] else "flash"


def minutes(voice: Voice, f: Figures) -> str:
    """Say how long is counted."""
    return f"{voice.number(f['minutes'])} minutes"


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
        f"Run {_panel(voice, f)} alone, for {f['settle']:.0f} s before the first reading. {_stays_on(f)} No thermostat "
        "behind a cover is touched. If no load stays on for the whole of a run, leave these readings out."
    )


def _stays_on(f: Figures) -> str:
    """How a load is kept on through a run."""
    name = (f["panel"] or "").casefold()
    if any(word in name for word in ("water heater", "hot water", "tankless", "immersion")):
        return "It stays on only while hot water runs: open a hot tap, and warn everybody (it scalds)."
    if any(word in name for word in ("car", "ev ", "vehicle", "evse")):
        return "It stays on while the car still takes full power."
    if not name:
        return (
            "Fit are a car charger or a water heater while hot water runs (it scalds); a clothes dryer, an oven or a pump "
            "is not: it has a motor, or switches itself."
        )
    return "It stays on until its room is warm: begin with a cool room."


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
        f"{f['repeats']} readings at full load ({full}), {f['repeats']} at light load (another load, {light}). "
        "At other currents the result is indicative."
    )


def _legs_main(voice: Voice, f: Figures) -> str:
    return (
        "Only then main off, if nobody needs the power and nothing feeds back: branch breakers one by one, the main last, "
        f"never under load. Watch the meter for {minutes(voice, f)}; write the count, also a 0. Main on first, then the branches."
    )


def _legs_expect(voice: Voice, f: Figures) -> str:
    return (
        f"{voice.capital(_panel(voice, f))}: about {voice.number(f['amps'], 0.1)} A a leg at "
        f"{voice.number(f['volts'])} V to neutral, {voice.number(f['panel_watts'] / 1000.0, 0.01)} kW; the volts sag "
        "by "
        f"about {voice.number(f['sag'])} V, and the power by {voice.number(f['sag_percent'])} %."
    )


LEGS: dict[str, Sentence] = {
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
    "legs-close": "Close and screw the cover now. No breaker is moved before that.",
    "legs-end": "Set back what was changed, switch every breaker on, check that freezer, pump and alarms run, write the "
    "time, sign, leave the household a copy.",
    "legs-expect": _legs_expect,
    "legs-network": "On a 120/208 V network V x I of two legs is 1.155 times the power of a load between them.",
    "legs-shows": "Power of each leg summed, against the meter's, with the uncertainty of both.",
}  # fmt: skip
"""Every sentence of the step by its key."""
