"""Tables in other wrappings of text: columns parted by spaces, the table of a web page, records in JSON."""

from __future__ import annotations

import json
import re
from html.parser import HTMLParser
from typing import Any

from reconcile.read.raw_tables import DELIMITERS, MOST_COLUMNS

MOST_CELLS = 20_000_000
"""Cells of a table in HTML or JSON (a guard: a year of quarters with ten columns has 350 thousand)."""
FEW_LINES = 30
DEEPEST = 8

_SPACES = re.compile(rb"(?<=[^ \t\n])[ \t]{2,}(?=[^ \t\n])")
_UNIT_KEY = re.compile(r"(?:.*[ _])?(?:units?|uom|unit ?of ?measure(?:ment)?)", re.IGNORECASE)
_SINGLE = re.compile(rb"(?<=\d)[ \t]+(?=[-+.\d])")


def with_tabs(text: bytes) -> bytes:
    r"""Return a text whose columns are parted by spaces with tabs between them; any other text as it is.

    Examples
    --------
    >>> with_tabs(b"2025-01-07 00:00   0.5\n2025-01-07 01:00  10.5\n")
    b'2025-01-07 00:00\t0.5\n2025-01-07 01:00\t10.5\n'
    """
    lines = [line for line in text[:4_000].split(b"\n")[:-1] if line.strip()][:FEW_LINES]
    dated = [line for line in lines if re.search(rb"\d[-/.:]\d", line) and line.strip()[-1:].isdigit()]
    if len(dated) < 2 or len(dated) < 0.5 * len(lines):
        return text
    if any(sign.encode() in line for line in dated for sign in DELIMITERS if sign != ","):
        return text
    if sum(b"," in line for line in dated) > 0 and not all(re.search(rb"\d,\d+$", line.strip()) for line in dated):
        return text
    if all(_SPACES.search(line.strip()) for line in dated):
        return _SPACES.sub(b"\t", re.sub(rb"(?m)^[ ]+|[ ]+$", b"", text))
    if all(_SINGLE.search(line) and b"," not in line for line in dated):
        return re.sub(rb"(?m)[ ]+(?=[-+]?\d*\.?\d+[ ]*$)", b"\t", text)
    return text


class _Page(HTMLParser):
    """Gathers the rows of a page's tables."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.tables: list[list[list[str]]] = []
        self.cell: list[str] | None = None
        self.cells = 0

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        if tag == "table":
            self.tables.append([])
        elif tag == "tr" and self.tables:
            self._close()
            self.tables[-1].append([])
        elif tag in ("td", "th") and self.tables and self.tables[-1]:
            self._close()
            self.cell = []
        elif tag == "br" and self.cell is not None:
            self.cell.append(" ")

    def handle_endtag(self, tag: str) -> None:
        if tag in ("td", "th", "tr", "table"):
            self._close()

    def handle_data(self, data: str) -> None:
        if self.cell is not None:
            self.cell.append(data)

    def _close(self) -> None:
        if self.cell is not None and self.tables and self.tables[-1]:
            self.cells += 1
            if self.cells > MOST_CELLS:
                raise ValueError("too many cells")
            self.tables[-1][-1].append(" ".join("".join(self.cell).split()))
        self.cell = None


def tables_of_page(text: str) -> list[list[list[str]]]:
    """Return the tables of a page of HTML, as rows of texts; none where there is none.

    Examples
    --------
    >>> tables_of_page("<table><tr><th>time<th>kWh<tr><td>1<td>2 &amp; 3</table>")
    [[['time', 'kWh'], ['1', '2 & 3']]]
    """
    page = _Page()
    try:
        page.feed(text)
        page.close()
    except (ValueError, AssertionError):
        return []
    return [[row for row in table if row] for table in page.tables if len(table) > 1]


def rows_of_json(text: str) -> list[list[str]] | None:
    """Return the longest list of records, or of rows, in a JSON text as rows of texts; None where there is none.

    Examples
    --------
    >>> rows_of_json('{"meter": 8, "data": [{"t": 1, "kWh": 0.5}, {"t": 2, "kWh": null}]}')
    [['t', 'kWh'], ['1', '0.5'], ['2', '']]
    """
    try:
        data = json.loads(text)
    except (ValueError, RecursionError):
        data = _records_of_lines(text)
    best = max(_lists(data, DEEPEST), key=len, default=[])
    columns = max(_columns(data, DEEPEST), key=len, default=[])
    best = columns if len(columns) > len(best) else best
    if len(best) < 2:
        return None
    if all(isinstance(one, list) for one in best):
        rows = [[_text(value) for value in one] for one in best]
    elif all(isinstance(one, dict) for one in best):
        flat = [_flat(one, "", DEEPEST) for one in best]
        names = list(dict.fromkeys(name for one in flat for name in one))
        rows = [names, *([_text(one.get(name)) for name in names] for one in flat)]
        units = _units(data, DEEPEST)
        if len(units) == 1 and not any(_UNIT_KEY.fullmatch(name) for name in names):
            rows.insert(0, ["unit", *units])
    else:
        return None
    return rows if max(map(len, rows)) <= MOST_COLUMNS and len(rows) * max(map(len, rows)) <= MOST_CELLS else None


def _records_of_lines(text: str) -> list[Any] | None:
    """Return the records of a text with one in every line; None where it is not made so."""
    lines = [line for line in text.splitlines() if line.strip()]
    if len(lines) < 2 or not all(line.lstrip().startswith(("{", "[")) for line in lines):
        return None
    try:
        return [json.loads(line) for line in lines]
    except (ValueError, RecursionError):
        return None


def _columns(data: Any, deep: int) -> list[list[dict[str, Any]]]:
    """Return the records of every object that holds its columns as lists of one length."""
    if deep == 0 or not isinstance(data, dict | list):
        return []
    found = []
    if isinstance(data, dict):
        flat = {
            name: value
            for name, value in data.items()
            if isinstance(value, list) and value and not isinstance(value[0], list | dict)
        }
        if len(flat) >= 2 and len({len(value) for value in flat.values()}) == 1:
            found.append([dict(zip(flat, row, strict=True)) for row in zip(*flat.values(), strict=True)])
    for value in data.values() if isinstance(data, dict) else data[:50]:
        found += _columns(value, deep - 1)
    return found


def _units(data: Any, deep: int) -> set[str]:
    """Return the units that objects about the readings name, not the readings themselves."""
    if deep == 0 or not isinstance(data, dict | list):
        return set()
    found = set()
    for name, value in data.items() if isinstance(data, dict) else enumerate(data[:50]):
        if isinstance(value, str) and _UNIT_KEY.fullmatch(str(name)):
            found.add(value)
        found |= _units(value, deep - 1)
    return found


def _lists(data: Any, deep: int) -> list[list[Any]]:
    if deep == 0:
        return []
    found = []
    if isinstance(data, list):
        found.append(data)
        data = dict(enumerate(data[:50]))  # lists of a few lists, such as one a meter
    if isinstance(data, dict):
        for value in data.values():
            found += _lists(value, deep - 1)
    return [one for one in found if one and isinstance(one[0], list | dict)]


def _flat(record: dict[str, Any], before: str, deep: int) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name, value in record.items():
        if isinstance(value, dict) and deep:
            out |= _flat(value, f"{before}{name} ", deep - 1)
        elif not isinstance(value, list | dict):
            out[f"{before}{name}"] = value
    return out


def _text(value: Any) -> str:
    if value is None or isinstance(value, list | dict):
        return ""
    return str(value).strip()
