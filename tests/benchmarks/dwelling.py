"""What an invented house holds, and how many kWh each thing takes, hour by hour.

Nothing here knows how the program reckons: appliances are used by people, boxes cycle, a house loses heat.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from climate import CLIMATES, Climate, Floats, ar1

Nature = Literal["daily", "cycles", "always", "box", "hot-water", "heating", "cooling"]

# Shares of a day's use by hour, midnight first. Plain guesses of common days.
PROFILES: dict[str, tuple[float, ...]] = {
    "evening": (1, 0, 0, 0, 0, 0, 1, 2, 1, 1, 1, 1, 1, 1, 1, 1, 2, 4, 6, 8, 8, 7, 5, 3),
    "meals": (0, 0, 0, 0, 0, 1, 4, 5, 2, 1, 1, 4, 5, 2, 1, 1, 3, 8, 9, 4, 2, 1, 0, 0),
    "morning": (0, 0, 0, 0, 1, 4, 9, 9, 5, 3, 2, 2, 2, 2, 2, 2, 3, 4, 5, 5, 4, 3, 2, 1),
    "daytime": (0, 0, 0, 0, 0, 0, 0, 1, 3, 5, 6, 6, 5, 5, 6, 6, 5, 4, 4, 3, 2, 1, 0, 0),
    "flat": (1,) * 24,
    "night": (8, 8, 8, 8, 8, 8, 4, 2, 1, 1, 1, 1, 1, 1, 1, 1, 2, 3, 4, 5, 6, 7, 8, 8),
    "afternoon": (2, 1, 1, 1, 1, 1, 1, 1, 2, 3, 5, 6, 8, 9, 10, 10, 10, 9, 8, 7, 6, 5, 4, 3),
}


@dataclass(frozen=True)
class Appliance:
    """One thing that takes power, as it truly is.

    ``watts`` while on and ``hours`` a day [h/d] for what people use; ``watts`` all round the clock for
    ``always``; ``kwh`` a day on the average for boxes that cycle; ``kwh`` a cycle and ``per_week`` for
    washers and the like.
    """

    name: str
    nature: Nature
    watts: float = 0.0
    hours: float = 0.0
    kwh: float = 0.0
    per_week: float = 0.0
    standby: float = 0.0
    months: frozenset[int] | None = None
    profile: str = "evening"
    label: bool = False
    """Whether the householder would copy a yearly label rather than guess watts and hours."""

    @property
    def kwh_a_day(self) -> float:
        """Average use on a day of its season [kWh/d]; heating and cooling are not reckoned here."""
        if self.nature == "always":
            return 24 * self.watts / 1000
        if self.nature == "box":
            return self.kwh
        if self.nature == "cycles":
            return self.kwh * self.per_week / 7
        return (self.watts * self.hours + self.standby * (24 - self.hours)) / 1000


@dataclass(frozen=True)
class Conditioner:
    """Heating or cooling, which begins at ``balance_c`` [degC]."""

    name: str
    nature: Literal["heating", "cooling"]
    watts: float
    balance_c: float
    hours_per_kelvin_day: float
    heat_pump: bool = False
    strip_watts: float = 0.0


@dataclass(frozen=True)
class Dwelling:
    """One house: its appliances, its conditioning, and what no list holds."""

    climate: Climate
    heating_fuel: str
    water_fuel: str
    occupants: int
    bedrooms: int
    floor_m2: float
    appliances: tuple[Appliance, ...]
    conditioners: tuple[Conditioner, ...]
    unlisted_always_watts: float
    unlisted_evening_kwh: float

    @property
    def unlisted_kwh_a_day(self) -> float:
        """What no list holds [kWh/d]."""
        return 24 * self.unlisted_always_watts / 1000 + self.unlisted_evening_kwh


def make_dwelling(rng: np.random.Generator, daily_c: Floats, climate: Climate, *, conditioned: bool) -> Dwelling:
    """Draw a house for its climate; ``conditioned`` asks for heating or cooling by electricity."""
    people = int(rng.choice([1, 2, 2, 3, 4, 5]))
    bedrooms = max(1, min(5, people + int(rng.integers(-1, 2))))
    floor = float(rng.uniform(28, 48) * bedrooms + 45)
    heating = str(rng.choice(["heat pump", "baseboard", "gas"], p=[0.35, 0.25, 0.40]))
    cooled = rng.random() < {
        "hot and humid": 1.0,
        "hot and dry": 1.0,
        "temperate": 0.7,
        "mild coast": 0.15,
    }.get(climate.name, 0.5)
    if conditioned and heating == "gas" and not (cooled and climate.mean_c > 18):
        heating = "heat pump" if climate.mean_c > 9 else "baseboard"
    water = "electric" if rng.random() < (0.75 if heating != "gas" else 0.25) else "gas"
    conditioners = _conditioners(rng, daily_c, heating, bool(cooled), floor)
    appliances = _appliances(rng, people, water, climate)
    always = float(rng.lognormal(np.log(35.0), 0.4))
    evening = float(rng.lognormal(np.log(0.6), 0.4))
    return Dwelling(climate, heating, water, people, bedrooms, floor, appliances, conditioners, always, evening)


def _conditioners(
    rng: np.random.Generator, daily_c: Floats, heating: str, cooled: bool, floor: float
) -> tuple[Conditioner, ...]:
    out: list[Conditioner] = []
    coldest, hottest = np.percentile(daily_c, [1, 99])
    balance = float(rng.normal(16.0, 1.2))
    duty = float(rng.uniform(0.5, 0.8))
    hours = 24 * duty / max(balance - coldest, 4.0)
    if heating == "heat pump":
        watts = floor * rng.uniform(16, 26) * max(balance - coldest, 4.0) / 25
        out.append(
            Conditioner("Heat pump", "heating", float(watts), balance, hours, True, float(rng.choice([4800, 9600])))
        )
    elif heating == "baseboard":
        watts = floor * rng.uniform(40, 62) * max(balance - coldest, 4.0) / 25
        out.append(Conditioner("Baseboard heaters", "heating", float(watts), balance, hours))
    else:
        out.append(Conditioner("Furnace blower", "heating", float(rng.uniform(300, 600)), balance, hours))
    if cooled:
        balance = float(rng.normal(20.0, 1.2))
        duty = float(rng.uniform(0.5, 0.8))
        reach = max(hottest - balance, 3.0)
        watts = floor * rng.uniform(13, 22) * min(reach, 14.0) / 10
        out.append(Conditioner("Air conditioner", "cooling", float(watts), balance, 24 * duty / reach))
    return tuple(out)


def _appliances(rng: np.random.Generator, people: int, water: str, climate: Climate) -> tuple[Appliance, ...]:
    def near(value: float, spread: float = 0.2) -> float:
        return float(value * np.exp(rng.normal(0, spread)))

    crowd = 0.6 + 0.2 * people
    out = [
        Appliance("Refrigerator", "box", watts=near(140), kwh=near(1.25, 0.25), label=bool(rng.random() < 0.5)),
        Appliance("Lights", "daily", watts=near(260), hours=near(4.5)),
        Appliance("Television", "daily", watts=near(120), hours=near(4.5), standby=near(1.5)),
        Appliance("Computer", "daily", watts=near(110), hours=near(5.0 * crowd**0.5), profile="daytime"),
        Appliance("Router and clocks", "always", watts=near(22)),
        Appliance("Clothes washer", "cycles", kwh=near(0.35), per_week=near(3.2 * crowd), profile="daytime"),
        Appliance("Microwave", "daily", watts=near(1150, 0.1), hours=near(0.25 * crowd), profile="meals"),
        Appliance("Kettle", "daily", watts=near(1500, 0.1), hours=near(0.3), profile="morning"),
        Appliance("Vacuum and iron", "cycles", kwh=near(0.6), per_week=near(2.0), profile="daytime"),
    ]
    some = [
        (
            0.75,
            Appliance("Range and oven", "daily", watts=near(2100), hours=near(0.7 * crowd), profile="meals"),
        ),
        (0.70, Appliance("Dryer", "cycles", kwh=near(2.6), per_week=near(2.8 * crowd), profile="daytime")),
        (0.60, Appliance("Dishwasher", "cycles", kwh=near(1.1), per_week=near(3.5 * crowd**0.5))),
        (0.40, Appliance("Chest freezer", "box", watts=near(110), kwh=near(1.1, 0.25), label=True)),
        (0.30, Appliance("Well pump", "daily", watts=near(900), hours=near(0.9), profile="morning")),
        (0.25, Appliance("Aquarium", "always", watts=near(60, 0.3))),
        (0.30, Appliance("Ventilation fan", "always", watts=near(35, 0.3))),
        (0.20, Appliance("Sump and boiler pump", "daily", watts=near(350), hours=near(1.2), profile="flat")),
        (0.25, Appliance("Game console", "daily", watts=near(130), hours=near(2.5), standby=near(4))),
        (0.20, Appliance("Workshop tools", "daily", watts=near(1100), hours=near(0.5), profile="daytime")),
    ]
    if climate.mean_c < 15:
        damp = frozenset(range(5, 10))
        some.append(
            (
                0.35,
                Appliance("Dehumidifier", "daily", watts=near(500), hours=near(7), months=damp, profile="flat"),
            )
        )
    if climate.mean_c > 11:
        swim = frozenset(range(5, 10)) if climate.mean_c < 18 else None
        some.append(
            (
                0.25,
                Appliance("Pool pump", "daily", watts=near(1050), hours=near(6), months=swim, profile="daytime"),
            )
        )
    out += [thing for chance, thing in some if rng.random() < chance]
    if water == "electric":
        out.insert(
            0,
            Appliance("Water heater", "hot-water", watts=4500.0, hours=near(1.9 * crowd), profile="morning"),
        )
    return tuple(out)


@dataclass(frozen=True)
class Uneven:
    """How far this world departs from an even one. Zeros everywhere are the plain world."""

    lag_days: float = 0.0
    falling_cop: bool = False
    cold_inlet: float = 0.0
    dark_winter: float = 0.0
    box_warmth: float = 0.0


EVEN = Uneven()


def conditioner_kwh(
    rng: np.random.Generator, thing: Conditioner, daily_c: Floats, shift_c: Floats, uneven: Uneven
) -> Floats:
    """Heating or cooling of each day [kWh]; ``shift_c`` moves the balance temperature, day by day [K].

    In the even world the machine runs a fixed time for each degree-day. Elsewhere the house lags the
    weather, a heat pump gives less and takes more as it grows cold, and strip heat makes good what it
    cannot give.
    """
    felt = daily_c
    if uneven.lag_days > 0:
        keep = float(np.exp(-1.0 / uneven.lag_days))
        from scipy.signal import lfilter

        felt = lfilter([1 - keep], [1.0, -keep], daily_c - daily_c[0]) + daily_c[0]
    sign = 1.0 if thing.nature == "heating" else -1.0
    degree_days = np.maximum(sign * (thing.balance_c + shift_c - felt), 0.0)
    noise = np.exp(rng.normal(0, 0.12, len(felt)) - 0.0072)
    hours = thing.hours_per_kelvin_day * degree_days * noise
    if thing.heat_pump and uneven.falling_cop:
        need = thing.watts / 1000 * hours * 3.0  # heat wanted at a rated COP of 3 [kWh]
        cop = np.clip(3.0 + 0.075 * (felt - 4.0), 1.4, 4.2)
        gives = thing.watts / 1000 * 24 * cop * np.clip(1 + 0.018 * (felt - 4.0), 0.4, 1.2) * 0.85
        pumped = np.minimum(need, gives)
        strip = np.minimum(need - pumped, 24 * thing.strip_watts / 1000)
        return np.asarray(pumped / cop + strip)
    return np.asarray(thing.watts / 1000 * np.minimum(hours, 24.0))


def spread(rng: np.random.Generator, daily_kwh: Floats, profile: str) -> Floats:
    """Lay each day's kWh over its hours, no two days quite alike; shape (days, 24)."""
    shape = np.asarray(PROFILES[profile], dtype=float)
    weights = shape * rng.gamma(2.0, 0.5, (len(daily_kwh), 24)) + 1e-9
    weights /= weights.sum(axis=1, keepdims=True)
    return np.asarray(daily_kwh[:, None] * weights)


def cycling(rng: np.random.Generator, daily_kwh: Floats) -> Floats:
    """A box with a thermostat: its hours differ by the cycles that fall in them; shape (days, 24)."""
    weights = rng.gamma(20.0, 1.0 / 20.0, (len(daily_kwh), 24))
    weights /= weights.sum(axis=1, keepdims=True)
    return np.asarray(daily_kwh[:, None] * weights)


def appliance_kwh(
    rng: np.random.Generator,
    thing: Appliance,
    in_season: Floats,
    habit: Floats,
    season: Floats,
    uneven: Uneven,
) -> Floats:
    """Use of one appliance, hour by hour [kWh], shape (days, 24).

    ``in_season`` is 1 on the days it runs at all, ``habit`` the household's factor of each day, ``season``
    a wave of amplitude 1 that peaks in midwinter.
    """
    days = len(habit)
    if thing.nature == "always":
        return np.repeat((in_season * thing.watts / 1000)[:, None], 24, axis=1)
    if thing.nature == "box":
        wobble = 1.0 + 0.04 * ar1(rng.standard_normal(days), 0.6) - uneven.box_warmth * season
        return cycling(rng, in_season * thing.kwh * wobble)
    if thing.nature == "cycles":
        # a week's routine with a little play: the day a load is due shifts, the loads do not pile up
        due = np.cumsum(in_season * habit * thing.per_week / 7) + rng.random()
        done = np.maximum.accumulate(np.floor(due + rng.uniform(-0.2, 0.2, days)))
        runs = np.diff(done, prepend=0.0)
        return spread(rng, runs * thing.kwh * rng.uniform(0.85, 1.15, days), thing.profile)
    daily = np.exp(rng.normal(0, 0.22, days) - 0.0242) * habit
    if thing.nature == "hot-water":
        daily = daily * (1.0 + uneven.cold_inlet * season)
    if thing.name == "Lights":
        daily = daily * (1.0 + uneven.dark_winter * season)
    hours = np.minimum(thing.hours * daily, 23.0) * in_season
    used = spread(rng, thing.watts * hours / 1000, thing.profile)
    return used + (thing.standby * (24 - hours) * in_season / 24000)[:, None]


def climates(kind_needs_season: bool) -> tuple[Climate, ...]:
    """Places to draw from; a kind that is about weather needs one with seasons."""
    return tuple(c for c in CLIMATES if c.season_c > 8) if kind_needs_season else CLIMATES
