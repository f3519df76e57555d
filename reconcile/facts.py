"""What the paper proves without statistics: findings, and what they mean for the weighing."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from reconcile.money.recompute import Recomputed


CANCELLED = "The utility cancelled this bill."
REPLACED = "A corrected bill replaces this one."
REPEATED = "This bill is in the file twice."
OUT = (CANCELLED, REPLACED, REPEATED)
"""Reasons for which a bill was never asked for, or is asked for on another one."""


@dataclass(frozen=True, slots=True)
class Finding:
    """A fact of paper, certain. ``periods`` index the house's bills from 0."""

    code: str
    periods: tuple[int, ...]
    kwh: float | None
    amount: Decimal | None
    text: str
    do: str
    settles: bool = False
    """Whether this fact by itself can account for a bill that stands out (an estimate can, a gap cannot)."""


@dataclass(frozen=True, slots=True)
class Exchange:
    """A meter exchange: its date and the first period (wholly or partly) on the new meter."""

    day: date
    period: int
    old: str | None = None
    new: str | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Facts:
    """Everything the paper settles, for n bills in order.

    Attributes
    ----------
    billed_kwh : ndarray, shape (n,)
        Billed energy [kWh]; from the readings where the bill gives none; NaN where neither is there.
    findings : tuple of Finding
    loose_edges : frozenset of int
        i is in it where the reading between period i and the next is not a true one (an estimate, a slip):
        energy may have moved between the two by any amount, their sum stands.
    set_aside : dict of int to str
        Periods that are not judged and vouch for no other (cancelled, repeated, overlapping, mis-keyed, still
        estimated at the end of the data), each with the reason as a plain sentence.
    exchanges : tuple of Exchange
    recomputed : tuple of Recomputed
        The bills by the tariff as typed, line by line; empty without a tariff.
    """

    billed_kwh: NDArray[np.float64]
    findings: tuple[Finding, ...] = ()
    loose_edges: frozenset[int] = frozenset()
    set_aside: dict[int, str] | None = None
    exchanges: tuple[Exchange, ...] = ()
    recomputed: tuple[Recomputed, ...] = ()
