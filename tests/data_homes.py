"""Simulated homes by the minute with monthly bills: what their meter counted, between readings at midnight."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import switching_homes as homes

from reconcile.clock import local_instants
from reconcile.house import Band, Bill, House, Load, Weather

DAYS = 450
ALL = (*homes.COMMON, *homes.LARGE)
BEGINS = 60
"""First day of the data; bills before it have none."""


def listed(made: homes.Home, seed: int) -> tuple[Load, ...]:
    """The home's list as its household would write it: each use guessed, a tenth off one way or the other."""
    rng = np.random.default_rng(seed)
    days = len(made.mean_c)
    dd = {
        "heating": np.maximum(15.0 - made.mean_c, 0.0).sum(),
        "cooling": np.maximum(made.mean_c - 19.0, 0.0).sum(),
    }
    follows = {one.name: {"cold": "heating", "hot": "cooling"}.get(one.follows, "clock") for one in ALL}
    said = [
        Load("everything else", kwh_per_year=float(made.base.mean() * 8.76 * rng.normal(1.0, 0.1)), follows="always")
    ]
    for name, watts in made.watts.items():
        top = float(watts.max())
        hours = float(watts.sum() / top / 60.0) * rng.normal(1.0, 0.1)
        kind = follows[name]
        if kind == "clock":
            said.append(Load(name, watts=round(top, -1), run_hours=hours / days))
        else:
            balance = 15.0 if kind == "heating" else 19.0
            said.append(
                Load(name, watts=round(top, -1), follows=kind, hours_per_degree_day=hours / dd[kind], balance_c=balance)
            )
    return tuple(said)


def billed(
    made: homes.Home,
    *,
    gain: float = 0.0,
    since: int = 0,
    minutes: int | None = 15,
    loads: tuple[Load, ...] = (),
    volts: bool = False,
) -> House:
    """Bills of about a month and the interval data of all but the first two of them."""
    fine = homes.metered(made, 15, gain=gain, since=since)
    edges = [*range(0, len(made.mean_c) - 20, 30)]
    total = np.concatenate([[0.0], np.cumsum(fine.kwh)])
    bills = []
    for begin, end in pairwise(edges):
        first, last = (made.first + timedelta(days=day) for day in (begin, end))
        at = [np.searchsorted(fine.starts, stamp(day)) for day in (first, last)]
        bills.append(Bill(first, last, kwh=float(round(total[at[1]] - total[at[0]]))))
    interval = None
    if minutes is not None:
        seen = homes.metered(made, minutes, gain=gain, since=since, volts=volts)
        kept = seen.starts >= stamp(made.first + timedelta(days=BEGINS))
        part = None if seen.volts is None else seen.volts[kept]
        interval = replace(seen, starts=seen.starts[kept], kwh=seen.kwh[kept], volts=part)
    weather = Weather(made.first, made.mean_c)
    return House(
        "Invented", tuple(bills), loads, timezone=homes.ZONE.key, interval=interval, weather=weather, band=Band()
    )


def stamp(day: date) -> np.datetime64:
    """Midnight that begins a day."""
    return np.datetime64(int(local_instants([day], homes.ZONE)[0]), "s")
