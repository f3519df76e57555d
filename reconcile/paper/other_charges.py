"""Money on a bill that is not this period's use, printed lines, changed rates or suppliers, and credit for export."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise

from reconcile.facts import Finding
from reconcile.house import ChargeLine
from reconcile.money.recompute import amount_of, is_apart
from reconcile.money.tariff_lines import cents
from reconcile.paper.ledger import Ledger
from reconcile.records import dataclass

PENNY = Decimal("0.01")
MOST_UNPAID, LATE_FEE = 3, 0.12
"""Bills on end that may be carried over as unpaid, and the part of them that a late fee may add (our choice: what is
written of such fees lies between one and ten per cent, or some dollars)."""
LATE_SUM = 0.25
"""The same part where the sum beside the bill's own charges is printed, or known to the cent (our choice)."""
MOST_SINGLE = 0.2
"""Where more than this part of the bills ask for other money, it is another service rather than a balance (our
choice)."""


@dataclass(frozen=True, slots=True)
class Unpaid:
    """What a bill carries over from the bills before it."""

    asked: Decimal
    """What those bills asked."""
    bills: int
    """How many they are."""
    fee: float
    """Money beyond it."""


def unpaid_before(ledger: Ledger, i: int, more: float, within: float, late_fee: float = LATE_FEE) -> Unpaid | None:
    """Return what the bills just before one asked, where its other money is that, and a late fee at most.

    Parameters
    ----------
    more : float
        Money of the bill beyond its own charges.
    within : float
        By how much that may be wrong.
    late_fee : float, optional
        Part of the balance that a late fee may add.
    """
    asked = Decimal(0)
    earlier = [j for j in ledger.live if j < i][-MOST_UNPAID:]
    for count, j in enumerate(reversed(earlier), start=1):
        one = amount_of(ledger.house, j)
        if one is None or one <= 0:
            return None
        asked += one
        fee = more - float(asked)
        if -within <= fee <= late_fee * float(asked) + within:
            return Unpaid(asked, count, fee)
    return None


def examine_charges(ledger: Ledger) -> list[Finding]:
    """Tell apart the money that is not this period's use, and what does not add up among the printed
    lines.
    """
    return [*_amount_due(ledger), *_lines(ledger), *_rate_codes(ledger), *_negative(ledger)]


def _amount_due(ledger: Ledger) -> list[Finding]:
    findings: list[Finding] = []
    balance = Decimal(0)
    beside = [i for i in ledger.live if _beside(ledger, i) >= PENNY]
    single = len(beside) <= max(1.0, MOST_SINGLE * len(ledger.live))
    for i in ledger.live:
        bill = ledger.bills[i]
        on_a_plan = bill.budget_amount is not None
        if bill.amount is None:
            continue
        if bill.amount_due is None:
            balance += bill.amount - bill.budget_amount if bill.budget_amount is not None else Decimal(0)
            continue
        apart = bill.amount_due - (bill.budget_amount if bill.budget_amount is not None else bill.amount)
        if abs(apart) >= PENNY:
            settles_plan = balance != 0 and _is_settlement(bill.amount_due, bill.amount, apart, balance)
            if on_a_plan or settles_plan:
                findings.append(_settlement(ledger, i, balance, settles_plan))
            else:
                figures = {"bill": ledger.dates(i), "due": bill.amount_due, "amount": bill.amount, "apart": apart}
                unpaid = unpaid_before(ledger, i, float(apart), float(PENNY) / 2, LATE_SUM) if single else None
                carried = {} if unpaid is None else {"unpaid": unpaid.asked, "bills": unpaid.bills, "fee": unpaid.fee}
                findings.append(
                    Finding(
                        "other-charge",
                        (i,),
                        amount=apart,
                        case="due" if carried else "",
                        figures={**figures, **carried},
                        asks=("what-for",),
                        household=("look-for-other-charges",),
                    )
                )
        if on_a_plan or balance != 0:
            balance += bill.amount - bill.amount_due
        if abs(balance) < PENNY:
            balance = Decimal(0)
    return findings


def _beside(ledger: Ledger, i: int) -> Decimal:
    """Money that a bill asks for beside its own charges."""
    due, amount = ledger.bills[i].amount_due, ledger.bills[i].amount
    return Decimal(0) if due is None or amount is None else due - amount


def _is_settlement(due: Decimal, amount: Decimal, apart: Decimal, balance: Decimal) -> bool:
    return min(abs(apart - balance), abs(due - amount - balance)) < PENNY


def _settlement(ledger: Ledger, i: int, balance: Decimal, exact: bool) -> Finding:
    bill = ledger.bills[i]
    due = bill.amount_due if bill.amount_due is not None else Decimal(0)
    amount = bill.amount if bill.amount is not None else Decimal(0)
    return Finding(
        "budget-settlement",
        (i,),
        amount=due - amount,
        case="exact" if exact else "",
        figures={
            "bill": ledger.dates(i),
            "due": due,
            "amount": amount,
            "instalment": bill.budget_amount or Decimal(0),
            "balance": balance,
        },
        asks=("plan-statement",),
        household=("compare-kwh",),
    )


def lines_of(ledger: Ledger) -> dict[int, list[ChargeLine]]:
    """Printed charge lines of every live bill that has some."""
    by_start: dict[object, list[ChargeLine]] = {}
    for line in ledger.house.charges:
        by_start.setdefault(line.start, []).append(line)
    return {i: by_start[ledger.bills[i].start] for i in ledger.live if ledger.bills[i].start in by_start}


def _lines(ledger: Ledger) -> list[Finding]:
    findings: list[Finding] = []
    for i, lines in lines_of(ledger).items():
        findings += [f for line in lines if (f := _one_line(i, line)) is not None]
        beside = [x for x in lines if is_apart(x)]
        apart = sum((x.amount for x in beside), start=Decimal(0))
        total = sum((x.amount for x in lines), start=Decimal(0))
        amount = ledger.bills[i].amount
        figures = {"bill": ledger.dates(i), "apart": apart, "names": tuple(x.name for x in beside)}
        if apart and amount is not None and abs(total - amount) < PENNY:
            findings.append(
                Finding(
                    "other-charge",
                    (i,),
                    amount=apart,
                    case="within",
                    figures=figures,
                    household=("take-out-other-charges",),
                )
            )
        elif apart and (amount is None or abs(total - apart - amount) < PENNY):
            if ledger.bills[i].amount_due is None:
                findings.append(Finding("other-charge", (i,), amount=apart, case="beside", figures=figures))
        elif amount is not None and abs(total - amount) >= PENNY:
            findings.append(
                Finding(
                    "amount-mismatch",
                    (i,),
                    amount=amount - total,
                    case="lines",
                    figures={"bill": ledger.dates(i), "sum": total, "amount": amount},
                    household=("lines-typed",),
                )
            )
    return findings


def _one_line(i: int, line: ChargeLine) -> Finding | None:
    if line.quantity is None or line.rate is None:
        return None
    ours = cents(line.quantity * line.rate)
    if abs(ours - line.amount) < PENNY or abs(cents(ours / 100) - line.amount) < PENNY:
        return None  # a rate may be written in cents or in percent
    figures = {
        "name": line.name,
        "amount": line.amount,
        "quantity": line.quantity,
        "rate": line.rate,
        "ours": ours,
    }
    return Finding(
        "amount-mismatch",
        (i,),
        amount=line.amount - ours,
        case="line",
        figures=figures,
        asks=("line-by-line",),
        household=("lines-typed",),
    )


def _rate_codes(ledger: Ledger) -> list[Finding]:
    findings: list[Finding] = []
    codes = [(i, (str(ledger.bills[i].rate_code),)) for i in ledger.live if ledger.bills[i].rate_code]
    findings += _changes(ledger, codes, "rate-code")
    suppliers = []
    for i, lines in lines_of(ledger).items():
        names = tuple(sorted({x.company for x in lines if x.part == "supply" and x.company}))
        if names:
            suppliers.append((i, names))
    findings += _changes(ledger, suppliers, "supplier")
    told = {i for f in findings for i in f.periods}
    for event in ledger.house.events:
        if event.kind != "price-plan":
            continue
        i = next((j for j in ledger.live if ledger.bills[j].start <= event.day < ledger.bills[j].closes), -1)
        if i >= 0 and not told & {i, i + 1}:
            findings.append(
                Finding(
                    "rate-code-change",
                    (i,),
                    case="diary",
                    figures={"day": event.day},
                    household=("prices-from-day",),
                )
            )
    return findings


def _changes(ledger: Ledger, values: Sequence[tuple[int, tuple[str, ...]]], case: str) -> list[Finding]:
    return [
        Finding(
            "rate-code-change",
            (b,),
            case=case,
            figures={"bill": ledger.dates(b), "old": old, "new": new},
            asks=("confirm-rate",),
            household=("prices-from-day",),
        )
        for (_, old), (b, new) in pairwise(values)
        if old != new
    ]


def _negative(ledger: Ledger) -> list[Finding]:
    if ledger.house.generation:
        return _sent_out(ledger)
    return [
        Finding(
            "negative-use",
            (i,),
            ledger.kwh[i],
            settles=True,
            figures={"bill": ledger.dates(i), "kwh": -ledger.kwh[i]},
            asks=("credit-for",),
        )
        for i in ledger.live
        if ledger.kwh[i] < 0 and ledger.bills[i].kwh is not None
    ]


def _sent_out(ledger: Ledger) -> list[Finding]:
    """Tell in one line which bills are below zero; ask for both registers where one of them does not give them."""
    below = tuple(i for i in ledger.live if ledger.kwh[i] < 0)
    if not below:
        return []
    kwh = sum(ledger.kwh[i] for i in below)
    figures = {**ledger.which(below), "kwh": -kwh}
    asks = both_registers(ledger, below)
    return [Finding("negative-use", below, kwh, case="generation", figures=figures, household=asks)]


def both_registers(ledger: Ledger, periods: Sequence[int]) -> tuple[str, ...]:
    """What is asked where one of some bills does not give what was drawn and what was sent out."""
    bills = [ledger.bills[i] for i in periods]
    both = all(bill.delivered_kwh is not None and bill.received_kwh is not None for bill in bills)
    return () if both else ("both-ways",)


NEAR_PERCENT, NEAR_KWH = 1.0, 1.5
"""Two energies are the same within this much, rounding of both registers included (our choice)."""

LEAST_SENT_KWH = 10.0
"""Less sent out than this tells no way of billing from the other (our choice)."""


def examine_export_credit(ledger: Ledger) -> list[Finding]:
    """Find bills that charge all that was delivered where others of this house charge what is left of both registers.

    Returns
    -------
    list of Finding
        One for all bills without the credit, where at least two others have it.
    """
    credited, uncredited = [], []
    for i in ledger.live:
        bill = ledger.bills[i]
        if bill.kwh is None or bill.delivered_kwh is None or (bill.received_kwh or 0.0) < LEAST_SENT_KWH:
            continue
        near = NEAR_KWH + NEAR_PERCENT / 100.0 * bill.delivered_kwh
        left = max(bill.delivered_kwh - (bill.received_kwh or 0.0), 0.0)
        if abs(bill.kwh - left) <= near:
            credited.append(i)
        elif abs(bill.kwh - bill.delivered_kwh) <= near:
            uncredited.append(i)
    if len(credited) < 2 or not uncredited:
        return []
    kwh = sum(ledger.bills[i].received_kwh or 0.0 for i in uncredited)
    return [
        Finding(
            "export-not-credited",
            tuple(uncredited),
            kwh,
            settles=True,
            figures={**ledger.which(uncredited), "kwh": kwh},
            asks=("credit-export",),
        )
    ]
