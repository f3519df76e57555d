"""What a house uses beside the loads on its list: a whole-house reference of lights, plugs and appliances.

The parts follow the reference home of ANSI/RESNET/ICC 301-2014, Table 4.2.2.5(1), kWh a year from the floor
area and the bedrooms. Those coefficients are **from memory**; their sum is held against an older lumped
form that was read in public text (see the tests). Everything else here, marked so, is our own judgement.
"""

from __future__ import annotations

from reconcile.house import House, Load
from reconcile.loads.handbook import find
from reconcile.records import dataclass

DAYS_A_YEAR = 365.0
SQUARE_FEET_A_SQUARE_METRE = 1.0 / 0.3048**2
COST_RULE_KWH_PER_DAY = 12.03
"""Electricity into the hot water each day by the DOE rule: 41,045 Btu a day (DOE EERE yearly cost rule, read)."""
ENERGY_FACTOR = 0.92
"""Of an electric storage heater: energy into the water over energy into the heater (FEMP calculator default, read)."""


@dataclass(frozen=True, slots=True)
class Part:
    """Yearly energy of one part of the reference home [kWh].

    It is ``base + per_ft2`` x floor area [ft^2] ``+ per_bedroom`` x bedrooms.

    ``chance_unlisted`` is the chance that a house whose list does not name this part has it all the same:
    nobody overlooks a dryer, everybody overlooks the small plugs. Our own judgement.
    """

    base: float
    per_ft2: float
    per_bedroom: float
    chance_unlisted: float


PARTS: dict[str, Part] = {
    "plugs": Part(0.0, 0.91, 0.0, 1.0),
    "lights": Part(455.0, 0.80, 0.0, 0.8),
    "outdoor lights": Part(100.0, 0.05, 0.0, 0.5),
    "refrigerator": Part(637.0, 0.0, 18.0, 0.5),
    "tv": Part(413.0, 0.0, 69.0, 0.5),
    "range": Part(331.0, 0.0, 39.0, 0.3),
    "dryer": Part(524.0, 0.0, 149.0, 0.2),
    "dishwasher": Part(78.0, 0.0, 31.0, 0.3),
    "washer": Part(38.0, 0.0, 10.0, 0.5),
}
"""Parts of the reference home (coefficients from memory; a garage's 100 kWh is within the outdoor lights'
doubt)."""

LEAST_PLUGS = 0.3
"""Share of the small plugs that stays unlisted however long the list is (our own judgement)."""

FURNACE_FAN_KWH_PER_YEAR = 211.0
"""26 TWh of furnace fans (EIA FAQ 96, 2022, read) over 123.5 million homes (EIA RECS 2020, read)."""

DEFAULT_FLOOR_AREA_FT2 = 1600.0
DEFAULT_BEDROOMS = 3.0
"""A middling house, where nothing is known (our own judgement)."""

KNOWN_HOUSE_PERCENT = 80.0
"""95 % limit of the reference where floor area and bedrooms or occupants are known: households of one size
differ by more than two to one (our own judgement; no published figure was found)."""

UNKNOWN_HOUSE_PERCENT = 110.0
"""The same where the floor area or the household is not known (our own judgement)."""

STATED_WITHIN_PERCENT = 50.0
"""95 % limit of an amount the householder states without its limit (our own judgement)."""

FUELS_WITH_A_FAN = ("gas", "natural gas", "propane", "oil", "wood pellets")


def parts_kwh_per_year(floor_area_ft2: float, bedrooms: float) -> dict[str, float]:
    """Yearly energy of each part of the reference home.

    Parameters
    ----------
    floor_area_ft2 : float
        Conditioned floor area [ft^2].
    bedrooms : float
        Number of bedrooms.

    Returns
    -------
    dict of str to float
        Energy of each part [kWh].

    Examples
    --------
    >>> round(sum(parts_kwh_per_year(2000.0, 3.0).values()))
    7044
    """
    return {
        name: part.base + part.per_ft2 * floor_area_ft2 + part.per_bedroom * bedrooms for name, part in PARTS.items()
    }


def unlisted(house: House) -> tuple[float, float]:
    """Energy a day of what is not on the list, with its 95 % limit.

    The reference's parts that the list names are taken out; of the small plugs, what the list names of
    them. Parts not named count with the chance that they are there all the same. An electric water heater
    or a furnace fan that the house must have by its fuels, and the list lacks, is added. What the
    householder states of it (``house.band``) goes before all this.

    Parameters
    ----------
    house : House
        Nothing but its bills need be known.

    Returns
    -------
    kwh_per_day : float
        Expected energy [kWh/d], never negative.
    within_percent : float
        Its 95 % limit [%]; 0 only where the energy itself is 0.
    """
    stated, within = house.band.unlisted_kwh_per_day, house.band.unlisted_within_percent
    if stated is not None:
        return max(stated, 0.0), STATED_WITHIN_PERCENT if within is None else within
    mean, variance = _moments(house)
    reckoned = 196.0 * variance**0.5 / mean if mean > 0.0 else 0.0
    return mean / DAYS_A_YEAR, reckoned if within is None else within


def _moments(house: House) -> tuple[float, float]:
    """Mean [kWh/year] and variance: a common scale, and the chance that a part is there."""
    known = house.floor_area_m2 is not None and (house.bedrooms is not None or house.occupants is not None)
    common = (KNOWN_HOUSE_PERCENT if known else UNKNOWN_HOUSE_PERCENT) / 196.0
    mean, chance_variance = 0.0, 0.0
    for energy, chance in _remaining(house):
        mean += chance * energy
        chance_variance += chance * (1.0 - chance) * energy**2
    return mean, chance_variance + (common * mean) ** 2


def _remaining(house: House) -> list[tuple[float, float]]:
    """Energy [kWh/year] of each part the list lacks, and the chance that it is there."""
    parts = parts_kwh_per_year(_area_ft2(house), _bedrooms(house))
    listed = _listed_kwh_per_year(house.loads)
    left = []
    for name, energy in parts.items():
        if name == "plugs":
            left.append((max(energy - listed.get("plugs", 0.0), LEAST_PLUGS * energy), 1.0))
        elif name not in listed:
            left.append((energy, PARTS[name].chance_unlisted if house.loads else 1.0))
    if _plain(house.water_heating_fuel) == "electric" and "hot water" not in listed:
        left.append((heater_kwh_per_year(ENERGY_FACTOR) * household_factor("hot water", house), 1.0))
    heated = "furnace fan" in listed or any(load.follows == "heating" for load in house.loads)
    if _plain(house.heating_fuel) in FUELS_WITH_A_FAN and not heated:
        left.append((FURNACE_FAN_KWH_PER_YEAR, 1.0))
    return left


def warms_water(house: House) -> bool:
    """Whether electricity heats this home's water, by its list or by what its owner says."""
    listed = {kinds[0].part for load in house.loads if (kinds := find(load.name))}
    return "hot water" in listed or _plain(house.water_heating_fuel) == "electric"


def heater_kwh_per_year(energy_factor: float) -> float:
    """Yearly electricity of a water heater by the DOE cost rule.

    Parameters
    ----------
    energy_factor : float
        As on the label, above 0.

    Returns
    -------
    float
        Energy [kWh]: 365 x 12.03 / energy factor.

    Examples
    --------
    >>> round(heater_kwh_per_year(0.90))
    4879
    """
    return DAYS_A_YEAR * COST_RULE_KWH_PER_DAY / energy_factor


def daily_gallons(bedrooms: float) -> float:
    """Hot water a household draws in a day [US gal/d], by its bedrooms or people (Building America, from memory)."""
    return 30.0 + 10.0 * bedrooms


USED_BY_PEOPLE = ("range", "dryer", "dishwasher", "washer", "lights")
"""Parts of which there is one a house, used the more the larger the household or its floor."""


def household_factor(part: str, house: House) -> float:
    """Use of one part by this household over that of a middling one; 1 where its size is not known.

    Parameters
    ----------
    part : str
        Of the whole-house reference, or ``hot water``.
    house : House
        Its bedrooms, people and floor area.

    Examples
    --------
    >>> household_factor("hot water", House("one", (), occupants=1.0))
    0.6666666666666666
    """
    bedrooms = _bedrooms(house)
    if part == "hot water":
        return daily_gallons(bedrooms) / daily_gallons(DEFAULT_BEDROOMS)
    if part not in USED_BY_PEOPLE:
        return 1.0
    mine, middling = (
        parts_kwh_per_year(_area_ft2(house), bedrooms),
        parts_kwh_per_year(DEFAULT_FLOOR_AREA_FT2, DEFAULT_BEDROOMS),
    )
    return mine[part] / middling[part]


def _area_ft2(house: House) -> float:
    known = house.floor_area_m2
    return DEFAULT_FLOOR_AREA_FT2 if known is None else known * SQUARE_FEET_A_SQUARE_METRE


def _bedrooms(house: House) -> float:
    if house.bedrooms is not None:
        return house.bedrooms
    if house.occupants is not None:
        return max(house.occupants, 1.0)
    return DEFAULT_BEDROOMS


def _listed_kwh_per_year(loads: tuple[Load, ...]) -> dict[str, float]:
    """Yearly energy on the list by part of the reference; a part listed counts even without energy."""
    listed: dict[str, float] = {}
    for load in loads:
        kinds = find(load.name)
        part = kinds[0].part if kinds else "plugs"
        energy = 0.0 if load.follows in ("heating", "cooling") else _yearly_kwh(load)
        listed[part] = listed.get(part, 0.0) + energy
    return listed


def _yearly_kwh(load: Load) -> float:
    """Rough yearly energy of a listed load [kWh]; only says how much of the plugs is already named."""
    share_of_year = 1.0 if load.months is None else len(load.months) / 12.0
    if load.kwh_per_year is not None:
        return load.count * load.kwh_per_year
    if load.kwh_per_cycle is not None:
        return load.count * load.kwh_per_cycle * (load.cycles_per_week or 0.0) * 365.0 / 7.0 * share_of_year
    hours = 24.0 if load.follows == "always" else (load.run_hours or 0.0)
    on_hours = hours * load.share_on
    watt_hours = (load.watts or 0.0) * on_hours + load.standby_watts * (24.0 - on_hours)
    return load.count * watt_hours * DAYS_A_YEAR * share_of_year / 1000.0


def _plain(text: str | None) -> str:
    return " ".join((text or "").casefold().split())
