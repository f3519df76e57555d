"""What the bills of one mark add up to, as the table shows them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from reconcile.kinds import Flag
from reconcile.result import Over, Period
from reconcile.rounding import to_step


def summed(rows: Sequence[Period], flag: Flag, step: float | None = None) -> Over:
    """Add up the bills of one flag, as the table shows them.

    Parameters
    ----------
    step : float, optional
        Step of the table [kWh], where the rows are a part of it.

    Returns
    -------
    Over
        Of what is shown: every bill's excess to the table's own step, money to the whole unit.
    """
    marked = [row for row in rows if row.flag is flag and row.excess_kwh is not None]
    step = step or excess_step(rows)
    known = [row.excess_amount for row in marked]
    amounts = [amount for amount in known if amount is not None]
    whole = [amount.quantize(Decimal(1), ROUND_HALF_UP) for amount in amounts]
    return Over(
        bills=len(marked),
        kwh=float(sum(to_step(row.excess_kwh or 0.0, step) for row in marked)),
        amount=sum(whole, Decimal(0)) if marked and len(amounts) == len(known) else None,
    )


def excess_step(rows: Sequence[Period]) -> float:
    """Return the one step [kWh] to which every excess of a table is written, so that its sums add up as shown.

    No bill that is marked is written as over or under by nothing.
    """
    halves = sorted(
        (row.usual_high_kwh - row.usual_low_kwh) / 2.0
        for row in rows
        if row.usual_high_kwh is not None and row.usual_low_kwh is not None
    )
    middle = halves[len(halves) // 2] if halves else 0.0
    marked = [abs(row.excess_kwh) for row in rows if row.flag in (Flag.OVER, Flag.UNDER) and row.excess_kwh is not None]
    return 10.0 if middle >= 20.0 and min(marked, default=math.inf) >= 5.0 else 1.0


def side(rows: Sequence[Period], flag: Flag, over: Over) -> dict[str, Any]:
    """Figures of the bills of one flag for a sentence: how many, how much, from when to when."""
    marked = [row for row in rows if row.flag is flag and row.excess_kwh is not None]
    return {
        "bills": over.bills,
        "kwh": abs(over.kwh),
        "amount": None if over.amount is None else abs(over.amount),
        "span": (marked[0].start, marked[0].end) if marked else None,
        "first": marked[0].start if marked else None,
        "last": marked[-1].end if marked else None,
        "in_a_row": len(marked) < 2 or _in_a_row([row.flag is flag for row in rows]),
    }


def _in_a_row(marked: Sequence[bool]) -> bool:
    """Whether no bill stands between those that are marked."""
    places = [i for i, one in enumerate(marked) if one]
    return places[-1] - places[0] == len(places) - 1
