"""The answer as a workbook whose expected kWh are live formulas; every formula also carries its value.

A reader that recalculates follows a changed watt or hour through to the totals; one that does not sees numbers.
Text from users' files is written as text, whatever it begins with.
"""

from __future__ import annotations

import io
from datetime import datetime
from typing import TYPE_CHECKING, Any

from reconcile.report.views.money_view import field_test_view
from reconcile.report.views.view import view
from reconcile.report.workbooks.formulas import InventoryColumns, cell, expected_formula, weather_blocks
from reconcile.report.workbooks.money_sheet import money_sheet
from reconcile.report.workbooks.sheet_writer import Sheet
from reconcile.texts.cause_words import NAMES as CAUSES
from reconcile.texts.findings import finding_do, finding_text
from reconcile.texts.glossary_words import GLOSSARY, LIVE
from reconcile.texts.labels import FINDINGS, spoken
from reconcile.texts.page_words import IN_FIGURES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reconcile.result import Reconciliation

MARKER = "Made by reconcile; safe to overwrite by it."
"""Stands in the workbook's properties: by it the program knows its own earlier workbooks."""

SHEETS = ("answer", "bills", "loads", "weather", "expected", "causes", "records", "money", "field test", "words")


def workbook_bytes(result: Reconciliation) -> bytes:
    """Return ``reconciliation.xlsx``: the same bytes for the same answer."""
    import xlsxwriter

    page = io.BytesIO()
    with xlsxwriter.Workbook(page, {"in_memory": True}) as book:
        book.set_properties({"title": "reconciliation", "comments": MARKER, "created": datetime(2000, 1, 1)})
        sheets = {name: Sheet(book, name) for name in SHEETS if name != "field test" or result.field_test is not None}
        _inventory(sheets["loads"], result)
        _weather(sheets["weather"], result)
        _expected(sheets["expected"], result)
        _periods(sheets["bills"], result)
        _causes(sheets["causes"], result)
        _findings(sheets["records"], result)
        money_sheet(sheets["money"], result)
        if "field test" in sheets:
            _field_test(sheets["field test"], result)
        _words(sheets["words"])
        _answer(sheets["answer"], result)
    return page.getvalue()


def _inventory(sheet: Sheet, result: Reconciliation) -> None:
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


def _weather(sheet: Sheet, result: Reconciliation) -> None:
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


def _starts(sheet: Sheet, row: int, title: str, result: Reconciliation) -> None:
    sheet.put(row, 0, title, "head")
    for column, period in enumerate(result.rows, 1):
        sheet.put(row, column, period.start)


def _expected(sheet: Sheet, result: Reconciliation) -> None:
    sheet.put(0, 0, "kWh of each load in each period; a number changed on the sheet loads changes these.", "bold")
    sheet.wide(0, 0, 34)
    sheet.wide(1, len(result.rows) + 4, 13)
    _starts(sheet, 1, "period from", result)
    if not result.load_kwh:
        sheet.put(2, 0, "No load was weighed.")
        return
    periods = len(result.rows)
    for column, head in enumerate(("all periods", "with the bills", "from", "to"), periods + 1):
        sheet.put(1, column, head, "head")
    for j, kwh in enumerate(result.load_kwh):
        row = 2 + j
        sheet.put(row, 0, result.loads[j].load)
        for i, value in enumerate(kwh):
            sheet.formula(row, i + 1, expected_formula(result, j, i), value)
        sheet.formula(row, periods + 1, f"=SUM({cell(row, 1)}:{cell(row, periods)})", sum(kwh))
        load = result.loads[j]
        for column, value in enumerate((load.reconciled_kwh, load.low_kwh, load.high_kwh), periods + 2):
            sheet.put(row, column, value)
    last = 2 + len(result.load_kwh)
    sheet.put(last, 0, "all loads", "bold")
    for i in range(periods + 1):
        value = sum(sum(kwh) if i == periods else kwh[i] for kwh in result.load_kwh)
        sheet.formula(last, i + 1, f"=SUM({cell(2, i + 1)}:{cell(last - 1, i + 1)})", value, "sum")
    heard = sum(load.reconciled_kwh for load in result.loads)
    column = periods + 2
    sheet.formula(last, column, f"=SUM({cell(2, column)}:{cell(last - 1, column)})", heard, "sum")


def _periods(sheet: Sheet, result: Reconciliation) -> None:
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


def _causes(sheet: Sheet, result: Reconciliation) -> None:
    names = (
        "cause", "code", "chance", "from", "until", "size", "low", "high", "unit", "kWh over the bills", "in words",
    )  # fmt: skip
    sheet.heads(0, names, (36, 16, 9, 13, 13, 9, 9, 9, 7, 12, 90))
    for i, cause in enumerate(result.causes, 1):
        sheet.put(i, 0, spoken(cause.code, CAUSES))
        sheet.put(i, 1, cause.code)
        sheet.put(i, 2, cause.probability, "chance")
        values = (
            cause.since,
            cause.until,
            cause.size,
            cause.size_low,
            cause.size_high,
            cause.unit,
            cause.kwh,
            cause.text,
        )
        for column, value in enumerate(values, 3):
            sheet.put(i, column, value)


def _findings(sheet: Sheet, result: Reconciliation) -> None:
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


def _field_test(sheet: Sheet, result: Reconciliation) -> None:
    """Write the runs as judged; what the meter registers is a formula where it is the ratio of two cells."""
    names = ("run", "true W", "W a sound meter shows", "meter W", "registration, %", "give or take, %", "verdict")
    sheet.heads(0, names, (34, 11, 14, 11, 14, 14, 34))
    told = field_test_view(result)
    if result.field_test is None or told is None:
        return
    row = 0
    for row, (run, words) in enumerate(zip(result.field_test.runs, told["runs"], strict=True), 1):
        for column, value in enumerate((run.label, run.measured_w, run.expected_w, run.meter_w)):
            sheet.put(row, column, value)
        percent = run.registration_percent
        if percent is not None and run.expected_w and run.meter_w is not None:
            ratio = 100.0 * run.meter_w / run.expected_w
            if abs(ratio - percent) < 0.005:
                sheet.formula(row, 4, f"=100*{cell(row, 3)}/{cell(row, 2)}", percent)
                percent = None
        sheet.put(row, 4, percent)
        sheet.put(row, 5, run.expanded_percent)
        sheet.put(row, 6, words["zone"])
    for reading in told["main_off"]:
        row += 1
        sheet.put(row, 0, "main breaker off")
        sheet.put(row, 3, reading["told"])
        sheet.put(row, 6, reading["zone"])
    sheet.put(row + 2, 0, told["headline"])


def _words(sheet: Sheet) -> None:
    """Write the glossary."""
    sheet.heads(0, ("word", "whose", "meaning", "on the page"), (40, 22, 80, 40))
    for row, word in enumerate(GLOSSARY, 1):
        sheet.put(row, 0, word.word)
        sheet.put(row, 1, word.whose)
        sheet.story(row, {2: (word.meaning, 80)})
        sheet.put(row, 3, word.on_the_page)


_STORY = 100.0
"""Width of the column that tells the answer [letters]."""


def _answer(sheet: Sheet, result: Reconciliation) -> None:
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
    row = _figures(sheet, 4, result, words)
    if not words["urgent"]:
        row = _told(sheet, row, "Signs of danger", [words["signs_line"]])
    row = _told(sheet, row, "Written in your files", [*words["danger_words"]])
    if words["urgent"]:
        row = _told(sheet, row, "What to do now", words["stop"])
    for step in [] if words["urgent"] else words["steps"]:
        asked = f"{'Optional. ' if step['optional'] else ''}{step['text']}"
        minutes = f" ({step['minutes']})" if step["minutes"] else ""
        row = _told(sheet, row, step["place"], ["\n".join([*step["cautions"], asked + minutes])])
    say = [words["complain"]] if words["complain"] else []
    row = _told(sheet, row, "What to say", [*say, *words["phone"], *words["before_a_call"]])
    row = _told(sheet, row, "What might come back", words["back"])
    row = _told(sheet, row, "Why", words["reasons"])
    row = _told(sheet, row, "What was assumed", words["notices"])
    row = _told(sheet, row, "What is live here", [LIVE])
    sheet.put(row, 0, "Words", "bold")
    sheet.link(row, 1, "words", "What each word means: the sheet words")


def _figures(sheet: Sheet, row: int, result: Reconciliation, words: dict[str, Any]) -> int:
    """Write the figures as on the page, then the sums behind them as formulas."""
    row = _told(sheet, row, IN_FIGURES, [f"{size} {what}" for size, what in words["figures"]])
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
        ("Bills marked high, not rounded, kWh", f'=SUMIF({marks},"over",{over})', sum(marked)),
    ):
        sheet.put(row, 0, title, "bold")
        sheet.formula(row, 1, formula, value, "total")
        row += 1
    return row


def _told(sheet: Sheet, row: int, title: str, texts: Sequence[str]) -> int:
    for place, text in enumerate(texts):
        sheet.put(row, 0, "" if place else title, "bold")
        sheet.story(row, {1: (text, _STORY)})
        row += 1
    return row
