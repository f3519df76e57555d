"""The words of an estimate before the visit."""

from __future__ import annotations

QUESTIONS: dict[str, str] = {
    "danger": "Is the meter or the panel warm, does it buzz or smell, do lights grow brighter and dimmer, is there "
    "water at the meter, did anyone feel a shock? If so, stop here, keep away and call the utility's emergency line.",
    "bills": "The last 12 bills: dates, kWh, charges, and whether each reading was actual or estimated.",
    "readings": "The meter's number and what its register shows today, with the time.",
    "occupants": "How many people live there, and who is at home by day?",
    "floor-area": "How large is the heated floor area?",
    "heating": "What heats the house, and is any of it electric?",
    "hot-water": "What heats the water?",
    "tariff": "Which rate is the house on? Copy its prices from a bill.",
    "weather": "Which weather station is nearest? Its daily temperatures make heating and cooling far more exact.",
    "missing-loads": "What is not on this list: a freezer in the garage, a pump, a heater, a car, an aquarium?",
    "changes": "What came, went or changed in the last two years, and when?",
    "meter": "Was the meter exchanged? When, and what did the old and the new one show?",
}
"""What to ask, by code."""

TITLE = "What to expect of {name} before its bills are seen"
YEAR = "{kwh} a year are expected; 95 of 100 such houses use between {low} and {high}."
MONEY = "By the tariff that is about {amount} a year, {low} to {high}."
NO_TARIFF = "No tariff is given, so no bill is worked out."
NO_PRICE = "The bills cannot be worked out: {why}."
NO_WEATHER = (
    "No year of weather is given: heating and cooling are taken as the mean of all climates, cold to hot, and may "
    "differ from it severalfold."
)
ASK = "What to ask and write down"
MEASURE = "What to measure first"
MEASURE_LINE = "{load}: {how} ({share} of the uncertainty)"
REST = "what is not on the list"
NEXT = (
    "Type what is measured into the list of loads (watts, run_hours, source = measured) and the bills into the table of "
    "bills; then weigh the house with the command check."
)
SAFETY = (
    "No step here needs a cover removed or a live part reached. Plug-in meters and reading the display only; work "
    "behind a cover is for a qualified person."
)
HEADINGS = ("Month", "kWh", "from", "to")
MONEY_HEADINGS = ("bill", "from", "to")
LOAD_HEADINGS = ("Load", "How many", "Expected kWh a year", "Give or take", "Watts measured", "Hours a day", "Note")
TYPED = {"auditor": "Auditor", "license": "License", "day": "Date", "with": "Spoken with"}
"""Both are read by the sheet's template."""
NO_LOADS = "this house lists no loads to reckon with. Name what it has in the table of loads; names alone are enough."
