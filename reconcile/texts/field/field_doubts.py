"""Sentences of the gate before a field test's verdict: doubts, assumptions, what would explain, what settles it."""

from __future__ import annotations

from typing import Any, TypeAlias

from reconcile.say import Voice
from reconcile.texts import Figures, Sentence
from reconcile.texts.field.field_remarks import WAYS

Guess: TypeAlias = Any
"""A guess of :mod:`reconcile.meter.judged`, a floor above: read here, never imported."""

FIELDS = {
    "meter_kw": "the kW of the meter's display",
    "pulses": "the number of pulses",
    "turns": "the number of disk turns",
    "seconds": "the seconds of the run",
    "register_start": "the register's first reading",
    "register_end": "the register's second reading",
    "reference_watts": "the watts of the plug-in meter",
    "reference_kwh": "the kWh of the plug-in meter",
    "pulse_wh": "the Wh a pulse (house.toml)",
    "disk_wh": "the Wh a disk turn (house.toml)",
    "multiplier": "the meter's multiplier (house.toml)",
    "connection": "how the load is connected",
    "service": "the kind of service (house.toml)",
    "clamps": "where the clamps sat",
    "power_factor": "the load's power factor",
    "background_w_before": "what else was on before the run",
    "background_w_after": "what else was on after the run",
    "background_w": "what else was on, before and after the run",
    "amps": "the amps of every leg",
    "volts": "the volts of every leg",
    "meter_volts": "the volts on the meter's display",
    "line_volts": "the volts between the legs",
    "outlet_volts_off": "the receptacle's volts with the load off",
    "outlet_volts_on": "the receptacle's volts with the load on",
}
"""What each key of the test is in words."""


def field_words(key: str) -> str:
    """Say a key of the test in words.

    Examples
    --------
    >>> field_words("amps_2"), field_words("pulses")
    ('the amps of leg 2', 'the number of pulses')
    """
    if key in FIELDS:
        return FIELDS[key]
    stem, _, leg = key.rpartition("_")
    what = {"amps": "the amps", "volts": "the volts", "power_factor": "the power factor"}.get(stem, "the power factor")
    return f"{what} of leg {leg}"


def guess(voice: Voice, g: Guess) -> str:
    """Say which error would explain the figure, and what the registration would be without it."""
    if g.code == "left-out":
        return voice.capital(f"{field_words(g.field)} was not written down, and the figure rests on it.")
    would = f"without it the meter would register {voice.number(g.would_be_percent, 0.1)} %"
    read = f"{g.run or 'The run'} gives {voice.number(g.as_read_percent, 0.1)} %"
    what = field_words(g.field)
    factor = g.factor or 1.0
    size = voice.figure(factor if factor >= 1.0 else 1.0 / factor)
    sense = "too large" if factor > 1.0 else "too small"
    said = {
        "decimal": f"{what} may be {size} times {sense} (a decimal point)",
        "thousand": f"{what} may be 1,000 times {sense} (W for kW, or the reverse)",
        "double": f"{what} may be twice what it was",
        "half": f"{what} may be half of what it was (one of two missed)",
        "root-3": f"{what} may be {size} times {sense}{BETWEEN_LEGS if _of_legs(g.field) else ''}",
        "hours": f"{what} may be in hours",
        "clock": f"{what} may be minutes and seconds run together (1003 or 10.03 for 10 min 3 s)",
        "digits": f"{what} may have been written without its last digits",
        "inverse": f"{what} may be counts a kWh written for Wh a count",
        "constant": f"{what} may be another, {size} times {'smaller' if factor > 1.0 else 'larger'}",
        "sign": f"{what} may have the wrong sign",
        "cycled": "the load may have switched itself off for a part of the time counted (its thermostat)",
        "load-on": f"{what} may have been read while the load was on",
        "leg-added": "one leg too many may have been written (the neutral is no leg)",
        "misread": f"{what} may be misread, or of another load",
        "minutes": f"{what} may be in minutes" if factor < 1.0 else f"{what} may be 60 times too many",
        "swapped": f"{what} may stand in another figure's place",
        "export": f"{what} may be export: the house was feeding back",
        "multiplier": f"{what} may be {size} times {sense}",
        "connection": (
            "the load may be connected the other way, line-to-line for line-to-neutral or the reverse: on a wye that "
            "is a factor of 1.155"
        ),
        "service": (
            "the service may be another one: a 120/208 V network for a split-phase service or the reverse is a factor "
            "of 1.155"
        ),
        "clamps": "the clamps may have sat elsewhere: on the load's own wires, or on the service",
        "power-factor": (
            f"the load may have a power factor of about {voice.number(factor, 0.05)}: amps times volts count too much"
        ),
        "leg-missed": f"{what} may have been missed",
        "background-missed": "what else was on may have been left out: the meter counts it too",
        "background-switched": "something else may have switched on or off during the run",
    }[g.code]
    figures = "" if g.written is None or g.meant is None else _figures(voice, g)
    return voice.capital(f"{read}: {said}{figures}; {would}.")


BETWEEN_LEGS = " (those between two legs written for those of one)"


def _of_legs(key: str) -> bool:
    return key.startswith(("volts", "amps", "meter_volts", "line_volts", "meter_kw"))


EXACT = ("decimal", "thousand", "double", "half", "minutes", "hours", "clock", "digits", "inverse", "sign", "constant")
"""Errors of which the figure that was meant is known, and not only about how large it would be."""


def _figures(voice: Voice, g: Guess) -> str:
    meant = voice.exact(g.meant) if g.code in EXACT else f"about {voice.figure(g.meant)}"
    return f": written {voice.exact(g.written)}, perhaps {meant}"


def _contradiction(what: str) -> Sentence:
    def said(voice: Voice, f: Figures) -> str:
        return f"{f['run'] or 'The run'}: {what} ({voice.exact(f['one'])} against {voice.exact(f['other'])})."

    return said


def _ways(voice: Voice, f: Figures) -> str:
    one, other = (WAYS[w] for w in f["ways"])
    return (
        f"{f['run'] or 'The run'}: {one} and {other} contradict each other ({voice.number(f['one'])} W against "
        f"{voice.number(f['other'])} W): one was misread, or the load did not run all the time."
    )


def _wires(voice: Voice, f: Figures) -> str:
    read = (
        "were not read"
        if f["off"] is None or f["on"] is None
        else f"were read as {voice.exact(f['off'])} and {voice.exact(f['on'])} V, which no load makes of them"
    )
    return voice.fill(
        f"The outlet's volts without and with the load {read}. A long branch circuit ({{ohms:figure}} ohm) would make a "
        "right meter look {percent:percent} faster than the wires that are usual.",
        f,
    )


DOUBTS: dict[str, Sentence] = {
    "assumed-connection": (
        "How the load is connected was not written down; line-to-line was assumed, and on this service "
        "({service}) it decides the figure."
    ),
    "assumed-power-factor": "The power factor was not read; 1 was assumed, and a motor's is lower.",
    "assumed-background-once": "What else was on was read only before or only after the run.",
    "assumed-background-missing": (
        "The clamps were on the load's own wires and what else was on was not read; the meter counts it too."
    ),
    "assumed-clamps": "It is not written down whether the clamps sat on the service or on the load's own wires.",
    "assumed-volts-sag": "The volts under load were not read; they were taken from those without it.",
    "assumed-volts-nominal": "The volts were not read; the usual ones of the service were taken.",
    "assumed-volts-set-aside": "The legs' volts do not fit the meter's; the meter's own were taken in their place.",
    "assumed-wires": _wires,
    "assumed-instrument": lambda voice, f: (
        f"No limits of error are written for the instrument for {f['quantity']}: those of a {f['name']} were taken "
        f"({f['percent']:g} % + {f['digits']:g} digits; common practice)."
    ),
    "contradiction-ways-contradict": _ways,
    "contradiction-kwh-watts": _contradiction(
        "the plug-in meter's kWh over the seconds and its watts do not agree: the load cycled, or one is misread"
    ),
    "contradiction-over-plug": _contradiction("no plug-in meter carries these watts"),
    "contradiction-plug-in-watts": _contradiction("no load for a plug-in meter draws these watts"),
    "contradiction-outlet-volts": _contradiction("no receptacle has these volts"),
    "contradiction-outlet-sag": _contradiction("the receptacle's volts rose under load"),
    "contradiction-legs-count": _contradiction("this service does not have so many legs"),
    "contradiction-own-factors": _contradiction(
        "a load between two legs of a wye does not give the legs these power factors of their own"
    ),
    "contradiction-leg-watts": _contradiction("no load of a house draws these watts"),
    "contradiction-leg-volts": _contradiction("no leg of this service has these volts"),
    "contradiction-line-and-leg-volts": _contradiction("the legs' volts do not fit the volts between the legs"),
    "contradiction-line-volts": _contradiction("this service does not have these volts between the legs"),
    "contradiction-sharing": _contradiction(
        "a load between two legs draws the same from both; these amps are not those of one"
    ),
    "contradiction-legs-volts": _contradiction("the volts of two legs lie too far apart"),
    "contradiction-over-service": _contradiction("the service does not carry these amps"),
    "contradiction-background-small": _contradiction(
        "hardly a house draws so little with a load off, and still something: is it kW?"
    ),
    "contradiction-background-moved": _contradiction(
        "what else was on changed during the run; a refrigerator or a heater started or stopped"
    ),
    "negative": (
        "{run}: the meter counts backwards ({percent:number} %): the house was feeding back, or a sign is wrong."
    ),
    "plug-and-legs": (
        "{run}: the plug-in meter and the readings at the legs contradict each other ({one:number} % against "
        "{other:number} %)."
    ),
    "below-range": "{run}: below the clamp's range no verdict is given.",
    "runs-disagree": (
        "{run} ({percent:number} %) disagrees with the {others:number} other runs, which agree with each other. It is left "
        "out of the result; look at its figures first."
    ),
    "runs-scatter": (
        "The runs lie between {low:number} and {high:number} %, farther apart than the instruments explain: the load "
        "or the rest of the house did not hold still."
    ),
    "unusual-once": "{percent:number} % is far from anything a meter usually does, and was found once.",
    "unusual-one-way": "{percent:number} % is far from anything a meter does, and was read in one way only.",
    "constant-alone": (
        "{percent:number} % rests on what one flash or turn is worth (Wh), written once for every run: the figure of another line of the "
        "meter's face would make as much of a right meter."
    ),
    "constant-refuted": (
        "Counted, the meter registers {counted:number} %; by its register or its kW, which need no Wh a flash or turn, "
        "{other:number} %. Most likely the constant is not {written:figure} Wh but about {meant:figure} Wh."
    ),
    "explained-by": lambda voice, f: guess(voice, f["guess"]),
}
"""Why no verdict is given, by code."""


def look_at(voice: Voice, run: str, found: Any) -> str:
    """Say what in a run to look at first: a figure, as it was written and as it may have been meant."""
    if found is None or found.run != run:
        return "its figures"
    if found.written is None or found.meant is None:
        return field_words(found.field)
    meant = voice.exact(found.meant) if found.code in EXACT else voice.figure(found.meant)
    return f"{field_words(found.field)}, written {voice.exact(found.written)}, perhaps {meant}"


def _look_at_run(voice: Voice, f: Figures) -> str:
    return (
        f"{f['run']}: look at {look_at(voice, f['run'], f['guess'])}. Correct it and judge again; if it was read so, make "
        "that run once more."
    )


LONGEST_HOURS = 12.0
"""Longer nobody stays beside a heater to read a meter [h] (our choice)."""


def _by_the_register(voice: Voice, f: Figures) -> str:
    if f["hours"] > LONGEST_HOURS:
        return (
            "Read the Wh a flash or turn off the meter's face once more, from where you stand, and photograph it. The "
            "register moves in steps too coarse to check it by a run: ask the utility, with the meter's number, what one flash "
            "or turn is worth. If the display shows the kW of now, write that at each run, with the load on."
        )
    hours = voice.number(f["hours"])
    time = "1 hour" if f["hours"] == 1.0 else f"{hours} hours"
    return (
        "Read the Wh a flash or turn (Kt, Kh or imp/kWh) on the meter's face once more. Where the meter's display shows the "
        "kW of now, a minute tells: write that with the load on, in each run. Where it shows kWh only, make one more run of "
        f"about {time}, somebody awake in the room with the load all the time: write those kWh right before and after, the "
        "plug-in meter's watts, and the seconds. Where plug or outlet gets warm, stop."
    )


SETTLE: dict[str, Sentence] = {
    "settle-look-at-run": _look_at_run,
    "settle-connection": (
        "Write how the load is connected (connection = line-to-line or line-to-neutral): its plate gives its volts; "
        "between two legs of a 120/208 V service it is made for 208 V."
    ),
    "settle-line-volts": (
        "Have the volts between the two legs read (by a qualified person, or on the meter's display): 240 V is "
        "split-phase, 208 V a network."
    ),
    "settle-power-factor": (
        "Have the power factor read with the amps, or repeat the run with a plain heater, whose power factor is 1."
    ),
    "settle-outlet-volts": (
        "Read the volts at the outlet on the plug-in meter with the load off and with it on, and write both "
        "(outlet_volts_off, outlet_volts_on)."
    ),
    "settle-background": (
        "Read the meter with the load off right before and right after the run, with the refrigerator and whatever "
        "else cycles switched off, and write both."
    ),
    "settle-clamps": "Write where the clamps sat (clamps = main or load).",
    "settle-register": _by_the_register,
    "settle-constant": (
        "Read the constant off the meter's face again (Kt, Kh or imp/kWh, from where you stand) and photograph it: "
        "{written:figure} Wh was written, the register says about {meant:figure} Wh. Correct it, and judge again."
    ),
    "settle-nameplate": "Read the meter's face again: the Wh a pulse or turn and the multiplier, and photograph them.",
    "settle-plug-in": "Read the plug-in meter again while the load is on, with its unit, and photograph it.",
    "settle-read-both-ways": (
        "Read the meter in two ways in the same run: the kW it shows, and its pulses (or turns) over ten minutes."
    ),
    "settle-count-again": "Count once more over ten minutes; write the count and the seconds each in its place.",
    "settle-register-again": "Read the register again before and after a run of an hour, all digits.",
    "settle-leg-amps": "Have the amps of each leg read once more, in the same minute, with the load on.",
    "settle-leg-volts": "Have the volts of each leg to neutral read under load, in the same minute as the amps.",
    "settle-repeat-quiet": (
        "Repeat the run with the refrigerator, freezer and other loads that start by themselves switched off for its "
        "length."
    ),
    "settle-repeat-steady": (
        "Repeat the run with a load that holds still (a heater on high, its thermostat at the highest setting), three "
        "times."
    ),
    "settle-repeat-run": "Repeat the run twice more, every figure read anew.",
    "settle-repeat-both": "Repeat the run, both instruments read in the same minute.",
    "settle-larger-load": "Repeat with a larger load, inside the clamp's range.",
    "settle-direction": (
        "Repeat with the house's own generation switched off, or at night, and note the arrow on the meter's display."
    ),
}
"""The one reading that settles a doubt, by code."""


def assumption(voice: Voice, assumed: Any) -> str:
    """Say what was assumed."""
    sentence = DOUBTS[f"assumed-{assumed.code}"]
    return voice.fill(sentence, assumed.figures) if isinstance(sentence, str) else sentence(voice, assumed.figures)
