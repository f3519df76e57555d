"""What a house with panels of its own uses: from the register of what it was delivered and that of what it sent out.

A bill of such a house is what is left of two flows. What the house uses of its own generation passes no register, and
is taken as a part of what was sent out; where the bills give only what is left, generation itself has to be guessed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

import numpy as np

from reconcile.array_types import Floats
from reconcile.facts import Aside, Facts
from reconcile.house import House
from reconcile.house.outdoors import SOUTHERN, YEAR_DAYS
from reconcile.records import dataclass

SUNNIEST_DAY: Final = 172.0
"""Day of the year with the highest sun north of the tropics; half a year later south of them."""

SELF_USED: Final = (0.5, 0.25)
"""Own use of own generation over what is sent out: mean and one standard deviation, the same in all bills. A third of
what panels make being used at once is common in homes without a battery (common practice)."""

SELF_USED_SCATTER: Final = 0.15
"""How far that part differs from bill to bill, one standard deviation."""

UNREAD: Final = (0.4, 0.3)
"""Generation as a part of all use where no register reads it: mean and one standard deviation (our choice)."""

UNREAD_SEASON: Final = (0.5, 0.25)
"""Its yearly swing over its mean, likewise."""


EXPECTED_DOUBT: Final = 0.15
"""How far panels in order may be off what they were expected to make, one standard deviation, the same in all bills:
tilt, shade, dust and age are seldom as planned (our choice)."""


@dataclass(frozen=True, slots=True, eq=False)
class OwnUse:
    """Use behind the bills of n periods that no billed kWh hold."""

    kwh: Floats
    """To be added to what is billed [kWh], shape (n,)."""
    doubt: Floats
    """Its doubt shared by all periods, one column a standard deviation [kWh], shape (n, c)."""
    scatter: Floats
    """Its doubt from period to period, one standard deviation [kWh], shape (n,)."""
    read: bool
    """What was sent out is known."""


def sent_out(house: House) -> Floats:
    """Energy of each bill that went out to the grid [kWh]; NaN where the bill does not say, shape (n,)."""
    return np.array([np.nan if bill.received_kwh is None else bill.received_kwh for bill in house.bills], dtype=float)


def makes_its_own(house: House) -> bool:
    """Whether the house makes electricity: it says so, or something was sent out."""
    return house.generation or any((bill.received_kwh or 0.0) > 0.0 for bill in house.bills)


def expected_generation(house: House) -> Floats:
    """What the house's own panels should have made in each bill [kWh]; NaN where nobody says, shape (n,)."""
    return np.array(
        [np.nan if b.expected_generation_kwh is None else b.expected_generation_kwh for b in house.bills], dtype=float
    )


def _foretold(house: House) -> bool:
    """Whether every bill says what the panels should have made."""
    expected = expected_generation(house)
    return bool(np.isfinite(expected).all() and expected.any())


def guess_doubt(house: House) -> float:
    """Relative doubt of what the panels make where no register reads it, one standard deviation."""
    return EXPECTED_DOUBT if _foretold(house) else UNREAD[1] / UNREAD[0]


def course_of_the_sun(house: House) -> tuple[Floats, Floats]:
    """Cosine and sine of each bill's middle about the sunniest day, shape (n,) each."""
    sunniest = SUNNIEST_DAY + (YEAR_DAYS / 2.0 if house.timezone.startswith(SOUTHERN) else 0.0)
    middle = np.array([b.start.timetuple().tm_yday + b.days / 2.0 for b in house.bills], dtype=float)
    turn = 2.0 * np.pi * (middle - sunniest) / YEAR_DAYS
    return np.cos(turn), np.sin(turn)


def own_use(house: House, billed_kwh: Floats, use_kwh_per_day: float) -> OwnUse | None:
    """Say what the house used besides what it was billed; None of one without generation.

    Parameters
    ----------
    billed_kwh : ndarray, shape (n,)
    use_kwh_per_day : float
        What a day's use is about, for the guess where nothing is read [kWh/d].
    """
    if not makes_its_own(house):
        return None
    sent = sent_out(house)
    if np.isfinite(sent).any():
        mean, sd = SELF_USED
        known = np.where(np.isfinite(sent), sent, 0.0)
        delivered = np.array(
            [np.nan if bill.delivered_kwh is None else bill.delivered_kwh for bill in house.bills], dtype=float
        )
        credited = np.where(np.isfinite(delivered), delivered - billed_kwh, known)
        own = np.where(np.isfinite(sent), credited + mean * known, np.nan)
        return OwnUse(own, (sd * known)[:, None], SELF_USED_SCATTER * known, read=True)
    part, part_sd = UNREAD
    season, season_sd = UNREAD_SEASON
    per_bill = use_kwh_per_day * np.array([max(bill.days, 1) for bill in house.bills], dtype=float)
    expected = expected_generation(house)
    if _foretold(house):
        return OwnUse(expected, (EXPECTED_DOUBT * expected)[:, None], SELF_USED_SCATTER * expected, read=False)
    summer, aside = course_of_the_sun(house)
    made = part * (1.0 + season * summer) * per_bill
    doubt = np.column_stack(
        [
            part_sd * (1.0 + season * summer) * per_bill,
            part * season_sd * summer * per_bill,
            part * season_sd * aside * per_bill,
        ]
    )
    return OwnUse(made, doubt, SELF_USED_SCATTER * made, read=False)


def as_used(house: House, facts: Facts, use_kwh: Callable[[], float]) -> Facts:
    """Return the facts with what was used in place of what was billed; the same where there is no generation.

    ``use_kwh`` says what all the bills together should use, asked only where it is needed. A bill of zero that says
    nothing of the two registers is no zero: what was sent out beyond it was carried over or lost, so it is set aside
    and teaches nothing.
    """
    if not makes_its_own(house):
        return facts
    days = sum(max(bill.days, 1) for bill in house.bills)
    per_day = use_kwh() / days
    own = own_use(house, facts.billed_kwh, per_day if house.loads else max(per_day, _behind_the_net(house, facts)))
    if own is None:
        return facts
    aside = dict(facts.set_aside or {})
    for i, bill in enumerate(house.bills):
        unread = np.isnan(own.kwh[i]) if own.read else bill.received_kwh is None
        if unread and (own.read or facts.billed_kwh[i] == 0.0):
            aside.setdefault(i, Aside.SENT_OUT_UNKNOWN)
    used = np.maximum(facts.billed_kwh + np.nan_to_num(own.kwh), 0.0)
    return replace(facts, billed_kwh=used, set_aside=aside)


def _behind_the_net(house: House, facts: Facts) -> float:
    """A day's use by what is left of it [kWh/d], where nothing is listed: the net of winter lies nearer to all use.

    With use alike all year the net is use less generation, on the mean and, of a weaker sun, in the highest tenth.
    """
    rates = facts.billed_kwh / np.array([max(bill.days, 1) for bill in house.bills], dtype=float)
    known = rates[np.isfinite(rates)]
    if not known.size:
        return 0.0
    season, _ = UNREAD_SEASON
    return float((np.quantile(known, 0.9) - (1.0 - season) * known.mean()) / season)
