"""What somebody outside writes with the library; held clean by type checkers, and run."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal

import pandas as pd

import reconcile
from reconcile import Estimate, Fault, House, InputError, Reconciliation
from reconcile.house import Bill, Load


def several(houses: Iterable[House]) -> pd.DataFrame:
    """The bills of many houses in one frame."""
    return pd.concat([reconcile.reconcile(house).summary() for house in houses], ignore_index=True)


def wrong(bill: Bill) -> list[Fault]:
    """The faults of a house with one bill."""
    try:
        reconcile.reconcile(House("one", (bill,)))
    except InputError as error:
        return list(error.faults)
    return []


def main() -> None:
    """Weigh a house from frames and one built by hand."""
    bills = pd.DataFrame({"end": ["2025-02-06", "2025-03-07"], "days": [30, 29], "kwh": [912, 801]})
    loads = pd.DataFrame({"load": ["Refrigerator", "Clothes dryer"]})
    framed = House.from_frames(bills, loads, occupants=2, floor_area="120 m^2")
    by_hand = House(
        "by hand",
        (Bill(date(2025, 1, 7), date(2025, 2, 6), kwh=912.0, amount=Decimal("131.20")),),
        (Load("Kiln", watts=60.0, run_hours=4.0),),
    )
    frame = several([framed, by_hand])
    result: Reconciliation = reconcile.reconcile(framed)
    decision: str = result.verdict.decision
    reasons: tuple[str, ...] = tuple(result.verdict.reasons)
    probability: float = max((cause.probability for cause in result.causes), default=0.0)
    expected: Estimate = reconcile.estimate(framed)
    year_kwh: float = expected.year.expected_kwh
    said: dict[str, object] = result.to_dict()
    assert wrong(Bill(date(2025, 2, 6), date(2025, 1, 7), kwh=1.0))
    assert len(frame) == 3
    print(decision, len(reasons), f"{probability:.2f} {year_kwh:.0f}", said["schema"], len(reconcile.schema()))


if __name__ == "__main__":
    main()
