"""The load inventory as the householder writes it, and the house that is truly behind it.

A house is first drawn as it is written down; the truth then departs from every figure by its stated limits
(the plain world) or by more than that (the unkind one).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from dwelling import Appliance, Conditioner, Dwelling

from reconcile.house import Load, Source

LIMITS: dict[Source, tuple[float, float]] = {
    # 95 % limits of watts and of hours [%] as a careful person would state them; our guess of common practice
    "measured": (4.0, 12.0),
    "nameplate": (12.0, 30.0),
    "label": (15.0, 15.0),
    "guessed": (30.0, 45.0),
}
CONDITIONER_WATTS, CONDITIONER_HOURS = 12.0, 20.0
UNLISTED_LIMIT = 80.0


@dataclass(frozen=True)
class Hand:
    """How well the householder writes.

    ``narrow``: true scatter over stated limits, drawn for each figure between these two. ``lean``: the part
    by which all guessed hours are too low, mean and standard deviation. ``balance_sd_c``: doubt of a stated
    balance temperature [K]. ``states_all``: whether every limit, balance and the unlisted rest are written
    down.
    """

    narrow: tuple[float, float] = (1.0, 1.0)
    lean: tuple[float, float] = (0.0, 0.0)
    balance_sd_c: float = 1.0
    states_all: bool = True
    digits: int = 3


PLAIN_HAND = Hand()
UNKIND_HAND = Hand((1.0, 2.5), (0.08, 0.12), 2.0, False, 2)


@dataclass(frozen=True)
class Written:
    """The house that is, and what its householder says of it."""

    true: Dwelling
    loads: tuple[Load, ...]
    unlisted_kwh_per_day: float | None
    unlisted_within_percent: float | None


def off_by(rng: np.random.Generator, limit_percent: float, hand: Hand) -> float:
    """Truth over what is stated: mean 1, 95 % of them within the limit where the hand is honest."""
    spread = limit_percent / 196.0 * float(rng.uniform(*hand.narrow))
    if limit_percent <= 20:
        return float(max(1.0 + spread * rng.standard_normal(), 0.3))
    width = np.sqrt(np.log(1 + spread**2))
    return float(np.exp(width * rng.standard_normal() - width**2 / 2))


def rounded(value: float, digits: int) -> float:
    """Keep so many digits, as people do."""
    return float(f"{value:.{digits}g}")


def write(rng: np.random.Generator, nominal: Dwelling, hand: Hand) -> Written:
    """One householder's whole list, and the house behind it."""
    lean = float(np.clip(rng.normal(*hand.lean), -0.3, 0.5))
    cooled = [_conditioner(rng, thing, hand) for thing in nominal.conditioners]
    used = [_appliance(rng, thing, hand, lean) for thing in nominal.appliances]
    rest_off = off_by(rng, UNLISTED_LIMIT, hand)
    true = replace(
        nominal,
        conditioners=tuple(thing for thing, _ in cooled),
        appliances=tuple(thing for thing, _ in used),
        unlisted_always_watts=nominal.unlisted_always_watts * rest_off,
        unlisted_evening_kwh=nominal.unlisted_evening_kwh * rest_off,
    )
    loads = tuple(load for _, load in cooled) + tuple(load for _, load in used)
    if not hand.states_all and rng.random() < 0.5:
        return Written(true, loads, None, None)
    return Written(true, loads, rounded(nominal.unlisted_kwh_a_day, 2), UNLISTED_LIMIT)


def _appliance(rng: np.random.Generator, thing: Appliance, hand: Hand, lean: float) -> tuple[Appliance, Load]:
    source: Source = "label" if thing.label else _source(rng)
    watts_limit, hours_limit = LIMITS[source]
    said = hand.states_all or rng.random() >= 0.3  # else left to the program's own limits for how it was obtained
    watts_off, hours_off = off_by(rng, watts_limit, hand), off_by(rng, hours_limit, hand)
    digits = hand.digits

    def limited(load: Load, *, hours: bool) -> Load:
        if not said:
            return load
        return replace(load, watts_within_percent=watts_limit, hours_within_percent=hours_limit if hours else None)

    if thing.nature == "always":
        load = Load(thing.name, watts=rounded(thing.watts, digits), follows="always", source=source)
        return replace(thing, watts=thing.watts * watts_off), limited(load, hours=False)
    if thing.nature == "box" and source == "label":
        load = Load(thing.name, kwh_per_year=rounded(365 * thing.kwh, digits), follows="always", source=source)
        return replace(thing, kwh=thing.kwh * watts_off), limited(load, hours=False)
    if thing.nature == "box":
        duty = round(min(1000 * thing.kwh / 24 / thing.watts, 1.0), digits)
        load = Load(thing.name, watts=rounded(thing.watts, digits), run_hours=24.0, share_on=duty, source=source)
        return replace(thing, kwh=thing.kwh * watts_off * hours_off), limited(load, hours=True)
    hours_off /= 1.0 - lean
    if thing.nature == "cycles":
        kwh, weekly = rounded(thing.kwh, digits), rounded(thing.per_week, digits)
        load = Load(thing.name, kwh_per_cycle=kwh, cycles_per_week=weekly, source=source)
        true = replace(thing, kwh=thing.kwh * watts_off, per_week=thing.per_week * hours_off)
        return true, limited(load, hours=True)
    load = Load(
        thing.name,
        watts=rounded(thing.watts, digits),
        run_hours=rounded(thing.hours, digits),
        standby_watts=rounded(thing.standby, digits),
        months=thing.months,
        source=source,
    )
    hours = min(thing.hours * hours_off, 20.0)
    return replace(thing, watts=thing.watts * watts_off, hours=hours), limited(load, hours=True)


def _source(rng: np.random.Generator) -> Source:
    drawn = rng.random()
    return "measured" if drawn < 0.2 else "nameplate" if drawn < 0.7 else "guessed"


def _conditioner(rng: np.random.Generator, thing: Conditioner, hand: Hand) -> tuple[Conditioner, Load]:
    """Half the people know the hours a degree-day from a log, half know only watts."""
    known = rng.random() < 0.5
    balance: float | None = round(2 * thing.balance_c) / 2
    if not hand.states_all and rng.random() < 0.5:
        balance = None
    load = Load(
        thing.name,
        watts=rounded(thing.watts, hand.digits),
        follows=thing.nature,
        balance_c=balance,
        watts_within_percent=CONDITIONER_WATTS,
    )
    true = replace(
        thing,
        watts=thing.watts * off_by(rng, CONDITIONER_WATTS, hand),
        balance_c=thing.balance_c + float(rng.normal(0, hand.balance_sd_c)),
    )
    if known:
        load = replace(
            load,
            hours_per_degree_day=rounded(thing.hours_per_kelvin_day, hand.digits),
            hours_within_percent=CONDITIONER_HOURS,
        )
        hours = thing.hours_per_kelvin_day * off_by(rng, CONDITIONER_HOURS, hand)
        true = replace(true, hours_per_kelvin_day=hours)
    return true, load
