"""Text files as they lie on the disk: bytes, encoding, and the cells of a CSV file, each with its line."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path

from reconcile.read.tables.cells import Grid
from reconcile.read.tables.columns import Columns
from reconcile.read.tables.csv_rows import SIGNS, csv_rows, usual_sign
from reconcile.read.tables.gate import Gate
from reconcile.read.tables.headers import score
from reconcile.read.values.numbers import half_width
from reconcile.read.wrappings.plain_bytes import LARGEST_BYTES, PACKED, as_utf8, gunzip, read_bytes
from reconcile.read.wrappings.word_texts import words_of

LARGEST_SETTINGS = 1_000_000
"""Bytes of a file of settings (a guard, common practice)."""
MOST_ROWS = 1_200_000
"""Most rows of a table: two years of one-minute readings (a guard, common practice)."""

ALIGNED = "  "
"""Columns set apart by two spaces or more, as in a text that was copied or printed."""
SNIFFED, LONGEST_HEAD = 60, 20_000
"""Lines and characters by which that sign is told (a guard, common practice)."""

LONGEST_PASTED = 400_000
"""Letters of a text that may be bills copied as they stood (a guard: a hundred bills of two pages)."""


def read_text(path: Path, file: str, gate: Gate, most: int = LARGEST_BYTES) -> str | None:
    """Return the text of a file, unpacked where it is packed; None, with a fault, where there is none to be had."""
    data = read_bytes(path, file, gate, most)
    if data is not None and data.startswith(PACKED):
        data = gunzip(data, file, gate, most)
    if data is None:
        return None
    if data.startswith(b"%PDF"):
        gate.fault("this is a PDF, whatever its name says", "Give its name the ending .pdf.", file=file)
        return None
    words = words_of(data)
    return decode(data, file, gate) if words is None else half_width(words)


def decode(data: bytes, file: str, gate: Gate) -> str | None:
    """Return the text of bytes, every line ended by a line feed; None, with a fault, where it is no text."""
    told = f"{file} is not saved as UTF-8; its letters were read as Windows Western (cp1252)."
    plain = as_utf8(data, lambda: gate.notice(told))
    if plain is None:
        gate.fault("this is not a text file, or a torn one", "Write a plain text file.", file=file)
        return None
    return half_width(plain.decode("utf-8").replace("\r\n", "\n").replace("\r", "\n"))


def read_csv(path: Path, file: str, gate: Gate, spec: Columns | None = None) -> Grid | None:
    """Return the cells of a CSV file, or of the table in a page, JSON or TOML; None, with a fault, where there is none.

    ``spec`` names the columns to expect, by which the sign between the columns is told.
    """
    text, kind = read_text(path, file, gate), kind_of_file(file)
    if text is not None and kind not in WRAPPED:
        kind = _kind_within(text)
    if text is None or kind not in WRAPPED:
        return None if text is None else parse_csv(text, file, gate, spec)
    rows = _unwrapped(text, kind)
    if rows is None:
        gate.fault("no table is found in it", "Save the table as .csv, one row a line.", file=file)
        return None
    gate.notice(f"{file} is read as the table that it holds, its rows counted from 1.")
    return Grid(file, None, list(enumerate(rows, start=1)))


WRAPPED = (".html", ".htm", ".json", ".toml")
"""Endings of texts that hold a table in marks of their own."""


def kind_of_file(name: str) -> str:
    """Return the ending of a file's name, small, of what is in it where it is packed.

    >>> kind_of_file("weather.CSV.gz"), kind_of_file("bills.html"), kind_of_file("bills")
    ('.csv', '.html', '')
    """
    return Path(name.casefold().removesuffix(".gz")).suffix


def _kind_within(text: str) -> str:
    """Return the ending that a text of another name should have, by how it begins; empty where it is a plain one."""
    begin = text[:2000].lstrip().casefold()
    if begin.startswith(("<!doctype html", "<html", "<table")):
        return ".html"
    return ".json" if re.match(r"\[\s*\{|\{\s*\"", begin) else ""


def _unwrapped(text: str, kind: str) -> list[list[str]] | None:
    """Return the longest table of a page, or the list of records of JSON or TOML, as rows of texts."""
    import json  # few houses hold such files
    import tomllib

    from reconcile.read.layouts.loose_tables import rows_of_json, tables_of_page

    if kind in (".html", ".htm"):
        return max(tables_of_page(text), key=len, default=None)
    if kind == ".toml":
        try:
            text = json.dumps(tomllib.loads(text), default=str)
        except (tomllib.TOMLDecodeError, RecursionError):
            return None
    return rows_of_json(text)


def parse_csv(text: str, file: str, gate: Gate, spec: Columns | None = None) -> Grid:
    """Return the cells of CSV text: commas, semicolons, tabs or bars between the columns, double quotes."""
    if spec is not None and len(text) <= LONGEST_PASTED:
        text = _mended(text)
    grid = Grid(file, text=text if len(text) <= LONGEST_PASTED else "")
    first = re.match(r"\ufeff?sep=(.)[^\n]*(?:\n|\Z)", text)
    skipped = 0
    if first:
        text, skipped = text[first.end() :], 1
    sign = first[1] if first and first[1] in SIGNS else _delimiter(text, spec)
    if sign == ALIGNED:
        text = "\n".join("\t".join(_apart(line)) for line in text.split("\n"))
        sign = "\t"
    rows = csv_rows(text, sign, file, gate, 1 + skipped, most=MOST_ROWS + 1)[0]
    if len(rows) > MOST_ROWS:
        gate.fault(f"there are more than {MOST_ROWS} rows", "Split the file.", file=file, row=rows.pop()[0])
    grid.rows += [(row, _with_whole_dates(values) if sign == "," else values) for row, values in rows]
    return grid


_DAY = r"\d{1,4}[/.-]\d{1,2}[/.-]\d{2,4}"
_CURLY = (
    '(?m)(^|[,;\\t|])\\s*[\N{LEFT DOUBLE QUOTATION MARK}\N{DOUBLE LOW-9 QUOTATION MARK}]([^\\n"]*?)'
    "[\N{LEFT DOUBLE QUOTATION MARK}\N{RIGHT DOUBLE QUOTATION MARK}](?=\\s*(?:[,;\\t|]|$))"
)
_BOLD = r"(?:(?<=[|\s])|(?<=^- )|(?<=\n- ))(\*\*|__)(\S(?:[^*_\n]*\S)?)\1(?=\s*[|\n]| [-\N{EN DASH}\N{EM DASH}:])"
_KEPT_AS_TEXT = '(?m)(^"?|[,;\t|][ ]*"?)\'(?=[$\N{EURO SIGN}\N{POUND SIGN}]?\\d)' r"(?!\d\d(?![\d/.,-]))"
_CUT_PERIOD = rf"(?m)^(.*{_DAY}\s*(?:-|\N{{EN DASH}}|to))[ \t]*\n[ \t]*(?={_DAY})(.*)$"
_ENDS_IN_DASH = re.compile(r"\d[ \t]*(?:-|\N{EN DASH}|to)[ \t]*\n")


def _mended(text: str) -> str:
    r"""Return text with typographic quotes about cells as plain ones, and periods cut by the end of a line whole.

    >>> _mended("01/09/24-\n02/08/24  30  896\n")
    '01/09/24- 02/08/24  30  896\n\n'
    """
    if text.startswith(">") and all(line.startswith(">") for line in text.splitlines() if line.strip()):
        text = re.sub(r"(?m)^(?:>[ ]?)+", "", text)  # as mail quotes what it answers
    if not text.isascii():
        text = re.sub(_CURLY, r'\1"\2"', text)
    if "'" in text:  # what a spreadsheet writes before a figure that it keeps as text; not a year's, as in '24
        text = re.sub(_KEPT_AS_TEXT, r"\1", text)
    if "**" in text or "__" in text:
        text = re.sub(_BOLD, r"\2", text)
    return re.sub(_CUT_PERIOD, r"\1 \2\n", text) if _ENDS_IN_DASH.search(text) else text


_MONTH_DAY, _YEAR = re.compile(r"[A-Za-z]{3,9}\.? ?\d{1,2}(?:st|nd|rd|th)?"), re.compile(r"(?:19|20)\d\d")


def _with_whole_dates(values: list[str]) -> list[str]:
    """Return cells with a date such as ``Jan 15, 2024`` whole, which its own comma has cut.

    >>> _with_whole_dates(["Jan 15", "2024", "812"])
    ['Jan 15, 2024', '812']
    """
    made: list[str] = []
    for value in values:
        if made and _YEAR.fullmatch(value.strip()) and _MONTH_DAY.fullmatch(made[-1].strip()):
            made[-1] = f"{made[-1].strip()}, {value.strip()}"
        else:
            made.append(value)
    return made


def _apart(line: str) -> list[str]:
    """Return the columns of a line that spaces set apart."""
    return re.split(r"(?<![$€£₹ ]) {2,}", line.strip())


def _delimiter(text: str, spec: Columns | None) -> str:
    """Return the sign between the columns: the one that names most columns, else makes most rows of one width."""
    lines = [line for line in text.split("\n", SNIFFED)[:SNIFFED] if line.strip()]
    if spec is None:
        return usual_sign(lines)
    head = "\n".join(lines)[:LONGEST_HEAD]
    best, most = ",", (0, 0, 0)
    for sign in (*SIGNS, ALIGNED, " "):
        if sign not in head:
            continue
        if sign == " " and (
            most[1] > len(lines) // 2 or re.search(r"\d", lines[0]) or len({len(line.split(" ")) for line in lines}) > 1
        ):
            continue  # words of a cell stand apart too
        try:
            rows = (
                [_apart(line) for line in lines]
                if sign == ALIGNED
                else list(csv.reader(io.StringIO(head, newline=""), delimiter=sign, skipinitialspace=True))
            )
        except csv.Error:
            continue
        widths = [len(row) for row in rows if len(row) > 1]
        usual = max(set(widths), key=widths.count) if widths else 0
        named = max((score(row, spec) for row in rows), default=0)
        merit = (named, widths.count(usual), usual)
        if merit > most:
            best, most = sign, merit
    return best
