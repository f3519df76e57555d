"""The starter as a workbook: drop-downs, checks in the cells, notes at the headings, examples in grey."""

from __future__ import annotations

import io
import re
import textwrap
from datetime import datetime
from typing import Any

from reconcile.read.tables.columns import TABLES, Column
from reconcile.read.tables.examples import EXAMPLES
from reconcile.report.workbooks.starter_rows import COLUMNS, rows_of
from reconcile.texts.starter_words import ERRORS, KEYS, NEXT, READ_ME

FONT = {"font_name": "Arial", "font_size": 10}
LINE_POINTS, LETTERS_A_LINE = 14.0, 76
LAST_ROW = 500
"""Last row that has drop-downs and checks [0-based]; weather goes on below it without."""
LAST_DAY_ROW = 4000
WIDTHS = {"load": 26, "note": 58, "start": 12, "end": 12, "date": 12, "mean_temperature": 17, "standby_watts": 14}
WIDTH, NARROW_NOTE = 13, 20
UNITS = {"kWh": "kWh", "W": "W", "hour/day": "h a day", "kW": "kW", "day": "days"}
"""Units told in a heading, by the unit a column is declared with."""
MOST_PROMPT, MOST_TITLE = 255, 32
"""Letters a spreadsheet shows when a cell is selected."""


def workbook_bytes(name: str, next_command: str) -> bytes:
    """Return the starter workbook.

    Parameters
    ----------
    name : str
        Name of the house.
    next_command : str
        What to type once it is filled in.
    """
    import xlsxwriter

    page = io.BytesIO()
    with xlsxwriter.Workbook(page, {"in_memory": True}) as book:
        book.set_properties({"created": datetime(2025, 1, 1)})
        book.formats[0].set_font_name(FONT["font_name"])
        book.formats[0].set_font_size(FONT["font_size"])
        look = _Look(book)
        _read_me(book, look, next_command)
        _house(book, look, name)
        for table in COLUMNS:
            _table(book, look, table)
        book.get_worksheet_by_name("bills").activate()
    return page.getvalue()


class _Look:
    """The formats of one workbook."""

    def __init__(self, book: Any) -> None:
        def make(**more: Any) -> Any:
            return book.add_format({**FONT, **more})

        self.title = make(bold=True, font_size=13, valign="top")
        self.text = make(text_wrap=True, valign="top")
        self.mono = make(font_name="Courier New", text_wrap=True, valign="top")
        self.head = make(bold=True, bottom=1, bg_color="#E8EEF4", text_wrap=True, valign="top")
        self.plain = make(locked=False)
        self.count = make(align="center", bold=True)
        self.day = make(num_format="yyyy-mm-dd", align="left")
        self.faint = make(font_color="#8A8A8A", italic=True)
        self.faint_day = make(font_color="#8A8A8A", italic=True, num_format="yyyy-mm-dd", align="left")
        self.hint = make(font_color="#5A5A5A")
        self.wrong = make(bg_color="#F6C9C4")
        self.odd = make(bg_color="#FBE8B8")


def _read_me(book: Any, look: _Look, next_command: str) -> None:
    sheet = book.add_worksheet("read me")
    sheet.set_column(0, 0, 84)
    sheet.set_portrait()
    sheet.set_margins(left=0.5, right=0.5)
    sheet.fit_to_pages(1, 0)
    lines = [(line, look.text) for line in READ_ME]
    lines[0] = (READ_ME[0], look.title)
    if next_command:
        lines += [(NEXT, look.text), (next_command, look.mono)]
    for row, (line, form) in enumerate(lines):
        height = LINE_POINTS * max(1, len(textwrap.wrap(line, LETTERS_A_LINE))) + 6.0
        sheet.set_row(row, height)
        sheet.write_string(row, 0, line, form)


def _house(book: Any, look: _Look, name: str) -> None:
    sheet = book.add_worksheet("house")
    sheet.set_column(0, 0, 30, look.plain)
    sheet.set_column(1, 1, 24, look.plain)
    sheet.set_column(2, 2, 76, look.hint)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.freeze_panes(1, 0)
    for column, heading in enumerate(("key", "value", "meaning")):
        sheet.write_string(0, column, heading, look.head)
    for row, key in enumerate(KEYS, start=1):
        sheet.write_string(row, 0, key.name, look.plain)
        sheet.write_string(row, 2, key.meaning, look.hint)
        if key.choices:
            sheet.data_validation(row, 1, row, 1, _choice(key.choices, key.name, key.meaning))
    sheet.write_string(1, 1, name, look.plain)


def _table(book: Any, look: _Look, table: str) -> None:
    sheet, names = book.add_worksheet(table), COLUMNS[table]
    last = LAST_DAY_ROW if table == "weather" else LAST_ROW
    sheet.freeze_panes(1, 1)
    sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    sheet.set_row(0, 2 * LINE_POINTS + 2.0)
    for at, name in enumerate(names):
        column = TABLES[table][name]
        width = WIDTHS.get(name, WIDTH)
        if name == "note" and table != "loads":
            width = NARROW_NOTE
        sheet.set_column(at, at, width, look.day if column.kind == "day" else look.plain)
        sheet.write_string(0, at, _heading(column), look.head)
        sheet.write_comment(0, at, _meaning(column), {"x_scale": 2.0, "y_scale": 1.1, "author": ""})
        check = _check(column, names, at)
        if check:
            sheet.data_validation(1, at, last, at, check)
    for row, cells in enumerate(rows_of(table), start=1):
        example = row <= len(EXAMPLES[table])
        for name, text in cells.items():
            faint = example or (name == "note" and table == "loads")
            _write(sheet, row, names.index(name), text, TABLES[table][name], look, faint=faint)
    if table == "bills":
        _colour_bills(sheet, look, names, last)


def _write(sheet: Any, row: int, at: int, text: str, column: Column, look: _Look, *, faint: bool) -> None:
    if column.kind == "day":
        sheet.write_datetime(row, at, datetime.fromisoformat(text), look.faint_day if faint else look.day)
    elif column.kind in ("number", "money") and re.fullmatch(r"-?[\d.]+", text):
        own = look.count if column.name == "count" else look.plain
        sheet.write_number(row, at, float(text), look.faint if faint else own)
    else:
        sheet.write_string(row, at, text, look.faint if faint else look.plain)


def _heading(column: Column) -> str:
    unit = UNITS.get(column.unit or "")
    named = unit is None or column.name.casefold().startswith((unit.casefold(), "days"))
    return column.name if named else f"{column.name} ({unit})"


def _meaning(column: Column) -> str:
    unit = UNITS.get(column.unit or "")
    told = column.meaning.replace("`", "")
    if unit and f"[{unit}]" not in told:
        told += f" [{unit}]"
    if column.default:
        told += f". Empty: {column.default}"
    return told[0].upper() + told[1:]


def _check(column: Column, names: tuple[str, ...], at: int) -> dict[str, Any]:
    """Return what a spreadsheet checks of a column's cells: hard for dates and words, a question for numbers."""
    meaning = _meaning(column)
    if column.words:
        return _choice(column.codes, column.name, meaning)
    told = _told(column.name, meaning)
    own, first = f"{_letter(at)}2", _letter(names.index("start")) + "2" if "start" in names else ""
    rule: dict[str, Any]
    if column.name == "end":
        rule = {"validate": "custom", "value": f"=AND(ISNUMBER({own}),{own}>{first})"}
        return {**told, **rule, **_error("order", "stop")}
    if column.kind == "day":
        rule = {"validate": "date", "criteria": ">", "value": datetime(1950, 1, 1)}
        return {**told, **rule, **_error("day", "stop")}
    if column.name == "count":
        rule = {"validate": "integer", "criteria": "between", "minimum": 0, "maximum": int(column.high or 1000)}
        return {**told, **rule, **_error("count", "stop")}
    if column.kind in ("number", "money"):
        low = -1e9 if column.low is None else column.low
        rule = {"validate": "decimal", "criteria": "between", "minimum": low, "maximum": column.high or 1e9}
        return {**told, **rule, **_error("number", "warning")}
    return {**told, "validate": "any"} if column.name != "note" else {}


def _choice(words: tuple[str, ...], name: str, meaning: str) -> dict[str, Any]:
    return {**_told(name, meaning), "validate": "list", "source": list(words), **_error("choice", "stop")}


def _told(name: str, meaning: str) -> dict[str, Any]:
    return {"input_title": name[:MOST_TITLE], "input_message": meaning[:MOST_PROMPT]}


def _error(kind: str, how: str) -> dict[str, Any]:
    title, message = ERRORS[kind]
    return {"error_title": title, "error_message": message, "error_type": how}


def _colour_bills(sheet: Any, look: _Look, names: tuple[str, ...], last: int) -> None:
    """Colour a period that ends before it begins, and an opening that is not the closing of the bill above."""
    start, end = names.index("start"), names.index("end")
    s, e = _letter(start), _letter(end)
    sheet.conditional_format(
        1, end, last, end, {"type": "formula", "criteria": f'=AND(${e}2<>"",${e}2<=${s}2)', "format": look.wrong}
    )
    sheet.conditional_format(
        2,
        start,
        last,
        start,
        {"type": "formula", "criteria": f'=AND(${s}3<>"",${e}2<>"",${s}3<${e}2)', "format": look.odd},
    )


def _letter(at: int) -> str:
    return chr(ord("A") + at)
