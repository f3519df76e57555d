"""The case that a decision rests on: what the answer's rows, facts and causes say, in figures and codes."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from reconcile.costs import Costs
from reconcile.decide.rules import Case, Chances, Site
from reconcile.facts import OTHERS, Finding
from reconcile.grounds.ranges import LASTING_CODES, PART_AT
from reconcile.house import House
from reconcile.interval.found import ABOVE_PLATE, STEP_SIZES
from reconcile.kinds import Flag
from reconcile.records import dataclass
from reconcile.result import Cause, Period
from reconcile.weigh.constants import EVENT_DAYS

MONEY_FINDINGS = ("other-charge", "budget-settlement", "amount-mismatch")
"""Findings about money alone: no kWh stands behind them, and yet the bill is high."""

WORTH_ASKING = Decimal("0.10")
"""Part of a usual bill from which such money is worth a call to the billing desk."""

WHOLE_RECORD = 0.8
"""Part of the judged bills from which a finding that settles is about the whole record."""

GOOD_PART = 0.5
"""Part of what the bills are over by which one ratio throughout may account for it (our choice)."""

MADE_UP_AT = 0.5
"""Part of a low bill's shortfall by which a neighbor is high where its reading may have been off."""


@dataclass(frozen=True, slots=True)
class Told:
    """What the answer tells: its rows and causes, whether the diary tells of the rise, and whether there is danger."""

    rows: tuple[Period, ...]
    causes: tuple[Cause, ...]
    diary: bool
    danger: bool
    costs: Costs
    listed: bool = True
    """Whether a list of loads was used."""
    one_factor: bool = False
    """Readings of one register give the kWh of the bills throughout: no multiplier changed."""
    tied: bool = False
    """The interval data add up to every bill that stands out: its reading is right."""


OF_ANOTHER = ("meter-work", *OTHERS, "multiplier/perhaps")
"""Findings, by their key, that leave open whose meter, or which multiplier, the bills are of."""


TOO_FAR_PERCENT = 80.0
"""Rise of the registration [%] that a wrong multiplier, or another home's meter, makes rather than a fast meter (common
practice: registers that fail run slow or stand)."""


def case_of(house: House, findings: Sequence[Finding], told: Told, odds: Chances | None, site: Site) -> Case:
    """Gather the case.

    Parameters
    ----------
    odds : Chances or None
        None where nothing could be weighed.
    """
    rows = told.rows
    flags = [row.flag for row in rows]
    judged = sum(flag is not Flag.NOT_JUDGED for flag in flags)
    outside = frozenset(i for i, flag in enumerate(flags) if flag in (Flag.OVER, Flag.UNDER))
    excess = sum(row.excess_kwh or 0.0 for row in rows if row.flag is Flag.OVER)
    # what likely lasts is asked about wherever it stands, though no bill of it be outside its range
    lasting = frozenset(i for i, part in enumerate(_parts(rows, told.causes, told.costs.likely)) if part)
    settled, settles_all = facts_settle(findings, outside | lasting if outside else outside, judged, excess)
    elsewhere = outside.isdisjoint(period for finding in findings if finding.settles for period in finding.periods)
    high, alone = flags.count(Flag.OVER), apart(rows, told.causes, told.costs.likely)
    # bills of a likely cause are no fact's of other bills: what is to be asked of those is asked all the same
    settled &= not (high == len(outside) > 0 and alone == 0 and elsewhere)
    return Case(
        danger=told.danger,
        judged=judged,
        listed=bool(house.loads) and told.listed,
        odds=odds if judged else None,
        site=site,
        settled=settled,
        settles_all=settles_all,
        owed=money_owed(findings, usual_bill(house)),
        high=high,
        apart=alone,
        low=flags.count(Flag.UNDER),
        low_open=_made_up(rows) or _unread(house, rows),
        told=told.diary,
        tied=told.tied,
        emptied=any(_emptied(cause, house, told.costs.likely) for cause in told.causes),
        above_plate=any(finding.code == ABOVE_PLATE for finding in findings),
        resized=any(finding.code == STEP_SIZES and finding.figures["open"] for finding in findings),
        whose=any(finding.key in OF_ANOTHER for finding in findings)
        or (not told.one_factor and any(_too_far(c, told.costs) for c in told.causes)),
        costs=told.costs,
    )


MOST_PERCENT = 60.0
"""Fall of what people use [%] from which nobody, or hardly anybody, is left there: fewer people, or less at home, leave
more than that (our choice)."""

WENT = ("away", "occupants", "removed-load")
"""Kinds of a diary line that tell of who, or what, went."""


def _emptied(cause: Cause, house: House, likely: float) -> bool:
    """Whether a home likely stands all but empty from a day on, of which its diary says nothing.

    Whoever asks knows whether anybody is there: as long as nobody has said so, a meter that stands still or counts a
    part of what is used is as near.
    """
    since = cause.since
    if cause.code != "habit-step" or cause.probability < likely or since is None:
        return False
    told = any(event.kind in WENT and abs((event.day - since).days) <= EVENT_DAYS for event in house.events)
    return (cause.size or 0.0) <= -MOST_PERCENT and not told


def _too_far(cause: Cause, costs: Costs) -> bool:
    """Whether a likely meter error is larger than any meter's."""
    fast = cause.code == "meter-step" and cause.probability >= costs.likely
    return fast and cause.unit == "%" and (cause.size or 0.0) >= TOO_FAR_PERCENT


def apart(rows: Sequence[Period], causes: Sequence[Cause], likely: float) -> int:
    """Count the high bills that are likely no part of any lasting cause, nor beside one that is: it may begin within.

    Lasting causes count together: a bill of which one or another of them holds needs no reading checked, though the
    bills cannot tell which.
    """
    part = _parts(rows, causes, likely)
    return sum(row.flag is Flag.OVER and not any(part[max(i - 1, 0) : i + 2]) for i, row in enumerate(rows))


def _parts(rows: Sequence[Period], causes: Sequence[Cause], likely: float) -> list[bool]:
    """Whether each bill is likely a part of one lasting cause or another."""
    lasting = [cause for cause in causes if cause.code in LASTING_CODES]
    chances = (sum(cause.probability for cause in lasting if _holds(cause, i, row)) for i, row in enumerate(rows))
    return [chance >= likely for chance in chances]


def _holds(cause: Cause, at: int, row: Period) -> bool:
    """Whether a cause makes a good part of a bill."""
    if row.usual_kwh is None or at >= len(cause.pattern_kwh):
        return False
    return abs(cause.pattern_kwh[at]) > max(PART_AT * row.usual_kwh, 1.0)


def _made_up(rows: Sequence[Period]) -> bool:
    """Whether a low bill's neighbor is high by a good part of what it lacks: a reading between them may be off."""
    excess = [row.excess_kwh if row.excess_kwh is not None else 0.0 for row in rows]
    for i, row in enumerate(rows):
        if row.flag is not Flag.UNDER:
            continue
        beside = [excess[j] for j in (i - 1, i + 1) if 0 <= j < len(rows)]
        if beside and max(beside) >= MADE_UP_AT * abs(excess[i]):
            return True
    return False


def _unread(house: House, rows: Sequence[Period]) -> bool:
    """Whether a low bill, no part of a lasting fall nor of days away, has no readings that bear its kWh out."""
    gone = [event for event in house.events if event.kind in ("away", "outage")]
    for bill, row in zip(house.bills, rows, strict=True):
        away = any(event.day < row.end and (event.until or event.day) > row.start for event in gone)
        alone = row.flag is Flag.UNDER and row.part_of is None
        if alone and not away and (bill.reading_start is None or bill.reading_end is None):
            return True
    return False


def usual_bill(house: House) -> Decimal:
    """A bill's usual money: the middle one of those known; nothing where none is."""
    known = sorted(bill.amount for bill in house.bills if bill.amount is not None)
    return known[len(known) // 2] if known else Decimal(0)


def facts_settle(
    findings: Sequence[Finding], outside: frozenset[int], judged: int, excess_kwh: float = 0.0
) -> tuple[bool, bool]:
    """Say whether facts of the records settle anything, and whether they account for all that stands out.

    Parameters
    ----------
    outside : frozenset of int
        Bills outside their range.
    judged : int
        Bills judged.
    excess_kwh : float
        What those of them that are over are over in all [kWh]: one ratio of every bill to its hours accounts for it
        only where it is of the same sign and of a good part of it.

    Returns
    -------
    settled, settles_all : bool
    """
    settling = [finding for finding in findings if finding.settles]
    enough = [
        finding
        for finding in settling
        if finding.key != "interval-mismatch/ratio" or (finding.kwh or 0.0) * excess_kwh >= GOOD_PART * excess_kwh**2
    ]
    covered = {period for finding in enough for period in finding.periods}
    whole = any(len(finding.periods) >= WHOLE_RECORD * max(judged, 1) for finding in enough)
    return bool(settling), bool(settling) and (whole or (bool(outside) and outside <= covered))


def money_owed(findings: Sequence[Finding], usual_bill: Decimal) -> bool:
    """Whether money that is no use of this period is large enough against a usual bill to ask about."""
    return any(
        finding.code in MONEY_FINDINGS
        and finding.amount is not None
        and abs(finding.amount) > WORTH_ASKING * usual_bill
        for finding in findings
    )
