"""Simulated homes by the minute, with appliances that switch, a supply whose volts wander, and a meter."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.clock import local_instants, local_seconds
from reconcile.house import House, Interval, Weather

ZONE = ZoneInfo("America/Chicago")
DAY = 1440


@dataclass(frozen=True)
class Appliance:
    """Watts while on, runs a day, minutes a run, and the share of hot or cold days on which it runs."""

    name: str
    watts: float
    runs: float
    minutes: tuple[float, float]
    resistive: bool = True
    follows: str = "clock"
    duty: tuple[float, float] | None = None
    """Minutes on and off of a thermostat within a run."""


COMMON = (
    Appliance("kettle", 1500.0, 3.0, (2, 5)),
    Appliance("microwave", 1600.0, 3.0, (1, 6), resistive=False),
    Appliance("toaster", 900.0, 1.0, (2, 4)),
    Appliance("coffee maker", 1000.0, 1.0, (6, 12)),
    Appliance("dishwasher element", 1250.0, 0.6, (12, 25)),
    Appliance("refrigerator", 140.0, 30.0, (15, 25), resistive=False),
)
LARGE = (
    Appliance("water heater", 4500.0, 3.5, (10, 45)),
    Appliance("dryer", 5200.0, 0.6, (30, 60), duty=(8, 4)),
    Appliance("oven", 2600.0, 0.7, (30, 70), duty=(3, 4)),
    Appliance("space heater", 1500.0, 1.0, (60, 240), follows="cold"),
    Appliance("air conditioner", 2900.0, 12.0, (12, 40), resistive=False, follows="hot"),
    Appliance("pool pump", 1100.0, 1.0, (240, 420), resistive=False, follows="hot"),
    Appliance("iron", 1200.0, 0.3, (20, 40), duty=(1, 2)),
    Appliance("furnace fan", 450.0, 14.0, (10, 25), resistive=False, follows="cold"),
)


@dataclass(frozen=True, eq=False)
class Home:
    """Power by the minute before the meter [W], split by how it follows the volts; and the volts."""

    seconds: np.ndarray
    watts: dict[str, np.ndarray]
    resistive: frozenset[str]
    base: np.ndarray
    volts: np.ndarray
    mean_c: np.ndarray
    first: date
    extra: np.ndarray = field(default_factory=lambda: np.zeros(0))

    def power(self) -> np.ndarray:
        """Power the meter sees [W]."""
        square = (self.volts / 240.0) ** 2
        total = self.base.copy()
        for name, watts in self.watts.items():
            total += watts * square if name in self.resistive else watts
        return total + (self.extra if len(self.extra) else 0.0)


def home(seed: int, days: int = 365, first: date = date(2024, 3, 5)) -> Home:
    """An invented home: the common appliances and some of the large ones, each with its own watts."""
    rng = np.random.default_rng(seed)
    begin = int(local_instants([first], ZONE)[0])
    n = days * DAY
    day_of_year = (np.arange(days) + first.timetuple().tm_yday) / 365.25
    mean_c = (
        11.0 - 13.0 * np.cos(2 * np.pi * (day_of_year - 0.06)) + np.convolve(rng.normal(0, 4, days), [0.5, 0.5], "same")
    )
    cold, hot = np.clip((15.0 - mean_c) / 15.0, 0, 1.2), np.clip((mean_c - 19.0) / 8.0, 0, 1.2)
    chosen = [*COMMON, *(LARGE[i] for i in rng.choice(len(LARGE), int(rng.integers(3, 6)), replace=False))]
    watts: dict[str, np.ndarray] = {}
    for appliance in chosen:
        own = appliance.watts * rng.uniform(0.85, 1.15)
        often = {"clock": np.ones(days), "cold": cold, "hot": hot}[appliance.follows] * appliance.runs
        watts[appliance.name] = _runs(rng, appliance, own, rng.poisson(often), n)
    base = rng.uniform(90, 350) + 15 * rng.standard_normal(n)
    evening = np.exp(-((((np.arange(n) % DAY) - 20 * 60) / 150.0) ** 2))
    habit = np.repeat(rng.gamma(8, 1 / 8, days), DAY)
    base += rng.uniform(80, 300) * evening * habit
    base += np.repeat(rng.gamma(1.0, 40.0, n // 15 + 1), 15)[:n]
    minute = np.arange(n)
    slow = np.repeat(np.convolve(rng.normal(0, 1.0, days + 60), np.ones(60) / 60, "valid")[:days] * 8.0 * 0.6, DAY)
    volts = 240.0 + slow - 2.0 * evening + rng.normal(0, 0.8, n) + 0.5 * np.sin(minute / 300.0)
    resistive = frozenset(a.name for a in chosen if a.resistive)
    return Home(begin + 60 * np.arange(n), watts, resistive, np.maximum(base, 20.0), volts, mean_c, first)


def _runs(rng: np.random.Generator, appliance: Appliance, own: float, counts: np.ndarray, n: int) -> np.ndarray:
    """Minute means of an appliance's runs; the first and last minute are mixed."""
    on = np.zeros(n + 1)
    total = int(counts.sum())
    day = np.repeat(np.arange(len(counts)), counts)
    awake = rng.random(total) < 0.85
    hour = np.where(awake, rng.uniform(6.5, 23.0, total), rng.uniform(0, 24, total))
    if appliance.follows != "clock" or appliance.name == "refrigerator":
        hour = rng.uniform(0, 24, total)
    start = day * DAY + hour * 60.0
    minutes = rng.uniform(*appliance.minutes, total)
    if appliance.duty is None:
        begin, end = start, start + minutes
    else:
        cycle = sum(appliance.duty)
        cycles = np.maximum((minutes / cycle).astype(int), 1)
        which = np.concatenate([np.arange(c) for c in cycles]) if total else np.zeros(0)
        begin = np.repeat(start, cycles) + which * cycle
        end = begin + appliance.duty[0]
    for edge, sign in ((np.clip(begin, 0, n - 1e-6), 1.0), (np.clip(end, 0, n - 1e-6), -1.0)):
        whole = edge.astype(int)
        part = edge - whole
        np.add.at(on, whole, sign * (1.0 - part))
        np.add.at(on, np.minimum(whole + 1, n), sign * part)
    return own * np.clip(np.cumsum(on)[:n], 0.0, 1.0)


def metered(
    made: Home,
    minutes: int = 15,
    *,
    gain: float = 0.0,
    since: int = 0,
    resolution_kwh: float = 0.001,
    volts: bool = False,
) -> Interval:
    """What a meter that is fast by ``gain`` from a day on records."""
    power = made.power()
    power = power * np.where(np.arange(len(power)) >= since * DAY, 1.0 + gain, 1.0)
    whole = len(power) // minutes * minutes
    kwh = power[:whole].reshape(-1, minutes).mean(axis=1) * minutes / 60_000.0
    register = np.concatenate([[0.0], np.cumsum(kwh)])
    kwh = np.round(np.diff(np.floor(register / resolution_kwh)) * resolution_kwh, 6)
    mean_volts = made.volts[:whole].reshape(-1, minutes).mean(axis=1) if volts else None
    starts = made.seconds[:whole:minutes].astype("datetime64[s]")
    return Interval(starts, kwh, minutes * 60, volts=None if mean_volts is None else np.round(mean_volts, 1))


def timed(minute: np.ndarray, hour: float, hours: float) -> np.ndarray:
    """Whether a timer is on at some minutes of its clock; it may run past midnight."""
    on: np.ndarray = (minute % DAY - hour * 60.0) % DAY < hours * 60.0
    return on


def with_timed(made: Home, watts: float, clock: tuple[float, float], since: int, until: int = 10**6) -> Home:
    """A load on a timer that keeps to the clock on the wall, from one day to another."""
    acts = (np.arange(len(made.base)) >= since * DAY) & (np.arange(len(made.base)) < until * DAY)
    wall = local_seconds(made.seconds, ZONE) // 60
    return replace(made, base=made.base + watts * acts * timed(wall, *clock))


def with_load(made: Home, watts: float, since: int) -> Home:
    """A round-the-clock load from a day on."""
    extra = np.where(np.arange(len(made.seconds)) >= since * DAY, watts, 0.0)
    return replace(made, extra=extra)


def with_runs(made: Home, watts: float, since: int, seed: int = 0, element: float = 4500.0) -> Home:
    """Hot water that runs off from a day on: its element goes on and off day and night, about every two hours."""
    rng = np.random.default_rng([15, seed])
    every = rng.uniform(80, 160, len(made.seconds) // 80)
    on = np.rint(np.cumsum(every)).astype(int)
    on, every = on[on < len(made.seconds)], every[: np.count_nonzero(np.cumsum(every) < len(made.seconds))]
    edges = np.zeros(len(made.seconds) + 1)
    for at, length in zip(on, np.rint(every * watts / element).astype(int), strict=False):
        edges[at] += element
        edges[min(at + length, len(made.seconds))] -= element
    extra = np.where(np.arange(len(made.seconds)) >= since * DAY, np.cumsum(edges)[:-1], 0.0)
    return replace(made, extra=extra)


def with_growth(made: Home, watts: float, since: int, days: int) -> Home:
    """A round-the-clock load that grows from a day on for so many days, and stays."""
    extra = watts * np.clip((np.arange(len(made.seconds)) / DAY - since) / days, 0.0, 1.0)
    return replace(made, extra=extra)


def replaced(made: Home, name: str, factor: float, since: int) -> Home:
    """An appliance replaced by one of other watts from a day on."""
    change = np.where(np.arange(len(made.seconds)) >= since * DAY, factor, 1.0)
    return replace(made, watts={**made.watts, name: made.watts[name] * change})


def low_volts(made: Home, part: float, begin: int, end: int) -> Home:
    """Volts lower by a part between two days."""
    day = np.arange(len(made.seconds)) // DAY
    return replace(made, volts=made.volts * np.where((day >= begin) & (day < end), 1.0 - part, 1.0))


def new_heater(made: Home, watts: float, since: int, seed: int) -> Home:
    """A heater that comes and is used every day from a day on."""
    rng = np.random.default_rng(seed)
    days = len(made.seconds) // DAY
    heater = Appliance("new heater", watts, 2.0, (60, 240))
    counts = np.where(np.arange(days) >= since, rng.poisson(2.0, days), 0)
    return replace(
        made,
        watts={**made.watts, heater.name: _runs(rng, heater, watts, counts, len(made.seconds))},
        resistive=made.resistive | {heater.name},
    )


def solar(made: Home, kw: float, since: int, seed: int) -> tuple[Home, np.ndarray]:
    """The house with panels, and what is sent back each minute [W]."""
    rng = np.random.default_rng(seed)
    minute = np.arange(len(made.seconds)) % DAY
    day = np.arange(len(made.seconds)) // DAY
    sun = np.clip(np.sin(np.pi * (minute / 60.0 - 6.5) / 12.0), 0, None) * (minute > 390) * (minute < 1110)
    cloud = np.repeat(rng.uniform(0.2, 1.0, len(made.seconds) // 10 + 1), 10)[: len(made.seconds)]
    made_w = 1000.0 * kw * sun * cloud * (day >= since)
    power = made.power()
    net = power - made_w
    drawn = np.maximum(net, 0.0)
    bare = replace(made, watts={}, base=drawn, extra=np.zeros(0))
    return bare, np.maximum(-net, 0.0)


def as_house(made: Home, interval: Interval) -> House:
    """The home without bills, with its weather."""
    return House("Invented", (), timezone=ZONE.key, interval=interval, weather=Weather(made.first, made.mean_c))
