"""Bills that do not count: cancelled, repeated, or replaced by a corrected one."""

from __future__ import annotations

from decimal import Decimal

from reconcile import ledger_words as words
from reconcile.facts import CANCELLED, REPEATED, REPLACED, Finding
from reconcile.house import Bill, House


def sort_out(house: House) -> tuple[list[Finding], dict[int, str]]:
    """Find cancelled, replaced and repeated bills; return the findings and the bills to set aside."""
    findings: list[Finding] = []
    aside: dict[int, str] = {}
    for i, bill in enumerate(house.bills):
        if bill.bill_type == "cancelled":
            aside[i] = CANCELLED
    findings += _corrected(house, aside)
    findings += _repeated(house, aside)
    return findings, aside


def _corrected(house: House, aside: dict[int, str]) -> list[Finding]:
    findings: list[Finding] = []
    bills = house.bills
    told: set[int] = set()
    for c, corrected in enumerate(bills):
        if corrected.bill_type != "corrected":
            continue
        replaced = [i for i, b in enumerate(bills) if i != c and b.bill_type != "corrected" and _is_about(corrected, b)]
        for i in replaced:
            aside.setdefault(i, REPLACED)
        told.update(replaced)
        findings.append(_corrected_finding(house, c, replaced))
    for i, bill in enumerate(bills):
        if bill.bill_type == "cancelled" and i not in told:
            findings.append(
                Finding(
                    "rebill",
                    (i,),
                    None,
                    None,
                    f"{words.capital(words.span(bill))} was cancelled, and no corrected bill is here.",
                    "Add the corrected bill; if none came, ask the billing desk for it.",
                )
            )
    return findings


def _corrected_finding(house: House, c: int, replaced: list[int]) -> Finding:
    bills = house.bills
    span = words.span(bills[c])
    if not replaced:
        text = f"{words.capital(span)} is a corrected bill; the one it replaces is not here."
        return Finding(
            "rebill",
            (c,),
            None,
            None,
            text,
            "Keep both: the difference should have been credited or charged.",
        )
    old_kwh = [bills[i].kwh for i in replaced]
    old_money = [bills[i].amount for i in replaced]
    kwh = None
    amount = None
    text = f"{words.capital(span)} replaces {'an earlier one' if len(replaced) == 1 else 'earlier ones'}"
    known = [k for k in old_kwh if k is not None]
    new_kwh = bills[c].kwh
    if len(known) == len(replaced) and new_kwh is not None:
        kwh = new_kwh - sum(known)
        text += f": {words.kwh(new_kwh)} instead of {words.kwh(sum(known))}"
    paid = [a for a in old_money if a is not None]
    new_money = bills[c].amount
    if len(paid) == len(replaced) and new_money is not None:
        amount = new_money - sum(paid)
        before = words.money(sum(paid, start=Decimal(0)), house.currency)
        text += f", {words.money(new_money, house.currency)} instead of {before}"
    return Finding(
        "rebill",
        (*sorted(replaced), c),
        kwh,
        amount,
        f"{text}. Only the corrected bill is weighed.",
        "See that the next statement credits or charges the difference, once.",
    )


def _is_about(corrected: Bill, bill: Bill) -> bool:
    """Whether a corrected bill covers most days of another one: its dates may be a few days off."""
    shared = (min(corrected.closes, bill.closes) - max(corrected.start, bill.start)).days
    return 2 * shared > bill.days


def _repeated(house: House, aside: dict[int, str]) -> list[Finding]:
    findings: list[Finding] = []
    first: dict[tuple[object, object], int] = {}
    for i, bill in enumerate(house.bills):
        if i in aside:
            continue
        k = first.setdefault((bill.start, bill.closes), i)
        if k == i:
            continue
        aside[i] = REPEATED
        same = house.bills[k].kwh == bill.kwh
        text = f"{words.capital(words.span(bill))} is there twice" + (
            "." if same else f", with {_said(house.bills[k])} and with {_said(bill)}; the first is weighed."
        )
        do = "See whether it was paid twice, and take one of the two lines out of the file."
        if not same:
            do = (
                "Find out which one stands: mark the other as cancelled, or this one as corrected. If they are two "
                "meters, weigh them as two houses or add their kWh."
            )
        findings.append(Finding("duplicate", (k, i), bill.kwh, bill.amount, text, do))
    return findings


def _said(bill: Bill) -> str:
    return words.kwh(bill.kwh) if bill.kwh is not None else "no kWh"
