"""Sentences of single readings of a field test, by the code of the remark."""

from __future__ import annotations

from reconcile.say import Voice, listed
from reconcile.texts import Figures, Sentence

WAYS = {
    "display": "the display",
    "pulses": "timed pulses",
    "turns": "timed disk turns",
    "register": "the register",
}
"""Ways of reading a meter."""


def _legs(voice: Voice, f: Figures) -> str:
    parts = []
    for volts, amps, factor, watts in f["parts"]:
        angle = f" x {voice.number(factor, 0.001)}" if abs(factor - 1.0) > 5e-4 else ""
        parts.append(f"{volts:g} V x {amps:g} A{angle} = {voice.number(watts, 0.01)} W")
    return f"Legs: {'; '.join(parts)}; {voice.number(f['total'], 0.01)} W in all."


def _at_line_volts(voice: Voice, f: Figures) -> str:
    part = {"split-phase": "half of ", "two-wire": ""}.get(f["service"], "1/1.732 of ")
    whose = "the meter's own" if f["whose"] == "meter" else "the loaded"
    return (
        f"With {part}{whose} {f['line']:g} V ({voice.number(f['share'], 0.1)} V a leg) the same currents make "
        f"{voice.number(f['watts'], 0.1)} W: {voice.number(abs(f['off']), 0.1)} W "
        f"({voice.number(f['percent'], 0.01)} %) from the meter's {voice.number(f['meter'])} W."
    )


def _volts_consistent(voice: Voice, f: Figures) -> str:
    like = ", as a form like this takes them," if f["form_takes_line"] else ""
    return (
        f"So volts read under load{like} explain {voice.number(f['gap'], 0.1)} % of difference, less than the instruments "
        f"may be out (about {voice.number(f['doubt'])} %): the volts are consistent, and do not tell which are right. What "
        "more there is has another reason."
    )


def _form_registers(voice: Voice, f: Figures) -> str:
    more = "more" if f["watts"] > 0 else "less"
    known = (
        f"A form {f['form']} takes the volts between the legs times the mean of their amps, so here it registers"
        if f["form"]
        else "If the meter is of form 2S (volts between the legs times the mean of the amps), here it registers"
    )
    return (
        f"{known} {voice.number(abs(f['watts']))} W ({voice.number(f['percent'], 0.1)} %) {more} than flows, with "
        "nothing broken: a load on both legs alike avoids it."
    )


def _legs_and_line(voice: Voice, f: Figures) -> str:
    sense = "higher" if f["off"] > 0 else "lower"
    return (
        f"The legs' volts are {voice.number(abs(f['off']), 0.1)} V {sense} than {f['line']:g} V between the legs "
        f"allows ({voice.number(f['wanted'], 0.1)} V each), beyond the voltmeter's limits "
        f"({voice.number(f['doubt'], 0.1)} V)."
    )


def _wires(voice: Voice, f: Figures) -> str:
    how = "from the sag read there" if f["sag_read"] else "typical wires; an outlet near the panel makes it small"
    lost = voice.number(f["watts"])
    return f"The wires to the outlet use about {lost} W (give or take {lost}) that the meter rightly counts ({how})."


def _ways_differ(voice: Voice, f: Figures) -> str:
    return (
        f"{voice.capital(WAYS[f['one']])} gives {voice.number(f['watts'])} W and {WAYS[f['other']]} "
        f"{voice.number(f['others'])} W over the run: the load switched off and on (a thermostat?), or the display "
        "lags. Time the energy while the load is steady."
    )


def _step(voice: Voice, f: Figures) -> str:
    longer = "a longer run" if f["what"] == "count" else "a larger load, or timed pulses,"
    return (
        f"A good part of the uncertainty ({voice.number(f['share'])} %) is the step of {WAYS[f['way']]}: {longer} "
        "reduces it."
    )


def _repeats(voice: Voice, f: Figures) -> str:
    if f["scatter"]:
        return (
            f"{f['count']} repeats, judged together; their scatter is larger than the budget foresees and is counted."
        )
    return f"{f['count']} repeats, judged together; they agree."


def _nothing(voice: Voice, f: Figures) -> str:
    if f["way"] == "display":
        return f"The display stood at zero: at most {voice.number(f['most'])} W can hide in its step."
    return f"No count in {_time(voice, f['seconds'])} on {WAYS[f['way']]} proves at most {voice.figure(f['most'])} W."


def _one(voice: Voice, f: Figures) -> str:
    if f["way"] == "display":
        return _counts(voice, f)
    return (
        f"One count in {_time(voice, f['seconds'])} may just have been due: it proves only that less than "
        f"{voice.figure(f['most'])} W flowed."
    )


def _counts(voice: Voice, f: Figures) -> str:
    if f["way"] == "display":
        return f"The display shows {voice.between(f['least'], f['most'])} W."
    return (
        f"{f['counts']:g} counts on {WAYS[f['way']]} in {_time(voice, f['seconds'])} prove "
        f"{voice.between(f['least'], f['most'])} W."
    )


def _time(voice: Voice, seconds: float) -> str:
    return f"{voice.number(seconds / 60.0)} minutes" if seconds >= 90.0 else f"{voice.number(seconds)} seconds"


def _background_went(voice: Voice, f: Figures) -> str:
    return (
        f"What else was on went from {voice.number(f['before'])} to {voice.number(f['after'])} W during the run: "
        "something switched. Repeat the run when the house is quiet."
    )


REMARKS: dict[str, Sentence] = {
    "demand-display": "The display shows demand, an average of many minutes, and not the power of now.",
    "no-meter-reading": "The meter's own reading is missing, or its constant (Wh a pulse, Wh a disk turn) is.",
    "no-load-measured": "No load was measured in this run.",
    "no-power": "These figures make no power that could be judged.",
    "no-seconds": "The seconds of the run are missing, so its kilowatt-hours say nothing of its watts.",
    "no-plug-in-load": "The plug-in meter shows no load at all.",
    "no-service": (
        "The service is not known (split-phase, network, two-wire or three-phase), so legs cannot be summed."
    ),
    "no-legs-power": "The legs add up to no power at all.",
    "no-background": (
        "What the rest of the house drew is missing (background_w_before, background_w_after), and the meter counts "
        "it too."
    ),
    "volts-sag": (
        "The volts were read without the load, and nobody read them with it: they are taken 1.5 % lower, give or take "
        "as much."
    ),
    "volts-nominal": "Nobody read the volts: the usual ones of this service stand for them, give or take 5 %.",
    "volts-set-aside": (
        "The legs' volts were read without the load, or are higher than the meter's loaded volts allow: they are set "
        "aside, since a heavy load pulls the volts down."
    ),
    "at-line-volts": _at_line_volts,
    "volts-on-trust": (
        "So the meter's own volts are taken on trust; what this run tests is its amps and its arithmetic."
    ),
    "volts-consistent": _volts_consistent,
    "background-in-both": (
        "The clamps were on the service, so what else was on is in both readings: the background was not taken off. "
        'If they were on the load\'s own wires, write clamps = "load".'
    ),
    "legs": _legs,
    "neutral-current": lambda voice, f: (
        f"The legs carry {f['one']:g} and {f['other']:g} A, so about {voice.number(f['neutral'], 0.1)} A runs in the "
        "neutral: something on one leg only was on beside a load between the legs."
    ),
    "legs-apart": lambda voice, f: (
        f"The legs' volts differ by {voice.number(f['apart'], 0.1)} V, more than one voltmeter differs with itself "
        f"({voice.number(f['own'], 0.1)} V)."
    ),
    "legs-and-line": _legs_and_line,
    "form-registers": _form_registers,
    "form-not-of-service": (
        "A meter of form {form} does not belong on this service ({service}): read its nameplate again."
    ),
    "form-too-few-elements": (
        "A form {form} has fewer elements than this service needs, so unequal legs are out by a little."
    ),
    "thirty-degrees": lambda voice, f: (
        "On a wye a load between two legs stands 30 degrees off each leg's volts: V x I of the legs, "
        f"{voice.number(f['apparent'])} VA, is 2/sqrt(3) = {voice.number(f['factor'], 0.001)} times the true power."
    ),
    "leg-below-range": lambda voice, f: (
        f"Leg {f['leg']} carries {f['amps']:g} A, below the {f['least']:g} A from which the clamp's limits hold: use a "
        "larger load."
    ),
    "leg-power-factor": lambda voice, f: (
        f"Leg {f['leg']} has a power factor of {voice.number(f['factor'], 0.01)}: amps times volts alone would count "
        f"{voice.number(f['apparent'])} VA for {voice.number(f['true'])} W."
    ),
    "outside-range-a": lambda voice, f: (
        f"Leg {f['leg']} stands at {voice.number(f['volts'], 0.1)} V, outside the usual {voice.number(f['low'])} to "
        f"{voice.number(f['high'])} V: tell the utility."
    ),
    "outlet-sag": (
        "The outlet's volts fell from {off:exact} to {on:exact} V with the load on; sound wiring loses at most {most:number} % "
        "of them. The wires to it are very long, or a joint is poor and heats: unplug the load, and have a licensed "
        "electrician look at that outlet and its circuit before a heater runs there again. Make the next run at another outlet."
    ),
    "wires-to-receptacle": _wires,
    "background-went": _background_went,
    "ways-differ": _ways_differ,
    "thermostat-cycled": lambda voice, f: (
        f"The load drew {voice.number(f['mean'])} W on the average of the run against {voice.number(f['watts'])} W "
        "while on: a thermostat cycled. The kilowatt-hours are what counts here."
    ),
    "step-outweighs": _step,
    "multiplied": "The meter's reading was multiplied by {multiplier:exact}.",
    "repeats": _repeats,
    "draws-used": lambda voice, f: (
        f"The budget alone gives {voice.number(f['low'], 0.01)} to {voice.number(f['high'], 0.01)} %; the Monte Carlo, "
        f"which takes the distributions as they are, {voice.number(f['drawn_low'], 0.01)} to "
        f"{voice.number(f['drawn_high'], 0.01)} %, and is used."
    ),
    "background-as-quiet": lambda voice, f: (
        f"Beside the run {voice.number(f['watts'])} W were on, as in the quiet reading with {listed(f['cycling'])} left on: "
        "switch them off for a run, or write in its note that they were."
    ),
    "unfit-load": "{load} is no good reference: {why}. A plain heater on high, with no thermostat acting, is surer.",
    "unfit-in-note": (
        'By the note ("{note}") the load is no good reference: {why}. A plain heater on high, with no thermostat acting, is '
        "surer."
    ),
    "set-aside-odd": "This run disagrees with all others and is left out of the result. Its figures have to be looked at.",
    "set-aside-disturbed": "Something else switched during this run, so it is left out; the other runs agree without it.",
    "held-to-the-test": "By itself this run would say more; the test as a whole does not, and it is one test.",
    "no-test-amps": "The meter's test amps are not written down (test_amps), so this load point is only indicative.",
    "not-its-load": lambda voice, f: (
        f"About {voice.number(f['amps'], 0.1)} A is {voice.number(f['percent'])} % of the meter's {f['test_amps']:g} "
        f"test amps, not its {f['load']} load: indicative only."
    ),
    "no-power-of-now": "The meter was not read in a way that shows the power of now.",
    "main-off-nothing": _nothing,
    "main-off-one": _one,
    "main-off-counts": _counts,
    "display-may-lag": "A display may lag or show an average: watch pulses, disk or the last kWh digit too.",
    "no-creep-by-rule": "No full turn in five minutes is no creep by the rule quoted (52 Pa. Code 57.20).",
    "disk-may-coast": ("A disk may coast up to one turn after the load is gone: wait until it stands, then time it."),
    "watch-longer": "Watch for {minutes:number} minutes to prove less than {sound:number} W.",
    "disconnects-on": "Not every disconnect was off, so what stayed on is counted rightly.",
    "disconnects-not-written": "It is not written down whether every disconnect was off (all_disconnects_off).",
    "generation-on": "The house's own generation was not off, so the reading says nothing of the meter.",
    "size-of-a-load": (
        "{watts:watts} is the size of a load ahead of the main, of another home's load, or of a cable that leaks to "
        "the soil; a meter that creeps counts less than about {creep:watts}."
    ),
    "more-than-with-main-on": (
        "More was counted with the main off ({off:watts}) than in a quiet reading with it on ({on:watts}). One of the two "
        "was misread, or what acts ahead of the main comes and goes. Say so to the utility; the reading counts all the same."
    ),
    "size-of-creep": (
        "{watts:watts} is small enough for a meter that creeps (up to about {creep:watts}); a small load ahead of the "
        "main would look the same."
    ),
    "quiet-still": lambda voice, f: (
        f"{voice.capital(WAYS[f['way']])} stood still: at most {voice.number(f['most'])} W."
    ),
    "quiet-short": "Watched for under ten minutes: a refrigerator may just have been on, or off.",
}
"""By code; each is given the figures of its remark."""
