"""Houses in order, of the kinds whose prices look odd: big fixed fees, tiny use, seasons, blocks, time of use."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import numpy as np

from reconcile.house import Bill, House, Load

KINDS = ("flat", "season", "blocks", "rise", "rider", "time-of-use")


def honest_house(seed: int) -> House:
    """Return a house whose bills charge what was used at prices that some tariff asks; no tariff is typed."""
    g = np.random.default_rng(seed)
    day = date(2023, 1, 5) + timedelta(int(g.integers(0, 300)))
    base = float(np.exp(g.uniform(np.log(1.5), np.log(80.0))))
    heats, cools = (float(g.choice([0.0, 0.5, 1.5])) * base for _ in range(2))
    currency = str(g.choice(["USD", "USD", "CAD", "EUR", "GBP", "AUD"]))
    least = 0.05 if currency in ("USD", "CAD") else 0.1
    price, kind = float(np.exp(g.uniform(np.log(least), np.log(0.6)))), str(g.choice(KINDS))
    fixed = float(g.choice([0.0, 5.0, 12.0, 30.0, 80.0, 110.0]))
    generates = bool(g.random() < 0.1)
    count = int(g.integers(6, 26))
    rises_at, rises_to = int(g.integers(2, count)), float(g.uniform(1.05, 1.4))
    bills = []
    for k in range(count):
        days = int(g.integers(27, 35))
        middle = day + timedelta(days // 2)
        season = float(np.cos(2.0 * np.pi * (middle.timetuple().tm_yday - 15) / 365.25))
        use = base + heats * max(season, 0.0) ** 1.5 + cools * max(-season, 0.0) ** 1.5
        use *= float(np.exp(g.normal(0.0, 0.12))) * (float(g.uniform(0.15, 0.5)) if g.random() < 0.03 else 1.0)
        kwh = round(use * days - (float(g.uniform(0.2, 1.1)) * base * days if generates else 0.0))
        rate = price * {
            "season": 1.25 if middle.month in (6, 7, 8, 9) else 0.9,
            "rise": rises_to if k >= rises_at else 1.0,
            "rider": 1.0 + float(g.normal(0.0, 0.06)),
            "time-of-use": 1.0 + 0.25 * max(-season, 0.0),
        }.get(kind, 1.0)
        energy = rate * (kwh + 0.6 * max(kwh - 500, 0)) if kind == "blocks" else rate * kwh
        amount = Decimal(str(round(1.05 * (fixed * days / 30 + energy), 2)))
        bills.append(Bill(day, day + timedelta(days), kwh=float(kwh), amount=amount))
        day += timedelta(days)
    house = House("x", tuple(bills), currency=currency, generation=generates)
    if g.random() < 0.5:
        always = (Load("refrigerator", kwh_per_year=400.0), Load("router", watts=15.0, follows="always"))
        house = replace(house, loads=always)
    return house
