"""What a planned field test can answer at all, and what is not known that matters: sentences by key."""

from __future__ import annotations

from reconcile.say import Voice
from reconcile.texts import Figures, Sentence


def _size(voice: Voice, f: Figures) -> str:
    return f"{voice.number(f['size'], 1.0 if f['size'] >= 5.0 else 0.1)} %"


def _inside(voice: Voice, f: Figures) -> str:
    return f"{voice.exact(100.0 - f['tolerance'])} to {voice.exact(100.0 + f['tolerance'])} %"


def _closed(voice: Voice, f: Figures) -> str:
    return (
        "Nothing has to be opened: a plug-in run can tell a meter that is out by "
        f"{voice.number(f['told'].smallest_error_percent)} % or more from one inside {_inside(voice, f)}."
    )


def _closed_size(voice: Voice, f: Figures) -> str:
    return (
        f"Nothing has to be opened: a plug-in run can tell a meter that is {_size(voice, f)} out (it detects "
        f"{voice.number(f['told'].smallest_error_percent, 0.1)} % and more)."
    )


def _legs_would(voice: Voice, f: Figures) -> str:
    return (
        f"A plug-in run with these instruments would not tell {_size(voice, f)}; a qualified person's readings at the "
        "legs would, and so would the utility's test, for which nobody but the utility opens anything: ask for that "
        "first."
    )


def _utility_only(voice: Voice, f: Figures) -> str:
    return (
        f"No test with these instruments would tell {_size(voice, f)} from a meter inside {_inside(voice, f)}: the "
        "utility's test against a reference standard is the step."
    )


def _likeliest(voice: Voice, f: Figures) -> str:
    """Say first what the bills make likeliest, then what it must be told from."""
    told = []
    if f["meter"] is not None:
        code, size, signed, chance = f["meter"]
        which = "the meter before the exchange" if code == "old-meter-slow" else "the meter"
        sense = "slow" if code == "old-meter-slow" or signed < 0.0 else "fast"
        told.append((chance, f"{which} about {voice.number(size)} % {sense}"))
    if f["load"] is not None:
        size, _, chance = f["load"]
        told.append((chance, f"a load of about {voice.watts(size)} round the clock"))
    told.sort(key=lambda one: -one[0])
    first, *rest = (f"{what} ({voice.chance_percent(chance)})" for chance, what in told)
    second = f", and less to {rest[0]}" if rest else ""
    return f"The bills point first to {first}{second}."


ANSWERS: dict[str, Sentence] = {
    "likeliest": _likeliest,
    "stop": "Stop: there is a sign of danger. No test now; call first.",
    "begin": "Begin with the checks below; nothing is opened.",
    "closed": _closed,
    "closed-size": _closed_size,
    "legs-would": _legs_would,
    "utility-only": _utility_only,
    "service-unknown": "The kind of service is not known (service), so readings at the legs cannot be planned or "
    "judged.",
    "demand-display": "The display's kW is demand, an average of many minutes: use flashes, the disk or the kWh "
    "instead.",
    "no-disk-constant": "The Wh a disk turn (Kh, on the nameplate) is not written down; 7.2 was taken for planning.",
    "no-pulse-constant": "The Wh a flash (Kt or imp/kWh, on the nameplate) is not written down; 1 was taken for "
    "planning.",
    "no-test-amps": "Write down the meter's test amps too (TA, on the nameplate): without them an electrician's readings "
    "are a guide only.",
    "multiplier": "Every reading of this meter is multiplied by {multiplier:exact}.",
    "generation": "The house makes its own power: switch that off for every run, as its makers say, or wait for dark.",
}
"""Every such sentence by its key."""
