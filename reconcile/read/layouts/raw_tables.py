"""Tables of interval data as they stand in a file: their first and last rows, and columns on demand.

Small files are held as cells; large ones go through pandas' C parser a piece at a time, so that neither ten years of
minutes nor a broken file fills the memory.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from reconcile.array_types import Bytes, Floats
from reconcile.read.tables.csv_rows import csv_rows, usual_sign
from reconcile.read.tables.gate import Gate
from reconcile.read.values.number_cells import BLANKS
from reconcile.read.values.plain_blocks import block_of
from reconcile.records import dataclass

SMALL = 200_000
"""Bytes up to which a text is held as cells (our choice: below it the parser's own start costs more)."""
HEAD_BYTES, TAIL_BYTES = 8_192, 1_024
HEAD_ROWS, TAIL_ROWS = 160, 40
"""Rows at the beginning and the end that are looked at to find the layout."""
CHUNK = 1_000_000
"""Rows of a large file that are held at once."""
UNCOUNTED = 1_000_000_000
"""Row given to the first of the last rows, which are looked at before the lines of a large file are counted."""
BLOCK, MOST_ODD = 2_000_000, 8
"""Bytes of a large file that are divided at once, and irregular blocks after which the rest goes to the parser."""
MANY_COLUMNS = 8
"""Columns of numbers from which they are read at once, as those of a table with a row a day (measured)."""
MOST_COLUMNS = 400
LONGEST_LINE = 20_000
"""Bytes of a line: as many columns of fifty letters (our choice)."""

Column = Bytes | Floats
Rows = NDArray[np.int32]
NumberedRow = tuple[int, list[str]]
Pieces = Iterator[tuple[Rows, list[Column]]]


class Place(Protocol):
    """Where readings stand, so that a fault can quote a cell; rows are counted from 1, as an editor counts them."""

    file: str
    sheet: str | None

    def cell(self, row: int, column: int) -> str:
        """Return the text of one cell as it stands."""
        ...


class RawTable(Place, Protocol):
    """A table before its layout is known."""

    delimiter: str

    @property
    def head(self) -> Sequence[NumberedRow]:
        """First rows that are not blank."""
        ...

    @property
    def tail(self) -> Sequence[NumberedRow]:
        """Last rows that are not blank."""
        ...

    def chunks(self, texts: Mapping[int, int], numbers: Sequence[int], after: int) -> Pieces:
        """Give the columns ``texts`` (with the width seen) and then ``numbers`` of the rows after a row."""
        ...


@dataclass(slots=True)
class CellTable:
    """A small table, or a sheet of a workbook."""

    file: str
    sheet: str | None
    rows: list[NumberedRow]
    delimiter: str = ","

    @property
    def head(self) -> list[NumberedRow]:
        """First rows that are not blank."""
        return self.rows[:HEAD_ROWS]

    @property
    def tail(self) -> list[NumberedRow]:
        """Last rows that are not blank."""
        return self.rows[-TAIL_ROWS:]

    def chunks(self, texts: Mapping[int, int], numbers: Sequence[int], after: int) -> Pieces:
        """Give the columns of the rows after a row, in one piece."""
        body = [row for row in self.rows if row[0] > after]
        numbered = np.array([number for number, _ in body], dtype=np.int32)
        yield (
            numbered,
            [_bytes([cells[at] if at < len(cells) else "" for _, cells in body]) for at in (*texts, *numbers)],
        )

    def cell(self, row: int, column: int) -> str:
        """Return the text of one cell."""
        cells = next((cells for number, cells in self.rows if number == row), [])
        return cells[column] if column < len(cells) else ""


def _bytes(cells: Sequence[str]) -> Bytes:
    return np.array([cell.encode() for cell in cells] or [b""], dtype=np.bytes_)[: len(cells)]


def cells_of(file: str, sheet: str | None, rows: Sequence[tuple[int, Sequence[Any]]]) -> CellTable:
    """Return a workbook's rows as text: dates in ISO form, numbers by their shortest digits."""
    made = [(number, [plain_text(value) for value in values]) for number, values in rows]
    return CellTable(file, sheet, [(number, cells) for number, cells in made if any(cells)])


def plain_text(value: Any) -> str:
    """Return a workbook's value as text.

    Examples
    --------
    >>> plain_text(datetime(2025, 1, 7, 0, 59, 59, 999_990)), plain_text(12.0), plain_text(time(14, 30))
    ('2025-01-07 01:00:00', '12', '14:30:00')
    """
    if value is None:
        return ""
    if isinstance(value, datetime):  # a workbook counts days as floats: half a second is none
        return (value + timedelta(milliseconds=500)).replace(microsecond=0).isoformat(" ")
    if isinstance(value, date | time):
        return value.isoformat()
    if isinstance(value, timedelta):
        minutes = round(value.total_seconds() / 60)
        return f"{minutes // 60:02d}:{minutes % 60:02d}"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    return repr(value) if isinstance(value, float) else str(value).strip()


def open_text(data: bytes, file: str, gate: Gate, small: int = SMALL) -> RawTable | None:
    """Open a text of UTF-8 bytes as a table; None, with a fault, where it is none."""
    if b"\r" in data[:HEAD_BYTES] and (len(data) <= SMALL or b"\n" not in data[:HEAD_BYTES]):
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    long = _long_line(data)
    if long is not None:
        problem = f"this line has more than {LONGEST_LINE} letters, and no line of readings has"
        gate.fault(problem, "Take out what is no table.", file=file, row=long)
        return None
    first = data[:HEAD_BYTES]
    text = (first if len(first) == len(data) else first[: first.rfind(b"\n") + 1]).decode("utf-8", "replace")
    delimiter = usual_sign(text.split("\n")[:HEAD_ROWS])
    if len(data) <= small:
        rows = _parsed(data.decode("utf-8", "replace"), delimiter, file, gate)
        return None if rows is None else CellTable(file, None, rows, delimiter)
    head = _parsed(text, delimiter, file, gate, HEAD_ROWS)
    if not head:
        if head is not None:
            gate.fault("there is nothing in it", "Fill it or take it away.", file=file)
        return None
    at = data.rfind(b"\n", 0, len(data) - TAIL_BYTES) + 1
    tail = _parsed(data[at:].decode("utf-8", "replace"), delimiter, file, gate, counted=False)
    if tail is None:
        return None
    return TextTable(file, None, data, delimiter, head[:HEAD_ROWS], tail[-TAIL_ROWS:])


def _long_line(data: bytes) -> int | None:
    """Return the first line that is longer than any of a table: each of its columns would be as wide in every row."""
    at = 0
    while len(data) - at > LONGEST_LINE:
        end = data.rfind(b"\n", at, at + LONGEST_LINE)
        if end < 0:
            return data.count(b"\n", 0, at) + 1
        at = end + 1
    return None


def _parsed(
    text: str, delimiter: str, file: str, gate: Gate, most: int | None = None, *, counted: bool = True
) -> list[NumberedRow] | None:
    """Return the rows of a text; None, with a fault, where it is no table; ``counted`` where it is its beginning."""
    rows, whole = csv_rows(text, delimiter, file, gate, 1 if counted else None, most=most)
    wide = next((row for row, values in rows if len(values) > MOST_COLUMNS), None)
    if whole and wide is not None:
        problem = f"there are more than {MOST_COLUMNS} columns"
        gate.fault(problem, "Take out what is no table.", file=file, row=wide if counted else None)
    before = 0 if counted else UNCOUNTED
    stripped = [(before + row, [value.strip() for value in values]) for row, values in rows]
    return stripped if whole and wide is None else None


@dataclass(slots=True)
class TextTable:
    """A large text, parsed a piece at a time."""

    file: str
    sheet: str | None
    data: bytes
    delimiter: str
    head: list[NumberedRow]
    tail: list[NumberedRow]

    def chunks(self, texts: Mapping[int, int], numbers: Sequence[int], after: int) -> Pieces:
        """Give the columns of the rows after a row, a piece at a time.

        Raises
        ------
        LineError
            Where a line cannot be parsed.
        """
        row, low, odd = after, self._place(after), 0
        last = self.data.rfind(b"\n", 0, max(len(self.data) - TAIL_BYTES, 1)) + 1  # what stands below a table is apart
        plain = b'"' not in self.data and b"\r" not in self.data
        while low < len(self.data):
            columns = None
            if plain and odd < MOST_ODD:
                high = self.data.find(b"\n", low + BLOCK, last) + 1 or (last if low < last else len(self.data))
                columns = self._regular(low, high, texts, numbers)
            else:
                high = len(self.data)
            if columns is not None:
                yield np.arange(row + 1, row + len(columns[0]) + 1, dtype=np.int32), columns
                row += len(columns[0])
            else:
                odd += 1
                yield from self._parsed(low, high, texts, numbers, row)
                row += self.data.count(b"\n", low, high)
            low = high

    def every(self) -> list[NumberedRow] | None:
        """Return all rows that are not blank, as cells; None where it is not proper CSV."""
        return _parsed(self.data.decode("utf-8", "replace"), self.delimiter, self.file, Gate())

    def _place(self, row: int) -> int:
        """Return the place at which the line after a row begins."""
        at = 0
        for _ in range(row):
            at = self.data.index(b"\n", at) + 1
        return at

    def _regular(self, low: int, high: int, texts: Mapping[int, int], numbers: Sequence[int]) -> list[Column] | None:
        """Return the columns of a block of lines, where it is regular."""
        block = block_of(memoryview(self.data)[low:high], self.delimiter)
        if block is None or block.fields > max(texts):
            return None
        columns: list[Column] = []
        together = len(numbers) >= MANY_COLUMNS and self.delimiter == ","
        for at in texts if together else (*texts, *numbers):
            free = len(columns) >= len(texts) and self.delimiter == ","
            column = block.numbers(at) if free else block.text(at)
            if column is None:
                return None
            columns.append(column)
        if together:
            many = block.numbers_of(numbers)
            return None if many is None else [*columns, *many]
        return columns

    def _parsed(self, low: int, high: int, texts: Mapping[int, int], numbers: Sequence[int], row: int) -> Pieces:
        """Give the columns of some lines, the first of which stands after a row, as pandas parses them."""
        import pandas as pd

        missing: Any = {at: blanks_of_numbers() for at in numbers} if self.delimiter == "," else None
        wanted = [*texts, *numbers]
        width = max(max(wanted) + 1, *(len(cells) for _, cells in (*self.head, *self.tail)))
        # a comma between columns leaves one reading of a number without quotes; any other sign leaves two
        free = self.delimiter == ","
        # S takes what a cell has, without a Python object for each
        dtypes: dict[int, Any] = {at: f"S{-(-(seen + 8) // 8) * 8}" for at, seen in texts.items()}
        if not free:
            dtypes.update(dict.fromkeys(numbers, "S24"))
        before = row  # of the blank row that stands before the first, so that every column is there
        body = _Body(self.delimiter.encode() * (width - 1) + b"\n", memoryview(self.data)[low:high])
        try:
            with pd.read_csv(
                io.BufferedReader(body, 1 << 20),
                sep=self.delimiter,
                header=None,
                names=list(range(width)),
                usecols=wanted,
                dtype=dtypes,
                keep_default_na=False,
                na_values=missing,
                na_filter=free,
                skip_blank_lines=False,
                skipinitialspace=True,
                low_memory=False,
                encoding_errors="replace",
                chunksize=CHUNK,
            ) as reader:
                for piece in reader:
                    columns = [_column(piece[at], row) for at in wanted]
                    skip = int(row == before)
                    rows = np.arange(row + skip, row + len(piece), dtype=np.int32)
                    yield rows, [column[skip:] for column in columns] if skip else columns
                    row += len(piece)
        except (pd.errors.ParserError, pd.errors.EmptyDataError) as error:
            line = re.search(r"(?:line|row) (\d+)", str(error))
            raise LineError(int(line[1]) - 1 + before if line else row, "this line is not proper CSV") from None

    def line(self, at: int) -> list[str]:
        """Return the cells of the line that begins at a place of the text."""
        end = self.data.find(b"\n", at)
        line = self.data[at : len(self.data) if end < 0 else end].decode("utf-8", "replace")
        try:
            return [cell.strip() for cell in next(csv.reader([line], delimiter=self.delimiter), [])]
        except csv.Error:
            return []

    def cell(self, row: int, column: int) -> str:
        """Return the text of one cell."""
        at = 0
        for _ in range(row - 1):
            at = self.data.find(b"\n", at) + 1
            if at == 0:
                return ""
        cells = self.line(at)
        return cells[column] if column < len(cells) else ""


class _Body(io.RawIOBase):
    """Texts one after another, without a copy of the whole."""

    def __init__(self, *parts: bytes | memoryview) -> None:
        self.parts = [memoryview(part) for part in parts]

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        while self.parts and not self.parts[0]:
            self.parts.pop(0)
        if not self.parts:
            return 0
        size = min(len(buffer), len(self.parts[0]))
        buffer[:size] = self.parts[0][:size]
        self.parts[0] = self.parts[0][size:]
        return size


def blanks_of_numbers() -> list[str]:
    """Return the texts that stand for a missing value, in the cases they are written in."""
    return sorted({form for blank in BLANKS for form in (blank, blank.upper(), blank.title(), "NaN", "N/A")})


class LineError(ValueError):
    """A line that cannot be parsed, with its number."""

    def __init__(self, row: int, problem: str) -> None:
        super().__init__(row, problem)
        self.row = row
        self.problem = problem


LONGEST_CELL = 1000
"""No time, reading or word of a meter has more letters (our choice); one that had would make every cell as long."""


def _column(column: Any, row: int) -> Column:
    """Bring the cells of a column, the first of which stands in a row, into an array."""
    values = column.to_numpy()
    if values.dtype.kind == "S":
        full: Column = values
        return full
    if values.dtype.kind in "fiu":
        floats: Column = values.astype(np.float64, copy=False)
        return floats
    texts = ["" if value != value else str(value).strip() for value in column.to_numpy(dtype=object).tolist()]
    for at, text in enumerate(texts):
        if len(text) > LONGEST_CELL:
            raise LineError(row + at, f"a cell holds {len(text)} letters")
    return _bytes(texts)


def as_bytes(column: Column) -> Bytes:
    """Return a column as text, whatever the parser made of it."""
    if column.dtype.kind == "S":
        return column.astype(np.bytes_, copy=False)
    return np.array([f"{value:.15g}".encode() for value in column.tolist()], dtype=np.bytes_)
