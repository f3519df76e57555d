"""Sentences about interval data: what was taken for granted, and what was done while reading."""

from __future__ import annotations

from reconcile.house import Action, Assumed
from reconcile.say import Voice
from reconcile.texts import Figures, Sentence, tell


def _many(voice: Voice, figures: Figures) -> str:
    count = figures["count"]
    return "1 interval" if count == 1 else f"{voice.number(count)} intervals"


def _counted(after: str) -> Sentence:
    """Make a sentence that begins with the number of intervals and ends with their energy, where there is any."""

    def sentence(voice: Voice, figures: Figures) -> str:
        energy = f" ({voice.number(figures['kwh'], 0.1)} kWh)" if figures["kwh"] else ""
        return voice.fill(f"{_many(voice, figures)} {after}{energy}.", figures)

    return sentence


ASSUMED: dict[str, Sentence] = {
    "stamps": "Each time is taken as the {which} of its interval.",
    "clock": "The times carry no distance from UTC; they are taken as the clock of {zone}.",
    "standard-time": "The times never change to summer time; they are taken as the standard time of {zone}.",
    "unit": "The values are taken as kWh.",
    "one-column": "Only the column {read} is read, not {others}.",
}
"""What the file itself does not say, by code."""

ACTIONS: dict[str, Sentence] = {
    "blank": _counted("without a value were left out, not taken as zero"),
    "gap": _counted("between the first and the last are missing"),
    "clock-forward": _counted("stand in the hour that the clock skips; those whose place is taken were left out"),
    "clock-back": _counted("stand twice in the hour that the clock repeats; their order tells them apart"),
    "clock-back-once": _counted(
        "stand only once in the hour that the clock repeats; they were taken for its first pass"
    ),
    "off-step": _counted("missed their step of {step} a little and were put on it"),
    "repeat": _counted("were repeated and counted once"),
    "conflict": _counted("were repeated with another value; the larger was kept"),
}
"""What was done while reading, by code; ``count`` and ``kwh`` are among the figures."""


def assumed_text(assumed: Assumed, voice: Voice) -> str:
    """Say what was taken for granted.

    Parameters
    ----------
    assumed : Assumed
    voice : Voice

    Returns
    -------
    str

    Examples
    --------
    >>> assumed_text(Assumed("stamps", {"which": "start"}), Voice())
    'Each time is taken as the start of its interval.'
    """
    return tell(voice, ASSUMED, assumed.code, assumed.figures)


def action_text(action: Action, voice: Voice) -> str:
    """Say what was done to the data.

    Parameters
    ----------
    action : Action
    voice : Voice

    Returns
    -------
    str

    Examples
    --------
    >>> action_text(Action("repeat", 2, 1.5), Voice())
    '2 intervals were repeated and counted once (1.5 kWh).'
    """
    return tell(voice, ACTIONS, action.code, {**action.figures, "count": action.count, "kwh": action.kwh})
