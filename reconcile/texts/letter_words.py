"""The letter to the billing desk, in the fewest words."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from reconcile.kinds import Decision
from reconcile.say import Voice
from reconcile.texts import Figures, Sentence, tell
from reconcile.texts.interval_signals import signal_lines

PLACEHOLDERS = ("[Your name]", "[Service address]", "[Account number]", "[Date]")

HEADS: dict[str, str] = {
    "dates": "Bill",
    "days": "Days",
    "opens": "Opens",
    "closes": "Closes",
    "read": "Read",
    "kwh": "kWh",
    "usual": "Usual",
    "over": "Over",
    "range": "Usual range",
    "amount": "Amount",
}
"""Heads of the letter's one table."""


def _run(voice: Voice, figures: Figures) -> str:
    based = "by the loads of this home and its other bills" if figures["listed"] else "by the other bills of this home"
    how = voice.capital(based)
    if figures["bills"] == 1:
        return voice.fill(
            f"The bill of {{span:span}} charges {{billed:number}} kWh. {how}, {{usual:between}} kWh would be usual here.",
            figures,
        )
    return voice.fill(
        f"{{bills}} bills from {{span:span}} charge {{billed:number}} kWh in all, {{over:number}} kWh more than is usual here. The table gives for each what is usual: {based}.",
        figures,
    )


def _stands(voice: Voice, figures: Figures) -> str:
    based = "the loads of this home and its other bills" if figures["listed"] else "the other bills of this home"
    way = "more" if figures["more"] else "less"
    return voice.fill(
        f"The bill of {{span:span}} charges {{billed:number}} kWh, about {{off:number}} kWh {way} than {based} suggest.",
        figures,
    )


def _touched(voice: Voice, figures: Figures) -> str:
    based = "by the loads of this home and its other bills" if figures["listed"] else "by the other bills of this home"
    one = figures["bills"] == 1
    whose = "The bill of {span:span} charges" if one else "The {bills} bills of this meter, {span:span}, charge"
    high = ""
    if figures["high"]:
        which = (
            "It is" if one else "All are" if figures["high"] == figures["bills"]
            else "One of them is" if figures["high"] == 1 else "{high} of them are"
        )  # fmt: skip
        together = " together" if figures["high"] > 1 else ""
        high = f" {which}{together} {{over:number}} kWh over what is usual here, {based}."
    return voice.fill(f"{whose} {{billed:number}} kWh{'' if one else ' in all'}.{high}", figures)


def _refund(voice: Voice, figures: Figures) -> str:
    since = {
        "since-the-exchange": "since the exchange of the meter",
        "since-the-first-bill": "since the first bill here, as no earlier test is known",
    }[figures["how"]]
    limits = []
    if not figures["since_known"]:
        limits += [voice.fill("{share:percent} of the time since then", {"share": 100.0 * figures["share"]})]
        limits += [voice.fill("at most {months} months", figures)] if figures["months"] else []
    reach = f" (the rule reckons with {', '.join(limits)})" if limits else ""
    cost = "" if figures["amount"] is None else voice.fill(", {amount:money},", figures)
    return voice.fill(
        f"By the rule of {{place}} ({{source}}), with this registration {since}{reach}, {{kwh:number}} kWh{cost} of {{start:day}} to {{end:day}} would be returned to the customer. The rule that applies here decides.",
        figures,
    )


def _when(voice: Voice, days: Sequence[date]) -> str:
    return f"on {voice.day(days[0])}" if len(days) == 1 else voice.span(days[0], days[-1]) if days else "on [date]"


def _ahead(voice: Voice, figures: Figures) -> str:
    when = _when(voice, figures["days"])
    return voice.fill(
        f"With the main breaker off, {when}, the meter counted about {{watts:watts}}; it should have stood still.",
        figures,
    )


def _site(voice: Voice, figures: Figures) -> str:
    when = _when(voice, figures["days"])
    how = "one run" if figures["runs"] == 1 else f"{figures['runs']} runs"
    where = "read at the legs by a qualified person" if figures["legs"] else "no cover removed"
    meter = f"meter {figures['meter']}" if figures["meter"] else "the meter"
    return voice.fill(
        f"A test on site {when} by {figures['by'] or '[name]'} with a known load ({how}, {where}) found that {meter} "
        "registers {percent} % of what is used (give or take {expanded}); {low:exact} to {high:exact} % is allowed.",
        figures,
    )


def _readings(voice: Voice, figures: Figures) -> str:
    told = ". ".join(voice.capital(one) for one in figures["told"])
    return f"Readings on site, as written down; {figures['constant']}. {told}."


POINTS: dict[str, Sentence] = {
    "listed": "In the meter's own interval data the load {load}, of {listed:watts} by its plate or its list, switches with "
    "{seen:watts}: {percent:percent} of it.",
    "run-in-data": lambda voice, figures: signal_lines([("planned-run", figures)], voice)[0],
    "over": _run,
    "stands": _stands,
    "touched": _touched,
    "refund": _refund,
    "site": _site,
    "ahead": _ahead,
    "readings": _readings,
}
"""Points of the letter beside the sentences of its findings."""

NOT_YET = "One run was made: make it twice more, and send this letter where they agree."
NOT_BY_REGISTER = "The runs rest on the Wh a flash alone: read the meter's own kWh over hours first, and send this letter where they agree."
NO_REFUND = "No refund is worked out: no test on site found the meter outside its limits."


def rule_status(status: str, date_read: str) -> str:
    """Say how well the rule is known here."""
    return f"How the rule is known here: {status} ({date_read}). Read its own text before you send the letter."


TOGETHER = "Together"
TOGETHER_SHOWN = "That is what the bills and these appliances show together."
"""After the size and the day by the bills, where the appliances' own are told too."""
RECORD = "Enclosed: the record of the test (date, instruments, counts and readings), and photographs."
OPENING = "Please look into the following."
ASKING = "I ask you to:"
ENCLOSED = (
    "All bills of this home as kWh a day. Plain band: usual for this home, with its other bills. ▲ over it, ▼ under it."
)
CLOSING = "Please answer in writing. Thank you."
TO = "To the billing desk"

EQUIPMENT = "There is nothing to ask of the billing desk: heating or cooling is what takes more. Look at it first."
PANELS = "There is nothing to ask of the billing desk: the panels make less. Look at the inverter first."

CHECKS_FIRST = "There is nothing to ask of the billing desk yet. Do the checks with no cover removed first and enter them: where they point to the meter, this letter asks for a test of it."

NOTHING: dict[str, str] = {
    Decision.URGENT: "This is not the time for a letter. Call first: the utility's emergency line, or a licensed electrician.",
    Decision.OUTSIDE_CHECK: CHECKS_FIRST,
    "falls": CHECKS_FIRST,
    Decision.INVENTORY: "There is nothing to ask of the billing desk yet. Measure the loads first: the bills and the list of loads do not agree, and the list may be what is wrong.",
    Decision.NOT_ENOUGH_DATA: "There is nothing to ask of the billing desk yet: there are too few bills to say anything of them.",
    "used-more": "There is nothing to ask of the billing desk: more was used, and nothing points to the meter or to the billing.",
    "used-more-yet": "There is nothing to ask of the billing desk yet: more was used, and nothing points to the meter or to the billing. If the steps of the answer find nothing, ask the desk to check the readings.",
    "fell": "There is nothing to ask of the billing desk yet. Ask at home first what ended or was different; if nothing fits, ask the desk to check the readings.",
    "watch": "There is nothing to ask of the billing desk yet. The next bills will tell more.",
    "cannot-tell": "There is nothing to ask of the billing desk yet. The steps of the answer show what would tell more.",
    "heating-rise": EQUIPMENT,
    "cooling-rise": EQUIPMENT,
    "backup-heat": EQUIPMENT,
    "generation-fall": PANELS,
    "panels": PANELS,
}
"""Why there is no letter, by the call that an answer asks for in its place (:mod:`reconcile.report.views.call_view`)."""

CIRCUIT = "There is nothing to ask of the billing desk. {found}"
NOTHING_AT_ALL = "There is nothing in these bills that the billing desk needs to be asked."


def nothing(call: str) -> str:
    """Say why there is no letter to write."""
    return NOTHING.get(call, NOTHING_AT_ALL)


def point(key: str, figures: Figures, voice: Voice) -> str:
    """Say one point of the letter."""
    return tell(voice, POINTS, key, figures)
