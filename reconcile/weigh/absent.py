"""Times in which the diary says that nobody was at home: what the bills lack by them, and how doubtful that is."""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from reconcile.house import House
from reconcile.weigh import constants as k

Floats = NDArray[np.float64]


def noted_absences(house: House) -> tuple[tuple[date, date], ...]:
    """First and last day of each long absence within the bills that the diary tells of; none beside interval data.

    The days of interval data say themselves when nobody was at home, and what then ran on.
    """
    if house.interval is not None:
        return ()
    noted = [(e.day, e.until) for e in house.events if e.kind == "away" and e.until is not None]
    opens, closes = min(b.start for b in house.bills), max(b.closes for b in house.bills)
    return tuple(
        (first, last)
        for first, last in noted
        if (last - first).days + 1 >= k.ABSENT_DAYS and first < closes and last >= opens
    )


def absent_part(house: House) -> Floats:
    """Part of each bill's days in which by the diary nobody was at home, shape (n,).

    Examples
    --------
    >>> from reconcile.house import Bill, Event
    >>> bill = Bill(date(2025, 1, 1), date(2025, 1, 31), 600.0)
    >>> absent_part(House("x", (bill,), events=(Event(date(2025, 1, 16), "away", until=date(2025, 2, 20)),)))
    array([0.5])
    """
    part = np.zeros(len(house.bills))
    for first, last in noted_absences(house):
        for at, bill in enumerate(house.bills):
            days = min(bill.closes.toordinal(), last.toordinal() + 1) - max(bill.start, first).toordinal()
            part[at] += max(days, 0) / max(bill.days, 1)
    return np.minimum(part, 1.0)
