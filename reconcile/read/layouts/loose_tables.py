"""Tables in other wrappings of text: columns parted by spaces, the table of a web page."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from typing import Any

from reconcile.read.layouts.raw_tables import DELIMITERS

MOST_CELLS = 20_000_000
"""Cells of a table in HTML (a guard: a year of quarters with ten columns has 350 thousand)."""
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
