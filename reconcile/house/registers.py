"""Register arithmetic: differences, rollover, what a misread number could have been, and several registers as one."""

from __future__ import annotations

from enum import StrEnum
from itertools import pairwise

from reconcile.house import Bill, House, Meter, RegisterReading

FEWEST_DIALS = 4
"""Dials assumed where neither meter nor reading shows more (house meters have 4 to 6; common practice)."""


def dials_of(value: float, digits: int | None = None) -> int:
    """Return how many dials the register has: as given, else the fewest that show ``value``."""
    if digits is not None:
        return digits
    return max(FEWEST_DIALS, len(str(int(abs(value)))))


def difference(start: float, end: float, digits: int | None = None) -> float:
    """Register units between two readings, taking one pass through zero where the second is lower.

    Parameters
    ----------
    start, end : float
        Opening and closing reading [register units].
    digits : int or None
        Dials of the register; None takes the fewest that show the opening reading.

    Returns
    -------
    float
        ``end - start``, or ``10**digits + end - start`` where the register went past its last number.

    Examples
    --------
    >>> difference(9201, 9846)
    645
    >>> difference(99640, 310, digits=5)
    670.0
    """
    if end >= start:
        return end - start
    return 10.0 ** dials_of(start, digits) + end - start


def current_meter(house: House) -> Meter:
    """Return the meter that hangs on the wall now: the one without an end, else the last."""
    standing = [meter for meter in house.meters if meter.ends is None]
    return (standing or list(house.meters))[-1]


class Misread(StrEnum):
    """How one reading is misread or mistyped as another."""

    DIGIT = "digit"
    EXCHANGED = "exchanged"


def misreads_of(value: float, dials: int) -> dict[float, Misread]:
    """List every reading that one misread or keying error turns into ``value``, and how.

    One error is two neighbouring digits exchanged, or one digit read or typed as another. Digits after the
    decimal point are left alone.

    Examples
    --------
    >>> misreads_of(12, 4)[21.0].value
    'exchanged'
    """
    whole, part = divmod(abs(value), 1.0)
    text = f"{int(whole):0{dials}d}"
    out: dict[float, Misread] = {}
    for k, digit in enumerate(text):
        for other in "0123456789":
            if other != digit:
                out[float(text[:k] + other + text[k + 1 :]) + part] = Misread.DIGIT
    for k in range(len(text) - 1):
        swapped = text[:k] + text[k + 1] + text[k] + text[k + 2 :]
        if swapped != text:
            out[float(swapped) + part] = Misread.EXCHANGED
    return out


SENT_OUT = ("received", "export")
"""Registers that count what the house sends out."""
NOT_ENERGY = ("demand", "kw", "kvar", "kvarh", "reactive")


def energy_by_readings(house: House, bill: Bill) -> float | None:
    """Energy of one period [kWh] from dated register values, meter after meter.

    Every meter needs its first and last reading of the period: the first meter's on the opening day, the last
    one's on the closing day (the bill's own readings serve for both), and where one follows the other, both
    on the day of the exchange. None where they do not cover it.
    """
    by_register = register_energies(house, bill)
    if not by_register:
        return None
    if "total" in by_register:
        return by_register["total"]
    return sum(-v if name in SENT_OUT else v for name, v in by_register.items())


def register_energies(house: House, bill: Bill) -> dict[str, float]:
    """Energy of every register that dated values cover from the bill's opening to its closing [kWh]."""
    inside = sorted(
        (r for r in house.readings if bill.start <= r.day <= bill.closes and r.register.casefold() not in NOT_ENERGY),
        key=lambda r: r.day,
    )
    out: dict[str, float] = {}
    for register in dict.fromkeys(r.register.casefold() for r in inside):
        rows = [r for r in inside if r.register.casefold() == register]
        if register == "total":
            rows = _with_the_bills_own(rows, bill)
        energy = _chain(house, rows, bill)
        if energy is not None:
            out[register] = energy
    return out


def _with_the_bills_own(rows: list[RegisterReading], bill: Bill) -> list[RegisterReading]:
    if bill.reading_start is not None and rows[0].day > bill.start:
        rows = [RegisterReading(bill.start, bill.reading_start, rows[0].meter), *rows]
    if bill.reading_end is not None and rows[-1].day < bill.closes:
        rows = [*rows, RegisterReading(bill.closes, bill.reading_end, rows[-1].meter)]
    return rows


def _chain(house: House, rows: list[RegisterReading], bill: Bill) -> float | None:
    total = 0.0
    opens = bill.start
    for number in dict.fromkeys(r.meter for r in rows):
        own = [r for r in rows if r.meter == number]
        if len(own) < 2:
            if own[0].day in (bill.start, bill.closes):
                continue  # the old meter's last reading on the opening day, or the next one's first
            return None
        if own[0].day != opens:
            return None
        meter = house.meter_on(own[0].day, number)
        for before, after in pairwise(own):
            total += difference(before.value, after.value, meter.digits) * meter.multiplier
        opens = own[-1].day
    return total if opens == bill.closes else None
