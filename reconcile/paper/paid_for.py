"""Typing or billing: where two figures of a bill's energy differ, its money says which one was charged."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reconcile.facts import MOVED, OTHERS, Aside, Facts, Finding
from reconcile.house import House
from reconcile.money.own_prices import price_line
from reconcile.money.recompute import amount_of, use_of
from reconcile.money.tariff_lines import CannotPrice, price_bill, total
from reconcile.paper.price_checks import rounding_can_do

OTHER = {
    **dict.fromkeys(("interval-mismatch/bill", "interval-mismatch/end"), "interval"),
    **dict.fromkeys(("reading-mismatch", "reading-mismatch/dated"), "read"),
}
"""Findings in which a bill's kWh stand against another figure, and under which name that figure is."""
ROUNDED_KWH = 0.0011
"""Part of a bill's money that rounding of its kWh to whole ones can make: half a kWh of an ordinary one (our
choice)."""
CLOSE = 1.5
"""Without a tariff: an amount is one figure's where it lies this many times nearer to its cost than nine bills in ten
lie to theirs (our choice)."""
FAR = 4.0
"""And the two costs lie this many times as far apart (our choice)."""
AS_IF = "multiplier/as-if"
"""A bill many times the others, with no reading to say why."""
OF_A_READING = ("reading-slip/suggested", "reading-slip/backwards", "stopped-register/not-read", "negative-use")
"""Findings that guess at a reading between two bills: told no more where the hours say what it was."""
SAME = ("unit-price", "amount-mismatch")
"""Findings that only say once more that the kWh typed are not those paid for."""


def by_amount(house: House, facts: Facts, findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Say of each contradicted bill whether its amount pays for the kWh as typed, or for the other figure.

    Parameters
    ----------
    house : House
    facts : Facts
    findings : sequence of Finding

    Returns
    -------
    tuple of Finding
        Where the amount pays for the kWh as typed, they were not mistyped and nobody is asked to look; where it pays
        for the other figure, they were, and nothing is asked of the utility. Else both stay open.
    """
    told: list[Finding] = []
    mistyped: set[int] = set()
    for finding in findings:
        paid = _paid(house, facts, finding)
        if paid == "typed":
            asks = ("multiplier",) if finding.key == AS_IF else finding.asks
            told.append(replace(finding, figures={**finding.figures, "paid": paid}, asks=asks, household=()))
        elif paid == "other":
            if finding.periods[0] in mistyped:
                continue  # a reading says it, and the hours say it once more
            mistyped.update(finding.periods)
            bills = [house.bills[i] for i in finding.periods]
            figures = {**finding.figures, "paid": paid, "bill": (bills[0].start, bills[-1].end)}
            which = ("kwh-mistyped",) if len(bills) == 1 else ("kwh-of-each-mistyped",)
            told.append(replace(finding, figures=figures, amount=None, settles=True, asks=(), household=which))
        else:
            told.append(finding)
    by_hours = [{*f.periods} for f in told if f.key in MOVED]
    return tuple(
        f
        for f in told
        if not (f.code in SAME and set(f.periods) <= mistyped)
        if not (f.key in OF_A_READING and any(p <= {*f.periods} or {*f.periods} <= p for p in by_hours))
    )


def setting_aside(facts: Facts, findings: Sequence[Finding]) -> Facts:
    """Return the facts with these findings; bills whose kWh were mistyped, and those of another meter, are set aside.

    Parameters
    ----------
    facts : Facts
    findings : sequence of Finding
        As :func:`by_amount` gives them.

    Returns
    -------
    Facts
        Where the hours show that the reading between two bills is wrong, that edge is loose too.
    """
    moved = {f.periods[0] for f in findings if f.key in MOVED and len(f.periods) == 2}
    wrong = {i: Aside.MISTYPED for f in findings if f.figures.get("paid") == "other" for i in f.periods}
    others = {i: Aside.OTHER_METER for f in findings if f.key in OTHERS for i in f.periods}
    return replace(
        facts,
        findings=tuple(findings),
        set_aside={**others, **wrong, **(facts.set_aside or {})},
        loose_edges=facts.loose_edges | moved,
    )


def _paid(house: House, facts: Facts, finding: Finding) -> str:
    if finding.key == "multiplier/readings":
        said = {
            _paid_for(house, facts, i, float(facts.billed_kwh[i]), read)
            for i, read in zip(finding.periods, finding.figures["read"], strict=True)
        }
        return said.pop() if len(said) == 1 else ""
    if finding.key == AS_IF and len(finding.periods) == 1:
        billed = float(facts.billed_kwh[finding.periods[0]])
        return _paid_for(house, facts, finding.periods[0], billed, billed / finding.figures["ratio"])
    if finding.key not in OTHER or len(finding.periods) != 1:
        return ""
    return _paid_for(house, facts, finding.periods[0], finding.figures["billed"], finding.figures[OTHER[finding.key]])


def _paid_for(house: House, facts: Facts, i: int, typed: float, other: float) -> str:
    """Which of two figures of bill i its amount pays for: ``typed``, ``other``, or neither alone."""
    amount = amount_of(house, i)
    if amount is None or house.bills[i].kwh is None or not (typed > 0 and other > 0):
        return ""
    costs = _by_tariff(house, i, typed, other) if house.tariffs else _by_other_bills(house, facts, i, typed, other)
    if costs is None:
        return ""
    first, second, within = costs
    fits = [abs(float(amount) - cost) <= within for cost in (first, second)]
    return {(True, False): "typed", (False, True): "other"}.get((fits[0], fits[1]), "")


def _by_tariff(house: House, i: int, typed: float, other: float) -> tuple[float, float, float] | None:
    """What the tariff as typed gives for each figure, and how near an amount must lie; another's kWh are rounded."""
    try:
        bills = [price_bill(house.tariffs, use_of(house, house.bills[i], kwh)) for kwh in (typed, round(other))]
    except CannotPrice:
        return None
    first, second = (float(total(lines)) for lines in bills)
    return first, second, max(float(rounding_can_do(len(bills[0]))), ROUNDED_KWH * second)


def _by_other_bills(
    house: House, facts: Facts, i: int, typed: float, other: float
) -> tuple[float, float, float] | None:
    """The same by the price of all the other bills, where they agree on one closely enough."""
    aside = facts.set_aside or {}
    known = [
        (bill.days, float(facts.billed_kwh[j]), float(amount))
        for j, bill in enumerate(house.bills)
        if j != i and j not in aside and bill.days > 0 and facts.billed_kwh[j] > 0
        and (amount := amount_of(house, j)) is not None
    ]  # fmt: skip
    line = price_line(*zip(*known, strict=True)) if known else None
    if line is None or line.per_kwh <= 0 or line.per_day < 0:
        return None
    days = house.bills[i].days
    first, second = line.cost(days, typed), line.cost(days, other)
    within = CLOSE * max(line.scatter, 0.002) * max(first, second)
    return (first, second, within) if abs(first - second) >= FAR * within else None
