"""A house whose interval data hold a register of what is sent back, and what is told of it."""

from __future__ import annotations

import numpy as np

from reconcile.house import House
from reconcile.interval.own_power import with_both_registers
from reconcile.read.tables.gate import Gate


def sent_back(house: House, gate: Gate) -> House:
    """Take the house for one that makes its own, where its interval data say so, give its bills both registers, and
    tell of it.
    """
    told = with_both_registers(house)
    received = None if house.interval is None else house.interval.received_kwh
    if received is not None and told.generation and not house.generation:
        sent = float(np.nansum(received))
        gate.notice(f"The interval data show {sent:,.0f} kWh sent back: the house is taken as one that makes its own.")
    count = sum(a is not b for a, b in zip(told.bills, house.bills, strict=True))
    if count:
        gate.notice(f"What {count} of the bills drew and sent back is taken from the interval data of their days.")
    return told
