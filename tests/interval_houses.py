"""Invented houses with interval data whose bills are read off the same energy."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.facts import Facts
from reconcile.house import Bill, House, Interval, Meter

ZONE = ZoneInfo("America/New_York")
EDGES = [date(2025, 1, 3) + timedelta(days=30 * i) for i in range(9)]


def made(hour=0, step=3600, seed=5, *, hours=None, rounding=1.0, panels_kw=0.0):
    """Readings at a local hour of each reading day, whole steps on the register, which falls while panels send back."""
    rng = np.random.default_rng(seed)
    begin = int(datetime(2025, 1, 2, tzinfo=ZONE).timestamp())
    seconds = np.arange(begin, begin + 260 * 86400, step)
    kwh = np.round(rng.gamma(2.0, 0.5, len(seconds)) * step / 3600, 3)
    sun = np.exp(-(((seconds % 86400) / 3600 - 17.5) ** 2) / 8.0) * rng.beta(2.0, 1.0, 261)[(seconds - begin) // 86400]
    kwh = kwh - np.round(panels_kw * sun, 3) * step / 3600
    hours = hours or [hour] * len(EDGES)
    reads = [
        datetime(d.year, d.month, d.day, tzinfo=ZONE).timestamp() + h * 3600 for d, h in zip(EDGES, hours, strict=True)
    ]
    register = 4711.37 + np.array([kwh[seconds + step <= r].sum() for r in reads])
    billed = np.diff(np.floor(register / rounding) * rounding)
    bills = tuple(Bill(a, b, float(k)) for a, b, k in zip(EDGES, EDGES[1:], billed, strict=False))
    interval = Interval(seconds.astype("datetime64[s]"), kwh, step)
    own, meters = panels_kw > 0.0, (Meter(step_kwh=rounding),)
    house = House("Invented", bills, timezone=ZONE.key, interval=interval, meters=meters, generation=own)
    return house, Facts(billed)
