"""What stands beside the answer: signs of danger, what to know before a call, what might come back, what a list adds up to."""

from __future__ import annotations

from collections.abc import Sequence

from reconcile.kinds import Decision
from reconcile.say import Voice
from reconcile.texts import Figures, Sentence, tell

SIGNS_LINE = (
    "If the meter or the panel is warm, wet, buzzes or smells of burning, or lights brighten as others dim: touch nothing, "
    "call the utility's emergency line. Smell of gas: switch nothing, go out, call."
)
"""Stands with every answer: a printed page is handed on."""

IN_FIGURES = "In figures"
OVER, UNDER = "over usual", "under usual"
NO_BILL = ("No bill", "alone is high")
IN_QUESTION = "at issue, by the multiplier"
WRONG_BILL = "billed on the wrong bill"
BEYOND_TARIFF = "more than the tariff as typed gives"
OF_WHOM = "at issue: which meter they are of"
"""Each stands in the place of a figure where no bill is over its range."""

METER_FAST, METER_SLOW = "chance that the meter is fast", "chance that the meter is slow"
BY_ONE_RUN = " (by one run alone)"
"""Stands beside such a chance; the last where one run told it."""

METER_OPEN = ("Cannot tell", "whether the meter is fast until that is seen")
"""In place of it, where the records leave open whose meter, or which multiplier, the bills are of."""

METER_HIDDEN = ("Cannot tell", "whether the meter is fast: an error {of} could hide")
"""Stands in the place of a chance that these bills could not have moved; ``of`` is how large an error."""

NEW_COUNTS = "more counted by the new meter than by the old, since {since:short_day}"
"""Stands beside such a percentage, where no bill alone is high."""

SINCE_OPEN = "since when is open"
"""Stands beside limits of what a fast meter counted too much, where the day it began is not known."""

SINCE: dict[str, str] = {
    "open": "If the meter counts too much, these bills do not tell since when: it may have been before the first of them.",
    "meter": "Since {since:day} the {what} are about {size} more than they would have been before ({low} to {high} %).",
    "low": "Since {since:day} the {what} are about {size} less than they would have been before ({low} to {high} %).",
    "low-open": "The meter registers about {size} less than is used ({low} to {high} %); these bills do not tell since when.",
    "low-known": "These bills do not tell since when the meter counts too little.",
    "exchange": "By these bills the new meter counts about {size} more than the one before it ({low} to {high} %), since "
    "{since:day}; they do not tell which of the two is wrong.",
}
"""Why a meter is asked about, where the bills marked high do not say it."""

COMPLAIN: dict[str, str] = {
    "ask": "Should I complain? Ask first; these words ask and blame nobody. The billing desk's number is on the bill.",
    "test": "Should I complain? Ask for the test, in writing; these words blame nobody. The billing desk's number is on the "
    "bill.",
    "run-first": "Should I complain? Not yet: make the runs of the steps first. Only where they agree ask for the test, in "
    "writing. The words about it are for then; they blame nobody. The billing desk's number is on the bill.",
}
"""First line of what to say, where something is asked."""

BEFORE_A_CALL: dict[str, str] = {
    "refused": "If you hear that meters are always right, or that there is no record: ask who decides about this, and "
    "where to ask in writing.",
    "pay": "Until it is settled pay by the due date what you do not dispute, and say in writing what you dispute. Whether "
    "the rest may wait is for your local rule: ask (common practice).",
    "test-cost": "Before a test ask what it costs, whether that is paid back if the meter is out, and whether you may be "
    "there.",
}
"""What to know before a call, beside the words to say."""
SLOW_RISK = (
    "A meter found slow can mean a bill for the past ({slow:chance_percent} here). Ask first how far back a correction may "
    "go; many rules limit it."
)
"""What a question about a meter may bring upon who asks."""
LOW_RISK = "What a low bill left out may be billed later. If you know why less was used, do not ask."
"""What a question about a low bill may bring."""


def before_a_call(figures: Figures, voice: Voice) -> tuple[str, ...]:
    """Return what to know before the call.

    Parameters
    ----------
    figures : mapping
        ``asks`` (whether something is asked), ``over`` (whether bills are over), ``meter`` (whether a meter is asked
        about).
    """
    if not figures["asks"]:
        return ()
    keys = ["refused"]
    keys += ["pay"] if figures["over"] else []
    keys += ["test-cost"] if figures["meter"] else []
    return tuple(voice.fill(BEFORE_A_CALL[key], figures) for key in keys)


BACK: dict[str, Sentence] = {
    "none-high": "Nothing: no bill is high.",
    "trued-up": "Nothing more: what an estimate charged too much, the next bill charged less.",
    "trued-up-low": "Nothing: what an estimate charged too little, the next bill charged more.",
    "moved": "Nothing, where a kWh costs the same on both bills: what one of them charged too much, the other charged less.",
    "typed-first": "Nothing, where the printed bill shows other figures than the file. Compare the two first.",
    "typed": "Nothing: the amount is the price of what was used; only the kWh typed here are not.",
    "own-use": "Nothing comes back for what the home itself used, whatever used it. To find it ends the cost.",
    "records": "What the billing records charged too much: ask for a corrected bill. How far back is for your local rule.",
    "records-less": "Nothing: by the billing records these bills charged too little. A corrected bill may ask for more; ask how "
    "far back before you pay.",
    "others": "If these bills are of another home's meter, ask for the right ones: they may ask for less, or for more.",
    "missing": "Nothing: a bill is missing, and what was used in its days may still be asked for.",
    "either": "That depends on which of the two figures is wrong: a corrected bill may ask for less, or for more. Ask for both "
    "figures before you pay more.",
    "price": "Nothing, where this price is the one that applies to you. If another rate applies, ask for a corrected bill.",
    "if-wrong": "If a reading or a meter's record proves wrong, ask for a corrected bill. Nothing is found wrong yet.",
    "if-no-line": "What a bill asks beyond its tariff, where no line of the printed bill accounts for it: ask for a corrected "
    "bill.",
    "open": "That depends on the cause. A meter that a test finds fast is corrected by the rule of your state; what the home "
    "itself used is not paid back.",
    "meter": "If the utility's test finds the meter fast, the rule of your state says how much and for how long is given back.",
    "slow": "If a test finds that the meter now on the wall, or the one before it, counts too little, the utility may bill "
    "what it did not count. Many rules limit how far back.",
}
"""What might come back, by what the answer rests on."""


def back_text(keys: Sequence[str], voice: Voice) -> tuple[str, ...]:
    """Return what might come back, a sentence a key of :data:`BACK`."""
    return tuple(tell(voice, BACK, key, {}) for key in keys)


CHANCES = "Conclusions from the bills, not facts. Each chance counts every case in which that cause acts, alone or with another."
CHANCES_SUM = "Two or more may act at once, so these chances may add up to more than 100 % (here to {sum} %)."
"""Said where the chances told add up to more than 100 %."""
METER_SUM = "That the meter is fast, whenever it began: {fast:chance_percent}."

LOADS_SUM: dict[str, str] = {
    "all": "All loads together",
    "billed": "Billed",
    "apart": "Billed less the loads",
}
"""Rows under the load list."""
MEASURED_ALONE = "the bills would then show a meter that was fast from the start, from about {after:percent} on."
MEASURED = MEASURED_ALONE.removesuffix(".") + " (now from about {before:percent} on)."
"""What measuring a load is good for."""
LEFT_OUT = 1.0
"""Energy of bills left out under the load list from which it is told [kWh]."""


def loads_apart_text(added_kwh: float, left_kwh: float, *, own: bool, voice: Voice) -> str:
    """Say what the difference under the load list is made of, in figures that add up to it.

    Parameters
    ----------
    added_kwh : float
        What all causes but loads missing from the list likely add, each by its chance [kWh].
    left_kwh : float
        What else was billed beside the loads [kWh].
    own : bool
        Whether the home makes electricity.

    Examples
    --------
    >>> loads_apart_text(1737.7, 0.2, own=False, voice=Voice())[-60:]
    'kWh of what was billed less the loads; the rest is rounding.'
    """
    text = (
        "With the bills, what loads missing from the list likely use is under “not on the list”. What all other causes "
        "likely add, each by its chance, is {added} kWh of what was billed less the loads"
    )
    if abs(left_kwh) >= LEFT_OUT:
        text += (
            "; {left} kWh is between what the home used and what was billed, by its own generation and by bills left out here"
            if own
            else "; {left} kWh is of bills left out here, that cannot be judged or that the records contradict"
        )
    figures = {"added": voice.number(added_kwh, 1.0, sign=True), "left": voice.number(left_kwh, 1.0, sign=True)}
    return voice.fill(text + "; the rest is rounding.", figures)


def pair_text(figures: Figures, voice: Voice, *, last: bool, as_usual: bool) -> str:
    """Say that estimated bills and the one that trues them up are read as one.

    Parameters
    ----------
    figures : mapping
        ``kwh``, ``days`` and ``per_day`` of both together.
    last : bool
        Whether this is the one that trues up; what both are is said beside the other.
    as_usual : bool
        Whether both together are as usual: they then have one range and one mark.
    """
    if last and as_usual:
        return "usual range and mark: with the estimate before it, as one"
    side = "with the estimate before it" if last else "with the next bill, which puts it right"
    usual = ", as usual" if as_usual else ""
    return voice.fill(f"{side}: {{kwh:kwh}} in {{days:days}}, {{per_day:per_day}}{usual}", figures)


JOINED = " Dotted: an estimated bill and the one that puts it right, read as one."
TOGETHER = ("both", "all")
"""Two bills that are as usual together, or more."""
NEXT_MARK = ("", "see the next bill")
"""Shape and word of an estimate in them; the mark stands at the bill that trues it up."""
PART_WORD = "maybe part"
"""Mark of a bill inside its range that may belong to a lasting change."""


TIED_OUT: dict[str, Sentence] = {
    "one": "The hourly data add up to the one bill that they cover.",
    "all": "The hourly data add up to all {count} bills that they cover.",
}
"""What interval data say of the bills, where they agree."""


def complain(decision: str, *, runs_first: bool = False) -> str:
    """Return the first line of what to say, where something is asked; ``runs_first`` where more runs must agree before."""
    if runs_first:
        return COMPLAIN["run-first"]
    return COMPLAIN["test" if decision == Decision.FIELD_TEST else "ask"]
