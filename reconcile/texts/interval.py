"""Sentences about interval data: what was taken for granted, and what was done while reading."""

from __future__ import annotations

from reconcile.house import Action, Assumed
from reconcile.say import Voice
from reconcile.texts import Figures, Sentence, tell


def _counted(after: str) -> Sentence:
    """Make a sentence that begins with the number of intervals and ends with their energy, where there is any.

    ``{are}``, ``{were}``, ``{have}``, ``{do}`` and ``{s}`` go with the number: ``{s}`` ends a verb of one.
    """

    def sentence(voice: Voice, figures: Figures) -> str:
        one = figures["count"] == 1
        many = "1 interval" if one else f"{voice.number(figures['count'])} intervals"
        words = ONE if one else SEVERAL
        energy = f" ({voice.number(figures['kwh'], 0.1)} kWh)" if figures["kwh"] else ""
        return voice.fill(f"{many} {after}{energy}.", {**figures, **words})

    return sentence


ONE = {"are": "is", "were": "was", "have": "has", "do": "does", "s": "s", "it": "it", "row": "row"}
SEVERAL = {"are": "are", "were": "were", "have": "have", "do": "do", "s": "", "it": "they", "row": "rows"}

ASSUMED: dict[str, Sentence] = {
    "stamps": "Each time is taken as the {which} of its interval.",
    "clock": "The times carry no distance from UTC; they are taken as the clock of {zone}.",
    "zone-told": "No time zone is set; by the times of the data it is taken as {zone}. Another is set as timezone under "
    "[house].",
    "midnight-ends": "A midnight stands behind the last hour of its day; it is taken as the end of that day.",
    "stamps-register": "Each time is taken as the {which} of its interval: so {name} beside it rises.",
    "standard-time": "The times never change to summer time; they are taken as the standard time of {zone}.",
    "unit": "The values are taken as {unit}.",
    "unit-bills": "The values are taken as {unit}: only so they add up to the bills.",
    "unit-other": "The file calls its values {told}; only as {unit} they add up to the bills, and so they are taken.",
    "stamps-days": "The times run through whole days from the first step to midnight; they are taken as the ends of "
    "their intervals.",
    "unit-above": "The values are taken as {unit}, as a line above the table says.",
    "two-registers": "{drawn} is taken as the energy drawn, {back} as the energy sent back.",
    "phases": "The phases are added: {names}.",
    "wide": "Each row is a day with {columns} columns of {minutes} minutes.",
    "market-time": "The times are those of the market, {hours:exact} h from UTC all year.",
    "passed-over": "What holds no electricity readings is passed over: {names}.",
    "counter": "{name} begins again at every midnight; the energy is the difference of its readings.",
    "ends-early": "The times stand {seconds} s before whole steps; they are taken as the ends of their intervals.",
    "begins-late": "The times stand {seconds} s behind whole steps; they are taken as the starts of their intervals.",
    "multiplier-beside": "A multiplier of {multiplier} stands beside the values; they are taken as already multiplied.",
    "heading-times": "Each figure of {name} is taken as {times:exact} of its unit, as the heading says.",
    "days-across": "Each column is a day, each row {minutes} minutes of it.",
    "register": "{name} is a running register; the energy is the difference of its readings.",
    "odd-hours": "{name} is a running register that was read at odd times; between two readings the energy is spread "
    "evenly, in steps of {minutes} minutes. What lies beyond the first and the last whole step is left out "
    "({lost:kwh}).",
    "received-negative": "{name} is written below zero; it is taken as the energy sent back.",
    "received-alone": "The data call their only register what was sent back to the grid; it is taken as the energy drawn, as "
    "no other is there. If it is what was sent back, download the other register (delivered) too.",
    "delivered-negative": "{name} is written below zero throughout; it is taken as the energy drawn.",
    "day-order": "Days and months are read as {order}, as only so the days follow one another.",
    "espi-unit": "The data do not say their unit; they are taken as Wh.",
    "espi-left": "The data also hold readings in {units}, which are not read.",
    "espi-beside-power": "The data also hold readings of power, which are not read: the energy is there.",
    "espi-beside-register": "The data also hold a running register, which is not read: the energy of each interval is "
    "there.",
    "espi-beside-net": "The data also hold a net register, which is not read: what was delivered is there.",
    "espi-beside-parts": "The data also hold readings by price period, which are not read: the whole is there.",
    "espi-parts": "The readings of {count} price periods are added.",
    "espi-beside-phases": "The data also hold readings by phase, which are not read: the whole is there.",
    "espi-phases": "The readings of {count} phases are added.",
    "espi-clock": "The file's own clock is {hours:exact} h from UTC in winter; its times are told by the clock of {zone}.",
    "one-column": "Only the column {read} is read, not {others}.",
}
"""What the file itself does not say, by code."""

ACTIONS: dict[str, Sentence] = {
    "blank": _counted("without a value {were} left out, not taken as zero"),
    "gap": _counted("between the first and the last {are} missing"),
    "clock-forward": _counted("stand{s} in the hour that the clock skips; what had no place of its own was left out"),
    "clock-back": _counted("stand{s} twice in the hour that the clock repeats; the order tells them apart"),
    "clock-back-once": _counted(
        "stand{s} only once in the hour that the clock repeats; {it} {were} taken for its first pass"
    ),
    "off-step": _counted("missed the step of {step} a little and {were} put on it"),
    "off-grid": _counted("{do} not fall on the steps of the others and {were} left out ({file}, {row} {rows})"),
    "beyond-service": _counted("{are} more than the service can carry and {were} left out ({file}, {row} {rows})"),
    "negative": _counted("{are} below zero and {were} left out ({file}, {row} {rows})"),
    "estimated": _counted("{are} flagged as estimated and {were} kept"),
    "stuck": _counted("repeat{s} one value above zero for a day or longer and {were} kept"),
    "zero": _counted("{are} zero for a day or longer and {were} kept"),
    "reset": _counted("of the running register cannot be known: it was set back between two readings"),
    "spread": _counted("had no reading of the running register; what it counted was spread over them evenly"),
    "overlap": _counted("lie{s} within a longer interval and {do} not fill it; {it} {were} left out"),
    "received-alone": _counted("{have} energy sent back but no reading of the energy drawn and {were} left out"),
    "repeat": _counted("{were} repeated and counted once"),
    "conflict": _counted("{were} repeated with another value; the larger was kept"),
}
"""What was done while reading, by code; ``count`` and ``kwh`` are among the figures."""


def assumed_text(assumed: Assumed, voice: Voice) -> str:
    """Say what was taken for granted.

    Examples
    --------
    >>> assumed_text(Assumed("stamps", {"which": "start"}), Voice())
    'Each time is taken as the start of its interval.'
    """
    return tell(voice, ASSUMED, assumed.code, assumed.figures)


def action_text(action: Action, voice: Voice) -> str:
    """Say what was done to the data.

    Examples
    --------
    >>> action_text(Action("repeat", 2, 1.5), Voice())
    '2 intervals were repeated and counted once (1.5 kWh).'
    """
    return tell(voice, ACTIONS, action.code, {**action.figures, "count": action.count, "kwh": action.kwh})
