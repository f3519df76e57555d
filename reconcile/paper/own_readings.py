"""Readings between the bills, often the household's own, against the bills' readings: a register only rises."""

from __future__ import annotations

from reconcile import registers
from reconcile.facts import Finding
from reconcile.house import Bill, RegisterReading
from reconcile.paper.ledger import Ledger


def against_own_readings(ledger: Ledger) -> list[Finding]:
    """Find dated values of ``readings.csv`` that a bill's readings contradict, one finding a bill.

    Only values of the register ``total`` on a meter that served throughout are compared, and none where the register
    passed zero or may have run backwards.
    """
    if ledger.house.generation or not ledger.house.readings:
        return []
    findings = []
    for i in ledger.live:
        for row in ledger.house.readings:
            if row.register.casefold() == "total" and row.type != "estimated" and _same_meter(ledger, i, row):
                printed = _contradicted(ledger, i, row)
                if printed is not None:
                    findings.append(_finding(ledger, i, row, printed))
                    break
    return findings


def _same_meter(ledger: Ledger, i: int, row: RegisterReading) -> bool:
    bill = ledger.bills[i]
    if row.event in ("removed", "installed", "exchange") or i in ledger.spans:
        return False
    if row.meter is not None and bill.meter is not None and row.meter != bill.meter:
        return False
    low, high = sorted((row.day, bill.closes))
    return not any(low < x.day <= high for x in ledger.exchanges)


def _contradicted(ledger: Ledger, i: int, row: RegisterReading) -> float | None:
    """Return the printed reading that cannot be right beside a dated one."""
    bill = ledger.bills[i]
    opens, closes = bill.reading_start, bill.reading_end
    if opens is None or closes is None or closes < opens:
        return None
    step = max(1.0, ledger.meters[i].step_kwh)
    inside = bill.start < row.day < bill.closes
    if inside and row.value < opens - step:
        return opens
    if closes - row.value > 10 ** registers.dials_of(closes, ledger.meters[i].digits) / 2:
        return None  # the register passed zero between the two
    too_high = row.value < closes - step and (row.day == bill.closes or _after_the_last(ledger, i, row, bill))
    too_low = row.value > closes + step and (row.day == bill.closes or inside)
    return closes if too_high or too_low else None


def _after_the_last(ledger: Ledger, i: int, row: RegisterReading, bill: Bill) -> bool:
    return i == ledger.live[-1] and row.day > bill.closes


def _finding(ledger: Ledger, i: int, row: RegisterReading, printed: float) -> Finding:
    bill = ledger.bills[i]
    closing = printed == bill.reading_end
    energy = (printed - row.value) * ledger.multipliers[i]
    figures = {
        "bill": ledger.dates(i),
        "own": row.type == "customer",
        "day": row.day,
        "value": row.value,
        "printed": printed,
        "closing": closing,
        "read_type": bill.read_type if closing else "actual",
        "kwh": abs(energy),
    }
    return Finding(
        "reading-mismatch",
        (i,),
        energy if closing else -energy,
        settles=True,
        case="own-reading",
        figures=figures,
        asks=("own-reading",),
    )
