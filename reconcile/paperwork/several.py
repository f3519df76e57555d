"""Energy from ``readings.csv``: several registers, and an exchange inside a period."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

from reconcile.house import Bill, House, RegisterReading
from reconcile.paperwork import registers

SENT_OUT = ("received", "export")
"""Registers that count what the house sends out."""
NOT_ENERGY = ("demand", "kw", "kvar", "kvarh", "reactive")


def energy_by_readings(house: House, bill: Bill) -> float | None:
    """Energy of one period [kWh] from dated register values, meter after meter.

    Every meter needs its first and last reading of the period; the first meter's on the opening day, the last
    one's on the closing day, and where one follows the other, both on the day of the exchange. None where they do not cover it.
    """
    by_register = register_energies(house, bill.start, bill.closes)
    if not by_register:
        return None
    if "total" in by_register:
        return by_register["total"]
    return sum(-v if name in SENT_OUT else v for name, v in by_register.items())


def register_energies(house: House, start: date, end: date) -> dict[str, float]:
    """Energy of every register that dated values cover from ``start`` to ``end`` [kWh]."""
    inside = [r for r in house.readings if start <= r.day <= end and r.register.casefold() not in NOT_ENERGY]
    out: dict[str, float] = {}
    for register in dict.fromkeys(r.register.casefold() for r in inside):
        energy = _chain(house, [r for r in inside if r.register.casefold() == register], start, end)
        if energy is not None:
            out[register] = energy
    return out


def _chain(house: House, rows: list[RegisterReading], start: date, end: date) -> float | None:
    total = 0.0
    opens = start
    for number in dict.fromkeys(r.meter for r in sorted(rows, key=lambda r: (r.day, r.event == "installed"))):
        own = sorted((r for r in rows if r.meter == number), key=lambda r: r.day)
        if len(own) < 2:
            if own[0].day in (start, end):
                continue  # the old meter's last reading on the opening day, or the next one's first
            return None
        if own[0].day != opens:
            return None
        meter = house.meter_on(own[0].day, number)
        for before, after in pairwise(own):
            total += registers.difference(before.value, after.value, meter.digits) * meter.multiplier
        opens = own[-1].day
    return total if opens == end and end > start else None
