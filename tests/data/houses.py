"""The stories: what each sample house is, what happens to it, and what its householder wrote down."""

from __future__ import annotations

from dataclasses import dataclass

from physics import Climate, Household, Item, reading_days


@dataclass(frozen=True)
class Checks:
    """Readings with the covers on: watts of what stayed on, watts of the known load, and the file's text."""

    always_w: float
    reference_w: float
    text: str


@dataclass(frozen=True)
class Story:
    """One sample folder."""

    folder: str
    toml: str
    home: Household
    fixed: str = "11.40"
    price: str = "0.1432"
    tax: str = "3"
    fahrenheit: bool = False
    meters: tuple[str, ...] = ("",)
    prints_readings: bool = True
    lists_loads: bool = True
    hourly: bool = False
    estimate: tuple[int, float] | None = None
    mistyped: int | None = None
    note: tuple[int, str] | None = None
    checks: Checks | None = None


def house_toml(story: str, name: str, *, house: str, more: str = "", tariff: str = "", meter: str = "") -> str:
    """Settings with the story told in the comment above them."""
    comment = "\n".join(f"# {line}" for line in story.strip().splitlines())
    tariff = tariff or "valid_from = 2023-01-01\nfixed_per_bill = 11.40\nenergy = 0.1432\ntax_percent = 3.0"
    meter = meter or '[meter]\ntype = "electronic"\nform = "2S"\ndigits = 5\nstep_kwh = 1.0\npulse_wh = 1.0'
    return f'{comment}\n\n[house]\nname = "{name}"\n{house.strip()}\n\n{meter}\n{more}\n[[tariff]]\n{tariff}\n'


GAS_HOUSE_ITEMS = (
    Item(
        "Refrigerator",
        148,
        share_on=0.42,
        follows="always",
        watts_within=3,
        hours_within=10,
        source="measured",
    ),
    Item("Chest freezer", 112, share_on=0.38, follows="always", watts_within=15, hours_within=20),
    Item("Router and modem", 14, follows="always", watts_within=5, hours_within=1, source="measured"),
    Item("Lights indoors", 260, 5.0, watts_within=20, hours_within=25, source="guessed"),
    Item("Television", 115, 4.5, standby_watts=2, watts_within=15, hours_within=25),
    Item("Two computers", 180, 6.0, shape="day", watts_within=20, hours_within=20),
    Item("Electric range", "2.4 kW", 0.7, true_watts=2400, watts_within=20, hours_within=30),
    Item("Microwave oven", "12 A * 120 V", 0.25, true_watts=1300, watts_within=20, hours_within=30),
    Item("Dishwasher", kwh_per_year=250, watts_within=25, source="label"),
    Item("Clothes washer", kwh_per_cycle=0.3, cycles_per_week=5, shape="day", watts_within=15, hours_within=20),
    Item("Clothes dryer", "4.8 kW", 0.6, shape="day", true_watts=4800, watts_within=8, hours_within=25),
    Item("Furnace fan", 520, follows="heating", kind="fan", watts_within=15, factor=1.0),
    Item(
        "Central air",
        "3.1 kW",
        follows="cooling",
        kind="cooling",
        true_watts=3100,
        watts_within=12,
        factor=1.0,
    ),
    Item("Ceiling fans", 60, 8.0, count=3, months="5-9", shape="night", watts_within=15, hours_within=30),
    Item("Dehumidifier", 480, 14.0, share_on=0.5, months="5-9", shape="flat", watts_within=15, hours_within=25),
)

GAS_HOUSE = """
timezone = "America/Chicago"
temperature_unit = "C"
floor_area = "1650 ft^2"
occupants = 3
bedrooms = 3
heating_fuel = "gas"
water_heating_fuel = "gas"
service = "split-phase"
line_volts = 240
service_amps = 150
"""

LAKE = Climate(10.2, 13.5, heat_w_per_k=380.0, cool_w_per_k=620.0)

ALL_WELL = Story(
    "all_well",
    house_toml(
        """
Nothing is wrong here. Sixteen bills of a gas-heated house with central air: summers are high because summers
are hot, and the list of loads accounts for every bill. The answer should be that no cause is needed.
""",
        "Fernhollow Lane",
        house=GAS_HOUSE,
    ),
    Household(11, "America/Chicago", LAKE, GAS_HOUSE_ITEMS, reading_days("2024-06-04", 16, 11)),
)

STRIP_HOUSE_ITEMS = (
    Item(
        "Heat pump",
        "2.6 kW",
        follows="heating",
        kind="heat-pump",
        true_watts=2600,
        hours_per_degree_day=0.65,
        watts_within=15,
        hours_within=25,
        note="hours from the thermostat's own log of one month",
        factor=1.0,
    ),
    Item(
        "Strip heat",
        "9.6 kW",
        follows="heating",
        kind="strip",
        balance=32,
        true_watts=9600,
        watts_within=5,
        note="comes on by itself when it is too cold for the heat pump",
        factor=1.0,
    ),
    Item(
        "Heat pump, cooling",
        "2.7 kW",
        follows="cooling",
        kind="cooling",
        true_watts=2700,
        watts_within=15,
        factor=1.0,
    ),
    Item("Water heater", "4.5 kW", 2.2, shape="morning", true_watts=4500, watts_within=5, hours_within=25),
    Item("Refrigerator", kwh_per_year=560, shape="flat", watts_within=15, source="label"),
    Item("Router and modem", 16, follows="always", watts_within=5, source="measured"),
    Item("Lights indoors", 220, 5.5, watts_within=20, hours_within=25, source="guessed"),
    Item("Television", 130, 5.0, standby_watts=2, watts_within=15, hours_within=25),
    Item("Computer", 140, 5.0, shape="day", watts_within=20, hours_within=25),
    Item("Electric range", "2.5 kW", 0.8, true_watts=2500, watts_within=20, hours_within=30),
    Item("Dishwasher", kwh_per_year=270, watts_within=25, source="label"),
    Item("Clothes washer", kwh_per_cycle=0.3, cycles_per_week=6, shape="day", watts_within=15, hours_within=20),
    Item("Clothes dryer", "5 kW", 0.7, shape="day", true_watts=5000, watts_within=8, hours_within=25),
)

COLD_WINTER = Story(
    "cold_winter",
    house_toml(
        """
A heat pump with strip heat, and a January six degrees Celsius colder than the one before. The bill is half as
high again and nothing is wrong: below its balance the heat pump cannot keep up and the strips come on. The
weather explains it.
""",
        "Stonecroft Road",
        house="""
timezone = "America/New_York"
temperature_unit = "F"
floor_area = "1900 ft^2"
occupants = 4
bedrooms = 3
heating_fuel = "electric"
water_heating_fuel = "electric"
service = "split-phase"
line_volts = 240
service_amps = 200
""",
    ),
    Household(
        22,
        "America/New_York",
        Climate(
            12.5,
            12.0,
            heat_w_per_k=430.0,
            cool_w_per_k=560.0,
            cold_spells=(("2024-12-28", "2025-02-10", -6.0),),
        ),
        STRIP_HOUSE_ITEMS,
        reading_days("2023-09-12", 18, 22),
    ),
    fahrenheit=True,
)

ESTIMATED = Story(
    "estimated_read",
    house_toml(
        """
The bill that closes in March rests on an estimate that is 310 kWh too high; the April bill, read again,
makes it good and is as much too low. Nothing was used that other months do not use. The paper settles it.
""",
        "Tallow Mill",
        house=GAS_HOUSE,
    ),
    Household(
        33,
        "America/Chicago",
        LAKE,
        GAS_HOUSE_ITEMS,
        reading_days("2024-06-11", 15, 33),
        register_start=70212.8,
    ),
    estimate=(8, 310.0),
)

CABIN_ITEMS = (
    Item("Refrigerator", 150, share_on=0.4, follows="always", watts_within=3, hours_within=8, source="measured"),
    Item(
        "Chest freezer",
        105,
        share_on=0.36,
        follows="always",
        watts_within=3,
        hours_within=8,
        source="measured",
    ),
    Item("Router and modem", 13, follows="always", watts_within=3, source="measured"),
    Item("Aquarium", 96, follows="always", watts_within=3, hours_within=3, source="measured"),
    Item(
        "Water heater",
        "4.5 kW",
        2.4,
        shape="morning",
        true_watts=4500,
        watts_within=3,
        hours_within=12,
        source="measured",
    ),
    Item("Lights indoors", 210, 5.0, watts_within=10, hours_within=15),
    Item("Television", 108, 4.5, standby_watts=2, watts_within=3, hours_within=15, source="measured"),
    Item("Two computers", 190, 7.0, shape="day", watts_within=5, hours_within=12, source="measured"),
    Item("Electric range", "2.3 kW", 0.7, true_watts=2300, watts_within=10, hours_within=20),
    Item(
        "Clothes washer",
        kwh_per_cycle=0.28,
        cycles_per_week=5,
        shape="day",
        watts_within=5,
        hours_within=15,
        source="measured",
    ),
    Item(
        "Clothes dryer",
        "4.9 kW",
        0.55,
        shape="day",
        true_watts=4900,
        watts_within=4,
        hours_within=15,
        source="measured",
    ),
    Item("Furnace fan", 480, follows="heating", kind="fan", watts_within=5, factor=1.0, source="measured"),
    Item(
        "Central air",
        "2.9 kW",
        follows="cooling",
        kind="cooling",
        true_watts=2900,
        watts_within=5,
        factor=1.0,
        source="measured",
    ),
)

CABIN_DAYS = reading_days("2024-05-07", 18, 44)
EXCHANGE = CABIN_DAYS[10]

CABIN_TOML = {
    "house": GAS_HOUSE.replace('water_heating_fuel = "gas"', 'water_heating_fuel = "electric"'),
    "meter": f'[[meter]]\nnumber = "Q-20418"\nuntil = {EXCHANGE}\ntype = "disk"\nform = "2S"\ndigits = 5\n'
    "step_kwh = 1.0\n"
    f'disk_wh = 7.2\n\n[[meter]]\nnumber = "Q-77150"\nfrom = {EXCHANGE}\ntype = "electronic"\nform = "2S"\n'
    "digits = 5\nstep_kwh = 1.0\npulse_wh = 1.0",
    "more": "\n[band]\nunlisted_kwh_per_day = 1.1\nunlisted_within_percent = 40\n",
}

CABIN = Household(
    44,
    "America/Chicago",
    Climate(11.0, 12.0, heat_w_per_k=330.0, cool_w_per_k=480.0),
    CABIN_ITEMS,
    CABIN_DAYS,
    meter_factor=((EXCHANGE.isoformat(), 1.24),),
    habit_sd=0.03,
    register_start=88140.2,
    new_register_days=(EXCHANGE,),
)

FAST_METER_TEXT = """
A new meter was set in March 2025, and every bill since stands about a quarter above what the house
usually uses, summer and winter alike. The list was measured with care. From the bills alone a fast meter and
a hidden load look much alike; checks that need no cover removed come next.
"""

CHECKED_TEXT = """
The house of fast_meter, after the checks with the covers on (field_test.toml). In the quiet of the night
the meter shows a quarter more than the four things left on are known to draw; with the main off it stands
still; and a heater of known watts registers a quarter too much. The meter remains: ask for a test.
"""

CHECKS_TEXT = """# Written down on 2025-11-08, all covers in place. The plug-in meter was borrowed.

[instrument.watts]
percent_of_reading = 1.0
resolution = 1

[instrument.time]
seconds = 0.5

[display]
step_kw = 0.001

[[quiet]]
date = 2025-11-08
on = ["Refrigerator", "Chest freezer", "Router and modem", "Aquarium"]
pulses = {quiet_pulses}
seconds = 900

[[main_off]]
pulses = 0
seconds = 900
all_disconnects_off = true
generation_off = true

[[run]]
label = "oil-filled heater on a plug-in meter"
connection = "line-to-neutral"
reference_watts = {reference_watts}
background_w_before = {background}
background_w_after = {background}
pulses = 100
seconds = {run_seconds}
meter_kw = {run_kw}
"""

CABIN_ALWAYS_W = 150 * 0.4 + 105 * 0.36 + 13 + 96

FAST_METER = (
    Story(
        "fast_meter",
        house_toml(FAST_METER_TEXT, "Juniper Bend", **CABIN_TOML),
        CABIN,
        meters=("Q-20418", "Q-77150"),
    ),
    Story(
        "fast_meter_checked",
        house_toml(CHECKED_TEXT, "Juniper Bend, checked", **CABIN_TOML),
        CABIN,
        meters=("Q-20418", "Q-77150"),
        checks=Checks(CABIN_ALWAYS_W, 1463.0, CHECKS_TEXT),
    ),
)

NEW_LOAD = Story(
    "new_load_in_may",
    house_toml(
        """
Since the second week of May something draws about 420 W day and night: a crawl-space pump that no longer
switches off, though nobody knows it yet. Every bill since is higher by the same number of kWh a day, whatever
the weather. Outside checks come next: the base load overnight, then breaker by breaker.
""",
        "Marsh Gate",
        house=GAS_HOUSE,
    ),
    Household(
        55,
        "America/Chicago",
        LAKE,
        GAS_HOUSE_ITEMS,
        reading_days("2024-07-09", 16, 55),
        hidden_watts=(("2025-05-12", 420.0),),
        register_start=12044.1,
    ),
)

DANGER = Story(
    "danger_sign",
    house_toml(
        """
The bills are in order, but the household reports that lights in one half of the house brighten while those in
the other half dim: a sign of a loose neutral. That goes before any bill.
""",
        "Weaver's Row",
        house=GAS_HOUSE,
        more="\n[danger]\nlights_brighten_and_dim = true\n",
    ),
    Household(
        66,
        "America/Chicago",
        LAKE,
        GAS_HOUSE_ITEMS,
        reading_days("2024-08-06", 14, 66),
        register_start=30551.9,
    ),
)

HOURLY_HOME = Household(
    77,
    "America/New_York",
    LAKE,
    GAS_HOUSE_ITEMS,
    reading_days("2024-09-03", 14, 77),
    register_start=55310.6,
)

HOURLY_HOUSE = GAS_HOUSE.replace("America/Chicago", "America/New_York")

HOURLY = (
    Story(
        "hourly_data",
        house_toml(
            """
The utility's hourly data of fourteen months, clock changes included. They add up to every bill within
the register's steps, with readings at midnight. Nothing is wrong.
""",
            "Orchard Walk",
            house=HOURLY_HOUSE,
        ),
        HOURLY_HOME,
        hourly=True,
    ),
    Story(
        "mistyped_bill",
        house_toml(
            """
The house of hourly_data, except that two digits of one bill changed places when it was keyed in at the
billing desk, and the amount followed. The hourly data of the same days say otherwise. The paper settles it.
""",
            "Orchard Walk, one bill mis-keyed",
            house=HOURLY_HOUSE,
        ),
        HOURLY_HOME,
        hourly=True,
        prints_readings=False,
        mistyped=4,
    ),
)

BILLS_ONLY = Story(
    "bills_only",
    "# Bills and nothing else: no list of loads, no weather. What can be said is said, and what to add.\n\n"
    '[house]\nname = "Only the bills"\n',
    Household(88, "America/Chicago", LAKE, GAS_HOUSE_ITEMS, reading_days("2024-07-02", 15, 88)),
    prints_readings=False,
    lists_loads=False,
)
