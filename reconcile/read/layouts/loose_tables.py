"""Tables in other wrappings of text: columns parted by spaces, the table of a web page, JSON."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from typing import Any

from reconcile.read.layouts.cell_kinds import TIMES, kind_of
from reconcile.read.layouts.raw_tables import MOST_COLUMNS
from reconcile.read.tables.csv_rows import SIGNS
from reconcile.read.values.dates import DateError, month_span
from reconcile.records import dataclass

MOST_CELLS = 20_000_000
"""Cells of a table (a guard: a year of quarters with ten columns has 350 thousand)."""
FEW_LINES = 30

_SPACES = re.compile(rb"(?<=[^ \t\n])[ \t]{2,}(?=[^ \t\n])")
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
    if any(sign.encode() in line for line in dated for sign in SIGNS if sign != ","):
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
        self.rows_more: dict[int, int] = {}
        """Rows below that a cell still reaches into, by its column: they are empty there, and nothing moves aside."""
        self.below: dict[int, int] = {}
        self.reaches = 1

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        if tag == "table":
            self.tables.append([])
            self.rows_more, self.below = {}, {}
        elif tag == "tr" and self.tables:
            self._close()
            self.tables[-1].append([])
            self.rows_more, self.below = self.below, {}
            self._leave_reached()
        elif tag in ("td", "th") and self.tables and self.tables[-1]:
            self._close()
            self.cell = []
            rows = str(dict(attrs).get("rowspan") or "")
            self.reaches = int(rows) if rows.isdecimal() and len(rows) < 6 and len(self.tables[-1]) > 1 else 1
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
            row = self.tables[-1][-1]
            if self.reaches > 1:
                self.below[len(row)] = self.reaches - 1
            row.append(" ".join("".join(self.cell).split()))
            self._leave_reached()
        self.cell = None

    def _leave_reached(self) -> None:
        """Leave the cells empty into which one of a row above reaches."""
        row = self.tables[-1][-1]
        while left := self.rows_more.pop(len(row), 0):
            if left > 1:
                self.below[len(row)] = left - 1
            row.append("")


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


DEEPEST = 8
FEWEST_NAMED = 2
"""Records of the same fields, each under a name of its own, of which more are a list (our choice)."""
OF_A_DAY = (23, 24, 25, 46, 48, 50, 92, 96, 100)
"""Values in the list of a day: hours, halves or quarters, on days of a change of clocks too."""

_UNIT = re.compile(r"(?:.*[ _])?(?:units?|uom|unit ?of ?measure(?:ment)?)", re.IGNORECASE)


@dataclass(slots=True)
class _Found:
    """A list of readings: the name of its list, what the records above it say, and its records or rows."""

    name: str
    above: dict[str, Any]
    records: list[Any]


def rows_of_json(text: str) -> list[list[str]] | None:
    """Return the readings of a JSON text as rows of texts; None where there are none.

    Lists of the same kind are one table: what tells them apart, the name of the list and what the records that hold
    it say, stands in columns of its own.

    Examples
    --------
    >>> rows_of_json('{"meter": 8, "data": [{"t": 1, "kWh": 0.5}, {"t": 2, "kWh": null}]}')
    [['t', 'kWh'], ['1', '0.5'], ['2', '']]
    >>> rows_of_json('{"in": [{"t": 1, "kWh": 0.5}], "out": [{"t": 1, "kWh": 0.2}]}')
    [['t', 'kWh', 'list'], ['1', '0.5', 'in'], ['1', '0.2', 'out']]
    >>> rows_of_json('{"unit": "Wh", "t": [1, 2], "value": [500, 400]}')
    [['unit', 'Wh'], ['t', 'value'], ['1', '500'], ['2', '400']]
    >>> rows_of_json('{"kWh": {"2025-03-07 00:00": 0.5, "2025-03-07 01:00": 0.4}}')
    [['time', 'kWh'], ['2025-03-07 00:00', '0.5'], ['2025-03-07 01:00', '0.4']]
    """
    data = _parsed(text)
    groups: dict[Any, list[_Found]] = {}
    for one in _lists(data, "", {}, DEEPEST):
        groups.setdefault(_kind(one.records), []).append(one)
    groups.pop(None, None)
    best = max(groups.values(), key=lambda group: sum(len(one.records) for one in group), default=[])
    if sum(len(one.records) for one in best) < 2:
        return None
    return _table(best, data)


def _parsed(text: str) -> Any:
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        pass
    lines = [line for line in text.splitlines() if line.strip()]
    try:
        return [json.loads(line) for line in lines] if len(lines) > 1 else None
    except (ValueError, RecursionError):
        return None


def _kind(records: list[Any]) -> Any:
    """Return what lists of one table have in common; None where a list holds no readings."""
    if all(isinstance(one, dict) for one in records):
        return tuple(sorted({name for one in records[:20] for name in _flat(one, "", DEEPEST)})) or None
    if all(isinstance(one, list) and one and all(map(_plain, one)) for one in records):
        return len(records[0])
    return None


def _plain(value: Any) -> bool:
    return not isinstance(value, list | dict)


def _lists(data: Any, name: str, above: dict[str, Any], deep: int) -> Iterator[_Found]:
    if deep == 0:
        return
    if isinstance(data, list):
        if data and isinstance(data[0], list | dict):
            yield _Found(name, above, data)
        if data and isinstance(data[0], dict) and all(map(_plain, data[0].values())):
            return  # readings themselves: there are many
        for one in data:
            if isinstance(one, dict):
                said = {**above, **_flat(one, "", 1)}
                for key, value in one.items():
                    yield from _lists(value, str(key), said, deep - 1)
            elif isinstance(one, list) and any(not _plain(value) for value in one):
                yield from _lists(one, name, above, deep - 1)
    elif isinstance(data, dict):
        columns = {
            key: value for key, value in data.items() if isinstance(value, list) and value and all(map(_plain, value))
        }
        if len(columns) >= 2 and len({len(value) for value in columns.values()}) == 1:
            yield _Found(
                name, above, [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]
            )
        if len(data) > 1 and all(map(_plain, data.values())) and all(map(_is_month, data)):
            yield _Found(name, above, [{"month": key, name or "value": value} for key, value in data.items()])
        elif len(data) > 1 and all(map(_plain, data.values())) and all(kind_of(key) in TIMES for key in data):
            yield _Found(name, above, [{"time": key, name or "value": value} for key, value in data.items()])
        records = [*data.values()]
        alike = all(isinstance(one, dict) for one in records) and len({frozenset(one) for one in records}) == 1
        if len(records) > FEWEST_NAMED and alike and _kind(records) is not None:
            yield _Found(name, above, records)
        for key, value in data.items():
            yield from _lists(value, str(key), above, deep - 1)


def _is_month(key: str) -> bool:
    """Whether a key names a month, and no day of it."""
    if kind_of(key) in TIMES:
        return False
    try:
        return month_span(key) is not None
    except DateError:
        return False


def _table(found: list[_Found], data: Any) -> list[list[str]] | None:
    several = len(found) > 1
    named = several and len({one.name for one in found}) > 1
    said = list(dict.fromkeys(key for one in found for key in one.above)) if several else []
    rows: list[list[str]] = []

    def beside(one: _Found) -> list[str]:
        return [*([one.name] if named else []), *(_text(one.above.get(key)) for key in said)]

    if isinstance(found[0].records[0], list):
        for one in found:
            rows += [[*(_text(value) for value in record), *beside(one)] for record in one.records]
    else:
        flat = [[_flat(record, "", DEEPEST) for record in one.records] for one in found]
        names = list(dict.fromkeys(name for records in flat for record in records for name in record))
        said = [key for key in said if key not in names]
        rows.append([*names, *(["list"] if named else []), *said])
        for one, records in zip(found, flat, strict=True):
            rows += [[*(_text(record.get(name)) for name in names), *beside(one)] for record in records]
        units = set(_units(data, DEEPEST))
        if len(units) == 1 and not any(_UNIT.fullmatch(name) for name in rows[0]):
            rows.insert(0, ["unit", *units])
    widest = max(map(len, rows))
    return rows if widest <= MOST_COLUMNS and len(rows) * widest <= MOST_CELLS else None


def _flat(record: dict[str, Any], before: str, deep: int) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for name, value in record.items():
        if isinstance(value, dict) and deep:
            out |= _flat(value, f"{before}{name} ", deep - 1)
        elif _plain(value):
            out[f"{before}{name}"] = value
    days = [value for value in record.values() if isinstance(value, list) and len(value) in OF_A_DAY]
    if len(days) == 1 and all(map(_plain, days[0])):
        out |= {str(n): value for n, value in enumerate(days[0], start=1)}
    return out


def _units(data: Any, deep: int) -> Iterator[str]:
    """Give the units that objects name, of the readings or about them."""
    if deep == 0 or _plain(data):
        return
    for name, value in data.items() if isinstance(data, dict) else enumerate(data[:50]):
        if isinstance(value, str) and _UNIT.fullmatch(str(name)):
            yield value
        yield from _units(value, deep - 1)


def _text(value: Any) -> str:
    return str(value).strip() if value is not None and _plain(value) else ""
