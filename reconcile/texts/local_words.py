"""Words of the local page: what to give, how, and where it stays."""

from __future__ import annotations

from typing import Final

TITLE: Final = "Weigh your electric bills"
STAYS: Final = (
    "This page is made by the program on this computer. What you give stays on it: nothing is sent anywhere, and all of it is "
    "forgotten when the program ends."
)
DANGER: Final = "First: is any of this so?"
DANGER_THEN: Final = (
    "If so, touch nothing. Keep away from the meter and the panel, and call the utility's emergency line or a licensed "
    "electrician now; with smoke or fire go out and call the fire service first. The bills can wait."
)
BILLS: Final = "Bills"
BILLS_HOW: Final = (
    "A year or more if you can. Paste them from the utility's page or a spreadsheet, or type a line for each: its two dates, "
    "its kWh, what it asked for. Say where a reading was estimated."
)
BILLS_EXAMPLE: Final = (
    "Jan 6, 2025 - Feb 5, 2025   612 kWh   $98.40\nFeb 5, 2025 - Mar 7, 2025   588 kWh   $94.75   estimated"
)
LOADS: Final = "Appliances"
LOADS_HOW: Final = "One a line: what it is, how many, watts, hours a day. Leave out what you do not know."
LOADS_EXAMPLE: Final = "refrigerator 150 W\n2 space heaters 1500 W, 3 h a day, Nov-Mar\nwater heater"
EVENTS: Final = "What happened, and when"
EVENTS_HOW: Final = "A new appliance, guests, weeks away, a repair, a new meter. One a line, with its date."
EVENTS_EXAMPLE: Final = "2025-05-02 new freezer"
WEATHER: Final = "Weather"
WEATHER_HOW: Final = (
    "A file of daily temperatures from a station near you, if you have one. Without: the mean temperatures of the coldest and "
    "the warmest month where you live help much."
)
INTERVAL: Final = "Hourly readings"
INTERVAL_HOW: Final = "What the utility lets you download of your meter, as it comes: hours, quarter hours, days."
OTHER: Final = "Anything else"
OTHER_HOW: Final = (
    "A workbook of the whole house, house.toml, readings.csv, charges.csv, the filled-in form of a field test."
)
MORE: Final = "More about the house"
MORE_HOW: Final = "Each of these narrows the answer; none is needed."
FILES: Final = "Choose files:"
OR_FILES: Final = "Or choose files:"
FILES_OF: Final = "{what}: files"
WEIGH: Final = "Weigh the bills"
WAIT: Final = "This takes some seconds, with hourly readings half a minute."
KEEP: Final = "Use {name} again"
AS_TYPED: Final = {
    "bills.txt": "Bills, as typed",
    "loads.txt": "Appliances, as typed",
    "events.txt": "What happened, as typed",
}
"""Where a fault is, in place of the file that what was typed becomes."""
NOTHING: Final = "There is nothing to weigh yet. Paste some bills, or choose a file of them."
TO_CONFIRM: Final = "These rows were found in the PDF. Compare each with the bill, correct it, and write yes in the last column; nothing is used before."
FAULTS: Final = {"one": "One thing has to be put right first:", "several": "{count} things have to be put right first:"}
BY_FIELDS: Final = 'What is to be written in house.toml is asked here under "More about the house", below.'
BROKEN: Final = (
    "Something went wrong inside the program ({what}). What you gave is still here. Please report this line to the maintainers "
    "of the project."
)
GONE: Final = "That answer is no longer kept. Give the bills again."
TOO_MUCH: Final = (
    "That is more than this page takes at once: {megabytes} MB, {files} files, or {letters:,} letters in a field. Leave out what "
    "is not of this house, and give long tables as files."
)
NOT_FROM_HERE: Final = "This was not asked from the program's own page, and is not answered."
NO_SUCH: Final = "There is no such page."

NAMES: Final = {
    "name": "A name for the house",
    "timezone": "Time zone, as America/Denver",
    "currency": "Currency, as USD",
    "temperature_unit": "Temperatures are in",
    "floor_area": "Floor area, with its unit: 1600 ft^2",
    "occupants": "People who live there",
    "heating_fuel": "It is heated by",
    "water_heating_fuel": "Water is heated by",
    "generation": "Has panels or another generator of its own",
    "coldest_month_mean": "Mean of the coldest month",
    "warmest_month_mean": "Mean of the warmest month",
    "dates": "The dates on the bills are",
    "date_format": "Dates are written",
}
"""Fields of the page."""
CHOICES: Final = {
    "temperature_unit": {"": "as the files show", "F": "degrees Fahrenheit", "C": "degrees Celsius"},
    "heating_fuel": {"": "not said", "electric": "electricity", "gas": "gas", "oil": "oil", "other": "something else"},
    "water_heating_fuel": {
        "": "not said",
        "electric": "electricity",
        "gas": "gas",
        "oil": "oil",
        "other": "something else",
    },
    "date_format": {"": "as the rows show", "MM/DD/YYYY": "month, day, year", "DD/MM/YYYY": "day, month, year"},
    "dates": {"": "as the rows show", "reading": "days of readings", "inclusive": "the first and the last day"},
}
"""Fields of which one of few is chosen, and how each choice reads."""
LINKS: Final = {
    "change": "Change what you gave",
    "report.html": "Keep this page",
    "reconciliation.xlsx": "Workbook",
    "letter.html": "Letter to the utility",
    "field-test.html": "Plan of a meter test",
    "result.json": "For other programs (JSON)",
    "house.zip": "Keep what you gave",
    "new": "Another house",
}
"""What stands above an answer."""
READY: Final = "Open {url} in a browser on this computer. Ctrl+C ends it."
TAKEN: Final = "port {port} is taken or not allowed: {why}. Name another with --port, or leave it out"
