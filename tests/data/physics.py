"""An invented house, hour by hour: weather, loads as they truly are, a meter, and bills from its register.

Written for the sample houses only and without anything of the program's own, so that a sample's known end
does not rest on the model that is to find it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from zoneinfo import ZoneInfo

import numpy as np

# Share of a day's use that falls in each local hour, before normalising; invented.
SHAPES = {
    "flat": np.ones(24),
    "evening": np.array([1, 0, 0, 0, 0, 0, 2, 3, 1, 1, 1, 1, 2, 1, 1, 2, 4, 7, 9, 9, 8, 7, 5, 2], float),
    "morning": np.array([0, 0, 0, 0, 0, 1, 6, 8, 4, 2, 1, 1, 1, 1, 1, 1, 2, 3, 3, 2, 2, 1, 1, 0], float),
    "day": np.array([0, 0, 0, 0, 0, 0, 0, 1, 3, 5, 6, 6, 6, 6, 6, 5, 4, 3, 2, 1, 1, 0, 0, 0], float),
    "night": np.array([5, 5, 5, 5, 5, 4, 1, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 3, 4, 5, 5, 5], float),
}


@dataclass(frozen=True)
class Item:
    """A load: what the household writes down, and by what the truth differs from it."""

    name: str
    watts: float | str | None = None
    run_hours: float | None = None
    count: int = 1
    share_on: float | None = None
    follows: str = ""
    months: str = ""
    arrives: str = ""
    leaves: str = ""
    watts_within: float | None = None
    hours_within: float | None = None
    source: str = "nameplate"
    note: str = ""
    balance: float | None = None  # in the file's unit
    hours_per_degree_day: float | None = None  # likewise
    kwh_per_year: float | None = None
    kwh_per_cycle: float | None = None
    cycles_per_week: float | None = None
    standby_watts: float | None = None
    shape: str = "evening"
    true_watts: float | None = None  # where watts is a text with a unit
    factor: float | None = None  # truth over what is written; None is drawn within the stated limits
    kind: str = ""  # "heat-pump", "strip", "cooling", "fan": the physics of Climate instead of hours


@dataclass(frozen=True)
class Climate:
    """An invented place [degC], and how the house answers it [W/K]."""

    mean_c: float
    swing_c: float
    daily_c: float = 2.8
    heat_w_per_k: float = 0.0
    heat_balance_c: float = 16.0
    cool_w_per_k: float = 0.0
    cool_balance_c: float = 20.5
    cold_spells: tuple[tuple[str, str, float], ...] = ()


@dataclass(frozen=True)
class Household:
    """Everything the sample's world is made of."""

    seed: int
    timezone: str
    climate: Climate
    items: tuple[Item, ...]
    reading_days: tuple[date, ...]
    unlisted_w: float = 45.0
    hidden_watts: tuple[tuple[str, float], ...] = ()  # a load nobody knows of: from a day, watts
    meter_factor: tuple[tuple[str, float], ...] = ()  # registration from a day on
    habit_sd: float = 0.04
    register_start: float = 41207.3
    new_register_days: tuple[date, ...] = ()


@dataclass
class World:
    """What happened."""

    seconds: np.ndarray
    day: np.ndarray  # index from the first day
    hour: np.ndarray
    temperature_c: np.ndarray
    true_kwh: np.ndarray
    metered_kwh: np.ndarray
    first: date
    days: int
    factors: dict[str, float] = field(default_factory=dict)


def reading_days(first: str, count: int, seed: int) -> tuple[date, ...]:
    """A meter reader's round: 29 to 33 days apart."""
    steps = np.random.default_rng(seed).choice([29, 30, 30, 31, 31, 32, 33], size=count)
    days = [date.fromisoformat(first)]
    for step in steps:
        days.append(days[-1] + timedelta(days=int(step)))
    return tuple(days)


def live(home: Household) -> World:
    """Run the house from its first to its last reading."""
    rng = np.random.default_rng(home.seed)
    zone = ZoneInfo(home.timezone)
    first, last = home.reading_days[0], home.reading_days[-1]
    begin, end = (int(datetime(d.year, d.month, d.day, tzinfo=zone).timestamp()) for d in (first, last))
    seconds = np.arange(begin, end, 3600)
    local = [datetime.fromtimestamp(int(s), UTC).astimezone(zone) for s in seconds]
    day = np.array([(moment.date() - first).days for moment in local])
    hour = np.array([moment.hour for moment in local])
    days = (last - first).days
    temperature = _temperature(home.climate, rng, first, days, day, hour)
    calendar = [first + timedelta(days=d) for d in range(days)]
    month = np.array([d.month for d in calendar])
    serial = np.array([d.year * 12 + d.month for d in calendar])
    habits = {m: float(np.exp(rng.normal(0.0, home.habit_sd))) for m in np.unique(serial)}
    habit = np.array([habits[m] for m in serial])
    watts = np.full(len(seconds), home.unlisted_w)
    factors = {}
    for item in home.items:
        factor = item.factor if item.factor is not None else _drawn(item, rng)
        factors[item.name] = factor
        watts = watts + factor * _item_watts(item, home.climate, rng, calendar, month, habit, day, hour, temperature)
    for since, extra in home.hidden_watts:
        watts = watts + extra * (day >= (date.fromisoformat(since) - first).days)
    registration = np.ones(len(seconds))
    for since, ratio in home.meter_factor:
        registration[day >= (date.fromisoformat(since) - first).days] = ratio
    return World(seconds, day, hour, temperature, watts / 1000.0, watts / 1000.0 * registration, first, days, factors)


def _drawn(item: Item, rng: np.random.Generator) -> float:
    """A truth for which the stated 95 % limits are honest."""
    watts = rng.normal(0.0, (item.watts_within or 0.0) / 196.0)
    hours = rng.normal(0.0, (item.hours_within or 0.0) / 196.0)
    return float(np.exp(watts + hours))


def _temperature(
    climate: Climate, rng: np.random.Generator, first: date, days: int, day: np.ndarray, hour: np.ndarray
) -> np.ndarray:
    anomaly = np.zeros(days)
    for d in range(1, days):
        anomaly[d] = 0.72 * anomaly[d - 1] + rng.normal(0.0, climate.daily_c)
    of_year = np.array([(first + timedelta(days=d)).timetuple().tm_yday for d in range(days)])
    mean = climate.mean_c - climate.swing_c * np.cos(2 * np.pi * (of_year - 20) / 365.25) + anomaly
    for since, until, change in climate.cold_spells:
        a = (date.fromisoformat(since) - first).days
        b = (date.fromisoformat(until) - first).days
        mean[a:b] += change
    half_range = rng.uniform(2.5, 6.5, size=days)
    return mean[day] - half_range[day] * np.cos(2 * np.pi * (hour - 4) / 24.0)


def _item_watts(
    item: Item,
    climate: Climate,
    rng: np.random.Generator,
    calendar: list[date],
    month: np.ndarray,
    habit: np.ndarray,
    day: np.ndarray,
    hour: np.ndarray,
    temperature: np.ndarray,
) -> np.ndarray:
    power = item.true_watts if item.true_watts is not None else float(item.watts or 0.0)
    present = np.ones(len(calendar))
    if item.months:
        present *= np.isin(month, _months(item.months))
    if item.arrives:
        present *= [d >= date.fromisoformat(item.arrives) for d in calendar]
    if item.leaves:
        present *= [d < date.fromisoformat(item.leaves) for d in calendar]
    here = present[day]
    if item.kind:
        return here * _climate_watts(item.kind, power, climate, temperature)
    if item.follows == "always":
        return here * power * item.count * (item.share_on or 1.0)
    if item.kwh_per_year is not None:
        mean = np.full(len(calendar), item.kwh_per_year / 365.0)
    elif item.kwh_per_cycle is not None:
        mean = np.full(len(calendar), item.kwh_per_cycle * float(item.cycles_per_week or 0.0) / 7.0)
    else:
        mean = np.full(
            len(calendar), power * item.count * float(item.run_hours or 0.0) * (item.share_on or 1.0) / 1000.0
        )
    spread = rng.gamma(8.0, 1.0 / 8.0, size=len(calendar))
    shape = SHAPES[item.shape] / SHAPES[item.shape].sum()
    standby = (item.standby_watts or 0.0) * (1.0 - float(item.run_hours or 0.0) / 24.0)
    return here * ((mean * habit * spread)[day] * shape[hour] * 1000.0 + standby)


def _climate_watts(kind: str, power: float, climate: Climate, temperature: np.ndarray) -> np.ndarray:
    """Electric power of heating and cooling from the house's own balance [W]."""
    need = climate.heat_w_per_k * np.maximum(climate.heat_balance_c - temperature, 0.0)
    ability = np.clip(9000.0 + 260.0 * (temperature - 8.0), 3500.0, 12000.0)
    if kind == "strip":
        return np.clip(need - ability, 0.0, power)
    if kind == "heat-pump":
        return np.minimum(np.minimum(need, ability) / np.clip(2.9 + 0.06 * temperature, 1.6, 4.0), power)
    if kind == "resistance":
        return np.minimum(need, power)
    if kind == "fan":
        return power * np.minimum(need / 18000.0, 1.0)
    warm = climate.cool_w_per_k * np.maximum(temperature - climate.cool_balance_c, 0.0)
    return np.minimum(warm / 3.1, power)


def _months(text: str) -> list[int]:
    out = []
    for piece in text.split(","):
        first, _, last = piece.partition("-")
        out += list(range(int(first), int(last or first) + 1))
    return out


def register_readings(home: Household, world: World) -> list[tuple[float, float]]:
    """Whole kWh on the register at the opening and the closing of each period, five dials."""
    edges = [(d - world.first).days for d in home.reading_days]
    total = np.array([world.metered_kwh[world.day < edge].sum() for edge in edges])
    out = []
    shown, base = home.register_start, 0.0
    for i in range(len(edges) - 1):
        if home.reading_days[i] in home.new_register_days:
            shown, base = 0.0, total[i]
        opening, closing = (np.floor(shown + total[k] - base + 1e-9) % 100000 for k in (i, i + 1))
        out.append((float(opening), float(closing)))
    return out


def cents(value: Decimal) -> Decimal:
    """Round half up, as bills do."""
    return value.quantize(Decimal("0.01"), rounding=ROUND_HALF_UP)


def amount(kwh: float, fixed: str, price: str, tax_percent: str) -> Decimal:
    """A bill of three lines, each rounded, then added."""
    lines = [cents(Decimal(fixed)), cents(Decimal(str(kwh)) * Decimal(price))]
    lines.append(cents(sum(lines, Decimal(0)) * Decimal(tax_percent) / 100))
    return sum(lines, Decimal(0))
