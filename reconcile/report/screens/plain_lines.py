"""Blocks of the answer as lines that fit a terminal's width, without color."""

from __future__ import annotations

import textwrap
import unicodedata
from typing import TYPE_CHECKING

from reconcile.report.screens.screen import Answer, Block, Caution, Head, Table, Text
from reconcile.report.words import clean, glued

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

TABLE_FROM = 76
"""Columns from which the bills stand in a table; below, each in a sentence."""


def plain(block: Block, width: int, *, bold: bool = False) -> Iterator[str]:
    """Lay out a block without color.

    Parameters
    ----------
    width : int
        Columns there are.
    bold : bool
        Headings and the answer bold (ANSI).
    """
    match block:
        case Head(text):
            yield ""
            yield from _loud(paragraph(text, width), bold)
        case Answer(text, danger):
            edge = ["*" * width] if danger else [""]
            yield from _loud([*edge, *paragraph(text, width), *edge], bold)
        case Text(text, first) | Caution(text, first):
            yield from paragraph(text, width, first)
        case Table():
            yield from plain(Head(block.title if width >= TABLE_FROM else block.narrow_title), width, bold=bold)
            if width >= TABLE_FROM:
                yield from _table(block.header, block.rows, width)
            else:
                for told in block.told:
                    yield from plain(told, width)


def _loud(lines: Sequence[str], bold: bool) -> Iterator[str]:
    for line in lines:
        yield f"\x1b[1m{line}\x1b[0m" if bold and line else line


def paragraph(text: str, width: int, first: str = "") -> list[str]:
    """Break a text into lines, ``first`` before the first and as much room before the others.

    Parameters
    ----------
    width : int
        Columns there are.
    """
    text = glued(str(clean(text)))
    wrapped = textwrap.wrap(
        text,
        width if columns(text) <= len(text) else width // 2,  # letters two columns wide
        initial_indent=first,
        subsequent_indent=" " * len(first),
        break_on_hyphens=False,
    )
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in wrapped]


def columns(text: str) -> int:
    """Return the columns a terminal gives a text: two for a wide East Asian letter, none for a combining mark."""
    return sum(
        0 if unicodedata.combining(letter) else 2 if unicodedata.east_asian_width(letter) in "WF" else 1
        for letter in text
    )


def _table(header: Sequence[str], rows: Sequence[Sequence[str]], width: int) -> Iterator[str]:
    """Lay out columns two spaces apart, the first and the last to the left; leave out columns that do not fit."""
    rows = [[str(clean(cell)) for cell in row] for row in rows]
    keep = fitting(header, rows, width)
    wide = dict(zip(keep, _widths(header, rows, keep), strict=True))
    for row in (header, *rows):
        cells = []
        for c in keep:
            pad = " " * (wide[c] - columns(row[c]))
            cells.append(row[c] + pad if c in (0, len(header) - 1) else pad + row[c])
        yield cut("  ".join(cells).rstrip(), width)


def _widths(header: Sequence[str], rows: Sequence[Sequence[str]], keep: Sequence[int]) -> list[int]:
    return [max([len(header[c]), *(columns(row[c]) for row in rows)]) for c in keep]


def fitting(header: Sequence[str], rows: Sequence[Sequence[str]], width: int, gap: int = 2) -> list[int]:
    """Return the columns of a table that fit, ``gap`` apart: what comes from the list goes first, then the days.

    Examples
    --------
    >>> fitting(("bill", "days", "billed", "usual", "list", "mark"), [("a" * 20,) * 6], 100)
    [0, 2, 3, 5]
    """
    keep = list(range(len(header)))
    while True:
        if sum(_widths(header, rows, keep)) + gap * (len(keep) - 1) <= width or len(keep) <= 4:
            return keep
        keep.remove(4 if 4 in keep else keep[1])


def cut(line: str, width: int) -> str:
    """Cut a line to its width without touching the spaces that align it.

    Examples
    --------
    >>> cut("a   b   c", 6)
    'a   b…'
    """
    return line if columns(line) <= width else line[: width - 1].rstrip() + "…"
