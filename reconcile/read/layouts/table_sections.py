"""Tables that stand one below the other in a file, each with a header of its own, or with its day as a title."""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping, Sequence

import numpy as np

from reconcile.array_types import Places
from reconcile.read.layouts.cell_kinds import TIMES, kind_of
from reconcile.read.layouts.interval_names import is_hour, is_time
from reconcile.read.layouts.raw_tables import CellTable, NumberedRow, Pieces, RawTable, TextTable
from reconcile.records import dataclass

MOST_SECTIONS = 50
LARGEST = 30_000_000
"""Bytes of a file in which tables are looked for: four years of minutes."""
_PIECE = 65_536
MOST_LETTERED = 2_000
"""Lines of a large file that begin with a letter, above which it is no file of a few tables."""


def sections_of(table: RawTable) -> list[RawTable]:
    """Return the tables of a file: itself, or the several that stand in it."""
    if isinstance(table, CellTable):
        cuts = _cuts(table.rows)
        edges = [0, *cuts, len(table.rows)]
        parts = [table.rows[low:high] for low, high in itertools.pairwise(edges)]
        return [CellTable(table.file, table.sheet, rows, table.delimiter) for rows in parts] if cuts else [table]
    if isinstance(table, TextTable):
        return _of_text(table)
    return [table]


def _is_header(cells: Sequence[str]) -> bool:
    words = [cell for cell in cells if cell]
    if len(words) < 2 or any(kind_of(cell) != "text" for cell in words):
        return _are_days(words)
    return any(is_time(cell) or is_hour(cell) for cell in words)


def _are_days(words: Sequence[str]) -> bool:
    """Whether they are a column of hours and days beside one another."""
    return len(words) > 2 and is_hour(words[0]) and all(kind_of(word) == "date" for word in words[1:])


def _is_reading(cells: Sequence[str]) -> bool:
    kinds = [kind_of(cell) for cell in cells if cell]
    return len(kinds) > 1 and (any(kind in TIMES for kind in kinds) or kinds[0] == "clock")


def _cuts(rows: Sequence[NumberedRow]) -> list[int]:
    """Return the places at which another table begins: with its header, or with the lines above that."""
    cuts: list[int] = []
    first: list[str] | None = None
    lines = None
    for at, (_, cells) in enumerate(rows):
        plain = cells[0][:1].isdigit() if cells else True
        if plain:
            lines = None
            continue
        if lines is None:
            lines = at
        if not _is_header(cells) or at + 1 >= len(rows) or not _is_reading(rows[at + 1][1]):
            continue
        words = [cell.casefold() for cell in cells]
        if first is None:
            first = words
        elif words != first or lines < at:
            cuts.append(lines)
        if len(cuts) > MOST_SECTIONS:
            return []
        lines = None
    return cuts


@dataclass(slots=True)
class Slice:
    """A part of a large text, whose rows are counted from the beginning of the whole."""

    base: TextTable
    before: int
    """Lines of the whole that stand before it."""
    file: str
    sheet: str | None
    delimiter: str
    head: list[NumberedRow]
    tail: list[NumberedRow]

    @classmethod
    def of(cls, base: TextTable, before: int) -> Slice:
        """Return a part that stands below so many lines."""
        head, tail = ([(number + before, cells) for number, cells in rows] for rows in (base.head, base.tail))
        return cls(base, before, base.file, base.sheet, base.delimiter, head, tail)

    def chunks(self, texts: Mapping[int, int], numbers: Sequence[int], after: int) -> Pieces:
        """Give the columns of the rows after a row, a piece at a time."""
        for rows, columns in self.base.chunks(texts, numbers, after - self.before):
            yield rows + self.before, columns

    def cell(self, row: int, column: int) -> str:
        """Return the text of one cell."""
        return self.base.cell(row - self.before, column)


def _lettered(data: bytes) -> Places:
    """Return the places of lines that begin with a letter or a quote, a piece at a time to stay in the cache."""
    letters = np.frombuffer(data, dtype=np.uint8)
    found = []
    for low in range(1, len(letters), _PIECE):
        first = letters[low : low + _PIECE]
        opens = letters[low - 1 : low - 1 + len(first)] == ord("\n")
        found.append(np.flatnonzero(opens & ((first >= ord("A")) | (first == ord('"')))) + low)
    return np.concatenate(found) if found else np.empty(0, dtype=np.intp)


def _of_text(table: TextTable) -> list[RawTable]:
    if len(table.data) > LARGEST:
        return [table]
    starts = _lettered(table.data)
    if len(starts) > MOST_LETTERED:
        return [table]
    lines: list[NumberedRow] = []
    for at in starts.tolist():
        lines.append((at, table.line(at)))
        after = table.data.find(b"\n", at) + 1
        if after and table.data[after : after + 1].strip(b'"').isdigit():
            lines.append((after, table.line(after)))
    if not lines:
        return [table]
    rows = list(lines)
    if _is_header(table.head[0][1]):
        rows = [(0, table.head[0][1]), (1, table.head[1][1]), *rows]
    places = [rows[cut][0] for cut in _cuts(rows)]
    if not places:
        return [table]
    edges = [0, *places, len(table.data)]
    out: list[RawTable] = []
    for low, high in itertools.pairwise(edges):
        part = table.part(low, high)
        if part is not None:
            out.append(Slice.of(part, table.data.count(b"\n", 0, low)))
    return out


MOST_ABOVE = 0.1
"""Share of the first rows, below the first title, that may be neither a title, a reading nor the lines about them."""

FEW = 12
"""Last of the first rows, of which one must be a reading by its clock alone."""

_LABEL = re.compile(r"(?:date|day|datum|fecha|tag|jour)\s*:?\s*", re.IGNORECASE)


def with_days_in_rows(table: RawTable) -> RawTable:
    """Return a table with the day of its title before every reading; any other table as it is.

    Examples
    --------
    >>> rows = [["March 7, 2025"], ["Time", "kWh"], ["1:00 AM", "0.5"], ["2:00 AM", "0.4"], ["3:00 AM", "0.4"]]
    >>> made = with_days_in_rows(CellTable("a.csv", None, list(enumerate(rows, start=1))))
    >>> [cells for _, cells in made.head[:2]]
    [['date', 'Time', 'kWh'], ['March 7, 2025', '1:00 AM', '0.5']]
    """
    if not _are_titled(table.head):
        return table
    rows = table.rows if isinstance(table, CellTable) else table.every() if isinstance(table, TextTable) else None
    if rows is None:
        return table
    made: list[NumberedRow] = []
    day, headed = "", False
    for number, cells in rows:
        title = _title(cells)
        if title:
            day = title
        elif _is_clock_reading(cells):
            made.append((number, [day, *cells]))
        elif not headed and any(is_time(cell) or is_hour(cell) for cell in cells):
            made.append((number, ["date", *cells]))
            headed = True
        elif not made:
            made.append((number, cells))
    return CellTable(table.file, table.sheet, made, table.delimiter)


def _title(cells: Sequence[str]) -> str:
    """Return the day that a row holds and nothing else; "" where it is no title."""
    text = _LABEL.sub("", ", ".join(cell for cell in cells if cell), count=1).lstrip(", ")
    return text if text and not text.isdigit() and kind_of(text) == "date" else ""


def _is_clock_reading(cells: Sequence[str]) -> bool:
    kinds = [kind_of(cell) for cell in cells if cell]
    return len(kinds) > 1 and kinds[0] == "clock" and not any(kind in TIMES for kind in kinds)


def _are_titled(head: Sequence[NumberedRow]) -> bool:
    if not any(_is_clock_reading(cells) for _, cells in head[-FEW:]):
        return False
    if any(_are_days([cell for cell in cells if cell]) for _, cells in head):
        return False  # the days stand beside one another: a date above them is no title of theirs
    first = next((at for at, (_, cells) in enumerate(head) if _title(cells)), None)
    if first is None:
        return False
    below = [cells for _, cells in head[first:]]
    titles = sum(bool(_title(cells)) for cells in below)
    readings = sum(_is_clock_reading(cells) for cells in below)
    others = len(below) - titles - readings
    return readings >= 2 and readings > titles and others <= 3 * titles + MOST_ABOVE * len(below)
