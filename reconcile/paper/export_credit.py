"""Energy sent out that some bills take off and others do not."""

from __future__ import annotations

from reconcile.facts import Finding
from reconcile.paper.ledger import Ledger

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
