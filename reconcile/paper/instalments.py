"""Budget billing: a plan's equal payments, told from the charges of each bill, and when they were set anew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from itertools import groupby, pairwise

from reconcile.facts import Finding
from reconcile.house import Bill, House
from reconcile.paper.ledger import Ledger
from reconcile.paper.unit_checks import NEAR_USUAL, PRICES

FEWEST = 4
"""Bills on end that ask for the same, to the cent, before a plan is seen in it (our choice)."""
UNEQUAL = 1.1
"""Times by which their kWh differ at least: equal amounts of equal use are no news (our choice)."""
LEFT = 2
"""Bills before the first and after the last of these that are too few to show a price of their own (our choice)."""


def as_instalments(house: House) -> House:
    """Return the house with equal payments for unequal use told apart from charges: as ``budget_amount``.

    Where charges stand beside them (``amount`` beside ``amount_due``), these stay; else what the bills cost is not
    known.

    Parameters
    ----------
    house : House

    Returns
    -------
    House
        The same one where no plan is seen.
    """
    bills = list(house.bills)
    for i in _equal(house, [b.amount if b.budget_amount in (None, b.amount) else None for b in bills], ends=True):
        bills[i] = replace(bills[i], amount=None, budget_amount=bills[i].amount)
    if tuple(bills) == house.bills:
        beside = [b.amount_due if b.budget_amount is None and b.amount is not None else None for b in bills]
        for i in _equal(house, beside, ends=False):
            bills[i] = replace(bills[i], budget_amount=bills[i].amount_due)
    return house if tuple(bills) == house.bills else replace(house, bills=tuple(bills))


def _equal(house: House, paid: Sequence[Decimal | None], *, ends: bool) -> list[int]:
    """Bills of a plan: those that ask for the same whatever their use, and with ``ends`` those between and beside."""
    use = [_kwh(bill) for bill in house.bills]
    rows = [(i, k, a) for i, (k, a) in enumerate(zip(use, paid, strict=True)) if a is not None and a > 0 and k]
    if any(line.start == house.bills[i].start for i, _, _ in rows for line in house.charges):
        return []  # printed lines make the amount: it is what they say
    runs = [list(run) for _, run in groupby(rows, key=lambda row: row[2])]
    plan = [run for run in runs if len(run) >= FEWEST and _times(run) >= UNEQUAL]
    if not plan or not _like_a_household(house, plan) or _least_of_all(rows, plan):
        return []
    known = [row[0] for row in rows]
    if not ends:
        return [i for run in runs if len(run) > 1 for i, _, _ in run]
    first, last = known.index(plan[0][0][0]), known.index(plan[-1][-1][0])
    pairs = [known.index(run[-1][0]) for run in runs if len(run) > 1]  # an installment set anew a bill or two ago
    last = max(last, *pairs)
    first = 0 if first <= LEFT else first
    last = len(known) - 1 if len(known) - 1 - last <= LEFT else last
    return known[first : last + 1]


Row = tuple[int, float, Decimal]


def _kwh(bill: Bill) -> float | None:
    if bill.kwh is not None:
        return bill.kwh if bill.kwh > 0 else None
    if bill.reading_start is None or bill.reading_end is None or bill.reading_end <= bill.reading_start:
        return None
    return bill.reading_end - bill.reading_start


def _times(run: Sequence[Row]) -> float:
    kwh = [k for _, k, _ in run]
    return max(kwh) / min(kwh)


def _like_a_household(house: House, plan: Sequence[Sequence[Row]]) -> bool:
    """Whether the payments come to a usual price a kWh: a minimum bill, which stands still too, comes to much more."""
    prices = PRICES.get(house.currency)
    if prices is None:
        return True
    price = float(sum(a for run in plan for _, _, a in run)) / sum(k for run in plan for _, k, _ in run)
    return prices.usual / NEAR_USUAL <= price <= prices.usual * NEAR_USUAL


def _least_of_all(rows: Sequence[Row], plan: Sequence[Sequence[Row]]) -> bool:
    """Whether those that stand still are the bills of the least use: then it is a minimum bill.

    Where hardly any other bill is left to say so, only if the minimum pays for all their kWh at the others' price.
    """
    still = {a for run in plan for _, _, a in run}
    others = [(k, a) for _, k, a in rows if a not in still]
    most_kwh, most = max(k for run in plan for _, k, _ in run), max(still)
    if not others or any(k <= most_kwh or a <= most for k, a in others):
        return False
    return len(others) > LEFT or all(float(a) / k * most_kwh <= float(most) for k, a in others)


def examine_instalments(ledger: Ledger) -> list[Finding]:
    """Say that payments are a plan's, where what the bills cost is not known or the plan was set anew."""
    on_plan = [i for i in ledger.live if ledger.bills[i].budget_amount is not None]
    if not on_plan:
        return []
    amounts = [ledger.bills[i].amount for i in on_plan]
    anew = [
        (ledger.bills[a].budget_amount, ledger.bills[b].budget_amount, ledger.dates(b))
        for a, b in pairwise(on_plan)
        if ledger.bills[a].budget_amount != ledger.bills[b].budget_amount
    ]
    charges = [a for a in amounts if a is not None]
    known = len(charges) == len(on_plan)
    if known and not anew:
        return []
    kwh = [ledger.kwh[i] for i in on_plan if ledger.kwh[i] > 0]
    figures = {
        **ledger.which(on_plan),
        "paid": ledger.bills[on_plan[0]].budget_amount,
        "anew": anew[-1] if anew else None,
        "least_kwh": min(kwh, default=None),
        "most_kwh": max(kwh, default=None),
        "charged": sum(charges, start=Decimal(0)) if known else None,
        "in_all": sum((ledger.bills[i].budget_amount or Decimal(0) for i in on_plan), start=Decimal(0)),
    }
    return [
        Finding(
            "budget-billing",
            tuple(on_plan),
            case="beside" if known else "",
            figures=figures,
            asks=("plan-balance",) if anew else (),
            household=() if known else ("plan-charges",),
        )
    ]
