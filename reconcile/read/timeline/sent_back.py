"""A house whose interval data hold a register of what is sent back: it makes its own, and its bills lack only that."""

from __future__ import annotations

from dataclasses import replace
from zoneinfo import ZoneInfo

import numpy as np

from reconcile.clock import DAY_SECONDS, day_numbers, local_seconds
from reconcile.house import Bill, House
from reconcile.read.tables.gate import Gate

SENDS_BACK = 0.01
"""Part of what is drawn from which what is sent back tells of own generation (our choice): a motor that brakes gives
back less."""
COVERED = 0.98
"""Part of a bill's time that both registers must cover to stand for it (our choice)."""


def with_both_registers(house: House, gate: Gate) -> House:
    """Take the house for one that makes its own, where its interval data say so, and give its bills both registers.

    What the house used is what it drew and a part of what it made: a bill that gives only the one is told the other by
    the data of its own days.
    """
    interval = house.interval
    if interval is None or interval.received_kwh is None:
        return house
    registers = (interval.kwh, interval.received_kwh)
    drawn, sent = (float(np.nansum(kwh)) for kwh in registers)
    if not house.generation and sent > SENDS_BACK * drawn:
        house = replace(house, generation=True)
        gate.notice(f"The interval data show {sent:,.0f} kWh sent back: the house is taken as one that makes its own.")
    if not house.generation:
        return house
    times = local_seconds(interval.starts, ZoneInfo(house.timezone))
    lengths = np.where(np.isnan(interval.received_kwh), 0, interval.lengths)

    def told(bill: Bill) -> Bill:
        if bill.received_kwh is not None or bill.delivered_kwh is not None:
            return bill
        begin, end = (day_numbers([bill.start, bill.closes]) * DAY_SECONDS).tolist()
        within = (times >= begin) & (times < end)
        if lengths[within].sum() < COVERED * (end - begin):
            return bill
        delivered, received = (round(float(np.nansum(kwh[within])), 3) for kwh in registers)
        return replace(bill, delivered_kwh=delivered, received_kwh=received)

    bills = tuple(map(told, house.bills))
    count = sum(a is not b for a, b in zip(bills, house.bills, strict=True))
    if count:
        gate.notice(f"What {count} of the bills drew and sent back is taken from the interval data of their days.")
    return replace(house, bills=bills)
