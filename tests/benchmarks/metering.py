"""Registers, readings and bills: what the utility makes of the house's hours."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

import numpy as np
from climate import Floats

from reconcile.house import Bill, Meter
from reconcile.house.tariff import Charge, Tariff

CENT = Decimal("0.01")


@dataclass(frozen=True)
class Calendar:
    """When the meter is read; days and hours count from the first hour simulated."""

    first: date
    days: tuple[int, ...]
    """Day index of each reading as printed, first to last; one more than there are bills."""
    hours: tuple[int, ...]
    """Hour index at which the reading was truly taken."""

    @property
    def bills(self) -> int:
        """Number of billing periods."""
        return len(self.days) - 1

    def day(self, index: int) -> date:
        """Date of a day index."""
        return self.first + timedelta(days=index)


def make_calendar(
    rng: np.random.Generator,
    first: date,
    bills: int,
    *,
    odd_days: bool,
    long_period: int | None,
    months: int = 1,
) -> Calendar:
    """Draw reading dates a month apart (28 to 33 nights), each read at an hour of its own.

    ``odd_days``: one reading in twenty-five is really taken a day or two off the printed date.
    ``long_period``: that period runs into the next month.
    """
    lead_in = 35
    days = [lead_in]
    for i in range(bills):
        length = sum(
            int(rng.choice([28, 29, 30, 31, 32, 33], p=[0.05, 0.2, 0.3, 0.25, 0.15, 0.05])) for _ in range(months)
        )
        if i == long_period:
            length += int(rng.integers(9, 24))
        days.append(days[-1] + length)
    hours = []
    for day in days:
        off = 0
        if odd_days and rng.random() < 0.04:
            off = int(rng.choice([-2, -1, 1, 2]))
        hours.append(24 * (day + off) + int(rng.integers(0, 24)))
    return Calendar(first, tuple(days), tuple(hours))


def registered(kwh: Floats, factor: Floats) -> Floats:
    """Running register of a meter with a factor for each hour [kWh], one longer than the hours."""
    return np.concatenate([[0.0], np.cumsum(kwh * factor)])


@dataclass(frozen=True)
class MeterSwap:
    """A new meter set at an hour; ``edge`` is the reading at which it was done, or None in mid-period."""

    hour: int
    period: int
    """First period on the new meter, wholly or partly."""
    edge: bool


def read_meters(
    rng: np.random.Generator,
    calendar: Calendar,
    running: Floats,
    swap: MeterSwap | None,
    *,
    step_kwh: float,
    may_roll_over: bool,
) -> tuple[list[Bill], tuple[Meter, ...]]:
    """Read the register at the calendar's hours, in whole steps: bills without money, and their meters."""
    high = 99_000 if may_roll_over else 60_000
    opening = float(rng.integers(2_000, high))
    numbers = [str(int(rng.integers(10_000_000, 99_999_999))) for _ in range(2)]

    def dial(value: float) -> float:
        return float(np.floor(value / step_kwh + 1e-9) * step_kwh)

    def shown(value: float) -> float:
        return dial(value) % 100_000

    base = running[calendar.hours[0]]
    bills: list[Bill] = []
    for i in range(calendar.bills):
        h0, h1 = calendar.hours[i], calendar.hours[i + 1]
        start, end = calendar.day(calendar.days[i]), calendar.day(calendar.days[i + 1])
        old0, old1 = opening + running[h0] - base, opening + running[h1] - base
        if swap is None or i < swap.period:
            kwh, ends = dial(old1) - dial(old0), (shown(old0), shown(old1))
            bills.append(Bill(start, end, kwh, reading_start=ends[0], reading_end=ends[1], meter=numbers[0]))
        else:
            new0, new1 = running[h0] - running[swap.hour], running[h1] - running[swap.hour]
            if i == swap.period and not swap.edge:
                at_swap = opening + running[swap.hour] - base
                kwh = dial(at_swap) - dial(old0) + dial(new1)
                bills.append(Bill(start, end, kwh, meter=numbers[1]))
            else:
                opens = dial(max(new0, 0.0))
                bills.append(
                    Bill(
                        start,
                        end,
                        dial(new1) - opens,
                        reading_start=opens,
                        reading_end=dial(new1),
                        meter=numbers[1],
                    )
                )
    if swap is None:
        return bills, (Meter(number=numbers[0], digits=5, step_kwh=step_kwh, pulse_wh=1.0),)
    day = calendar.day(swap.hour // 24)
    old = Meter(number=numbers[0], ends=day, digits=5, step_kwh=step_kwh)
    new = Meter(number=numbers[1], begins=day, digits=5, step_kwh=step_kwh, pulse_wh=1.0)
    return bills, (old, new)


def money(value: Decimal) -> Decimal:
    """Round to the cent, half up."""
    return value.quantize(CENT, ROUND_HALF_UP)


@dataclass(frozen=True)
class Prices:
    """A plain tariff: a charge a bill, a price a kWh, a tax; ``later`` begins with a period."""

    fixed: Decimal
    energy: Decimal
    tax_percent: Decimal
    rise_period: int | None = None
    risen: Decimal | None = None

    def amount(self, kwh: float, period: int) -> Decimal:
        """Money of one bill, each line rounded."""
        price = self.energy
        if self.rise_period is not None and self.risen is not None and period >= self.rise_period:
            price = self.risen
        used = money(price * Decimal(str(round(kwh, 3))))
        return self.fixed + used + money((self.fixed + used) * self.tax_percent / 100)

    def tariffs(self, bills: list[Bill]) -> tuple[Tariff, ...]:
        """The same as the householder would type it in."""
        out = [self._tariff(bills[0].start, self.energy)]
        if self.rise_period is not None and self.risen is not None:
            out.append(self._tariff(bills[self.rise_period].start, self.risen))
        return tuple(out)

    def _tariff(self, since: date, price: Decimal) -> Tariff:
        return Tariff(
            since,
            (
                Charge("Customer charge", "per_bill", self.fixed, kind="fixed"),
                Charge("Energy", "per_kwh", price, kind="energy"),
                Charge("Tax", "percent", self.tax_percent, kind="tax"),
            ),
        )


def make_prices(rng: np.random.Generator, rise_period: int | None) -> Prices:
    """Draw a tariff, with a price rise of 12 to 30 % at a period where one is wanted."""
    energy = Decimal(str(round(float(rng.uniform(0.09, 0.24)), 4)))
    risen = None
    if rise_period is not None:
        risen = (energy * Decimal(str(round(float(rng.uniform(1.12, 1.30)), 3)))).quantize(Decimal("0.0001"))
    return Prices(Decimal(str(int(rng.integers(8, 20)))), energy, Decimal("5"), rise_period, risen)
