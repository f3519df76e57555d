"""Parts of the answer in one sentence: what stands out, the likeliest cause, and sentences that several rules share."""

from __future__ import annotations

from reconcile.rounding import as_parts
from reconcile.say import Voice, listed
from reconcile.texts import Figures

STOP = (
    "Touch neither the meter nor the panel, and call the utility's emergency line or a licensed electrician now; with smoke "
    "or fire go out and call the fire service first. The bills can wait."
)
DESK = "Settle this with the utility's billing desk."
ADD_THEM = "Add the two: nothing is lost if a kWh costs the same on both."
ADD_UP = "The hourly readings agree with what was billed: no reading is off."
NO_DESK = "There is nothing to ask of the utility."
OPEN_YET = "The next bills will tell more."
"""In place of it, where a rise is likely all the same."""
PRINTED = "Compare the file with the printed bill first: most likely it was typed so."
NO_PATTERN = "No bill alone is clearly high, yet together they follow no single pattern."
NOT_YET = "Whether anything lasting has begun, these bills cannot tell yet."
"""In place of it where the records themselves show something of the money: that is the news."""
BELOW_LIST = "No bill is too high: all together they are about"
UNSEEN = "No bill alone stands out."
WITHIN = "Every bill is within its range."
ROSE = "No bill alone stands out, but the kWh billed have likely risen and stayed up."
RISEN = "The kWh billed have likely risen and stayed up."
"""A meter may have, and not the use."""
MADE_GOOD = "About {made_good:figure} kWh of {it} put right estimates before {it} that were too low (a catch-up)."
MAKES = "{which} about {makes:figure} kWh of what {bills} over."
"""Said where what is told carries little of what the bills are over."""
HIDES = "But a lasting rise of up to about {hidden_percent:percent} could hide in these bills."
BLIND = "But these bills alone cannot tell a season from a change: {hides} could hide in them."
"""Said where the ranges are wide; the second stands in place of an all-clear."""
DIARY = "Your diary tells of something that fits{what} ({told:day})."
DIARY_NAMES = "Your diary names what may be behind it{what} ({named:day})."
DIARY_SAYS = "Your diary says of that time{what} ({named:day})."
AWAY = "Your diary says that {what}: that explains it."
GONE = {"away": "nobody was at home then", "outage": "the power was off then"}
COLDER = "A colder or hotter month than usual could do it too: no temperatures were given."
FOREIGN_DATA = (
    "The hourly readings (interval data) do not fit these bills and seem to be of another meter: nothing is read from "
    "them. Compare the meter number in the file with the one on the bill."
)
FELL = "If nothing at home fits, the readings should be checked."
NO_COVER = "Simple checks can tell, and no cover comes off."
LOOK_AT_IT = "A look at the thermostat, the filter and the outdoor unit can tell why, and no cover comes off."
IT_IS_OVER = "It has ended: the bills since then are within their range."
WHY_LOW = "What was different then, these bills cannot tell yet."
IF_AWAY = "If nobody was at home then, nothing needs to be done; if somebody was, the next bill may put it right."
IF_USED = "If nobody was at home then, nothing needs to be done."
"""Said of bills that are low, by whether others have come since, and whether hourly readings bear them out."""
LATER = "What the meter did not count may be billed later."
OLD_LATER = "What the old meter did not count may be billed later."
INVERTER = "The inverter's display would tell."
TO_LOOK = (NO_COVER, LOOK_AT_IT, INVERTER)
"""Sentences that send to a look; said no more where the diary tells of it."""
ONCE = "One run alone may be misread: make it twice more, every figure read anew, before you ask for a test."
ONE_MADE = "One run with a known load was made, and one alone may be misread: make it twice more, every figure read anew, before you ask for a test."
BY_THE_REGISTER = "The runs agree, but rest on what one flash is worth, which may be written wrong: read the meter's own kWh over hours before you ask for a test."
TEST = "A meter test is warranted: the utility tests it, often free on request, and nobody needs to open the panel."


LARGE = (
    "No guests use {large:number} kWh a day: something large ran, such as a car's charger or a hot tub, or an element or a "
    "switch sticks, which can get hot. Find out which, and open nothing."
)
"""Of more than people use: what draws so much may be a danger."""

SEVERAL_TIMES = 200.0
"""How much more [%] heating or cooling may take from which that is told as several times (our choice: no reader uses such
percent)."""


def in_season(voice: Voice, hides: Figures) -> str:
    """Say how much more heating and cooling could take in their last season, unseen.

    Examples
    --------
    >>> in_season(Voice(), {"heating": 62.0, "cooling": None})
    'heating that took up to 62 % more in its last season than it should (cooling: several times as much)'
    """
    (first, percent), *rest = hides.items()
    much = "several times what it should in its last season"
    if percent is not None and percent < SEVERAL_TIMES:
        much = f"up to {voice.percent(percent)} more in its last season than it should"
    other = [
        f"{follows}: {'several times as much' if more is None or more >= SEVERAL_TIMES else f'up to {voice.percent(more)} more'}"
        for follows, more in rest
    ]
    return f"{first} that took {much}{f' ({other[0]})' if other else ''}"


def sentences(*parts: str) -> str:
    """Put sentences after one another, without those that are empty."""
    return " ".join(part for part in parts if part)


ALSO_LOW = 0.5
"""Part of what the high bills are over by from which what others are under by is told beside it (our choice)."""


def stands_out(voice: Voice, figures: Figures) -> str:
    """What stands out, in the table's own sums."""
    out = []
    for side, word in (("over", "over"), ("under", "under")):
        part = figures[side]
        if not part["bills"]:
            continue
        if side == "under" and figures["over"]["bills"]:
            if abs(part["kwh"]) >= ALSO_LOW * abs(figures["over"]["kwh"]):
                which = "Another is" if part["bills"] == 1 else "{bills} others are together"
                out.append(voice.fill(f"{which} {{kwh:number}} kWh under what is usual.", part))
            continue
        cost = voice.fill(" (about {amount:about_money})", part) if part["amount"] is not None else ""
        size = voice.fill("{kwh:number} kWh", part)
        if part["bills"] == 1:
            out.append(
                voice.fill(f"The bill of {{span:span}} is {size}{cost} {word} what this house usually uses.", part)
            )
        else:
            which = "from {first:short_day} to" if part["in_a_row"] else "between {first:short_day} and"
            text = f"{{bills}} bills {which} {{last:short_day}} are together {size}{cost} {word} what this house usually uses."
            out.append(voice.fill(text, part))
    late = (figures.get("why") or {}).get("made_good")
    if out and late:
        out.append(voice.fill(MADE_GOOD, {"made_good": late, "it": "it" if figures["over"]["bills"] == 1 else "them"}))
    return " ".join(out)


def likeliest(voice: Voice, figures: Figures) -> str:
    """The likeliest cause; at an exchange the news first, then its two readings; else what cannot be told apart."""
    if figures.get("exchange"):
        return _exchange(voice, figures["exchange"])
    if figures.get("leading"):
        return sentences(str(figures["leading"]), _makes(voice, figures.get("why") or {}), large(voice, figures))
    if figures.get("large"):
        return sentences("The bills cannot tell yet why.", large(voice, figures))
    if figures.get("calm"):
        why = (
            "days away"
            if figures["under"]["bills"] and not figures["over"]["bills"]
            else "guests, or more time at home,"
        )
        likely = voice.fill("{calm:chance}", figures)
        return f"The bills cannot tell yet why. {voice.capital(likely)} it is nothing that lasts: {why} can do as much."
    rivals = figures.get("rivals") or []
    if not rivals:
        return "The bills cannot tell yet what is behind it."
    return f"The bills cannot tell yet what is behind it; the likeliest are {listed(rivals)}."


def large(voice: Voice, figures: Figures) -> str:
    """Say of more than people use that it may be a danger."""
    return voice.fill(LARGE, figures) if figures.get("large") else ""


def slow(voice: Voice, figures: Figures) -> str:
    """A slow meter beside a likelier cause, in short: its dates stand in the list of causes."""
    if not figures.get("slow"):
        return ""
    later = "" if figures.get("whose") else ": what it did not count may be billed later"
    told = "{chance:chance}, the meter registers about {size} less than is used"
    return voice.capital(voice.fill(f"{told}{later}.", figures["slow"]))


def _makes(voice: Voice, why: Figures) -> str:
    """How little of what the bills are over a cause makes, where it is little."""
    if not why.get("makes"):
        return ""
    which = "That makes" if why["told"] == 1 else "Together they make"
    return voice.fill(MAKES, {**why, "which": which, "bills": "it is" if why["bills"] == 1 else "they are"})


def news_of(voice: Voice, figures: Figures, *, seen: str = "") -> str:
    """What stands out, and its cause; the cause first where only low bills stand out: who comes pays too much."""
    seen = seen or stands_out(voice, figures)
    rise_first = figures["under"]["bills"] and not figures["over"]["bills"]
    if rise_first and figures.get("exchange"):  # what is usual lies between the two meters
        return likeliest(voice, figures)
    named = figures.get("exchange") or figures.get("leading")
    parts = (likeliest(voice, figures), seen) if rise_first and named else (seen, likeliest(voice, figures))
    return sentences(*parts)


def _exchange(voice: Voice, figures: Figures) -> str:
    whole, fast = as_parts(figures["chance"], figures["fast"], figures["slow"])
    figures = {**figures, "chance": whole, "fast": fast}
    news = voice.fill(
        "{chance:chance}, the old and the new meter disagree: since {since:day} the new one counts about "
        "{percent:percent} more.",
        figures,
    )
    new, old = voice.fill("{fast:chance_percent}", figures), voice.fill("{slow:chance_percent}", figures)
    return voice.capital(f"{news} The new meter may be fast ({new}), or the old one was slow ({old}).")
