"""Bills of kWh below zero in a house that makes none: what they take back, and what is refused."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import timedelta
from statistics import median

from reconcile.house import Bill
from reconcile.read.bills.bill_edges import Edges
from reconcile.read.tables.gate import Gate

ROUNDED = 1.0
"""Readings and kWh that are rounded to whole ones differ by no more [kWh]."""
Rows = tuple[list[Edges], list[Bill | None], list[Bill]]


def without_taken_back(edges: Sequence[Edges], found: Sequence[Bill | None], bills: Sequence[Bill]) -> Rows:
    """Read a row that is an earlier bill with the sign turned, to the kWh and the cent, as that bill's cancelling.

    Returns
    -------
    edges, found, bills : list
        Without such rows; the bill that each takes back is cancelled.
    """
    back: dict[int, int] = {}
    for at, bill in enumerate(found):
        if bill is not None and bill.kwh is not None and bill.kwh < 0.0:
            twins = [k for k, one in enumerate(found) if k not in back.values() and _turned(bill, one)]
            if len(twins) == 1:
                back[at] = twins[0]
    cancelled: dict[int, Bill] = {}
    for at, of in back.items():
        row, taken = edges[at].row, found[of]
        if taken is not None:
            cancelled[id(taken)] = replace(taken, bill_type="cancelled")
            row.table.read_as.append(
                f"row {row.number} takes back the bill of row {edges[of].row.number}, which is cancelled"
            )
    gone = {id(found[at]) for at in back}
    kept = [at for at in range(len(found)) if at not in back]
    return (
        [edges[at] for at in kept],
        [cancelled.get(id(found[at]), found[at]) for at in kept],
        [cancelled.get(id(bill), bill) for bill in bills if id(bill) not in gone],
    )


def _turned(bill: Bill, other: Bill | None) -> bool:
    """Whether another bill is the same with the sign turned."""
    if other is None or other.kwh is None or bill.kwh is None or (bill.start, bill.end) != (other.start, other.end):
        return False
    money = bill.amount is None or other.amount is None or abs(bill.amount) == abs(other.amount)
    return money and other.kwh == -bill.kwh


def refuse_below_zero(edges: Sequence[Edges], found: Sequence[Bill | None], bills: Sequence[Bill], gate: Gate) -> None:
    """Refuse kWh below zero of a house that makes none, unless its readings say so or it gives back an overcharge."""
    for edge, bill in zip(edges, found, strict=True):
        if bill is None or bill.kwh is None or bill.kwh >= 0.0 or bill.received_kwh is not None:
            continue
        if _runs_back(bill, bills) or _gives_back(bill, bills):
            continue
        new_file = " (a new file beside the bills if there is none)" if gate.settings_in == "file" else ""
        read = "" if bill.reading_end is None else (
            " If the reading is lower than the one before, one of the two was misread: leave the kWh of this row "
            "empty, and the readings are examined."
        )  # fmt: skip
        gate.wrong(
            edge.row["kwh"],
            "energy cannot be below zero where the house makes none",
            "Check the sign. Where it gives back what the bill before charged too much, write the amounts of all "
            f"bills. Where the house makes electricity, set generation = true under [house] in house.toml{new_file}. "
            "Of a credit that takes an earlier bill back, leave the row out and mark that bill cancelled in a column "
            f"bill_type.{read}",
        )


def _runs_back(bill: Bill, bills: Sequence[Bill]) -> bool:
    """Whether its readings run backwards by as much, and no more is asked for than on any bill of some kWh."""
    if bill.reading_start is None or bill.reading_end is None or bill.kwh is None:
        return False
    moved = bill.reading_end - bill.reading_start
    asked = [one.amount for one in bills if one.amount is not None and (one.kwh or 0.0) > 0.0]
    cheap = bill.amount is None or bill.amount < min(asked, default=bill.amount + 1)
    return cheap and moved < 0.0 and abs(moved * (bill.multiplier or 1.0) - bill.kwh) <= ROUNDED


def _gives_back(bill: Bill, bills: Sequence[Bill]) -> bool:
    """Whether a bill of less than nothing gives back what the one before charged too much: an estimate, a misreading.

    The one before charged more a day than most and at least what is given back, and the money says it too: less is
    asked than on any bill of some kWh, which a sign mistyped would not do. Of power sent out the bill before is low.
    """
    drawn = [one for one in bills if one.kwh is not None and one.kwh > 0.0 and one.bill_type != "cancelled"]
    before = next((one for one in drawn if one.end == bill.start or one.end + timedelta(days=1) == bill.start), None)
    if before is None or bill.amount is None or bill.kwh is None or before.kwh is None:
        return False
    usual = median((one.kwh or 0.0) / max(one.days, 1) for one in drawn)
    asked = [one.amount for one in drawn if one.amount is not None]
    return (
        before.kwh >= -bill.kwh and before.kwh > usual * before.days and bill.amount < min(asked, default=bill.amount)
    )
