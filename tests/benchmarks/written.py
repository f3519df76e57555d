"""The load inventory as the householder writes it: out by its stated limits, or by more than that."""

from __future__ import annotations

from dataclasses import dataclass

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


@dataclass(frozen=True)
class Hand:
    """How well the householder writes.

    ``narrow``: true scatter over stated limits, drawn for each figure between these two. ``lean``: the part
    by which all guessed hours are too low, mean and standard deviation. ``balance_sd_c``: doubt of a stated
    balance [K]. ``states_all``: whether every limit and the unlisted rest are written down.
    """

    narrow: tuple[float, float] = (1.0, 1.0)
    lean: tuple[float, float] = (0.0, 0.0)
    balance_sd_c: float = 1.0
    states_all: bool = True
    digits: int = 3


PLAIN_HAND = Hand()
UNKIND_HAND = Hand((1.0, 2.5), (0.08, 0.12), 2.0, False, 2)


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


def write_loads(rng: np.random.Generator, dwelling: Dwelling, hand: Hand) -> tuple[Load, ...]:
    """The whole list of one householder."""
    lean = float(rng.normal(*hand.lean))
    lines = [write_conditioner(rng, thing, dwelling, hand) for thing in dwelling.conditioners]
    lines += [write_appliance(rng, thing, hand, lean) for thing in dwelling.appliances]
    return tuple(lines)


def write_appliance(rng: np.random.Generator, thing: Appliance, hand: Hand, lean: float) -> Load:
    """One line of the list."""
    source: Source = (
        "label" if thing.label else str(rng.choice(["measured", "nameplate", "guessed"], p=[0.2, 0.5, 0.3]))
    )  # type: ignore[assignment]
    watts_limit, hours_limit = LIMITS[source]
    digits = hand.digits
    stated = {"watts_within_percent": watts_limit, "hours_within_percent": hours_limit}
    if not hand.states_all and rng.random() < 0.3:
        stated = {}  # left to the program's own limits for how it was obtained
    slack = 1.0 - lean if source != "label" else 1.0
    if thing.nature == "always":
        watts = rounded(thing.watts / off_by(rng, watts_limit, hand), digits)
        stated.pop("hours_within_percent", None)
        return Load(thing.name, watts=watts, follows="always", source=source, **stated)
    if thing.nature == "box":
        return _box(rng, thing, source, hand, stated)
    hours_off = off_by(rng, hours_limit, hand)
    if thing.nature == "cycles":
        kwh = rounded(thing.kwh / off_by(rng, watts_limit, hand), digits)
        weekly = rounded(max(thing.per_week / hours_off * slack, 0.1), digits)
        return Load(thing.name, kwh_per_cycle=kwh, cycles_per_week=weekly, source=source, **stated)
    watts = rounded(thing.watts / off_by(rng, watts_limit, hand), digits)
    hours = rounded(float(np.clip(thing.hours / hours_off * slack, 0.02, 24)), digits)
    return Load(
        thing.name,
        watts=watts,
        run_hours=hours,
        standby_watts=rounded(thing.standby, digits),
        months=thing.months,
        source=source,
        **stated,
    )


def _box(
    rng: np.random.Generator, thing: Appliance, source: Source, hand: Hand, stated: dict[str, float]
) -> Load:
    watts_limit, hours_limit = LIMITS[source]
    daily = thing.kwh / off_by(rng, watts_limit, hand)
    if source == "label":
        stated = {k: v for k, v in stated.items() if k == "watts_within_percent"}
        return Load(
            thing.name,
            kwh_per_year=rounded(365 * daily, hand.digits),
            follows="always",
            source=source,
            **stated,
        )
    duty = 1000 * daily / 24 / thing.watts / off_by(rng, hours_limit, hand)
    return Load(
        thing.name,
        watts=rounded(thing.watts, hand.digits),
        run_hours=24.0,
        share_on=round(float(np.clip(duty, 0.02, 1.0)), hand.digits),
        source=source,
        **stated,
    )


def write_conditioner(rng: np.random.Generator, thing: Conditioner, dwelling: Dwelling, hand: Hand) -> Load:
    """Heating or cooling: half the people know the hours a degree-day from a log, half know only watts."""
    source: Source = "nameplate"
    watts_limit = 12.0
    watts = rounded(thing.watts / off_by(rng, watts_limit, hand), hand.digits)
    balance: float | None = round(2 * (thing.balance_c + rng.normal(0, hand.balance_sd_c))) / 2
    if not hand.states_all and rng.random() < 0.5:
        balance = None
    known = rng.random() < 0.5
    if not known:
        return Load(
            thing.name,
            watts=watts,
            follows=thing.nature,
            balance_c=balance,
            source=source,
            watts_within_percent=watts_limit,
        )
    limit = 20.0
    hours = thing.hours_per_kelvin_day / off_by(rng, limit, hand)
    return Load(
        thing.name,
        watts=watts,
        follows=thing.nature,
        balance_c=balance,
        source=source,
        hours_per_degree_day=rounded(hours, hand.digits),
        watts_within_percent=watts_limit,
        hours_within_percent=limit,
    )


def write_unlisted(
    rng: np.random.Generator, dwelling: Dwelling, hand: Hand
) -> tuple[float | None, float | None]:
    """What the householder says of everything not on the list [kWh/d] and its limit [%], or nothing."""
    if not hand.states_all and rng.random() < 0.5:
        return None, None
    limit = 80.0
    return rounded(dwelling.unlisted_kwh_a_day / off_by(rng, limit, hand), 2), limit
