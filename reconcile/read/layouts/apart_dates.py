"""Tables whose dates or clock times stand in several columns: year, month and day; hour and minute, or its quarter."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import field

import numpy as np

from reconcile.array_types import Bytes
from reconcile.read.layouts.raw_tables import NumberedRow, Pieces, RawTable, as_bytes
from reconcile.records import dataclass

_PARTS = {
    "year": re.compile(r"year|yyyy|jahr|a.{1,2}o|ano|ann.{1,2}e|anno|jaar|(?!hr).r", re.IGNORECASE),
    "month": re.compile(r"month|mm|monat|mes|m.{1,2}s|mois|mese|maand|m.{1,2}nad|m.{1,2}ned", re.IGNORECASE),
    "day": re.compile(r"day(?: ?of ?month)?|dd|tag|d.{1,2}a|jour|giorno|dag", re.IGNORECASE),
    "hour": re.compile(r"hour|hh|stunde|hora|heure|ora|uur|hr", re.IGNORECASE),
    "minute": re.compile(r"min(?:ute)?s?|minuto?|minuut", re.IGNORECASE),
    "quarter": re.compile(r"qtr|quarter(?: ?of ?hour)?|qh|viertel(?:stunde)?|kvart|kwartier", re.IGNORECASE),
}
_HALF = re.compile(r"[ap]\.?m\.?", re.IGNORECASE)
_CLOCK = re.compile(r"\d{1,2}:\d{2}(?::\d{2})?|\d{1,2}", re.ASCII)
WIDTH = 8


@dataclass(slots=True)
class ApartTable:
    """A table with dates, and clocks, brought into one column each."""

    base: RawTable
    header: int
    joins: dict[int, tuple[tuple[int, ...], bytes]]
    """Column to the columns that are joined in it, and what stands between them."""
    words: dict[int, dict[str, str]] = field(default_factory=dict)
    """What the words of a joined column stand for: the quarters of an hour for minutes."""
    file: str = ""
    sheet: str | None = None
    delimiter: str = ","
    head: list[NumberedRow] = field(default_factory=list)
    tail: list[NumberedRow] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.file, self.sheet, self.delimiter = self.base.file, self.base.sheet, self.base.delimiter
        self.head = [(number, self._joined(number, cells)) for number, cells in self.base.head]
        self.tail = [(number, self._joined(number, cells)) for number, cells in self.base.tail]

    def _joined(self, number: int, cells: Sequence[str]) -> list[str]:
        out = list(cells)
        if number < self.header:
            return out
        for at, (parts, between) in self.joins.items():
            inside = [self._word(part, cells[part]) if part < len(cells) else "" for part in parts]
            for part in parts:
                if part < len(out):
                    out[part] = ""
            if number == self.header:
                out[at] = "date" if len(parts) == 3 else cells[at]
            elif any(inside) and at < len(out):
                out[at] = between.decode().join(part.zfill(2) for part in inside)
        return out

    def chunks(self, texts: Mapping[int, int], numbers: Sequence[int], after: int) -> Pieces:
        """Give the columns of the rows after a row, a piece at a time."""
        needed = dict(texts)
        for at in texts:
            for part in self.joins.get(at, ((), b""))[0]:
                needed[part] = max(needed.get(part, 0), WIDTH)
        for rows, columns in self.base.chunks(needed, numbers, after):
            by_column = {at: as_bytes(column) for at, column in zip(needed, columns, strict=False)}
            out = [self._join(at, by_column) for at in texts]
            yield rows, [*out, *columns[len(needed) :]]

    def _join(self, at: int, columns: Mapping[int, Bytes]) -> Bytes:
        if at not in self.joins:
            return columns[at]
        parts, between = self.joins[at]
        made = np.char.zfill(self._words(parts[0], columns), 2)
        for part in parts[1:]:
            made = np.char.add(np.char.add(made, between), np.char.zfill(self._words(part, columns), 2))
        empty = np.all([columns[part] == b"" for part in parts], axis=0)
        return np.where(empty, b"", made)

    def _word(self, part: int, cell: str) -> str:
        return self.words.get(part, {}).get(cell.strip(), cell)

    def _words(self, part: int, columns: Mapping[int, Bytes]) -> Bytes:
        if part not in self.words:
            return columns[part]
        distinct, place = np.unique(columns[part], return_inverse=True)
        return np.array([self._word(part, cell.decode("utf-8", "replace")).encode() for cell in distinct])[place]

    def cell(self, row: int, column: int) -> str:
        """Return the text of one cell; of a date, all its parts."""
        if column not in self.joins:
            return self.base.cell(row, column)
        parts, between = self.joins[column]
        return between.decode().join(self.base.cell(row, part) for part in parts)


def with_whole_dates(table: RawTable) -> RawTable:
    """Return a table with whole dates, where its own stand apart; else the table itself."""
    half = _half_of_day(table)
    if half is not None:
        return half
    for number, cells in table.head[:40]:
        found: dict[str, int] = {}
        words = [(at, cell.strip()) for at, cell in enumerate(cells) if cell and not cell[-1].isdigit()]
        for at, cell in words if len(words) >= 3 else ():
            for name, pattern in _PARTS.items():
                if name not in found and at not in found.values() and pattern.fullmatch(cell):
                    found[name] = at
        if {"year", "month", "day"} <= found.keys():
            dates = (found["year"], found["month"], found["day"])
            joins: dict[int, tuple[tuple[int, ...], bytes]] = {dates[0]: (dates, b"-")}
            if "hour" in found and "minute" in found:
                joins[found["hour"]] = ((found["hour"], found["minute"]), b":")
            return ApartTable(table, number, joins) if _are_dates(table, number, dates) else table
        part = found.get("minute", found.get("quarter"))
        if "hour" in found and part is not None:
            return _with_minutes(table, number, found["hour"], part, quarters="minute" not in found) or table
    return table


def _with_minutes(table: RawTable, header: int, hour: int, part: int, *, quarters: bool) -> RawTable | None:
    """Bring the minute, or the quarter, of an hour to the hour, both of which count what has begun."""
    rows = [cells for number, cells in table.head if number > header and len(cells) > max(hour, part)]
    if not rows or not all(cells[at].strip().isdigit() for cells in rows for at in (hour, part)):
        return None
    hours, parts = ({int(cells[at]) for cells in rows} for at in (hour, part))
    if len(parts) < 2 or max(hours) > 24 or max(parts) > (4 if quarters else 59):
        return None
    words: dict[int, dict[str, str]] = {}
    if 0 not in hours:
        words[hour] = {text: str(n - 1) for n in range(1, 25) for text in (str(n), f"{n:02d}")}
    if quarters:
        words[part] = {str(n): f"{15 * (n - min(parts)):02d}" for n in range(min(parts), min(parts) + 4)}
    return ApartTable(table, header, {hour: ((hour, part), b":")}, words)


def _half_of_day(table: RawTable) -> RawTable | None:
    """Bring AM and PM to the clock times that stand in the column before them."""
    rows = [cells for _, cells in table.head[-40:]]
    halves = {at for cells in rows[:3] for at, cell in enumerate(cells) if at and cell[:1] in ("a", "A", "p", "P")}
    halves |= {at for cells in rows[-3:] for at, cell in enumerate(cells) if at and cell[:1] in ("a", "A", "p", "P")}
    for at in sorted(halves):
        full = [cells for cells in rows if at < len(cells) and _HALF.fullmatch(cells[at])]
        if len(full) < 2 or len(full) < 0.8 * len(rows) or not all(_CLOCK.fullmatch(cells[at - 1]) for cells in full):
            continue
        first = next(number for number, cells in table.head if at < len(cells) and _HALF.fullmatch(cells[at]))
        above = [number for number, _ in table.head if number < first]
        return ApartTable(table, above[-1] if above else 0, {at - 1: ((at - 1, at), b" ")})
    return None


def _are_dates(table: RawTable, header: int, dates: tuple[int, int, int]) -> bool:
    rows = [cells for number, cells in table.head if number > header and len(cells) > max(dates)][:5]
    return bool(rows) and all(
        re.fullmatch(r"(19|20)\d\d", row[dates[0]]) and all(re.fullmatch(r"\d{1,2}", row[at]) for at in dates[1:])
        for row in rows
    )
