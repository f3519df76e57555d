"""What befalls a simulated house: from which hour, how much, and what the paper gets wrong."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Literal

import numpy as np
from climate import Floats
from kinds import Kind
from metering import Calendar, MeterSwap

from reconcile.house import Bill


@dataclass(frozen=True)
class Trouble:
    """Everything that departs from a healthy year. Hours count from the first hour simulated."""

    onset_hour: int | None = None
    onset_period: int | None = None
    """Period in which (or with which) it begins."""
    swap: MeterSwap | None = None
    meter_percent: float = 0.0
    meter_acts: Literal["never", "always", "after", "before"] = "never"
    more_people: float = 0.0
    thermostat: float = 0.0
    away: tuple[int, int] | None = None
    """First day and number of days."""
    away_again: tuple[int, int] | None = None
    guests: tuple[tuple[int, int, float], ...] = ()
    """First day, number of days, and the part by which people use more."""
    price_period: int | None = None
    watts: float = 0.0
    """Round-the-clock watts added from the onset, on the mean of a year [W]."""
    colder: float = 0.0
    """Part of them by which they are more in midwinter and less in midsummer."""
    ramp_hours: int = 0
    watts_now: float = 0.0
    """Round-the-clock watts a visit after the last bill would find of it [W]."""
    watts_cycle: bool = False
    heater: tuple[int, int, float] | None = None
    """First day, number of days, and kWh a day of a heater that runs only then."""
    round_the_clock: bool = False
    """It runs day and night, and not of an evening."""
    tub_kwh: float = 0.0
    gone: str | None = None
    estimate: int | None = None
    slip: int | None = None


def draw_trouble(rng: np.random.Generator, kind: Kind, calendar: Calendar, *, unkind: bool) -> Trouble:
    """Draw what befalls one house of a kind.

    In the plain world things begin with a reading, in the middle half of the bills. In the unkind one they
    begin at any hour of any period but the first and the last, so that at least one bill before and one
    after is whole.
    """
    n = calendar.bills
    period = int(rng.integers(1, n - 1)) if unkind else int(rng.integers(n // 4, 3 * n // 4 + 1))
    hour = calendar.hours[period]
    at_reading = not unkind
    if unkind and not (kind.exchange and rng.random() < 0.5):
        hour = int(rng.integers(calendar.hours[period] + 48, calendar.hours[period + 1] - 48))
    elif unkind:
        at_reading = True
    begun = Trouble(onset_hour=hour, onset_period=period)
    if kind.exchange:
        begun = replace(begun, swap=MeterSwap(hour, period, at_reading))
    if kind.percent is not None:
        acts: Literal["always", "after", "before"] = "after"
        if kind.name == "meter-30-always":
            acts = "always"
        elif kind.name == "slow-old":
            acts = "before"
        begun = replace(begun, meter_percent=float(rng.uniform(*kind.percent)), meter_acts=acts)
    return _of_kind(rng, kind.name, begun, calendar, unkind=unkind)


def _of_kind(rng: np.random.Generator, name: str, begun: Trouble, calendar: Calendar, *, unkind: bool) -> Trouble:
    n, period = calendar.bills, begun.onset_period or 0
    other = int(rng.integers(1, n - 2)) if unkind else int(rng.integers(n // 4, n - n // 4))
    never = replace(begun, onset_hour=None, onset_period=None)
    if name == "occupant":
        return replace(begun, more_people=float(rng.uniform(0.2, 0.4)))
    if name == "fewer":
        return replace(begun, more_people=-float(rng.uniform(0.15, 0.35)))
    if name == "left":
        return replace(begun, more_people=-float(rng.uniform(0.8, 1.0)))
    if name in ("thermostat", "thermostat-back"):
        return replace(begun, thermostat=2.0 if name == "thermostat" else -2.0)
    if name == "guests":
        return replace(never, guests=(_stay(rng, calendar, other),), onset_period=other)
    if name == "vacation":
        return replace(never, away=_holiday(rng, calendar, other), onset_period=other)
    if name == "price-rise":
        return replace(never, price_period=period)
    if name == "estimate":
        return replace(never, estimate=other)
    if name == "slip":
        return replace(never, slip=other)
    if name in ("constant", "constant-exchange", "leak-vacation"):
        watts = float(rng.uniform(300, 600))
        more = replace(begun, watts=watts, watts_now=watts)
        if name == "leak-vacation":
            choices = [p for p in range(1, n - 1) if abs(p - period) > 1]
            more = replace(more, away=_holiday(rng, calendar, int(rng.choice(choices))))
        return more
    if name == "hot-water-leak":
        # 0.1 to 0.2 l a minute, warmed by 40 K in the year's mean; the mains swing by 3 to 9 K about it
        watts = float(rng.uniform(300, 600))
        return replace(begun, watts=watts, colder=float(rng.uniform(3, 9)) / 40, watts_now=watts, watts_cycle=True)
    if name in ("two-empty", "two-guests", "guests-leak", "leak-exchange"):
        return _two_events(rng, name, begun, calendar)
    if name == "drift":
        latest = max(n - 5, 1)
        early = min(period, int(rng.integers(n // 4, latest + 1)), latest)
        start = calendar.hours[early] + (int(rng.integers(0, 600)) if unkind else 0)
        watts = float(rng.uniform(4, 8)) * 1000 / 24  # a box that fails ends by never stopping
        return replace(
            begun,
            onset_hour=start,
            onset_period=early,
            watts=watts,
            ramp_hours=calendar.hours[-1] - start,
            watts_now=watts,
        )
    if name == "seasonal-heater":
        return _heater(rng, begun, calendar)
    if name == "stuck":
        length, watts = int(rng.integers(21, 91)), float(rng.uniform(1000, 4500))
        start = int(rng.integers(calendar.days[1], max(calendar.days[-1] - length, calendar.days[1] + 1)))
        first = int(np.searchsorted(calendar.days, start, side="right")) - 1
        return replace(
            begun,
            onset_hour=24 * start,
            onset_period=first,
            heater=(start, length, 0.024 * watts),
            round_the_clock=True,
        )
    if name == "hot-tub":
        kwh = float(rng.uniform(6, 10))
        tub = replace(begun, tub_kwh=kwh, watts_now=kwh * 1000 / 24, watts_cycle=True)
        return tub if rng.random() < 0.5 else replace(tub, onset_hour=0, onset_period=0)
    if name == "listed-gone":
        return replace(begun, gone="Heated water bed")
    if name == "estimate-fast":
        choices = [p for p in range(1, n - 2) if p not in (period, period - 1) and (unkind or abs(p - period) > 2)]
        return replace(begun, estimate=int(rng.choice(choices)))
    if name == "meter-30-always":
        return replace(begun, onset_hour=0, onset_period=0)
    needs_onset = begun.meter_acts != "never" or begun.swap is not None
    return begun if needs_onset else never


def _two_events(rng: np.random.Generator, name: str, begun: Trouble, calendar: Calendar) -> Trouble:
    """Two things in one year and a half, never in neighboring bills."""
    n, period = calendar.bills, begun.onset_period or 0
    apart = [p for p in range(1, n - 1) if abs(p - period) > 1]
    other = int(rng.choice(apart))
    if name == "leak-exchange":
        watts = float(rng.uniform(300, 600))
        swap = MeterSwap(calendar.hours[other], other, True)
        return replace(begun, watts=watts, watts_now=watts, swap=swap)
    if name == "guests-leak":
        watts = float(rng.uniform(300, 600))
        return replace(begun, watts=watts, watts_now=watts, guests=(_stay(rng, calendar, other),))
    never = replace(begun, onset_hour=None, onset_period=None)
    if name == "two-guests":
        return replace(never, guests=(_stay(rng, calendar, period), _stay(rng, calendar, other)))
    away, again = (_stay(rng, calendar, p)[:2] for p in (period, other))
    return replace(never, away=away, away_again=again)


def _stay(rng: np.random.Generator, calendar: Calendar, period: int) -> tuple[int, int, float]:
    """Most of one bill: first day, number of days, and by what part a full house uses more."""
    start = calendar.days[period] + int(rng.integers(0, 4))
    length = int(rng.integers(22, 27))
    return start, min(length, calendar.days[period + 1] - start), float(rng.uniform(0.4, 0.9))


def _holiday(rng: np.random.Generator, calendar: Calendar, period: int) -> tuple[int, int]:
    """Twelve to twenty-four days away, beginning in a period and mostly inside it."""
    start = calendar.days[period] + int(rng.integers(1, 9))
    return start, int(rng.integers(12, 25))


def _heater(rng: np.random.Generator, begun: Trouble, calendar: Calendar) -> Trouble:
    """A portable heater through the last winter that the bills hold."""
    for year in range(calendar.day(calendar.days[-1]).year, calendar.first.year - 1, -1):
        middle = (date(year, 1, 20) - calendar.first).days + int(rng.integers(-12, 13))
        length = int(rng.integers(60, 111))
        start = middle - length // 2
        if start > calendar.days[1] and start + length < calendar.days[-1] + 40:
            break
    else:
        start, length = calendar.days[1] + 10, 80
    period = int(np.searchsorted(calendar.days, start, side="right")) - 1
    kwh = 1.5 * float(rng.uniform(5, 10))
    return replace(begun, onset_hour=24 * start, onset_period=period, heater=(start, length, kwh))


def extra_kwh(rng: np.random.Generator, trouble: Trouble, first: date, days: int) -> Floats:
    """What the trouble itself takes behind the meter [kWh], shape (days, 24)."""
    hours = 24 * days
    out = np.zeros(hours)
    onset = trouble.onset_hour or 0
    winter = np.array(
        [np.cos(2 * np.pi * ((first + timedelta(days=d)).timetuple().tm_yday - 20) / 365.25) for d in range(days)]
    )
    if trouble.watts > 0:
        grown = 1.0 + trouble.colder * np.repeat(winter, 24)[onset:]
        if trouble.ramp_hours > 0:
            grown = np.minimum(np.arange(hours - onset) / trouble.ramp_hours, 1.0)
        out[onset:] += trouble.watts / 1000 * grown
    if trouble.tub_kwh > 0:
        daily = trouble.tub_kwh * (1 + 0.35 * winter) * rng.uniform(0.8, 1.2, days)
        tub = np.repeat(daily / 24, 24) * rng.gamma(4.0, 0.25, hours)
        out[onset:] += tub[onset:]
    if trouble.heater is not None:
        start, length, kwh = trouble.heater
        stop = min(start + length, days)
        table = out.reshape(days, 24)
        if trouble.round_the_clock:
            table[start:stop] += kwh / 24
        else:
            table[start:stop, 15:23] += (kwh / 8) * rng.uniform(0.7, 1.3, (stop - start, 1))
    return out.reshape(days, 24)


def false_paper(rng: np.random.Generator, trouble: Trouble, bills: list[Bill]) -> list[Bill]:
    """Bills with an estimate and its catch-up, or a slip of the reader's pen; the sum of the two stands."""
    if trouble.estimate is not None:
        i = trouble.estimate
        part = float(rng.uniform(0.20, 0.45)) * (1 if rng.random() < 0.5 else -1)
        moved = round((bills[i].kwh or 0.0) * part)
        most = round(0.8 * (bills[i + 1].kwh or 0.0))
        return _moved(bills, i, float(min(moved, most)), estimated=True)
    if trouble.slip is not None:
        i = trouble.slip
        smaller = min(bills[i].kwh or 0.0, bills[i + 1].kwh or 0.0)
        digit = 1000.0 if smaller >= 2500 else 100.0 if smaller >= 250 else 10.0
        low, high = int(np.ceil(0.22 * smaller / digit)), int(np.floor(0.75 * smaller / digit))
        slipped = digit * int(rng.integers(max(low, 1), min(max(high, low + 1), 9) + 1))
        slipped = float(min(slipped, np.floor(0.9 * smaller)))
        return _moved(bills, i, slipped * (1 if rng.random() < 0.5 else -1), estimated=False)
    return bills


def _moved(bills: list[Bill], i: int, kwh: float, *, estimated: bool) -> list[Bill]:
    """Move energy from period i + 1 into period i by a false reading between them."""
    out = list(bills)
    here, after = out[i], out[i + 1]
    false = None if here.reading_end is None else (here.reading_end + kwh) % 100_000
    out[i] = replace(
        here,
        kwh=(here.kwh or 0.0) + kwh,
        reading_end=false,
        read_type="estimated" if estimated else "actual",
    )
    opens = None if after.reading_start is None or false is None else false
    out[i + 1] = replace(after, kwh=(after.kwh or 0.0) - kwh, reading_start=opens)
    return out
