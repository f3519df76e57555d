"""Houses whose truth is known: ``simulate(kind, world, seed)`` gives a House and the truth about it.

The simulator shares no reckoning with the program that is judged on it. People, boxes, weather and meters
run hour by hour; only then does somebody read a register, print a bill, and write a list of loads from
memory.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import people
from climate import Floats, Sky, make_sky, station, with_spells
from dwelling import (
    EVEN,
    Appliance,
    Dwelling,
    Uneven,
    appliance_kwh,
    climates,
    conditioner_kwh,
    make_dwelling,
    spread,
)
from kinds import EVERY, Kind, World
from metering import Calendar, MeterSwap, Prices, make_calendar, make_prices, read_meters, registered
from trouble import Trouble, draw_trouble, extra_kwh, false_paper
from written import PLAIN_HAND, UNKIND_HAND, write

from reconcile.house import Band, Bill, Event, House, Weather
from reconcile.house.tariff import Tariff

DAY_HOURS = 24


@dataclass(frozen=True, eq=False)
class Site:
    """What somebody would find at the house after the last bill: watts there now, and the meter's factor."""

    factor: float
    always_watts: dict[str, float]
    """True round-the-clock watts of listed loads by name."""
    box_watts: dict[str, float]
    """True average watts of listed boxes that cycle."""
    unlisted_watts: float
    rogue_watts: float
    rogue_cycles: bool
    day: date


@dataclass(frozen=True, eq=False)
class Truth:
    """What is so, whatever the householder writes."""

    kind: Kind
    world: World
    seed: int
    onset: date | None
    onset_period: int | None
    meter_error_percent: float
    """Error of the meter that is (or, for a slow old meter, was) wrong."""
    constant_watts: float
    true_kwh: Floats
    """Energy truly used between the printed readings as they were really taken, by period [kWh]."""
    parts_kwh: dict[str, Floats]
    """The same by load, rest and trouble."""
    registered_kwh: Floats
    """What an exact register would have counted [kWh]."""
    size_percent: float
    """Trouble as a share of all the rest of the house's use over the bills it acts on [%]."""

    size_watts: float
    """Trouble on the average over the bills it acts on [W]; 0 where the meter is the trouble."""
    codes: frozenset[str]
    """Causes that rightly describe this house."""

    @property
    def meter_right(self) -> bool:
        """Whether the meter now on the wall is right."""
        return self.kind.meter_right


@dataclass(frozen=True, eq=False)
class Case:
    """A simulated house, the truth about it, and what a visit would find."""

    house: House
    truth: Truth
    site: Site


def streams(kind: str, world: str, seed: int, wanted: int) -> list[np.random.Generator]:
    """Independent generators for one case, the same whatever other kinds there are."""
    root = np.random.SeedSequence([seed, zlib.crc32(kind.encode()), zlib.crc32(world.encode())])
    return [np.random.default_rng(child) for child in root.spawn(wanted)]


def simulate(kind_name: str, world: World = "plain", seed: int = 0, *, bills: int = 18, months: int = 1) -> Case:
    """Simulate one house.

    Parameters
    ----------
    kind_name : str
        A key of :data:`kinds.EVERY`.
    world : {'plain', 'unkind'}
    seed : int
        The same seed gives the same house.
    bills : int
        Number of billing periods, at least 6.
    months : int
        Months a bill covers; 2 is bimonthly.
    """
    kind = EVERY[kind_name]
    unkind = world == "unkind"
    r_place, r_sky, r_house, r_people, r_trouble, r_meter, r_hand, r_use = streams(kind_name, world, seed, 8)

    first = date(2021, 1, 1) + timedelta(days=int(r_place.integers(0, 900)))
    long_period = int(r_place.integers(2, bills - 1)) if kind_name == "long-period" else None
    calendar = make_calendar(r_place, first, bills, odd_days=unkind, long_period=long_period, months=months)
    days = calendar.days[-1] + 6
    pool = climates(kind_name in ("spells", "thermostat", "thermostat-back", "seasonal-heater"))
    sky = make_sky(r_sky, pool[int(r_place.integers(len(pool)))], first.toordinal(), days)
    if kind_name == "spells":
        sky = with_spells(r_sky, sky, calendar.days[0] + 30, calendar.days[-1])
    dwelling = make_dwelling(r_house, sky.daily_c, sky.climate, conditioned=kind.needs_conditioning)
    if kind_name == "listed-gone":
        bed = Appliance("Heated water bed", "box", watts=300.0, kwh=float(r_house.uniform(3, 6)))
        dwelling = replace(dwelling, appliances=(*dwelling.appliances, bed))
    if kind_name == "hot-water-leak" and dwelling.water_fuel != "electric":
        heater = Appliance("Water heater", "hot-water", watts=4500.0, hours=2.2, profile="morning")
        dwelling = replace(dwelling, water_fuel="electric", appliances=(heater, *dwelling.appliances))
    written = write(r_hand, dwelling, UNKIND_HAND if unkind else PLAIN_HAND)
    dwelling = written.true

    trouble = draw_trouble(r_trouble, kind, calendar, unkind=unkind)
    household = (
        people.real_household(r_people, days, first.toordinal())
        if unkind
        else people.even_household(r_people, days, calendar.days)
    )
    for span in (trouble.away, trouble.away_again):
        if span is not None:
            household = people.away(household, *span)
    for start, stay, more in trouble.guests:
        household = people.joined(household, start, stay, more)
    if trouble.more_people and trouble.onset_hour is not None:
        household = people.grown(household, trouble.onset_hour // 24, trouble.more_people)

    unused = _unused(r_hand, dwelling) if unkind else None
    parts = _use(r_use, dwelling, sky, household, trouble, first, unused, _uneven(r_house) if unkind else EVEN)
    parts["trouble"] = extra_kwh(r_trouble, trouble, first, days).ravel()
    used = np.asarray(sum(parts.values()))

    swap = trouble.swap
    if swap is None and unkind and r_meter.random() < 0.15:
        swap = _ordinary_swap(r_meter, calendar, trouble)
    factor = _factor(r_meter, trouble, len(used))
    running = registered(used, factor)
    paper, meters = read_meters(
        r_meter,
        calendar,
        running,
        swap,
        step_kwh=1.0 if r_meter.random() < 0.9 else 10.0,
        may_roll_over=unkind,
    )
    paper = false_paper(r_trouble, trouble, paper)
    prices = make_prices(r_meter, trouble.price_period)
    priced = tuple(replace(bill, amount=prices.amount(bill.kwh or 0.0, i)) for i, bill in enumerate(paper))

    house = House(
        name=f"House {seed}",
        bills=priced,
        loads=written.loads,
        floor_area_m2=round(dwelling.floor_m2),
        occupants=float(dwelling.occupants),
        bedrooms=float(dwelling.bedrooms),
        heating_fuel="gas" if dwelling.heating_fuel == "gas" else "electric",
        water_heating_fuel=dwelling.water_fuel,
        service="split-phase",
        line_volts=240.0,
        service_amps=200.0,
        meters=meters,
        band=Band(
            unlisted_kwh_per_day=written.unlisted_kwh_per_day,
            unlisted_within_percent=written.unlisted_within_percent,
        ),
        tariffs=_typed_tariffs(r_hand, prices, paper, unkind=unkind),
        weather=_weather(r_sky, sky, first, unkind=unkind),
        events=_diary(r_hand, trouble, calendar),
    )
    truth = _truth(kind, world, seed, calendar, trouble, parts, used, running)
    return Case(house, truth, _site(dwelling, trouble, float(factor[-1]), calendar))


def _uneven(rng: np.random.Generator) -> Uneven:
    return Uneven(
        lag_days=float(rng.uniform(0.4, 1.4)),
        falling_cop=True,
        cold_inlet=float(rng.uniform(0.06, 0.18)),
        dark_winter=float(rng.uniform(0.1, 0.3)),
        box_warmth=float(rng.uniform(0.02, 0.1)),
    )


def _unused(rng: np.random.Generator, dwelling: Dwelling) -> str | None:
    """A thing on the list that nobody has used for years."""
    idle = [a.name for a in dwelling.appliances if a.nature in ("daily", "cycles") and 0.3 < a.kwh_a_day < 2.5]
    return str(rng.choice(idle)) if idle else None


def _use(
    rng: np.random.Generator,
    dwelling: Dwelling,
    sky: Sky,
    household: people.Household,
    trouble: Trouble,
    first: date,
    unused: str | None,
    uneven: Uneven,
) -> dict[str, Floats]:
    """Hourly kWh of every part of the house, flat."""
    days = len(sky.daily_c)
    calendar_month = np.array([(first + timedelta(days=d)).month for d in range(days)])
    season = np.cos(2 * np.pi * ((np.arange(days) + first.timetuple().tm_yday) - 20) / 365.25)
    parts: dict[str, Floats] = {}
    for machine in dwelling.conditioners:
        shift = np.zeros(days)
        if trouble.thermostat and machine.nature == _felt(dwelling) and trouble.onset_hour is not None:
            shift[trouble.onset_hour // 24 :] = trouble.thermostat * (1 if machine.nature == "heating" else -1)
        daily = conditioner_kwh(rng, machine, sky.daily_c, shift, uneven)
        profile = "night" if machine.nature == "heating" else "afternoon"
        parts[machine.name] = spread(rng, daily, profile).ravel()
    for thing in dwelling.appliances:
        runs = np.ones(days) if thing.months is None else np.isin(calendar_month, list(thing.months)).astype(float)
        if thing.name == unused:
            runs = np.zeros(days)
        if trouble.gone == thing.name and trouble.onset_hour is not None:
            runs[trouble.onset_hour // 24 :] = 0.0
        parts[thing.name] = appliance_kwh(rng, thing, runs, household.factor(rng), season, uneven).ravel()
    evening = spread(rng, np.full(days, dwelling.unlisted_evening_kwh) * household.factor(rng), "evening")
    parts["not listed"] = (evening + dwelling.unlisted_always_watts / 1000).ravel()
    return parts


def _felt(dwelling: Dwelling) -> str:
    """Whether a turn of the thermostat is about heating or about cooling here."""
    electric_heat = dwelling.heating_fuel != "gas"
    hot = dwelling.climate.mean_c > 18 and any(c.nature == "cooling" for c in dwelling.conditioners)
    return "cooling" if hot or not electric_heat else "heating"


def _factor(rng: np.random.Generator, trouble: Trouble, hours: int) -> Floats:
    """What the meter counts for a true kWh, hour by hour; a sound one is within a few tenths of a percent."""
    factor = np.full(hours, 1.0 + float(rng.normal(0, 0.003)))
    error = 1.0 + trouble.meter_percent / 100
    if trouble.meter_acts == "always":
        factor *= error
    elif trouble.meter_acts == "after" and trouble.onset_hour is not None:
        factor[trouble.onset_hour :] *= error
    elif trouble.meter_acts == "before" and trouble.onset_hour is not None:
        factor[: trouble.onset_hour] *= error
    return factor


def _ordinary_swap(rng: np.random.Generator, calendar: Calendar, trouble: Trouble) -> MeterSwap:
    """A sound meter for a sound meter; whoever takes one down reads it, so no false reading stands there."""
    false = trouble.estimate if trouble.estimate is not None else trouble.slip
    free = [p for p in range(1, calendar.bills) if false is None or p not in (false, false + 1)]
    period = int(rng.choice(free))
    if rng.random() < 0.5:
        return MeterSwap(calendar.hours[period], period, True)
    hour = int(rng.integers(calendar.hours[period] + 48, calendar.hours[period + 1] - 48))
    return MeterSwap(hour, period, False)


def _weather(rng: np.random.Generator, sky: Sky, first: date, *, unkind: bool) -> Weather:
    seen = station(rng, sky.daily_c, distant=unkind)
    if unkind:
        seen[rng.choice(len(seen), 6, replace=False)] = np.nan
        return Weather(first, seen, missing_days=6)
    return Weather(first, seen)


def _typed_tariffs(rng: np.random.Generator, prices: Prices, paper: list[Bill], *, unkind: bool) -> tuple[Tariff, ...]:
    return () if unkind and rng.random() < 0.4 else prices.tariffs(paper)


def _diary(rng: np.random.Generator, trouble: Trouble, calendar: Calendar) -> tuple[Event, ...]:
    """Half the people note absences and the meter's change; a third what they themselves altered."""
    events = []
    for span in (trouble.away, trouble.away_again):
        if span is not None and rng.random() < 0.5:
            start, length = span
            events.append(Event(calendar.day(start), "away", until=calendar.day(start + length)))
    if trouble.onset_hour is not None and rng.random() < 1 / 3:
        day = calendar.day(trouble.onset_hour // 24)
        if trouble.more_people:
            events.append(Event(day, "occupants"))
        elif trouble.thermostat:
            events.append(Event(day, "thermostat"))
    if trouble.swap is not None and rng.random() < 0.5:
        events.append(Event(calendar.day(trouble.swap.hour // 24), "meter-exchange"))
    return tuple(events)


def _truth(
    kind: Kind,
    world: World,
    seed: int,
    calendar: Calendar,
    trouble: Trouble,
    parts: dict[str, Floats],
    used: Floats,
    running: Floats,
) -> Truth:
    at = np.asarray(calendar.hours)

    def by_period(hourly: Floats) -> Floats:
        return np.diff(np.concatenate([[0.0], np.cumsum(hourly)])[at])

    parts_kwh = {name: by_period(hourly) for name, hourly in parts.items()}
    bothered = parts_kwh["trouble"] > 1.0
    total = by_period(used)
    rest = float((total - parts_kwh["trouble"])[bothered].sum())
    share = 100 * float(parts_kwh["trouble"][bothered].sum()) / rest if rest > 0 else abs(trouble.meter_percent)
    return Truth(
        kind=kind,
        world=world,
        seed=seed,
        onset=None if trouble.onset_hour is None else calendar.day(trouble.onset_hour // 24),
        onset_period=trouble.onset_period,
        meter_error_percent=trouble.meter_percent,
        constant_watts=trouble.watts,
        true_kwh=total,
        parts_kwh=parts_kwh,
        registered_kwh=np.diff(running[at]),
        size_percent=share,
        codes=_codes(kind, trouble),
        size_watts=1000 * float(np.sum(parts_kwh["trouble"][bothered])) / max(float(np.diff(at)[bothered].sum()), 1.0),
    )


def _codes(kind: Kind, trouble: Trouble) -> frozenset[str]:
    """A hot tub that was there from the first bill is not listed; one that came is a load that came."""
    if kind.name != "hot-tub":
        return kind.codes
    return frozenset({"unlisted"} if trouble.onset_period == 0 else {"constant-load", "timed-load"})


def _site(dwelling: Dwelling, trouble: Trouble, factor: float, calendar: Calendar) -> Site:
    return Site(
        factor=factor,
        always_watts={a.name: a.watts for a in dwelling.appliances if a.nature == "always"},
        box_watts={
            a.name: 1000 * a.kwh / 24 for a in dwelling.appliances if a.nature == "box" and a.name != trouble.gone
        },
        unlisted_watts=dwelling.unlisted_always_watts,
        rogue_watts=trouble.watts_now,
        rogue_cycles=trouble.watts_cycle,
        day=calendar.day(calendar.days[-1] + 4),
    )
