"""Money on a bill that is not this period's use, the lines of ``charges.csv``, and changed rates or
suppliers.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from itertools import pairwise

from reconcile import ledger_words as words
from reconcile.facts import Finding
from reconcile.house import ChargeLine
from reconcile.ledger_words import cents
from reconcile.money.apart import is_apart
from reconcile.paper.ledger import Ledger

PENNY = Decimal("0.01")


def examine_charges(ledger: Ledger) -> list[Finding]:
    """Tell apart the money that is not this period's use, and what does not add up among the printed
    lines.
    """
    return [*_amount_due(ledger), *_lines(ledger), *_rate_codes(ledger), *_negative(ledger)]


def _amount_due(ledger: Ledger) -> list[Finding]:
    findings: list[Finding] = []
    balance = Decimal(0)
    currency = ledger.house.currency
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
                findings.append(
                    Finding(
                        "other-charge",
                        (i,),
                        None,
                        apart,
                        f"{words.capital(words.span(bill))} asks for {words.money(bill.amount_due, currency)}, of "
                        f"which {words.money(bill.amount, currency)} is this period's electricity: "
                        f"{words.money(abs(apart), currency)} {_what(apart)}.",
                        "Look on the bill for arrears, a deposit, a fee, a credit or another service.",
                    )
                )
        if on_a_plan or balance != 0:
            balance += bill.amount - bill.amount_due
        if abs(balance) < PENNY:
            balance = Decimal(0)
    return findings


def _is_settlement(due: Decimal, amount: Decimal, apart: Decimal, balance: Decimal) -> bool:
    return min(abs(apart - balance), abs(due - amount - balance)) < PENNY


def _what(apart: Decimal) -> str:
    return "more, which is not" if apart > 0 else "less, by a credit or a payment"


def _settlement(ledger: Ledger, i: int, balance: Decimal, exact: bool) -> Finding:
    bill, currency = ledger.bills[i], ledger.house.currency
    due = bill.amount_due if bill.amount_due is not None else Decimal(0)
    amount = bill.amount if bill.amount is not None else Decimal(0)
    side = "behind" if balance > 0 else "ahead"
    text = (
        f"{words.capital(words.span(bill))} asks for {words.money(due, currency)}; its electricity is "
        f"{words.money(amount, currency)}. "
    )
    if exact:
        text += (
            f"The budget plan had fallen {words.money(abs(balance), currency)} {side} of the use of the bills before; "
            "this bill settles that. It is not this period's use."
        )
    else:
        text += (
            f"The budget plan's instalment is {words.money(bill.budget_amount or Decimal(0), currency)}, and by these "
            f"bills the plan stood {words.money(abs(balance), currency)} {side} before; the rest settles the plan or "
            "is another charge. It is not this period's use."
        )
    return Finding(
        "budget-settlement",
        (i,),
        None,
        due - amount,
        text,
        "Compare kWh, not the amount due; ask for the plan's statement if the sums differ.",
    )


def lines_of(ledger: Ledger) -> dict[int, list[ChargeLine]]:
    """Printed charge lines of every live bill that has some."""
    by_start: dict[object, list[ChargeLine]] = {}
    for line in ledger.house.charges:
        by_start.setdefault(line.start, []).append(line)
    return {i: by_start[ledger.bills[i].start] for i in ledger.live if ledger.bills[i].start in by_start}


def _lines(ledger: Ledger) -> list[Finding]:
    findings: list[Finding] = []
    currency = ledger.house.currency
    for i, lines in lines_of(ledger).items():
        findings += [f for line in lines if (f := _one_line(i, line, currency)) is not None]
        apart = sum((x.amount for x in lines if is_apart(x)), start=Decimal(0))
        total = sum((x.amount for x in lines), start=Decimal(0))
        amount = ledger.bills[i].amount
        named = words.listed([x.name for x in lines if is_apart(x)])
        if apart and amount is not None and abs(total - amount) < PENNY:
            findings.append(
                Finding(
                    "other-charge",
                    (i,),
                    None,
                    apart,
                    f"{words.capital(words.span(ledger.bills[i]))} holds {words.money(apart, currency)} that is not "
                    f"this period's electricity: {named}.",
                    "Take it out of the amount before bills are compared.",
                )
            )
        elif apart and (amount is None or abs(total - apart - amount) < PENNY):
            if ledger.bills[i].amount_due is None:
                findings.append(
                    Finding(
                        "other-charge",
                        (i,),
                        None,
                        apart,
                        f"Beside its electricity {words.span(ledger.bills[i])} asks for "
                        f"{words.money(apart, currency)}: {named}.",
                        "Nothing to do; it is kept apart here.",
                    )
                )
        elif amount is not None and abs(total - amount) >= PENNY:
            findings.append(
                Finding(
                    "amount-mismatch",
                    (i,),
                    None,
                    amount - total,
                    f"The lines of {words.span(ledger.bills[i])} add up to {words.money(total, currency)}; its amount "
                    f"is {words.money(amount, currency)}.",
                    "Look for a line that is missing or mistyped.",
                )
            )
    return findings


def _one_line(i: int, line: ChargeLine, currency: str) -> Finding | None:
    if line.quantity is None or line.rate is None:
        return None
    ours = cents(line.quantity * line.rate)
    if abs(ours - line.amount) < PENNY or abs(cents(ours / 100) - line.amount) < PENNY:
        return None  # a rate may be written in cents or in percent
    return Finding(
        "amount-mismatch",
        (i,),
        None,
        line.amount - ours,
        f"The line {line.name} reads {words.money(line.amount, currency)}; {line.quantity:f} x {line.rate:f} is "
        f"{words.money(ours, currency)}.",
        "Check the line as typed; if it is printed so, ask the billing desk.",
    )


def _rate_codes(ledger: Ledger) -> list[Finding]:
    findings: list[Finding] = []
    codes = [(i, ledger.bills[i].rate_code) for i in ledger.live if ledger.bills[i].rate_code]
    findings += _changes(ledger, codes, "rate code")
    suppliers = []
    for i, lines in lines_of(ledger).items():
        names = sorted({x.company for x in lines if x.part == "supply" and x.company})
        if names:
            suppliers.append((i, words.listed(names)))
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
                    None,
                    None,
                    f"The price plan changed on {words.day(event.day)}.",
                    "Give the new prices as a second [[tariff]] from that day.",
                )
            )
    return findings


def _changes(ledger: Ledger, values: Sequence[tuple[int, str | None]], what: str) -> list[Finding]:
    return [
        Finding(
            "rate-code-change",
            (b,),
            None,
            None,
            f"The {what} changes from {old} to {new} with {words.span(ledger.bills[b])}.",
            "See that you asked for the change, and give its prices as a [[tariff]] from that day.",
        )
        for (_, old), (b, new) in pairwise(values)
        if old != new
    ]


def _negative(ledger: Ledger) -> list[Finding]:
    findings: list[Finding] = []
    for i in ledger.live:
        if not ledger.kwh[i] < 0 or (ledger.bills[i].kwh is None and not ledger.house.generation):
            continue
        span = words.capital(words.span(ledger.bills[i]))
        if ledger.house.generation:
            text = f"{span} is {words.kwh(-ledger.kwh[i])} net the other way: more sent out than drawn."
            do = "Weigh such a house by what it drew and what it sent out, where the bill gives both."
        else:
            text = f"{span} has negative kWh, and no generation is known: it takes back an earlier charge."
            do = "Ask the billing desk which bill it corrects."
        findings.append(
            Finding("negative-use", (i,), ledger.kwh[i], None, text, do, settles=not ledger.house.generation)
        )
    return findings
