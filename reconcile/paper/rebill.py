"""Bills that do not count: cancelled, repeated, or replaced by a corrected one."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import TypeVar

from reconcile.facts import Aside, Finding
from reconcile.house import Bill, House


def sort_out(house: House) -> tuple[list[Finding], dict[int, Aside]]:
    """Find cancelled, replaced and repeated bills; return the findings and the bills to set aside."""
    findings: list[Finding] = []
    aside: dict[int, Aside] = {}
    for i, bill in enumerate(house.bills):
        if bill.bill_type == "cancelled":
            aside[i] = Aside.CANCELLED
    findings += _corrected(house, aside)
    findings += _repeated(house, aside)
    return findings, aside


def _corrected(house: House, aside: dict[int, Aside]) -> list[Finding]:
    findings: list[Finding] = []
    bills = house.bills
    told: set[int] = set()
    for c, corrected in enumerate(bills):
        if corrected.bill_type != "corrected":
            continue
        replaced = [i for i, b in enumerate(bills) if i != c and b.bill_type != "corrected" and _is_about(corrected, b)]
        for i in replaced:
            aside.setdefault(i, Aside.REPLACED)
        told.update(replaced)
        findings.append(_corrected_finding(house, c, replaced))
    for i, bill in enumerate(bills):
        if bill.bill_type == "cancelled" and i not in told:
            figures = {"bill": (bill.start, bill.end)}
            findings.append(Finding("rebill", (i,), case="cancelled", figures=figures, asks=("corrected-bill",)))
    return findings


def _corrected_finding(house: House, c: int, replaced: list[int]) -> Finding:
    bill = house.bills[c]
    dates = (bill.start, bill.end)
    if not replaced:
        return Finding("rebill", (c,), case="alone", figures={"bill": dates}, household=("keep-both",))
    old = [house.bills[i] for i in replaced]
    kwh = _sum([b.kwh for b in old])
    amount = _sum([b.amount for b in old])
    figures = {
        "bill": dates,
        "count": len(replaced),
        "kwh": bill.kwh if kwh is not None else None,
        "kwh_before": kwh if bill.kwh is not None else None,
        "amount": bill.amount if amount is not None else None,
        "amount_before": amount if bill.amount is not None else None,
    }
    return Finding(
        "rebill",
        (*sorted(replaced), c),
        None if kwh is None or bill.kwh is None else bill.kwh - kwh,
        None if amount is None or bill.amount is None else bill.amount - amount,
        figures=figures,
        asks=("credit-statement",),
    )


N = TypeVar("N", float, Decimal)


def _sum(values: Sequence[N | None]) -> N | None:
    """Sum of values that are all known."""
    known = [v for v in values if v is not None]
    return sum(known[1:], start=known[0]) if known and len(known) == len(values) else None


def _is_about(corrected: Bill, bill: Bill) -> bool:
    """Whether a corrected bill covers most days of another one: its dates may be a few days off."""
    shared = (min(corrected.closes, bill.closes) - max(corrected.start, bill.start)).days
    return 2 * shared > bill.days


def _repeated(house: House, aside: dict[int, Aside]) -> list[Finding]:
    findings: list[Finding] = []
    first: dict[tuple[object, object], int] = {}
    for i, bill in enumerate(house.bills):
        if i in aside:
            continue
        k = first.setdefault((bill.start, bill.closes), i)
        if k == i:
            continue
        aside[i] = Aside.REPEATED
        same = house.bills[k].kwh == bill.kwh
        figures = {"bill": (bill.start, bill.end), "kwh": bill.kwh, "first_kwh": house.bills[k].kwh}
        findings.append(
            Finding(
                "duplicate",
                (k, i),
                bill.kwh,
                bill.amount,
                case="same" if same else "differ",
                figures=figures,
                asks=("paid-once",),
                household=("remove-repeated",) if same else ("which-stands",),
            )
        )
    return findings
