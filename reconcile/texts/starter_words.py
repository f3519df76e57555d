"""The words of the starter: what each key and each sheet is for, and how to begin."""

from __future__ import annotations

from reconcile.records import dataclass


@dataclass(frozen=True, slots=True)
class Key:
    """A key of the sheet ``house``: what it means, and the words it may hold."""

    name: str
    meaning: str
    choices: tuple[str, ...] = ()


YES = ("yes", "no")

KEYS: tuple[Key, ...] = (
    Key("house.name", "how the answer calls the house"),
    Key("house.currency", "of the amounts; USD where empty", ("USD", "CAD", "EUR", "GBP", "AUD", "NZD", "INR", "ZAR")),
    Key("house.timezone", "as America/Chicago; needed for interval data only"),
    Key("house.temperature_unit", "of all temperatures: on the bills and on the sheet weather", ("C", "F")),
    Key("house.floor_area", "with its unit: 1600 ft^2 or 150 m^2"),
    Key("house.occupants", "people who live there"),
    Key("house.bedrooms", "bedrooms"),
    Key(
        "house.heating_fuel",
        "what heats the house",
        ("gas", "propane", "oil", "wood pellets", "electric", "heat pump", "district", "none"),
    ),
    Key("house.water_heating_fuel", "what heats the water", ("gas", "propane", "oil", "electric", "solar", "district")),
    Key("house.generation", "yes where the house makes electricity of its own", YES),
    Key(
        "house.service",
        "needed for a field test only",
        ("split-phase", "network", "two-wire", "three-phase", "unknown"),
    ),
    Key("danger.warm_meter", "the meter or the panel is warm: keep away and call", YES),
    Key("danger.buzzing", "it buzzes or crackles", YES),
    Key("danger.burning_smell", "it smells burnt", YES),
    Key("danger.lights_brighten_and_dim", "lights grow brighter and dimmer by themselves", YES),
    Key("danger.water_at_meter", "there is water at the meter", YES),
    Key("danger.damaged_conduit", "a pipe or cable at the meter is damaged", YES),
    Key("danger.shock", "somebody felt a shock", YES),
    Key("danger.sparks_or_scorching", "an outlet, a plug or a wire is hot, melted or scorched, or sparks", YES),
    Key(
        "bills.dates",
        "reading: from reading to reading; inclusive: the printed first and last day both count",
        ("reading", "inclusive"),
    ),
    Key("meter.number", "as printed on the meter"),
    Key("meter.digits", "digits or dials of its register"),
    Key("meter.multiplier", "as printed on the bill; 1 where empty"),
    Key("tariff[1].valid_from", "first day of these prices, as 2025-01-01"),
    Key("tariff[1].fixed_per_bill", "what every bill costs before any kWh"),
    Key("tariff[1].energy", "price of one kWh, everything per kWh added up"),
    Key("tariff[1].tax_percent", "tax on all of it, in %"),
)
"""Every key may stay empty."""

READ_ME = (
    "How to fill in this workbook",
    "1. Sheet bills: one row a bill, at least three, better twelve or more. Dates and kWh are enough.",
    "2. Sheet loads: write how many there are of each in the column count. Watts and hours may stay empty: what is "
    "usual is then taken, with its wide limits. Add rows for what is missing.",
    "3. Sheet events is a diary: one row for what changed at home and when, such as a new appliance, guests or time away.",
    "4. Sheets house, weather and readings: whatever is known. All of this, and events, may stay empty.",
    "The gray rows are examples. They are not read, and may stay or go.",
    "The heading of each column has a note that says what stands in it; a cell says it too when it is selected.",
    "A number may carry its unit: 1.5 kW, 12 A * 120 V, 3 h/week, 40 min/day. A range stands for what is not known: "
    "1000-1500 W, 4-6 h.",
    "Look, do not touch: nothing here needs a cover removed or a live part reached. If the meter or the panel is warm, "
    "buzzes, smells or sparks, leave it, keep away, and call the utility's emergency line or a licensed electrician.",
)
"""Lines of the sheet ``read me``; the command that comes next is added to them."""

NEXT = "Then type:"
NEXT_FILLED = "Write your own bills into {file}, then type:"
NO_BILLS_YET = "Without bills, an estimate before the visit:"

GROUPS: dict[str, tuple[str, ...]] = {
    "most homes": (
        *("refrigerator", "lights indoors", "television", "microwave oven", "clothes washer", "router and modem"),
        *("coffee maker", "toaster", "vacuum cleaner", "hair dryer", "standby of everything", "laptop computer"),
    ),
    "kitchen and laundry": (
        *("electric range", "dishwasher", "electric clothes dryer", "gas clothes dryer", "freezer", "electric kettle"),
        *("toaster oven", "slow cooker", "ice maker", "iron"),
    ),
    "hot water by electricity": ("electric water heater", "heat pump water heater"),
    "heating by electricity": (
        *("heat pump heating", "strip heat", "electric furnace", "baseboard heater", "portable heater"),
        "electric blanket",
    ),
    "heating by gas or oil": ("furnace fan", "boiler circulator"),
    "cooling and air": (
        *("central air conditioner", "room air conditioner", "ceiling fan", "window fan", "whole-house fan"),
        *("dehumidifier", "humidifier", "air cleaner", "bathroom fan"),
    ),
    "desk and living room": (
        *("desktop computer", "computer monitor", "home office", "game console", "set-top box", "stereo", "aquarium"),
        "security system",
    ),
    "garage, garden and pool": (
        *("electric car", "pool pump", "hot tub", "well pump", "sump pump", "lights outdoors", "garage door opener"),
        *("power tools", "engine block heater", "heat tape"),
    ),
    "seldom": ("grow lights", "medical equipment", "treadmill", "water bed", "refrigerator by nameplate"),
}
"""Kinds of the handbook in the order of the sheet ``loads``, by the kind of home that has them."""


def typical(low_watts: float, watts: float, high_watts: float, hours: float | None, share_on: float, when: str) -> str:
    """Say what a kind of load usually draws, and for how long.

    Parameters
    ----------
    low_watts, watts, high_watts : float
        Usual range and middle [W].
    hours : float or None
        Hours a day [h/d]; None where the weather decides.
    share_on : float
        Part of them in which it draws.
    when : str
        What its hours go with.

    Examples
    --------
    >>> typical(90, 160, 725, 24, 0.4, "always")
    'usual: 160 W (90 to 725), round the clock, on for 40 % of it'
    """
    power = f"usual: {watts:g} W ({low_watts:g} to {high_watts:g})"
    if hours is None:
        return f"{power}, hours by the {when} weather"
    time = "round the clock" if when == "always" else f"{hours:g} h a day"
    return f"{power}, {time}" + (f", on for {100 * share_on:.0f} % of it" if share_on < 1.0 else "")


ERRORS = {
    "day": ("A date", "Write a date, as 2025-03-07."),
    "order": ("Ends before it begins", "The closing reading comes after the opening one."),
    "number": ("A number?", "A plain number or one with its unit is wanted here. Keep what you typed?"),
    "count": ("How many", "Write a whole number; 0 where there is none."),
    "choice": ("One of the list", "Choose one of the words of the list, or leave it empty."),
}
"""Title and text of what a spreadsheet says of a wrong cell."""
