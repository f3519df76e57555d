"""Loads and a diary as plain lines of text without a header: ``- Fridge 150 W``, ``2024-02-10 vacation``."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from reconcile.loads.handbook import find
from reconcile.read.tables.cells import Grid, Table
from reconcile.read.tables.columns import Columns
from reconcile.read.tables.pasted_text import DATE, SPAN, lines_of
from reconcile.read.values.dates import period_ends
from reconcile.read.values.month_names import month_number

MOSTLY = 0.5
"""Share of the lines that must be what they seem (our choice); the others are told as faults or left as headings."""

_BULLET = re.compile(r"^(?:[-*\N{BULLET}\N{EN DASH}+]+|\[[ xX]?\]|\d{1,2}[.)])\s+")
_DAY = re.compile(DATE, re.IGNORECASE)
_SIZE = re.compile(r"\d\s*(?:k?w|watts?|hp|tons?|amps?|a)\b", re.IGNORECASE)


def listed(grid: Grid, spec: Columns) -> Grid | None:
    """Return a list in lines as a table; None where it is none of loads or days."""
    lines = [(number, _BULLET.sub("", line).strip()) for number, line in lines_of(grid) if line]
    made = _loads(lines) if spec.table == "loads" else _days(lines) if spec.table == "events" else None
    return None if made is None else Grid(grid.file, grid.sheet, made)


def _loads(lines: Sequence[tuple[int, str]]) -> list[tuple[int, Sequence[Any]]] | None:
    own = [(number, line) for number, line in lines if not line.endswith(":")]
    known = sum(bool(find(line) or _SIZE.search(line)) for _, line in own)
    if known < max(1, MOSTLY * len(own)) or 2 * sum(line.count(",") > 1 or ";" in line for _, line in own) > len(own):
        return None
    return [(own[0][0], ["load"]), *((number, [line]) for number, line in own)]


def _days(lines: Sequence[tuple[int, str]]) -> list[tuple[int, Sequence[Any]]] | None:
    found = [(number, match, line) for number, line in lines if (match := SPAN.match(line) or _DAY.match(line))]
    if len(found) < max(1, MOSTLY * len(lines)):
        return None
    rest = []
    for number, day, line in found:
        match = SPAN.match(line) or day
        rest.append((number, [match[0], line[match.end() :].strip(" ,:;-\N{EN DASH}")]))
    return [(found[0][0], ["date", "kind"]), *rest]


def split_spans(table: Table) -> None:
    """Part ``Dec 15 2024 - Jan 6 2025`` in the column of the days of a diary into its first and its last day."""
    ends: dict[int, str] = {}
    for at, row in enumerate(table.rows):
        text = row["date"].value
        if not isinstance(text, str) or not row["until"].blank or not SPAN.fullmatch(text.strip()):
            continue
        parted = period_ends(text)
        if parted is None:
            continue
        first, second, lent = parted
        if lent and (turned := _year_before(first, second)) is not None:
            first = turned
        if not ends:
            table.read_as.append(f"{text.strip()} is from {first} until {second}")
        table.rows[at] = row.with_value("date", first)
        ends[row.number] = second
    if ends:
        table.fill("until", ends)


def _year_before(first: str, second: str) -> str | None:
    """Return a first day whose year was lent, a year earlier where its month comes after that of the last day."""
    months = [month_number(word) for text in (first, second) for word in re.findall(r"[A-Za-z]{3,}", text)]
    year = re.search(r"(\d{4}|\d\d)$", first)
    if year is None or len(months) != 2 or None in months or months[0] <= months[1]:  # type: ignore[operator]
        return None
    return f"{first[: year.start()]}{int(year[0]) - 1:0{len(year[0])}d}"
