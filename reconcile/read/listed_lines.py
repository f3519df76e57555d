"""Loads and a diary as plain lines of text without a header: ``- Fridge 150 W``, ``2024-02-10 vacation``."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from reconcile.loads.handbook import find
from reconcile.read.cells import Grid
from reconcile.read.columns import Columns
from reconcile.read.pasted_text import DATE, lines_of

MOSTLY = 0.5
"""Share of the lines that must be what they seem (our choice); the others are told as faults or left as headings."""

_BULLET = re.compile(r"^(?:[-*\N{BULLET}\N{EN DASH}+]+|\[[ xX]?\]|\d{1,2}[.)])\s+")
_SIZE = re.compile(r"\d\s*(?:k?w|watts?|hp|tons?|amps?|a)\b", re.IGNORECASE)


def listed(grid: Grid, spec: Columns) -> Grid | None:
    """Return a list in lines as a table; None where it is none of loads or days."""
    lines = [(number, _BULLET.sub("", line).strip()) for number, line in lines_of(grid) if line]
    made = _loads(lines) if spec.table == "loads" else _days(lines) if spec.table == "events" else None
    return None if made is None else Grid(grid.file, grid.sheet, made)


def _loads(lines: Sequence[tuple[int, str]]) -> list[tuple[int, Sequence[Any]]] | None:
    own = [(number, line) for number, line in lines if not line.endswith(":")]
    known = sum(bool(find(line) or _SIZE.search(line)) for _, line in own)
    if known < max(1, MOSTLY * len(own)) or any(line.count(",") > 1 or ";" in line for _, line in own):
        return None
    return [(own[0][0], ["load"]), *((number, [line]) for number, line in own)]


def _days(lines: Sequence[tuple[int, str]]) -> list[tuple[int, Sequence[Any]]] | None:
    found = [(number, match, line) for number, line in lines if (match := re.match(DATE, line, re.IGNORECASE))]
    if len(found) < max(1, MOSTLY * len(lines)):
        return None
    rest = [(number, [match[0], line[match.end() :].strip(" ,:;-\N{EN DASH}")]) for number, match, line in found]
    return [(found[0][0], ["date", "kind"]), *rest]
