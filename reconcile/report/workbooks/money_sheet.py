"""The sheet of the money: bills worked out line by line, why the money changed, amounts at issue."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reconcile.report.views.money_view import dates_of
from reconcile.report.workbooks.formulas import cell
from reconcile.report.workbooks.sheet_writer import Sheet
from reconcile.say import Voice
from reconcile.texts.cause_words import NAMES as CAUSES
from reconcile.texts.labels import BRIDGE, FINDINGS, spoken
from reconcile.voices import voice_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import date

    from reconcile.result import Reconciliation

AFTER = "After"
"""Row that is the sum of those above it: the earlier amount and every part of the change."""


def money_sheet(sheet: Sheet, result: Reconciliation) -> None:
    """Write every bill worked out line by line, why the money changed, and the amounts at issue."""
    currency = result.house.currency
    names = (
        "period from",
        "line",
        "quantity",
        "unit",
        "rate",
        f"worked out {currency}",
        f"billed {currency}",
        "difference",
    )
    sheet.heads(0, names, (30, 44, 12, 10, 12, 14, 12, 12))
    if result.money is None:
        sheet.put(1, 0, "No bill gives an amount.")
        return
    told = result.money.to_dict(voice_of(result.house))
    row = 1
    for bill in told["recomputed"]:
        start = result.rows[bill["period"]].start
        first = row
        for line in bill["lines"]:
            values = (line["name"], line["quantity"], line["unit"], line["rate"], line["ours"], line["billed"])
            sheet.put(row, 0, start)
            for column, value in enumerate(values, 1):
                sheet.put(row, column, value, "plain" if column in (2, 4) and value is not None else None)
            row += 1
        row = _bill_total(sheet, row, first, start, bill)
    for title, rows in _money_blocks(told, lambda periods: dates_of(result.voice, result.rows, periods)):
        row += 1
        sheet.put(row, 0, title, "bold")
        first = row + 1
        for name, amount in rows:
            row += 1
            sheet.put(row, 0, name)
            if name == AFTER and amount is not None:
                sheet.formula(row, 5, f"=SUM({cell(first, 5)}:{cell(row - 1, 5)})", amount)
            else:
                sheet.put(row, 5, amount)
        row += 1
    for note in told.get("notes", ()):
        sheet.story(row, {1: (note, 44)})
        row += 1


def _bill_total(sheet: Sheet, row: int, first: int, start: date, bill: dict[str, Any]) -> int:
    """Close a bill: its lines' sum as a formula where every line counts once."""
    sheet.put(row, 0, start)
    sheet.put(row, 1, "the whole bill", "bold")
    ours, billed = bill["ours"], bill["billed"]
    counted = [line["ours"] for line in bill["lines"] if line["kind"] != "sum"]
    if len(counted) == len(bill["lines"]) and counted and abs(sum(counted) - ours) < 0.005:
        sheet.formula(row, 5, f"=SUM({cell(first, 5)}:{cell(row - 1, 5)})", ours, "sum")
    else:
        sheet.put(row, 5, ours, "sum")
    sheet.put(row, 6, billed, "sum")
    if billed is not None:
        sheet.formula(row, 7, f"={cell(row, 6)}-{cell(row, 5)}", billed - ours, "sum")
    return row + 1


def _money_blocks(
    told: dict[str, Any], of: Callable[[Sequence[int]], str]
) -> list[tuple[str, list[tuple[str, float | None]]]]:
    blocks: list[tuple[str, list[tuple[str, float | None]]]] = []
    bridge = told["bridge"]
    if bridge is not None:
        parts = [(spoken(part, BRIDGE), amount) for part, amount in bridge["parts"].items()]
        title = f"Why the money changed, from the bill of {of(bridge['from_periods'])} to {of(bridge['to_periods'])}"
        blocks.append((title, [("Before", bridge["from_amount"]), *parts, (AFTER, bridge["to_amount"])]))
    if told["disputed"]:
        names = {**FINDINGS, **CAUSES}
        stakes = [
            (_stake_name(spoken(code, names), stake["probability"]), stake["amount"])
            for code, stake in told["disputed"].items()
        ]
        blocks.append(("Amounts at issue, the most first", stakes))
    return blocks


def _stake_name(name: str, probability: float | None) -> str:
    return name if probability is None else f"{name}, if so ({Voice().chance_percent(probability)})"
