"""What the billing records settle without statistics: findings, and what they mean for the weighing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field, replace
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from reconcile.records import dataclass

if TYPE_CHECKING:
    from reconcile.money.own_prices import OwnPrice
    from reconcile.money.recompute import Recomputed


class Aside(StrEnum):
    """Why a bill is not judged and predicts no other."""

    CANCELLED = "cancelled"
    REPLACED = "replaced"
    REPEATED = "repeated"
    CONTRADICTED = "contradicted"
    OVERLAPPING = "overlapping"
    OPENS_ESTIMATED = "opens-estimated"
    STILL_ESTIMATED = "still-estimated"
    BACKWARDS = "backwards"
    MULTIPLIER = "multiplier"
    STOPPED = "stopped"
    UNIT = "unit"
    MISTYPED = "mistyped"
    SENT_OUT_UNKNOWN = "sent-out-unknown"
    OTHER_METER = "other-meter"


OUT = (Aside.CANCELLED, Aside.REPLACED, Aside.REPEATED, Aside.CONTRADICTED)
"""Reasons for which a bill was never asked for, or is asked for on another one."""


OTHERS = ("meter-number/since", "meter-number/jump", "meter-number/hours")
"""Keys of the findings of bills that may be of another home's meter."""
MOVED = ("interval-mismatch/moved", "interval-mismatch/estimate")
"""Findings of energy that stands on one bill instead of the next; the sum of these bills is right."""


@dataclass(frozen=True, slots=True)
class Finding:
    """A fact of the billing records, certain, in figures.

    Attributes
    ----------
    code : str
    periods : tuple of int
        Index into the house's bills, from 0.
    kwh : float or None
        Energy it is about [kWh]: too much billed is positive.
    amount : Decimal or None
        The same in money.
    settles : bool
        Whether this fact by itself can account for a bill that stands out (an estimate can, a gap cannot).
    case : str
        Which of its code's sentences says it, where there are several.
    figures : mapping
        What the sentence needs: numbers, dates, amounts, names; no prose.
    asks : tuple of str
        What it asks of the utility: keys of :data:`reconcile.texts.requests.REQUESTS`, which hold the step and the
        letter's line. A finding that asks nothing leaves it empty.
    household : tuple of str
        What it asks of the household: keys of :data:`reconcile.texts.requests.HOUSEHOLD`.
    """

    code: str
    periods: tuple[int, ...]
    kwh: float | None = None
    amount: Decimal | None = None
    settles: bool = False
    case: str = ""
    figures: Mapping[str, Any] = field(default_factory=dict)
    asks: tuple[str, ...] = ()
    household: tuple[str, ...] = ()

    @property
    def key(self) -> str:
        """Key of its sentence in the catalogue: ``code`` or ``code/case``."""
        return f"{self.code}/{self.case}" if self.case else self.code


SHIFTED = ("reading-slip/suggested", "reading-slip/backwards")
"""Findings of a misread reading between two bills, by the readings alone."""
NOT_READ = "stopped-register/not-read"
"""Key of bills of nothing and the one after them, which holds their use too."""
SUM_ALONE = ("interval-mismatch/moved", *SHIFTED, NOT_READ)
"""Findings of bills whose kWh are not what was used in their days, as a reading between them is wrong: their sum is."""
CREDITED = "negative-use"
"""Key of a bill below nothing where nothing makes electricity: it gives back what an earlier one charged."""


def only_moves(finding: Finding) -> bool:
    """Whether what one bill charges too much another charges less."""
    between = finding.key in SHIFTED and len(finding.periods) > 1
    return between or finding.key in (*MOVED, NOT_READ, CREDITED)


def moved_kwh(finding: Finding) -> float:
    """Return the energy that a wrong reading put on one bill instead of the next [kWh]; the sum of the two is right."""
    if finding.key in (*MOVED, *SHIFTED):
        return abs(float(finding.figures.get("moved") or 0.0))
    return 0.0


@dataclass(frozen=True, slots=True)
class Exchange:
    """A meter exchange: its date and the first period (wholly or partly) on the new meter."""

    day: date
    period: int
    old: str | None = None
    new: str | None = None
    dated: bool = True
    """Whether its day is told; else only the first bill with another number is known."""


@dataclass(frozen=True, slots=True, eq=False)
class Facts:
    """Everything the billing records settle, for n bills in order."""

    billed_kwh: NDArray[np.float64]
    """Billed energy [kWh], shape (n,); from the readings where the bill gives none; NaN where neither is there."""
    findings: tuple[Finding, ...] = ()
    loose_edges: frozenset[int] = frozenset()
    """i is in it where the reading between period i and the next is not an actual one (an estimate, a misread
    figure): energy may have moved between the two by any amount, their sum stands."""
    sure_edges: frozenset[int] = frozenset()
    """i is in it where interval data add up to period i and to the next, each by itself: no energy moved."""
    set_aside: dict[int, Aside] | None = None
    """Periods that are not judged and predict no other, each with the reason
    (:func:`reconcile.texts.findings.aside_text` says it)."""
    exchanges: tuple[Exchange, ...] = ()
    one_factor: bool = False
    """One register, never exchanged, gives the kWh of the bills by one factor throughout: no multiplier changed."""
    recomputed: tuple[Recomputed, ...] = ()
    """The bills by the tariff as typed, line by line; empty without a tariff."""
    own_prices: tuple[OwnPrice, ...] = ()
    """Without a tariff, the prices by the bills' own money; empty where it does not show any."""
    charged_kwh: NDArray[np.float64] | None = None
    """kWh that each bill's money is for, where net metering carries kWh over; None where they are those billed."""

    @property
    def paid_kwh(self) -> NDArray[np.float64]:
        """Energy that each bill's money is for [kWh], shape (n,)."""
        return self.billed_kwh if self.charged_kwh is None else self.charged_kwh

    @property
    def vouching_kwh(self) -> NDArray[np.float64]:
        """Billed energy of the periods that predict others [kWh], NaN in those set aside, shape (n,)."""
        kwh = self.billed_kwh.copy()
        kwh[list(self.set_aside or {})] = np.nan
        return kwh

    def sum_stands(self, finding: Finding) -> bool:
        """Whether a finding only moves energy between bills whose readings between are known to be loose."""
        return finding.key in MOVED and set(finding.periods[:-1]) <= self.loose_edges


def settling_of(findings: Sequence[Finding]) -> Finding | None:
    """Return the fact that is told: the first that settles, but of estimates the last open one."""
    settled = [finding for finding in findings if finding.settles]
    asking = [finding for finding in settled if finding.asks]
    if asking and all(finding.code in ("estimated-read", "catch-up") for finding in settled):
        return asking[-1]
    return next(iter(settled), None)


def by_the_hours(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Tell of findings of the records what the interval data say of them.

    The error of an estimate as the data have it, in place of one spread evenly over the days; and bills of another
    meter once, where the register jumps and the data part from the bills.
    """
    findings = _of_another_by_the_hours(findings)
    told = {
        f.figures["edge"]: (1.0 if f.figures["first_high"] else -1.0) * f.figures["moved"]
        for f in findings
        if f.key == "interval-mismatch/estimate"
    }
    edges = {f.periods[-1] + 1: f.figures["closes"] for f in findings if f.key == "estimated-read/trued-up"}
    out = []
    for f in findings:
        if f.key == "estimated-read/trued-up" and f.figures["closes"] in told and f.figures["count"] == 1:
            error = told[f.figures["closes"]]
            f = replace(f, kwh=error, figures={**f.figures, "error": error, "about_right": False, "by_hours": True})
        elif f.code == "catch-up" and edges.get(f.periods[0]) in told and f.figures.get("estimates") == 1:
            f = replace(f, kwh=-told[edges[f.periods[0]]])
        out.append(f)
    return tuple(out)


def _of_another_by_the_hours(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    hours = next((f for f in findings if f.key == "meter-number/hours"), None)
    jump = next((f for f in findings if f.key == "meter-number/jump"), None)
    if hours is None or jump is None or jump.periods != hours.periods:
        return tuple(findings)
    both = replace(jump, kwh=hours.kwh, figures={**hours.figures, **jump.figures, "hours": True}, asks=hours.asks)
    return tuple(both if f is jump else f for f in findings if f is not hours)
