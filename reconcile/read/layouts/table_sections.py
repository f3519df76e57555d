"""Tables that stand one below the other in a file, each with a header of its own, or with its day as a title."""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import islice, pairwise

from reconcile.read.layouts.cell_kinds import TIMES, kind_of
from reconcile.read.layouts.interval_names import is_hour, is_time
from reconcile.read.layouts.raw_tables import CellTable, NumberedRow, RawTable, TextTable

MOST_SECTIONS = 50
LARGEST = 30_000_000
"""Bytes of a file in which tables are looked for: four years of minutes."""
MOST_LETTERED = 2_000
"""Lines of a large file that begin with a letter, above which it is no file of a few tables."""

_LETTERED = re.compile(rb'\n(?=[A-Za-z"\x80-\xff])')
"""Where a line begins with a letter or a quote."""


def sections_of(table: RawTable) -> list[RawTable]:
    """Return the tables of a file: itself, or the several that stand in it."""
    rows = table.rows if isinstance(table, CellTable) else _rows_of_several(table)
    cuts = _cuts(rows)
    if not cuts:
        return [table]
    edges = [0, *cuts, len(rows)]
    parts = [rows[low:high] for low, high in pairwise(edges)]
    return [CellTable(table.file, table.sheet, part, table.delimiter) for part in parts]


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


def _rows_of_several(table: RawTable) -> list[NumberedRow]:
    """Return the rows of a large text in which a header stands below the first one; none of any other table."""
    if not isinstance(table, TextTable) or len(table.data) > LARGEST:
        return []
    lettered = [match.start() + 1 for match in islice(_LETTERED.finditer(table.data), MOST_LETTERED + 1)]
    if not lettered or len(lettered) > MOST_LETTERED or not any(_is_header(table.line(at)) for at in lettered):
        return []
    return table.every() or []


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
