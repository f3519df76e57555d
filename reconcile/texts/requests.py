"""What may be asked of the utility, once for the step and once for the letter, and of the household."""

from __future__ import annotations

from collections.abc import Sequence

from reconcile.records import dataclass
from reconcile.say import Voice, listed
from reconcile.texts import Figures, Sentence


@dataclass(frozen=True, slots=True)
class Request:
    """One thing asked of the utility's billing desk: the step says it to the household, the letter to the desk."""

    step: str
    letter: str


REQUESTS: dict[str, Request] = {
    "interval-bill": Request(
        "Send the utility's billing desk both figures and ask which register readings the bill rests on.",
        "Tell me which register readings the bill rests on, and compare its kWh with the hourly readings (interval data) of "
        "the same days. Correct the bill if it does not follow from the meter's readings.",
    ),
    "interval-ratio": Request(
        "Ask the utility which of the two figures is this service's use: which multiplier the bill applies, and which "
        "meter and channel the hourly readings (interval data) belong to.",
        "Tell me the meter multiplier and any loss factor the bills apply, and which meter and channel the hourly readings "
        "(interval data) belong to. Correct the bills if they do not follow from this service's own meter.",
    ),
    "volts-then": Request(
        "Ask the utility for the volts at your meter in the weeks before and after {day:day}, and whether a transformer, its "
        "tap or a regulator was changed then. Give interval volts as a column beside the hourly readings (interval data); else write "
        '"volts-changed" or "same-volts" with the date in events.csv.',
        "Send me the interval volts that the meter recorded in the weeks before and after {day:day}. Was a transformer, its "
        "tap or a voltage regulator that serves this address changed then?",
    ),
    "interval-moved": Request(
        "Ask the billing desk for the reading between the two bills, and whether the two bills cost the same with the "
        "right one.",
        "Compare the reading between these two bills with the hourly readings (interval data), and correct both if the prices differ.",
    ),
    "missing-bill": Request(
        "Look for the bill of the missing days; if you do not have it, ask the utility for it.",
        "Send me the bill for the days that are missing, or tell me on which bill they are.",
    ),
    "days-billed-twice": Request(
        "Ask whether the days that two bills share were billed twice.",
        "Tell me whether the days that two bills share were billed twice, and correct them if they were.",
    ),
    "paid-once": Request(
        "See whether the bill was paid twice, and ask the utility to confirm that it is to be paid once.",
        "Confirm that this bill is to be paid once.",
    ),
    "confirm-dates": Request(
        "Ask for the opening and the closing date of the bill.",
        "Confirm the opening and the closing date of these bills.",
    ),
    "actual-reading": Request(
        "Ask the utility for an actual reading of the meter.",
        "Take an actual reading of the meter.",
    ),
    "prices-of-own-days": Request(
        "Prices changed between the estimate and the actual reading: ask that the energy be billed at the prices of "
        "its own days.",
        "Bill the energy from actual to actual reading at the prices of the days on which it was used.",
    ),
    "kwh-from-readings": Request(
        "Ask the billing desk how the kWh follow from the readings.",
        "Tell me how the kWh follow from the two readings, and correct the bill if they do not.",
    ),
    "own-reading": Request(
        "Send the billing desk the reading with its date, best with a photograph of the meter's face and number.",
        "Compare the dated reading with yours, and correct the bill if the dated one stands.",
    ),
    "which-reading": Request(
        "Ask the billing desk which reading stands.",
        "Compare the reading with your record and with the meter, and correct the bills if it was misread or mistyped.",
    ),
    "check-meter": Request(
        "Ask the utility to check that the meter works and is connected. Energy used meanwhile may be billed later; "
        "many rules limit how far back: check your local rule.",
        "Check whether the meter works and is connected: these bills show no use or almost none.",
    ),
    "stands-still": Request(
        "Ask the utility whether readings are missing in the hours of nothing, or the meter stands still at times. Energy "
        "used meanwhile may be billed later; many rules limit how far back: check your local rule.",
        "Check whether readings are missing in the hours of exactly nothing, or the meter stands still at times.",
    ),
    "reading-between": Request(
        "Ask whether the reading between the two bills was taken, and that the energy be billed at the prices of its "
        "own days.",
        "Tell me whether the reading between these bills was taken.",
    ),
    "kwh-and-amount": Request(
        "If both figures are typed as printed, ask the billing desk how the amount follows from the kWh.",
        "Tell me how the amount follows from the kWh, and correct the bill if it does not.",
    ),
    "multiplier": Request(
        "Compare the multiplier on the bill with the one on the meter's face, and ask the utility to confirm it.",
        "Confirm the multiplier of the meter, and correct the bills if another one was used.",
    ),
    "multiplier-of-both": Request(
        "Compare the multiplier on the bills before {day:day} and since with the one on the meter's face, and ask the utility "
        "which is right. If it was left out since then, what was not charged may be billed later.",
        "Confirm which multiplier belongs to the meter, before {day:day} and since.",
    ),
    "correct-by-test": Request(
        "Ask the billing desk to correct the bills by the result of the meter's test, and from which day. Many rules limit "
        "how far back: check your local rule.",
        "Correct the bills by the result of the meter's test of {day:day}, which found {percent:percent} of what was used, "
        "and send me the calculation with the days it covers.",
    ),
    "exchange-readings": Request(
        "Ask for the old meter's final reading and the new one's first reading.",
        "Send me the old meter's final reading and the new one's first reading, with their date.",
    ),
    "multiplier-times": Request(
        "Since the exchange of {day:day} the bills are about {percent:percent} of those of the same season before. Compare the "
        "multiplier on the bill with the one on the new meter's face, and ask the utility to confirm it.",
        "Confirm the multiplier of the new meter, and correct the bills if another one was used. Since the exchange of "
        "{day:day} they are about {percent:percent} of those of the same season before.",
    ),
    "which-meter": Request(
        "Tell the billing desk if the number on the meter's face is not the one on the bill.",
        "Confirm which meter serves this address.",
    ),
    "which-meter-since": Request(
        "Ask the billing desk whether the meter was exchanged about {day:day}, and of which meter, by its number, the bills "
        "since then are. If it was exchanged, write that day in events.csv as meter-exchange: then these bills are judged too.",
        "Tell me whether the meter was exchanged about {day:day}, with both meters' numbers and readings. Confirm which meter "
        "serves this address, and correct the bills if they are of another one.",
    ),
    "which-meter-hours": Request(
        "Send the billing desk both sums, and ask of which meter, by its number, the bills of {dates:span} are, and of which "
        "the hourly readings.",
        "Tell me which meter's number the bills of {dates:span} are of, and which meter's the hourly readings (interval "
        "data) of those days are. Confirm which meter serves this address, and correct the bills if they are of another one.",
    ),
    "which-home": Request(
        "If the meter does not follow this home, ask the utility to check on site which home it serves. Do not unplug, open "
        "or move anything at the meters.",
        "Check on site which home this meter serves: the use has changed since work at the meters.",
    ),
    "other-home": Request(
        "Tell the billing desk that the meter does not follow your home, and ask for a check on site which home it serves. "
        "Do not unplug, open or move anything at the meters.",
        "Check on site which home this meter serves: it does not follow the loads of this home.",
    ),
    "line-by-line": Request(
        "Ask the billing desk how the amount was calculated, line by line.",
        "Send me the calculation of the amount, line by line.",
    ),
    "corrected-bill": Request(
        "Ask the billing desk for the corrected bill if none came.",
        "Send me the corrected bill in place of the cancelled one.",
    ),
    "credit-statement": Request(
        "See that the next statement credits or charges the difference, once.",
        "Send me a statement that shows the credit or the charge for the corrected bill.",
    ),
    "plan-statement": Request(
        "Ask for the budget plan's statement if the sums differ.",
        "Send me the statement of the budget plan.",
    ),
    "plan-balance": Request(
        "Ask the billing desk how the installment of the budget plan was set, in which month it is settled, and what its "
        "balance is today.",
        "Tell me how the installment of my budget plan was set, in which month it is settled, and what its balance is "
        "today.",
    ),
    "what-for": Request(
        "If the bill does not say what the other amount is for, ask the billing desk.",
        "Tell me what the amount beside this period's electricity is for.",
    ),
    "confirm-rate": Request(
        "See that you asked for the change of rate; if not, ask the utility.",
        "Confirm the rate that applies, and since when.",
    ),
    "credit-export": Request(
        "Ask the billing desk why what was sent out is not taken off on those bills.",
        "Credit the energy that was sent out on those bills, or tell me since when it is settled in another way.",
    ),
    "credit-for": Request(
        "Ask the billing desk which bill the credit corrects.",
        "Tell me which bill this credit corrects.",
    ),
}
"""Requests by key; findings and decisions name them, the steps and the letter say them, no more and no less."""


def _together(voice: Voice, figures: Figures) -> str:
    count = figures.get("estimates", 1)
    before = "the estimate" if count == 1 else f"the {count} estimates"
    return voice.fill(
        f"Add the bill of {{bill:span}} and {before} before it: together {{kwh:kwh}} in {{days:days}}, {{per_day:per_day}}. "
        "That is what counts; one of them alone shows too much or too little.",
        figures,
    )


def _registers(_: Voice, figures: Figures) -> str:
    """Ask for the other register, and whether there are panels where nobody said so."""
    more = "give each bill its delivered_kwh and received_kwh, or download the data with both registers (delivered and received)"
    if figures["said"]:
        return f"To have the bills with panels judged, {more}."
    yes = f"If so, set generation = true under [house] in house.toml, and {more}: then these bills are judged too"
    return f"Are there solar panels at this home? {yes}. If there are none, find out what is off at noon: hourly data alone cannot show less than what runs round the clock."


HOUSEHOLD: dict[str, Sentence] = {
    "interval-typed": "Look first whether the bill's kWh were typed here as they are printed.",
    "kwh-of-each-mistyped": "Correct the kWh of these bills in the file: type them as they are printed.",
    "kwh-mistyped": "Correct the kWh of the bill of {bill:span} in the file: type them as they are printed.",
    "interval-file": "Look in the interval file for its unit, its channel and its meter number, and on the meter and "
    "the bill for a multiplier.",
    "was-it-replaced": "Find out whether an appliance was replaced or repaired about {day:day}. Write it in events.csv: "
    '"replaced" with its date, or "nothing-replaced" with the first and last day that you are sure of.',
    "read-the-plate": "{load}: read the plate on its outside again, its watts, at which volts, and those of its elements (its "
    "own covers stay on). Write them in loads.csv, and under watts_within_percent how well you know them: 5 where you are "
    "sure of the element. An outlet's volts on a plug-in energy meter help: watts go with their square.",
    "dates-typed": "Check the dates as typed against the printed bill.",
    "dates-inclusive": 'If the printed first and last day both count, write dates = "inclusive" under [bills].',
    "dates-reading": 'Write dates = "reading" under [bills]: the opening day is not counted.',
    "compare-per-day": "Compare the bill of {bill:span} by kWh a day: it has {days:days}.",
    "keep-both": "Keep both bills: the difference should have been credited or charged.",
    "remove-repeated": "The bill of {bill:span} is in the file more than once: keep one line. If the utility sent it twice "
    "too, ask that it be paid once.",
    "which-stands": (
        "Find out which one stands: mark the other as cancelled, or this one as corrected. If they are two meters, "
        "treat them as two houses or add their kWh."
    ),
    "earlier-bills": "Add the earlier bills, back to one that closes with an actual reading.",
    "read-yourself": "Read the meter yourself, and write down the reading with its date.",
    "estimates-in-a-row": (
        "Some rules let a utility estimate at most every other month (such as 52 Pa. Code 56.12): check your "
        "local rule."
    ),
    "judge-together": _together,
    "correct-figure": "Compare the reading with the printed bill and correct the figure.",
    "read-to-settle": "Read the meter yourself: today's value shows which of the two can be right.",
    "meter-follows": "See whether this meter follows your home: look only, touch neither meter nor panel. Switch everything "
    "off at its own switch or plug and watch the meter for ten minutes; then run a large load, such as a kettle or an oven. "
    "If it counts on clearly while all is off, or no faster with the load, it counts another home, or shared wiring such as "
    "hall lights. If it follows both, it is this home's meter.",
    "look-for-multiplier": "Look for the multiplier on the meter's face and on the bill, and write it under [meter].",
    "compare-number": "Compare the number on the meter's face with the one on the bill.",
    "watch-register": (
        "Look at the meter while something is switched on, and touch nothing: the number must rise within the hour."
    ),
    "away-in-diary": (
        'If the house stood empty with its power off, write it in events.csv as "away" or "outage": then it is no '
        "finding."
    ),
    "units-typed": (
        "Compare kWh and amount in the file with the printed bills, and correct the unit, the decimal place or the "
        "column."
    ),
    "kwh-are-readings": "The column kwh seems to hold the meter's readings: name it reading_end, and leave kwh empty or type "
    "each bill's own kWh there.",
    "kwh-are-a-sum": "The column kwh seems to hold the sum of the year so far: type each bill's own kWh, which is that sum less "
    "the one before.",
    "kwh-are-a-day": "The column kwh seems to hold the average a day: type the kWh of each whole bill, which is the average "
    "times its days.",
    "kwh-typed": "Compare the kWh of the bill of {bill:span} with the printed bill: one digit too many makes ten times as much. "
    "Only if they are printed so, compare the multiplier on the bill with the one on the meter's face, and ask the utility "
    "to confirm it.",
    "kwh-and-amount-typed": "Compare kWh and amount in the file with the printed bill.",
    "compare-tariff": "Compare the lines of one bill with the tariff as typed; the money section shows ours.",
    "lines-typed": "Check the lines as typed: one may be missing or mistyped.",
    "look-for-other-charges": "Look on the bill for arrears, a deposit, a fee, a credit or another service.",
    "take-out-other-charges": "Take it out of the amount before bills are compared.",
    "compare-kwh": "Compare kWh, not the amount due.",
    "plan-charges": "Look on each bill for the charges of its own month (often called current charges), and type them as "
    "amount, the installment as budget_amount: then what the bills cost can be compared.",
    "prices-from-day": "Give the new prices in house.toml as a second tariff from that day.",
    "both-registers": _registers,
    "net-terms": "Look on the bill, or in the terms of your plan, what becomes of kWh that you send out beyond your use. Most "
    "plans take them off later bills, or settle them once a year. If yours should and does not, ask the utility where "
    "they are.",
    "both-ways": "Where the bills print both what was drawn and what was sent out, add the two to the file as delivered_kwh and "
    "received_kwh: what is left of them alone cannot tell more use from less sun.",
}
"""What a finding asks of the household itself, by key."""


_CHECK = (
    "Check the opening and closing readings of {which} against your record, and tell me how each was taken. Correct the "
    "bill if it does not follow from them."
)

METER_REQUESTS: dict[str, Request] = {
    "meter-test": Request(
        "Ask the utility in writing for a test of the meter, and to be present. It is often free on request; check your "
        "local rule.",
        "Test the meter that serves this address. Please tell me the day beforehand, so that I can be present or send "
        "somebody, and send me the registration found at light and at full load.",
    ),
    "old-meter-test": Request(
        "Ask the utility for the test record of the old meter. Meters are often tested once they are taken down.",
        "Send me the test record of the meter that was removed from this address, with its registration at light and at "
        "full load and its final reading.",
    ),
    "ahead-of-main": Request(
        "Call the utility: the meter counts with the main breaker off. Until they have looked, switch nothing more at the "
        "panel.",
        "Check the meter, and what is connected ahead of my main breaker: with the main breaker off, the meter still "
        "counted. Please tell me whether it creeps, whether the cable leaks, and whether the meter "
        "serves anything besides this home.",
    ),
    "which-rate": Request(
        "Look on the bills, or ask the utility, which rate you are on and since when; and whether another of its rates would "
        "cost less for what you use.",
        "Tell me which rate applies to this service and since when, and what the price of a kWh and the fixed charges are "
        "made of. Would another of your rates cost less for what I use?",
    ),
    "check-reading": Request(
        "Ask the billing desk to check the readings of {which}, and who or what read them.",
        _CHECK,
    ),
    "check-low-reading": Request(
        "Ask the billing desk to check the readings of {which}, and who or what read them. What was low "
        "may be billed later, so leave this out if you know why less was used.",
        _CHECK,
    ),
}
"""Requests that a decision makes, beside those of the findings in :data:`REQUESTS`."""


def which_bills(spans: Sequence[str]) -> str:
    """Name the bills whose readings are asked about.

    Examples
    --------
    >>> which_bills(["May 1 - Jun 1", "Jun 1 - Jul 2"])
    'the bills of May 1 - Jun 1 and Jun 1 - Jul 2'
    """
    return f"the bill{'s' if len(spans) > 1 else ''} of {listed(spans)}" if spans else "these bills"


def request(key: str) -> Request:
    """Return a request by its key.

    Raises
    ------
    KeyError
        Where there is none.
    """
    return METER_REQUESTS[key] if key in METER_REQUESTS else REQUESTS[key]
