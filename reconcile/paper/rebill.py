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
    """Bills of the very same days: of copies one stands; where their kWh differ, none does, in whatever order."""
    groups: dict[tuple[object, object], list[int]] = {}
    for i, bill in enumerate(house.bills):
        if i not in aside:
            groups.setdefault((bill.start, bill.closes), []).append(i)
    findings: list[Finding] = []
    for group in groups.values():
        if len(group) == 1:
            continue
        bills = [house.bills[i] for i in group]
        known = sorted({bill.kwh for bill in bills if bill.kwh is not None})
        differ = len(known) > 1
        stands = min(group, key=lambda i: _least(house.bills[i], i))
        for i in group:
            if differ or i != stands:
                aside[i] = Aside.CONTRADICTED if differ else Aside.REPEATED
        findings.append(_repeated_finding(bills, tuple(group), known, stands=house.bills[stands]))
    return findings


def _least(bill: Bill, row: int) -> tuple[bool, bool, Decimal, int]:
    """Order of copies: one with kWh and an amount stands before one without, a lower amount before a higher."""
    return (bill.kwh is None, bill.amount is None, bill.amount or Decimal(0), row)


def _repeated_finding(bills: list[Bill], group: tuple[int, ...], known: list[float], stands: Bill) -> Finding:
    figures = {"bill": (stands.start, stands.end), "count": len(group)}
    if len(known) < 2:
        return Finding(
            "duplicate", group, stands.kwh, stands.amount, case="same", figures=figures,
            household=("remove-repeated",),
        )  # fmt: skip
    amounts = [bill.amount for bill in bills if bill.amount is not None]
    return Finding(
        "duplicate",
        group,
        known[-1] - known[0],
        max(amounts) - min(amounts) if len(amounts) == len(bills) else None,
        settles=True,
        case="differ",
        figures={**figures, "least_kwh": known[0], "most_kwh": known[-1]},
        asks=("paid-once",),
        household=("which-stands",),
    )
