"""Bills pasted from an account's web page: lines of ``label: value``, or label and value by turns, one block a bill."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Any

from reconcile.read.cells import Grid
from reconcile.read.columns import Columns

FEWEST_BLOCKS = 2
"""Bills of the same labels that tell blocks from anything else."""
MOST_LINES = 5000

_LABELLED = re.compile(r"([^\W\d_][^:=]{1,40}?)\s*[:=]\s*(\S.*)")
_YEAR_FIRST = re.compile(r"(?:19|20)\d\d\b")


def as_table(grid: Grid, spec: Columns) -> Grid | None:
    """Return blocks of labels and values as a table, one row a block; None where a grid is not made of them.

    Parameters
    ----------
    grid : Grid
        Its rows as cut at the commas.
    spec : Columns
        What the labels may be.
    """
    if not grid.rows or len(grid.rows) > MOST_LINES:
        return None
    lines = [(number, text) for number, values in grid.rows if (text := _line(values))]
    pairs = _beside(lines, spec) or _below(lines, spec)
    if not pairs:
        return None
    blocks: list[tuple[int, dict[str, str]]] = []
    for number, label, value in pairs:
        if not blocks or label in blocks[-1][1]:
            blocks.append((number, {}))
        blocks[-1][1][label] = value
    labels = list(dict.fromkeys(label for _, block in blocks for label in block))
    columns = {match.column for label in labels if (match := spec.match(label)) is not None}
    if len(blocks) < FEWEST_BLOCKS or len(columns) < 2:
        return None
    rows: list[tuple[int, Sequence[Any]]] = [(blocks[0][0], labels)]
    rows += [(number, [block.get(label) for label in labels]) for number, block in blocks]
    return Grid(grid.file, grid.sheet, rows)


def _line(values: Sequence[Any]) -> str:
    """Return a line as it stood before it was cut at its commas."""
    text = ""
    for value in values:
        part = "" if value is None else str(value).strip()
        if text and part:
            part = (", " if _YEAR_FIRST.match(part) else ",") + part
        text += part
    return text.strip()


def _beside(lines: Sequence[tuple[int, str]], spec: Columns) -> list[tuple[int, str, str]]:
    """Read ``label: value`` where most lines are so and their labels come again."""
    found = [
        (number, match[1].strip(), match[2].strip())
        for number, text in lines
        if (match := _LABELLED.fullmatch(text)) is not None
    ]
    known = [label for _, label, _ in found if spec.match(label) is not None]
    return found if len(found) >= 0.6 * len(lines) and len(known) > len(set(known)) > 1 else []


def _below(lines: Sequence[tuple[int, str]], spec: Columns) -> list[tuple[int, str, str]]:
    """Read a label on one line and its value on the next, where labels come again."""
    found: list[tuple[int, str, str]] = []
    at = 0
    while at + 1 < len(lines):
        number, text = lines[at]
        if spec.match(text) is not None and re.search(r"\d", lines[at + 1][1]) and spec.match(lines[at + 1][1]) is None:
            found.append((number, text, lines[at + 1][1]))
            at += 1
        at += 1
    labels = [label for _, label, _ in found]
    return found if 2 * len(found) >= 0.5 * len(lines) and len(labels) > len(set(labels)) > 1 else []
