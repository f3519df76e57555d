"""Tables whose day stands as a title above its rows, which carry the clock alone."""

from __future__ import annotations

import re
from collections.abc import Sequence

from reconcile.read.layouts.cell_kinds import TIMES, kind_of
from reconcile.read.layouts.interval_names import is_hour, is_time
from reconcile.read.layouts.raw_tables import CellTable, NumberedRow, RawTable, TextTable

MOST_ABOVE = 0.1
"""Share of the first rows, below the first title, that may be neither a title, a reading nor the lines about them."""

FEW = 12
"""Last of the first rows, of which one must be a reading by its clock alone."""

_LABEL = re.compile(r"(?:date|day|datum|fecha|tag|jour)\s*:?\s*", re.IGNORECASE)


def with_days_in_rows(table: RawTable) -> RawTable:
    """Return a table with the day of its title before every reading; any other table as it is.

    Parameters
    ----------
    table : RawTable

    Returns
    -------
    RawTable

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
        elif _is_reading(cells):
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


def _is_reading(cells: Sequence[str]) -> bool:
    kinds = [kind_of(cell) for cell in cells if cell]
    return len(kinds) > 1 and kinds[0] == "clock" and not any(kind in TIMES for kind in kinds)


def _are_titled(head: Sequence[NumberedRow]) -> bool:
    if not any(_is_reading(cells) for _, cells in head[-FEW:]):
        return False
    first = next((at for at, (_, cells) in enumerate(head) if _title(cells)), None)
    if first is None:
        return False
    below = [cells for _, cells in head[first:]]
    titles = sum(bool(_title(cells)) for cells in below)
    readings = sum(_is_reading(cells) for cells in below)
    others = len(below) - titles - readings
    return readings >= 2 and readings > titles and others <= 3 * titles + MOST_ABOVE * len(below)
