"""The layout of a table of interval data: where its header is, which columns hold times and which values."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import field
from typing import TypeVar

from reconcile.read.layouts.cell_kinds import (
    SERIAL_DAYS,
    TIMES,
    Kind,
    LayoutError,
    NoReadingsError,
    column_kind,
    kind_of,
)
from reconcile.read.layouts.interval_names import (
    KWH_OF,
    Flow,
    Unit,
    flow_of,
    is_label,
    is_quality,
    is_register,
    is_time,
    no_electricity,
    not_energy,
    other_commodity,
    part_of,
    says_energy,
    spaced,
    unit_of,
)
from reconcile.read.layouts.layout_times import TimeColumns, find_times
from reconcile.read.layouts.raw_tables import NumberedRow, RawTable
from reconcile.read.values.clock_cells import read_clock
from reconcile.read.values.number_cells import Marks, as_count, as_float
from reconcile.records import dataclass

WIDE_COUNTS = (23, 24, 25, 46, 47, 48, 49, 50, 92, 95, 96, 97, 100, 276, 288, 300)
"""Columns of values in a table with a row a day."""
FEWEST_WIDE = 20
SAMPLE = 60
"""Rows from which the kind of a column is told; the whole column is read all the same."""
MOST_HEADER_WORDS = 12
FEWEST_COUNTED = 24
"""Rows from which whole numbers that rise by one are a count of the rows, whatever their name (our choice)."""
LEAST_DIGITS = 9
"""Digits from which a whole number that stands in every row is an identifier (our choice)."""

LONGEST_UNIT = 8
"""Letters of a unit that stands alone below the name of its column (our choice)."""
LONGEST_TITLE = 48
"""Letters of a line above a table up to which it may be a title, and no sentence (our choice)."""

T = TypeVar("T")
_IN_UTC = re.compile(r"^(?=\D*$).*\b(?:times?|stamps?|zone)\b.*\b(?:utc|gmt)\b|^(?:utc|gmt)$", re.IGNORECASE)
"""A line that names the clock of the times, and no time of its own."""
_MULTIPLIER = re.compile(r"multiplier|wandlerfaktor|ct ratio", re.IGNORECASE)
_NUMBER_OF = re.compile(r"(\d{1,3})\D*$", re.ASCII)


@dataclass(frozen=True, slots=True)
class Values:
    """A column of values and what its name says of it."""

    column: int
    name: str
    unit: Unit | None
    flow: Flow | None
    part: str | None
    """Phase or price period that it is, where it is a part of the whole."""


@dataclass(slots=True)
class Layout:
    """A table's layout."""

    after: int
    """Row after which the readings begin."""
    header: int | None
    """Row of the names."""
    names: list[str]
    times: TimeColumns
    values: list[Values] = field(default_factory=list)
    """Columns that may hold energy or power, in the order of the file."""
    wide: list[int] = field(default_factory=list)
    """Columns of a table with a row a day, in the order of the hours; empty where a row is an interval."""
    total: int | None = None
    """Column with the sum of each such row."""
    quality: int | None = None
    unit: int | None = None
    """Both: columns of text, that say how good a reading is and in which unit."""
    groups: list[int] = field(default_factory=list)
    """Columns of text with few words, any of which may name the register."""
    preamble_unit: Unit | None = None
    preamble_flow: Flow | None = None
    """Both: the one unit, and the one direction, that the lines above the table speak of."""
    says_utc: bool = False
    """Whether a line above the table says that its times are those of UTC."""
    multiplier: str | None = None
    """What a column of multipliers holds beside 1."""


def find_layout(table: RawTable) -> Layout:
    """Find a table's header and what its columns hold.

    Raises
    ------
    LayoutError
        With the question to ask.
    """
    widest = max((len(cells) for _, cells in table.head), default=0)
    blank: list[Kind] = ["blank"] * widest
    kinds = [(number, [*map(kind_of, cells), *blank[len(cells) :]]) for number, cells in table.head]
    if sum(any(kind in TIMES for kind in row) for _, row in kinds) < len(kinds) / 2:  # lines above may have dates
        _count_days(table.head, kinds)
    first, date_at = _first_row(kinds)
    body = table.head[first:]
    shown = [cells for _, cells in (*body[:SAMPLE], *(row for row in table.tail if row[0] > body[-1][0]))]
    while len(shown) > 1 and sum(map(bool, shown[-1])) < 2:
        del shown[-1]  # a line below a short table says nothing of its columns
    usual = Counter(len(cells) for cells in shown).most_common(1)[0][0]
    width = max(usual, len(table.head[first - 1][1]) if first else 0)
    names, header = _names(table.head[:first], width)
    columns = [column_kind(cells) for cells in _columns(shown, width)]
    if kinds[first][1][date_at] == "serial":
        columns[date_at] = "serial"
    layout = Layout(body[0][0] - 1, header, names, find_times(names, columns, shown, date_at))
    taken = {*layout.times.columns, layout.times.offset, layout.times.summer}
    above = [cell for number, cells in table.head[:first] if number != header for cell in cells]
    layout.preamble_unit = _one(unit_of(cell) for cell in above if len(cell) <= 60)
    titles = [cell for cell in above if len(cell) <= LONGEST_TITLE and cell.casefold() != "generated"]
    layout.preamble_flow = _one(flow_of(cell) for cell in titles)
    layout.says_utc = any(_IN_UTC.search(cell) for cell in titles)
    for at in range(width):
        if at in taken:
            continue
        if columns[at] == "text" and unit_of(names[at]) is None:
            _text_column(layout, at, shown)
        elif columns[at] == "number" and is_label(names[at]) and len({row[at] for row in shown if at < len(row)}) > 1:
            layout.groups.append(at)
        elif columns[at] in ("number", "epoch", "blank", "text") and (names[at] or columns[at] != "blank"):
            if _counts_rows(names[at], shown, at) or _is_an_identifier(shown, at):
                continue
            if is_label(names[at]) and _is_one_number(shown, at) and columns.count("number") > 1:
                continue
            if _MULTIPLIER.search(names[at]):
                factors = {
                    value for row in shown if at < len(row) and (value := as_float(row[at], Marks())) is not None
                }
                if factors - {1.0}:
                    layout.multiplier = ", ".join(f"{value:g}" for value in sorted(factors)[:3])
            name = names[at] or f"number {at + 1}"
            layout.values.append(Values(at, name, unit_of(name), flow_of(name), part_of(name)))
    _wide(layout)
    if not layout.wide:
        _commas_everywhere(layout, shown)
        full = [value for value in layout.values if columns[value.column] != "blank"]
        layout.values = full or layout.values
        if full and all(no_electricity(value.name) for value in full):
            what = "gas or water" if any(other_commodity(v.name) for v in full) else f"those of {full[0].name}"
            raise NoReadingsError(
                f"it holds no electricity: its values are {what}", "Download the electric meter's data.", header
            )
        plain = [
            value
            for value in layout.values
            if not not_energy(value.name) or (value.unit in KWH_OF and not no_electricity(value.name))
        ]
        layout.values = plain or layout.values
        if not layout.values:
            raise NoReadingsError("there is no column of values", "Add a column kwh.", header)
    return layout


def _columns(rows: Sequence[Sequence[str]], width: int) -> list[tuple[str, ...]]:
    """Return the cells of each column, blank where a row is short."""
    return list(zip(*([*cells[:width], *[""] * (width - len(cells))] for cells in rows), strict=True))


def _one(told: Iterable[T | None]) -> T | None:
    """Return what all that say anything agree on."""
    found = {one for one in told if one is not None}
    return next(iter(found)) if len(found) == 1 else None


def _counts_rows(name: str, rows: Sequence[Sequence[str]], at: int) -> bool:
    """Whether a column numbers the rows: one without a name of its own, or any long one that names no energy."""
    nameless = re.fullmatch(r"(?:unnamed:? ?\d*|#|no\.?|nr\.?|row|index|id)?", name, re.IGNORECASE) is not None
    named = unit_of(name) is not None or says_energy(name) or is_register(name)
    if len(rows) < (3 if nameless else FEWEST_COUNTED) or (named and not nameless):
        return False
    cells = [row[at] for row in rows[:SAMPLE] if at < len(row)]
    if not all(cell.isdigit() and len(cell) < LEAST_DIGITS for cell in cells):
        return False
    steps = {int(after) - int(before) for before, after in itertools.pairwise(cells)}
    return steps == {1} or (steps == {-1} and not nameless)


def _is_an_identifier(rows: Sequence[Sequence[str]], at: int) -> bool:
    """Whether every row has the same long number: a meter's or a customer's."""
    cell = next((row[at] for row in rows if at < len(row) and row[at]), "")
    long = len(rows) >= 3 and cell.isdigit() and len(cell) >= LEAST_DIGITS
    return long and all(row[at] in ("", cell) for row in rows if at < len(row))


def _is_one_number(rows: Sequence[Sequence[str]], at: int) -> bool:
    """Whether every row has the same whole number."""
    cells = {row[at] for row in rows if at < len(row)}
    return len(rows) >= 3 and len(cells) == 1 and all(cell.isdigit() for cell in cells)


def _commas_everywhere(layout: Layout, rows: Sequence[Sequence[str]]) -> None:
    """Ask where a comma stands between the columns and within the numbers: every row then has cells without a name."""
    named = [value for value in layout.values if value.column < len(layout.names) and layout.names[value.column]]
    bare = [value for value in layout.values if value not in named]
    if not named or not bare or bare[-1].column != len(layout.names) - 1 or layout.header is None:
        return
    at, digits = bare[-1].column - 1, bare[-1].column
    full = [row for row in rows if digits < len(row)]
    if full and all(row[at].lstrip("+-").isdigit() and row[digits].isdigit() for row in full):
        raise LayoutError(
            "a comma stands between the columns and within the numbers",
            "Save it with semicolons between the columns, or with a point for decimals.",
            layout.header,
        )


def _run_on(steps: Sequence[float]) -> bool:
    """Whether days run on, by a day at most, and go back no more than at a clock change."""
    return all(-0.13 <= step <= 1.01 for step in steps) and sum(step < 0 for step in steps) <= 2


def _count_days(rows: Sequence[NumberedRow], kinds: Sequence[tuple[int, list[Kind]]]) -> None:
    """Mark the column that counts days as a spreadsheet does, where the table has no other dates."""
    for at in range(max((len(cells) for _, cells in rows), default=0)):
        name = next((cells[at] for _, cells in rows if at < len(cells) and cells[at] and is_time(cells[at])), None)
        cells = [as_count(row[at].strip()) if at < len(row) and row[at].strip() else None for _, row in rows]
        days = [value for value in cells if value is not None and SERIAL_DAYS[0] <= value <= SERIAL_DAYS[1]]
        steps = [after - before for before, after in itertools.pairwise(days)]
        if len(days) < 2 or not (_run_on(steps) or _run_on([-step for step in steps])):
            continue
        minutes = abs(sorted(steps)[len(steps) // 2]) * 1440.0
        if name is None and (at > 0 or minutes < 0.9 or abs(minutes - round(minutes)) > 0.05):
            continue
        for value, (_, row) in zip(cells, kinds, strict=True):
            if value is not None and SERIAL_DAYS[0] <= value <= SERIAL_DAYS[1]:
                row[at] = "serial"
        return


def _first_row(kinds: Sequence[tuple[int, list[Kind]]]) -> tuple[int, int]:
    """Return the index of the first reading and its column of dates."""
    places = Counter(next((at for at, kind in enumerate(row) if kind in TIMES), -1) for _, row in kinds)
    places.pop(-1, None)
    for date_at, _ in places.most_common(3):
        found = [
            i
            for i, (_, row) in enumerate(kinds)
            if _is_reading(row, date_at) and (i + 1 == len(kinds) or kinds[i + 1][1][date_at] in TIMES)
        ]
        if found:
            return _before_blanks(found, kinds), date_at
        for i, (_, row) in enumerate(kinds):  # every other row is broken: its faults come out one by one
            if _is_reading(row, date_at):
                return i, date_at
        for i, (_, row) in enumerate(kinds):  # no number in any row: the faults come out cell by cell
            if i > 0 and len(row) > 1 and date_at < len(row) and row[date_at] in TIMES:
                return i, date_at
    raise NoReadingsError(
        "no column of times is in it",
        "Write time,kwh in the first row, and one interval a row below.",
        kinds[0][0] if kinds else None,
    )


def _before_blanks(found: Sequence[int], kinds: Sequence[tuple[int, list[Kind]]]) -> int:
    """Return the first row with a number, or one like it just above that has none: no line of words is like it."""
    full = next((i for i in found if "number" in kinds[i][1]), found[0])
    first = full
    while first - 1 in found and all(
        kind in ("blank", other) for kind, other in zip(kinds[first - 1][1], kinds[full][1], strict=False)
    ):
        first -= 1
    return first


def _is_reading(row: Sequence[Kind], date_at: int) -> bool:
    others = [kind for at, kind in enumerate(row) if at != date_at]
    return date_at < len(row) and row[date_at] in TIMES and bool(others) and ("number" in others or "blank" in others)


def _names(above: Sequence[NumberedRow], width: int) -> tuple[list[str], int | None]:
    """Return the names of the columns and their row: the last row of words above the readings."""
    if not above:
        return [""] * width, None
    number, cells = above[-1]
    words = [cell for cell in cells if cell.strip()]
    lone = len(above) > 1 and len(words) == 1 and len(words[0]) <= LONGEST_UNIT and unit_of(words[0]) is not None
    dated = any(kind_of(cell) in ("datetime", "date") for cell in words[:1])
    if (len(words) < 2 and not lone) or dated:
        return [""] * width, None
    names = [*cells, *[""] * width][:width]
    if len(above) > 1 and all(unit_of(word) or kind_of(word) in ("clock", "number") for word in words):
        upper = [*above[-2][1], *[""] * width][:width]  # a row of units under the names
        if sum(bool(cell) for cell in upper) >= 2:
            names = [f"{up} {low}".strip() for up, low in zip(upper, names, strict=True)]
    elif not any(unit_of(word) or is_time(word) for word in words):
        for _, upper in above[-2:-4:-1]:  # remarks under the names
            if len([cell for cell in upper if cell]) != len(words) or any(kind_of(cell) in TIMES for cell in upper):
                break
            names = [f"{up} {low}".strip() for up, low in zip([*upper, *[""] * width], names, strict=False)]
    return _unique([name.strip() for name in names]), number


def _unique(names: Sequence[str]) -> list[str]:
    """Return names of which none stands twice, so that each can be asked for."""
    seen: Counter[str] = Counter()
    out = []
    for name in names:
        seen[name.casefold()] += bool(name)
        out.append(f"{name} {seen[name.casefold()]}" if seen[name.casefold()] > 1 else name)
    return out


def _text_column(layout: Layout, at: int, rows: Sequence[Sequence[str]]) -> None:
    words = {cells[at].strip() for cells in rows if at < len(cells) and cells[at].strip()}
    if words and all(unit_of(word) for word in words):
        layout.unit = at
        if len(words) > 1:
            layout.groups.append(at)
    elif is_quality(layout.names[at]):
        layout.quality = at
    elif 1 <= len(words) <= MOST_HEADER_WORDS:
        layout.groups.append(at)


def _wide(layout: Layout) -> None:
    """Recognise a table with a row a day and a column an interval."""
    if layout.times.clock is not None or layout.times.counts or len(layout.values) < FEWEST_WIDE:
        return
    totals = [v for v in layout.values if re.search(r"total|sum(?:me)?\b|daily", spaced(v.name), re.IGNORECASE)]
    columns = [v for v in layout.values if v not in totals]
    columns = [v for v, place in zip(columns, places_of([v.name for v in columns]), strict=True) if place is not None]
    if len(columns) not in WIDE_COUNTS:
        unnamed = [v for v in layout.values if v.name.startswith("number ")]
        columns = unnamed if len(unnamed) in WIDE_COUNTS and len(unnamed) == len(layout.values) else columns
    if len(columns) not in WIDE_COUNTS:
        raise LayoutError(
            f"its rows are days with {len(columns)} columns of values, which do not divide a day",
            "Keep one column for each hour or quarter of an hour (24, 48 or 96), or write one row an interval.",
            layout.header,
        )
    layout.wide = [v.column for v in columns]
    layout.total = totals[0].column if len(totals) == 1 else None


def places_of(names: Sequence[str]) -> list[int | None]:
    """Return the number or the minute that each column of a day names; None where it names none.

    Examples
    --------
    >>> places_of(["kWh_99", "kWh_100", "kWh_101"]), places_of(["00:00", "01:00"]), places_of(["0000", "0100", "note"])
    ([99, 100, 101], [0, 60], [0, 60, None])
    """
    behind = [_NUMBER_OF.search(name) for name in names]
    numbers = [int(found[1]) for found in behind if found]
    if len(numbers) == len(names) > 0 and sorted(numbers) == list(range(min(numbers), max(numbers) + 1)):
        return list(numbers)  # 100 among them is no clock of one hour
    return [_place_of(name) for name in names]


def _place_of(name: str) -> int | None:
    stripped = re.sub(r"\b(?:k ?)?wh?\b|[()\[\]]", " ", spaced(name), flags=re.IGNORECASE).strip()
    clock = read_clock(stripped)
    if clock is not None:
        return clock.second // 60 if clock.second is not None else clock.hour
    found = re.search(r"\d{1,2}:\d{2}(?: ?[ap]m)?", stripped, re.IGNORECASE)
    if found and (clock := read_clock(found[0])) is not None and clock.second is not None:
        return clock.second // 60
    number = _NUMBER_OF.search(stripped)
    return int(number[1]) if number else None
