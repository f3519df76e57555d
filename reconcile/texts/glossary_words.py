"""The glossary: every word that has one meaning here, whose it is, and what the householder's page says for it.

``docs/glossary.md`` is made of it (``python tests/test_docs.py``), and so are the words of the page and of the workbook.
"""

from __future__ import annotations

from reconcile.records import dataclass


@dataclass(frozen=True, slots=True)
class Word:
    """A word of the glossary."""

    word: str
    whose: str
    """``trade``, ``ours``, or the open standard it is from."""
    meaning: str
    on_the_page: str
    """What the householder's page says; ``as is`` for the word itself, ``not used`` for none."""
    told: bool = False
    """Whether the householder's page explains it."""


GLOSSARY: tuple[Word, ...] = (
    Word(
        "billing period",
        "trade",
        "from the opening to the closing reading; its days are the nights between",
        "a bill and its dates",
    ),
    Word(
        "actual, estimated, customer reading",
        "trade",
        "how the closing reading came about: read from the meter, worked out by the utility, or read by you",
        "actual, estimated reading",
        told=True,
    ),
    Word(
        "catch-up, trues up",
        "trade",
        "the bill after an estimate, which puts its error right",
        "puts it right",
        told=True,
    ),
    Word(
        "register, dial, multiplier, rollover",
        "trade",
        "what the meter counts, shows, is multiplied by, and passes at its end",
        "as is",
    ),
    Word(
        "meter exchange",
        "trade",
        "a new meter: the old one's last and the new one's first reading",
        "the meter was exchanged",
    ),
    Word("load", "trade", "anything that draws power", "as is"),
    Word(
        "load list (inventory)",
        "trade",
        "what draws power, with watts, count, run hours and share on",
        "load list",
        told=True,
    ),
    Word("share on (duty)", "trade", "part of its run hours in which a thermostat lets a load draw", "share on"),
    Word("round-the-clock load, base load", "trade", "what draws at every hour", "round-the-clock load", told=True),
    Word(
        "degree-day, balance temperature",
        "trade",
        "how much weather; the outdoor temperature at which heating or cooling begins",
        "weather",
    ),
    Word(
        "from the load list only",
        "ours",
        "kWh that the list gives, with its range; no bill is used",
        "load list only",
        told=True,
    ),
    Word(
        "usual kWh",
        "ours",
        "what the list and all the other bills predict, with its range",
        "what this house usually uses",
        told=True,
    ),
    Word("over, under", "ours", "billed more, or less, than the usual range holds", "high, low", told=True),
    Word("finding", "ours", "a fact of the billing records, certain", "what the billing records show", told=True),
    Word("cause", "ours", "an inference, with its chance", "what could be behind it", told=True),
    Word(
        "amount at issue",
        "trade",
        "money that a finding or a possible cause would account for; no claim",
        "amounts at issue",
        told=True,
    ),
    Word("tie-out", "trade", "whether interval data add up to each bill", "adds up, does not add up"),
    Word(
        "registration",
        "standard, ANSI C12.1",
        "meter reading over true energy, in percent: 100 is right, above is fast",
        "fast, slow",
        told=True,
    ),
    Word("creep", "trade", "registration with nothing connected", "counts with the main off"),
    Word("leg, line-to-line, neutral", "trade", "the two hot conductors, between them, and the third", "not used"),
    Word("receptacle", "trade", "where a plug goes", "outlet"),
    Word(
        "known load, reference load",
        "trade",
        "a load that always draws the same, such as a heater: the meter is checked with it",
        "one steady load",
        told=True,
    ),
    Word(
        "uncertainty, expanded uncertainty, coverage factor",
        "standard, JCGM 100",
        "range in which the true value lies, at the stated coverage",
        "give or take",
    ),
    Word(
        "guard band, test uncertainty ratio",
        "standard, JCGM 106",
        "limits drawn in so that a wrong verdict is rare; tolerance over uncertainty",
        "not used",
    ),
    Word("inside, outside, cannot tell", "ours", "zones of a test's verdict, after JCGM 106", "as is"),
    Word("detects (an error of 4 %)", "trade", "would show it, nine times in ten", "would have shown"),
    Word("fits, does not fit", "ours", "agrees, or not, within the stated uncertainty", "as is"),
    Word("interval data", "trade", "energy by hour or quarter-hour", "hourly readings (interval data)", told=True),
    Word("espi", "standard, NAESB REQ.21", "the XML that utilities give interval data in", "the file from the utility"),
)

LIVE = (
    "In the workbook a changed load follows through: the sheet expected, the column load list only of the sheet bills, "
    "and the sums of the sheet answer are formulas. Ranges, usual kWh, causes and chances were worked out by the program and stand as values; "
    "to have them follow, change the files and run reconcile check again."
)
"""What the workbook claims of its own formulas."""
