"""The answer as a workbook whose expected kWh are live formulas; every formula also carries its value.

A reader that recalculates follows a changed watt or hour through to the totals; one that does not sees numbers.
Text from users' files is written as text, whatever it begins with.
"""

from __future__ import annotations

import io
import math
from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from reconcile.report.formulas import InventoryColumns, cell, expected_formula, weather_blocks
from reconcile.report.view import view
from reconcile.say import Voice, clean
from reconcile.texts.cause_words import NAMES as CAUSES
from reconcile.texts.findings import finding_do, finding_text
from reconcile.texts.labels import BRIDGE, FINDINGS, HAZARDS, spoken

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reconcile.result import Reconciliation

MARKER = "Made by reconcile; safe to overwrite by it."
"""Stands in the workbook's properties: by it the program knows its own earlier workbooks."""
_LINE_POINTS = 15.0
"""Height of a line of the standard font [pt]; a row ends at 409."""
_LONGEST_TEXT = 32_000
"""Letters in a cell; the format ends at 32767."""


def workbook_bytes(result: Reconciliation) -> bytes:
    """Return ``reconciliation.xlsx``: the same bytes for the same answer.

    Parameters
    ----------
    result : Reconciliation

    Returns
    -------
    bytes
    """
    import xlsxwriter

    page = io.BytesIO()
    with xlsxwriter.Workbook(page, {"in_memory": True}) as book:
        book.set_properties({"title": "reconciliation", "comments": MARKER, "created": datetime(2000, 1, 1)})
        sheets = {
            name: _Sheet(book, name)
            for name in ("answer", "bills", "loads", "weather", "expected", "causes", "records", "money")
        }
        _inventory(sheets["loads"], result)
        _weather(sheets["weather"], result)
        _expected(sheets["expected"], result)
        _periods(sheets["bills"], result)
        _causes(sheets["causes"], result)
        _findings(sheets["records"], result)
        _money(sheets["money"], result)
        _answer(sheets["answer"], result)
    return page.getvalue()


class _Sheet:
    """One sheet, written cell by cell: each kind of value knows its format, and text is only ever text."""

    def __init__(self, book: Any, name: str) -> None:
        self._sheet = book.add_worksheet(name)
        self._sheet.set_landscape()
        self._sheet.fit_to_pages(1, 0)
        key = "_reconcile_formats"
        if not hasattr(book, key):
            setattr(
                book,
                key,
                {
                    "head": book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"}),
                    "title": book.add_format({"bold": True, "font_size": 14}),
                    "bold": book.add_format({"bold": True, "valign": "top"}),
                    "wrap": book.add_format({"text_wrap": True, "valign": "top", "align": "left", "indent": 1}),
                    "text": book.add_format({"valign": "top", "align": "left", "indent": 1}),
                    "number": book.add_format({"num_format": "#,##0.00", "valign": "top"}),
                    "whole": book.add_format({"num_format": "#,##0", "valign": "top"}),
                    "total": book.add_format({"num_format": "#,##0", "align": "left", "indent": 1}),
                    "plain": book.add_format({"num_format": "General", "valign": "top"}),
                    "chance": book.add_format({"num_format": "0 %", "valign": "top"}),
                    "day": book.add_format({"num_format": "mmm d, yyyy", "align": "left", "valign": "top"}),
                    "sum": book.add_format({"num_format": "#,##0.00", "bold": True, "top": 1}),
                },
            )
        self._formats = getattr(book, key)

    def put(self, row: int, column: int, value: Any, form: str | None = None) -> None:
        """Write a value; None leaves the cell empty."""
        if value is None or value == "":
            return
        if isinstance(value, bool):
            self._sheet.write_string(row, column, "yes" if value else "no", self._formats[form or "text"])
        elif isinstance(value, date):
            self._sheet.write_datetime(
                row, column, datetime(value.year, value.month, value.day), self._formats[form or "day"]
            )
        elif isinstance(value, int | float | Decimal):
            number = float(value)
            if number - number == 0.0:  # an infinity or not-a-number has no cell
                self._sheet.write_number(
                    row, column, number, self._formats[form or ("whole" if isinstance(value, int) else "number")]
                )
        else:
            self._sheet.write_string(row, column, _text(str(value)), self._formats[form or "text"])

    def formula(self, row: int, column: int, formula: str, value: float | None, form: str = "number") -> None:
        """Write a formula with the value it has now."""
        self._sheet.write_formula(row, column, formula, self._formats[form], "" if value is None else value)

    def heads(self, row: int, names: Sequence[str], widths: Sequence[float] = ()) -> None:
        """Write a header row and keep it in sight."""
        for column, name in enumerate(names):
            self.put(row, column, name, "head")
        for column, width in enumerate(widths):
            self._sheet.set_column(column, column, width)
        lines = max(_lines(name, width) for name, width in zip(names, widths, strict=True))
        self._sheet.set_row(row, _LINE_POINTS * lines)
        self._sheet.freeze_panes(row + 1, 1)

    def story(self, row: int, texts: dict[int, tuple[str, float]]) -> None:
        """Write wrapped texts, column: (text, width), in a row tall enough: not every reader fits it itself."""
        for column, (text, _) in texts.items():
            self.put(row, column, text, "wrap")
        self._sheet.set_row(row, _LINE_POINTS * min(max(_lines(*item) for item in texts.values()), 27))

    def wide(self, first: int, last: int, width: float) -> None:
        """Set the width of columns [letters]."""
        self._sheet.set_column(first, last, width)


def _lines(text: str, width: float) -> int:
    return sum(max(1, math.ceil(1.05 * len(line) / width)) for line in text.split("\n"))


def _text(text: str) -> str:
    return "\n".join(str(clean(line)) for line in text.split("\n"))[:_LONGEST_TEXT]


def _inventory(sheet: _Sheet, result: Reconciliation) -> None:
    columns = InventoryColumns
    sheet.heads(0, columns.NAMES, (34, *([11] * (len(columns.NAMES) - 1))))
    for i, load in enumerate(result.house.loads, 1):
        for column, value in columns.values(load):
            sheet.put(i, column, value, "plain" if isinstance(value, int | float) else None)
    rest = _rest(result)
    if rest is not None:
        row = len(result.house.loads) + 1
        sheet.put(row, columns.LOAD, result.loads[-1].load)
        sheet.put(row, columns.KWH_A_DAY, rest, "number")


def _rest(result: Reconciliation) -> float | None:
    """Unlisted kWh a day, the same in every period."""
    if len(result.load_kwh) != len(result.house.loads) + 1 or not result.rows:
        return None
    bill = result.house.bills[0]
    return result.load_kwh[-1][0] / max(bill.days, 1)


def _weather(sheet: _Sheet, result: Reconciliation) -> None:
    sheet.put(0, 0, "What calendar and weather give each load in each period; the sheet expected uses it.", "bold")
    sheet.wide(0, 0, 34)
    sheet.wide(1, max(len(result.rows), 1), 13)
    _starts(sheet, 1, "period from", result)
    for title, top, rows in weather_blocks(result):
        sheet.put(top - 1, 0, title, "head")
        for i, (name, values) in enumerate(rows):
            sheet.put(top + i, 0, name)
            for column, value in enumerate(values, 1):
                sheet.put(top + i, column, value, "number")


def _starts(sheet: _Sheet, row: int, title: str, result: Reconciliation) -> None:
    sheet.put(row, 0, title, "head")
    for column, period in enumerate(result.rows, 1):
        sheet.put(row, column, period.start)


def _expected(sheet: _Sheet, result: Reconciliation) -> None:
    sheet.put(0, 0, "kWh of each load in each period; a number changed on the sheet loads changes these.", "bold")
    sheet.wide(0, 0, 34)
    sheet.wide(1, len(result.rows) + 1, 13)
    _starts(sheet, 1, "period from", result)
    if not result.load_kwh:
        sheet.put(2, 0, "No load was weighed.")
        return
    periods = len(result.rows)
    sheet.put(1, periods + 1, "all periods", "head")
    for j, kwh in enumerate(result.load_kwh):
        row = 2 + j
        sheet.put(row, 0, result.loads[j].load)
        for i, value in enumerate(kwh):
            sheet.formula(row, i + 1, expected_formula(result, j, i), value)
        sheet.formula(row, periods + 1, f"=SUM({cell(row, 1)}:{cell(row, periods)})", sum(kwh))
    last = 2 + len(result.load_kwh)
    sheet.put(last, 0, "all loads", "bold")
    for i in range(periods + 1):
        value = sum(sum(kwh) if i == periods else kwh[i] for kwh in result.load_kwh)
        sheet.formula(last, i + 1, f"=SUM({cell(2, i + 1)}:{cell(last - 1, i + 1)})", value, "sum")


def _periods(sheet: _Sheet, result: Reconciliation) -> None:
    currency = result.house.currency
    names = (
        "start", "end", "days", "billed kWh", "load list only, kWh",
        "load list only, low", "load list only, high", "usual kWh",
        "usual, low", "usual, high", "over or under kWh", f"over or under {currency}", "mark", "why not judged",
        "reading",
    )  # fmt: skip
    sheet.heads(0, names, (13, 13, 7, 11, 11, 11, 11, 11, 11, 11, 11, 11, 11, 40, 11))
    total = 2 + len(result.load_kwh)
    for i, row in enumerate(result.rows, 1):
        for column, value in enumerate((row.start, row.end, row.days, row.billed_kwh)):
            sheet.put(i, column, value)
        if row.expected_kwh is not None and result.load_kwh:
            sheet.formula(i, 4, f"=expected!{cell(total, i)}", row.expected_kwh)
        else:
            sheet.put(i, 4, row.expected_kwh)
        limits = (row.low_kwh, row.high_kwh, row.usual_kwh, row.usual_low_kwh, row.usual_high_kwh)
        for column, value in enumerate(limits, 5):
            sheet.put(i, column, value)
        if row.excess_kwh is not None:
            sheet.formula(i, 10, f"={cell(i, 3)}-{cell(i, 7)}", row.excess_kwh)
        for column, told in enumerate((row.excess_amount, row.flag, row.why_not_judged, row.read_type), 11):
            sheet.put(i, column, told)


def _causes(sheet: _Sheet, result: Reconciliation) -> None:
    names = (
        "cause", "code", "chance", "from", "until", "size", "low", "high", "unit", "kWh over the bills", "in words",
    )  # fmt: skip
    sheet.heads(0, names, (36, 16, 9, 13, 13, 9, 9, 9, 7, 12, 90))
    for i, cause in enumerate(result.causes, 1):
        sheet.put(i, 0, spoken(cause.code, CAUSES))
        sheet.put(i, 1, cause.code)
        sheet.put(i, 2, cause.probability, "chance")
        since, until = (None, cause.since) if cause.code == "old-meter-slow" else (cause.since, cause.until)
        values = (since, until, cause.size, cause.size_low, cause.size_high, cause.unit, cause.kwh, cause.text)
        for column, value in enumerate(values, 3):
            sheet.put(i, column, value)


def _findings(sheet: _Sheet, result: Reconciliation) -> None:
    names = (
        "finding",
        "code",
        "periods from",
        "kWh",
        result.house.currency,
        "what the billing records show",
        "what to do",
    )
    sheet.heads(0, names, (30, 18, 28, 10, 10, 80, 60))
    voice = result.voice
    for i, finding in enumerate(result.findings, 1):
        sheet.story(i, {5: (finding_text(finding, voice), 80), 6: (finding_do(finding, voice), 60)})
        starts = [result.rows[p].start.isoformat() for p in finding.periods if p < len(result.rows)]
        values = (
            spoken(finding.code, FINDINGS),
            finding.code,
            ", ".join(starts),
            finding.kwh,
            finding.amount,
        )
        for column, value in enumerate(values):
            sheet.put(i, column, value)


def _money(sheet: _Sheet, result: Reconciliation) -> None:
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
    told = result.money.to_dict(Voice(result.house.locale, result.house.currency))
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
    for title, rows in _money_blocks(told):
        row += 1
        sheet.put(row, 0, title, "bold")
        for name, amount in rows:
            row += 1
            sheet.put(row, 0, name)
            sheet.put(row, 5, amount)
        row += 1
    for note in told.get("notes", ()):
        sheet.put(row, 0, note)
        row += 1


def _bill_total(sheet: _Sheet, row: int, first: int, start: date, bill: dict[str, Any]) -> int:
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


def _money_blocks(told: dict[str, Any]) -> list[tuple[str, list[tuple[str, float | None]]]]:
    blocks: list[tuple[str, list[tuple[str, float | None]]]] = []
    bridge = told["bridge"]
    if bridge is not None:
        parts = [(spoken(part, BRIDGE), amount) for part, amount in bridge["parts"].items()]
        title = f"Why the money changed, from {bridge['from']} to {bridge['to']}"
        blocks.append((title, [("Before", bridge["from_amount"]), *parts, ("After", bridge["to_amount"])]))
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


_STORY = 100.0
"""Width of the column that tells the answer [letters]."""


def _answer(sheet: _Sheet, result: Reconciliation) -> None:
    """Write the first sheet: the answer, its figures, what to do, what to say, and why."""
    words = view(result)
    sheet.wide(0, 0, 38)
    sheet.wide(1, 1, _STORY)
    sheet.put(0, 0, result.house.name, "title")
    sheet.put(1, 0, words["range"])
    sheet.put(2, 0, "The answer", "bold")
    sheet.story(2, {1: (words["headline"], _STORY)})
    sheet.put(3, 0, "Decision", "bold")
    sheet.put(3, 1, words["decision"])
    row = _figures(sheet, 4, result, words["three"])
    for step in result.verdict.next_steps:
        cautions = [f"Caution: {caution}" for caution in step.cautions]
        row = _told(sheet, row, HAZARDS[step.hazard], ["\n".join([*cautions, step.text])])
    row = _told(sheet, row, "What to say", words["phone"])
    row = _told(sheet, row, "Why", words["reasons"])
    row = _told(sheet, row, "What was assumed", words["notices"])
    _told(sheet, row, "What is live here", [LIVE])


LIVE = (
    "A changed load follows through: the sheet expected, the column load list only of the sheet bills, and the sums "
    "above are formulas. Ranges, usual kWh, causes and chances were worked out by the program and stand as values; "
    "to have them follow, change the files and run reconcile check again."
)
"""What the workbook claims of its own formulas."""


def _figures(sheet: _Sheet, row: int, result: Reconciliation, three: dict[str, str]) -> int:
    """Write the three figures as on the page, then the sums behind them as formulas."""
    for title, told in (
        ("Over usual", three["kwh"]),
        ("Over usual, in money", three["money"]),
        ("Chance that the meter is fast", three["meter"]),
    ):
        sheet.put(row, 0, title, "bold")
        sheet.put(row, 1, told)
        row += 1
    last = max(len(result.rows), 1)
    marked = [p.excess_kwh or 0.0 for p in result.rows if p.flag == "over"]
    marks, over = (f"bills!{cell(1, column)}:{cell(last, column)}" for column in (12, 10))
    for title, formula, value in (
        ("Billed, kWh", f"=SUM(bills!{cell(1, 3)}:{cell(last, 3)})", sum(p.billed_kwh or 0.0 for p in result.rows)),
        (
            "From the load list only, kWh",
            f"=SUM(bills!{cell(1, 4)}:{cell(last, 4)})",
            sum(p.expected_kwh or 0.0 for p in result.rows),
        ),
        ("Bills marked high: billed less usual, kWh", f'=SUMIF({marks},"over",{over})', sum(marked)),
    ):
        sheet.put(row, 0, title, "bold")
        sheet.formula(row, 1, formula, value, "total")
        row += 1
    return row


def _told(sheet: _Sheet, row: int, title: str, texts: Sequence[str]) -> int:
    for text in texts:
        sheet.put(row, 0, title, "bold")
        sheet.story(row, {1: (text, _STORY)})
        row += 1
    return row
